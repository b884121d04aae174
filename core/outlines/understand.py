"""From strands in millimetres to outlines, features and findings: the policy of reading.

The steps, in order: roles by layer; loops, first within one block of one layer, then within a
layer, then across layers of the cut role, so that what belongs together is joined before what
merely lies near; rings; depth; features; names.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field

import shapely

from core.findings import Finding
from core.geometry import Point, Ring, Vertex
from core.geometry.path import flatten_path
from core.outlines.attach import Outers, with_features, with_names
from core.outlines.loops import Closure, Loop, Loops, find_loops, open_chains
from core.outlines.model import Feature, Outline, Role
from core.outlines.overlaps import Overlap, exploded, without_overlaps
from core.outlines.overshoots import Trim, trimmed
from core.outlines.rings import (
    FoundRing,
    RingFaults,
    is_circle,
    make_region,
    make_rings,
    nest_rings,
)
from core.outlines.roles import LayerMeaning
from core.outlines.strands import RawPoint, RawText, Strand
from core.outlines.telling import Telling
from core.tolerances import GAP_SILENT_MM, OVERLAP_TOL_MM, REREAD_TOL_MM


@dataclass
class Understood:
    """What a drawing means."""

    outlines: list[Outline] = field(default_factory=list)
    sheets: list[Ring] = field(default_factory=list)
    findings: list[Finding] = field(default_factory=list)
    open_lines: list[tuple[Point, ...]] = field(default_factory=list)
    strays: list[Feature] = field(default_factory=list)

    @property
    def largest_mm(self) -> tuple[float, float]:
        """Width and height of the outline with the longest side, (0, 0) without outlines."""
        sizes = [outline.region.size_mm for outline in self.outlines]
        return max(sizes, key=max, default=(0.0, 0.0))


def understand(
    strands: Sequence[Strand],
    points: Sequence[RawPoint],
    texts: Sequence[RawText],
    meanings: Mapping[str, LayerMeaning],
    *,
    gap_mm: float,
    sheets_at: Sequence[Point] = (),
    stem: str,
    source: str,
    tick: Callable[[], None] = lambda: None,
) -> Understood:
    """Outlines with features and names, and everything noticed on the way.

    strands, points, texts: in mm in the panels' frame. meanings: of every layer. gap_mm:
    widest gap that is closed. sheets_at: lower left corners of outlines that are no panels but
    sheets. stem: name for outlines without a text. source: file name.
    """
    out = Understood()
    tell = Telling(source, out.findings)
    by_role: dict[Role, list[Strand]] = defaultdict(list)
    for strand in strands:
        by_role[meanings[strand.layer].role].append(strand)
    tell.ignored(by_role[Role.IGNORE])

    rings, chains = _cut_rings(by_role[Role.CUT], gap_mm, tell, tick)
    out.open_lines = [_flat(chain.rows) for chain in chains]
    rings, marked = _without_sheets(rings, sheets_at)
    nested = nest_rings(rings)
    tell.doubles(nested.doubles)
    tell.crossings(nested.crossings)
    outer_polygons = []
    for outer, holes in nested.panels:
        region, touched = make_region(outer, holes)
        if touched:
            tell.hole_on_edge(outer, region is not None)
        if region is not None:
            out.outlines.append(Outline(region, outer.layer))
            outer_polygons.append(outer.polygon)
    tick()

    sheets = [*_quiet_rings(by_role[Role.SHEET], gap_mm), *marked]
    out.sheets = [ring.ring for ring in sheets]
    tell.sheets(out.sheets)
    tell.sheet_like(nested.panels)

    features: list[Feature] = []
    for role in (Role.POCKET, Role.DADO, Role.REBATE, Role.DRILL, Role.ENGRAVE):
        features += _features(by_role[role], meanings, role, gap_mm, tell, tick)
    features += _drill_points(points, meanings)
    tell.depths(meanings, features)
    outers = Outers.of(outer_polygons)
    out.outlines, out.strays = with_features(out.outlines, features, outers)
    tell.strays(out.strays)
    out.outlines = with_names(out.outlines, texts, stem, outers)
    return out


def _cut_rings(
    strands: Sequence[Strand], gap_mm: float, tell: Telling, tick: Callable[[], None]
) -> tuple[list[FoundRing], list[Strand]]:
    """Rings on layers of the cut role and lines in none, everything odd about them told."""
    closed = [strand for strand in strands if strand.closed]
    loose = [strand for strand in strands if not strand.closed]
    loops, leftovers = _all_loops(loose, gap_mm, tell, tick)
    faults = RingFaults()
    rings = make_rings([*closed, *(_as_strand(loop) for loop in loops)], faults, tick)
    tell.faults(faults)
    chains = open_chains(leftovers)
    tell.open_lines(chains, {ring.layer for ring in rings})
    return rings, chains


def _without_sheets(
    rings: Sequence[FoundRing], corners: Sequence[Point]
) -> tuple[list[FoundRing], list[FoundRing]]:
    """Rings of panels, and those the maker said are sheets."""
    if not corners:
        return list(rings), []
    marked = [
        ring
        for ring in rings
        if any(math.dist(ring.ring.bounds[:2], corner) <= REREAD_TOL_MM for corner in corners)
    ]
    # Something in the very corner of the sheet may begin there too; the sheet is the largest.
    largest = {
        max(
            (r for r in marked if math.dist(r.ring.bounds[:2], corner) <= REREAD_TOL_MM),
            key=lambda r: r.polygon.area,
        ).order
        for corner in corners
        if any(math.dist(r.ring.bounds[:2], corner) <= REREAD_TOL_MM for r in marked)
    }
    return [r for r in rings if r.order not in largest], [r for r in rings if r.order in largest]


def _all_loops(
    loose: Sequence[Strand], gap_mm: float, tell: Telling, tick: Callable[[], None]
) -> tuple[list[Loop], list[Strand]]:
    """Loops in loose strands, from the closest kin outwards; what stays open."""
    tight = min(GAP_SILENT_MM, gap_mm)
    overlaps: list[Overlap] = []
    found: list[Loops] = []

    def pass_over(edges: Iterable[Strand], key: Callable[[Strand], object], gap: float) -> list:
        groups: dict[object, list[Strand]] = defaultdict(list)
        for edge in edges:
            groups[key(edge)].append(edge)
        left: list[Strand] = []
        for group in groups.values():
            single, doubled = without_overlaps(group)
            overlaps.extend(doubled)
            result = find_loops(single, gap_mm=gap, tick=tick)
            found.append(result)
            left += result.leftovers
            tick()
        return left

    edges: list[Strand] = pass_over(exploded(loose), lambda e: (e.layer, e.source), tight)
    if any(edge.source != edges[0].source for edge in edges):
        edges = pass_over(edges, lambda e: e.layer, tight)
    if len({edge.layer for edge in edges}) > 1:
        edges = pass_over(edges, lambda e: "", tight)
    trims: list[Trim] = []
    if edges and gap_mm > tight:
        edges, trims = _trimmed_where_it_helps(edges, gap_mm)
        edges = pass_over(edges, lambda e: e.layer, gap_mm)
        if len({edge.layer for edge in edges}) > 1:
            edges = pass_over(edges, lambda e: "", gap_mm)
    tell.overlaps(overlaps)
    tell.trims(trims)
    tell.closures([c for result in found for c in result.closures])
    tell.branches([p for result in found for p in result.branches])
    tell.touches([p for result in found for p in result.touches])
    tell.stubs([s for result in found for s in result.stubs])
    return [loop for result in found for loop in result.loops], edges


def _trimmed_where_it_helps(edges: list[Strand], gap_mm: float) -> tuple[list[Strand], list[Trim]]:
    """The edges with those overshoots trimmed that keep an outline from closing."""
    better, trims = trimmed(edges, gap_mm=gap_mm)
    if better == edges:
        return edges, []
    before, after = find_loops(edges, gap_mm=gap_mm), find_loops(better, gap_mm=gap_mm)
    if _merit(after) <= _merit(before):
        return edges, []
    # Ends that turn out to lie on no outline stay as they were drawn.
    if not trims:
        return better, trims
    corners = shapely.STRtree(
        shapely.points([row[:2] for loop in after.loops for row in loop.rows])
    )
    spots = shapely.points([trim.at for trim in trims])
    on_outline, _ = corners.query(spots, predicate="dwithin", distance=OVERLAP_TOL_MM)
    needed = {trims[k].end for k in on_outline}
    if len(needed) == len(trims):
        return better, trims
    return trimmed(edges, gap_mm=gap_mm, only=needed)


def _merit(loops: Loops) -> tuple[int, int]:
    """More outlines are better, then fewer gaps to close."""
    return len(loops.loops), -len(loops.closures)


def _as_strand(loop: Loop) -> Strand:
    return Strand(loop.rows, True, loop.layer, loop.source, loop.order)


def _quiet_rings(strands: Sequence[Strand], gap_mm: float) -> list[FoundRing]:
    """Rings of layers that are not cut, without findings."""
    edges, _ = without_overlaps(exploded([s for s in strands if not s.closed]))
    loops = find_loops(edges, gap_mm=gap_mm).loops if edges else []
    closed = [s for s in strands if s.closed]
    return make_rings([*closed, *(_as_strand(loop) for loop in loops)], RingFaults())


def _features(
    strands: Sequence[Strand],
    meanings: Mapping[str, LayerMeaning],
    role: Role,
    gap_mm: float,
    tell: Telling,
    tick: Callable[[], None],
) -> list[Feature]:
    """Features of one role, layer by layer."""
    layers: dict[str, list[Strand]] = defaultdict(list)
    for strand in strands:
        layers[strand.layer].append(strand)
    out: list[Feature] = []
    for layer, members in layers.items():
        meaning = meanings[layer]
        closed = [s for s in members if s.closed]
        edges, _ = without_overlaps(exploded([s for s in members if not s.closed]))
        result = find_loops(edges, gap_mm=gap_mm, tick=tick) if edges else Loops()
        told: list[Closure] = result.closures
        tell.closures(told)
        faults = RingFaults()
        rings = make_rings([*closed, *(_as_strand(loop) for loop in result.loops)], faults, tick)
        tell.faults(faults)
        nested = nest_rings(rings)
        tell.doubles(nested.doubles)
        lines = open_chains(result.leftovers)
        if role is Role.ENGRAVE:
            out += [_engraved(ring, meaning) for ring in rings]
            out += [
                Feature(
                    role,
                    path=_flat(line.rows),
                    depth_mm=meaning.depth_mm,
                    face=meaning.face,
                    layer=layer,
                )
                for line in lines
            ]
            continue
        tell.open_features(lines, role)
        if role is Role.DRILL:
            out += _drilled(rings, meaning, tell)
            continue
        for outer, islands in nested.panels:
            out.append(
                Feature(
                    role,
                    ring=outer.ring,
                    depth_mm=meaning.depth_mm,
                    face=meaning.face,
                    layer=layer,
                    islands=tuple(hole.ring.oriented(ccw=False) for hole in islands),
                )
            )
    return out


def _engraved(ring: FoundRing, meaning: LayerMeaning) -> Feature:
    return Feature(
        Role.ENGRAVE,
        ring=ring.ring,
        depth_mm=meaning.depth_mm,
        face=meaning.face,
        layer=ring.layer,
    )


def _drilled(rings: Sequence[FoundRing], meaning: LayerMeaning, tell: Telling) -> list[Feature]:
    """Round rings of a drill layer as holes; the diameter drawn wins over the layer's."""
    out = []
    for ring in rings:
        circle = round_ring(ring.ring)
        if circle is None:
            tell.not_round(ring)
            continue
        at, diameter = circle
        out.append(
            Feature(
                Role.DRILL,
                at=at,
                diameter_mm=diameter,
                depth_mm=meaning.depth_mm,
                face=meaning.face,
                layer=ring.layer,
            )
        )
    return out


def _drill_points(
    points: Sequence[RawPoint], meanings: Mapping[str, LayerMeaning]
) -> list[Feature]:
    """Points on drill layers as drill centres; points elsewhere mean nothing to a router."""
    out = []
    for point in points:
        meaning = meanings[point.layer]
        if meaning.role is Role.DRILL:
            out.append(
                Feature(
                    Role.DRILL,
                    at=point.at,
                    diameter_mm=meaning.diameter_mm,
                    depth_mm=meaning.depth_mm,
                    face=meaning.face,
                    layer=point.layer,
                )
            )
    return out


def round_ring(ring: Ring) -> tuple[Point, float] | None:
    """Centre and diameter of a ring that is a circle, however it was drawn; else None.

    Two half circles, any number of arcs on one circle, or a polygon of 12 and more corners on
    one circle with equal sides, within a hundredth of the radius.
    """
    if is_circle(ring):
        (x1, y1, _), (x2, y2, _) = ring.vertices
        return ((x1 + x2) / 2, (y1 + y2) / 2), math.dist((x1, y1), (x2, y2))
    x1, y1, x2, y2 = ring.bounds
    width, height = x2 - x1, y2 - y1
    if abs(width - height) > 0.02 * max(width, height):
        return None
    corners = ring.vertices
    if any(v[2] for v in corners):
        area = abs(ring.signed_area_mm2)
        diameter = 2 * math.sqrt(area / math.pi)
        if abs(diameter - width) > 1e-4 * width or not all(v[2] for v in corners):
            return None
        return ((x1 + x2) / 2, (y1 + y2) / 2), diameter
    if len(corners) < 12:
        return None
    # Corners lie on the circle; their mean is its centre when the sides are equal.
    cx = sum(v[0] for v in corners) / len(corners)
    cy = sum(v[1] for v in corners) / len(corners)
    radii = [math.dist((cx, cy), v[:2]) for v in corners]
    mean = sum(radii) / len(radii)
    if max(radii) - min(radii) > 0.01 * mean:
        return None
    return (cx, cy), 2 * mean


def _flat(rows: tuple[Vertex, ...]) -> tuple[Point, ...]:
    """An open run with arcs as chords."""
    return tuple((float(x), float(y)) for x, y in flatten_path(rows))
