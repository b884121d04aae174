"""Rounded teeth and waves: made of arcs that the bit can follow, a gap all round.

Both come from one family: arcs turn left, right and left again, with straight flanks between
if the angle asks for them. With base radius Rf, head radius Rh and flank angle a:
half base = (Rf + Rh) sin a, depth = (Rf + Rh)(1 − cos a), undercut = (Rf + Rh)(1 − sin a) for
a > 90° (own derivation from the turns).
"""

from __future__ import annotations

import math

from core.errors import InvalidGeometryError
from core.geometry.path import Path
from core.joints.square import rounding_for
from core.joints.style import (
    HOLD_MARGIN_MM,
    JointContext,
    Parameter,
    SeamStyle,
    StyleProperties,
    Tooth,
    glue_per_metre,
)
from core.project.model import StyleChoice


def turned_tooth(root_mm: float, head_mm: float, angle_deg: float) -> Path:
    """A tooth of three arcs: left with root_mm, right with head_mm, left with root_mm.

    angle_deg: how far the flank turns from the seam, over 0 and under 180.
    """
    a = math.radians(angle_deg)
    half = (root_mm + head_mm) * math.sin(a)
    x1 = root_mm * math.sin(a)
    y1 = root_mm * (1.0 - math.cos(a))
    rise, over = math.tan(a / 4.0), -math.tan(a / 2.0)
    if a > math.pi / 2:
        # An arc of more than a half turn is kept as two, so that no bulge exceeds 1.
        top = (root_mm + head_mm) * (1.0 - math.cos(a))
        over = -math.tan(a / 4.0)
        return (
            (0.0, 0.0, rise),
            (x1, y1, over),
            (half, top, over),
            (2 * half - x1, y1, rise),
            (2 * half, 0.0, 0.0),
        )
    return (
        (0.0, 0.0, rise),
        (x1, y1, over),
        (2 * half - x1, y1, rise),
        (2 * half, 0.0, 0.0),
    )


def _all_round(path: Path, pitch_mm: float, head_mm: float, neck_mm: float, under: float) -> Tooth:
    edges = len(path) - 1
    return Tooth(
        path=path,
        left_shift=(0.5,) * edges,
        right_shift=(0.5,) * edges,
        radii_mm=(0.0,) * len(path),
        base_shift=0.5,
        pitch_mm=pitch_mm,
        head_mm=head_mm,
        neck_mm=neck_mm,
        undercut_mm=under,
    )


def _check_radius(radius_mm: float, context: JointContext, what: str) -> None:
    least = context.cutter.radius_mm + context.gap_mm / 2
    if radius_mm < least:
        raise InvalidGeometryError(
            f"{what} of radius {radius_mm:.2f} mm is too tight for the "
            f"{context.cutter.diameter_mm:g} mm bit",
            "",
            f"Take at least {least:.2f} mm, or a thinner bit.",
        )


class RoundedTooth(SeamStyle):
    """A round head on a narrower neck."""

    name = "rounded"
    title = "Rounded tooth"
    when = (
        "Interlocks, and the bit reaches every corner without relief: the safe choice for a "
        "seam that must hold."
    )
    parameters = (
        Parameter(
            "radius",
            "Radius",
            "mm",
            "Of the head and of the hollows beside it.",
            lambda context: max(
                0.75 * context.cutter.diameter_mm,
                context.thickness_mm / 2,
                rounding_for(context),
            ),
            1.0,
            150.0,
        ),
        Parameter(
            "angle",
            "Flank turns by",
            "°",
            "Beyond 90° the head is wider than the neck and holds.",
            lambda context: 120.0,
            91.0,
            135.0,
        ),
    )

    def tooth(self, choice: StyleChoice, context: JointContext) -> Tooth:
        v = self.values(choice, context)
        radius, angle = v["radius"], v["angle"]
        _check_radius(radius, context, "A rounded tooth")
        path = turned_tooth(radius, radius, angle)
        half = path[-1][0] / 2
        under = 2 * radius * (1.0 - math.sin(math.radians(angle)))
        neck = 2 * (half - radius)
        if neck < context.cutter.diameter_mm:
            raise InvalidGeometryError(
                f"The neck would be {neck:.1f} mm, less than the bit",
                "",
                "Take a larger radius or a smaller angle.",
            )
        head = neck + 2 * under
        # The board between two heads is as strong as a neck, and wide enough for the bit.
        pitch = max(neck + head, 2 * half, head + context.cutter.diameter_mm) + 1.0
        return _all_round(path, pitch, head, neck, under)

    def properties(self, choice: StyleChoice, context: JointContext) -> StyleProperties:
        tooth = self.tooth(choice, context)
        glue = glue_per_metre(tooth)
        radius = self.values(choice, context)["radius"]
        loose = tooth.undercut_mm < context.gap_mm + HOLD_MARGIN_MM
        return StyleProperties(
            holds=tooth.undercut_mm > context.gap_mm,
            inside_radius_mm=radius - context.gap_mm / 2,
            needs_relief=False,
            glue_length_per_m_mm=glue,
            glue_area_per_m_mm2=glue * context.thickness_mm,
            closing_mm=context.gap_mm,
            mating="drops in from the face",
            needs=("more turn or a larger radius if it is to hold well",) if loose else (),
            narrowest_mm=tooth.neck_mm - context.gap_mm,
        )


class Wave(SeamStyle):
    """A smooth wave."""

    name = "wave"
    title = "Wave"
    when = "A quiet, bit-friendly line for fronts that are seen; glue holds it, not its shape."
    parameters = (
        Parameter(
            "height",
            "Wave height",
            "mm",
            "From trough to crest.",
            lambda context: max(round(context.thickness_mm), context.cutter.diameter_mm),
            2.0,
            300.0,
        ),
        Parameter(
            "length",
            "Wave length",
            "mm",
            "From crest to crest.",
            lambda context: 3.5 * max(round(context.thickness_mm), context.cutter.diameter_mm),
            8.0,
            1200.0,
        ),
    )

    def tooth(self, choice: StyleChoice, context: JointContext) -> Tooth:
        v = self.values(choice, context)
        height, length = v["height"], v["length"]
        angle = 2 * math.atan(2 * height / length)
        if angle > math.radians(89.0):
            raise InvalidGeometryError(
                f"A wave {height:g} high and {length:g} long would overhang",
                "",
                f"Make it at least {2.05 * height:.0f} mm long, or take the rounded tooth.",
            )
        radius = length / (4 * math.sin(angle))
        _check_radius(radius, context, "A wave")
        path = turned_tooth(radius, radius, math.degrees(angle))
        # Crest meets crest: the pitch is the base, so the wave never goes flat in between.
        return _all_round(path, length, length, length / 2, 0.0)

    def properties(self, choice: StyleChoice, context: JointContext) -> StyleProperties:
        tooth = self.tooth(choice, context)
        glue = glue_per_metre(tooth)
        v = self.values(choice, context)
        radius = v["length"] / (4 * math.sin(2 * math.atan(2 * v["height"] / v["length"])))
        return StyleProperties(
            holds=False,
            inside_radius_mm=radius - context.gap_mm / 2,
            needs_relief=False,
            glue_length_per_m_mm=glue,
            glue_area_per_m_mm2=glue * context.thickness_mm,
            closing_mm=context.gap_mm,
            mating="slides together in the plane of the board",
            narrowest_mm=None,
        )
