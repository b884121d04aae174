"""The pages of the cut list, in the order of the work: buy, saw, rout, put together."""

from __future__ import annotations

from core.plan import Plan
from core.reports.cautions import DEFER, cautions
from core.reports.cutlist import CutList, build_cut_list
from core.reports.fonts import shorten
from core.reports.other_face_page import other_face_page, turned_over
from core.reports.paper import Flow, paper_named
from core.reports.pdf import render_pdf
from core.reports.picture import MUTED, Page
from core.reports.seam_map import seam_page, split_panels
from core.reports.setup_page import setup_page
from core.reports.sheet_page import sheet_page
from core.reports.summary_page import summary_page
from core.reports.words import Words, words_of


def cut_list_pages(
    plan: Plan, *, paper: str = "A4", stamp: str = "", version: str = ""
) -> list[Page]:
    """All pages of the cut list, landscape.

    paper: a name of core.reports.paper.PAPERS. stamp: date and time as they shall be printed
    ("" for none). version: of the program. Raises InvalidRequestError for an unknown paper.
    """
    cut_list = build_cut_list(plan)
    words = words_of(plan.project)
    flow = Flow(paper_named(paper), note=words.note)
    summary_page(flow, cut_list, words, stamp, version)
    _cautions(flow, cut_list, words)
    for lines in cut_list.sheets:
        sheet_page(flow, cut_list, lines, words)
        for setup in lines.setups:
            setup_page(flow, cut_list, lines, setup, words)
    for line, numbers in turned_over(cut_list):
        other_face_page(flow, cut_list, line, numbers, words)
    for panel in split_panels(plan):
        seam_page(flow, cut_list, panel, words)
    return flow.finish(foot_line(cut_list, stamp))


def cut_list_pdf(plan: Plan, *, paper: str = "A4", stamp: str = "", version: str = "") -> bytes:
    """The cut list as PDF bytes; the same arguments give the same bytes."""
    pages = cut_list_pages(plan, paper=paper, stamp=stamp, version=version)
    return render_pdf(pages, title=f"Cut list: {plan.project.name}", subject=stamp)


def foot_line(cut_list: CutList, stamp: str) -> str:
    """What stands at the foot of every page: project, plan and time."""
    name = shorten(cut_list.plan.project.name, 90.0, 8.0)
    parts = [name, f"plan {cut_list.mark}", stamp]
    return "  ·  ".join(part for part in parts if part)


def _cautions(flow: Flow, cut_list: CutList, words: Words) -> None:
    found = cautions(cut_list, words)
    if not found:
        return
    flow.page("Before you start", "cautions", note="")
    flow.paragraph(DEFER, 10.0, bold=True)
    for caution in found:
        source = f"Source: {caution.source}" if caution.source else ""
        beside = flow.aside_fits(caution.title, source)
        flow.heading(caution.title, source if beside else "")
        flow.paragraph(caution.text, 9.0)
        if source and not beside:
            flow.paragraph(f"{source}.", 7.5, colour=MUTED)
