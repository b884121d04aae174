"""Independent proof that a layout is valid.

Uses nothing of the search: only shapely's exact predicates on the outlines as given. Every
layout passes through here before it leaves the engine.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from shapely.geometry import MultiPolygon, Polygon
from shapely.geometry.base import BaseGeometry

from core import tolerances
from core.nesting.model import Layout, NestPiece, NestRules, NestSheet, Placement, placed_polygon

#: id of a sheet that is looked at alone, and how a violation calls it
ONLY_SHEET = "the sheet"


@dataclass(frozen=True, slots=True)
class Violation:
    """One way in which a layout breaks the rules.

    code: kebab-case kind: "unknown", "copies", "turn", "mirror", "sheet-count", "edge",
    "keep-out", "overlap", "spacing". message: a sentence. placements: those concerned.
    """

    code: str
    message: str
    placements: tuple[Placement, ...] = ()


def check_layout(
    pieces: Sequence[NestPiece],
    sheets: Sequence[NestSheet],
    rules: NestRules,
    layout: Layout,
) -> list[Violation]:
    """Everything that is wrong with a layout; empty if it is valid.

    Each copy is placed exactly once or unplaced; turns and mirroring are allowed ones; sheets
    exist in the number stated; every piece keeps edge_margin_mm from the sheet's edges and
    spacing_mm from others, both less LAYOUT_DISTANCE_MM; no piece overlaps another or a
    keep-out by more than LAYOUT_OVERLAP_REL of the smaller area.
    """
    piece_by_id = {piece.id: piece for piece in pieces}
    sheet_by_id = {sheet.id: sheet for sheet in sheets}
    found = _check_copies(pieces, layout)
    by_sheet: dict[tuple[str, int], list[Placement]] = {}
    for placement in layout.placements:
        piece = piece_by_id.get(placement.piece_id)
        sheet = sheet_by_id.get(placement.sheet_id)
        if piece is None or sheet is None:
            found.append(Violation("unknown", "Piece or sheet is not in the list", (placement,)))
            continue
        found += _check_turn(piece, placement)
        if placement.sheet_copy < 1 or (
            sheet.quantity is not None and placement.sheet_copy > sheet.quantity
        ):
            found.append(
                Violation(
                    "sheet-count",
                    f"Sheet {sheet.id} number {placement.sheet_copy} does not exist",
                    (placement,),
                )
            )
        by_sheet.setdefault((placement.sheet_id, placement.sheet_copy), []).append(placement)
    for (sheet_id, _), placements in by_sheet.items():
        found += check_sheet(piece_by_id, sheet_by_id[sheet_id], rules, placements)
    return found


def check_sheet(
    piece_by_id: dict[str, NestPiece],
    sheet: NestSheet,
    rules: NestRules,
    placements: Sequence[Placement],
) -> list[Violation]:
    """The violations on one sheet: edges, keep-outs, overlaps and spacing."""
    solid: dict[str, BaseGeometry] = {}
    shapes = []
    for placement in placements:
        if placement.piece_id not in solid:
            polygon = sound(piece_by_id[placement.piece_id].polygon)
            solid[placement.piece_id] = polygon if rules.use_holes else without_holes(polygon)
        shapes.append(placed_polygon(solid[placement.piece_id], placement))
    found = _check_edges(sheet, rules, placements, shapes)
    array = np.array(shapes, dtype=object)
    shapely.prepare(array)
    tree = shapely.STRtree(array)
    reach = max(rules.spacing_mm - tolerances.LAYOUT_DISTANCE_MM, 0.0)
    pairs = tree.query(array, predicate="dwithin", distance=reach)
    first, second = pairs[:, pairs[0] < pairs[1]]
    if not len(first):
        return found
    gaps = shapely.distance(array[first], array[second])
    touching = gaps <= 0.0
    overlap = np.zeros(len(first))
    overlap[touching] = shapely.area(
        shapely.intersection(array[first[touching]], array[second[touching]])
    )
    areas = shapely.area(array)
    limit = tolerances.LAYOUT_OVERLAP_REL * np.minimum(areas[first], areas[second])
    for i, j, gap, shared, most in zip(first, second, gaps, overlap, limit, strict=True):
        both = (placements[i], placements[j])
        names = f"{both[0].piece_id} and {both[1].piece_id}"
        if shared > most:
            found.append(Violation("overlap", f"{names} overlap by {_plain(shared)} mm²", both))
        elif gap < reach:
            gap = _rounded_down(gap)
            found.append(Violation("spacing", f"{names} are {gap:.2f} mm apart", both))
    return found


def _rounded_down(gap_mm: float) -> float:
    """To hundredths: what is too little must not read as enough."""
    return math.floor(gap_mm * 100) / 100


def _plain(value: float) -> str:
    """A number without a power of ten."""
    return f"{value:.0f}" if value >= 100 else f"{value:.3f}"


def sound(polygon: BaseGeometry) -> BaseGeometry:
    """The polygon itself if valid, else its valid area (self-touching outlines fall apart)."""
    if polygon.is_valid:
        return polygon
    repaired = shapely.make_valid(polygon)
    parts = [
        part
        for part in shapely.get_parts(repaired)
        if part.geom_type in ("Polygon", "MultiPolygon")
    ]
    return shapely.union_all(parts) if parts else Polygon()


def without_holes(polygon: BaseGeometry) -> BaseGeometry:
    """The polygon with every hole filled."""
    parts = [Polygon(part.exterior) for part in shapely.get_parts(polygon)]
    return parts[0] if len(parts) == 1 else shapely.union_all(parts)


def sheet_room(sheet: NestSheet, margin_mm: float, clear_mm: float = 0.0) -> BaseGeometry:
    """Where pieces may lie: the sheet less its margin and its keep-outs, mm, conservative.

    clear_mm: kept free around keep-outs, for a search that allows itself a hair of overlap.
    """
    room = sound(sheet.polygon)
    if margin_mm:
        room = room.buffer(-margin_mm, join_style="mitre", mitre_limit=5.0)
    if sheet.keep_outs:
        spots = shapely.union_all([sound(spot) for spot in sheet.keep_outs])
        room = room.difference(spots.buffer(clear_mm, join_style="mitre") if clear_mm else spots)
    if room.geom_type == "GeometryCollection":
        room = MultiPolygon([part for part in room.geoms if part.geom_type == "Polygon"])
    return room


def _check_copies(pieces: Sequence[NestPiece], layout: Layout) -> list[Violation]:
    wanted = {(piece.id, copy) for piece in pieces for copy in range(1, piece.quantity + 1)}
    seen = Counter((p.piece_id, p.copy) for p in layout.placements)
    seen.update((u.piece_id, u.copy) for u in layout.unplaced)
    found = [
        Violation("copies", f"Piece {key[0]} copy {key[1]} is missing")
        for key in sorted(wanted - seen.keys(), key=str)
    ]
    for key, count in seen.items():
        if key not in wanted:
            found.append(Violation("copies", f"Piece {key[0]} has no copy {key[1]}"))
        elif count > 1:
            found.append(Violation("copies", f"Piece {key[0]} copy {key[1]} is there twice"))
    return found


def _check_turn(piece: NestPiece, placement: Placement) -> list[Violation]:
    found = []
    if placement.mirrored and not piece.may_mirror:
        found.append(Violation("mirror", f"Piece {piece.id} must not be mirrored", (placement,)))
    if piece.turns_deg is not None:
        off = min(abs((placement.turn_deg - t + 180) % 360 - 180) for t in piece.turns_deg)
        if off > tolerances.LAYOUT_TURN_DEG:
            text = f"Piece {piece.id} must not be turned by {placement.turn_deg:g}°"
            found.append(Violation("turn", text, (placement,)))
    return found


def _check_edges(
    sheet: NestSheet,
    rules: NestRules,
    placements: Sequence[Placement],
    shapes: list[BaseGeometry],
) -> list[Violation]:
    outline = sound(sheet.polygon)
    slack = tolerances.LAYOUT_DISTANCE_MM
    outer = outline.buffer(slack, join_style="mitre")
    edge = outline.boundary
    shapely.prepare([outer, edge])
    name = ONLY_SHEET if sheet.id == ONLY_SHEET else f"sheet {sheet.id}"
    found = []
    for placement, shape in zip(placements, shapes, strict=True):
        if not outer.covers(shape):
            text = f"{placement.piece_id} reaches past the edge of {name}"
            found.append(Violation("edge", text, (placement,)))
        elif rules.edge_margin_mm > slack:
            gap = shape.distance(edge)
            if gap < rules.edge_margin_mm - slack:
                gap = _rounded_down(gap)
                text = f"{placement.piece_id} is {gap:.2f} mm from the edge of {name}"
                found.append(Violation("edge", text, (placement,)))
        for spot in sheet.keep_outs:
            shared = shape.intersection(sound(spot)).area if shape.intersects(spot) else 0.0
            if shared > tolerances.LAYOUT_OVERLAP_REL * min(shape.area, spot.area):
                text = f"{placement.piece_id} lies where {name} must not be used"
                found.append(Violation("keep-out", text, (placement,)))
    return found
