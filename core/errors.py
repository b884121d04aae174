"""Errors that say what is wrong, where it is and what to do about it.

Every error a person can meet derives from :class:`SeamwrightError`; children also
inherit the built-in error of their kind, so a caller may catch either.
"""

from __future__ import annotations


class SeamwrightError(Exception):
    """A problem told in three parts.

    what: the problem, in a maker's words. where: file, line, panel or coordinates ("" if it
    is everywhere). remedy: what to do about it ("" if there is nothing to do).
    """

    def __init__(self, what: str, where: str = "", remedy: str = "") -> None:
        self.what = what
        self.where = where
        self.remedy = remedy
        super().__init__(what, where, remedy)

    def __str__(self) -> str:
        text = f"{self.where}: {self.what}" if self.where else self.what
        if not self.remedy:
            return text
        return f"{text.rstrip('.')}. {self.remedy}"


class BadLengthError(SeamwrightError, ValueError):
    """A text that is no length, or a length outside what the field takes."""


class UnreadableDrawing(SeamwrightError, ValueError):  # noqa: N818 - the name is a contract
    """A drawing file from which no geometry can be had."""


class UnreadableProject(SeamwrightError, ValueError):  # noqa: N818 - pairs with UnreadableDrawing
    """A project file that cannot be opened: damaged, foreign or of a newer version."""


class InvalidGeometryError(SeamwrightError, ValueError):
    """Geometry that cannot be worked with: self-crossing, empty or not finite."""


class InvalidProjectError(SeamwrightError, ValueError):
    """A project whose values contradict each other or lie outside their range."""


class InvalidRequestError(SeamwrightError, ValueError):
    """Arguments to a planner that make no sense together."""


class SaveFailedError(SeamwrightError, OSError):
    """A file could not be written; what was there before is untouched."""
