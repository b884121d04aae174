"""In which order to cut so that a fence is set as few times as possible."""

from __future__ import annotations

from collections.abc import Sequence

_MOST_WORK = 200_000  # states times cuts², looked at for the fewest settings; then greedy is kept

Run = tuple[float, tuple[int, ...]]


def fewest_settings(options: Sequence[Sequence[float]], needs: Sequence[int]) -> list[Run]:
    """Order cuts into runs of one fence setting each.

    options: for every cut the settings it can be made with, at least one. needs: the cut that
    must come before it (it makes the piece), or −1. Returns runs of (setting, cuts in order).
    The fewest runs on small lists (all orders are tried), few on long ones.
    >>> fewest_settings([[10.0], [20.0], [10.0]], [-1, 0, -1])
    [(10.0, (0, 2)), (20.0, (1,))]
    """
    search = _Search(options, needs)
    everything = frozenset(range(len(options)))
    best = search.greedy(frozenset())
    least = _least(options)
    if len(best) > least:
        for depth in range(least, len(best)):
            search.dead = set()
            found = search.within(frozenset(), everything, depth)
            if found is not None:
                return found
            if search.states > search.most_states:
                break
    return best


def _least(options: Sequence[Sequence[float]]) -> int:
    """A lower bound: settings that some cut cannot do without."""
    return len({option[0] for option in options if len(option) == 1}) or min(1, len(options))


class _Search:
    def __init__(self, options: Sequence[Sequence[float]], needs: Sequence[int]) -> None:
        self.options = [frozenset(option) for option in options]
        self.needs = needs
        self.states = 0
        self.most_states = max(20, min(4000, _MOST_WORK // max(1, len(options)) ** 2))
        self.dead: set[tuple[frozenset[int], int]] = set()

    def _run(self, done: frozenset[int], setting: float) -> tuple[int, ...]:
        """All cuts that this setting allows one after the other."""
        made = set(done)
        order: list[int] = []
        more = True
        while more:
            more = False
            for cut, option in enumerate(self.options):
                ready = self.needs[cut] < 0 or self.needs[cut] in made
                if cut not in made and ready and setting in option:
                    made.add(cut)
                    order.append(cut)
                    more = True
        return tuple(order)

    def _choices(self, done: frozenset[int]) -> list[Run]:
        """Settings that do something now: those that finish all their cuts, then the largest."""
        settings = sorted(
            {
                setting
                for cut, option in enumerate(self.options)
                if cut not in done and (self.needs[cut] < 0 or self.needs[cut] in done)
                for setting in option
            }
        )
        runs = [(setting, self._run(done, setting)) for setting in settings]

        def rank(run: Run) -> tuple[bool, int, float]:
            left = sum(
                cut not in done and run[0] in option for cut, option in enumerate(self.options)
            )
            return (len(run[1]) < left, -len(run[1]), -run[0])

        return sorted(runs, key=rank)

    def greedy(self, done: frozenset[int]) -> list[Run]:
        """The most promising setting each time."""
        runs: list[Run] = []
        while len(done) < len(self.options):
            setting, cuts = self._choices(done)[0]
            runs.append((setting, cuts))
            done |= frozenset(cuts)
        return runs

    def within(
        self, done: frozenset[int], everything: frozenset[int], depth: int
    ) -> list[Run] | None:
        """Runs that finish everything with at most depth settings, or None."""
        if done == everything:
            return []
        if depth == 0 or (done, depth) in self.dead or self.states > self.most_states:
            return None
        self.states += 1
        if _least([sorted(self.options[cut]) for cut in everything - done]) <= depth:
            for setting, cuts in self._choices(done):
                rest = self.within(done | frozenset(cuts), everything, depth - 1)
                if rest is not None:
                    return [(setting, cuts), *rest]
        self.dead.add((done, depth))
        return None
