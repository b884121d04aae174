"""Values of splitting: pieces, seams, what a piece must stay within, proposals."""

from __future__ import annotations

from dataclasses import dataclass, field

from shapely.geometry import LineString
from shapely.geometry import Point as Point2

from core.cutting import CutGeometry
from core.findings import Finding
from core.geometry import Point, Region
from core.geometry.path import Path, flatten_path, path_length
from core.joints.profile import JointProfile
from core.joints.style import StyleProperties
from core.project.model import SeamLine, StyleChoice


@dataclass(frozen=True)
class Piece:
    """What is cut from a sheet: a panel, a part of a split panel, or a loose key.

    region: its share of the panel's outline as drawn (a key's own outline if loose). cut: what
    the bit leaves, in the same frame. quantity: per panel. turns_deg: allowed turns on the
    sheet, None = any. thickness_mm: of the board it is cut from. along_deg: for a loose piece,
    the direction of its grain in its own frame.
    """

    id: str
    panel_id: str
    region: Region
    cut: CutGeometry
    seam_ids: tuple[str, ...] = ()
    loose: bool = False
    quantity: int = 1
    material: str = ""
    thickness_mm: float = 0.0
    turns_deg: tuple[float, ...] | None = None
    may_mirror: bool = False
    name: str = ""

    @property
    def area_mm2(self) -> float:
        """Area of the cut piece."""
        return self.cut.region.area_mm2


@dataclass(frozen=True)
class Seam:
    """The interlocking line along which exactly two pieces of a panel meet.

    letter: what labels call it. pieces: ids of the piece on its left and on its right.
    joints: its joint lengths, more than one where it crosses a hole. line: the seam line from
    its first to its last joint. line_index: which SeamLine of the panel it comes from.
    """

    id: str
    panel_id: str
    letter: str
    style: StyleChoice
    pieces: tuple[str, str]
    line: Path
    joints: tuple[JointProfile, ...]
    fit_mm: float
    properties: StyleProperties
    line_index: int = 0
    keys: tuple[Point, ...] = ()

    @property
    def profile(self) -> tuple[Point, ...]:
        """The line between the two pieces as points; across a hole it runs on straight."""
        return tuple(point for stretch in self.stretches for point in stretch)

    @property
    def stretches(self) -> tuple[tuple[Point, ...], ...]:
        """The profile of each joint length by itself, with nothing across holes."""
        return tuple(
            tuple((float(x), float(y)) for x, y in flatten_path(joint.middle))
            for joint in self.joints
        )

    @property
    def joint_length_mm(self) -> float:
        """Length of seam line with board on both sides, without teeth."""
        if len(self.joints) == 1:
            return path_length(self.line)
        line = LineString(flatten_path(self.line))
        total = 0.0
        for joint in self.joints:
            ends = [line.project(Point2(v[0], v[1])) for v in (joint.middle[0], joint.middle[-1])]
            total += abs(ends[1] - ends[0])
        return total

    @property
    def teeth(self) -> int:
        """Teeth (or keys) along the seam."""
        return sum(joint.teeth for joint in self.joints) + len(self.keys)


@dataclass(frozen=True)
class SplitPanel:
    """A panel cut along its seams.

    pieces: the panel's own first, loose ones last. assembly_order: piece ids groups in the
    order they are put together, see core.splitting.assembly.
    """

    panel_id: str
    pieces: tuple[Piece, ...]
    seams: tuple[Seam, ...] = ()
    findings: tuple[Finding, ...] = ()
    assembly_order: tuple[str, ...] = ()

    @property
    def ok(self) -> bool:
        """True if no finding is a stop."""
        return all(finding.severity != "stop" for finding in self.findings)

    def piece(self, piece_id: str) -> Piece | None:
        """The piece of that id, or None."""
        return next((p for p in self.pieces if p.id == piece_id), None)


@dataclass(frozen=True, slots=True)
class PieceLimits:
    """What every cut piece of a panel must stay within.

    envelopes_mm: rooms (width, height), in any of which the cut piece must lie; the bit's
    diameter and the clamps are already off. turns_deg: turns of the piece, in the panel's
    frame, None = any angle. radius_mm: of the bit. min_width_mm: no piece narrower, no joint
    length shorter. blank_margin_mm: board round the piece on its blank; with it max_kg and
    planer_width_mm bound the blank. kg_per_mm2: mass of the board.
    """

    envelopes_mm: tuple[tuple[float, float], ...] = ((894.0, 594.0),)
    turns_deg: tuple[float, ...] | None = None
    radius_mm: float = 3.0
    min_width_mm: float = 75.0
    blank_margin_mm: float = 0.0
    max_kg: float | None = None
    kg_per_mm2: float = 0.0
    planer_width_mm: float | None = None

    @staticmethod
    def travel(
        width_mm: float,
        height_mm: float,
        cutter_mm: float = 6.0,
        *,
        turns_deg: tuple[float, ...] | None = None,
    ) -> PieceLimits:
        """Limits of a bare machine: its travel less a bit diameter, both ways round."""
        w, h = width_mm - cutter_mm, height_mm - cutter_mm
        # At any angle one way round says it all.
        rooms = ((w, h),) if w == h or turns_deg is None else ((w, h), (h, w))
        return PieceLimits(envelopes_mm=rooms, radius_mm=cutter_mm / 2, turns_deg=turns_deg)


@dataclass(frozen=True)
class Proposal:
    """One way to split a panel, with why.

    pieces: how many. lower_bound: fewest pieces that could be proved necessary. score: smaller
    is better, mm of seam and what counts as much. reasons: sentences. seam_mm: joint length
    in all. areas_mm2: of the pieces.
    """

    seams: tuple[SeamLine, ...]
    pieces: int
    score: float
    reasons: tuple[str, ...] = ()
    lower_bound: int = 1
    seam_mm: float = 0.0
    areas_mm2: tuple[float, ...] = ()
    findings: tuple[Finding, ...] = field(default_factory=tuple)

    @property
    def proven_fewest(self) -> bool:
        """True if no plan with fewer pieces exists."""
        return self.pieces <= self.lower_bound
