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
