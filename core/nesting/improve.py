"""Improvement: two workers, each driving a bench, exchanging what they found.

A worker is a generator. Between slices of some ten milliseconds it yields, so whoever drives
it can count its evaluations and stop it. Its aims, in order: place what is in the tray; do with
less costly sheets (empty one, or change it for a cheaper one); then shorten the used length of
the last sheet. Each is one problem for the kernels: pieces overlap, and are to be separated.
"""

from __future__ import annotations

from collections.abc import Callable, Generator, Iterator
from dataclasses import dataclass

from core.nesting.bench import Bench, Snapshot
from core.nesting.kernels import BIN, MOVABLE, SOLVED, take_out

# (pieces left out by priority, cost, groups torn, used length of the last sheet): less is better
Key = tuple[tuple[int, ...], float, int, float]
Steps = Generator[None, None, bool]

EXPLORE_UNTIL = 0.75  # of the budget; after it small steps from the best
STEP_FIRST, STEP_MOST = 0.02, 0.03  # part of the used length cut off at a time
# Exploring asks for at least a thousandth: what differs by less is the same arrangement, pressed.
EXPLORE_LEAST, FINE_LEAST = 1e-3, 2e-4
FINE_FIRST = 0.004
FAILURES_BEFORE_SMALLER = 4
TRIES_AT_LEAST = 20  # at the least step exploring: further and further from the best
# Two that search the same way end on the same arrangement: when a search has gone on for long, the
# second worker turns to pressing its best by ever smaller steps, with short tries.
SMALL_STEPS_AFTER = 30e6  # evaluations
DRY = 15  # failures in a row at the least small step: the arrangement gives no more
POOL = 12
_NO_GAIN = 1e-9
_HOPELESS = 20  # attempts in a row that fail before any search


@dataclass(slots=True)
class Control:
    """What driver and worker share. share: part of the budget spent, from evaluations.

    sheet_bound: no fewer sheets can do. length_bound: no shorter last sheet when one is used.
    """

    share: Callable[[float], float]
    sheet_bound: int
    length_bound: float
    incoming: tuple[Key, Snapshot] | None = None
    best: tuple[Key, Snapshot] | None = None
    done: bool = False


class Worker:
    """Drives one bench towards its aims; ``steps()`` is the generator to run."""

    def __init__(self, bench: Bench, control: Control, number: int) -> None:
        self.bench, self.control, self.number = bench, control, number
        self.levels = sorted(
            {kind.piece.priority for kind in bench.job.kinds if not kind.piece.filler}, reverse=True
        )
        groups: dict[str, list[int]] = {}
        for k, item in enumerate(bench.items):
            group = bench.job.kinds[item.kind].piece.group
            if group is not None:
                groups.setdefault(group, []).append(k)
        self.groups = list(groups.values())
        self._shortening = False
        self.best = bench.snapshot()
        self.best.loss = 0.0
        self.key = self._key()
        control.best = (self.key, self.best)

    # --- what counts ---------------------------------------------------------------------

    def _key(self) -> Key:
        bench = self.bench
        out = dict.fromkeys(self.levels, 0)
        for k in range(bench.own):
            if bench.S.what[k, BIN] >= 0:
                continue
            piece = bench.job.kinds[bench.items[k].kind].piece
            if not piece.filler:
                out[piece.priority] += 1
        used = [s for s in range(len(bench.sheets)) if bench.on(s)]
        length = min((bench.length(s) for s in used), default=0.0)
        torn = sum(
            len({int(bench.S.what[k, BIN]) for k in group if bench.S.what[k, BIN] >= 0} or {0}) - 1
            for group in self.groups
        )
        return tuple(out.values()), sum(bench.costs[s] for s in used), torn, length

    def _take(self) -> bool:
        """Note the present, valid arrangement if it is better than the best."""
        bench = self.bench
        for sheet in bench.live_sheets():
            if not bench.on(sheet):
                bench.S.live[sheet] = 0
        key = self._key()
        if not less(key, self.key):
            return False
        shot = bench.snapshot()
        shot.loss = 0.0
        self.best, self.key = shot, key
        self.control.best = (key, shot)
        return True

    def _adopt(self) -> None:
        """Go on from the other worker's find. Shortening, the second worker keeps its own way
        until the end: two on one way find less in a long run (half a point on some strips)."""
        incoming = self.control.incoming
        self.control.incoming = None
        alone = self.number > 0 and self._shortening and self._share() < EXPLORE_UNTIL
        if alone and incoming is not None and incoming[0][:3] == self.key[:3]:
            return
        if incoming is not None and less(incoming[0], self.key):
            self.key, self.best = incoming
            self.control.best = incoming

    def _share(self) -> float:
        return self.control.share(self.bench.evals)

    def _reset(self) -> None:
        """The best arrangement on whole sheets."""
        self.bench.load(self.best)
        for sheet in range(len(self.bench.sheets)):
            self.bench.full_room(sheet)

    # --- the aims ------------------------------------------------------------------------

    def steps(self) -> Iterator[None]:
        """Work on until the driver stops asking or nothing is left to gain."""
        yield from self._place_tray(until=0.8)
        yield from self._save_sheets()
        yield from self._shorten()
        self.control.done = True

    def _tray(self) -> list[int]:
        bench = self.bench
        tray = [
            k
            for k in range(bench.own)
            if self.best.what[k, BIN] < 0 and not bench.job.kinds[bench.items[k].kind].piece.filler
        ]
        return sorted(
            tray, key=lambda k: (-bench.job.kinds[bench.items[k].kind].piece.priority,
                                 bench.areas[k], k)
        )  # fmt: skip

    def _place_tray(self, until: float) -> Iterator[None]:
        """Squeeze pieces of the tray onto the sheets in play, one by one, over and over: onto
        the best arrangement, and every other time with all pieces thrown anew."""
        bench = self.bench
        attempt = self.number
        displaced: set[int] = set()
        while self._share() < until:
            self._adopt()
            self._reset()
            sheets = bench.live_sheets()
            room = sum(bench.job.stocks[bench.sheets[s][0]].area for s in sheets)
            lying = bench.areas[self.best.what[: bench.own, BIN] >= 0].sum()
            waiting = self._tray()
            possible = [k for k in waiting if sheets and lying + bench.areas[k] <= room * 1.000001]
            fresh = [k for k in waiting if bench.items[k].kind not in displaced]
            if fresh and (attempt > 1 or not possible):
                displaced.add(bench.items[fresh[0]].kind)
                yield from self._displace(fresh[0])
                continue
            if not possible:
                return
            k = possible[(attempt // 2) % len(possible)]
            placed = bench.throw(k, sheets)
            if placed and attempt % 2:
                movable = [j for j in range(bench.own) if bench.S.what[j, BIN] >= 0]
                placed = all(bench.throw(j, sheets) for j in movable if bench.S.what[j, MOVABLE])
            attempt += 1
            if not placed:
                yield
                if attempt > 4 * len(possible) + 8:
                    return
                continue
            solved = yield from self._struggle(min(until, self._share() + 0.25), 6)
            if solved and self._take():
                attempt = self.number
                displaced.clear()

    def _displace(self, k: int) -> Iterator[None]:
        """Put a piece of the tray in the place of one of lower priority, if that helps."""
        bench = self.bench
        priority = bench.job.kinds[bench.items[k].kind].piece.priority
        lower = [
            j
            for j in range(bench.own)
            if self.best.what[j, BIN] >= 0
            and bench.S.what[j, MOVABLE]
            and bench.job.kinds[bench.items[j].kind].piece.priority < priority
        ]
        lower.sort(key=lambda j: (abs(bench.areas[j] - 1.1 * bench.areas[k]), j))
        for j in lower[:3]:
            self._reset()
            sheet = int(self.best.what[j, BIN])
            bench.load(self.best)
            x, y = float(self.best.where[j, 0]), float(self.best.where[j, 1])
            take_out(bench.S, j)
            bench.put(k, int(bench.S.what[k, 0]), sheet, x, y)
            if not bench.clamp(k):
                continue
            solved = yield from self._struggle(self._share() + 0.05, 2)
            if solved and self._take():
                return

    def _struggle(self, until: float, tries: int, *, heed: bool = False) -> Steps:
        """Separate; out of a dead end go on from a pool of the best failures, two pieces
        swapped. Yields between slices; returns whether it is solved.

        until: share of the budget at which to give up. heed: give up if the other worker has
        found better sheets meanwhile.
        """
        bench = self.bench
        pool: list[Snapshot] = []
        for _ in range(tries):
            for status in bench.run():
                yield
                if status == SOLVED:
                    return True
                if self._share() > until or (heed and self._beaten()):
                    return False
            pool.append(bench.snapshot())
            pool.sort(key=lambda one: one.loss)
            del pool[POOL:]
            at = min(int(abs(bench.rng.normal()) * len(pool) / 3), len(pool) - 1)
            bench.load(pool[at])
            bench.swap_two_large()
        return False

    def _reductions(self) -> list[tuple[float, int, int | None]]:
        """Sheets to do without, or to change for a cheaper one: (density after, which, for)."""
        bench = self.bench
        live = [s for s in range(len(bench.sheets)) if self.best.live[s]]
        used = [s for s in live if bool((self.best.what[: bench.own, BIN] == s).any())]
        area = bench.areas[self.best.what[: bench.own, BIN] >= 0].sum()
        rooms = {s: bench.job.stocks[bench.sheets[s][0]].area for s in range(len(bench.sheets))}
        total = sum(rooms[s] for s in used)
        found: list[tuple[float, int, int | None]] = []
        for sheet in used:
            if bench.holds_fixed(sheet):
                continue
            left = total - rooms[sheet]
            if left > 0 and len(used) > self.control.sheet_bound:
                found.append((area / left, sheet, None))
            for other in range(len(bench.sheets)):
                if other not in used and bench.costs[other] < bench.costs[sheet] * (1 - 1e-9):
                    left = total - rooms[sheet] + rooms[other]
                    found.append((area / left if left else 9.0, sheet, other))
        fill = {
            s: bench.areas[self.best.what[: bench.own, BIN] == s].sum() / rooms[s] for s in used
        }
        found = [one for one in found if one[0] <= 1.0 + 1e-9]
        found.sort(key=lambda one: (round(one[0], 3), fill[one[1]], one[1]))
        return found

    def _save_sheets(self) -> Iterator[None]:
        failed: set[tuple[int, int | None, float]] = set()
        rounds = 0
        scatter = False
        hopeless = 0
        while True:
            self._adopt()
            self._reset()
            cost = self.key[1]
            chances = [one for one in self._reductions() if (one[1], one[2], cost) not in failed]
            if not chances and not failed:
                return
            if not chances:
                # All have failed once: again, with every piece thrown anew.
                failed.clear()
                scatter = True
                continue
            tight = chances[0][0] > 0.93
            if self._share() > (0.4 if tight else 0.6):
                return
            pick = min(self.number * (rounds % 2), len(chances) - 1)
            rounds += 1
            _, sheet, other = chances[pick]
            bench = self.bench
            bench.S.live[sheet] = 0
            if other is not None:
                bench.S.live[other] = 1
            moved = bench.on(sheet)
            if scatter:
                moved += [k for s in bench.live_sheets() for k in bench.on(s)]
            moved = [k for k in moved if bench.S.what[k, MOVABLE]]
            if not all(bench.throw(k, bench.live_sheets()) for k in moved):
                failed.add((sheet, other, cost))
                hopeless += 1
                if hopeless > _HOPELESS:
                    return
                continue
            solved = yield from self._struggle(self._share() + 0.2, 12, heed=True)
            if not (solved and self._take()) and not self._beaten():
                failed.add((sheet, other, cost))

    def _beaten(self) -> bool:
        incoming = self.control.incoming
        return incoming is not None and incoming[0][:2] < self.key[:2]

    def _last_sheet(self) -> int | None:
        """The sheet with the shortest used length that can still be shortened."""
        bench = self.bench
        used = [s for s in bench.live_sheets() if bench.on(s)]
        return min(used, key=lambda s: (bench.length(s), s)) if used else None

    def _shorten(self) -> Iterator[None]:
        """Cut stretches out of the last sheet's room and separate again."""
        self._shortening = True
        bench = self.bench
        step, fine, hopeless, dry = STEP_FIRST, False, 0, 0
        pressed = -1.0  # the length from which small steps gained nothing more
        while True:
            self._adopt()
            self._reset()
            last = self._last_sheet()
            if last is None:
                return
            length = bench.length(last)
            bound = self.control.length_bound if len(bench.live_sheets()) == 1 else 0.0
            floor = max((self._fixed_reach(last), bound))
            if length <= floor * (1 + _NO_GAIN):
                return
            late = self._share() > EXPLORE_UNTIL
            if fine and dry >= DRY:
                fine, step, pressed = False, EXPLORE_LEAST, length
            elif late and not fine and length != pressed:
                fine, step, dry = True, FINE_FIRST, 0
            small = fine or (self.number > 0 and bench.evals > SMALL_STEPS_AFTER)
            least = FINE_LEAST if small else EXPLORE_LEAST
            step = max(step, least)
            cut = min(step * length, length - floor)
            bench.S.room[last, 2] = bench.S.room[last, 0] + length
            if not bench.cut_out(last, cut):
                # A piece fits nowhere any more; a shorter cut may do, but not for ever.
                step *= 0.5
                hopeless += 1
                if hopeless > _HOPELESS:
                    if fine:
                        return
                    fine, step, dry, hopeless = True, FINE_FIRST, 0, 0
                yield
                continue
            hopeless = 0
            persist = step == least and not small
            tries = TRIES_AT_LEAST if persist else FAILURES_BEFORE_SMALLER
            solved = yield from self._struggle(9.0 if late else EXPLORE_UNTIL, 1 if fine else tries)
            if solved and self._take():
                step, dry = min(step * 1.5, STEP_MOST), 0
            else:
                dry += step == least
                step *= 0.6 if fine else 0.5

    def _fixed_reach(self, sheet: int) -> float:
        bench = self.bench
        S, T = bench.S, bench.T
        reach = [
            S.where[k, 0] + T.pose[S.what[k, 0], 6] - S.room[sheet, 0]
            for k in bench.on(sheet)
            if not S.what[k, MOVABLE]
        ]
        return float(max(reach, default=0.0))


def less(one: Key, two: Key) -> bool:
    """True if one is better by more than rounding."""
    if one[0] != two[0]:
        return one[0] < two[0]
    if abs(one[1] - two[1]) > 1e-9 * max(abs(one[1]), abs(two[1])):
        return one[1] < two[1]
    if one[2] != two[2]:
        return one[2] < two[2]
    return one[3] < two[3] * (1 - _NO_GAIN)
