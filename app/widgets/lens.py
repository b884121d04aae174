"""A joint's play to scale: both walls of an opening with the mate between them, magnified."""

from __future__ import annotations

from dataclasses import dataclass

from PySide6.QtCore import QPointF, QRectF, QSize, Qt
from PySide6.QtGui import QPainter, QPaintEvent, QPen
from PySide6.QtWidgets import QSizePolicy, QWidget

from app import theme
from app.canvas.lengths import play_text
from app.i18n import tr
from core.units import format_length

_SCALES = (400, 200, 100, 50, 25, 10)  # times life size, the largest that shows everything
_PART = 0.42  # of a half's width the walls may move over


@dataclass(frozen=True, slots=True)
class LensJoint:
    """What the lens shows, mm. play_mm: total play, half of it a side. low_mm, high_mm: how far
    the left and the right wall moved into the board since they were drawn, None where nothing
    was drawn before."""

    play_mm: float
    low_mm: float | None = None
    high_mm: float | None = None
    opening: str = ""
    mate: str = ""


class JointLens(QWidget):
    """The two sides of a joint, each in its own half, cut off in the middle by a break line."""

    def __init__(self, name: str) -> None:
        super().__init__()
        self.setAccessibleName(name)
        self._joint: LensJoint | None = None
        self._unit = "mm"
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)
        theme.watcher().changed.connect(self.update)

    def sizeHint(self) -> QSize:
        """Lines of text and a picture."""
        line = self.fontMetrics().height()
        return QSize(220, 84 + 3 * line)

    def minimumSizeHint(self) -> QSize:
        """As high as it wants to be."""
        return QSize(160, self.sizeHint().height())

    def show_joint(self, joint: LensJoint | None, unit: str) -> None:
        """Show a joint's play, None for nothing."""
        self._joint, self._unit = joint, unit
        self.setAccessibleDescription(self.text)
        self.setToolTip(self.text)
        self.setVisible(joint is not None)
        self.update()

    @property
    def text(self) -> str:
        """The play in words, as it stands below the picture."""
        if self._joint is None:
            return ""
        return play_text(self._joint.play_mm, self._unit)

    @property
    def times(self) -> int:
        """How many times life size it is drawn."""
        joint = self._joint
        if joint is None:
            return _SCALES[-1]
        widest = max(joint.play_mm / 2, abs(joint.low_mm or 0.0), abs(joint.high_mm or 0.0), 0.01)
        life = self.logicalDpiX() / 25.4
        room = self._half_px() * _PART
        return next((t for t in _SCALES if widest * t * life <= room), _SCALES[-1])

    def _half_px(self) -> float:
        return max(40.0, (self.width() - 24) / 2)

    def paintEvent(self, _event: QPaintEvent) -> None:
        """Board, gap, mate; drawn walls dashed; a scale of a tenth of a millimetre."""
        joint = self._joint
        if joint is None:
            return
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing, False)
        line = painter.fontMetrics().height()
        high = self.height() - 3 * line - 6
        half = self._half_px()
        scale = self.times * self.logicalDpiX() / 25.4
        painter.fillRect(QRectF(0, 0, self.width(), high), theme.color("paper"))
        for left in (True, False):
            self._side(painter, joint, left=left, half=half, high=high, scale=scale)
        painter.setPen(QPen(theme.color("muted"), 1, Qt.PenStyle.DotLine))
        middle = self.width() / 2
        painter.drawLine(QPointF(middle - 4, 0), QPointF(middle - 4, high))
        painter.drawLine(QPointF(middle + 4, 0), QPointF(middle + 4, high))
        bar = self._scale_bar(painter, scale, high)
        painter.setPen(theme.color("ink"))
        painter.drawText(
            QRectF(0, high + 4, self.width(), line), Qt.AlignmentFlag.AlignCenter, self.text
        )
        painter.setPen(theme.color("muted"))
        moved = joint.low_mm or joint.high_mm
        rows = [tr("{n} × life size, the bar is {length}").format(n=self.times, length=bar)]
        if moved:
            rows.append(tr("dashed: as drawn"))
        for number, row in enumerate(rows, start=1):
            painter.drawText(
                QRectF(0, high + 4 + number * line, self.width(), line),
                Qt.AlignmentFlag.AlignCenter,
                painter.fontMetrics().elidedText(
                    row, Qt.TextElideMode.ElideRight, max(20, self.width() - 4)
                ),
            )
        painter.end()

    def _side(
        self,
        painter: QPainter,
        joint: LensJoint,
        *,
        left: bool,
        half: float,
        high: float,
        scale: float,
    ) -> None:
        # The wall as cut stands in the middle of its half; board outside it, mate inside.
        x = half / 2 if left else self.width() - half / 2
        inward = 1.0 if left else -1.0
        edge = 0.0 if left else float(self.width())
        painter.fillRect(_band(edge, x, high), theme.color("board"))
        mate = x + inward * joint.play_mm / 2 * scale
        middle = self.width() / 2 + (-4 if left else 4)
        painter.fillRect(_band(mate, middle, high), theme.color("grain"))
        painter.setPen(QPen(theme.color("ink"), 2))
        painter.drawLine(QPointF(x, 0), QPointF(x, high))
        painter.drawLine(QPointF(mate, 0), QPointF(mate, high))
        moved = joint.low_mm if left else joint.high_mm
        if moved:
            # It moved into the board, away from the mate, by that much; negative: towards it.
            drawn = x + inward * moved * scale
            painter.setPen(QPen(theme.color("accent"), 2, Qt.PenStyle.DashLine))
            painter.drawLine(QPointF(drawn, 0), QPointF(drawn, high))

    def _scale_bar(self, painter: QPainter, scale: float, high: float) -> str:
        """A bar over the board at the left; what it stands for is said below the picture."""
        inches = self._unit in ("in", "ft", "thou")
        step = 0.0254 * 4 if inches else 0.1
        if scale * step < 8:
            step *= 10
        painter.setPen(QPen(theme.color("ink"), 2))
        y = high - 6
        painter.drawLine(QPointF(6, y), QPointF(6 + step * scale, y))
        return format_length(step, "thou" if inches else "mm")


def _band(one: float, two: float, high: float) -> QRectF:
    return QRectF(min(one, two), 0, abs(two - one), high)
