"""Rulers along the top and left of a canvas, in the project's unit."""

from __future__ import annotations

import math

from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QFontMetrics, QPainter, QPaintEvent, QPen
from PySide6.QtWidgets import QApplication, QSizePolicy, QWidget

from app import theme
from app.i18n import tr
from core.units import UNITS, format_length

# A labelled tick at least this far from the next, in pixels.
_LABEL_PX = 62.0
_LABEL_OFF_PX = 3.0  # from a tick to its number


def tick_step_mm(px_per_mm: float, unit: str) -> tuple[float, int]:
    """(distance of labelled ticks in mm, small parts between two).

    Decimal units step by 1, 2, 5; inches by halves below one and by 2, 6, 12 above.
    """
    one = UNITS.get(unit, 1.0)
    least = _LABEL_PX / max(px_per_mm, 1e-9) / one
    if unit in ("in", "ft"):
        for step, parts in (
            (1 / 64, 1),
            (1 / 32, 2),
            (1 / 16, 2),
            (1 / 8, 2),
            (1 / 4, 4),
            (1 / 2, 4),
            (1.0, 8),
            (2.0, 4),
            (6.0, 6),
            (12.0, 4),
            (24.0, 4),
            (60.0, 5),
            (120.0, 10),
        ):
            if step >= least:
                return step * one, parts
    power = 10.0 ** math.floor(math.log10(max(least, 1e-9)))
    for factor, parts in ((1, 10), (2, 4), (5, 5), (10, 10)):
        if factor * power >= least * (1 - 1e-9):
            return factor * power * one, parts
    return 10 * power * one, 10


def label_fits(at_px: float, label_px: float, length_px: float, *, up: bool) -> bool:
    """True if the whole number of a tick lies on the ruler.

    at_px: where the tick is, from the left or from the top; length_px: the ruler's. up: the
    number runs upwards from its tick, else to the right.
    """
    near = at_px + (-_LABEL_OFF_PX if up else _LABEL_OFF_PX)
    far = near + (-label_px if up else label_px)
    return min(near, far) >= 0 and max(near, far) <= length_px


class Ruler(QWidget):
    """One ruler. ``set_view`` says which stretch of the drawing lies along it."""

    def __init__(self, *, vertical: bool, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._vertical = vertical
        self._start_mm = 0.0
        self._px_per_mm = 1.0
        self._unit = "mm"
        self._pointer_px: float | None = None
        self._marks: tuple[float, float] | None = None
        self._set_thickness()
        theme.watcher().changed.connect(self._set_thickness)
        if vertical:
            self.setSizePolicy(QSizePolicy.Policy.Fixed, QSizePolicy.Policy.Expanding)
            self.setAccessibleName(tr("Ruler, upright"))
        else:
            self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)
            self.setAccessibleName(tr("Ruler, level"))

    def _set_thickness(self) -> None:
        """As thick as the numbers need."""
        height = QFontMetrics(QApplication.font()).height()
        thick = max(theme.TARGET - 4, round(height * 1.35))
        if self._vertical:
            self.setFixedWidth(thick)
        else:
            self.setFixedHeight(thick)

    def set_view(self, start_mm: float, px_per_mm: float, unit: str) -> None:
        """start_mm: the value at the ruler's left end, or lower end if upright."""
        if (start_mm, px_per_mm, unit) != (self._start_mm, self._px_per_mm, self._unit):
            self._start_mm, self._px_per_mm, self._unit = start_mm, px_per_mm, unit
            self.update()

    def set_pointer(self, px: float | None) -> None:
        """Where the pointer is along the ruler, or None."""
        self._pointer_px = px
        self.update()

    def set_span(self, span_mm: tuple[float, float] | None) -> None:
        """A stretch to shade: what is selected."""
        if span_mm != self._marks:
            self._marks = span_mm
            self.update()

    def paintEvent(self, event: QPaintEvent) -> None:
        """Ticks, numbers, the selection's stretch and the pointer."""
        painter = QPainter(self)
        painter.fillRect(self.rect(), theme.color("desk"))
        length = self.height() if self._vertical else self.width()
        thick = self.width() if self._vertical else self.height()

        def along(mm: float) -> float:
            px = (mm - self._start_mm) * self._px_per_mm
            return length - px if self._vertical else px

        if self._marks is not None:
            a, b = sorted((along(self._marks[0]), along(self._marks[1])))
            wash = theme.color("accent-wash")
            area = QRectF(0, a, thick, b - a) if self._vertical else QRectF(a, 0, b - a, thick)
            painter.fillRect(area, wash)
        font = self.font()
        font.setPointSizeF(max(6.5, font.pointSizeF() * 0.78))
        painter.setFont(font)
        step, parts = tick_step_mm(self._px_per_mm, self._unit)
        first = math.floor(self._start_mm / step)
        last = math.ceil((self._start_mm + length / self._px_per_mm) / step)
        hair, text = QPen(theme.color("control"), 1), QPen(theme.color("muted"), 1)
        fraction = 64 if self._unit == "in" and step < 25.4 * 0.99 else None
        for index in range(first, last + 1):
            at = along(index * step)
            painter.setPen(hair)
            self._tick(painter, at, thick, 0.55)
            for part in range(1, parts):
                self._tick(painter, along((index + part / parts) * step), thick, 0.2)
            painter.setPen(text)
            label = format_length(index * step, self._unit, fraction=fraction, with_unit=False)
            if not label_fits(
                at, painter.fontMetrics().horizontalAdvance(label), length, up=self._vertical
            ):
                continue
            if self._vertical:
                painter.save()
                painter.translate(0, at - _LABEL_OFF_PX)
                painter.rotate(-90)
                painter.drawText(QPointF(0, painter.fontMetrics().ascent()), label)
                painter.restore()
            else:
                painter.drawText(QPointF(at + _LABEL_OFF_PX, painter.fontMetrics().ascent()), label)
        painter.setPen(QPen(theme.color("hairline"), 1))
        if self._vertical:
            painter.drawLine(thick - 1, 0, thick - 1, length)
        else:
            painter.drawLine(0, thick - 1, length, thick - 1)
        if self._pointer_px is not None:
            painter.setPen(QPen(theme.color("accent"), 1))
            self._tick(painter, self._pointer_px, thick, 1.0)
        painter.end()

    def _tick(self, painter: QPainter, at: float, thick: int, share: float) -> None:
        long = round(thick * share)
        if self._vertical:
            painter.drawLine(thick - long, round(at), thick, round(at))
        else:
            painter.drawLine(round(at), thick - long, round(at), thick)


class RulerCorner(QWidget):
    """The square where the rulers meet; it names the unit."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._unit = "mm"

    def set_unit(self, unit: str) -> None:
        """The unit to name."""
        if unit != self._unit:
            self._unit = unit
            self.update()

    def paintEvent(self, event: QPaintEvent) -> None:
        """The unit's name in the corner."""
        painter = QPainter(self)
        painter.fillRect(self.rect(), theme.color("desk"))
        font = self.font()
        font.setPointSizeF(max(6.5, font.pointSizeF() * 0.78))
        painter.setFont(font)
        painter.setPen(theme.color("muted"))
        painter.drawText(self.rect(), Qt.AlignmentFlag.AlignCenter, self._unit)
        painter.end()
