"""Changes of what goes onto paper and into files: paper, label sheets, layer names, versions."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

from app.commands.base import OUTPUT
from core.project.model import Project
from core.project.output import check_output


@dataclass(frozen=True)
class SetOutput:
    """Set fields of the project's output.

    Raises InvalidProjectError, or InvalidRequestError for layer names no drawing can have.
    """

    text: str
    values: tuple[tuple[str, Any], ...]
    kinds: frozenset[str] = frozenset({OUTPUT})

    def apply(self, project: Project) -> Project:
        """The project with those fields of its output set."""
        from core.reports.drawings import Layers

        output = replace(project.output, **dict(self.values))
        check_output(output)
        Layers(dict(output.layers))
        return replace(project, output=output)
