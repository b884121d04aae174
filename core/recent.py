"""Results kept for as long as somebody still comes back to them.

A cache with a fixed number of places is too small for a large project or, filled with a small
one's past, holds memory that nothing will ask for again. What is kept here follows the work: a
round is one pass over the project, and what none of the last rounds used is let go.
"""

from __future__ import annotations

import threading
from collections.abc import Callable, Hashable
from typing import Generic, TypeVar

Result = TypeVar("Result")


class Recent(Generic[Result]):
    """A pure function of hashable values that remembers what it said in the last few rounds.

    rounds: how many passes a result outlives the last one that used it (undo and a second
    thread at work on another state come back to it). May be called from any thread; two that
    ask the same at once both work it out.
    """

    def __init__(self, function: Callable[..., Result], *, rounds: int) -> None:
        self.function = function
        self._rounds = rounds
        self._now = 0
        self._kept: dict[tuple[Hashable, ...], tuple[Result, int]] = {}
        self._lock = threading.Lock()

    def __call__(self, *values: Hashable) -> Result:
        with self._lock:
            found = self._kept.get(values)
            if found is not None:
                self._kept[values] = (found[0], self._now)
                return found[0]
        result = self.function(*values)
        with self._lock:
            self._kept[values] = (result, self._now)
        return result

    def __len__(self) -> int:
        return len(self._kept)

    def next_round(self) -> None:
        """A pass over the project is complete: let go of what the last ones did not use."""
        with self._lock:
            self._now += 1
            oldest = self._now - self._rounds
            for values in [v for v, (_, used) in self._kept.items() if used < oldest]:
                del self._kept[values]

    def forget(self) -> None:
        """Let go of everything."""
        with self._lock:
            self._kept.clear()
