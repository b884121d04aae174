"""Ways to buy, compared: the same pieces laid out on each choice of stock; the maker picks one."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

from PySide6.QtCore import QRectF, QSize, Qt
from PySide6.QtGui import QBrush, QFontMetrics, QPainter, QPaintEvent, QPen
from PySide6.QtWidgets import (
    QAbstractItemView,
    QDialog,
    QHeaderView,
    QProgressBar,
    QSizePolicy,
    QTableWidget,
    QTableWidgetItem,
    QVBoxLayout,
    QWidget,
)

from app import theme
from app.commands import SetLayout, SetPanels, Together
from app.commands.base import Command
from app.context import Context
from app.i18n import tr
from app.jobs import Job, Progress, Stop
from app.stages.cut_list_buying import money
from app.widgets.forms import (
    Heading,
    align_heads,
    button,
    close_box,
    enter_presses_nothing,
    row_of,
    words,
)
from app.widgets.reasons import set_able
from app.widgets.room import resize_within_screen
from app.wording import error_in_words, in_words
from core.errors import SeamwrightError
from core.plan import Plan
from core.project.model import KeptLayout

if TYPE_CHECKING:
    from core.reports.alternatives import Alternative
    from core.reports.buying import Alternative as Figures

STEPS = 40_000  # of nesting, for each way; the maker nests the one taken further


@dataclass(frozen=True)
class Tried:
    """An alternative laid out."""

    way: Alternative
    plan: Plan
    layout: KeptLayout


def way_words(way: Alternative) -> str:
    """A way to buy in the language of the window."""
    if way.material is not None:
        old, new = way.material
        return tr("{other} for {board}").format(other=new, board=old)
    return in_words(way.name)


class Bars(QWidget):
    """Where the board goes: pieces full, offcut to keep hatched, scrap empty."""

    def __init__(self) -> None:
        super().__init__()
        self._rows: tuple[Figures, ...] = ()
        self._names: dict[str, str] = {}
        self._unit = "mm"
        self._chosen = ""
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)
        self.setAccessibleName(tr("Where the board goes"))

    def show_rows(self, rows: tuple[Figures, ...], unit: str, names: Mapping[str, str]) -> None:
        """Show these, one bar each. names: what each is called in the window."""
        self._rows, self._unit, self._names = rows, unit, dict(names)
        said = [
            tr("{name}: {used} % pieces").format(
                name=self._names[r.name], used=round(100 * r.yield_share)
            )
            for r in rows
        ]
        self.setAccessibleDescription("; ".join(said))
        self.updateGeometry()
        self.update()

    def choose(self, name: str) -> None:
        """Mark the bar of one alternative."""
        self._chosen = name
        self.update()

    def sizeHint(self) -> QSize:
        """A line of text for each bar, and one for what the fillings mean."""
        line = self._line()
        return QSize(40 * line, round(line * (max(1, len(self._rows)) + 1.4)))

    def _line(self) -> int:
        return round(self.fontMetrics().height() * 1.5)

    def paintEvent(self, _event: QPaintEvent) -> None:
        """Bars to one scale, so that their lengths compare the area of sheets bought."""
        from core.reports.words import Words

        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        line = self._line()
        words_ = Words(self._unit)
        heavy = self.font()
        heavy.setBold(True)  # as the one that is marked
        wide_metrics = QFontMetrics(heavy)
        names = max(map(wide_metrics.horizontalAdvance, self._names.values()), default=0)
        left = min(names + 2, self.width() * 2 // 5) + theme.NORMAL
        values = [words_.area(r.sheet_area_mm2) for r in self._rows]
        right = max((wide_metrics.horizontalAdvance(v) for v in values), default=0)
        right += theme.NORMAL
        most = max((r.sheet_area_mm2 for r in self._rows), default=0.0) or 1.0
        room = max(40, self.width() - left - right)
        ink = theme.color("ink")
        for i, (row, value) in enumerate(zip(self._rows, values, strict=True)):
            top = i * line
            font = painter.font()
            font.setBold(row.name == self._chosen)
            painter.setFont(font)
            painter.setPen(ink)
            name = wide_metrics.elidedText(
                self._names[row.name], Qt.TextElideMode.ElideRight, left - theme.NORMAL
            )
            middle = Qt.AlignmentFlag.AlignVCenter | Qt.AlignmentFlag.AlignLeft
            painter.drawText(QRectF(0, top, left, line), middle, name)
            x = float(left)
            for kind, area in self._parts(row):
                wide = area / most * room
                self._bar(painter, QRectF(x, top + 3, wide, line - 6), kind)
                x += wide
            painter.setPen(ink)
            painter.drawText(QRectF(x + theme.TIGHT, top, right, line), middle, value)
        self._legend(painter, left, len(self._rows) * line + line // 4)

    @staticmethod
    def _parts(row: Figures) -> tuple[tuple[str, float], ...]:
        return (
            ("pieces", row.piece_area_mm2),
            ("offcut", row.offcut_area_mm2),
            ("scrap", max(0.0, row.scrap_area_mm2)),
        )

    def _legend(self, painter: QPainter, x: float, y: float) -> None:
        names = {
            "pieces": tr("pieces"),
            "offcut": tr("offcut to keep"),
            "scrap": tr("scrap"),
        }
        line = self._line()
        font = painter.font()
        font.setBold(False)
        painter.setFont(font)
        for kind, name in names.items():
            self._bar(painter, QRectF(x, y + 4, 1.5 * line, line - 8), kind)
            x += 1.5 * line + theme.TIGHT
            wide = self.fontMetrics().horizontalAdvance(name)
            painter.setPen(theme.color("ink"))
            middle = Qt.AlignmentFlag.AlignVCenter | Qt.AlignmentFlag.AlignLeft
            painter.drawText(QRectF(x, y, wide + 4, line), middle, name)
            x += wide + theme.WIDE

    @staticmethod
    def _bar(painter: QPainter, rect: QRectF, kind: str) -> None:
        if rect.width() < 0.5:
            return
        brush = QBrush(Qt.BrushStyle.NoBrush)
        if kind == "pieces":
            brush = QBrush(theme.color("accent"))
        elif kind == "offcut":
            brush = QBrush(theme.color("ink"), Qt.BrushStyle.BDiagPattern)
        painter.setBrush(brush)
        painter.setPen(QPen(theme.color("ink"), 1))
        painter.drawRect(rect)


class CompareDialog(QDialog):
    """Works the ways out off the UI thread, one after the other, and shows each as it comes."""

    def __init__(self, context: Context, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setWindowTitle(tr("Ways to buy"))
        self._context = context
        self._tried: list[Tried] = []
        self._job: Job | None = None
        self._picked = ""  # by the maker; until then the best is marked
        self._filling = False
        self._revision = context.document.revision
        column = QVBoxLayout(self)
        column.setContentsMargins(theme.WIDE, theme.WIDE, theme.WIDE, theme.WIDE)
        column.setSpacing(theme.NORMAL)
        column.addWidget(
            words(
                tr(
                    "The same pieces, laid out on different stock of the shop. Offcuts count at "
                    "the price of the sheet they come from. Each way is nested briefly; nest the "
                    "one you take again for longer."
                )
            )
        )
        self.table = QTableWidget(0, 8)
        self.table.setHorizontalHeaderLabels(
            [
                tr("Way"),
                tr("Sheets,\nprice of one"),
                tr("Sheets"),
                tr("Cost"),
                tr("Offcuts\nworth"),
                tr("Cost less\noffcuts"),
                tr("Used"),
                tr("Pieces"),
            ]
        )
        align_heads(self.table, 0, 1)
        self.table.setShowGrid(False)
        self.table.setAccessibleName(tr("Ways to buy, best first"))
        self.table.setSelectionBehavior(QAbstractItemView.SelectionBehavior.SelectRows)
        self.table.setSelectionMode(QAbstractItemView.SelectionMode.SingleSelection)
        self.table.setEditTriggers(QAbstractItemView.EditTrigger.NoEditTriggers)
        self.table.verticalHeader().hide()
        self.table.setWordWrap(True)
        header = self.table.horizontalHeader()
        header.setHighlightSections(False)
        header.setSectionResizeMode(QHeaderView.ResizeMode.ResizeToContents)
        header.setSectionResizeMode(1, QHeaderView.ResizeMode.Stretch)
        self.table.currentCellChanged.connect(self._pick)
        column.addWidget(self.table, 1)
        column.addWidget(Heading(tr("Where the board goes")))
        self.bars = Bars()
        column.addWidget(self.bars)
        self.told = words("", muted=False)
        column.addWidget(self.told)
        self.bar = QProgressBar()
        self.bar.setTextVisible(False)
        column.addWidget(self.bar)
        self.take_button = button(tr("Take this one"), self.take, "check", primary=True)
        self.take_button.setToolTip(tr("Keep its layout and show it; other layouts stay"))
        self.save_button = button(tr("Save the comparison…"), self.save, "page")
        column.addWidget(row_of(self.take_button, self.save_button))
        column.addWidget(close_box(self))
        enter_presses_nothing(self)
        wide = self.fontMetrics().averageCharWidth()
        resize_within_screen(self, wide * 175, round(self.fontMetrics().height() * 38))
        self.finished.connect(self._stop)
        self._show()
        self._start()

    # --- working out ----------------------------------------------------------------------
    def _start(self) -> None:
        context = self._context
        project, engine = context.document.project, context.derived.engine
        known = context.derived.pieces if context.derived.is_current else None

        def work(progress: Progress, stop: Stop) -> int:
            from core.reports.alternatives import alternatives

            ways = alternatives(project)
            for number, way in enumerate(ways):
                if stop():
                    break
                progress(number / len(ways), way_words(way))
                same = way.material is None and known is not None
                pieces = known if same else engine.cut_panels(way.project, stop=stop)
                layout = engine.lay_out(
                    way.project, pieces, steps=STEPS, seed=project.seed, stop=stop
                )
                if stop():
                    break
                layout = replace(layout, name=way_words(way))
                plan = engine.assemble_plan(way.project, pieces, layout)
                progress((number + 1) / len(ways), "", Tried(way, plan, layout))
            return len(ways)

        self._job = context.jobs.start(
            tr("Comparing ways to buy"),
            work,
            partial=self._take_in,
            done=self._done,
            failed=self._failed,
            still_wanted=lambda: context.document.revision == self._revision,
            lane="compare",
            owner=self,
        )
        self._job.dropped.connect(self._dropped)

    def _take_in(self, fraction: float, text: str, tried: object) -> None:
        self.bar.setValue(round(fraction * 100))
        if text:
            self.told.setText(tr("Trying: {name}").format(name=text))
        if isinstance(tried, Tried):
            self._tried.append(tried)
            self._show()

    def _done(self, count: int) -> None:
        self._job = None
        self.bar.hide()
        self.told.setText(
            tr(
                "There is one way to buy only. Put other sizes or boards into the shop to compare "
                "them."
            )
            if count == 1
            else ""
        )
        self._show()

    def _failed(self, error: SeamwrightError) -> None:
        self._job = None
        self.bar.hide()
        self.told.setText(error_in_words(error))

    def _dropped(self) -> None:
        self._job = None
        self.bar.hide()

    def _stop(self, _result: int = 0) -> None:
        if self._job is not None:
            self._job.abandon()
            self._job = None

    # --- what is shown --------------------------------------------------------------------
    @property
    def rows(self) -> tuple[Figures, ...]:
        """The figures shown, best first."""
        from core.reports.buying import compare

        return compare([(t.way.name, t.plan) for t in self._tried])

    @property
    def chosen(self) -> str:
        """Name of the way that is marked in the table, "" if none is."""
        item = self.table.item(self.table.currentRow(), 0)
        return str(item.data(Qt.ItemDataRole.UserRole)) if item is not None else ""

    def _show(self) -> None:
        rows = self.rows
        unit = self._context.unit
        currency = self._context.document.project.shop.rules.currency
        said = {t.way.name: way_words(t.way) for t in self._tried}
        self._filling = True
        self.table.setRowCount(len(rows))
        for i, row in enumerate(rows):
            parts = [
                f"{n} × {what}" + (f" ({money(price, currency)})" if price is not None else "")
                for what, n, price in row.sheets
            ]
            left = tr("all placed") if row.complete else tr("{n} left over").format(n=row.unplaced)
            cells = (
                said[row.name],
                "\n".join(parts),
                str(row.bought + row.from_rack),
                money(row.cost, currency),
                money(row.offcut_value, currency),
                money(row.net_cost, currency),
                f"{round(row.yield_share * 100)} %",
                left,
            )
            for column, text in enumerate(cells):
                item = QTableWidgetItem(text)
                item.setData(Qt.ItemDataRole.UserRole, row.name)
                if column in (2, 3, 4, 5, 6):
                    item.setTextAlignment(
                        Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter
                    )
                self.table.setItem(i, column, item)
        self.table.resizeRowsToContents()
        names = [row.name for row in rows]
        if names:
            self.table.setCurrentCell(names.index(self._picked) if self._picked in names else 0, 0)
        self._filling = False
        self.bars.show_rows(rows, unit, said)
        self._row_chosen()

    def _pick(self, *_cell: int) -> None:
        if not self._filling:
            self._picked = self.chosen
            self._row_chosen()

    def _row_chosen(self) -> None:
        name = self.chosen
        self.bars.choose(name)
        set_able(self.take_button, bool(name), tr("Choose a way of the table."))
        set_able(self.save_button, bool(self._tried), tr("No way is laid out yet."))

    # --- out ------------------------------------------------------------------------------
    def take(self) -> None:
        """Keep the layout of the marked way (and its board) and show it; one step of undo."""
        tried = next((t for t in self._tried if t.way.name == self.chosen), None)
        document = self._context.document
        if tried is None:
            return
        if document.revision != self._revision:
            self.told.setText(tr("The project has changed since. Close this and compare again."))
            return
        text = tr("Buy: {name}").format(name=way_words(tried.way))
        commands: list[Command] = []
        if tried.way.material is not None:
            old, new = tried.way.material
            ids = tuple(p.id for p in document.project.panels if p.material == old)
            commands.append(SetPanels(text, ids, (("material", new),)))
        commands.append(SetLayout(text, tried.layout))
        document.run(Together(text, tuple(commands)))
        self.accept()

    def save(self) -> None:
        """Write the comparison as a PDF, or as a table if the name ends in .csv."""
        chosen = self._context.ask.save_file(
            tr("Save the comparison"),
            tr("PDF files (*.pdf);;Tables (*.csv)"),
            suggestion="buying-compared.pdf",
        )
        if not chosen:
            return
        path = Path(chosen)
        path = path if path.suffix else path.with_suffix(".pdf")
        pairs = [(t.way.name, t.plan) for t in self._tried]
        picked, paper = self.chosen, self._paper()

        def work(_progress: Progress, _stop: Stop) -> Path:
            from core.atomic import write_atomically
            from core.reports import compare_csv, compare_pdf

            if path.suffix.lower() == ".csv":
                write_atomically(path, compare_csv(pairs).encode("utf-8"))
            else:
                write_atomically(path, compare_pdf(pairs, paper=paper, chosen=picked))
            return path

        def done(written: Path) -> None:
            self.told.setText(tr("Written: {path}").format(path=written))

        self._context.jobs.start(
            tr("Saving the comparison"),
            work,
            done=done,
            failed=lambda error: self.told.setText(error_in_words(error)),
            lane="export",
            owner=self,
        )

    def _paper(self) -> str:
        from app.stages.cut_list_request import paper_of

        return paper_of(self._context.document.project)
