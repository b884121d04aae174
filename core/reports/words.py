"""Lengths, areas, masses and counts in words for paper, in the project's own unit."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass

from core.findings import counted as counted
from core.project.model import Project
from core.units import format_length

_LB_KG = 0.45359237  # exact: international yard and pound agreement, 1959
_ABOUT_MM = 0.1  # what nobody sets more finely: the width of a tab, how far off a screw is
# Halves, quarters and eighths have glyphs of their own; finer steps stay as plain digits.
_GLYPHS = {
    "1/2": "½",
    "1/4": "¼",
    "3/4": "¾",
    "1/8": "⅛",
    "3/8": "⅜",
    "5/8": "⅝",
    "7/8": "⅞",
}


@dataclass(frozen=True, slots=True)
class Words:
    """Writes numbers for one display unit: mm, cm, m, in, ft or thou; amounts in a currency."""

    unit: str = "mm"
    currency: str = ""

    @property
    def imperial(self) -> bool:
        return self.unit in ("in", "ft", "thou")

    @property
    def note(self) -> str:
        """One line for the head of a page that says what bare numbers are."""
        if self.unit in ("in", "ft"):
            return "Inches, to the nearest 1/64″"
        return f"Lengths in {self.unit}"

    def length(self, length_mm: float) -> str:
        """A length as it stands in tables and beside dimension lines.

        Metric and thou bare (the page says the unit), inches as fractions with ″.
        """
        if self.unit in ("in", "ft"):
            return _inches(length_mm)
        places = {"mm": 1, "cm": 2, "m": 4, "thou": 0}[self.unit]
        text = format_length(length_mm, self.unit, precision=places, with_unit=False)
        text = text.rstrip("0").rstrip(".") if "." in text else text
        return text.replace("-", "−")

    def with_unit(self, length_mm: float) -> str:
        """A length that stands alone in a sentence."""
        if self.unit in ("in", "ft"):
            return _inches(length_mm)
        return f"{self.length(length_mm)} {self.unit}"

    def about(self, length_mm: float) -> str:
        """A length in a sentence that need not be exact: in inches the nearest 64th if near."""
        if self.unit not in ("in", "ft") or _near_fraction(length_mm, _ABOUT_MM):
            return self.with_unit(length_mm)
        return f"{length_mm / 25.4:.3f}″"

    def thickness(self, length_mm: float) -> str:
        """A board's thickness, finer than other lengths where it is metric or decimal."""
        if self.unit in ("in", "ft"):
            return f"{length_mm / 25.4:.3f}″"
        places = {"mm": 2, "cm": 3, "m": 5, "thou": 0}[self.unit]
        text = format_length(length_mm, self.unit, precision=places, with_unit=False)
        text = text.rstrip("0").rstrip(".") if "." in text else text
        return f"{text} {self.unit}"

    def exact(self, length_mm: float) -> str:
        """A thickness, depth or bore to be kept: a fraction of an inch only where it is one."""
        if self.unit in ("in", "ft") and _near_fraction(length_mm):
            return _inches(length_mm)
        return self.thickness(length_mm)

    def diameter(self, length_mm: float) -> str:
        """A bit's diameter with its sign."""
        if self.unit in ("in", "ft") and _near_fraction(length_mm):
            return f"⌀ {_inches(length_mm)}"
        return f"⌀ {format_length(length_mm, 'mm', precision=None)}"

    def size(self, width_mm: float, height_mm: float) -> str:
        """Width × height."""
        return f"{self.length(width_mm)} × {self.length(height_mm)}"

    def money(self, amount: float | None) -> str:
        """An amount with the shop's sign for its money, or a dash where no price is known."""
        return "–" if amount is None else f"{amount:.2f}\u00a0{self.currency}".rstrip()

    def area(self, area_mm2: float) -> str:
        """An area in m² or square feet."""
        if self.imperial:
            return f"{area_mm2 / 304.8**2:.1f} ft²"
        return f"{area_mm2 / 1e6:.2f} m²"

    def travel(self, length_mm: float) -> str:
        """A long way, such as a length of cut, in m or ft."""
        if self.imperial:
            return f"{length_mm / 304.8:.1f} ft"
        return f"{length_mm / 1000:.2f} m"

    def mass(self, mass_kg: float) -> str:
        """A mass in kg or lb."""
        if self.imperial:
            return f"{mass_kg / _LB_KG:.0f} lb"
        return f"{mass_kg:.1f} kg"


def words_of(project: Project) -> Words:
    """How a project writes its numbers."""
    return Words(project.units, project.shop.rules.currency)


def _near_fraction(length_mm: float, within_mm: float = 0.01) -> bool:
    """True if a length is one or more 64ths of an inch, so near, mm."""
    steps = length_mm / 25.4 * 64
    return steps > 0.5 and abs(steps - round(steps)) * 25.4 / 64 < within_mm


def _inches(length_mm: float) -> str:
    text = format_length(length_mm, "in", fraction=64, with_unit=False).replace("-", "−")
    match = re.fullmatch(r"(.*?)(?:(?<=\d) )?(\d/\d)", text)
    if match and match.group(2) in _GLYPHS:
        text = match.group(1) + _GLYPHS[match.group(2)]
    return text + "″"


def percent(share: float) -> str:
    """A share as whole percent, never rounded up to 100."""
    return f"{min(round(share * 100), 99 if share < 1 else 100)} %"


def degrees(turn_deg: float) -> str:
    """A turn, 0–360°, as written beside a piece."""
    turn = math.fmod(turn_deg, 360.0)
    turn = turn + 360.0 if turn < -1e-9 else abs(turn)
    text = f"{turn:.1f}".rstrip("0").rstrip(".")
    return "0°" if text == "360" else f"{text}°"


def listed(numbers: list[int] | tuple[int, ...]) -> str:
    """Numbers with runs drawn together: 1–4, 7, 9–12."""
    runs: list[list[int]] = []
    for number in sorted(numbers):
        if runs and number == runs[-1][1] + 1:
            runs[-1][1] = number
        else:
            runs.append([number, number])
    return ", ".join(
        f"{a}" if a == b else (f"{a}, {b}" if b == a + 1 else f"{a}–{b}") for a, b in runs
    )
