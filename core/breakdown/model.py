"""What the breakdown of sheets speaks in: parts, sheets, cuts, blanks.

A cut is the centre line of the saw's kerf. Rectangles are given by their lower left corner
and their size as they lie on the sheet. The small records are named tuples, so they unpack
like the plain tuples they are.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple


class Rect(NamedTuple):
    """An upright rectangle: lower left corner and size, mm."""

    x_mm: float
    y_mm: float
    width_mm: float
    height_mm: float

    @property
    def right_mm(self) -> float:
        """x of the right edge, mm."""
        return self.x_mm + self.width_mm

    @property
    def top_mm(self) -> float:
        """y of the top edge, mm."""
        return self.y_mm + self.height_mm

    @property
    def area_mm2(self) -> float:
        """Width times height, mm²."""
        return self.width_mm * self.height_mm


class SawCut(NamedTuple):
    """A straight cut: the kerf's centre line from edge to edge of the part present then, mm."""

    x1_mm: float
    y1_mm: float
    x2_mm: float
    y2_mm: float

    @property
    def upright(self) -> bool:
        """True if the cut runs along y."""
        return abs(self.x2_mm - self.x1_mm) <= abs(self.y2_mm - self.y1_mm)

    @property
    def length_mm(self) -> float:
        """How far the saw travels through the board, mm."""
        return max(abs(self.x2_mm - self.x1_mm), abs(self.y2_mm - self.y1_mm))

    @property
    def position_mm(self) -> float:
        """x of an upright cut, y of a level one, mm."""
        return self.x1_mm if self.upright else self.y1_mm


@dataclass(frozen=True, slots=True)
class SawPart:
    """A rectangular part to be sawn.

    width_mm (along x of the sheet) and height_mm: finished size. quantity: copies, or None for
    as many as fit. may_turn: may lie turned by 90° (False where the grain decides). value: of
    one copy; None means its area in mm².
    """

    id: str
    width_mm: float
    height_mm: float
    quantity: int | None = 1
    may_turn: bool = True
    value: float | None = None


@dataclass(frozen=True, slots=True)
class SawSheet:
    """A sheet or offcut to saw from. quantity None: as many as needed. cost None: its area."""

    id: str
    width_mm: float
    height_mm: float
    quantity: int | None = None
    cost: float | None = None


class PlacedPart(NamedTuple):
    """A part on a sheet, size as it lies there (a turned part's width is the part's height)."""

    part_id: str
    x_mm: float
    y_mm: float
    width_mm: float
    height_mm: float
    turned: bool

    @property
    def rect(self) -> Rect:
        """The part's rectangle on the sheet."""
        return Rect(self.x_mm, self.y_mm, self.width_mm, self.height_mm)


@dataclass(frozen=True, slots=True)
class SheetCuts:
    """One sheet taken from the stock and sawn.

    copy counts from 1 among the sheets of this id. cuts: in order, first cut first. offcuts:
    what is left whole when all parts are free; together with the parts and the kerfs they are
    the sheet.
    """

    sheet_id: str
    copy: int
    width_mm: float
    height_mm: float
    cost: float
    cuts: tuple[SawCut, ...]
    parts: tuple[PlacedPart, ...]
    offcuts: tuple[Rect, ...]

    @property
    def part_area_mm2(self) -> float:
        """Area of the parts on the sheet, mm²."""
        return sum(part.width_mm * part.height_mm for part in self.parts)

    @property
    def used_share(self) -> float:
        """Part area over sheet area, 0 to 1."""
        return self.part_area_mm2 / (self.width_mm * self.height_mm)


@dataclass(frozen=True, slots=True)
class UnplacedPart:
    """Copies of a part that found no place, and why."""

    part_id: str
    count: int
    reason: str


@dataclass(frozen=True, slots=True)
class SawPlan:
    """The result: sheets sawn, what found no place, and what it comes to.

    cost: of the sheets used. value: of the parts placed. bound: the least cost (all placed) or
    greatest value (not all placed) any plan can have, as far as it could be shown; proven says
    whether the plan reaches it. steps: search steps taken.
    """

    sheets: tuple[SheetCuts, ...]
    unplaced: tuple[UnplacedPart, ...]
    cost: float
    value: float
    bound: float
    proven: bool
    steps: int


@dataclass(frozen=True, slots=True)
class Blank:
    """A rectangle sawn from a sheet for the router, placed on that sheet, mm.

    id: the letter written on it.
    """

    id: str
    x_mm: float
    y_mm: float
    width_mm: float
    height_mm: float

    @property
    def rect(self) -> Rect:
        """The blank's rectangle on the sheet."""
        return Rect(self.x_mm, self.y_mm, self.width_mm, self.height_mm)


def letter(index: int) -> str:
    """A, B … Z, AA, AB …: the name of the index-th thing, counted from 0.

    >>> letter(0), letter(25), letter(26)
    ('A', 'Z', 'AA')
    """
    name = ""
    index += 1
    while index:
        index, rest = divmod(index - 1, 26)
        name = chr(ord("A") + rest) + name
    return name
