"""What a seam style is: a name, a few parameters in trade terms, and the shape of one tooth.

A style knows nothing about panels. It is asked for a *tooth* (or for keys, or for a lap) in
its own coordinates: the seam runs along +x from (0, 0), the mate on the right of the seam
(below, y < 0) carries the tooth, which stands up to +y into the mate on the left.
"""

from __future__ import annotations

import math
from abc import ABC, abstractmethod
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field

from core.errors import InvalidRequestError
from core.geometry.path import Path, path_length
from core.geometry.ring import Ring
from core.project.model import StyleChoice
from core.shop import Cutter

HOLD_MARGIN_MM = 0.5  # a tooth that is to hold has at least this much undercut beyond the gap


@dataclass(frozen=True, slots=True)
class JointContext:
    """What a joint is made in: the board, the bit and the play.

    thickness_mm: measured thickness. fit_mm: total play across the joint, 0 or more.
    length_mm: the longest joint length the seam has, None if it is not known yet.
    """

    thickness_mm: float
    cutter: Cutter
    fit_mm: float = 0.15
    length_mm: float | None = None

    @property
    def gap_mm(self) -> float:
        """Gap at one flank: half the total play."""
        return self.fit_mm / 2.0


@dataclass(frozen=True, slots=True)
class Parameter:
    """One number of a style in trade terms.

    unit: "mm", "°", "1 in n" or "" (yes = 1, no = 0 when choice is set). default: worked out
    from the board and the bit. low and high bound what is accepted.
    """

    key: str
    label: str
    unit: str
    help: str
    default: Callable[[JointContext], float]
    low: float
    high: float
    choice: bool = False


@dataclass(frozen=True)
class Tooth:
    """One tooth from (0, 0) to (base_mm, 0), its tip towards +y, corners still sharp.

    left_shift, right_shift: per edge, how many flank gaps the left and the right mate retreat
    from the drawn edge. base_shift: the same for the seam between teeth; 0 lets shoulders
    meet. radii_mm: rounding per vertex. pitch_mm: least distance from tooth to tooth.
    head_mm: widest place, centred on the base.
    """

    path: Path
    left_shift: tuple[float, ...]
    right_shift: tuple[float, ...]
    radii_mm: tuple[float, ...]
    base_shift: float
    pitch_mm: float
    head_mm: float
    neck_mm: float
    undercut_mm: float = 0.0

    @property
    def base_mm(self) -> float:
        """Length of seam one tooth takes."""
        return self.path[-1][0]

    @property
    def depth_mm(self) -> float:
        """How far the tooth reaches into its mate, arcs included."""
        ring = Ring.of([*self.path[:-1], (*self.path[-1][:2], 0.0)])
        return ring.bounds[3]

    @property
    def back_mm(self) -> float:
        """How far the tooth's outline dips behind the seam line, 0 or more."""
        ring = Ring.of([*self.path[:-1], (*self.path[-1][:2], 0.0)])
        return max(0.0, -ring.bounds[1])

    @property
    def overhang_mm(self) -> float:
        """How far the head stands out beyond the base on either side."""
        return max(0.0, (self.head_mm - self.base_mm) / 2.0)


@dataclass(frozen=True)
class Keys:
    """Loose keys let in across a plain seam from one face.

    outline: the key as drawn, centred on (0, 0), its length along y, across the seam.
    depth_mm: how deep it is let in. pitch_mm: from key to key. margin_mm: board left round it.
    """

    outline: Ring
    depth_mm: float
    pitch_mm: float
    margin_mm: float
    from_back: bool
    holds: bool


@dataclass(frozen=True, slots=True)
class Lap:
    """A two-level joint. lap_mm: overlap across the seam. clearance_mm: play in depth."""

    lap_mm: float
    clearance_mm: float


#: What square-cornered styles need before a choice is made; a finished seam says what it has.
RELIEF_NEED = "relief at the inside corners, or corners rounded to the bit"


@dataclass(frozen=True, slots=True)
class StyleProperties:
    """What a maker wants to know before choosing.

    holds: cannot be pulled apart in the plane of the panel. inside_radius_mm: smallest inside
    radius on either mate, 0 for sharp corners. glue_length_per_m_mm, glue_area_per_m_mm2: per
    metre of seam. closing_mm: how much smaller the panel gets if the joint is pushed home.
    mating: how the mates go together. needs: what else it takes, in words.
    """

    holds: bool
    inside_radius_mm: float
    needs_relief: bool
    glue_length_per_m_mm: float
    glue_area_per_m_mm2: float
    closing_mm: float
    mating: str
    needs: tuple[str, ...] = ()
    narrowest_mm: float | None = None


class SeamStyle(ABC):
    """A way to join two pieces along a seam."""

    name: str = ""
    title: str = ""
    when: str = ""
    parameters: tuple[Parameter, ...] = ()

    def values(self, choice: StyleChoice, context: JointContext) -> dict[str, float]:
        """Every parameter: as chosen, else its default.

        Raises InvalidRequestError for an unknown parameter or a value out of bounds.
        """
        known = {p.key: p for p in self.parameters}
        result = {key: parameter.default(context) for key, parameter in known.items()}
        for key, value in choice.params:
            if key not in known:
                raise InvalidRequestError(
                    f'"{key}" is no parameter of the {self.title.lower()} seam',
                    "",
                    f"It knows: {', '.join(known)}.",
                )
            parameter = known[key]
            if not (math.isfinite(value) and parameter.low <= value <= parameter.high):
                raise InvalidRequestError(
                    f"{parameter.label} {value:g} is out of range for the "
                    f"{self.title.lower()} seam",
                    "",
                    f"Take {parameter.low:g} to {parameter.high:g} {parameter.unit}".strip() + ".",
                )
            result[key] = float(value)
        return result

    def tooth(self, choice: StyleChoice, context: JointContext) -> Tooth | None:
        """The tooth, or None for a style whose seam line stays plain."""
        return None

    def keys(self, choice: StyleChoice, context: JointContext) -> Keys | None:
        """The loose keys, or None."""
        return None

    def lap(self, choice: StyleChoice, context: JointContext) -> Lap | None:
        """The overlap, or None."""
        return None

    @abstractmethod
    def properties(self, choice: StyleChoice, context: JointContext) -> StyleProperties:
        """What the style is like in this board, with this bit and fit."""


def glue_per_metre(tooth: Tooth) -> float:
    """Contact length per metre of seam, mm: tooth outline and the seam between teeth."""
    return 1000.0 * (path_length(tooth.path) + tooth.pitch_mm - tooth.base_mm) / tooth.pitch_mm


@dataclass(frozen=True)
class StyleBook:
    """The styles by name, in the order a maker sees them."""

    styles: Mapping[str, SeamStyle] = field(default_factory=dict)

    def get(self, name: str) -> SeamStyle:
        """The style of that name; raises InvalidRequestError naming the known ones."""
        style = self.styles.get(name)
        if style is None:
            raise InvalidRequestError(
                f'There is no seam style "{name}"', "", f"Known: {', '.join(self.styles)}."
            )
        return style
