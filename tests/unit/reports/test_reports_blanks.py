"""Labels of blanks: sheet and letter, top edge and face, and what is cut from them."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from core.reports import write_reports
from core.reports.blank_labels import _runs, blank_labels_pdf
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


def test_all_pieces_of_a_blank_are_named_on_its_label_also_where_they_are_many() -> None:
    plan = PLANS["small"]
    data = blank_labels_pdf(plan)
    assert data is not None
    words = "\n".join(page.words for page in read_pages(data))
    assert "…" not in words
    for lines in build_cut_list(plan).sheets:
        for blank in lines.sheet.blanks:
            numbers = sorted(c.number for c in lines.copies if c.placement.blank == blank.id)
            if len(numbers) > 2 and numbers[-1] - numbers[0] == len(numbers) - 1:
                assert f"{len(numbers)} pieces: {numbers[0]}–{numbers[-1]}" in words
    assert _runs([3, 4, 9, 1, 2]) == "1–4, 9"
    assert _runs([4, 3, 8]) == "3, 4, 8"
    assert _runs([]) == ""


def test_a_plan_without_sawn_blanks_has_no_such_labels(tmp_path: Path) -> None:
    plan = PLANS["small"]
    whole = replace(plan, sheets=tuple(replace(s, saw_cuts=()) for s in plan.sheets))
    assert blank_labels_pdf(whole) is None
    write_reports(plan, tmp_path)
    assert (tmp_path / "blank-labels.pdf").exists()
    write_reports(whole, tmp_path)
    assert not (tmp_path / "blank-labels.pdf").exists()
