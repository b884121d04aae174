"""Labels: all of them, inside their outlines, and codes a scanner reads."""

from __future__ import annotations

import io
from dataclasses import replace

import pytest
import zxingcpp
from PIL import Image

from core.errors import InvalidRequestError
from core.reports.cutlist import build_cut_list
from core.reports.labels import (
    LABEL_FORMATS,
    LabelFormat,
    _grain_words,
    default_format,
    label_guide,
    label_pages,
    labels_pdf,
    piece_code,
)
from core.reports.paper import paper_named
from core.reports.pdf import render_pdf
from core.reports.picture import Shape
from core.reports.svg import pdf_page_png
from core.reports.words import Words
from tests.unit.reports.pdf_reading import overlapping, read_pages
from tests.unit.reports.report_plans import every_plan

PLANS = every_plan()


def scanned(data: bytes, page: int) -> list[str]:
    picture = Image.open(io.BytesIO(pdf_page_png(data, page, dots_per_inch=200)))
    return [code.text for code in zxingcpp.read_barcodes(picture)]


@pytest.mark.parametrize("form", list(LABEL_FORMATS))
def test_every_code_on_the_labels_reads_as_the_piece_and_its_copy(form: str) -> None:
    for name in ("small", "split"):
        data = labels_pdf(PLANS[name], form=form)
        pages = len(read_pages(data))
        found = [text for page in range(1, pages + 1) for text in scanned(data, page)]
        want = [piece_code(line) for line in build_cut_list(PLANS[name]).copies]
        assert sorted(found) == sorted(want)


@pytest.mark.parametrize("form", list(LABEL_FORMATS))
@pytest.mark.parametrize("name", ["small", "inch", "split", "long", "mirrored"])
def test_everything_on_a_label_lies_inside_its_outline(form: str, name: str) -> None:
    plan, fmt = PLANS[name], LABEL_FORMATS[form]
    data = labels_pdf(plan, form=fmt, first_place=2)
    found = read_pages(data, paths=True)
    corners = [fmt.corner(place) for place in range(fmt.per_page)]
    for page in found:
        assert overlapping(page, 0.1) == []
        boxes = [t.box for t in page.texts if t.words]
        boxes += [p.box for p in page.paths if p.filled]  # the codes
        for x1, y1, x2, y2 in boxes:
            assert any(
                x + 1.0 <= x1
                and y + 1.0 <= y1
                and x2 <= x + fmt.width_mm - 1.0
                and y2 <= y + fmt.height_mm - 1.0
                for x, y in corners
            ), (x1, y1, x2, y2)


def test_a_part_used_sheet_is_begun_at_the_place_asked_for() -> None:
    fmt = LABEL_FORMATS["A4, 3 × 8 of 70 × 37 mm"]
    pages = read_pages(labels_pdf(PLANS["small"], form=fmt, first_place=20))
    number = next(t for t in pages[0].texts if t.words == "1" and t.bold)
    x, y = fmt.corner(19)
    assert x < number.box[0] < x + fmt.width_mm
    assert y < number.box[1] < y + fmt.height_mm
    # 7 labels from place 20 of 24: five on the first sheet, two on the next.
    count = [sum(t.words.endswith(("of 1", "of 2", "of 3")) for t in p.texts) for p in pages]
    assert count == [5, 2]


def test_a_label_says_everything_about_its_piece() -> None:
    words = "\n".join(p.words for p in read_pages(labels_pdf(PLANS["split"])))
    assert "Counter front, left" in words
    assert "Counter front, copy 1 of 2" in words
    assert "590 × 820 mm, 17.6 mm thick" in words
    assert "Birch plywood 18" in words
    assert "Sheet 1, blank A, clamping 1-1" in words
    assert "Show face up" in words and "Grain ↔ along the 590 mm" in words
    assert "Seam A\n" in words and "Seams A\n" not in words
    assert "Seams A B" in words
    assert "Show face down" in read_pages(labels_pdf(PLANS["mirrored"]))[0].words


def test_a_label_speaks_of_the_turn_on_the_sheet_not_of_that_on_the_table() -> None:
    plan = PLANS["turned"]
    lines = build_cut_list(plan)
    words = "\n".join(p.words for p in read_pages(labels_pdf(plan)))
    for line in lines.copies:
        turn = round(line.placement.motion.turn_deg)
        assert (f"sheet turn {turn}°" in words) == (turn != 0)
    assert all(line.setup is not None for line in lines.copies)


def test_the_side_the_grain_runs_along_is_as_long_as_said() -> None:
    lines = build_cut_list(PLANS["split"])
    for line in lines.copies:
        along = _grain_words("along", line, Words("mm"))
        across = _grain_words("across", line, Words("mm"))
        if abs(line.width_mm - line.height_mm) > 0.1:
            assert along == f"Grain ↔ along the {Words('mm').with_unit(line.width_mm)}"
            assert across == f"Grain ↕ along the {Words('mm').with_unit(line.height_mm)}"
        assert _grain_words("free", line, Words("mm")) == "Grain any way"
        square = replace(line, height_mm=line.width_mm)
        assert _grain_words("across", square, Words("mm")) == "Grain ↕ as drawn"


@pytest.mark.parametrize("form", ["A4, 3 × 8 of 70 × 37 mm", default_format("mm")])
def test_no_row_of_a_label_is_broken_where_smaller_print_holds_it(form: str) -> None:
    words = "\n".join(p.words for p in read_pages(labels_pdf(PLANS["split"], form=form)))
    for line in build_cut_list(PLANS["split"]).copies:
        assert line.setup is not None
        assert f"Sheet {line.sheet}, blank {line.blank}, clamping {line.sheet}-" in words
        assert f"clamping {line.sheet}-{line.setup + 1}" in words


def test_there_is_one_label_for_each_copy_of_a_large_order() -> None:
    plan = PLANS["big"]
    keys = [
        mark.key
        for page in label_pages(plan)
        for mark in page.marks
        if isinstance(mark, Shape) and mark.role == "qr"
    ]
    assert len(keys) == len(build_cut_list(plan).copies) == 160
    assert len(set(keys)) == 160


def test_a_format_can_be_given_by_its_dimensions() -> None:
    form = LabelFormat("own", paper_named("A4"), 2, 5, 90.0, 50.0, 12.0, 20.0, 95.0, 52.0)
    assert form.corner(0) == (12.0, 297.0 - 20.0 - 50.0)
    assert form.corner(3) == (107.0, 297.0 - 20.0 - 52.0 - 50.0)
    assert labels_pdf(PLANS["small"], form=form)


@pytest.mark.parametrize(
    "sizes",
    [
        (3, 8, 80.0, 37.0, 0.0, 0.0, 80.0, 37.0),  # wider than the paper
        (2, 2, 60.0, 40.0, 5.0, 5.0, 50.0, 45.0),  # overlapping
        (0, 2, 60.0, 40.0, 5.0, 5.0, 60.0, 45.0),
        (1, 1, 10.0, 10.0, 5.0, 5.0, 60.0, 45.0),  # too small for a code
    ],
)
def test_label_sheets_that_cannot_be_are_refused(sizes: tuple[float, ...]) -> None:
    columns, rows, *rest = sizes
    with pytest.raises(InvalidRequestError, match=r"[Ll]abel"):
        LabelFormat("own", paper_named("A4"), int(columns), int(rows), *rest)


def test_unknown_formats_and_places_are_refused() -> None:
    with pytest.raises(InvalidRequestError, match="no labels called"):
        labels_pdf(PLANS["small"], form="A4, 9 × 9")
    with pytest.raises(InvalidRequestError, match="no place 25"):
        labels_pdf(PLANS["small"], form="A4, 3 × 8 of 70 × 37 mm", first_place=25)


def test_inch_projects_get_labels_on_letter_paper() -> None:
    assert LABEL_FORMATS[default_format("in")].paper.name == "Letter"
    assert LABEL_FORMATS[default_format("mm")].paper.name == "A4"


def test_the_test_print_outlines_every_label() -> None:
    form = LABEL_FORMATS["Letter, 3 × 10 of 2 5/8 × 1 in"]
    page = read_pages(render_pdf([label_guide(form)], title="x"), paths=True)[0]
    # 2 5/8 × 1 in = 66.675 × 25.4 mm
    outlines = [
        p
        for p in page.paths
        if abs(p.box[2] - p.box[0] - 66.675) < 0.02 and abs(p.box[3] - p.box[1] - 25.4) < 0.02
    ]
    assert len(outlines) == 30
