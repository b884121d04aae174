"""With a translation loaded the window speaks it: nothing of ours is left in English."""

from __future__ import annotations

import re

import pytest
from PySide6.QtWidgets import (
    QApplication,
)

from core.project.file import load_project
from tests.app.foreign import data_of, foreign, left_in_english
from tests.app.window_bench import DEMO, DIALOGS, dialog_of


def test_a_window_in_another_language_has_nothing_left_in_english(
    elsewhere: None, make_window, idle, qapp: QApplication
) -> None:
    window = make_window(real=True)
    assert foreign("Panels") in window.tabs.tabText(0)
    window.document.take(load_project(DEMO), None)
    idle(window, 60_000)
    window.open_shop()
    window.stages[0].select_ids([window.document.project.panels[0].id])
    for i in range(4):
        window.open_stage(i)
        idle(window, 60_000)
    left = left_in_english(window, data_of(window))
    assert not left, "\n".join(left)


@pytest.mark.parametrize("dialog", DIALOGS)
def test_dialogs_speak_the_language_too(elsewhere: None, make_window, dialog: type) -> None:
    window = make_window()
    made = dialog_of(dialog, window)
    left = [
        row
        for row in left_in_english(
            made, {"mm", "Seamwright", window.document.project.shop.machine.name}
        )
        # Keys are named by Qt itself, libraries and licences by their makers.
        if not re.search(r"'(Ctrl|Shift|Alt|Del|Home|F\d)|^QPlainTextEdit", row)
    ]
    assert not left, "\n".join(left)
    made.close()
