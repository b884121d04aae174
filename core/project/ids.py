"""Names and ids that are not taken yet."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator
from itertools import count


def free_ids(prefix: str, taken: Iterable[str]) -> Iterator[str]:
    """Ids that are free, the lowest number first, each once.

    >>> ids = free_ids("p", ["p1", "p3"])
    >>> next(ids), next(ids)
    ('p2', 'p4')
    """
    names = set(taken)
    return (name for number in count(1) if (name := f"{prefix}{number}") not in names)


def free_name(wanted: str, taken: Collection[str], *, joint: str = "-") -> str:
    """wanted, or wanted with the first number from 2 that is not taken behind ``joint``.

    >>> free_name("shelf", {"shelf", "shelf-2"})
    'shelf-3'
    """
    if wanted not in taken:
        return wanted
    return next(name for n in count(2) if (name := f"{wanted}{joint}{n}") not in taken)
