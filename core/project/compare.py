"""A drawing before and after it was read again, side by side, for the maker to accept."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from shapely.geometry import Polygon

from core.findings import Finding
from core.geometry import Point, Region
from core.outlines.rereading import ChangeKind, OutlineChange
from core.project.edits import Edited
from core.project.model import Panel, Project
from core.tolerances import REREAD_TOL_MM

_MOST_PARTS = 200  # patches of difference shown for one panel


@dataclass(frozen=True)
class ComparedPanel:
    """One panel before (None: it is new) and after (None: it is gone).

    change: what became of it. differing: polygons that are in one and not in the other.
    """

    name: str
    old: Panel | None
    new: Panel | None
    change: OutlineChange
    differing: tuple[Polygon, ...] = ()

    @property
    def kind(self) -> ChangeKind:
        """What became of it."""
        return self.change.kind

    @property
    def moved_mm(self) -> Point:
        """How far it went in the drawing, (0, 0) if it stayed."""
        far = math.hypot(*self.change.moved_mm) > REREAD_TOL_MM
        return self.change.moved_mm if far else (0.0, 0.0)


@dataclass(frozen=True)
class Comparison:
    """A drawing before and after. told: what could not be kept, and what else was noticed."""

    drawing: str
    file_name: str
    panels: tuple[ComparedPanel, ...]
    told: tuple[Finding, ...] = ()

    @property
    def changed(self) -> tuple[ComparedPanel, ...]:
        """Those that are not as they were."""
        return tuple(p for p in self.panels if p.kind is not ChangeKind.SAME)


def compare(before: Project, edited: Edited, drawing_id: str) -> Comparison:
    """What reading a drawing again changed. edited: as add_drawing gave it for before."""
    file_name = next(d.file_name for d in edited.project.drawings if d.id == drawing_id)
    changes = dict(edited.changes)
    rows: list[ComparedPanel] = []
    for panel in before.panels:
        change = changes.get(panel.id)
        if change is None:
            continue
        new = edited.project.panel(panel.id)
        differing: tuple[Polygon, ...] = ()
        if new is not None and change.kind is ChangeKind.CHANGED and change.differs_mm > 0:
            differing = _differing(panel.region, new.region)
        rows.append(ComparedPanel(panel.name, panel, new, change, differing))
    for panel_id in edited.added:
        panel_new = edited.project.panel(panel_id)
        if panel_new is not None:
            change = OutlineChange(ChangeKind.ADDED, None, None)
            rows.append(ComparedPanel(panel_new.name, None, panel_new, change))
    return Comparison(drawing_id, file_name, tuple(rows), edited.changes_told)


def _differing(old: Region, new: Region) -> tuple[Polygon, ...]:
    """Where one outline has board and the other has none, large patches first."""
    patches = old.polygon.symmetric_difference(new.polygon)
    parts: Sequence[Polygon] = [
        part
        for part in getattr(patches, "geoms", [patches])
        if isinstance(part, Polygon) and part.area > REREAD_TOL_MM**2
    ]
    return tuple(sorted(parts, key=lambda part: -part.area)[:_MOST_PARTS])
