"""Walking the order of Tab must not cost Python its hold of the widgets on the way."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest
from PySide6.QtCore import QCoreApplication, QEvent
from PySide6.QtWidgets import QComboBox, QGraphicsView, QMainWindow, QWidget
from shiboken6 import isValid

from app.widgets.focus_chain import next_in_chain, previous_in_chain

ROOT = Path(__file__).resolve().parents[2]


@pytest.mark.parametrize("step", [next_in_chain, previous_in_chain])
def test_a_widget_deleted_takes_nobody_along_that_was_met_on_the_way(
    qapp: object, step: Callable[[QWidget], QWidget | None]
) -> None:
    window, view, combo = QMainWindow(), QGraphicsView(), QComboBox()
    window.setCentralWidget(view)
    combo.setEditable(True)
    window.addToolBar("tools").addWidget(combo)
    menu = window.menuBar().addMenu("Stage")
    port = view.viewport()
    met = []
    widget = step(window)
    while widget is not None and widget is not window:
        met.append(widget)
        widget = step(widget)
    assert view in met and combo in met and len(met) == len(set(map(id, met)))
    combo.deleteLater()
    QCoreApplication.sendPostedEvents(None, QEvent.Type.DeferredDelete.value)
    assert not isValid(combo)
    assert all(isValid(one) for one in (window, view, port, menu))


def test_nobody_walks_it_another_way() -> None:
    own = {ROOT / "app/widgets/focus_chain.py", Path(__file__)}
    files = [*(ROOT / "app").rglob("*.py"), *(ROOT / "tests").rglob("*.py")]
    wrong = [f.name for f in files if f not in own and "InFocusChain(" in f.read_text("utf-8")]
    assert not wrong
