"""Cutting a panel along its seams into pieces."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import LineString, Polygon
from shapely.geometry.base import BaseGeometry

from core.cutting import Border, CutGeometry, cut_piece, cut_whole, drilled_holes
from core.errors import InvalidGeometryError, InvalidRequestError, SeamwrightError
from core.findings import Finding, Severity, sort_findings
from core.geometry import Point, Region
from core.geometry.path import (
    Path,
    at_station,
    edge_direction,
    edge_length,
    edges_of,
    flatten_path,
    path_length,
    reversed_path,
    sub_path,
)
from core.joints import STYLES
from core.joints.profile import JointProfile, build_profile
from core.joints.style import JointContext, StyleBook
from core.outlines.model import Feature
from core.project.model import Grain, Panel, ReliefKind, SeamLine
from core.shop import Cutter
from core.splitting.assembly import assembly_order
from core.splitting.extras import add_keys, add_laps
from core.splitting.graph import Face, Nodes, Walk, faces_of, outline_walks
from core.splitting.lines import (
    TOUCH_MM,
    EdgeTable,
    ReadySeam,
    crossings,
    joint_spans,
    outline_hits,
    ready_lines,
)
from core.splitting.model import Piece, Seam, SplitPanel
from core.splitting.placing import margin_of, place, room_of, tooth_places

FEATHER_DEG = 25.0  # a seam meeting an edge flatter than this leaves a tip that breaks off
ALONG_EDGE_DEG = 3.0  # flatter still, it runs along the edge and parts nothing cleanly
_FEATURE_ROOM_MM = 2.0  # board between a tooth and a feature, besides the tooth's own margin

FitSource = float | Callable[[SeamLine], float]


@dataclass
class _Joint:
    """One joint length while the panel is being cut."""

    line: int
    number: int
    span: tuple[float, float]
    nodes: tuple[int, int]
    middles: list[float] = field(default_factory=list)
    profile: JointProfile | None = None


@dataclass
class _Layout:
    """The graph of one outline: its joints and faces."""

    nodes: Nodes
    joints: list[_Joint]
    faces: list[Face]


def turns_for(grain: Grain) -> tuple[float, ...] | None:
    """Turns in which a panel's pieces may lie on a sheet whose grain runs along x."""
    if grain is Grain.ALONG:
        return (0.0, 180.0)
    if grain is Grain.ACROSS:
        return (90.0, 270.0)
    return None


def make_ready(
    seams: Sequence[SeamLine],
    *,
    fit: FitSource,
    cutter: Cutter,
    thickness_mm: float,
    styles: StyleBook | None = None,
    length_mm: float | None = None,
) -> tuple[list[ReadySeam], list[Finding]]:
    """Seams with their styles resolved; those that cannot be made become stop findings."""
    book = styles or StyleBook(STYLES)
    ready: list[ReadySeam] = []
    findings: list[Finding] = []
    for index, line in enumerate(seams):
        fit_mm = line.fit_mm
        if fit_mm is None:
            fit_mm = fit(line) if callable(fit) else fit
        at = line.points[0] if line.points else None
        try:
            if not (math.isfinite(fit_mm) and 0.0 <= fit_mm <= 5.0):
                raise InvalidRequestError(
                    f"A fit of {fit_mm:g} mm is no play a joint can have", "", "Take 0 to 5 mm."
                )
            context = JointContext(thickness_mm, cutter, fit_mm, length_mm)
            style = book.get(line.style.name)
            ready.append(
                ReadySeam(
                    index=index,
                    line=line,
                    style=style,
                    context=context,
                    properties=style.properties(line.style, context),
                    tooth=style.tooth(line.style, context),
                    keys=style.keys(line.style, context),
                    lap=style.lap(line.style, context),
                    fit_mm=fit_mm,
                )
            )
        except SeamwrightError as problem:
            findings.append(_stop("seam-cannot-be-made", problem, at))
    return ready, findings


def _stop(code: str, problem: SeamwrightError, at: Point | None) -> Finding:
    return Finding(code, Severity.STOP, problem.what, at=at, remedy=problem.remedy)


def feature_shapes(features: Sequence[Feature]) -> list[BaseGeometry]:
    """Flattened shapes of features, mm."""
    shapes: list[BaseGeometry] = []
    for feature in features:
        if feature.ring is not None:
            shapes.append(Polygon(feature.ring.flattened()).buffer(0))
        elif feature.at is not None:
            radius = (feature.diameter_mm or 0.0) / 2
            shapes.append(shapely.Point(feature.at).buffer(max(radius, 0.1)))
        elif len(feature.path) > 1:
            shapes.append(LineString(feature.path))
    return shapes


def _lay_out(
    region: Region,
    ready: Sequence[ReadySeam],
    obstacles: Sequence[BaseGeometry],
    findings: list[Finding],
    middles: dict[tuple[int, int], list[float]] | None,
) -> _Layout:
    """The graph of a region cut along ready seams.

    middles: where teeth stand per (line, joint number), None to place them now.
    """
    table = EdgeTable(region)
    ready_lines(ready, region, table)
    crossing = crossings(ready, region)
    nodes = Nodes()
    marks: dict[int, list[tuple[int, float, int]]] = {}
    joints: list[_Joint] = []
    lines = [LineString(flatten_path(seam.base)) for seam in ready]
    board = region.polygon
    shapely.prepare(board)
    for k, seam in enumerate(ready):
        stations: list[tuple[float, int]] = []
        hits = outline_hits(seam.base, table)
        for hit in hits:
            stations.append((hit.station_mm, nodes.number(hit.at)))
        for cross in crossing:
            if k in cross.lines:
                stations.append((cross.stations_mm[cross.lines.index(k)], nodes.number(cross.at)))
        corners = np.cumsum([0.0, *(edge_length(*edge) for edge in edges_of(seam.base))])
        stations = sorted({(round(_at_corner(s, corners), 9), n) for s, n in stations})
        kept: list[tuple[float, int]] = []
        for s, n in stations:
            if not kept or n != kept[-1][1]:
                kept.append((s, n))
        at_node = dict(kept)
        spans = joint_spans(seam.base, [s for s, _ in kept], region)
        if not spans:
            findings.append(
                Finding(
                    "seam-misses-panel",
                    Severity.STOP,
                    "A seam does not cross the panel",
                    at=seam.line.points[0],
                    remedy="Drag it over the panel, or remove it.",
                )
            )
        used: set[int] = set()
        for number, span in enumerate(spans):
            ends = (at_node[span[0]], at_node[span[1]])
            used.update(ends)
            joints.append(_Joint(k, number, span, ends))
        for hit in hits:
            node = nodes.number(hit.at)
            if node in used:
                marks.setdefault(hit.ring, []).append((hit.edge, hit.fraction, node))
    for joint in joints:
        seam = ready[joint.line]
        in_the_way = list(obstacles)
        for other, path in zip(ready, lines, strict=True):
            if other is not seam:
                reach = max(max(other.reach_mm), 1.0)
                in_the_way.append(path.buffer(reach, cap_style="flat"))
        if middles is None:
            joint.middles = place(seam, joint.span, board, in_the_way)
        else:
            joint.middles = middles.get((joint.line, joint.number), [])
        joint.profile = _profile(seam, joint, findings)
    walks: list[Walk] = []
    stretches, whole = outline_walks(region, marks, nodes)
    walks.extend(stretches)
    for joint in joints:
        assert joint.profile is not None
        middle = _between(joint.profile.middle, nodes, joint.nodes)
        key = (joint.line, joint.number)
        a, b = joint.nodes
        walks.append(Walk(middle, a, b, key, True))
        walks.append(Walk(reversed_path(middle), b, a, key, False))
    outer = None if 0 in marks else region.outer
    return _Layout(nodes, joints, faces_of(walks, whole, outer))


def _at_corner(station_mm: float, corners: NDArray[np.float64]) -> float:
    """The station, or that of a vertex of the line a hair beside it: no stretch is that short."""
    nearest = float(corners[np.argmin(np.abs(corners - station_mm))])
    return nearest if abs(nearest - station_mm) <= 4 * TOUCH_MM else station_mm


def _between(path: Path, nodes: Nodes, ends: tuple[int, int]) -> Path:
    """The path with its ends put exactly on their nodes."""
    (x1, y1), (x2, y2) = nodes.places[ends[0]], nodes.places[ends[1]]
    return ((x1, y1, path[0][2]), *path[1:-1], (x2, y2, 0.0))


def _profile(seam: ReadySeam, joint: _Joint, findings: list[Finding]) -> JointProfile:
    places = tooth_places(seam, joint.middles)
    cutter = seam.context.cutter
    allowance = 0.0
    if cutter.measured_mm is not None:
        allowance = max(0.0, (cutter.diameter_mm - cutter.measured_mm) / 2)
    relief = seam.line.relief
    # No teeth, no fit along the seam line: a butt joint closes.
    tooth = seam.tooth if places else None

    def build(kind: ReliefKind) -> JointProfile:
        return build_profile(
            seam.base,
            *joint.span,
            tooth,
            places,
            gap_mm=seam.gap_mm,
            radius_mm=cutter.radius_mm,
            relief=kind,
            relief_side=seam.line.relief_side,
            allowance_mm=allowance,
        )

    if relief is ReliefKind.NONE and tooth is not None:
        findings.extend(_left_out(build, cutter))
    try:
        return build(relief)
    except InvalidGeometryError as problem:
        if relief is ReliefKind.NONE:
            raise
        at = at_station(seam.base, sum(joint.span) / 2)[0]
        findings.append(
            Finding("relief-no-room", Severity.STOP, problem.what, at=at, remedy=problem.remedy)
        )
        return build(ReliefKind.NONE)


def _left_out(build: Callable[[ReliefKind], JointProfile], cutter: Cutter) -> list[Finding]:
    """A note on corners that would need a relief where the maker wants none."""
    try:
        spots = build(ReliefKind.DOG_BONE).corners
    except InvalidGeometryError:
        return []
    if not spots:
        return []
    return [
        Finding(
            "relief-left-out",
            Severity.NOTE,
            f"{len(spots)} inside corners of a seam that a mate's corner enters stay round "
            f"({cutter.radius_mm:g} mm), because relief is left out there",
            at=spots[0],
            remedy="Square them by hand, round the mate's, or choose a relief.",
        )
    ]


def split_panel(
    panel: Panel,
    seams: Sequence[SeamLine] | None = None,
    *,
    cutter: Cutter,
    thickness_mm: float,
    fit_mm: FitSource = 0.15,
    styles: StyleBook | None = None,
    draft: bool = False,
    cut_region: Region | None = None,
    cut_features: Sequence[Feature] | None = None,
) -> SplitPanel:
    """Cut a panel along seams.

    seams: default the panel's own. fit_mm: total play across a joint for seams that do not
    state theirs, or a function of the seam. draft: skip what only the router needs (true arcs
    of clipped features and laps), for dragging. cut_region, cut_features: the panel after its
    drawn joints were re-cut for the measured thickness; the pieces' regions still partition
    the panel as drawn, their cuts follow these. A panel without seams gives one piece with the
    panel's id. What cannot be cut gives the whole panel and a stop finding, never an error.
    """
    lines = tuple(panel.seams or ()) if seams is None else tuple(seams)
    features = panel.features if cut_features is None else tuple(cut_features)
    physical = panel.region if cut_region is None else cut_region
    whole = _whole(panel, physical, features, thickness_mm, cutter)
    if not lines:
        return whole
    ready, findings = make_ready(
        lines, fit=fit_mm, cutter=cutter, thickness_mm=thickness_mm, styles=styles
    )
    if len(ready) < len(lines):
        return _failed(whole, panel, findings)
    try:
        shapes = feature_shapes(panel.features)
        obstacles = [shape.buffer(_FEATURE_ROOM_MM) for shape in shapes]
        layout = _lay_out(panel.region, ready, obstacles, findings, None)
        if any(f.severity is Severity.STOP for f in findings):
            return _failed(whole, panel, findings)
        cut_layout = layout
        if cut_region is not None and cut_region is not panel.region:
            places = {(j.line, j.number): j.middles for j in layout.joints}
            cut_layout = _lay_out(cut_region, ready, (), [], places)
            if len(cut_layout.faces) != len(layout.faces):
                raise InvalidGeometryError(
                    "A seam runs through a joint that is re-cut for the measured thickness",
                    "",
                    "Move the seam away from the slot.",
                )
        findings.extend(_line_findings(panel, ready, layout, shapes))
        findings.extend(whole.findings)
        result = _pieces(panel, ready, layout, cut_layout, features, thickness_mm, draft, findings)
    except shapely.errors.GEOSException:
        problem = InvalidGeometryError(
            "The seams meet the outline in a way that cannot be cut cleanly",
            "",
            "Move a seam by a few millimetres.",
        )
        findings.append(_stop("seam-does-not-part", problem, lines[0].points[0]))
        return _failed(whole, panel, findings)
    except SeamwrightError as problem:
        findings.append(
            _stop("seam-does-not-part", problem, lines[0].points[0] if lines[0].points else None)
        )
        return _failed(whole, panel, findings)
    return result


def _whole(
    panel: Panel,
    region: Region,
    features: Sequence[Feature],
    thickness_mm: float,
    cutter: Cutter,
) -> SplitPanel:
    piece = Piece(
        id=panel.id,
        panel_id=panel.id,
        region=panel.region,
        cut=cut_whole(region, features, cutter),
        material=panel.material,
        thickness_mm=thickness_mm,
        turns_deg=turns_for(panel.grain),
        may_mirror=panel.may_mirror,
        name=panel.name,
    )
    return SplitPanel(
        panel.id,
        (piece,),
        findings=tuple(_hole_notes(panel, region, cutter)),
        assembly_order=(panel.id,),
    )


def _hole_notes(panel: Panel, region: Region, cutter: Cutter) -> list[Finding]:
    """Notes on round holes that are drilled because the bit is thicker."""
    return [
        Finding(
            "hole-becomes-drill",
            Severity.NOTE,
            f"A round hole of {drill.diameter_mm:.2f} mm is thinner than the "
            f"{cutter.diameter_mm:g} mm bit and is drilled instead",
            panel=panel.id,
            at=drill.at,
            remedy="Drill it to size, or cut it with a thinner bit.",
        )
        for drill in drilled_holes(region, cutter)[1]
    ]


def _failed(whole: SplitPanel, panel: Panel, findings: Sequence[Finding]) -> SplitPanel:
    named = tuple(replace(finding, panel=panel.id) for finding in findings)
    return replace(whole, findings=sort_findings(named))


def _line_findings(
    panel: Panel, ready: Sequence[ReadySeam], layout: _Layout, shapes: Sequence[BaseGeometry]
) -> list[Finding]:
    """What speaks against where the seams run."""
    found: list[Finding] = []
    for joint in layout.joints:
        seam = ready[joint.line]
        path = sub_path(seam.base, *joint.span)
        line = LineString(flatten_path(path))
        middle = at_station(path, path_length(path) / 2)[0]
        for mark in panel.marks:
            if mark.kind != "never" or not mark.points:
                continue
            shape = _mark_shape(mark.points)
            reach = _swept(seam, joint, path)
            if reach.intersects(shape):
                found.append(
                    Finding(
                        "seam-crosses-mark",
                        Severity.STOP,
                        "A seam crosses a place marked never to be crossed"
                        + (f" ({mark.note})" if mark.note else ""),
                        at=middle,
                        remedy="Move the seam, or remove the mark.",
                    )
                )
        for feature, shape in zip(panel.features, shapes, strict=True):
            if line.intersects(shape):
                spot = line.intersection(shape).representative_point()
                found.append(
                    Finding(
                        "seam-crosses-feature",
                        Severity.WARN,
                        f"A seam crosses a {feature.kind.value}; it is cut in two",
                        at=(spot.x, spot.y),
                        remedy="Move the seam beside it.",
                    )
                )
        if room_of(seam) is not None and not joint.middles:
            what = "key" if seam.keys is not None else "tooth"
            need = seam.tooth.base_mm if seam.tooth is not None else 0.0
            need += 2 * margin_of(seam)
            found.append(
                Finding(
                    "joint-has-no-tooth",
                    Severity.WARN,
                    f"A joint length of {joint.span[1] - joint.span[0]:.0f} mm is too short or "
                    f"too crowded for a {what}; it stays plain",
                    at=middle,
                    remedy=f"Leave {need:.0f} mm of plain board, take smaller teeth or a key.",
                )
            )
        supports = [m for m in panel.marks if m.kind == "support" and m.points]
        if supports and not any(
            line.distance(_mark_shape(m.points)) <= panel_support_reach(seam) for m in supports
        ):
            found.append(
                Finding(
                    "seam-unsupported",
                    Severity.WARN,
                    "A seam lies away from every marked support",
                    at=middle,
                    remedy="Put a batten below it, choose the half-lap, or move it to a support.",
                )
            )
    found.extend(_feather_findings(layout))
    return found


def panel_support_reach(seam: ReadySeam) -> float:
    """How near a support must be to carry a seam: three board thicknesses (common practice)."""
    return 3.0 * seam.context.thickness_mm


def _mark_shape(points: Sequence[Point]) -> BaseGeometry:
    if len(points) == 1:
        return shapely.Point(points[0])
    if len(points) == 2:
        return LineString(points)
    return Polygon(points).buffer(0)


def _swept(seam: ReadySeam, joint: _Joint, path: Path) -> BaseGeometry:
    shape: BaseGeometry = LineString(flatten_path(path))
    if joint.profile is not None:
        shape = shape.union(LineString(flatten_path(joint.profile.middle)))
    if seam.lap is not None:
        shape = shape.buffer(seam.lap.lap_mm / 2, cap_style="flat")
    return shape


def _feather_findings(layout: _Layout) -> list[Finding]:
    """Nodes where two edges of a piece meet so sharply that the tip will break."""
    found: list[Finding] = []
    for face in layout.faces:
        for loop in (face.outer, *face.holes):
            for k, walk in enumerate(loop):
                before = loop[k - 1]
                if walk.seam is None and before.seam is None:
                    continue
                bx, by = edge_direction(*edges_of(before.path)[-1], 1.0)
                ax, ay = edge_direction(*edges_of(walk.path)[0], 0.0)
                inner = math.pi - math.atan2(bx * ay - by * ax, bx * ax + by * ay)
                degrees = math.degrees(inner)
                at = layout.nodes.places[walk.start]
                if degrees < ALONG_EDGE_DEG:
                    raise InvalidGeometryError(
                        "A seam runs into an edge along it, almost parallel",
                        f"({at[0]:.0f}, {at[1]:.0f})",
                        "Turn the seam so that it meets the edge more squarely.",
                    )
                if degrees < FEATHER_DEG:
                    found.append(
                        Finding(
                            "feather-tip",
                            Severity.WARN,
                            f"A piece ends in a {degrees:.0f}° tip that will break off",
                            at=at,
                            remedy="Bend the seam so that it meets the edge squarely.",
                        )
                    )
    return found


def _order(faces: Sequence[Face]) -> list[int]:
    """Faces left to right in columns, bottom to top."""
    spots = []
    for index, face in enumerate(faces):
        x1, y1, x2, y2 = face.region.bounds
        spots.append(((x1 + x2) / 2, (y1 + y2) / 2, index))
    spots.sort(key=lambda s: (round(s[0], 3), round(s[1], 3)))
    return [index for _, _, index in spots]


def _match(faces: Sequence[Face], others: Sequence[Face]) -> list[Face]:
    """others in the order of faces: each with the one it shares most area with."""
    if faces is others:
        return list(faces)
    left = list(range(len(others)))
    polygons = [face.region.polygon for face in others]
    result = []
    for face in faces:
        mine = face.region.polygon
        best = max(left, key=lambda k: polygons[k].intersection(mine).area)
        left.remove(best)
        result.append(others[best])
    return result


def _pieces(
    panel: Panel,
    ready: Sequence[ReadySeam],
    layout: _Layout,
    cut_layout: _Layout,
    features: Sequence[Feature],
    thickness_mm: float,
    draft: bool,
    findings: list[Finding],
) -> SplitPanel:
    order = _order(layout.faces)
    faces = [layout.faces[k] for k in order]
    cut_faces = _match(layout.faces, cut_layout.faces)
    cut_faces = [cut_faces[k] for k in order]
    ids = [f"{panel.id}.{k + 1}" for k in range(len(faces))]
    sides: dict[tuple[int, int], dict[bool, int]] = {}
    for number, face in enumerate(faces):
        for walk in (*face.outer, *(w for hole in face.holes for w in hole)):
            if walk.seam is not None:
                sides.setdefault(walk.seam, {})[walk.forward] = number
    seams = _seams(panel, ready, layout, sides, ids)
    cuts: list[CutGeometry] = []
    by_key = {(j.line, j.number): j for j in cut_layout.joints}
    for face in cut_faces:
        cuts.append(
            cut_piece(
                _borders(face.outer, by_key, cut_layout.nodes),
                [_borders(hole, by_key, cut_layout.nodes) for hole in face.holes],
                face.whole_holes,
                () if draft else features,
                ready[0].context.cutter,
            )
        )
    regions = [face.region for face in faces]
    cuts = add_laps(cuts, regions, seams, ready, ids, draft=draft)
    cuts, loose = add_keys(cuts, seams, ready, ids, panel)
    pieces = [
        Piece(
            id=ids[k],
            panel_id=panel.id,
            region=regions[k],
            cut=cuts[k],
            seam_ids=tuple(s.id for s in seams if ids[k] in s.pieces),
            material=panel.material,
            thickness_mm=thickness_mm,
            turns_deg=turns_for(panel.grain),
            may_mirror=panel.may_mirror,
            name=f"{panel.name} {k + 1}".strip(),
        )
        for k in range(len(faces))
    ]
    order_ids, more = assembly_order(panel.id, pieces, seams, ready)
    findings.extend(more)
    named = tuple(replace(f, panel=panel.id) for f in findings)
    return SplitPanel(panel.id, (*pieces, *loose), seams, sort_findings(named), order_ids)


def _borders(
    walks: Sequence[Walk], joints: dict[tuple[int, int], _Joint], nodes: Nodes
) -> list[Border]:
    borders = []
    for walk in walks:
        node = nodes.places[walk.start]
        if walk.seam is None:
            borders.append(Border(walk.path, node))
            continue
        profile = joints[walk.seam].profile
        assert profile is not None
        path = profile.left_cut if walk.forward else reversed_path(profile.right_cut)
        borders.append(Border(path, node, seam=True))
    return borders


def _letter(number: int) -> str:
    """A, B … Z, AA, AB …"""
    text = ""
    number += 1
    while number:
        number, rest = divmod(number - 1, 26)
        text = chr(65 + rest) + text
    return text


def _seams(
    panel: Panel,
    ready: Sequence[ReadySeam],
    layout: _Layout,
    sides: dict[tuple[int, int], dict[bool, int]],
    ids: Sequence[str],
) -> tuple[Seam, ...]:
    """Joint lengths of one line between the same two pieces are one seam."""
    groups: list[tuple[int, tuple[int, int], list[_Joint]]] = []
    for joint in sorted(layout.joints, key=lambda j: (j.line, j.span)):
        side = sides[(joint.line, joint.number)]
        pair = (side[True], side[False])
        if groups and groups[-1][0] == joint.line and groups[-1][1] == pair:
            groups[-1][2].append(joint)
        else:
            groups.append((joint.line, pair, [joint]))
    result = []
    for number, (line, pair, joints) in enumerate(groups):
        seam = ready[line]
        letter = _letter(number)
        keys: tuple[Point, ...] = ()
        if seam.keys is not None:
            keys = tuple(at_station(seam.base, m)[0] for j in joints for m in j.middles)
        profiles = []
        for joint in joints:
            assert joint.profile is not None
            middle = _between(joint.profile.middle, layout.nodes, joint.nodes)
            profiles.append(replace(joint.profile, middle=middle))
        result.append(
            Seam(
                id=f"{panel.id}.{letter}",
                panel_id=panel.id,
                letter=letter,
                style=seam.line.style,
                pieces=(ids[pair[0]], ids[pair[1]]),
                line=sub_path(seam.base, joints[0].span[0], joints[-1].span[1]),
                joints=tuple(profiles),
                fit_mm=seam.fit_mm,
                properties=seam.properties,
                line_index=seam.index,
                keys=keys,
            )
        )
    return tuple(result)


def overlap_area(pieces: Sequence[Piece]) -> float:
    """Greatest area two cut pieces share, mm²; 0 for a clean split without laps."""
    shapes = [p.cut.polygon for p in pieces if not p.loose]
    worst = 0.0
    for i, one in enumerate(shapes):
        for two in shapes[i + 1 :]:
            worst = max(worst, float(one.intersection(two).area))
    return worst


__all__ = ["overlap_area", "split_panel", "turns_for"]
