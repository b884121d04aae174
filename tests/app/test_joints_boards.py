"""Boards that take turns, and two ways to split a panel side by side, in the window."""

from __future__ import annotations

from dataclasses import replace

import pytest
from pytestqt.qtbot import QtBot

from core.project.model import Project, SeamLine
from core.shop import Material, Reading, Stock
from tests.app.joints_bench import BOARD, Make, project, seams, settle


@pytest.fixture
def make(make_joints: Make) -> Make:
    return make_joints


def two_boards(*lines: SeamLine, automatic: bool = False) -> Project:
    start = project(*lines, automatic=automatic)
    shop = start.shop
    ash = Material("ash 18", 18.0, (Reading(17.6),))
    return replace(
        start,
        shop=replace(
            shop,
            materials=(*shop.materials, ash, Material("thin", 9.0)),
            stock=(*shop.stock, Stock("ash", "ash 18", 2500, 1250)),
        ),
    )


def test_boards_of_one_thickness_can_take_turns_and_are_shown(make: Make, qtbot: QtBot) -> None:
    stage = make(two_boards())
    box = stage.boards_box
    assert [box.every_other.itemText(i) for i in range(box.every_other.count())] == [
        "the same board",
        "ash 18",
    ]
    box.every_other.setCurrentIndex(1)
    box.every_other.activated.emit(1)
    settle(stage, qtbot)
    assert stage.shown is not None
    assert [p.material for p in stage.shown.pieces] == [BOARD, "ash 18"]
    assert stage.document.undo_text == "Alternate boards"
    assert stage.scene.pieces["side.2"].label.text.endswith("ash 18")
    # One piece on its own goes back.
    stage.set_board("side.2", BOARD)
    settle(stage, qtbot)
    assert stage.panel is not None and stage.panel.boards == ()
    stage.document.undo()
    stage.document.undo()


def test_without_another_board_of_that_thickness_nothing_is_offered(make: Make) -> None:
    stage = make()
    assert stage.boards_box.isHidden()


def test_two_ways_are_shown_side_by_side_and_one_is_taken(make: Make, qtbot: QtBot) -> None:
    stage = make(project(SeamLine(((650.0, 0.0), (690.0, 380.0)))))
    dialog = stage.compare_ways()
    assert dialog is not None
    settle(stage, qtbot)
    assert dialog.ways[0].number == 0 and len(dialog.ways) >= 3
    for side in (0, 1):
        assert dialog.pictures[side].way is dialog.ways[side]
        assert "pieces" in dialog.facts[side].text() and "of joint" in dialog.facts[side].text()
    assert not dialog.buttons[0].isEnabled() and dialog.buttons[1].isEnabled()
    dialog.choices[1].setCurrentIndex(2)
    dialog.choices[1].activated.emit(2)
    assert dialog.pictures[1].way is dialog.ways[2]
    wanted = stage.proposals_box.proposals[dialog.ways[2].number - 1].seams
    dialog._take_right()
    settle(stage, qtbot)
    assert seams(stage) == wanted
