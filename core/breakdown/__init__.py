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
from core.breakdown.replay import CutReplayError, replay
from core.breakdown.steps import mass_kg

__all__ = [
    "Blank",
    "BlankLimits",
    "BlankPattern",
    "CutReplayError",
    "FreePattern",
    "NotSawableError",
    "PlacedPart",
    "PlanerLimits",
    "Rect",
    "SawCut",
    "SawPart",
    "SawPlan",
    "SawSheet",
    "SheetCuts",
    "UnplacedPart",
    "blank_patterns",
    "blanks_for",
    "cut_rectangles",
    "letter",
    "mass_kg",
    "max_area_mm2",
    "pattern_for",
    "replay",
]
