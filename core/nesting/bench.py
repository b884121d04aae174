"""A state of the kernels for some items on some sheets, with the moves the drivers make."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from core.nesting import kernels
from core.nesting.construct import Arrangement, Item, Spot
from core.nesting.kernels import BIN, EVALS, KIND, LOSS, MOVABLE, POSE, SIZE, SOLVED, STUCK, X, Y
from core.nesting.prepare import Job, Pose
from core.nesting.tables import Book

SLICE = 20_000  # evaluations between two looks at the clock, some ten milliseconds


@dataclass(slots=True)
class Snapshot:
    """What lies where; loss: by how much pieces overlap, 0 for a valid arrangement."""

    loss: float
    where: Any
    what: Any
    live: Any


class Bench:
    """All items of a job on the sheets of an arrangement, movable but for the fixed ones.

    Items without a spot lie nowhere (bin −1). spare: further sheets, not in play at first.
    """

    def __init__(
        self,
        job: Job,
        book: Book,
        items: Sequence[Item],
        made: Arrangement,
        seed: int,
        spare: Sequence[tuple[int, int]] = (),
    ) -> None:
        self.job, self.book, self.items = job, book, items
        self.T = book.tables
        self.sheets = [*made.sheets, *spare]
        self.costs = [job.stocks[stock].cost for stock, _ in self.sheets]
        around = [
            (sheet, obstacle)
            for sheet, (stock, _) in enumerate(self.sheets)
            for obstacle in book.obstacles.get(stock, [])
        ]
        self.own = len(items)
        n, b = self.own + len(around), len(self.sheets)
        self.S = kernels.State(
            np.zeros((n, 7)), np.full((n, 5), -1, np.int64), np.zeros((b, n), np.int64),
            np.zeros(b, np.int64), np.zeros((b, n, 4)), np.zeros((b, 4)), np.ones(b, np.int64),
            np.zeros((n, n)), np.zeros((n, n)), np.array([_seeded(seed)], np.uint64), np.zeros(8),
            np.zeros((n, 7)), np.zeros((n, 5), np.int64),
        )  # fmt: skip
        self.S.live[len(made.sheets) :] = 0
        for sheet, (stock, _) in enumerate(self.sheets):
            self.S.room[sheet] = job.stocks[stock].bounds
        self.areas = np.array([job.kinds[item.kind].area for item in items])
        for k, item in enumerate(items):
            self.S.where[k, SIZE] = self.areas[k] ** 0.25
            self.S.what[k, KIND] = item.kind
            self.S.what[k, MOVABLE] = 0 if item.fixed else 1
            self.S.what[k, POSE] = self.T.kind_pose[self.T.kind_start[item.kind]]
            spot = made.spots[k]
            if spot is not None:
                self.put(k, book.row[spot.pose.index], spot.sheet, spot.x, spot.y)
        for k, (sheet, obstacle) in enumerate(around, start=self.own):
            box = self.T.pose[obstacle.pose]
            self.S.where[k, SIZE] = ((box[2] - box[0]) * (box[3] - box[1])) ** 0.25
            self.S.what[k, KIND] = -1
            self.S.what[k, MOVABLE] = 0
            self.put(k, obstacle.pose, sheet, *obstacle.centre)
        self.rng = np.random.default_rng([seed, 77])

    def put(self, k: int, pose: int, sheet: int, x: float, y: float) -> None:
        """Lay piece k there."""
        kernels.put(self.T, self.S, k, pose, sheet, float(x), float(y))

    @property
    def evals(self) -> float:
        """Position evaluations spent so far."""
        return float(self.S.tally[EVALS])

    def snapshot(self) -> Snapshot:
        """What lies where now."""
        S = self.S
        return Snapshot(float(S.tally[LOSS]), S.where.copy(), S.what.copy(), S.live.copy())

    def load(self, shot: Snapshot) -> None:
        """Lay everything as in a snapshot."""
        self.S.live[:] = shot.live
        for k in range(self.own):
            if self.S.what[k, MOVABLE]:
                if shot.what[k, BIN] < 0:
                    kernels.take_out(self.S, k)
                else:
                    what, where = shot.what[k], shot.where[k]
                    self.put(k, int(what[POSE]), int(what[BIN]), where[X], where[Y])

    def arrangement(self, shot: Snapshot, base: Arrangement) -> Arrangement:
        """A snapshot as an arrangement; fixed items keep the very spots of the base."""
        spots: list[Spot | None] = []
        for k, item in enumerate(self.items):
            if item.fixed:
                spots.append(base.spots[k])
            elif shot.what[k, BIN] < 0:
                spots.append(None)
            else:
                pose = self._own_pose(k, int(shot.what[k, POSE]))
                x, y = float(shot.where[k, X]), float(shot.where[k, Y])
                spots.append(Spot(int(shot.what[k, BIN]), pose, x, y))
        return Arrangement(list(self.sheets), spots)

    def _own_pose(self, k: int, row: int) -> Pose:
        number = self.book.pose_of_row[row].index
        for pose in self.book.poses[self.items[k].kind]:
            if pose.index == number:
                return pose
        return self.book.strange[(self.items[k].kind, number)]

    def on(self, sheet: int) -> list[int]:
        """The pieces on a sheet, in ascending order, without what surrounds its room."""
        members = self.S.members[sheet, : self.S.count[sheet]]
        return sorted(int(k) for k in members if k < self.own)

    def holds_fixed(self, sheet: int) -> bool:
        """True if a piece that must not move lies on the sheet."""
        return any(not self.S.what[k, MOVABLE] for k in self.on(sheet))

    def length(self, sheet: int) -> float:
        """How far pieces reach on a sheet, from the left end of its room, mm."""
        S, T = self.S, self.T
        reach = [S.where[k, X] + T.pose[S.what[k, POSE], 6] for k in self.on(sheet)]
        return float(max(reach) - S.room[sheet, 0]) if reach else 0.0

    def full_room(self, sheet: int) -> None:
        """Give a sheet its whole room back."""
        self.S.room[sheet] = self.job.stocks[self.sheets[sheet][0]].bounds

    def _poses(self, k: int) -> Any:
        kind = int(self.S.what[k, KIND])
        return self.T.kind_pose[self.T.kind_start[kind] : self.T.kind_start[kind + 1]]

    def clamp(self, k: int) -> bool:
        """Bring a piece inside its bin, in another pose if need be; False if it fits none."""
        S, T = self.S, self.T
        sheet = int(S.what[k, BIN])
        for one in [int(S.what[k, POSE]), *self.rng.permutation(self._poses(k))]:
            left, right, low, high = kernels.fit_range(T, S, int(one), sheet)
            if left <= right:
                x = min(max(S.where[k, X], left), right)
                y = min(max(S.where[k, Y], low), high)
                self.put(k, int(one), sheet, x, y)
                return True
        return False

    def throw(self, k: int, sheets: Sequence[int]) -> bool:
        """Lay a piece at random on one of some sheets; False if it fits none."""
        S, T = self.S, self.T
        for sheet in self.rng.permutation(np.asarray(sheets, dtype=np.int64)):
            for one in self.rng.permutation(self._poses(k)):
                left, right, low, high = kernels.fit_range(T, S, int(one), int(sheet))
                if left <= right:
                    x, y = self.rng.uniform(left, right), self.rng.uniform(low, high)
                    self.put(k, int(one), int(sheet), x, y)
                    return True
        return False

    def live_sheets(self) -> list[int]:
        """The sheets in play."""
        return [int(s) for s in np.flatnonzero(self.S.live)]

    def swap_two_large(self) -> None:
        """Two of the larger, different pieces change places (a move out of a dead end)."""
        S = self.S
        what = S.what[: self.own]
        movable = np.flatnonzero((what[:, MOVABLE] == 1) & (what[:, BIN] >= 0))
        if len(movable) < 2:
            return
        size = S.where[movable, SIZE]
        large = movable[np.argsort(-size, kind="stable")][: max(len(movable) // 2, 2)]
        a = int(self.rng.choice(large))
        others = [int(k) for k in large if what[k, KIND] != what[a, KIND]]
        b = int(self.rng.choice(others or [int(k) for k in large if k != a]))
        spots = [(int(what[k, BIN]), float(S.where[k, X]), float(S.where[k, Y])) for k in (a, b)]
        for k, (sheet, x, y) in ((a, spots[1]), (b, spots[0])):
            self.put(k, int(what[k, POSE]), sheet, x, y)
            if not self.clamp(k):
                self.throw(k, self.live_sheets())

    def cut_out(self, sheet: int, by_mm: float) -> bool:
        """Shorten a sheet's room by a stretch: pieces right of a random place move left.

        False if a piece then fits nowhere.
        """
        S = self.S
        S.room[sheet, 2] -= by_mm
        at = self.rng.uniform(S.room[sheet, 0], S.room[sheet, 2])
        others = [s for s in self.live_sheets() if s != sheet]
        for k in self.on(sheet):
            if not S.what[k, MOVABLE]:
                continue
            if S.where[k, X] > at:
                self.put(k, int(S.what[k, POSE]), sheet, S.where[k, X] - by_mm, S.where[k, Y])
            if not self.clamp(k) and not (others and self.throw(k, others)):
                return False
        return True

    def run(self) -> Iterator[int]:
        """Separate to the end; yields GOING_ON between slices, then SOLVED or STUCK."""
        kernels.start(self.T, self.S)
        while True:
            status = int(kernels.separate(self.T, self.S, SLICE))
            yield status
            if status in (SOLVED, STUCK):
                return


def _seeded(seed: int) -> int:
    """A well-mixed nonzero 64-bit number from a seed (splitmix64)."""
    mask = 2**64 - 1
    z = (seed * 0x9E3779B97F4A7C15 + 0x9E3779B97F4A7C15) & mask
    z = ((z ^ (z >> 30)) * 0xBF58476D1CE4E5B9) & mask
    z = ((z ^ (z >> 27)) * 0x94D049BB133111EB) & mask
    return (z ^ (z >> 31)) or 1


def seed_of(seed: int, worker: int) -> int:
    """A seed of its own for each worker."""
    return math.floor(abs(seed)) * 2 + worker + (10**9 if seed < 0 else 0)
