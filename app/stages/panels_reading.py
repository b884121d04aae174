"""The Panels stage's drawings: shown as they were read, read again, compared before it is taken."""

from __future__ import annotations

from pathlib import Path

from PySide6.QtWidgets import QStackedWidget

from app.drawing_watch import DrawingWatch
from app.files import Files
from app.i18n import tr
from app.reading import HowToRead, ReadDrawings
from app.stages.base import Stage
from app.stages.panels_drawing import ComparePage, DrawingPage
from core.findings import Finding
from core.outlines.model import Role
from core.outlines.roles import LayerChoice, merged
from core.project.answers import drawing_of
from core.project.model import Drawing


class ReadingStage(Stage):
    """Drawings of the project; the base of the Panels stage, which makes the pages."""

    files: Files
    pages: QStackedWidget
    drawing_page: DrawingPage
    compare_page: ComparePage
    watch: DrawingWatch

    def _drawing_of(self, finding: Finding) -> Drawing | None:
        if self.pages.currentWidget() is self.compare_page:
            return None
        return drawing_of(self.document.project, finding)

    def look_at_drawing(self, drawing_id: str, at: tuple[float, float] | None = None) -> None:
        """Show a drawing as it was read."""
        drawing = next((d for d in self.document.project.drawings if d.id == drawing_id), None)
        if drawing is not None:
            self.pages.setCurrentWidget(self.drawing_page)
            self.drawing_page.show_drawing(drawing, at)
            self.drawing_page.canvas.setFocus()

    def _back_to_wall(self) -> None:
        self.pages.setCurrentIndex(1 if self.document.project.panels else 0)

    def _compare(self, read: object) -> None:
        """Old and new over each other, before anything is taken."""
        assert isinstance(read, ReadDrawings)
        self.stage_wanted.emit("panels", "")
        self.pages.setCurrentWidget(self.compare_page)
        self.compare_page.show_read(read)

    def _take_compared(self, read: object) -> None:
        assert isinstance(read, ReadDrawings)
        self.compare_page.forget()
        self._back_to_wall()
        self.files.accept(read)

    def _leave_compared(self, read: object) -> None:
        assert isinstance(read, ReadDrawings)
        self.compare_page.forget()
        self._back_to_wall()
        self.watch.leave([comparison.drawing for comparison in read.compared])

    def _read_again(self, drawing_id: str) -> None:
        path = self._path_of(drawing_id)
        if path is not None:
            self.files.add([path])

    def _read_how(self, drawing_id: str, how: HowToRead) -> None:
        path = self._path_of(drawing_id)
        if path is not None:
            self.files.add([path], how=how)

    def _read_with_role(self, drawing_id: str, layer: str, role: Role) -> None:
        path = self._path_of(drawing_id)
        if path is not None:
            choice = LayerChoice(layer, role)
            remember = () if layer in ("", "0") else (choice,)
            self.files.add([path], how=HowToRead(choices=(choice,), remember=remember))
            if remember:
                self.preferences.set_layer_memory(
                    merged(self.document.project.layer_memory, remember)
                )

    def _path_of(self, drawing_id: str) -> Path | None:
        path = self.files.drawing_path(drawing_id)
        if path is None:
            self.message.emit(
                "warn",
                tr("The drawing is not where it was read from. Add it again from its new place."),
            )
        return path
