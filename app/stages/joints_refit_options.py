"""What may be chosen about joints that were drawn: values with their words.

first is what leaving it open is called, "" where it must be said.
"""

from __future__ import annotations

from typing import Any

from app.i18n import tr
from core.project.refit import ReliefKind, ReliefSide, SizeHold
from core.shop import JointClass


def classes(first: str) -> list[tuple[Any, str]]:
    """What a joint may be for."""
    rows: list[tuple[Any, str]] = [(None, first)] if first else []
    return [
        *rows,
        (JointClass.GLUED, tr("glued")),
        (JointClass.KNOCK_DOWN, tr("to be taken apart")),
    ]


def holds(first: str) -> list[tuple[Any, str]]:
    """Which size of a panel with teeth may stay."""
    rows: list[tuple[Any, str]] = [(None, first)] if first else []
    return [
        *rows,
        (SizeHold.OUTSIDE, tr("outside as drawn")),
        (SizeHold.INSIDE, tr("inside as drawn")),
    ]


def reliefs(first: str) -> list[tuple[Any, str]]:
    """How square corners get room."""
    rows: list[tuple[Any, str]] = [(None, first)] if first else []
    return [
        *rows,
        (ReliefKind.DOG_BONE, tr("dog-bone")),
        (ReliefKind.T_BONE, tr("T-bone")),
        (ReliefKind.SMALLEST, tr("smallest that clears")),
        (ReliefKind.NONE, tr("none")),
    ]


def sides(first: str) -> list[tuple[Any, str]]:
    """Which way T-bones may go."""
    rows: list[tuple[Any, str]] = [(None, first)] if first else []
    return [
        *rows,
        (ReliefSide.ENDS, tr("into ends and shoulders")),
        (ReliefSide.WALLS, tr("into walls and flanks")),
    ]
