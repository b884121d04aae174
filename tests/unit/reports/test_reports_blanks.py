"""Labels of blanks: sheet and letter, top edge and face, and what is cut from them."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from core.reports import write_reports
from core.reports.blank_labels import blank_labels_pdf
from core.reports.cutlist import build_cut_list
from tests.unit.reports.pdf_reading import read_pages
from tests.unit.reports.report_plans import every_plan

PLANS = every_plan()


def test_every_sawn_blank_has_a_label_that_says_what_it_is() -> None:
    plan = PLANS["small"]
    data = blank_labels_pdf(plan)
    assert data is not None
    words = "\n".join(page.words for page in read_pages(data))
    for lines in build_cut_list(plan).sheets:
        for blank in lines.sheet.blanks:
            assert f"{lines.sheet.number} {blank.letter}" in words
            assert f"Sheet {lines.sheet.number}, blank {blank.letter}" in words
    assert "top edge" in words
    assert "face up" in words


def test_a_plan_without_sawn_blanks_has_no_such_labels(tmp_path: Path) -> None:
    plan = PLANS["small"]
    whole = replace(plan, sheets=tuple(replace(s, saw_cuts=()) for s in plan.sheets))
    assert blank_labels_pdf(whole) is None
    write_reports(plan, tmp_path)
    assert (tmp_path / "blank-labels.pdf").exists()
    write_reports(whole, tmp_path)
    assert not (tmp_path / "blank-labels.pdf").exists()
