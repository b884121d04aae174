"""Where teeth and keys stand along a joint length.

Teeth need board on both sides: a tooth with a margin round it must lie in the board, clear of
holes, features, other seams and bends. Everything in the way is projected onto the seam; in
what is left free the pattern is centred, so it is symmetric, and never cut short: a tooth that
does not fit whole is left out.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import LineString, Polygon
from shapely.geometry.base import BaseGeometry

from core.errors import InvalidGeometryError
from core.geometry.path import (
    Path,
    edge_length,
    edges_of,
    flatten_path,
    path_length,
    shift_edges,
    sub_path,
)
from core.geometry.ring import arc_of
from core.joints.profile import ToothPlace, tooth_frame
from core.splitting.lines import ReadySeam

_BAND_SAGITTA_MM = 0.05


@dataclass(frozen=True, slots=True)
class Room:
    """Space a repeated thing needs: along the seam, to its left and right, and round it."""

    width_mm: float
    left_mm: float
    right_mm: float
    margin_mm: float
    pitch_mm: float


def margin_of(seam: ReadySeam) -> float:
    """Board to leave between a tooth and anything else: a bit, or half the board's thickness."""
    return max(seam.context.cutter.diameter_mm, seam.context.thickness_mm / 2)


def room_of(seam: ReadySeam) -> Room | None:
    """The room one tooth or key of a seam needs, None if it has neither."""
    left, right = seam.reach_mm
    margin = margin_of(seam)
    if seam.tooth is not None:
        width = max(seam.tooth.base_mm, seam.tooth.head_mm)
        return Room(width, left, right, margin, seam.tooth.pitch_mm)
    if seam.keys is not None:
        x1, _, x2, _ = seam.keys.outline.bounds
        return Room(x2 - x1, left, right, seam.keys.margin_mm, seam.keys.pitch_mm)
    return None


def band_polygon(
    base: Path, left_mm: float, right_mm: float, sagitta_mm: float = _BAND_SAGITTA_MM
) -> Polygon:
    """The strip along a line, so wide to either side."""
    edges = len(base) - 1
    one = flatten_path(shift_edges(base, [left_mm] * edges), sagitta_mm)
    two = flatten_path(shift_edges(base, [-right_mm] * edges), sagitta_mm)
    return Polygon(np.vstack([one, two[::-1]]))


def smooth_legs(base: Path, start_mm: float, end_mm: float) -> list[tuple[float, float]]:
    """Legs, joined where one arc runs smoothly into an alike neighbour."""
    legs: list[tuple[float, float]] = []
    last_radius = 0.0
    station = 0.0
    for edge in edges_of(base):
        length = edge_length(*edge)
        radius = 0.0
        if edge[2]:
            _, r, _, sweep = arc_of(*edge)
            radius = math.copysign(r, sweep)
        low, high = max(start_mm, station), min(end_mm, station + length)
        if high - low > 1e-6:
            alike = legs and abs(legs[-1][1] - low) < 1e-6 and abs(radius - last_radius) < 1e-6
            if alike:
                legs[-1] = (legs[-1][0], high)
            else:
                legs.append((low, high))
        last_radius = radius
        station += length
    return legs


def blocked_spans(
    leg: Path, room: Room, board: Polygon, in_the_way: Sequence[BaseGeometry]
) -> list[tuple[float, float]]:
    """Stations along a leg, from its start, where something is in the way of a tooth."""
    try:
        band = band_polygon(leg, room.left_mm + room.margin_mm, room.right_mm + room.margin_mm)
    except InvalidGeometryError:
        band = Polygon()
    if band.is_empty or not band.is_valid:
        # A curve tighter than the teeth are long: nothing fits on its inside.
        return [(0.0, path_length(leg))]
    line = LineString(flatten_path(leg, _BAND_SAGITTA_MM))
    parts: list[BaseGeometry] = []
    outside = shapely.difference(band, board)
    parts.extend(shapely.get_parts(outside))
    for thing in in_the_way:
        if thing.intersects(band):
            parts.extend(shapely.get_parts(thing.intersection(band)))
    spans: list[tuple[float, float]] = []
    for part in parts:
        if part.is_empty or (part.geom_type == "Polygon" and part.area < 1e-6):
            continue
        at: NDArray[np.float64] = shapely.line_locate_point(
            line, shapely.points(shapely.get_coordinates(part))
        )
        spans.append((float(at.min()), float(at.max())))
    return spans


def free_spans(
    length: float, blocked: Sequence[tuple[float, float]], margin: float
) -> list[tuple[float, float]]:
    """What is left of 0…length, a margin away from both ends and from every blocked span."""
    free: list[tuple[float, float]] = []
    at = margin
    for low, high in sorted(blocked):
        if low - margin > at:
            free.append((at, low - margin))
        at = max(at, high + margin)
    if length - margin > at:
        free.append((at, length - margin))
    return free


def centred(free: tuple[float, float], room: Room, shift_mm: float) -> list[float]:
    """Middles of the teeth in a free span: as many as fit, centred, then shifted."""
    low, high = free[0] + room.width_mm / 2, free[1] - room.width_mm / 2
    if high < low - 1e-9:
        return []
    count = 1 + math.floor((high - low) / room.pitch_mm + 1e-9)
    first = (low + high) / 2 - (count - 1) * room.pitch_mm / 2
    if shift_mm == 0.0:
        return [first + k * room.pitch_mm for k in range(count)]
    start = first + shift_mm
    start -= math.floor((start - low) / room.pitch_mm + 1e-9) * room.pitch_mm
    found = []
    while start <= high + 1e-9:
        found.append(start)
        start += room.pitch_mm
    return found


def in_step(
    free: Sequence[tuple[float, float]], length: float, room: Room, shift_mm: float
) -> list[float]:
    """Middles of the teeth in several free spans of one leg: as many as fit in all.

    All stand in step, at one pitch right along the leg, if that costs no tooth; else the teeth
    of each span are centred in it. Of ways in step the one most alike from both ends is taken.
    """
    apart = [at for span in free for at in centred(span, room, shift_mm)]
    if len(free) < 2 or shift_mm or len(apart) < 2:
        return apart
    half, pitch = room.width_mm / 2, room.pitch_mm
    spans = [(a + half, b - half) for a, b in free if b - a >= room.width_mm - 1e-9]
    starts = [length / 2, length / 2 + pitch / 2]
    starts += [at for span in spans for at in (*span, (span[0] + span[1]) / 2)]
    best: tuple[float, list[float]] | None = None
    for start in starts:
        teeth: list[float] = []
        for low, high in spans:
            first = math.ceil((low - start) / pitch - 1e-9)
            last = math.floor((high - start) / pitch + 1e-9)
            teeth += [start + k * pitch for k in range(first, last + 1)]
        if len(teeth) < len(apart):
            continue
        lopsided = abs(teeth[0] + teeth[-1] - length)
        if best is None or lopsided < best[0] - 1e-9:
            best = (lopsided, teeth)
    return best[1] if best is not None else apart


def _room_on(leg: Path, room: Room) -> Room:
    """The room on a leg that may be an arc, measured along it.

    A tooth stands on a chord, which takes more of the arc than its length; and on the inside
    of a curve teeth lean towards each other.
    """
    if leg[0][2] == 0.0:
        return room
    _, radius, _, sweep = arc_of(leg[0][:2], leg[1][:2], leg[0][2])
    width = min(room.width_mm, 1.9 * radius)
    extra = 2 * radius * math.asin(width / (2 * radius)) - width
    inward = room.left_mm if sweep > 0 else room.right_mm
    between = room.pitch_mm - room.width_mm
    lean = 1.0 / max(0.2, 1.0 - inward / radius)
    pitch = room.width_mm + extra + between
    if between > 0.0:
        pitch = max(pitch, (room.width_mm + between) * lean)
    return Room(room.width_mm + extra, room.left_mm, room.right_mm, room.margin_mm, pitch)


def place(
    seam: ReadySeam,
    span: tuple[float, float],
    board: Polygon,
    in_the_way: Sequence[BaseGeometry],
) -> list[float]:
    """Stations of the middles of teeth or keys on one joint length.

    board: the panel, flattened, prepared. in_the_way: shapes no tooth may touch.
    """
    full = room_of(seam)
    if full is None:
        return []
    found: list[float] = []
    legs = smooth_legs(seam.base, *span)
    bands: list[Polygon] = []
    if len(legs) > 1:
        reach = max(full.left_mm, full.right_mm) + full.margin_mm
        bands = [
            LineString(flatten_path(sub_path(seam.base, *leg), _BAND_SAGITTA_MM)).buffer(
                reach, cap_style="flat"
            )
            for leg in legs
        ]
    for index, (low, high) in enumerate(legs):
        leg = sub_path(seam.base, low, high)
        room = _room_on(leg, full)
        other_legs = [band for k, band in enumerate(bands) if k != index]
        blocked = blocked_spans(leg, room, board, [*in_the_way, *other_legs])
        # Next to a smooth bend a leg needs no margin of its own; at real ends it does.
        free = free_spans(high - low, blocked, room.margin_mm)
        found.extend(low + at for at in in_step(free, high - low, room, seam.line.shift_mm))
    return found


def tooth_places(seam: ReadySeam, middles: Sequence[float]) -> list[ToothPlace]:
    """Teeth at these middles; on an arc a tooth is centred on its middle too."""
    if seam.tooth is None:
        return []
    base = seam.tooth.base_mm
    places: list[ToothPlace] = []
    for middle in middles:
        start = middle - base / 2
        for _ in range(3):
            _, _, end = tooth_frame(seam.base, start, base)
            start += middle - (start + end) / 2
        places.append(ToothPlace(start, seam.line.turned_over))
    # Teeth that follow on one another share a corner exactly.
    for index in range(1, len(places)):
        _, _, end = tooth_frame(seam.base, places[index - 1].station_mm, base)
        if abs(end - places[index].station_mm) < 1e-6:
            places[index] = ToothPlace(end, seam.line.turned_over)
    return places
