"""Forms for frozen records: a field per attribute, a card per record, a list of cards."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import Any

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import QCheckBox, QFrame, QHBoxLayout, QVBoxLayout, QWidget

from app import theme
from app.i18n import tr
from app.widgets.fields import LengthField, NumberField, ParsedField, SizeField, TextField
from app.widgets.forms import Choice, Rows, bring_into_view, button, put_before, tool, words
from app.widgets.reasons import set_able


@dataclass(frozen=True)
class Spec:
    """One field of a form.

    kind: "length", "size", "number", "whole", "text", "choice" or "check". empty: what no
    value means ("" if one is needed). options: for a choice, (value, text) rows or what gives
    them.
    """

    attribute: str
    label: str
    kind: str
    tip: str = ""
    empty: str = ""
    above_zero: bool = False
    suffix: str = ""
    options: Sequence[tuple[Any, str]] | Callable[[], Sequence[tuple[Any, str]]] = ()
    check: Callable[[str], str] | None = None
    most: float | None = None


_READING = "17.65 mm"


class RecordForm(Rows):
    """Fields of one record, below each other or (compact) side by side.

    edited(attribute, value) when the maker set one.
    """

    edited = Signal(str, object)

    def __init__(
        self,
        specs: Sequence[Spec],
        of: str = "",
        *,
        compact: bool = False,
        parent: QWidget | None = None,
    ) -> None:
        super().__init__(parent)
        self._specs = tuple(specs)
        self.fields: dict[str, QWidget] = {}
        line = QWidget()
        line_layout = QHBoxLayout(line)
        line_layout.setContentsMargins(0, 0, 0, 0)
        line_layout.setSpacing(theme.TIGHT)
        for spec in self._specs:
            name = f"{spec.label}, {of}" if of else spec.label
            field = self._field(spec, name)
            self.fields[spec.attribute] = field
            if compact:
                share = 2 if spec.kind == "text" else 3
                if isinstance(field, LengthField):
                    # Room for a caliper reading with its unit; the others give way.
                    field.setMinimumWidth(field.fontMetrics().horizontalAdvance(_READING) + 20)
                elif spec.kind == "text":
                    field.setMinimumWidth(field.fontMetrics().horizontalAdvance(spec.empty) + 22)
                line_layout.addWidget(field, share, Qt.AlignmentFlag.AlignTop)
            elif spec.kind == "check":
                self.add_wide(field)
            else:
                self.add(spec.label, field, spec.tip)
        if compact:
            self.add_wide(line)

    def _field(self, spec: Spec, name: str) -> QWidget:
        tip = spec.tip
        field: QWidget
        if spec.kind == "length":
            field = LengthField(
                name, above_zero=spec.above_zero, empty=spec.empty, most_mm=spec.most
            )
        elif spec.kind == "size":
            field = SizeField(name, empty=spec.empty)
        elif spec.kind in ("number", "whole"):
            field = NumberField(
                name,
                suffix=spec.suffix,
                whole=spec.kind == "whole",
                empty=spec.empty,
                least=1 if spec.above_zero else 0,
            )
        elif spec.kind == "text":
            field = TextField(name, empty=spec.empty, check=spec.check)
        elif spec.kind == "choice":
            field = Choice(name, () if callable(spec.options) else spec.options)
            field.chosen.connect(self._teller(spec.attribute))
        else:
            field = QCheckBox(spec.label)
            field.setAccessibleName(name)
            field.clicked.connect(self._check_teller(spec.attribute, field))
        if isinstance(field, ParsedField):
            field.committed.connect(self._teller(spec.attribute))
            if tip:
                field.line.setToolTip(tip)
        elif tip:
            field.setToolTip(tip)
        return field

    def _teller(self, attribute: str) -> Callable[[Any], None]:
        return lambda value: self.edited.emit(attribute, value)

    def _check_teller(self, attribute: str, box: QCheckBox) -> Callable[[], None]:
        return lambda: self.edited.emit(attribute, box.isChecked())

    def fill(self, record: Any, unit: str) -> None:
        """Show a record's values, lengths in unit."""
        for spec in self._specs:
            field = self.fields[spec.attribute]
            value = getattr(record, spec.attribute)
            if isinstance(field, LengthField | SizeField):
                field.set_unit(unit)
            if isinstance(field, ParsedField):
                if spec.kind == "text" and spec.empty and value == "":
                    value = None
                if value != field.value or not field.line.hasFocus():
                    field.set_value(value)
            elif isinstance(field, Choice):
                if callable(spec.options):
                    field.set_options(spec.options())
                field.set_value(value)
            elif isinstance(field, QCheckBox):
                field.setChecked(bool(value))


class RecordCard(QFrame):
    """One record of a list. changed(new record), removed()."""

    changed = Signal(object)
    removed = Signal()

    def __init__(
        self, specs: Sequence[Spec], of: str, remove_text: str, *, compact: bool = False
    ) -> None:
        super().__init__()
        self.setProperty("card", not compact)
        self.record: Any = None
        self.unit = "mm"
        row = QHBoxLayout(self)
        if compact:
            row.setContentsMargins(0, 0, 0, 0)
        else:
            row.setContentsMargins(theme.NORMAL, theme.NORMAL, theme.TIGHT, theme.NORMAL)
        self.column = QVBoxLayout()
        self.column.setSpacing(theme.TIGHT)
        row.addLayout(self.column, 1)
        self.form = RecordForm(specs, of, compact=compact)
        self.form.edited.connect(self.edit)
        self.column.addWidget(self.form)
        self.note = words()
        self.note.hide()
        self.column.addWidget(self.note)
        self.remove_button = tool(f"{remove_text}: {of}", self.removed.emit, "delete")
        side = QVBoxLayout()
        side.addWidget(self.remove_button)
        side.addStretch(1)
        row.addLayout(side)

    def edit(self, attribute: str, value: Any) -> None:
        """Make the record with another value and tell."""
        if value is None and isinstance(getattr(self.record, attribute), str):
            value = ""
        self.changed.emit(replace(self.record, **{attribute: value}))

    def fill(self, record: Any, unit: str) -> None:
        """Show a record."""
        self.record = record
        self.unit = unit
        self.form.fill(record, unit)
        self.show_note(self.note_of(record, unit))

    def note_of(self, record: Any, unit: str) -> str:
        """A line below the fields; "" for none."""
        return ""

    def show_note(self, text: str) -> None:
        """Show or hide the line below the fields."""
        self.note.setText(text)
        self.note.setVisible(bool(text))


class RecordList(QWidget):
    """Cards below each other with a button for another one. changed(tuple of records)."""

    changed = Signal(object)

    def __init__(
        self,
        make_card: Callable[[int], RecordCard],
        add_text: str,
        make_record: Callable[[], Any],
        *,
        empty_text: str = "",
        least: int = 0,
    ) -> None:
        super().__init__()
        self._make_card = make_card
        self._make_record = make_record
        self._least = least
        self._records: tuple[Any, ...] = ()
        self.cards: list[RecordCard] = []
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(theme.NORMAL)
        self._empty = words(empty_text)
        column.addWidget(self._empty)
        self._cards_column = QVBoxLayout()
        self._cards_column.setSpacing(theme.NORMAL)
        column.addLayout(self._cards_column)
        self.add_button = button(add_text, self.add, "plus")
        column.addWidget(self.add_button)

    def fill(self, records: tuple[Any, ...], unit: str) -> None:
        """Show these records; cards are kept as far as their number allows."""
        self._records = records
        while len(self.cards) > len(records):
            card = self.cards.pop()
            self._cards_column.removeWidget(card)
            card.hide()
            card.deleteLater()
        while len(self.cards) < len(records):
            i = len(self.cards)
            card = self._make_card(i)
            card.changed.connect(self._changer(card))
            card.removed.connect(self._remover(card))
            self.cards.append(card)
            self._cards_column.addWidget(card)
            put_before(card, self.add_button)
        for card, record in zip(self.cards, records, strict=True):
            card.fill(record, unit)
            set_able(card.remove_button, len(records) > self._least, tr("One has to be there."))
        self._empty.setVisible(not records and bool(self._empty.text()))

    def add(self) -> None:
        """One more record."""
        self.changed.emit((*self._records, self._make_record()))
        if self.cards:
            self.cards[-1].form.setFocus()
            first = next(iter(self.cards[-1].form.fields.values()))
            first.setFocus()
            bring_into_view(self.cards[-1])

    def _changer(self, card: RecordCard) -> Callable[[Any], None]:
        def change(record: Any) -> None:
            i = self.cards.index(card)
            rows = list(self._records)
            rows[i] = record
            self.changed.emit(tuple(rows))

        return change

    def _remover(self, card: RecordCard) -> Callable[[], None]:
        def remove() -> None:
            i = self.cards.index(card)
            self.changed.emit(self._records[:i] + self._records[i + 1 :])

        return remove


def any_of(names: Sequence[str], text: str = "") -> list[tuple[str, str]]:
    """Names to choose from, with "" as the first that means any."""
    return [("", text or tr("any"))] + [(name, name) for name in names]
