"""Plain seams joined by loose keys let in from a face: straight keys and butterflies."""

from __future__ import annotations

from abc import abstractmethod

from core.errors import InvalidGeometryError
from core.geometry.path import fillet_ring
from core.geometry.ring import Ring
from core.joints.square import rounding_for
from core.joints.style import JointContext, Keys, Parameter, SeamStyle, StyleProperties
from core.project.model import StyleChoice


def _let_in(context: JointContext) -> float:
    return round(context.thickness_mm) / 2.0


DEPTH = Parameter(
    "depth", "Let in by", "mm", "Thickness of the key and depth of its pocket.", _let_in, 1.0, 200.0
)
FROM_BACK = Parameter(
    "from_back",
    "Let in from the back",
    "",
    "From the face that is not seen; the piece is cut lying on its show face for it.",
    lambda context: 1.0,
    0.0,
    1.0,
    choice=True,
)


def _pitch(context: JointContext) -> float:
    return max(8.0 * context.thickness_mm, 80.0)


PITCH = Parameter(
    "pitch", "From key to key", "mm", "Distance of keys along the seam.", _pitch, 10.0, 2000.0
)


class _Keyed(SeamStyle):
    holds = False

    @abstractmethod
    def outline(self, v: dict[str, float], context: JointContext) -> Ring:
        """The key as drawn, mm."""

    def keys(self, choice: StyleChoice, context: JointContext) -> Keys:
        v = self.values(choice, context)
        if v["depth"] >= context.thickness_mm:
            raise InvalidGeometryError(
                f"A key let in by {v['depth']:g} mm goes right through a board of "
                f"{context.thickness_mm:g} mm",
                "",
                "Let it in less deep.",
            )
        outline = self.outline(v, context)
        x1, _, x2, _ = outline.bounds
        margin = max(context.cutter.diameter_mm, context.thickness_mm / 2)
        if v["pitch"] < x2 - x1 + margin:
            raise InvalidGeometryError(
                "The keys stand too close together",
                "",
                f"Leave at least {x2 - x1 + margin:.1f} mm from key to key.",
            )
        return Keys(outline, v["depth"], v["pitch"], margin, bool(v["from_back"]), self.holds)

    def properties(self, choice: StyleChoice, context: JointContext) -> StyleProperties:
        keys = self.keys(choice, context)
        x1, y1, x2, y2 = keys.outline.bounds
        per_metre = 1000.0 / keys.pitch_mm
        # The edge of the board and the floor of the pocket both take glue.
        area = 1000.0 * context.thickness_mm + per_metre * abs(keys.outline.signed_area_mm2)
        side = "the back: cut with the show face down" if keys.from_back else "the show face"
        return StyleProperties(
            holds=self.holds,
            inside_radius_mm=_inside_radius(keys.outline, context),
            needs_relief=False,
            glue_length_per_m_mm=1000.0 + per_metre * 2 * (y2 - y1),
            glue_area_per_m_mm2=area,
            closing_mm=0.0,
            mating="pushed together flat, keys dropped in",
            needs=(
                f"pockets {keys.depth_mm:g} mm deep from {side}",
                f"about {per_metre:.0f} keys a metre, grain along the key",
            ),
            narrowest_mm=x2 - x1 if not self.holds else None,
        )


def _inside_radius(outline: Ring, context: JointContext) -> float:
    from core.geometry.ring import arc_of

    radii = [arc_of(start, end, bulge)[1] for start, end, bulge in outline.edges() if bulge != 0.0]
    return min(radii) - context.gap_mm / 2


class StraightKeys(_Keyed):
    """A butt seam with straight round-ended keys."""

    name = "butt"
    title = "Butt with straight keys"
    when = "A plain straight line on the show face; keys in the back line it up and add glue area."
    parameters = (
        Parameter(
            "length",
            "Key length",
            "mm",
            "Across the seam, half in each mate.",
            lambda context: max(4.0 * round(context.thickness_mm), 30.0),
            10.0,
            600.0,
        ),
        Parameter(
            "width",
            "Key width",
            "mm",
            "Its ends are round with half of this.",
            lambda context: max(
                0.8 * round(context.thickness_mm), 2.0 * rounding_for(context) + 1.0
            ),
            3.0,
            200.0,
        ),
        DEPTH,
        PITCH,
        FROM_BACK,
    )

    def outline(self, v: dict[str, float], context: JointContext) -> Ring:
        radius, half = v["width"] / 2, v["length"] / 2
        if radius < rounding_for(context) or half <= radius + 1.0:
            raise InvalidGeometryError(
                f"A straight key {v['width']:g} wide and {v['length']:g} long cannot be cut with "
                f"the {context.cutter.diameter_mm:g} mm bit",
                "",
                f"Make it at least {2 * rounding_for(context):.1f} wide, and longer than wide.",
            )
        y = half - radius
        return Ring.of([(radius, -y, 0.0), (radius, y, 1.0), (-radius, y, 0.0), (-radius, -y, 1.0)])


class ButterflyKeys(_Keyed):
    """A butt seam with butterfly keys."""

    name = "butterfly"
    title = "Butterfly keys"
    when = "A plain seam pulled tight and held by keys that show, or hide in the back."
    holds = True
    parameters = (
        Parameter(
            "length",
            "Key length",
            "mm",
            "Across the seam, half in each mate.",
            lambda context: max(4.0 * round(context.thickness_mm), 40.0),
            16.0,
            600.0,
        ),
        Parameter(
            "width",
            "Width at the ends",
            "mm",
            "Widest place of the key.",
            lambda context: max(2.0 * round(context.thickness_mm), 30.0),
            8.0,
            400.0,
        ),
        Parameter(
            "waist",
            "Width at the seam",
            "mm",
            "Narrowest place of the key.",
            lambda context: max(1.0 * round(context.thickness_mm), 15.0),
            4.0,
            300.0,
        ),
        DEPTH,
        PITCH,
        FROM_BACK,
    )

    def outline(self, v: dict[str, float], context: JointContext) -> Ring:
        half, end, waist = v["length"] / 2, v["width"] / 2, v["waist"] / 2
        if end - waist < context.gap_mm + 0.5:
            raise InvalidGeometryError(
                "The butterfly is hardly wider at its ends than at its waist and would not hold",
                "",
                f"Make the ends at least {2 * (waist + context.gap_mm + 0.5):.1f} mm wide.",
            )
        radius = rounding_for(context)
        return fillet_ring(
            [(waist, 0.0), (end, half), (-end, half), (-waist, 0.0), (-end, -half), (end, -half)],
            radius,
        )
