"""Left and right pairs: adding the mirrored twin of a panel."""

from __future__ import annotations

from dataclasses import dataclass, replace

from app.commands.base import PANELS
from app.i18n import tr
from core.project.model import Project


@dataclass(frozen=True)
class AddTwin:
    """Put the mirror image of a panel behind it."""

    panel_id: str
    kinds: frozenset[str] = frozenset({PANELS})

    @property
    def text(self) -> str:
        """What undo shows."""
        return tr("Add a mirrored twin")

    def apply(self, project: Project) -> Project:
        """The project with the twin right behind its panel; as it is if there is no such panel."""
        from core.refit import mirrored_twin

        panels = []
        for panel in project.panels:
            panels.append(panel)
            if panel.id == self.panel_id:
                panels.append(mirrored_twin(project, panel))
        return replace(project, panels=tuple(panels))
