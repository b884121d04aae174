"""Pieces on the Sheets stage turned, turned over, nudged, typed into place and lined up."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from PySide6.QtCore import QPoint, QPointF, Qt
from PySide6.QtGui import QWheelEvent
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication
from pytestqt.qtbot import QtBot

from app.stages.sheets_motions import mirrored_about, turned_about
from core.geometry import Motion
from core.project.model import Placed
from tests.app import sheets_bench as bench
from tests.app.floor import (
    ALT,
    LEFT,
    RIGHT,
    SHIFT,
    A,
    B,
    Make,
    drag,
    key,
    motion,
    select,
    spot,
    with_placed,
)


@pytest.fixture
def make(make_sheets: Make) -> Make:
    return make_sheets


# --- turning ------------------------------------------------------------------------------
def test_r_turns_to_the_next_way_the_grain_allows(make: Make) -> None:
    stage = make()
    select(stage, B)
    key(stage, Qt.Key.Key_R)
    assert motion(stage, B).turn_deg == 180
    assert stage._bench.shape(B).bounds == pytest.approx((618, 10, 1218, 310), abs=1e-6)
    assert stage.document.undo_text == "Turn Shelf · 2"


def test_a_freely_turning_piece_turns_by_the_step_of_the_preferences(make: Make) -> None:
    stage = make(with_placed(Placed("disc", 1, "full", 1, Motion(500, 500))))
    select(stage, ("disc", 1))
    key(stage, Qt.Key.Key_R)
    assert motion(stage, ("disc", 1)).turn_deg == 15
    key(stage, Qt.Key.Key_R, SHIFT)
    assert motion(stage, ("disc", 1)).turn_deg == 0


def test_alt_r_turns_against_the_grain_and_the_piece_is_marked(make: Make) -> None:
    stage = make(with_placed(Placed("shelf", 1, "full", 1, Motion(500, 500))))
    select(stage, A)
    stage.preferences.set("turn_deg", 90.0)
    key(stage, Qt.Key.Key_R, ALT)
    assert motion(stage, A).turn_deg == 90
    assert stage._all_wrong() == {A}
    assert "against its grain" in stage.hand.describe(A)


def test_the_wheel_with_alt_turns(make: Make) -> None:
    stage = make()
    select(stage, B)
    port, here = stage.canvas.view.viewport(), QPointF(spot(stage, B))
    event = QWheelEvent(
        here, port.mapToGlobal(here), QPoint(), QPoint(120, 0), Qt.MouseButton.NoButton, ALT,
        Qt.ScrollPhase.NoScrollPhase, False,
    )  # fmt: skip
    QApplication.sendEvent(port, event)
    assert motion(stage, B).turn_deg == 180


@pytest.mark.parametrize("button", [LEFT, RIGHT])
def test_the_turn_handle_and_a_right_drag_turn_a_piece(make: Make, button: Qt.MouseButton) -> None:
    stage = make(with_placed(Placed("disc", 1, "full", 1, Motion(900, 600))))
    disc = ("disc", 1)
    select(stage, disc)
    middle = spot(stage, disc)
    if button == LEFT:
        grip = stage.hand._grip.pos()
        start = stage.canvas.to_px(grip.x(), grip.y()).toPoint()
    else:
        start = middle + QPoint(0, -15)
    drag(stage, start, middle + QPoint(-60, 0), button=button)
    assert motion(stage, disc).turn_deg == pytest.approx(90, abs=3)


def test_a_turn_that_does_not_fit_moves_to_the_nearest_free_place(make: Make) -> None:
    project = bench.project()
    project = replace(project, shop=replace(project.shop, materials=(*project.shop.materials,)))
    stage = make(with_placed(Placed("back", 1, "mdf", 1, Motion(10, 10)), project=project))
    select(stage, ("back", 1))
    key(stage, Qt.Key.Key_R)
    assert motion(stage, ("back", 1)).turn_deg == 90
    assert not stage._all_wrong()


def test_only_pieces_that_may_be_mirrored_are_turned_over(make: Make) -> None:
    stage = make(
        with_placed(
            Placed("disc", 1, "full", 1, Motion(900, 600)),
            Placed("shelf", 1, "full", 1, Motion(10, 10)),
        )
    )
    select(stage, ("disc", 1))
    key(stage, Qt.Key.Key_M)
    assert motion(stage, ("disc", 1)).mirrored
    select(stage, A)
    key(stage, Qt.Key.Key_M)
    assert not motion(stage, A).mirrored
    assert "may not be cut face down" in stage.line.text()


# --- nudging, exact places, order -----------------------------------------------------------
def test_arrow_keys_nudge_by_the_set_step_as_one_step_of_undo(make: Make) -> None:
    stage = make()
    stage.preferences.set("nudge_mm", 2.5)
    select(stage, B)
    for _ in range(4):
        key(stage, Qt.Key.Key_Right)
    assert motion(stage, B).x_mm == pytest.approx(628)
    stage.document.undo()
    assert motion(stage, B) == Motion(618, 10)


def test_a_nudge_stops_at_the_neighbour_and_says_why(make: Make) -> None:
    stage = make()
    select(stage, B)
    key(stage, Qt.Key.Key_Left)
    assert motion(stage, B).x_mm == pytest.approx(618, abs=1e-3)
    assert "No further" in stage.line.text() and "Shelf · 1" in stage.line.text()
    key(stage, Qt.Key.Key_Left, ALT)
    assert motion(stage, B).x_mm == pytest.approx(617, abs=1e-3)
    assert stage._all_wrong() == {A, B}


def test_a_position_can_be_typed_in_any_unit(make: Make) -> None:
    stage = make()
    select(stage, B)
    line = stage.selection_box.at_x.line
    line.setFocus()
    line.selectAll()
    QTest.keyClicks(line, "30 in")
    QTest.keyClick(line, Qt.Key.Key_Return)
    assert stage._bench.shape(B).bounds[0] == pytest.approx(762)


def test_a_typed_place_that_is_not_allowed_is_obeyed_and_marked(make: Make) -> None:
    stage = make()
    select(stage, B)
    stage.selection_box.at_x.committed.emit(600.0)
    assert stage._bench.shape(B).bounds[0] == pytest.approx(600)
    assert stage._all_wrong() == {A, B}


def test_a_turn_can_be_typed(make: Make) -> None:
    stage = make(with_placed(Placed("disc", 1, "full", 1, Motion(900, 600))))
    select(stage, ("disc", 1))
    stage.selection_box.turn.committed.emit(37.0)
    assert motion(stage, ("disc", 1)).turn_deg == 37


def test_a_nudge_against_what_is_touched_is_no_step_to_undo(make: Make) -> None:
    stage = make(
        with_placed(
            Placed("shelf", 1, "full", 1, Motion(10, 10)),
            Placed("shelf", 2, "full", 1, Motion(618.00015, 10)),  # 8 mm apart but for a hair
        )
    )
    select(stage, B)
    before = stage.document.project
    stage.hand.nudge(-1.0, 0.0)
    assert stage.document.project is before
    assert stage.line.text().startswith("No further: ")


def test_align_lines_pieces_up_without_overlap(make: Make) -> None:
    stage = make(
        with_placed(
            Placed("shelf", 1, "full", 1, Motion(50, 20)),
            Placed("shelf", 2, "full", 1, Motion(300, 400)),
            Placed("shelf", 3, "full", 1, Motion(900, 30)),
        )
    )
    third = ("shelf", 3)
    select(stage, A, B, third)
    QTest.mouseClick(stage.selection_box.align[0], LEFT)
    bounds = {k: stage._bench.shape(k).bounds[0] for k in (A, B, third)}
    assert bounds[A] == bounds[B] == pytest.approx(50)
    assert bounds[third] == pytest.approx(658, abs=1e-3)  # shelf 1 is in its way
    assert stage.line.text().startswith("No further: Shelf · 3: overlaps Shelf · 1 by ")
    assert not stage._all_wrong()


def test_distribute_makes_the_gaps_even(make: Make) -> None:
    stage = make(
        with_placed(
            Placed("shelf", 1, "full", 1, Motion(20, 20)),
            Placed("shelf", 2, "full", 1, Motion(640, 500)),
            Placed("shelf", 3, "full", 1, Motion(1700, 20)),
        )
    )
    select(stage, A, B, ("shelf", 3))
    QTest.mouseClick(stage.selection_box.align[4], LEFT)
    x = [stage._bench.shape(("shelf", i)).bounds[0] for i in (1, 2, 3)]
    assert x[1] - x[0] == pytest.approx(x[2] - x[1])


def test_distribute_makes_upright_gaps_even_too(make: Make) -> None:
    stage = make(
        with_placed(
            Placed("shelf", 1, "full", 1, Motion(20, 20)),
            Placed("shelf", 2, "full", 1, Motion(700, 420)),
            Placed("shelf", 3, "full", 1, Motion(1400, 900)),
        )
    )
    select(stage, A, B, ("shelf", 3))
    QTest.mouseClick(stage.selection_box.align[5], LEFT)
    y = [stage._bench.shape(("shelf", i)).bounds[1] for i in (1, 2, 3)]
    assert y == pytest.approx([20, 460, 900])
    assert stage.document.undo_text == "Distribute 3 pieces"


def test_the_number_of_copies_is_set_beside_the_selection(make: Make, qtbot: QtBot) -> None:
    stage = make()
    select(stage, A)
    copies = stage.selection_box.copies
    assert copies.value == 3
    copies.line.setFocus()
    copies.line.selectAll()
    QTest.keyClicks(copies.line, "5")
    QTest.keyClick(copies.line, Qt.Key.Key_Return)
    assert stage.document.undo_text == "Set quantity of Shelf"
    qtbot.waitUntil(lambda: stage.derived.is_current, timeout=5000)
    assert stage._bench.tray_counts["shelf"] == 3  # two lie on the sheet
    assert set(stage._bench.placed) == {A, B}


# --- the model ----------------------------------------------------------------------------
def test_turning_over_about_a_line_keeps_the_shape_on_that_line(make: Make) -> None:
    there = mirrored_about(Motion(100, 50, 30), 300)
    assert there == Motion(500, 50, 330, True)
    x, y = Motion(100, 50, 30).apply(20, 7)
    assert there.apply(20, 7) == pytest.approx((600 - x, y))


def test_turning_about_a_point_turns_every_point_about_it() -> None:
    start = Motion(100, 50, 30, True)
    there = turned_about(start, 40, 10, 20)
    x, y = start.apply(33, 44)
    dx, dy = x - 10, y - 20
    turn = math.radians(40)
    wanted = (
        10 + dx * math.cos(turn) - dy * math.sin(turn),
        20 + dx * math.sin(turn) + dy * math.cos(turn),
    )
    assert there.apply(33, 44) == pytest.approx(wanted)
