"""How sheets get onto the machine: chosen here, or the ways compared in one table first."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from PySide6.QtCore import QObject, Qt, Signal
from PySide6.QtWidgets import (
    QAbstractItemView,
    QDialog,
    QHeaderView,
    QProgressBar,
    QTableWidget,
    QTableWidgetItem,
    QVBoxLayout,
    QWidget,
)

from app import theme
from app.commands.layout import SetWay
from app.commands.shop import SetShopPart
from app.context import Context
from app.i18n import tr
from app.jobs import Job, Progress, Stop
from app.widgets.forms import (
    Choice,
    Rows,
    Section,
    align_heads,
    button,
    close_box,
    row_of,
    words,
)
from app.widgets.icons import set_icon
from app.widgets.reasons import set_able
from app.widgets.room import keep_on_screen, resize_within_screen
from app.wording import error_in_words, in_words
from core.errors import SeamwrightError
from core.plan import PlanWay
from core.project.model import Project
from core.project.saying import in_project_unit
from core.shop import SawKind

if TYPE_CHECKING:
    from core.reports.ways import WayRow


def way_options() -> list[tuple[str, str]]:
    """The ways onto the machine and what they are called."""
    return [
        ("blanks", tr("sawn into blanks first")),
        ("whole", tr("whole on the table")),
        ("through", tr("pushed through open ends")),
    ]


class WaysBox(Section):
    """The way chosen, the saw, and the button that compares."""

    def __init__(self) -> None:
        super().__init__(tr("Onto the machine"), "router")
        rows = Rows()
        self.way = Choice(tr("How sheets get onto the machine"), way_options())
        self.saw = Choice(
            tr("The saw that sheets are broken down with"),
            [
                (SawKind.RAIL, tr("rail saw, to pencil marks")),
                (SawKind.BENCH, tr("bench saw, by its fence")),
            ],
        )
        rows.add(tr("Sheets go"), self.way)
        rows.add(tr("Sawn with"), self.saw)
        self.add(rows)
        self.compare = button(
            tr("Compare the ways…"),
            self._compare,
            "layers",
            tr("Sheets, yield, saw cuts and clampings of every way in one table"),
        )
        self.add(self.compare)
        self.note = words()
        self.note.hide()
        self.add(self.note)

    wanted = Signal()

    def _compare(self) -> None:
        self.wanted.emit()

    def show_project(self, project: Project) -> None:
        """Take over what the project says."""
        ways = {s.way or project.breakdown for s in project.shop.stock} or {project.breakdown}
        self.way.set_value(ways.pop() if len(ways) == 1 else None)
        self.saw.set_value(project.shop.rules.saw)
        closed = self.way.value == "through" and not project.shop.machine.open_ended
        self.note.setText(
            tr("The machine has no open ends (Shop, F9): sheets are sawn into blanks.")
            if closed
            else ""
        )
        self.note.setVisible(closed)


class WaysDialog(QDialog):
    """The ways side by side; one of them can be taken."""

    use = Signal(object)  # PlanWay
    stop = Signal()

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setWindowTitle(tr("Ways onto the machine, compared"))
        self.column = column = QVBoxLayout(self)
        column.setSpacing(theme.NORMAL)
        from core.reports.ways import HEADS, MEANING  # slow to load, and not for the start

        self.table = QTableWidget(0, len(HEADS))
        self.table.setAccessibleName(tr("Ways onto the machine"))
        self.table.setHorizontalHeaderLabels([in_words(head) for head in HEADS])
        align_heads(self.table, 0, 1)
        self.table.verticalHeader().hide()
        self.table.setShowGrid(False)
        self.table.setTabKeyNavigation(False)
        self.table.setSelectionBehavior(QAbstractItemView.SelectionBehavior.SelectRows)
        self.table.setSelectionMode(QAbstractItemView.SelectionMode.SingleSelection)
        self.table.setEditTriggers(QAbstractItemView.EditTrigger.NoEditTriggers)
        header = self.table.horizontalHeader()
        header.setHighlightSections(False)
        header.setSectionResizeMode(QHeaderView.ResizeMode.ResizeToContents)
        header.setSectionResizeMode(1, QHeaderView.ResizeMode.Stretch)
        column.addWidget(self.table, 1)
        self.note = words("", muted=False)
        column.addWidget(self.note)
        self.bar = QProgressBar()
        self.bar.setRange(0, 1000)
        self.bar.setTextVisible(False)
        self.bar.setAccessibleName(tr("How far the comparison is"))
        column.addWidget(self.bar)
        self.meaning = words(in_words(MEANING))
        column.addWidget(self.meaning)
        self.take = button(
            tr("Use this way"),
            self._take,
            "check",
            tr("Lay the sheets of this board out in the way selected (undo takes it back)"),
        )
        self.take.setProperty("primary", True)
        set_icon(self.take, "check", "on-accent")
        column.addWidget(row_of(self.take))
        column.addWidget(close_box(self))
        self.table.itemSelectionChanged.connect(self._selected)
        self._rows: tuple[WayRow, ...] = ()
        self._project: Project | None = None
        self.finished.connect(self._closed)
        resize_within_screen(self, 900, 460)
        self.show_rows((), None)

    def tell(self, text: str, fraction: float | None) -> None:
        """How the comparison is getting on; None: it does not run."""
        self.bar.setVisible(fraction is not None)
        if fraction is not None:
            self.bar.setValue(round(fraction * 1000))
            self.note.setText(text)

    def show_rows(self, ways: tuple[PlanWay, ...], project: Project | None) -> None:
        """Fill the table; the ways the project goes are selected or marked."""
        self._project = project
        from core.reports.ways import way_rows
        from core.reports.words import Words, words_of

        self._rows = way_rows(ways, words_of(project) if project is not None else Words())
        self.table.setRowCount(len(self._rows))
        for i, row in enumerate(self._rows):
            here = project is not None and _goes(project, row.way)
            for column, text in enumerate(row.cells):
                said = in_words(text) if column == 1 else text
                shown = f"{said} ✓" if column == 1 and here else said
                item = QTableWidgetItem(shown)
                if column > 1:
                    item.setTextAlignment(
                        Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter
                    )
                item.setToolTip(self._note_of(row))
                self.table.setItem(i, column, item)
        self._fit_width()
        if self._rows:
            self.table.selectRow(0)
        self._selected()

    def _fit_width(self) -> None:
        """Wide enough for every column, whatever the size of the text; else they are scrolled."""
        header = self.table.horizontalHeader()
        wide = sum(
            max(self.table.sizeHintForColumn(k), header.sectionSizeHint(k))
            for k in range(self.table.columnCount())
        )
        edges = self.column.contentsMargins()
        wide += edges.left() + edges.right() + 2 * self.table.frameWidth()
        wide += self.table.verticalScrollBar().sizeHint().width()
        room = self.screen().availableGeometry().width()
        modes = QHeaderView.ResizeMode
        header.setSectionResizeMode(1, modes.Stretch if wide <= room else modes.ResizeToContents)
        self.resize(min(max(self.width(), wide), room), self.height())
        if self.isVisible():
            keep_on_screen(self)

    def _note_of(self, row: WayRow) -> str:
        note = in_words(row.note)
        return in_project_unit(note, self._project) if self._project else note

    @property
    def chosen(self) -> PlanWay | None:
        """The way of the row selected."""
        index = self.table.currentRow()
        return self._rows[index].way if 0 <= index < len(self._rows) else None

    def _selected(self) -> None:
        way = self.chosen
        set_able(
            self.take,
            way is not None and way.layout is not None,
            tr("Choose a way of the table that can be laid out."),
        )
        if way is not None:
            self.note.setText(self._note_of(self._rows[self.table.currentRow()]))

    def _take(self) -> None:
        if self.chosen is not None:
            self.use.emit(self.chosen)

    def _closed(self, _result: int) -> None:
        self.stop.emit()


def _goes(project: Project, way: PlanWay) -> bool:
    """True if all sheets of the way's board go that way."""
    ways = {s.way or project.breakdown for s in project.shop.stock if s.material == way.material}
    return ways == {way.way}


class Ways(QObject):
    """The box on the Sheets stage and the dialog, joined to the document."""

    def __init__(self, context: Context, parent: QWidget) -> None:
        super().__init__(parent)
        self._context = context
        self._window = parent
        self._job: Job | None = None
        self.box = WaysBox()
        self.dialog: WaysDialog | None = None
        self.box.way.chosen.connect(self._choose)
        self.box.saw.chosen.connect(self._choose_saw)
        self.box.wanted.connect(self.compare)

    def refresh(self) -> None:
        """The document changed."""
        project = self._context.document.project
        self.box.show_project(project)
        set_able(
            self.box.compare,
            bool(project.panels and project.shop.stock),
            tr("It takes panels, and a sheet in the shop to cut them from."),
        )
        ways = self._context.derived.ways
        if self.dialog is not None and self._job is None and ways:
            row = self.dialog.table.currentRow()
            self.dialog.show_rows(ways, project)
            self.dialog.table.selectRow(max(row, 0))

    def _choose(self, way: Any) -> None:
        names = dict(way_options())
        text = tr("Sheets go {way}").format(way=names[way])
        self._context.document.run(SetWay(text, way), sender=self)

    def _choose_saw(self, saw: Any) -> None:
        values = (("saw", saw),)
        self._context.document.run(SetShopPart(tr("Set the saw"), "rules", values), sender=self)

    def compare(self) -> None:
        """Lay everything out in every way, off this thread, and show the figures."""
        derived = self._context.derived
        pieces, project = derived.pieces, self._context.document.project
        if pieces is None:
            return
        if self.dialog is None:
            self.dialog = WaysDialog(self._window)
            self.dialog.use.connect(self._use)
            self.dialog.stop.connect(self._stop)
        self.dialog.show()
        self.dialog.raise_()
        if derived.ways:
            self.dialog.tell("", None)
            self.dialog.show_rows(derived.ways, project)
            return
        if self._job is not None:
            return
        self.dialog.show_rows((), project)
        self.dialog.tell(tr("Laying out every way…"), 0.0)
        compare = derived.engine.compare

        def work(progress: Progress, stop: Stop) -> tuple[PlanWay, ...]:
            assert compare is not None
            return compare(project, pieces, progress=progress, stop=stop)

        def done(ways: tuple[PlanWay, ...]) -> None:
            self._job = None
            derived.keep_ways(ways, pieces, project.shop)
            if self.dialog is not None:
                self.dialog.tell("", None)
                self.dialog.show_rows(ways, self._context.document.project)

        def partial(fraction: float, text: str, _value: object) -> None:
            if self.dialog is not None and self._job is not None:
                self.dialog.tell(in_words(text), fraction)

        def failed(error: SeamwrightError) -> None:
            self._job = None
            if self.dialog is not None:
                self.dialog.tell("", None)
                self.dialog.note.setText(error_in_words(error))

        self._job = self._context.jobs.start(
            tr("Comparing the ways onto the machine"),
            work,
            done=done,
            partial=partial,
            failed=failed,
            lane="ways",
        )
        self._job.dropped.connect(self._dropped)

    def _dropped(self) -> None:
        self._job = None
        if self.dialog is not None:
            self.dialog.tell("", None)

    def _stop(self) -> None:
        if self._job is not None:
            self._job.abandon()

    def _use(self, way: PlanWay) -> None:
        names = dict(way_options())
        text = tr("{board}: {way}").format(board=way.material, way=names[way.way])
        command = SetWay(text, way.way, way.material, way.layout)
        self._context.document.run(command, sender=self)
        self.refresh()
