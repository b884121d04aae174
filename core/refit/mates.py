"""Which board each drawn joint is for, and whether that is certain.

A thickness alone may stand for two boards, and a row of teeth may go into a like row or
through slots. So joints are looked at together, over all panels of a project: the tooth that
is as wide as a slot is long, the notch that leaves off where another begins, the row whose
teeth are as wide as the other's gaps.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum
from functools import lru_cache

from core.geometry import Region
from core.outlines.model import Feature
from core.outlines.recognise import FeatureRef
from core.project.model import Project, SplitChoice
from core.refit.recognition import DrawnJoint, JointKind, PanelJoints, drawn_joints
from core.tolerances import NOMINAL_TOL_MM, REFIT_ASK_MM

HALVING_TOL_MM = 1.0  # two crossing notches may leave this much open, or overlap, as drawn


class Reading(StrEnum):
    """What a joint is taken to be, once its mates are known."""

    SLOT = "slot"
    DADO = "dado"
    NOTCH = "notch"
    HALVING = "cross-halving"
    COMB = "comb"
    TENON = "tenon"


@dataclass(frozen=True)
class ReadJoint:
    """A drawn joint with what was found out about it.

    panel: id. materials: names of the boards its mate may be of, likeliest first; one if that
    is settled. nominal_mm: of the first. mates: panels it was found to fit. mate_length_mm: a
    slot's: width of the tenon that goes through; a notch's: depth of the notch that crosses it.
    play_mm: play already drawn between teeth and gaps. certain: may be re-cut without asking;
    doubts: why not.
    """

    panel: str
    joint: DrawnJoint
    reading: Reading
    materials: tuple[str, ...]
    nominal_mm: float
    mates: tuple[str, ...] = ()
    mate_length_mm: float | None = None
    play_mm: float = 0.0
    doubts: tuple[str, ...] = ()

    @property
    def ref(self) -> FeatureRef:
        """What decisions about it hang on."""
        return self.joint.ref

    @property
    def certain(self) -> bool:
        """True if nothing speaks against re-cutting it."""
        return not self.doubts


@dataclass(frozen=True)
class Survey:
    """Every drawn joint of a project."""

    joints: tuple[ReadJoint, ...]
    panels: Mapping[str, PanelJoints]

    def of(self, panel_id: str) -> tuple[ReadJoint, ...]:
        """The joints of one panel."""
        return tuple(joint for joint in self.joints if joint.panel == panel_id)


_Board = tuple[str, float, float]  # name, nominal, thickness joints are made for


def survey(project: Project) -> Survey:
    """Recognise the joints of all panels and find their mates. Pure; kept by content."""
    panels = tuple(
        (p.id, p.region, p.features, p.material)
        for p in project.panels
        if p.split is not SplitChoice.OMIT
    )
    boards = tuple((m.name, m.nominal_mm, m.thickness_mm) for m in project.shop.materials)
    return _survey(panels, boards)


@lru_cache(maxsize=1024)
def _drawn(
    region: Region, features: tuple[Feature, ...], nominals: tuple[float, ...]
) -> PanelJoints:
    return drawn_joints(region, features, nominals)


@lru_cache(maxsize=8)
def _survey(
    panels: tuple[tuple[str, Region, tuple[Feature, ...], str], ...], boards: tuple[_Board, ...]
) -> Survey:
    nominals = tuple(sorted({nominal for _, nominal, _ in boards}))
    drawn = {pid: _drawn(region, features, nominals) for pid, region, features, _ in panels}
    everything = [
        _Seen(pid, material, joint, next((b[1] for b in boards if b[0] == material), None))
        for pid, _, _, material in panels
        for joint in drawn[pid].joints
    ]
    index = _Index(everything)
    read: list[ReadJoint] = []
    for seen in everything:
        read.append(_read(seen, index, boards))
    return Survey(tuple(_one_reading(read)), drawn)


@dataclass(frozen=True)
class _Seen:
    panel: str
    material: str
    joint: DrawnJoint
    nominal_mm: float | None  # of the panel's own board

    def is_board(self, size_mm: float) -> bool:
        """True if a size was drawn for this panel's own thickness."""
        return self.nominal_mm is not None and abs(size_mm - self.nominal_mm) <= REFIT_ASK_MM


class _Index:
    """Joints by kind, so that mates are found without looking at every pair."""

    def __init__(self, joints: Sequence[_Seen]) -> None:
        self.slots = [s for s in joints if s.joint.kind is JointKind.SLOT]
        self.notches = [s for s in joints if s.joint.kind is JointKind.NOTCH]
        self.combs = [s for s in joints if s.joint.kind is JointKind.COMB]
        # Several alike (copies of one panel, rows of equal slots) answer alike.
        self.slots = _distinct(self.slots)
        self.notches = _distinct(self.notches)
        self.combs = _distinct(self.combs)


def _distinct(joints: Iterable[_Seen]) -> list[_Seen]:
    out: dict[tuple[object, ...], _Seen] = {}
    for seen in joints:
        j = seen.joint
        key = (
            seen.panel,
            round(j.drawn_mm, 3),
            round(j.length_mm, 3),
            round(j.board_mm, 3),
            tuple(round(w, 3) for w in j.tips_mm),
            tuple(round(w, 3) for w in j.gaps_mm),
        )
        out.setdefault(key, seen)
    return list(out.values())


def _read(seen: _Seen, index: _Index, boards: Sequence[_Board]) -> ReadJoint:
    joint = seen.joint
    if joint.kind is JointKind.COMB:
        return _read_comb(seen, index, boards)
    if joint.kind is JointKind.NOTCH:
        return _read_notch(seen, index, boards)
    mates = [] if joint.kind is JointKind.DADO else _tenons_for(seen, index)
    names, nominal, doubts = _boards_for(joint.drawn_mm, boards, seen, [m for m, _ in mates])
    length = None
    if mates:
        fitting = [w for m, w in mates if m.material in names] or [w for _, w in mates]
        length = min(fitting, key=lambda w: abs(w - joint.length_mm))
    reading = Reading.DADO if joint.kind is JointKind.DADO else Reading.SLOT
    own = joint.doubts
    if mates:
        # A tenon of just that width, from just that board, settles which side is which.
        own = tuple(d for d in own if "side" not in d)
    return ReadJoint(
        seen.panel,
        joint,
        reading,
        names,
        nominal,
        _panels(m for m, _ in mates),
        length,
        doubts=(*own, *doubts),
    )


def _boards_for(
    size_mm: float, boards: Sequence[_Board], seen: _Seen, mates: Sequence[_Seen]
) -> tuple[tuple[str, ...], float, tuple[str, ...]]:
    """(names of boards a size may stand for, nominal of the first, doubts)."""
    near = sorted(
        (b for b in boards if abs(b[1] - size_mm) <= REFIT_ASK_MM + 1e-9),
        key=lambda b: (round(abs(b[1] - size_mm), 6), b[0] != seen.material, b[0]),
    )
    found = {m.material for m in mates}
    if found:
        by_mate = [b for b in near if b[0] in found]
        near = by_mate or near
    first = near[0]
    off = abs(first[1] - size_mm)
    doubts: list[str] = []
    if off > NOMINAL_TOL_MM:
        doubts.append(f"it is drawn {size_mm:.2f} mm, not the nominal {first[1]:.2f} mm")
    rivals = [b for b in near if abs(b[1] - size_mm) - off <= NOMINAL_TOL_MM]
    if len({round(b[2], 6) for b in rivals}) == 1:
        rivals = rivals[:1]  # the same joint whichever it is
    if len(rivals) > 1:
        doubts.append("it could be for " + " or ".join(b[0] for b in rivals))
    return tuple(b[0] for b in rivals), first[1], tuple(doubts)


def _panels(mates: Iterable[_Seen]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(m.panel for m in mates))


# --- slots and tenons -----------------------------------------------------------------------


def _goes_through(comb: _Seen, slot: _Seen) -> list[float]:
    """Widths of a row's teeth that fit a slot: as wide as it is long, boards crosswise right."""
    if not comb.is_board(slot.joint.drawn_mm):
        return []
    # A slot in a pocket stops inside the board, so the tooth's length says nothing.
    if not slot.joint.key.feature and not slot.is_board(comb.joint.drawn_mm):
        return []
    return [t for t in comb.joint.tips_mm if abs(t - slot.joint.length_mm) <= REFIT_ASK_MM]


def _tenons_for(slot: _Seen, index: _Index) -> list[tuple[_Seen, float]]:
    out = []
    for comb in index.combs:
        out += [(comb, width) for width in _goes_through(comb, slot)]
    return out


# --- combs ----------------------------------------------------------------------------------


def _read_comb(seen: _Seen, index: _Index, boards: Sequence[_Board]) -> ReadJoint:
    joint = seen.joint
    slots = [slot for slot in index.slots if _goes_through(seen, slot)]
    matched = [
        tip
        for tip in joint.tips_mm
        if any(abs(tip - slot.joint.length_mm) <= REFIT_ASK_MM for slot in slots)
    ]
    rows = [(other, play) for other in index.combs if (play := _meshes(seen, other)) is not None]
    if slots and len(matched) == len(joint.tips_mm):
        names, nominal, doubts = _boards_for(joint.drawn_mm, boards, seen, slots)
        if rows and joint.gaps_mm and _regular(joint):
            doubts = (*doubts, "its teeth fit slots and another row of teeth")
        return ReadJoint(
            seen.panel, joint, Reading.TENON, names, nominal, _panels(slots), doubts=doubts
        )
    names, nominal, doubts = _boards_for(joint.drawn_mm, boards, seen, [other for other, _ in rows])
    play = min((p for _, p in rows), default=0.0)
    more = list(joint.doubts)
    if rows:
        more = [d for d in more if "single step" not in d]
        if abs(play) > 1e-3:
            more.append(f"its teeth are drawn with {play:.2f} mm of play already")
    elif len(joint.walls) < 3:
        if not more:
            more.append(
                "no slot was found that its tooth goes through"
                if joint.tips_mm
                else "no tooth was found that goes into it"
            )
    elif not _regular(joint):
        more.append("no row of teeth or slots was found that it fits")
    if matched:
        more.append("only some of its teeth fit slots")
    reading = Reading.COMB
    if not rows and joint.tips_mm and not joint.gaps_mm:
        reading = Reading.TENON
    return ReadJoint(
        seen.panel,
        joint,
        reading,
        names,
        nominal,
        _panels(other for other, _ in rows),
        play_mm=play,
        doubts=(*more, *doubts),
    )


def _regular(joint: DrawnJoint) -> bool:
    """True if teeth and gaps are of a like width, as fingers are and tenons are not."""
    widths = (*joint.tips_mm, *joint.gaps_mm)
    return max(widths, default=1.0) <= 3.0 * min(widths, default=1.0)


def _meshes(one: _Seen, two: _Seen) -> float | None:
    """Play drawn between two rows if the teeth of each are as wide as the other's gaps.

    None if they do not mesh. Rows of one panel may mesh: four like sides make a box.
    """
    a, b = one.joint, two.joint
    if a is b and not (a.tips_mm and a.gaps_mm):
        return None
    if not (one.is_board(b.drawn_mm) and two.is_board(a.drawn_mm)):
        return None
    if abs(a.length_mm - b.length_mm) > REFIT_ASK_MM or len(a.walls) != len(b.walls):
        return None
    # Tooth meets gap: where one row begins with a tip the other begins with a gap, walked
    # either way round.
    if len(a.walls) == 1:
        return None if a is b else 0.0
    worst: float | None = None
    for levels in (b.out, b.out[::-1]):
        if any(x == y for x, y in zip(a.out, levels, strict=True)):
            continue
        widths = _widths(b) if levels is b.out else _widths(b)[::-1]
        plays = [
            (w_b - w_a) if tip else (w_a - w_b)
            for w_a, w_b, tip in zip(_widths(a), widths, a.out[1:-1], strict=True)
        ]
        if all(abs(p) <= REFIT_ASK_MM for p in plays):
            play = sum(plays) / len(plays)
            worst = play if worst is None else min(worst, play)
    return worst


def _widths(joint: DrawnJoint) -> list[float]:
    """Widths of the flats between flanks in order."""
    tips, gaps = iter(joint.tips_mm), iter(joint.gaps_mm)
    return [next(tips) if tip else next(gaps) for tip in joint.out[1:-1]]


# --- notches --------------------------------------------------------------------------------


def _read_notch(seen: _Seen, index: _Index, boards: Sequence[_Board]) -> ReadJoint:
    joint = seen.joint
    crossing = [other for other in index.notches if _crosses(seen, other)]
    names, nominal, doubts = _boards_for(joint.drawn_mm, boards, seen, crossing)
    own = joint.doubts
    depth = None
    reading = Reading.NOTCH
    if crossing:
        reading = Reading.HALVING
        best = min(crossing, key=lambda o: abs(_left_open(seen, o)))
        depth = best.joint.length_mm
        own = tuple(d for d in own if "shallower" not in d)
    elif abs(2 * joint.length_mm - joint.board_mm) <= HALVING_TOL_MM:
        reading, depth = Reading.HALVING, joint.length_mm
    return ReadJoint(
        seen.panel,
        joint,
        reading,
        names,
        nominal,
        _panels(crossing),
        depth,
        doubts=(*own, *doubts),
    )


def _left_open(one: _Seen, two: _Seen) -> float:
    """How much two crossing notches are deeper together than the lower of the two boards."""
    board = min(one.joint.board_mm, two.joint.board_mm)
    return one.joint.length_mm + two.joint.length_mm - board


def _crosses(one: _Seen, two: _Seen) -> bool:
    """True if each notch is as wide as the other's board and together they are one board deep."""
    if not (one.is_board(two.joint.drawn_mm) and two.is_board(one.joint.drawn_mm)):
        return False
    return abs(_left_open(one, two)) <= HALVING_TOL_MM


# --- two readings of one place ----------------------------------------------------------------


def _one_reading(read: Sequence[ReadJoint]) -> list[ReadJoint]:
    """Where a comb and notches claim the same sides, the reading with a mate stays.

    If both have one, or neither, both are asked about.
    """
    out = list(read)
    gone: set[int] = set()
    by_ring: dict[tuple[str, object], list[int]] = {}
    for i, item in enumerate(read):
        by_ring.setdefault((item.panel, item.joint.key), []).append(i)
    for members in by_ring.values():
        combs = [i for i in members if read[i].joint.kind is JointKind.COMB]
        notches = [i for i in members if read[i].joint.kind is JointKind.NOTCH]
        for c in combs:
            sides = {*read[c].joint.walls, *read[c].joint.levels}
            rivals = [n for n in notches if {*read[n].joint.walls} & sides]
            if not rivals:
                continue
            comb_has, notch_has = bool(read[c].mates), any(read[n].mates for n in rivals)
            if notch_has and not comb_has:
                gone.add(c)
            elif comb_has and not notch_has:
                gone.update(rivals)
            elif len(read[c].joint.walls) == 2 and not comb_has:
                # A single gap without a mate: far likelier a notch, if its width says so.
                gone.add(c)
            else:
                for i in (c, *rivals):
                    doubt = "it can be read as a row of teeth or as notches"
                    out[i] = replace(out[i], doubts=(*out[i].doubts, doubt))
    return [item for i, item in enumerate(out) if i not in gone]
