"""Changes of panels and of the drawings they come from."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace
from typing import Any

from app.commands.base import DRAWINGS, PANELS, PROJECT, SEAMS
from core.project.ids import free_name
from core.project.model import Drawing, Panel, Project


@dataclass(frozen=True)
class SetPanels:
    """Set fields of one or more panels.

    values: field of :class:`~core.project.model.Panel` → new value, the same for all.
    """

    text: str
    panel_ids: tuple[str, ...]
    values: tuple[tuple[str, Any], ...]

    @property
    def kinds(self) -> frozenset[str]:
        """PANELS, or SEAMS where only seams, styles, marks or re-fit are set."""
        seam_only = {name for name, _ in self.values} <= {"seams", "style", "marks", "refit"}
        return frozenset({SEAMS if seam_only else PANELS})

    def apply(self, project: Project) -> Project:
        """The project with the fields set; unknown ids are left out."""
        return change_panels(
            project, self.panel_ids, lambda panel: replace(panel, **dict(self.values))
        )


@dataclass(frozen=True)
class ReplacePanels:
    """Put changed panels in the place of those with the same ids (seams, marks, anything)."""

    text: str
    panels: tuple[Panel, ...]
    kinds: frozenset[str] = frozenset({PANELS, SEAMS})

    def apply(self, project: Project) -> Project:
        """The project with the new panels; ids that are not there are left out."""
        new = {panel.id: panel for panel in self.panels}
        return replace(project, panels=tuple(new.get(p.id, p) for p in project.panels))


@dataclass(frozen=True)
class AddPanels:
    """Add panels that were typed or pasted, after those that are there."""

    text: str
    panels: tuple[Panel, ...]
    drawings: tuple[Drawing, ...] = ()
    kinds: frozenset[str] = frozenset({PANELS, DRAWINGS})

    def apply(self, project: Project) -> Project:
        """The project with the panels added; an id already taken gets a number behind it."""
        taken = {panel.id for panel in project.panels}
        added = []
        for panel in self.panels:
            fresh = free_name(panel.id, taken)
            taken.add(fresh)
            added.append(panel if fresh == panel.id else replace(panel, id=fresh))
        return replace(
            project,
            panels=project.panels + tuple(added),
            drawings=project.drawings + self.drawings,
        )


@dataclass(frozen=True)
class RemovePanels:
    """Take panels out of the project, and drawings of which nothing is left."""

    text: str
    panel_ids: tuple[str, ...]
    kinds: frozenset[str] = frozenset({PANELS, DRAWINGS})

    def apply(self, project: Project) -> Project:
        """The project without the panels."""
        gone = set(self.panel_ids)
        before = {panel.drawing for panel in project.panels}
        panels = tuple(p for p in project.panels if p.id not in gone)
        emptied = before - {panel.drawing for panel in panels}
        drawings = tuple(d for d in project.drawings if d.id not in emptied)
        return replace(project, panels=panels, drawings=drawings)


@dataclass(frozen=True)
class Adopt:
    """Take a project that was worked out elsewhere (reading drawings) as the next step."""

    text: str
    project: Project
    kinds: frozenset[str] = frozenset({PANELS, DRAWINGS, SEAMS, PROJECT})

    def apply(self, project: Project) -> Project:
        """The project worked out; what the maker changed in it meanwhile is guarded by the job."""
        return self.project


def change_panels(
    project: Project, panel_ids: Iterable[str], change: Callable[[Panel], Panel]
) -> Project:
    """The project with change applied to each panel named."""
    wanted = set(panel_ids)
    return replace(
        project, panels=tuple(change(p) if p.id in wanted else p for p in project.panels)
    )
