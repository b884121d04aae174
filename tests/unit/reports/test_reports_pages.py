"""The printed cut list, read back from the PDF itself."""

from __future__ import annotations

import io
import re
from collections import Counter
from dataclasses import replace

import pypdf
import pytest

from core.errors import InvalidRequestError
from core.findings import Finding, Severity
from core.plan import PlanUnplaced, plan_json
from core.reports.cutlist import build_cut_list
from core.reports.pages import cut_list_pages, cut_list_pdf
from core.reports.paper import PAPERS
from core.reports.pdf import render_pdf
from core.reports.picture import Page, text
from core.units import parse_length
from tests.unit.reports.pdf_reading import (
    misplaced,
    near_size,
    numbers_found,
    outside,
    overlapping,
    pages_of,
    read_pages,
    sheet_pages,
)
from tests.unit.reports.report_plans import every_plan, small_plan

PLANS = every_plan()


@pytest.mark.parametrize("name", PLANS)
def test_every_copy_is_once_in_the_tables_and_once_in_the_diagrams(name: str) -> None:
    plan = PLANS[name]
    pages = pages_of(plan)
    cut_list = build_cut_list(plan)
    seen_diagrams, seen_tables = numbers_found(pages, cut_list.sheets)
    wanted = Counter(range(1, len(cut_list.copies) + 1))
    assert seen_diagrams == wanted
    assert seen_tables == wanted


@pytest.mark.parametrize(
    ("name", "paper"),
    [(n, p) for n in PLANS for p in PAPERS if p == "A4" or n in ("small", "inch", "long")],
)
def test_no_text_lies_over_another_or_outside_its_page(name: str, paper: str) -> None:
    for number, page in enumerate(pages_of(PLANS[name], paper=paper), 1):
        assert overlapping(page) == [], f"page {number}, {page.title}"
        assert outside(page) == [], f"page {number}, {page.title}"


@pytest.mark.parametrize("paper", list(PAPERS))
def test_pages_have_the_size_of_their_paper_lying(paper: str) -> None:
    want = PAPERS[paper]
    for page in pages_of(PLANS["small"], paper=paper):
        assert page.width_mm == pytest.approx(want.height_mm, abs=0.01)
        assert page.height_mm == pytest.approx(want.width_mm, abs=0.01)


@pytest.mark.parametrize("name", ["small", "inch", "split", "mirrored", "tiny"])
@pytest.mark.parametrize("paper", ["A4", "Tabloid"])
def test_diagrams_are_true_to_their_scale_within_two_tenths(name: str, paper: str) -> None:
    plan = PLANS[name]
    pages = pages_of(plan, paths=True, paper=paper)
    cut_list = build_cut_list(plan)
    for lines in cut_list.sheets:
        assert misplaced(sheet_pages(pages, lines.sheet.number)[0], lines) == []


def test_every_font_is_embedded_and_only_a_subset() -> None:
    for name, plan in PLANS.items():
        for page in pages_of(plan):
            assert all(t.embedded for t in page.texts), name
    reader = pypdf.PdfReader(io.BytesIO(cut_list_pdf(PLANS["small"])))
    for page in reader.pages:
        for font in page["/Resources"]["/Font"].values():  # type: ignore[index]
            base = str(font.get_object()["/BaseFont"])
            if "Helvetica" in base:
                # The PDF writer names a default font on every page; nothing is set in it.
                continue
            descriptor = font.get_object()["/FontDescriptor"]
            assert "/FontFile2" in descriptor
            assert re.match(r"/[A-Z]{6}\+DejaVuSans", base)
            assert len(descriptor["/FontFile2"].get_data()) < 200_000


def test_fractions_primes_and_signs_are_printed_in_the_font() -> None:
    words = "\n".join(p.words for p in pages_of(PLANS["inch"]))
    for sign in ("½", "⅜", "¾", "⅛", "″", "×", "10 23/32″"):
        assert sign in words
    plan = replace(
        PLANS["small"],
        findings=(
            Finding("a", Severity.STOP, "stop ½ ″ ′ ⌀ × –"),
            Finding("b", Severity.WARN, "warning"),
            Finding("c", Severity.NOTE, "note"),
        ),
    )
    words = "\n".join(p.words for p in pages_of(plan))
    for sign in ("½", "″", "′", "⌀", "×", "–", "▲", "●", "■"):
        assert sign in words
    assert "▼" in "\n".join(p.words for p in pages_of(PLANS["mirrored"]))


def test_totals_on_paper_agree_with_the_plan_file() -> None:
    for plan in (PLANS["small"], PLANS["big"], PLANS["split"]):
        first = pages_of(plan)[0].words.split("\n")
        totals = plan_json(plan)["totals"]
        assert f"{len(build_cut_list(plan).copies)} piece" in "\n".join(first)
        assert f"{totals['sheet_area'] / 1e6:.2f} m²" in first
        share = f"{min(round(totals['yield'] * 100), 99)} %"
        assert f"{totals['piece_area'] / 1e6:.2f} m² ({share})" in first
        assert f"{totals['offcut_area'] / 1e6:.2f} m²" in first
        assert f"{totals['scrap_area'] / 1e6:.2f} m²" in first
        assert f"{totals['cost']:.2f}" in first
        buy = plan_json(plan)["purchase"]
        assert f"{buy[0]['quantity']} ×" in first


def test_every_saw_cut_is_listed_in_order_with_both_sides_of_its_kerf() -> None:
    plan = PLANS["small"]
    pages = sheet_pages(pages_of(plan), 1)
    words = [t.words for page in pages for t in page.texts]
    start = words.index("Saw cuts, in this order")
    end = next(i for i, w in enumerate(words) if i > start and w.startswith("Kerf from and to"))
    listed = words[start:end]
    orders = [int(w) for w in listed if re.fullmatch(r"[123]", w)]
    assert orders[:3] == [1, 2, 3]
    assert "1218.5" in listed and "1221.5" in listed  # 1220 − 1.5 and 1220 + 1.5 mm
    assert "blank A, blank B" in listed and "blank C, blank D" in listed


def test_lengths_in_an_inch_project_read_back_as_lengths() -> None:
    pages = sheet_pages(pages_of(PLANS["inch"]), 1)
    sizes = [t.words for p in pages for t in p.texts if " × " in t.words and "″" in t.words]
    sizes = [words for words in sizes if not words.startswith(("Sheet", "Clamping"))]
    assert len(sizes) > 19
    for words in sizes:
        size = re.search(r"([\d /½¼¾⅛⅜⅝⅞]+″) × ([\d /½¼¾⅛⅜⅝⅞]+″)$", words)
        assert size, words
        for part in size.groups():
            assert parse_length(part, "in") > 0.0
    assert any("34½″ × 11⅛″" in words for words in sizes)


def test_pieces_in_a_hole_come_before_the_piece_round_them() -> None:
    page = next(p for p in pages_of(PLANS["small"]) if p.title.startswith("Clamping 1-1"))
    words = page.words
    assert words.index("Bat") < words.index("before 2, in whose cut-out it lies")
    order = [t.words for t in page.texts]
    assert order.index("before 2, in whose cut-out it lies") < len(order)
    copies = build_cut_list(PLANS["small"]).copies
    assert [c.piece.name for c in copies[:2]] == ["Bat", "Wheel ring"]
    assert copies[0].inside == 2


def test_the_seam_map_names_every_seam_letter_and_piece() -> None:
    plan = PLANS["split"]
    page = next(p for p in pages_of(plan) if p.title.startswith("Seam map"))
    letters = Counter(t.words for t in page.texts if t.bold and t.words in ("A", "B"))
    assert letters["A"] == 2 and letters["B"] == 2  # in the drawing and in the table
    for piece in plan.pieces:
        assert piece.name in page.words
    # 1700 × 820: both diagonals √(1700² + 820²) = 1887.4 mm.
    assert page.words.count("1887.4 mm") >= 2


def test_a_plan_with_stops_says_so_first() -> None:
    plan = PLANS["long"]
    lost = replace(
        plan,
        unplaced=(PlanUnplaced(plan.pieces[0].id, 1, "no room on any sheet"),),
        findings=(Finding("too-big", Severity.STOP, "Larger than every sheet."),),
    )
    first = pages_of(lost)[0].words
    assert "Do not cut yet: 1 stop and 1 piece without a place" in first
    assert "no room on any sheet" in first


def test_the_pages_of_one_plan_carry_its_mark_and_time() -> None:
    for name in ("small", "long"):
        mark = build_cut_list(PLANS[name]).mark
        for page in pages_of(PLANS[name]):
            feet = [t.words for t in page.texts if f"plan {mark}" in t.words]
            assert any("2026-11-25 10:00" in foot for foot in feet)
    plan = PLANS["small"]
    mark = build_cut_list(plan).mark
    moved = replace(plan, seed=plan.seed + 1)
    assert build_cut_list(moved).mark != mark


def test_the_same_plan_prints_the_same_bytes() -> None:
    one = cut_list_pdf(small_plan(), stamp="x")
    two = cut_list_pdf(small_plan(), stamp="x")
    assert one == two


def test_cautions_fit_the_work_of_the_plan() -> None:
    words = "\n".join(p.words for p in pages_of(PLANS["small"]))
    for title in ("Lifting", "Sawing", "Routing", "Dust", "Noise"):
        assert f"\n{title}\n" in words
    assert "not instructions" in words
    assert "\nGluing up\n" not in words
    assert "\nGluing up\n" in "\n".join(p.words for p in pages_of(PLANS["split"]))
    no_saw = "\n".join(p.words for p in pages_of(PLANS["long"]))
    assert "\nSawing\n" not in no_saw


def test_page_numbers_count_to_the_last_page() -> None:
    pages = pages_of(PLANS["tiny"])
    for number, page in enumerate(pages, 1):
        assert f"Page {number} of {len(pages)}" in page.words


def test_every_sheet_page_states_the_scale_of_its_drawing() -> None:
    for page in cut_list_pages(PLANS["big"]):
        if page.kind == "sheet" and not page.title.endswith("continued"):
            assert page.scale_denominator is not None


def test_paper_that_does_not_exist_is_refused_by_name() -> None:
    with pytest.raises(InvalidRequestError, match=r"no paper called “A9”.*Use A4, A3"):
        cut_list_pdf(PLANS["small"], paper="A9")


def test_the_reader_of_these_tests_sees_texts_that_collide_or_leave_the_page() -> None:
    marks = (
        text(50.0, 50.0, "one name", 10.0),
        text(55.0, 51.0, "another", 10.0),
        text(50.0, 80.0, "alone", 10.0),
        text(198.0, 20.0, "over the edge", 10.0),
    )
    page = read_pages(render_pdf([Page(210.0, 297.0, marks)], title="x"))[0]
    assert overlapping(page) == [("one name", "another")]
    assert outside(page) == ["over the edge"]


def test_a_board_fed_on_says_how_far() -> None:
    pages = pages_of(PLANS["rack"])
    first = next(p for p in pages if p.title.startswith("Clamping 1-1"))
    second = next(p for p in pages if p.title.startswith("Clamping 1-2"))
    assert "lower left corner of the board" in first.words
    assert "feed the board on and set the origin 850 mm from its left end" in second.words
    assert "20 mm right of and 10 mm above" in second.words.replace("\n", " ")


def test_a_long_name_is_broken_into_lines_before_it_is_left_out() -> None:
    page = sheet_pages(pages_of(PLANS["long"]), 1)[0]
    diagram = [t.words for t in page.texts]
    assert any(words.startswith("Upper left-hand") for words in diagram)
    assert not any("…" in words for words in diagram if words.startswith("Upper"))


def test_a_turned_board_is_said_and_drawn_as_it_lies_on_the_table() -> None:
    page = next(
        p for p in pages_of(PLANS["turned"], paths=True) if p.title.startswith("Clamping 1-2")
    )
    assert "quarter turn counter-clockwise" in page.words.replace("\n", " ")
    assert "608.5 × 1218.5" in page.title
    n = next(float(t.words[10:-1]) for t in page.texts if t.words.startswith("Scale 1 : "))
    blank = next(p.box for p in page.paths if near_size(p.box, (608.5 / n, 1218.5 / n)))
    # The first shelf: 338.5 to 598.5 across, 10 to 710 up, measured from the blank's corner.
    want = [blank[0] + 338.5 / n, blank[1] + 10 / n, blank[0] + 598.5 / n, blank[1] + 710 / n]
    hits = [p for p in page.paths if p.filled and p.box == pytest.approx(want, abs=0.2)]
    assert hits
    order = [t.words for t in page.texts]
    row = order.index("Glaze shelf (1 of 3)")
    assert order[row + 1 : row + 4] == ["338.5", "10", "90°"]


def test_an_origin_left_of_the_bits_reach_is_said_without_a_minus() -> None:
    plan = PLANS["rack"]
    (sheet,) = plan.sheets
    moved = tuple(replace(s, bed_x_mm=-12.5, bed_y_mm=-3.0) for s in sheet.setups)
    pages = pages_of(replace(plan, sheets=(replace(sheet, setups=moved),)))
    words = next(p for p in pages if p.title.startswith("Clamping 1-1")).words.replace("\n", " ")
    assert "12.5 mm left of and 3 mm below the corner" in words
