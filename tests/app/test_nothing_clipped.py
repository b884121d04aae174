"""On a screen of 1366 × 768, in usual and in large text, nothing that can be read is cut off."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator
from dataclasses import replace

from PySide6.QtCore import QRect
from PySide6.QtTest import QTest
from PySide6.QtWidgets import (
    QAbstractButton,
    QApplication,
    QComboBox,
    QDialog,
    QLabel,
    QLineEdit,
    QStyle,
    QWidget,
)
from PySide6.QtWidgets import QStyleOptionComboBox as ComboOption

from app.looks import apply_preferences
from app.stages.joints_thumbs import Gallery
from app.widgets.notices import ElidedButton
from app.widgets.preferences_dialog import PreferencesDialog
from app.window import MainWindow
from core.project.file import load_project
from core.project.model import KeptLayout
from tests.app.window_bench import DEMO

SETTLE_S = 3.0


def clipped(top: QWidget) -> list[str]:
    """Texts below a widget that have less room than they need."""
    found = []
    for widget in top.findChildren(QWidget):
        if not widget.isVisible() or widget.visibleRegion().isEmpty():
            continue
        if isinstance(widget, QLabel) and widget.text():
            if widget.wordWrap():
                short = widget.height() < widget.heightForWidth(widget.width())
            else:
                short = widget.width() < widget.sizeHint().width()
        elif isinstance(widget, QAbstractButton) and not isinstance(widget, ElidedButton):
            short = bool(widget.text()) and widget.width() < widget.minimumSizeHint().width()
        elif isinstance(widget, QComboBox):
            short = room_of(widget).width() < widget.fontMetrics().horizontalAdvance(
                widget.currentText()
            )
        elif isinstance(widget, Gallery):
            words = [w for i in range(widget.count()) for w in widget.item(i).text().split()]
            short = widget.gridSize().width() < 8 + max(
                widget.fontMetrics().horizontalAdvance(word) for word in [*words, ""]
            )
        elif not isinstance(widget, QLineEdit):
            continue
        else:
            short = False
        if isinstance(widget, QLineEdit | QComboBox):
            around = widget.parentWidget()
            short |= widget.height() < widget.minimumSizeHint().height()
            short |= around is not None and not around.rect().contains(widget.geometry())
        if short:
            text = getattr(widget, "currentText", getattr(widget, "text", widget.accessibleName))()
            name = text or widget.accessibleName()
            found.append(f"{type(widget).__name__}: {name} ({widget.width()} × {widget.height()})")
    return found


def room_of(box: QComboBox) -> QRect:
    option = ComboOption()
    box.initStyleOption(option)
    return box.style().subControlRect(
        QStyle.ComplexControl.CC_ComboBox, option, QStyle.SubControl.SC_ComboBoxEditField, box
    )


def still_clipped(top: QWidget) -> list[str]:
    """What is cut off once the layout is at rest: a real screen answers in its own time."""
    until = time.monotonic() + SETTLE_S
    while (found := clipped(top)) and time.monotonic() < until:
        QTest.qWait(20)
    return found


def dialogs(window: MainWindow) -> Iterator[QDialog]:
    """The dialogs with most in them, opened one after the other."""
    preferences = PreferencesDialog(window.context, window)
    preferences.open()
    yield preferences
    sheets, pages = window.stages[2], window.stages[3]
    for show in (
        window.shop.test_piece,
        sheets.show_bed,
        pages.show_layers,
        pages.show_label_sheets,
        pages.compare,
    ):
        before = set(window.findChildren(QDialog))
        show()
        opened = [d for d in window.findChildren(QDialog) if d.isVisible()]
        yield next((d for d in opened if d not in before), opened[-1])


def until_stopped(
    _project: object, _pieces: object, *, stop: Callable[[], bool], **_: object
) -> KeptLayout:
    """A search that finds nothing: how the dialog looks meanwhile is all that is asked here."""
    while not stop():
        time.sleep(0.01)
    return KeptLayout("", ())


def test_nothing_is_cut_off_on_a_small_screen_in_usual_and_in_large_text(make_window, idle) -> None:
    window: MainWindow = make_window(real=True)
    window.context.derived.engine = replace(window.context.derived.engine, lay_out=until_stopped)
    window.document.take(load_project(DEMO), None)
    idle(window, 60_000)
    window.resize(1366, 768)
    window.stages[0].select_ids([window.document.project.panels[0].id])
    found = []
    for percent in (100, 250):
        window.context.preferences.set("text_percent", percent)
        apply_preferences(window.context.preferences)
        for i in range(4):
            window.open_stage(i)
            idle(window, 60_000)
            for _ in range(3):  # layouts settle one below the other
                QApplication.processEvents()
            found += [f"{percent} %, {window.stage.title}: {row}" for row in still_clipped(window)]
        window.open_shop()
        for _ in range(3):
            QApplication.processEvents()
        found += [f"{percent} %, shop: {row}" for row in still_clipped(window.shop)]
        window.shop.slide_out()
        for dialog in dialogs(window):
            for _ in range(3):
                QApplication.processEvents()
            found += [
                f"{percent} %, {type(dialog).__name__}: {row}" for row in still_clipped(dialog)
            ]
            screen = window.screen().size()  # the offscreen one is smaller than any real one
            if dialog.width() > max(1366, screen.width()) or dialog.height() > max(
                768, screen.height()
            ):
                found.append(f"{percent} %: {type(dialog).__name__} is larger than the screen")
            dialog.close()
        assert window.width() == 1366 and window.height() <= 768
    assert not found, "\n".join(found)
