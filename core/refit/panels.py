"""Re-cutting the drawn joints of a project: what is proposed, what is done, what is asked."""

from __future__ import annotations

from dataclasses import dataclass, replace

from core.errors import SeamwrightError
from core.findings import Finding, Severity
from core.geometry import Point, Region
from core.outlines.model import Feature
from core.outlines.recognise import FeatureRef
from core.outlines.rereading import match_refs
from core.project.model import Panel, Project
from core.project.refit import Recut, RefitDecision
from core.refit import told
from core.refit.items import RefitItem, SizeChange
from core.refit.mates import Reading, ReadJoint, Survey, survey
from core.refit.moves import JointPlan, SideMove, play_of, relief_spots, side_moves
from core.refit.recognition import RingKey
from core.refit.skeleton import Skeleton, moved_corners, moved_ring
from core.refit.walls import (
    MovedWall,
    RefitCut,
    Relieved,
    blocked_corners,
    refit_cut,
    relieve_joints,
)
from core.shop import Material, Shop

_SAME_MM = 1e-9


@dataclass(frozen=True)
class PanelRefit:
    """One panel with its drawn joints re-cut.

    panel: the panel, its region and features re-cut, all else as it was; the same object if
    nothing changes. cut: what :func:`refit_cut` needs for pieces of it. items: all its joints.
    sizes: which of its sizes change. orphans: decisions whose joint is no longer drawn.
    """

    panel: Panel
    cut: RefitCut
    items: tuple[RefitItem, ...] = ()
    findings: tuple[Finding, ...] = ()
    sizes: tuple[SizeChange, ...] = ()
    orphans: tuple[RefitDecision, ...] = ()


def propose_refit(project: Project) -> tuple[RefitItem, ...]:
    """Every drawn joint of the project that re-cutting concerns, panel by panel. Pure."""
    seen = survey(project)
    return tuple(item for panel in project.panels for item, _ in _items(project, panel, seen)[0])


def refit_is_on(project: Project, panel: Panel) -> bool:
    """True if joints recognised with certainty are re-cut on a panel without being asked for."""
    return project.refit if panel.refit is None else panel.refit


def refit_panel(project: Project, panel: Panel, *, seen: Survey | None = None) -> PanelRefit:
    """A panel of the project with its drawn joints re-cut for the measured boards.

    seen: the survey of this very project, where many of its panels are re-cut in a row.

    Joints recognised with certainty are re-cut if re-cutting is on for the panel, doubtful
    ones only if the maker said yes, none that the maker said no to; with the panel's own
    switch off nothing is. Joints that stay as drawn still get relief where a mate's corner
    enters, if they were recognised with certainty or a mate was found. Doubtful ones give a
    finding "refit-ask". Pure: recognised from the drawing each time, so a drawing read again
    keeps the maker's decisions.
    """
    if panel.refit is False:
        return PanelRefit(panel, RefitCut())
    seen = survey(project) if seen is None else seen
    pairs, orphans = _items(project, panel, seen)
    items = [item for item, _ in pairs]
    findings: list[Finding] = []
    for decision in orphans:
        findings.append(
            Finding(
                "refit-orphan",
                Severity.WARN,
                f"{panel.name}: a decision about a {told.called(decision.ref.kind)} at "
                f"({decision.ref.anchor[0]:.1f}, {decision.ref.anchor[1]:.1f}) fits nothing in "
                "the drawing any more",
                panel.id,
                decision.ref.anchor,
                "Remove the decision, or decide again for the joint that took its place.",
            )
        )
    if refit_is_on(project, panel):
        findings += [told.ask(project, panel, item) for item in items if is_open(item)]
    chosen = [(item, moves) for item, moves in pairs if item.applied]
    drawn = [item for item in items if _relieved_as_drawn(item)]
    chosen, clashing = _without_clashes(chosen)
    findings += [told.clash(panel, item) for item in clashing]
    done = _recut(project, panel, chosen, drawn, seen)
    while isinstance(done, _Failed):
        # One joint that cannot be re-cut must not keep the others from it.
        findings.append(told.failed(panel, done.item, done.problem))
        chosen = [(item, moves) for item, moves in chosen if item is not done.item]
        drawn = [item for item in drawn if item is not done.item]
        done = _recut(project, panel, chosen, drawn, seen)
    new, cut = done
    kept = {id(item) for item, _ in chosen}
    items = [item if id(item) in kept else replace(item, applied=False) for item in items]
    sizes = _sizes(panel, new.region)
    findings += told.done(project, panel, [item for item, _ in chosen], sizes)
    findings += told.blocked(panel, blocked_corners(new.region, cut), cut.radius_mm)
    return PanelRefit(new, cut, tuple(items), tuple(findings), sizes, orphans)


def decide(panel: Panel, decision: RefitDecision) -> Panel:
    """The panel with a decision about one drawn joint, in place of an earlier one about it.

    One that leaves everything to the project and to recognition is taken out again.
    """
    old = match_refs([decision.ref], [known.ref for known in panel.refits]).pairs
    same = {new for _, new in old} | {decision.ref}
    kept = tuple(known for known in panel.refits if known.ref not in same)
    if decision == RefitDecision(decision.ref):
        return replace(panel, refits=kept)
    return replace(panel, refits=(*kept, decision))


def decision_about(panel: Panel, ref: FeatureRef) -> RefitDecision:
    """What the maker decided about one drawn joint of a panel; the plain decision if nothing."""
    known = {decision.ref: decision for decision in panel.refits}
    pairs = match_refs(known, [ref]).pairs
    return replace(known[pairs[0][0]], ref=ref) if pairs else RefitDecision(ref)


def without_orphans(project: Project, panel: Panel) -> Panel:
    """The panel without decisions whose joint is no longer drawn."""
    orphans = refit_panel(project, replace(panel, refit=None)).orphans
    return replace(panel, refits=tuple(d for d in panel.refits if d not in orphans))


def size_changes(project: Project) -> tuple[SizeChange, ...]:
    """Overall sizes of panels that change because another size is held, over the project."""
    return tuple(change for panel in project.panels for change in refit_panel(project, panel).sizes)


# --- items ------------------------------------------------------------------------------------

_Pair = tuple[RefitItem, tuple[tuple[RingKey, SideMove], ...]]


def _items(
    project: Project, panel: Panel, seen: Survey
) -> tuple[list[_Pair], tuple[RefitDecision, ...]]:
    """A panel's joints with the moves of their sides, and decisions that fit none of them."""
    off = {
        ref for _, ref in match_refs(panel.switched_off, (j.ref for j in seen.of(panel.id))).pairs
    }
    joints = [joint for joint in seen.of(panel.id) if joint.ref not in off]
    decisions = {decision.ref: decision for decision in panel.refits}
    match = match_refs(decisions, [read.ref for read in joints])
    by_ref = {new: decisions[old] for old, new in match.pairs}
    orphans = tuple(decisions[ref] for ref in match.orphans)
    out: list[_Pair] = []
    for read in joints:
        out.append(_item(project, panel, read, seen, by_ref.get(read.ref)))
    return out, orphans


def _item(
    project: Project,
    panel: Panel,
    read: ReadJoint,
    seen: Survey,
    decision: RefitDecision | None,
) -> _Pair:
    shop = project.shop
    doubts = read.doubts
    name = read.materials[0] if len(read.materials) == 1 or not doubts else ""
    if decision is not None and decision.material and shop.material(decision.material):
        name = decision.material
        doubts = tuple(d for d in doubts if "could be for" not in d)
    board = shop.material(name or read.materials[0])
    assert board is not None
    plan = _plan(project, panel, read, board, decision)
    skeleton = seen.panels[panel.id].skeleton(read.joint.key)
    moves = side_moves(read, skeleton, plan)
    if read.reading in (Reading.COMB, Reading.TENON):
        becomes = plan.thickness_mm + plan.proud_mm
    else:
        becomes = plan.thickness_mm + plan.fit_mm
    recut = decision.recut if decision is not None else Recut.AUTO
    on = refit_is_on(project, panel)
    applied = panel.refit is not False and (
        (recut is Recut.YES and bool(name)) or (recut is Recut.AUTO and on and not doubts)
    )
    item = RefitItem(
        panel.id,
        read.ref,
        read.reading,
        read.nominal_mm,
        name,
        read.materials,
        plan.thickness_mm,
        plan.fit_mm,
        read.joint.drawn_mm,
        becomes,
        tuple(_wall(skeleton, move) for move in moves),
        read.mates,
        doubts,
        applied,
        decision,
    )
    return item, tuple((read.joint.key, move) for move in moves)


def _plan(
    project: Project,
    panel: Panel,
    read: ReadJoint,
    board: Material,
    decision: RefitDecision | None,
) -> JointPlan:
    rules, shop = project.refit_rules, project.shop
    own = decision if decision is not None else RefitDecision(read.ref)
    fit = own.fit_mm if own.fit_mm is not None else rules.fit_mm
    if fit is None or (own.joint_class is not None and own.fit_mm is None):
        joint_class = own.joint_class if own.joint_class is not None else rules.joint_class
        # Two boards meet: the looser of their fits, so that both mates agree on one.
        fit = max(shop.fit_mm(joint_class, name) for name in (panel.material, board.name))
    return JointPlan(
        board.thickness_mm,
        fit,
        own.proud_mm if own.proud_mm is not None else rules.proud_mm,
        own.hold if own.hold is not None else rules.hold,
        own.keep,
        rules.halving_clearance_mm,
        own.relief if own.relief is not None else rules.relief,
        own.relief_side if own.relief_side is not None else rules.relief_side,
    )


def _wall(skeleton: Skeleton, move: SideMove) -> MovedWall:
    side = skeleton.sides[move.side]
    return MovedWall(side.start, side.end, side.bulge, move.moves_mm, move.name)


def _relieved_as_drawn(item: RefitItem) -> bool:
    """True if a joint that is not re-cut gets relief where a mate's corner enters."""
    if item.applied:
        return False
    decision = item.decision
    if decision is not None and decision.relief is not None:
        return True
    if decision is not None and decision.recut is Recut.NO:
        return False
    return item.certain or bool(item.mates)


def is_open(item: RefitItem) -> bool:
    """True if the maker has still to say something about it."""
    if item.applied or not (item.doubts or not item.material):
        return False
    return item.decision is None or item.decision.recut is not Recut.NO


def _without_clashes(chosen: list[_Pair]) -> tuple[list[_Pair], list[RefitItem]]:
    """Joints in order, less those that want to move a side another has moved differently."""
    taken: dict[tuple[RingKey, int], float] = {}
    kept: list[_Pair] = []
    clashing: list[RefitItem] = []
    for item, moves in chosen:
        wanted = {(key, move.side): move.moves_mm for key, move in moves}
        if any(abs(taken.get(k, v) - v) > _SAME_MM for k, v in wanted.items()):
            clashing.append(item)
            continue
        taken.update(wanted)
        kept.append((item, moves))
    return kept, clashing


# --- doing it -----------------------------------------------------------------------------------


@dataclass(frozen=True)
class _Failed:
    problem: SeamwrightError
    item: RefitItem


def _recut(
    project: Project, panel: Panel, chosen: list[_Pair], drawn: list[RefitItem], seen: Survey
) -> tuple[Panel, RefitCut] | _Failed:
    """The panel with some joints re-cut, and relief in these and in others as drawn."""
    if not chosen and not drawn:
        return panel, RefitCut()
    joints = {read.ref: read for read in seen.of(panel.id)}
    shifts: dict[RingKey, dict[int, float]] = {}
    for _, moves in chosen:
        for key, move in moves:
            shifts.setdefault(key, {})[move.side] = move.moves_mm
    relieved_items = [(item, True) for item, _ in chosen] + [(item, False) for item in drawn]
    corners: dict[RingKey, dict[int, Point]] = {}
    for item, _ in relieved_items:
        key = joints[item.ref].joint.key
        if key in corners:
            continue
        skeleton = seen.panels[panel.id].skeleton(key)
        try:
            corners[key] = dict(enumerate(moved_corners(skeleton, shifts.get(key, {}))))
        except SeamwrightError as problem:
            return _Failed(problem, _culprit(chosen, key, skeleton))
    walls: list[MovedWall] = []
    reliefs: dict[RingKey, list[Relieved]] = {}
    for item, recut in relieved_items:
        read = joints[item.ref]
        key = read.joint.key
        board = project.shop.material(item.material or read.materials[0])
        assert board is not None
        plan = _plan(project, panel, read, board, item.decision)
        skeleton = seen.panels[panel.id].skeleton(key)
        play = play_of(read, plan, recut=recut)
        relieved = relief_spots(read, skeleton, corners[key], plan, play)
        if relieved is not None:
            reliefs.setdefault(key, []).append(relieved)
        if recut and not key.feature:
            walls += item.moved_walls
    outline_reliefs = [r for key, rs in reliefs.items() if not key.feature for r in rs]
    cut = _cut_for(project.shop, walls, outline_reliefs)
    try:
        region = refit_cut(panel.region, cut)
        features = tuple(
            _refit_feature(project.shop, panel, index, shifts, reliefs, seen)
            for index in range(len(panel.features))
        )
    except SeamwrightError as problem:
        # The first joint that does not go together with those before it; reliefs come last.
        if drawn and not isinstance(_recut(project, panel, chosen, [], seen), _Failed):
            return _Failed(problem, drawn[-1])
        low, high = 0, len(chosen)
        while high - low > 1:
            half = (low + high) // 2
            if isinstance(_recut(project, panel, chosen[:half], [], seen), _Failed):
                high = half
            else:
                low = half
        return _Failed(problem, chosen[high - 1][0])
    return replace(panel, region=region, features=features), cut


def _cut_for(shop: Shop, walls: list[MovedWall], reliefs: list[Relieved]) -> RefitCut:
    bit = shop.machine.cutter
    real = bit.measured_mm if bit.measured_mm is not None else bit.diameter_mm
    return RefitCut(
        tuple(dict.fromkeys(walls)),
        tuple(reliefs),
        bit.diameter_mm / 2,
        max(0.0, (bit.diameter_mm - real) / 2),
    )


def _refit_feature(
    shop: Shop,
    panel: Panel,
    index: int,
    shifts: dict[RingKey, dict[int, float]],
    reliefs: dict[RingKey, list[Relieved]],
    seen: Survey,
) -> Feature:
    feature, key = panel.features[index], RingKey(index, True)
    if feature.ring is None or (key not in shifts and key not in reliefs):
        return feature
    ring = feature.ring.oriented(ccw=False)
    if key in shifts:
        ring = moved_ring(seen.panels[panel.id].skeleton(key), shifts[key])
    ring = relieve_joints(ring, _cut_for(shop, [], reliefs.get(key, [])))
    return replace(feature, ring=ring.oriented(ccw=feature.ring.signed_area_mm2 > 0))


def _culprit(chosen: list[_Pair], key: RingKey, skeleton: Skeleton) -> RefitItem:
    """The joint whose moves alone already fail on a ring, else the last one on it."""
    here = [(item, moves) for item, moves in chosen if any(k == key for k, _ in moves)]
    for item, moves in here:
        try:
            moved_ring(skeleton, {move.side: move.moves_mm for _, move in moves})
        except SeamwrightError:
            return item
    return here[-1][0]


def _sizes(panel: Panel, region: Region) -> tuple[SizeChange, ...]:
    out = []
    for what, before, after in zip(
        ("width", "height"), panel.region.size_mm, region.size_mm, strict=True
    ):
        if abs(before - after) > 1e-6:
            out.append(SizeChange(panel.id, what, before, after))
    return tuple(out)
