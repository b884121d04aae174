"""Garbage: collected by the window's timer, set aside where it takes long, seen again at rest."""

from __future__ import annotations

import gc
import weakref
from collections.abc import Callable, Iterator

import pytest

from app import heap, tidy
from app.tidy import Collector


class Knot:
    """An object that holds itself."""

    def __init__(self) -> None:
        self.me = self


@pytest.fixture
def collector(qapp: object) -> Iterator[Collector]:
    made = Collector()
    yield made
    made.release()


def test_the_automatic_collector_rests_meanwhile_and_comes_back(qapp: object) -> None:
    made = Collector()
    assert not gc.isenabled()
    made.release()
    assert gc.isenabled() and gc.get_freeze_count() == 0


def test_a_knot_goes_with_a_full_collection(collector: Collector) -> None:
    knot = Knot()
    gone = weakref.ref(knot)
    del knot
    collector.collect_all()
    assert gone() is None


def test_what_was_set_aside_is_looked_at_again_while_the_pointer_rests(
    collector: Collector, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(tidy, "_LONG_S", -1.0)  # every collection counts as long
    knot = Knot()
    gone = weakref.ref(knot)
    collector.collect_all()
    assert gc.get_freeze_count() > 0
    del knot
    collector.collect_all()
    assert gone() is not None  # set aside: not looked at
    monkeypatch.setattr(tidy, "_RESTED_S", -1.0)
    monkeypatch.setattr(tidy, "_THAW_EVERY_S", -1.0)
    collector.collect_if_due()
    assert gone() is None


def test_free_memory_goes_back_to_the_system_while_the_pointer_rests(
    collector: Collector, monkeypatch: pytest.MonkeyPatch
) -> None:
    asked: list[tuple[str, tuple[int, ...]]] = []

    def function(name: str) -> Callable[..., None]:
        return lambda *values: asked.append((name, values))

    monkeypatch.setattr(heap, "_c_function", function)
    collector.collect_if_due()
    assert not asked  # somebody may be drawing
    monkeypatch.setattr(tidy, "_RESTED_S", -1.0)
    monkeypatch.setattr(tidy, "_THAW_EVERY_S", -1.0)
    collector.collect_if_due()
    assert asked == [("malloc_trim", (0,))]


def test_a_c_library_that_cannot_be_told_is_left_as_it_is(monkeypatch: pytest.MonkeyPatch) -> None:
    def no_library(_name: object) -> object:
        raise OSError

    heap.settle_memory()
    heap.give_back()
    monkeypatch.setattr(heap.ctypes, "CDLL", no_library)
    assert heap._c_function("mallopt") is None
    heap.settle_memory()
    heap.give_back()
