"""Cards over the wall for panels without a drawing: one typed size, or a pasted list."""

from __future__ import annotations

from PySide6.QtCore import Qt, QTimer, Signal
from PySide6.QtGui import QKeyEvent
from PySide6.QtWidgets import (
    QFrame,
    QGridLayout,
    QHBoxLayout,
    QLabel,
    QPlainTextEdit,
    QVBoxLayout,
    QWidget,
)

from app import theme
from app.commands import AddPanels
from app.context import Context
from app.i18n import tr
from app.panel_table import Table, read_table, shaped_panel
from app.widgets.fields import NumberField, ParsedField, TextField
from app.widgets.forms import Choice, Heading, button, words
from app.widgets.reasons import set_able
from app.wording import error_in_words
from core.errors import SeamwrightError
from core.geometry import Region
from core.outlines.typed import region_from_text


class _Card(QFrame):
    """A card that Escape puts away."""

    closed = Signal()

    def __init__(self, context: Context) -> None:
        super().__init__()
        self._context = context
        self.setProperty("card", True)
        self.hide()

    def put_away(self) -> None:
        """Hide the card."""
        self.hide()
        self.closed.emit()

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Escape closes."""
        if event.key() == Qt.Key.Key_Escape:
            self.put_away()
            return
        super().keyPressEvent(event)


class ShapeField(ParsedField):
    """A size or a simple shape as it is typed: 900x600, 900x600 r30, disc 350, triangle 6x4."""

    def __init__(self, name: str) -> None:
        self.unit = "mm"
        super().__init__(self._read, lambda typed: str(typed[0]), name=name)
        self.line.setToolTip(
            tr(
                "{name}: 900x600, with round corners 900x600 r30, disc 350, triangle 600x400"
            ).format(name=name)
        )
        self.line.setPlaceholderText("900x600")

    @property
    def region(self) -> Region:
        """The shape typed; only where there is a value."""
        region = self.value[1]
        assert isinstance(region, Region)
        return region

    def set_unit(self, unit: str) -> None:
        """Take bare numbers in another unit."""
        self.unit = unit

    def _read(self, text: str) -> tuple[str, Region]:
        return text, region_from_text(text, self.unit)


class SizeCard(_Card):
    """Name, shape, quantity and board of one panel."""

    added = Signal(object)  # ids

    def __init__(self, context: Context) -> None:
        super().__init__(context)
        grid = QGridLayout(self)
        grid.setContentsMargins(theme.WIDE, theme.NORMAL, theme.WIDE, theme.NORMAL)
        self.name_field = TextField(tr("Name of the panel"), empty=tr("Panel"))
        self.size_field = ShapeField(tr("Size of the panel"))
        self.quantity = NumberField(tr("Quantity"), whole=True, least=1, most=100_000)
        self.quantity.set_value(1)
        self.material = Choice(tr("Board of the panel"))
        fields: tuple[tuple[str, QWidget], ...] = (
            (tr("Name"), self.name_field),
            (tr("Size or shape"), self.size_field),
            (tr("Quantity"), self.quantity),
            (tr("Board"), self.material),
        )
        for i, (label, field) in enumerate(fields):
            text = QLabel(label)
            text.setProperty("muted", True)
            text.setBuddy(field)
            grid.addWidget(text, 0, i)
            grid.addWidget(field, 1, i, Qt.AlignmentFlag.AlignTop)
            grid.setColumnStretch(i, 2 if i < 2 else 1)
        self.add_button = button(tr("Add it"), self.add, "plus", primary=True)
        grid.addWidget(self.add_button, 1, 4, Qt.AlignmentFlag.AlignTop)
        self.done_button = button(tr("Done"), self.put_away)
        grid.addWidget(self.done_button, 1, 5, Qt.AlignmentFlag.AlignTop)

    def open(self) -> None:
        """Show the card, ready to type."""
        project = self._context.document.project
        self.size_field.set_unit(project.units)
        names = [m.name for m in project.shop.materials]
        before = self.material.value
        self.material.set_options([("", tr("not chosen yet"))] + [(n, n) for n in names])
        self.material.set_value(before if before in names else (names[0] if names else ""))
        self.show()
        self.name_field.setFocus()

    def add(self) -> bool:
        """Add the panel typed. False if something is missing."""
        typed: tuple[ParsedField, ...] = (self.name_field, self.size_field, self.quantity)
        taken = [field.commit() for field in typed]
        if not all(taken):
            return False
        if self.size_field.value is None:
            self.size_field.refuse(tr("Width and height are needed, like 900x600."))
            return False
        count = len(self._context.document.project.panels) + 1
        panel = shaped_panel(
            self.name_field.value or tr("Panel {n}").format(n=count),
            self.size_field.region,
            self.quantity.value,
            self.material.value or "",
        )
        before = {p.id for p in self._context.document.project.panels}
        try:
            self._context.document.run(
                AddPanels(tr("Add {name}").format(name=panel.name), (panel,))
            )
        except SeamwrightError as error:
            self.size_field.refuse(error_in_words(error))
            return False
        self.added.emit(
            tuple(p.id for p in self._context.document.project.panels if p.id not in before)
        )
        self.name_field.set_value(None)
        self.size_field.set_value(None)
        self.name_field.setFocus()
        return True

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Enter adds."""
        if event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter):
            self.add()
            return
        super().keyPressEvent(event)


class PasteCard(_Card):
    """A list pasted or typed, read as it changes."""

    added = Signal(object)

    def __init__(self, context: Context) -> None:
        super().__init__(context)
        column = QVBoxLayout(self)
        column.setContentsMargins(theme.WIDE, theme.NORMAL, theme.WIDE, theme.NORMAL)
        column.addWidget(Heading(tr("A list of rectangular panels")))
        column.addWidget(
            words(
                tr(
                    "One panel a line: name, width, height, quantity, board, grain. From a "
                    "spreadsheet, copy the rows and paste them here."
                )
            )
        )
        self.edit = QPlainTextEdit()
        self.edit.setAccessibleName(tr("List of panels"))
        self.edit.setPlaceholderText(tr("Shelf, 800, 300, 4\nBack, 1200, 760"))
        self.edit.setTabChangesFocus(True)
        self.edit.setFixedHeight(self.edit.fontMetrics().height() * 7 + 16)
        column.addWidget(self.edit)
        self.told = words("", muted=True)
        column.addWidget(self.told)
        row = QHBoxLayout()
        self.add_button = button(tr("Add them"), self.add, "plus", primary=True)
        row.addWidget(self.add_button)
        row.addWidget(button(tr("Done"), self.put_away))
        row.addStretch(1)
        column.addLayout(row)
        self._table = Table((), ())
        self._timer = QTimer(self)
        self._timer.setSingleShot(True)
        self._timer.setInterval(120)
        self._timer.timeout.connect(self._read)
        self.edit.textChanged.connect(self._timer.start)

    def open(self, text: str = "") -> None:
        """Show the card, with a text to read if there is one."""
        if text:
            self.edit.setPlainText(text)
        self.show()
        self.edit.setFocus()
        self._read()

    def _read(self) -> None:
        project = self._context.document.project
        names = [m.name for m in project.shop.materials]
        only = names[0] if len(names) == 1 else ""
        self._table = read_table(self.edit.toPlainText(), project.units, names, only)
        n = len(self._table.panels)
        set_able(self.add_button, n > 0, tr("There is no row yet that can be read as a panel."))
        self.add_button.setText(
            tr("Add them")
            if not n
            else tr("Add 1 panel")
            if n == 1
            else tr("Add {n} panels").format(n=n)
        )
        shown = [sentence for _, sentence in self._table.problems[:4]]
        if len(self._table.problems) > 4:
            shown.append(tr("and {n} lines more").format(n=len(self._table.problems) - 4))
        self.told.setText("\n".join(shown))
        theme.mark(self.told, "severity", "stop" if shown else None)
        self.told.setVisible(bool(shown))

    def add(self) -> bool:
        """Add what could be read. False if that is nothing."""
        self._timer.stop()
        self._read()
        if not self._table.panels:
            return False
        before = {p.id for p in self._context.document.project.panels}
        n = len(self._table.panels)
        text = tr("Add 1 panel") if n == 1 else tr("Add {n} panels").format(n=n)
        try:
            self._context.document.run(AddPanels(text, self._table.panels))
        except SeamwrightError as error:
            self.told.setText(error_in_words(error))
            self.told.show()
            return False
        self.added.emit(
            tuple(p.id for p in self._context.document.project.panels if p.id not in before)
        )
        if self._table.problems:
            # What could not be read stays with its heading, so that it can be mended.
            read = set(self._table.lines)
            lines = self.edit.toPlainText().splitlines()
            self.edit.setPlainText(
                "\n".join(line for i, line in enumerate(lines, 1) if i not in read)
            )
        else:
            self.edit.clear()
            self.put_away()
        return True
