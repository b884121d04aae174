"""What the maker decided about drawn joints: which are re-cut for the measured board, and how."""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import StrEnum

from core.outlines.recognise import FeatureRef
from core.project.codec import LEFT_OUT_IF_DEFAULT
from core.shop import JointClass


class Recut(StrEnum):
    """Whether one drawn joint is re-cut."""

    AUTO = "auto"  # if it was recognised with certainty
    YES = "yes"
    NO = "no"  # stays as drawn


class SizeHold(StrEnum):
    """Which size stays as drawn where comb teeth and tenons change their length."""

    OUTSIDE = "outside"  # over the mates' outer faces
    INSIDE = "inside"  # between the mates' inner faces


class KeepWall(StrEnum):
    """What of a slot stays where it was drawn while its width changes.

    LOW is the wall nearer the left (for an upright slot) or the bottom of the drawing.
    """

    CENTRE = "centre"
    LOW = "low"
    HIGH = "high"


class ReliefKind(StrEnum):
    """How square inside corners are opened for a mate's corner."""

    DOG_BONE = "dog-bone"
    T_BONE = "t-bone"
    SMALLEST = "smallest"
    NONE = "none"


class ReliefSide(StrEnum):
    """Which of a corner's two sides a T-bone cuts into."""

    ENDS = "ends"  # a slot's ends, floors, shoulders: walls that hold the mate stay whole
    WALLS = "walls"  # walls and flanks


@dataclass(frozen=True, slots=True)
class RefitDecision:
    """The maker's word on one drawn joint, found again by its ref when the drawing is read again.

    material: of the mate, "" as recognised. keep: which wall of a slot or notch stays.
    hold, proud_mm, fit_mm, joint_class, relief, relief_side None: as the project says. A relief
    that is stated is cut whether the joint is re-cut or stays as drawn.
    """

    ref: FeatureRef
    recut: Recut = Recut.AUTO
    material: str = ""
    keep: KeepWall = KeepWall.CENTRE
    hold: SizeHold | None = None
    proud_mm: float | None = None
    fit_mm: float | None = None
    joint_class: JointClass | None = None
    relief: ReliefKind | None = None
    relief_side: ReliefSide | None = field(default=None, metadata=LEFT_OUT_IF_DEFAULT)


@dataclass(frozen=True, slots=True)
class RefitRules:
    """How drawn joints are re-cut throughout the project.

    proud_mm: how far comb teeth and through-tenons stand out past the mate, to be sanded flush;
    where the outside is held, panels stay as long as drawn and the mates sit that much further in.
    halving_clearance_mm: play in depth where two notches cross, both together. fit_mm None: the
    shop's fit for joint_class.
    """

    hold: SizeHold = SizeHold.OUTSIDE
    proud_mm: float = 0.2
    halving_clearance_mm: float = 0.2
    joint_class: JointClass = JointClass.GLUED
    fit_mm: float | None = None
    relief: ReliefKind = ReliefKind.DOG_BONE
    relief_side: ReliefSide = field(default=ReliefSide.ENDS, metadata=LEFT_OUT_IF_DEFAULT)
