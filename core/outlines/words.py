"""Places and lengths as the sentences about a drawing have them."""

from __future__ import annotations

import math

from core.geometry import Point, Ring
from core.outlines.limits import MAX_GAP_MM
from core.units import format_length


def place_text(point: Point) -> str:
    """A place in mm, as findings name it."""
    return f"({point[0]:.1f}, {point[1]:.1f})"


def small_text(length_mm: float) -> str:
    """A length with more places where it is short."""
    return format_length(length_mm, precision=3 if length_mm < 1 else 1)


def ring_middle(ring: Ring) -> Point:
    """The middle of a ring's bounds."""
    x1, y1, x2, y2 = ring.bounds
    return (x1 + x2) / 2, (y1 + y2) / 2


def close_gap_fix(gap_mm: float) -> str:
    """The fix that closes gaps up to this one, "" where it is too wide to be a gap."""
    return f"close-gap:{math.ceil(gap_mm * 100 + 1) / 100:.2f}" if gap_mm <= MAX_GAP_MM else ""
