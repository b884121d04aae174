"""Changed pieces put back where they lay, or into a blank that they just fill.

A blank made to measure has not a hair to spare, and a search that nests among many pieces keeps
a hair clear of everything. So what lay on a sawn blank and was changed is first tried where it
was, then in the corners of every sawn blank, checked exactly.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

import shapely
from shapely import affinity
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

from core.geometry import Motion
from core.layout.arrangement import room_of
from core.layout.ground import Ground, Key
from core.nesting import Placement
from core.plan import PlanPiece
from core.project.model import KeptLayout
from core.tolerances import LAYOUT_DISTANCE_MM


def put_back(
    homeless: Sequence[Key],
    start: KeptLayout,
    ground: Ground,
    lying: Sequence[Placement],
    pieces: Mapping[str, PlanPiece],
    *,
    spacing_mm: float,
) -> list[Placement]:
    """Places on sawn blanks for some of the homeless copies, clear of all that lies there.

    homeless: (piece, copy). start: the layout in which they lay. lying: what has its place.
    """
    rooms: dict[str, list[BaseGeometry]] = {}
    keys: dict[Key, str] = {}
    for key in ground.frozen_keys:
        offer = ground.offers[key]
        if offer.frozen is None or offer.arrangement.through:
            continue  # what is pushed through must be cut whole in one stop as well
        keys[(offer.frozen.sheet, offer.frozen.sheet_copy)] = key
        closed = shapely.union_all([d.polygon for d in offer.arrangement.stock.defects])
        rooms[key] = [
            affinity.translate(room_of(offer.arrangement, b, ground.shop), b[0], b[1])
            .difference(closed)
            .buffer(LAYOUT_DISTANCE_MM, join_style="mitre")
            for b in offer.arrangement.blanks
        ]
    there: dict[str, list[Polygon]] = {key: [] for key in rooms}
    for p in lying:
        if p.sheet_id in there:
            motion = Motion(p.x_mm, p.y_mm, p.turn_deg, p.mirrored)
            there[p.sheet_id].append(pieces[p.piece_id].cut.moved(motion).polygon)
    was = {
        (p.piece, p.copy): (keys[(p.sheet, p.sheet_copy)], p.motion)
        for p in start.placed
        if (p.sheet, p.sheet_copy) in keys
    }
    found: list[Placement] = []
    # Each goes back to its own place before any looks for another's.
    for only_own in (True, False):
        for name, copy in homeless:
            if any((p.piece_id, p.copy) == (name, copy) for p in found):
                continue
            own = was.get((name, copy))
            tries: Iterator[tuple[str, Motion]] = iter(() if own is None else (own,))
            if not only_own:
                tries = _corners(pieces[name], rooms)
            for key, motion in tries:
                shape = pieces[name].cut.moved(motion).polygon
                near = spacing_mm - LAYOUT_DISTANCE_MM
                if any(room.covers(shape) for room in rooms[key]) and all(
                    shape.distance(other) >= near for other in there[key]
                ):
                    there[key].append(shape)
                    at = (motion.x_mm, motion.y_mm, motion.turn_deg, motion.mirrored)
                    found.append(Placement(name, copy, key, 1, *at))
                    break
    return found


def _corners(
    piece: PlanPiece, rooms: Mapping[str, Sequence[BaseGeometry]]
) -> Iterator[tuple[str, Motion]]:
    """The piece in every corner of every room, in every turn it may take."""
    turns = piece.turns_deg if piece.turns_deg is not None else (0.0, 90.0, 180.0, 270.0)
    for key, parts in rooms.items():
        for room in parts:
            if room.is_empty:
                continue
            slack = LAYOUT_DISTANCE_MM
            low_x, low_y, high_x, high_y = room.bounds
            for turn in turns:
                x1, y1, x2, y2 = piece.cut.moved(Motion(turn_deg=turn)).bounds
                if x2 - x1 > high_x - low_x or y2 - y1 > high_y - low_y:
                    continue
                for x in dict.fromkeys((low_x + slack - x1, high_x - slack - x2)):
                    for y in dict.fromkeys((low_y + slack - y1, high_y - slack - y2)):
                        yield key, Motion(x, y, turn)
