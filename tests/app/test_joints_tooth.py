"""Drawing a tooth of one's own: handles, keys, checks, keeping it, using it on a seam."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import ezdxf
import pytest
from PySide6.QtCore import QEvent, QPointF, Qt
from PySide6.QtGui import QMouseEvent
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication
from pytestqt.qtbot import QtBot

from app.stages import joints_tooth_model as model
from app.stages.joints import JointsStage
from app.stages.joints_tooth import ToothDialog
from core.project.model import StyleChoice
from core.shop import Shop, ToothDrawing
from tests.app.joints_bench import Make, project, settle
from tests.app.scripted import ScriptedAsk

NONE, ALT = Qt.KeyboardModifier.NoModifier, Qt.KeyboardModifier.AltModifier


@pytest.fixture(scope="module")
def joints_ask() -> ScriptedAsk:
    return ScriptedAsk()


@pytest.fixture
def stage(make_joints: Make) -> Iterator[JointsStage]:
    made = make_joints()
    made.preferences.set_default_shop(Shop())  # no teeth kept by the test before
    yield made
    for dialog in made.findChildren(ToothDialog):
        dialog.close()
        dialog.deleteLater()


@pytest.fixture
def dialog(stage: JointsStage, qtbot: QtBot) -> ToothDialog:
    made = stage.draw_tooth()
    assert made is not None
    settle(stage, qtbot)
    return made


def mouse(dialog: ToothDialog, kind: QEvent.Type, at: QPointF, mods: object = NONE) -> None:
    pad = dialog.pad
    down = kind is not QEvent.Type.MouseButtonRelease
    event = QMouseEvent(
        kind,
        at,
        QPointF(pad.mapToGlobal(at.toPoint())),
        Qt.MouseButton.NoButton if kind is QEvent.Type.MouseMove else Qt.MouseButton.LeftButton,
        Qt.MouseButton.LeftButton if down else Qt.MouseButton.NoButton,
        mods,  # type: ignore[arg-type]
    )
    QApplication.sendEvent(pad, event)


def drag(dialog: ToothDialog, role: str, dx_mm: float, dy_mm: float, mods: object = NONE) -> None:
    pad = dialog.pad
    x, y = pad.handles()[role]
    start, end = pad.to_px(x, y), pad.to_px(x + dx_mm, y + dy_mm)
    mouse(dialog, QEvent.Type.MouseButtonPress, start)
    mouse(dialog, QEvent.Type.MouseMove, (start + end) / 2, mods)
    mouse(dialog, QEvent.Type.MouseMove, end, mods)
    mouse(dialog, QEvent.Type.MouseButtonRelease, end)


def test_a_new_tooth_can_be_used_as_it_stands(dialog: ToothDialog) -> None:
    assert dialog.report is not None and dialog.report.ok and dialog.report.holds
    assert dialog.use_button.isEnabled()
    assert "Holds" in dialog.checks.text()


def test_dragging_a_point_moves_its_mirror_image_and_lands_on_the_grid(
    dialog: ToothDialog,
) -> None:
    before = dialog.pad.rows
    drag(dialog, "point 2", -3.2, 4.1)
    after = dialog.pad.rows
    assert after[2][:2] == (before[2][0] - 3.0, before[2][1] + 4.0)
    assert after[3][:2] == (before[3][0] + 3.0, before[3][1] + 4.0)


def test_alt_moves_freely_and_an_odd_tooth_moves_one_point_only(dialog: ToothDialog) -> None:
    dialog.alike.setChecked(False)
    before = dialog.pad.rows
    drag(dialog, "point 2", 0.2, 0.3, ALT)
    after = dialog.pad.rows
    assert after[2][:2] == pytest.approx((before[2][0] + 0.2, before[2][1] + 0.3), abs=0.05)
    assert after[3] == before[3]


def test_dragging_the_middle_of_an_edge_makes_it_an_arc_through_the_pointer(
    dialog: ToothDialog,
) -> None:
    drag(dialog, "edge 0", -2.0, 1.0)
    rows = dialog.pad.rows
    assert rows[0][2] != 0.0
    x, y = model.middle_of(rows, 0)
    (x1, y1, _), (x2, y2, _) = rows[0], rows[1]
    # The handle went left of the chord by what the pointer did, square to it.
    chord = (x2 - x1, y2 - y1)
    away = ((x - (x1 + x2) / 2) * chord[1] - (y - (y1 + y2) / 2) * chord[0]) / 10.77
    assert away == pytest.approx((-2.0 * 10.0 - 1.0 * 4.0) / 10.77, abs=0.15)
    assert model.is_alike(rows)


def test_keys_choose_handles_move_them_bend_edges_add_and_remove_points(
    dialog: ToothDialog,
) -> None:
    pad = dialog.pad
    before = pad.rows
    QTest.keyClick(pad, Qt.Key.Key_BracketRight)
    assert pad.chosen == "edge 0"
    QTest.keyClick(pad, Qt.Key.Key_Up)
    assert pad.rows[0][2] != 0.0
    QTest.keyClick(pad, Qt.Key.Key_Delete)
    assert pad.rows == before
    QTest.keyClick(pad, Qt.Key.Key_B)
    assert len(pad.rows) == len(before) + 2 and pad.chosen == "point 1"
    QTest.keyClick(pad, Qt.Key.Key_Right)
    assert pad.rows[1][0] == pytest.approx(before[1][0] / 2 + 1.0)
    QTest.keyClick(pad, Qt.Key.Key_Delete)
    assert pad.rows == before


def test_steps_are_undone_and_redone(dialog: ToothDialog) -> None:
    before = dialog.pad.rows
    drag(dialog, "point 2", -3.0, 4.0)
    after = dialog.pad.rows
    dialog.undo()
    assert dialog.pad.rows == before
    dialog.redo()
    assert dialog.pad.rows == after


def test_a_crossing_line_cannot_be_kept_and_says_why(
    stage: JointsStage, dialog: ToothDialog, qtbot: QtBot
) -> None:
    dialog.alike.setChecked(False)
    drag(dialog, "point 1", 30.0, 6.0)
    settle(stage, qtbot)
    assert not dialog.use_button.isEnabled() and not dialog.keep_button.isEnabled()
    assert "cross" in dialog.checks.text()


def test_round_to_suit_the_bit_mends_a_tight_arc(
    stage: JointsStage, dialog: ToothDialog, qtbot: QtBot
) -> None:
    small = ToothDrawing(
        "small", ((0, 0, 0), (3, 4, 0), (-1, 8, -1.0), (3, 9, 0), (7, 9, -1), (11, 8, 0),
                  (7, 4, 0), (10, 0, 0)),
    )  # fmt: skip
    dialog.show_tooth(small)
    settle(stage, qtbot)
    assert dialog.report is not None and not dialog.report.ok
    assert "too tight" in dialog.checks.text()
    dialog.suit()
    settle(stage, qtbot)
    assert dialog.report is not None
    codes = {f.code for f in dialog.report.findings}
    assert "tooth-arc-too-tight" not in codes
    assert dialog.pad.rounded and dialog.tooth.points[-1][0] > 10.0


def test_a_tooth_kept_and_used_is_in_the_project_the_gallery_and_for_other_projects(
    stage: JointsStage, dialog: ToothDialog, qtbot: QtBot
) -> None:
    dialog.name.line.setText("Mushroom")
    dialog._use()
    settle(stage, qtbot)
    start = stage.document.project
    assert [t.name for t in start.shop.teeth] == ["Mushroom"]
    assert stage.panel is not None and stage.panel.seams is not None
    assert {s.style.name for s in stage.panel.seams} == {"own:Mushroom"}
    assert stage.shown is not None and stage.shown.ok and stage.shown.split.seams[0].teeth > 2
    assert "Mushroom" in [s.style.title for s in stage._samples]
    assert [t.name for t in stage.preferences.default_shop().teeth] == ["Mushroom"]
    # Another project has it in its gallery, and takes it over with the seam that uses it.
    stage.document.take(project(), None)
    settle(stage, qtbot)
    assert stage.document.project.shop.teeth == ()
    stage.take_style("own:Mushroom")
    settle(stage, qtbot)
    assert [t.name for t in stage.document.project.shop.teeth] == ["Mushroom"]
    stage.document.undo()
    assert stage.document.project.shop.teeth == ()


def test_a_tooth_in_use_cannot_be_removed_and_renaming_it_takes_its_seams_along(
    stage: JointsStage, dialog: ToothDialog, qtbot: QtBot
) -> None:
    dialog.name.line.setText("Bud")
    dialog._use()
    settle(stage, qtbot)
    again = stage.draw_tooth()
    assert again is not None
    settle(stage, qtbot)
    assert again.tooth.name == "Bud" and not again.remove_button.isEnabled()
    again.name.line.setText("Blossom")
    again._keep()
    settle(stage, qtbot)
    panel = stage.panel
    assert panel is not None and panel.seams is not None
    assert panel.seams[0].style == StyleChoice("own:Blossom")
    assert [t.name for t in stage.document.project.shop.teeth] == ["Blossom"]
    again.close()


def test_a_tooth_is_read_from_a_drawing(
    stage: JointsStage, dialog: ToothDialog, qtbot: QtBot, tmp_path: Path
) -> None:
    doc = ezdxf.new(units=4)
    doc.modelspace().add_lwpolyline(
        [(100, 50), (102, 60), (96, 72), (136, 72), (130, 60), (132, 50)]
    )
    doc.saveas(tmp_path / "fan.dxf")
    ask = stage.context.ask
    assert isinstance(ask, ScriptedAsk)
    ask.will("open_file", tmp_path / "fan.dxf")
    dialog.read()
    settle(stage, qtbot)
    assert dialog.tooth.name == "fan"
    assert dialog.tooth.points[0][:2] == (0.0, 0.0)
    assert dialog.tooth.points[-1][:2] == pytest.approx((32.0, 0.0))
    assert dialog.report is not None and dialog.report.ok
