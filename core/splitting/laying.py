"""Seams laid out on an outline: joint lengths, their teeth, and the faces they part it into."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import LineString, Polygon
from shapely.geometry.base import BaseGeometry

from core.errors import InvalidGeometryError, InvalidRequestError, SeamwrightError
from core.findings import Finding, Severity
from core.geometry import Point, Region
from core.geometry.path import (
    Path,
    at_station,
    edge_length,
    edges_of,
    flatten_path,
    reversed_path,
)
from core.joints import STYLES
from core.joints.profile import JointProfile, build_profile
from core.joints.style import JointContext, StyleBook
from core.outlines.model import Feature
from core.project.model import ReliefKind, SeamLine
from core.shop import Cutter
from core.splitting.graph import Face, Nodes, Walk, faces_of, outline_walks, without_specks
from core.splitting.lines import (
    TOUCH_MM,
    EdgeTable,
    ReadySeam,
    crossings,
    joint_spans,
    outline_hits,
    ready_lines,
)
from core.splitting.placing import place, tooth_places

FitSource = float | Callable[[SeamLine], float]


@dataclass
class JointLength:
    """One joint length while the panel is being cut."""

    line: int
    number: int
    span: tuple[float, float]
    nodes: tuple[int, int]
    middles: list[float] = field(default_factory=list)
    profile: JointProfile | None = None


@dataclass
class SeamLayout:
    """The graph of one outline: its joints and faces."""

    nodes: Nodes
    joints: list[JointLength]
    faces: list[Face]


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
            findings.append(stop_finding("seam-cannot-be-made", problem, at))
    return ready, findings


def stop_finding(code: str, problem: SeamwrightError, at: Point | None) -> Finding:
    """A stop with what an error says was wrong and what to do."""
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


def lay_out_seams(
    region: Region,
    ready: Sequence[ReadySeam],
    obstacles: Sequence[BaseGeometry],
    findings: list[Finding],
    middles: dict[tuple[int, int], list[float]] | None,
) -> SeamLayout:
    """The graph of a region cut along ready seams.

    middles: where teeth stand per (line, joint number), None to place them now.
    """
    table = EdgeTable(region)
    ready_lines(ready, region, table)
    crossing = crossings(ready, region)
    nodes = Nodes()
    marks: dict[int, list[tuple[int, float, int]]] = {}
    joints: list[JointLength] = []
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
            joints.append(JointLength(k, number, span, ends))
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
        middle = between_nodes(joint.profile.middle, nodes, joint.nodes)
        key = (joint.line, joint.number)
        a, b = joint.nodes
        walks.append(Walk(middle, a, b, key, True))
        walks.append(Walk(reversed_path(middle), b, a, key, False))
    outer = None if 0 in marks else region.outer
    return SeamLayout(nodes, joints, faces_of(walks, whole, outer))


def _at_corner(station_mm: float, corners: NDArray[np.float64]) -> float:
    """The station, or that of a vertex of the line a hair beside it: no stretch is that short."""
    nearest = float(corners[np.argmin(np.abs(corners - station_mm))])
    return nearest if abs(nearest - station_mm) <= 4 * TOUCH_MM else station_mm


def between_nodes(path: Path, nodes: Nodes, ends: tuple[int, int]) -> Path:
    """The path with its ends put exactly on their nodes."""
    (x1, y1), (x2, y2) = nodes.places[ends[0]], nodes.places[ends[1]]
    return without_specks(((x1, y1, path[0][2]), *path[1:-1], (x2, y2, 0.0)))


def _profile(seam: ReadySeam, joint: JointLength, findings: list[Finding]) -> JointProfile:
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
