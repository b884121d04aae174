"""Running the improvement search: sheets laid out, budgets lowered, layouts read back."""

from __future__ import annotations

import math
import time
from collections.abc import Callable

import numpy as np

from core.breakdown import improve as kernel
from core.breakdown import tree
from core.breakdown.job import Job, Layout, Place, make_job
from core.breakdown.model import SawPart, SawSheet
from core.tolerances import SAW_UNITS_PER_MM

_CHUNK = 500  # steps between two looks at the clock
_VALUE_SEGMENT = 5_000  # the same where not all fits
_SEGMENT = 4000  # steps from hot to cold before the next start
_TIDY_STEPS = 10_000  # at most so many steps go into offcuts once the sheets are settled
_TIDY_WHILE_FULL = 0.02  # large rests are worth this little while parts are still missing
_NOTHING = 1e-12  # missing weight that is none


class Clock:
    """Time left, and whether somebody asked to stop."""

    def __init__(self, seconds: float, stop: Callable[[], bool] | None) -> None:
        self.end = time.monotonic() + seconds
        self.stop = stop

    def over(self) -> bool:
        """True if the search should hand back what it has."""
        return time.monotonic() >= self.end or (self.stop is not None and self.stop())

    def untimed(self, call: Callable[[], None]) -> None:
        """Run something that is not to count, such as compiling a kernel on its first use."""
        begin = time.monotonic()
        call()
        self.end += time.monotonic() - begin


def warm_up() -> None:
    """Compile the kernels (seconds on the first use ever) before a clock is started."""
    parts = [SawPart("a", 2, 1, 3), SawPart("b", 1, 1, 1)]
    job = make_job(parts, [SawSheet("s", 3, 2)], kerf_mm=0, edge_trim_mm=0)
    improve(job, Clock(1e9, None), steps=4, seed=0, bound=0.0)


class State:
    """Sheets and parts as the kernels take them."""

    def __init__(self, job: Job, seed: int) -> None:
        self.job = job
        self.index = self._instances(job)
        self.costs = np.array([job.costs[i] for i in self.index])
        self.left = self._wanted(job)
        area = job.sizes[:, 0].astype(float) * job.sizes[:, 1]
        rooms = job.rooms[self.index].astype(float)
        room_area = float((rooms[:, 0] * rooms[:, 1]).sum())
        self.unit_area = float((rooms[:, 0] * rooms[:, 1]).max())
        smallest = float(area[self.left > 0].min()) if (self.left > 0).any() else 1.0
        most = int(min(self.left.sum(), room_area // smallest + 1))
        count = len(self.index)
        # The first layout needs no more than the first three; the others are for nodes that hold
        # one strip only and nest in each other.
        size = count + (tree.NODES_A_PART + 1) * most + 8
        self.nodes = np.zeros((size, tree.COLUMNS), dtype=np.int64)
        self.pool = np.zeros(size + 1, dtype=np.int64)
        free = np.arange(size - 1, count - 1, -1)
        self.pool[0] = len(free)
        self.pool[1 : 1 + len(free)] = free
        for root, sheet in enumerate(self.index):
            width, height = job.rooms[sheet]
            self.nodes[root] = (tree.ROW, -1, -1, -1, -1, -1, 0, width, height, width)
        self.open = np.zeros(count, dtype=np.bool_)
        values = np.array(job.values)
        limited = all(sheet.quantity is not None for sheet in job.sheets)
        weights = values if job.valued or limited else area
        top = float(weights.max()) if len(weights) else 1.0
        self.weights = weights / (top if top > 0 else 1.0)
        self.rng = np.array([(seed * 2 + 1) * 0x9E3779B97F4A7C15 % 2**64 or 1], dtype=np.uint64)

    @staticmethod
    def _instances(job: Job) -> np.ndarray:
        """Index of the sheet behind every sheet that may be opened."""
        found = []
        for index, sheet in enumerate(job.sheets):
            if min(job.rooms[index]) <= 0:
                continue
            most = sum(
                part.quantity or 0
                for number, part in enumerate(job.parts)
                if job.fits(number, index)
            )
            if any(
                part.quantity is None and job.fits(number, index)
                for number, part in enumerate(job.parts)
            ):
                most = 10**9
            count = most if sheet.quantity is None else min(sheet.quantity, most)
            if sheet.quantity is None:
                count = min(count, _enough(job, index))
            found += [index] * count
        return np.array(found, dtype=np.int64)

    def _wanted(self, job: Job) -> np.ndarray:
        wanted = np.zeros(len(job.parts), dtype=np.int64)
        for number, part in enumerate(job.parts):
            if not job.fits_some_sheet(number):
                continue
            if part.quantity is not None:
                wanted[number] = part.quantity
            else:
                wanted[number] = sum(_most(job, number, int(i)) for i in self.index)
        return wanted

    def set_fillers_aside(self) -> np.ndarray:
        """Take the parts that only fill what others leave off the list; returns their copies."""
        limited = all(sheet.quantity is not None for sheet in self.job.sheets)
        aside = np.zeros_like(self.left)
        numbered = [part.quantity is not None for part in self.job.parts]
        if any(numbered) and not (self.job.valued and limited):
            for number, fixed in enumerate(numbered):
                if not fixed:
                    aside[number] = self.left[number]
        self.left -= aside
        return aside

    def add_fillers(self, aside: np.ndarray) -> None:
        """Put fillers on the list, at a weight far below that of the parts wanted by number."""
        self.left += aside
        self.weights[aside == 0] *= 1000.0

    def layout(self, nodes: np.ndarray, is_open: np.ndarray) -> list[tuple[int, list[Place]]]:
        """Open sheets that carry parts, in the order of the stock, with the parts' places."""
        found = []
        for root in range(len(self.index)):
            if is_open[root] and nodes[root, tree.FIRST] >= 0:
                places: list[Place] = []
                self._walk(nodes, root, 0, 0, places)
                found.append((int(self.index[root]), places))
        return found

    def _walk(self, nodes: np.ndarray, number: int, x: int, y: int, places: list[Place]) -> None:
        node = nodes[number]
        if node[tree.KIND] == tree.LEAF:
            trim = self.job.trim_mm
            places.append(
                Place(
                    int(node[tree.PART]),
                    trim + x / SAW_UNITS_PER_MM,
                    trim + y / SAW_UNITS_PER_MM,
                    bool(node[tree.TURNED]),
                )
            )
            return
        strips = []
        child = int(node[tree.FIRST])
        while child >= 0:
            strips.append(child)
            child = int(nodes[child, tree.NEXT])
        along_x = node[tree.KIND] == tree.ROW
        # Widest strip first: what is left over stays on one side.
        extent = tree.WIDTH if along_x else tree.HEIGHT
        for strip in sorted(strips, key=lambda s: (-int(nodes[s, extent]), s)):
            self._walk(nodes, strip, x, y, places)
            if along_x:
                x += int(nodes[strip, tree.WIDTH])
            else:
                y += int(nodes[strip, tree.HEIGHT])


def _most(job: Job, part: int, sheet: int) -> int:
    """Copies of a part that one sheet could hold at the very most."""
    if not job.fits(part, sheet):
        return 0
    width, height = (int(v) for v in job.sizes[part, :2])
    room_w, room_h = (int(v) + 1000 for v in job.rooms[sheet])
    if not job.sizes[part, 2]:
        return (room_w // width) * (room_h // height)
    return (room_w * room_h) // (width * height)


def _enough(job: Job, index: int) -> int:
    """So many sheets of one kind hold all parts that fit it: next fit by decreasing height."""
    room_w, room_h = (int(v) for v in job.rooms[index])
    rows: list[tuple[int, int]] = []
    for number, part in enumerate(job.parts):
        if not part.quantity or not job.fits(number, index):
            continue
        width, height = (int(v) for v in job.sizes[number, :2])
        if (
            width > room_w + 1000
            or height > room_h + 1000
            or (job.sizes[number, 2] and height > width and height <= room_w)
        ):
            width, height = height, width
        rows += [(height, width)] * part.quantity
    rows.sort(reverse=True)
    sheets, y, x, row_h = 1, 0, 0, 0
    for height, width in rows:
        if x + width > room_w + 1000:
            y, x, row_h = y + row_h, 0, 0
        if x == 0:
            if y + height > room_h + 1000:
                sheets, y = sheets + 1, 0
            row_h = height
        x += width
    return sheets + 1


def improve(job: Job, clock: Clock, *, steps: int, seed: int, bound: float) -> Layout:
    """Ruin and recreate until nothing better can be had or the steps are spent.

    bound: the least cost there can be; a layout of all parts that reaches it is not bettered.
    """
    state = State(job, seed)
    if not len(state.index) or not state.left.any():
        return Layout((), bound, not job.wanted(), 0)
    aside = state.set_fillers_aside()
    kernel.start(
        state.nodes,
        state.pool,
        state.open,
        state.costs,
        job.sizes,
        state.weights,
        state.left,
        state.rng,
    )
    run = _Run(state, clock, steps)
    while run.best[0] <= _NOTHING and run.best[1] > bound * (1 + 1e-9) and not run.done():
        run.lower_budget()
    if run.best[0] > _NOTHING:
        run.more_value()
    everything = bool(run.best[0] <= _NOTHING)
    proven = everything and bool(run.best[1] <= bound * (1 + 1e-9))
    if aside.any():
        run.fill_up(aside)
    run.tidy_up(min(_TIDY_STEPS, run.total // 4))
    return Layout(
        tuple((index, tuple(places)) for index, places in state.layout(run.nodes, run.open)),
        bound if everything else math.inf,
        proven,
        run.steps,
    )


class _Run:
    """The best layout so far, and the steps left to better it."""

    def __init__(self, state: State, clock: Clock, total: int) -> None:
        self.state = state
        self.clock = clock
        self.total = total
        self.steps = 0
        self.nodes = state.nodes.copy()
        self.open = state.open.copy()
        self.left = state.left.copy()
        self.pool = state.pool.copy()
        self.best = np.array([float(state.left @ state.weights), self._spent(), math.inf])

    def _spent(self) -> float:
        used = self.open & (self.nodes[: len(self.open), tree.FIRST] >= 0)
        return float(self.state.costs[used].sum())

    def done(self) -> bool:
        """True if steps or time are spent."""
        return self.steps >= self.total or self.clock.over()

    def steps_left(self) -> int:
        return max(0, self.total - self.steps)

    def restore(self) -> None:
        """Make the best layout the current one."""
        state = self.state
        state.nodes[:] = self.nodes
        state.open[:] = self.open
        state.left[:] = self.left
        unused = np.flatnonzero(self.nodes[:, tree.KIND] == tree.UNUSED)[::-1]
        state.pool[0] = len(unused)
        state.pool[1 : 1 + len(unused)] = unused

    def lower_budget(self) -> None:
        """All parts are placed: look for a cheaper set of sheets that holds them too."""
        state = self.state
        budget = float(self.best[1]) * (1 - 1e-9)
        self.restore()
        kernel.close_down(state.nodes, state.pool, state.open, state.costs, state.left, budget)
        while not self.done():
            self.segment(budget, tidy=_TIDY_WHILE_FULL, steps=min(_SEGMENT, self.steps_left()))
            if self.best[1] <= budget:
                return

    def more_value(self) -> None:
        """Not all fits: several coolings, every other one from the best layout."""
        again = False
        while not self.done():
            if again:
                self.restore()
            again = not again
            steps = min(_VALUE_SEGMENT, self.steps_left())
            self.segment(math.inf, tidy=_TIDY_WHILE_FULL, steps=steps)
            if self.best[0] <= _NOTHING:
                return

    def fill_up(self, aside: np.ndarray) -> None:
        """As many of the fillers as fit beside what is placed, on the same sheets."""
        everything = self.best[0] <= _NOTHING
        budget = float(self.best[1]) * (1 + 1e-9) if everything else math.inf
        self.restore()
        self.state.add_fillers(aside)
        self.left += aside
        self.best[0] = float(self.left @ self.state.weights)
        self.best[2] = math.inf
        self.total += _SEGMENT
        self.segment(budget, tidy=_TIDY_WHILE_FULL, steps=self.steps_left(), enough=-1.0)

    def tidy_up(self, steps: int) -> None:
        """Same parts, same cost: gather what is left over into large offcuts, few strips."""
        self.restore()
        self.best[2] = math.inf
        budget = float(self.best[1]) * (1 + 1e-9)
        self.total = self.steps + steps
        self.segment(budget, tidy=1.0, steps=steps, heat=1e-3, enough=-1.0)

    def segment(
        self, budget: float, *, tidy: float, steps: int, heat: float = 0.03, enough: float = 0.0
    ) -> None:
        """A cooling of so many steps, the clock looked at now and then."""
        state = self.state
        cool = 1e-4
        taken = 0
        limit = min(budget, 1e300)
        enough = enough or (budget if math.isfinite(budget) else math.inf)
        # A lowered budget makes a fresh race: missing parts count from the layout at hand.
        while taken < steps and not self.clock.over():
            chunk = min(_CHUNK, steps - taken)
            hot = heat * (cool / heat) ** (taken / steps)
            cold = heat * (cool / heat) ** ((taken + chunk) / steps)
            done = kernel.run(
                state.nodes,
                state.pool,
                state.open,
                state.left,
                self.nodes,
                self.open,
                self.left,
                state.costs,
                state.job.sizes,
                state.weights,
                state.job.kerf,
                chunk,
                hot,
                cold,
                limit,
                tidy,
                enough,
                state.unit_area,
                state.rng,
                self.best,
            )
            taken += done
            self.steps += done
            if self.best[0] <= _NOTHING and self.best[1] <= enough:
                return
