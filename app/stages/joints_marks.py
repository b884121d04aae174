"""Marks on a panel: where no seam may cross, and where something below carries it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any, Protocol

import shapely
from PySide6.QtCore import QRectF, Qt, Signal
from PySide6.QtGui import QKeyEvent
from PySide6.QtWidgets import QListWidget, QListWidgetItem

from app.canvas.handler import arrow_nudge
from app.canvas.lengths import glance_size, short_length
from app.canvas.view import DRAG_START_PX, Canvas, Handler, Pointer
from app.i18n import tr
from app.preferences import Preferences
from app.stages.joints_hand import SeamHand
from app.stages.joints_scene import SeamScene, mark_shape
from app.widgets.fields import TextField
from app.widgets.forms import Choice, Rows, Section, button, words
from core.geometry import Point
from core.project.model import Mark, Panel, SplitChoice

NEVER, SUPPORT = "never", "support"
_THIN_PX = 8.0  # a mark dragged thinner is a line


def mark_between(kind: str, start: Point, end: Point, thin_mm: float) -> Mark:
    """A mark from corner to corner; a line where one side is thinner than thin_mm."""
    (x1, y1), (x2, y2) = start, end
    if abs(x2 - x1) < thin_mm:
        x = (x1 + x2) / 2
        return Mark(kind, ((x, min(y1, y2)), (x, max(y1, y2))))
    if abs(y2 - y1) < thin_mm:
        y = (y1 + y2) / 2
        return Mark(kind, ((min(x1, x2), y), (max(x1, x2), y)))
    left, right, low, high = min(x1, x2), max(x1, x2), min(y1, y2), max(y1, y2)
    return Mark(kind, ((left, low), (right, low), (right, high), (left, high)))


def moved_mark(mark: Mark, dx_mm: float, dy_mm: float) -> Mark:
    """The mark somewhere else."""
    return replace(mark, points=tuple((x + dx_mm, y + dy_mm) for x, y in mark.points))


def usual_mark(panel: Panel, kind: str) -> Mark:
    """A mark in the middle of a panel: a spot never to be crossed, a support right across."""
    x1, y1, x2, y2 = panel.region.bounds
    cx, cy = (x1 + x2) / 2, (y1 + y2) / 2
    if kind == SUPPORT:
        if x2 - x1 >= y2 - y1:
            return Mark(kind, ((cx, y1), (cx, y2)))
        return Mark(kind, ((x1, cy), (x2, cy)))
    half = max(25.0, min(x2 - x1, y2 - y1) / 8)
    return mark_between(kind, (cx - half, cy - half), (cx + half, cy + half), 1.0)


class MarkOwner(Protocol):
    """What the hand needs of its stage."""

    @property
    def panel(self) -> Panel | None:
        """The panel shown, as it is in the document."""

    def commit_marks(self, text: str, marks: tuple[Mark, ...], *, merge: str = "") -> None:
        """Make these the panel's marks."""

    def mark_chosen(self) -> None:
        """Another mark is chosen."""

    def told(self, text: str, *, wrong: bool = False) -> None:
        """A sentence below the panel."""


@dataclass
class _Drag:
    start: Pointer
    kind: str = ""  # of a mark being drawn, "" for one being moved
    moved: bool = False


class MarkHand(Handler):
    """Draws, moves and removes marks; all else goes on to the hand that has the seams."""

    def __init__(
        self,
        canvas: Canvas,
        scene: SeamScene,
        seams: SeamHand,
        owner: MarkOwner,
        preferences: Preferences,
        unit: Callable[[], str],
    ) -> None:
        self.canvas, self.scene, self.seams = canvas, scene, seams
        self.owner, self.preferences = owner, preferences
        self._unit = unit
        self.drawing = ""
        self._drag: _Drag | None = None

    @property
    def marks(self) -> tuple[Mark, ...]:
        """Marks of the panel, as the document has them."""
        panel = self.owner.panel
        return panel.marks if panel is not None else ()

    @property
    def mark(self) -> Mark | None:
        """The chosen mark."""
        index = self.scene.chosen_mark
        return self.marks[index] if index is not None and index < len(self.marks) else None

    def choose(self, index: int | None) -> None:
        """Choose a mark, or none."""
        if index == self.scene.chosen_mark:
            return
        self.scene.choose_mark(index)
        self.owner.mark_chosen()

    def start(self, kind: str) -> None:
        """The next drag draws a mark of that kind."""
        self.seams.cancel()
        self.drawing = kind
        self.owner.told(
            tr("Drag over the place no seam may cross. Esc leaves it.")
            if kind == NEVER
            else tr("Drag along what carries the panel there. Esc leaves it.")
        )

    # --- mouse ----------------------------------------------------------------------------
    def press(self, pointer: Pointer) -> bool:
        if pointer.button != Qt.MouseButton.LeftButton or self.scene.shown is None:
            return self.seams.press(pointer)
        if self.drawing:
            self._drag = _Drag(pointer, self.drawing)
            return True
        busy = self.seams.drawing or self.scene.handle_at(pointer.px.x(), pointer.px.y())
        on_seam = self.scene.line_at(pointer.x_mm, pointer.y_mm) is not None
        index = None if busy or on_seam else self.scene.mark_at(pointer.x_mm, pointer.y_mm)
        self.choose(index)
        if index is None:
            return self.seams.press(pointer)
        self.seams.choose(None)
        self._drag = _Drag(pointer)
        self.owner.told(mark_words(self.marks[index], self._unit()))
        return True

    def _now(self, drag: _Drag, pointer: Pointer) -> Mark | None:
        if drag.kind:
            start = (drag.start.x_mm, drag.start.y_mm)
            end = (pointer.x_mm, pointer.y_mm)
            return mark_between(drag.kind, start, end, self.canvas.mm(_THIN_PX))
        if self.mark is None:
            return None
        dx, dy = pointer.x_mm - drag.start.x_mm, pointer.y_mm - drag.start.y_mm
        return moved_mark(self.mark, dx, dy)

    def drag(self, pointer: Pointer) -> None:
        drag = self._drag
        if drag is None:
            self.seams.drag(pointer)
            return
        if not drag.moved and (pointer.px - drag.start.px).manhattanLength() < DRAG_START_PX:
            return
        drag.moved = True
        self.scene.show_mark_draft(self._now(drag, pointer))

    def release(self, pointer: Pointer) -> None:
        drag, self._drag = self._drag, None
        if drag is None:
            self.seams.release(pointer)
            return
        self.scene.show_mark_draft(None)
        now = self._now(drag, pointer)
        if not drag.moved or now is None:
            return
        if drag.kind:
            self.drawing = ""
            self.scene.chosen_mark = len(self.marks)
            text = tr("Mark never to cross") if drag.kind == NEVER else tr("Mark a support")
            self.owner.commit_marks(text, (*self.marks, now))
            self.owner.told(mark_words(now, self._unit()))
            return
        self._put(now, tr("Move the mark"))

    def _put(self, mark: Mark | None, text: str, merge: str = "") -> None:
        """Put a mark in the place of the chosen one, None takes it away."""
        marks = list(self.marks)
        index = self.scene.chosen_mark
        if index is None or index >= len(marks):
            return
        if mark is None:
            del marks[index]
            self.scene.chosen_mark = None
        else:
            marks[index] = mark
        self.owner.commit_marks(text, tuple(marks), merge=merge)

    def add_usual(self, kind: str) -> None:
        """Put a mark into the middle; arrows move it."""
        shown = self.scene.shown
        if shown is None:
            return
        self.seams.choose(None)
        self.scene.chosen_mark = len(self.marks)
        text = tr("Mark never to cross") if kind == NEVER else tr("Mark a support")
        self.owner.commit_marks(text, (*self.marks, usual_mark(shown.panel, kind)))

    def remove(self) -> None:
        """Take the chosen mark away."""
        self._put(None, tr("Remove the mark"))

    def note(self, text: str) -> None:
        """Write a note on the chosen mark."""
        if self.mark is not None:
            self._put(replace(self.mark, note=text), tr("Note on the mark"))

    def cancel(self) -> bool:
        if self._drag is not None or self.drawing:
            self._drag, self.drawing = None, ""
            self.scene.show_mark_draft(None)
            self.owner.told("")
            return True
        if self.scene.chosen_mark is not None:
            self.choose(None)
            return True
        return self.seams.cancel()

    def key(self, event: QKeyEvent) -> bool:
        which, mods = event.key(), event.modifiers()
        shift = bool(mods & Qt.KeyboardModifier.ShiftModifier)
        if which == Qt.Key.Key_M and not mods & ~Qt.KeyboardModifier.ShiftModifier:
            self.add_usual(SUPPORT if shift else NEVER)
            return True
        if self.mark is not None:
            nudge = arrow_nudge(event, float(self.preferences.get("nudge_mm")))
            if nudge is not None:
                moved = moved_mark(self.mark, *nudge)
                self._put(moved, tr("Move the mark"), f"mark {self.scene.chosen_mark}")
                return True
            if which in (Qt.Key.Key_Delete, Qt.Key.Key_Backspace):
                self.remove()
                return True
        if which in (Qt.Key.Key_Period, Qt.Key.Key_Comma):
            self.choose(None)
        return self.seams.key(event)

    # --- the rest goes on -------------------------------------------------------------------
    def hover(self, pointer: Pointer | None) -> str:
        if pointer is not None and self.drawing:
            return ""
        return self.seams.hover(pointer)

    def double(self, pointer: Pointer) -> bool:
        return self.seams.double(pointer)

    def banded(self, area: QRectF, adding: bool) -> None:
        self.seams.banded(area, adding)

    def selection_rect(self) -> QRectF:
        if self.mark is None:
            return self.seams.selection_rect()
        x1, y1, x2, y2 = shapely.MultiPoint(self.mark.points).bounds
        return QRectF(x1 - 60, y1 - 60, x2 - x1 + 120, y2 - y1 + 120)


def mark_words(mark: Mark, unit: str) -> str:
    """A mark in a line: what it is and how large."""
    x1, y1, x2, y2 = shapely.MultiPoint(mark.points).bounds
    if len(mark.points) > 2:
        size = glance_size(x2 - x1, y2 - y1, unit)
    else:
        size = short_length(max(x2 - x1, y2 - y1), unit)
    text = tr("Never cross") if mark.kind == NEVER else tr("Support")
    text = f"{text}, {size}"
    return f"{text}: {mark.note}" if mark.note else text


class MarksBox(Section):
    """What the maker decided about splitting this panel: whether at all, and where not.

    wanted(kind): draw a mark. chosen(index), removed(), noted(text), split(choice).
    """

    wanted = Signal(str)
    chosen = Signal(int)
    removed = Signal()
    noted = Signal(str)
    split = Signal(object)

    def __init__(self) -> None:
        super().__init__(tr("This panel"), "panel")
        rows = Rows()
        self.choice = Choice(
            tr("Whether this panel is split"),
            (
                (SplitChoice.AUTO, tr("split where it must be")),
                (SplitChoice.WHOLE, tr("leave whole")),
                (SplitChoice.SPLIT, tr("split although it fits")),
                (SplitChoice.OMIT, tr("leave out of this plan")),
            ),
        )
        self.choice.chosen.connect(self._split)
        rows.add(tr("If too big"), self.choice)
        self.add(rows)
        self.never = button(
            tr("Never cross…"),
            self._never,
            "halt",
            tr("Drag over a place that no seam may cross (M puts one into the middle)"),
        )
        self.support = button(
            tr("Support…"),
            self._support,
            "align-bottom",
            tr("Drag along a rail or wall below that carries the panel (Shift+M)"),
        )
        self.add(self.never)
        self.add(self.support)
        self.list = QListWidget()
        self.list.setAccessibleName(tr("Marks on this panel"))
        self.list.itemClicked.connect(self._clicked)
        self.add(self.list)
        self.note = TextField(tr("Note on the mark"))
        self.note.committed.connect(self._noted)
        self.note_row = Rows()
        self.note_row.add(tr("Note"), self.note)
        self.add(self.note_row)
        self.remove_button = button(tr("Remove the mark"), self._remove, "delete")
        self.add(self.remove_button)
        self.empty = words(tr("No marks: seams may run anywhere."))
        self.add(self.empty)

    def show_panel(self, panel: Panel | None, chosen: int | None, unit: str) -> None:
        """Take over a panel and its marks."""
        self.setVisible(panel is not None)
        if panel is None:
            return
        self.choice.set_value(panel.split)
        self.list.clear()
        for mark in panel.marks:
            self.list.addItem(QListWidgetItem(mark_words(mark, unit)))
        have = bool(panel.marks)
        self.list.setVisible(have)
        self.empty.setVisible(not have)
        rows = min(max(len(panel.marks), 1), 5)
        self.list.setFixedHeight(rows * (self.fontMetrics().height() + 8) + 6)
        picked = chosen is not None and chosen < len(panel.marks)
        if picked and chosen is not None:
            self.list.setCurrentRow(chosen)
            self.note.set_value(panel.marks[chosen].note)
        self.note_row.setVisible(picked)
        self.remove_button.setVisible(picked)

    def _split(self, value: SplitChoice) -> None:
        self.split.emit(value)

    def _never(self) -> None:
        self.wanted.emit(NEVER)

    def _support(self) -> None:
        self.wanted.emit(SUPPORT)

    def _clicked(self, item: QListWidgetItem) -> None:
        self.chosen.emit(self.list.row(item))

    def _noted(self, text: Any) -> None:
        self.noted.emit(str(text or ""))

    def _remove(self) -> None:
        self.removed.emit()


__all__ = ["NEVER", "SUPPORT", "MarkHand", "MarksBox", "mark_between", "mark_shape", "mark_words"]
