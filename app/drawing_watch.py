"""Tells when a drawing that was read has been changed on disk."""

from __future__ import annotations

import os
from collections.abc import Iterable
from pathlib import Path

from PySide6.QtCore import QObject, QTimer, Signal

from app.context import Context
from app.i18n import tr
from app.jobs import Progress, Stop
from core.findings import Finding, Severity
from core.project.model import Drawing

CHECK_MS = 3_000
_ON_DISK = " (on disk)"  # keeps these notices apart from what reading told


class DrawingWatch(QObject):
    """Looks at the drawings' files now and then; a changed one becomes a notice.

    noticed(findings) tells when other drawings than before differ from their files.

    A file is hashed on a thread, and only when its time or size is another than last time, so
    that nothing is read over and over.
    """

    noticed = Signal(object)  # tuple of findings, one for each drawing that differs

    def __init__(self, context: Context, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._context = context
        self._seen: dict[Path, tuple[int, int]] = {}
        self._digests: dict[Path, str] = {}
        self._told: dict[str, str] = {}
        self._left: dict[Path, str] = {}
        self._busy = False
        self._timer = QTimer(self)
        self._timer.setInterval(CHECK_MS)
        self._timer.timeout.connect(self.check)
        self._timer.start()
        context.document.changed.connect(self._project_changed)

    def stop(self) -> None:
        """Look no more; the window closes."""
        self._timer.stop()

    def leave(self, drawing_ids: Iterable[str]) -> None:
        """The maker has seen these drawings' files and does not want them as they are now."""
        wanted = set(drawing_ids)
        for drawing, path, _ in self._files():
            if drawing.id in wanted and path in self._digests:
                self._left[path] = self._digests[path]
        self._tell()

    def check(self) -> None:
        """Look at all files once; what is new about them is hashed off this thread."""
        if self._busy:
            return
        stale: list[Path] = []
        for _, path, _ in self._files():
            try:
                stat = os.stat(path)
            except OSError:
                continue
            mark = (stat.st_mtime_ns, stat.st_size)
            if self._seen.get(path) != mark:
                self._seen[path] = mark
                stale.append(path)
        if not stale:
            return
        self._busy = True

        def work(_progress: Progress, _stop: Stop) -> dict[Path, str]:
            from core.errors import SeamwrightError
            from core.project.edits import file_hash

            found = {}
            for path in stale:
                try:
                    found[path] = file_hash(path)
                except SeamwrightError:  # being written just now: the next turn sees it again
                    continue
            return found

        self._context.jobs.start(
            tr("Looking at the drawings' files"),
            work,
            done=self._hashed,
            failed=lambda _error: self._ended(),
            lane="watch",
            quiet=True,
        )

    def _ended(self) -> None:
        self._busy = False

    def _hashed(self, digests: dict[Path, str]) -> None:
        self._busy = False
        self._digests.update(digests)
        self._tell()

    def _project_changed(self, _change: object) -> None:
        self._tell()

    def _files(self) -> list[tuple[Drawing, Path, str]]:
        from core.project.places import drawing_files

        document = self._context.document
        folder = document.path.parent if document.path is not None else None
        return [
            (drawing, path, digest)
            for drawing in document.project.drawings
            for path, digest in drawing_files(drawing, folder)
            if path.is_absolute()
        ]

    def _tell(self) -> None:
        """Notices for the drawings whose files are others than those that were read."""
        changed: dict[str, Finding] = {}
        for drawing, path, digest in self._files():
            now = self._digests.get(path)
            if now is not None and now != digest and self._left.get(path) != now:
                changed[drawing.id] = Finding(
                    "drawing-changed",
                    Severity.WARN,
                    tr("{file} has been changed on disk since it was read.").format(file=path.name),
                    remedy=tr("Look at what changed, then take it or leave it."),
                    source=drawing.file_name,
                    fix="read-again",
                    drawing=drawing.id,
                )
        state = {key: finding.message for key, finding in changed.items()}
        if state == self._told:
            return
        document = self._context.document
        for key in dict.fromkeys((*self._told, *changed)):
            document.set_reading_findings(key + _ON_DISK, (changed[key],) if key in changed else ())
        self._told = state
        self._context.derived.findings_changed.emit()
        self.noticed.emit(tuple(changed.values()))
