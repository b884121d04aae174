"""Panels as drawn: reading them, writing them, typing them in, and what is recognised on them."""

from core.outlines.model import Face, Feature, ImportResult, Outline, Role
from core.outlines.reading import read_outlines
from core.outlines.write import (
    CircleItem,
    DrawItem,
    PathItem,
    PointItem,
    RingItem,
    TextItem,
    layer_names,
    region_items,
    write_dxf,
    write_svg,
)

__all__ = [
    "CircleItem",
    "DrawItem",
    "Face",
    "Feature",
    "ImportResult",
    "Outline",
    "PathItem",
    "PointItem",
    "RingItem",
    "Role",
    "TextItem",
    "layer_names",
    "read_outlines",
    "region_items",
    "write_dxf",
    "write_svg",
]
