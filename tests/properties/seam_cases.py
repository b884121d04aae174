"""Random panels, seams and bits for the property tests, and what must hold of every split."""

from __future__ import annotations

import math
import random
from dataclasses import dataclass

import shapely
from shapely.geometry import LineString

from core.cutting import CutGeometry
from core.geometry import Region, Ring
from core.geometry.path import edge_point, edges_of, flatten_path
from core.joints import JointContext, style_book, tooth_from_points
from core.joints.prove import overlap, simulated_mates
from core.outlines.model import Feature, Role
from core.project.model import Panel, ReliefKind, SeamLine, StyleChoice
from core.shop import Cutter
from core.splitting import SplitPanel, split_panel
from core.tolerances import OVERLAP_AREA_MM2

HOOK = tooth_from_points(
    "hook", ((0.0, 0.0), (4.0, 0.0), (0.0, 24.0), (36.0, 24.0), (32.0, 0.0), (36.0, 0.0))
)
# Arcs and sharp corners, and not the same from both ends.
BULB = tooth_from_points(
    "bulb",
    ((0.0, 0.0, 0.15), (6.0, 12.0, 0.0), (-3.0, 22.0, -0.5), (37.0, 24.0, 0.0),
     (27.0, 11.0, 0.1), (30.0, 0.0, 0.0)),
)  # fmt: skip
BOOK = style_book([HOOK, BULB])
TOOTHED = ("finger", "dovetail", "rounded", "wave", "own:hook")
STYLES = (*TOOTHED, "butt", "butterfly", "half-lap")
LOPSIDED = "own:bulb"  # not the same when mirrored, so only where that does not matter

# A split may refuse a seam only for these reasons.
REFUSALS = {
    "seam-does-not-part",
    "seam-misses-panel",
    "seam-cannot-be-made",
    "relief-no-room",
    "laps-in-a-circle",
}


@dataclass(frozen=True)
class Case:
    """One random task."""

    panel: Panel
    seams: tuple[SeamLine, ...]
    cutter: Cutter
    thickness_mm: float
    fit_mm: float

    def split(self, fit_mm: float | None = None) -> SplitPanel:
        return split_panel(
            self.panel,
            self.seams,
            cutter=self.cutter,
            thickness_mm=self.thickness_mm,
            fit_mm=self.fit_mm if fit_mm is None else fit_mm,
            styles=BOOK,
        )


def curvy_outline(rng: random.Random) -> Ring:
    """A star-shaped outline of lines and arcs, 500 to 1800 mm across, mostly gentle."""
    count = rng.randint(4, 12)
    width, height = rng.uniform(500, 1800), rng.uniform(400, 1000)
    rows = []
    for k in range(count):
        angle = 2 * math.pi * (k + rng.uniform(-0.25, 0.25)) / count
        reach = rng.uniform(0.8, 1.15)
        x = width / 2 * reach * math.cos(angle)
        y = height / 2 * reach * math.sin(angle)
        bulge = rng.choice([0.0, 0.0, rng.uniform(-0.15, 0.3)])
        rows.append((x, y, bulge))
    return Ring.of(rows)


def notched_outline(rng: random.Random) -> Ring:
    """A rectangle with a notch in its upper edge and a bulged right edge."""
    w, h = rng.uniform(700, 1800), rng.uniform(400, 900)
    n1 = rng.uniform(0.2, 0.5) * w
    n2 = n1 + rng.uniform(0.1, 0.3) * w
    deep = rng.uniform(0.1, 0.35) * h
    return Ring.of(
        [
            (0, 0, 0),
            (w, 0, rng.choice([0.0, rng.uniform(-0.1, 0.3)])),
            (w, h, 0),
            (n2, h, 0),
            (n2, h - deep, 0),
            (n1, h - deep, 0),
            (n1, h, 0),
            (0, h, 0),
        ]
    )


def random_panel(rng: random.Random) -> Panel:
    """A panel with an outline of either kind, perhaps holes and features."""
    for _ in range(50):
        outer = curvy_outline(rng) if rng.random() < 0.6 else notched_outline(rng)
        region = Region.of(outer)
        if not region.polygon.is_valid:
            continue
        holes: list[Ring] = []
        features: list[Feature] = []
        x1, y1, x2, y2 = region.bounds
        for _ in range(rng.randint(0, 2)):
            x, y = rng.uniform(x1, x2), rng.uniform(y1, y2)
            size = rng.uniform(15, 120)
            if rng.random() < 0.6:
                ring = Ring.circle(x, y, size)
            else:
                ring = Ring.rectangle(x - size, y - size / 2, 2 * size, size)
            shape = Region.of(ring).polygon.buffer(25)
            board = Region.of(outer, holes).polygon
            if board.contains(shape):
                if rng.random() < 0.75:
                    holes.append(ring)
                else:
                    features.append(Feature(Role.POCKET, ring=ring, depth_mm=5.0))
        panel = Region.of(outer, holes)
        if panel.polygon.is_valid:
            return Panel("P1", "panel", panel, tuple(features))
    raise AssertionError("no valid panel in fifty tries")


def random_line(rng: random.Random, panel: Panel, style: StyleChoice, **more: object) -> SeamLine:
    """A line right across, straight, bent or curved."""
    x1, y1, x2, y2 = panel.region.bounds
    cx = x1 + (x2 - x1) * rng.uniform(0.3, 0.7)
    cy = y1 + (y2 - y1) * rng.uniform(0.3, 0.7)
    angle = rng.choice([0.0, math.pi / 2, rng.uniform(0, math.pi)])
    far = math.hypot(x2 - x1, y2 - y1)
    dx, dy = math.cos(angle), math.sin(angle)
    ends = ((cx - dx * far, cy - dy * far), (cx + dx * far, cy + dy * far))
    kind = rng.random()
    if kind < 0.15:
        bend = rng.uniform(-0.12, 0.12)
        middle = (cx - dy * far * bend, cy + dx * far * bend)
        return SeamLine((ends[0], middle, ends[1]), style, **more)  # type: ignore[arg-type]
    if kind < 0.3:
        return SeamLine(ends, style, bulges=(rng.uniform(-0.12, 0.12),), **more)  # type: ignore[arg-type]
    if kind < 0.4:
        # Curved by hand, its ends on the outline itself.
        edge = LineString(ends).intersection(panel.region.polygon.boundary)
        spots = sorted(shapely.get_coordinates(edge).tolist())
        if len(spots) >= 2 and math.dist(spots[0], spots[-1]) > 50.0:
            points = (tuple(spots[0]), tuple(spots[-1]))
            return SeamLine(points, style, bulges=(rng.uniform(-0.3, 0.3),), **more)  # type: ignore[arg-type]
    if kind < 0.5:
        # A curve that runs on as a straight leg round a bend.
        middle = (cx - dy * far * 0.05, cy + dx * far * 0.05)
        return SeamLine(
            (ends[0], middle, ends[1]),
            style,
            bulges=(rng.uniform(-0.1, 0.1), 0.0),
            **more,  # type: ignore[arg-type]
        )
    return SeamLine(ends, style, **more)  # type: ignore[arg-type]


def random_case(seed: int, style: str) -> Case:
    """A reproducible task for one style."""
    rng = random.Random(f"{seed}/{style}")
    panel = random_panel(rng)
    choice = StyleChoice(style)
    if style in ("finger", "dovetail", "own:hook", "own:bulb") and rng.random() < 0.3:
        choice = StyleChoice(style, (("rounded", 1.0),))
    relief = rng.choice([ReliefKind.DOG_BONE, ReliefKind.T_BONE, ReliefKind.SMALLEST])
    count = 1 if rng.random() < 0.7 else 2
    lines = tuple(
        random_line(rng, panel, choice, relief=relief, turned_over=rng.random() < 0.5)
        for _ in range(count)
    )
    return Case(
        panel,
        lines,
        Cutter(rng.choice([3.0, 6.0, 6.35, 8.0])),
        rng.uniform(9.0, 24.0),
        rng.choice([0.0, 0.1, 0.2, 0.4]),
    )


def board_pieces(split: SplitPanel) -> list[CutGeometry]:
    """Cuts of the panel's own pieces."""
    return [p.cut for p in split.pieces if not p.loose]


def check_partition(case: Case, split: SplitPanel) -> None:
    """Outlines of the pieces partition the panel as drawn."""
    whole = case.panel.region
    regions = [p.region for p in split.pieces if not p.loose]
    assert abs(sum(r.area_mm2 for r in regions) - whole.area_mm2) <= 1e-6 * whole.area_mm2
    shapes = [r.polygon for r in regions]
    assert all(s.is_valid for s in shapes)
    for i, one in enumerate(shapes):
        for two in shapes[i + 1 :]:
            assert one.intersection(two).area <= 1e-6 * whole.area_mm2
    missing = whole.polygon.difference(shapely.union_all(shapes)).area
    assert missing <= 1e-6 * whole.area_mm2


def check_edges_untouched(case: Case, split: SplitPanel) -> None:
    """No cut reaches beyond the panel, and away from seams nothing is missing."""
    whole = case.panel.region.flattened(5e-4)
    cuts = [c.region.flattened(5e-4) for c in board_pieces(split)]
    together = shapely.union_all(cuts)
    assert together.difference(whole).buffer(-0.003).is_empty
    reach = 12.0 + case.cutter.diameter_mm
    near = shapely.union_all(
        [
            LineString(flatten_path(j.middle, 0.01)).buffer(reach)
            for seam in split.seams
            for j in seam.joints
        ]
    )
    assert whole.difference(together).difference(near).buffer(-0.003).is_empty


def check_teeth_inside(case: Case, split: SplitPanel) -> None:
    """Every tooth lies in the board with its seam: the profile leaves it nowhere."""
    board = case.panel.region.polygon.buffer(0.01)
    holes = [Region.of(h).polygon.buffer(-0.01) for h in case.panel.region.holes]
    for seam in split.seams:
        for joint in seam.joints:
            line = LineString(flatten_path(joint.middle))
            assert line.is_simple
            assert line.difference(board).length < 0.05
            assert all(line.intersection(h).length < 0.05 for h in holes)


def flank_gaps(case: Case, split: SplitPanel) -> list[float]:
    """Gap at every flank, measured from the middle of each flank on one mate to the other."""
    gaps: list[float] = []
    for seam in split.seams:
        context = JointContext(case.thickness_mm, case.cutter, case.fit_mm)
        tooth = BOOK.get(seam.style.name).tooth(seam.style, context)
        if tooth is None:
            continue
        for joint in seam.joints:
            if not joint.teeth:
                continue
            left = LineString(flatten_path(joint.left, 1e-4))
            depth_line = LineString([joint.middle[0][:2], joint.middle[-1][:2]])
            for start, end, bulge in edges_of(joint.right):
                own = seam.style.name.startswith("own:")
                if (bulge and not own) or math.dist(start, end) < 4.0:
                    continue
                middle = edge_point(start, end, bulge, 0.5)
                along = LineString([start, end])
                if tooth.base_shift == 0.0 and not _is_flank(along, depth_line):
                    continue
                if (
                    min(math.dist(middle, p[:2]) for p in joint.middle[:: len(joint.middle) - 1])
                    < 9
                ):
                    continue
                gaps.append(left.distance(shapely.Point(middle)))
            if tooth.base_shift and not seam.style.name.startswith("own:"):
                # A gap all round: look everywhere but at the ends, which the outline cuts. (At
                # the sharp corners of own teeth both mates are mitred and stand farther apart.)
                row = flatten_path(joint.right, 1e-4)[3:-3]
                far = [
                    p
                    for p in row[:: max(1, len(row) // 60)]
                    if min(math.dist(p, joint.middle[0][:2]), math.dist(p, joint.middle[-1][:2]))
                    > 3
                ]
                gaps.extend(float(left.distance(shapely.Point(p))) for p in far)
    return gaps


def _is_flank(edge: LineString, line: LineString) -> bool:
    """True for an edge that stands up from the seam rather than running along it."""
    (x1, y1), (x2, y2) = edge.coords
    (u1, v1), (u2, v2) = line.coords
    cross = (x2 - x1) * (v2 - v1) - (y2 - y1) * (u2 - u1)
    return abs(cross) > 0.8 * edge.length * line.length


def check_gap(case: Case, split: SplitPanel) -> None:
    """Every flank has its gap within 1e-3 mm: half the total play."""
    for gap in flank_gaps(case, split):
        assert abs(gap - case.fit_mm / 2) <= 1e-3, gap


def check_simulated(case: Case, split: SplitPanel, *, fine: bool = False) -> None:
    """What the bit really leaves of the mates goes together; fine: with finer curves."""
    cuts = board_pieces(split)
    if any(seam.style.name == "half-lap" for seam in split.seams):
        check_laps(case, split)
        return
    shapes = [c.region if fine else c.polygon for c in cuts]
    assert simulated_mates(shapes, case.cutter.radius_mm) == ()


def check_disjoint(split: SplitPanel) -> None:
    """Cuts, flattened as the plan gives them, share no more than number dust, laps excepted."""
    if any(seam.style.name == "half-lap" for seam in split.seams):
        return
    cuts = [c.polygon for c in board_pieces(split)]
    for i, one in enumerate(cuts):
        for two in cuts[i + 1 :]:
            shared = one.intersection(two)
            if all(seam.fit_mm == 0.0 for seam in split.seams):
                # Without any play a relief's first chord may lie a hair across its mate's edge.
                parts = [part for part in shapely.get_parts(shared) if part.area > 1e-4]
                shared = shapely.union_all(parts)
            assert shared.area <= OVERLAP_AREA_MM2


def check_laps(case: Case, split: SplitPanel) -> None:
    """Laps overlap only where both are pocketed, from opposite faces, to no more than the board."""
    cuts = board_pieces(split)
    for i, one in enumerate(cuts):
        for two in cuts[i + 1 :]:
            common = overlap(one.polygon, two.polygon)
            if common.is_empty:
                continue
            for a in (p for p in one.pockets if p.kind == "lap"):
                for b in (p for p in two.pockets if p.kind == "lap"):
                    if a.face is b.face:
                        continue
                    assert 2 * case.thickness_mm - a.depth_mm - b.depth_mm <= case.thickness_mm
                    common = common.difference(a.polygon.intersection(b.polygon).buffer(1e-3))
            assert common.buffer(-0.01).is_empty


def check_keys(case: Case, split: SplitPanel) -> None:
    """Every loose key has as many pockets in two mates as it is cut times."""
    pockets = sum(1 for c in board_pieces(split) for p in c.pockets if p.kind == "key")
    keys = sum(p.quantity for p in split.pieces if p.loose)
    assert pockets == 2 * keys


def check_all(case: Case, split: SplitPanel, *, fine: bool = False) -> None:
    """Everything that must hold of a split that was made."""
    check_partition(case, split)
    check_edges_untouched(case, split)
    check_teeth_inside(case, split)
    check_gap(case, split)
    check_disjoint(split)
    check_simulated(case, split, fine=fine)
    check_keys(case, split)
    ids = [p.id for p in split.pieces if not p.loose]
    assert sorted(split.assembly_order) == sorted(ids)
    assert all(c.region.polygon.is_valid for c in board_pieces(split))
