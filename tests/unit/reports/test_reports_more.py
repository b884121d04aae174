"""Full-size templates, the buying comparison, pictures of pages."""

from __future__ import annotations

import csv
import io
from dataclasses import replace
from itertools import pairwise
from xml.etree import ElementTree

import pytest
from PIL import Image
from shapely.geometry import LineString
from svgelements import SVG, Path

from core.errors import InvalidRequestError
from core.geometry import Motion
from core.outlines.model import Face
from core.plan import PlanUnplaced
from core.reports.buying import compare, compare_csv, compare_pdf
from core.reports.pages import cut_list_pages, cut_list_pdf
from core.reports.picture import INK, Line, Shape, Text
from core.reports.print_test import print_test_pdf
from core.reports.svg import page_svg, pdf_page_png
from core.reports.templates import (
    OVERLAP_MM,
    piece_template_pages,
    seam_template_pages,
    template_pdf,
)
from tests.unit.reports.pdf_reading import FoundPage, outside, overlapping, read_pages
from tests.unit.reports.report_parts import piece, plan_of, rect_region
from tests.unit.reports.report_plans import every_plan

PLANS = every_plan()


# --- templates ----------------------------------------------------------------------------


def check_line(page: FoundPage) -> float:
    """Length of the line above the words that ask to measure it."""
    words = next(t for t in page.texts if t.words.startswith("This line must measure 100 mm"))
    near = [p.box for p in page.paths if len(p.points) == 2 and 0 < p.box[1] - words.box[3] < 8]
    return max(b[2] - b[0] for b in near)


@pytest.mark.parametrize("paper", ["A4", "A3", "Letter", "Tabloid"])
def test_the_check_line_of_every_template_page_measures_100_mm(paper: str) -> None:
    pages = read_pages(template_pdf(PLANS["split"], seam="front-A", paper=paper), paths=True)
    assert pages
    for page in pages:
        assert check_line(page) == pytest.approx(100.0, abs=0.02)
        assert overlapping(page) == [] and outside(page) == []


def test_a_small_piece_is_printed_at_full_size_on_one_page() -> None:
    plan = plan_of(
        "Small", [(piece("p", "Plate", rect_region(150, 90)), 1)], PLANS["tiny"].sheets[0].stock
    )
    pages = read_pages(template_pdf(plan, piece="p"), paths=True)
    assert len(pages) == 1
    sizes = [(p.box[2] - p.box[0], p.box[3] - p.box[1]) for p in pages[0].paths]
    assert any(
        w == pytest.approx(150, abs=0.02) and h == pytest.approx(90, abs=0.02) for w, h in sizes
    )


def test_tiles_overlap_by_ten_millimetres_and_together_show_every_edge() -> None:
    pages = piece_template_pages(PLANS["small"], "shelf")
    assert len(pages) == 6  # 3 × 2, lying, for 700 × 260 mm
    for row, straight in (("row 1", 700 - 2 * 30), ("row 2", 700 - 2 * 30)):
        # Each tile shows its part of the long edge; neighbours share the overlap.
        total = sum(
            abs(b[0] - a[0])
            for page in pages
            if row in page.title
            for mark in page.marks
            if isinstance(mark, Line) and mark.role == "template"
            for a, b in pairwise(mark.points)
            if abs(a[1] - b[1]) < 1e-6 and abs(b[0] - a[0]) > 20
        )
        assert total == pytest.approx(straight + 2 * OVERLAP_MM, abs=0.05)


def test_neighbouring_tiles_print_the_same_crosses() -> None:
    pages = read_pages(template_pdf(PLANS["split"], seam="front-A"))
    names = [{t.words for t in p.texts if len(t.words) == 2 and t.words[0] in "AB"} for p in pages]
    for upper, lower in pairwise(names):
        assert len(upper & lower) == 2


def test_every_page_of_a_template_names_the_pieces_it_shows_off_every_line() -> None:
    pages = seam_template_pages(PLANS["split"], "front-A")
    assert len(pages) > 2
    for page in pages:
        names = [m for m in page.marks if isinstance(m, Text) and m.role == "name"]
        assert len(names) == 2, page.title
        lines = [LineString(m.points) for m in page.marks if isinstance(m, Line)]
        for name in names:
            assert not any(name.box().intersects(line) for line in lines)


def test_a_template_says_which_face_is_seen_and_what_its_lines_mean() -> None:
    for page in read_pages(template_pdf(PLANS["split"], seam="front-A")):
        assert "Seen on the show face. Dashed: the seam as drawn." in page.words
        assert "Lay crosses with the same name" in page.words
    (panel,) = (p for p in PLANS["mirrored"].pieces if p.features)
    back = replace(panel, features=tuple(replace(f, face=Face.BACK) for f in panel.features))
    front = replace(panel, features=tuple(replace(f, face=Face.SHOW) for f in panel.features))
    for one, said in ((back, "Dotted: from the back."), (front, "Dashed: holes and pockets.")):
        plan = replace(PLANS["mirrored"], pieces=(one,))
        words = " ".join(
            " ".join(p.words.split()) for p in read_pages(template_pdf(plan, piece=one.id))
        )
        assert said in words
        assert ("Dotted" in words) != ("Dashed" in words)


def test_a_template_of_one_page_asks_for_no_taping() -> None:
    small = replace(PLANS["small"], pieces=(piece("k", "Key", rect_region(60, 40)),))
    (page,) = read_pages(template_pdf(small, piece="k"))
    assert "page 1 of 1" in page.words
    assert "tape" not in page.words and "row 1" not in page.words


def test_templates_of_nothing_or_of_a_whole_house_are_refused() -> None:
    with pytest.raises(InvalidRequestError, match="no seam “x”"):
        template_pdf(PLANS["split"], seam="x")
    with pytest.raises(InvalidRequestError, match="no piece “x”"):
        template_pdf(PLANS["split"], piece="x")
    with pytest.raises(InvalidRequestError, match="one seam or of one piece"):
        template_pdf(PLANS["split"])
    huge = replace(PLANS["small"], pieces=(piece("h", "Huge", rect_region(9000, 9000)),))
    with pytest.raises(InvalidRequestError, match=r"would take .* pages"):
        template_pdf(huge, piece="h")


# --- buying -------------------------------------------------------------------------------


def test_alternatives_are_ranked_complete_ones_first_then_by_cost() -> None:
    cheap, dear = PLANS["small"], PLANS["big"]
    lost = replace(cheap, unplaced=(PlanUnplaced("rail", 2, "too long"),))
    names = [a.name for a in compare([("lost", lost), ("dear", dear), ("cheap", cheap)])]
    assert names == ["cheap", "dear", "lost"]


def test_offcut_value_is_its_share_of_the_sheets_price() -> None:
    (item,) = compare([("one", PLANS["small"])])
    assert item.cost == 78.5
    # 300 × 200 mm of 2440 × 1220 mm at 78.50.
    assert item.offcut_value == pytest.approx(78.5 * 300 * 200 / (2440 * 1220))
    assert item.net_cost == pytest.approx(item.cost - item.offcut_value)
    assert item.scrap_area_mm2 == pytest.approx(2440 * 1220 - item.piece_area_mm2 - 60000)


def test_an_unknown_price_is_not_taken_for_nothing() -> None:
    plan = PLANS["small"]
    line = replace(plan.purchase[0], cost=None)
    stock = replace(plan.sheets[0].stock, cost=None)
    project = replace(plan.project, shop=replace(plan.project.shop, stock=(stock,)))
    sheets = (replace(plan.sheets[0], stock=stock),)
    free = replace(plan, purchase=(line,), sheets=sheets, project=project)
    (item,) = compare([("x", free)])
    assert item.cost is None and item.offcut_value is None and item.net_cost is None
    assert [a.name for a in compare([("x", free), ("y", plan)])] == ["y", "x"]


def test_the_comparison_prints_its_figures_and_bars_to_scale() -> None:
    alternatives = [("Full sheets", PLANS["big"]), ("One sheet", PLANS["small"])]
    page = read_pages(compare_pdf(alternatives, chosen="One sheet"), paths=True)[0]
    assert "Least to pay: One sheet, 78.50 for 1 sheet." in page.words
    assert "471.00" in page.words
    assert overlapping(page) == [] and outside(page) == []
    first, second = compare(alternatives)
    bars = [p.box for p in page.paths if abs(p.box[3] - p.box[1] - 6.0) < 0.01]
    rows = sorted({round(b[1], 1) for b in bars}, reverse=True)
    wide = [
        max(b[2] for b in bars if round(b[1], 1) == row)
        - min(b[0] for b in bars if round(b[1], 1) == row)
        for row in rows
    ]
    assert wide[0] / wide[1] == pytest.approx(
        first.sheet_area_mm2 / second.sheet_area_mm2, rel=0.01
    )


def test_the_comparison_names_every_sheet_of_every_way_whole() -> None:
    base = PLANS["small"]
    (line,) = base.purchase
    kinds = tuple(
        replace(line, material=f"Birch plywood {k}", width_mm=2440.0 - k, quantity=2, cost=20.0 * k)
        for k in range(3, 9)
    )
    rack = replace(line, material="Leftover", in_rack=True, cost=None)
    ways = [("All of it", replace(base, purchase=(*kinds, rack))), ("One sheet", base)]
    pages = read_pages(compare_pdf(ways))
    words = "\n".join(page.words for page in pages)
    assert "…" not in words
    for k in range(3, 9):
        assert f"Birch plywood {k}" in words and f"{2440 - k} × 1220" in words
        assert f"{10.0 * k:.2f}" in words and f"{20.0 * k:.2f}" in words
    assert "Leftover" in words and words.count("\nfrom the rack\n") == 1
    for page in pages:
        assert overlapping(page) == [] and outside(page) == []


def test_the_comparison_as_a_table() -> None:
    text = compare_csv([("a", PLANS["small"]), ("b, with comma", PLANS["big"])])
    rows = list(csv.DictReader(io.StringIO(text, newline="")))
    assert [r["alternative"] for r in rows] == ["a", "b, with comma"]
    assert float(rows[1]["cost"]) == 471.0 and rows[1]["complete"] == "yes"


def test_nothing_to_compare_is_said_on_paper() -> None:
    assert "nothing to compare" in read_pages(compare_pdf([]))[0].words


# --- pictures -----------------------------------------------------------------------------


def test_a_page_as_svg_has_its_size_and_its_pieces_in_place() -> None:
    plan = PLANS["small"]
    page = next(p for p in cut_list_pages(plan) if p.kind == "sheet")
    text = page_svg(page)
    root = ElementTree.fromstring(text)
    assert root.get("width") == "297mm" and root.get("height") == "210mm"
    # One user unit is 1 mm; the reader counts 96 px per inch.
    drawn = SVG.parse(io.StringIO(text), ppi=25.4)
    pieces = [
        e for e in drawn.elements() if isinstance(e, Path) and e.values.get("class") == "piece"
    ]
    assert len(pieces) == 7
    n = page.scale_denominator
    assert n is not None
    sizes = sorted((b[2] - b[0], b[3] - b[1]) for b in (p.bbox() for p in pieces))
    want = []
    for line in [*plan.sheets[0].placements]:
        w, h = plan.piece(line.piece).cut.moved(Motion()).size_mm
        want.append((w / n, h / n))
    for got, expected in zip(sizes, sorted(want), strict=True):
        assert got == pytest.approx(expected, abs=0.2)


def test_every_page_is_well_formed_svg_whatever_a_name_holds() -> None:
    odd = replace(PLANS["long"].pieces[0], name="<b> & \"quoted\" 'x'")
    plan = replace(PLANS["long"], pieces=(odd, *PLANS["long"].pieces[1:]))
    for page in cut_list_pages(plan):
        ElementTree.fromstring(page_svg(page))


def test_a_page_as_png_has_the_pixels_asked_for() -> None:
    data = cut_list_pdf(PLANS["small"])
    picture = Image.open(io.BytesIO(pdf_page_png(data, 1, dots_per_inch=50.8)))
    assert abs(picture.width - 297 * 2) <= 1 and abs(picture.height - 210 * 2) <= 1
    assert len(picture.convert("L").getcolors(256) or []) > 3
    with pytest.raises(InvalidRequestError, match="no page 99"):
        pdf_page_png(data, 99)
    with pytest.raises(InvalidRequestError, match="dots per inch"):
        pdf_page_png(data, 1, dots_per_inch=5)


@pytest.mark.parametrize("name", ["small", "split", "tiny"])
def test_pages_stay_readable_in_grey(name: str) -> None:
    """Every fill under text keeps black text at 4.5 : 1 or better (WCAG 2.2, SC 1.4.3)."""

    def luminance(colour: str) -> float:
        parts = [int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)]
        lin = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in parts]
        return 0.2126 * lin[0] + 0.7152 * lin[1] + 0.0722 * lin[2]

    for page in cut_list_pages(PLANS[name]):
        for mark in page.marks:
            if isinstance(mark, Shape) and mark.role == "piece" and mark.fill:
                assert mark.stroke is not None  # an outline, so tint is never the only sign
                ratio = (luminance(mark.fill) + 0.05) / (luminance(INK) + 0.05)
                assert ratio >= 4.5


@pytest.mark.parametrize("paper", ["A4", "A3", "Letter", "Tabloid"])
def test_the_print_test_has_two_rules_of_100_mm_and_every_sign(paper: str) -> None:
    page = read_pages(print_test_pdf(paper), paths=True)[0]
    across = [p for p in page.paths if p.box[2] - p.box[0] == pytest.approx(100.0, abs=0.01)]
    up = [p for p in page.paths if p.box[3] - p.box[1] == pytest.approx(100.0, abs=0.01)]
    assert across and up
    for sign in "½¼¾⅛⅜⅝⅞″′⌀×–●▲■▼":
        assert sign in page.words
    assert overlapping(page) == [] and outside(page) == []
