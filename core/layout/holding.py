"""What holds the parts of a setup: each by itself, and those whose cuts meet by each other."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

import shapely
from shapely import affinity
from shapely.geometry import LineString, Polygon
from shapely.geometry import Point as ShapelyPoint
from shapely.geometry.base import BaseGeometry

from core.bed import (
    Freed,
    TabSpots,
    TiedDown,
    bit_path,
    hold_piece,
    hold_slug,
    notch_walls,
    screw_places,
    tab_spots,
    tie_down,
)
from core.geometry import Motion, Point
from core.layout.on_bed import from_bed
from core.plan import PlanHold, PlanPiece, PlanPlacement, PlanSeam, PlanSetup
from core.recent import Recent
from core.shop import Hold, Rules, Shop

#: An outline this close to a seam's line is a flank of the joint.
FLANK_MM = 1.5


@dataclass(frozen=True, slots=True)
class Tied:
    """How parts that lie closer than two bits hold. paired: tabs opposite another; loose: names
    of pieces that no tab holds; milled, adrift: parts of the waste between them, see TiedDown."""

    paired: int
    loose: tuple[str, ...]
    milled: int
    adrift: int


def hold_down(
    setup: PlanSetup,
    members: Sequence[int],
    beside: Sequence[int],
    placements: Sequence[PlanPlacement],
    shapes: Sequence[Polygon],
    pieces: Mapping[str, PlanPiece],
    seams: Mapping[str, PlanSeam],
    shop: Shop,
    board: BaseGeometry,
) -> tuple[PlanSetup, Tied]:
    """The setup with a hold for every part freed and places to screw the waste down.

    beside: what else is cut from the same board, in another setup. board: what of the sheet
    lies in this setup.
    """
    rules, machine = shop.rules, shop.machine
    bit = machine.cutter.diameter_mm
    vacuum: BaseGeometry | None = None
    if machine.vacuum:
        areas = shapely.union_all([area.polygon for area in machine.vacuum])
        vacuum = from_bed(areas, setup)
    holds: list[PlanHold] = []
    freed: list[Freed] = []
    at_hold: list[int] = []
    for body, k in enumerate(members):
        p, shape = placements[k], shapes[k]
        carries = frozenset(
            number
            for number, ring in enumerate(shape.interiors)
            if any(
                j != k and Polygon(ring).contains(shapes[j].representative_point()) for j in members
            )
        )
        piece = pieces[p.piece]
        sucked = vacuum
        if vacuum is not None:
            sucked = affinity.affine_transform(vacuum, _inverse(p.motion))
        own = _Own(
            piece.id,
            piece.digest,
            piece.thickness_mm,
            piece.cut.polygon,
            _flanks(piece, seams),
            sucked,
        )
        # Without suction a hold depends on the piece alone, wherever it lies.
        make = holds_of if piece.digest and sucked is None else _find_holds
        for row in make(own, rules, bit, carries):
            laid = tuple(p.motion.apply(*at) for at in row.places)
            if row.spots is not None:
                spots = row.spots.moved(p.motion)
                marked = row.way == Hold.TABS
                freed.append(Freed(body, spots, marked, laid, cut_out=row.hole is not None))
                at_hold.append(len(holds))
            holds.append(PlanHold(p.piece, p.copy, row.hole, row.way, laid))
    bodies = [(placements[k], pieces[placements[k].piece], shapes[k]) for k in (*members, *beside)]
    laid_so = _Laid(
        tuple((piece.id, piece.digest, piece.thickness_mm, p.motion) for p, piece, _ in bodies),
        tuple((one.body, one.marked, one.places) for one in freed),
        board.wkb,
        tuple((piece.cut.polygon, shape) for _, piece, shape in bodies),
        tuple(freed),
        board,
    )
    known = all(piece.digest for _, piece, _ in bodies)
    tied = (ties_of if known else _find_ties)(laid_so, rules.tab_mm, bit)
    for number, places in zip(at_hold, tied.places, strict=True):
        if holds[number].way == Hold.TABS:
            holds[number] = replace(holds[number], places=places)
    pins = [ShapelyPoint(at).buffer(setup.pin_mm / 2) for at in (*setup.bores, *setup.pins)]
    zones = [from_bed(clamp.polygon, setup) for clamp in machine.clamps]
    screws = screw_places(
        board,
        shapes,
        bit_mm=bit,
        clear_mm=rules.screw_clear_mm,
        closed=[*pins, *zones],
    )
    loose = tuple(pieces[placements[members[body]].piece].name for body in tied.loose)
    return replace(setup, holds=tuple(holds), screws=screws), Tied(
        tied.paired, loose, len(tied.milled), len(tied.adrift)
    )


@dataclass(frozen=True)
class _Own:
    """A piece in its own frame as a cache key: by its id and digest."""

    id: str
    digest: str
    thickness_mm: float
    polygon: Polygon = field(compare=False)
    flanks: BaseGeometry | None = field(compare=False)
    vacuum: BaseGeometry | None = field(compare=False)


@dataclass(frozen=True, slots=True)
class _Row:
    """A hold in the piece's own frame. spots: where else tabs could stand, if neighbours matter
    to it."""

    hole: int | None
    way: str
    places: tuple[Point, ...]
    spots: TabSpots | None = None


def _find_holds(
    own: _Own, rules: Rules, bit_mm: float, carries: frozenset[int]
) -> tuple[_Row, ...]:
    """Holds of a piece and its slugs in its own frame."""
    walls = notch_walls(own.polygon, own.thickness_mm)
    joints = [shape for shape in (own.flanks, walls) if shape is not None]
    keep_off = shapely.union_all(joints) if joints else None
    one = hold_piece(
        Polygon(own.polygon.exterior),
        rules,
        bit_mm=bit_mm,
        flanks=keep_off,
        vacuum=own.vacuum,
    )
    tied = (Hold.TABS, Hold.SKIN)
    spots = None
    if one.way in tied:
        spots = tab_spots(own.polygon.exterior, rules.tab_mm, bit_mm=bit_mm, flanks=keep_off)
    rows = [_Row(None, one.way, one.places, spots)]
    for number, ring in enumerate(own.polygon.interiors):
        one = hold_slug(
            Polygon(ring),
            rules,
            bit_mm=bit_mm,
            flanks=own.flanks,
            vacuum=own.vacuum,
            carries=number in carries,
        )
        spots = None
        if number in carries and one.way in tied:
            spots = tab_spots(ring, rules.tab_mm, bit_mm=bit_mm, flanks=own.flanks, inside=True)
        rows.append(_Row(number, one.way, one.places, spots))
    return tuple(rows)


holds_of = Recent(_find_holds, rounds=8)  # a round is a layout worked out


@dataclass(frozen=True)
class _Laid:
    """All that is cut in a setup, as it lies, as a cache key: bodies by id, digest, thickness
    (which says what is a notch) and motion, what is freed by its body and own places."""

    bodies: tuple[tuple[str, str, float, Motion], ...]
    places: tuple[tuple[int, bool, tuple[Point, ...]], ...]
    board_wkb: bytes
    shapes: tuple[tuple[Polygon, Polygon], ...] = field(compare=False)  # own frame, as it lies
    freed: tuple[Freed, ...] = field(compare=False)
    board: BaseGeometry = field(compare=False)


def _find_ties(laid: _Laid, tab_mm: float, bit_mm: float) -> TiedDown:
    """The tabs of a setup where what lies close beside each other is looked at too."""
    paths = []
    for (name, digest, thick, motion), (own, _) in zip(laid.bodies, laid.shapes, strict=True):
        piece = _Own(name, digest, thick, own, None, None)
        path = (paths_of if digest else _path_of)(piece, bit_mm)
        paths.append(affinity.affine_transform(path, motion.matrix()))
    lying = [shape for _, shape in laid.shapes]
    return tie_down(lying, paths, laid.freed, laid.board, tab_mm=tab_mm, bit_mm=bit_mm)


ties_of = Recent(_find_ties, rounds=8)


def _path_of(own: _Own, bit_mm: float) -> Polygon:
    return bit_path(own.polygon, bit_mm)


paths_of = Recent(_path_of, rounds=8)


def next_round() -> None:
    """A layout is worked out: results nobody came back to are let go."""
    for kept in (holds_of, ties_of, paths_of):
        kept.next_round()


def _inverse(motion: Motion) -> tuple[float, ...]:
    """The way back from where a motion laid something, as shapely takes it."""
    a, b, d, e, x, y = motion.matrix()
    det = a * e - b * d
    ia, ib, id_, ie = e / det, -b / det, -d / det, a / det
    return ia, ib, id_, ie, -(ia * x + ib * y), -(id_ * x + ie * y)


def _flanks(piece: PlanPiece, seams: Mapping[str, PlanSeam]) -> BaseGeometry | None:
    """The seams of a piece in its own frame."""
    lines = [
        LineString(seams[s].profile)
        for s in piece.seams
        if s in seams and len(seams[s].profile) > 1
    ]
    return shapely.union_all(lines).buffer(FLANK_MM) if lines else None
