"""Two workers at once, in rounds: after each round the better one's find goes to the other.

Rounds are counted in evaluations, not in time, so a budget of steps gives the same layout on
any machine; seconds only decide when to stop.
"""

from __future__ import annotations

import logging
import os
import time
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import Future, ThreadPoolExecutor, wait

from core.nesting import kernels
from core.nesting.bench import Bench, seed_of
from core.nesting.construct import Arrangement, Item, next_copy
from core.nesting.improve import Control, Worker, less
from core.nesting.prepare import Job
from core.nesting.tables import Book

WORKERS = 2
ROUND = 400_000  # evaluations of one worker between two exchanges
_POLL_S = 0.02
_SHOW_S = 0.35
_SPARE_SHEETS = 3
_IDLE_MOST = 200  # slices in a row that search nothing
_log = logging.getLogger(__name__)

Show = Callable[[float, Arrangement, int], None]


def improve(
    job: Job,
    book: Book,
    items: Sequence[Item],
    made: Arrangement,
    *,
    seed: int,
    steps: int | None,
    until: float | None,
    bound: int,
    length_bound: float,
    taken: Sequence[tuple[int, int]],
    stop: Callable[[], bool] | None,
    show: Show | None,
) -> tuple[Arrangement, int]:
    """The best arrangement found from a valid one, and the evaluations spent.

    steps: evaluations of both workers together, or None; until: time.monotonic() to stop at,
    or None; one of them is given. taken: sheets in use that take no part. show: called about
    thrice a second with the part done, the best arrangement if it is new, and the evaluations.
    """
    begin = time.monotonic()
    own = None if steps is None else steps / WORKERS

    def share(evals: float) -> float:
        by_steps = evals / own if own else 0.0
        if until is None:
            return by_steps
        return max(by_steps, (time.monotonic() - begin) / max(until - begin, 1e-3))

    spare = _spare(job, Arrangement([*made.sheets, *taken], []))
    workers: list[Worker] = []
    controls: list[Control] = []
    for number in range(WORKERS):
        bench = Bench(job, book, items, made, seed_of(seed, number), spare)
        control = Control(share, bound, length_bound)
        controls.append(control)
        workers.append(Worker(bench, control, number))
    runs = [worker.steps() for worker in workers]
    halted = [False]
    shown = best = workers[0].key, workers[0].best
    start_key = best[0]
    round_end = 0.0
    last_show = begin
    with ThreadPoolExecutor(WORKERS) as pool:
        while not halted[0]:
            round_end = round_end + ROUND if own is None else min(round_end + ROUND, own)
            futures = [
                pool.submit(_advance, run, worker, round_end, until, halted)
                for run, worker in zip(runs, workers, strict=True)
            ]
            while True:
                if stop is not None and stop():
                    halted[0] = True
                pending = wait(futures, timeout=_POLL_S).not_done
                now = time.monotonic()
                if show is not None and now - last_show > _SHOW_S:
                    last_show = now
                    best = _best(controls, best)
                    evals = int(sum(worker.bench.evals for worker in workers))
                    part = min(share(evals / WORKERS), 1.0)
                    if less(best[0], shown[0]):
                        shown = best
                        show(part, workers[0].bench.arrangement(best[1], made), evals)
                if not pending:
                    break
            _raise(futures)
            best = _best(controls, best)
            for control in controls:
                if control.best is not None and less(best[0], control.best[0]):
                    control.incoming = best
            out_of_time = until is not None and time.monotonic() >= until
            if out_of_time or (own is not None and round_end >= own):
                break
            if all(control.done for control in controls):
                break
    evals = int(sum(worker.bench.evals for worker in workers))
    if not less(best[0], start_key):
        return made, evals
    return workers[0].bench.arrangement(best[1], made), evals


def _advance(
    run: Iterator[None], worker: Worker, end: float, until: float | None, halted: list[bool]
) -> None:
    before, idle = worker.bench.evals, 0
    while before < end and not halted[0] and not worker.control.done:
        if until is not None and time.monotonic() >= until:
            return
        next(run, None)
        now = worker.bench.evals
        idle = idle + 1 if now == before else 0
        before = now
        if idle > _IDLE_MOST:
            # Nothing is left that needs a search: without this a step budget is never spent.
            worker.control.done = True


def _best(controls: Sequence[Control], best):  # type: ignore[no-untyped-def]
    for control in controls:
        if control.best is not None and less(control.best[0], best[0]):
            best = control.best
    return best


def _raise(futures: Sequence[Future[None]]) -> None:
    for future in futures:
        future.result()


def _spare(job: Job, made: Arrangement) -> list[tuple[int, int]]:
    """Unused sheets cheaper than one in use: candidates to change it for."""
    if not made.sheets:
        return []
    dearest = max(job.stocks[stock].cost for stock, _ in made.sheets)
    found = []
    for stock in sorted(range(len(job.stocks)), key=lambda s: -job.stocks[s].area):
        copy = next_copy(job, made, stock)
        if copy is not None and job.stocks[stock].cost < dearest * (1 - 1e-9):
            found.append((stock, copy))
    return found[:_SPARE_SHEETS]


def compiled_before() -> bool:
    """True if the kernels need not be compiled: loaded already, or cached on disk."""
    if kernels.separate.signatures:
        return True
    try:
        folder = kernels.separate._cache.cache_path
        return any(name.startswith("kernels.separate") for name in os.listdir(folder))
    except (AttributeError, OSError):
        return False
