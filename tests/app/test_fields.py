"""Fields read any unit, show the project's, and say in place what is wrong."""

from __future__ import annotations

import pytest
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QVBoxLayout, QWidget

from app.widgets.fields import (
    LengthField,
    NumberField,
    SizeField,
    about_length,
    show_length,
)


@pytest.fixture
def shown(qtbot):
    """Shows a field with another widget to leave it for."""

    kept = []

    def show(field: QWidget) -> QWidget:
        holder = QWidget()
        kept.append(holder)
        layout = QVBoxLayout(holder)
        layout.addWidget(field)
        other = LengthField("Other")
        layout.addWidget(other)
        qtbot.addWidget(holder)
        holder.show()
        qtbot.waitExposed(holder)
        with qtbot.waitActive(holder):
            holder.activateWindow()
        field.setFocus()
        return other

    yield show


def typed(qtbot, field, text: str, *, enter: bool = True) -> None:
    field.line.selectAll()
    qtbot.keyClicks(field.line, text)
    if enter:
        qtbot.keyClick(field.line, Qt.Key.Key_Return)


@pytest.mark.parametrize(
    ("text", "unit", "mm"),
    (
        ("18", "mm", 18.0),
        ("23/32 in", "mm", 18.25625),  # 25.4 mm an inch, exact
        ('1 1/2"', "mm", 38.1),
        ("2,5", "cm", 25.0),
        ("17.6 mm", "in", 17.6),
        ("5' 3\"", "in", 1600.2),
    ),
)
def test_a_length_may_be_typed_in_any_unit(qtbot, shown, text: str, unit: str, mm: float) -> None:
    field = LengthField("Width", unit)
    field.set_value(1.0)
    shown(field)
    with qtbot.waitSignal(field.committed) as got:
        typed(qtbot, field, text)
    assert got.args[0] == pytest.approx(mm, abs=1e-9)


def test_the_value_is_shown_in_the_project_s_unit(qtbot, shown) -> None:
    field = LengthField("Width", "in")
    field.set_value(18.25625)
    shown(field)
    assert field.text == "23/32 in"
    field.set_unit("mm")
    assert field.text == "18.26 mm"
    typed(qtbot, field, "1/2 in")
    assert field.text == "12.7 mm"


def test_what_cannot_be_read_stays_and_is_explained_below(qtbot, shown) -> None:
    field = LengthField("Width")
    field.set_value(10.0)
    shown(field)
    with qtbot.assertNotEmitted(field.committed):
        typed(qtbot, field, "wide")
    assert field.text == "wide"
    assert field.problem.isVisible()
    assert "no length" in field.problem.text()
    assert field.line.property("wrong")
    assert field.value == 10.0
    qtbot.keyClick(field.line, Qt.Key.Key_Escape)
    assert field.text == "10 mm"
    assert not field.problem.isVisible()


def test_leaving_the_field_takes_what_was_typed(qtbot, shown) -> None:
    field = LengthField("Width")
    field.set_value(10.0)
    other = shown(field)
    typed(qtbot, field, "12", enter=False)
    with qtbot.waitSignal(field.committed) as got:
        qtbot.keyClick(field.line, Qt.Key.Key_Tab)
    assert got.args[0] == 12.0
    assert other.line.hasFocus()


def test_arrow_keys_step_a_millimetre_or_a_sixteenth(qtbot, shown) -> None:
    field = LengthField("Width")
    field.set_value(10.0)
    shown(field)
    qtbot.keyClick(field.line, Qt.Key.Key_Up)
    assert field.value == 11.0
    field.set_unit("in")
    field.set_value(25.4)
    qtbot.keyClick(field.line, Qt.Key.Key_Down)
    assert field.value == pytest.approx(25.4 * 15 / 16)


def test_limits_are_kept_and_said(qtbot, shown) -> None:
    field = LengthField("Kerf", least_mm=0.5, most_mm=6.0)
    field.set_value(3.0)
    shown(field)
    typed(qtbot, field, "8")
    assert field.problem.text() == "At most 6 mm."
    typed(qtbot, field, "0.1")
    assert field.problem.text() == "At least 0.5 mm."
    assert field.value == 3.0


def test_an_empty_field_means_what_its_hint_says(qtbot, shown) -> None:
    field = LengthField("Spacing", empty="bit and 2 mm")
    field.set_value(8.0)
    shown(field)
    with qtbot.waitSignal(field.committed) as got:
        field.line.selectAll()
        qtbot.keyClick(field.line, Qt.Key.Key_Delete)
        qtbot.keyClick(field.line, Qt.Key.Key_Return)
    assert got.args[0] is None
    assert field.line.placeholderText() == "bit and 2 mm"


def test_a_size_takes_both_lengths_at_once(qtbot, shown) -> None:
    field = SizeField("Table")
    field.set_value((900.0, 600.0))
    shown(field)
    with qtbot.waitSignal(field.committed) as got:
        typed(qtbot, field, "8 x 4 ft")
    assert got.args[0] == (2438.4, 1219.2)
    typed(qtbot, field, "900x600x3")
    assert field.problem.isVisible()


def test_a_number_takes_its_unit_and_a_decimal_comma(qtbot, shown) -> None:
    field = NumberField("Mass", suffix="kg")
    field.set_value(10.0)
    shown(field)
    typed(qtbot, field, "12,5 kg")
    assert field.value == 12.5
    assert field.text == "12.5 kg"
    typed(qtbot, field, "nan")
    assert field.problem.isVisible()


def test_a_count_is_a_whole_number(qtbot, shown) -> None:
    field = NumberField("Quantity", whole=True, least=1)
    field.set_value(1)
    shown(field)
    typed(qtbot, field, "2.5")
    assert "whole" in field.problem.text()
    typed(qtbot, field, "0")
    assert field.problem.text() == "At least 1."


def test_a_glance_never_shows_too_little() -> None:
    assert about_length(214.87, "mm") == "215 mm"
    assert about_length(806.0, "mm") == "806 mm"
    assert about_length(32.248 * 25.4, "in") == "32 1/4 in"
    assert show_length(17.6, "in") == "0.6929 in"
