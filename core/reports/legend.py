"""What the signs of a drawing mean: one row of samples with words below it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from shapely.geometry import box

from core.reports.holding import bore_sample, pin_sample, screw_sample, tab_sample
from core.reports.picture import (
    ACCENT,
    FINE_MM,
    HEAVY_MM,
    INK,
    MUTED,
    NARROW_MM,
    PAPER,
    THIN_MM,
    Line,
    Mark,
    Stroke,
    circle,
    hatch,
    rectangle,
    text,
)

DOWN_SIGN = "▼"
SAW_STROKE = Stroke(HEAVY_MM, INK, (3.2, 1.0, 0.6, 1.0))
OTHER_STROKE = Stroke(THIN_MM, MUTED, (1.2, 0.8))


def legend(
    entries: Sequence[str],
    x: float,
    y: float,
    right: float,
    *,
    more: Mapping[str, str] | None = None,
) -> tuple[list[Mark], float]:
    """Samples with words, in as many rows as it takes. Returns marks and the height used.

    entries: of "number", "saw", "blank", "offcut", "defect", "down", "travel", "clamp", "other",
    "back", "origin", "tab", "screw", "bore", "pin". more: what to add to the words of an entry.
    """
    marks: list[Mark] = []
    at, row = x, y
    for entry in entries:
        sample, words = _SAMPLES[entry]
        words += (more or {}).get(entry, "")
        label = text(0, 0, words, 7.5)
        wide = 9.0 + label.width_mm + 5.0
        if at + wide > right and at > x:
            at, row = x, row - 4.6
        marks += _sample(sample, at, row)
        marks.append(text(at + 9.0, row - 0.95, words, 7.5, role="legend"))
        at += wide
    return marks, y - row + 4.0


_SAMPLES = {
    "number": ("number", "piece, in order of cutting"),
    "saw": ("saw", "saw cut, in order"),
    "blank": ("blank", "blank"),
    "offcut": ("offcut", "offcut to keep"),
    "defect": ("defect", "defect, not to be used"),
    "down": ("down", "show face down"),
    "travel": ("travel", "reach of the bit's centre"),
    "clamp": ("clamp", "clamp: keep the bit out"),
    "other": ("other", "cut in another clamping"),
    "back": ("other", "cut from the other face"),
    "origin": ("origin", "origin"),
    "tab": ("tab", "tab"),
    "screw": ("screw", "place for a screw"),
    "bore": ("bore", "bore for the next clamping's pin"),
    "pin": ("pin", "pin in a hole bored before"),
}


def _sample(kind: str, x: float, y: float) -> list[Mark]:
    frame = box(x, y - 1.5, x + 7.0, y + 1.5)
    if kind == "saw":
        half = 1.6
        return [
            Line(((x, y), (x + 7.5, y)), SAW_STROKE),
            circle(x + 3.8, y, half, Stroke(0.25), PAPER),
            text(x + 3.8, y - 0.75, "1", 6, bold=True, anchor="middle", role="legend"),
        ]
    if kind == "number":
        return [text(x + 3.5, y - 1.0, "12", 8, bold=True, anchor="middle", role="legend")]
    if kind == "blank":
        return [
            rectangle(x + 1.5, y - 1.7, 3.4, 3.4, Stroke(0.35), PAPER),
            text(x + 3.2, y - 0.9, "A", 7, bold=True, anchor="middle", role="legend"),
        ]
    if kind == "down":
        return [text(x + 3.5, y - 1.0, DOWN_SIGN, 8, bold=True, anchor="middle", role="legend")]
    if kind == "travel":
        return [Line(((x, y), (x + 7.5, y)), Stroke(NARROW_MM, ACCENT, (2.5, 1.0)))]
    if kind == "other":
        return [Line(((x, y), (x + 7.5, y)), OTHER_STROKE)]
    if kind == "origin":
        stroke = Stroke(0.35, ACCENT)
        return [
            circle(x + 3.5, y, 1.3, stroke),
            Line(((x + 1.5, y), (x + 5.5, y)), stroke),
            Line(((x + 3.5, y - 2.0), (x + 3.5, y + 2.0)), stroke),
        ]
    small = {"tab": tab_sample, "screw": screw_sample, "bore": bore_sample, "pin": pin_sample}
    if kind in small:
        return small[kind](x + 3.5, y)
    edge = Stroke(NARROW_MM if kind != "offcut" else FINE_MM)
    ring = rectangle(x, y - 1.5, 7.0, 3.0, edge)
    gap = {"offcut": 1.6, "defect": 0.9, "clamp": 1.1}[kind]
    lines = hatch(frame, gap, Stroke(FINE_MM), crossed=kind == "defect")
    return [*lines, ring]
