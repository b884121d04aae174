"""Garbage: collected by the window's timer, set aside where it takes long, seen again at rest."""

from __future__ import annotations

import gc
import linecache
import weakref
from collections.abc import Callable, Iterator

import pytest
from PySide6.QtCore import Qt
from PySide6.QtGui import QGuiApplication

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
    assert gc.get_freeze_count() > 0  # what the start brought
    made.release()
    assert gc.isenabled() and gc.get_freeze_count() == 0


def test_a_knot_goes_with_a_full_collection(collector: Collector) -> None:
    knot = Knot()
    gone = weakref.ref(knot)
    del knot
    collector.collect_all()
    assert gone() is None


@pytest.fixture
def resting(monkeypatch: pytest.MonkeyPatch) -> Callable[[], None]:
    """Let the pointer rest from now on, in a window that somebody works in."""

    def rest() -> None:
        monkeypatch.setattr(tidy, "_RESTED_S", -1.0)
        monkeypatch.setattr(tidy, "_REST_EVERY_S", -1.0)

    active = Qt.ApplicationState.ApplicationActive
    monkeypatch.setattr(QGuiApplication, "applicationState", staticmethod(lambda: active))
    return rest


def set_aside(collector: Collector, monkeypatch: pytest.MonkeyPatch) -> weakref.ref[Knot]:
    """A knot that nothing holds, set aside while something did."""
    with monkeypatch.context() as patch:
        patch.setattr(tidy, "_LONG_S", -1.0)  # every collection counts as long
        knot = Knot()
        collector.collect_all()
    return weakref.ref(knot)


def test_what_was_set_aside_is_known_again_at_rest_once_it_has_grown(
    collector: Collector, monkeypatch: pytest.MonkeyPatch, resting: Callable[[], None]
) -> None:
    gone = set_aside(collector, monkeypatch)
    collector.collect_all()
    assert gone() is not None  # set aside: not looked at
    resting()
    collector.collect_if_due()
    assert gone() is not None  # too little to be worth it
    more = [Knot() for _ in range(10)]
    set_aside(collector, monkeypatch)
    monkeypatch.setattr(tidy, "_GROWN_LEAST", 4)
    monkeypatch.setattr(tidy, "_GROWN_SHARE", 0.0)
    collector.collect_if_due()
    assert gone() is None and len(more) == 10
    assert not collector._has_grown()


def test_half_as_much_is_worth_it_while_the_maker_works_in_another_window(
    collector: Collector, monkeypatch: pytest.MonkeyPatch, resting: Callable[[], None]
) -> None:
    gone = set_aside(collector, monkeypatch)
    resting()
    grown = gc.get_freeze_count() - collector._known
    assert grown > 2
    monkeypatch.setattr(tidy, "_GROWN_SHARE", 0.0)
    monkeypatch.setattr(tidy, "_GROWN_LEAST", grown - 1)
    collector.collect_if_due()
    assert gone() is not None
    away = Qt.ApplicationState.ApplicationInactive
    monkeypatch.setattr(QGuiApplication, "applicationState", staticmethod(lambda: away))
    collector.collect_if_due()
    assert gone() is None


def test_a_knot_that_was_not_set_aside_goes_at_every_rest(
    collector: Collector, resting: Callable[[], None]
) -> None:
    knot = Knot()
    gone = weakref.ref(knot)
    del knot
    resting()
    collector.collect_if_due()
    assert gone() is None


def test_lines_of_source_files_are_not_kept(
    collector: Collector, resting: Callable[[], None]
) -> None:
    assert linecache.getlines(tidy.__file__)
    resting()
    collector.collect_if_due()
    assert not linecache.cache


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
    monkeypatch.setattr(tidy, "_REST_EVERY_S", -1.0)
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
