"""Labels of blanks: sheet and letter, top edge and face, and what is cut from them."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from core.errors import InvalidRequestError
from core.plan import PlanOffcut, rectangle_points
from core.reports import write_reports
from core.reports.blank_labels import _runs, blank_label_pages, blank_labels_pdf
from core.reports.cutlist import build_cut_list
from core.reports.label_formats import LABEL_FORMATS
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


def test_the_arrow_of_a_turned_blank_points_where_its_upper_edge_lies_on_the_table() -> None:
    for name, way in (("small", "arrow away from you"), ("turned", "arrow to the left")):
        data = blank_labels_pdf(PLANS[name])
        assert data is not None
        words = "\n".join(page.words for page in read_pages(data))
        assert words.count(way) == words.count("Table: arrow ") > 0
        for lines in build_cut_list(PLANS[name]).sheets:
            for setup in lines.setups:
                made = setup.setup
                x, y = made.x_mm + made.width_mm / 2, made.y_mm + made.height_mm / 2
                middle = setup.frame.apply(x, y)
                upper = setup.frame.apply(x, made.y_mm + made.height_mm)
                # The same, from the frame that the page of the clamping is drawn in.
                left, up = middle[0] - upper[0], upper[1] - middle[1]
                assert (left > 1.0, up > 1.0) == (way.endswith("left"), way.endswith("you"))


def test_a_blank_says_which_offcut_it_leaves() -> None:
    plan = PLANS["small"]
    (sheet,) = plan.sheets
    blank = sheet.blanks[0]
    x, y = blank.x_mm + blank.width_mm - 155.0, blank.y_mm
    left = PlanOffcut(rectangle_points(x, y, 155.0, blank.height_mm), True)
    data = blank_labels_pdf(replace(plan, sheets=(replace(sheet, offcuts=(left,)),)))
    assert data is not None
    words = "\n".join(page.words for page in read_pages(data))
    assert words.count("Keep its offcut: 155 × ") == 1


def test_labels_of_blanks_begin_at_the_first_free_place() -> None:
    plan = PLANS["small"]
    form = LABEL_FORMATS["A4, 3 × 8 of 70 × 37 mm"]
    blanks = sum(len(sheet.blanks) for sheet in plan.sheets if sheet.saw_cuts)
    pages = blank_label_pages(plan, form=form, first_place=24)
    numbers = [[m for m in page.marks if getattr(m, "role", "") == "number"] for page in pages]
    assert [len(found) for found in numbers] == [1, blanks - 1]
    x, y = form.corner(23)
    (first,) = numbers[0]
    assert x < first.x_mm < x + form.width_mm and y < first.y_mm < y + form.height_mm
    with pytest.raises(InvalidRequestError, match="no place 25"):
        blank_label_pages(plan, form=form, first_place=25)


def test_low_labels_leave_nothing_out() -> None:
    data = blank_labels_pdf(PLANS["small"], form="Letter, 3 × 10 of 2 5/8 × 1 in")
    assert data is not None
    words = "\n".join(page.words for page in read_pages(data))
    assert "…" not in words
    for lines in build_cut_list(PLANS["small"]).sheets:
        for setup in lines.setups:
            assert f"Clamping {setup.name}, " in words


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
