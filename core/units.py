"""Lengths as people write them: every field, option and spreadsheet cell is read here.

Millimetres are the only unit inside; a unit exists only where a text comes in or goes out.
Factors are exact: 1 in = 25.4 mm (international yard and pound agreement, 1 July 1959).
"""

from __future__ import annotations

import math
import re
import unicodedata
from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction
from types import MappingProxyType

from core.errors import BadLengthError

#: Units a length may be shown in, with the exact millimetres each one holds.
UNITS: Mapping[str, float] = MappingProxyType(
    {"mm": 1.0, "cm": 10.0, "m": 1000.0, "in": 25.4, "ft": 304.8, "thou": 0.0254}
)

_EXACT: dict[str, Fraction] = {
    "mm": Fraction(1),
    "cm": Fraction(10),
    "dm": Fraction(100),
    "m": Fraction(1000),
    "µm": Fraction(1, 1000),
    "in": Fraction(254, 10),
    "ft": Fraction(3048, 10),
    "yd": Fraction(9144, 10),
    "thou": Fraction(254, 10000),
}

_NAMES: dict[str, tuple[str, ...]] = {
    "mm": ("mm", "millimetre", "millimetres", "millimeter", "millimeters"),
    "cm": ("cm", "centimetre", "centimetres", "centimeter", "centimeters"),
    "dm": ("dm",),
    "m": ("m", "metre", "metres", "meter", "meters"),
    "µm": ("µm", "um", "micron", "microns", "micrometre", "micrometres"),
    "in": ("in", "in.", "inch", "inches", '"'),
    "ft": ("ft", "ft.", "foot", "feet", "'"),
    "yd": ("yd", "yard", "yards"),
    "thou": ("thou", "thous", "mil", "mils", "thousandth", "thousandths"),
}
_UNIT_OF: dict[str, str] = {word: unit for unit, words in _NAMES.items() for word in words}

# Decimals shown by default: about a hundredth of a millimetre in every unit.
_DECIMALS: dict[str, int] = {"mm": 2, "cm": 3, "m": 5, "in": 4, "ft": 5, "thou": 1}

_LONGEST_TEXT = 100
# Beyond the size of a city there is no workshop; it also keeps every square finite.
_LARGEST_MM = 10**9

_NUMBER = r"(?:\d+(?:[.,]\d*)?|[.,]\d+)(?:[eE][+-]?\d{1,3})?"
_TERM = re.compile(
    rf"""\s*(?:
        (?P<whole>\d+)(?:\s+|\s*-\s*)(?P<mixed_top>\d+)\s*/\s*(?P<mixed_low>\d+)
      | (?P<top>{_NUMBER})\s*/\s*(?P<low>{_NUMBER})
      | (?P<number>{_NUMBER})
    )\s*(?P<unit>[a-zµ]+\.?|"|')?""",
    re.VERBOSE | re.IGNORECASE,
)
_TWO_MARKS = re.compile(r"\d[.,]\d*[.,]\d")
_THOUSANDS = re.compile(r"[1-9]\d{0,2},\d{3}")
_EXAMPLES = 'Write it like 18, 17.6 mm, 23/32 in, 1 1/2" or 5\' 3".'


@dataclass(frozen=True, slots=True)
class Size:
    """A width by a height in mm, and a count where one was written."""

    width_mm: float
    height_mm: float
    quantity: int | None = None


def unit_named(text: str) -> str:
    """The unit a word or sign stands for: "inches" → "in", "″" → "in".

    Raises BadLengthError when nobody calls a unit that.
    """
    word = _tidy(text).strip().lower()
    unit = _UNIT_OF.get(word)
    if unit is None:
        raise BadLengthError(
            f"“{_shown(text)}” is no unit of length", remedy="Use mm, cm, m, in, ft or thou."
        )
    return unit


def parse_length(
    text: str,
    default_unit: str = "mm",
    *,
    allow_negative: bool = False,
    allow_zero: bool = True,
) -> float:
    """The length a text means, in mm.

    text: a number with or without a unit (mm, cm, m, in, ″, ft, ′, thou, mil …), a fraction
    (23/32), a mixed number (1 1/2, 1-1/2, 1½), feet and inches (5' 3 1/2"), or several units
    in falling order (1 m 20 cm). The decimal sign is a point or a comma.
    default_unit: what a bare number is in; after feet a bare number is inches.

    Raises BadLengthError, which says why: empty, words, not finite, division by zero, both a
    comma and a point, a comma that may group thousands, or below zero where that is not
    allowed. Nothing is ever guessed.

    >>> parse_length("23/32 in")
    18.25625
    >>> parse_length("2,5", "cm")
    25.0
    """
    unit_if_bare = unit_named(default_unit)
    shown = _shown(text)
    tidy = _tidy(text).strip()
    if not tidy:
        raise BadLengthError("No length was given", remedy=_EXAMPLES)
    if len(tidy) > _LONGEST_TEXT:
        raise BadLengthError(f"“{shown}” is too long to be a length", remedy=_EXAMPLES)
    negative = tidy[0] == "-"
    body = tidy[1:] if tidy[0] in "+-" else tidy
    if _TWO_MARKS.search(body):
        raise BadLengthError(
            f"“{shown}” has more than one decimal sign, so it can be read in two ways",
            remedy="Write it without marks between thousands, like 1234.5.",
        )
    exact = _total(body, unit_if_bare, shown)
    value = float(exact) if exact <= _LARGEST_MM else math.inf
    if not math.isfinite(value):
        raise BadLengthError(f"“{shown}” is too large to be a length", remedy="Check the unit.")
    if negative and value and not allow_negative:
        raise BadLengthError(f"“{shown}” is below zero", remedy="Give a length of zero or more.")
    if value == 0.0 and not allow_zero:
        raise BadLengthError(f"“{shown}” is zero", remedy="Give a length above zero.")
    return -value if negative and value else value


def parse_size(text: str, default_unit: str = "mm") -> Size:
    """The size a text like ``900x600``, ``8 × 4 ft`` or ``1220x2440x10`` means.

    A unit written only behind the last length holds for both; a third number is a count and
    carries no unit. Raises BadLengthError when a part is missing, is no positive length, or
    only the first length carries a unit that differs from default_unit.
    """
    shown = _shown(text)
    parts = [part.strip() for part in re.split(r"[x×X✕*]", _tidy(text))]
    if len(parts) not in (2, 3) or not all(parts):
        raise BadLengthError(
            f"“{shown}” is no size", remedy="Write width x height, like 900x600 or 900x600x3."
        )
    units = [_written_unit(part) for part in parts[:2]]
    if units[0] and not units[1] and units[0] != unit_named(default_unit):
        raise BadLengthError(
            f"“{shown}” gives a unit for the first length only",
            remedy="Write the unit behind the last length, or behind both.",
        )
    first_unit = units[1] if units[1] and not units[0] else default_unit
    width = parse_length(parts[0], first_unit, allow_zero=False)
    height = parse_length(parts[1], default_unit, allow_zero=False)
    if len(parts) == 2:
        return Size(width, height)
    if not (parts[2].isascii() and parts[2].isdigit()) or len(parts[2]) > 6 or int(parts[2]) < 1:
        raise BadLengthError(
            f"The count in “{shown}” is no whole number above zero",
            remedy="Write the count last, like 1220x2440x3.",
        )
    return Size(width, height, int(parts[2]))


def fine_length(length_mm: float, unit: str = "mm") -> str:
    """A length as small as a joint's play, to a thousandth of a mm or a tenth of a thou.

    >>> fine_length(0.075)
    '0.075 mm'
    >>> fine_length(0.1)
    '0.10 mm'
    """
    if unit_named(unit) in ("in", "ft", "thou"):
        return f"{length_mm / 0.0254:.1f}".removesuffix(".0") + " thou"
    whole, _, rest = f"{length_mm:.3f}".rstrip("0").partition(".")
    return f"{whole}.{rest.ljust(2, '0')} mm"


def play_words(play_mm: float, unit: str = "mm") -> str:
    """A joint's total play and what lies on each side, to a thousandth of a mm or in thou.

    >>> play_words(0.15)
    '0.15 mm across, 0.075 mm a side'
    >>> play_words(0.1524, "in")
    '6 thou across, 3 thou a side'
    """
    return f"{fine_length(play_mm, unit)} across, {fine_length(play_mm / 2, unit)} a side"


def format_length(
    length_mm: float,
    unit: str = "mm",
    *,
    precision: int | None = None,
    fraction: int | None = None,
    with_unit: bool = True,
) -> str:
    """A length as text that :func:`parse_length` reads back.

    precision: decimals kept (default about 0.01 mm); trailing zeros go unless it is given.
    fraction: show whole inches and the nearest 1/fraction instead, e.g. 64; only for "in" and
    a power of two up to 128, else BadLengthError.

    >>> format_length(18.25625, "in", fraction=64)
    '23/32 in'
    """
    name = unit_named(unit)
    if not math.isfinite(length_mm):
        raise BadLengthError("A length that is not finite cannot be shown")
    behind = f" {name}" if with_unit else ""
    if fraction is not None:
        if name != "in" or fraction not in (2, 4, 8, 16, 32, 64, 128):
            raise BadLengthError("Fractions are for inches, in halves to 128ths")
        return _as_fraction(length_mm, fraction) + behind
    value = length_mm / float(_EXACT[name])
    if precision is not None:
        text = f"{value:.{precision}f}"
    else:
        text = f"{value:.{_DECIMALS.get(name, 4)}f}"
        if "." in text:
            text = text.rstrip("0").rstrip(".")
    if float(text) == 0.0:
        text = text.lstrip("-")
    return text + behind


def format_size(width_mm: float, height_mm: float, unit: str = "mm") -> str:
    """``W × H unit`` as shown beside a panel."""
    width = format_length(width_mm, unit, with_unit=False)
    return f"{width} × {format_length(height_mm, unit)}"


def _as_fraction(length_mm: float, fraction: int) -> str:
    """Whole inches and a reduced fraction, nearest 1/fraction."""
    steps = round(abs(length_mm) / 25.4 * fraction)
    whole, rest = divmod(steps, fraction)
    sign = "-" if length_mm < 0 and steps else ""
    if not rest:
        return f"{sign}{whole}"
    part = Fraction(rest, fraction)
    text = f"{part.numerator}/{part.denominator}"
    return f"{sign}{whole} {text}" if whole else f"{sign}{text}"


def _shown(text: str) -> str:
    """The text as quoted in a message, kept short."""
    one_line = " ".join(str(text).split())
    return one_line if len(one_line) <= 40 else one_line[:39] + "…"


def _tidy(text: str) -> str:
    """Signs unified: ½ to 1/2, every quote to ' or ", every space to a plain one."""
    out: list[str] = []
    for char in str(text):
        decomposed = unicodedata.normalize("NFKC", char)
        if "⁄" in decomposed:  # a vulgar fraction such as ½
            if out and out[-1].isdigit():
                out.append(" ")
            out.append(decomposed.replace("⁄", "/"))
        elif char in "″”“„〃":
            out.append('"')
        elif char in "′’‘`´":
            out.append("'")
        elif char in "−–‐‑":
            out.append("-")
        elif char == "μ":  # Greek mu for the micro sign
            out.append("µ")
        elif char.isspace():
            out.append(" ")
        elif char.isdecimal() and not char.isascii():
            out.append(str(unicodedata.digit(char)))
        else:
            out.append(char)
    return "".join(out).replace("''", '"')


def _written_unit(part: str) -> str | None:
    """The unit the text ends in, None if it ends in a number."""
    match = re.search(r"([a-zA-Zµ]+\.?|\"|')\s*$", part)
    return unit_named(match.group(1)) if match else None


def _total(body: str, unit_if_bare: str, shown: str) -> Fraction:
    """The terms of a text added up, exact, in mm."""
    total = Fraction(0)
    at = 0
    last_factor: Fraction | None = None
    last_unit = ""
    while at < len(body):
        if last_unit == "ft":  # trade habit: 5'-3"
            dash = re.match(r"\s*-\s*", body[at:])
            at += dash.end() if dash else 0
        match = _TERM.match(body, at)
        if match is None or match.end() == at:
            raise _no_length(body, shown)
        word = match.group("unit")
        unit = _UNIT_OF.get(word.lower()) if word else None
        if word and unit is None:
            raise BadLengthError(
                f"“{shown}” has a unit nobody knows: “{_shown(word)}”",
                remedy="Use mm, cm, m, in, ft or thou.",
            )
        if unit is None:
            if last_factor is not None and last_unit != "ft":
                raise BadLengthError(
                    f"“{shown}” holds two numbers",
                    remedy="Write one length, without gaps inside a number.",
                )
            unit = "in" if last_unit == "ft" else unit_if_bare
        factor = _EXACT[unit]
        if last_factor is not None and (last_factor <= factor or not _kin(last_unit, unit)):
            raise BadLengthError(f"“{shown}” holds two lengths", remedy=_EXAMPLES)
        total += _value(match, shown) * factor
        last_factor, last_unit = factor, unit
        at = match.end()
        while at < len(body) and body[at] == " ":
            at += 1
    return total


def _kin(first: str, second: str) -> bool:
    """True if the two units may stand in one length: feet with inches, metres with cm."""
    inch_family = ("yd", "ft", "in", "thou")
    return (first in inch_family) == (second in inch_family)


def _value(match: re.Match[str], shown: str) -> Fraction:
    """The number of one term."""
    if match.group("whole"):
        low = int(match.group("mixed_low"))
        if not low:
            raise BadLengthError(f"“{shown}” divides by zero", remedy=_EXAMPLES)
        return int(match.group("whole")) + Fraction(int(match.group("mixed_top")), low)
    if match.group("top"):
        divisor = _decimal(match.group("low"), shown)
        if not divisor:
            raise BadLengthError(f"“{shown}” divides by zero", remedy=_EXAMPLES)
        return _decimal(match.group("top"), shown) / divisor
    return _decimal(match.group("number"), shown)


def _decimal(text: str, shown: str) -> Fraction:
    """A plain number, exact; the comma may be the decimal sign."""
    if _THOUSANDS.fullmatch(text):
        raise BadLengthError(
            f"The comma in “{shown}” may be a decimal sign or group thousands",
            remedy=f"Write {text.replace(',', '.')} or {text.replace(',', '')}.",
        )
    return Fraction(text.replace(",", ".").rstrip(".") or "0")


def _no_length(body: str, shown: str) -> BadLengthError:
    """Why a text is no length."""
    low = body.strip().lower()
    if low in ("nan", "inf", "infinity", "-inf"):
        return BadLengthError(f"“{shown}” is not a finite number", remedy=_EXAMPLES)
    return BadLengthError(f"“{shown}” is no length", remedy=_EXAMPLES)
