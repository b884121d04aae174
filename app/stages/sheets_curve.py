"""A small curve of the yield against time while a search is on."""

from __future__ import annotations

from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QPainter, QPaintEvent, QPen, QPolygonF
from PySide6.QtWidgets import QWidget

from app import theme
from app.i18n import tr


class YieldCurve(QWidget):
    """The yield of the best layout so far. Time runs to the right and grows with the search.

    It need not rise only: a layout with more pieces on it is better, though on more sheets.
    """

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setMinimumHeight(64)
        self.setAccessibleName(tr("Yield against time"))
        self._points: list[tuple[float, float]] = []
        self._end_s = 1.0
        self.setToolTip(
            tr(
                "How much of the sheets in use becomes pieces, against the time spent. It falls "
                "where pieces that had no place yet get a further sheet."
            )
        )

    def clear(self) -> None:
        """Begin anew."""
        self._points = []
        self._end_s = 1.0
        self.update()

    @property
    def points(self) -> tuple[tuple[float, float], ...]:
        """(seconds, share 0–1) of every improvement."""
        return tuple(self._points)

    def add(self, seconds: float, share: float) -> None:
        """A better layout was found."""
        self._points.append((seconds, share))
        self.at(seconds)
        self.setAccessibleDescription(
            tr("{share} % after {seconds} s").format(share=round(share * 100), seconds=int(seconds))
        )

    def at(self, seconds: float) -> None:
        """Time goes on."""
        self._end_s = max(self._end_s, seconds)
        self.update()

    def paintEvent(self, event: QPaintEvent) -> None:
        """The curve, its highest value and the time spent."""
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing, True)
        metrics = painter.fontMetrics()
        area = QRectF(self.rect()).adjusted(0.5, metrics.height() + 2, -0.5, -0.5)
        painter.setPen(QPen(theme.color("hairline"), 1))
        painter.setBrush(theme.color("paper"))
        painter.drawRoundedRect(area, 3, 3)
        if not self._points:
            painter.end()
            return
        low = min(s for _, s in self._points)
        high = max(s for _, s in self._points)
        span = max(high - low, 0.02)

        def at(seconds: float, share: float) -> QPointF:
            return QPointF(
                area.left() + 4 + (area.width() - 8) * seconds / self._end_s,
                area.bottom() - 6 - (area.height() - 12) * (share - low) / span,
            )

        line = QPolygonF()
        last = self._points[0][1]
        line.append(at(0.0, last))
        for seconds, share in self._points:
            line.append(at(seconds, last))
            line.append(at(seconds, share))
            last = share
        line.append(at(self._end_s, last))
        painter.setPen(QPen(theme.color("accent"), 1.5))
        painter.setBrush(Qt.BrushStyle.NoBrush)
        painter.drawPolyline(line)
        painter.setPen(theme.color("ink"))
        painter.drawText(
            QPointF(0, metrics.ascent()), tr("{share} % used").format(share=round(last * 100))
        )
        painter.setPen(theme.color("muted"))
        text = tr("{seconds} s").format(seconds=round(self._end_s))
        painter.drawText(
            QPointF(self.width() - metrics.horizontalAdvance(text), metrics.ascent()), text
        )
        painter.end()
