"""The shop drawer: what the maker has, changed in place, one undo step each."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from PySide6.QtCore import QPoint, Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication

from app.commands import AddPanels
from app.panel_table import rectangle_panel
from app.preferences import Preferences, read_shop
from app.shop.fits import fit_words
from core.findings import Finding, Severity
from core.project.model import Project
from core.shop import BoardState, Cutter, FitSetting, JointClass, Machine, Shop
from tests.app import mouse

LEFT = Qt.MouseButton.LeftButton


@pytest.fixture
def window(make_window, shop):
    """A window with the shop open."""
    made = make_window(Project(shop=shop, panels=(rectangle_panel("Shelf", 800, 300),)))
    QTest.keyClick(made, Qt.Key.Key_F9)
    assert made.shop.is_in
    QApplication.processEvents()
    return made


def type_into(field, text: str) -> None:
    field.line.setFocus()
    field.line.selectAll()
    QTest.keyClicks(field.line, text)
    QTest.keyClick(field.line, Qt.Key.Key_Return)


def test_f9_slides_the_shop_in_and_escape_puts_it_away(window) -> None:
    assert window.shop.isVisible()
    right = window.shop.geometry().right()
    assert abs(right - window.stack.width()) <= 1
    QTest.keyClick(window.shop, Qt.Key.Key_Escape)
    assert not window.shop.is_in
    assert not window.shop.isVisible()
    assert not window.shop_button.isChecked()


def test_it_stays_at_the_edge_when_the_window_changes_its_size(window, qtbot) -> None:
    window.resize(1200, 700)
    qtbot.waitUntil(lambda: abs(window.shop.geometry().right() - window.stack.width()) <= 1)


def test_the_travel_is_typed_as_a_size(window) -> None:
    part = window.shop.parts["machine"]
    type_into(part.form.fields["travel_mm"], "3 x 2 ft")
    assert window.document.project.shop.machine.travel_mm == pytest.approx((914.4, 609.6))
    assert window.document.undo_text == "Set machine"
    window.document.undo()
    assert window.document.project.shop.machine.travel_mm == (900.0, 600.0)
    assert part.form.fields["travel_mm"].text == "900 × 600 mm"


def test_a_value_the_core_refuses_is_explained_and_put_back(window) -> None:
    part = window.shop.parts["machine"]
    before = window.document.project
    type_into(part.form.fields["travel_mm"], "0 x 600")
    assert part.form.fields["travel_mm"].problem.isVisible()
    assert window.document.project is before


def test_a_blank_of_no_mass_is_no_limit(window) -> None:
    """Every panel was divided by it."""
    field = window.shop.parts["machine"].form.fields["max_blank_kg"]
    type_into(field, "0")
    assert field.problem.isVisible()
    assert window.document.project.shop.machine.max_blank_kg is None


def test_prices_carry_the_sign_of_the_makers_money(window) -> None:
    field = window.shop.parts["stock"].money.fields["currency"]
    type_into(field, "kr")
    assert window.document.project.shop.rules.currency == "kr"
    assert window.document.undo_text == "Set the currency"
    type_into(field, "guineas of the realm")
    assert field.problem.isVisible()
    assert window.document.project.shop.rules.currency == "kr"
    window.document.undo()
    assert window.document.project.shop.rules.currency == ""


def test_a_bit_is_added_measured_and_removed(window) -> None:
    part = window.shop.parts["bits"]
    window.shop.slide_in("bits")
    QTest.mouseClick(part.list.add_button, LEFT)
    assert window.document.project.shop.machine.cutters[1] == Cutter(3.0)
    type_into(part.list.cards[1].form.fields["measured_mm"], "2.92")
    assert window.document.project.shop.machine.cutters[1].measured_mm == 2.92
    QTest.mouseClick(part.list.cards[1].remove_button, LEFT)
    assert len(window.document.project.shop.machine.cutters) == 1
    assert not part.list.cards[0].remove_button.isEnabled(), "one bit is needed"


def test_readings_set_what_slots_are_cut_for(window) -> None:
    card = window.shop.parts["boards"].list.cards[0]
    assert "nominal" in card.note.text()
    for thickness in ("17.55", "17.6"):
        QTest.mouseClick(card.readings.add_button, LEFT)
        type_into(card.readings.cards[-1].form.fields["thickness_mm"], thickness)
    material = window.document.project.shop.materials[0]
    assert material.thickness_mm == 17.6
    assert "Joints are made for 17.6 mm, the largest of 2 readings" in card.note.text()
    assert "EN 315" in card.note.text()
    assert "differ by 0.05 mm" in card.warning.text()
    assert material.readings[0].state is BoardState.BOUGHT


def test_renaming_a_board_renames_it_everywhere(window) -> None:
    card = window.shop.parts["boards"].list.cards[0]
    type_into(card.form.fields["name"], "birch ply")
    project = window.document.project
    assert project.shop.materials[0].name == "birch ply"
    assert project.shop.stock[0].material == "birch ply"
    assert window.document.undo_text == "Rename board to birch ply"


def test_two_boards_cannot_share_a_name(window) -> None:
    part = window.shop.parts["boards"]
    QTest.mouseClick(part.list.add_button, LEFT)
    type_into(part.list.cards[1].form.fields["name"], "birch 18")
    assert window.shop.problem.isVisible()
    assert len({m.name for m in window.document.project.shop.materials}) == 2
    assert part.list.cards[1].form.fields["name"].text != "birch 18"


def test_a_bad_spot_is_marked_by_dragging_on_the_sheet(window) -> None:
    window.shop.slide_in("stock")
    QApplication.processEvents()
    card = window.shop.parts["stock"].list.cards[0]
    sketch = card.sketch
    start = sketch.to_px(500, 400).toPoint()
    end = sketch.to_px(800, 700).toPoint()
    QTest.mousePress(sketch, LEFT, pos=start)
    mouse.move(sketch, (start + end) / 2, LEFT)
    QTest.mouseRelease(sketch, LEFT, pos=end)
    defects = window.document.project.shop.stock[0].defects
    assert len(defects) == 1
    one_pixel = 2440 / sketch.width() * 2
    assert defects[0].polygon.bounds == pytest.approx((500, 400, 800, 700), abs=one_pixel)
    # The keyboard way to the same: its fields.
    type_into(card.spots.cards[0].form.fields["x_mm"], "510")
    assert window.document.project.shop.stock[0].defects[0].polygon.bounds[0] == 510.0


def test_a_clamp_is_marked_by_dragging_on_the_table(window) -> None:
    sketch = window.shop.parts["machine"].sketch
    QTest.mousePress(sketch, LEFT, pos=sketch.to_px(0, 0).toPoint())
    QTest.mouseRelease(sketch, LEFT, pos=sketch.to_px(90, 60).toPoint())
    (clamp,) = window.document.project.shop.machine.clamps
    assert clamp.width_mm == pytest.approx(90, abs=6)
    QTest.mouseClick(sketch, LEFT, pos=QPoint(40, 20))
    assert len(window.document.project.shop.machine.clamps) == 1, "a click is no clamp"


def test_an_offcut_goes_into_the_rack(window) -> None:
    part = window.shop.parts["stock"]
    QTest.mouseClick(part.list.add_button, LEFT)
    card = part.list.cards[1]
    type_into(card.form.fields["size_mm"], "700x400")
    type_into(card.form.fields["quantity"], "1")
    box = card.form.fields["in_rack"]
    QTest.mouseClick(box, LEFT, pos=QPoint(8, box.height() // 2))
    stock = window.document.project.shop.stock[1]
    assert (stock.width_mm, stock.height_mm, stock.quantity, stock.in_rack) == (700, 400, 1, True)
    assert stock.material == "birch 18"
    assert stock.id not in ("", "s1")


def test_empty_means_as_many_as_needed_and_no_limit(window) -> None:
    field = window.shop.parts["stock"].list.cards[0].form.fields["quantity"]
    type_into(field, "2")
    assert window.document.project.shop.stock[0].quantity == 2
    field.line.selectAll()
    QTest.keyClick(field.line, Qt.Key.Key_Delete)
    QTest.keyClick(field.line, Qt.Key.Key_Return)
    assert window.document.project.shop.stock[0].quantity is None
    assert window.document.project.shop.limits.door_mm is None


def test_rules_and_limits_reach_the_shop(window) -> None:
    window.shop.slide_in("rules")
    type_into(window.shop.parts["rules"].form.fields["kerf_mm"], "2.4")
    assert window.document.project.shop.rules.kerf_mm == 2.4
    window.shop.slide_in("limits")
    type_into(window.shop.parts["limits"].form.fields["door_mm"], "2 m x 80 cm")
    assert window.document.project.shop.limits.door_mm == (2000.0, 800.0)


def test_a_fit_is_shown_across_and_a_side() -> None:
    assert fit_words(0.1, "mm") == "0.10 mm across, 0.05 mm a side"
    assert fit_words(0.15, "mm") == "0.15 mm across, 0.075 mm a side"
    assert fit_words(0.127, "in") == "5 thou across, 2.5 thou a side"


def test_fits_are_kept_by_joint_class(window) -> None:
    part = window.shop.parts["fits"]
    window.shop.slide_in("fits")
    QTest.mouseClick(part.list.add_button, LEFT)
    card = part.list.cards[0]
    field = card.form.fields["joint_class"]
    field.setFocus()
    QTest.keyClick(field, Qt.Key.Key_Down)
    type_into(card.form.fields["play_mm"], "0.3")
    (fit,) = window.document.project.shop.fits
    assert fit == FitSetting(0.3, JointClass.KNOCK_DOWN)
    assert card.note.text() == "0.30 mm across, 0.15 mm a side"
    assert window.document.project.shop.fit_mm(JointClass.KNOCK_DOWN) == 0.3


def test_lengths_follow_the_unit_of_the_project(window) -> None:
    from app.commands import SetProject

    window.document.run(SetProject("Inches", (("units", "in"),)))
    assert window.shop.parts["rules"].form.fields["edge_margin_mm"].text.endswith(" in")


def test_the_shop_is_exported_imported_and_kept_for_new_projects(
    window, ask, tmp_path: Path
) -> None:
    path = tmp_path / "mine.json"
    ask.will("save_file", path)
    window.shop._export()
    assert read_shop(path) == window.document.project.shop
    other = replace(Shop(), machine=Machine(name="Big one", travel_mm=(1300.0, 900.0)))
    from app.preferences import write_shop

    write_shop(other, tmp_path / "other.json")
    ask.will("open_file", tmp_path / "other.json")
    window.shop._import()
    assert window.document.project.shop == other
    assert window.document.undo_text == "Import a shop"
    window.shop._keep()
    folder = window.context.preferences.shop_path.parent
    assert Preferences(folder).new_project().shop == other


def test_a_shop_file_that_cannot_be_read_is_explained(window, ask, tmp_path: Path) -> None:
    bad = tmp_path / "bad.json"
    bad.write_text("nothing")
    ask.will("open_file", bad)
    before = window.document.project
    window.shop._import()
    assert "bad.json" in window.shop.problem.text()
    assert window.document.project is before


# --- the first board --------------------------------------------------------------------------


def test_the_shop_opens_by_itself_once_when_it_has_no_board(make_window) -> None:
    window = make_window()
    window.document.run(AddPanels("Add", (rectangle_panel("Shelf", 800, 300),)))
    assert window.shop.is_in
    QTest.keyClick(window.shop, Qt.Key.Key_Escape)
    window.document.run(AddPanels("Add", (rectangle_panel("Other", 800, 300),)))
    assert not window.shop.is_in, "once is enough"


def test_the_drawer_stays_over_the_stage_that_comes_to_the_front(window) -> None:
    window.open_shop("boards")
    QApplication.processEvents()
    for stage in (1, 2, 0):
        window.open_stage(stage)
        QApplication.processEvents()
        assert window.shop.is_in
        # The topmost child of the stack at a point of the drawer is the drawer.
        spot = window.shop.geometry().center()
        top = window.stack.childAt(spot)
        assert top is window.shop or window.shop.isAncestorOf(top)


def test_a_usual_board_comes_with_its_sheet_and_serves_panels_without_one(make_window) -> None:
    window = make_window()
    window.document.run(AddPanels("Add", (rectangle_panel("Shelf", 800, 300),)))
    part = window.shop.parts["boards"]
    action = next(
        a for a in part.usual_menu.actions() if a.text().startswith("Birch plywood 18 mm ·")
    )
    action.trigger()
    project = window.document.project
    assert project.panels[0].material == "Birch plywood 18 mm"
    assert project.shop.materials[0].readings == (), "how thick it is has to be measured"
    assert (project.shop.stock[0].width_mm, project.shop.stock[0].height_mm) == (2500, 1250)
    # Play of plywood joints about 0.1 to 0.2 mm, MDF less: common practice, no source.
    assert project.shop.fit_mm(material="Birch plywood 18 mm") == 0.15
    loose = project.shop.fit_mm(JointClass.KNOCK_DOWN, "Birch plywood 18 mm")
    assert loose == 0.25
    assert window.document.undo_text == "Add Birch plywood 18 mm"
    action.trigger()
    assert len(window.document.project.shop.fits) == 2
    assert len(window.document.project.shop.materials) == 1
    assert len({s.id for s in window.document.project.shop.stock}) == 2
    window.document.undo()
    window.document.undo()
    assert window.document.project.panels[0].material == ""


@pytest.mark.parametrize(
    ("code", "label", "section"),
    (
        ("no-material", "Add a board", "boards"),
        ("no-sheets", "Add a sheet", "stock"),
        ("thickness-not-measured", "Enter a reading", "boards"),
        ("fit-not-tested", "Test piece…", "fits"),
    ),
)
def test_what_is_missing_in_the_shop_is_one_press_away(
    make_window, engine, idle, code: str, label: str, section: str
) -> None:
    engine.findings = (Finding(code, Severity.STOP, "Something is missing"),)
    window = make_window()
    idle(window)
    assert window.notices._button.text() == label
    QTest.mouseClick(window.notices._button, LEFT)
    assert window.shop.is_in
    assert window.shop._sections[section].body.isVisible()
