"""One panel being planned: the search for plans, and each judged by cutting it for real."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from itertools import combinations

import numpy as np
import shapely
from shapely.affinity import rotate
from shapely.geometry import LineString, Polygon
from shapely.geometry.base import BaseGeometry

from core.geometry.fitting import hull_points
from core.geometry.ring import Point
from core.joints import STYLES
from core.joints.style import StyleBook
from core.outlines.model import Role
from core.project.model import Panel, SeamLine, SplitChoice
from core.shop import Cutter
from core.splitting.bounds import coverage_bound
from core.splitting.costs import (
    Weights,
    count_crossings,
    ends_in_corners,
    is_symmetric,
    mirrors_of,
    rough_cost,
)
from core.splitting.frame import Cut, Frame, Part, Plan, least_pieces, slots_of, turned_limits
from core.splitting.laying import FitSource, feature_shapes, make_ready
from core.splitting.limits import fit_piece
from core.splitting.lines import ReadySeam
from core.splitting.model import PieceLimits, Proposal, Seam, SplitPanel
from core.splitting.placing import room_of
from core.splitting.search import seek
from core.splitting.split import split_panel
from core.splitting.strips import (
    all_fit,
    cut_along,
    even_strips,
    grids,
    mirrored_pairs,
    on_the_axis,
    shortest_strips,
)

_DEEPENINGS = 3  # times the budget for finding any plan at all
_SLOT_WIDE = 2.0  # boards' thicknesses across, above which an opening is a window
_MOST = 24  # pieces of one panel beyond which the planner gives up


@dataclass
class PlanningTask:
    """One panel being planned."""

    panel: Panel
    limits: PieceLimits
    line: SeamLine  # what every seam is like, without points
    cutter: Cutter
    thickness_mm: float
    fit: FitSource
    styles: StyleBook | None
    weights: Weights
    board: Polygon
    budget: int
    reach: tuple[float, float] = (0.0, 0.0)
    keep_off: tuple[BaseGeometry, ...] = ()
    barred: tuple[BaseGeometry, ...] = ()  # what no seam may cross, whatever it costs
    engraved: bool = False
    supports: tuple[BaseGeometry, ...] = ()
    mirrors: tuple[bool, bool] = (False, False)
    margin: float = 12.0
    probe: ReadySeam | None = None
    frames_made: dict[float, Frame] = field(default_factory=dict)

    def prepare(self) -> str | None:
        """Work out the joint's reach and what to keep off; a sentence if that is impossible."""
        x1, y1, _x2, y2 = self.panel.region.bounds
        probe = replace(self.line, points=((x1, y1), (x1, y2)))
        ready, findings = make_ready(
            [probe],
            fit=self.fit,
            cutter=self.cutter,
            thickness_mm=self.thickness_mm,
            styles=self.styles or StyleBook(STYLES),
        )
        if not ready:
            return findings[0].message
        seam = ready[0]
        self.probe = seam
        self.reach = seam.reach_mm
        if seam.keys is not None:
            self.reach = (0.0, 0.0)
        self.margin = max(self.cutter.diameter_mm, self.thickness_mm / 2) + 2.0
        features = self.panel.features
        soft = [f for f in features if f.kind is Role.ENGRAVE]
        shapes: list[BaseGeometry] = [
            shape.buffer(self.margin)
            for shape in feature_shapes([f for f in features if f.kind is not Role.ENGRAVE])
        ]
        for mark in self.panel.marks:
            shape = _shape(mark.points)
            if mark.kind == "never" and shape is not None:
                shapes.append(shape.buffer(max(self.reach) + 1.0))
        self.barred = tuple(shapes)
        self.engraved = bool(soft)
        lines = (shape.buffer(self.margin) for shape in feature_shapes(soft))
        self.keep_off = (*self.barred, *lines)
        self.supports = tuple(
            shape
            for mark in self.panel.marks
            if mark.kind == "support" and (shape := _shape(mark.points)) is not None
        )
        self.mirrors = mirrors_of(self.board)
        return None

    def frames(self) -> list[float]:
        """Directions worth cutting along, degrees: the panel's axes, and those of its long side."""
        found = [0.0]
        if self.limits.turns_deg is None:
            points = hull_points(self.board)
            box = shapely.minimum_rotated_rectangle(shapely.multipoints(points))
            ring = shapely.get_coordinates(box)
            x1, y1, x2, y2 = self.board.bounds
            # Only where it lies distinctly tighter; a disc has no direction of its own.
            if len(ring) >= 4 and shapely.area(box) < 0.98 * (x2 - x1) * (y2 - y1):
                edge = ring[1] - ring[0]
                angle = math.degrees(math.atan2(edge[1], edge[0])) % 90.0
                if min(angle, 90.0 - angle) > 1.0:
                    found.append(angle)
        return found

    def frame(self, degrees: float) -> Frame:
        """The panel turned so that cuts along this direction are upright or level."""
        if degrees in self.frames_made:
            return self.frames_made[degrees]

        def turned(shape: BaseGeometry) -> BaseGeometry:
            return rotate(shape, -degrees, origin=(0, 0)) if degrees else shape

        left, right = self.reach
        made = Frame(
            turned(self.board),
            turned_limits(self.limits, degrees),
            max(left, right),
            tuple(turned(shape) for shape in self.keep_off),
            max(left, right) + self.margin,
            both_ways=min(left, right) > 0.0,
            slot_mm=_SLOT_WIDE * self.thickness_mm,
            budget=self.budget,
        )
        self.frames_made[degrees] = made
        return made

    def plans(self) -> list[tuple[float, Plan]]:
        """Plans of every kind, in every frame, as (frame direction, plan)."""
        found: list[tuple[float, Plan]] = []
        least = 2 if self.panel.split is SplitChoice.SPLIT else 1
        for degrees in self.frames():
            frame = self.frame(degrees)

            def cost(plan: Plan, frame: Frame = frame) -> float:
                return rough_cost(self.weights, plan, frame)

            start = max(
                least,
                least_pieces(frame.board.area, hull_points(frame.board), frame.limits),
            )
            regular: list[Plan] = self.on_supports(frame, degrees)
            for upright in (True, False):
                plan = shortest_strips(frame, upright=upright)
                if plan is not None:
                    regular.append(plan)
            top = min((len(p.parts) for p in regular), default=_MOST)
            regular += even_strips(frame, min(_MOST, top + 1))
            regular += mirrored_pairs(frame, min(_MOST, top + 1))
            if top > 3:
                regular += grids(frame, min(_MOST, top + 1))
            top = min((len(p.parts) for p in regular), default=_MOST)
            whole = Part(frame.board)
            fewer: Plan | None = None
            spent = 0
            for count in range(max(2, start), top):
                if spent > _DEEPENINGS * self.budget:
                    break  # what bars every seam bars those of more pieces as well
                frame.spent = 0
                fewer = seek(frame, whole, count, cost=cost, first_only=True, memo={})
                spent += frame.spent
                if fewer is not None:
                    regular.append(fewer)
                    top = len(fewer.parts)
                    break
            if degrees == 0.0:
                for upright, mirrored in zip((True, False), self.mirrors, strict=True):
                    if mirrored:
                        regular += on_the_axis(frame, top, upright=upright)
            if 2 <= top <= 4:
                frame.spent = 0
                better = seek(frame, whole, top, cost=cost, first_only=False, memo={})
                if better is not None and better.cuts:
                    regular.append(better)
                regular.extend(self.most_promising(frame.pool, degrees))
            found.extend((degrees, plan) for plan in regular if plan.cuts)
        return found

    def on_supports(self, frame: Frame, degrees: float) -> list[Plan]:
        """Plans with every seam over a support: upright, level, and with the fewest of them."""
        found: list[Plan] = []
        whole = [Part(frame.board)]
        for upright in (True, False):
            stations: list[float] = []
            for shape in self.supports:
                spot = rotate(shape, -degrees, origin=(0, 0)).centroid
                stations.append(spot.x if upright else spot.y)
            stations.sort()
            for count in range(1, min(len(stations), 6) + 1):
                plans = []
                for chosen in combinations(stations, count):
                    lines = [(upright, at) for at in chosen]
                    for teeth_up in (True, False):
                        plan = cut_along(frame, whole, lines, teeth_up=teeth_up)
                        if plan is not None and all_fit(frame, plan):
                            plans.append(plan)
                            break
                if plans:
                    found.append(min(plans, key=lambda plan: rough_cost(self.weights, plan)))
                    break
        return found

    def most_promising(self, pool: Sequence[Plan], degrees: float) -> list[Plan]:
        """Of the plans met on the way the few best, symmetric ones before others."""

        plans = (plan for plan in pool if plan.cuts)
        return sorted(plans, key=lambda plan: self.promise(plan, degrees))[:5]

    def promise(self, plan: Plan, degrees: float) -> tuple[int, float]:
        """Pieces, then rough cost; what is lopsided on a symmetric panel counts as in the score."""
        cost = rough_cost(self.weights, plan, self.frame(degrees))
        if any(self.mirrors) and not self._is_symmetric(self.lines(plan, degrees)):
            cost += self.weights.lopsided + self.weights.lopsided_share * plan.seam_mm
        return len(plan.parts), cost

    def lines(self, plan: Plan, degrees: float) -> tuple[SeamLine, ...]:
        """Seam lines in the panel's frame; stretches of one line across a hole are one seam."""
        frame_board = rotate(self.board, -degrees, origin=(0, 0)) if degrees else self.board
        groups: list[list[Cut]] = []
        for cut in sorted(
            plan.cuts, key=lambda c: (c.upright, round(c.at_mm, 4), c.teeth_up, c.low_mm)
        ):
            previous = groups[-1][-1] if groups else None
            if (
                previous is not None
                and previous.upright == cut.upright
                and abs(previous.at_mm - cut.at_mm) < 1e-6
                and previous.teeth_up == cut.teeth_up
                and _void(frame_board, previous, cut)
            ):
                groups[-1].append(cut)
            else:
                groups.append([cut])
        c, s = math.cos(math.radians(degrees)), math.sin(math.radians(degrees))
        lines: list[SeamLine] = []
        for group in groups:
            first, last = group[0].ends[0], group[-1].ends[1]
            # Upright lines are walked downwards: then the teeth's side is always the left.
            ends = (last, first) if group[0].upright else (first, last)
            points = tuple((x * c - y * s, x * s + y * c) for x, y in ends)
            lines.append(replace(self.line, points=points, turned_over=not group[0].teeth_up))
        return tuple(lines)

    def judge(self, lines: Sequence[SeamLine]) -> Proposal | None:
        """Cut for real; None if it cannot be cut or a piece does not fit."""
        made = self._cut(lines)
        if made is None or self._misfit(made):
            flipped = self._flipped(lines)
            if flipped is None:
                return None
            lines, made = flipped
        pieces = [p for p in made.pieces if not p.loose]
        areas = tuple(p.region.area_mm2 for p in pieces)
        mean = sum(areas) / len(areas)
        seam_mm = sum(s.joint_length_mm for s in made.seams)
        w = self.weights
        score = seam_mm + w.seam * len(made.seams)
        score += w.uneven_most * (max(areas) / mean - 1)
        score += w.uneven_least * (1 - min(areas) / mean)
        score += w.tiny * sum(area < mean / 7 for area in areas)
        reasons: list[str] = []
        costs = {
            "feather-tip": w.feather,
            "joint-has-no-tooth": w.no_tooth,
            "seam-unsupported": w.unsupported,
            "seam-crosses-feature": w.feature,
        }
        for finding in made.findings:
            score += costs.get(finding.code, 0.0)
        score += w.missing * sum(self.missing_teeth(seam) for seam in made.seams)
        crossings = count_crossings(lines)
        score += w.crossing * crossings
        if crossings:
            reasons.append(f"Seams cross in {crossings} place{'s' if crossings > 1 else ''}.")
        near = max(max(self.reach), self.margin)
        score += w.corner * ends_in_corners(lines, self.board, near_mm=near)
        slots = slots_of(self.board, _SLOT_WIDE * self.thickness_mm)
        score += w.slot * sum(
            LineString(line.points).intersection(slot).length > 1.0
            for line in lines
            for slot in slots
        )
        if any(self.mirrors):
            if self._is_symmetric(lines):
                reasons.append("Symmetric, as the panel is.")
            else:
                score += w.lopsided + w.lopsided_share * seam_mm
        if max(areas) < 1.1 * min(areas):
            reasons.append("All pieces are nearly the same size.")
        if self.supports and not any(f.code == "seam-unsupported" for f in made.findings):
            reasons.append("Every seam lies on a support.")
        return Proposal(
            tuple(lines),
            len(pieces),
            round(score, 3),
            tuple(reasons),
            seam_mm=seam_mm,
            areas_mm2=areas,
            findings=made.findings,
        )

    def missing_teeth(self, seam: Seam) -> int:
        """Teeth or keys that the length of a seam would take, had nothing been in the way."""
        room = None if self.probe is None else room_of(self.probe)
        if room is None:
            return 0
        count = 0
        for joint in seam.joints:
            length = math.dist(joint.middle[0][:2], joint.middle[-1][:2])
            space = length - 2 * room.margin_mm - room.width_mm
            count += 1 + math.floor(space / room.pitch_mm + 1e-9) if space >= 0.0 else 0
        return max(0, count - seam.teeth)

    def _cut(self, lines: Sequence[SeamLine]) -> SplitPanel | None:
        made = split_panel(
            self.panel,
            lines,
            cutter=self.cutter,
            thickness_mm=self.thickness_mm,
            fit_mm=self.fit,
            styles=self.styles,
            draft=True,
        )
        if not made.ok or len(made.pieces) < 2:
            return None
        return made

    def _misfit(self, made: SplitPanel) -> bool:
        for piece in made.pieces:
            if piece.loose:
                continue
            fit = fit_piece(piece.cut.polygon, self.limits)
            if fit is None or not fit.fits:
                return True
        return False

    def _flipped(self, lines: Sequence[SeamLine]) -> tuple[tuple[SeamLine, ...], SplitPanel] | None:
        """The same lines with teeth turned over, one at a time and all together."""
        if max(self.reach) == 0.0 or min(self.reach) > 0.0:
            return None
        tries = [
            tuple(
                replace(s, turned_over=not s.turned_over) if k == n else s
                for k, s in enumerate(lines)
            )
            for n in range(len(lines))
        ]
        tries.append(tuple(replace(s, turned_over=not s.turned_over) for s in lines))
        for one in tries[:6]:
            made = self._cut(one)
            if made is not None and not self._misfit(made):
                return one, made
        return None

    def _is_symmetric(self, lines: Sequence[SeamLine]) -> bool:
        return is_symmetric(lines, self.board, self.mirrors)

    def lower_bound(self, found: int) -> int:
        """Fewest pieces that could be proved necessary, never more than were found."""
        # Places all along the edge, not corners only: the middle of a side may be far from both.
        edge = self.board.exterior
        points = np.array([edge.interpolate(k / 96, normalized=True).coords[0] for k in range(96)])
        points = np.vstack([points, hull_points(self.board)[:24]])
        bound = least_pieces(self.panel.region.area_mm2, points, self.limits)
        if bound < found:
            bound = max(bound, coverage_bound(self.board, self.limits, found))
        fit = fit_piece(self.panel.region.polygon, self.limits)
        if self.panel.split is SplitChoice.SPLIT or fit is None or not fit.fits:
            bound = max(2, bound)
        return min(bound, found)


def _shape(points: Sequence[Point]) -> BaseGeometry | None:
    if not points:
        return None
    if len(points) == 1:
        return shapely.Point(points[0])
    if len(points) == 2:
        return LineString(points)
    return Polygon(points).buffer(0)


def _void(board: Polygon, one: Cut, two: Cut) -> bool:
    """True if no board lies between two stretches of one line."""
    if two.low_mm - one.high_mm < 1e-6:
        return True
    gap = LineString([one.ends[1], two.ends[0]])
    return bool(board.intersection(gap).length < 1e-3)
