"""Styles, their numbers, the fit and the proposals of the Joints stage, chosen and typed."""

from __future__ import annotations

from dataclasses import replace

import pytest
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest
from pytestqt.qtbot import QtBot

from app.stages import joints_lines as shape
from app.widgets.fields import LengthField
from core.joints import STYLES
from core.project.model import StyleChoice
from core.shop import FitSetting, JointClass
from tests.app.joints_bench import (
    BOARD,
    LEFT,
    LINE,
    NONE,
    Make,
    project,
    seams,
    settle,
)


@pytest.fixture
def make(make_joints: Make) -> Make:
    return make_joints


# --- styles, numbers, fit ---------------------------------------------------------------------
def test_the_gallery_draws_this_seam_in_every_style(make: Make) -> None:
    stage = make()
    gallery = stage.style_box.gallery
    titles = [gallery.item(i).text() for i in range(gallery.count())]
    assert titles == [style.title for style in STYLES.values()]
    assert gallery.currentRow() == 0
    by_name = {sample.name: sample for sample in stage._samples}
    assert by_name["finger"].teeth > 0 and by_name["butt"].keys
    widths = {
        sum(region.area_mm2 for region in sample.left) for sample in stage._samples if sample.left
    }
    assert len(widths) > 3  # real geometry, not one picture


def test_a_click_in_the_gallery_changes_the_style(make: Make, qtbot: QtBot) -> None:
    stage = make()
    gallery = stage.style_box.gallery
    rect = gallery.visualItemRect(gallery.item(1))
    QTest.mouseClick(gallery.viewport(), LEFT, NONE, rect.center())
    assert seams(stage)[0].style == StyleChoice("dovetail")
    assert stage.document.undo_text == "Make the seams dovetail"
    settle(stage, qtbot)
    assert stage.shown is not None
    assert stage.shown.split.seams[0].properties.holds
    assert "Holds against pulling apart" in stage.style_box.facts.text()


def test_enter_in_the_gallery_changes_the_style(make: Make) -> None:
    stage = make()
    gallery = stage.style_box.gallery
    gallery.setFocus()
    gallery.setCurrentRow(3)
    QTest.keyClick(gallery, Qt.Key.Key_Return)
    assert seams(stage)[0].style.name == "wave"


def test_the_style_of_an_automatic_panel_is_kept_for_what_the_planner_finds(
    make: Make, qtbot: QtBot
) -> None:
    stage = make(project(automatic=True))
    stage.take_style("wave")
    assert stage.panel is not None
    assert stage.panel.seams is None and stage.panel.style == StyleChoice("wave")
    settle(stage, qtbot)
    assert stage.shown is not None and stage.shown.lines[0].style.name == "wave"


def test_a_number_of_the_style_can_be_typed_and_left_to_the_usual_again(
    make: Make, qtbot: QtBot
) -> None:
    stage = make()
    field = stage.style_box.field_of("finger", "width")
    assert isinstance(field, LengthField)
    assert field.line.placeholderText() == "usual: 22 mm"
    QTest.keyClicks(field.line, "1.5 in")
    QTest.keyClick(field.line, Qt.Key.Key_Return)
    assert seams(stage)[0].style.params == (("width", pytest.approx(38.1)),)
    settle(stage, qtbot)
    field.line.selectAll()
    QTest.keyClick(field.line, Qt.Key.Key_Delete)
    QTest.keyClick(field.line, Qt.Key.Key_Return)
    assert seams(stage)[0].style.params == ()


def test_a_number_out_of_range_is_refused_in_place(make: Make) -> None:
    stage = make()
    field = stage.style_box.field_of("finger", "width")
    assert isinstance(field, LengthField)
    QTest.keyClicks(field.line, "1")
    QTest.keyClick(field.line, Qt.Key.Key_Return)
    assert seams(stage) == (LINE,)
    assert field.problem.text() == "At least 3 mm."
    QTest.keyClick(field.line, Qt.Key.Key_Escape)


def test_the_fit_is_total_play_and_never_negative(make: Make, qtbot: QtBot) -> None:
    stage = make()
    line = stage.style_box.fit.line
    QTest.keyClicks(line, "-0.1")
    QTest.keyClick(line, Qt.Key.Key_Return)
    assert seams(stage) == (LINE,) and stage.style_box.fit.problem.text()
    line.selectAll()
    QTest.keyClicks(line, "0.4")
    QTest.keyClick(line, Qt.Key.Key_Return)
    assert seams(stage)[0].fit_mm == 0.4
    settle(stage, qtbot)
    assert stage.shown is not None and stage.shown.split.seams[0].fit_mm == 0.4


def test_numbers_go_to_one_seam_only_when_they_are_not_to_be_alike(make: Make) -> None:
    other = shape.moved_line(LINE, -300, 0)
    stage = make(project(LINE, other))
    stage.style_box.scope.setChecked(False)
    stage.hand.choose(1)
    stage.set_field("fit_mm", 0.3)
    assert [line.fit_mm for line in seams(stage)] == [None, 0.3]
    stage.style_box.scope.setChecked(True)
    stage.set_field("fit_mm", 0.2)
    assert [line.fit_mm for line in seams(stage)] == [0.2, 0.2]


def test_shift_moves_the_pattern_along_the_seam(make: Make, qtbot: QtBot) -> None:
    stage = make()
    assert stage.shown is not None
    before = stage.shown.split.seams[0].profile
    line = stage.style_box.shift.line
    QTest.mouseClick(line, Qt.MouseButton.LeftButton)
    QTest.keyClick(line, Qt.Key.Key_A, Qt.KeyboardModifier.ControlModifier)
    QTest.keyClicks(line, "6")
    QTest.keyClick(line, Qt.Key.Key_Return)
    settle(stage, qtbot)
    assert stage.shown.split.seams[0].profile != before
    assert stage.shown.ok


# --- proposals --------------------------------------------------------------------------------
def test_proposals_are_drawn_and_one_can_be_taken_and_left_again(make: Make, qtbot: QtBot) -> None:
    stage = make(project(automatic=True))
    gallery = stage.proposals_box.gallery
    assert gallery.count() >= 1
    assert gallery.item(0).text().startswith("2 pieces")
    QTest.mouseClick(
        gallery.viewport(), LEFT, NONE, gallery.visualItemRect(gallery.item(0)).center()
    )
    assert stage.document.undo_text == "Split Side into 2"
    assert len(seams(stage)) == 1
    settle(stage, qtbot)
    assert stage.proposals_box.automatic.isVisibleTo(stage)
    QTest.mouseClick(stage.proposals_box.automatic, LEFT)
    assert stage.panel is not None and stage.panel.seams is None


def test_a_way_taken_keeps_what_the_joint_was_said_to_be_for(make: Make, qtbot: QtBot) -> None:
    loose = FitSetting(0.4, JointClass.KNOCK_DOWN, BOARD)
    begun = project()
    stage = make(replace(begun, shop=replace(begun.shop, fits=(loose,))))
    stage.hand.choose(0, "middle")
    stage.style_box.joint_class.chosen.emit(JointClass.KNOCK_DOWN)
    settle(stage, qtbot)
    assert seams(stage)[0].joint_class is JointClass.KNOCK_DOWN
    qtbot.waitUntil(lambda: stage.proposals_box.gallery.count() > 0, timeout=20000)
    stage.take_proposal(0)
    settle(stage, qtbot)
    assert {line.joint_class for line in seams(stage)} == {JointClass.KNOCK_DOWN}
    assert stage.shown is not None
    assert {seam.fit_mm for seam in stage.shown.split.seams} == {0.4}
