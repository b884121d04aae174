"""Closed outlines out of loose edges.

Edges that end on the same point are chained; a chain that comes back to its start is a loop.
What is left open is closed over a ladder of growing gaps, nearest ends first, joining only
loose ends with loose ends, so that no loop already found is ever touched. Where three and more
edges meet, the closed faces between them are taken.
"""

from __future__ import annotations

import math
from collections import Counter, defaultdict
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

import numpy as np
import shapely

from core.geometry import Point, Vertex
from core.outlines.near import near_pairs
from core.outlines.strands import Strand, edge_length, reversed_rows
from core.tolerances import GAP_LADDER_MM, SAME_POINT_MM, SAME_SHAPE_MM

_Step = tuple[int, bool]  # an edge by index, and whether it is run backwards


@dataclass(frozen=True, slots=True)
class Closure:
    """A gap that was closed: where, how wide, on which layer."""

    at: Point
    gap_mm: float
    layer: str


@dataclass(frozen=True, slots=True)
class Loop:
    """A closed run of vertices; order and source as its earliest edge's."""

    rows: tuple[Vertex, ...]
    layer: str
    source: int
    order: int


@dataclass
class Loops:
    """What the loop finder found. leftovers: edges that are part of no loop.

    branches: points where outlines share an edge; touches: points where they share a corner.
    stubs: edges no longer than a gap that was tried, left out.
    """

    loops: list[Loop] = field(default_factory=list)
    leftovers: list[Strand] = field(default_factory=list)
    closures: list[Closure] = field(default_factory=list)
    branches: list[Point] = field(default_factory=list)
    touches: list[Point] = field(default_factory=list)
    stubs: list[Strand] = field(default_factory=list)


def find_loops(
    edges: Sequence[Strand], *, gap_mm: float, tick: Callable[[], None] = lambda: None
) -> Loops:
    """Every loop in single edges and open curves, gaps up to gap_mm closed.

    edges: open strands in mm, none lying on another. Gaps wider than the silent ones are in
    `closures` with the joint's place. The result depends on the edges' order only in ties.
    """
    net = _Net(edges)
    out = Loops()
    net.take_loops(out)
    for step_mm in (*(s for s in GAP_LADDER_MM if s < gap_mm), gap_mm):
        tick()
        if not net.live:
            break
        if net.close(step_mm, out.stubs):
            net.take_loops(out)
    out.leftovers.extend(net.prune())
    net.take_loops(out)
    if net.live:
        net.take_faces(out)
    out.leftovers.sort(key=lambda strand: strand.order)
    out.loops.sort(key=lambda loop: loop.order)
    return out


def open_chains(edges: Sequence[Strand]) -> list[Strand]:
    """Loose edges joined end to end, for telling where lines are open."""
    net = _Net(edges)
    chains = []
    for steps, _, _ in net.walk():
        rows, _ = _joined([net.rows(step) for step in steps], closed=False)
        first = edges[min(edge for edge, _ in steps)]
        if len(rows) > 1:
            chains.append(Strand(rows, False, first.layer, first.source, first.order))
    return chains


class _Net:
    """Edges and the nodes their ends meet in."""

    def __init__(self, edges: Sequence[Strand]) -> None:
        self.edges = edges
        self.points: list[Point] = [p for edge in edges for p in (edge.start, edge.end)]
        self.parent = list(range(len(self.points)))
        self.live: dict[int, None] = dict.fromkeys(range(len(edges)))  # an ordered set
        # Both hold until an edge goes or two ends are joined.
        self._ends: dict[int, list[tuple[int, int]]] | None = None
        self._chains: list[tuple[list[_Step], int, int]] | None = None
        self._weld()

    def _weld(self) -> None:
        """One node for all ends on the same point."""
        cells: dict[tuple[int, int], list[int]] = defaultdict(list)
        width = 4 * SAME_SHAPE_MM
        for i, (x, y) in enumerate(self.points):
            fx, fy = x / width, y / width
            cx, cy = math.floor(fx), math.floor(fy)
            # An end further than the tolerance from its cell's border has all it can
            # meet in the cell itself; only the others look next door.
            xs = (cx, cx - 1) if fx - cx < 0.25 else (cx, cx + 1) if fx - cx > 0.75 else (cx,)
            ys = (cy, cy - 1) if fy - cy < 0.25 else (cy, cy + 1) if fy - cy > 0.75 else (cy,)
            for key in [(a, b) for a in xs for b in ys]:
                for other in cells.get(key, ()):
                    if math.dist(self.points[other], (x, y)) <= SAME_SHAPE_MM:
                        self._union(other, i)
            if len(cells[cx, cy]) < 64:  # a heap of ends on one spot needs no more to meet
                cells[cx, cy].append(i)

    def root(self, i: int) -> int:
        """The node an end belongs to."""
        while self.parent[i] != i:
            self.parent[i] = self.parent[self.parent[i]]
            i = self.parent[i]
        return i

    def _union(self, a: int, b: int) -> None:
        ra, rb = self.root(a), self.root(b)
        if ra != rb:
            self.parent[max(ra, rb)] = min(ra, rb)
            self._ends = None
            self._chains = None

    def _remove(self, edges: Sequence[int]) -> None:
        for edge in edges:
            del self.live[edge]
        if edges:
            self._ends = None
            self._chains = None

    def degree(self, end: int) -> int:
        """How many live ends meet in an end's node."""
        return len(self.at_nodes().get(self.root(end), ()))

    def at_nodes(self) -> dict[int, list[tuple[int, int]]]:
        """Node → (edge, 0 for its start, 1 for its end) of every live edge there."""
        if self._ends is not None:
            return self._ends
        ends: dict[int, list[tuple[int, int]]] = defaultdict(list)
        for i in self.live:
            ends[self.root(2 * i)].append((i, 0))
            ends[self.root(2 * i + 1)].append((i, 1))
        self._ends = ends
        return ends

    def rows(self, step: _Step) -> tuple[Vertex, ...]:
        """Vertices of an edge in running direction."""
        rows = self.edges[step[0]].rows
        return reversed_rows(rows) if step[1] else rows

    def walk(self) -> list[tuple[list[_Step], int, int]]:
        """Chains through nodes of two ends: (steps, first end, last end), ends as indices.

        A loop has both ends in one node of exactly two ends.
        """
        if self._chains is not None:
            return self._chains
        ends = self.at_nodes()
        unused = dict.fromkeys(self.live)
        chains = []
        for seed in self.live:
            if seed not in unused:
                continue
            del unused[seed]
            forward = self._follow(ends, unused, seed, 1)
            closed = len(forward) > 0 and self._meets(ends, seed, forward[-1])
            closed = closed or (not forward and self._closes_itself(ends, seed))
            backward = [] if closed else self._follow(ends, unused, seed, 0)
            steps: list[_Step] = [(edge, not turned) for edge, turned in reversed(backward)]
            steps += [(seed, False), *forward]
            first, last = steps[0], steps[-1]
            chains.append((steps, 2 * first[0] + first[1], 2 * last[0] + (not last[1])))
        self._chains = chains
        return chains

    def _follow(
        self,
        ends: dict[int, list[tuple[int, int]]],
        unused: dict[int, None],
        edge: int,
        side: int,
    ) -> list[_Step]:
        """Steps onward from one side of an edge while the way is clear."""
        steps: list[_Step] = []
        while True:
            here = ends[self.root(2 * edge + side)]
            if len(here) != 2:
                return steps
            other = here[0] if here[1] == (edge, side) else here[1]
            if other[0] not in unused:
                return steps
            del unused[other[0]]
            # Entering by its start runs the edge forwards.
            steps.append((other[0], other[1] == 1))
            edge, side = other[0], 1 - other[1]

    def _meets(self, ends: dict[int, list[tuple[int, int]]], seed: int, last: _Step) -> bool:
        node = self.root(2 * last[0] + (not last[1]))
        return node == self.root(2 * seed) and len(ends[node]) == 2

    def _closes_itself(self, ends: dict[int, list[tuple[int, int]]], seed: int) -> bool:
        node = self.root(2 * seed)
        return node == self.root(2 * seed + 1) and len(ends[node]) == 2

    def take_loops(self, out: Loops) -> None:
        """Move every chain that closes into out."""
        gone: list[int] = []
        for steps, first, last in self.walk():
            if self.root(first) == self.root(last) and self.degree(first) == 2:
                self._keep_loop(out, steps)
                gone += [edge for edge, _ in steps]
        self._remove(gone)

    def _keep_loop(self, out: Loops, steps: list[_Step]) -> None:
        rows, gaps = _joined([self.rows(step) for step in steps], closed=True)
        members = [self.edges[edge] for edge, _ in steps]
        first = min(members, key=lambda strand: strand.order)
        out.closures += [Closure(at, gap, first.layer) for at, gap in gaps]
        out.loops.append(Loop(rows, first.layer, first.source, first.order))

    def close(self, gap_mm: float, stubs: list[Strand]) -> bool:
        """Join loose ends up to gap_mm apart, nearest first; True if any was joined."""
        loose: list[tuple[int, int]] = []  # (end, chain)
        lengths: list[float] = []
        scraps: list[int] = []
        for steps, first, last in self.walk():
            free = [end for end in (first, last) if self.degree(end) == 1]
            if not free:
                continue
            length = sum(self.edges[edge].length() for edge, _ in steps)
            if len(free) == 2 and length <= gap_mm and len(self.live) > len(steps):
                # A stub no longer than the gap pairs into false loops.
                scraps += [edge for edge, _ in steps]
                continue
            loose += [(end, len(lengths)) for end in free]
            lengths.append(length)
        self._remove(scraps)
        stubs += [self.edges[edge] for edge in scraps]
        if len(loose) < 2:
            return False
        points = np.array([self.points[end] for end, _ in loose])
        lefts, rights = near_pairs(shapely.points(points), within_mm=gap_mm)
        distances = np.hypot(*(points[lefts] - points[rights]).T)
        used: set[int] = set()
        for k in np.lexsort((rights, lefts, distances)):
            a, b = int(lefts[k]), int(rights[k])
            (end_a, chain_a), (end_b, chain_b) = loose[a], loose[b]
            if a in used or b in used:
                continue
            if chain_a == chain_b and lengths[chain_a] <= 4 * distances[k]:
                continue
            used |= {a, b}
            self._union(end_a, end_b)
        return bool(used)

    def prune(self) -> list[Strand]:
        """Take out everything that hangs loose, edge by edge from its free end."""
        ends = self.at_nodes()
        counts = Counter({node: len(here) for node, here in ends.items()})
        queue = [edge for here in ends.values() if len(here) == 1 for edge, _ in here]
        gone: list[Strand] = []
        while queue:
            edge = queue.pop()
            if edge not in self.live:
                continue
            nodes = self.root(2 * edge), self.root(2 * edge + 1)
            if counts[nodes[0]] > 1 and counts[nodes[1]] > 1:
                continue
            self._remove([edge])
            gone.append(self.edges[edge])
            for node in nodes:
                counts[node] -= 1
                if counts[node] == 1:
                    queue += [e for e, _ in ends[node] if e in self.live]
        return gone

    def take_faces(self, out: Loops) -> None:
        """The closed faces of what has branches; lines inside one face only are left over."""
        while self.live:
            chains = self.walk()
            rows = [_joined([self.rows(s) for s in steps], closed=False) for steps, _, _ in chains]
            nodes = [(self.root(first), self.root(last)) for _, first, last in chains]
            faces = _faces([r for r, _ in rows], nodes)
            sides: list[list[int]] = [[-1, -1] for _ in chains]
            for number, face in enumerate(faces):
                for chain, turned in face:
                    sides[chain][turned] = number
            bridges = [i for i, (a, b) in enumerate(sides) if a == b]
            if bridges:
                gone = [edge for i in bridges for edge, _ in chains[i][0]]
                self._remove(gone)
                out.leftovers.extend(self.edges[edge] for edge in gone)
                out.leftovers.extend(self.prune())
                self.take_loops(out)
                continue
            self._keep_faces(out, chains, nodes, faces, sides)
            return

    def _keep_faces(
        self,
        out: Loops,
        chains: list[tuple[list[_Step], int, int]],
        nodes: list[tuple[int, int]],
        faces: list[list[tuple[int, int]]],
        sides: list[list[int]],
    ) -> None:
        """Bounded faces become loops; say where they share an edge or only a corner."""
        bounded: set[int] = set()
        for number, face in enumerate(faces):
            steps: list[_Step] = []
            for chain, turned in face:
                own = chains[chain][0]
                steps += [(e, not t) for e, t in reversed(own)] if turned else own
            rows, _ = _joined([self.rows(step) for step in steps], closed=True)
            if len(rows) > 1 and signed_area(rows) > 0:
                bounded.add(number)
                self._keep_loop(out, steps)
        shared: set[int] = set()
        for pair, (a, b) in zip(nodes, sides, strict=True):
            if a in bounded and b in bounded:
                shared.update(pair)
        every = {node for pair in nodes for node in pair}
        out.branches += [self.points[node] for node in sorted(shared)]
        out.touches += [self.points[node] for node in sorted(every - shared)]


def _faces(
    rows: list[tuple[Vertex, ...]], nodes: list[tuple[int, int]]
) -> list[list[tuple[int, int]]]:
    """Faces of a plane net as cycles of (chain, 1 if run backwards), board on the left."""
    leaving: dict[int, list[tuple[float, float, int, int]]] = defaultdict(list)
    for chain, (run, (start, end)) in enumerate(zip(rows, nodes, strict=True)):
        leaving[start].append((*_departure(run), chain, 0))
        leaving[end].append((*_departure(reversed_rows(run)), chain, 1))
    before: dict[tuple[int, int], tuple[int, int]] = {}
    for here in leaving.values():
        here.sort()
        for k, (_, _, chain, turned) in enumerate(here):
            before[chain, turned] = here[k - 1][2:]
    faces = []
    unseen = dict.fromkeys(before)
    while unseen:
        half = next(iter(unseen))
        face = []
        while half in unseen:
            del unseen[half]
            face.append(half)
            # The next way on is the one just clockwise of the way back.
            half = before[half[0], 1 - half[1]]
        faces.append(face)
    return faces


def _departure(rows: tuple[Vertex, ...]) -> tuple[float, float]:
    """Direction a run leaves its first point in, and its curvature to part equal directions."""
    (x1, y1, bulge), (x2, y2, _) = rows[0], rows[1]
    chord = math.hypot(x2 - x1, y2 - y1)
    # The tangent leans from the chord by half the arc's turn, to the right if it turns left.
    angle = math.atan2(y2 - y1, x2 - x1) - 2 * math.atan(bulge)
    angle = math.remainder(angle, math.tau)
    curvature = 4 * bulge / (chord * (1 + bulge * bulge)) if chord else 0.0
    return round(angle, 6) if angle > -math.pi + 1e-6 else round(math.pi, 6), curvature


def signed_area(rows: Sequence[Vertex]) -> float:
    """Area of a closed run, arcs included, positive when it runs counter-clockwise."""
    total = 0.0
    x0, y0, _ = rows[0]
    for i, (x1, y1, bulge) in enumerate(rows):
        x2, y2, _ = rows[(i + 1) % len(rows)]
        total += ((x1 - x0) * (y2 - y0) - (x2 - x0) * (y1 - y0)) / 2.0
        if bulge:
            chord = math.hypot(x2 - x1, y2 - y1)
            sweep = 4.0 * math.atan(bulge)
            if abs(sweep) > 1e-3:
                radius = chord * (1 + bulge * bulge) / (4 * abs(bulge))
                total += radius * radius * (sweep - math.sin(sweep)) / 2.0
            else:
                total += chord * chord * bulge / 3.0  # the same for a shallow arc, without loss
    return total


def _joined(
    runs: list[tuple[Vertex, ...]], *, closed: bool
) -> tuple[tuple[Vertex, ...], list[tuple[Point, float]]]:
    """Runs put end to end; (vertices, gaps closed on the way with their places)."""
    work = [list(run) for run in runs]
    gaps: list[tuple[Point, float]] = []
    count = len(work)
    for i in range(count if closed else count - 1):
        before, after = work[i], work[(i + 1) % count]
        end, start = before[-1], after[0]
        gap = math.dist(end[:2], start[:2])
        if gap <= SAME_SHAPE_MM:
            at: Point = (start[0], start[1])
        else:
            at = _meeting(runs[i], runs[(i + 1) % count], gap)
            gaps.append((at, gap))
        before[-1] = (at[0], at[1], end[2])
        after[0] = (at[0], at[1], start[2])
    rows: list[Vertex] = []
    for run in work:
        for x, y, bulge in run[:-1]:
            _append(rows, (x, y, bulge))
    if not closed:
        _append(rows, (*work[-1][-1][:2], 0.0))
    elif len(rows) > 1 and math.dist(rows[0][:2], rows[-1][:2]) <= SAME_POINT_MM:
        rows.pop()
    return tuple(rows), gaps


def _append(rows: list[Vertex], row: Vertex) -> None:
    """Add a vertex; one on the last replaces it, keeping the edge that goes on from here."""
    if rows and math.dist(rows[-1][:2], row[:2]) <= SAME_POINT_MM:
        rows[-1] = (rows[-1][0], rows[-1][1], row[2])
    else:
        rows.append(row)


def _meeting(before: tuple[Vertex, ...], after: tuple[Vertex, ...], gap_mm: float) -> Point:
    """Where two loose ends are joined.

    Straight edges are lengthened or shortened to the corner they aim at when that lies within
    three gaps of both ends, so their directions stay; anything else meets half way.
    """
    (x1, y1, b1), (x2, y2, _) = before[-2], before[-1]
    (x3, y3, b2), (x4, y4, _) = after[0], after[1]
    middle = ((x2 + x3) / 2, (y2 + y3) / 2)
    if b1 or b2:
        return middle
    ux, uy, vx, vy = x2 - x1, y2 - y1, x4 - x3, y4 - y3
    across = ux * vy - uy * vx
    if abs(across) <= 0.05 * math.hypot(ux, uy) * math.hypot(vx, vy):
        return middle
    along = ((x3 - x1) * vy - (y3 - y1) * vx) / across
    corner = (x1 + along * ux, y1 + along * uy)
    near = max(math.dist(corner, (x2, y2)), math.dist(corner, (x3, y3))) <= 3 * gap_mm
    short = edge_length((x1, y1), (x2, y2), 0.0) <= gap_mm or math.hypot(vx, vy) <= gap_mm
    return corner if near and not short else middle
