"""One drawn joint as the maker sees it: what it is, what it becomes, whether it is done."""

from __future__ import annotations

from dataclasses import dataclass

from core.geometry import Point
from core.outlines.recognise import FeatureRef
from core.project.refit import RefitDecision
from core.refit.mates import Reading
from core.refit.walls import MovedWall

_SAME_MM = 1e-9


@dataclass(frozen=True)
class RefitItem:
    """One drawn joint: what it is, what it would become, and whether it is done.

    panel: id. nominal_mm: thickness it was drawn for. material: the mate's board, "" while it
    is not settled; materials: all it could be. thickness_mm: of that board, finished. size_mm:
    the joint's size as drawn and becomes_mm after: a slot's or notch's width, a comb's depth.
    walls: every wall with its move, in the panel's frame. certain and doubts as recognised;
    applied: it is re-cut as the project stands. decision: the maker's, if there is one.
    """

    panel: str
    ref: FeatureRef
    reading: Reading
    nominal_mm: float
    material: str
    materials: tuple[str, ...]
    thickness_mm: float
    fit_mm: float
    size_mm: float
    becomes_mm: float
    walls: tuple[MovedWall, ...]
    mates: tuple[str, ...] = ()
    doubts: tuple[str, ...] = ()
    applied: bool = False
    decision: RefitDecision | None = None

    @property
    def certain(self) -> bool:
        """True if it may be re-cut without asking."""
        return not self.doubts

    @property
    def at(self) -> Point:
        """A point of it."""
        return self.ref.anchor

    @property
    def moved_walls(self) -> tuple[MovedWall, ...]:
        """The walls that really move."""
        return tuple(wall for wall in self.walls if abs(wall.moves_mm) > _SAME_MM)


@dataclass(frozen=True, slots=True)
class SizeChange:
    """A size of a panel that re-cutting changes: which ("width", "height"), before and after."""

    panel: str
    what: str
    before_mm: float
    after_mm: float
