"""Where to split a panel: several proposals, best first, each with its reasons.

First come the maker's decisions, which nothing overrides: places never to be crossed, leave
whole, split although it fits. Then the fewest pieces, then a score in mm: the seam itself and
what counts as much (see Weights). Every proposal is cut for real before it is shown, teeth and
all, and each piece is tried in the machine.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

import shapely
from shapely.geometry import Polygon

from core.errors import InvalidRequestError
from core.findings import Finding, Severity
from core.joints.style import StyleBook
from core.project.model import Panel, SeamLine, SplitChoice, StyleChoice
from core.shop import Cutter, Machine, Shop
from core.splitting.costs import Weights
from core.splitting.laying import FitSource
from core.splitting.limits import fit_piece, limits_for
from core.splitting.model import PieceLimits, Proposal
from core.splitting.task import PlanningTask

_COARSE_MM = 0.3  # the search works on an outline simplified to this
_ALIKE_MM = 60.0  # seams that run nearer to each other than this are alike to the eye
_ALIKE_TRIED = 8  # plans alike that are cut for real, to find the best of them
_FEW = 3


def limits_of(limits: object, panel: Panel) -> PieceLimits:
    """PieceLimits from themselves, a shop, a machine, or (width, height) of the travel in mm."""
    if isinstance(limits, PieceLimits):
        return limits
    if isinstance(limits, Shop):
        return limits_for(panel, limits)
    if isinstance(limits, Machine):
        return limits_for(panel, Shop(machine=limits))
    if isinstance(limits, tuple | list) and len(limits) == 2:
        return limits_for(
            panel,
            Shop(
                machine=Machine(
                    travel_mm=(float(limits[0]), float(limits[1])),
                    table_mm=(math.inf, math.inf),
                )
            ),
        )
    raise InvalidRequestError(
        "Limits must be PieceLimits, a shop, a machine or the travel (width, height)"
    )


def propose(
    panel: Panel,
    limits: PieceLimits | Shop | Machine | tuple[float, float],
    style: StyleChoice | str = "finger",
    cutter: Cutter | float = 6.0,
    *,
    thickness_mm: float = 18.0,
    fit_mm: FitSource = 0.15,
    styles: StyleBook | None = None,
    most: int = 6,
    budget: int = 2000,
    weights: Weights | None = None,
    like: SeamLine | None = None,
) -> list[Proposal]:
    """Ways to split a panel so that every piece fits, best first.

    most: how many proposals. budget: fit tests each search may make; the same budget gives the
    same proposals. like: a line whose joint class, fit and relief the seams get, None as usual. A
    panel that fits whole (or is to be left whole) gives one proposal without seams. If nothing
    fits, the list holds one proposal with a stop finding.
    """
    choice = StyleChoice(style) if isinstance(style, str) else style
    bit = cutter if isinstance(cutter, Cutter) else Cutter(float(cutter))
    bounds = limits_of(limits, panel)
    weigh = weights or Weights()
    whole = Proposal((), 1, 0.0, ("It fits whole.",), areas_mm2=(panel.region.area_mm2,))
    if panel.split in (SplitChoice.WHOLE, SplitChoice.OMIT):
        return [replace(whole, reasons=("You chose to leave it whole.",))]
    if not bounds.envelopes_mm:
        return [_impossible(panel, "The machine has no room free of clamps")]
    board = _coarse(panel.region.polygon)
    fit = fit_piece(panel.region.polygon, bounds)
    fits_whole = fit is not None and fit.fits
    if fits_whole and panel.split is not SplitChoice.SPLIT:
        return [whole]
    line = SeamLine((), choice) if like is None else joined_like(SeamLine((), choice), like)
    task = PlanningTask(
        panel, bounds, line, bit, thickness_mm, fit_mm, styles, weigh, board, budget
    )
    problem = task.prepare()
    if problem is not None:
        return [_impossible(panel, problem)]
    proposals = _judged(task, most)
    if not proposals and task.engraved:
        # An engraved line right across would bar every seam: crossed, and told.
        task.keep_off = task.barred
        task.frames_made.clear()
        proposals = [
            replace(p, reasons=(*p.reasons, "No way keeps off every engraved line."))
            for p in _judged(task, most)
        ]
    if not proposals:
        return [_impossible(panel, "No way of splitting it was found in which every piece fits")]
    bound = task.lower_bound(min(p.pieces for p in proposals))
    proposals = _differing(sorted(proposals, key=lambda p: (p.pieces, p.score)))
    return [_explained(replace(p, lower_bound=bound), proposals[0]) for p in proposals[:most]]


def joined_like(line: SeamLine, like: SeamLine) -> SeamLine:
    """A line with the joint class, fit and relief of another."""
    return replace(
        line,
        fit_mm=like.fit_mm,
        joint_class=like.joint_class,
        relief=like.relief,
        relief_side=like.relief_side,
    )


def _judged(task: PlanningTask, most: int) -> list[Proposal]:
    """The most promising plans cut for real; those that hold, in no order."""
    plans = task.plans()
    proposals: list[Proposal] = []
    seen: set[tuple[object, ...]] = set()
    made_of: set[tuple[object, ...]] = set()
    fewest = min((len(plan.parts) for _, plan in plans), default=0)
    ranked = sorted(plans, key=lambda fp: task.promise(fp[1], fp[0]))
    tried = 0
    for frame_deg, plan in ranked:
        if len(plan.parts) > fewest + 2 or tried >= 4 * most or len(proposals) >= 2 * most:
            break
        lines = task.lines(plan, frame_deg)
        key = tuple(sorted(tuple(round(v / 3.0) for p in line.points for v in p) for line in lines))
        if key in seen:
            continue
        seen.add(key)
        alike = sum(len(plan.parts) == p.pieces and _similar(lines, p.seams) for p in proposals)
        if alike >= _ALIKE_TRIED:
            continue
        tried += 1
        made = task.judge(lines)
        if made is None:
            continue
        # The same pieces reached another way are the same proposal.
        pieces = (made.pieces, round(made.seam_mm), *(round(a / 300) for a in made.areas_mm2))
        if pieces not in made_of:
            made_of.add(pieces)
            proposals.append(made)
    return proposals


def _similar(one: Sequence[SeamLine], two: Sequence[SeamLine]) -> bool:
    """True if every seam of one runs beside a seam of the other, whatever its teeth."""
    if len(one) != len(two):
        return False
    left = [line.points for line in two]
    for line in one:
        a, b = line.points[0], line.points[-1]
        for other in left:
            c, d = other[0], other[-1]
            apart = min(
                max(math.dist(a, c), math.dist(b, d)), max(math.dist(a, d), math.dist(b, c))
            )
            if apart <= _ALIKE_MM:
                left.remove(other)
                break
        else:
            return False
    return True


def _differing(proposals: Sequence[Proposal]) -> list[Proposal]:
    """Of proposals alike the best only, in order; three at least where there are as many."""
    kept: list[Proposal] = []
    rest: list[Proposal] = []
    for proposal in proposals:
        alike = any(p.pieces == proposal.pieces and _similar(p.seams, proposal.seams) for p in kept)
        (rest if alike else kept).append(proposal)
    kept += rest[: max(0, _FEW - len(kept))]
    return sorted(kept, key=lambda p: (p.pieces, p.score))


def _coarse(polygon: Polygon) -> Polygon:
    simple = shapely.simplify(polygon, _COARSE_MM, preserve_topology=True)
    return simple if simple.is_valid and not simple.is_empty else polygon


def _impossible(panel: Panel, why: str) -> Proposal:
    x1, y1, x2, y2 = panel.region.bounds
    finding = Finding(
        "no-split-found",
        Severity.STOP,
        f'"{panel.name}": {why[0].lower()}{why[1:]}',
        panel=panel.id,
        at=((x1 + x2) / 2, (y1 + y2) / 2),
        remedy="Draw the seams yourself, remove a never-mark, or take a smaller tooth.",
    )
    return Proposal((), 1, math.inf, (why + ".",), findings=(finding,))


def _explained(proposal: Proposal, best: Proposal) -> Proposal:
    """The proposal with its reasons in words."""
    reasons = [
        f"{proposal.pieces} pieces; fewer than {proposal.lower_bound} cannot do."
        if proposal.pieces > proposal.lower_bound
        else f"{proposal.pieces} pieces, the fewest possible."
    ]
    reasons.append(f"{proposal.seam_mm:.0f} mm of joint in {len(proposal.seams)} seam lines.")
    reasons.extend(proposal.reasons)
    if proposal is not best and proposal.pieces == best.pieces:
        shorter = best.seam_mm - proposal.seam_mm
        if shorter > 20.0:
            reasons.append(f"{shorter:.0f} mm less joint than the first proposal.")
    return replace(proposal, reasons=tuple(reasons))
