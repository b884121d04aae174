"""Stage 4: the pages on screen are the pages that are printed."""

from __future__ import annotations

from pathlib import Path

import pytest
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication

from app.commands import SetShopPart
from app.panel_table import rectangle_panel
from app.stages.cut_list_pages import measure, render
from app.window import MainWindow
from core.project.model import Project
from core.reports.pdfium import opened

LEFT = Qt.MouseButton.LeftButton


@pytest.fixture
def window(cut_list_window: MainWindow) -> MainWindow:
    return cut_list_window


def test_the_pages_of_the_pdf_are_shown(window, qtbot) -> None:
    stage = window.stages[3]
    with opened(stage._data) as document:
        assert stage.view.count == len(document)
    assert stage.list.count() == stage.view.count
    qtbot.waitUntil(lambda: stage.view.rendered > 0, timeout=10_000)
    picture = stage.view.grab().toImage()
    middle = picture.pixelColor(picture.width() // 2, 40)
    assert middle.lightness() > 230, "paper is white on a desk that is not"


def test_the_buying_list_says_what_and_what_it_costs(window) -> None:
    stage = window.stages[3]
    texts = [label.text() for label in stage.buying.findChildren(type(stage.state))]
    assert "1 ×" in texts
    assert "birch 18, 2440 × 1220 mm" in texts
    assert any("60" in text for text in texts)
    assert stage.status_text() == "1 to buy"


def test_amounts_are_written_with_the_currency_of_the_shop(window, qtbot) -> None:
    window.document.run(SetShopPart("Set the currency", "rules", (("currency", "kr"),)))
    stage = window.stages[3]

    def texts() -> list[str]:
        return [label.text() for label in stage.buying.findChildren(type(stage.state))]

    qtbot.waitUntil(lambda: any(t.endswith("\u00a0kr") for t in texts()), timeout=20_000)
    assert any(t.startswith("Together") and t.endswith("kr") for t in texts())


def test_choosing_a_page_scrolls_to_it(window) -> None:
    stage = window.stages[3]
    stage.list.setFocus()
    QTest.keyClick(stage.list, Qt.Key.Key_Down)
    assert stage.view.verticalScrollBar().value() > 0
    QTest.keyClick(stage.list, Qt.Key.Key_Up)
    assert stage.view.verticalScrollBar().value() == 0


def test_larger_pages_are_rendered_anew(window, qtbot) -> None:
    stage = window.stages[3]
    before = stage.view._rects()[0].width()
    stage.view.setFocus()
    QTest.keyClick(stage.view, Qt.Key.Key_Plus, Qt.KeyboardModifier.ControlModifier)
    assert stage.view._rects()[0].width() == pytest.approx(before * 1.2, abs=2)
    qtbot.waitUntil(lambda: stage.view.rendered > 0, timeout=10_000)


def test_labels_are_another_document(window, qtbot, idle) -> None:
    stage = window.stages[3]
    first = stage._data
    stage.document_choice.setFocus()
    QTest.keyClick(stage.document_choice, Qt.Key.Key_Down)
    qtbot.waitUntil(lambda: stage._data != first, timeout=10_000)
    assert stage.label_form.isVisible()
    assert not stage.paper.isVisible()
    with opened(stage._data) as document:
        text = document[0].get_textpage().get_text_bounded()
    assert "Shelf" in text


@pytest.mark.parametrize("document", ("buying", "template"))
def test_the_other_documents_are_made_too(window, qtbot, document: str) -> None:
    stage = window.stages[3]
    first = stage._data
    stage.document_choice.set_value(document)
    stage._remake()
    qtbot.waitUntil(lambda: stage._data not in (first, b""), timeout=15_000)
    assert stage.view.count >= 1


def test_the_pages_are_saved_as_they_are_shown(window, ask, qtbot, tmp_path: Path) -> None:
    stage = window.stages[3]
    ask.will("save_file", tmp_path / "list")
    QTest.mouseClick(stage.pdf_button, LEFT)
    path = tmp_path / "list.pdf"
    qtbot.waitUntil(path.exists, timeout=10_000)
    assert path.read_bytes() == stage._data
    qtbot.waitUntil(lambda: "list.pdf" in window.banner.text)


def test_printing_sends_every_page_at_its_true_size(window, ask, qtbot, tmp_path: Path) -> None:
    from PySide6.QtPrintSupport import QPrinter

    path = tmp_path / "printed.pdf"

    def to_file(printer: QPrinter) -> None:
        printer.setOutputFormat(QPrinter.OutputFormat.PdfFormat)
        printer.setOutputFileName(str(path))
        printer.setResolution(150)

    ask.will("printer", to_file)
    QTest.keyClick(window, Qt.Key.Key_P, Qt.KeyboardModifier.ControlModifier)
    qtbot.waitUntil(lambda: "went to the printer" in window.banner.text, timeout=30_000)
    shown = measure(window.stages[3]._data)
    with opened(path) as printed:
        assert len(printed) == len(shown.sizes)
        assert printed.get_page_size(0) == pytest.approx(shown.sizes[0], abs=1.0)


def test_everything_is_exported_into_a_folder(window, ask, qtbot, tmp_path: Path) -> None:
    folder = tmp_path / "out"
    ask.will("folder", folder)
    QTest.keyClick(window, Qt.Key.Key_E, Qt.KeyboardModifier.ControlModifier)
    qtbot.waitUntil(lambda: "written into" in window.banner.text, timeout=30_000)
    names = {path.name for path in folder.rglob("*") if path.is_file()}
    assert {"cut-list.pdf", "labels.pdf", "pieces.csv", "plan.json"} <= names
    assert list((folder / "sheets").glob("*.dxf"))


def test_a_folder_that_cannot_be_written_is_explained(window, ask, qtbot, tmp_path) -> None:
    blocked = tmp_path / "file"
    blocked.write_text("in the way")
    ask.will("folder", blocked)
    window.stages[3].export_folder()
    qtbot.waitUntil(lambda: window.banner.text.startswith("●"), timeout=10_000)
    assert blocked.read_text() == "in the way"


def test_without_a_layout_the_stage_says_where_to_go(make_window, shop, idle) -> None:
    window = make_window(Project(shop=shop, panels=(rectangle_panel("Shelf", 800, 300),)))
    idle(window)
    window.open_stage(3)
    stage = window.stages[3]
    assert stage.empty_title.text() == "Nothing lies on a sheet yet"
    assert not stage.print_button.isEnabled()
    QTest.mouseClick(stage.empty_button, LEFT)
    assert window.stage is window.stages[2]


def test_pages_render_white_with_ink(window) -> None:
    images = {}
    render(window.stages[3]._data, [0], 72.0, images.__setitem__, lambda: False)
    image = images[0]
    colours = {image.pixelColor(x, y).lightness() for x in range(0, 590, 3) for y in range(40)}
    QApplication.processEvents()
    assert max(colours) == 255
    assert min(colours) < 120
