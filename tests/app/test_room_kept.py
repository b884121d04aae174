"""Nothing lies on what is to be read, what cannot be pressed says why, empty places teach."""

from __future__ import annotations

from dataclasses import replace
from itertools import combinations

import pytest
from PySide6.QtCore import QPoint, QRect, QRectF, Qt
from PySide6.QtGui import QColor
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication, QDialog, QPushButton, QScrollArea, QToolButton

from app.canvas import items
from app.canvas.labels import place_of
from app.canvas.view import Canvas
from app.looks import apply_preferences
from app.preferences import Preferences
from app.stages.sheets_items import label_shares
from app.stages.sheets_side import LayoutsBox
from app.widgets.forms import Choice, Rows
from app.widgets.help import KeyboardDialog
from core.findings import Finding, Severity
from core.plan import PlanBlank, PlanSawCut, PlanSheet
from core.project.model import Project
from core.shop import Shop, Stock
from tests.app.floor import laid
from tests.app.window_bench import add


def in_px(canvas: Canvas, rect: QRectF) -> QRect:
    """Where an area of the drawing is on the viewport."""
    a, b = canvas.to_px(rect.left(), rect.bottom()), canvas.to_px(rect.right(), rect.top())
    return QRectF(a, b).normalized().toRect()


def test_the_zoom_buttons_lie_on_no_sheet_and_on_no_name_when_all_is_shown(make_sheets) -> None:
    stage = make_sheets(laid(2))
    for size in ((1300, 800), (1000, 560), (1900, 900)):
        stage.resize(*size)
        QApplication.processEvents()
        stage.canvas.fit_now()
        names = stage.canvas.fontMetrics().height()
        shown = in_px(stage.canvas, stage.floor.area()).adjusted(0, 0, 0, names)
        assert not shown.intersects(stage.canvas.buttons.geometry()), size
        assert stage.canvas.view.viewport().rect().contains(shown), size


def test_the_zoom_buttons_stand_beside_the_open_shop(make_window, idle) -> None:
    window = make_window()
    add(window)
    idle(window)
    for number in (1, 2):
        window.open_stage(number)
        window.open_shop()
        QApplication.processEvents()
        buttons = window.stages[number].canvas.buttons
        right = buttons.mapTo(window, QPoint(buttons.width(), 0)).x()
        assert right <= window.shop.mapTo(window, QPoint(0, 0)).x()
        window.shop.slide_out()
        QApplication.processEvents()
        view = window.stages[number].canvas.view
        assert buttons.geometry().right() > view.width() - 20


def test_the_number_of_a_saw_cut_keeps_out_of_the_sheets_title() -> None:
    upright = PlanSawCut(1, 1200, 1000, 1200, 1250)
    across = PlanSawCut(2, 0, 1245, 2500, 1245)
    sheet = PlanSheet("s", 1, Stock("s", "ply", 2500, 1250), saw_cuts=(upright, across))
    shares = label_shares(sheet)
    assert 1250 - (1000 + 250 * shares[1]) > 50
    assert shares[2] > 0  # one along the edge has no other place


def test_heads_of_a_table_stand_over_what_is_below_them(qtbot) -> None:
    box = LayoutsBox()
    qtbot.addWidget(box)
    sides = [box.table.horizontalHeaderItem(k).textAlignment() for k in range(4)]
    assert sides[0] & Qt.AlignmentFlag.AlignLeft
    assert all(side & Qt.AlignmentFlag.AlignRight for side in sides[1:])


def test_another_project_shows_nothing_of_the_one_before(make_window, idle) -> None:
    window = make_window()
    add(window)
    idle(window)
    derived = window.context.derived
    assert derived.pieces is not None and derived.plan is not None
    window.stages[0].select_ids([panel.id for panel in window.document.project.panels])
    other = replace(window.document.project.panels[0], name="Another")
    window.document.take(Project(panels=(other,)), None)
    assert not window.stages[0].selected
    assert derived.pieces is None and derived.plan is None and not derived.findings
    assert "cut into" not in window.stages[0].properties.told.text().lower()
    idle(window)
    assert derived.pieces is not None


@pytest.mark.parametrize("number", (1, 2, 3))
def test_an_empty_stage_leads_to_the_panels(make_window, idle, number: int) -> None:
    window = make_window()
    window.open_stage(number)
    idle(window)
    stage = window.stages[number]
    found = [b for b in stage.findChildren(QPushButton) if b.isVisible() and "Panels" in b.text()]
    assert len(found) == 1
    QTest.mouseClick(found[0], Qt.MouseButton.LeftButton)
    assert window.stage is window.stages[0]


def test_what_cannot_be_pressed_in_a_dialog_says_why(make_window, idle) -> None:
    window = make_window(Project(shop=Shop()))
    add(window)
    idle(window)
    panels, joints, sheets, pages = window.stages
    window.open_stage(1)
    joints.choose_panel("shelf")
    idle(window)
    mute = []
    for show in (
        joints.draw_tooth,
        joints.compare_ways,
        sheets.show_bed,
        sheets.ways.compare,
        pages.show_layers,
        pages.show_label_sheets,
        pages.compare,
        window.shop.test_piece,
        panels._open_paste,
    ):
        show()
        QApplication.processEvents()
        for top in (*window.findChildren(QDialog), panels.paste_card, window.shop):
            for button in top.findChildren(QPushButton) + top.findChildren(QToolButton):
                said = button.toolTip() and button.accessibleDescription()
                if button.isVisibleTo(top) and not button.isEnabled() and not said:
                    mute.append(f"{type(top).__name__}: {button.text() or button.toolTip()}")
        for dialog in window.findChildren(QDialog):
            dialog.close()
    assert not mute, "\n".join(mute)


def test_the_keyboard_reference_scrolls_by_keys(make_window) -> None:
    window = make_window()
    dialog = KeyboardDialog(window, window)
    dialog.resize(500, 300)
    dialog.show()
    area = dialog.findChild(QScrollArea)
    assert area.focusPolicy() & Qt.FocusPolicy.TabFocus
    QTest.keyClick(area, Qt.Key.Key_PageDown)
    assert area.verticalScrollBar().value() > 0
    dialog.close()


def test_a_long_notice_wraps_and_keeps_its_room(make_window, idle) -> None:
    window = make_window()
    window.context.preferences.set("text_percent", 150)
    apply_preferences(window.context.preferences)
    window.open_stage(2)
    idle(window)
    notices = window.notices
    say = "The board of Shelf is thicker than the bit is long, and this goes on for a while " * 2
    short = Finding("a", Severity.NOTE, "Short")
    notices.set_findings((Finding("b", Severity.WARN, say.strip(), remedy="Do that."), short))
    QApplication.processEvents()
    sentence = notices._sentence
    rows = sentence.shown_lines()
    assert 1 < len(rows) <= 3
    assert " ".join(rows) == sentence.full_text
    high = sentence.height()
    assert high >= len(rows) * sentence.fontMetrics().lineSpacing()
    notices.step(1)
    QApplication.processEvents()
    assert sentence.full_text.endswith("Short") and sentence.height() == high


def test_the_open_list_of_notices_shows_long_ones_whole(make_window, idle) -> None:
    window = make_window()
    idle(window)
    say = "The board of Shelf is thicker than the bit is long, and this goes on for a while. " * 3
    window.notices.set_findings((Finding("a", Severity.WARN, say),))
    window.notices.set_open(True)
    QApplication.processEvents()
    rows = window.notices._list
    assert rows.visualItemRect(rows.topLevelItem(0)).height() <= rows.viewport().height()


def test_the_first_page_needs_no_scrolling_sideways_beside_the_shop(make_window) -> None:
    window = make_window()
    window.resize(1280, 720)
    for percent in (100, 200):
        window.context.preferences.set("text_percent", percent)
        apply_preferences(window.context.preferences)
        window.open_shop()
        QApplication.processEvents()
        start = window.stages[0].start
        assert start.horizontalScrollBar().maximum() == 0, percent
        window.shop.slide_out()


def test_a_note_beside_the_pointer_wraps_where_the_drawing_is_narrow(make_sheets) -> None:
    canvas = make_sheets().canvas
    note = "overlaps Counter front by 576 mm, and 8 mm where no cut may go " * 6
    canvas.show_hover(note, QPoint(200, 100))
    room = canvas.view.viewport().rect()
    assert room.contains(canvas._callout.geometry())
    assert canvas._callout.height() >= canvas._callout.heightForWidth(canvas._callout.width())
    canvas.show_hover("", QPoint())


def test_marks_of_a_sheet_never_lie_on_each_other(make_sheets) -> None:
    stage = make_sheets(laid(2))
    item = next(iter(stage.floor.sheets.values()))
    w, h = item.stock.width_mm, item.stock.height_mm
    cuts = tuple(PlanSawCut(n, w / 2 + n, 0, w / 2 + n, h) for n in range(1, 6))
    blank = PlanBlank("b", "A", 0, 0, w, h)
    other = PlanBlank("c", "B", w / 2, 0, w / 2, h)
    sheet = PlanSheet("s", 1, item.stock, blanks=(blank, other), saw_cuts=cuts)
    item.show_marks(sheet, "mm")
    for scale in (0.05, 0.2, 1.0):
        for label in item._labels():
            label.set_scale_px(scale)
        places = item.settle_marks(scale)
        assert all(not a.intersects(b) for a, b in combinations(places, 2)), scale
        shown = [label.text for label in item._labels() if label.isVisible()]
        assert scale < 0.2 or "A" in shown
    assert len(places) == len(shown)
    item.show_marks(None, "mm")


def test_icons_grow_with_the_text(make_window) -> None:
    window = make_window()
    window.context.preferences.set("text_percent", 250)
    apply_preferences(window.context.preferences)
    size = window.undo_button.iconSize()
    assert size.width() > 30
    assert window.undo_button.icon().actualSize(size) == size


def test_fields_below_their_labels_stand_at_the_same_edge(qtbot) -> None:
    rows = Rows()
    qtbot.addWidget(rows)
    for name in ("A label that is rather long", "Another one that is long"):
        rows.add(name, Choice(name, [(1, "a choice of many words")]))
    rows.resize(220, 200)
    rows.show()
    QApplication.processEvents()
    assert {choice.x() for choice in rows.findChildren(Choice)} == {0}


def test_names_and_shares_of_sheets_never_lie_on_each_other(make_sheets) -> None:
    stage = make_sheets(laid(2))
    stock = next(iter(stage.floor.sheets))[0]
    stage.lay_out_sheet(stock)
    preferences = Preferences(None)
    preferences.set("less_motion", True)
    for percent, size, least in (
        (200, (1900, 1000), 4),
        (200, (1900, 640), 2),
        (100, (700, 500), 2),
    ):
        preferences.set("text_percent", percent)
        apply_preferences(preferences)
        stage.resize(*size)
        QApplication.processEvents()
        stage.canvas.fit_now()
        scale, floor = stage.canvas.px_per_mm, stage.floor
        texts = [t for s in floor.sheets.values() for t in (s.title, s.bar.label) if t.isVisible()]
        assert len(texts) >= least
        for a, b in combinations([place_of(text, scale) for text in texts], 2):
            assert not a.intersects(b), (percent, size)
    stage.resize(1300, 800)


def test_what_is_selected_stands_out_as_much_on_a_fine_screen(monkeypatch) -> None:
    monkeypatch.setattr(items, "screen_ratio", lambda: 3.0)
    assert items.cosmetic(QColor("black"), 2.0).widthF() == 6.0
    assert items.cosmetic(QColor("black")).widthF() == 1.0


def test_a_sheet_too_narrow_for_its_name_says_at_least_its_number(make_sheets) -> None:
    title = next(iter(make_sheets(laid(2)).floor.sheets.values())).title
    title.set_scale_px(0.04)
    assert title.isVisible() and title._text.startswith("Sheet 1")
