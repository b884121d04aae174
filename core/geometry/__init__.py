"""Rings with true arcs and what can be asked of them."""

from core.geometry.ring import Motion, Point, Region, Ring, Vertex, arc_of, arc_steps

__all__ = ["Motion", "Point", "Region", "Ring", "Vertex", "arc_of", "arc_steps"]
