"""Plain single-stroke capitals and figures, so that a router can write on a test piece.

Each sign stands on a grid 4 wide and 6 high and is a few straight strokes; nothing is filled.
"""

from __future__ import annotations

import unicodedata

from core.geometry import Point

Stroke = tuple[Point, ...]

_ADVANCE = 5.5  # grid steps from one sign to the next
_HEIGHT = 6.0

# Strokes of each sign as pairs of figures x y on the grid, strokes parted by a blank.
_SIGNS: dict[str, str] = {
    "A": "0004264440 0242",
    "B": "00063645443303 3342413000",
    "C": "4130100105163645",
    "D": "00062644422000",
    "E": "40000646 0333",
    "F": "000646 0333",
    "G": "45361605011030414323",
    "H": "0006 4046 0343",
    "I": "1030 2026 1636",
    "J": "0110304146",
    "K": "0006 460340",
    "L": "060040",
    "M": "0006234640",
    "N": "00064046",
    "O": "100105163645413010",
    "P": "00063645443303",
    "Q": "100105163645413010 2240",
    "R": "00063645443303 2340",
    "S": "0110304142330405163645",
    "T": "0646 2620",
    "U": "060110304146",
    "V": "062046",
    "W": "0610233046",
    "X": "0046 0640",
    "Y": "062346 2320",
    "Z": "06460040",
    "0": "100105163645413010 0145",
    "1": "152620 1030",
    "2": "05163645440040",
    "3": "0516364544334241301001 1333",
    "4": "30360242",
    "5": "460603334241301001",
    "6": "4536160501103041423303",
    "7": "064610",
    "8": "13334445361605041302011030414233",
    "9": "0110304145361605041343",
    ".": "2021",
    ",": "2110",
    "-": "1333",
    "+": "1333 2125",
    "/": "0046",
    ">": "054301",
    "<": "450341",
    "=": "0242 0444",
    "(": "36242230",
    ")": "16343210",
    '"': "1614 3634",
    "%": "0046 1516 3031",
}


def _strokes_of(sign: str) -> list[Stroke]:
    text = _SIGNS.get(sign)
    if text is None:
        return []
    return [
        tuple((float(part[i]), float(part[i + 1])) for i in range(0, len(part), 2))
        for part in text.split()
    ]


def text_width(text: str, height_mm: float) -> float:
    """Length of a line of text, mm."""
    return max(0.0, (len(text) * _ADVANCE - (_ADVANCE - 4.0)) * height_mm / _HEIGHT)


def text_strokes(
    text: str, at: Point, height_mm: float, *, centred: bool = False
) -> tuple[Stroke, ...]:
    """A line of text as strokes, mm; `at` is its lower left, or the middle of its foot.

    Small letters become capitals, marks on letters are dropped, a sign that is not known
    leaves a blank.
    """
    plain = unicodedata.normalize("NFKD", text.upper()).encode("ascii", "ignore").decode()
    scale = height_mm / _HEIGHT
    x = at[0] - (text_width(plain, height_mm) / 2 if centred else 0.0)
    out: list[Stroke] = []
    for sign in plain:
        for stroke in _strokes_of(sign):
            out.append(tuple((x + px * scale, at[1] + py * scale) for px, py in stroke))
        x += _ADVANCE * scale
    return tuple(out)
