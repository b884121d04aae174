"""What the fourth stage can show: which document, on which paper, and its pages."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from app.i18n import tr
from core.errors import InvalidRequestError
from core.plan import Plan
from core.project.model import Project

if TYPE_CHECKING:
    from core.reports.picture import Page

CUT_LIST, LABELS, BUYING, TEMPLATE = "cut-list", "labels", "buying", "template"
PRINT_TEST, LABEL_TEST, BLANK_LABELS = "print-test", "label-test", "blank-labels"


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


@dataclass(frozen=True)
class Made:
    """A document's pages, as values and as the PDF of them."""

    pages: tuple[Page, ...]
    data: bytes


def paper_of(project: Project) -> str:
    """The paper the project asks for: its own, or the one that goes with its unit."""
    if project.output.paper:
        return project.output.paper
    return "Letter" if project.units in ("in", "ft", "thou") else "A4"


def make(plan: Plan, request: PageRequest, others: Sequence[tuple[str, Plan]] = ()) -> Made:
    """The pages of a document of the plan. others: kept layouts by name, for the comparison.

    Raises SeamwrightError where the document cannot be made that way.
    """
    from core.reports.blank_labels import blank_label_pages
    from core.reports.buying import compare_pages
    from core.reports.label_formats import format_named
    from core.reports.labels import label_guide, label_pages
    from core.reports.pages import cut_list_pages
    from core.reports.pdf import render_pdf
    from core.reports.print_test import print_test_page
    from core.reports.templates import piece_template_pages, seam_template_pages

    name, paper = plan.project.name, request.paper
    form = format_named(request.label_form, plan.project.units, plan.project.output)
    title = tr("Cut list: {name}").format(name=name)
    pages: Sequence[Page]
    if request.document == LABELS:
        pages = label_pages(plan, form=form, first_place=request.first_label)
        title = tr("Labels: {name}").format(name=name)
    elif request.document == BLANK_LABELS:
        pages = blank_label_pages(plan, form=form, first_place=request.first_label)
        title = tr("Labels of blanks: {name}").format(name=name)
        if not pages:
            raise InvalidRequestError(
                tr("No sheet of this plan is sawn into blanks"),
                remedy=tr("There is nothing to label but the pieces."),
            )
    elif request.document == LABEL_TEST:
        pages, title = [label_guide(form)], tr("Label test")
    elif request.document == PRINT_TEST:
        pages, title = [print_test_page(paper)], tr("Print test")
    elif request.document == BUYING:
        compared = list(others) or [(tr("this layout"), plan)]
        pages = compare_pages(compared, paper=paper, chosen=request.layout)
        title = tr("Buying: {name}").format(name=name)
    elif request.document == TEMPLATE:
        make_template = (
            seam_template_pages if request.template_kind == "seam" else piece_template_pages
        )
        pages = make_template(plan, request.template_id, paper=paper)
        title = tr("Template: {name}").format(name=name)
    else:
        pages = cut_list_pages(plan, paper=paper, stamp=_now())
    return Made(tuple(pages), render_pdf(pages, title=title))


def _now() -> str:
    from core.reports.files import now_stamp

    return now_stamp()
