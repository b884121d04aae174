"""What every stage is given: the document and the services around it."""

from __future__ import annotations

from dataclasses import dataclass

from app.ask import Ask
from app.derived import Derived
from app.document import Document
from app.jobs import Jobs
from app.preferences import Preferences


@dataclass(frozen=True)
class Context:
    """The services of one window."""

    document: Document
    derived: Derived
    jobs: Jobs
    ask: Ask
    preferences: Preferences

    @property
    def unit(self) -> str:
        """The unit lengths are shown in: the project's."""
        return self.document.project.units
