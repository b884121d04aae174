"""Fields for lengths, sizes and numbers that say in place what is wrong with them."""

from __future__ import annotations

import math
from collections.abc import Callable
from fractions import Fraction
from typing import Any

from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QFocusEvent, QKeyEvent
from PySide6.QtWidgets import QLabel, QLineEdit, QVBoxLayout, QWidget

from app import theme
from app.i18n import tr
from app.wording import error_in_words
from core.errors import BadLengthError, SeamwrightError
from core.units import format_length, format_size, parse_length, parse_size

_STEP = {"mm": 1.0, "cm": 1.0, "m": 10.0, "in": 25.4 / 16, "ft": 25.4 / 4, "thou": 0.0254}


def unit_word(unit: str) -> str:
    """A unit as a word, for where "in" would read as something else."""
    return {
        "mm": tr("millimetres"),
        "cm": tr("centimetres"),
        "m": tr("metres"),
        "in": tr("inches"),
        "ft": tr("feet"),
        "px": tr("pixels"),
    }.get(unit, unit)


def show_length(length_mm: float, unit: str, *, with_unit: bool = True) -> str:
    """A length in the unit; inches as a fraction where it is one of 64ths, else decimal."""
    if unit == "in":
        steps = Fraction(length_mm / 25.4 * 64).limit_denominator(10**6)
        if abs(steps - round(steps)) < 1e-4:
            return format_length(length_mm, "in", fraction=64, with_unit=with_unit)
    return format_length(length_mm, unit, with_unit=with_unit)


def show_size(width_mm: float, height_mm: float, unit: str) -> str:
    """ "W × H unit" ; inches as fractions where they are."""
    if unit == "in":
        return f"{show_length(width_mm, unit, with_unit=False)} × {show_length(height_mm, unit)}"
    return format_size(width_mm, height_mm, unit)


def about_length(length_mm: float, unit: str) -> str:
    """A length for a glance, never too small: whole mm, or 16ths of an inch."""
    if unit in ("in", "ft"):
        return format_length(math.ceil(length_mm / 25.4 * 16 - 1e-6) * 25.4 / 16, "in", fraction=16)
    return format_length(math.ceil(length_mm - 1e-6), unit)


class _Line(QLineEdit):
    """Tells about Escape, the arrow keys and losing the focus."""

    escaped = Signal()
    stepped = Signal(int)
    left = Signal()

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Escape brings the value back; up and down step it."""
        if event.key() == Qt.Key.Key_Escape and self.isModified():
            self.escaped.emit()
            return
        if event.key() in (Qt.Key.Key_Up, Qt.Key.Key_Down):
            self.stepped.emit(1 if event.key() == Qt.Key.Key_Up else -1)
            return
        super().keyPressEvent(event)

    def focusOutEvent(self, event: QFocusEvent) -> None:
        """What was typed counts when the field is left."""
        super().focusOutEvent(event)
        if event.reason() is not Qt.FocusReason.PopupFocusReason:
            self.left.emit()


class ParsedField(QWidget):
    """A line of text that stands for a value.

    committed(value) when another value was typed and is good. What cannot be read stays as
    typed, is outlined and explained below the field; Escape brings the last good value back.
    """

    committed = Signal(object)

    def __init__(
        self,
        parse: Callable[[str], Any],
        show: Callable[[Any], str],
        *,
        name: str,
        empty: str = "",
        check: Callable[[Any], str] | None = None,
        parent: QWidget | None = None,
    ) -> None:
        super().__init__(parent)
        self._parse = parse
        self._show = show
        self._check = check
        self._empty = empty  # what an empty field means, shown as placeholder
        self._value: Any = None
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(2)
        self.line = _Line()
        self.line.setAccessibleName(name)
        self.line.setPlaceholderText(empty)
        self.line.setMinimumHeight(theme.TARGET)
        column.addWidget(self.line)
        self.problem = QLabel()
        self.problem.setWordWrap(True)
        self.problem.setProperty("severity", "stop")
        self.problem.setTextFormat(Qt.TextFormat.PlainText)
        self.problem.hide()
        column.addWidget(self.problem)
        self.setFocusProxy(self.line)
        self.line.returnPressed.connect(self.commit)
        self.line.left.connect(self.commit)
        self.line.escaped.connect(self._restore)

    @property
    def value(self) -> Any:
        """The last good value; None where the field is empty and may be."""
        return self._value

    def set_value(self, value: Any) -> None:
        """Show a value (None: empty); what was typed and not taken is dropped."""
        self._value = value
        self._restore()

    def set_mixed(self) -> None:
        """Several values at once: nothing is shown until one is typed for all."""
        self._value = None
        self.line.clear()
        self.line.setPlaceholderText(tr("several"))
        self._tell("")

    @property
    def text(self) -> str:
        """What stands in the field."""
        return self.line.text()

    def commit(self) -> bool:
        """Take what is typed. False if it cannot be read."""
        if not self.line.isModified():
            return not self.problem.isVisible()
        text = self.line.text().strip()
        if not text and self._empty:
            value = None
        else:
            try:
                value = self._parse(text)
            except SeamwrightError as error:
                self._tell(error_in_words(error))
                return False
            wrong = self._check(value) if self._check is not None else ""
            if wrong:
                self._tell(wrong)
                return False
        changed = value != self._value
        self.set_value(value)
        if changed:
            self.committed.emit(value)
        return True

    def refuse(self, sentence: str) -> None:
        """The value was not taken by whoever it was meant for; say why."""
        self._tell(sentence)

    def _restore(self) -> None:
        self.line.setPlaceholderText(self._empty)
        self.line.setText("" if self._value is None else self._show(self._value))
        self.line.setModified(False)
        if not self.line.hasFocus():
            self.line.setCursorPosition(0)  # where there is little room the front is shown
        self._tell("")

    def _tell(self, sentence: str) -> None:
        self.problem.setText(sentence)
        self.problem.setVisible(bool(sentence))
        self.line.setAccessibleDescription(sentence)
        theme.mark(self.line, "wrong", bool(sentence))


class LengthField(ParsedField):
    """A length in any unit, shown in the project's; the value is mm.

    least_mm, most_mm: what is taken. empty: text for "no value"; "" if a value is needed.
    Arrow up and down step by 1 mm, 1/16 in and the like.
    """

    def __init__(
        self,
        name: str,
        unit: str = "mm",
        *,
        least_mm: float = 0.0,
        above_zero: bool = False,
        most_mm: float | None = None,
        empty: str = "",
        parent: QWidget | None = None,
    ) -> None:
        self.unit = unit
        self._least = least_mm
        self._above_zero = above_zero
        self._most = most_mm
        super().__init__(
            self._read, self._write, name=name, empty=empty, check=self._in_range, parent=parent
        )
        self.line.setToolTip(
            tr('{name}: any unit, like 18, 17.6 mm, 23/32 in or 1 1/2"').format(name=name)
        )
        self.line.stepped.connect(self._step)

    def set_unit(self, unit: str) -> None:
        """Show the value in another unit."""
        if unit != self.unit:
            self.unit = unit
            if not self.line.isModified():
                self._restore()

    def _read(self, text: str) -> float:
        return parse_length(
            text, self.unit, allow_negative=self._least < 0, allow_zero=not self._above_zero
        )

    def _write(self, value: float) -> str:
        return show_length(value, self.unit)

    def _in_range(self, value: float) -> str:
        if value < self._least:
            return tr("At least {least}.").format(least=show_length(self._least, self.unit))
        if self._most is not None and value > self._most:
            return tr("At most {most}.").format(most=show_length(self._most, self.unit))
        return ""

    def _step(self, by: int) -> None:
        if self._value is None:
            return
        value = self._value + by * _STEP.get(self.unit, 1.0)
        if not self._in_range(value) and (value > 0 or not self._above_zero):
            self.set_value(value)
            self.committed.emit(value)


class SizeField(ParsedField):
    """Width × height in any unit; the value is (width_mm, height_mm)."""

    def __init__(
        self, name: str, unit: str = "mm", *, empty: str = "", parent: QWidget | None = None
    ) -> None:
        self.unit = unit
        super().__init__(self._read, self._write, name=name, empty=empty, parent=parent)
        self.line.setToolTip(
            tr("{name}: width × height in any unit, like 900x600 or 8 x 4 ft").format(name=name)
        )

    def set_unit(self, unit: str) -> None:
        """Show the value in another unit."""
        if unit != self.unit:
            self.unit = unit
            if not self.line.isModified():
                self._restore()

    def _read(self, text: str) -> tuple[float, float]:
        size = parse_size(text, self.unit)
        if size.quantity is not None:
            raise BadLengthError(tr("Only width and height here"), "", tr("Write it like 900x600."))
        return (size.width_mm, size.height_mm)

    def _write(self, value: tuple[float, float]) -> str:
        return show_size(value[0], value[1], self.unit)


class NumberField(ParsedField):
    """A plain number with a unit behind it that is no length ("kg", "€")."""

    def __init__(
        self,
        name: str,
        *,
        suffix: str = "",
        whole: bool = False,
        least: float = 0.0,
        most: float = 1e9,
        empty: str = "",
        parent: QWidget | None = None,
    ) -> None:
        self._suffix = suffix
        self._whole = whole
        self._least = least
        self._most = most
        super().__init__(
            self._read, self._write, name=name, empty=empty, check=self._in_range, parent=parent
        )
        self.line.setToolTip(name)
        self.line.stepped.connect(self._step)

    def _read(self, text: str) -> float:
        plain = text.strip().removesuffix(self._suffix).strip().replace(",", ".")
        try:
            value = float(plain)
        except ValueError:
            raise BadLengthError(
                tr("“{text}” is no number").format(text=text[:40]), "", tr("Write it like 12.5.")
            ) from None
        if value != value or value in (float("inf"), float("-inf")):
            raise BadLengthError(tr("That is no number"), "", tr("Write it like 12.5."))
        if self._whole:
            if value != round(value):
                raise BadLengthError(tr("A whole number, please"), "", "")
            return int(value)
        return value

    def _write(self, value: float) -> str:
        text = str(value) if self._whole else f"{value:.4f}".rstrip("0").rstrip(".")
        return f"{text} {self._suffix}".strip()

    def _in_range(self, value: float) -> str:
        if value < self._least:
            return tr("At least {least}.").format(least=self._write(self._least))
        if value > self._most:
            return tr("At most {most}.").format(most=self._write(self._most))
        return ""

    def _step(self, by: int) -> None:
        if self._value is not None and not self._in_range(self._value + by):
            self.set_value(self._value + by)
            self.committed.emit(self._value)


class TextField(ParsedField):
    """A name or a note; the value is the text without spaces around it."""

    def __init__(
        self,
        name: str,
        *,
        check: Callable[[str], str] | None = None,
        empty: str = "",
        parent: QWidget | None = None,
    ) -> None:
        super().__init__(str.strip, str, name=name, empty=empty, check=check, parent=parent)
        self.line.setToolTip(name)
