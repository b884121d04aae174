"""Panels as drawn: reading them, writing them, typing them in, and what is recognised on them."""

from core.outlines.model import Face, Feature, ImportResult, LayerRead, Outline, Role
from core.outlines.reading import read_outlines
from core.outlines.recognise import FeatureRef, Recognised, recognise
from core.outlines.rereading import (
    ChangeKind,
    OutlineChange,
    compare_outlines,
    find_repeats,
    match_refs,
)
from core.outlines.roles import LayerChoice, LayerMeaning, meaning_of
from core.outlines.typed import (
    PanelTable,
    TypedPanel,
    read_panel_file,
    read_panel_table,
    table_text,
)
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
    "ChangeKind",
    "CircleItem",
    "DrawItem",
    "Face",
    "Feature",
    "FeatureRef",
    "ImportResult",
    "LayerChoice",
    "LayerMeaning",
    "LayerRead",
    "Outline",
    "OutlineChange",
    "PanelTable",
    "PathItem",
    "PointItem",
    "Recognised",
    "RingItem",
    "Role",
    "TextItem",
    "TypedPanel",
    "compare_outlines",
    "find_repeats",
    "layer_names",
    "match_refs",
    "meaning_of",
    "read_outlines",
    "read_panel_file",
    "read_panel_table",
    "recognise",
    "region_items",
    "table_text",
    "write_dxf",
    "write_svg",
]
