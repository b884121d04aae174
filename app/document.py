"""The open document: a frozen project, where it is kept, and every step that led to it."""

from __future__ import annotations

import hashlib
import os
import threading
from dataclasses import dataclass, field, replace
from pathlib import Path

from PySide6.QtCore import QObject, QTimer, Signal

from app.commands.base import EVERYTHING, LAYOUT, Command
from app.recovery import Recovery
from core.findings import Finding
from core.project.model import Project
from core.project.validate import validate_project

AUTOSAVE_MS = 60_000
DISK_CHECK_MS = 3_000


@dataclass(frozen=True)
class Change:
    """What changed and who did it. sender may skip its own change; None for undo and opening."""

    kinds: frozenset[str] = EVERYTHING
    sender: object | None = field(default=None, compare=False)


@dataclass(frozen=True)
class _Step:
    """One step of undo: its name, what it changed and the projects on both sides."""

    text: str
    kinds: frozenset[str]
    before: Project
    after: Project
    merge: str = ""


class Document(QObject):
    """The project being worked on.

    The only way to change it is :meth:`run`; undo and redo are unlimited and named.
    ``revision`` goes up with every change, undo included, so that a job can tell whether its
    snapshot is still the document.
    """

    changed = Signal(object)  # Change
    history_changed = Signal()
    dirty_changed = Signal(bool)
    path_changed = Signal()
    changed_on_disk = Signal()

    def __init__(
        self,
        project: Project | None = None,
        *,
        recovery: Recovery | None = None,
        parent: QObject | None = None,
    ) -> None:
        super().__init__(parent)
        self._project = project or Project()
        self._path: Path | None = None
        self._revision = 0
        self._steps: list[_Step] = []
        self._at = 0
        self._clean_at: int | None = 0
        self._was_dirty = False
        self._disk: tuple[int, int, str] | None = None
        self._recovery = recovery
        self._reading: dict[str, tuple[Finding, ...]] = {}
        self._recovered_revision = -1
        self._autosaving: threading.Thread | None = None
        self._autosave_timer = QTimer(self)
        self._autosave_timer.setInterval(AUTOSAVE_MS)
        self._autosave_timer.timeout.connect(self._autosave_soon)
        self._disk_timer = QTimer(self)
        self._disk_timer.setInterval(DISK_CHECK_MS)
        self._disk_timer.timeout.connect(self.check_disk)
        if recovery is not None:
            self._autosave_timer.start()
            self._disk_timer.start()

    # --- what it is ---------------------------------------------------------------------
    @property
    def project(self) -> Project:
        """The project as it is now; frozen, so it may be handed to any thread."""
        return self._project

    @property
    def path(self) -> Path | None:
        """The file it is kept in, or None if it was never saved."""
        return self._path

    @property
    def revision(self) -> int:
        """Counts changes; never goes back."""
        return self._revision

    @property
    def dirty(self) -> bool:
        """True if there are changes that the file does not have."""
        return self._clean_at != self._at

    @property
    def title(self) -> str:
        """What the window calls it."""
        return self._path.stem if self._path is not None else self._project.name

    # --- changes ------------------------------------------------------------------------
    def run(self, command: Command, *, sender: object | None = None, merge: str = "") -> bool:
        """Apply a command and remember the way back. False if it changed nothing.

        merge: a step with the same non-empty merge word as the one before becomes one with it
        (a field typed into, a piece nudged five times). Raises what command.apply raises, or
        InvalidProjectError for values out of range; the document is then as before.
        """
        before = self._project
        after = command.apply(before)
        if after is before or after == before:
            return False
        if command.kinds != frozenset({LAYOUT}):
            validate_project(after)
        del self._steps[self._at :]
        if self._clean_at is not None and self._clean_at > self._at:
            self._clean_at = None
        last = self._steps[-1] if self._steps else None
        if merge and last is not None and last.merge == merge and self._clean_at != self._at:
            self._steps[-1] = _Step(
                command.text, last.kinds | command.kinds, last.before, after, merge
            )
        else:
            self._steps.append(_Step(command.text, command.kinds, before, after, merge))
            self._at += 1
        self._set(after, Change(command.kinds, sender))
        return True

    def undo(self) -> None:
        """Go one step back, if there is one."""
        if self._at:
            self._at -= 1
            step = self._steps[self._at]
            self._set(step.before, Change(step.kinds))

    def redo(self) -> None:
        """Go one step forward again, if there is one."""
        if self._at < len(self._steps):
            step = self._steps[self._at]
            self._at += 1
            self._set(step.after, Change(step.kinds))

    @property
    def undo_text(self) -> str | None:
        """Name of the step undo would take back, or None."""
        return self._steps[self._at - 1].text if self._at else None

    @property
    def redo_text(self) -> str | None:
        """Name of the step redo would do again, or None."""
        return self._steps[self._at].text if self._at < len(self._steps) else None

    @property
    def history(self) -> tuple[str, ...]:
        """Names of all steps, oldest first, those undone included."""
        return tuple(step.text for step in self._steps)

    @property
    def history_at(self) -> int:
        """How many steps of the history are in force."""
        return self._at

    def _set(self, project: Project, change: Change) -> None:
        self._project = project
        self._revision += 1
        self.changed.emit(change)
        self.history_changed.emit()
        self._tell_dirty()

    def _tell_dirty(self) -> None:
        if self.dirty != self._was_dirty:
            self._was_dirty = self.dirty
            self.dirty_changed.emit(self.dirty)

    # --- what reading drawings noticed --------------------------------------------------
    def set_reading_findings(self, source: str, findings: tuple[Finding, ...]) -> None:
        """Keep how a file read again differs from before, for as long as the document is open.

        What reading noticed about the drawing itself is kept with the drawing.
        """
        self._reading[source] = findings

    @property
    def reading_findings(self) -> tuple[Finding, ...]:
        """What reading noticed, of drawings that are in the project."""
        ids = {d.id for d in self._project.drawings}
        names = {d.file_name for d in self._project.drawings}
        panels = {p.id for p in self._project.panels}
        kept = (
            replace(finding, drawing=drawing.id)
            for drawing in self._project.drawings
            for finding in drawing.findings
            if finding.panel is None or finding.panel in panels
        )
        said = (
            finding
            for findings in self._reading.values()
            for finding in findings
            if (finding.drawing in ids if finding.drawing else finding.source in names)
        )
        return (*kept, *said)

    # --- files --------------------------------------------------------------------------
    def open(self, path: str | Path) -> None:
        """Open a project file. Raises UnreadableProject; the document is then as before."""
        from core.project.file import load_project

        self.take(load_project(Path(path)), Path(path))

    def take(self, project: Project, path: Path | None, *, dirty: bool = False) -> None:
        """Make project the document, with an empty history. dirty: the file lags behind it."""
        self._drop_recovery()
        self._path = path
        self._steps.clear()
        self._at = 0
        self._clean_at = None if dirty else 0
        self._reading.clear()
        self._disk = _stamp(path) if path is not None else None
        self._set(project, Change())
        self.path_changed.emit()

    def save(self) -> None:
        """Write the project to its file, atomically. Raises SaveFailedError, or ValueError if
        it has no file yet."""
        if self._path is None:
            raise ValueError("The project has no file yet")
        self.save_as(self._path)

    def save_as(self, path: str | Path) -> None:
        """Write the project to path and keep it there from now on. Raises SaveFailedError."""
        from core.project.file import save_project
        from core.project.places import with_paths_from

        target = Path(path)
        here = self._path.parent if self._path is not None else None
        known: dict[str, str] = {}

        def moved(project: Project) -> Project:
            return with_paths_from(project, here, target.parent, known=known)

        if here == target.parent:
            save_project(self._project, target)
        else:  # what leads to the drawings leads there from the new folder, in every step
            project = moved(self._project)
            save_project(project, target)
            self._project = project
            self._steps = [
                replace(step, before=moved(step.before), after=moved(step.after))
                for step in self._steps
            ]
        self.saved(target, self._at)

    def saved(self, path: Path, at: int) -> None:
        """Note that the state after step number at now stands in path."""
        moved = path != self._path
        self._path = path
        self._clean_at = at
        self._disk = _stamp(path)
        if not self.dirty:
            self._drop_recovery()
        self._tell_dirty()
        if moved:
            self.path_changed.emit()

    def check_disk(self) -> None:
        """Emit changed_on_disk if someone else wrote the file since it was read or saved."""
        if self._path is None or self._disk is None:
            return
        try:
            stat = os.stat(self._path)
        except OSError:
            return
        if (stat.st_mtime_ns, stat.st_size) == self._disk[:2]:
            return
        now = _stamp(self._path)
        if now is None:
            return
        same = now[2] == self._disk[2]
        self._disk = now
        if not same:
            self.changed_on_disk.emit()

    # --- recovery -----------------------------------------------------------------------
    def autosave(self, *, wait: bool = True) -> None:
        """Put a copy where a crash cannot take it, if there is something to lose.

        wait False: write it on a thread of its own and return at once.
        """
        recovery = self._recovery
        if recovery is None or not self.dirty or self._recovered_revision == self._revision:
            return
        self._finish_autosave()
        project, path = self._project, self._path
        self._recovered_revision = self._revision

        def write() -> None:
            if not recovery.write(project, path):
                self._recovered_revision = -1  # the disk refused; the next turn tries again

        self._autosaving = threading.Thread(target=write, name="autosave", daemon=True)
        self._autosaving.start()
        if wait:
            self._finish_autosave()

    @property
    def is_kept_aside(self) -> bool:
        """True if a copy of the document as it is now is there (or nobody wants one)."""
        return self._recovery is None or self._recovered_revision == self._revision

    def _autosave_soon(self) -> None:
        self.autosave(wait=False)

    def _finish_autosave(self) -> None:
        if self._autosaving is not None:
            self._autosaving.join()
            self._autosaving = None

    def _drop_recovery(self) -> None:
        self._finish_autosave()
        if self._recovery is not None:
            self._recovery.discard()
        self._recovered_revision = -1

    def close(self) -> None:
        """The document is closed on purpose: nothing is left to recover."""
        self._autosave_timer.stop()
        self._disk_timer.stop()
        self._drop_recovery()


def _stamp(path: Path) -> tuple[int, int, str] | None:
    """(mtime in ns, size, sha256) of a file, None if it cannot be read."""
    try:
        stat = os.stat(path)
        return stat.st_mtime_ns, stat.st_size, hashlib.sha256(path.read_bytes()).hexdigest()
    except OSError:
        return None
