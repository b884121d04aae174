"""What is freed finds its way back to the system, in the window and in the processes beside it.

The C library keeps a heap for every thread and fills them unevenly; over an hour of jobs on
threads of their own they come to hold half as much again as is in use. Where that library can
be told, few heaps are used, large blocks (pictures of pages, tables) go straight back, and the
rest is handed back when nothing is going on. No Qt: the processes that nest and read have none.
"""

from __future__ import annotations

import ctypes
from collections.abc import Callable

# Options of mallopt in the GNU C library, and what they are set to.
_ARENA_MAX, _MMAP_THRESHOLD, _TRIM_THRESHOLD = -8, -3, -1
_HEAPS = 2
_LARGE_BYTES = 1 << 20
_SPARE_BYTES = 8 << 20


def settle_memory() -> None:
    """Have the C library keep few heaps and hand large blocks straight back, where it can."""
    mallopt = _c_function("mallopt")
    if mallopt is not None:
        mallopt(_ARENA_MAX, _HEAPS)
        mallopt(_MMAP_THRESHOLD, _LARGE_BYTES)
        mallopt(_TRIM_THRESHOLD, _SPARE_BYTES)


def give_back() -> None:
    """Hand memory that is free within the heaps back to the system, where that can be asked."""
    trim = _c_function("malloc_trim")
    if trim is not None:
        trim(0)


def _c_function(name: str) -> Callable[..., int] | None:
    """A function of the C library by name; None where there is no such library or function."""
    try:
        found: Callable[..., int] = getattr(ctypes.CDLL(None), name)
    except (AttributeError, OSError, TypeError):
        return None
    return found
