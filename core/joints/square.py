"""Square fingers and dovetails: straight flanks, square shoulders that meet and set the length."""

from __future__ import annotations

import math

from core.errors import InvalidGeometryError
from core.geometry.path import Path
from core.joints.style import (
    RELIEF_NEED,
    JointContext,
    Parameter,
    SeamStyle,
    StyleProperties,
    Tooth,
    glue_per_metre,
)
from core.project.model import StyleChoice
from core.tolerances import BIT_ROOM_MM


def rounding_for(context: JointContext) -> float:
    """Corner radius that lets the bit into both mates, mm."""
    return context.cutter.radius_mm + context.gap_mm / 2 + BIT_ROOM_MM


def _width(context: JointContext) -> float:
    # Finger width 1 to 1.5 board thicknesses: common practice, no source. At least 2 bits, so
    # that the reliefs of one socket stay apart.
    return max(round(1.25 * context.thickness_mm), 2.0 * context.cutter.diameter_mm)


WIDTH = Parameter(
    "width", "Finger width", "mm", "Width of one finger at the seam.", _width, 3.0, 400.0
)
DEPTH = Parameter(
    "depth", "Finger length", "mm", "How far a finger reaches into its mate.", _width, 2.0, 300.0
)
GAP = Parameter(
    "spacing",
    "Between fingers",
    "mm",
    "Width of the board left between two fingers, at the seam.",
    _width,
    3.0,
    600.0,
)
ROUNDED = Parameter(
    "rounded",
    "Round corners to the bit",
    "",
    "Both mates get corners the bit can reach, so no relief is needed.",
    lambda context: 0.0,
    0.0,
    1.0,
    choice=True,
)


def square_tooth(
    width_mm: float, depth_mm: float, spacing_mm: float, flare: float, rounding_mm: float
) -> Tooth:
    """A tooth with straight flanks that lean out by flare mm per mm of depth.

    Shoulders meet: the seam between teeth does not move, flanks retreat by half the gap on
    each mate, only the tip retreats by a whole gap. Raises InvalidGeometryError if corners of
    rounding_mm do not fit.
    """
    lean = flare * depth_mm
    path: Path = (
        (0.0, 0.0, 0.0),
        (-lean, depth_mm, 0.0),
        (width_mm + lean, depth_mm, 0.0),
        (width_mm, 0.0, 0.0),
    )
    slant = math.atan(flare)
    take = rounding_mm * math.tan((math.pi / 2 + slant) / 2)
    narrow = min(width_mm + 2 * lean, spacing_mm, depth_mm / math.cos(slant)) - 2 * take
    if rounding_mm > 0.0 and narrow <= 0.0:
        raise InvalidGeometryError(
            f"Corners of {rounding_mm:.2f} mm do not fit on a tooth {width_mm:g} wide, "
            f"{depth_mm:g} long and {spacing_mm:g} apart",
            "",
            f"Make each at least {2 * take + 0.5:.1f} mm, or take a thinner bit.",
        )
    return Tooth(
        path=path,
        left_shift=(0.5, 0.0, 0.5),
        right_shift=(0.5, 1.0, 0.5),
        radii_mm=(rounding_mm,) * 4,
        base_shift=0.0,
        pitch_mm=width_mm + spacing_mm,
        head_mm=width_mm + 2 * lean,
        neck_mm=min(width_mm, spacing_mm - 2 * lean),
        undercut_mm=lean,
    )


class SquareFinger(SeamStyle):
    """Plain fingers."""

    name = "finger"
    title = "Square finger"
    when = (
        "The everyday seam: slides together flat, shoulders set the length; glue and a clamp "
        "hold it."
    )
    parameters = (WIDTH, DEPTH, GAP, ROUNDED)

    def tooth(self, choice: StyleChoice, context: JointContext) -> Tooth:
        v = self.values(choice, context)
        rounding = rounding_for(context) if v["rounded"] else 0.0
        return square_tooth(v["width"], v["depth"], v["spacing"], 0.0, rounding)

    def properties(self, choice: StyleChoice, context: JointContext) -> StyleProperties:
        tooth = self.tooth(choice, context)
        return square_properties(tooth, context, "slides together in the plane of the board")


def square_properties(tooth: Tooth, context: JointContext, mating: str) -> StyleProperties:
    """Properties shared by square-cornered styles."""
    rounding = tooth.radii_mm[0]
    glue = glue_per_metre(tooth)
    needs = () if rounding else (RELIEF_NEED,)
    # Straight pull-out is blocked once the lean beats the gap; see the simulated cut in tests.
    slant = math.atan2(tooth.undercut_mm, tooth.depth_mm)
    holds = (tooth.depth_mm - context.gap_mm) * math.tan(slant) > context.gap_mm / math.cos(slant)
    return StyleProperties(
        holds=holds,
        inside_radius_mm=rounding,
        needs_relief=rounding == 0.0,
        glue_length_per_m_mm=glue,
        glue_area_per_m_mm2=glue * context.thickness_mm,
        closing_mm=0.0,
        mating=mating,
        needs=needs,
        narrowest_mm=tooth.neck_mm - context.gap_mm,
    )


class Dovetail(SeamStyle):
    """Flared fingers that hold against pulling apart."""

    name = "dovetail"
    title = "Dovetail"
    when = (
        "Holds against pulling apart before the glue has set: for long tops and fronts. Drops "
        "in from the face."
    )
    parameters = (
        WIDTH,
        DEPTH,
        Parameter(
            "spacing",
            "Between tails",
            "mm",
            "Width of the board left between two tails, at the seam.",
            lambda context: 1.25 * _width(context) + 2 * _width(context) / 6.0,
            3.0,
            600.0,
        ),
        Parameter(
            "slope",
            "Slope 1 in",
            "1 in n",
            "6 for softwood and plywood, 8 for hardwood (tradition, which is not uniform).",
            lambda context: 6.0,
            3.0,
            12.0,
        ),
        ROUNDED,
    )

    def tooth(self, choice: StyleChoice, context: JointContext) -> Tooth:
        v = self.values(choice, context)
        rounding = rounding_for(context) if v["rounded"] else 0.0
        if v["spacing"] - 2 * v["depth"] / v["slope"] < context.cutter.diameter_mm / 2:
            raise InvalidGeometryError(
                "The board between two dovetails would be narrower than half the bit",
                "",
                "Space them wider, make them shorter or the slope steeper.",
            )
        return square_tooth(v["width"], v["depth"], v["spacing"], 1.0 / v["slope"], rounding)

    def properties(self, choice: StyleChoice, context: JointContext) -> StyleProperties:
        tooth = self.tooth(choice, context)
        return square_properties(tooth, context, "drops in from the face")
