"""What a command is: a named, pure step from one frozen project to the next.

Commands never open dialogs and never touch widgets. Undo needs nothing from them: the
document keeps the project that was there before.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Final, Protocol, runtime_checkable

from core.project.model import Project

# What a change may concern; listeners look only at the kinds they show.
PANELS: Final = "panels"  # panels and their decisions, seams excepted
SEAMS: Final = "seams"  # seams, styles, marks, fits of single panels
DRAWINGS: Final = "drawings"  # source files
SHOP: Final = "shop"  # machine, materials, stock, rules, fits
LAYOUT: Final = "layout"  # kept layouts and which one is shown
PROJECT: Final = "project"  # name, units, re-fit switch, breakdown, seed
OUTPUT: Final = "output"  # paper, label sheets, layer names; nothing is worked out from them
EVERYTHING: Final = frozenset({PANELS, SEAMS, DRAWINGS, SHOP, LAYOUT, PROJECT, OUTPUT})


@runtime_checkable
class Command(Protocol):
    """A change of the document.

    text: what undo shows, in the imperative ("Turn 2 pieces"). kinds: what it changes.
    apply raises a SeamwrightError when the change makes no sense; the document stays as it is.
    """

    @property
    def text(self) -> str: ...

    @property
    def kinds(self) -> frozenset[str]: ...

    def apply(self, project: Project) -> Project: ...


@dataclass(frozen=True)
class Edit:
    """A command made of a text, its kinds and a pure function."""

    text: str
    kinds: frozenset[str]
    change: Callable[[Project], Project]

    def apply(self, project: Project) -> Project:
        """The project after the change."""
        return self.change(project)


@dataclass(frozen=True)
class Together:
    """Several commands as one step of undo."""

    text: str
    commands: tuple[Command, ...]

    @property
    def kinds(self) -> frozenset[str]:
        """All kinds of its commands."""
        return frozenset().union(*(command.kinds for command in self.commands))

    def apply(self, project: Project) -> Project:
        """The project after all commands, in order."""
        for command in self.commands:
            project = command.apply(project)
        return project
