"""The pad a tooth is drawn on: handles to drag, both mates as the bit would leave them."""

from __future__ import annotations

import math

from PySide6.QtCore import QPointF, QRectF, QSize, Qt, Signal
from PySide6.QtGui import QKeyEvent, QMouseEvent, QPainter, QPainterPath, QPaintEvent, QPen
from PySide6.QtWidgets import QSizePolicy, QWidget

from app import theme
from app.canvas import items
from app.canvas.handler import arrow_way
from app.canvas.lengths import short_length
from app.i18n import tr
from app.stages import joints_tooth_model as model
from app.stages.joints_tooth_model import Rows
from core.errors import SeamwrightError
from core.geometry.path import Path, flatten_path
from core.joints.drawn import row_of_teeth
from core.joints.style import JointContext

_GRID_MM = 0.5
_REACH_PX = 11.0
_HANDLE_PX = 5.0


class ToothPad(QWidget):
    """Shows and edits one tooth. Role of a handle: "point 2" or "edge 1".

    changed(rows): after every step of the hand. stepped(): a step is over, undo may keep it.
    """

    changed = Signal(object)
    stepped = Signal()
    told = Signal(str)

    def __init__(self, context: JointContext, unit: str, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.context, self.unit = context, unit
        self.rows: Rows = model.BEGINNING
        self.rounded = False
        self.alike = True
        self.chosen = ""
        self._hot = ""
        self._drag = ""
        self._frame = QRectF()
        self._mates: tuple[QPainterPath, QPainterPath] | None = None
        self.setMinimumSize(360, 280)
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Expanding)
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setMouseTracking(True)
        self.setAccessibleName(tr("The tooth, with handles"))
        theme.watcher().changed.connect(self.update)

    def sizeHint(self) -> QSize:
        return QSize(560, 420)

    def show_rows(self, rows: Rows, *, rounded: bool) -> None:
        """Take over a tooth."""
        self.rows, self.rounded = rows, rounded
        if self.chosen not in self.handles():
            self.chosen = ""
        self._work_out()

    # --- geometry -------------------------------------------------------------------------
    def handles(self) -> dict[str, tuple[float, float]]:
        """Role → place in mm: every point but the first, and the middle of every edge."""
        found = {f"point {k}": row[:2] for k, row in enumerate(self.rows) if k}
        for k in range(len(self.rows) - 1):
            found[f"edge {k}"] = model.middle_of(self.rows, k)
        return found

    def _work_out(self) -> None:
        """Both mates along three teeth, as they would be cut; None while it is no tooth."""
        drawing = model.drawing_of("tooth", self.rows, rounded=self.rounded)
        try:
            profile = row_of_teeth(drawing, self.context)
        except (SeamwrightError, ValueError, ZeroDivisionError):
            self._mates = None
        else:
            self._mates = (_side(profile.left_cut, 1.0), _side(profile.right_cut, -1.0))
        if not self._drag:
            self._fit()
        self.update()

    def _fit(self) -> None:
        points = flatten_path(self.rows, 0.1)
        x1, y1 = points.min(axis=0)
        x2, y2 = points.max(axis=0)
        room = max(6.0, 0.25 * max(x2 - x1, y2 - y1))
        self._frame = QRectF(x1 - room, min(y1, 0.0) - room, x2 - x1 + 2 * room, 1.0)
        self._frame.setHeight(max(y2, 0.0) - min(y1, 0.0) + 2 * room)

    def _scale(self) -> float:
        return min(self.width() / self._frame.width(), self.height() / self._frame.height())

    def to_px(self, x_mm: float, y_mm: float) -> QPointF:
        """Where a point of the tooth lies on the pad."""
        middle, scale = self._frame.center(), self._scale()
        return QPointF(
            self.width() / 2 + (x_mm - middle.x()) * scale,
            self.height() / 2 - (y_mm - middle.y()) * scale,
        )

    def to_mm(self, px: QPointF) -> tuple[float, float]:
        """The point of the tooth at a place of the pad."""
        middle, scale = self._frame.center(), self._scale()
        return (
            middle.x() + (px.x() - self.width() / 2) / scale,
            middle.y() - (px.y() - self.height() / 2) / scale,
        )

    def handle_at(self, px: QPointF) -> str:
        """The handle under a place of the pad, "" if there is none; points before edges."""
        best, role = _REACH_PX, ""
        for name, place in self.handles().items():
            at = self.to_px(*place)
            away = math.hypot(at.x() - px.x(), at.y() - px.y())
            if name.startswith("edge"):
                away += 2.0
            if away < best:
                best, role = away, name
        return role

    # --- mouse ----------------------------------------------------------------------------
    def mousePressEvent(self, event: QMouseEvent) -> None:
        if event.button() != Qt.MouseButton.LeftButton:
            return
        self.chosen = self._drag = self.handle_at(event.position())
        self._tell()
        self.update()

    def mouseMoveEvent(self, event: QMouseEvent) -> None:
        if not self._drag:
            hot = self.handle_at(event.position())
            if hot != self._hot:
                self._hot = hot
                self.setCursor(Qt.CursorShape.SizeAllCursor if hot else Qt.CursorShape.ArrowCursor)
                self.update()
            return
        x, y = self.to_mm(event.position())
        free = bool(event.modifiers() & Qt.KeyboardModifier.AltModifier)
        kind, number = self._drag.split()
        if kind == "point":
            if not free:
                x, y = round(x / _GRID_MM) * _GRID_MM, round(y / _GRID_MM) * _GRID_MM
            self._set(model.with_point(self.rows, int(number), x, y, alike=self.alike))
        else:
            bulge = model.bulge_through(self.rows, int(number), x, y)
            self._set(model.with_bulge(self.rows, int(number), bulge, alike=self.alike))
        self._tell()

    def mouseReleaseEvent(self, event: QMouseEvent) -> None:
        if self._drag:
            self._drag = ""
            self._fit()
            self.update()
            self.stepped.emit()

    def mouseDoubleClickEvent(self, event: QMouseEvent) -> None:
        role = self.handle_at(event.position())
        if role.startswith("edge"):
            self.chosen = role
            self.part()
        elif role:
            self.chosen = role
            self.remove()

    # --- changes --------------------------------------------------------------------------
    def _set(self, rows: Rows) -> None:
        if rows == self.rows:
            return
        self.rows = rows
        self._work_out()
        self.changed.emit(rows)

    def part(self) -> None:
        """Put a point into the middle of the chosen edge."""
        if not self.chosen.startswith("edge"):
            return
        rows, at = model.with_new_point(self.rows, int(self.chosen.split()[1]), alike=self.alike)
        self.chosen = f"point {at}"
        self._set(rows)
        self.stepped.emit()

    def remove(self) -> None:
        """Take out the chosen point, or make the chosen edge straight."""
        if not self.chosen:
            return
        kind, number = self.chosen.split()
        if kind == "point":
            rows = model.without_point(self.rows, int(number), alike=self.alike)
            if rows is not self.rows:
                self.chosen = ""
        else:
            rows = model.with_bulge(self.rows, int(number), 0.0, alike=self.alike)
        self._set(rows)
        self.stepped.emit()

    def nudge(self, dx_mm: float, dy_mm: float) -> None:
        """Move the chosen point, or make the chosen edge rounder or flatter."""
        if not self.chosen:
            return
        kind, number = self.chosen.split()
        k = int(number)
        if kind == "point":
            x, y, _ = self.rows[k]
            self._set(model.with_point(self.rows, k, x + dx_mm, y + dy_mm, alike=self.alike))
        else:
            (x1, y1, bulge), (x2, y2, _) = self.rows[k], self.rows[k + 1]
            chord = max(math.hypot(x2 - x1, y2 - y1), 1e-6)
            more = bulge + 2 * (dx_mm - dy_mm) / chord
            more = 0.0 if abs(more) < 1e-9 else max(-model.STEEPEST, min(model.STEEPEST, more))
            self._set(model.with_bulge(self.rows, k, more, alike=self.alike))
        self._tell()
        self.stepped.emit()

    def step_handle(self, way: int) -> None:
        """Choose the next handle along the tooth, or the one before."""
        roles = []
        for k in range(len(self.rows) - 1):
            roles += [f"edge {k}", f"point {k + 1}"]
        at = roles.index(self.chosen) + way if self.chosen in roles else (0 if way > 0 else -1)
        self.chosen = roles[at % len(roles)]
        self._tell()
        self.update()

    def keyPressEvent(self, event: QKeyEvent) -> None:
        key, mods = event.key(), event.modifiers()
        step = 1.0
        if mods & Qt.KeyboardModifier.ShiftModifier:
            step = 5.0
        elif mods & Qt.KeyboardModifier.ControlModifier:
            step = 0.1
        way = arrow_way(event)
        if way is not None:
            self.nudge(way[0] * step, way[1] * step)
        elif key in (Qt.Key.Key_BracketRight, Qt.Key.Key_Period):
            self.step_handle(1)
        elif key in (Qt.Key.Key_BracketLeft, Qt.Key.Key_Comma):
            self.step_handle(-1)
        elif key in (Qt.Key.Key_Insert, Qt.Key.Key_B):
            self.part()
        elif key in (Qt.Key.Key_Delete, Qt.Key.Key_Backspace):
            self.remove()
        elif key == Qt.Key.Key_Escape and self.chosen:
            self.chosen = ""
            self.update()
        else:
            super().keyPressEvent(event)

    def _tell(self) -> None:
        if not self.chosen:
            self.told.emit("")
            return
        kind, number = self.chosen.split()
        k = int(number)
        if kind == "point":
            x, y, _ = self.rows[k]
            self.told.emit(
                tr("x {x}, y {y}").format(
                    x=short_length(x, self.unit), y=short_length(y, self.unit)
                )
            )
            return
        (x1, y1, bulge), (x2, y2, _) = self.rows[k], self.rows[k + 1]
        chord = math.hypot(x2 - x1, y2 - y1)
        if not bulge:
            self.told.emit(
                tr("straight, {length} long").format(length=short_length(chord, self.unit))
            )
            return
        radius = chord * (1 + bulge * bulge) / (4 * abs(bulge))
        self.told.emit(tr("arc of radius {r}").format(r=short_length(radius, self.unit)))

    # --- drawing --------------------------------------------------------------------------
    def paintEvent(self, event: QPaintEvent) -> None:
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing, True)
        painter.fillRect(self.rect(), theme.color("desk"))
        painter.save()
        origin, scale = self.to_px(0.0, 0.0), self._scale()
        painter.translate(origin)
        painter.scale(scale, -scale)
        if self._mates is not None:
            painter.setPen(items.cosmetic(theme.color("ink")))
            for number, mate in enumerate(self._mates):
                painter.setBrush(theme.tint(number))
                painter.drawPath(mate)
        painter.setBrush(Qt.BrushStyle.NoBrush)
        painter.setPen(items.cosmetic(theme.color("hairline")))
        painter.drawLine(QPointF(-1e4, 0.0), QPointF(1e4, 0.0))
        wrong = self._mates is None
        painter.setPen(items.cosmetic(theme.color("stop" if wrong else "seam"), 2.0))
        points = [QPointF(x, y) for x, y in flatten_path(self.rows, 0.1 / max(scale, 0.1))]
        painter.drawPolyline(points)
        painter.restore()
        for role, place in self.handles().items():
            self._draw_handle(painter, role, self.to_px(*place))
        bit = self.context.cutter.radius_mm * scale
        painter.setPen(QPen(theme.color("muted"), 1))
        painter.setBrush(Qt.BrushStyle.NoBrush)
        spot = QPointF(bit + 10, self.height() - bit - 10)
        painter.drawEllipse(spot, bit, bit)
        painter.drawText(
            QPointF(2 * bit + 18, self.height() - 12),
            tr("the bit, {d}").format(d=short_length(self.context.cutter.diameter_mm, self.unit)),
        )
        if self.hasFocus():
            painter.setPen(QPen(theme.color("accent"), 2))
            painter.drawRect(self.rect().adjusted(1, 1, -1, -1))
        painter.end()

    def _draw_handle(self, painter: QPainter, role: str, at: QPointF) -> None:
        chosen = role == self.chosen
        size = _HANDLE_PX + (1.5 if role in (self._hot, self.chosen) else 0.0)
        painter.setPen(QPen(theme.color("accent"), 2))
        painter.setBrush(theme.color("accent" if chosen else "paper"))
        if role.startswith("point"):
            painter.drawEllipse(at, size, size)
            return
        diamond = QPainterPath(at + QPointF(0, -size))
        for corner in ((size, 0), (0, size), (-size, 0)):
            diamond.lineTo(at + QPointF(*corner))
        diamond.closeSubpath()
        painter.drawPath(diamond)


def _side(path: Path, way: float) -> QPainterPath:
    """What a mate keeps: all beyond its edge, upwards (way 1) or downwards (−1)."""
    rows = flatten_path(path, 0.02)
    far = way * (float(abs(rows).max()) + 1000.0)
    shape = QPainterPath(QPointF(float(rows[0][0]), far))
    for x, y in rows:
        shape.lineTo(float(x), float(y))
    shape.lineTo(float(rows[-1][0]), far)
    shape.closeSubpath()
    return shape
