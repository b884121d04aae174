"""Materials, sheets, offcuts, machine, bits, clamps, limits and fits: what the maker has."""

from core.shop.model import (
    BoardState,
    ClampKind,
    ClampZone,
    Cutter,
    Defect,
    FitSetting,
    JointClass,
    Limits,
    Machine,
    Material,
    Reading,
    Rules,
    Shop,
    Stock,
)

__all__ = [
    "BoardState",
    "ClampKind",
    "ClampZone",
    "Cutter",
    "Defect",
    "FitSetting",
    "JointClass",
    "Limits",
    "Machine",
    "Material",
    "Reading",
    "Rules",
    "Shop",
    "Stock",
]
