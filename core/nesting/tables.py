"""Everything the compiled search looks up, built once per job: poses and no-fit polygons."""

from __future__ import annotations

import math
import threading
from collections.abc import Callable, Iterable, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field
from functools import lru_cache
from typing import Any

import numpy as np
import shapely
from shapely import affinity
from shapely.geometry import box
from shapely.geometry.base import BaseGeometry

from core import tolerances
from core.nesting import nfp
from core.nesting.kernels import Tables
from core.nesting.model import cos_sin
from core.nesting.parts import convex_parts, packed
from core.nesting.prepare import Floats, Ints, Job, Pose, Stock, grow
from core.nesting.simplify import simplify_outward

DEFAULT_TUNE = {
    "uniform": 30.0,
    "local": 15.0,
    "growth": 0.8,
    "decay": 0.95,
    "patience": 60.0,
    "gain": 0.02,
    "spread": 0.25,
}
_VERTICES_EXACT = 40  # outlines with no more are searched as they are
WORK_MOST = 1_500_000.0  # sums of convex parts over all no-fit polygons: some five seconds
_cache: dict[tuple[bytes, bytes, float], Any] = {}  # the longest unused come first
_CACHE_MOST_BYTES = 32 << 20
_cache_lock = threading.Lock()


@dataclass(slots=True)
class Obstacle:
    """A convex or hollow part of what surrounds an irregular room; fixed. centre: mm."""

    pose: int
    centre: tuple[float, float]


@dataclass(slots=True)
class Book:
    """The tables and what they are about.

    row: table row of each pose, by the pose's number. strange: poses of pieces already placed
    that the search itself would not try, by (kind, number).
    """

    tables: Tables
    touch_mm: float
    obstacles: dict[int, list[Obstacle]]
    poses: list[list[Pose]]
    row: dict[int, int] = field(default_factory=dict)
    pose_of_row: list[Pose] = field(default_factory=list)
    strange: dict[tuple[int, int], Pose] = field(default_factory=dict)


def build_book(
    job: Job,
    detail: Detail,
    placed: Sequence[tuple[int, Pose]] = (),
    *,
    only: int | None = None,
    stop: Callable[[], bool] | None = None,
    tune: dict[str, float] | None = None,
) -> Book | None:
    """Tables for the kinds of a job that take part; None if stopped.

    placed: (kind, pose) of pieces that lie somewhere already, whose poses must be known too.
    only: the one kind that will be moved: pairs without it are left out.
    """
    chosen = [
        kind.poses[: detail.turns] if k in detail.kinds else [] for k, kind in enumerate(job.kinds)
    ]
    strange = {
        (kind, pose.index): pose
        for kind, pose in placed
        if all(pose.index != one.index for one in chosen[kind])
    }
    extra = list(strange.values())
    rows: list[Pose] = []
    row: dict[int, int] = {}
    for pose in [p for kind in chosen for p in kind] + extra:
        if pose.index not in row:
            row[pose.index] = len(rows)
            rows.append(pose)
    variants = list(dict.fromkeys(pose.variant for pose in rows))
    shapes = _all_searched(job, variants, detail.simplify_mm, stop)
    bare = any(not stock.plain for stock in job.stocks)
    if shapes is None or (
        bare and _all_searched(job, variants, detail.simplify_mm, stop, raw=True) is None
    ):
        return None
    numbers = np.zeros((len(rows), 10))
    for k, pose in enumerate(rows):
        cos, sin = cos_sin(pose.turn_deg)
        matrix = (cos, -sin, sin, cos, 0, 0)
        turned = affinity.affine_transform(shapes[pose.variant].polygon, matrix)
        numbers[k] = (*turned.bounds, *pose.bounds, cos, sin)
    turn = [pose.turn_deg % 360 for pose in rows]
    variant = [pose.variant for pose in rows]
    moved = None
    if only is not None:
        own = {pose.index for pose in chosen[only]}
        moved = [pose.index in own for pose in rows]
    wanted: dict[tuple[int, int, float], int] = {}
    code = np.full((len(rows), len(rows)), -1, np.int64)
    for a in range(len(rows)):
        for b in range(len(rows)):
            if moved is not None and not (moved[a] or moved[b]):
                continue
            first, second = (a, b) if variant[a] <= variant[b] else (b, a)
            lean = round((turn[second] - turn[first]) % 360, 9) % 360
            key = (variant[first], variant[second], lean)
            number = wanted.setdefault(key, len(wanted))
            code[a, b] = 2 * number + (first != a)
    jobs = [
        (shapes[v].key, shapes[w].key, lean, shapes[v].parts, shapes[w].parts)
        for v, w, lean in wanted
    ]
    obstacles: dict[int, list[Obstacle]] = {}
    numbers, code, jobs = _add_obstacles(job, detail, rows, numbers, code, jobs, obstacles)
    built = _build_all(jobs, stop)
    if built is None:
        return None
    hair = _hair(job)
    values = {**DEFAULT_TUNE, **(tune or {})}
    steer = np.array([
        values["uniform"], values["local"], values["growth"], values["decay"],
        values["patience"], values["gain"], 2.0 * hair, values["spread"],
    ])  # fmt: skip
    kind_start = np.zeros(len(chosen) + 1, np.int64)
    np.cumsum([len(kind) for kind in chosen], out=kind_start[1:])
    kind_pose = np.array([row[p.index] for kind in chosen for p in kind], np.int64)
    tables = _packed_tables(numbers, code, built, kind_start, kind_pose, steer)
    return Book(tables, 2.0 * hair, obstacles, chosen, row, rows, strange)


def _hair(job: Job) -> float:
    return job.rules.spacing_mm / 2 - job.grow_mm


@dataclass(slots=True)
class Searched:
    """An outline as the search sees it, in convex parts; key: equal for equal outlines."""

    polygon: BaseGeometry
    parts: tuple[Floats, Ints]
    key: bytes

    @property
    def count(self) -> int:
        """How many convex parts."""
        return len(self.parts[1]) - 1


def _searched(job: Job, variant: int, simplify_mm: float, *, raw: bool = False) -> Searched:
    """A variant as searched: grown, or raw less a hair; many vertices simplified outwards."""
    found: Searched | None = job.searched.get((variant, simplify_mm, raw))
    if found is None:
        polygon = grow(job.raw_variants[variant], -_hair(job)) if raw else job.variants[variant]
        found = _as_searched(shapely.to_wkb(polygon), simplify_mm)
        job.searched[(variant, simplify_mm, raw)] = found
    return found


def _all_searched(
    job: Job,
    variants: Iterable[int],
    simplify_mm: float,
    stop: Callable[[], bool] | None,
    *,
    raw: bool = False,
) -> dict[int, Searched] | None:
    """Variants as searched; None if stopped, for the first time takes some milliseconds each."""
    found: dict[int, Searched] = {}
    for variant in variants:
        if stop is not None and stop():
            return None
        found[variant] = _searched(job, variant, simplify_mm, raw=raw)
    return found


@lru_cache(maxsize=4096)
def _as_searched(wkb: bytes, simplify_mm: float) -> Searched:
    """A polygon as searched. Kept between calls: one layout nests the same pieces many times."""
    polygon = simple = shapely.from_wkb(wkb)
    if int(shapely.get_num_coordinates(polygon)) > _VERTICES_EXACT:
        simple = simplify_outward(polygon, most_mm=simplify_mm, fewest=16)
        if shapely.get_num_coordinates(simple) > 2 * _VERTICES_EXACT:
            simple = simplify_outward(polygon, most_mm=3 * simplify_mm, fewest=16)
    return Searched(simple, packed(convex_parts(simple)), shapely.to_wkb(simple))


@dataclass(frozen=True, slots=True)
class Detail:
    """How finely a job is searched. kinds: those that take part. simplify_mm: how much larger
    outlines of very many vertices may be searched. turns: poses of each kind at most."""

    kinds: frozenset[int]
    simplify_mm: float
    turns: int


def detail_for(
    job: Job,
    kinds: frozenset[int],
    most_work: float = WORK_MOST,
    stop: Callable[[], bool] | None = None,
) -> Detail | None:
    """The finest detail whose no-fit polygons take no more work than stated; None if none does
    or it was stopped.

    Work is counted in sums of two convex parts, some six microseconds each.
    """
    fine = tolerances.NEST_SIMPLIFY_MM
    for simplify, turns in ((fine, 99), (fine, 8), (fine, 4), (10 * fine, 4), (30 * fine, 4)):
        detail = Detail(kinds, simplify, turns)
        if _work(job, detail, stop) <= most_work:
            return detail
    return None


def _work(job: Job, detail: Detail, stop: Callable[[], bool] | None) -> float:
    """Sums of convex parts to be made; infinite if stopped."""
    turned: dict[int, set[float]] = {}
    for kind in detail.kinds:
        for pose in job.kinds[kind].poses[: detail.turns]:
            turned.setdefault(pose.variant, set()).add(round(pose.turn_deg % 360, 6))
    shapes = _all_searched(job, turned, detail.simplify_mm, stop)
    if shapes is None:
        return math.inf
    size = np.array([shape.count for shape in shapes.values()], float)
    leans = np.array([len(found) for found in turned.values()], float)
    most = np.minimum(np.outer(leans, leans), 2 * np.maximum.outer(leans, leans))
    pairs = np.outer(size, size) * most
    return float((pairs.sum() + np.trace(pairs)) / 2)


def _outside(stock: Stock) -> list[BaseGeometry]:
    """What surrounds an irregular room inside a box a little larger than it."""
    if stock.plain or stock.room.is_empty:
        return []
    left, low, right, high = stock.bounds
    more = 0.05 * max(right - left, high - low) + 1.0
    around = box(left - more, low - more, right + more, high + more).difference(stock.room)
    # The frame itself is kept by the bounds; only what reaches inside them matters.
    inner = around.intersection(box(left, low, right, high))
    near = inner.buffer(min(more / 2, 5.0), join_style="mitre").intersection(around)
    return [part for part in shapely.get_parts(near) if part.area > 0]


def _add_obstacles(
    job: Job,
    detail: Detail,
    rows: list[Pose],
    numbers: Floats,
    code: Any,
    jobs: list[Any],
    obstacles: dict[int, list[Obstacle]],
) -> tuple[Floats, Any, list[Any]]:
    shapes: list[BaseGeometry] = []
    for index, stock in enumerate(job.stocks):
        for part in _outside(stock):
            bounds = part.bounds
            centre = ((bounds[0] + bounds[2]) / 2, (bounds[1] + bounds[3]) / 2)
            obstacles.setdefault(index, []).append(Obstacle(len(rows) + len(shapes), centre))
            shapes.append(affinity.translate(part, -centre[0], -centre[1]))
    if not shapes:
        return numbers, code, jobs
    more = np.zeros((len(shapes), 10))
    total = len(rows) + len(shapes)
    wide = np.full((total, total), -1, np.int64)
    wide[: len(rows), : len(rows)] = code
    for k, shape in enumerate(shapes):
        more[k] = (*shape.bounds, *shape.bounds, 1.0, 0.0)
        own, own_hash = packed(convex_parts(shape)), shapely.to_wkb(shape)
        known: dict[tuple[int, float], int] = {}
        for r, pose in enumerate(rows):
            lean = round(pose.turn_deg % 360, 9)
            key = (pose.variant, lean)
            if key not in known:
                known[key] = len(jobs)
                raw = _searched(job, pose.variant, detail.simplify_mm, raw=True)
                jobs.append((own_hash, raw.key, lean, own, raw.parts))
            wide[len(rows) + k, r] = 2 * known[key]
            wide[r, len(rows) + k] = 2 * known[key] + 1
    return np.vstack([numbers, more]), wide, jobs


def _build_all(jobs: list[Any], stop: Callable[[], bool] | None) -> list[Any] | None:
    """Every no-fit polygon, in two threads; those of earlier calls are kept."""
    built: list[Any] = [None] * len(jobs)

    def work(numbers: range) -> None:
        for k in numbers:
            if stop is not None and stop():
                return
            hash_a, hash_b, lean, a, b = jobs[k]
            key = (hash_a, hash_b, lean)
            found = _cache.get(key)
            if found is None:
                cos, sin = cos_sin(lean)
                found = nfp.build(a[0], a[1], b[0], b[1], cos, sin)
                with _cache_lock:
                    _cache[key] = found
            built[k] = found

    with ThreadPoolExecutor(2) as pool:
        list(pool.map(work, [range(0, len(jobs), 2), range(1, len(jobs), 2)]))
    with _cache_lock:
        for hash_a, hash_b, lean, *_ in jobs:
            key = (hash_a, hash_b, lean)
            if key in _cache:
                _cache[key] = _cache.pop(key)
        _keep_within(_CACHE_MOST_BYTES)
    return None if any(one is None for one in built) else built


def _keep_within(most_bytes: int) -> None:
    """Forget the no-fit polygons that were not asked for longest, down to so much memory."""
    sizes = {key: sum(np.asarray(part).nbytes for part in one) for key, one in _cache.items()}
    total = sum(sizes.values())
    for key, size in sizes.items():
        if total <= most_bytes:
            return
        del _cache[key]
        total -= size


def _packed_tables(
    numbers: Floats, code: Any, built: list[Any], kind_start: Any, kind_pose: Any, steer: Floats
) -> Tables:
    count = len(built)
    frame = np.zeros((count, 6))
    side = np.zeros((count, 4), np.int64)
    for k, (edges, box_, cells_per_side, cells, listed) in enumerate(built):
        frame[k] = box_
        side[k, 0] = cells_per_side
        if k + 1 < count:
            side[k + 1, 1:] = side[k, 1:] + (len(edges), len(cells), len(listed))
    return Tables(
        numbers, code, frame, side,
        np.concatenate([one[0] for one in built]),
        np.concatenate([one[3] for one in built]),
        np.concatenate([one[4] for one in built]),
        kind_start, kind_pose, steer,
    )  # fmt: skip
