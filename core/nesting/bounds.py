"""Lower bounds: how few sheets could ever do."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable, Sequence

from core.nesting.construct import Item
from core.nesting.model import NestPiece, NestRules, NestSheet
from core.nesting.prepare import Job, prepare

_ROUNDING = 1e-9


def least_sheets(pieces: Iterable[NestPiece], sheets: Iterable[NestSheet], rules: NestRules) -> int:
    """How few of the sheets could ever do for all pieces that fit one at all.

    >>> from shapely.geometry import box
    >>> sheet = NestSheet("s", box(0, 0, 100, 100))
    >>> least_sheets([NestPiece("a", box(0, 0, 60, 100), 5)], [sheet], NestRules())
    5
    """
    job = prepare(tuple(pieces), tuple(sheets), rules)
    items = [
        Item(index, copy)
        for index, kind in enumerate(job.kinds)
        if not kind.problem
        for copy in range(1, kind.piece.quantity + 1)
    ]
    return sheet_bound(job, items)


def sheet_bound(job: Job, items: Sequence[Item]) -> int:
    """No layout of all these items opens fewer sheets: by area, and by which pieces are so
    large that they cannot share a sheet."""
    return max(_by_area(job, items), _by_size(job, items))


def _by_size(job: Job, items: Sequence[Item]) -> int:
    """Area counted with what each piece keeps others away from, in the manner of Fekete and
    Schepers (Mathematical Programming 91 (2001) 11–31, from memory): for any size t up to half
    a sheet, a piece larger than the sheet less t fills it, for only pieces smaller than t could
    join it, and those are not counted.

    Outlines that keep the spacing s are apart even when each grows by s/2, and lie in the room
    grown by s/2.
    """
    half = job.rules.spacing_mm / 2
    sheet = max(
        (float(stock.room.buffer(half, join_style="mitre").area) for stock in job.stocks), default=0
    )
    wanted = Counter(item.kind for item in items if not job.kinds[item.kind].piece.filler)
    if sheet <= 0 or not wanted:
        return 0
    sizes = [
        (min(float(job.kinds[kind].piece.polygon.buffer(half).area), sheet), count)
        for kind, count in wanted.items()
    ]
    best = 0
    small = {size for size, _ in sizes if size <= sheet / 2}
    beside = {(sheet - size) * (1 + _ROUNDING) for size, _ in sizes if size > sheet / 2}
    for least in sorted({0.0, sheet / 2, *small, *(b for b in beside if b <= sheet / 2)}):
        full = sum(count for size, count in sizes if size > sheet - least)
        rest = sum(size * count for size, count in sizes if least <= size <= sheet - least)
        best = max(best, full + math.ceil(rest / sheet * (1 - _ROUNDING) - _ROUNDING))
    return best


def _by_area(job: Job, items: Sequence[Item]) -> int:
    """By the outlines' own area, the largest rooms first."""
    total = sum(
        job.kinds[item.kind].area for item in items if not job.kinds[item.kind].piece.filler
    )
    rooms: list[tuple[float, int | None]] = sorted(
        ((stock.area, stock.quantity) for stock in job.stocks), key=lambda room: -room[0]
    )
    count, left = 0, total * (1 - 1e-9)
    for area, quantity in rooms:
        while left > 0 and area > 0 and (quantity is None or quantity > 0):
            left -= area
            count += 1
            quantity = None if quantity is None else quantity - 1
    return count


def length_least(job: Job, items: Sequence[Item]) -> float:
    """No layout of all these items on one sheet of the first stock is shorter, mm.

    By the area over the room's height, and by the widest piece in its narrowest pose.
    """
    if not job.stocks:
        return 0.0
    height = max(stock.bounds[3] - stock.bounds[1] for stock in job.stocks)
    total, widest = 0.0, 0.0
    for item in items:
        kind = job.kinds[item.kind]
        if kind.piece.filler:
            continue
        total += kind.area
        narrow = [
            pose.bounds[2] - pose.bounds[0]
            for pose in kind.poses
            if pose.bounds[3] - pose.bounds[1] <= height * (1 + 1e-9)
        ]
        widest = max(widest, min(narrow, default=0.0))
    return max(total / height if height > 0 else 0.0, widest)
