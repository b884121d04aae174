"""What goes into nesting and what comes out: values only, no search.

A placement says how a piece lies on a sheet: its polygon, mirrored x → −x if ``mirrored``,
turned ``turn_deg`` degrees counter-clockwise about (0, 0), then moved by (x_mm, y_mm); the
result is in sheet coordinates. Copies of pieces and of sheets count from 1.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import NamedTuple

import shapely
from shapely import affinity
from shapely.geometry.base import BaseGeometry

from core.errors import InvalidRequestError


class Placement(NamedTuple):
    """Where one copy of a piece lies. Unpacks in this order; lengths in mm, degrees CCW."""

    piece_id: str
    copy: int
    sheet_id: str
    sheet_copy: int
    x_mm: float
    y_mm: float
    turn_deg: float
    mirrored: bool


class Unplaced(NamedTuple):
    """One copy of a piece that found no place, and why, in a sentence."""

    piece_id: str
    copy: int
    reason: str


@dataclass(frozen=True, slots=True)
class NestPiece:
    """A piece to be cut ``quantity`` times.

    polygon: shapely Polygon or MultiPolygon, mm, in the piece's own frame. turns_deg: allowed
    turns, degrees; None: any angle. may_mirror: the piece may be cut face down. priority:
    greater is placed first when sheets run short. group: pieces of one group should share a
    sheet where that costs nothing. filler: placed only where waste allows, never opens a sheet.
    """

    id: str
    polygon: BaseGeometry
    quantity: int = 1
    turns_deg: tuple[float, ...] | None = (0.0, 180.0)
    may_mirror: bool = False
    priority: int = 0
    group: str | None = None
    filler: bool = False


@dataclass(frozen=True, slots=True)
class NestSheet:
    """A sheet or offcut, ``quantity`` of them (None: as many as needed).

    polygon: its outline, mm; holes in it are not board. cost: of one sheet, any currency
    (None: its area). keep_outs: polygons in sheet coordinates that no piece may touch.
    """

    id: str
    polygon: BaseGeometry
    quantity: int | None = None
    cost: float | None = None
    keep_outs: tuple[BaseGeometry, ...] = ()

    @property
    def cost_of_one(self) -> float:
        """The cost of one sheet; its area in mm² if none was given."""
        return float(self.polygon.area) if self.cost is None else float(self.cost)


@dataclass(frozen=True, slots=True)
class NestRules:
    """Distances every layout keeps.

    spacing_mm: between any two pieces. edge_margin_mm: between a piece and any edge of the
    sheet. use_holes: pieces may lie in the holes of others (the hole is cut after them).
    """

    spacing_mm: float = 0.0
    edge_margin_mm: float = 0.0
    use_holes: bool = True


@dataclass(frozen=True, slots=True)
class Layout:
    """Pieces on sheets, proven valid, with what the search knows about it.

    placements: sheet by sheet; a piece lying in the hole of another comes before it, for it
    is cut first. unplaced: every copy that found no place, with the reason. steps: position
    evaluations spent. seed: the one given. bound: no layout of the placed pieces opens fewer
    sheets than this. used_length_mm: x extent of the pieces on the last sheet. cost: of the
    sheets opened. optimal: the number of sheets cannot be bettered.
    """

    placements: tuple[Placement, ...] = ()
    unplaced: tuple[Unplaced, ...] = ()
    steps: int = 0
    seed: int = 0
    bound: int = 0
    used_length_mm: float = 0.0
    cost: float = 0.0
    optimal: bool = field(default=False)

    @property
    def sheets(self) -> tuple[tuple[str, int], ...]:
        """The (sheet id, copy) pairs that carry pieces, in the order of the placements."""
        return tuple(dict.fromkeys((p.sheet_id, p.sheet_copy) for p in self.placements))


def placed_polygon(polygon: BaseGeometry, placement: Placement) -> BaseGeometry:
    """The polygon as it lies on the sheet, in sheet coordinates, mm.

    >>> from shapely.geometry import box
    >>> placed_polygon(box(0, 0, 2, 1), Placement("a", 1, "s", 1, 5, 0, 90, False)).bounds
    (4.0, 0.0, 5.0, 2.0)
    """
    if not placement.mirrored and placement.turn_deg % 360 == 0:
        matrix = (1.0, 0.0, 0.0, 1.0, placement.x_mm, placement.y_mm)
        return affinity.affine_transform(polygon, matrix)
    cos, sin = cos_sin(placement.turn_deg)
    flip = -1.0 if placement.mirrored else 1.0
    matrix = (flip * cos, -sin, flip * sin, cos, placement.x_mm, placement.y_mm)
    return affinity.affine_transform(polygon, matrix)


def cos_sin(turn_deg: float) -> tuple[float, float]:
    """Cosine and sine, exact at right angles.

    >>> cos_sin(90)
    (0.0, 1.0)
    """
    quarter = turn_deg / 90.0
    if quarter == round(quarter):
        return ((1.0, 0.0), (0.0, 1.0), (-1.0, 0.0), (0.0, -1.0))[round(quarter) % 4]
    return math.cos(math.radians(turn_deg)), math.sin(math.radians(turn_deg))


def check_request(
    pieces: tuple[NestPiece, ...], sheets: tuple[NestSheet, ...], rules: NestRules
) -> None:
    """Raise InvalidRequestError if the request contradicts itself."""
    for name, value in (("spacing", rules.spacing_mm), ("edge margin", rules.edge_margin_mm)):
        if not (math.isfinite(value) and value >= 0):
            raise InvalidRequestError(
                f"The {name} is {value:g} mm", "nesting", "Give a length of zero or more."
            )
    _check_ids([piece.id for piece in pieces], "piece")
    _check_ids([sheet.id for sheet in sheets], "sheet")
    for piece in pieces:
        if piece.quantity < 0:
            raise InvalidRequestError(
                f"The quantity is {piece.quantity}", f"piece {piece.id}", "Give zero or more."
            )
        if piece.turns_deg is not None and not piece.turns_deg:
            raise InvalidRequestError(
                "No turn is allowed", f"piece {piece.id}", "Allow at least 0°, or any angle."
            )
        if piece.turns_deg and not all(math.isfinite(turn) for turn in piece.turns_deg):
            raise InvalidRequestError(
                "A turn is no number", f"piece {piece.id}", "Give turns in degrees."
            )
    for sheet in sheets:
        where = f"sheet {sheet.id}"
        if sheet.quantity is not None and sheet.quantity < 0:
            raise InvalidRequestError(
                f"The quantity is {sheet.quantity}", where, "Give zero or more, or None."
            )
        if sheet.cost is not None and not (math.isfinite(sheet.cost) and sheet.cost >= 0):
            raise InvalidRequestError(f"The cost is {sheet.cost}", where, "Give zero or more.")
        finite = bool(shapely.is_valid_input(sheet.polygon).all()) and all(
            math.isfinite(value) for value in sheet.polygon.bounds
        )
        if not finite or sheet.polygon.is_empty or not sheet.polygon.area > 0:
            raise InvalidRequestError("The sheet has no area", where, "Check its outline.")


def _check_ids(ids: list[str], kind: str) -> None:
    seen: set[str] = set()
    for one in ids:
        if one in seen:
            raise InvalidRequestError(
                f"Two {kind}s have the id {one}", "nesting", "Give each an id of its own."
            )
        seen.add(one)
