"""What several drawings have to do with each other: asked about, never decided.

One panel may be spread over files (its outline in one, its pockets or half its edges in
another), and the same outline may stand in several places, in one file or in several, where
one panel in several copies was meant.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from pathlib import PurePosixPath

import numpy as np
import shapely

from core.findings import Finding, Severity
from core.geometry import Point
from core.outlines.attach import feature_shape
from core.outlines.model import Outline
from core.outlines.rereading import find_repeats
from core.project.model import Drawing, Panel, Project
from core.tolerances import GAP_ASK_MM, REREAD_TOL_MM

_ON_PANEL_MM = 1.0  # a finding's place this close to a panel is told with the panel
_NAMES_LISTED = 4


def located(findings: Iterable[Finding], panels: Sequence[Panel]) -> tuple[Finding, ...]:
    """Findings with the panel they lie on, where they lie on one. panels: of the drawing."""
    rows = list(findings)
    open_ones = [k for k, f in enumerate(rows) if f.panel is None and f.at is not None]
    if not panels or not open_ones:
        return tuple(rows)
    shapes = np.array([panel.region.polygon for panel in panels], dtype=object)
    spots = shapely.points(np.array([rows[k].at for k in open_ones], dtype=float))
    where, which = shapely.STRtree(shapes).query(spots, predicate="dwithin", distance=_ON_PANEL_MM)
    best: dict[int, int] = {}
    for k, i in zip(where, which, strict=True):
        known = best.get(int(k))
        if known is None or shapes[i].area < shapes[known].area:
            best[int(k)] = int(i)
    for k, i in best.items():
        at = open_ones[k]
        old = rows[at]
        rows[at] = Finding(
            old.code, old.severity, old.message, panels[i].id, old.at, old.remedy, old.source,
            old.fix,
        )  # fmt: skip
    return tuple(rows)


def spread_findings(project: Project, drawing: Drawing) -> tuple[Finding, ...]:
    """Other drawings that seem to show parts of the same panels as this one."""
    out: list[Finding] = []
    for other in project.drawings:
        if other.id == drawing.id or other.origin_mm != drawing.origin_mm:
            continue
        found = _shared(project, drawing, other)
        if found is None:
            continue
        why, at, first, second = found
        out.append(
            Finding(
                "spread-over-files",
                Severity.WARN,
                f"{first.file_name} and {second.file_name} seem to belong together: {why}.",
                at=at,
                remedy="Read them together as one drawing.",
                source=drawing.file_name,
                fix=f"join-files:{first.id}+{second.id}",
            )
        )
    return tuple(out)


def _shared(
    project: Project, one: Drawing, two: Drawing
) -> tuple[str, Point, Drawing, Drawing] | None:
    """What ties two drawings together, where, and which of them holds the outline."""
    for first, second in ((two, one), (one, two)):
        shapes = [p.region.polygon for p in project.panels if p.drawing == first.id]
        strays = [feature_shape(f) for f in second.strays]
        tree = shapely.STRtree(shapes)
        for shape in strays:
            if any(shapes[i].covers(shape.centroid) for i in tree.query(shape)):
                at = shape.centroid
                why = f"what {second.file_name} cuts into a panel lies on one of {first.file_name}"
                return why, (at.x, at.y), first, second
    meet = _ends_meeting(one.open_lines, two.open_lines)
    if len(meet) >= 2:
        return "their open lines meet", meet[0], two, one
    if _related(one, two):
        for first, second in ((two, one), (one, two)):
            at_corner = _all_inside(project, second, first)
            if at_corner is not None:
                why = f"all that {second.file_name} shows lies inside panels of {first.file_name}"
                return why, at_corner, first, second
    return None


def _ends_meeting(
    one: Sequence[tuple[Point, ...]], two: Sequence[tuple[Point, ...]]
) -> list[Point]:
    """Ends of open lines of one drawing that lie on ends of the other's."""
    ends = [[end for line in lines for end in (line[0], line[-1])] for lines in (one, two)]
    if not ends[0] or not ends[1]:
        return []
    tree = shapely.STRtree(shapely.points(np.array(ends[1])))
    spots = shapely.points(np.array(ends[0]))
    hit = np.unique(tree.query(spots, predicate="dwithin", distance=GAP_ASK_MM)[0])
    return [ends[0][k] for k in hit]


def _related(one: Drawing, two: Drawing) -> bool:
    """True if one file is named after the other (tray.dxf, tray_pockets.dxf).

    Without that nothing follows from parts that lie inside each other: many exporters put
    every part at 0, 0.
    """
    a, b = sorted((PurePosixPath(d.file_name).stem.lower() for d in (one, two)), key=len)
    return len(a) > 1 and b.startswith(a) and b != a and not b[len(a)].isalnum()


def _all_inside(project: Project, inner: Drawing, outer: Drawing) -> Point | None:
    """The corner of the first panel of inner, if all of them lie well inside panels of outer."""
    small = [p.region for p in project.panels if p.drawing == inner.id]
    large = [p.region.polygon for p in project.panels if p.drawing == outer.id]
    if not small or not large:
        return None
    tree = shapely.STRtree(large)
    for region in small:
        shape = region.polygon
        around = [large[i] for i in tree.query(shape, predicate="covered_by")]
        if not any(board.area > shape.area * 1.01 for board in around):
            return None
    return small[0].bounds[0], small[0].bounds[1]


def alike_findings(project: Project, drawing: Drawing) -> tuple[Finding, ...]:
    """Panels of the same shape, in this drawing or lying on one of another file."""
    own = [p for p in project.panels if p.drawing == drawing.id]
    others = [p for p in project.panels if p.drawing and p.drawing != drawing.id]
    out: list[Finding] = []
    for group in _alike([Outline(p.region, p.layer, p.name, p.features) for p in own]):
        members = [own[i] for i in group]
        if len({(p.material, p.features and _depths(p)) for p in members}) > 1:
            continue
        if len({p.name for p in members}) == len(members) and not any(
            _counted_name(p.name, drawing) for p in members
        ):
            continue  # each was given a name of its own, so they are parts of their own
        out.append(_alike_finding(members, drawing, f"in {drawing.file_name}"))
    names = {d.id: d.file_name for d in project.drawings}
    corners = {_corner(p): p for p in reversed(others)}
    for panel in own:
        twin = corners.get(_corner(panel))
        if twin is not None and _alike(
            [Outline(p.region, "", "", p.features) for p in (panel, twin)]
        ):
            where = f"in {names.get(twin.drawing, '')} and {drawing.file_name}"
            out.append(_alike_finding([twin, panel], drawing, where))
    return tuple(out)


def _alike(outlines: Sequence[Outline]) -> tuple[tuple[int, ...], ...]:
    return find_repeats(outlines)


def _counted_name(name: str, drawing: Drawing) -> bool:
    """True for the name an outline gets that nobody named: the file's, with a number."""
    stem = PurePosixPath(drawing.file_name).stem
    return name == stem or (name.startswith(f"{stem}-") and name[len(stem) + 1 :].isdigit())


def _depths(panel: Panel) -> tuple[tuple[str, float | None, str], ...]:
    return tuple(sorted((f.kind.value, f.depth_mm, f.face.value) for f in panel.features))


def _corner(panel: Panel) -> tuple[int, ...]:
    """The panel's bounds in steps of twice the tolerance."""
    return tuple(round(v / (2 * REREAD_TOL_MM)) for v in panel.region.bounds)


def _alike_finding(members: Sequence[Panel], drawing: Drawing, where: str) -> Finding:
    listed = ", ".join(p.name for p in members[:_NAMES_LISTED])
    more = len(members) - _NAMES_LISTED
    listed += f" and {more} more" if more > 0 else ""
    return Finding(
        "panels-alike",
        Severity.NOTE,
        f"{len(members)} panels {where} have the same outline: {listed}.",
        members[-1].id,
        remedy="If they are copies of one panel, count them as quantity.",
        source=drawing.file_name,
        fix="count-as-quantity:" + "+".join(p.id for p in members),
    )


def is_answered(drawing: Drawing, finding: Finding) -> bool:
    """True if the maker has answered this question about the drawing."""
    at = finding.at
    return any(
        answer.code == finding.code
        and at is not None
        and math.dist(answer.at, at) <= max(REREAD_TOL_MM, 1e-9 * math.hypot(*at))
        for answer in drawing.answers
    )
