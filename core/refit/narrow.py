"""Ends of slots too narrow for two reliefs: one round end instead."""

from __future__ import annotations

from collections.abc import Iterable

from core.geometry import Ring


def round_ends(ring: Ring, edges: Iterable[int]) -> Ring:
    """The ring with the given straight edges bowed out into the board as half circles.

    Material lies on the left of the ring. The end of a slot as wide as the bit, or little
    wider, has no room for a relief in each of its corners; a half circle from corner to corner
    (radius half the slot's width, so at least the bit's) lets a square mate go right to the
    drawn end.
    """
    chosen = set(edges)
    return Ring(
        tuple((x, y, -1.0 if i in chosen else b) for i, (x, y, b) in enumerate(ring.vertices))
    )
