"""A drawing read again: what was decided stays wherever it still makes sense.

Panels are matched to the outlines they have become. Seams, marks and decisions about joints
move with a panel that moved in its drawing, and what lies on a sheet stays where it lies as
long as its shape did. What could not be kept is told.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import shapely

from core.findings import Finding, Severity
from core.geometry import Motion, Point
from core.outlines.model import Outline
from core.outlines.rereading import ChangeKind, OutlineChange, compare_outlines
from core.project.model import Drawing, KeptLayout, Panel, Placed, Project, SeamLine
from core.tolerances import REREAD_TOL_MM


@dataclass(frozen=True)
class Reread:
    """The panels of a drawing after it was read again.

    panels: those that are still there, by id. changes: what became of each old panel, by id.
    fresh: indices of outlines that are new.
    """

    panels: dict[str, Panel]
    changes: dict[str, OutlineChange]
    fresh: tuple[int, ...]
    findings: tuple[Finding, ...]

    @property
    def lost(self) -> tuple[str, ...]:
        """Ids of the panels whose outline is gone."""
        return tuple(i for i, change in self.changes.items() if change.new is None)

    @property
    def changed(self) -> tuple[str, ...]:
        """Ids of the panels that moved, changed or have other features."""
        return tuple(
            i
            for i, change in self.changes.items()
            if change.new is not None
            and (change.kind is not ChangeKind.SAME or change.features_changed)
        )


def reread_panels(
    panels: Sequence[Panel], outlines: Sequence[Outline], file_name: str, *, scale: float = 1.0
) -> Reread:
    """What the panels of a drawing have become.

    scale: new size of the old unit in terms of the new one (25.4 when millimetres turn out to
    be inches); decisions are scaled with it before they are matched.
    """
    old = [_scaled(panel, scale) for panel in panels]
    before = [Outline(p.region, p.layer, p.name, p.features) for p in old]
    found = compare_outlines(before, outlines)
    kept: dict[str, Panel] = {}
    changes: dict[str, OutlineChange] = {}
    findings: list[Finding] = []
    fresh = []
    for change in found:
        if change.old is None:
            assert change.new is not None
            fresh.append(change.new)
            continue
        panel = old[change.old]
        changes[panel.id] = change
        if change.new is None:
            findings.append(
                Finding(
                    "panel-lost",
                    Severity.WARN,
                    f"{panel.name} is no longer in {file_name}",
                    panel.id,
                    remedy="It was taken out of the project; undo brings it back.",
                    source=file_name,
                )
            )
            continue
        outline = outlines[change.new]
        shift = change.moved_mm if math.hypot(*change.moved_mm) > REREAD_TOL_MM else (0.0, 0.0)
        moved = _moved(panel, shift)
        kept[panel.id] = replace(
            moved, region=outline.region, features=outline.features, layer=outline.layer
        )
        findings += _told(kept[panel.id], change, file_name)
    return Reread(kept, changes, tuple(fresh), tuple(findings))


def _told(panel: Panel, change: OutlineChange, file_name: str) -> list[Finding]:
    """What changed about a panel, and which of its decisions no longer make sense."""
    rows = []
    if change.differs_mm > 0:
        rows.append(f"its outline differs by up to {change.differs_mm:.1f} mm")
    if change.kind is ChangeKind.MOVED:
        dx, dy = change.moved_mm
        rows.append(f"it moved by {dx:.1f}, {dy:.1f} mm in the drawing")
    if change.features_changed:
        rows.append("its pockets or drill centres differ")
    found = []
    if rows:
        found.append(
            Finding(
                "panel-changed",
                Severity.NOTE,
                f"{panel.name}: {' and '.join(rows)}",
                panel.id,
                source=file_name,
            )
        )
    shape = panel.region.polygon
    for number, seam in enumerate(panel.seams or (), start=1):
        if not shapely.LineString(seam.points).intersects(shape):
            found.append(
                Finding(
                    "seam-lost",
                    Severity.WARN,
                    f"Seam line {number} of {panel.name} no longer crosses it",
                    panel.id,
                    seam.points[0],
                    remedy="Move the seam, or remove it.",
                    source=file_name,
                )
            )
    for mark in panel.marks:
        if not shapely.LineString([*mark.points, mark.points[0]]).intersects(shape):
            found.append(
                Finding(
                    "mark-lost",
                    Severity.WARN,
                    f"A mark on {panel.name} no longer lies on it",
                    panel.id,
                    mark.points[0],
                    remedy="Move the mark, or remove it.",
                    source=file_name,
                )
            )
    return found


def _points(points: Sequence[Point], shift: Point, scale: float = 1.0) -> tuple[Point, ...]:
    return tuple((x * scale + shift[0], y * scale + shift[1]) for x, y in points)


def _moved(panel: Panel, shift: Point, scale: float = 1.0) -> Panel:
    """The panel's decisions moved (and scaled first); its outline is not touched."""
    if shift == (0.0, 0.0) and scale == 1.0:
        return panel
    seams: tuple[SeamLine, ...] | None = None
    if panel.seams is not None:
        seams = tuple(
            replace(s, points=_points(s.points, shift, scale), shift_mm=s.shift_mm * scale)
            for s in panel.seams
        )
    marks = tuple(replace(m, points=_points(m.points, shift, scale)) for m in panel.marks)
    refits = tuple(
        replace(
            d,
            ref=replace(
                d.ref,
                anchor=_points([d.ref.anchor], shift, scale)[0],
                size=tuple(v * scale for v in d.ref.size),
            ),
        )
        for d in panel.refits
    )
    off = tuple(
        replace(
            ref,
            anchor=_points([ref.anchor], shift, scale)[0],
            size=ref.size if ref.kind == "axis" else tuple(v * scale for v in ref.size),
        )
        for ref in panel.switched_off
    )
    return replace(panel, seams=seams, marks=marks, refits=refits, switched_off=off)


def _scaled(panel: Panel, scale: float) -> Panel:
    if scale == 1.0:
        return panel
    features = tuple(
        replace(
            f,
            ring=None if f.ring is None else f.ring.scaled(scale),
            path=_points(f.path, (0.0, 0.0), scale),
            at=None if f.at is None else _points([f.at], (0.0, 0.0), scale)[0],
            diameter_mm=None if f.diameter_mm is None else f.diameter_mm * scale,
            depth_mm=None if f.depth_mm is None else f.depth_mm * scale,
            islands=tuple(i.scaled(scale) for i in f.islands),
        )
        for f in panel.features
    )
    moved = _moved(panel, (0.0, 0.0), scale)
    return replace(moved, region=panel.region.scaled(scale), features=features)


def keep_layouts(
    layouts: Sequence[KeptLayout], reread: Reread
) -> tuple[tuple[KeptLayout, ...], tuple[Finding, ...]]:
    """Layouts after a drawing was read again.

    A panel that only moved in its drawing stays where it lies on the sheet; pieces of panels
    that are gone leave it, and those of changed ones go back to the tray when the plan is made
    (their digest no longer fits).
    """
    shifts = {
        panel: change.moved_mm
        for panel, change in reread.changes.items()
        if change.kind is ChangeKind.MOVED and not change.features_changed
    }
    lost = set(reread.lost)
    gone = 0
    kept = []
    for layout in layouts:
        placed: list[Placed] = []
        for one in layout.placed:
            panel = one.piece.split(".")[0]
            if panel in lost:
                gone += 1
                continue
            if panel in shifts:
                placed.append(_laid_as_before(one, shifts[panel]))
            else:
                placed.append(one)
        kept.append(replace(layout, placed=tuple(placed)))
    findings: tuple[Finding, ...] = ()
    if gone:
        findings = (
            Finding(
                "placements-lost",
                Severity.NOTE,
                f"{gone} places on sheets went with the panels that are gone",
            ),
        )
    return tuple(kept), findings


def _laid_as_before(one: Placed, shift: Point) -> Placed:
    """The same place on the sheet for a piece whose coordinates have all moved by shift."""
    x, y = Motion(turn_deg=one.motion.turn_deg, mirrored=one.motion.mirrored).apply(*shift)
    motion = replace(one.motion, x_mm=one.motion.x_mm - x, y_mm=one.motion.y_mm - y)
    # The digest is of coordinates, which moved; an empty one is taken on trust and checked
    # with the plan like every place.
    return replace(one, motion=motion, digest="")


def unit_scale(before: Drawing, after: Drawing, mm_per_unit: dict[str, float]) -> float:
    """How many times larger a drawing got because its unit was changed; 1 if it was not."""
    if before.units == after.units or before.sha256 != after.sha256:
        return 1.0
    old, new = mm_per_unit.get(before.units), mm_per_unit.get(after.units)
    return new / old if old and new else 1.0


def with_panels(project: Project, reread: Reread, added: Sequence[Panel]) -> Project:
    """The project with its panels as they were read again, layouts kept, new ones added."""
    lost = set(reread.lost)
    panels = [reread.panels.get(p.id, p) for p in project.panels if p.id not in lost]
    layouts, _ = keep_layouts(project.layouts, reread)
    return replace(project, panels=(*panels, *added), layouts=layouts)
