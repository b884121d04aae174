"""Sheets as nesting sees them: what of each sheet can be cut, once it is sawn into blanks.

A sheet that goes onto the table whole is one blank. Otherwise a guillotine pattern is chosen
before nesting and the rest of the sheet (kerfs, margins at sawn edges, what the bit cannot
reach) is kept out of, so a layout found on the sheet can be sawn and cut as it stands.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import shapely
from shapely import affinity
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

from core.bed import bed_room, feed_of
from core.breakdown import BlankPattern, PlanerLimits, Rect, blank_patterns
from core.nesting import NestSheet
from core.shop import Limits, Machine, Material, Rules, Shop, Stock
from core.tolerances import FIT_REL

Rectangle = tuple[float, float, float, float]

#: Ways a sheet gets onto the machine, as kept in a project: sawn into blanks first, whole, or
#: pushed through an open-ended bed.
WAYS = ("blanks", "whole", "through")

#: Blanks narrower than this are offcuts: nothing is clamped on them (common practice, no source).
SMALLEST_BLANK_MM = 100.0


@dataclass(frozen=True, slots=True)
class Arrangement:
    """A stock with the blanks its sheets are sawn into, (x, y, width, height) each.

    through: blanks that do not lie on the table are pushed through its open ends. lying: where
    blanks were put on the bed by hand, (index, x, y) each.
    """

    stock: Stock
    blanks: tuple[Rectangle, ...]
    through: bool = False
    lying: tuple[tuple[int, float, float], ...] = ()

    def spot_of(self, blank: Rectangle) -> tuple[float, float] | None:
        """Where a blank was put by hand, None if it lies the usual way."""
        return next((at[1:] for at in self.lying if self.blanks[at[0]] == blank), None)

    @property
    def is_whole(self) -> bool:
        """The sheet goes onto the table as it is."""
        if len(self.blanks) != 1:
            return False
        x, y, width, height = self.blanks[0]
        return (
            abs(x) + abs(y) < 1e-9
            and abs(width - self.stock.width_mm) < 1e-9
            and abs(height - self.stock.height_mm) < 1e-9
        )


def largest_blank_mm2(shop: Shop, material: Material | None) -> float | None:
    """Area of the heaviest blank one person may lift, or None if no mass was set."""
    limits = [
        kg for kg in (shop.machine.max_blank_kg, shop.limits.lift_kg) if kg is not None and kg > 0
    ]
    if not limits or material is None:
        return None
    thickness_mm = material.raw_mm or material.thickness_mm
    return min(limits) / (thickness_mm * 1e-9 * material.density_kg_m3)


def mark_mm(stock: Stock) -> float:
    """The finest step a blank of this sheet is marked out in: 0.5 mm, or 1/64 in.

    A sheet that is sold in inches has sides in whole 64ths.
    """
    sides = (stock.width_mm, stock.height_mm)
    if all(abs(side / 0.5 - round(side / 0.5)) < 1e-6 for side in sides):
        return 0.5
    inch = 25.4 / 64
    return inch if all(abs(s / inch - round(s / inch)) < 1e-4 for s in sides) else 0.5


def planer_for(material: Material | None, limits: Limits) -> PlanerLimits | None:
    """What the planer asks of a blank of this board, None if it is not planed.

    The grain runs along a sheet's x, and a board goes through the planer along its grain.
    """
    if material is None or material.raw_mm is None or limits.planer_width_mm is None:
        return None
    return PlanerLimits(
        limits.planer_width_mm,
        limits.planer_min_length_mm or 0.0,
        limits.snipe_mm,
        "x" if material.grained else "either",
    )


def arrangements_for(
    stock: Stock, shop: Shop, *, choice: str = "blanks", most: int = 40
) -> tuple[Arrangement, ...]:
    """Ways to break a sheet down for the router, the most promising first.

    choice: one of WAYS; what the stock itself says goes before it. "blanks" saws only if the
    table, the mass or the planer asks for it; "whole" never saws (then only sheets that the table
    takes have an arrangement, whatever they weigh); "through" saws only what is wider than an
    open-ended table, or does as "blanks" does where the ends are closed.
    """
    material = shop.material(stock.material)
    way = stock.way or choice
    if way == "through" and not shop.machine.open_ended:
        way = "blanks"
    return _arrangements(
        stock,
        shop.machine,
        largest_blank_mm2(shop, material),
        shop.rules.kerf_mm,
        planer_for(material, shop.limits),
        way,
        most,
    )


@lru_cache(maxsize=256)
def _arrangements(
    stock: Stock,
    machine: Machine,
    most_mm2: float | None,
    kerf_mm: float,
    planer: PlanerLimits | None,
    choice: str,
    most: int,
) -> tuple[Arrangement, ...]:
    width, height = stock.width_mm, stock.height_mm
    whole = ((0.0, 0.0, width, height),)
    lies = bed_room(machine, width, height) is not None
    light = most_mm2 is None or width * height <= most_mm2 * (1 + FIT_REL)
    planes = planer is None or planer.takes(width, height)
    if lies and (choice == "whole" or (light and planes)):
        return (Arrangement(stock, whole),)
    if choice == "whole":
        return ()
    if choice == "through":
        return _through(stock, machine, kerf_mm, most)
    found: list[BlankPattern] = []
    # Patterns the planer takes come first; a piece too wide for every one of them is cut from a
    # blank that is surfaced on the bed instead.
    for limits in dict.fromkeys((planer, None)):
        found += blank_patterns(
            width,
            height,
            machine.table_mm,
            kerf_mm=kerf_mm,
            max_area_mm2=most_mm2,
            min_side_mm=SMALLEST_BLANK_MM,
            planer=limits,
            mark_mm=mark_mm(stock),
            most=most,
        )
    return tuple(_of(stock, pattern) for pattern in dict.fromkeys(found))


def _of(stock: Stock, pattern: BlankPattern, *, through: bool = False) -> Arrangement:
    blanks = tuple((b.x_mm, b.y_mm, b.width_mm, b.height_mm) for b in pattern.blanks)
    return Arrangement(stock, blanks, through)


def _through(stock: Stock, machine: Machine, kerf_mm: float, most: int) -> tuple[Arrangement, ...]:
    """The sheet as it is, or ripped into strips that the open-ended table takes."""
    width, height = stock.width_mm, stock.height_mm
    if feed_of(machine, width, height) is not None:
        return (Arrangement(stock, ((0.0, 0.0, width, height),), True),)
    along = max(width, height)
    patterns = blank_patterns(
        width,
        height,
        (along, machine.table_mm[1]) if width >= height else (machine.table_mm[1], along),
        kerf_mm=kerf_mm,
        may_turn=False,
        min_side_mm=SMALLEST_BLANK_MM,
        mark_mm=mark_mm(stock),
        most=most,
    )
    return tuple(_of(stock, pattern, through=True) for pattern in patterns)


def blank_room(
    machine: Machine,
    width_mm: float,
    height_mm: float,
    rules: Rules,
    *,
    through: bool = False,
    planer: PlanerLimits | None = None,
    sawn: bool = True,
    at: tuple[float, float] | None = None,
) -> BaseGeometry:
    """Where cut pieces may lie on a blank, in its own coordinates; empty if it fits no table.

    through: it may be pushed through. planer: it is planed first, and the ends that get sniped
    are left out. sawn: a rough blank loses half its oversize at every edge. at: it was put there
    on the bed by hand.
    """
    return _room(
        machine,
        width_mm,
        height_mm,
        rules.edge_margin_mm,
        rules.blank_oversize_mm / 2 if sawn else 0.0,
        rules.pin_mm,
        through,
        planer,
        at,
    )


@lru_cache(maxsize=512)
def _room(
    machine: Machine,
    width_mm: float,
    height_mm: float,
    edge_mm: float,
    extra_mm: float,
    pin_mm: float,
    through: bool,
    planer: PlanerLimits | None,
    at: tuple[float, float] | None,
) -> BaseGeometry:
    margin = edge_mm + extra_mm
    if width_mm <= 2 * margin or height_mm <= 2 * margin:
        return Polygon()
    inside: BaseGeometry = shapely.box(margin, margin, width_mm - margin, height_mm - margin)
    if planer is not None and planer.takes(width_mm, height_mm):
        x, y, w, h = planer.usable(Rect(0.0, 0.0, width_mm, height_mm))
        inside = inside.intersection(shapely.box(x, y, x + w, y + h))
    found = bed_room(machine, width_mm, height_mm, edge_margin_mm=edge_mm, at=at)
    if found is not None:
        return found.room.intersection(inside)
    feed = feed_of(machine, width_mm, height_mm, edge_margin_mm=edge_mm) if through else None
    if feed is None:
        return Polygon()
    room = feed.room(margin, pin_mm)
    if feed.turned:
        # Lying, the blank's point (x, y) is at (height − y, x); this is the way back.
        room = affinity.affine_transform(room, (0.0, 1.0, -1.0, 0.0, 0.0, height_mm))
    return room.intersection(inside)


def room_of(arrangement: Arrangement, blank: Rectangle, shop: Shop) -> BaseGeometry:
    """Where cut pieces may lie on one blank of an arrangement, in the blank's coordinates."""
    return blank_room(
        shop.machine,
        *blank[2:],
        shop.rules,
        through=arrangement.through,
        planer=planer_for(shop.material(arrangement.stock.material), shop.limits),
        sawn=not arrangement.is_whole,
        at=arrangement.spot_of(blank),
    )


def cutting_room(arrangement: Arrangement, shop: Shop) -> BaseGeometry:
    """Where cut pieces may lie on the sheet, defects not yet subtracted, sheet coordinates."""
    rooms = [
        affinity.translate(room_of(arrangement, blank, shop), blank[0], blank[1])
        for blank in arrangement.blanks
    ]
    rooms = [room for room in rooms if not room.is_empty]
    return shapely.union_all(rooms) if rooms else Polygon()


def nest_sheet(
    arrangement: Arrangement, shop: Shop, key: str, *, quantity: int | None, cost: float
) -> NestSheet:
    """The arrangement as a sheet for nesting; what cannot be cut is kept out of."""
    outline = arrangement.stock.polygon
    closed = outline.difference(cutting_room(arrangement, shop))
    parts = [p for p in shapely.get_parts(closed) if p.geom_type == "Polygon" and p.area > 1e-9]
    defects = [defect.polygon for defect in arrangement.stock.defects]
    return NestSheet(key, outline, quantity, cost, (*parts, *defects))
