"""Changes of the project as a whole: its name, units, re-fit switch, breakdown and seed."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

from app.commands.base import PROJECT
from core.project.model import Project


@dataclass(frozen=True)
class SetProject:
    """Set fields of the project itself: name, units, refit, seed, breakdown."""

    text: str
    values: tuple[tuple[str, Any], ...]
    kinds: frozenset[str] = frozenset({PROJECT})

    def apply(self, project: Project) -> Project:
        """The project with those fields set."""
        return replace(project, **dict(self.values))
