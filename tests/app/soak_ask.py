"""What the window asks, answered at random: the random maker's files and choices."""

from __future__ import annotations

import random
from collections.abc import Sequence
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parents[2]
DEMOS = ("studio_counter", "glaze_shelves")
TYPED = (
    *("0", "1", "2", "3", "7", "12", "18", "17.6", "6", "600", "1250", "-3", "0.2", "1e9", ""),
    *("23/32 in", '1 1/2"', "5' 3\"", "703 thou", "1200 x 800", "2440 × 1220", "18 mm mm"),
    *("Regal links", "Shelf", "shelf “B” <&>", "  ", "Платформа", "x" * 80, "None", "ä/ö:?*"),
)


class RandomAsk:
    """Answers what the window asks at random, with files in a folder of the run's own."""

    def __init__(self, rng: random.Random, folder: Path) -> None:
        self._rng = rng
        self.folder_path = folder
        self.drawings = sorted(
            path
            for demo in DEMOS
            for path in (ROOT / "demo_projects" / demo).iterdir()
            if path.suffix in (".dxf", ".svg")
        )
        self.parent: Any = None

    def _project(self) -> Path:
        made = sorted(self.folder_path.glob("*.json"))
        demos = [ROOT / "demo_projects" / d / f"{d}.json" for d in DEMOS]
        return self._rng.choice([*made, *demos])

    def open_files(self, title: str, filters: str, *, folder: str = "") -> list[str]:
        """Some drawings, or a project where one may be opened."""
        if "json" in filters and self._rng.random() < 0.6:
            return [str(self._copy(self._project()))]
        count = self._rng.randint(0, 2)
        return [str(path) for path in self._rng.sample(self.drawings, count)]

    def _copy(self, path: Path) -> Path:
        """Demos are opened as copies, so that saving in place leaves them alone."""
        if path.parent == self.folder_path:
            return path
        copy = self.folder_path / path.name
        copy.write_bytes(path.read_bytes())
        return copy

    def open_file(self, title: str, filters: str, *, folder: str = "") -> str | None:
        """A drawing, a shop or nothing."""
        kept = sorted(self.folder_path.glob("*"))
        return str(self._rng.choice([*self.drawings, *kept])) if self._rng.random() < 0.7 else None

    def save_file(self, title: str, filters: str, *, suggestion: str = "") -> str | None:
        """One of a few names in the run's folder."""
        if self._rng.random() < 0.2:
            return None
        suffix = next((s for s in (".json", ".pdf", ".csv") if s in filters), "")
        return str(self.folder_path / f"kept {self._rng.randint(1, 4)}{suffix}")

    def folder(self, title: str, *, folder: str = "") -> str | None:
        """A folder to write into."""
        if self._rng.random() < 0.3:
            return None
        out = self.folder_path / "out"
        out.mkdir(exist_ok=True)
        return str(out)

    def confirm(self, title: str, text: str, *, yes: str, no: str) -> bool:
        """Either."""
        return self._rng.random() < 0.6

    def choose(self, title: str, text: str, options: Sequence[str]) -> int | None:
        """Any of them, or none."""
        return self._rng.choice([*range(len(options)), None])

    def text(self, title: str, label: str, *, initial: str = "") -> str | None:
        """Anything."""
        return self._rng.choice([None, initial, *TYPED])

    def printer(self, printer: Any, *, pages: int = 0) -> bool:
        """Nothing is printed."""
        return False
