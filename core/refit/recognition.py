"""Joints on one panel that were drawn for a board's thickness.

Four kinds are known. A *slot* is a rectangular hole (or a pocket or dado) as wide as a mate is
thick. A *notch* is open at an edge and as wide as a mate is thick; two that cross each other
halfway make a cross-halving. A *comb* is a row of teeth as long as a mate is thick, a *tenon*
such teeth that go through slots. Which mate a joint has, and so whether it can be re-cut
without asking, is found in :mod:`core.refit.mates`.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum

from core.geometry import Point, Region, Ring
from core.outlines.model import Feature, Role
from core.outlines.recognise import FeatureRef
from core.refit.skeleton import Side, Skeleton, skeleton_of
from core.tolerances import REFIT_ASK_MM

_SQUARE = 2e-3  # cosine of the angle walls may be out of square
_MOUTH_RAD = math.radians(15.0)  # the board turns at least this much at the mouth of a notch
_SAME_DEPTH_MM = 0.05  # flanks of one comb are equally long
_MOST_EDGES = 4000  # of a ring; beyond this it is a flattened curve, not joinery
_MORTISE_WORDS = ("mortise", "mortice")


class JointKind(StrEnum):
    """What a drawn joint is."""

    SLOT = "slot"
    NOTCH = "notch"
    COMB = "comb"
    DADO = "dado"


@dataclass(frozen=True, slots=True)
class RingKey:
    """Which ring of a panel: of its region, or of one of its features."""

    index: int
    feature: bool = False


@dataclass(frozen=True)
class DrawnJoint:
    """One joint as drawn.

    drawn_mm: the size that stands for a mate's thickness: a slot's or notch's width, a comb's
    depth. length_mm: slot length, notch depth, comb from first to last flank. walls: sides of
    the skeleton that bound drawn_mm (comb: its flanks). ends: a slot's short sides, a notch's
    floor. levels: a comb's flats, one more than flanks. out: per level, True if it is a tip.
    tips_mm, gaps_mm: widths of a comb's teeth and gaps with a flank on both sides. across:
    unit vector across a slot or notch; along a comb. round_ended: its ends are arcs.
    doubts: what speaks against re-cutting it without asking.
    """

    ref: FeatureRef
    kind: JointKind
    key: RingKey
    drawn_mm: float
    length_mm: float
    walls: tuple[int, ...]
    ends: tuple[int, ...] = ()
    levels: tuple[int, ...] = ()
    out: tuple[bool, ...] = ()
    tips_mm: tuple[float, ...] = ()
    gaps_mm: tuple[float, ...] = ()
    across: Point = (1.0, 0.0)
    round_ended: bool = False
    board_mm: float = 0.0
    doubts: tuple[str, ...] = ()

    @property
    def at(self) -> Point:
        """A point of it."""
        return self.ref.anchor


@dataclass(frozen=True)
class PanelJoints:
    """All joints of one panel, with the skeletons they are given on."""

    joints: tuple[DrawnJoint, ...]
    skeletons: tuple[tuple[RingKey, Skeleton], ...]

    def skeleton(self, key: RingKey) -> Skeleton:
        """The skeleton of a ring that has joints."""
        return next(skeleton for k, skeleton in self.skeletons if k == key)


def drawn_joints(
    region: Region, features: Sequence[Feature], nominals_mm: Iterable[float]
) -> PanelJoints:
    """The joints of a panel that may have been drawn for one of the nominal thicknesses.

    Sizes within REFIT_ASK_MM of a nominal thickness count. A stretch of outline that can be
    read in two ways (a notch that is also a comb's gap) is given in both.
    """
    nominals = tuple(sorted({t for t in nominals_mm if t > 0}))
    joints: list[DrawnJoint] = []
    skeletons: list[tuple[RingKey, Skeleton]] = []
    for index, ring in enumerate(region.rings):
        if len(ring.vertices) > _MOST_EDGES:
            continue
        key = RingKey(index)
        skeleton = skeleton_of(ring)
        found: list[DrawnJoint] = []
        if skeleton is None:
            continue
        if index:
            slot = _slot(skeleton, key, nominals, JointKind.SLOT)
            found = [slot] if slot else []
        if not found:
            combs = _combs(skeleton, key, nominals)
            sure = {
                s for c in combs if _is_plainly_comb(c, nominals) for s in (*c.walls, *c.levels)
            }
            found = [*combs, *_notches(skeleton, key, nominals, sure, region)]
        if found:
            skeletons.append((key, skeleton))
            joints += found
    for index, feature in enumerate(features):
        if feature.kind not in (Role.DADO, Role.POCKET) or feature.ring is None:
            continue
        if len(feature.ring.vertices) > 64 or feature.islands:
            continue
        key = RingKey(index, True)
        skeleton = skeleton_of(feature.ring.oriented(ccw=False))
        if skeleton is None:
            continue
        mortise = any(word in feature.layer.lower() for word in _MORTISE_WORDS)
        kind = JointKind.SLOT if mortise else JointKind.DADO
        slot = _slot(skeleton, key, nominals, kind)
        if slot is None:
            continue
        if feature.kind is Role.POCKET and not mortise:
            slot = _doubted(slot, "it is a pocket, which need not hold a board")
        skeletons.append((key, skeleton))
        joints.append(slot)
    return PanelJoints(tuple(joints), tuple(skeletons))


def _doubted(joint: DrawnJoint, doubt: str) -> DrawnJoint:
    return replace(joint, doubts=(*joint.doubts, doubt))


def near_nominal(size_mm: float, nominals_mm: Sequence[float]) -> bool:
    """True if a size may have been drawn for one of the thicknesses."""
    return any(abs(size_mm - t) <= REFIT_ASK_MM + 1e-9 for t in nominals_mm)


def _square(one: Side, two: Side) -> bool:
    (ux, uy), (vx, vy) = one.direction, two.direction
    return abs(ux * vx + uy * vy) <= _SQUARE


def _facing(one: Side, two: Side) -> float | None:
    """Distance between two straight sides that run opposite ways, right positive."""
    if not (one.is_straight and two.is_straight):
        return None
    (ux, uy), (vx, vy) = one.direction, two.direction
    if ux * vx + uy * vy > 0 or abs(ux * vy - uy * vx) > _SQUARE:
        return None
    mx, my = two.middle[0] - one.start[0], two.middle[1] - one.start[1]
    return mx * uy - my * ux


def _is_right(turn: float) -> bool:
    return abs(turn + math.pi / 2) <= _SQUARE


def _middle(points: Sequence[Point]) -> Point:
    return sum(p[0] for p in points) / len(points), sum(p[1] for p in points) / len(points)


# --- slots ----------------------------------------------------------------------------------


def _slot(
    skeleton: Skeleton, key: RingKey, nominals: Sequence[float], kind: JointKind
) -> DrawnJoint | None:
    """A rectangle with one side as long as a board is thick; round ends are a doubt."""
    sides = skeleton.sides
    if len(sides) != 4:
        return None
    straight = [side.is_straight for side in sides]
    if all(straight):
        if not all(_is_right(skeleton.turn_rad(i)) for i in range(4)):
            return None
        first = (_facing(sides[0], sides[2]) or 0.0, _facing(sides[1], sides[3]) or 0.0)
        if min(first) <= 0:
            return None
        # Sides 0 and 2 face each other at first[0]; the smaller distance is the width.
        narrow = 0 if first[0] <= first[1] else 1
        width, length = first[narrow], first[1 - narrow]
        doubts: list[str] = []
        if near_nominal(width, nominals):
            if near_nominal(length, nominals):
                doubts.append("either side could be the thickness")
        elif near_nominal(length, nominals) and kind is not JointKind.DADO:
            narrow, width, length = 1 - narrow, length, width
            doubts.append("its longer side is the thickness")
        else:
            return None
        walls, ends, rounded = (narrow, narrow + 2), (1 - narrow, 3 - narrow), False
    else:
        pairs = [i for i in (0, 1) if straight[i] and straight[i + 2]]
        if len(pairs) != 1 or straight[1 - pairs[0]] or straight[3 - pairs[0]]:
            return None
        narrow = pairs[0]
        width = _facing(sides[narrow], sides[narrow + 2]) or 0.0
        if width <= 0 or not near_nominal(width, nominals):
            return None
        walls, ends, rounded = (narrow, narrow + 2), (1 - narrow, 3 - narrow), True
        length = max(sides[i].length_mm for i in walls) + width
        doubts = ["its ends are round"]
    ux, uy = sides[walls[0]].direction
    anchor = _middle([p for i in walls for p in (sides[i].start, sides[i].end)])
    return DrawnJoint(
        FeatureRef(kind.value, (width, length), anchor),
        kind,
        key,
        width,
        length,
        walls,
        ends,
        across=(uy, -ux),
        round_ended=rounded,
        doubts=tuple(doubts),
    )


# --- notches --------------------------------------------------------------------------------


def _notches(
    skeleton: Skeleton,
    key: RingKey,
    nominals: Sequence[float],
    taken: set[int],
    region: Region,
) -> list[DrawnJoint]:
    """Gaps open at an edge: wall, floor, wall."""
    sides, count = skeleton.sides, len(skeleton.sides)
    out = []
    for i in range(count):
        one, floor, two = (i - 1) % count, i, (i + 1) % count
        if count < 5 or {one, floor, two} & taken:
            continue
        width = _facing(sides[one], sides[two])
        if width is None or width <= 0 or not near_nominal(width, nominals):
            continue
        doubts: list[str] = []
        if sides[floor].is_straight:
            if not (_is_right(skeleton.turn_rad(one)) and _is_right(skeleton.turn_rad(floor))):
                continue
        elif sides[floor].bulge < 0 and abs(sides[floor].length_mm - width) < 1e-3:
            doubts.append("its end is round")
        else:
            continue
        before, after = skeleton.turn_rad((one - 1) % count), skeleton.turn_rad(two)
        if before < _MOUTH_RAD or after < _MOUTH_RAD:
            continue
        depth = min(sides[one].length_mm, sides[two].length_mm)
        if depth < width / 2:
            doubts.append("it is shallower than half its width")
        (ux, uy), (vx, vy) = sides[one].direction, sides[two].direction
        mouth = _middle(
            [
                (sides[one].end[0] - ux * depth, sides[one].end[1] - uy * depth),
                (sides[two].start[0] + vx * depth, sides[two].start[1] + vy * depth),
            ]
        )
        out.append(
            DrawnJoint(
                FeatureRef(JointKind.NOTCH.value, (width, depth), mouth),
                JointKind.NOTCH,
                key,
                width,
                depth,
                (one, two),
                (floor,),
                across=(uy, -ux),
                round_ended=not sides[floor].is_straight,
                board_mm=_board_behind(region, mouth, (ux, uy), depth),
                doubts=tuple(doubts),
            )
        )
    return out


def _board_behind(region: Region, mouth: Point, into: Point, depth_mm: float) -> float:
    """Depth of a notch and the board straight behind it, to the next edge, mm."""
    from shapely.geometry import LineString

    reach = sum(region.size_mm) + 1.0
    past = depth_mm + 1e-6  # just behind the floor
    start = (mouth[0] + into[0] * past, mouth[1] + into[1] * past)
    line = LineString([start, (mouth[0] + into[0] * reach, mouth[1] + into[1] * reach)])
    parts = region.polygon.intersection(line)
    first = min(
        (g for g in getattr(parts, "geoms", [parts]) if g.length > 1e-6),
        key=lambda g: math.dist(start, g.coords[0]),
        default=None,
    )
    return depth_mm if first is None else past + float(first.length)


# --- combs ----------------------------------------------------------------------------------


def _combs(skeleton: Skeleton, key: RingKey, nominals: Sequence[float]) -> list[DrawnJoint]:
    """Rows of teeth: flats on two lines, square steps as long as a board is thick between."""
    count = len(skeleton.sides)
    if count < 6:
        return []
    step = [_step(skeleton, i, nominals) for i in range(count)]
    rows: list[list[int]] = []
    used: set[int] = set()
    # Begin where a row begins, so that one running over the ring's first side stays whole.
    order = sorted(
        (i for i in range(count) if step[i]),
        key=lambda i: _follows(skeleton, step, (i - 2) % count, i),
    )
    for i in order:
        if i in used:
            continue
        flanks = [i]
        while len(flanks) < count // 2:
            following = (flanks[-1] + 2) % count
            if following in flanks or following in used:
                break
            if not _follows(skeleton, step, flanks[-1], following):
                break
            flanks.append(following)
        used.update(flanks)
        rows.append(flanks)
    # A flat at a corner may be a step too, where teeth are as wide as long: the longer row wins.
    out: list[DrawnJoint] = []
    walls: set[int] = set()
    levels: set[int] = set()
    for flanks in sorted(rows, key=lambda flanks: -len(flanks)):
        comb = _comb(skeleton, key, step, flanks)
        if levels & set(comb.walls) or walls & set(comb.levels):
            continue
        out.append(comb)
        walls.update(comb.walls)
        levels.update(comb.levels)
    return sorted(out, key=lambda joint: joint.walls[0])


def _step(skeleton: Skeleton, index: int, nominals: Sequence[float]) -> int:
    """+1 if a side steps out of the board square to its neighbours, −1 if in, 0 if neither."""
    sides, count = skeleton.sides, len(skeleton.sides)
    side, one, two = sides[index], sides[index - 1], sides[(index + 1) % count]
    if not (side.is_straight and one.is_straight and two.is_straight):
        return 0
    if not near_nominal(side.length_mm, nominals):
        return 0
    if not (_square(one, side) and _square(side, two)):
        return 0
    before, after = skeleton.turn_rad((index - 1) % count), skeleton.turn_rad(index)
    if before * after >= 0:
        return 0
    return 1 if before < 0 else -1


def _follows(skeleton: Skeleton, step: Sequence[int], one: int, two: int) -> bool:
    """True if two steps are neighbouring flanks of one row."""
    if not step[one] or not step[two] or step[one] == step[two]:
        return False
    a, b = skeleton.sides[one], skeleton.sides[two]
    return abs(a.length_mm - b.length_mm) <= _SAME_DEPTH_MM


def _comb(
    skeleton: Skeleton, key: RingKey, step: Sequence[int], flanks: Sequence[int]
) -> DrawnJoint:
    sides, count = skeleton.sides, len(skeleton.sides)
    levels = [(flanks[0] - 1) % count] + [(i + 1) % count for i in flanks]
    out = [step[flanks[0]] < 0] + [step[i] > 0 for i in flanks]
    widths = [sides[i].length_mm for i in levels[1:-1]]
    tips = tuple(w for w, tip in zip(widths, out[1:-1], strict=True) if tip)
    gaps = tuple(w for w, tip in zip(widths, out[1:-1], strict=True) if not tip)
    depth = sum(sides[i].length_mm for i in flanks) / len(flanks)
    middles = [sides[flanks[0]].middle, sides[flanks[-1]].middle]
    length = math.dist(*middles)
    doubts = []
    if len(flanks) == 1:
        doubts.append("it is a single step")
    return DrawnJoint(
        FeatureRef(JointKind.COMB.value, (depth, length, float(len(flanks))), _middle(middles)),
        JointKind.COMB,
        key,
        depth,
        length,
        tuple(flanks),
        (),
        tuple(levels),
        tuple(out),
        tips,
        gaps,
        across=sides[levels[0]].direction,
        doubts=tuple(doubts),
    )


def _is_plainly_comb(comb: DrawnJoint, nominals: Sequence[float]) -> bool:
    """False if its gaps could as well be notches for boards that cross."""
    if len(comb.walls) < 3:
        return False
    crossing = bool(comb.gaps_mm) and all(near_nominal(gap, nominals) for gap in comb.gaps_mm)
    spread = bool(comb.tips_mm) and min(comb.tips_mm) > 1.5 * max(comb.gaps_mm, default=0.0)
    return not (crossing and spread)


def joint_ring(key: RingKey, region: Region, features: Sequence[Feature]) -> Ring:
    """The ring a key stands for, board on its left."""
    if not key.feature:
        return region.rings[key.index]
    ring = features[key.index].ring
    assert ring is not None
    return ring.oriented(ccw=False)
