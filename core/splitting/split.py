"""Cutting a panel along its seams into pieces."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import shapely

from core.cutting import Border, CutGeometry, cut_piece, cut_whole
from core.errors import InvalidGeometryError, SeamwrightError
from core.findings import Finding, Severity, sort_findings
from core.geometry import Point, Region
from core.geometry.path import at_station, reversed_path, sub_path
from core.joints.style import StyleBook
from core.outlines.model import Feature
from core.project.model import Grain, Panel, SeamLine
from core.shop import Cutter
from core.splitting.assembly import assembly_order
from core.splitting.extras import add_keys, add_laps
from core.splitting.graph import Face, Nodes, Walk
from core.splitting.laying import (
    FitSource,
    JointLength,
    SeamLayout,
    between_nodes,
    feature_shapes,
    lay_out_seams,
    make_ready,
    stop_finding,
)
from core.splitting.lines import ReadySeam
from core.splitting.model import Piece, Seam, SplitPanel
from core.splitting.remarks import hole_notes, line_findings

_FEATURE_ROOM_MM = 2.0  # board between a tooth and a feature, besides the tooth's own margin


def turns_for(grain: Grain) -> tuple[float, ...] | None:
    """Turns in which a panel's pieces may lie on a sheet whose grain runs along x."""
    if grain is Grain.ALONG:
        return (0.0, 180.0)
    if grain is Grain.ACROSS:
        return (90.0, 270.0)
    return None


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
        layout = lay_out_seams(panel.region, ready, obstacles, findings, None)
        if any(f.severity is Severity.STOP for f in findings):
            return _failed(whole, panel, findings)
        cut_layout = layout
        if cut_region is not None and cut_region is not panel.region:
            places = {(j.line, j.number): j.middles for j in layout.joints}
            cut_layout = lay_out_seams(cut_region, ready, (), [], places)
            if len(cut_layout.faces) != len(layout.faces):
                raise InvalidGeometryError(
                    "A seam runs through a joint that is re-cut for the measured thickness",
                    "",
                    "Move the seam away from the slot.",
                )
        findings.extend(line_findings(panel, ready, layout, shapes))
        findings.extend(whole.findings)
        result = _pieces(panel, ready, layout, cut_layout, features, thickness_mm, draft, findings)
    except shapely.errors.GEOSException:
        problem = InvalidGeometryError(
            "The seams meet the outline in a way that cannot be cut cleanly",
            "",
            "Move a seam by a few millimetres.",
        )
        findings.append(stop_finding("seam-does-not-part", problem, lines[0].points[0]))
        return _failed(whole, panel, findings)
    except SeamwrightError as problem:
        findings.append(
            stop_finding(
                "seam-does-not-part", problem, lines[0].points[0] if lines[0].points else None
            )
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
        findings=tuple(hole_notes(panel, region, cutter)),
        assembly_order=(panel.id,),
    )


def _failed(whole: SplitPanel, panel: Panel, findings: Sequence[Finding]) -> SplitPanel:
    named = tuple(replace(finding, panel=panel.id) for finding in findings)
    return replace(whole, findings=sort_findings(named))


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
    layout: SeamLayout,
    cut_layout: SeamLayout,
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
    walks: Sequence[Walk], joints: dict[tuple[int, int], JointLength], nodes: Nodes
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
    layout: SeamLayout,
    sides: dict[tuple[int, int], dict[bool, int]],
    ids: Sequence[str],
) -> tuple[Seam, ...]:
    """Joint lengths of one line between the same two pieces are one seam."""
    groups: list[tuple[int, tuple[int, int], list[JointLength]]] = []
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
            middle = between_nodes(joint.profile.middle, layout.nodes, joint.nodes)
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
