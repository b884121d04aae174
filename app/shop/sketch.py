"""Small drawings in the shop: the bed with its clamps, a sheet with its bad spots."""

from __future__ import annotations

from collections.abc import Sequence

from PySide6.QtCore import QPointF, QRectF, QSize, Qt, Signal
from PySide6.QtGui import QBrush, QMouseEvent, QPainter, QPaintEvent, QPen, QPolygonF
from PySide6.QtWidgets import QSizePolicy, QWidget

from app import theme
from app.i18n import tr
from core.geometry import Point

_MARGIN = 8.0


class Sketch(QWidget):
    """A rectangle to scale, y up, with polygons on it; dragging marks another rectangle.

    marked(x_mm, y_mm, width_mm, height_mm): a rectangle was dragged, clipped to the whole.
    """

    marked = Signal(float, float, float, float)

    def __init__(self, name: str, *, may_mark: bool = True) -> None:
        super().__init__()
        self.setAccessibleName(name)
        self._size = (1000.0, 600.0)
        self._outline: tuple[Point, ...] = ()
        self._inner: tuple[float, float] | None = None
        self._table: tuple[float, float] | None = None
        self._spots: tuple[tuple[Point, ...], ...] = ()
        self._meaning = "defect"
        self._base = "board"
        self._drag: tuple[QPointF, QPointF] | None = None
        self._may_mark = may_mark
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)
        if may_mark:
            self.setCursor(Qt.CursorShape.CrossCursor)
            self.setToolTip(tr("Drag to mark a spot"))
        theme.watcher().changed.connect(self.update)

    def show_sheet(
        self,
        size_mm: tuple[float, float],
        spots: Sequence[Sequence[Point]],
        *,
        outline: tuple[Point, ...] = (),
    ) -> None:
        """A sheet or offcut with bad spots."""
        self._size, self._outline, self._inner = size_mm, outline, None
        self._table = None
        self._spots = tuple(tuple(spot) for spot in spots)
        self._meaning, self._base = "defect", "board"
        self._resized()

    def show_bed(
        self,
        table_mm: tuple[float, float],
        travel_mm: tuple[float, float],
        zones: Sequence[Sequence[Point]],
    ) -> None:
        """A table with the travel on it and clamp zones."""
        self._size = (max(table_mm[0], travel_mm[0]), max(table_mm[1], travel_mm[1]))
        self._outline, self._inner, self._table = (), travel_mm, table_mm
        self._spots = tuple(tuple(zone) for zone in zones)
        self._meaning, self._base = "clamp", "paper"
        self._resized()

    def _resized(self) -> None:
        self.updateGeometry()
        self.setFixedHeight(self.sizeHint().height())
        self.update()

    def sizeHint(self) -> QSize:
        """As high as the scale asks for, within reason."""
        width = max(self.width(), 160)
        w, h = self._size
        return QSize(width, round(min(180.0, max(48.0, (width - 16) * h / max(w, 1.0) + 16))))

    def _scale(self) -> float:
        w, h = self._size
        return min((self.width() - 2 * _MARGIN) / w, (self.height() - 2 * _MARGIN) / h)

    def to_px(self, x_mm: float, y_mm: float) -> QPointF:
        """From mm, y up, to the widget."""
        scale = self._scale()
        return QPointF(_MARGIN + x_mm * scale, _MARGIN + (self._size[1] - y_mm) * scale)

    def _to_mm(self, place: QPointF) -> Point:
        scale = self._scale()
        x = (place.x() - _MARGIN) / scale
        y = self._size[1] - (place.y() - _MARGIN) / scale
        return min(max(x, 0.0), self._size[0]), min(max(y, 0.0), self._size[1])

    def paintEvent(self, _event: QPaintEvent) -> None:
        """Whole, inner rectangle, spots in hatch."""
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        painter.setPen(QPen(theme.color("ink"), 1))
        painter.setBrush(theme.color(self._base))
        if self._outline:
            painter.drawPolygon(self._polygon(self._outline))
        else:
            painter.drawRect(self._rect(0, 0, *(self._table or self._size)))
        if self._inner is not None:
            painter.setBrush(Qt.BrushStyle.NoBrush)
            painter.setPen(QPen(theme.color("accent"), 1.2, Qt.PenStyle.DashLine))
            painter.drawRect(self._rect(0, 0, *self._inner))
        color = theme.color(self._meaning)
        painter.setPen(QPen(color, 1.2))
        painter.setBrush(QBrush(color, Qt.BrushStyle.BDiagPattern))
        for spot in self._spots:
            painter.drawPolygon(self._polygon(spot))
        if self._drag is not None:
            painter.drawRect(QRectF(*self._drag).normalized())

    def _rect(self, x: float, y: float, w: float, h: float) -> QRectF:
        return QRectF(self.to_px(x, y + h), self.to_px(x + w, y))

    def _polygon(self, points: Sequence[Point]) -> QPolygonF:
        return QPolygonF([self.to_px(x, y) for x, y in points])

    def resizeEvent(self, event: object) -> None:
        """The height follows the width."""
        self.setFixedHeight(self.sizeHint().height())

    # --- marking --------------------------------------------------------------------------
    def mousePressEvent(self, event: QMouseEvent) -> None:
        """A spot begins."""
        if self._may_mark and event.button() == Qt.MouseButton.LeftButton:
            self._drag = (event.position(), event.position())
            self.update()

    def mouseMoveEvent(self, event: QMouseEvent) -> None:
        """The spot grows."""
        if self._drag is not None:
            self._drag = (self._drag[0], event.position())
            self.update()

    def mouseReleaseEvent(self, event: QMouseEvent) -> None:
        """The spot is there, unless it is but a click."""
        if self._drag is None:
            return
        (x1, y1), (x2, y2) = self._to_mm(self._drag[0]), self._to_mm(event.position())
        self._drag = None
        self.update()
        x, y, w, h = min(x1, x2), min(y1, y2), abs(x2 - x1), abs(y2 - y1)
        if w * self._scale() >= 3 and h * self._scale() >= 3:
            self.marked.emit(round(x, 1), round(y, 1), round(w, 1), round(h, 1))
