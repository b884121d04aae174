"""Nesting: irregular pieces on given sheets.

``nest`` does the whole work; ``check_layout`` proves a layout without the search's help.
The search runs on grown outlines and compiled kernels; what leaves it has been proven on the
outlines as given.
"""

from core.nesting.bounds import least_sheets
from core.nesting.engine import nest, warm_up
from core.nesting.model import (
    Layout,
    NestPiece,
    NestRules,
    NestSheet,
    Placement,
    Unplaced,
    placed_polygon,
)
from core.nesting.place import Placer, best_place, place_rest
from core.nesting.proof import Violation, check_layout

__all__ = [
    "Layout",
    "NestPiece",
    "NestRules",
    "NestSheet",
    "Placement",
    "Placer",
    "Unplaced",
    "Violation",
    "best_place",
    "check_layout",
    "least_sheets",
    "nest",
    "place_rest",
    "placed_polygon",
    "warm_up",
]
