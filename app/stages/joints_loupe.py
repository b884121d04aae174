"""A loupe that follows the pointer along a seam: ten times life size, with the gap in numbers."""

from __future__ import annotations

from PySide6.QtCore import QPoint, QPointF, QRect, QRectF, Qt
from PySide6.QtGui import QPainter, QPainterPath, QPaintEvent, QPen
from PySide6.QtWidgets import QWidget

from app import theme
from app.canvas import items
from app.canvas.lengths import play_text
from app.canvas.view import Canvas
from app.i18n import tr
from app.stages.joints_model import Gap
from app.stages.joints_scene import SeamScene

SIZE = 190
TIMES = 10.0
_WORDS = int(Qt.AlignmentFlag.AlignCenter | Qt.TextFlag.TextWordWrap)


class Loupe(QWidget):
    """Draws the pieces near a point, as the bit leaves them."""

    def __init__(self, canvas: Canvas, scene: SeamScene) -> None:
        super().__init__(canvas.view)
        self._canvas = canvas
        self._scene = scene
        self._at = QPointF()
        self._gap: Gap | None = None
        self._unit = "mm"
        self.setAttribute(Qt.WidgetAttribute.WA_TransparentForMouseEvents)
        self._fit_words()
        self.hide()
        canvas.viewed.connect(self._keep_inside)

    @property
    def px_per_mm(self) -> float:
        """Ten times life size; nearer still where the drawing itself is."""
        life = self.logicalDpiX() / 25.4
        return max(TIMES * life, 2.0 * self._canvas.px_per_mm)

    @property
    def text(self) -> str:
        """The gap in numbers."""
        if self._gap is None:
            return ""
        side = self._gap.across_mm
        if side < 1e-4:
            return tr("no gap: shoulders meet")
        # What is seen is one side of a tooth; across the joint lies as much again.
        return play_text(2 * side, self._unit)

    @property
    def plate(self) -> QRectF:
        """Where the words stand, below the glass: as high as they need at this width."""
        return QRectF(0, SIZE + 2, SIZE, self.height() - SIZE - 2)

    def _fit_words(self) -> None:
        room = QRect(0, 0, SIZE - 8, 1000)
        words = self.fontMetrics().boundingRect(room, _WORDS, self.text or "0")
        self.setFixedSize(SIZE, SIZE + words.height() + 8)

    @property
    def _in_inches(self) -> bool:
        return self._unit in ("in", "ft", "thou")

    def look(self, px: QPoint, x_mm: float, y_mm: float, gap: Gap | None, unit: str) -> None:
        """Show the surroundings of a point of the panel beside the pointer."""
        self._at, self._gap, self._unit = QPointF(x_mm, y_mm), gap, unit
        self._fit_words()
        room = self._canvas.view.viewport().size()
        x = px.x() + 26 if px.x() + 26 + self.width() < room.width() else px.x() - 26 - self.width()
        y = px.y() - 26 - self.height()
        if y < 4:
            y = px.y() + 26
        self.move(max(2, x), y)
        self._keep_inside()
        self.show()
        self.update()

    def _keep_inside(self) -> None:
        """The words below the glass are seen too, also when the drawing has become lower."""
        lowest = self._canvas.view.viewport().height() - self.height() - 2
        self.move(self.x(), max(2, min(self.y(), lowest)))

    def paintEvent(self, event: QPaintEvent) -> None:
        """Pieces, their gap, a cross at the pointer and a scale of one millimetre."""
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing, True)
        frame = QPainterPath()
        glass = QRectF(1, 1, SIZE - 2, SIZE - 2)
        frame.addRoundedRect(glass, 8, 8)
        painter.save()
        painter.setClipPath(frame)
        painter.fillRect(glass, theme.color("desk"))
        scale = self.px_per_mm
        painter.translate(SIZE / 2, SIZE / 2)
        painter.scale(scale, -scale)
        painter.translate(-self._at.x(), -self._at.y())
        half = SIZE / scale
        window = QRectF(self._at.x() - half, self._at.y() - half, 2 * half, 2 * half)
        for item in self._scene.pieces.values():
            path = item.path().translated(item.pos())
            if not path.controlPointRect().intersects(window):
                continue
            painter.setPen(items.cosmetic(theme.color("ink"), 1.2))
            painter.setBrush(item.brush())
            painter.drawPath(path)
        painter.restore()
        painter.setBrush(Qt.BrushStyle.NoBrush)
        painter.setPen(QPen(theme.color("accent"), 1))
        middle = QPointF(SIZE / 2, SIZE / 2)
        for dx, dy in ((7, 0), (-7, 0), (0, 7), (0, -7)):
            painter.drawLine(middle + QPointF(dx * 0.4, dy * 0.4), middle + QPointF(dx, dy))
        painter.setPen(QPen(theme.color("control"), 1.5))
        painter.drawPath(frame)
        one = 25.4 / 32 if self._in_inches else 1.0
        painter.setPen(QPen(theme.color("ink"), 2))
        start = QPointF(12, SIZE - 12)
        painter.drawLine(start, start + QPointF(one * scale, 0))
        label = tr("1/32 in") if self._in_inches else tr("1 mm")
        painter.drawText(start + QPointF(one * scale + 6, 4), label)
        text = self.text
        if text:
            plate = self.plate
            painter.setPen(Qt.PenStyle.NoPen)
            painter.setBrush(theme.color("paper"))
            painter.drawRoundedRect(plate, 4, 4)
            painter.setPen(theme.color("ink"))
            painter.drawText(plate.adjusted(4, 0, -4, 0), _WORDS, text)
        painter.end()
