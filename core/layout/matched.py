"""Pieces that lie side by side in the order of their panel, so that the grain runs through.

For the search they are one body: the pieces of a copy, drawn apart just so far that the
spacing is kept. Where the body lies, its pieces lie.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import combinations

import shapely
from shapely import affinity
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

from core.geometry import Point
from core.layout.rooms import Size, fits_rooms
from core.nesting import Layout, NestPiece, NestSheet, Placement
from core.nesting.model import Unplaced, cos_sin
from core.plan import PlanPiece
from core.project.model import Placed, Together
from core.tolerances import MATCHED_ACROSS_MM, MATCHED_ALONG_MM, MATCHED_MM

_HALVINGS = 40
_DOUBLINGS = 24
_ROW_MOST = 0.5  # shapes not apart when drawn out by half the row are no row


@dataclass(frozen=True, slots=True)
class Body:
    """The pieces of a panel as one. members: (piece id, shift from the panel's frame, mm)."""

    piece: NestPiece
    members: tuple[tuple[str, Point], ...]


def spread(shapes: Sequence[BaseGeometry], spacing_mm: float) -> list[Point]:
    """How far to move each shape so that all keep the spacing: away from their common middle,
    in proportion, and no farther than needed. Shapes in a row move along the row alone.

    >>> from shapely.geometry import box
    >>> [(round(x, 3), round(y, 3)) for x, y in spread([box(0, 0, 2, 1), box(2, 0, 4, 1)], 0.5)]
    [(-0.25, 0.0), (0.25, 0.0)]
    """
    middles = [(shape.centroid.x, shape.centroid.y) for shape in shapes]
    x0 = sum(x for x, _ in middles) / len(middles)
    y0 = sum(y for _, y in middles) / len(middles)

    wide = max(x for x, _ in middles) - min(x for x, _ in middles)
    high_ = max(y for _, y in middles) - min(y for _, y in middles)
    axis = (1.0, 0.0) if wide >= high_ else (0.0, 1.0)

    def shifts(share: float) -> list[Point]:
        return [((x - x0) * share * axis[0], (y - y0) * share * axis[1]) for x, y in middles]

    def apart(share: float) -> bool:
        moved = [
            affinity.translate(shape, *shift)
            for shape, shift in zip(shapes, shifts(share), strict=True)
        ]
        return all(a.distance(b) >= spacing_mm for a, b in combinations(moved, 2))

    if not apart(_ROW_MOST):
        axis = (1.0, 1.0)
    high = 1e-3
    for _ in range(_DOUBLINGS):
        if apart(high):
            break
        high *= 2.0
    low = 0.0
    for _ in range(_HALVINGS):
        middle = (low + high) / 2
        low, high = (low, middle) if apart(middle) else (middle, high)
    return shifts(high)


def bodies_of(
    pieces: Sequence[PlanPiece],
    nested: Sequence[NestPiece],
    rooms: Sequence[Size],
    spacing_mm: float,
    apart: Collection[str] = (),
) -> list[Body]:
    """A body for every panel whose pieces are to keep their order, if one of the rooms (width,
    height, mm) takes it. apart: ids of pieces that must not become part of one."""
    by_id = {piece.id: piece for piece in nested}
    found = []
    for panel, members in in_order(pieces).items():
        ready = [by_id[p.id] for p in members if p.id in by_id and p.id not in apart]
        if len(ready) != len(members) or len({p.quantity for p in ready}) != 1:
            continue
        turns = common_turns(p.turns_deg for p in ready)
        if turns is not None and not turns:
            continue
        shifts = spread([p.polygon for p in ready], spacing_mm)
        polygon = _joined([p.polygon for p in ready], shifts, spacing_mm)
        if not fits_rooms(polygon, turns, rooms):
            continue
        body = replace(
            ready[0],
            id=f"{panel}\nall",
            polygon=polygon,
            turns_deg=turns,
            may_mirror=all(p.may_mirror for p in ready),
            group=None,
        )
        found.append(Body(body, tuple((p.id, s) for p, s in zip(ready, shifts, strict=True))))
    return found


def bound(
    bodies: Sequence[Body], nested: Sequence[NestPiece], start: Layout | None
) -> tuple[list[NestPiece], Layout | None]:
    """Pieces and start for the search, members given as their bodies. Members that do not lie
    in order in the start are laid anew."""
    members = {piece for body in bodies for piece, _ in body.members}
    pieces = [p for p in nested if p.id not in members] + [body.piece for body in bodies]
    if start is None:
        return pieces, None
    placements = [p for p in start.placements if p.piece_id not in members]
    at = {(p.piece_id, p.copy): p for p in start.placements}
    for body in bodies:
        for copy in range(1, body.piece.quantity + 1):
            lying = [at.get((piece, copy)) for piece, _ in body.members]
            spots = [
                _moved(p, (-x, -y))._replace(piece_id=body.piece.id)
                for p, (_, (x, y)) in zip(lying, body.members, strict=True)
                if p is not None
            ]
            if len(spots) == len(body.members) and all(_alike(spots[0], s) for s in spots):
                placements.append(spots[0])
    return pieces, replace(start, placements=tuple(placements))


def freed(bodies: Sequence[Body], layout: Layout) -> Layout:
    """The layout with bodies taken apart again."""
    by_id = {body.piece.id: body for body in bodies}
    placements: list[Placement] = []
    for p in layout.placements:
        body = by_id.get(p.piece_id)
        if body is None:
            placements.append(p)
        else:
            placements += [_moved(p, by)._replace(piece_id=one) for one, by in body.members]
    lost = []
    for u in layout.unplaced:
        body = by_id.get(u.piece_id)
        ids = [u.piece_id] if body is None else [one for one, _ in body.members]
        lost += [Unplaced(one, u.copy, u.reason) for one in ids]
    return replace(layout, placements=tuple(placements), unplaced=tuple(lost))


def unmatched(
    pieces: Sequence[PlanPiece], placed: Sequence[Placed], spacing_mm: float
) -> list[tuple[str, int]]:
    """(panel, copy) of those whose pieces were to lie in order and do not."""
    return [key for key, in_line, _ in _panels(pieces, placed, spacing_mm) if not in_line]


def matched_keys(
    pieces: Sequence[PlanPiece], placed: Sequence[Placed], spacing_mm: float
) -> set[tuple[str, int]]:
    """(piece, copy) of all that lie in the order they are to lie in."""
    found: set[tuple[str, int]] = set()
    for (_, copy), in_line, ids in _panels(pieces, placed, spacing_mm):
        if in_line:
            found |= {(piece, copy) for piece in ids}
    return found


def _panels(
    pieces: Sequence[PlanPiece], placed: Sequence[Placed], spacing_mm: float
) -> Iterator[tuple[tuple[str, int], bool, list[str]]]:
    """(panel, copy), whether its pieces lie in order, and their ids; only where all lie."""
    at = {(p.piece, p.copy): p for p in placed}
    for panel, members in in_order(pieces).items():
        shifts = spread([p.cut.polygon for p in members], spacing_mm)
        for copy in sorted({copy for piece, copy in at if piece == members[0].id}):
            lying = [at[(p.id, copy)] for p in members if (p.id, copy) in at]
            if len(lying) == len(members):
                yield (panel, copy), _in_line(lying, shifts), [p.id for p in members]


def in_order(pieces: Sequence[PlanPiece]) -> dict[str, list[PlanPiece]]:
    """Panels cut into several pieces that are to keep their order."""
    panels: dict[str, list[PlanPiece]] = {}
    for piece in pieces:
        if piece.together is Together.ORDER and not piece.loose and piece.quantity == 1:
            panels.setdefault(piece.panel, []).append(piece)
    return {panel: members for panel, members in panels.items() if len(members) > 1}


def common_turns(turns: Iterable[tuple[float, ...] | None]) -> tuple[float, ...] | None:
    """What all of them allow; None: any angle."""
    common: tuple[float, ...] | None = None
    for own in turns:
        if own is not None:
            common = own if common is None else tuple(t for t in common if t in own)
    return common


def _joined(shapes: Sequence[BaseGeometry], shifts: Sequence[Point], spacing_mm: float) -> Polygon:
    """One outline round all of them; the gaps between neighbours are closed."""
    moved = [affinity.translate(s, *by) for s, by in zip(shapes, shifts, strict=True)]
    together = shapely.union_all(moved)
    reach = 0.6 * spacing_mm + 0.01
    for _ in range(_DOUBLINGS):
        wide = together.buffer(reach, join_style="mitre").buffer(-reach, join_style="mitre")
        closed = wide.union(together)
        if isinstance(closed, Polygon):
            return closed
        reach *= 2.0
    return together.convex_hull


def _moved(placement: Placement, by: Point) -> Placement:
    """The placement of what is drawn so far from the piece's own place."""
    dx, dy = _turned(by, placement.turn_deg, placement.mirrored)
    return placement._replace(x_mm=placement.x_mm + dx, y_mm=placement.y_mm + dy)


def _turned(by: Point, turn_deg: float, mirrored: bool) -> Point:
    cos, sin = cos_sin(turn_deg)
    x, y = (-by[0] if mirrored else by[0]), by[1]
    return cos * x - sin * y, sin * x + cos * y


def _alike(a: Placement, b: Placement) -> bool:
    same = (a.sheet_id, a.sheet_copy, a.mirrored) == (b.sheet_id, b.sheet_copy, b.mirrored)
    return (
        same
        and (a.turn_deg - b.turn_deg) % 360 == 0
        and math.hypot(a.x_mm - b.x_mm, a.y_mm - b.y_mm) <= MATCHED_MM
    )


def _in_line(placed: Sequence[Placed], shifts: Sequence[Point]) -> bool:
    """True if the pieces lie as in their panel, but for some distance between them."""
    first = placed[0]
    for one, shift in zip(placed, shifts, strict=True):
        if (one.sheet, one.sheet_copy) != (first.sheet, first.sheet_copy):
            return False
        motion, base = one.motion, first.motion
        if motion.mirrored != base.mirrored or (motion.turn_deg - base.turn_deg) % 360 != 0:
            return False
        by = (shift[0] - shifts[0][0], shift[1] - shifts[0][1])
        dx, dy = _turned(by, motion.turn_deg, motion.mirrored)
        off_x, off_y = motion.x_mm - base.x_mm - dx, motion.y_mm - base.y_mm - dy
        length = math.hypot(dx, dy)
        if length == 0:
            if math.hypot(off_x, off_y) > MATCHED_ACROSS_MM:
                return False
            continue
        along = (off_x * dx + off_y * dy) / length
        across = (off_x * dy - off_y * dx) / length
        far = MATCHED_ALONG_MM * (len(placed) - 1)
        if abs(across) > MATCHED_ACROSS_MM or not -MATCHED_ACROSS_MM <= along <= far:
            return False
    return True


def rooms_of(sheets: Sequence[NestSheet], margin_mm: float) -> list[Size]:
    """Width and height of what each sheet leaves within its margin and beside its keep-outs."""
    found = []
    for sheet in sheets:
        room = sheet.polygon.difference(shapely.union_all(sheet.keep_outs))
        if not room.is_empty:
            x1, y1, x2, y2 = room.bounds
            found.append((x2 - x1 - 2 * margin_mm, y2 - y1 - 2 * margin_mm))
    return found
