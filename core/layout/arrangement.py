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

from core.bed import bed_room
from core.breakdown import blank_patterns
from core.nesting import NestSheet
from core.shop import Machine, Material, Shop, Stock
from core.tolerances import FIT_REL

Rectangle = tuple[float, float, float, float]

#: Blanks narrower than this are offcuts: nothing is clamped on them (common practice, no source).
SMALLEST_BLANK_MM = 100.0


@dataclass(frozen=True, slots=True)
class Arrangement:
    """A stock with the blanks its sheets are sawn into, (x, y, width, height) each."""

    stock: Stock
    blanks: tuple[Rectangle, ...]

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


def arrangements_for(
    stock: Stock, shop: Shop, *, choice: str = "blanks", most: int = 40
) -> tuple[Arrangement, ...]:
    """Ways to break a sheet down for the router, the most promising first.

    choice: "blanks" saws only if the table or the mass asks for it; "whole" never saws (then
    only sheets that the table takes have an arrangement).
    """
    return _arrangements(
        stock,
        shop.machine,
        largest_blank_mm2(shop, shop.material(stock.material)),
        shop.rules.kerf_mm,
        shop.rules.edge_trim_mm,
        choice,
        most,
    )


@lru_cache(maxsize=256)
def _arrangements(
    stock: Stock,
    machine: Machine,
    most_mm2: float | None,
    kerf_mm: float,
    trim_mm: float,
    choice: str,
    most: int,
) -> tuple[Arrangement, ...]:
    area = stock.width_mm * stock.height_mm
    light = most_mm2 is None or area <= most_mm2 * (1 + FIT_REL)
    if light and bed_room(machine, stock.width_mm, stock.height_mm) is not None:
        return (Arrangement(stock, ((0.0, 0.0, stock.width_mm, stock.height_mm),)),)
    if choice == "whole":
        return ()
    patterns = blank_patterns(
        stock.width_mm,
        stock.height_mm,
        machine.table_mm,
        kerf_mm=kerf_mm,
        edge_trim_mm=trim_mm,
        max_area_mm2=most_mm2,
        min_side_mm=SMALLEST_BLANK_MM,
    )
    return tuple(
        Arrangement(stock, tuple((b.x_mm, b.y_mm, b.width_mm, b.height_mm) for b in pattern.blanks))
        for pattern in patterns[:most]
    )


@lru_cache(maxsize=512)
def blank_room(
    machine: Machine, width_mm: float, height_mm: float, margin_mm: float
) -> BaseGeometry:
    """Where cut pieces may lie on a blank, in its own coordinates; empty if it fits no table."""
    found = bed_room(machine, width_mm, height_mm, edge_margin_mm=margin_mm)
    if found is None or width_mm <= 2 * margin_mm or height_mm <= 2 * margin_mm:
        return Polygon()
    inside = shapely.box(margin_mm, margin_mm, width_mm - margin_mm, height_mm - margin_mm)
    return found.room.intersection(inside)


def cutting_room(arrangement: Arrangement, shop: Shop) -> BaseGeometry:
    """Where cut pieces may lie on the sheet, defects not yet subtracted, sheet coordinates."""
    margin = shop.rules.edge_margin_mm
    rooms = [
        affinity.translate(blank_room(shop.machine, width, height, margin), x, y)
        for x, y, width, height in arrangement.blanks
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
