"""The window's looks: small screens, large text, dark, and preferences that are kept."""

from __future__ import annotations

import json
from collections import Counter

import pytest
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import (
    QAbstractButton,
    QApplication,
    QLabel,
)

from app import theme
from app.looks import apply_preferences
from app.preferences import Preferences
from app.preferences_file import export_preferences, import_preferences
from app.widgets.preferences_dialog import PreferencesDialog
from tests.app.window_bench import add

# --- looks ------------------------------------------------------------------------------------


@pytest.mark.parametrize("percent", (100, 175))
def test_the_window_fits_a_small_screen_in_large_text(make_window, percent, idle) -> None:
    window = make_window()
    window.context.preferences.set("text_percent", percent)
    apply_preferences(window.context.preferences)
    add(window)
    idle(window)
    window.stages[0].select_ids(["shelf"])
    QApplication.processEvents()
    hint = window.minimumSizeHint()
    assert hint.width() <= 1366
    assert hint.height() <= 768
    window.resize(1366, 768)
    QApplication.processEvents()
    for stage in (window.stages[0], window.stages[3]):
        window.open_stage(window.stages.index(stage))
        QApplication.processEvents()
        clipped = [
            w
            for w in stage.findChildren(QAbstractButton)
            if w.isVisible() and w.text() and w.width() < w.minimumSizeHint().width()
        ]
        assert not clipped, [w.text() for w in clipped]
        labels = [
            w
            for w in stage.findChildren(QLabel)
            if w.isVisible() and w.text() and w.wordWrap()
            if w.height() < w.heightForWidth(w.width())
        ]
        assert not labels, [w.text() for w in labels]


def test_dark_reaches_every_part(make_window, qapp, idle) -> None:
    window = make_window()
    add(window)
    idle(window)
    window.context.preferences.set("colours", "dark")
    apply_preferences(window.context.preferences)
    QApplication.processEvents()
    picture = window.grab().toImage()
    sample = [
        picture.pixelColor(x, y).lightness()
        for x in range(5, picture.width(), 40)
        for y in range(5, picture.height(), 40)
    ]
    assert sorted(sample)[len(sample) // 2] < 60
    assert max(Counter(sample).items(), key=lambda item: item[1])[0] < 60


def test_preferences_hold_at_once_and_are_kept(make_window, tmp_path) -> None:
    window = make_window()
    dialog = PreferencesDialog(window.context, window)
    dialog.open()
    dialog.project_units.setFocus()
    QTest.keyClick(dialog.project_units, Qt.Key.Key_End)
    assert window.document.project.units == "in"
    assert window.document.undo_text == "Show lengths in in"
    dialog.colours.setFocus()
    QTest.keyClick(dialog.colours, Qt.Key.Key_End)
    assert theme.is_dark()
    dialog.nudge.line.setFocus()
    dialog.nudge.line.selectAll()
    QTest.keyClicks(dialog.nudge.line, "1/16 in")
    QTest.keyClick(dialog.nudge.line, Qt.Key.Key_Return)
    again = Preferences(tmp_path / "preferences")
    assert again.get("colours") == "dark"
    assert again.get("nudge_mm") == pytest.approx(25.4 / 16)
    dialog.close()


def test_damaged_preferences_fall_back_to_the_defaults(tmp_path) -> None:
    (tmp_path / "preferences.json").write_text(
        '{"version": 1, "values": {"units": "furlong", "text_percent": 120, "nudge_mm": -3}}'
    )
    preferences = Preferences(tmp_path)
    assert preferences.get("units") == "mm"
    assert preferences.get("nudge_mm") == 1.0
    assert preferences.get("text_percent") == 120
    (tmp_path / "preferences.json").write_text("{")
    assert Preferences(tmp_path).get("text_percent") == 100


def test_preferences_with_the_shop_go_to_another_machine_in_one_file(
    make_window, ask, shop, tmp_path
) -> None:
    window = make_window()
    window.context.preferences.set("nudge_mm", 2.5)
    window.context.preferences.set("colours", "dark")
    window.context.preferences.set_default_shop(shop)
    dialog = PreferencesDialog(window.context, window)
    dialog.open()
    ask.will("save_file", tmp_path / "mine")
    QTest.mouseClick(dialog.export_button, Qt.MouseButton.LeftButton)
    assert "mine.json" in dialog.told.text()
    dialog.close()

    other = make_window(preferences=Preferences(tmp_path / "other machine"))
    dialog = PreferencesDialog(other.context, other)
    dialog.open()
    assert dialog.nudge.value == 1.0
    ask.will("open_file", tmp_path / "mine.json")
    QTest.mouseClick(dialog.import_button, Qt.MouseButton.LeftButton)
    assert dialog.nudge.value == 2.5
    assert theme.is_dark()
    assert "birch" in other.context.preferences.new_project().shop.materials[0].name
    assert Preferences(tmp_path / "other machine").get("nudge_mm") == 2.5
    assert Preferences(tmp_path / "other machine").default_shop() == shop

    # What is no such file is said in place and changes nothing.
    (tmp_path / "strange.json").write_text('{"format": "seamwright-project"}')
    ask.will("open_file", tmp_path / "strange.json")
    QTest.mouseClick(dialog.import_button, Qt.MouseButton.LeftButton)
    assert "no preferences" in dialog.told.text()
    assert dialog.nudge.value == 2.5
    dialog.close()


def test_preferences_of_another_version_are_taken_as_far_as_they_are_known(tmp_path) -> None:
    path = tmp_path / "p.json"
    preferences = Preferences(tmp_path / "kept")
    export_preferences(preferences, path)
    document = json.loads(path.read_text())
    document["values"] |= {"turn_deg": 30.0, "text_percent": 9000, "from tomorrow": 1}
    del document["project"]
    path.write_text(json.dumps(document))
    assert import_preferences(preferences, path) == 1
    assert preferences.get("turn_deg") == 30.0
    assert preferences.get("text_percent") == 100
