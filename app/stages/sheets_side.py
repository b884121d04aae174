"""The right column of the Sheets stage: the selection, nesting, the layouts kept."""

from __future__ import annotations

from collections.abc import Sequence

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import (
    QAbstractItemView,
    QCheckBox,
    QHeaderView,
    QLabel,
    QSizePolicy,
    QTableWidget,
    QTableWidgetItem,
    QVBoxLayout,
    QWidget,
)

from app import theme
from app.canvas.lengths import glance_size
from app.i18n import tr
from app.stages.sheets_compare import LayoutRow
from app.stages.sheets_curve import YieldCurve
from app.stages.sheets_hand import Hand
from app.stages.sheets_model import SheetKey
from app.stages.sheets_motions import bounds_of
from app.widgets.fields import LengthField, NumberField
from app.widgets.forms import Choice, Rows, Section, align_heads, button, row_of, tool, words
from app.widgets.icons import set_icon
from app.widgets.reasons import set_able


class SelectionBox(Section):
    """Position, turn, copies and lock of what is selected, and how to line it up.

    copies_wanted(panel id, how many): another number of a panel is to be cut.
    """

    copies_wanted = Signal(str, int)

    def __init__(self, hand: Hand, unit: str) -> None:
        super().__init__(tr("Selection"), "square")
        self._hand = hand
        self.title = words(tr("Nothing selected. Click a piece, or draw a frame round several."))
        self.add(self.title)
        self.rows = Rows()
        self.add(self.rows)
        self.at_x = LengthField(tr("Left edge from the sheet's corner"), unit, least_mm=-1e6)
        self.at_y = LengthField(tr("Lower edge from the sheet's corner"), unit, least_mm=-1e6)
        self.turn = NumberField(tr("Turn, counter-clockwise"), suffix="°", least=-360, most=360)
        self.sheet = Choice(tr("Sheet the selection lies on"))
        self.rows.add(
            tr("Sheet"), self.sheet, tr("Carry the selection over to another sheet of its board")
        )
        self.rows.add(tr("x"), self.at_x)
        self.rows.add(tr("y"), self.at_y)
        self.rows.add(tr("Turn"), self.turn)
        self.copies = NumberField(tr("How many of this panel are cut"), whole=True, most=9999)
        self.rows.add(
            tr("Copies"), self.copies, tr("More or fewer of the panel; new ones go to the tray")
        )
        self._panel = ""
        self.lock = QCheckBox(tr("Locked: nesting leaves it there"))
        self.lock.setToolTip(tr("Lock or unlock the selection (L)"))
        self.add(self.lock)
        self.problem = QLabel()
        self.problem.setWordWrap(True)
        self.problem.setProperty("severity", "stop")
        self.problem.setTextFormat(Qt.TextFormat.PlainText)
        self.add(self.problem)
        self.turn_left = tool(tr("Turn left (R)"), self._turn_left, "turn-back")
        self.turn_right = tool(tr("Turn right (Shift+R)"), self._turn_right, "turn")
        self.over = tool(tr("Turn over, face down (M)"), self._mirror, "mirror")
        self.tray = tool(tr("Back to the tray (Delete)"), self._to_tray, "tray")
        self.tools_row = row_of(self.turn_left, self.turn_right, self.over, self.tray)
        self.add(self.tools_row)
        self.align = [
            tool(tr("Align left"), self._align_left, "align-left"),
            tool(tr("Align right"), self._align_right, "align-right"),
            tool(tr("Align at the top"), self._align_top, "align-top"),
            tool(tr("Align at the bottom"), self._align_bottom, "align-bottom"),
            tool(tr("Even gaps from left to right"), self._distribute, "distribute"),
            tool(tr("Even gaps from bottom to top"), self._distribute_up, "distribute-up"),
        ]
        self.align_row = row_of(*self.align)
        self.add(self.align_row)
        self.sheet.chosen.connect(self._set_sheet)
        self.at_x.committed.connect(self._set_x)
        self.at_y.committed.connect(self._set_y)
        self.turn.committed.connect(self._set_turn)
        self.copies.committed.connect(self._set_copies)
        self.lock.clicked.connect(self._set_lock)
        self.show_selection("")

    def set_unit(self, unit: str) -> None:
        """Show lengths in another unit."""
        self.at_x.set_unit(unit)
        self.at_y.set_unit(unit)

    def show_selection(self, problem: str) -> None:
        """Take over what the hand has selected."""
        keys = self._hand.selected
        bench = self._hand.bench if keys else None
        for widget in (self.rows, self.lock, self.tools_row):
            widget.setVisible(bool(keys))
        self.align_row.setVisible(len(keys) > 1)
        self.problem.setVisible(bool(problem))
        self.problem.setText(problem)
        if not keys or bench is None:
            self.title.setText(
                tr("Nothing selected. Click a piece, or draw a frame round several.")
            )
            return
        home = self._hand.sheet_of(keys[0])
        here = [k for k in keys if self._hand.sheet_of(k) == home]
        x1, y1, x2, y2 = bounds_of(bench.shape(k) for k in here)
        size = glance_size(x2 - x1, y2 - y1, self.at_x.unit)
        if len(keys) == 1:
            material = bench.pieces[keys[0][0]].material
            self.title.setText(f"{bench.name(keys[0])} · {size} · {material}")
        else:
            one = tr("1 piece · {size}") if len(here) == 1 else tr("{n} pieces · {size}")
            text = one.format(n=len(here), size=size)
            if len(here) < len(keys):
                text = tr("{n} pieces on several sheets. What moves is on one: {here}").format(
                    n=len(keys), here=text
                )
            self.title.setText(text)
        placed = [bench.placed[k] for k in keys]
        if not self.at_x.line.isModified():
            self.at_x.set_value(x1)
        if not self.at_y.line.isModified():
            self.at_y.set_value(y1)
        turns = {round(p.motion.turn_deg, 6) for p in placed}
        if len(turns) == 1:
            self.turn.set_value(turns.pop())
        else:
            self.turn.set_mixed()
        self._show_copies()
        self._show_sheets()
        self.lock.setChecked(all(p.locked for p in placed))
        self.over.setEnabled(all(bench.pieces[k[0]].may_mirror for k in keys))
        self.over.setToolTip(
            tr("Turn over, face down (M)")
            if self.over.isEnabled()
            else tr("May not be cut face down; the Panels stage can allow it")
        )

    def _show_sheets(self) -> None:
        """The sheets that what is selected may be cut from, the one it lies on chosen."""
        keys, bench = self._hand.selected, self._hand.bench
        used = {sheet: n for n, sheet in enumerate(bench.used_sheets, start=1)}
        rows = []
        for sheet in self._hand.sheets_for(keys):
            stock = bench.stocks[sheet[0]]
            size = glance_size(stock.width_mm, stock.height_mm, self.at_x.unit)
            if sheet in used:
                rows.append((sheet, tr("Sheet {n} · {size}").format(n=used[sheet], size=size)))
            else:
                rows.append((sheet, tr("Empty sheet · {size}").format(size=size)))
        homes = {self._hand.sheet_of(key) for key in keys}
        self.sheet.set_options(rows)
        self.sheet.set_value(homes.pop() if len(homes) == 1 else None)
        set_able(
            self.sheet, len(rows) > 1, tr("There is no other sheet of its board on the floor.")
        )

    def _set_sheet(self, sheet: SheetKey) -> None:
        self._hand.put_on(sheet)

    def _set_x(self, value: float) -> None:
        self._hand.put_at(x_mm=value)

    def _set_y(self, value: float) -> None:
        self._hand.put_at(y_mm=value)

    def _set_turn(self, value: float) -> None:
        self._hand.set_turn(value)

    def _set_lock(self, on: bool) -> None:
        self._hand.lock(on)

    def _turn_left(self) -> None:
        self._hand.turn(1)

    def _turn_right(self) -> None:
        self._hand.turn(-1)

    def _mirror(self) -> None:
        self._hand.mirror()

    def _to_tray(self) -> None:
        self._hand.to_tray()

    def _align_left(self) -> None:
        self._hand.align("left")

    def _align_right(self) -> None:
        self._hand.align("right")

    def _align_top(self) -> None:
        self._hand.align("top")

    def _align_bottom(self) -> None:
        self._hand.align("bottom")

    def _distribute(self) -> None:
        self._hand.distribute(0)

    def _distribute_up(self) -> None:
        self._hand.distribute(1)

    def _set_copies(self, count: float) -> None:
        if self._panel:
            self.copies_wanted.emit(self._panel, int(count))

    def _show_copies(self) -> None:
        """How many of the panel are cut, where one panel is selected."""
        keys = self._hand.selected
        pieces = self._hand.bench.pieces
        panels = {pieces[piece].panel for piece, _ in keys}
        self._panel = panels.pop() if len(panels) == 1 else ""
        set_able(self.copies, bool(self._panel), tr("Select pieces of one panel only."))
        if not self._panel:
            self.copies.set_mixed()
            return
        each = {piece: pieces[piece].quantity for piece, _ in keys}
        piece, a_panel = next(iter(each.items()))
        self.copies.set_value(sum(k[0] == piece for k in self._hand.bench.copies) // a_panel)


class NestBox(Section):
    """What nesting is to do, and how it is getting on."""

    start = Signal()
    stop = Signal()

    def __init__(self, seconds: float) -> None:
        super().__init__(tr("Nest"), "layers")
        rows = Rows()
        self.how = Choice(
            tr("What nesting may move"),
            [
                ("all", tr("everything not locked")),
                ("better", tr("improve what lies there")),
                ("rest", tr("only what is in the tray")),
            ],
        )
        self.how.set_value("all")
        self.how.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)
        rows.add(tr("Move"), self.how)
        self.seconds = NumberField(tr("Time to look for better"), suffix="s", least=1, most=3600)
        self.seconds.set_value(seconds)
        rows.add(tr("Look for"), self.seconds)
        self.add(rows)
        self.go = button(tr("Nest the pieces"), self._pressed, "play")
        self.go.setProperty("primary", True)
        set_icon(self.go, "play", "on-accent")
        self.go.setToolTip(
            tr("Find places for all pieces; stop at any time and keep the best (F5)")
        )
        self.add(self.go)
        self.curve = YieldCurve()
        self.curve.hide()
        self.add(self.curve)
        self.state = words()
        self.state.hide()
        self.add(self.state)
        self.running = False

    def forget(self) -> None:
        """Another project: what was found for the one before is gone."""
        for widget in (self.curve, self.state):
            widget.hide()
        self.curve.clear()

    def set_running(self, running: bool) -> None:
        """Nesting began or ended."""
        self.running = running
        self.go.setText(tr("Stop and keep the best") if running else tr("Nest the pieces"))
        set_icon(self.go, "halt" if running else "play", "on-accent")
        for widget in (self.how, self.seconds):
            set_able(widget, not running, tr("Nesting runs: stop it first."))
        if running:
            self.curve.clear()
            self.curve.show()
            self.state.show()

    def tell(self, text: str) -> None:
        """How it is getting on."""
        self.state.setText(text)
        self.state.setVisible(bool(text))

    def _pressed(self) -> None:
        (self.stop if self.running else self.start).emit()


class LayoutsBox(Section):
    """The layouts the maker keeps, side by side in numbers; the one shown is marked."""

    chosen = Signal(str)
    renamed = Signal(str, str)
    keep = Signal()
    forget = Signal(str)

    def __init__(self) -> None:
        super().__init__(tr("Layouts kept"), "copy")
        self.table = QTableWidget(0, 4)
        self.table.setAccessibleName(tr("Layouts kept, to compare"))
        self.table.setHorizontalHeaderLabels([tr("Name"), tr("Used"), tr("Sheets"), tr("In tray")])
        align_heads(self.table, 0)
        for column, tip in enumerate(
            (
                tr("Double click to rename"),
                tr("Piece area by the area of the sheets used"),
                tr("Sheets used"),
                tr("Pieces that found no place"),
            )
        ):
            head = self.table.horizontalHeaderItem(column)
            if head is not None:
                head.setToolTip(tip)
        self.table.verticalHeader().hide()
        self.table.setShowGrid(False)
        self.table.setSelectionBehavior(QAbstractItemView.SelectionBehavior.SelectRows)
        self.table.setSelectionMode(QAbstractItemView.SelectionMode.SingleSelection)
        header = self.table.horizontalHeader()
        header.setHighlightSections(False)
        header.setSectionResizeMode(0, QHeaderView.ResizeMode.Stretch)
        for column in (1, 2, 3):
            header.setSectionResizeMode(column, QHeaderView.ResizeMode.ResizeToContents)
        self.table.setTabKeyNavigation(False)
        self.add(self.table)
        self.detail = words()
        self.add(self.detail)
        self.keep_button = button(
            tr("Keep a copy"), self._keep, "copy", tr("Keep this layout under a name of its own")
        )
        self.forget_button = tool(tr("Forget this layout"), self._forget, "delete")
        self.add(row_of(self.keep_button, self.forget_button))
        self._rows: tuple[LayoutRow, ...] = ()
        self._filling = False
        self.table.itemSelectionChanged.connect(self._picked)
        self.table.itemChanged.connect(self._edited)

    def show_rows(self, rows: Sequence[LayoutRow], current: str) -> None:
        """Fill the table; current: name of the layout shown."""
        self._filling = True
        self._rows = tuple(rows)
        self.table.setRowCount(len(rows))
        for i, row in enumerate(rows):
            for column, text in enumerate((row.name, row.used, row.sheets, row.left)):
                item = self.table.item(i, column)
                if item is None:
                    item = QTableWidgetItem()
                    self.table.setItem(i, column, item)
                item.setText(f"{text} ✓" if column == 1 and row.best and len(rows) > 1 else text)
                flags = Qt.ItemFlag.ItemIsEnabled | Qt.ItemFlag.ItemIsSelectable
                item.setFlags(flags | Qt.ItemFlag.ItemIsEditable if column == 0 else flags)
                if column:
                    item.setTextAlignment(
                        Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter
                    )
            if row.name == current:
                self.table.selectRow(i)
        lines = [
            tr("{name}: {figures}").format(name=row.name, figures=row.detail)
            if len(rows) > 1
            else row.detail
            for row in rows
            if row.detail
        ]
        self.detail.setText("\n".join(lines))
        self.detail.setVisible(bool(lines))
        if not rows:
            self.detail.setText(tr("None yet. Nest, or drag pieces onto a sheet."))
            self.detail.show()
        self.table.setColumnHidden(3, all(row.left == "0" for row in rows))
        self.table.setVisible(bool(rows))
        high = self.table.horizontalHeader().sizeHint().height() + 4
        high += sum(self.table.rowHeight(i) for i in range(min(len(rows), 6)))
        self.table.setFixedHeight(high)
        none = tr("There is no layout yet.")
        set_able(self.keep_button, bool(rows), none)
        set_able(self.forget_button, bool(rows), none)
        self._filling = False

    def _current(self) -> str:
        index = self.table.currentRow()
        return self._rows[index].name if 0 <= index < len(self._rows) else ""

    def _picked(self) -> None:
        if not self._filling and self._current():
            self.chosen.emit(self._current())

    def _edited(self, item: QTableWidgetItem) -> None:
        if self._filling or item.column() or not 0 <= item.row() < len(self._rows):
            return
        before = self._rows[item.row()].name
        if item.text().strip() != before:
            self.renamed.emit(before, item.text().strip())

    def _keep(self) -> None:
        self.keep.emit()

    def _forget(self) -> None:
        if self._current():
            self.forget.emit(self._current())


def side_column(*widgets: QWidget) -> QWidget:
    """Sections one below the other."""
    holder = QWidget()
    column = QVBoxLayout(holder)
    column.setContentsMargins(0, 0, theme.NORMAL, 0)
    column.setSpacing(theme.NORMAL)
    for widget in widgets:
        column.addWidget(widget)
    column.addStretch(1)
    return holder
