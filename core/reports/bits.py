"""What each bit does in one clamping: length of cut and entries, to judge the time by.

No feed is guessed. Lengths are of the bit's centre, once round at one depth; who cuts in
several passes multiplies. Pockets are counted at a step-over of half the bit's diameter
(common practice, no source).
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass

from shapely.geometry import LineString, Polygon

from core.geometry import Ring
from core.joints.bits import PieceAccess
from core.outlines.model import Face, Feature, Role
from core.plan import PlanPiece, polygon_parts
from core.project.model import CutBy
from core.shop import Cutter, Shop
from core.tolerances import LAYOUT_DISTANCE_MM

STEP_OVER = 0.5
_SAGITTA_MM = 0.05
_HAIR_MM = LAYOUT_DISTANCE_MM  # a groove this much narrower than the bit still counts as its width


@dataclass(frozen=True, slots=True)
class BitJob:
    """One kind of work with one bit.

    job: "pockets", "drilling", "engraving", "narrow places", "cut-outs" or "outlines", in the
    order they are done; narrow places are those of outlines that a thinner bit has to cut.
    diameter_mm: of the bit or drill; 0 where a hole has no diameter given. drill: True for a
    drilled hole. reached: False if some of it is narrower than every bit of the shop.
    """

    job: str
    diameter_mm: float
    name: str
    drill: bool
    length_mm: float
    entries: int
    reached: bool = True


_Add = Callable[[str, Cutter | None, float, float, int], None]
_ORDER = ("pockets", "drilling", "engraving", "narrow places", "cut-outs", "outlines")


def setup_jobs(
    shop: Shop,
    pieces: Iterable[tuple[PlanPiece, Face]],
    *,
    milled: Sequence[frozenset[int]] = (),
) -> tuple[BitJob, ...]:
    """The jobs of the pieces (each with the face that lies up), in the order of work.

    Features on the face that lies down are left out: they cannot be cut in this clamping.
    milled: for each piece the holes whose slugs are milled away whole rather than cut round.
    """
    sums: dict[tuple[str, float, str, bool, bool], tuple[float, int]] = {}

    def add(job: str, cutter: Cutter | None, diameter: float, length: float, count: int) -> None:
        size = cutter.diameter_mm if cutter is not None else diameter
        name = cutter.name if cutter is not None else ""
        key = (job, size, name, job == "drilling", cutter is not None or job == "drilling")
        old = sums.get(key, (0.0, 0))
        sums[key] = (old[0] + length, old[1] + count)

    main = shop.machine.cutter
    for index, (piece, up) in enumerate(pieces):
        whole = milled[index] if index < len(milled) else frozenset()
        for feature in piece.features:
            if feature.face is up or feature.depth_mm is None:
                _feature(add, shop, feature)
        if piece.by is CutBy.SAW:
            continue
        for number, hole in enumerate(piece.cut.holes):
            length = inside_path_mm(hole, main.radius_mm)
            if length and number in whole:
                length = pocket_path_mm(hole, main.diameter_mm)
            if length or piece.access is None:
                add("cut-outs", main if length else None, main.diameter_mm, length, 1)
        if piece.access is not None:
            _narrow(add, piece.access)
        add("outlines", main, main.diameter_mm, outside_path_mm(piece.cut.outer, main.radius_mm), 1)
    jobs = [
        BitJob(job, size, name, drill, length, count, reached)
        for (job, size, name, drill, reached), (length, count) in sums.items()
    ]
    return tuple(sorted(jobs, key=lambda j: (_ORDER.index(j.job), -j.diameter_mm, j.name)))


def _narrow(add: _Add, access: PieceAccess) -> None:
    """Places of the outline for thinner bits, and those that no bit of the shop reaches."""
    for need in access.needs:
        radius = need.cutter.radius_mm
        for spot in need.spots:
            inner = polygon_parts(spot.shape.buffer(-radius, quad_segs=16))
            length = sum(float(part.exterior.length) for part in inner) or spot.shape.length / 2
            add("narrow places", need.cutter, need.cutter.diameter_mm, length, 1)
    main = access.needs[0].cutter
    for _ in access.closed:
        add("narrow places", None, main.diameter_mm, 0.0, 1)


def outside_path_mm(ring: Ring, radius_mm: float) -> float:
    """Length of the bit's centre line once round the outside of a ring."""
    shape = Polygon(ring.flattened(_SAGITTA_MM)).buffer(radius_mm, quad_segs=16)
    return sum(float(part.exterior.length) for part in polygon_parts(shape))


def inside_path_mm(ring: Ring, radius_mm: float) -> float:
    """Length of the bit's centre line once round the inside of a ring; 0 if it cannot enter."""
    shape = Polygon(ring.flattened(_SAGITTA_MM)).buffer(-radius_mm, quad_segs=16)
    return sum(float(part.exterior.length) for part in polygon_parts(shape))


def pocket_path_mm(ring: Ring, diameter_mm: float, islands: Sequence[Ring] = ()) -> float:
    """Length of the bit's centre line to clear a pocket: once round its walls, then the inside.

    islands: board left standing in it. 0 if the bit cannot enter.
    """
    radius = diameter_mm / 2
    floor = Polygon(ring.flattened(_SAGITTA_MM), [i.flattened(_SAGITTA_MM) for i in islands])
    shape = floor.buffer(-radius, quad_segs=16)
    parts = polygon_parts(shape)
    if not parts:
        return _middle_line_mm(ring, diameter_mm)
    wall = sum(float(part.length) for part in parts)  # islands have walls as well
    inner = sum(float(p.area) for p in polygon_parts(shape.buffer(-radius, quad_segs=16)))
    return wall + inner / (STEP_OVER * diameter_mm)


def _middle_line_mm(ring: Ring, diameter_mm: float) -> float:
    """Length of the middle line of a groove exactly as wide as the bit, else 0."""
    shape = Polygon(ring.flattened(_SAGITTA_MM))
    parts = polygon_parts(shape.buffer(_HAIR_MM - diameter_mm / 2))
    return sum(float(part.exterior.length) / 2 for part in parts)


def _feature(add: _Add, shop: Shop, feature: Feature) -> None:
    cutters = shop.machine.cutters
    if feature.ring is not None and feature.kind is Role.ENGRAVE:
        once = float(Polygon(feature.ring.flattened(_SAGITTA_MM)).exterior.length)
        add("engraving", cutters[0], cutters[0].diameter_mm, once, 1)
    elif feature.ring is not None:
        # The outline bit if it enters, else the largest one that does.
        rest = sorted(cutters[1:], key=lambda c: -c.diameter_mm)
        for cutter in (cutters[0], *rest):
            length = pocket_path_mm(feature.ring, cutter.diameter_mm, feature.islands)
            if length:
                add("pockets", cutter, cutter.diameter_mm, length, 1)
                return
        add("pockets", None, cutters[0].diameter_mm, 0.0, 1)
    elif feature.at is not None:
        add("drilling", None, feature.diameter_mm or 0.0, 0.0, 1)
    elif feature.path:
        length = float(LineString(feature.path).length) if len(feature.path) > 1 else 0.0
        add("engraving", cutters[0], cutters[0].diameter_mm, length, 1)
