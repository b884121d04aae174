"""The fonts that print: DejaVu Sans, shipped with the program, measured and embedded.

The built-in PDF fonts lack fractions, prime marks and the diameter sign, and what is not
embedded prints differently on every machine.
"""

from __future__ import annotations

import re
import unicodedata
from functools import cache, lru_cache
from pathlib import Path
from typing import TYPE_CHECKING

from core.errors import SeamwrightError

if TYPE_CHECKING:
    from reportlab.pdfbase.ttfonts import TTFont

PT_MM = 25.4 / 72.0  # 1 pt = 1/72 in (PDF reference)
REGULAR = "PlanSans"
BOLD = "PlanSans-Bold"
MISSING = "□"

_FILES = {REGULAR: "DejaVuSans.ttf", BOLD: "DejaVuSans-Bold.ttf"}
_FOLDER = Path(__file__).resolve().parents[2] / "assets" / "fonts"

# A line may be broken at a space, but not between a figure and its fraction or unit nor after ⌀.
_UNITS = r"mm|cm|m|in|ft|thou|kg|lb|mm²|m²|in²|ft²|mg/m³|dB\(A\)|%"
_BREAKS = re.compile(rf"(?<![\d⌀]) |(?<=\d) (?!(?:{_UNITS})(?![\w²³/])|\d+/\d)")

# What glyphs cover of their line, in parts of the size: accents and descenders of the font.
ASCENT = 0.80
DESCENT = 0.24
CAP = 0.729


@cache
def _font(name: str) -> TTFont:
    from reportlab.pdfbase import pdfmetrics  # the PDF writer is slow to load
    from reportlab.pdfbase.ttfonts import TTFont

    path = _FOLDER / _FILES[name]
    try:
        font = TTFont(name, str(path))
    except Exception as error:  # the library raises its own kinds
        raise SeamwrightError(
            "A font that the pages need is missing or damaged", str(path), "Install again."
        ) from error
    pdfmetrics.registerFont(font)
    return font


def ensure_fonts() -> None:
    """Make both fonts known to the PDF writer. Raises SeamwrightError if one is missing."""
    _font(REGULAR)
    _font(BOLD)


def font_name(bold: bool) -> str:
    """The name the PDF writer knows the font by."""
    return BOLD if bold else REGULAR


@lru_cache(maxsize=4096)
def printable(text: str) -> str:
    """The text on one line, in signs the font has; any other becomes an empty box."""
    known = _font(REGULAR).face.charToGlyph
    out = []
    for char in unicodedata.normalize("NFC", " ".join(str(text).split())):
        if unicodedata.category(char) in ("Cc", "Cf", "Cs"):
            continue
        out.append(char if ord(char) in known else MISSING)
    return "".join(out)


@lru_cache(maxsize=16384)
def text_width_mm(text: str, size_pt: float, bold: bool = False) -> float:
    """Width of one line of printable text, mm."""
    _font(font_name(bold))
    from reportlab.pdfbase import pdfmetrics

    return float(pdfmetrics.stringWidth(text, font_name(bold), size_pt)) * PT_MM


def shorten(text: str, width_mm: float, size_pt: float, bold: bool = False) -> str:
    """The text, cut with … until it is no wider than width_mm ("" if not even … fits)."""
    text = printable(text)
    if text_width_mm(text, size_pt, bold) <= width_mm:
        return text
    low, high = 0, len(text)
    while low < high:
        middle = (low + high + 1) // 2
        if text_width_mm(text[:middle].rstrip() + "…", size_pt, bold) <= width_mm:
            low = middle
        else:
            high = middle - 1
    return text[:low].rstrip() + "…" if low else ""


def wrap(
    text: str, width_mm: float, size_pt: float, bold: bool = False, *, most_lines: int = 1000
) -> list[str]:
    """The text broken into lines no wider than width_mm, at spaces where it can.

    A figure, its fraction and its unit stay together. A word wider than a line is broken inside.
    What does not go into most_lines ends in ….
    """
    words = _BREAKS.split(printable(text))
    lines: list[str] = []
    line = ""
    for word in words:
        trial = f"{line} {word}" if line else word
        if text_width_mm(trial, size_pt, bold) <= width_mm:
            line = trial
            continue
        if line:
            lines.append(line)
        line = word
        while text_width_mm(line, size_pt, bold) > width_mm and len(line) > 1:
            cut = _fitting_chars(line, width_mm, size_pt, bold)
            lines.append(line[:cut])
            line = line[cut:]
    lines.append(line)
    if len(lines) > most_lines:
        rest = " ".join(lines[most_lines - 1 :])
        lines = [*lines[: most_lines - 1], shorten(rest, width_mm, size_pt, bold)]
    return lines


def _fitting_chars(word: str, width_mm: float, size_pt: float, bold: bool) -> int:
    low, high = 1, len(word)
    while low < high:
        middle = (low + high + 1) // 2
        if text_width_mm(word[:middle], size_pt, bold) <= width_mm:
            low = middle
        else:
            high = middle - 1
    return low
