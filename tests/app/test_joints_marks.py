"""Marks drawn on a panel, whether it is split at all, and the badges, in the window."""

from __future__ import annotations

from dataclasses import replace

import pytest
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest
from pytestqt.qtbot import QtBot

from app.stages.joints import JointsStage
from app.stages.joints_marks import NEVER, SUPPORT, mark_between
from core.project.model import SeamLine, SplitChoice
from tests.app.joints_bench import SHIFT, Make, at, drag, key, project, settle


@pytest.fixture
def make(make_joints: Make) -> Make:
    return make_joints


def test_a_mark_drawn_over_a_place_moves_the_planned_seam_away(make: Make, qtbot: QtBot) -> None:
    stage = make(project(automatic=True))
    assert stage.shown is not None
    x = stage.shown.lines[0].points[0][0]
    stage.marks_box.never.click()
    drag(stage, at(stage, x - 40, 100), at(stage, x + 40, 300))
    panel = stage.panel
    assert panel is not None and len(panel.marks) == 1
    assert panel.marks[0].kind == NEVER and len(panel.marks[0].points) == 4
    settle(stage, qtbot)
    after = stage.shown.lines[0].points[0][0]
    assert abs(after - x) > 40 and stage.shown.ok
    assert stage.document.undo_text == "Mark never to cross"


def test_a_seam_of_the_makers_over_a_mark_stops(make: Make, qtbot: QtBot) -> None:
    stage = make()
    stage.marks_box.never.click()
    drag(stage, at(stage, 680, 100), at(stage, 720, 200))
    settle(stage, qtbot)
    assert stage.shown is not None and not stage.shown.ok
    assert "never to be crossed" in stage.summary.text()


def test_a_support_is_a_line_and_a_seam_away_from_it_warns(make: Make, qtbot: QtBot) -> None:
    stage = make()
    stage.marks_box.support.click()
    drag(stage, at(stage, 400, 20), at(stage, 401, 360))
    panel = stage.panel
    assert panel is not None and panel.marks[0].kind == SUPPORT
    assert len(panel.marks[0].points) == 2
    settle(stage, qtbot)
    assert stage.shown is not None
    assert "seam-unsupported" in {f.code for f in stage.shown.findings}
    stage.commit("Move", (SeamLine(((405.0, 0.0), (405.0, 380.0))),))
    settle(stage, qtbot)
    assert "seam-unsupported" not in {f.code for f in stage.shown.findings}


def kinds(stage: JointsStage) -> list[str]:
    assert stage.panel is not None
    return [mark.kind for mark in stage.panel.marks]


def test_keys_put_move_and_remove_a_mark_and_a_note_is_kept(make: Make, qtbot: QtBot) -> None:
    stage = make()
    key(stage, Qt.Key.Key_M)
    settle(stage, qtbot)
    panel = stage.panel
    assert panel is not None and panel.marks[0].kind == NEVER
    before = panel.marks[0].points[0]
    key(stage, Qt.Key.Key_Right, SHIFT)
    assert stage.panel is not None
    assert stage.panel.marks[0].points[0] == (before[0] + 10.0, before[1])
    settle(stage, qtbot)
    field = stage.marks_box.note.line
    QTest.keyClicks(field, "sink")
    QTest.keyClick(field, Qt.Key.Key_Return)
    assert stage.panel is not None and stage.panel.marks[0].note == "sink"
    settle(stage, qtbot)
    assert "sink" in stage.marks_box.list.item(0).text()
    key(stage, Qt.Key.Key_Delete)
    assert kinds(stage) == []
    key(stage, Qt.Key.Key_M, SHIFT)
    assert kinds(stage) == [SUPPORT]


def test_a_mark_is_dragged_by_its_middle_and_escape_leaves_a_drawing(
    make: Make, qtbot: QtBot
) -> None:
    start = project()
    mark = mark_between(NEVER, (200, 100), (300, 200), 1.0)
    stage = make(replace(start, panels=(replace(start.panels[0], marks=(mark,)), start.panels[1])))
    drag(stage, at(stage, 250, 150), at(stage, 350, 150))
    assert stage.panel is not None
    assert stage.panel.marks[0].points[0][0] == pytest.approx(300, abs=stage.canvas.mm(2))
    settle(stage, qtbot)
    stage.marks_box.support.click()
    assert stage.marks.drawing == SUPPORT
    key(stage, Qt.Key.Key_Escape)
    assert stage.marks.drawing == ""


def test_leave_whole_split_although_it_fits_and_leave_out_are_the_makers(
    make: Make, qtbot: QtBot
) -> None:
    stage = make(project(automatic=True))
    choice = stage.marks_box.choice

    def take(value: SplitChoice) -> None:
        index = [SplitChoice.AUTO, SplitChoice.WHOLE, SplitChoice.SPLIT, SplitChoice.OMIT].index(
            value
        )
        choice.setCurrentIndex(index)
        choice.activated.emit(index)
        settle(stage, qtbot)

    take(SplitChoice.WHOLE)
    assert stage.shown is not None and len(stage.shown.pieces) == 1
    # The badge says by how much it does not fit, the list that it was left whole on purpose.
    assert stage.scene.badges and "too long" in stage.scene.badges[0]
    assert "left whole" in stage.list.item(0).text()
    take(SplitChoice.AUTO)
    assert len(stage.shown.pieces) == 2
    stage.all_panels.setChecked(True)
    settle(stage, qtbot)
    stage.choose_panel("shelf")
    settle(stage, qtbot)
    assert stage.shown is not None and len(stage.shown.pieces) == 1
    take(SplitChoice.SPLIT)
    assert len(stage.shown.pieces) == 2 and stage.shown.ok
    take(SplitChoice.OMIT)
    assert "left out" in stage.list.item(1).text()


def test_badges_tell_each_limit_by_itself(make: Make, qtbot: QtBot) -> None:
    start = project(SeamLine(((1000.0, 0.0), (1000.0, 380.0))))
    stage = make(start)
    assert len(stage.scene.badges) == 1 and "mm too long" in stage.scene.badges[0]
    # What one person lifts: no room is too small, the piece is too heavy.
    shop = replace(start.shop, limits=replace(start.shop.limits, lift_kg=3.0))
    heavy = replace(project(), shop=shop)
    stage = make(heavy)
    assert stage.scene.badges and "too heavy" in stage.scene.badges[0]
