"""What plain seams need besides their line: pockets for keys and the keys, and half-laps."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import replace

import shapely
from shapely.geometry import LinearRing, LineString, Polygon, box
from shapely.geometry.base import BaseGeometry

from core.cutting import CutGeometry, Pocket, tidy_ring
from core.errors import InvalidGeometryError
from core.geometry import Motion, Point, Region, Ring
from core.geometry.arcs import restore_arcs
from core.geometry.path import Path, at_station, flatten_path, offset_ring, path_length, shift_edges
from core.joints.style import Keys
from core.outlines.model import Face
from core.project.model import Panel
from core.splitting.lines import ReadySeam
from core.splitting.model import Piece, Seam
from core.splitting.placing import band_polygon
from core.tolerances import FLATTEN_SAGITTA_MM, SLIVER_MM2, WELD_MM

_SLIT_MM = 2 * FLATTEN_SAGITTA_MM  # half the widest slit between two flattenings of one arc


def largest_part(shape: BaseGeometry) -> Polygon | None:
    """The largest polygon of a result, None if there is none."""
    parts = [g for g in shapely.get_parts(shape) if g.geom_type == "Polygon"]
    return max(parts, key=lambda g: g.area, default=None)


def key_pocket(keys: Keys, gap_mm: float, radius_mm: float) -> Ring:
    """The pocket in the mate at y > 0, centred on (0, 0); it runs out past the seam.

    It is the key's half grown by half the gap; beyond the seam it goes straight on by the
    bit's radius, so that the pocket is square at the edge of the board.
    """
    grown = offset_ring(keys.outline, -gap_mm / 2) if gap_mm else keys.outline
    shape = Region.of(grown).polygon
    x1, _, x2, y2 = grown.bounds
    half = largest_part(shape.intersection(box(x1 - 1, 0.0, x2 + 1, y2 + 1)))
    if half is None:
        raise InvalidGeometryError("A key has no half on one side of the seam")
    row = shapely.get_coordinates(half)
    on_seam = row[abs(row[:, 1]) < 1e-9][:, 0]
    run_out = box(float(on_seam.min()), -(radius_mm + 1.0), float(on_seam.max()), 0.0)
    pocket = largest_part(half.union(run_out))
    assert pocket is not None
    return tidy_ring(restore_arcs(pocket, [grown]).outer)


def add_keys(
    cuts: Sequence[CutGeometry],
    seams: Sequence[Seam],
    ready: Sequence[ReadySeam],
    ids: Sequence[str],
    panel: Panel,
) -> tuple[list[CutGeometry], list[Piece]]:
    """Pockets for the keys of plain seams in both mates, and the keys as loose pieces."""
    made = {seam.index: seam for seam in ready}
    result = list(cuts)
    loose: list[Piece] = []
    for seam in seams:
        own = made[seam.line_index]
        if own.keys is None or not seam.keys:
            continue
        radius = own.context.cutter.radius_mm
        pocket = key_pocket(own.keys, own.gap_mm, radius)
        face = Face.BACK if own.keys.from_back else Face.SHOW
        line = _direction_finder(own)
        for point in seam.keys:
            angle = line(point)
            for side, piece_id in enumerate(seam.pieces):
                turn = angle + (0.0 if side == 0 else 180.0)
                ring = pocket.moved(Motion(point[0], point[1], turn))
                k = ids.index(piece_id)
                cut = result[k]
                result[k] = replace(
                    cut,
                    pockets=(*cut.pockets, Pocket(ring, own.keys.depth_mm, face, "key")),
                )
        shrunk = offset_ring(own.keys.outline, own.gap_mm / 2) if own.gap_mm else own.keys.outline
        # Laid with its length along x, the grain along the key.
        region = Region.of(shrunk.moved(Motion(turn_deg=-90.0)))
        drawn = Region.of(own.keys.outline.moved(Motion(turn_deg=-90.0)))
        pockets: tuple[Pocket, ...] = ()
        rest = own.context.thickness_mm - own.keys.depth_mm
        if rest > 1e-6:
            x1, y1, x2, y2 = region.bounds
            over = radius + 1.0
            around = Ring.rectangle(x1 - over, y1 - over, x2 - x1 + 2 * over, y2 - y1 + 2 * over)
            pockets = (Pocket(around, rest, Face.BACK, "thin"),)
        loose.append(
            Piece(
                id=f"{seam.id}.key",
                panel_id=panel.id,
                region=drawn,
                cut=CutGeometry(region, pockets),
                seam_ids=(seam.id,),
                loose=True,
                quantity=len(seam.keys),
                material=panel.material,
                thickness_mm=own.context.thickness_mm,
                turns_deg=(0.0, 180.0),
                name=f"Key for {panel.name} {seam.letter}".strip(),
            )
        )
    return result, loose


def _direction_finder(seam: ReadySeam) -> Callable[[Point], float]:
    """A function giving the seam's direction in degrees near a point on it."""
    line = LineString(flatten_path(seam.base))

    def angle(point: Point) -> float:
        station = float(line.project(shapely.Point(point)))
        dx, dy = at_station(seam.base, station)[1]
        return math.degrees(math.atan2(dy, dx))

    return angle


def add_laps(
    cuts: Sequence[CutGeometry],
    regions: Sequence[Region],
    seams: Sequence[Seam],
    ready: Sequence[ReadySeam],
    ids: Sequence[str],
    *,
    draft: bool,
) -> list[CutGeometry]:
    """Half-laps: both mates run past the seam and are pocketed to the remaining thickness.

    The mate on the right lies on top, pocketed from its back, so it is cut face down
    (turned_over swaps them). Its end meets the other's shoulder on the show face and sets the
    length; on the back the other's end retreats by the gap. Where another half-lap crosses,
    both stop short of the crossing, so that never more than two pieces lie over each other.
    """
    made = {seam.index: seam for seam in ready}
    result = list(cuts)
    for seam in seams:
        own = made[seam.line_index]
        if own.lap is None:
            continue
        kept_off = [
            LineString(flatten_path(other.base)).buffer(other.lap.lap_mm / 2, cap_style="flat")
            for other in ready
            if other.lap is not None and other is not own
        ]
        pair = [ids.index(piece) for piece in seam.pieces]
        others = [regions[k].polygon for k in range(len(cuts)) if k not in pair]
        board = shapely.union_all([regions[k].polygon for k in pair])
        for joint in seam.joints:
            for side, k in enumerate(pair):
                result[k] = _lapped(
                    result[k],
                    own,
                    joint.middle,
                    left=side == 0,
                    board=board,
                    others=others,
                    kept_off=kept_off,
                    shapes=[result[k].region, *(regions[i] for i in pair)],
                    draft=draft,
                )
    return result


def _lapped(
    cut: CutGeometry,
    own: ReadySeam,
    stretch: Path,
    *,
    left: bool,
    board: BaseGeometry,
    others: Sequence[Polygon],
    kept_off: Sequence[BaseGeometry],
    shapes: Sequence[Region],
    draft: bool,
) -> CutGeometry:
    """One mate of one joint length of a half-lap. left: it lies left of the seam line."""
    assert own.lap is not None
    radius = own.context.cutter.radius_mm
    half, over = own.lap.lap_mm / 2, radius + 1.0
    on_top = left == own.line.turned_over
    ahead = half if on_top else half - own.gap_mm
    # The left mate runs over to the right of the line, the right one to the left.
    sides = (1.0, ahead) if left else (ahead, 1.0)
    extension = band_polygon(stretch, *sides, FLATTEN_SAGITTA_MM).intersection(board)
    zone = _long_band(stretch, half, half, over)
    count = len(stretch) - 1
    # Circles the cut may follow: the mates', and the seam line's moved to both ends of the lap.
    circles: list[Region | Path] = [*shapes]
    circles += [shift_edges(stretch, [away] * count) for away in (half, -half, ahead, -ahead)]
    for shape in kept_off:
        extension = extension.difference(shape)
        # The pocket runs on a little, so that its round corners lie beyond the mate's end.
        zone = zone.difference(shape.buffer(-over))
    for other in others:
        extension = extension.difference(other)
    joined = cut.region.polygon.union(extension.buffer(0))
    # Alike arcs flattened from different ends may leave a slit between them: close it.
    joined = joined.buffer(_SLIT_MM, join_style="mitre", mitre_limit=50.0)
    joined = joined.buffer(-_SLIT_MM, join_style="mitre", mitre_limit=50.0)
    polygon = largest_part(joined)
    if polygon is None:
        raise InvalidGeometryError("A half-lap leaves nothing of a piece")
    region = _cleaned(polygon, circles, draft)
    pockets = list(cut.pockets)
    # Each half takes half of the clearance: cut to half the thickness the levels just meet.
    clearance = own.lap.clearance_mm / 2
    depth = own.context.thickness_mm / 2 + clearance
    face = Face.BACK if on_top else Face.SHOW
    for part in shapely.get_parts(zone.intersection(polygon)):
        if part.geom_type != "Polygon" or part.area < SLIVER_MM2:
            continue
        # Past the outline by more than the bit's radius, so that the edge is cut clean.
        run_out = part.buffer(over, join_style="mitre").difference(polygon)
        pocket = largest_part(part.union(run_out).buffer(1e-6).buffer(-1e-6))
        assert pocket is not None
        ring = tidy_ring(restore_arcs(Polygon(pocket.exterior), circles).outer)
        pockets.append(Pocket(ring, depth, face, "lap", clearance_mm=clearance))
    return replace(cut, region=region, pockets=tuple(pockets))


def _cleaned(polygon: Polygon, shapes: Sequence[Region | Path], draft: bool) -> Region:
    # Joining flattened shapes leaves corners a rounding error apart; they are one corner.
    holes = [_welded(h) for h in polygon.interiors if Polygon(h).area > SLIVER_MM2]
    polygon = Polygon(_welded(polygon.exterior), holes)
    if draft:
        return Region.from_polygon(polygon)
    region = restore_arcs(polygon, shapes)
    return Region(tidy_ring(region.outer), tuple(tidy_ring(h) for h in region.holes))


def _welded(ring: LinearRing) -> list[tuple[float, float]]:
    rows: list[tuple[float, float]] = []
    for x, y in ring.coords[:-1]:
        if not rows or math.dist(rows[-1], (x, y)) > WELD_MM:
            rows.append((x, y))
    while len(rows) > 3 and math.dist(rows[0], rows[-1]) <= WELD_MM:
        rows.pop()
    return rows


def _long_band(path: Path, left_mm: float, right_mm: float, longer_mm: float) -> Polygon:
    """The strip along a seam line, its ends run on by longer_mm."""
    if longer_mm > 0.0:
        (x1, y1), (x2, y2) = (
            at_station(path, -longer_mm)[0],
            at_station(path, path_length(path) + longer_mm)[0],
        )
        path = ((x1, y1, 0.0), *path[1:]) if path[0][2] == 0.0 else ((x1, y1, 0.0), *path)
        path = (*path[:-1], (x2, y2, 0.0)) if path[-2][2] == 0.0 else (*path, (x2, y2, 0.0))
    return band_polygon(path, left_mm, right_mm, FLATTEN_SAGITTA_MM)
