"""What keeps every piece and every slug where it is once the bit has cut it free.

A loose part in front of a turning bit is thrown. So each outline and each cut-out gets a hold
that is said: tabs, a skin, suction, a screw inside it, or, where nothing could hold it, it is
milled away whole. Tabs stay off the flanks of seams, where what is left of them would have to
be pared from a fitted joint.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import shapely
from shapely.geometry import Point as ShapelyPoint
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

from core.bed.tabs import LEAST_TABS, tab_places
from core.geometry import Point
from core.shop import Hold, Rules
from core.tolerances import ON_WALL_MM

#: Suction holds a part of at least this area (common practice, no source).
VACUUM_LEAST_MM2 = 20_000.0
#: A slug narrower than this many bit diameters is milled away rather than held.
MILLED_DIAMETERS = 2.0
#: A board is screwed down no nearer to its edge than this (common practice, no source).
SCREW_TO_EDGE_MM = 12.0
#: Screws closer together than this hold as one.
SCREWS_APART_MM = 60.0

MILLED = "milled away"


@dataclass(frozen=True, slots=True)
class Held:
    """How one freed part is held. way: of Hold, or MILLED. places: of tabs or of the screw."""

    way: str
    places: tuple[Point, ...] = ()


def hold_piece(
    outline: Polygon,
    rules: Rules,
    *,
    bit_mm: float,
    flanks: BaseGeometry | None = None,
    vacuum: BaseGeometry | None = None,
) -> Held:
    """The hold of a piece whose outline is cut last.

    outline: as it lies; flanks: lines no tab may stand on; vacuum: where suction holds, in the
    same coordinates. Where the chosen hold cannot be had the next one is taken: suction, tabs,
    skin. A finished piece is never screwed.
    """
    if rules.hold is Hold.VACUUM and _sucked(outline, vacuum):
        return Held(Hold.VACUUM)
    if rules.hold is not Hold.SKIN:
        places = tab_places(outline.exterior, rules.tab_mm, bit_mm=bit_mm, flanks=flanks)
        if len(places) >= LEAST_TABS:
            return Held(Hold.TABS, places)
    return Held(Hold.SKIN)


def hold_slug(
    hole: Polygon,
    rules: Rules,
    *,
    bit_mm: float,
    flanks: BaseGeometry | None = None,
    vacuum: BaseGeometry | None = None,
    carries: bool = False,
) -> Held:
    """The hold of what falls out of a cut-out.

    hole: its outline; the bit runs inside it. carries: pieces are cut from it first. A slug too
    small to hold is milled away; with screws, one goes into the slug at the stated distance
    from the bit's path.
    """
    slug = hole.buffer(-bit_mm)
    core = hole.buffer(-bit_mm - MILLED_DIAMETERS * bit_mm / 2)
    if core.is_empty and not carries:
        return Held(MILLED)
    if rules.hold is Hold.SCREWS and not carries:
        inside = hole.buffer(-bit_mm - rules.screw_clear_mm)
        if not inside.is_empty:
            at = inside.representative_point()
            return Held(Hold.SCREWS, ((at.x, at.y),))
    parts = [p for p in shapely.get_parts(slug) if isinstance(p, Polygon)]
    if rules.hold is Hold.VACUUM and parts and all(_sucked(p, vacuum) for p in parts):
        return Held(Hold.VACUUM)
    if rules.hold is not Hold.SKIN:
        places = tab_places(hole.exterior, rules.tab_mm, bit_mm=bit_mm, flanks=flanks)
        if len(places) >= LEAST_TABS:
            return Held(Hold.TABS, places)
    return Held(Hold.SKIN)


def _sucked(part: Polygon, vacuum: BaseGeometry | None) -> bool:
    return vacuum is not None and part.area >= VACUUM_LEAST_MM2 and vacuum.covers(part)


def notch_walls(outline: Polygon, thickness_mm: float) -> BaseGeometry | None:
    """Walls and floors of the notches that a board of that thickness, or a thinner one, enters.

    Cross-halvings, bridles and the gaps of a drawn comb: what is left of a tab there would have
    to be pared from a fitted joint. None if the outline has no such notch. Own derivation: what
    closing the outline by r fills is a notch up to 2 r wide, if a disc of 0.2 r goes into it; in
    the rounding of a square inside corner only one of 0.17 r does.
    """
    filled = Polygon(outline.exterior)
    walls = []
    for radius in (thickness_mm, thickness_mm / 3):
        closed = filled.buffer(radius, quad_segs=8).buffer(-radius, quad_segs=8)
        for part in shapely.get_parts(closed.difference(filled)):
            if not part.buffer(-0.2 * radius).is_empty:
                walls.append(part.buffer(ON_WALL_MM).intersection(filled.exterior))
    return shapely.union_all(walls) if walls else None


def screw_places(
    board: BaseGeometry,
    pieces: Sequence[Polygon],
    *,
    bit_mm: float,
    clear_mm: float,
    closed: Sequence[BaseGeometry] = (),
) -> tuple[Point, ...]:
    """Where the waste of a board can be screwed down: up to one place near each corner.

    board: its sound part as it is, with any corner it lacks. pieces: as they lie on it.
    clear_mm: from a screw's middle to any path of the bit's edge, which runs a bit's diameter
    outside a piece; so nothing is struck. closed: other spots to keep off, such as holes for
    pins.
    """
    keep = bit_mm + clear_mm
    free: BaseGeometry = board.buffer(-SCREW_TO_EDGE_MM, join_style="mitre")
    shut = [piece.buffer(keep) for piece in pieces]
    shut += [spot.buffer(clear_mm) for spot in closed]
    # In a cut-out the waste is loose once it is cut: only the frame round all pieces is held.
    shut = [Polygon(p.exterior) if isinstance(p, Polygon) else p for p in shut]
    if shut:
        free = free.difference(shapely.union_all(shut))
    if free.is_empty:
        return ()
    x1, y1, x2, y2 = board.bounds
    found: list[Point] = []
    for corner in ((x1, y1), (x2, y2), (x2, y1), (x1, y2)):
        spot = shapely.shortest_line(free, ShapelyPoint(corner)).coords[0]
        at = (float(spot[0]), float(spot[1]))
        if all(math.dist(at, other) >= SCREWS_APART_MM for other in found):
            found.append(at)
    return tuple(sorted(found))
