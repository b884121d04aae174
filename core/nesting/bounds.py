"""Lower bounds: how few sheets could ever do."""

from __future__ import annotations

from collections.abc import Sequence

from core.nesting.construct import Item
from core.nesting.prepare import Job


def sheet_bound(job: Job, items: Sequence[Item]) -> int:
    """No layout of all these items opens fewer sheets. By area: the largest rooms come first."""
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
