"""How far each wall of a drawn joint moves, for the boards that were measured.

A slot or notch becomes its mate's thickness plus the fit, about its centre line or from a wall
that stays; a slot's length becomes its tenon's width plus the fit. Teeth become as long as the
mate is thick plus the proud allowance. Where the outside is held, tips stay where they were
drawn and the floors between them move, so no panel gets longer; where the inside is held,
floors stay and tips move. Flanks of a row that meets a row give up a quarter of the fit each,
so that a tooth has the whole fit in its gap and the pitch stays. Tenons keep their width: the
slot takes the whole fit. Own derivation; positive is always into the board, and so looser.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from core.geometry import Point
from core.project.refit import KeepWall, ReliefKind, ReliefSide, SizeHold
from core.refit.mates import Reading, ReadJoint
from core.refit.recognition import DrawnJoint, JointKind
from core.refit.skeleton import Skeleton
from core.refit.walls import ReliefSpot, Relieved


@dataclass(frozen=True, slots=True)
class JointPlan:
    """What one joint is re-cut for, mm. thickness_mm: of the mate's board, finished."""

    thickness_mm: float
    fit_mm: float
    proud_mm: float = 0.2
    hold: SizeHold = SizeHold.OUTSIDE
    keep: KeepWall = KeepWall.CENTRE
    halving_clearance_mm: float = 0.2
    relief: ReliefKind = ReliefKind.DOG_BONE
    relief_side: ReliefSide = ReliefSide.ENDS


@dataclass(frozen=True, slots=True)
class SideMove:
    """One side of a skeleton and how far it moves into the board."""

    side: int
    moves_mm: float
    name: str


def side_moves(read: ReadJoint, skeleton: Skeleton, plan: JointPlan) -> tuple[SideMove, ...]:
    """Every wall of a joint with its move, walls that stay included (0)."""
    joint = read.joint
    if read.reading in (Reading.COMB, Reading.TENON):
        return _comb_moves(read, plan)
    opening = plan.thickness_mm + plan.fit_mm
    widen = opening - joint.drawn_mm
    if joint.round_ended:
        # Round ends are tangent to the walls: all of it grows alike, about the centre.
        return tuple(
            SideMove(i, widen / 2, "wall" if i in joint.walls else "round end")
            for i in (*joint.walls, *joint.ends)
        )
    low, high = _low_and_high(joint, skeleton)
    share = {KeepWall.CENTRE: (0.5, 0.5), KeepWall.LOW: (0.0, 1.0), KeepWall.HIGH: (1.0, 0.0)}
    a, b = share[plan.keep]
    out = [SideMove(low, widen * a, "wall"), SideMove(high, widen * b, "wall")]
    if read.reading is Reading.SLOT:
        longer = (read.mate_length_mm or joint.length_mm) + plan.fit_mm - joint.length_mm
        out += [SideMove(i, longer / 2, "end") for i in joint.ends]
    elif read.reading is Reading.HALVING:
        already = (read.mate_length_mm or 0.0) + joint.length_mm - joint.board_mm
        deeper = max(0.0, plan.halving_clearance_mm - max(0.0, already)) / 2
        out += [SideMove(i, deeper, "floor") for i in joint.ends]
    return tuple(out)


def _low_and_high(joint: DrawnJoint, skeleton: Skeleton) -> tuple[int, int]:
    """The two walls of a slot or notch: the one further left (or, if level, lower) first."""
    one, two = joint.walls
    (ax, ay), (bx, by) = skeleton.sides[one].middle, skeleton.sides[two].middle
    ahead = ax < bx if abs(bx - ax) > abs(by - ay) else ay < by
    return (one, two) if ahead else (two, one)


def _comb_moves(read: ReadJoint, plan: JointPlan) -> tuple[SideMove, ...]:
    joint = read.joint
    change = joint.drawn_mm - plan.thickness_mm
    if plan.hold is SizeHold.OUTSIDE:
        tip, floor = 0.0, plan.proud_mm - change
    else:
        tip, floor = change - plan.proud_mm, 0.0
    kind = "tenon" if read.reading is Reading.TENON else "tooth"
    out = [
        SideMove(i, tip if is_tip else floor, f"{kind} end" if is_tip else "shoulder")
        for i, is_tip in zip(joint.levels, joint.out, strict=True)
    ]
    if read.reading is Reading.COMB:
        flank = (plan.fit_mm - read.play_mm) / 4
        out += [SideMove(i, flank, "flank") for i in joint.walls]
    return tuple(out)


@dataclass(frozen=True, slots=True)
class Play:
    """How far a mate stays off the walls and the ends of its joint, mm a side."""

    wall_mm: float
    end_mm: float


def play_of(read: ReadJoint, plan: JointPlan, *, recut: bool) -> Play:
    """The play a joint has once it is re-cut, or as it was drawn (never below 0)."""
    if recut:
        return Play(plan.fit_mm / 2, plan.fit_mm / 2)
    if read.reading in (Reading.COMB, Reading.TENON):
        return Play(max(0.0, read.play_mm / 2), 0.0)
    wall = max(0.0, (read.joint.drawn_mm - plan.thickness_mm) / 2)
    if read.reading is not Reading.SLOT or read.mate_length_mm is None:
        return Play(wall, 0.0)
    return Play(wall, max(0.0, (read.joint.length_mm - read.mate_length_mm) / 2))


def relief_spots(
    read: ReadJoint,
    skeleton: Skeleton,
    corners: Mapping[int, Point],
    plan: JointPlan,
    play: Play,
) -> Relieved | None:
    """Inside corners of a joint that its mate's corners enter.

    corners: per side the corner at its end after all moves. play: how far the mate stays off.
    Corners that were drawn with a relief or a rounding keep it. The kind may be NONE: the
    corners are named all the same.
    """
    joint = read.joint
    if joint.round_ended or joint.kind is JointKind.DADO:
        return None
    count = len(skeleton.sides)
    involved = {*joint.walls, *joint.ends, *joint.levels}
    spots: list[ReliefSpot] = []
    by_corner: dict[int, int] = {}
    for side in range(count):
        after = (side + 1) % count
        if side not in involved or after not in involved or not skeleton.plain[side]:
            continue
        if skeleton.turn_rad(side) > -0.1:
            continue
        off_one, off_two = _off(joint, side, play), _off(joint, after, play)
        (ux, uy), (vx, vy) = skeleton.sides[side].direction, skeleton.sides[after].direction
        x, y = corners[side]
        mate = (x + uy * off_one + vy * off_two, y - ux * off_one - vx * off_two)
        by_corner[side] = len(spots)
        wall_first = side in joint.walls
        whole = wall_first if plan.relief_side is ReliefSide.ENDS else not wall_first
        spots.append(ReliefSpot((x, y), mate, whole))
    if not spots:
        return None
    ends = tuple(
        (by_corner[(end - 1) % count], by_corner[end])
        for end in joint.ends
        if end in by_corner and (end - 1) % count in by_corner
    )
    return Relieved(plan.relief, tuple(spots), ends)


def _off(joint: DrawnJoint, side: int, play: Play) -> float:
    """How far the mate stays off a side: walls and flanks, the ends of a slot, else touching."""
    if side in joint.walls:
        return play.wall_mm
    if joint.kind is JointKind.SLOT and side in joint.ends:
        return play.end_mm
    return 0.0
