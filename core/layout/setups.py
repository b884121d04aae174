"""The setups of a sheet: how each blank lies on the machine, what is cut there, what holds it."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace

import shapely
from shapely.geometry import Point as ShapelyPoint
from shapely.geometry import Polygon, box
from shapely.geometry.base import BaseGeometry

from core.bed import (
    MILLED,
    bed_room,
    blocked_zones,
    feed_of,
    lying,
    on_sheet,
    stretches,
)
from core.findings import Severity
from core.geometry import Point
from core.layout.arrangement import Arrangement, Rectangle, planer_for
from core.layout.holding import Tied, hold_down
from core.layout.on_bed import to_bed
from core.plan import PlanBlank, PlanPiece, PlanPlacement, PlanSeam, PlanSetup
from core.shop import ClampKind, Hold, Machine, Shop, Stock
from core.tolerances import LAYOUT_DISTANCE_MM

Tell = Callable[..., None]


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
            setup, tied = hold_down(
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


def _board_in(setup: PlanSetup, blank: Rectangle, stock: Stock) -> BaseGeometry:
    """What of a blank lies in a setup as it is: an offcut may lack a corner, a spot be bad."""
    board = box(blank[0], blank[1], blank[0] + blank[2], blank[1] + blank[3])
    stretch = box(setup.x_mm, setup.y_mm, setup.x_mm + setup.width_mm, setup.y_mm + setup.height_mm)
    sound: BaseGeometry = stock.polygon
    if stock.defects:
        sound = sound.difference(shapely.union_all([d.polygon for d in stock.defects]))
    return board.intersection(stretch).intersection(sound)


def _noted(
    setup: PlanSetup,
    blank: Rectangle,
    arrangement: Arrangement,
    shop: Shop,
    kept: Sequence[Polygon],
    tied: Tied,
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
    if tied.milled:
        waste = "1 bit" if tied.milled == 1 else f"{tied.milled} bits"
        notes.append(
            f"{waste} of waste shut in between the pieces, too small to hold: mill away whole, "
            "before the outlines."
        )
    if tied.adrift:
        waste = "1 part comes" if tied.adrift == 1 else f"{tied.adrift} parts come"
        notes.append(
            f"Mind: of the waste between the pieces {waste} free, with no room for tabs, and can "
            "be thrown. Mill away whole first, or leave a skin."
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
    if places == 1:
        return (
            f"The {board} can be screwed down at the place marked, {clear_mm:g} mm or more from "
            "every path of the bit."
        )
    kept = f" ({inside} of them in the offcut you keep)" if 0 < inside < places else ""
    return (
        f"The {board} can be screwed down at the {places} places marked{kept}, each "
        f"{clear_mm:g} mm or more from every path of the bit."
    )


def _loose(names: Sequence[str], apart_mm: float) -> str:
    """That pieces come free, for their neighbours' cuts go through what would hold them."""
    listed = ", ".join(sorted(set(names))[:6]) + (" and more" if len(set(names)) > 6 else "")
    return (
        f"Mind: no tabs hold {listed} here, for the cuts round the next pieces go through them: "
        "a piece that comes loose is thrown. Lay the pieces "
        f"{apart_mm:g} mm (two bits) apart, or hold them by a skin or suction."
    )
