"""The Joints stage driven with real mouse and key events on real geometry."""

from __future__ import annotations

from dataclasses import replace

import pytest
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest
from pytestqt.qtbot import QtBot

from app import theme
from app.stages import joints_lines as shape
from core.project.model import SeamLine
from tests.app.joints_bench import (
    ALT,
    LEFT,
    LINE,
    NONE,
    SHIFT,
    Make,
    at,
    drag,
    key,
    project,
    seams,
    settle,
)


@pytest.fixture
def make(make_joints: Make) -> Make:
    return make_joints


# --- the list -------------------------------------------------------------------------------
def test_the_list_holds_panels_that_need_a_seam_and_says_how_much_too_big(make: Make) -> None:
    stage = make()
    assert [stage.list.item(i).text() for i in range(stage.list.count())] == [
        "Side\n+ 520 mm too big\n2 pieces"
    ]
    stage.all_panels.setChecked(True)
    assert stage.list.count() == 2
    assert stage.list.item(1).text() == "Shelf\nfits whole"


def test_a_project_whose_panels_all_fit_says_so(make: Make) -> None:
    start = project()
    stage = make(replace(start, panels=start.panels[1:]))
    assert stage.empty.isVisible() and "no seam is needed" in stage.empty.text()


def test_pieces_seams_and_their_letters_are_shown(make: Make) -> None:
    stage = make()
    assert len(stage.scene.pieces) == 2
    assert "2 pieces, 1 seam, 380 mm of joint · every piece fits" in stage.summary.text()
    assert stage.style_box.head.text() == "Seam A"
    assert stage.status_text() == "1 split"


def test_a_panel_the_planner_splits_is_shown_with_its_seams(make: Make) -> None:
    stage = make(project(automatic=True))
    assert stage.shown is not None and not stage.shown.own
    assert stage.shown.ok and len(stage.shown.pieces) == 2


# --- dragging -------------------------------------------------------------------------------
def test_dragging_the_middle_handle_moves_the_seam_and_undo_brings_it_back(
    make: Make, qtbot: QtBot
) -> None:
    stage = make()
    drag(stage, at(stage, 700, 190), at(stage, 640, 250))
    (line,) = seams(stage)
    assert line.points[0][0] == line.points[1][0] == pytest.approx(640, abs=stage.canvas.mm(2))
    assert line.points[0][1] == 0.0  # an upright seam moves square to itself
    assert stage.document.undo_text == "Move Seam A"
    settle(stage, qtbot)
    assert stage.shown is not None and stage.shown.lines == (line,)
    stage.document.undo()
    assert seams(stage) == (LINE,)


def test_the_pieces_follow_while_the_seam_is_dragged(make: Make, qtbot: QtBot) -> None:
    stage = make()
    before = stage.document.project
    assert stage.shown is not None
    areas = sorted(p.area_mm2 for p in stage.shown.pieces)
    drag(stage, at(stage, 700, 190), at(stage, 560, 190), drop=False)
    qtbot.waitUntil(
        lambda: (
            stage.shown is not None
            and abs(sorted(p.area_mm2 for p in stage.shown.pieces)[0] - areas[0]) > 20000
        ),
        timeout=5000,
    )
    assert stage.document.project is before
    key(stage, Qt.Key.Key_Escape)
    settle(stage, qtbot)
    assert stage.document.project is before
    assert sorted(p.area_mm2 for p in stage.shown.pieces) == pytest.approx(areas)


def test_an_end_handle_turns_the_seam_and_snaps_upright(make: Make) -> None:
    stage = make()
    drag(stage, at(stage, 700, 380), at(stage, 760, 380))
    (line,) = seams(stage)
    assert line.points[1][0] == pytest.approx(760, abs=stage.canvas.mm(2))
    drag(stage, at(stage, *line.points[1]), at(stage, 703, 380))
    assert seams(stage)[0].points[1][0] == 700.0


def test_alt_moves_freely(make: Make) -> None:
    stage = make()
    drag(stage, at(stage, 700, 190), at(stage, 650, 160), mods=ALT)
    assert seams(stage)[0].points[0][1] == pytest.approx(-30, abs=stage.canvas.mm(2))


def test_a_seam_that_makes_a_piece_too_big_is_told_with_a_number(make: Make, qtbot: QtBot) -> None:
    stage = make()
    stage.style_box.changed.emit("points", ((300.0, 0.0), (300.0, 380.0)))
    settle(stage, qtbot)
    (badge,) = stage.scene.badges
    assert badge == "● 241.9 mm too long"  # 220 mm and a finger, less the gap at its tip
    assert "1 piece too big" in stage.summary.text()
    assert "241.9 mm too long" in stage.pieces_box.list.text()
    assert stage.status_text() == "1 to decide"
    big = max(stage.scene.pieces.values(), key=lambda item: item.region.area_mm2)
    assert big.wrong and big.pen().color() == theme.color("stop")


def test_a_line_can_be_drawn_across_the_panel(make: Make, qtbot: QtBot) -> None:
    stage = make()
    QTest.mouseClick(stage.new_button, LEFT)
    drag(stage, at(stage, 350, -20), at(stage, 353, 400))
    lines = seams(stage)
    assert len(lines) == 2
    assert lines[1].points[0][0] == lines[1].points[1][0]
    settle(stage, qtbot)
    assert stage.shown is not None and len(stage.shown.pieces) == 3
    assert stage.document.undo_text == "Draw a seam"


def test_a_double_click_bends_the_seam_and_delete_straightens_it(make: Make, qtbot: QtBot) -> None:
    stage = make()
    QTest.mouseDClick(stage.canvas.view.viewport(), LEFT, NONE, at(stage, 700, 110))
    (line,) = seams(stage)
    assert len(line.points) == 3 and line.corner_mm > 0
    settle(stage, qtbot)
    drag(stage, at(stage, *line.points[1]), at(stage, 780, 110))
    assert seams(stage)[0].points[1][0] == pytest.approx(780, abs=stage.canvas.mm(2))
    key(stage, Qt.Key.Key_Delete)
    assert len(seams(stage)[0].points) == 2


# --- keys -----------------------------------------------------------------------------------
def test_the_keyboard_alone_adds_moves_turns_and_removes_seams(make: Make) -> None:
    stage = make()
    stage.canvas.setFocus()
    key(stage, Qt.Key.Key_N)
    assert len(seams(stage)) == 2 and stage.document.undo_text == "Add a seam"
    key(stage, Qt.Key.Key_Comma)
    assert stage.scene.chosen == 0
    key(stage, Qt.Key.Key_Left, SHIFT)
    key(stage, Qt.Key.Key_Left)
    assert seams(stage)[0].points[0][0] == pytest.approx(689)
    key(stage, Qt.Key.Key_BracketRight)
    assert stage.scene.chosen_handle == "point 0"
    key(stage, Qt.Key.Key_Right)
    assert seams(stage)[0].points[0][0] == pytest.approx(690)
    assert seams(stage)[0].points[1][0] == pytest.approx(689)
    key(stage, Qt.Key.Key_BracketLeft)
    key(stage, Qt.Key.Key_R)
    assert seams(stage)[0].points[0][0] > 700
    key(stage, Qt.Key.Key_Delete)
    assert len(seams(stage)) == 1


def test_a_seam_just_drawn_can_wait_for_its_pieces_while_the_colours_change(make: Make) -> None:
    stage = make()
    stage.canvas.setFocus()
    QTest.keyClick(stage.canvas.view, Qt.Key.Key_N)
    assert stage.shown is not None and stage.scene.chosen == len(stage.shown.lines)
    theme.watcher().changed.emit()  # before the pieces are worked out
    assert not stage.remove_button.isEnabled()
    stage.take_style("wave")
    stage.set_parameter("pitch_mm", 60.0)
    assert len(seams(stage)) == 2


def test_nudges_of_one_seam_are_one_step_of_undo(make: Make) -> None:
    stage = make()
    stage.canvas.setFocus()
    for _ in range(5):
        key(stage, Qt.Key.Key_Left)
    assert seams(stage)[0].points[0][0] == pytest.approx(695)
    stage.document.undo()
    assert seams(stage) == (LINE,)


def test_t_turns_the_teeth_over(make: Make, qtbot: QtBot) -> None:
    stage = make()
    stage.canvas.setFocus()
    key(stage, Qt.Key.Key_T)
    assert seams(stage)[0].turned_over
    settle(stage, qtbot)
    assert stage.shown is not None and stage.shown.ok


# --- lines ------------------------------------------------------------------------------------
def test_a_line_turned_about_its_middle_keeps_its_middle_and_length() -> None:
    turned = shape.turned_line(LINE, 30)
    assert shape.middle_of(turned) == pytest.approx(shape.middle_of(LINE))
    (x1, y1), (x2, y2) = turned.points
    assert ((x2 - x1) ** 2 + (y2 - y1) ** 2) ** 0.5 == pytest.approx(380)


def test_a_bend_goes_into_the_nearest_stretch() -> None:
    line = SeamLine(((0.0, 0.0), (100.0, 0.0), (100.0, 100.0)))
    bent, number = shape.bent_at(line, 102, 60, 20)
    assert number == 2 and len(bent.points) == 4
    assert shape.without_point(bent, 2).points == line.points
    assert shape.without_point(line, 0) is line
