"""The setups of a sheet: how each blank lies on the machine, what is cut there, what holds it."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace

import shapely
from shapely import affinity
from shapely.geometry import LineString, Polygon, box
from shapely.geometry import Point as ShapelyPoint
from shapely.geometry.base import BaseGeometry

from core.bed import (
    MILLED,
    Freed,
    TabSpots,
    bed_room,
    bit_path,
    blocked_zones,
    feed_of,
    hold_piece,
    hold_slug,
    lying,
    notch_walls,
    on_sheet,
    screw_places,
    stretches,
    tab_spots,
    tie_down,
)
from core.findings import Severity
from core.geometry import Motion, Point
from core.layout.arrangement import Arrangement, Rectangle, planer_for
from core.plan import PlanBlank, PlanHold, PlanPiece, PlanPlacement, PlanSeam, PlanSetup
from core.recent import Recent
from core.shop import ClampKind, Hold, Machine, Rules, Shop, Stock
from core.tolerances import LAYOUT_DISTANCE_MM

Tell = Callable[..., None]

#: An outline this close to a seam's line is a flank of the joint.
FLANK_MM = 1.5


@dataclass(frozen=True)
class SheetSetups:
    """Setups in order, and the placements with the setup each is cut in."""

    setups: tuple[PlanSetup, ...]
    placements: tuple[PlanPlacement, ...]


def setups_of(
    arrangement: Arrangement,
    blanks: Sequence[PlanBlank],
    placements: Sequence[PlanPlacement],
    shapes: Sequence[Polygon],
    pieces: Mapping[str, PlanPiece],
    seams: Mapping[str, PlanSeam],
    shop: Shop,
    tell: Tell,
    *,
    kept: Sequence[Polygon] = (),
) -> SheetSetups:
    """The setups of one sheet; tell is called as a finding's code, severity, words and more.

    shapes: the placements' cut outlines on the sheet. kept: offcuts of it that go to the rack.
    """
    found: list[PlanSetup] = []
    homes: dict[int, str] = {}
    for blank in blanks:
        here = [k for k, p in enumerate(placements) if p.blank == blank.id]
        rect = (blank.x_mm, blank.y_mm, blank.width_mm, blank.height_mm)
        rows = _on_table(arrangement, blank, rect, shop, here, tell)
        if rows is None and arrangement.through:
            rows = _pushed(blank, rect, shop, here, shapes, tell)
        if rows is None:
            tell(
                "blank-too-large",
                Severity.STOP,
                f"Blank {blank.letter} is larger than the table",
                at=(blank.x_mm, blank.y_mm),
                remedy="Let the sheet be broken down again, or choose a larger machine.",
            )
            continue
        for setup, members in rows:
            _check_reach(setup, members, placements, shapes, pieces, shop.machine, tell)
            board = _board_in(setup, rect, arrangement.stock)
            beside = [k for k in here if k not in members]
            setup, tied = _held(
                setup, members, beside, placements, shapes, pieces, seams, shop, board
            )
            found.append(_noted(setup, rect, arrangement, shop, kept, tied))
            homes.update(dict.fromkeys(members, setup.id))
    placed = tuple(replace(p, setup=homes.get(k, "")) for k, p in enumerate(placements))
    return SheetSetups(tuple(found), placed)


Row = tuple[PlanSetup, tuple[int, ...]]


def _on_table(
    arrangement: Arrangement,
    blank: PlanBlank,
    rect: Rectangle,
    shop: Shop,
    here: Sequence[int],
    tell: Tell,
) -> list[Row] | None:
    """The blank laid on the table, if it lies there at all."""
    found = bed_room(
        shop.machine,
        blank.width_mm,
        blank.height_mm,
        edge_margin_mm=shop.rules.edge_margin_mm,
        at=arrangement.spot_of(rect),
    )
    if found is None:
        return None
    setup = PlanSetup(
        f"{blank.id}-1", blank.id, *rect, found.bed_x_mm, found.bed_y_mm, found.turned
    )
    if off_table(setup, shop.machine):
        tell(
            "blank-off-table",
            Severity.WARN,
            f"Blank {blank.letter} hangs over the table's edge as it was put",
            at=rect[:2],
            remedy="Move it on the bed, or let it lie the usual way.",
        )
    return [(setup, tuple(here))]


def _pushed(
    blank: PlanBlank,
    rect: Rectangle,
    shop: Shop,
    here: Sequence[int],
    shapes: Sequence[Polygon],
    tell: Tell,
) -> list[Row] | None:
    """The blank pushed through in as few stops as will do."""
    rules, machine = shop.rules, shop.machine
    feed = feed_of(machine, blank.width_mm, blank.height_mm, edge_margin_mm=rules.edge_margin_mm)
    if feed is None:
        return None
    laid = [lying(shapes[k], rect, feed) for k in here]
    stops = stretches(feed, laid, machine.travel_mm[0], pin_mm=rules.pin_mm)
    rows: list[Row] = []
    for number, stop in enumerate(stops, start=1):
        x, y, width, height = rect
        long = stop.to_mm - stop.from_mm
        place = (x + stop.from_mm, y, long, height)
        if feed.turned:
            place = (x, y + height - stop.to_mm, width, long)
        setup = PlanSetup(
            f"{blank.id}-{number}",
            blank.id,
            *place,
            stop.from_mm - stop.start_mm,
            feed.bed_y_mm,
            feed.turned,
            bores=tuple(on_sheet(p, rect, feed) for p in stop.bores),
            pins=tuple(on_sheet(p, rect, feed) for p in stop.pins),
            pin_mm=rules.pin_mm if stop.bores or stop.pins else 0.0,
        )
        rows.append((setup, tuple(here[k] for k in stop.members)))
        if number < len(stops) and not stop.bores:
            tell(
                "no-room-for-pins",
                Severity.WARN,
                f"Blank {blank.letter}, clamping {number}: no waste that this and the next "
                f"clamping both reach takes two holes of {rules.pin_mm:g} mm",
                at=(place[0], place[1]),
                remedy="Move a piece aside there, or set the next clamping by marks on the edge.",
            )
    return rows


def to_bed(shape: BaseGeometry, setup: PlanSetup) -> BaseGeometry:
    """A shape of the sheet where it lies on the machine, the travel's corner at (0, 0)."""
    if setup.turned:
        matrix = (0.0, -1.0, 1.0, 0.0, setup.y_mm + setup.height_mm, -setup.x_mm)
        shape = affinity.affine_transform(shape, matrix)
    else:
        shape = affinity.translate(shape, -setup.x_mm, -setup.y_mm)
    return affinity.translate(shape, setup.bed_x_mm, setup.bed_y_mm)


def from_bed(shape: BaseGeometry, setup: PlanSetup) -> BaseGeometry:
    """A shape of the bed in the sheet's coordinates."""
    shape = affinity.translate(shape, -setup.bed_x_mm, -setup.bed_y_mm)
    if setup.turned:
        matrix = (0.0, 1.0, -1.0, 0.0, setup.x_mm, setup.y_mm + setup.height_mm)
        return affinity.affine_transform(shape, matrix)
    return affinity.translate(shape, setup.x_mm, setup.y_mm)


def off_table(setup: PlanSetup, machine: Machine) -> bool:
    """True if the board reaches past the table as it lies; open ends may be passed."""
    wide, deep = setup.width_mm, setup.height_mm
    if setup.turned:
        wide, deep = deep, wide
    (tw, th), (w, h) = machine.travel_mm, machine.table_mm
    slack = LAYOUT_DISTANCE_MM
    beside, above = (max(w, tw) - tw) / 2 + slack, (max(h, th) - th) / 2 + slack
    x, y = setup.bed_x_mm, setup.bed_y_mm
    past_end = x < -beside or x + wide > tw + beside
    return (past_end and not machine.open_ended) or y < -above or y + deep > th + above


def reach_problem(setup: PlanSetup, shape: Polygon, machine: Machine) -> str:
    """Why the bit must not cut an outline in this setup, "" if it may.

    From the outline alone: the bit's centre, a radius outside it, stays in the travel, and what
    the bit sweeps stays off the clamps.
    """
    radius = machine.cutter.radius_mm - LAYOUT_DISTANCE_MM
    travel = box(radius, radius, machine.travel_mm[0] - radius, machine.travel_mm[1] - radius)
    laid = to_bed(shape, setup)
    if not travel.covers(laid):
        return "the bit does not get round it within its travel"
    if any(zone.buffer(-LAYOUT_DISTANCE_MM).intersects(laid) for zone in blocked_zones(machine)):
        return "the bit would run into a clamp"
    return ""


def _check_reach(
    setup: PlanSetup,
    members: Sequence[int],
    placements: Sequence[PlanPlacement],
    shapes: Sequence[Polygon],
    pieces: Mapping[str, PlanPiece],
    machine: Machine,
    tell: Tell,
) -> None:
    """Every piece again from its outline alone."""
    for k in members:
        wrong = reach_problem(setup, shapes[k], machine)
        if wrong:
            piece, middle = pieces[placements[k].piece], shapes[k].centroid
            tell(
                "beyond-reach",
                Severity.STOP,
                f"{piece.name}: {wrong} in clamping {setup.id}",
                panel=piece.panel,
                at=(middle.x, middle.y),
                remedy="Move the piece or the board on the bed, or nest again.",
            )


# --- what holds -----------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class _Tied:
    """How parts that lie closer than two bits hold. paired: tabs opposite another; loose: names
    of pieces that no tab holds."""

    paired: int
    loose: tuple[str, ...]


def _held(
    setup: PlanSetup,
    members: Sequence[int],
    beside: Sequence[int],
    placements: Sequence[PlanPlacement],
    shapes: Sequence[Polygon],
    pieces: Mapping[str, PlanPiece],
    seams: Mapping[str, PlanSeam],
    shop: Shop,
    board: BaseGeometry,
) -> tuple[PlanSetup, _Tied]:
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
    bodies, paths = [], []
    for k in (*members, *beside):
        p, piece = placements[k], pieces[placements[k].piece]
        own = _Own(piece.id, piece.digest, piece.thickness_mm, piece.cut.polygon, None, None)
        path = (paths_of if piece.digest else _path_of)(own, bit)
        bodies.append(shapes[k])
        paths.append(affinity.affine_transform(path, p.motion.matrix()))
    tied = tie_down(bodies, paths, freed, board, tab_mm=rules.tab_mm, bit_mm=bit)
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
    return replace(setup, holds=tuple(holds), screws=screws), _Tied(tied.paired, loose)


def _board_in(setup: PlanSetup, blank: Rectangle, stock: Stock) -> BaseGeometry:
    """What of a blank lies in a setup as it is: an offcut may lack a corner, a spot be bad."""
    board = box(blank[0], blank[1], blank[0] + blank[2], blank[1] + blank[3])
    stretch = box(setup.x_mm, setup.y_mm, setup.x_mm + setup.width_mm, setup.y_mm + setup.height_mm)
    sound: BaseGeometry = stock.polygon
    if stock.defects:
        sound = sound.difference(shapely.union_all([d.polygon for d in stock.defects]))
    return board.intersection(stretch).intersection(sound)


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


def _path_of(own: _Own, bit_mm: float) -> Polygon:
    return bit_path(own.polygon, bit_mm)


paths_of = Recent(_path_of, rounds=8)
holds_of = Recent(_find_holds, rounds=8)  # a round is a layout worked out


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


def _noted(
    setup: PlanSetup,
    blank: Rectangle,
    arrangement: Arrangement,
    shop: Shop,
    kept: Sequence[Polygon],
    tied: _Tied,
) -> PlanSetup:
    """The setup with its holds and what else to mind as sentences."""
    rules = shop.rules
    notes = [*_planing(blank, arrangement, shop)]
    counts: dict[str, list[int]] = {}
    for hold in setup.holds:
        row = counts.setdefault(hold.way, [0, 0, 0])
        row[0 if hold.hole is None else 1] += 1
        row[2] += len(hold.places)
    words = {
        str(Hold.TABS): f"Tabs {rules.tab_mm:g} mm wide and {rules.tab_thick_mm:g} mm thick at "
        "the marks, none on a joint's flank",
        str(Hold.SKIN): f"A skin of {rules.skin_mm:g} mm left below, pared off afterwards",
        str(Hold.VACUUM): "Suction",
        str(Hold.SCREWS): "A screw inside, at the mark",
        MILLED: "Milled away whole, too small to hold",
    }
    for way, text in words.items():
        if way in counts:
            parts, slugs, places = counts[way]
            rows = []
            if parts:
                rows.append("1 piece" if parts == 1 else f"{parts} pieces")
            if slugs:
                rows.append("1 slug" if slugs == 1 else f"{slugs} slugs")
            more = f" ({places} tabs)" if way == Hold.TABS else ""
            notes.append(f"{text}: {' and '.join(rows)}{more}.")
    if tied.paired:
        notes.append(
            f"{tied.paired} of the tabs stand opposite a tab of the next piece and tie the two "
            "together: in so narrow a gap a tab of one alone would be cut through. Make all of "
            "them where they are marked."
        )
    if tied.loose:
        notes.append(_loose(tied.loose, 2 * shop.machine.cutter.diameter_mm))
    machine = shop.machine
    clamped = any(c.kind in (ClampKind.BAR, ClampKind.TOE, ClampKind.SCREW) for c in machine.clamps)
    if setup.screws and (rules.hold is Hold.SCREWS or not (clamped or machine.vacuum)):
        inside = sum(any(o.intersects(ShapelyPoint(at)) for o in kept) for at in setup.screws)
        notes.append(_screwed(len(setup.screws), inside, rules.screw_clear_mm))
    elif not setup.screws and not (clamped or machine.vacuum):
        notes.append(
            f"No waste is {rules.screw_clear_mm:g} mm clear of the bit's path for a screw: hold "
            "the board at its edges."
        )
    if setup.bores:
        notes.append(
            f"Bore the two holes of {setup.pin_mm:g} mm marked before anything else; they take "
            "the pins of the next clamping."
        )
    if setup.pins:
        notes.append(
            "Push the board on and set it down on two pins in the holes of the clamping before; "
            "their places on the bed are drawn."
        )
    return replace(setup, notes=tuple(notes))


def _planing(blank: Rectangle, arrangement: Arrangement, shop: Shop) -> list[str]:
    material = shop.material(arrangement.stock.material)
    if material is None or material.raw_mm is None:
        return []
    planer = planer_for(material, shop.limits)
    rows = [
        f"Bought {material.raw_mm:g} mm thick: plane it to {material.thickness_mm:g} mm and "
        "measure it before it is cut."
    ]
    if planer is not None and not planer.takes(*blank[2:]):
        rows.append(
            f"Too large or too short for the planer ({planer.widest_mm:g} mm wide): surface it "
            "here on the bed, held by suction or edge stops with no clamp on top."
        )
    elif planer is not None and planer.snipe_mm:
        rows.append(
            f"{planer.snipe_mm:g} mm at each end may be sniped by the planer; nothing is cut there."
        )
    return rows


def bed_point(at: Point, setup: PlanSetup) -> Point:
    """A point of the sheet in bed coordinates."""
    spot = to_bed(ShapelyPoint(at), setup)
    return float(spot.x), float(spot.y)


def _screwed(places: int, inside: int, clear_mm: float) -> str:
    """Where a board can be screwed down. inside: how many of the places an offcut keeps."""
    board = "offcut you keep" if inside == places else "waste"
    marked = "place marked" if places == 1 else f"{places} places marked"
    kept = f" ({inside} of them in the offcut you keep)" if 0 < inside < places else ""
    each = "" if places == 1 else "each "
    return (
        f"The {board} can be screwed down at the {marked}{kept}, {each}{clear_mm:g} mm or more "
        "from every path of the bit."
    )


def _loose(names: Sequence[str], apart_mm: float) -> str:
    """That pieces come free, for their neighbours' cuts go through what would hold them."""
    listed = ", ".join(sorted(set(names))[:6]) + (" and more" if len(set(names)) > 6 else "")
    return (
        f"Mind: no tabs hold {listed} here, for the cuts round the next pieces go through them: "
        "a piece that comes loose is thrown. Lay the pieces "
        f"{apart_mm:g} mm (two bits) apart, or hold them by a skin or suction."
    )
