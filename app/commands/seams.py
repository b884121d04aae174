"""Changes of seams: lines, styles, fits, proposals taken."""

from __future__ import annotations

from dataclasses import dataclass, replace

from app.commands.base import SEAMS, SHOP
from app.commands.panels import change_panels
from app.i18n import tr
from core.errors import InvalidProjectError
from core.project.model import BoardChoice, Project, SeamLine, StyleChoice
from core.shop import ToothDrawing

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
                raise InvalidProjectError(
                    tr("A seam needs two points"), self.panel, tr("Draw a line.")
                )
            fit = line.fit_mm
            if fit is not None and not 0.0 <= fit <= _LARGEST_FIT_MM:
                raise InvalidProjectError(
                    tr("A fit of {fit} mm is no play a joint can have").format(fit=f"{fit:g}"),
                    self.panel,
                    tr("Take 0 to 5 mm of total play."),
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


@dataclass(frozen=True)
class KeepTooth:
    """Put a drawn tooth into the shop, in the place of the one called was ("" for none).

    Seams and panels that have that one get the new one.
    """

    text: str
    tooth: ToothDrawing
    was: str = ""
    kinds: frozenset[str] = frozenset({SHOP, SEAMS})

    def apply(self, project: Project) -> Project:
        """The project with the tooth. Raises InvalidProjectError if it has no name."""
        if not self.tooth.name.strip():
            raise InvalidProjectError(tr("A tooth needs a name"), "", tr("Type one."))
        name = self.tooth.name
        teeth = [t for t in project.shop.teeth if t.name not in (self.was, name)]
        shop = replace(project.shop, teeth=(*teeth, self.tooth))
        if not self.was or self.was == name:
            return replace(project, shop=shop)

        def renamed(style: StyleChoice) -> StyleChoice:
            return replace(style, name=f"own:{name}") if style.name == f"own:{self.was}" else style

        panels = tuple(
            replace(
                panel,
                style=renamed(panel.style),
                seams=None
                if panel.seams is None
                else tuple(replace(s, style=renamed(s.style)) for s in panel.seams),
            )
            for panel in project.panels
        )
        return replace(project, shop=shop, panels=panels)


@dataclass(frozen=True)
class RemoveTooth:
    """Take a drawn tooth out of the shop."""

    text: str
    name: str
    kinds: frozenset[str] = frozenset({SHOP})

    def apply(self, project: Project) -> Project:
        """The project without it. Raises InvalidProjectError while a seam has it."""
        if self.name in teeth_used(project):
            raise InvalidProjectError(
                tr("A seam has this tooth"),
                tr("tooth “{name}”").format(name=self.name),
                tr("Give the seam another style."),
            )
        teeth = tuple(t for t in project.shop.teeth if t.name != self.name)
        return replace(project, shop=replace(project.shop, teeth=teeth))


@dataclass(frozen=True)
class SetBoards:
    """Which boards the pieces of a split panel are of; () leaves all of the panel's board."""

    text: str
    panel: str
    boards: tuple[BoardChoice, ...]
    kinds: frozenset[str] = frozenset({SEAMS})

    def apply(self, project: Project) -> Project:
        """The project with the boards set. Raises InvalidProjectError for an unknown board."""
        for choice in self.boards:
            if project.shop.material(choice.material) is None:
                raise InvalidProjectError(
                    tr("There is no board “{name}”").format(name=choice.material),
                    self.panel,
                    tr("Add it in the Shop."),
                )
        return change_panels(
            project, (self.panel,), lambda panel: replace(panel, boards=self.boards)
        )


def teeth_used(project: Project) -> frozenset[str]:
    """Names of the drawn teeth that panels and seams of a project have."""
    styles = [panel.style.name for panel in project.panels]
    styles += [s.style.name for panel in project.panels for s in panel.seams or ()]
    return frozenset(s.removeprefix("own:") for s in styles if s.startswith("own:"))
