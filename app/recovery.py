"""Copies of unsaved work, and finding those that a crash left behind.

Each running window owns one name in the recovery folder: ``NAME.json`` is the project as
saved by the core (atomically, so a kill leaves the copy before), ``NAME.about.json`` says
which file it belongs to, ``NAME.lock`` is held while the window lives.
"""

from __future__ import annotations

import json
import os
import uuid
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from platformdirs import user_data_path
from PySide6.QtCore import QLockFile

from core.errors import SaveFailedError
from core.project.model import Project

_LOCK = ".lock"
_ABOUT = ".about.json"


def recovery_folder() -> Path:
    """Where copies of unsaved work are kept for this user."""
    return user_data_path("seamwright", appauthor=False) / "recovery"


@dataclass(frozen=True)
class Leftover:
    """A copy a crash left behind. original: the file it belongs to, None if never saved."""

    copy: Path
    original: Path | None
    saved_at: datetime


class Recovery:
    """The recovery copy of one window."""

    def __init__(self, folder: Path | None = None) -> None:
        self._folder = folder or recovery_folder()
        self._folder.mkdir(parents=True, exist_ok=True)
        self._name = uuid.uuid4().hex[:12]
        self._lock = QLockFile(str(self._folder / (self._name + _LOCK)))
        self._lock.setStaleLockTime(0)
        self._lock.tryLock(0)

    @property
    def copy_path(self) -> Path:
        """The copy this window writes."""
        return self._folder / f"{self._name}.json"

    def write(self, project: Project, original: Path | None) -> bool:
        """Write the copy. False if the disk refused; the copy before is then still there."""
        from core.project.file import save_project

        about = self._folder / (self._name + _ABOUT)
        try:
            about.write_text(json.dumps({"original": str(original) if original else None}))
            save_project(project, self.copy_path)
        except (SaveFailedError, OSError):
            return False
        return True

    def discard(self) -> None:
        """Remove the copy: the work is saved or given up on purpose."""
        for path in (self.copy_path, self._folder / (self._name + _ABOUT)):
            path.unlink(missing_ok=True)

    def release(self) -> None:
        """Give up the name; the copy, if any, stays."""
        self._lock.unlock()

    def leftovers(self) -> list[Leftover]:
        """Copies whose window is gone, newest first; locks that guard no copy are cleared away."""
        found = []
        for lock in self._folder.glob("*" + _LOCK):
            name = lock.name.removesuffix(_LOCK)
            if name != self._name and not (self._folder / f"{name}.json").exists():
                self._is_held(name)  # a dead one's lock is taken and given up: it is gone
        for copy in self._folder.glob("*.json"):
            if copy.name.endswith(_ABOUT) or copy.stem == self._name or self._is_held(copy.stem):
                continue
            found.append(
                Leftover(
                    copy,
                    self._original_of(copy),
                    datetime.fromtimestamp(os.stat(copy).st_mtime),
                )
            )
        return sorted(found, key=lambda left: left.saved_at, reverse=True)

    def forget(self, leftover: Leftover) -> None:
        """Remove a leftover copy that was recovered or turned down."""
        stem = leftover.copy.stem
        for name in (leftover.copy.name, stem + _ABOUT, stem + _LOCK):
            (self._folder / name).unlink(missing_ok=True)

    def _original_of(self, copy: Path) -> Path | None:
        try:
            about = json.loads((self._folder / (copy.stem + _ABOUT)).read_text())
            return Path(about["original"]) if about.get("original") else None
        except (OSError, ValueError, KeyError, AttributeError, TypeError):
            return None

    def _is_held(self, name: str) -> bool:
        """True if a living process holds that name's lock."""
        path = self._folder / (name + _LOCK)
        if not path.exists():
            return False
        lock = QLockFile(str(path))
        lock.setStaleLockTime(0)
        if lock.tryLock(0):
            lock.unlock()
            return False
        return True
