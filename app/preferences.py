"""What the maker prefers, kept across projects: declared, with a default and a range each."""

from __future__ import annotations

import json
import os
import tempfile
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from platformdirs import user_config_path
from PySide6.QtCore import QObject, Signal

from core.errors import SeamwrightError
from core.outlines.roles import LayerChoice
from core.project.codec import from_plain, to_plain
from core.project.model import Project
from core.project.output import Output
from core.shop import Shop

VERSION = 1
RECENT_MOST = 10


@dataclass(frozen=True, slots=True)
class Setting:
    """One preference. choices: allowed values, () where a range or anything holds."""

    key: str
    kind: type
    default: Any
    help: str
    choices: tuple[Any, ...] = ()
    least: float | None = None
    most: float | None = None

    def valid(self, value: Any) -> bool:
        """True if value may be kept for this setting."""
        allowed = (int, float) if self.kind is float else self.kind
        if not isinstance(value, allowed) or (self.kind is not bool and isinstance(value, bool)):
            return False
        if self.choices and value not in self.choices:
            return False
        if not isinstance(value, int | float):
            return self.least is None and self.most is None
        if self.least is not None and value < self.least:
            return False
        return self.most is None or value <= self.most


SETTINGS: tuple[Setting, ...] = (
    Setting("units", str, "mm", "Unit new projects begin with", ("mm", "cm", "in")),
    Setting("colours", str, "system", "Light or dark", ("system", "light", "dark")),
    Setting("less_motion", bool, False, "Nothing glides on screen"),
    Setting("text_percent", int, 100, "Size of text against the system's", (), 80, 250),
    Setting("nudge_mm", float, 1.0, "How far an arrow key moves a piece", (), 0.01, 1000.0),
    Setting("turn_deg", float, 15.0, "How far R turns a freely turning piece", (), 0.1, 180.0),
    Setting("nest_seconds", float, 20.0, "How long nesting looks for better", (), 1.0, 3600.0),
    Setting("layers", list, [], "What layers of drawings mean, as decided before"),
    Setting("recent", list, [], "Projects opened lately"),
    Setting("welcome_seen", bool, False, "The first start is over"),
)
_BY_KEY = {setting.key: setting for setting in SETTINGS}


class Preferences(QObject):
    """Settings in one JSON file; a damaged file or value falls back to the default.

    folder None keeps everything in memory (tests).
    """

    changed = Signal(str)

    def __init__(self, folder: Path | None = None, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._folder = folder
        self._values: dict[str, Any] = {}
        if folder is not None:
            self._read()

    @staticmethod
    def for_user() -> Preferences:
        """The preferences of whoever runs the program."""
        return Preferences(user_config_path("seamwright", appauthor=False))

    def get(self, key: str) -> Any:
        """The value, or its default. KeyError for a key that is not declared."""
        setting = _BY_KEY[key]
        return self._values.get(key, setting.default)

    def set(self, key: str, value: Any) -> None:
        """Keep a value. ValueError if it is not one the setting takes."""
        setting = _BY_KEY[key]
        if not setting.valid(value):
            raise ValueError(f"{value!r} is no value for {key}")
        if self.get(key) == value:
            return
        self._values[key] = value
        self._write()
        self.changed.emit(key)

    # --- recent projects ------------------------------------------------------------------
    @property
    def recent(self) -> list[Path]:
        """Projects opened lately that are still there, newest first."""
        return [Path(p) for p in self.get("recent") if os.path.exists(p)]

    def add_recent(self, path: Path) -> None:
        """Put a project at the top of the recent ones."""
        here = str(path.resolve())
        rows = [here, *(p for p in self.get("recent") if p != here)]
        self.set("recent", rows[:RECENT_MOST])

    def clear_recent(self) -> None:
        """Forget all recent projects."""
        self.set("recent", [])

    # --- the default shop -----------------------------------------------------------------
    @property
    def shop_path(self) -> Path | None:
        """Where the default shop is kept: a project file that holds nothing but a shop."""
        return None if self._folder is None else self._folder / "shop.json"

    def default_shop(self) -> Shop:
        """The shop new projects begin with. A file that cannot be read gives the plain one."""
        if self.shop_path is None or not self.shop_path.exists():
            return self._values.get("_shop", Shop())
        try:
            return read_shop(self.shop_path)
        except SeamwrightError:
            return Shop()

    def set_default_shop(self, shop: Shop) -> None:
        """Make shop the one new projects begin with. Raises SaveFailedError."""
        if self.shop_path is None:
            self._values["_shop"] = shop
            return
        self.shop_path.parent.mkdir(parents=True, exist_ok=True)
        write_shop(shop, self.shop_path)

    def default_output(self) -> Output:
        """Paper, label sheets and layer names new projects begin with; the plain ones if none."""
        if self._folder is None:
            return self._values.get("_output", Output())
        path = self._folder / "output.json"
        if not path.exists():
            return Output()
        from core.project.file import load_project

        try:
            return load_project(path).output
        except SeamwrightError:
            return Output()

    def set_default_output(self, output: Output) -> None:
        """Make these the ones new projects begin with. Raises SaveFailedError."""
        output = replace(output, first_label=1)  # a part-used sheet belongs to one day
        if self._folder is None:
            self._values["_output"] = output
            return
        from core.project.file import save_project

        self._folder.mkdir(parents=True, exist_ok=True)
        save_project(Project(name="Output", output=output), self._folder / "output.json")

    def new_project(self) -> Project:
        """An empty project in the maker's units with the maker's shop and layer names."""
        return Project(
            units=self.get("units"),
            shop=self.default_shop(),
            output=self.default_output(),
            layer_memory=self.layer_memory(),
        )

    # --- what layers mean -----------------------------------------------------------------
    def layer_memory(self) -> tuple[LayerChoice, ...]:
        """What new projects take layers of drawings for; a damaged row is left out."""
        rows = []
        for row in self.get("layers"):
            try:
                rows.append(from_plain(LayerChoice, row))
            except SeamwrightError:
                continue
        return tuple(rows)

    def set_layer_memory(self, choices: tuple[LayerChoice, ...]) -> None:
        """Remember what layers mean for projects to come."""
        self.set("layers", [to_plain(choice) for choice in choices])

    # --- the file -------------------------------------------------------------------------
    def _read(self) -> None:
        assert self._folder is not None
        try:
            raw = json.loads((self._folder / "preferences.json").read_text(encoding="utf-8"))
        except (OSError, ValueError):
            return
        values = raw.get("values") if isinstance(raw, dict) else None
        if not isinstance(values, dict):
            return
        for key, value in values.items():
            setting = _BY_KEY.get(key)
            if setting is not None and setting.valid(value):
                self._values[key] = value

    def _write(self) -> None:
        """Written beside and moved into place; a disk that refuses loses a preference, no more."""
        if self._folder is None:
            return
        values = {key: self._values[key] for key in _BY_KEY if key in self._values}
        text = json.dumps({"version": VERSION, "values": values}, indent=1)
        try:
            self._folder.mkdir(parents=True, exist_ok=True)
            handle, name = tempfile.mkstemp(dir=self._folder, prefix="preferences-")
            with os.fdopen(handle, "w", encoding="utf-8") as file:
                file.write(text)
            os.replace(name, self._folder / "preferences.json")
        except OSError:
            return


def read_shop(path: Path) -> Shop:
    """The shop of a project or exported shop file. Raises UnreadableProject."""
    from core.project.file import load_project

    return load_project(path).shop


def write_shop(shop: Shop, path: Path) -> None:
    """Write a shop as a project file without panels. Raises SaveFailedError."""
    from core.project.file import save_project

    save_project(replace(Project(name="Shop"), shop=shop), path)
