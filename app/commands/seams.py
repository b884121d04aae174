"""Changes of seams: lines, styles, fits, proposals taken."""

from __future__ import annotations

from dataclasses import dataclass, replace

from app.commands.base import SEAMS
from app.commands.panels import change_panels
from core.errors import InvalidProjectError
from core.project.model import Project, SeamLine, StyleChoice

_LARGEST_FIT_MM = 5.0


@dataclass(frozen=True)
class SetSeams:
    """Make these lines the panel's seams; None leaves them to the planner."""

    text: str
    panel: str
    seams: tuple[SeamLine, ...] | None
    kinds: frozenset[str] = frozenset({SEAMS})

    def apply(self, project: Project) -> Project:
        """The project with the seams set.

        Raises InvalidProjectError for a line of fewer than two points or a fit that is no play.
        """
        for line in self.seams or ():
            if len(line.points) < 2:
                raise InvalidProjectError("A seam needs two points", self.panel, "Draw a line.")
            fit = line.fit_mm
            if fit is not None and not 0.0 <= fit <= _LARGEST_FIT_MM:
                raise InvalidProjectError(
                    f"A fit of {fit:g} mm is no play a joint can have",
                    self.panel,
                    "Take 0 to 5 mm of total play.",
                )
        return change_panels(project, (self.panel,), lambda panel: replace(panel, seams=self.seams))


@dataclass(frozen=True)
class SetStyle:
    """The style of a panel's seams: of the lines it has, and of those the planner finds."""

    text: str
    panel: str
    style: StyleChoice
    kinds: frozenset[str] = frozenset({SEAMS})

    def apply(self, project: Project) -> Project:
        """The project with the style set on the panel and on each of its own lines."""

        def restyled(line: SeamLine) -> SeamLine:
            return replace(line, style=self.style, shift_mm=0.0)

        panel = project.panel(self.panel)
        if panel is None:
            return project
        seams = None if panel.seams is None else tuple(restyled(line) for line in panel.seams)
        return change_panels(
            project, (self.panel,), lambda p: replace(p, style=self.style, seams=seams)
        )
