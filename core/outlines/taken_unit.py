"""Which unit a drawing's numbers are in.

What the file declares is believed if it makes the largest panel 10 to 3500 mm; if not,
millimetres and then inches are tried. Whatever was not simply declared is told as a finding,
with the size that follows from it, so that the maker can confirm or switch.
"""

from __future__ import annotations

from dataclasses import dataclass

from core.findings import Finding, Severity
from core.outlines.strands import RawDrawing
from core.tolerances import LARGEST_PLAUSIBLE_MM, LEAST_OPENING_MM, SMALLEST_PLAUSIBLE_MM
from core.units import UNITS, format_length, unit_named

PIXEL_MM = 25.4 / 96.0  # CSS: 96 px to the inch


@dataclass(frozen=True, slots=True)
class TakenUnit:
    """The unit decided on. why: "given", "declared", "guessed", "doubtful" or "unknown".

    because: what spoke for it, "" for nothing but the panel's size.
    """

    name: str
    mm: float
    why: str
    because: str = ""

    @property
    def guessed(self) -> bool:
        """True if neither the caller nor a believable header said so."""
        return self.why not in ("given", "declared")


def unit_given(text: str) -> TakenUnit:
    """The unit a caller asks for, by any name; raises BadLengthError for an unknown one."""
    if text.strip().lower() == "px":
        return TakenUnit("px", PIXEL_MM, "given")
    name = unit_named(text)
    mm = {"dm": 100.0, "µm": 1e-3, "yd": 914.4}.get(name) or UNITS[name]
    return TakenUnit(name, mm, "given")


def decide_unit(raw: RawDrawing, size: float, narrow: float = 0.0) -> TakenUnit:
    """The unit for a drawing whose largest panel measures `size` drawing units.

    narrow: width of its narrowest hole or slot in drawing units, 0 if it has none.
    """
    declared = TakenUnit(raw.unit, raw.unit_mm, "declared") if raw.unit and raw.unit_mm else None
    if size <= 0.0:
        return declared or TakenUnit("mm", 1.0, "guessed")
    if declared and _plausible(size * declared.mm):
        return declared
    if raw.unit_is_pixel:
        if _plausible(size * PIXEL_MM):
            return TakenUnit("px", PIXEL_MM, "doubtful" if _plausible(size) else "guessed")
        if _plausible(size):
            return TakenUnit("mm", 1.0, "guessed")
        return TakenUnit("px", PIXEL_MM, "unknown")
    if _plausible(size):
        both = not declared and _plausible(size * 25.4)
        if both and 0.0 < narrow < LEAST_OPENING_MM <= narrow * 25.4:
            why = f"its narrowest hole or slot is {narrow:.4g} wide, too narrow for a bit in mm"
            return TakenUnit("in", 25.4, "doubtful", why)
        return TakenUnit("mm", 1.0, "doubtful" if both or declared else "guessed")
    if _plausible(size * 25.4):
        return TakenUnit("in", 25.4, "doubtful")
    if declared:
        return TakenUnit(declared.name, declared.mm, "unknown")
    return TakenUnit("mm", 1.0, "unknown")


def unit_findings(
    taken: TakenUnit, raw: RawDrawing, size_mm: tuple[float, float], source: str
) -> list[Finding]:
    """What the maker must know about the unit: nothing if it was given or declared."""
    if not taken.guessed:
        return []
    width, height = size_mm
    as_taken = _size_text(width, height)
    other = "mm" if taken.name != "mm" else raw.unit if raw.unit in UNITS else "in"
    named = {"in": "inches", "ft": "feet"}.get(str(other), other)
    remedy = f"Check the size; if it is wrong, take the numbers as {named}."
    fix = f"take-as-{other}"
    header = f"The header says {raw.unit}" if raw.unit else "The file names no unit"
    if raw.unit_is_pixel:
        header = "The drawing's size is in pixels or not given"
    so = f"taken as {taken.name}, the largest panel is {as_taken}"
    if taken.why == "unknown":
        return [
            Finding(
                "unit-unknown",
                Severity.WARN,
                f"{header}, and in no usual unit is the largest panel a panel's size; {so}.",
                remedy=remedy,
                source=source,
                fix=fix,
            )
        ]
    if taken.why == "doubtful":
        why = f"{header}, which gives no panel's size" if raw.unit else header
        because = f"; {taken.because}" if taken.because else ""
        return [
            Finding(
                "unit-doubtful",
                Severity.WARN,
                f"{why}{because}; {so}.",
                remedy=remedy,
                source=source,
                fix=fix,
            )
        ]
    return [
        Finding(
            "unit-guessed",
            Severity.NOTE,
            f"{header}; {so}.",
            remedy=remedy,
            source=source,
            fix=fix,
        )
    ]


def small_parts_doubt(
    taken: TakenUnit, small_mm: list[float], size_mm: tuple[float, float], source: str
) -> list[Finding]:
    """Doubt about declared inches when every hole and slot would be wider than a hand.

    small_mm: widths of holes and slots as taken.
    """
    if taken.why != "declared" or taken.name != "in" or not small_mm:
        return []
    least = min(small_mm)
    if least < 76.2 or not 2.0 <= least / 25.4 <= 40.0:
        return []
    if not _plausible(max(size_mm) / 25.4):
        return []
    width, height = size_mm[0] / 25.4, size_mm[1] / 25.4
    return [
        Finding(
            "unit-doubtful",
            Severity.WARN,
            f"The header says inches, but then the smallest hole or slot is "
            f"{format_length(least)} wide; as mm it is {format_length(least / 25.4)} and the "
            f"largest panel {_size_text(width, height)}.",
            remedy="Check the size; if it is wrong, take the numbers as mm.",
            source=source,
            fix="take-as-mm",
        )
    ]


def _plausible(size_mm: float) -> bool:
    """True if a panel may be this long."""
    return SMALLEST_PLAUSIBLE_MM <= size_mm <= LARGEST_PLAUSIBLE_MM


def _size_text(width_mm: float, height_mm: float) -> str:
    text = format_length(width_mm, precision=1, with_unit=False)
    return f"{text} × {format_length(height_mm, precision=1)}"
