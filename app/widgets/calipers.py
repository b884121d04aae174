"""Caliper readings on a scale: what the standard allows, what was measured, what joints take."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from PySide6.QtCore import QPointF, QRectF, QSize, Qt
from PySide6.QtGui import QPainter, QPaintEvent, QPen, QPolygonF
from PySide6.QtWidgets import QSizePolicy, QWidget

from app import theme
from app.i18n import tr
from app.widgets.fields import show_length
from core.errors import BadLengthError
from core.refit.thickness import expected_range, spread_mm, standards_for
from core.shop import BoardState, Material
from core.units import parse_length


@dataclass(frozen=True, slots=True)
class Scale:
    """What the scale shows, mm. allowed: of the standard. readings: in the most finished state;
    earlier: in states before it. used_mm: what joints are made for."""

    nominal_mm: float
    allowed: tuple[float, float]
    readings: tuple[float, ...]
    earlier: tuple[float, ...]
    used_mm: float

    @property
    def span(self) -> tuple[float, float]:
        """From where to where it goes, with some room."""
        values = (self.nominal_mm, *self.allowed, *self.readings, *self.earlier)
        low, high = min(values), max(values)
        room = max(0.12 * (high - low), 0.1)
        return low - room, high + room


def scale_of(material: Material) -> Scale:
    """The scale of a board."""
    span = expected_range(material.nominal_mm, standards_for(material)[0])
    final = max((r.state for r in material.readings), key=list(BoardState).index, default=None)
    readings = tuple(r.thickness_mm for r in material.readings if r.state is final)
    earlier = tuple(r.thickness_mm for r in material.readings if r.state is not final)
    allowed = (span.low_mm, span.high_mm)
    return Scale(material.nominal_mm, allowed, readings, earlier, material.thickness_mm)


def read_several(text: str, unit: str) -> tuple[float, ...]:
    """Thicknesses typed one after the other, mm; parted by blanks, semicolons or line ends.

    A comma is a decimal sign, as everywhere. Raises BadLengthError for one that cannot be read
    or is not above zero, or if there is none.
    """
    found: list[float] = []
    for word in text.replace(";", " ").replace("\n", " ").split(" "):
        if not word.strip():
            continue
        value = parse_length(word.strip(), unit)
        if value <= 0:
            raise BadLengthError(
                tr("A board of {size} is not there").format(size=word),
                "",
                tr("Give what was measured."),
            )
        found.append(value)
    if not found:
        raise BadLengthError(tr("No reading is typed"), "", tr("Type them like 17.6 17.55 17.6."))
    return tuple(found)


def spread_words(material: Material, fit_mm: float, unit: str) -> tuple[str, bool]:
    """What the spread of the readings means, and whether it is a warning; "" for nothing."""
    spread = spread_mm(material)
    if spread <= 1e-9:
        return "", False
    shown = show_length(round(spread, 3), unit)
    if spread <= fit_mm + 1e-9:
        return tr("Readings differ by {spread}, less than the fit.").format(spread=shown), False
    loose = show_length(round(spread + fit_mm, 3), unit)
    return (
        tr(
            "▲ Readings differ by {spread}, more than the fit: slots for the thickest board leave "
            "{loose} round the thinnest. Sort the sheets."
        ).format(spread=shown, loose=loose),
        True,
    )


def sheet_rows(material: Material, unit: str) -> str:
    """The largest reading of each sheet that has a name, on one line."""
    largest: dict[str, float] = {}
    order = list(BoardState)
    final = max((r.state for r in material.readings), key=order.index, default=None)
    for reading in material.readings:
        if reading.sheet and reading.state is final:
            old = largest.get(reading.sheet, 0.0)
            largest[reading.sheet] = max(old, reading.thickness_mm)
    if len(largest) < 2:
        return ""
    rows = [f"{name} = {show_length(round(t, 3), unit)}" for name, t in largest.items()]
    unbroken = ", ".join(row.replace(" ", "\u00a0") for row in rows)
    return tr("By sheet: {rows}.").format(rows=unbroken)


class CaliperScale(QWidget):
    """A line with the allowed range as a band, readings as dots, the one used as a jaw."""

    def __init__(self) -> None:
        super().__init__()
        self._scale: Scale | None = None
        self._unit = "mm"
        self.setAccessibleName(tr("Readings against what the board is sold as"))
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)
        theme.watcher().changed.connect(self.update)

    def sizeHint(self) -> QSize:
        """A band and two lines of figures."""
        return QSize(200, 34 + 2 * self.fontMetrics().height())

    def minimumSizeHint(self) -> QSize:
        """As high as it wants to be."""
        return QSize(120, self.sizeHint().height())

    def show_material(self, material: Material, unit: str) -> None:
        """Show a board's readings."""
        self._scale, self._unit = scale_of(material), unit
        self.setToolTip(self.text)
        self.setAccessibleDescription(self.text)
        self.update()

    @property
    def text(self) -> str:
        """What it shows, in words."""
        scale = self._scale
        if scale is None:
            return ""
        low, high = (show_length(round(v, 3), self._unit) for v in scale.allowed)
        text = tr("Sold as {nominal}, allowed {low} to {high}.").format(
            nominal=show_length(scale.nominal_mm, self._unit), low=low, high=high
        )
        if scale.readings:
            text += " " + tr("Joints take {used}, the largest of {n}.").format(
                used=show_length(scale.used_mm, self._unit), n=len(scale.readings)
            )
        return text

    def x_of(self, thickness_mm: float) -> float:
        """Where a thickness lies on the widget, px."""
        assert self._scale is not None
        low, high = self._scale.span
        return 8 + (self.width() - 16) * (thickness_mm - low) / (high - low)

    def paintEvent(self, _event: QPaintEvent) -> None:
        """Band, nominal, readings, the largest with its figure."""
        scale = self._scale
        if scale is None:
            return
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        line = painter.fontMetrics().height()
        y = line + 14.0
        low, high = (self.x_of(v) for v in scale.allowed)
        painter.fillRect(QRectF(low, y - 8, high - low, 16), theme.color("board"))
        painter.setPen(QPen(theme.color("muted"), 1))
        painter.drawLine(QPointF(8, y), QPointF(self.width() - 8, y))
        x = self.x_of(scale.nominal_mm)
        painter.setPen(QPen(theme.color("muted"), 1.5, Qt.PenStyle.DashLine))
        painter.drawLine(QPointF(x, y - 11), QPointF(x, y + 11))
        self._figure(painter, x, y + 12 + line, scale.nominal_mm, "muted")
        painter.setPen(QPen(theme.color("muted"), 1.2))
        painter.setBrush(Qt.BrushStyle.NoBrush)
        self._dots(painter, scale.earlier, y)
        painter.setBrush(theme.color("ink"))
        painter.setPen(Qt.PenStyle.NoPen)
        self._dots(painter, scale.readings, y)
        if scale.readings:
            x = self.x_of(scale.used_mm)
            painter.setBrush(theme.color("accent"))
            jaw = [QPointF(x, y - 4), QPointF(x - 5, y - 13), QPointF(x + 5, y - 13)]
            painter.drawPolygon(QPolygonF(jaw))
            self._figure(painter, x, y - 14, scale.used_mm, "accent")
        painter.end()

    def _dots(self, painter: QPainter, values: Sequence[float], y: float) -> None:
        for value in values:
            painter.drawEllipse(QPointF(self.x_of(value), y), 3.5, 3.5)

    def _figure(self, painter: QPainter, x: float, base: float, value: float, ink: str) -> None:
        text = show_length(round(value, 3), self._unit)
        width = painter.fontMetrics().horizontalAdvance(text)
        left = min(max(2.0, x - width / 2), self.width() - width - 2.0)
        painter.setPen(theme.color(ink))
        painter.drawText(QPointF(left, base), text)
        painter.setPen(Qt.PenStyle.NoPen)
