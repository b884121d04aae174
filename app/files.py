"""Opening, reading, saving: everything between the document and the disk, off the UI thread."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import replace
from pathlib import Path

from PySide6.QtCore import QObject, Signal

from app.commands import Adopt
from app.context import Context
from app.i18n import tr
from app.jobs import Progress, Stop
from app.reading import HowToRead, ReadDrawings, read_drawings
from app.recovery import Leftover
from app.wording import error_in_words
from core.errors import SeamwrightError, UnreadableDrawing
from core.outlines import table_text
from core.project.model import Project
from core.project.places import with_paths_from

DRAWING_SUFFIXES = (".dxf", ".svg")
TABLE_SUFFIXES = (".csv", ".tsv", ".txt")
TABLE_MOST_BYTES = 2_000_000
PROJECT_SUFFIX = ".json"


def is_drawing(path: str | Path) -> bool:
    """True for a file name that is a drawing's."""
    return Path(path).suffix.lower() in DRAWING_SUFFIXES


class Files(QObject):
    """The file side of one window.

    told(severity, sentence): something to say in place. opened(): another document is in the
    window. added(panel ids): panels came in. table_read(text): a list of panels to look at.
    compared(ReadDrawings): drawings that changed on disk were read again, for the maker to
    accept with :meth:`accept`.
    """

    told = Signal(str, str)
    opened = Signal()
    added = Signal(object)
    table_read = Signal(str)
    compared = Signal(object)

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
        """Open one project, or add drawings and a list of panels to the one that is open."""
        rows = [Path(path) for path in paths]
        projects = [path for path in rows if not is_drawing(path)]
        drawings = [path for path in rows if is_drawing(path)]
        tables = [path for path in projects if path.suffix.lower() in TABLE_SUFFIXES]
        projects = [path for path in projects if path not in tables]
        if len(tables) > 1:
            self.told.emit("warn", tr("Open one list of panels at a time."))
        elif len(projects) > 1 or (projects and (drawings or tables)):
            self.told.emit("warn", tr("Open one project at a time, or drawings alone."))
        elif projects:
            self.open_project(projects[0])
        else:
            if drawings:
                self.add(drawings)
            if tables:
                self.read_table(tables[0])

    def open_project(self, path: Path, *, as_copy: bool = False) -> None:
        """Open a project file. as_copy: as a new one without a file of its own (demos)."""
        if not self.may_leave():
            return
        revision = self._document.revision

        def work(_progress: Progress, _stop: Stop) -> Project:
            from core.project.file import load_project

            return load_project(path)

        def done(project: Project) -> None:
            if self._document.revision != revision and not self.may_leave():
                return  # worked on while the file was read
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
            if self._document.is_kept_aside:
                forget(leftover)  # only now that there is another copy
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
            self._document.saved(path, self._document.history_at)

        self._start(tr("Opening {file}").format(file=path.name), work, done)

    def read_table(self, path: Path) -> None:
        """Read a list of panels and hand it over to be looked at."""
        try:
            if path.stat().st_size > TABLE_MOST_BYTES:
                raise OSError(tr("it is too large for a list of panels"))
            text = table_text(path.read_bytes(), path.name)
        except UnreadableDrawing as error:
            self.told.emit("stop", error_in_words(error))
            return
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
            tr("Add drawings"),
            tr("Drawings and lists (*.dxf *.svg *.csv *.tsv);;All files (*)"),
            folder=self._folder(),
        )
        rows = [Path(path) for path in paths]
        tables = [path for path in rows if path.suffix.lower() in TABLE_SUFFIXES]
        if tables:
            self.open(rows)
        elif rows:
            self.add(rows)

    def add(self, paths: Iterable[Path], *, how: HowToRead | None = None) -> None:
        """Read drawings into the project; files read before are read again.

        Where a file has changed since it was read, nothing is taken before the maker has seen
        what changed; a reading asked for with a decision is taken at once.
        """
        rows = list(paths)
        document = self._document
        project, revision = document.project, document.revision
        folder = self._project_folder()

        def work(progress: Progress, stop: Stop) -> ReadDrawings:
            return read_drawings(
                project, rows, how=how, folder=folder, progress=progress, stop=stop
            )

        def done(read: ReadDrawings) -> None:
            if document.revision != revision:  # worked on meanwhile: read into what is there now
                self.add(rows, how=how)
            elif read.compared and (how is None or how.plain):
                for failure in read.failures:
                    self.told.emit("stop", error_in_words(failure))
                self.compared.emit(read)
            else:
                self._take(read, rows)

        title = (
            tr("Reading {file}").format(file=rows[0].name)
            if len(rows) == 1
            else tr("Reading {n} drawings").format(n=len(rows))
        )
        self._start(title, work, done)

    def accept(self, read: ReadDrawings) -> None:
        """Take drawings read again, after the maker has looked at what changed."""
        self._take(replace(read, failures=()), [Path(name) for name, _ in read.findings])

    def _take(self, read: ReadDrawings, rows: list[Path]) -> None:
        for failure in read.failures:
            self.told.emit("stop", error_in_words(failure))
        if not read.findings:
            return
        folder, project = self._project_folder(), read.project
        if folder != read.folder:  # saved elsewhere since
            project = with_paths_from(project, read.folder, folder)
        names = ", ".join(path.name for path in rows[:2]) + ("…" if len(rows) > 2 else "")
        # First what changed, so that whoever hears of the new project finds it complete.
        for source, findings in read.findings:
            self._document.set_reading_findings(source, findings)
        ran = self._document.run(Adopt(tr("Read {files}").format(files=names), project))
        self._context.derived.findings_changed.emit()
        if read.added:
            self.added.emit(read.added)
        if not ran and not read.failures:
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
            self.told.emit("stop", error_in_words(error))
            return False
        self._context.preferences.add_recent(path)
        return True

    # --- help -----------------------------------------------------------------------------
    def _start(self, title: str, work: Callable[[Progress, Stop], object], done: object) -> None:
        self._context.jobs.start(
            title,
            work,
            done=done,  # type: ignore[arg-type]
            failed=lambda error: self.told.emit("stop", error_in_words(error)),
            lane="files",
        )

    def _project_folder(self) -> Path | None:
        path = self._document.path
        return path.parent if path is not None else None

    def _folder(self) -> str:
        if self._document.path is not None:
            return str(self._document.path.parent)
        for drawing in self._document.project.drawings:
            if Path(drawing.path).is_absolute():
                return str(Path(drawing.path).parent)
        recent = self._context.preferences.recent
        return str(recent[0].parent) if recent else str(Path.home())
