"""What makes one arrangement better than another, and how much is used."""

from __future__ import annotations

from collections.abc import Sequence

from core.nesting.construct import Arrangement, Item
from core.nesting.prepare import Job

Score = tuple[tuple[int, ...], float, int, float, int]


def score(job: Job, items: Sequence[Item], made: Arrangement) -> Score:
    """Less is better, in order: pieces left out by priority, cost of the sheets opened, groups
    torn apart, used length of the last sheet (mm), fillers left out."""
    levels = sorted({kind.piece.priority for kind in job.kinds if not kind.piece.filler})
    left_out = dict.fromkeys(levels, 0)
    fillers = 0
    groups: dict[str, set[int]] = {}
    for item, spot in zip(items, made.spots, strict=True):
        piece = job.kinds[item.kind].piece
        if spot is None and piece.filler:
            fillers += 1
        elif spot is None:
            left_out[piece.priority] += 1
        elif piece.group is not None:
            groups.setdefault(piece.group, set()).add(spot.sheet)
    torn = sum(len(sheets) - 1 for sheets in groups.values())
    used = [sheet for sheet in range(len(made.sheets)) if _carries(made, sheet)]
    cost = sum(job.stocks[made.sheets[sheet][0]].cost for sheet in used)
    length = min((used_length(job, made, sheet) for sheet in used), default=0.0)
    return (
        tuple(left_out[level] for level in reversed(levels)), cost, torn, round(length, 6), fillers,
    )  # fmt: skip


def used_length(job: Job, made: Arrangement, sheet: int) -> float:
    """How far the pieces reach on a sheet from the left end of its room, mm."""
    left = job.stocks[made.sheets[sheet][0]].bounds[0]
    reach = [s.x + s.pose.bounds[2] for s in made.spots if s is not None and s.sheet == sheet]
    return max(reach, default=left) - left


def _carries(made: Arrangement, sheet: int) -> bool:
    return any(spot is not None and spot.sheet == sheet for spot in made.spots)
