"""Stage 4: the very pages that are printed, what to buy beside them, and the way out."""

from __future__ import annotations

from pathlib import Path

from PySide6.QtCore import Qt
from PySide6.QtGui import QAction, QKeySequence
from PySide6.QtWidgets import (
    QGridLayout,
    QStackedWidget,
    QVBoxLayout,
    QWidget,
)

from app import theme
from app.context import Context
from app.i18n import tr
from app.jobs import Progress, Stop
from app.stages.base import Stage
from app.stages.cut_list_buying import BuyingBox
from app.stages.cut_list_choices import Choices
from app.stages.cut_list_pages import PageSizes, PageView, measure
from app.stages.cut_list_print import prepare, print_pdf
from app.stages.cut_list_request import BUYING, LABEL_TEST, Made, make
from app.widgets.forms import Heading, WrappedList, button, scrolling, tool, words
from app.widgets.reasons import set_able
from app.wording import error_in_words
from core.errors import SeamwrightError
from core.plan import Plan


class CutListStage(Stage):
    """Pages in the middle, documents and pages on the left, buying list on the right."""

    title = "Cut list"

    def __init__(self, context: Context, parent: QWidget | None = None) -> None:
        super().__init__(context, parent)
        self.title = tr("Cut list")
        self._data = b""
        self._made: Made | None = None
        self._made_for: tuple[object, ...] | None = None
        self._in_front = False
        self._dialog: QWidget | None = None
        self._build_left()
        self._build_centre()
        self._build_right()
        self._build_actions()
        self.derived.plan_changed.connect(self._on_plan)
        self.derived.busy_changed.connect(self._on_busy)
        self.document.changed.connect(self._on_document)
        self._on_plan()

    # --- building -------------------------------------------------------------------------
    def _build_left(self) -> None:
        self.choices = Choices(self.document)
        self.choices.changed.connect(self._remake)
        self.choices.sheets_wanted.connect(self.show_label_sheets)
        self.choices.layers_wanted.connect(self.show_layers)
        self.document_choice = self.choices.document_choice
        self.paper = self.choices.paper
        self.label_form = self.choices.label_form
        self.first_label = self.choices.first_label
        self.template_of = self.choices.template_of
        self.left_layout.addWidget(self.choices)
        self.list = WrappedList(tr("Pages"))  # pages of one sheet differ in their last words
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
        self.buying_box = BuyingBox()
        self.buying = self.buying_box.lines
        self.state = self.buying_box.state
        column.addWidget(self.buying_box)
        self.compare_button = button(
            tr("Ways to buy…"),
            self.compare,
            "cart",
            tr("The same pieces out of other sizes, without the rack, or out of another board"),
        )
        self.print_button = button(
            tr("Print…"), self.print_pages, "print", tr("Print these pages (Ctrl+P)")
        )
        self.pdf_button = button(
            tr("Save as PDF…"), self.save_pdf, "page", tr("Write these pages into a file")
        )
        self.picture_button = button(
            tr("Save picture…"),
            self.save_picture,
            "eye",
            tr("Write the page looked at as SVG or PNG"),
        )
        self.export_button = button(
            tr("Export everything…"),
            self.export_folder,
            "export",
            tr("Cut list, labels, tables and drawings into a folder (Ctrl+E)"),
        )
        for made in (
            self.compare_button,
            self.print_button,
            self.pdf_button,
            self.picture_button,
            self.export_button,
        ):
            column.addWidget(made)
        zoom = QWidget()
        grid = QGridLayout(zoom)
        grid.setContentsMargins(0, 0, 0, 0)
        self.zooms = (
            tool(tr("Show pages smaller"), self._smaller, "zoom-out"),
            tool(tr("Show pages larger"), self._larger, "zoom-in"),
            tool(tr("Fit the width"), self.view.fit_width, "fit"),
        )
        for place, zoomer in enumerate(self.zooms):
            grid.addWidget(zoomer, 0, place)
        grid.setColumnStretch(3, 1)
        column.addWidget(zoom)
        column.addStretch(1)
        self.right_layout.addWidget(scrolling(page))

    def _build_actions(self) -> None:
        self.pdf_action = self._action(tr("&Save these pages as PDF…"), self.save_pdf)
        self.picture_action = self._action(tr("Save page as p&icture…"), self.save_picture)
        self.compare_action = self._action(tr("&Compare ways to buy…"), self.compare)
        self.layers_action = self._action(tr("&Drawings for the router…"), self.show_layers)
        self.sheets_action = self._action(tr("&Own label sheets…"), self.show_label_sheets)
        self.larger_action = self._action(tr("&Larger pages"), self._larger, "Ctrl++")
        self.larger_action.setShortcuts([QKeySequence("Ctrl++"), QKeySequence("Ctrl+=")])
        self.smaller_action = self._action(tr("S&maller pages"), self._smaller, "Ctrl+-")
        self.addActions(self.stage_actions())

    def _action(self, text: str, slot: object, keys: str = "") -> QAction:
        action = QAction(text, self)
        if keys:
            action.setShortcut(keys)
            action.setShortcutContext(Qt.ShortcutContext.WidgetWithChildrenShortcut)
        action.triggered.connect(slot)
        return action

    # --- what the window asks -------------------------------------------------------------
    def stage_actions(self) -> list[QAction]:
        """For the window's Stage menu."""
        return [
            self.pdf_action,
            self.picture_action,
            self.compare_action,
            self.layers_action,
            self.sheets_action,
            self.larger_action,
            self.smaller_action,
        ]

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
        self.list.setFocus()  # not the divider, which comes first
        self._remake()

    def left_behind(self) -> None:
        """Pages are made only while they are looked at."""
        self._in_front = False

    # --- the plan -------------------------------------------------------------------------
    def _on_document(self, _change: object = None) -> None:
        self.choices.show_project()

    def _on_plan(self) -> None:
        self.buying_box.show_plan(self.derived.plan)
        self._remake()
        self.status_changed.emit()

    def _on_busy(self, _busy: bool) -> None:
        self._show_state()

    def _show_state(self) -> None:
        self.buying_box.show_state(self.derived.plan, busy=self.derived.busy)

    def _remake(self, _value: object = None) -> None:
        plan = self.derived.plan
        self._show_state()
        ready = plan is not None and bool(plan.pieces) and bool(plan.sheets)
        self.pages.setCurrentIndex(1 if ready else 0)
        for thing in (
            self.print_button,
            self.pdf_button,
            self.picture_button,
            self.export_button,
            *self.zooms,
        ):
            set_able(
                thing, ready, tr("Nothing is laid out yet: nest the pieces on the Sheets stage.")
            )
        for action in (self.pdf_action, self.picture_action):
            action.setEnabled(ready)
        may_compare = plan is not None and bool(plan.pieces)
        set_able(self.compare_button, may_compare, tr("There are no pieces yet: add panels first."))
        self.compare_action.setEnabled(may_compare)
        self._show_empty(plan)
        self.choices.show_document()
        if plan is None or not ready:
            self.list.clear()
            return
        self.choices.show_plan(plan)
        request = self.choices.request()
        if not self._in_front or (
            self._made_for is not None
            and self._made_for[0] is plan
            and self._made_for[1] == request
        ):
            return
        self._made_for = (plan, request)
        engine, pieces, project = self.derived.engine, self.derived.pieces, self.document.project

        def work(progress: Progress, stop: Stop) -> tuple[Made, PageSizes]:
            progress(0.1, tr("Making the pages"))
            others: list[tuple[str, Plan]] = []
            if request.document == BUYING and pieces is not None:
                for kept in project.layouts:
                    if stop():
                        break
                    others.append((kept.name, engine.assemble_plan(project, pieces, kept)))
            made = make(plan, request, others)
            return made, measure(made.data)

        self.jobs.start(
            tr("Making the pages"), work, done=self._show, failed=self._not_made, lane="report"
        )

    def _not_made(self, error: SeamwrightError) -> None:
        self._made_for = None
        self._made = None
        self._data = b""
        self.view.show_pages(PageSizes(b"", ()))
        self.list.clear()
        self.message.emit("warn", error_in_words(error))

    def _show(self, result: tuple[Made, PageSizes]) -> None:
        self._made, pages = result
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
        self.list.fit()

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

    # --- dialogs --------------------------------------------------------------------------
    def show_layers(self) -> None:
        """Version and layer names of the drawings."""
        from app.stages.cut_list_layers import LayersDialog

        self._open(LayersDialog(self.context, self))

    def show_label_sheets(self) -> None:
        """Label sheets of the maker's own."""
        from app.stages.cut_list_labels import LabelSheetsDialog

        dialog = LabelSheetsDialog(self.context, self)
        dialog.outlines_wanted.connect(self._show_label_test)
        self._open(dialog)

    def compare(self) -> None:
        """Lay the pieces out on other stock and let the maker take one of the ways."""
        from app.stages.cut_list_compare import CompareDialog

        self._open(CompareDialog(self.context, self))

    def _open(self, dialog: QWidget) -> None:
        dialog.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        self._dialog = dialog  # the one opened last
        dialog.open()  # type: ignore[attr-defined]

    def _show_label_test(self) -> None:
        self.document_choice.set_value(LABEL_TEST)
        self._remake()

    # --- out ------------------------------------------------------------------------------
    def print_pages(self) -> None:
        """Print the pages shown, with the system's dialog."""
        from PySide6.QtPrintSupport import QPrinter

        if not self._ready():
            return
        data = self._data
        pages = measure(data)
        printer = QPrinter(QPrinter.PrinterMode.HighResolution)
        prepare(printer, pages, self.document.title)
        if not self.ask.printer(printer, pages=len(pages.sizes)):
            return
        current = self.list.currentRow()

        def work(progress: Progress, stop: Stop) -> int:
            return print_pdf(data, printer, progress, stop, current)

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

    def save_picture(self) -> None:
        """Write the page looked at as SVG, or as PNG where the name says so."""
        if not self._ready() or self._made is None:
            return
        index = max(0, self.list.currentRow())
        name = f"{self.document_choice.value}-{index + 1}.svg"
        chosen = self.ask.save_file(
            tr("Save page as picture"),
            tr("Drawings (*.svg);;Pictures (*.png)"),
            suggestion=self._suggested(name),
        )
        if not chosen:
            return
        path = Path(chosen)
        path = path if path.suffix else path.with_suffix(".svg")
        made = self._made

        def work(_progress: Progress, _stop: Stop) -> Path:
            from core.atomic import write_atomically
            from core.reports import page_svg, pdf_page_png

            if path.suffix.lower() == ".png":
                write_atomically(path, pdf_page_png(made.data, index + 1))
            else:
                write_atomically(path, page_svg(made.pages[index]))
            return path

        self.jobs.start(tr("Saving the picture"), work, done=self._written, lane="export")

    def export_folder(self) -> None:
        """Write cut list, labels, tables, drawings and plan into a folder."""
        plan = self.derived.plan
        if plan is None or not plan.sheets or not self._is_current():
            return
        chosen = self.ask.folder(tr("Folder to write into"), folder=self._suggested(""))
        if not chosen:
            return
        folder = Path(chosen)

        def work(progress: Progress, _stop: Stop) -> Path:
            from core.reports import write_plan_json, write_reports

            progress(0.1, tr("Writing the workshop's files"))
            write_reports(plan, folder)  # paper, labels and layers are the project's
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
        if path.is_dir():
            text = tr("Cut list, labels, drawings and tables written into {path}").format(path=path)
        else:
            text = tr("Written: {path}").format(path=path)
        self.message.emit("note", text)

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
