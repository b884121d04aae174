"""Bit access: what a round bit cannot cut, where, how much, and which bit could.

A bit of radius r leaves of an outline what a disc of r cannot sweep from outside: the closing
of the piece by the disc, less the piece itself.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import shapely
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

from core.findings import Finding, Severity
from core.geometry.ring import Point, Region, Ring, arc_of
from core.shop import Cutter
from core.tolerances import BIT_SLACK_MM, FILM_MM, FINE_SAGITTA_MM, FLATTEN_SAGITTA_MM

_QUADRANT = 32  # chords per quarter turn of a buffered corner; fewer give false films
_CORNER_SHARE = (0.19, 0.31)  # a sharp corner leaves a quarter of the area to half the bit


@dataclass(frozen=True, slots=True)
class Unreached:
    """A spot the bit leaves uncut.

    kind: "corner" (sharp inside corner, left round), "slot" (narrower than the bit), "radius"
    (an inside curve tighter than the bit), "hole" (round, smaller than the bit).
    largest_bit_mm: the thickest bit that would do; None for a sharp corner, which no round bit
    cuts. shape: what stays, mm.
    """

    at: Point
    area_mm2: float
    kind: str
    largest_bit_mm: float | None
    shape: Polygon


def bit_leaves(shape: BaseGeometry, radius_mm: float) -> BaseGeometry:
    """The piece as a bit of radius_mm really leaves it: closed by the disc."""
    grown = shape.buffer(radius_mm, quad_segs=_QUADRANT)
    return grown.buffer(-radius_mm, quad_segs=_QUADRANT).union(shape)


def _spots(shape: BaseGeometry, radius_mm: float) -> list[Polygon]:
    rest = bit_leaves(shape, radius_mm).difference(shape)
    # Films along curves come from chords; what has no thickness is not there.
    solid = rest.buffer(-FILM_MM).buffer(1.5 * FILM_MM).intersection(rest)
    return [g for g in shapely.get_parts(solid) if isinstance(g, Polygon) and g.area > FILM_MM]


def bit_access(
    region: Region | Polygon, cutter: Cutter | float, *, agreed: Sequence[Point] = ()
) -> tuple[Unreached, ...]:
    """What the bit cannot cut of an outline, largest first.

    agreed: corners the maker leaves round on purpose; spots within a bit's radius of one are
    not listed.
    """
    diameter = cutter.diameter_mm if isinstance(cutter, Cutter) else float(cutter)
    radius = diameter / 2
    # A curve of the bit's own radius is one it can cut; flattened it would be a hair tighter.
    shape = region.flattened(FINE_SAGITTA_MM) if isinstance(region, Region) else region
    radius -= BIT_SLACK_MM if isinstance(region, Region) else FLATTEN_SAGITTA_MM + BIT_SLACK_MM
    found: list[Unreached] = []
    for spot in _spots(shape, radius):
        centre = spot.representative_point()
        at = (centre.x, centre.y)
        if any(spot.distance(shapely.Point(p)) <= radius for p in agreed):
            continue
        found.append(_judged(shape, spot, radius, at))
    found.sort(key=lambda u: -u.area_mm2)
    return tuple(found)


def _judged(shape: Polygon, spot: Polygon, radius: float, at: Point) -> Unreached:
    around = spot.buffer(2.5 * radius)
    local = shape.intersection(around.buffer(radius))
    hole = next((h for h in shape.interiors if Polygon(h).contains(spot.centroid)), None)

    def left(r: float) -> float:
        rest = bit_leaves(local, r).difference(shape).intersection(spot.buffer(FILM_MM))
        return float(rest.buffer(-FILM_MM / 2).area)

    area = float(spot.area)
    share = left(radius / 2) / area
    if _CORNER_SHARE[0] <= share <= _CORNER_SHARE[1]:
        return Unreached(at, area, "corner", None, spot)

    def would_do(r: float) -> bool:
        # Sharp corners at a slot's end do not count against a bit that gets in.
        rest = left(r)
        return rest <= 1.2 * r * r and rest <= 0.5 * area

    low, high = 0.0, radius
    for _ in range(18):
        middle = (low + high) / 2
        low, high = (middle, high) if would_do(middle) else (low, middle)
    largest = 2 * low + 2 * BIT_SLACK_MM
    kind = "slot"
    if hole is not None:
        ring = Polygon(hole)
        if ring.area > 0.9 * math.pi * (ring.length / (2 * math.pi)) ** 2:
            kind = "hole"
    if kind == "slot" and area < 0.6 * radius * radius and share < _CORNER_SHARE[0]:
        kind = "radius"
    return Unreached(at, area, kind, largest, spot)


def pocket_access(pocket: Polygon, cutter: Cutter | float) -> tuple[Unreached, ...]:
    """What a bit cannot cut of a pocket: the pocket less what a disc inside it sweeps."""
    x1, y1, x2, y2 = pocket.bounds
    diameter = cutter.diameter_mm if isinstance(cutter, Cutter) else float(cutter)
    board = shapely.box(x1 - 4 * diameter, y1 - 4 * diameter, x2 + 4 * diameter, y2 + 4 * diameter)
    return bit_access(board.difference(pocket), diameter)


def access_findings(
    region: Region, cutter: Cutter, *, panel: str | None = None, agreed: Sequence[Point] = ()
) -> tuple[Finding, ...]:
    """Findings for what the bit cannot cut: slots stop, tight curves warn, corners are noted."""
    found: list[Finding] = []
    d = cutter.diameter_mm
    for spot in bit_access(region, cutter, agreed=agreed):
        bit = (
            ""
            if spot.largest_bit_mm is None
            else f"{math.floor(spot.largest_bit_mm * 100) / 100:g}"
        )
        if spot.kind == "corner":
            found.append(
                Finding(
                    "corner-stays-round",
                    Severity.NOTE,
                    f"An inside corner keeps a radius of {d / 2:g} mm; {spot.area_mm2:.2f} mm² "
                    "stay uncut",
                    panel=panel,
                    at=spot.at,
                    remedy="Square it by hand, or give it relief if a corner must enter.",
                )
            )
        elif spot.kind == "hole":
            found.append(
                Finding(
                    "hole-smaller-than-bit",
                    Severity.NOTE,
                    f"A round hole of {bit} mm is smaller than the {d:g} mm bit: it is drilled",
                    panel=panel,
                    at=spot.at,
                    remedy=f"Drill it, or take a bit of {bit} mm or less.",
                )
            )
        elif spot.kind == "slot":
            found.append(
                Finding(
                    "slot-narrower-than-bit",
                    Severity.STOP,
                    f"A slot is {bit} mm wide; the {d:g} mm bit does not get in and leaves "
                    f"{spot.area_mm2:.1f} mm²",
                    panel=panel,
                    at=spot.at,
                    remedy=f"Take a bit of {bit} mm or less, or widen the slot.",
                )
            )
        else:
            found.append(
                Finding(
                    "curve-tighter-than-bit",
                    Severity.WARN,
                    f"An inside curve is too tight for the {d:g} mm bit, which leaves "
                    f"{spot.area_mm2:.2f} mm²",
                    panel=panel,
                    at=spot.at,
                    remedy=f"Take a bit of {bit} mm or less, or ease the curve.",
                )
            )
    return tuple(found)


def round_hole(ring: Ring) -> tuple[Point, float] | None:
    """(centre, diameter) of a ring that is one full circle, else None.

    A ring of many short straight edges counts too if all its corners lie on one circle.
    """
    arcs = [edge for edge in ring.edges() if edge[2] != 0.0]
    if len(arcs) == len(ring.vertices):
        circles = [arc_of(*edge) for edge in arcs]
        (cx, cy), r, _, _ = circles[0]
        if all(math.dist(c[0], (cx, cy)) < 1e-3 and abs(c[1] - r) < 1e-3 for c in circles):
            turn = sum(c[3] for c in circles)
            if abs(abs(turn) - 2 * math.pi) < 1e-3:
                return (cx, cy), 2 * r
        return None
    if arcs or len(ring.vertices) < 12:
        return None
    xy = ring.flattened()
    x, y = xy.mean(axis=0)
    away = ((xy[:, 0] - x) ** 2 + (xy[:, 1] - y) ** 2) ** 0.5
    if float(away.max() - away.min()) < 0.02 * float(away.mean()):
        return (float(x), float(y)), 2 * float(away.mean())
    return None


def largest_bit(region: Region, bits: Sequence[Cutter]) -> Cutter | None:
    """The thickest of some bits that cuts everything but sharp corners, None if none does."""
    for bit in sorted(bits, key=lambda b: -b.diameter_mm):
        spots = bit_access(region, bit)
        if all(spot.kind == "corner" for spot in spots):
            return bit
    return None


__all__ = [
    "Unreached",
    "access_findings",
    "bit_access",
    "bit_leaves",
    "largest_bit",
    "pocket_access",
    "round_hole",
]
