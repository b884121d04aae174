"""What somebody meets in the first hour: an empty shop, a drawing of their own, the first save."""

from __future__ import annotations

import os
from dataclasses import replace
from pathlib import Path

import ezdxf
import pytest
from PySide6.QtCore import QPoint, Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication, QComboBox, QPushButton, QWidget

from app.canvas.rulers import label_fits
from app.looks import apply_preferences
from app.stages.panels_start import StartPage
from app.widgets.forms import Choice, WrappedList
from core.findings import Finding, Severity
from core.project.model import Project
from core.shop import Reading, Shop

LEFT = Qt.MouseButton.LeftButton


def draw(path: Path, *boxes: tuple[float, float, float, float], unit: int = 4) -> Path:
    doc = ezdxf.new("R2010", units=unit)
    for x, y, w, h in boxes:
        points = [(x, y), (x + w, y), (x + w, y + h), (x, y + h)]
        doc.modelspace().add_lwpolyline(points, close=True)
    doc.saveas(path)
    return path


# --- the shop of a new user -------------------------------------------------------------------


def test_the_shop_covers_nothing_of_the_first_page(make_window, qtbot) -> None:
    window = make_window(Project())
    window.resize(1366, 768)
    start = window.stages[0].findChild(StartPage)
    QTest.mouseClick(start.shop_button, LEFT)
    QApplication.processEvents()
    assert window.shop.is_in
    edge = window.shop.mapTo(window, QPoint(0, 0)).x()
    for button in (start.choose_button, start.paste_button, *start.demo_buttons):
        assert button.mapTo(window, QPoint(button.width(), 0)).x() <= edge
    QTest.keyClick(window.shop, Qt.Key.Key_Escape)
    QApplication.processEvents()
    far = start.demo_buttons[-1].mapTo(window, QPoint(0, 0)).x()
    assert far + start.demo_buttons[-1].width() > edge


def test_tab_leaves_a_bits_card_for_what_stands_below_it(make_window, qtbot) -> None:
    window = make_window(Project())
    window.open_shop("bits")
    bits = window.shop.parts["bits"]
    QApplication.processEvents()
    window.activateWindow()
    name = bits.list.cards[0].form.fields["name"]
    name.line.setFocus()
    QTest.keyClick(name.line, Qt.Key.Key_Tab)
    after = QApplication.focusWidget()
    while after is not None and after is bits.list.cards[0].remove_button:
        QTest.keyClick(after, Qt.Key.Key_Tab)
        after = QApplication.focusWidget()
    assert after is bits.list.add_button


def test_a_board_just_added_is_seen_whole(make_window, qtbot) -> None:
    window = make_window(Project())
    window.resize(1366, 768)
    window.open_shop("boards")
    boards = window.shop.parts["boards"]
    boards.usual_menu.actions()[1].trigger()
    view = window.shop._area.viewport()

    def seen() -> bool:
        card = boards.list.cards[-1]
        top = card.mapTo(view, QPoint(0, 0)).y()
        return top >= 0 and top + card.height() <= view.height()

    qtbot.waitUntil(seen)


def test_usual_boards_name_the_sheet_they_come_with(make_window) -> None:
    window = make_window(Project())
    texts = [a.text() for a in window.shop.parts["boards"].usual_menu.actions()]
    assert "Birch plywood 18 mm · 2500 × 1250 mm" in texts
    assert "MDF 3/4 in · 97 × 49 in" in texts


# --- lists that drop down -----------------------------------------------------------------------


@pytest.mark.qt_log_ignore("This plugin does not support", extend=True)
@pytest.mark.parametrize("percent", [100, 200])
def test_a_drop_down_list_shows_all_of_its_lines(make_window, qtbot, percent: int) -> None:
    window = make_window(Project())
    window.context.preferences.set("text_percent", percent)
    apply_preferences(window.context.preferences)
    choice = Choice("Grain", [(i, f"line {i} of this list") for i in range(4)], window)
    choice.move(20, 20)
    choice.show()
    choice.showPopup()
    QApplication.processEvents()
    view = choice.view()
    last = view.visualRect(choice.model().index(3, 0))
    assert last.height() >= 22
    assert view.viewport().rect().contains(last)
    choice.hidePopup()


def test_no_option_is_cut_off_in_a_closed_list(make_window) -> None:
    window = make_window(Project())
    for choice in window.findChildren(Choice):
        metrics = choice.fontMetrics()
        longest = max((choice.itemText(i) for i in range(choice.count())), key=len, default="")
        if len(longest) <= 24:
            need = metrics.horizontalAdvance(longest)
            assert choice.minimumSizeHint().width() >= need + 24, longest
    assert window.findChildren(QComboBox)


@pytest.mark.parametrize("width", [150, 183, 197, 211, 240])
def test_a_wrapped_line_is_never_cut_off(qtbot, width: int) -> None:
    pages = WrappedList("Pages")
    qtbot.addWidget(pages)
    text = "3  Sheet 1 of 2: Birch plywood 18 mm, 2500 × 1250"
    pages.addItems([text] * 12)
    pages.resize(width, 300)
    pages.show()
    pages.fit()
    QApplication.processEvents()
    row = pages.visualItemRect(pages.item(0))
    room = pages.fontMetrics().boundingRect(
        0, 0, row.width() - 12, 999, Qt.TextFlag.TextWordWrap, text
    )
    assert row.height() >= room.height() + 6


# --- rulers -------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("at", "up", "fits"),
    [
        (-10.0, False, False),  # begins left of the ruler
        (10.0, False, True),
        (380.0, False, False),  # ends right of it
        (10.0, True, False),  # an upright number runs upwards, over the top end
        (390.0, True, True),
        (410.0, True, False),
    ],
)
def test_a_rulers_number_is_shown_whole_or_not_at_all(at: float, up: bool, fits: bool) -> None:
    assert label_fits(at, 30.0, 400.0, up=up) is fits


# --- the first drawing --------------------------------------------------------------------------


def test_the_first_drawing_names_the_project_and_where_it_is_saved(
    make_window, idle, ask, tmp_path: Path
) -> None:
    window = make_window(Project())
    window.files.open([draw(tmp_path / "wedging_table.dxf", (0, 0, 800, 300))])
    idle(window)
    assert window.document.project.name == "wedging table"
    seen: list[str] = []

    def save(*_args: object, suggestion: str = "", **_more: object) -> str:
        seen.append(suggestion)
        return suggestion

    window.context.ask.save_file = save
    assert window.files.save()
    assert seen == [str(tmp_path / "wedging table.json")]
    window.document.undo()
    assert window.document.project.name == Project().name


def test_a_drawing_that_cannot_be_read_names_nothing(make_window, idle, tmp_path: Path) -> None:
    window = make_window(Project())
    broken = tmp_path / "broken.dxf"
    broken.write_text("this is no drawing")
    window.files.open([broken, draw(tmp_path / "wedging_table.dxf", (0, 0, 800, 300))])
    idle(window)
    assert window.document.project.name == "wedging table"


def test_a_drawing_read_while_the_project_was_saved_elsewhere_is_found_from_there(
    make_window, idle, ask, tmp_path: Path
) -> None:
    window = make_window(Project())
    path = draw(tmp_path / "side.dxf", (0, 0, 800, 300))
    ask.will("save_file", tmp_path / "job.json")
    assert window.files.save()
    window.files.open([path])  # read on a thread; meanwhile:
    (tmp_path / "jobs").mkdir()
    ask.will("save_file", tmp_path / "jobs" / "job.json")
    assert window.files.save_as()
    idle(window)
    assert window.document.project.drawings[0].path == "../side.dxf"
    # compared, saved elsewhere before it is taken
    draw(path, (0, 0, 900, 300))
    window.files.add([path])
    idle(window)
    compare = window.stages[0].compare_page
    ask.will("save_file", tmp_path / "again.json")
    assert window.files.save_as()
    compare.taken.emit(compare._read)
    idle(window)
    assert window.document.project.drawings[0].path == "side.dxf"
    assert window.document.project.panels[0].region.size_mm == (900, 300)


def test_a_project_with_a_name_keeps_it(make_window, idle, tmp_path: Path) -> None:
    window = make_window(Project(name="Clay room"))
    window.files.open([draw(tmp_path / "side.dxf", (0, 0, 800, 300))])
    idle(window)
    assert window.document.project.name == "Clay room"


def test_a_guessed_unit_can_be_said_to_be_right(make_window, idle, shop, tmp_path: Path) -> None:
    window = make_window(Project(shop=shop))
    window.files.open([draw(tmp_path / "side.dxf", (0, 0, 800, 300), unit=0)])
    idle(window)
    assert "unit-guessed" in {f.code for f in window.context.derived.findings}
    window.stages[0].list.selectionModel().clear()
    choice = next(
        c
        for c in window.stages[0].layers.findChildren(Choice)
        if c.accessibleName().startswith("Unit of")
    )
    assert choice.currentText() == "read in millimetres, a guess"
    choice.setCurrentIndex(choice.findText("read in millimetres"))
    choice.activated.emit(choice.currentIndex())
    idle(window)
    assert "unit-guessed" not in {f.code for f in window.context.derived.findings}
    drawing = window.document.project.drawings[0]
    assert (drawing.units, drawing.unit_chosen) == ("mm", True)


def test_a_drawing_changed_on_disk_is_told_across_the_window_from_any_stage(
    make_window, idle, shop, qtbot, tmp_path: Path
) -> None:
    window = make_window(Project(shop=shop))
    path = draw(tmp_path / "side.dxf", (0, 0, 800, 300))
    window.files.open([path])
    idle(window)
    panels = window.stages[0]
    panels.watch.check()
    idle(window)
    window.open_stage(2)
    draw(path, (0, 0, 860, 300))
    os.utime(path, ns=(1, 1))
    panels.watch.check()
    qtbot.waitUntil(lambda: "side.dxf has been changed" in window.banner.text)
    (look,) = window.banner.buttons
    assert look.text() == "Look at what changed"
    QTest.mouseClick(look, LEFT)
    idle(window)
    assert window.stage is panels
    assert panels.pages.currentWidget() is panels.compare_page
    panels.compare_page.taken.emit(panels.compare_page._read)
    idle(window)
    assert window.document.project.panels[0].region.size_mm == (860, 300)
    panels.watch.check()
    idle(window)
    assert window.banner.text == ""


def test_a_list_may_be_chosen_where_drawings_are(make_window, idle, tmp_path: Path) -> None:
    path = tmp_path / "shelves.csv"
    path.write_text("name,width,height,quantity\nShelf,800,300,2\n")
    window = make_window(Project(shop=Shop()))
    window.context.ask.open_files = lambda *_a, **_k: [str(path)]
    heard: list[str] = []
    window.files.table_read.connect(heard.append)
    window.files.ask_add()
    assert heard
    assert "Shelf" in heard[0]
    for box in QApplication.topLevelWidgets():
        if isinstance(box, QWidget) and box is not window and box.isVisible():
            box.close()


def test_notices_are_rows_high_enough_to_hit(make_window, idle, shop) -> None:
    window = make_window(Project(shop=replace(shop, stock=())))
    idle(window)
    rows = tuple(Finding(f"code-{i}", Severity.NOTE, f"Sentence {i}.") for i in range(4))
    window.notices.set_findings(rows)
    window.notices.set_open(True)
    QApplication.processEvents()
    tree = window.notices._list
    heights = [tree.visualItemRect(tree.topLevelItem(i)).height() for i in range(4)]
    assert min(heights) >= 24
    assert tree.viewport().rect().contains(tree.visualItemRect(tree.topLevelItem(3)))


def test_a_long_notice_is_read_whole_in_the_list(make_window, idle, shop) -> None:
    window = make_window(Project(shop=shop))
    idle(window)
    long = "The fit of glued joints is assumed. " * 8
    window.notices.set_findings((Finding("a", Severity.NOTE, long, remedy=long),))
    window.notices.set_open(True)
    QApplication.processEvents()
    tree = window.notices._list
    width = tree.columnWidth(1)
    need = tree.fontMetrics().boundingRect(0, 0, width, 9999, Qt.TextFlag.TextWordWrap, long)
    assert need.height() > 2 * tree.fontMetrics().height()
    assert tree.visualItemRect(tree.topLevelItem(0)).height() >= need.height()
    # also after there was nothing to say, and the open list was away
    window.notices.set_findings(())
    window.notices.set_findings((Finding("b", Severity.NOTE, long, remedy=long),))
    QApplication.processEvents()
    assert tree.visualItemRect(tree.topLevelItem(0)).height() >= need.height()


def test_a_double_click_takes_one_remedy_only(make_window, idle, shop) -> None:
    """After the first press the button may stand for the next notice."""
    window = make_window(Project(shop=shop))
    idle(window)
    notices = window.notices
    rows = tuple(Finding("no-sheets", Severity.WARN, f"Sentence {i}.") for i in range(2))
    notices.set_findings(rows)
    taken: list[Finding] = []
    notices.remedy.disconnect()
    notices.remedy.connect(taken.append)
    notices.remedy.connect(lambda finding: notices.set_findings(rows[1:]))
    assert notices._button.isVisible()
    QTest.mouseClick(notices._button, LEFT)
    QTest.mouseDClick(notices._button, LEFT)  # what follows the first press of a double click
    assert taken == [rows[0]]


def test_what_reading_did_by_itself_is_put_away_once_looked_at(
    make_window, idle, shop, tmp_path: Path
) -> None:
    doc = ezdxf.new("R2010", units=4)
    corners = [(0, 0), (800, 0), (800, 300), (0, 300), (0, 0.3)]
    doc.modelspace().add_lwpolyline(corners, close=False)
    path = tmp_path / "side.dxf"
    doc.saveas(path)
    window = make_window(Project(shop=shop))
    window.files.open([path])
    idle(window)
    (closed,) = [f for f in window.context.derived.findings if f.code == "gap-closed"]
    while window.notices.current != closed:
        window.notices.step(1)
    assert window.notices._button.text() == "It is right"
    QTest.mouseClick(window.notices._button, LEFT)
    idle(window)
    assert "gap-closed" not in {f.code for f in window.context.derived.findings}
    # looked at once is enough, also when the file is read again
    window.files.add([path])
    idle(window)
    assert "gap-closed" not in {f.code for f in window.context.derived.findings}
    window.document.undo()
    idle(window)
    assert "gap-closed" in {f.code for f in window.context.derived.findings}


# --- the Joints stage ---------------------------------------------------------------------------


@pytest.fixture
def jointed(make_window, idle, shop, tmp_path: Path):
    """A long top with slots and a shelf with a tooth nobody's notch takes, as a maker draws."""
    doc = ezdxf.new("R2010", units=4)
    space = doc.modelspace()
    slot, notch = [(0, 0), (18, 0), (18, 200), (0, 200)], [(0, 110), (18, 110), (18, 310), (0, 310)]
    shelf = [(0, 0), (820, 0), *((820 - x, y) for x, y in notch), (820, 420), (0, 420)]
    shapes = [
        [(0, 0), (1260, 0), (1260, 560), (0, 560)],
        [(x + 200, y + 100) for x, y in slot],
        [(x + 1042, y + 100) for x, y in slot],
        [(x, y + 700) for x, y in (*shelf, *reversed(notch))],
    ]
    for points in shapes:
        space.add_lwpolyline(points, close=True)
    path = tmp_path / "table.dxf"
    doc.saveas(path)
    measured = tuple(replace(m, readings=(Reading(17.6),)) for m in shop.materials)
    window = make_window(Project(shop=replace(shop, materials=measured), refit=True), real=True)
    window.resize(1366, 768)
    window.files.open([path])
    idle(window)
    window.open_stage(1)
    idle(window)
    return window


def in_view(stage, widget: QWidget) -> bool:
    top = widget.mapTo(stage.side.viewport(), QPoint(0, 0)).y()
    return 0 <= top < stage.side.viewport().height() - 60


def test_going_to_a_seam_brings_its_style_into_view(jointed, idle, qtbot) -> None:
    stage = jointed.stages[1]
    stage.choose_panel(jointed.document.project.panels[0].id)
    idle(jointed)
    stage.refit_box.open()
    qtbot.waitUntil(lambda: not in_view(stage, stage.style_box.gallery))
    stage.hand.choose(0, "middle")
    qtbot.waitUntil(lambda: in_view(stage, stage.style_box.gallery))
    stage.choose_panel(jointed.document.project.panels[1].id)
    idle(jointed)
    assert stage.side.verticalScrollBar().value() == 0


def test_a_joint_left_to_the_maker_is_decided_where_it_says_so(jointed, idle) -> None:
    stage = jointed.stages[1]
    stage.choose_panel(jointed.document.project.panels[1].id)
    idle(jointed)
    box = stage.refit_box
    assert box.joints.to_decide == 2
    # the notice and the list call it the same
    asked = next(f for f in jointed.context.derived.findings if f.code == "refit-ask")
    assert "row of teeth" in asked.message
    assert "Row of teeth" in box.list.item(0).text()
    assert box.answers.isVisible()
    leave = next(b for b in box.answers.findChildren(QPushButton) if "as drawn" in b.text())
    QTest.mouseClick(leave, LEFT)
    idle(jointed)
    assert box.joints.to_decide == 0
    assert not box.answers.isVisible()
    assert jointed.document.undo_text == "Say whether a joint is re-cut"


def test_choosing_a_joint_in_view_moves_nothing(jointed, idle) -> None:
    stage = jointed.stages[1]
    stage.choose_panel(jointed.document.project.panels[1].id)
    idle(jointed)
    stage.canvas.fit_now()
    before = stage.canvas.visible_rect()
    stage.refit_box.list.setCurrentRow(1)
    idle(jointed)
    assert stage.canvas.visible_rect() == before
    stage.canvas.centre_on(5000.0, 5000.0)
    stage.refit_box.list.setCurrentRow(0)
    idle(jointed)
    x, y = stage.refit_box.chosen.at
    assert stage.canvas.view.viewport().rect().contains(stage.canvas.to_px(x, y).toPoint())
