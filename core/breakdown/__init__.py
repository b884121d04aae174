"""Sheets into blanks and saw cuts; rectangular parts for the saw.

Owns Blank. Works on rectangles only and never looks at outlines: nesting happens elsewhere,
inside the blanks that come from here.
"""

from core.breakdown.blanks import (
    BlankLimits,
    BlankPattern,
    PlanerLimits,
    blank_patterns,
    blanks_for,
    max_area_mm2,
)
from core.breakdown.freeing import FreePattern, NotSawableError, pattern_for
from core.breakdown.model import (
    Blank,
    PlacedPart,
    Rect,
    SawCut,
    SawPart,
    SawPlan,
    SawSheet,
    SheetCuts,
    UnplacedPart,
    letter,
)
from core.breakdown.rectangles import cut_rectangles
from core.breakdown.replay import CutReplayError, CutTrace, follow, rects_of, replay
from core.breakdown.steps import SawList, SawPiece, SawStep, mass_kg, saw_steps

__all__ = [
    "Blank",
    "BlankLimits",
    "BlankPattern",
    "CutReplayError",
    "CutTrace",
    "FreePattern",
    "NotSawableError",
    "PlacedPart",
    "PlanerLimits",
    "Rect",
    "SawCut",
    "SawList",
    "SawPart",
    "SawPiece",
    "SawPlan",
    "SawSheet",
    "SawStep",
    "SheetCuts",
    "UnplacedPart",
    "blank_patterns",
    "blanks_for",
    "cut_rectangles",
    "follow",
    "letter",
    "mass_kg",
    "max_area_mm2",
    "pattern_for",
    "rects_of",
    "replay",
    "saw_steps",
]
