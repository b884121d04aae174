"""Opening, reading, saving: everything between the document and the disk, off the UI thread."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from functools import partial
from pathlib import Path

from PySide6.QtCore import QObject, Signal

from app.background import READING
from app.commands import Adopt
from app.context import Context
from app.i18n import tr
from app.jobs import Progress, Stop
from app.recovery import Leftover
from core.errors import SeamwrightError
from core.findings import Finding
from core.outlines.model import Role
from core.project.model import Project

DRAWING_SUFFIXES = (".dxf", ".svg")
TABLE_SUFFIXES = (".csv", ".tsv", ".txt")
TABLE_MOST_BYTES = 2_000_000
PROJECT_SUFFIX = ".json"
_LONG_BYTES = 100_000  # some 0.1 s of reading; below it a thread is quicker than the second process


def is_drawing(path: str | Path) -> bool:
    """True for a file name that is a drawing's."""
    return Path(path).suffix.lower() in DRAWING_SUFFIXES


@dataclass(frozen=True)
class ReadDrawings:
    """What reading files gave: the new project, findings by file name, files that failed."""

    project: Project
    findings: tuple[tuple[str, tuple[Finding, ...]], ...]
    added: tuple[str, ...]
    changed: int
    failures: tuple[SeamwrightError, ...]


def read_drawings(
    project: Project,
    paths: Iterable[Path],
    *,
    units: str | None = None,
    roles: Mapping[str, Role] | None = None,
    folder: Path | None = None,
    progress: Progress,
    stop: Stop,
) -> ReadDrawings:
    """Read files into a project, one after the other; a file that fails leaves the others.

    units: take the numbers in this unit whatever the files say. roles: layer → role to take.
    folder: the project file's.
    """
    from core.project.edits import PanelDefaults, add_drawing

    rows = list(paths)
    findings: list[tuple[str, tuple[Finding, ...]]] = []
    added: list[str] = []
    changed = 0
    failures: list[SeamwrightError] = []
    only = project.shop.materials[0].name if len(project.shop.materials) == 1 else ""
    defaults = PanelDefaults(material=only)
    for i, path in enumerate(rows):
        if stop():
            break
        text = tr("Reading {file}").format(file=path.name)
        progress(i / len(rows), text)

        def told(
            fraction: float, _text: str = "", _partial: object = None, i: int = i, text: str = text
        ) -> None:
            progress((i + fraction) / len(rows), text)

        read = partial(READING.call, add_drawing) if _is_long(path) else add_drawing
        try:
            edited = read(
                project,
                path,
                units=units,
                roles=roles,
                defaults=defaults,
                project_dir=folder,
                progress=told,
                stop=stop,
            )
        except SeamwrightError as error:
            failures.append(error)
            continue
        project = edited.project
        findings.append((path.name, edited.findings))
        added.extend(edited.added)
        changed += len(edited.changed)
    return ReadDrawings(project, tuple(findings), tuple(added), changed, tuple(failures))


def _is_long(path: Path) -> bool:
    """True if reading the file takes so long that the window would feel it on a thread."""
    try:
        return path.stat().st_size > _LONG_BYTES
    except OSError:
        return False  # the reader says what is wrong with it


class Files(QObject):
    """The file side of one window.

    told(severity, sentence): something to say in place. opened(): another document is in the
    window. added(panel ids): panels came in. table_read(text): a list of panels to look at.
    """

    told = Signal(str, str)
    opened = Signal()
    added = Signal(object)
    table_read = Signal(str)

    def __init__(self, context: Context, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._context = context
        self._document = context.document

    # --- another document -----------------------------------------------------------------
    def may_leave(self) -> bool:
        """True if the document has nothing to lose or the maker decided about it."""
        if not self._document.dirty:
            return True
        answer = self._context.ask.choose(
            tr("Unsaved changes"),
            tr("“{name}” has changes that are not saved.").format(name=self._document.title),
            [tr("Save"), tr("Leave without saving"), tr("Stay")],
        )
        if answer == 0:
            return self.save()
        return answer == 1

    def new(self) -> None:
        """Begin an empty project with the maker's shop and units."""
        if self.may_leave():
            self._document.take(self._context.preferences.new_project(), None)
            self.opened.emit()

    def ask_open(self) -> None:
        """Let the maker choose a project or drawings."""
        paths = self._context.ask.open_files(
            tr("Open"),
            tr("Projects and drawings (*.json *.dxf *.svg *.csv);;All files (*)"),
            folder=self._folder(),
        )
        if paths:
            self.open(paths)

    def open(self, paths: Iterable[str | Path]) -> None:
        """Open one project, or add drawings to the one that is open."""
        rows = [Path(path) for path in paths]
        projects = [path for path in rows if not is_drawing(path)]
        drawings = [path for path in rows if is_drawing(path)]
        tables = [path for path in projects if path.suffix.lower() in TABLE_SUFFIXES]
        projects = [path for path in projects if path not in tables]
        if tables and (len(tables) > 1 or projects or drawings):
            self.told.emit("warn", tr("Open one list of panels at a time."))
        elif tables:
            self.read_table(tables[0])
        elif len(projects) > 1 or (projects and drawings):
            self.told.emit("warn", tr("Open one project at a time, or drawings alone."))
        elif projects:
            self.open_project(projects[0])
        elif drawings:
            self.add(drawings)

    def open_project(self, path: Path, *, as_copy: bool = False) -> None:
        """Open a project file. as_copy: as a new one without a file of its own (demos)."""
        if not self.may_leave():
            return

        def work(_progress: Progress, _stop: Stop) -> Project:
            from core.project.file import load_project

            return load_project(path)

        def done(project: Project) -> None:
            self._document.take(project, None if as_copy else path)
            if not as_copy:
                self._context.preferences.add_recent(path)
            self.opened.emit()

        self._start(tr("Opening {file}").format(file=path.name), work, done)

    def recover(self, leftover: Leftover, forget: Callable[[Leftover], None]) -> None:
        """Open a copy that a crash left behind, as changes to the file it belongs to."""

        def work(_progress: Progress, _stop: Stop) -> Project:
            from core.project.file import load_project

            return load_project(leftover.copy)

        def done(project: Project) -> None:
            self._document.take(project, leftover.original, dirty=True)
            self._document.autosave()
            forget(leftover)
            self.opened.emit()

        self._start(tr("Recovering unsaved work"), work, done)

    def read_again_from_disk(self) -> None:
        """Take the project as it now stands in its file."""
        path = self._document.path
        if path is None:
            return

        def work(_progress: Progress, _stop: Stop) -> Project:
            from core.project.file import load_project

            return load_project(path)

        def done(project: Project) -> None:
            self._document.run(Adopt(tr("Read the file again"), project))

        self._start(tr("Opening {file}").format(file=path.name), work, done)

    def read_table(self, path: Path) -> None:
        """Read a list of panels and hand it over to be looked at."""
        try:
            if path.stat().st_size > TABLE_MOST_BYTES:
                raise OSError(tr("it is too large for a list of panels"))
            data = path.read_bytes()
            wide = data.startswith((b"\xff\xfe", b"\xfe\xff"))
            text = data.decode("utf-16" if wide else "utf-8-sig", errors="replace")
        except OSError as error:
            self.told.emit(
                "stop",
                tr("{file} cannot be read: {why}").format(
                    file=path.name, why=error.strerror or error
                ),
            )
            return
        self.table_read.emit(text)

    # --- drawings -------------------------------------------------------------------------
    def ask_add(self) -> None:
        """Let the maker choose drawings to add."""
        paths = self._context.ask.open_files(
            tr("Add drawings"), tr("Drawings (*.dxf *.svg);;All files (*)"), folder=self._folder()
        )
        if paths:
            self.add([Path(path) for path in paths])

    def add(
        self,
        paths: Iterable[Path],
        *,
        units: str | None = None,
        roles: Mapping[str, Role] | None = None,
    ) -> None:
        """Read drawings into the project; files read before are read again."""
        rows = list(paths)
        document = self._document
        project, revision = document.project, document.revision
        folder = document.path.parent if document.path is not None else None

        def work(progress: Progress, stop: Stop) -> ReadDrawings:
            return read_drawings(
                project,
                rows,
                units=units,
                roles=roles,
                folder=folder,
                progress=progress,
                stop=stop,
            )

        def done(read: ReadDrawings) -> None:
            if document.revision != revision:  # worked on meanwhile: read into what is there now
                self.add(rows, units=units, roles=roles)
                return
            self._take(read, rows)

        title = (
            tr("Reading {file}").format(file=rows[0].name)
            if len(rows) == 1
            else tr("Reading {n} drawings").format(n=len(rows))
        )
        self._start(title, work, done)

    def _take(self, read: ReadDrawings, rows: list[Path]) -> None:
        for failure in read.failures:
            self.told.emit("stop", str(failure))
        if not read.findings:
            return
        names = ", ".join(path.name for path in rows[:2]) + ("…" if len(rows) > 2 else "")
        self._document.run(Adopt(tr("Read {files}").format(files=names), read.project))
        for source, findings in read.findings:
            self._document.set_reading_findings(source, findings)
        self._context.derived.findings_changed.emit()
        if read.added:
            self.added.emit(read.added)
        if not read.added and not read.changed and not read.failures:
            self.told.emit(
                "note", tr("{files}: nothing new since it was read.").format(files=names)
            )

    def drawing_path(self, drawing_id: str) -> Path | None:
        """Where a drawing was read from, if the file is still there."""
        drawing = next((d for d in self._document.project.drawings if d.id == drawing_id), None)
        if drawing is None or not drawing.path:
            return None
        path = Path(drawing.path)
        if not path.is_absolute() and self._document.path is not None:
            path = self._document.path.parent / path
        return path if path.exists() else None

    # --- saving ---------------------------------------------------------------------------
    def save(self) -> bool:
        """Save in place, or ask where for the first time. False if it was not saved."""
        path = self._document.path
        if path is None:
            return self.save_as()
        return self._save(path)

    def save_as(self) -> bool:
        """Ask where and save there."""
        suggestion = str(Path(self._folder()) / f"{self._document.title}.json")
        chosen = self._context.ask.save_file(
            tr("Save project"), tr("Seamwright projects (*.json)"), suggestion=suggestion
        )
        if not chosen:
            return False
        path = Path(chosen)
        return self._save(path if path.suffix else path.with_suffix(PROJECT_SUFFIX))

    def _save(self, path: Path) -> bool:
        try:
            self._document.save_as(path)
        except SeamwrightError as error:
            self.told.emit("stop", str(error))
            return False
        self._context.preferences.add_recent(path)
        return True

    # --- help -----------------------------------------------------------------------------
    def _start(self, title: str, work: Callable[[Progress, Stop], object], done: object) -> None:
        self._context.jobs.start(
            title,
            work,
            done=done,  # type: ignore[arg-type]
            failed=lambda error: self.told.emit("stop", str(error)),
            lane="files",
        )

    def _folder(self) -> str:
        if self._document.path is not None:
            return str(self._document.path.parent)
        recent = self._context.preferences.recent
        return str(recent[0].parent) if recent else str(Path.home())
