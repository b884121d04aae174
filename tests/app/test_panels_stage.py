"""Stage 1 driven with mouse and keyboard: the wall, its fields, findings and layers."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from PySide6.QtCore import QPoint, QPointF, Qt
from PySide6.QtGui import QWheelEvent
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication

from app.panel_table import rectangle_panel
from app.stages.panels_fit import feature_words, overhang, room_mm
from app.stages.panels_thumb import PANEL_ROLE
from core.findings import Finding, Severity
from core.geometry import Ring
from core.outlines.model import Face, Feature, Role
from core.project.model import CutBy, Drawing, Grain, Project, SplitChoice
from core.shop import Cutter, Machine
from tests.app import mouse

LEFT = Qt.MouseButton.LeftButton
CTRL = Qt.KeyboardModifier.ControlModifier


@pytest.fixture
def project(shop) -> Project:
    """A side longer than the bed, a shelf with a pocket and a hole, a back for the saw."""
    shelf = replace(
        rectangle_panel("Shelf", 800, 300, 4, "birch 18"),
        features=(
            Feature(Role.POCKET, Ring.rectangle(100, 100, 120, 60), depth_mm=6.0, layer="POCKETS"),
            Feature(Role.DRILL, at=(700.0, 150.0), diameter_mm=8.0, layer="DRILL"),
        ),
        drawing="d1",
        layer="CUT",
    )
    return Project(
        shop=shop,
        drawings=(Drawing("d1", "shelf.dxf", "shelf.dxf", "0" * 64, "mm"),),
        panels=(
            rectangle_panel("Side", 1500, 500, 2, "birch 18"),
            shelf,
            rectangle_panel("Back", 820, 400, 1),
        ),
    )


def cell_of(stage, name: str):
    model = stage.model
    index = model.index(next(i for i, p in enumerate(model.panels) if p.name == name))
    return index, stage.wall.visualRect(index)


def click(stage, name: str, modifier=Qt.KeyboardModifier.NoModifier) -> None:
    _, rect = cell_of(stage, name)
    QTest.mouseClick(stage.wall.viewport(), LEFT, modifier, rect.center())


def at_mm(stage, name: str, x: float, y: float) -> QPoint:
    index, rect = cell_of(stage, name)
    panel = index.data(PANEL_ROLE)
    return stage.wall.panel_delegate.to_drawing(panel, rect).map(QPointF(x, y)).toPoint()


# --- the wall ---------------------------------------------------------------------------------


def test_thumbnails_are_to_scale_with_each_other(make_window, project) -> None:
    stage = make_window(project).stages[0]
    delegate = stage.wall.panel_delegate
    rects = {}
    for name in ("Side", "Shelf"):
        index, cell = cell_of(stage, name)
        rects[name] = delegate.drawing_rect(index.data(PANEL_ROLE), cell)
    assert rects["Side"].width() / rects["Shelf"].width() == pytest.approx(1500 / 800)
    assert rects["Side"].height() / rects["Shelf"].height() == pytest.approx(500 / 300)


def test_what_is_too_big_is_known_with_by_how_much() -> None:
    machine = Machine(travel_mm=(900, 600), table_mm=(900, 600), cutters=(Cutter(6.0),))
    assert room_mm(machine) == (894, 594)
    side = rectangle_panel("Side", 1500, 500)
    found = overhang(side, machine)
    assert found is not None
    assert found.over_mm == (606, 0)
    # The better way round counts: lying along the bed's depth it fits.
    assert overhang(rectangle_panel("Post", 590, 890), machine) is None
    assert overhang(rectangle_panel("Edge", 894, 594), machine) is None
    assert overhang(replace(side, by=CutBy.SAW), machine) is None


def test_the_wall_says_which_panel_is_too_big(make_window, project, idle) -> None:
    window = make_window(project)
    idle(window)
    words = window.stages[0].model.words(window.document.project.panels[0])
    assert "Larger than the machine by 606 mm" in words or "Cut in one piece" in words
    whole = replace(project.panels[0], split=SplitChoice.WHOLE)
    assert overhang(whole, project.shop.machine) is not None


def test_clicking_selects_and_the_fields_follow(make_window, project) -> None:
    stage = make_window(project).stages[0]
    click(stage, "Shelf")
    assert [p.name for p in stage.selected] == ["Shelf"]
    assert stage.properties.name.text == "Shelf"
    assert stage.properties.quantity.value == 4
    assert stage.properties.material.value == "birch 18"
    assert "2 features" in stage.properties.told.text()


def test_several_panels_are_changed_in_one_step(make_window, project) -> None:
    window = make_window(project)
    stage = window.stages[0]
    click(stage, "Side")
    click(stage, "Back", CTRL)
    properties = stage.properties
    assert properties.quantity.line.placeholderText() == "several"
    properties.quantity.line.setFocus()
    QTest.keyClicks(properties.quantity.line, "3")
    QTest.keyClick(properties.quantity.line, Qt.Key.Key_Return)
    assert [p.quantity for p in window.document.project.panels] == [3, 4, 3]
    assert window.document.undo_text == "Set quantity, 2 panels"
    assert [p.name for p in stage.selected] == ["Side", "Back"], "the selection stays"
    window.document.undo()
    assert [p.quantity for p in window.document.project.panels] == [2, 4, 1]


def test_every_choice_of_the_fields_reaches_the_panel(make_window, project, qtbot) -> None:
    window = make_window(project)
    stage = window.stages[0]
    click(stage, "Back")
    wanted = {
        "material": ("material", "birch 18"),
        "grain": ("grain", Grain.ACROSS),
        "face": ("show_face", Face.BACK),
        "by": ("by", CutBy.SAW),
        "split": ("split", SplitChoice.WHOLE),
    }
    for field_name, (attribute, value) in wanted.items():
        field = getattr(stage.properties, field_name)
        field.setFocus()
        steps = [v for v, _ in zip(field._values, range(20), strict=False)].index(value)
        QTest.keyClick(field, Qt.Key.Key_Home)
        for _ in range(steps):
            QTest.keyClick(field, Qt.Key.Key_Down)
        got = getattr(window.document.project.panels[2], attribute)
        assert got == value, field_name
    QTest.mouseClick(stage.properties.mirror, LEFT, pos=QPoint(8, 10))
    assert window.document.project.panels[2].may_mirror


def test_a_name_cannot_be_emptied(make_window, project) -> None:
    window = make_window(project)
    stage = window.stages[0]
    click(stage, "Back")
    line = stage.properties.name.line
    line.setFocus()
    line.selectAll()
    QTest.keyClick(line, Qt.Key.Key_Delete)
    QTest.keyClick(line, Qt.Key.Key_Return)
    assert stage.properties.name.problem.isVisible()
    assert window.document.project.panels[2].name == "Back"


def test_plus_minus_and_delete_work_on_the_selection(make_window, project) -> None:
    window = make_window(project)
    stage = window.stages[0]
    click(stage, "Back")
    stage.wall.setFocus()
    QTest.keyClick(stage.wall, Qt.Key.Key_Plus)
    QTest.keyClick(stage.wall, Qt.Key.Key_Plus)
    assert window.document.project.panels[2].quantity == 3
    QTest.keyClick(stage.wall, Qt.Key.Key_Minus)
    assert window.document.project.panels[2].quantity == 2
    assert len(window.document.history) == 1, "one step for a run of presses"
    QTest.keyClick(stage.wall, Qt.Key.Key_Delete)
    assert [p.name for p in window.document.project.panels] == ["Side", "Shelf"]
    window.document.undo()
    assert [p.name for p in window.document.project.panels] == ["Side", "Shelf", "Back"]


def test_arrow_keys_go_from_panel_to_panel(make_window, project) -> None:
    stage = make_window(project).stages[0]
    click(stage, "Side")
    stage.wall.setFocus()
    QTest.keyClick(stage.wall, Qt.Key.Key_Right)
    assert [p.name for p in stage.selected] == ["Shelf"]
    QTest.keyClick(stage.wall, Qt.Key.Key_Right, Qt.KeyboardModifier.ShiftModifier)
    assert {"Shelf", "Back"} <= {p.name for p in stage.selected}  # all in the frame they span


def test_list_and_wall_share_the_selection(make_window, project) -> None:
    stage = make_window(project).stages[0]
    index = stage.model.index(2)
    QTest.mouseClick(stage.list.viewport(), LEFT, pos=stage.list.visualRect(index).center())
    assert [p.name for p in stage.selected] == ["Back"]
    assert stage.wall.selectionModel().isSelected(index)


def test_searching_hides_what_does_not_match(make_window, project) -> None:
    stage = make_window(project).stages[0]
    stage.search.setFocus()
    QTest.keyClicks(stage.search, "sh")
    assert [stage.list.isRowHidden(i) for i in range(3)] == [True, False, True]
    assert stage.wall.isRowHidden(0)
    stage.search.clear()
    assert not any(stage.list.isRowHidden(i) for i in range(3))


def test_features_light_under_the_mouse_and_say_their_depth(make_window, project) -> None:
    stage = make_window(project).stages[0]
    place = at_mm(stage, "Shelf", 160, 130)
    mouse.move(stage.wall.viewport(), place)
    assert stage.wall.panel_delegate.hovered == ("shelf", 0)
    index, cell = cell_of(stage, "Shelf")
    hole = at_mm(stage, "Shelf", 700, 150)
    panel = index.data(PANEL_ROLE)
    assert stage.wall.panel_delegate.feature_at(panel, cell, hole) == 1
    stage.list.clearSelection()
    click(stage, "Shelf")
    assert "Pocket 120 × 60 mm, 6 mm deep" in stage.properties.features_text.text()
    assert "Hole ⌀ 8 mm, right through" in stage.properties.features_text.text()


def test_an_engraving_without_a_depth_is_never_said_to_go_through() -> None:
    line = Ring(((0.0, 0.0, 0.0), (40.0, 0.0, 0.0), (40.0, 10.0, 0.0)))
    assert "depth not said" in feature_words(Feature(Role.ENGRAVE, line, None), "mm")
    assert "right through" in feature_words(Feature(Role.POCKET, line, None), "mm")


def test_double_click_looks_at_the_joints(make_window, project) -> None:
    window = make_window(project)
    stage = window.stages[0]
    _, rect = cell_of(stage, "Side")
    click(stage, "Side")
    QTest.mouseDClick(stage.wall.viewport(), LEFT, pos=rect.center())
    assert window.stage is window.stages[1]


def test_ctrl_and_wheel_changes_the_scale(make_window, project) -> None:
    stage = make_window(project).stages[0]
    wall = stage.wall
    before = wall.panel_delegate.scale
    QTest.mouseClick(stage.larger, LEFT)
    assert wall.panel_delegate.scale == pytest.approx(before * 1.25)
    wall.setFocus()
    QTest.keyClick(wall, Qt.Key.Key_Minus, Qt.KeyboardModifier.ControlModifier)
    assert wall.panel_delegate.scale == pytest.approx(before)
    place = QPointF(wall.viewport().rect().center())
    event = QWheelEvent(
        place, wall.viewport().mapToGlobal(place), QPoint(), QPoint(0, 120),
        Qt.MouseButton.NoButton, Qt.KeyboardModifier.ControlModifier,
        Qt.ScrollPhase.NoScrollPhase, False,
    )  # fmt: skip
    QApplication.sendEvent(wall.viewport(), event)
    assert wall.panel_delegate.scale == pytest.approx(before * 1.15)


# --- findings ---------------------------------------------------------------------------------


def test_a_notice_goes_to_its_place_on_the_drawing(make_window, project, engine, idle) -> None:
    engine.findings = (
        Finding(
            "narrow-slot",
            Severity.WARN,
            "The slot is narrow",
            "shelf",
            (160.0, 130.0),
            remedy="Use a smaller bit.",
        ),
    )
    window = make_window(project)
    idle(window)
    stage = window.stages[0]
    window.open_stage(3)
    QTest.mouseClick(window.notices._sentence, LEFT)
    assert window.stage is stage
    assert [p.name for p in stage.selected] == ["Shelf"]
    assert stage.wall.panel_delegate.flash == ("shelf", (160.0, 130.0))
    # Its sign on the drawing is where it should be, and takes one there too.
    index, cell = cell_of(stage, "Shelf")
    found = stage.wall.panel_delegate.finding_at(
        index.data(PANEL_ROLE), cell, at_mm(stage, "Shelf", 160, 130)
    )
    assert found == engine.findings[0]
    assert stage.list.model().index(1).data().startswith("▲")


# --- layers -----------------------------------------------------------------------------------


def test_depth_and_face_of_a_layer_are_set_for_all_its_features(make_window, project) -> None:
    from app.widgets.fields import LengthField
    from app.widgets.forms import Choice

    window = make_window(project)
    stage = window.stages[0]
    depth = next(
        f
        for f in stage.layers.findChildren(LengthField)
        if f.line.accessibleName() == "Depth of layer POCKETS"
    )
    depth.line.setFocus()
    depth.line.selectAll()
    QTest.keyClicks(depth.line, "9")
    QTest.keyClick(depth.line, Qt.Key.Key_Return)
    assert window.document.project.panels[1].features[0].depth_mm == 9.0
    assert window.document.project.panels[1].features[1].depth_mm is None
    QApplication.processEvents()
    face = next(
        f
        for f in stage.layers.findChildren(Choice)
        if f.accessibleName() == "Face of layer POCKETS" and f.isVisibleTo(stage.layers)
    )
    face.setFocus()
    QTest.keyClick(face, Qt.Key.Key_Down)
    assert window.document.project.panels[1].features[0].face is Face.BACK
    assert window.document.undo_text == "Set face on layer POCKETS"


def test_reading_again_without_the_file_says_so(make_window, project) -> None:
    window = make_window(project)
    window.stages[0].layers.wants_again.emit("d1")
    assert "not where it was read from" in window.banner.text


def test_another_role_of_a_layer_is_read_from_the_file_and_kept(
    make_window, qtbot, idle, tmp_path: Path
) -> None:
    import ezdxf

    path = tmp_path / "tray.dxf"
    drawing = ezdxf.new(units=4)
    space = drawing.modelspace()
    drawing.layers.add("MARKS")
    space.add_lwpolyline([(0, 0), (400, 0), (400, 300), (0, 300)], close=True)
    space.add_lwpolyline(
        [(50, 50), (90, 50), (90, 90), (50, 90)], close=True, dxfattribs={"layer": "MARKS"}
    )
    drawing.saveas(path)
    window = make_window()
    window.files.open([path])
    qtbot.waitUntil(lambda: bool(window.document.project.panels), timeout=10_000)
    idle(window)
    window.stages[0].layers.wants_role.emit(
        window.document.project.drawings[0].id, "MARKS", Role.IGNORE
    )
    qtbot.waitUntil(
        lambda: (
            not window.document.project.panels[0].region.holes
            and not window.document.project.panels[0].features
        ),
        timeout=10_000,
    )
    assert dict(window.document.project.drawings[0].roles)["MARKS"] is Role.IGNORE


def test_coming_to_the_stage_the_panels_have_the_keyboard(make_window, project, qtbot) -> None:
    window = make_window(project)
    window.open_stage(2)
    window.open_stage(0)
    wall = window.stages[0].wall
    qtbot.waitUntil(wall.hasFocus)
    QTest.keyClick(wall, Qt.Key.Key_A, CTRL)
    assert len(window.stages[0].selected) == 3
