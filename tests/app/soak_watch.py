"""What must hold after every action of the random maker."""

from __future__ import annotations

import contextlib
import logging
import sys
import traceback
from collections.abc import Iterator
from typing import Any

from PySide6.QtCore import QObject, qInstallMessageHandler
from shapely import STRtree

from app.commands.base import EVERYTHING
from app.document import Change, Document
from app.window import MainWindow
from core.project.file import project_from_json, project_to_json
from core.project.validate import validate_project


class BrokenError(AssertionError):
    """Something that must always hold did not."""


class Watch(QObject):
    """What must hold after every action."""

    def __init__(self, document: Document) -> None:
        super().__init__(document)
        self.document = document
        self.begun = project_to_json(document.project)
        self.warnings: list[str] = []
        document.changed.connect(self._changed)

    def _changed(self, change: Change) -> None:
        if change.kinds == EVERYTHING and not self.document.history:
            self.begun = project_to_json(self.document.project)  # another document

    @contextlib.contextmanager
    def listening(self) -> Iterator[None]:
        """Keep warnings of Qt, exceptions nobody caught and jobs that failed by our fault."""
        watch = self

        class Log(logging.Handler):
            def emit(self, record: logging.LogRecord) -> None:
                watch.warnings.append(self.format(record))

        def said(kind: Any, _context: Any, text: str) -> None:
            quiet = ("propagateSizeHints", "does not support raise", "does not support grabbing")
            if not any(q in text for q in quiet):
                watch.warnings.append(f"{kind}: {text}")

        def uncaught(kind: Any, value: Any, trace: Any) -> None:
            if kind is KeyboardInterrupt:
                sys.__excepthook__(kind, value, trace)
            watch.warnings.append("".join(traceback.format_exception(kind, value, trace)))

        handler = Log(level=logging.WARNING)
        logging.getLogger("app").addHandler(handler)
        before, hook = qInstallMessageHandler(said), sys.excepthook
        sys.excepthook = uncaught
        try:
            yield
        finally:
            sys.excepthook = hook
            qInstallMessageHandler(before)
            logging.getLogger("app").removeHandler(handler)

    def check(self) -> None:
        """Raise BrokenError if anything is not as it must be."""
        if self.warnings:
            raise BrokenError("\n".join(self.warnings))
        document = self.document
        project = document.project
        validate_project(project)
        text = project_to_json(project)
        if project_to_json(project_from_json(text)) != text:
            raise BrokenError("what is written is not what is read")
        twin = self._twin()
        while twin.undo_text is not None:
            twin.undo()
        if project_to_json(twin.project) != self.begun:
            raise BrokenError("undoing everything does not give the beginning")
        for _ in range(document.history_at):
            twin.redo()
        if twin.project != project or project_to_json(twin.project) != text:
            raise BrokenError("undoing and doing again does not give the present")
        end = self._end()
        while twin.redo_text is not None:
            twin.redo()
        if project_to_json(twin.project) != end:
            raise BrokenError("doing everything again does not give the end")

    def _end(self) -> str:
        steps = self.document._steps
        return project_to_json(steps[-1].after if steps else self.document.project)

    def _twin(self) -> Document:
        """A document nobody looks at, with the same history."""
        twin = Document(self.document.project)
        twin._steps, twin._at = list(self.document._steps), self.document.history_at
        return twin

    def check_marks(self, window: MainWindow) -> None:
        """Every overlap on the floor is marked: found here by plain geometry."""
        stage: Any = window.stages[2]
        bench, wrong = stage._bench, stage._all_wrong()
        if stage._preview is not None:
            return
        for sheet in bench.sheets:
            keys = list(bench.on(sheet))
            if len(keys) < 2:
                continue
            shapes = [bench.shape(key) for key in keys]
            tree = STRtree(shapes)
            for a, b in zip(*tree.query(shapes, predicate="intersects"), strict=True):
                if a < b and shapes[a].intersection(shapes[b]).area > 0.5:
                    unmarked = [keys[i] for i in (a, b) if keys[i] not in wrong]
                    if unmarked:
                        raise BrokenError(
                            f"{keys[a]} and {keys[b]} overlap and {unmarked} is not red"
                        )
