"""Stage 4: label sheets, layer names, pictures, page ranges and ways to buy, by hand."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import ezdxf
import pytest
from PySide6.QtCore import Qt
from PySide6.QtGui import QImage, QPageRanges
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QGraphicsView, QWidget

from app.commands import SetLayout
from app.panel_table import rectangle_panel
from app.pictures import picture_of, view_of
from app.preferences import Preferences
from app.stages.cut_list_compare import CompareDialog
from app.stages.cut_list_labels import LabelSheetsDialog
from app.stages.cut_list_layers import LayersDialog
from app.stages.cut_list_print import wanted_pages
from app.stages.cut_list_request import PageRequest, make
from app.window import MainWindow
from core.project.model import KeptLayout, Project
from core.project.output import Output
from core.reports.pdfium import opened
from core.shop import Material, Shop, Stock
from tests.unit.reports.report_plans import every_plan

LEFT = Qt.MouseButton.LeftButton


@pytest.fixture
def window(cut_list_window: MainWindow) -> MainWindow:
    return cut_list_window


def show(window, document: str, qtbot, idle) -> None:
    """Choose another document and wait for its pages."""
    stage = window.stages[3]
    before = stage._data
    stage.document_choice.set_value(document)
    stage._remake()
    qtbot.waitUntil(lambda: stage._data not in (before, b""), timeout=30_000)
    idle(window)


def type_into(field: QWidget, text: str) -> None:
    """As typed over what was there, with Enter."""
    field.line.setFocus()
    field.line.selectAll()
    QTest.keyClicks(field.line, text)
    QTest.keyClick(field.line, Qt.Key.Key_Return)


def words_of(data: bytes, page: int = 0) -> str:
    with opened(data) as document:
        return document[page].get_textpage().get_text_bounded()


# --- what the project keeps -----------------------------------------------------------------


def test_where_labels_begin_is_kept_by_the_project_and_can_be_undone(window, qtbot, idle) -> None:
    show(window, "labels", qtbot, idle)
    stage = window.stages[3]
    first = stage._data
    type_into(stage.first_label, "3")
    assert window.document.project.output.first_label == 3
    assert window.document.undo_text == "Begin at label 3"
    qtbot.waitUntil(lambda: stage._data not in (first, b""), timeout=30_000)
    idle(window)
    window.document.undo()
    idle(window)
    assert stage.first_label.value == 1
    assert window.document.project.output.first_label == 1


def test_labels_of_sawn_blanks_are_a_document_of_their_own() -> None:
    plan = every_plan()["small"]
    made = make(plan, PageRequest("blank-labels", "A4", first_label=12))
    with opened(made.data) as document:
        assert len(document) == len(made.pages) == 2
    assert "Sheet 1, blank A" in words_of(made.data)
    assert "Sheet 1, blank B" in words_of(made.data, 1)


def test_a_plan_without_sawn_blanks_says_so(window, qtbot, idle) -> None:
    stage = window.stages[3]
    told: list[str] = []
    stage.message.connect(lambda _kind, text: told.append(text))
    stage.document_choice.set_value("blank-labels")
    stage._remake()
    qtbot.waitUntil(lambda: bool(told), timeout=30_000)
    assert "No sheet of this plan is sawn into blanks" in told[0]
    assert stage.first_label.isVisible() and stage.label_form.isVisible()
    show(window, "labels", qtbot, idle)
    assert stage.view.count == 1


def test_without_own_label_sheets_the_dialog_says_so_and_what_to_do(window) -> None:
    stage = window.stages[3]
    stage.show_label_sheets()
    dialog = stage._dialog
    assert isinstance(dialog, LabelSheetsDialog)
    assert (dialog.sheets.currentText(), dialog.paper.currentText()) == ("none yet", "A4")
    assert "Press New" in dialog.told.text()
    QTest.mouseClick(dialog.new_button, LEFT)
    assert dialog.sheets.currentText() == "My labels 1" and dialog.told.text() == ""
    dialog.close()


def test_another_label_sheet_is_a_fresh_one(window, qtbot, idle) -> None:
    show(window, "labels", qtbot, idle)
    stage = window.stages[3]
    type_into(stage.first_label, "3")
    stage.label_form.setFocus()
    QTest.keyClick(stage.label_form, Qt.Key.Key_Down)
    output = window.document.project.output
    assert output.label_sheet.startswith("A4, 3 × 8")
    assert output.first_label == 1


def test_paper_is_the_projects_and_nothing_is_cut_anew_for_it(window, qtbot, idle, engine) -> None:
    stage = window.stages[3]
    cut, planned = engine.cut_calls, engine.plan_calls
    assert stage.paper.value == "A4"
    first = stage._data
    stage.paper.setFocus()
    QTest.keyClick(stage.paper, Qt.Key.Key_Down)
    qtbot.waitUntil(lambda: stage._data not in (first, b""), timeout=30_000)
    idle(window)
    assert window.document.project.output.paper == "A3"
    assert window.context.derived.is_current
    assert (engine.cut_calls, engine.plan_calls) == (cut, planned)
    with opened(stage._data) as document:
        width, height = document.get_page_size(0)
    assert (width, height) == pytest.approx((420 * 72 / 25.4, 297 * 72 / 25.4), abs=0.1)


def test_a_layer_renamed_in_the_window_is_so_named_in_the_files(
    window, ask, qtbot, idle, tmp_path: Path
) -> None:
    stage = window.stages[3]
    stage.show_layers()
    dialog = stage._dialog
    assert isinstance(dialog, LayersDialog)
    type_into(dialog.fields["outside"], "PROFILE {depth}")
    assert dict(window.document.project.output.layers) == {"outside": "PROFILE {depth}"}
    dialog.version.setFocus()
    QTest.keyClick(dialog.version, Qt.Key.Key_Down)
    assert window.document.project.output.dxf_version == "R2000"
    dialog.close()
    idle(window)
    ask.will("folder", tmp_path / "out")
    stage.export_folder()
    qtbot.waitUntil(lambda: "written into" in window.banner.text, timeout=30_000)
    document = ezdxf.readfile(next((tmp_path / "out" / "sheets").glob("*.dxf")))
    assert document.acad_release == "R2000"
    assert len(document.modelspace().query('LWPOLYLINE[layer=="PROFILE THRU"]')) == 2
    window.document.undo()
    window.document.undo()
    assert window.document.project.output == Output()


def test_layer_names_that_cannot_be_are_explained_in_place(window) -> None:
    window.stages[3].show_layers()
    dialog = window.stages[3]._dialog
    type_into(dialog.fields["pocket"], "CUT_INSIDE")
    assert "same name" in dialog.fields["pocket"].problem.text()
    assert window.document.project.output.layers == ()
    type_into(dialog.fields["pocket"], "P {width}")
    assert "{width}" in dialog.fields["pocket"].problem.text()
    type_into(dialog.fields["pocket"], "P {depth}")
    assert dict(window.document.project.output.layers) == {"pocket": "P {depth}"}
    QTest.mouseClick(dialog.usual_button, LEFT)
    assert window.document.project.output.layers == ()
    assert dialog.fields["pocket"].text == ""


def test_layer_names_kept_are_those_new_projects_begin_with(window) -> None:
    window.stages[3].show_layers()
    dialog = window.stages[3]._dialog
    type_into(dialog.fields["saw"], "SAW BLADE")
    QTest.mouseClick(dialog.keep_button, LEFT)
    assert dialog.told.text() == "New projects begin with these."
    folder = window.context.preferences._folder
    fresh = Preferences(folder).new_project()
    assert dict(fresh.output.layers) == {"saw": "SAW BLADE"}


# --- own label sheets -----------------------------------------------------------------------


def test_a_label_sheet_of_ones_own_is_measured_printed_and_deleted(window, qtbot, idle) -> None:
    show(window, "labels", qtbot, idle)
    stage = window.stages[3]
    stage.show_label_sheets()
    dialog = stage._dialog
    assert isinstance(dialog, LabelSheetsDialog)
    assert not dialog.delete_button.isEnabled()
    QTest.mouseClick(dialog.new_button, LEFT)
    type_into(dialog.fields["name"], "Yard labels")
    type_into(dialog.fields["width_mm"], "60")
    sheet = dialog.sheet
    assert sheet is not None
    assert (sheet.name, sheet.width_mm, sheet.pitch_x_mm) == ("Yard labels", 60.0, 60.0)
    assert window.document.project.output.label_sheet == "Yard labels"
    type_into(dialog.fields["columns"], "9")
    assert "do not go on A4 that way" in dialog.told.text()
    assert dialog.sheet.columns == 3
    before = stage._data
    QTest.mouseClick(dialog.show_button, LEFT)
    qtbot.waitUntil(lambda: stage._data not in (before, b""), timeout=30_000)
    assert stage.document_choice.value == "label-test"
    assert "Hold it against the light" in words_of(stage._data)
    QTest.mouseClick(dialog.delete_button, LEFT)
    assert window.document.project.output.label_sheets == ()
    assert window.document.project.output.label_sheet == ""
    dialog.close()


# --- pages out ------------------------------------------------------------------------------


def test_the_page_looked_at_is_saved_as_drawing_and_as_picture(
    window, ask, qtbot, tmp_path: Path
) -> None:
    stage = window.stages[3]
    stage.list.setCurrentRow(2)
    title = stage.list.item(2).text().split("  ", 1)[1]
    ask.will("save_file", tmp_path / "page")
    QTest.mouseClick(stage.picture_button, LEFT)
    drawing = tmp_path / "page.svg"
    qtbot.waitUntil(drawing.exists, timeout=30_000)
    text = drawing.read_text(encoding="utf-8")
    assert 'width="297mm" height="210mm"' in text
    assert title in text
    ask.will("save_file", tmp_path / "page.png")
    QTest.mouseClick(stage.picture_button, LEFT)
    picture = tmp_path / "page.png"
    qtbot.waitUntil(picture.exists, timeout=30_000)
    qtbot.waitUntil(lambda: "page.png" in window.banner.text, timeout=30_000)
    image = QImage(str(picture))
    assert image.width() == pytest.approx(297 / 25.4 * 150, abs=2)


@pytest.mark.parametrize("stage", (0, 2))
@pytest.mark.parametrize("ending", ("svg", "png"))
def test_any_view_can_be_saved_as_a_picture(
    window, ask, qtbot, idle, tmp_path: Path, stage: int, ending: str
) -> None:
    window.open_stage(stage)
    idle(window)
    path = tmp_path / f"view.{ending}"
    ask.will("save_file", path)
    window.menus.picture_action.trigger()
    qtbot.waitUntil(path.exists, timeout=30_000)
    qtbot.waitUntil(lambda: "view." in window.banner.text, timeout=30_000)
    seen = view_of(window.stages[stage].centre)
    if ending == "svg":
        text = path.read_text(encoding="utf-8")
        assert "<title>Shelves" in text and "<path" in text
        return
    image = QImage(str(path))
    assert image.width() >= 1.5 * seen.width()
    colours = {image.pixel(x, y) for x in range(0, image.width(), 7) for y in range(0, 900, 7)}
    assert len(colours) > 3, "there is something on it"


def test_the_drawing_of_a_view_holds_its_pieces_as_lines(window, idle, qtbot) -> None:
    window.open_stage(2)
    idle(window)
    view = view_of(window.stages[2].centre)
    assert isinstance(view, QGraphicsView)
    before = picture_of(view, Path("a.svg"), "x").count(b"<path")
    window.document.run(SetLayout("Clear", KeptLayout("Layout 1", ())))
    idle(window)
    after = picture_of(view, Path("a.svg"), "x").count(b"<path")
    assert before > after


def test_a_print_test_comes_on_the_paper_chosen(window, qtbot, idle) -> None:
    show(window, "print-test", qtbot, idle)
    assert window.stages[3].view.count == 1
    assert "Both lines must measure 100 mm" in words_of(window.stages[3]._data)


def test_only_the_pages_asked_for_are_printed(window, ask, qtbot, tmp_path: Path) -> None:
    from PySide6.QtPrintSupport import QPrinter

    path = tmp_path / "printed.pdf"

    def second_page(printer: QPrinter) -> None:
        printer.setOutputFormat(QPrinter.OutputFormat.PdfFormat)
        printer.setOutputFileName(str(path))
        printer.setResolution(100)
        printer.setPrintRange(QPrinter.PrintRange.PageRange)
        printer.setFromTo(2, 2)

    ask.will("printer", second_page)
    window.stages[3].print_pages()
    qtbot.waitUntil(lambda: "1 page went" in window.banner.text, timeout=30_000)
    with opened(path) as document:
        assert len(document) == 1


def test_several_ranges_and_the_page_looked_at_can_be_asked_for(qapp) -> None:
    from PySide6.QtPrintSupport import QPrinter

    printer = QPrinter()
    assert wanted_pages(printer, 5, 2) == [0, 1, 2, 3, 4]
    printer.setPrintRange(QPrinter.PrintRange.CurrentPage)
    assert wanted_pages(printer, 5, 2) == [2]
    printer.setPrintRange(QPrinter.PrintRange.PageRange)
    printer.setPageRanges(QPageRanges.fromString("1-2,4,9"))
    assert wanted_pages(printer, 5, 2) == [0, 1, 3]


# --- ways to buy ----------------------------------------------------------------------------


def test_ways_to_buy_are_compared_and_the_one_taken_is_the_layout(
    make_window, shop: Shop, idle, qtbot, ask, tmp_path: Path
) -> None:
    shop = replace(
        shop,
        materials=(*shop.materials, Material("poplar 18", 18.0)),
        stock=(
            Stock("big", "birch 18", 2440.0, 1220.0, cost=60.0),
            Stock("small", "birch 18", 1220.0, 620.0, cost=14.0),
            Stock("cheap", "poplar 18", 1220.0, 620.0, cost=9.0),
        ),
    )
    project = Project(shop=shop, panels=(rectangle_panel("Shelf", 500, 300, 3, "birch 18"),))
    window = make_window(project, real=True)
    idle(window, 60_000)
    window.open_stage(3)
    stage = window.stages[3]
    assert stage.compare_button.isEnabled()
    QTest.mouseClick(stage.compare_button, LEFT)
    dialog = stage._dialog
    assert isinstance(dialog, CompareDialog)
    qtbot.waitUntil(lambda: not dialog.bar.isVisible(), timeout=120_000)
    figures = {row.name: row for row in dialog.rows}
    assert set(figures) == {
        "All stock of the shop",
        "birch 18: only 2440 × 1220",
        "birch 18: only 1220 × 620",
        "poplar 18 for birch 18",
    }
    assert figures["birch 18: only 2440 × 1220"].cost == 60.0
    assert figures["birch 18: only 1220 × 620"].cost == 14.0
    # Three shelves of 500 × 300 go on one small sheet, and poplar is the cheapest of these.
    assert dialog.rows[0].name == "poplar 18 for birch 18"
    assert dialog.chosen == "poplar 18 for birch 18"
    assert dialog.bars.grab().toImage().width() > 100
    assert "% pieces" in dialog.bars.accessibleDescription()
    ask.will("save_file", tmp_path / "ways.csv")
    QTest.mouseClick(dialog.save_button, LEFT)
    qtbot.waitUntil((tmp_path / "ways.csv").exists, timeout=30_000)
    table = (tmp_path / "ways.csv").read_bytes().decode("utf-8")
    assert table.count("\r\n") == 5
    QTest.mouseClick(dialog.take_button, LEFT)
    document = window.document
    assert document.project.panels[0].material == "poplar 18"
    assert document.project.current_layout == "poplar 18 for birch 18"
    idle(window, 60_000)
    assert window.context.derived.plan.cost == 9.0
    assert not window.context.derived.plan.unplaced
    document.undo()
    assert document.project == project
