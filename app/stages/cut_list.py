"""Stage 4: the very pages that are printed, what to buy beside them, and the way out."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from PySide6.QtCore import QLocale, QPointF, QRectF, QSizeF, Qt
from PySide6.QtGui import QAction, QImage, QPageLayout, QPageSize, QPainter
from PySide6.QtWidgets import (
    QGridLayout,
    QListWidget,
    QStackedWidget,
    QVBoxLayout,
    QWidget,
)

from app import theme
from app.context import Context
from app.i18n import tr
from app.jobs import Progress, Stop
from app.stages.base import Stage
from app.stages.cut_list_pages import PageSizes, PageView, measure, render
from app.widgets.fields import NumberField, show_size
from app.widgets.forms import (
    Choice,
    Heading,
    Rows,
    button,
    empty_layout,
    scrolling,
    tool,
    words,
)
from core.errors import SeamwrightError
from core.plan import Plan, PurchaseLine

_PRINT_DPI = 300.0
CUT_LIST, LABELS, BUYING, TEMPLATE = "cut-list", "labels", "buying", "template"


@dataclass(frozen=True)
class PageRequest:
    """Which document to make, and how."""

    document: str
    paper: str
    label_form: str = ""
    first_label: int = 1
    template_kind: str = ""
    template_id: str = ""
    layout: str = ""


class CutListStage(Stage):
    """Pages in the middle, documents and pages on the left, buying list on the right."""

    title = "Cut list"

    def __init__(self, context: Context, parent: QWidget | None = None) -> None:
        super().__init__(context, parent)
        self.title = tr("Cut list")
        self._data = b""
        self._made_for: tuple[object, ...] | None = None
        self._in_front = False
        self._build_left()
        self._build_centre()
        self._build_right()
        self._build_actions()
        self.derived.plan_changed.connect(self._on_plan)
        self.derived.busy_changed.connect(self._on_busy)
        self._on_plan()

    # --- building -------------------------------------------------------------------------
    def _build_left(self) -> None:
        rows = Rows()
        self.document_choice = Choice(
            tr("Document"),
            (
                (CUT_LIST, tr("Cut list")),
                (LABELS, tr("Labels")),
                (BUYING, tr("Buying, layouts compared")),
                (TEMPLATE, tr("Paper template, full size")),
            ),
        )
        self.document_choice.set_value(CUT_LIST)
        self.document_choice.chosen.connect(self._remake)
        us = QLocale.system().territory() in (
            QLocale.Country.UnitedStates,
            QLocale.Country.Canada,
        )
        papers = ("A4", "A3", "Letter", "Tabloid")
        self.paper = Choice(tr("Paper"), [(name, name) for name in papers])
        self.paper.set_value("Letter" if us else "A4")
        self.paper.chosen.connect(self._remake)
        self.label_form = Choice(tr("Label sheet"))
        self.label_form.chosen.connect(self._remake)
        self.first_label = NumberField(tr("First free label"), whole=True, least=1, most=200)
        self.first_label.set_value(1)
        self.first_label.line.setToolTip(tr("Where to begin on a sheet that is part used"))
        self.first_label.committed.connect(self._remake)
        self.template_of = Choice(tr("Template of"))
        self.template_of.chosen.connect(self._remake)
        rows.add(tr("Document"), self.document_choice)
        rows.add(tr("Paper"), self.paper)
        rows.add(tr("Label sheet"), self.label_form)
        rows.add(tr("First label"), self.first_label)
        rows.add(tr("Template of"), self.template_of)
        self.rows = rows
        self.left_layout.addWidget(rows)
        self.list = QListWidget()
        self.list.setAccessibleName(tr("Pages"))
        self.list.setStyleSheet("QListWidget::item { padding: 4px 2px; }")
        self.list.setTextElideMode(Qt.TextElideMode.ElideRight)
        self.list.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.list.currentRowChanged.connect(self._page_chosen)
        self.left_layout.addWidget(self.list, 1)

    def _build_centre(self) -> None:
        self.pages = QStackedWidget()
        empty = QWidget()
        column = QVBoxLayout(empty)
        column.addStretch(1)
        self.empty_title = Heading()
        self.empty_title.setAlignment(Qt.AlignmentFlag.AlignCenter)
        self.empty_text = words()
        self.empty_text.setAlignment(Qt.AlignmentFlag.AlignCenter)
        self.empty_button = button("", self._empty_clicked)
        column.addWidget(self.empty_title)
        column.addWidget(self.empty_text)
        column.addWidget(self.empty_button, 0, Qt.AlignmentFlag.AlignCenter)
        column.addStretch(2)
        self.view = PageView(self.jobs)
        self.view.at_page.connect(self._at_page)
        self.pages.addWidget(empty)
        self.pages.addWidget(self.view)
        self.centre_layout.addWidget(self.pages)

    def _build_right(self) -> None:
        page = QWidget()
        column = QVBoxLayout(page)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(theme.NORMAL)
        self.state = words("", muted=False)
        column.addWidget(self.state)
        column.addWidget(Heading(tr("To buy")))
        self.buying = QWidget()
        self.buying_grid = QGridLayout(self.buying)
        self.buying_grid.setContentsMargins(0, 0, 0, 0)
        self.buying_grid.setColumnStretch(1, 1)
        column.addWidget(self.buying)
        self.figures = words()
        column.addWidget(self.figures)
        self.print_button = button(
            tr("Print…"), self.print_pages, "print", tr("Print these pages (Ctrl+P)")
        )
        self.pdf_button = button(
            tr("Save as PDF…"), self.save_pdf, "page", tr("Write these pages into a file")
        )
        self.export_button = button(
            tr("Export everything…"),
            self.export_folder,
            "export",
            tr("Cut list, labels, tables and drawings into a folder (Ctrl+E)"),
        )
        for made in (self.print_button, self.pdf_button, self.export_button):
            column.addWidget(made)
        zoom = QWidget()
        grid = QGridLayout(zoom)
        grid.setContentsMargins(0, 0, 0, 0)
        grid.addWidget(tool(tr("Show pages smaller"), self._smaller, "zoom-out"), 0, 0)
        grid.addWidget(tool(tr("Show pages larger"), self._larger, "zoom-in"), 0, 1)
        grid.addWidget(tool(tr("Fit the width"), self.view.fit_width, "fit"), 0, 2)
        grid.setColumnStretch(3, 1)
        column.addWidget(zoom)
        column.addStretch(1)
        self.right_layout.addWidget(scrolling(page))

    def _build_actions(self) -> None:
        self.pdf_action = QAction(tr("&Save these pages as PDF…"), self)
        self.pdf_action.triggered.connect(self.save_pdf)
        self.larger_action = QAction(tr("&Larger pages"), self)
        self.larger_action.setShortcut("Ctrl++")
        self.larger_action.setShortcutContext(Qt.ShortcutContext.WidgetWithChildrenShortcut)
        self.larger_action.triggered.connect(self._larger)
        self.smaller_action = QAction(tr("S&maller pages"), self)
        self.smaller_action.setShortcut("Ctrl+-")
        self.smaller_action.setShortcutContext(Qt.ShortcutContext.WidgetWithChildrenShortcut)
        self.smaller_action.triggered.connect(self._smaller)
        self.addActions([self.pdf_action, self.larger_action, self.smaller_action])

    # --- what the window asks -------------------------------------------------------------
    def stage_actions(self) -> list[QAction]:
        """For the window's Stage menu."""
        return [self.pdf_action, self.larger_action, self.smaller_action]

    def keys(self) -> list[tuple[str, str]]:
        """What the pages understand."""
        return [(tr("Page up, page down"), tr("through the pages"))]

    def status_text(self) -> str:
        """What there is to buy."""
        plan = self.derived.plan
        if plan is None:
            return ""
        n = sum(line.quantity for line in plan.purchase if not line.in_rack)
        return tr("{n} to buy").format(n=n) if n else ""

    def entered(self) -> None:
        """Make the pages if they are out of date."""
        self._in_front = True
        self._remake()

    def left_behind(self) -> None:
        """Pages are made only while they are looked at."""
        self._in_front = False

    # --- the plan -------------------------------------------------------------------------
    def _on_plan(self) -> None:
        self._show_buying()
        self._remake()
        self.status_changed.emit()

    def _on_busy(self, _busy: bool) -> None:
        self._show_state()

    def _remake(self, _value: object = None) -> None:
        plan = self.derived.plan
        self._show_state()
        ready = plan is not None and bool(plan.pieces) and bool(plan.sheets)
        self.pages.setCurrentIndex(1 if ready else 0)
        for thing in (self.print_button, self.pdf_button, self.export_button, self.pdf_action):
            thing.setEnabled(ready)
        self._show_empty(plan)
        if plan is None or not ready:
            self.list.clear()
            return
        self._fill_choices(plan)
        request = self._request()
        if not self._in_front or (
            self._made_for is not None
            and self._made_for[0] is plan
            and self._made_for[1] == request
        ):
            return
        self._made_for = (plan, request)
        engine, pieces, project = self.derived.engine, self.derived.pieces, self.document.project

        def work(progress: Progress, stop: Stop) -> PageSizes:
            progress(0.1, tr("Making the pages"))
            others: list[tuple[str, Plan]] = []
            if request.document == BUYING and pieces is not None:
                for kept in project.layouts:
                    if stop():
                        break
                    others.append((kept.name, engine.assemble_plan(project, pieces, kept)))
            return measure(pages_of(plan, request, others))

        self.jobs.start(
            tr("Making the pages"), work, done=self._show, failed=self._not_made, lane="report"
        )

    def _not_made(self, error: SeamwrightError) -> None:
        self._made_for = None
        self._data = b""
        self.view.show_pages(PageSizes(b"", ()))
        self.list.clear()
        self.message.emit("warn", str(error))

    def _request(self) -> PageRequest:
        kind, _, ident = str(self.template_of.value or "").partition(":")
        return PageRequest(
            self.document_choice.value,
            self.paper.value,
            self.label_form.value or "",
            int(self.first_label.value or 1),
            kind,
            ident,
            self.document.project.current_layout,
        )

    def _fill_choices(self, plan: Plan) -> None:
        """Show what the document asks for, and only that."""
        from core.reports import LABEL_FORMATS

        document = self.document_choice.value
        self.rows.set_row_visible(self.paper, document != LABELS)
        self.rows.set_row_visible(self.label_form, document == LABELS)
        self.rows.set_row_visible(self.first_label, document == LABELS)
        self.rows.set_row_visible(self.template_of, document == TEMPLATE)
        self.label_form.set_options(
            [("", tr("plain, cut out"))] + [(name, name) for name in LABEL_FORMATS]
        )
        if self.label_form.value is None:
            self.label_form.set_value("")
        names = {panel.id: panel.name for panel in plan.panels}
        options = [
            (
                f"seam:{s.id}",
                tr("seam {letter}, {panel}").format(
                    letter=s.letter, panel=names.get(s.panel, s.panel)
                ),
            )
            for s in plan.seams
        ] + [(f"piece:{p.id}", p.name) for p in plan.pieces if not p.loose]
        self.template_of.set_options(options)
        if self.template_of.value is None and options:
            self.template_of.set_value(options[0][0])

    def _show(self, pages: PageSizes) -> None:
        self._data = pages.data
        self.view.show_pages(pages)
        row = max(0, self.list.currentRow())
        self.list.blockSignals(True)
        self.list.clear()
        for i, name in enumerate(pages.titles):
            number = tr("Page {n}").format(n=i + 1)
            self.list.addItem(f"{i + 1}  {name}" if name else number)
            self.list.item(i).setToolTip(f"{number}: {name}" if name else number)
        self.list.setCurrentRow(min(row, self.list.count() - 1))
        self.list.blockSignals(False)

    def _show_state(self) -> None:
        plan = self.derived.plan
        if plan is None or not plan.pieces:
            self.state.hide()
            return
        severity, text = "good", tr("Everything has its place.")
        if plan.unplaced:
            n = len(plan.unplaced)
            severity = "stop"
            text = (
                tr("1 piece is not on a sheet yet.")
                if n == 1
                else tr("{n} pieces are not on a sheet yet.").format(n=n)
            )
        elif not plan.is_clean:
            severity, text = "stop", tr("Something stops this plan; see the notices below.")
        if self.derived.busy:
            text += " " + tr("Working out changes…")
        theme.mark(self.state, "severity", severity)
        self.state.setText(text)
        self.state.show()

    def _show_empty(self, plan: Plan | None) -> None:
        has_panels = bool(self.document.project.panels)
        if not has_panels:
            title, text, label = (
                tr("There are no panels yet"),
                tr("Read a drawing first; the cut list follows from it."),
                tr("Go to Panels"),
            )
        elif plan is None:
            title, text, label = tr("Working out the pieces…"), "", ""
        else:
            title, text, label = (
                tr("Nothing lies on a sheet yet"),
                tr("Lay the pieces on sheets, by hand or at one press; then the pages are here."),
                tr("Go to Sheets"),
            )
        self.empty_title.setText(title)
        self.empty_text.setText(text)
        self.empty_button.setText(label)
        self.empty_button.setVisible(bool(label))

    def _empty_clicked(self) -> None:
        has_panels = bool(self.document.project.panels)
        self.stage_wanted.emit("sheets" if has_panels else "panels", "")

    # --- buying ---------------------------------------------------------------------------
    def _show_buying(self) -> None:
        empty_layout(self.buying_grid)
        plan = self.derived.plan
        lines = plan.purchase if plan is not None else ()
        buy = [line for line in lines if not line.in_rack]
        rack = [line for line in lines if line.in_rack]
        row = 0
        for line in buy:
            row = self._line(row, line)
        if not buy:
            text = tr("Nothing to buy.") if rack else tr("Nothing yet.")
            self.buying_grid.addWidget(words(text), row, 0, 1, 3)
            row += 1
        elif plan is not None:
            cost = plan.cost
            told = (
                tr("Together {cost}").format(cost=_money(cost))
                if cost is not None
                else tr("No total: a price is missing. Prices are set in the shop.")
            )
            self.buying_grid.addWidget(words(told), row, 0, 1, 3)
            row += 1
        if rack:
            self.buying_grid.addWidget(words(tr("From the rack:")), row, 0, 1, 3)
            row += 1
            for line in rack:
                row = self._line(row, line)
        self.figures.setText(_figures(plan) if plan is not None else "")

    def _line(self, row: int, line: PurchaseLine) -> int:
        unit = self.document.project.units
        count = words(f"{line.quantity} ×", muted=False)
        count.setAlignment(Qt.AlignmentFlag.AlignTop | Qt.AlignmentFlag.AlignRight)
        what = words(
            f"{line.material}, {show_size(line.width_mm, line.height_mm, unit)}", muted=False
        )
        price = words(_money(line.cost) if line.cost is not None and not line.in_rack else "")
        price.setAlignment(Qt.AlignmentFlag.AlignTop | Qt.AlignmentFlag.AlignRight)
        price.setWordWrap(False)
        for column, widget in enumerate((count, what, price)):
            self.buying_grid.addWidget(widget, row, column)
        return row + 1

    # --- out ------------------------------------------------------------------------------
    def print_pages(self) -> None:
        """Print the pages shown, with the system's dialog."""
        from PySide6.QtPrintSupport import QPrinter

        if not self._ready():
            return
        printer = QPrinter(QPrinter.PrinterMode.HighResolution)
        printer.setDocName(self.document.title)
        printer.setCreator("Seamwright")
        sizes = {
            "A4": QPageSize.PageSizeId.A4,
            "A3": QPageSize.PageSizeId.A3,
            "Letter": QPageSize.PageSizeId.Letter,
            "Tabloid": QPageSize.PageSizeId.Tabloid,
        }
        printer.setPageSize(QPageSize(sizes[self.paper.value]))
        printer.setFullPage(True)
        if not self.ask.printer(printer):
            return
        data = self._data

        def work(progress: Progress, stop: Stop) -> int:
            return print_pdf(data, printer, progress, stop)

        def done(n: int) -> None:
            text = (
                tr("1 page went to the printer.")
                if n == 1
                else tr("{n} pages went to the printer.").format(n=n)
            )
            self.message.emit("note", text)

        self.jobs.start(tr("Printing"), work, done=done, lane="print")

    def save_pdf(self) -> None:
        """Write the pages shown into a PDF file."""
        if not self._ready():
            return
        name = f"{self.document_choice.value}.pdf"
        chosen = self.ask.save_file(
            tr("Save as PDF"), tr("PDF files (*.pdf)"), suggestion=self._suggested(name)
        )
        if not chosen:
            return
        path = Path(chosen)
        path = path if path.suffix else path.with_suffix(".pdf")
        data = self._data

        def work(_progress: Progress, _stop: Stop) -> Path:
            from core.atomic import write_atomically

            write_atomically(path, data)
            return path

        self.jobs.start(tr("Saving the PDF"), work, done=self._written, lane="export")

    def export_folder(self) -> None:
        """Write cut list, labels, tables, drawings and plan into a folder."""
        plan = self.derived.plan
        if plan is None or not plan.sheets or not self._is_current():
            return
        chosen = self.ask.folder(tr("Folder to write into"), folder=self._suggested(""))
        if not chosen:
            return
        folder = Path(chosen)
        paper, form = self.paper.value, self.label_form.value or ""
        first = int(self.first_label.value or 1)

        def work(progress: Progress, _stop: Stop) -> Path:
            from core.reports import write_plan_json, write_reports

            progress(0.1, tr("Writing the workshop's files"))
            write_reports(plan, folder, paper=paper, label_form=form, first_label=first)
            write_plan_json(plan, folder / "plan.json")
            return folder

        self.jobs.start(tr("Writing the workshop's files"), work, done=self._written, lane="export")

    def _ready(self) -> bool:
        """True if the pages shown are those of the document as it is."""
        if not self._is_current():
            return False
        made = self._made_for
        if not self._data or made is None or made[0] is not self.derived.plan:
            self.message.emit("note", tr("The pages are being made. Try again in a moment."))
            return False
        return True

    def _is_current(self) -> bool:
        if not self.derived.is_current:
            self.message.emit("note", tr("Changes are being worked out. Try again in a moment."))
            return False
        return True

    def _written(self, path: Path) -> None:
        self.message.emit("note", tr("Written: {path}").format(path=path))

    def _suggested(self, name: str) -> str:
        path = self.document.path
        return str((path.parent if path is not None else Path.home()) / name)

    # --- pages ----------------------------------------------------------------------------
    def _page_chosen(self, row: int) -> None:
        if row >= 0:
            self.view.go_to(row)

    def _at_page(self, index: int) -> None:
        self.list.blockSignals(True)
        self.list.setCurrentRow(index)
        self.list.blockSignals(False)

    def _larger(self) -> None:
        self.view.zoom(1.2)

    def _smaller(self) -> None:
        self.view.zoom(1 / 1.2)


def pages_of(plan: Plan, request: PageRequest, others: Sequence[tuple[str, Plan]] = ()) -> bytes:
    """The PDF of a document of the plan. others: kept layouts by name, for the comparison.

    Raises SeamwrightError where the document cannot be made that way.
    """
    from core import reports

    if request.document == LABELS:
        return reports.labels_pdf(plan, form=request.label_form, first_place=request.first_label)
    if request.document == BUYING:
        return reports.compare_pdf(
            others or [(tr("this layout"), plan)], paper=request.paper, chosen=request.layout
        )
    if request.document == TEMPLATE:
        ids = {"seam": "", "piece": "", request.template_kind or "piece": request.template_id}
        return reports.template_pdf(plan, seam=ids["seam"], piece=ids["piece"], paper=request.paper)
    return reports.cut_list_pdf(plan, paper=request.paper)


def print_pdf(data: bytes, printer: Any, progress: Progress, stop: Stop) -> int:
    """Paint a PDF's pages at their true size onto a printer; on any thread. How many went."""
    pages = measure(data)
    first = printer.fromPage() or 1
    last = min(printer.toPage() or len(pages.sizes), len(pages.sizes))
    dpi = min(_PRINT_DPI, float(printer.resolution()))
    width, height = pages.sizes[first - 1]
    printer.setPageOrientation(
        QPageLayout.Orientation.Landscape if width > height else QPageLayout.Orientation.Portrait
    )
    painter = QPainter()
    if not painter.begin(printer):
        raise SeamwrightError(
            tr("The printer did not take the pages"),
            printer.printerName() or printer.outputFileName(),
            tr("Check that it is on, or save a PDF and print that."),
        )
    done = 0

    def paint(index: int, image: QImage) -> None:
        nonlocal done
        if done:
            printer.newPage()
        width, height = pages.sizes[index]
        scale = printer.resolution() / 72.0
        target = QSizeF(width * scale, height * scale)
        painter.drawImage(QRectF(QPointF(0, 0), target), image)
        done += 1
        progress(done / max(1, last - first + 1), tr("Printing page {n}").format(n=index + 1))

    try:
        render(data, list(range(first - 1, last)), dpi, paint, stop)
    finally:
        painter.end()
    return done


def _money(amount: float) -> str:
    return QLocale().toString(float(amount), "f", 2)


def _figures(plan: Plan) -> str:
    if not plan.sheets:
        return ""
    n = sum(len(sheet.placements) for sheet in plan.sheets)
    sheets = len(plan.sheets)
    on = tr("1 sheet") if sheets == 1 else tr("{n} sheets").format(n=sheets)
    text = tr("{n} pieces on {sheets}, {share} % used.").format(
        n=n, sheets=on, share=round(plan.yield_share * 100)
    )
    mass = sum(sheet.mass_kg for sheet in plan.sheets)
    if mass:
        from core.reports.words import Words

        heavy = Words(plan.project.units).mass(mass)
        text += " " + tr("Together {mass}; get help with full sheets.").format(mass=heavy)
    return text
