"""Fingers on a touch screen: one drags as the mouse does, two move and zoom the view."""

from __future__ import annotations

import sys
from collections.abc import Iterator

import pytest
from PySide6.QtCore import QPoint, QPointF
from PySide6.QtGui import QPointingDevice
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication

from app.stages.sheets import SheetsStage
from core.geometry import Motion
from tests.app.floor import A, B, Make, at, motion, spot


@pytest.fixture(scope="module")
def screen(qapp) -> Iterator[QPointingDevice]:
    yield QTest.createTouchDevice()


@pytest.fixture
def stage(make_active_sheets: Make) -> SheetsStage:
    return make_active_sheets()


class Hand:
    """Fingers by number on the viewport of a stage."""

    def __init__(self, stage: SheetsStage, screen: QPointingDevice) -> None:
        self._port, self._screen = stage.canvas.view.viewport(), screen

    def do(self, **fingers: QPoint) -> None:
        """press1=…, move0=…, lift0=…, rest1=…: all at once."""
        sequence = QTest.touchEvent(self._port, self._screen, False)
        for word, place in fingers.items():
            kind, number = word[:-1], int(word[-1])
            if kind == "press":
                sequence.press(number, place, self._port)
            elif kind == "move":
                sequence.move(number, place, self._port)
            elif kind == "lift":
                sequence.release(number, place, self._port)
            else:
                sequence.stationary(number)
        sequence.commit()


@pytest.fixture
def hand(stage: SheetsStage, screen: QPointingDevice) -> Hand:
    return Hand(stage, screen)


def test_one_finger_drags_a_piece(stage: SheetsStage, hand: Hand) -> None:
    start, end = spot(stage, B), spot(stage, B) + QPoint(80, -60)
    hand.do(press0=start)
    for share in (0.3, 0.7, 1.0):
        hand.do(move0=start + (end - start) * share)
    hand.do(lift0=end)
    assert motion(stage, B).x_mm == pytest.approx(618 + stage.canvas.mm(80), abs=stage.canvas.mm(2))
    assert stage.document.undo_text == "Move Shelf · 2"
    assert stage.hand.selected == [B]
    # At once again from there: a drag is no tap, so this is no double tap either.
    hand.do(press0=end)
    hand.do(move0=end + QPoint(0, -40))
    assert stage.hand.busy
    hand.do(lift0=end + QPoint(0, -40))


def test_two_fingers_move_and_zoom_the_view_about_the_place_between_them(
    stage: SheetsStage, hand: Hand
) -> None:
    canvas = stage.canvas
    one, other = QPoint(300, 300), QPoint(400, 300)
    held, scale = canvas.to_mm(QPointF(350, 300)), canvas.px_per_mm
    hand.do(press0=one, press1=other)
    hand.do(move0=one + QPoint(20, 40), move1=other + QPoint(20, 40))
    assert canvas.px_per_mm == pytest.approx(scale)
    assert canvas.to_mm(QPointF(370, 340)) == pytest.approx(held, abs=canvas.mm(1.5))
    hand.do(move0=one + QPoint(-30, 40), move1=other + QPoint(70, 40))
    assert canvas.px_per_mm == pytest.approx(2 * scale)
    assert canvas.to_mm(QPointF(370, 340)) == pytest.approx(held, abs=canvas.mm(3))
    hand.do(lift0=one + QPoint(-30, 40), rest1=other)
    before = canvas.to_px(0, 0)
    hand.do(move1=other + QPoint(5, 90))
    hand.do(lift1=other + QPoint(5, 90))
    assert canvas.to_px(0, 0) == before, "the one that is left moves nothing"
    assert not stage.document.dirty


def test_a_third_finger_that_takes_the_place_of_one_of_two_does_not_throw_the_view(
    stage: SheetsStage, hand: Hand
) -> None:
    one, other, third = QPoint(300, 300), QPoint(400, 300), QPoint(700, 500)
    hand.do(press0=one, press1=other)
    hand.do(move0=one, move1=other, press2=third)
    before, scale = stage.canvas.to_px(0, 0), stage.canvas.px_per_mm
    hand.do(lift0=one, move1=other, move2=third)
    hand.do(move1=other + QPoint(3, 0), move2=third + QPoint(3, 0))
    assert stage.canvas.px_per_mm == pytest.approx(scale)
    moved = stage.canvas.to_px(0, 0) - before
    assert moved.manhattanLength() < 8
    hand.do(lift1=other, lift2=third)


def test_a_second_finger_leaves_the_piece_in_hand_where_it_was(
    stage: SheetsStage, hand: Hand
) -> None:
    start = spot(stage, B)
    hand.do(press0=start)
    hand.do(move0=start + QPoint(60, -60))
    assert stage.hand.busy
    hand.do(rest0=start, press1=start + QPoint(150, 0))
    assert not stage.hand.busy
    hand.do(lift0=start, lift1=start + QPoint(150, 0))
    assert motion(stage, B) == Motion(618, 10)
    assert not stage.document.dirty


def test_a_fault_while_fingers_are_down_is_told_and_does_not_reach_qt(
    stage: SheetsStage, hand: Hand, monkeypatch: pytest.MonkeyPatch
) -> None:
    def fault() -> bool:
        raise KeyError("shelf")

    told: list[type] = []
    start = spot(stage, B)
    hand.do(press0=start)
    hand.do(move0=start + QPoint(60, -60))
    with monkeypatch.context() as broken:
        broken.setattr(stage.hand, "cancel", fault)
        broken.setattr(sys, "excepthook", lambda kind, *_: told.append(kind))
        hand.do(move0=start + QPoint(60, -60), press1=start + QPoint(150, 0))
    assert told == [KeyError]
    stage.hand.cancel()
    hand.do(lift0=start, lift1=start + QPoint(150, 0))


def test_a_tap_selects_a_double_tap_comes_close_and_a_tap_beside_clears(
    stage: SheetsStage, hand: Hand
) -> None:
    usual = QApplication.doubleClickInterval()
    QApplication.setDoubleClickInterval(10_000)  # on a busy machine too
    try:
        taps(stage, hand)
    finally:
        QApplication.setDoubleClickInterval(usual)


def taps(stage: SheetsStage, hand: Hand) -> None:
    whole, place = stage.canvas.px_per_mm, spot(stage, A)
    for _ in range(2):
        hand.do(press0=place)
        hand.do(lift0=place)
    assert stage.hand.selected == [A]
    assert stage.canvas.px_per_mm > 1.3 * whole
    stage.canvas.fit_now()
    other = spot(stage, B)
    hand.do(press0=other)
    hand.do(rest0=other, press1=other + QPoint(90, 0))
    hand.do(lift0=other, lift1=other + QPoint(90, 0))
    assert stage.hand.selected == [A], "two fingers select nothing"
    beside = at(stage, ("full", 1), 1500, 900)
    hand.do(press0=beside)
    hand.do(lift0=beside)
    assert stage.hand.selected == []
