"""Where on a blank a piece may be cut, given the machine it lies on.

The travel lies in the middle of the table. A blank is pushed to the travel's lower left corner
and moved from there only as far as it must be for the bit to get round everything inside the
blank's margin. The room is the travel, drawn in by the bit's radius, less the clamp zones grown
by the bit's diameter and the safety distance, seen from the blank: the bit's centre runs a radius
outside a piece, so what it sweeps reaches a whole diameter from it.
"""

from __future__ import annotations

from dataclasses import dataclass

import shapely
from shapely import affinity
from shapely.geometry import MultiPolygon, Polygon, box

from core.shop import Machine
from core.tolerances import FIT_REL


@dataclass(frozen=True, slots=True)
class BedRoom:
    """How a blank lies on the table and what of it can be cut.

    room: in the blank's own coordinates (lower left corner (0, 0), as it lies in the sheet).
    turned: it lies a quarter turn counter-clockwise. bed_x_mm, bed_y_mm: the lying blank's
    lower left corner from the travel's corner; below zero it lies on the table beside it.
    """

    room: Polygon | MultiPolygon
    turned: bool
    bed_x_mm: float
    bed_y_mm: float


def bed_room(
    machine: Machine,
    width_mm: float,
    height_mm: float,
    *,
    edge_margin_mm: float = 0.0,
    at: tuple[float, float] | None = None,
) -> BedRoom | None:
    """The room of a blank of that size, or None if it does not lie on the table either way.

    Of the two ways to lay it the one with more room is taken, unturned when they are equal.
    at: it was put there by hand, its lower left corner from the travel's, in the same way.
    """
    best: BedRoom | None = None
    for turned in (False, True):
        wide, deep = (height_mm, width_mm) if turned else (width_mm, height_mm)
        table_w, table_h = machine.table_mm
        if wide > table_w * (1 + FIT_REL) or deep > table_h * (1 + FIT_REL):
            continue
        found = _lying(machine, wide, deep, edge_margin_mm)
        if turned:
            found = BedRoom(_unturned(found, height_mm), True, found.bed_x_mm, found.bed_y_mm)
        if best is None or found.room.area > best.room.area * (1 + FIT_REL):
            best = found
    if best is None or at is None:
        return best
    wide, deep = (height_mm, width_mm) if best.turned else (width_mm, height_mm)
    moved = _at(machine, wide, deep, at)
    return BedRoom(_unturned(moved, height_mm), True, *at) if best.turned else moved


def _lying(machine: Machine, wide_mm: float, deep_mm: float, margin_mm: float) -> BedRoom:
    """The room of a blank where it lies best, unturned."""
    radius = machine.cutter.radius_mm
    travel_w, travel_h = machine.travel_mm
    bed_x = beside(wide_mm, travel_w, machine.table_mm[0], radius, margin_mm)
    bed_y = beside(deep_mm, travel_h, machine.table_mm[1], radius, margin_mm)
    return _at(machine, wide_mm, deep_mm, (bed_x, bed_y))


def _at(machine: Machine, wide_mm: float, deep_mm: float, at: tuple[float, float]) -> BedRoom:
    """The room of a blank as it lies at a spot, unturned."""
    radius = machine.cutter.radius_mm
    travel_w, travel_h = machine.travel_mm
    bed_x, bed_y = at
    # The bit's centre may stand on the travel's edge, so a piece may come within a radius of it.
    reach = box(radius, radius, max(radius, travel_w - radius), max(radius, travel_h - radius))
    blocked = blocked_zones(machine)
    room = reach.difference(shapely.union_all(blocked)) if blocked else reach
    room = affinity.translate(room, -bed_x, -bed_y)
    room = room.intersection(box(0, 0, wide_mm, deep_mm))
    parts = [p for p in shapely.get_parts(room) if p.geom_type == "Polygon" and p.area > 0]
    room = MultiPolygon(parts) if len(parts) != 1 else parts[0]
    return BedRoom(room, False, bed_x, bed_y)


def blocked_zones(machine: Machine) -> list[Polygon]:
    """What no piece may cover for the clamps' sake, bed coordinates.

    The bit's centre runs a radius outside a piece, so what it sweeps reaches a whole diameter.
    """
    keep = 2 * machine.cutter.radius_mm + machine.clamp_safety_mm
    return [clamp.polygon.buffer(keep, join_style="mitre") for clamp in machine.clamps]


def beside(
    size_mm: float, travel_mm: float, table_mm: float, radius_mm: float, margin_mm: float
) -> float:
    """Where the blank's edge lies from the travel's, along one axis."""
    low = radius_mm - margin_mm
    high = travel_mm - radius_mm - size_mm + margin_mm
    # Where everything inside the margin is reached, stay at the corner; else halve what is not.
    wanted = min(max(0.0, low), high) if low <= high else (travel_mm - size_mm) / 2
    spare = max(0.0, table_mm - travel_mm) / 2
    return min(max(wanted, -spare), travel_mm + spare - size_mm)


def _unturned(found: BedRoom, height_mm: float) -> Polygon | MultiPolygon:
    """The room seen from the blank as it lies in the sheet.

    Turned, the blank's point (x, y) lies at (height − y, x); this is the way back.
    """
    return affinity.affine_transform(found.room, (0.0, 1.0, -1.0, 0.0, 0.0, height_mm))
