"""Drawings in the window: what reading asked is answered, what changed is looked at."""

from __future__ import annotations

from pathlib import Path

import ezdxf
import pytest
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QAbstractButton, QApplication, QCheckBox

from app.commands import SetPanels
from app.widgets.fields import LengthField
from app.widgets.forms import Choice
from core.findings import Finding, Severity
from core.outlines.model import Face, Role
from core.project.model import Project

LEFT = Qt.MouseButton.LeftButton
Shape = tuple[str, list[tuple[float, float]], bool]


def box(x: float, y: float, w: float, h: float, layer: str = "0") -> Shape:
    return layer, [(x, y), (x + w, y), (x + w, y + h), (x, y + h)], True


def draw(path: Path, *shapes: Shape, unit: int = 4) -> Path:
    doc = ezdxf.new("R2010", units=unit)
    for layer, points, closed in shapes:
        doc.modelspace().add_lwpolyline(points, close=closed, dxfattribs={"layer": layer})
    doc.saveas(path)
    return path


@pytest.fixture
def opened(make_window, idle, shop):
    """A window with drawings read into it."""

    def open_(*paths: Path, project: Project | None = None):
        window = make_window(project or Project(shop=shop))
        window.files.open(paths)
        idle(window)
        assert window.document.project.drawings
        return window

    return open_


def finding(window, code: str) -> Finding:
    found = [f for f in window.context.derived.findings if f.code == code]
    assert found, [f.code for f in window.context.derived.findings]
    return found[0]


def press(window, idle, code: str, label: str) -> None:
    """Press the button beside a notice, after looking at what it says."""
    what = finding(window, code)
    while window.notices.current != what:
        window.notices.step(1)
    assert window.notices._button.isVisible()
    assert window.notices._button.text() == label
    QTest.mouseClick(window.notices._button, LEFT)
    idle(window)


# --- remedies ---------------------------------------------------------------------------------


def test_an_open_outline_is_closed_at_one_press_and_stays_so(opened, idle, tmp_path) -> None:
    path = draw(
        tmp_path / "a.dxf", ("0", [(0, 0), (300, 0), (300, 200), (0, 200), (0, 0.8)], False)
    )
    window = opened(path)
    assert not window.document.project.panels
    press(window, idle, "open-outline", "Close gaps up to 0.81 mm")
    (panel,) = window.document.project.panels
    assert panel.region.area_mm2 == pytest.approx(60000)
    assert finding(window, "gap-closed").panel == panel.id
    window.document.undo()
    assert not window.document.project.panels
    idle(window)
    assert finding(window, "open-outline")


def test_an_outline_drawn_twice_becomes_quantity(opened, idle, tmp_path) -> None:
    window = opened(
        draw(tmp_path / "a.dxf", box(0, 0, 300, 200, "CUT"), box(0, 0, 300, 200, "Outline"))
    )
    press(window, idle, "outline-twice", "Count as quantity")
    assert window.document.project.panels[0].quantity == 2
    assert "outline-twice" not in {f.code for f in window.context.derived.findings}


def test_copies_side_by_side_become_one_panel_in_one_step(opened, idle, tmp_path) -> None:
    window = opened(draw(tmp_path / "a.dxf", *(box(300 * k, 0, 200, 80) for k in range(3))))
    press(window, idle, "panels-alike", "Count as quantity")
    (panel,) = window.document.project.panels
    assert panel.quantity == 3
    assert window.document.undo_text == "Count 3 panels as one"


def test_a_layer_of_strays_is_left_out_and_one_stray_alone_too(opened, idle, tmp_path) -> None:
    window = opened(
        draw(
            tmp_path / "a.dxf",
            box(0, 0, 300, 200),
            ("Grid", [(400, 0), (500, 90)], False),
            ("0", [(600, 0), (700, 90)], False),
        )
    )
    labels = {
        f.message.split("“")[1].split("”")[0]: window.offer_of(f)
        for f in window.context.derived.findings
        if f.code == "open-line"
    }
    assert labels == {"Grid": "Leave out layer Grid", "0": "Leave it out"}
    for want in ("Leave out layer Grid", "Leave it out"):
        stray = next(
            f
            for f in window.context.derived.findings
            if f.code == "open-line" and window.offer_of(f) == want
        )
        window.fixes.take(stray)
        idle(window)
    assert "open-line" not in {f.code for f in window.context.derived.findings}
    assert len(window.document.project.panels) == 1


def test_the_board_round_the_panels_is_told_to_be_the_sheet(opened, idle, tmp_path) -> None:
    window = opened(
        draw(
            tmp_path / "a.dxf",
            box(0, 0, 2440, 1220),
            box(50, 50, 600, 400),
            box(700, 50, 500, 400),
        )
    )
    press(window, idle, "may-be-sheet", "It is the sheet")
    assert sorted(p.size_mm for p in window.document.project.panels) == [(500, 400), (600, 400)]


def test_outline_and_pockets_in_two_files_are_read_as_one(opened, idle, tmp_path) -> None:
    window = opened(
        draw(tmp_path / "tray.dxf", box(0, 0, 300, 200)),
        draw(tmp_path / "tray_in.dxf", box(50, 50, 60, 40, "Pocket 6")),
    )
    press(window, idle, "spread-over-files", "Read them as one")
    (panel,) = window.document.project.panels
    assert [f.depth_mm for f in panel.features] == [6.0]
    (drawing,) = window.document.project.drawings
    assert [f.file_name for f in drawing.joined] == ["tray_in.dxf"]
    window.stages[0].list.clearSelection()
    idle(window)
    part = next(
        b
        for b in window.stages[0].layers.findChildren(QAbstractButton)
        if b.accessibleName() == "Read tray_in.dxf on its own"
    )
    QTest.mouseClick(part, LEFT)
    idle(window)
    assert window.document.project.panels[0].features == ()


def test_a_missing_depth_leads_to_its_field(opened, idle, tmp_path) -> None:
    window = opened(draw(tmp_path / "a.dxf", box(0, 0, 300, 200), box(50, 50, 60, 40, "Recess")))
    press(window, idle, "depth-missing", "Set its depth")
    field = QApplication.focusWidget()
    assert field is not None
    assert field.accessibleName() == "Depth of layer Recess"
    QTest.keyClicks(field, "7.5")
    QTest.keyClick(field, Qt.Key.Key_Return)
    assert window.document.project.panels[0].features[0].depth_mm == 7.5
    idle(window)
    assert "depth-missing" not in {f.code for f in window.context.derived.findings}


# --- drawings and layers ------------------------------------------------------------------------


def test_what_a_layer_means_is_remembered_shown_and_forgotten(opened, idle, tmp_path) -> None:
    one = draw(tmp_path / "a.dxf", box(0, 0, 300, 200), box(50, 50, 60, 40, "Blue"))
    two = draw(tmp_path / "b.dxf", box(0, 0, 310, 210), box(50, 50, 60, 40, "BLUE"))
    window = opened(one)
    layers = window.stages[0].layers
    window.stages[0].list.clearSelection()
    layers.wants_role.emit("d1", "Blue", Role.POCKET)
    idle(window)
    depth = next(
        f
        for f in layers.findChildren(LengthField)
        if f.line.accessibleName() == "Depth of layer Blue"
    )
    depth.line.setFocus()
    QTest.keyClicks(depth.line, "4")
    QTest.keyClick(depth.line, Qt.Key.Key_Return)
    face = next(
        c for c in layers.findChildren(Choice) if c.accessibleName() == "Face of layer Blue"
    )
    face.chosen.emit(Face.BACK)
    window.files.open([two])
    idle(window)
    (pocket,) = window.document.project.panels[1].features
    assert (pocket.kind, pocket.depth_mm, pocket.face) == (Role.POCKET, 4.0, Face.BACK)
    assert window.context.preferences.new_project().layer_memory[0].layer == "Blue"
    window.stages[0].list.clearSelection()
    idle(window)
    tick = next(
        b
        for b in layers.findChildren(QCheckBox)
        if b.accessibleName() == "Layer Blue the same in other drawings"
    )
    assert tick.isChecked()
    tick.click()
    assert window.document.project.layer_memory == ()
    assert window.context.preferences.layer_memory() == ()
    press(window, idle, "layer-remembered", "Read it by its name")
    assert window.document.project.panels[1].features == ()
    assert window.document.project.panels[0].features[0].depth_mm == 4.0


def test_the_unit_is_switched_without_losing_decisions(opened, idle, tmp_path) -> None:
    window = opened(draw(tmp_path / "a.dxf", box(0, 0, 30, 20), unit=4))
    panel = window.document.project.panels[0]
    window.document.run(SetPanels("Set", (panel.id,), (("quantity", 5), ("material", "birch 18"))))
    window.stages[0].list.clearSelection()
    idle(window)
    unit = next(
        c
        for c in window.stages[0].layers.findChildren(Choice)
        if c.accessibleName() == "Unit of a.dxf"
    )
    assert unit.value == "mm"
    unit.chosen.emit("in")
    idle(window)
    now = window.document.project.panels[0]
    assert now.size_mm == pytest.approx((762, 508))
    assert (now.id, now.quantity, now.material) == (panel.id, 5, "birch 18")
    assert not window.document.project.drawings[0].units_guessed


def test_gaps_are_closed_up_to_what_the_maker_types(opened, idle, tmp_path) -> None:
    path = draw(
        tmp_path / "a.dxf",
        box(0, 0, 90, 90),
        ("0", [(200, 0), (300, 0), (300, 200), (200, 200), (200, 2)], False),
    )
    window = opened(path)
    window.stages[0].list.clearSelection()
    idle(window)
    field = next(
        f
        for f in window.stages[0].layers.findChildren(LengthField)
        if f.line.accessibleName() == "Gaps closed in a.dxf"
    )
    assert field.value == 0.5
    field.line.setFocus()
    field.line.selectAll()
    QTest.keyClicks(field.line, "2.5")
    QTest.keyClick(field.line, Qt.Key.Key_Return)
    idle(window)
    assert len(window.document.project.panels) == 2
    assert window.document.project.drawings[0].gap_mm == 2.5


def test_what_belongs_to_nothing_is_shown_in_its_drawing(opened, idle, tmp_path) -> None:
    window = opened(
        draw(tmp_path / "a.dxf", box(0, 0, 300, 200), ("0", [(400, 0), (500, 90)], False))
    )
    stage = window.stages[0]
    window.show_finding(finding(window, "open-line"))
    assert stage.pages.currentWidget() is stage.drawing_page
    assert stage.drawing_page.told.text() == "1 outline, 1 line in no outline"
    seen = stage.drawing_page.canvas.visible_rect()
    assert seen.contains(500, 90)
    QTest.mouseClick(stage.drawing_page.back, LEFT)
    assert stage.pages.currentWidget() is not stage.drawing_page


# --- reading again ------------------------------------------------------------------------------


def test_a_file_changed_on_disk_is_told_looked_at_and_taken(opened, idle, tmp_path) -> None:
    path = draw(tmp_path / "a.dxf", box(0, 0, 300, 200), box(500, 0, 77, 33))
    window = opened(path)
    stage = window.stages[0]
    draw(path, box(0, 0, 340, 200), box(900, 900, 50, 400))
    stage.watch.check()
    idle(window)
    press(window, idle, "drawing-changed", "Look at what changed")
    page = stage.compare_page
    assert stage.pages.currentWidget() is page
    rows = [page.list.item(i).text() for i in range(page.list.count())]
    assert rows[0] == "≠  a: its outline differs by up to 40 mm"
    assert any(row.startswith("−  a-2 is gone") for row in rows)
    assert any("is new" in row for row in rows)
    assert window.document.project.panels[0].size_mm == (300, 200), "nothing is taken unseen"
    QTest.mouseClick(page.take_button, LEFT)
    idle(window)
    assert sorted(p.size_mm for p in window.document.project.panels) == [(50, 400), (340, 200)]
    assert window.document.undo_text == "Read a.dxf"
    assert "drawing-changed" not in {f.code for f in window.context.derived.findings}


def test_a_change_that_is_left_is_not_told_again_until_the_next(opened, idle, tmp_path) -> None:
    path = draw(tmp_path / "a.dxf", box(0, 0, 300, 200))
    window = opened(path)
    stage = window.stages[0]
    draw(path, box(0, 0, 340, 200))
    stage.watch.check()
    idle(window)
    press(window, idle, "drawing-changed", "Look at what changed")
    QTest.mouseClick(stage.compare_page.leave_button, LEFT)
    idle(window)
    assert window.document.project.panels[0].size_mm == (300, 200)
    assert "drawing-changed" not in {f.code for f in window.context.derived.findings}
    draw(path, box(0, 0, 350, 200))
    stage.watch.check()
    idle(window)
    assert finding(window, "drawing-changed")


def test_an_unchanged_file_read_again_says_so(opened, idle, tmp_path) -> None:
    window = opened(draw(tmp_path / "a.dxf", box(0, 0, 300, 200)))
    window.stages[0].layers.wants_again.emit("d1")
    idle(window)
    assert "nothing new" in window.banner.text


# --- recognised features ------------------------------------------------------------------------


def test_recognised_features_are_looked_at_and_switched_off(opened, idle, tmp_path) -> None:
    window = opened(draw(tmp_path / "a.dxf", box(0, 0, 300, 200), box(100, 50, 18, 90)))
    stage = window.stages[0]
    stage.select_ids([window.document.project.panels[0].id])
    section = stage.properties.recognised
    section.head.click()
    idle(window)
    tops = [section.tree.topLevelItem(i) for i in range(section.tree.topLevelItemCount())]
    assert [top.text(0) for top in tops] == ["Slots (1)", "Straight edges (4)"]
    assert tops[0].child(0).text(0) == "18 × 90 mm, for 18 mm"
    section.tree.setCurrentItem(tops[0].child(0))
    shown, items = stage.wall.panel_delegate.recognised
    assert shown == window.document.project.panels[0].id
    assert [item.kind for item in items] == ["slot"]
    tops[0].child(0).setCheckState(0, Qt.CheckState.Unchecked)
    (off,) = window.document.project.panels[0].switched_off
    assert off.kind == "slot"
    assert window.document.undo_text == "Switch a feature off"
    window.document.undo()
    assert window.document.project.panels[0].switched_off == ()


def test_every_remedy_that_reading_names_has_a_button(make_window, shop) -> None:
    window = make_window(Project(shop=shop))
    fixes = (
        "take-as-mm", "take-as-in", "close-gap:0.80", "count-as-quantity",
        "count-as-quantity:p1+p2", "ignore-layer:0", "leave-out", "cut-layer:0", "as-pocket:0",
        "treat-as-sheet", "join-files:d1+d2", "forget-layer:0", "bring-back", "read-again",
        "set-depth:0",
    )  # fmt: skip
    for fix in fixes:
        told = Finding("x", Severity.WARN, "x", source="a.dxf", fix=fix)
        assert window.offer_of(told), fix


def test_two_drawings_of_one_name_have_notices_of_their_own(opened, idle, shop, tmp_path) -> None:
    shape = ("0", [(0, 0), (300, 0), (300, 200), (0, 200), (0, 0.3)], False)
    paths = []
    for name in ("left", "right"):
        (tmp_path / name).mkdir()
        paths.append(draw(tmp_path / name / "side.dxf", shape))
    window = opened(*paths, project=Project(shop=shop, units="in"))

    def about(code: str) -> list[str]:
        return [f.drawing for f in window.context.derived.findings if f.code == code]

    assert about("gap-closed") == ["d1", "d2"]
    press(window, idle, "gap-closed", "It is right")
    assert about("gap-closed") == ["d2"]
    for path in paths:
        draw(path, box(0, 0, 340, 200))
    watch = window.stages[0].watch
    watch.check()
    idle(window)
    assert about("drawing-changed") == ["d1", "d2"]
    watch.leave(["d1"])
    assert about("drawing-changed") == ["d2"]
