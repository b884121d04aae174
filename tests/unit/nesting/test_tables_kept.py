"""No-fit polygons are kept from call to call within so much memory, the latest used longest."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import pytest

from core.nesting import tables

Kept = dict[tuple[bytes, bytes, float], object]


@pytest.fixture
def empty_cache(
    monkeypatch: pytest.MonkeyPatch,
) -> Iterator[Kept]:
    kept: Kept = {}
    monkeypatch.setattr(tables, "_cache", kept)
    yield kept


def square(side: float) -> tuple[np.ndarray, np.ndarray]:
    ring = np.array([[0.0, 0.0], [side, 0.0], [side, side], [0.0, side]])
    return tables.packed([ring])


def job(name: int, lean: float = 0.0) -> tuple[bytes, bytes, float, object, object]:
    return (b"%d" % name, b"other", lean, square(10.0 + name), square(30.0))


def test_what_was_not_asked_for_longest_is_forgotten_first(
    empty_cache: Kept, monkeypatch: pytest.MonkeyPatch
) -> None:
    first = tables._build_all([job(k) for k in range(4)], None)
    assert first is not None and len(empty_cache) == 4
    size = sum(np.asarray(part).nbytes for part in first[0])
    tables._build_all([job(0)], None)  # used again: now the last to be forgotten
    monkeypatch.setattr(tables, "_CACHE_MOST_BYTES", int(2.5 * size))
    again = tables._build_all([job(9)], None)
    assert [key[0] for key in empty_cache] == [b"0", b"9"]
    assert again is not None


def test_a_call_gets_all_it_asked_for_even_if_little_is_kept(
    empty_cache: Kept, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(tables, "_CACHE_MOST_BYTES", 0)
    built = tables._build_all([job(k) for k in range(5)], None)
    assert built is not None and len(built) == 5
    assert not empty_cache
