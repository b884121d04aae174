"""Half-lap: both mates run past the seam and lie over each other at half thickness."""

from __future__ import annotations

from core.errors import InvalidGeometryError
from core.joints.style import JointContext, Lap, Parameter, SeamStyle, StyleProperties
from core.project.model import StyleChoice


class HalfLap(SeamStyle):
    """A two-level joint."""

    name = "half-lap"
    title = "Half-lap"
    when = "Much glue area and a plain line on both faces; one mate is cut face down."
    parameters = (
        Parameter(
            "lap",
            "Overlap",
            "mm",
            "How far the mates lie over each other, across the seam.",
            lambda context: max(3.0 * round(context.thickness_mm), 40.0),
            4.0,
            600.0,
        ),
        Parameter(
            "clearance",
            "Depth clearance",
            "mm",
            "Room for glue between the two levels.",
            lambda context: 0.1,
            0.0,
            2.0,
        ),
    )

    def lap(self, choice: StyleChoice, context: JointContext) -> Lap:
        v = self.values(choice, context)
        if v["lap"] < context.cutter.diameter_mm:
            raise InvalidGeometryError(
                "The overlap is narrower than the bit", "", "Make it wider or take a thinner bit."
            )
        return Lap(v["lap"], v["clearance"])

    def properties(self, choice: StyleChoice, context: JointContext) -> StyleProperties:
        lap = self.lap(choice, context)
        return StyleProperties(
            holds=False,
            inside_radius_mm=float("inf"),
            needs_relief=False,
            glue_length_per_m_mm=1000.0,
            glue_area_per_m_mm2=1000.0 * (lap.lap_mm + context.thickness_mm),
            closing_mm=0.0,
            mating="laid over each other",
            needs=(
                "one mate pocketed from its back, lying face down",
                f"board enough for {lap.lap_mm / 2:g} mm more on each piece",
            ),
        )
