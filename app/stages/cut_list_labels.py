"""Label sheets of the maker's own, by the dimensions printed on the packet or measured."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QDialog, QVBoxLayout, QWidget

from app import theme
from app.commands import SetOutput
from app.context import Context
from app.i18n import tr
from app.widgets.fields import LengthField, NumberField, ParsedField, TextField
from app.widgets.forms import (
    Choice,
    Rows,
    button,
    close_box,
    enter_presses_nothing,
    row_of,
    scrolling,
    words,
)
from app.widgets.reasons import set_able
from app.widgets.room import show_whole
from app.wording import error_in_words
from core.errors import SeamwrightError
from core.project.output import LabelSheet, Output

_LENGTHS = ("width_mm", "height_mm", "left_mm", "top_mm", "pitch_x_mm", "pitch_y_mm")


class LabelSheetsDialog(QDialog):
    """Every change holds at once and can be undone. outlines_wanted: show the test print."""

    outlines_wanted = Signal()

    def __init__(self, context: Context, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setWindowTitle(tr("Own label sheets"))
        self._context = context
        self._name = ""
        column = QVBoxLayout(self)
        column.setContentsMargins(theme.WIDE, theme.WIDE, theme.WIDE, theme.WIDE)
        column.setSpacing(theme.NORMAL)
        column.addWidget(
            words(
                tr(
                    "Measured on the sheet, paper upright: the first label is at the top left. "
                    "Print the outlines on plain paper and hold both against the light."
                )
            )
        )
        self.sheets = Choice(tr("Label sheet"))
        self.sheets.chosen.connect(self._choose)
        self.new_button = button(tr("New"), self._new, "plus")
        self.delete_button = button(tr("Delete"), self._delete, "delete")
        column.addWidget(row_of(self.sheets, self.new_button, self.delete_button, stretch=0))
        unit = context.unit
        self.fields: dict[str, ParsedField] = {
            "name": TextField(tr("Name")),
            "columns": NumberField(tr("Labels side by side"), whole=True, least=1, most=20),
            "rows": NumberField(tr("Labels below each other"), whole=True, least=1, most=40),
            "width_mm": LengthField(tr("Width of a label"), unit, above_zero=True),
            "height_mm": LengthField(tr("Height of a label"), unit, above_zero=True),
            "left_mm": LengthField(tr("Left edge to the first label"), unit),
            "top_mm": LengthField(tr("Upper edge to the first label"), unit),
            "pitch_x_mm": LengthField(tr("From one label to the next, across"), unit),
            "pitch_y_mm": LengthField(tr("From one label to the next, down"), unit),
        }
        self.paper = Choice(tr("Paper"), [(n, n) for n in ("A4", "A3", "Letter", "Tabloid")])
        self.paper.chosen.connect(self._setter("paper"))
        rows = Rows()
        labels = {
            "name": tr("Name"),
            "columns": tr("Side by side"),
            "rows": tr("Below each other"),
            "width_mm": tr("Width"),
            "height_mm": tr("Height"),
            "left_mm": tr("From the left edge"),
            "top_mm": tr("From the upper edge"),
            "pitch_x_mm": tr("Next one, across"),
            "pitch_y_mm": tr("Next one, down"),
        }
        for key, field in self.fields.items():
            rows.add(labels[key], field)
            field.committed.connect(self._setter(key))
            if key == "name":
                rows.add(tr("Paper"), self.paper)
        self._rows = rows
        column.addWidget(scrolling(rows, whole=True), 1)
        self.told = words("", muted=False)
        column.addWidget(self.told)
        self.show_button = button(tr("Show the outlines"), self._show_outlines, "page")
        column.addWidget(row_of(self.show_button))
        column.addWidget(close_box(self))
        enter_presses_nothing(self)
        show_whole(self)
        self.setMinimumWidth(self.fontMetrics().averageCharWidth() * 60)
        context.document.changed.connect(self._show)
        self._name = self._output.label_sheet
        self._show()

    @property
    def _output(self) -> Output:
        return self._context.document.project.output

    @property
    def sheet(self) -> LabelSheet | None:
        """The sheet shown, None if there is none."""
        return next((s for s in self._output.label_sheets if s.name == self._name), None)

    def _show(self, _change: object = None) -> None:
        names = [sheet.name for sheet in self._output.label_sheets]
        if self._name not in names:
            self._name = names[0] if names else ""
        self.sheets.set_options([(name, name) for name in names] or [("", tr("none yet"))])
        self.sheets.set_value(self._name)
        sheet = self.sheet
        for thing in (self._rows, self.delete_button, self.show_button, self.sheets):
            set_able(thing, sheet is not None, tr("Press New first."))
        self.told.setText("" if names else tr("Press New, then type in what you measure."))
        for key, field in self.fields.items():
            field.set_value(getattr(sheet, key) if sheet is not None else None)
        inches = self._context.document.project.units in ("in", "ft", "thou")
        usual = "Letter" if inches else "A4"
        self.paper.set_value(sheet.paper if sheet is not None else usual)

    def _choose(self, name: str) -> None:
        self._name = name
        self._show()

    def _setter(self, key: str) -> object:
        def put(value: object) -> None:
            self.put(key, value)

        return put

    def put(self, key: str, value: Any) -> None:
        """Set one dimension of the sheet shown; what cannot be is explained below the fields."""
        from core.reports.label_formats import own_format

        old = self.sheet
        if old is None:
            return
        value = int(value) if key in ("columns", "rows") else value
        value = float(value) if key in _LENGTHS else value
        changes: dict[str, Any] = {key: value}
        # Labels that lay against each other still do when they get another size.
        for size, pitch in (("width_mm", "pitch_x_mm"), ("height_mm", "pitch_y_mm")):
            if key == size and getattr(old, pitch) == getattr(old, size):
                changes[pitch] = value
        sheet = replace(old, **changes)
        others = {s.name for s in self._output.label_sheets if s.name != old.name}
        if not sheet.name or sheet.name in others:
            self.fields["name"].refuse(tr("Give it a name of its own."))
            return
        try:
            own_format(sheet)
        except SeamwrightError as error:
            self.told.setText(error_in_words(error))
            return
        self._name = sheet.name
        sheets = tuple(sheet if s.name == old.name else s for s in self._output.label_sheets)
        chosen = self._output.label_sheet
        values = (
            ("label_sheets", sheets),
            ("label_sheet", sheet.name if chosen == old.name else chosen),
        )
        self._context.document.run(
            SetOutput(tr("Change label sheet {name}").format(name=old.name), values)
        )

    def _new(self) -> None:
        names = {sheet.name for sheet in self._output.label_sheets}
        number = 1
        while (name := tr("My labels {n}").format(n=number)) in names:
            number += 1
        inches = self._context.document.project.units in ("in", "ft", "thou")
        if inches:
            fresh = LabelSheet(name, "Letter", 2, 5, 101.6, 50.8, 6.35, 12.7, 101.6, 50.8)
        else:
            fresh = LabelSheet(name, "A4", 3, 7, 64.0, 38.0, 9.0, 15.0, 64.0, 38.0)
        self._name = name
        values = (
            ("label_sheets", (*self._output.label_sheets, fresh)),
            ("label_sheet", name),
            ("first_label", 1),
        )
        self._context.document.run(SetOutput(tr("New label sheet"), values))

    def _delete(self) -> None:
        gone = self._name
        chosen = self._output.label_sheet
        values = (
            ("label_sheets", tuple(s for s in self._output.label_sheets if s.name != gone)),
            ("label_sheet", "" if chosen == gone else chosen),
        )
        text = tr("Delete label sheet {name}").format(name=gone)
        self._context.document.run(SetOutput(text, values))

    def _show_outlines(self) -> None:
        chosen = self._output.label_sheet
        if chosen != self._name:
            text = tr("Print labels on {sheet}").format(sheet=self._name)
            values = (("label_sheet", self._name), ("first_label", 1))
            self._context.document.run(SetOutput(text, values))
        self.outlines_wanted.emit()
