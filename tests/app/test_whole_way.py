"""The whole way in one window with real mouse events: demo → split → nest → drag → PDF."""

from __future__ import annotations

from pathlib import Path

import pytest
from PySide6.QtCore import QPoint, Qt
from PySide6.QtGui import QGuiApplication
from PySide6.QtPrintSupport import QPrinter
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication, QWidget

from app.stages.sheets import SheetsStage
from app.window import MainWindow
from core.reports.pdfium import opened
from tests.app import mouse

LEFT = Qt.MouseButton.LeftButton
NONE = Qt.KeyboardModifier.NoModifier


def click(widget: QWidget, at: QPoint | None = None) -> None:
    QTest.mouseClick(widget, LEFT, NONE, at if at is not None else widget.rect().center())


def to_stage(window: MainWindow, number: int) -> None:
    """Click the stage's tab."""
    click(window.tabs, window.tabs.tabRect(number - 1).center())


def drag(widget: QWidget, start: QPoint, end: QPoint) -> None:
    """Press, move in steps, let go."""
    QTest.mousePress(widget, LEFT, NONE, start)
    for step in range(1, 9):
        mouse.move(widget, start + (end - start) * step / 8, LEFT)
        QTest.qWait(10)
    QTest.mouseRelease(widget, LEFT, NONE, end)


def middle_of(stage: SheetsStage, key: tuple[str, int]) -> QPoint:
    x, y = stage.hand._home_of(key)
    middle = stage._bench.shape(key).centroid
    return stage.canvas.to_px(middle.x + x, middle.y + y).toPoint()


def test_from_a_demo_to_a_printed_cut_list(make_window, idle, ask, qtbot, tmp_path: Path) -> None:
    window: MainWindow = make_window(real=True)
    idle(window)

    # 1 Panels: an empty window offers the demos.
    panels = window.stages[0]
    demo = panels.start.demo_buttons[0]
    click(demo)
    qtbot.waitUntil(lambda: len(window.document.project.panels) == 5, timeout=20_000)
    idle(window, 60_000)

    # 2 Joints: the counter front needs seams; take another style from the gallery.
    to_stage(window, 2)
    joints = window.stages[1]
    qtbot.waitUntil(lambda: joints.style_box.gallery.count() >= 7, timeout=60_000)
    idle(window, 60_000)
    gallery = joints.style_box.gallery
    wanted = next(i for i in range(gallery.count()) if "Square" in gallery.item(i).text())
    gallery.scrollToItem(gallery.item(wanted))
    click(gallery.viewport(), gallery.visualItemRect(gallery.item(wanted)).center())
    qtbot.waitUntil(lambda: window.document.undo_text is not None, timeout=30_000)
    idle(window, 60_000)
    pieces = window.context.derived.pieces
    assert pieces is not None
    assert {seam.style for seam in pieces.seams if seam.panel == "p1"} == {"finger"}

    # 3 Sheets: nest, see it come, then drag a piece.
    to_stage(window, 3)
    sheets = window.stages[2]
    sheets.nest_box.seconds.set_value(3.0)
    click(sheets.nest_box.go)
    qtbot.waitUntil(lambda: sheets._job is None and bool(sheets._bench.placed), timeout=120_000)
    idle(window, 60_000)
    assert window.context.derived.plan is not None
    assert not window.context.derived.plan.unplaced
    assert window.context.derived.plan.is_clean

    key = next(k for k in sheets._bench.placed if sheets._bench.placed[k].piece == "p5")
    before = sheets._bench.placed[key].motion
    port = sheets.canvas.view.viewport()
    start = middle_of(sheets, key)
    drag(port, start, start + QPoint(37, -23))
    after = sheets._bench.placed[key].motion
    assert (after.x_mm, after.y_mm) != (before.x_mm, before.y_mm)
    QTest.keyClick(window, Qt.Key.Key_Z, Qt.KeyboardModifier.ControlModifier)
    qtbot.waitUntil(lambda: sheets._bench.placed[key].motion == before, timeout=5_000)
    idle(window, 60_000)

    # 4 Cut list: the pages are there; print them and save them.
    to_stage(window, 4)
    pages = window.stages[3]
    qtbot.waitUntil(lambda: pages.view.count > 3, timeout=60_000)
    idle(window, 60_000)
    printed, saved = tmp_path / "printed.pdf", tmp_path / "saved.pdf"

    def to_file(printer: QPrinter) -> None:
        printer.setOutputFormat(QPrinter.OutputFormat.PdfFormat)
        printer.setOutputFileName(str(printed))
        printer.setResolution(150)

    ask.will("printer", to_file)
    click(pages.print_button)
    ask.will("save_file", saved)
    qtbot.waitUntil(window.context.jobs.is_idle, timeout=60_000)
    click(pages.pdf_button)
    qtbot.waitUntil(lambda: saved.exists() and printed.exists(), timeout=60_000)
    qtbot.waitUntil(window.context.jobs.is_idle, timeout=60_000)
    for path in (saved, printed):
        with opened(path) as document:
            assert len(document) == pages.view.count
    with opened(saved) as document:
        words = document[0].get_textpage().get_text_range()
    assert "Studio counter" in words


def test_the_window_shows_itself_on_a_real_screen(make_window, idle, qtbot) -> None:
    if QGuiApplication.platformName() != "xcb":
        pytest.skip("needs a real X server; .ci/run starts one")
    window: MainWindow = make_window(real=True)
    idle(window)
    screen = QApplication.primaryScreen()
    assert screen is not None
    qtbot.wait(300)
    shot = screen.grabWindow(0)
    assert not shot.isNull()
    colours = {
        shot.toImage().pixelColor(x, y).name()
        for x in range(20, min(shot.width(), 1300), 40)
        for y in range(20, min(shot.height(), 700), 40)
    }
    assert len(colours) > 3
