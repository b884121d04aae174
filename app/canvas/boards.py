"""A sheet and what becomes of it: board, blanks, saw cuts, offcuts, spots, clamps, reach."""

from __future__ import annotations

import math
import random
from collections.abc import Sequence

from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QPainter, QPainterPath
from PySide6.QtWidgets import QGraphicsItem, QStyleOptionGraphicsItem, QWidget

from app import theme
from app.canvas import as_lines, paths
from app.canvas.items import (
    PathItem,
    cosmetic,
)
from app.canvas.labels import LabelItem
from app.canvas.stacking import Z_BOARD, Z_MARKS, Z_OVERLAY, Z_SPOT
from core.geometry import Point


class BoardItem(QGraphicsItem):
    """A sheet of board with a hint of its grain along x."""

    def __init__(
        self,
        outline: QPainterPath,
        *,
        grained: bool = True,
        seed: int = 0,
        parent: QGraphicsItem | None = None,
    ) -> None:
        super().__init__(parent)
        self._outline = outline
        self._bounds = outline.boundingRect()
        self._grain = _grain_path(self._bounds, seed) if grained else QPainterPath()
        self.active = False
        self.setZValue(Z_BOARD)
        self.setAcceptedMouseButtons(Qt.MouseButton.NoButton)

    def boundingRect(self) -> QRectF:
        return self._bounds.adjusted(-6, -6, 6, 6)

    def set_active(self, active: bool) -> None:
        """Show that a dragged piece would come to lie here."""
        if active != self.active:
            self.active = active
            for strip in self._edge_strips():
                self.update(strip)

    def _edge_strips(self) -> list[QRectF]:
        """Where the outline runs, so that the pieces on the board need not be painted with it;
        all of it for an offcut, whose outline is anywhere."""
        box = self.boundingRect()
        if self._outline.elementCount() > 5:
            return [box]
        wide = 6.0 + 0.01 * max(box.width(), box.height())
        return [
            QRectF(box.left(), box.top(), box.width(), wide),
            QRectF(box.left(), box.bottom() - wide, box.width(), wide),
            QRectF(box.left(), box.top(), wide, box.height()),
            QRectF(box.right() - wide, box.top(), wide, box.height()),
        ]

    def recolor(self) -> None:
        """Colours are taken anew at every painting."""
        self.update()

    def paint(
        self, painter: QPainter, option: QStyleOptionGraphicsItem, widget: QWidget | None = None
    ) -> None:
        edge = theme.color("accent") if self.active else theme.color("control")
        painter.setPen(cosmetic(edge, 1.0))
        painter.setBrush(theme.color("board"))
        painter.drawPath(self._outline)
        if not self._grain.isEmpty():
            painter.save()
            grain = self._grain
            if as_lines.wanted():
                grain = as_lines.within(self._outline, grain)
            else:
                painter.setClipPath(self._outline)
            painter.setPen(cosmetic(theme.color("grain")))
            painter.setBrush(Qt.BrushStyle.NoBrush)
            painter.drawPath(grain)
            painter.restore()


def _grain_path(bounds: QRectF, seed: int) -> QPainterPath:
    """Long, slightly wandering lines along x; the same board always has the same."""
    rng = random.Random(seed)
    path = QPainterPath()
    lines = max(6, min(46, round(bounds.height() / 28)))
    pitch = bounds.height() / lines
    for i in range(lines):
        y = bounds.top() + (i + rng.uniform(0.2, 0.8)) * pitch
        phase, deep = rng.uniform(0, math.tau), rng.uniform(0.05, 0.3) * pitch
        start = bounds.left() + rng.uniform(0, 0.25) * bounds.width()
        end = bounds.right() - rng.uniform(0, 0.25) * bounds.width()
        points = []
        for k in range(13):
            x = start + (end - start) * k / 12
            points.append((x, y + deep * math.sin(phase + k * 0.7)))
        path.addPath(paths.line_path(points))
    return path


class SawCutItem(QGraphicsItem):
    """A saw cut across a sheet, with its number in the order of cutting.

    share: where along the cut the number stands, 0–1.
    """

    def __init__(
        self,
        order: int,
        start: Point,
        end: Point,
        parent: QGraphicsItem | None = None,
        *,
        share: float = 0.06,
    ) -> None:
        super().__init__(parent)
        self._start, self._end = QPointF(*start), QPointF(*end)
        self.order = order
        self.setZValue(Z_MARKS)
        self.setAcceptedMouseButtons(Qt.MouseButton.NoButton)
        at = (
            start[0] + (end[0] - start[0]) * share,
            start[1] + (end[1] - start[1]) * share,
        )
        long = math.hypot(end[0] - start[0], end[1] - start[1])
        self._label = LabelItem(
            str(order), at, meaning="saw-cut", plate=True, room_mm=(long, long), parent=self
        )

    def boundingRect(self) -> QRectF:
        return QRectF(self._start, self._end).normalized().adjusted(-4, -4, 4, 4)

    def recolor(self) -> None:
        """Colours are taken anew at every painting."""
        self.update()

    def paint(
        self, painter: QPainter, option: QStyleOptionGraphicsItem, widget: QWidget | None = None
    ) -> None:
        pen = cosmetic(theme.color("saw-cut"), 1.0)
        pen.setDashPattern([6, 3, 1, 3])
        painter.setPen(pen)
        painter.drawLine(self._start, self._end)


def blank_items(
    letter: str, x: float, y: float, width: float, height: float, parent: QGraphicsItem
) -> list[QGraphicsItem]:
    """The outline of a blank and its letter in the upper left corner."""
    path = QPainterPath()
    path.addRect(QRectF(x, y, width, height))
    outline = PathItem(path, line="saw-cut", z=Z_SPOT + 1, parent=parent)
    label = LabelItem(
        letter,
        (x + width * 0.012, y + height * 0.985),
        meaning="saw-cut",
        plate=True,
        bold=True,
        room_mm=(width, height),
        align=Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignTop,
        parent=parent,
    )
    return [outline, label]


_LETTER_PX = 24.0  # room for a blank's letter in the corner of what is left of it


def offcut_items(
    points: Sequence[Point], keep: bool, text: str, parent: QGraphicsItem
) -> list[QGraphicsItem]:
    """An offcut that is kept (hatched, with its size) or scrap (sparse hatch)."""
    path = QPainterPath()
    path.addPolygon(paths.polygon_of(points))
    path.closeSubpath()
    item = PathItem(
        path,
        line="offcut" if keep else None,
        style=Qt.PenStyle.DashLine,
        hatch_kind="hatch" if keep else "scrap",
        hatch_color="offcut" if keep else "grain",
        z=Z_SPOT,
        parent=parent,
    )
    made: list[QGraphicsItem] = [item]
    if keep and text:
        box = path.boundingRect()
        centre = box.center()
        made.append(
            LabelItem(
                text,
                (centre.x(), centre.y()),
                meaning="ink",
                plate=True,
                room_mm=(box.width(), box.height()),
                clear_px=2 * _LETTER_PX,
                parent=parent,
            )
        )
    return made


def defect_item(points: Sequence[Point], note: str, parent: QGraphicsItem) -> PathItem:
    """A spot that must not be used: cross-hatched with a red line."""
    path = QPainterPath()
    path.addPolygon(paths.polygon_of(points))
    path.closeSubpath()
    item = PathItem(
        path, line="defect", hatch_kind="cross-hatch", hatch_color="defect", z=Z_SPOT, parent=parent
    )
    item.setToolTip(note)
    return item


def clamp_item(
    x: float, y: float, width: float, height: float, name: str, parent: QGraphicsItem | None
) -> PathItem:
    """A clamp zone of the bed."""
    path = QPainterPath()
    path.addRect(QRectF(x, y, width, height))
    item = PathItem(
        path, line="clamp", hatch_kind="back", hatch_color="clamp", z=Z_MARKS, parent=parent
    )
    if name:
        LabelItem(
            name,
            (x + width / 2, y + height / 2),
            meaning="clamp",
            room_mm=(width, height),
            parent=item,
        )
    return item


class EnvelopeItem(QGraphicsItem):
    """The reach of the bit as a clear sheet that can be laid over a piece.

    Origin at its lower left corner; ``ok`` colours its edge.
    """

    def __init__(self, width: float, height: float, text: str) -> None:
        super().__init__()
        self._rect = QRectF(0, 0, width, height)
        self.ok = True
        self.setZValue(Z_OVERLAY - 2)
        self.setAcceptedMouseButtons(Qt.MouseButton.NoButton)
        self._label = LabelItem(
            text,
            (width / 2, height),
            plate=True,
            align=Qt.AlignmentFlag.AlignBottom | Qt.AlignmentFlag.AlignHCenter,
            parent=self,
        )

    @property
    def rect(self) -> QRectF:
        """Its rectangle in its own coordinates."""
        return self._rect

    def set_size(self, width: float, height: float, text: str) -> None:
        """Another reach."""
        self.prepareGeometryChange()
        self._rect = QRectF(0, 0, width, height)
        self._label.set_text(text)
        self._label.setPos(width / 2, height)

    def settle_label(self, within: QRectF) -> None:
        """Put the label above the sheet as it lies now, and towards the middle of what it lies
        on: at that one's edge a long text would run out of sight."""
        lies = self.mapRectToScene(self._rect)
        side = lies.center().x() - within.center().x()
        x, across = lies.center().x(), Qt.AlignmentFlag.AlignHCenter
        if abs(side) > lies.width() / 4:
            x = lies.left() if side < 0 else lies.right()
            across = Qt.AlignmentFlag.AlignLeft if side < 0 else Qt.AlignmentFlag.AlignRight
        self._label.setPos(self.mapFromScene(QPointF(x, lies.bottom())))
        self._label.set_align(Qt.AlignmentFlag.AlignBottom | across)

    def set_ok(self, ok: bool) -> None:
        """Whether what lies under it is within reach."""
        if ok != self.ok:
            self.ok = ok
            self.update()

    def recolor(self) -> None:
        """Colours are taken anew at every painting."""
        self.update()

    def boundingRect(self) -> QRectF:
        return self._rect.adjusted(-6, -6, 6, 6)

    def paint(
        self, painter: QPainter, option: QStyleOptionGraphicsItem, widget: QWidget | None = None
    ) -> None:
        edge = theme.color("good" if self.ok else "stop")
        wash = QColor(edge)
        wash.setAlpha(26)
        painter.setPen(cosmetic(edge, 1.0, Qt.PenStyle.DashLine))
        painter.setBrush(wash)
        painter.drawRect(self._rect)
