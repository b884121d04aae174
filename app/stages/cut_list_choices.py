"""The choices left of the pages: which document, paper, label sheet, template, layer names."""

from __future__ import annotations

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QVBoxLayout, QWidget

from app.commands import SetOutput
from app.document import Document
from app.i18n import tr
from app.stages.cut_list_request import (
    BLANK_LABELS,
    BUYING,
    CUT_LIST,
    LABEL_TEST,
    LABELS,
    PRINT_TEST,
    TEMPLATE,
    PageRequest,
    paper_of,
)
from app.widgets.fields import NumberField
from app.widgets.forms import Choice, Rows, button
from app.wording import in_words
from core.plan import Plan

_PAPERS = ("A4", "A3", "Letter", "Tabloid")
_WITH_LABELS = (LABELS, BLANK_LABELS, LABEL_TEST)


class Choices(QWidget):
    """What is shown. changed when another document or template is wanted.

    Paper, label sheet and first label belong to the project and change through its commands.
    """

    changed = Signal()
    sheets_wanted = Signal()
    layers_wanted = Signal()

    def __init__(self, document: Document) -> None:
        super().__init__()
        self._document = document
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        self.document_choice = Choice(
            tr("Document"),
            (
                (CUT_LIST, tr("Cut list")),
                (LABELS, tr("Labels")),
                (BLANK_LABELS, tr("Labels of sawn blanks")),
                (BUYING, tr("Buying, layouts compared")),
                (TEMPLATE, tr("Paper template, full size")),
                (PRINT_TEST, tr("Print test")),
                (LABEL_TEST, tr("Label test, outlines only")),
            ),
        )
        self.document_choice.set_value(CUT_LIST)
        self.document_choice.chosen.connect(self._changed)
        self.paper = Choice(tr("Paper"), [(name, name) for name in _PAPERS])
        self.paper.chosen.connect(self._set_paper)
        self.label_form = Choice(tr("Label sheet"))
        self.label_form.chosen.connect(self._set_label_form)
        self.own_sheets = button(
            tr("Own sheets…"),
            self._want_sheets,
            tip=tr("Label sheets by their dimensions, as measured"),
        )
        self.first_label = NumberField(tr("First free label"), whole=True, least=1, most=200)
        self.first_label.line.setToolTip(tr("Where to begin on a sheet that is part used"))
        self.first_label.committed.connect(self._set_first_label)
        self.template_of = Choice(tr("Template of"))
        self.template_of.chosen.connect(self._changed)
        self.layers = button(
            tr("Layer names…"),
            self._want_layers,
            tip=tr("Version of the DXF files and the names of their layers"),
        )
        rows = Rows()
        rows.add(tr("Document"), self.document_choice)
        rows.add(tr("Paper"), self.paper)
        rows.add(tr("Label sheet"), self.label_form)
        rows.add_wide(self.own_sheets)
        rows.add(tr("First label"), self.first_label)
        rows.add(tr("Template of"), self.template_of)
        rows.add_wide(self.layers)
        self.rows = rows
        column.addWidget(rows)
        self.show_project()

    def _changed(self, _value: object = None) -> None:
        self.changed.emit()

    def _want_sheets(self) -> None:
        self.sheets_wanted.emit()

    def _want_layers(self) -> None:
        self.layers_wanted.emit()

    # --- what the project says ------------------------------------------------------------
    def show_project(self) -> None:
        """Show the choices that the project keeps."""
        from core.reports.label_formats import format_names

        output = self._document.project.output
        self.paper.set_value(paper_of(self._document.project))
        self.label_form.set_options(
            [("", tr("plain, cut out"))] + [(name, in_words(name)) for name in format_names(output)]
        )
        self.label_form.set_value(output.label_sheet)
        self.first_label.set_value(output.first_label)

    def show_document(self) -> None:
        """Show what the document asks for, and only that."""
        document = self.document_choice.value
        self.rows.set_row_visible(self.paper, document not in _WITH_LABELS)
        self.rows.set_row_visible(self.label_form, document in _WITH_LABELS)
        self.rows.set_row_visible(self.own_sheets, document in _WITH_LABELS)
        self.rows.set_row_visible(self.first_label, document in (LABELS, BLANK_LABELS))
        self.rows.set_row_visible(self.template_of, document == TEMPLATE)
        self.rows.set_row_visible(self.layers, document == CUT_LIST)

    def show_plan(self, plan: Plan) -> None:
        """Offer the seams and pieces of a plan for templates."""
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

    def request(self) -> PageRequest:
        """The document wanted now."""
        project = self._document.project
        kind, _, ident = str(self.template_of.value or "").partition(":")
        return PageRequest(
            self.document_choice.value,
            paper_of(project),
            project.output.label_sheet,
            project.output.first_label,
            kind,
            ident,
            project.current_layout,
        )

    # --- changes of the project -----------------------------------------------------------
    def _set_paper(self, name: str) -> None:
        text = tr("Print on {paper}").format(paper=name)
        self._document.run(SetOutput(text, (("paper", name),)))

    def _set_label_form(self, name: str) -> None:
        text = tr("Print labels on {sheet}").format(sheet=name or tr("plain paper"))
        # Another sheet is a fresh one.
        self._document.run(SetOutput(text, (("label_sheet", name), ("first_label", 1))))

    def _set_first_label(self, place: float) -> None:
        text = tr("Begin at label {n}").format(n=int(place))
        self._document.run(SetOutput(text, (("first_label", int(place)),)))
