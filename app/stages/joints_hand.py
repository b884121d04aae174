"""Mouse and keys on the panel: choosing, dragging, bending, drawing and removing seams."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Protocol

from PySide6.QtCore import QRectF, Qt
from PySide6.QtGui import QKeyEvent

from app.canvas.handler import arrow_nudge
from app.canvas.lengths import glance_size, short_length
from app.canvas.view import DRAG_START_PX, Canvas, Handler, Pointer
from app.i18n import tr
from app.preferences import Preferences
from app.stages import joints_lines as shape
from app.stages.joints_scene import SeamScene, fit_words
from core.project.model import SeamLine

SNAP_PX = 9.0
CURVE_SNAP_PX = 3.0  # a curve that rises less is straight
FREE = Qt.KeyboardModifier.AltModifier


class Owner(Protocol):
    """What the hand needs of its stage."""

    def draft(self, lines: tuple[SeamLine, ...]) -> None:
        """Show these lines for now, pieces following."""

    def commit(self, text: str, lines: tuple[SeamLine, ...], *, merge: str = "") -> None:
        """Make these lines the panel's seams."""

    def revert(self) -> None:
        """Show again what the document says."""

    def chosen_changed(self) -> None:
        """Another seam is chosen."""

    def told(self, text: str, *, wrong: bool = False) -> None:
        """A sentence below the panel."""

    def look(self, pointer: Pointer | None) -> bool:
        """The loupe follows the pointer; True while it shows something."""

    def lay_bed(self, piece: str) -> None:
        """Lay the bed over a piece; "" takes it away."""

    def new_seam(self) -> None:
        """Put in a seam across the middle."""

    def turn_over(self) -> None:
        """Let the teeth of the chosen seam point the other way."""


@dataclass
class _Drag:
    """A seam in the hand. role "new": a line being drawn."""

    index: int
    role: str
    start: Pointer
    before: tuple[SeamLine, ...]
    now: tuple[SeamLine, ...]
    moved: bool = False


class SeamHand(Handler):
    """Drags show drafts; the document changes when the button goes up."""

    def __init__(
        self,
        canvas: Canvas,
        scene: SeamScene,
        owner: Owner,
        preferences: Preferences,
        unit: Callable[[], str],
    ) -> None:
        self.canvas = canvas
        self.scene = scene
        self.owner = owner
        self.preferences = preferences
        self._unit = unit
        self.drawing = False
        self._drag: _Drag | None = None

    @property
    def busy(self) -> bool:
        """True while a seam is in the hand."""
        return self._drag is not None

    @property
    def line(self) -> SeamLine | None:
        """The chosen line."""
        index = self.scene.chosen
        if index is None or index >= len(self.scene.lines):
            return None
        return self.scene.lines[index]

    def choose(self, index: int | None, handle: str = "") -> None:
        """Choose a seam line, or none."""
        if index is not None and not 0 <= index < len(self.scene.lines):
            index = None
        self.scene.choose(index, handle)
        self.owner.chosen_changed()

    def selection_rect(self) -> QRectF:
        line = self.line
        if line is None:
            return QRectF()
        xs, ys = [p[0] for p in shape.drawn(line)], [p[1] for p in shape.drawn(line)]
        rect = QRectF(min(xs), min(ys), max(xs) - min(xs), max(ys) - min(ys))
        return rect.adjusted(-60, -60, 60, 60)

    # --- mouse ----------------------------------------------------------------------------
    def press(self, pointer: Pointer) -> bool:
        if pointer.button != Qt.MouseButton.LeftButton or self.scene.shown is None:
            return False
        lines = self.scene.lines
        if self.drawing:
            style = self.scene.shown.panel.style
            at = (pointer.x_mm, pointer.y_mm)
            new = (*lines, SeamLine((at, at), style))
            self._drag = _Drag(len(lines), "new", pointer, lines, new)
            return True
        role = self.scene.handle_at(pointer.px.x(), pointer.px.y())
        if role and self.scene.chosen is not None:
            self.choose(self.scene.chosen, role)
            self._drag = _Drag(self.scene.chosen, role, pointer, lines, lines)
            return True
        index = self.scene.line_at(pointer.x_mm, pointer.y_mm)
        if index is not None:
            role = "middle"
            if pointer.has(FREE):
                number = shape.nearest_stretch(lines[index], pointer.x_mm, pointer.y_mm)
                role = f"curve {number}"
            self.choose(index, role)
            self._drag = _Drag(index, role, pointer, lines, lines)
            return True
        piece = self.scene.piece_at(pointer.x_mm, pointer.y_mm)
        self.choose(None)
        if piece is not None:
            if self.scene.envelope_piece and piece != self.scene.envelope_piece:
                self.owner.lay_bed(piece)
            self.owner.told(self._piece_words(piece))
        return piece is not None

    def drag(self, pointer: Pointer) -> None:
        drag = self._drag
        if drag is None:
            return
        if not drag.moved:
            if (pointer.px - drag.start.px).manhattanLength() < DRAG_START_PX:
                return
            drag.moved = True
            self.owner.look(None)
        drag.now = self._dragged(drag, pointer)
        self.owner.draft(drag.now)
        self.canvas.show_hover(self._line_words(drag.now[drag.index]), pointer.px)

    def _dragged(self, drag: _Drag, pointer: Pointer) -> tuple[SeamLine, ...]:
        dx, dy = pointer.x_mm - drag.start.x_mm, pointer.y_mm - drag.start.y_mm
        free = pointer.has(FREE)
        lines = list(drag.before)
        if drag.role == "new":
            start = (drag.start.x_mm, drag.start.y_mm)
            end = (pointer.x_mm, pointer.y_mm)
            if not free:
                end = self._straight(start, end)
            assert self.scene.shown is not None
            return (*drag.before, SeamLine((start, end), self.scene.shown.panel.style))
        line = lines[drag.index]
        if drag.role == "middle":
            if not free:
                dx, dy = self._snap_whole(line, dx, dy)
            lines[drag.index] = shape.moved_line(line, dx, dy)
        elif drag.role.startswith("curve"):
            lines[drag.index] = shape.curved_through(
                line,
                int(drag.role.split()[1]),
                pointer.x_mm,
                pointer.y_mm,
                flat_mm=self.canvas.mm(CURVE_SNAP_PX),
            )
        else:
            number = int(drag.role.split()[1])
            x, y = line.points[number]
            goal = (x + dx, y + dy)
            if not free:
                mate = line.points[number - 1] if number else line.points[1]
                goal = self._straight(mate, goal)
            lines[drag.index] = shape.with_point(line, number, *goal)
        return tuple(lines)

    def _straight(
        self, anchor: tuple[float, float], goal: tuple[float, float]
    ) -> tuple[float, float]:
        """Draw a point onto the level or upright line through its neighbour when near it."""
        near = self.canvas.mm(SNAP_PX)
        x = anchor[0] if abs(goal[0] - anchor[0]) < near else goal[0]
        y = anchor[1] if abs(goal[1] - anchor[1]) < near else goal[1]
        return x, y

    def _snap_whole(self, line: SeamLine, dx: float, dy: float) -> tuple[float, float]:
        """An upright or level seam moves square to itself, and stops at the panel's middle."""
        assert self.scene.shown is not None
        xs, ys = {p[0] for p in line.points}, {p[1] for p in line.points}
        x1, y1, x2, y2 = self.scene.shown.panel.region.bounds
        near = self.canvas.mm(SNAP_PX)
        if len(xs) == 1:
            dy = 0.0
            middle = (x1 + x2) / 2 - next(iter(xs))
            dx = middle if abs(dx - middle) < near else dx
        elif len(ys) == 1:
            dx = 0.0
            middle = (y1 + y2) / 2 - next(iter(ys))
            dy = middle if abs(dy - middle) < near else dy
        return dx, dy

    def release(self, pointer: Pointer) -> None:
        drag, self._drag = self._drag, None
        if drag is None:
            return
        self.canvas.show_hover("", pointer.px)
        if not drag.moved:
            return
        if drag.role == "new":
            self.drawing = False
            line = drag.now[-1]
            if shape.length_of(line) < 5.0:
                self.owner.revert()
                return
            self.scene.chosen = drag.index
            self.owner.commit(tr("Draw a seam"), drag.now)
            return
        self.owner.commit(self._text(tr("Move {seam}"), drag.index), drag.now)

    def cancel(self) -> bool:
        if self._drag is not None:
            self._drag = None
            self.owner.revert()
            self.owner.told(tr("Left where it was."))
            return True
        if self.drawing:
            self.drawing = False
            self.owner.told("")
            return True
        if self.scene.chosen is not None:
            self.choose(None)
            return True
        return False

    def banded(self, area: QRectF, adding: bool) -> None:
        if area.isEmpty():
            self.choose(None)

    def double(self, pointer: Pointer) -> bool:
        index = self.scene.line_at(pointer.x_mm, pointer.y_mm)
        if index is None:
            piece = self.scene.piece_at(pointer.x_mm, pointer.y_mm)
            if piece is None:
                return False
            self.owner.lay_bed(piece)
            return True
        self.bend(index, pointer.x_mm, pointer.y_mm)
        return True

    def hover(self, pointer: Pointer | None) -> str:
        role = "" if pointer is None else self.scene.handle_at(pointer.px.x(), pointer.px.y())
        for handle in self.scene.handles:
            handle.set_hot(handle.role in (role, self.scene.chosen_handle))
        if pointer is None or role:
            self.owner.look(None)
            if not role:
                return ""
            if role.startswith("curve"):
                return tr("Drag to curve the seam")
            return (
                tr("Drag to move the whole seam")
                if role == "middle"
                else tr("Drag to turn or bend the seam")
            )
        seen = self.owner.look(pointer)
        index = self.scene.line_at(pointer.x_mm, pointer.y_mm)
        if not seen and index is not None and index != self.scene.chosen:
            return tr("{seam}: click to choose, drag to move").format(seam=self._name(index))
        return ""

    # --- words ----------------------------------------------------------------------------
    def _name(self, index: int) -> str:
        shown = self.scene.shown
        letters = shown.letters(index) if shown is not None else ""
        if "," in letters:
            return tr("Seams {letters}").format(letters=letters)
        return tr("Seam {letter}").format(letter=letters) if letters else tr("Seam")

    def _text(self, pattern: str, index: int) -> str:
        return pattern.format(seam=self._name(index))

    def _line_words(self, line: SeamLine) -> str:
        unit = self._unit()
        (x1, y1), (x2, y2) = line.points[0], line.points[-1]
        angle = math.degrees(math.atan2(y2 - y1, x2 - x1)) % 180
        mx, my = shape.middle_of(line)
        length = shape.length_of(line)
        text = tr("x {x}, y {y} · {angle}° · {length} long").format(
            x=short_length(mx, unit),
            y=short_length(my, unit),
            angle=f"{angle:.1f}",
            length=short_length(length, unit),
        )
        radii = [shape.radius_of(line, k) for k in range(len(line.points) - 1)]
        curved = [short_length(r, unit) for r in radii if r is not None]
        if curved:
            text += " · " + tr("radius {radii}").format(radii=", ".join(curved))
        return text

    def _piece_words(self, piece: str) -> str:
        shown = self.scene.shown
        assert shown is not None
        unit = self._unit()
        found = next((p for p in shown.pieces if p.id == piece), None)
        fit = next((f for f in shown.fits if f.piece == piece), None)
        if found is None:
            return ""
        width, height = found.cut.region.size_mm
        rows = [f"{found.name or found.id}: {glance_size(width, height, unit)}"]
        if fit is not None:
            words = fit_words(fit, unit)
            rows.append(words if words else tr("the bit reaches all of it"))
        return ", ".join(rows)

    # --- changes --------------------------------------------------------------------------
    def bend(self, index: int, x_mm: float, y_mm: float) -> None:
        """Put a bend into a line; it can then be dragged."""
        lines = list(self.scene.lines)
        shown = self.scene.shown
        corner = 20.0
        if shown is not None:
            corner = max(20.0, 4 * shown.context.cutter.radius_mm)
        lines[index], number = shape.bent_at(lines[index], x_mm, y_mm, corner)
        self.scene.chosen, self.scene.chosen_handle = index, f"point {number}"
        self.owner.commit(self._text(tr("Bend {seam}"), index), tuple(lines))

    def remove(self) -> None:
        """Take out the chosen bend, else the whole chosen seam."""
        index = self.scene.chosen
        line = self.line
        if index is None or line is None:
            return
        lines = list(self.scene.lines)
        handle = self.scene.chosen_handle
        if handle.startswith("curve"):
            number = int(handle.split()[1])
            if shape.radius_of(line, number) is not None:
                lines[index] = shape.with_rise(line, number, 0.0)
                self.owner.commit(self._text(tr("Straighten {seam}"), index), tuple(lines))
                return
        if handle.startswith("point"):
            shorter = shape.without_point(line, int(handle.split()[1]))
            if shorter is not line:
                lines[index] = shorter
                self.scene.chosen_handle = "middle"
                self.owner.commit(self._text(tr("Straighten {seam}"), index), tuple(lines))
                return
        text = self._text(tr("Remove {seam}"), index)
        del lines[index]
        self.scene.chosen = None
        self.owner.commit(text, tuple(lines))

    def nudge(self, dx_mm: float, dy_mm: float) -> bool:
        """Move the chosen handle, or the whole seam."""
        index, line = self.scene.chosen, self.line
        if index is None or line is None:
            return False
        lines = list(self.scene.lines)
        handle = self.scene.chosen_handle
        if handle.startswith("point"):
            number = int(handle.split()[1])
            x, y = line.points[number]
            lines[index] = shape.with_point(line, number, x + dx_mm, y + dy_mm)
        elif handle.startswith("curve"):
            number = int(handle.split()[1])
            rise = shape.rise_of(line, number) + _sideways(line, number, dx_mm, dy_mm)
            lines[index] = shape.with_rise(line, number, rise)
        else:
            lines[index] = shape.moved_line(line, dx_mm, dy_mm)
        self.owner.commit(
            self._text(tr("Move {seam}"), index), tuple(lines), merge=f"seam {index} {handle}"
        )
        self.owner.told(self._line_words(lines[index]))
        return True

    def curve(self) -> bool:
        """Curve the stretch of the chosen handle, or make it straight again."""
        index, line = self.scene.chosen, self.line
        if index is None or line is None:
            return False
        handle = self.scene.chosen_handle
        number = 0
        if handle.startswith(("curve", "point")):
            number = min(int(handle.split()[1]), len(line.points) - 2)
        lines = list(self.scene.lines)
        if shape.radius_of(line, number) is None:
            rise = math.dist(line.points[number], line.points[number + 1]) / 10
            lines[index] = shape.with_rise(line, number, rise)
            text = self._text(tr("Curve {seam}"), index)
        else:
            lines[index] = shape.with_rise(line, number, 0.0)
            text = self._text(tr("Straighten {seam}"), index)
        self.scene.chosen_handle = f"curve {number}"
        self.owner.commit(text, tuple(lines))
        self.owner.told(self._line_words(lines[index]))
        return True

    def turn(self, by_deg: float) -> bool:
        """Turn the chosen seam about its middle."""
        index, line = self.scene.chosen, self.line
        if index is None or line is None:
            return False
        lines = list(self.scene.lines)
        lines[index] = shape.turned_line(line, by_deg)
        self.owner.commit(
            self._text(tr("Turn {seam}"), index), tuple(lines), merge=f"seam turn {index}"
        )
        return True

    def step_seam(self, way: int) -> bool:
        """Choose the next seam line, or the one before."""
        count = len(self.scene.lines)
        if not count:
            return False
        index = self.scene.chosen
        at = (0 if way > 0 else count - 1) if index is None else (index + way) % count
        self.choose(at, "middle")
        self.owner.told(f"{self._name(at)}: {self._line_words(self.scene.lines[at])}")
        return True

    def step_handle(self, way: int) -> bool:
        """Choose the next handle of the chosen seam."""
        line = self.line
        if line is None:
            return False
        roles = ["middle", *(f"point {i}" for i in range(len(line.points)))]
        roles += [f"curve {i}" for i in range(len(line.points) - 1)]
        now = self.scene.chosen_handle
        at = roles.index(now) if now in roles else 0
        self.choose(self.scene.chosen, roles[(at + way) % len(roles)])
        return True

    def key(self, event: QKeyEvent) -> bool:
        which, mods = event.key(), event.modifiers()
        nudge = arrow_nudge(event, float(self.preferences.get("nudge_mm")))
        if nudge is not None:
            return self.nudge(*nudge)
        if which == Qt.Key.Key_Period or which == Qt.Key.Key_Comma:
            return self.step_seam(1 if which == Qt.Key.Key_Period else -1)
        if which == Qt.Key.Key_BracketRight or which == Qt.Key.Key_BracketLeft:
            return self.step_handle(1 if which == Qt.Key.Key_BracketRight else -1)
        shift = bool(mods & Qt.KeyboardModifier.ShiftModifier)
        if which == Qt.Key.Key_R:
            step = float(self.preferences.get("turn_deg"))
            return self.turn(-step if shift else step)
        if mods & ~Qt.KeyboardModifier.KeypadModifier:
            return False
        if which == Qt.Key.Key_N:
            self.owner.new_seam()
            return True
        if which == Qt.Key.Key_B and self.scene.chosen is not None and self.line is not None:
            self.bend(self.scene.chosen, *shape.middle_of(self.line))
            return True
        if which == Qt.Key.Key_C and self.line is not None:
            return self.curve()
        if which in (Qt.Key.Key_Delete, Qt.Key.Key_Backspace):
            self.remove()
            return True
        if which == Qt.Key.Key_E:
            self._step_bed()
            return True
        if which == Qt.Key.Key_T and self.line is not None:
            self.owner.turn_over()
            return True
        return False

    def _step_bed(self) -> None:
        """Lay the bed over the next piece; after the last it is taken away."""
        shown = self.scene.shown
        if shown is None:
            return
        keys = ["", *(piece.id for piece in shown.pieces)]
        now = self.scene.envelope_piece
        at = keys.index(now) if now in keys else 0
        self.owner.lay_bed(keys[(at + 1) % len(keys)])


def _sideways(line: SeamLine, number: int, dx_mm: float, dy_mm: float) -> float:
    """How far a step of an arrow key goes to the left of a stretch.

    A step along the stretch counts by its own sign, so that every arrow key does something.
    """
    (x1, y1), (x2, y2) = line.points[number], line.points[number + 1]
    size = math.dist((x1, y1), (x2, y2)) or 1.0
    left = (-(y2 - y1) * dx_mm + (x2 - x1) * dy_mm) / size
    return left if abs(left) > 1e-9 else dx_mm + dy_mm
