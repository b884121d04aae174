"""Lengths as short as a drawing needs them: beside the pointer, on a label, in a title."""

from __future__ import annotations

from app.i18n import tr
from app.widgets.fields import show_length, show_size
from core.units import fine_length, format_length


def short_length(length_mm: float, unit: str) -> str:
    """A length as fine as a maker can measure."""
    if unit == "mm":
        return show_length(round(length_mm, 1 if length_mm >= 1 else 3), unit)
    return show_length(round(length_mm, 3), unit)


def glance(length_mm: float, unit: str) -> str:
    """A length for a glance: whole mm, or a decimal of an inch."""
    return format_length(length_mm, unit, precision=0 if unit == "mm" else 1)


def glance_size(width_mm: float, height_mm: float, unit: str) -> str:
    """A size for a glance: tenths of a mm, or hundredths of an inch; fractions where exact."""
    if unit == "in":
        rows = [show_length(v, unit, with_unit=False) for v in (width_mm, height_mm)]
        for i, value in enumerate((width_mm, height_mm)):
            if "." in rows[i]:
                text = format_length(value, unit, precision=2, with_unit=False)
                rows[i] = text.rstrip("0").rstrip(".")
        return f"{rows[0]} × {rows[1]} in"
    return show_size(round(width_mm, 1), round(height_mm, 1), unit)


def play_text(play_mm: float, unit: str) -> str:
    """A joint's total play and what lies on each side, as fine as the core tells it."""
    return tr("{play} across, {half} a side").format(
        play=fine_length(play_mm, unit), half=fine_length(play_mm / 2, unit)
    )
