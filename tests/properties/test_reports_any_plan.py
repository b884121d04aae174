"""What holds for every plan, however odd: numbers, places, clean pages, clean drawings."""

from __future__ import annotations

import math
from collections import Counter
from itertools import pairwise

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from shapely.geometry import box

from core.geometry import Motion, Region, Ring
from core.outlines.write import clean_items
from core.plan import Plan, PlanPanel, PlanPiece, PlanPlacement, PlanSetup, PlanSheet, plan_json
from core.project.model import Project
from core.reports.bits import inside_path_mm, outside_path_mm
from core.reports.board import Board, spread
from core.reports.cutlist import build_cut_list
from core.reports.drawings import setup_items, sheet_items
from core.reports.fonts import printable, text_width_mm, wrap
from core.reports.pages import cut_list_pages, cut_list_pdf
from core.reports.picture import Shape, Text
from core.reports.spreadsheets import pieces_csv
from core.reports.words import Words, listed
from core.shop import Shop, Stock
from core.units import parse_length
from tests.unit.reports.pdf_reading import outside, overlapping, read_pages

QUICK = settings(
    max_examples=12, deadline=None, suppress_health_check=[HealthCheck.too_slow], derandomize=True
)
NAMES = st.text(max_size=60)


@st.composite
def plans(draw: st.DrawFn) -> Plan:
    """Up to three sheets, a grid of cells with a piece in each, turned and mirrored at will."""
    sheets, pieces, panels = [], [], []
    unit = draw(st.sampled_from(["mm", "cm", "m", "in", "ft", "thou"]))
    for number in range(1, draw(st.integers(1, 2)) + 1):
        width = draw(st.floats(200, 4000))
        height = draw(st.floats(200, 2100))
        stock = Stock(f"s{number}", draw(NAMES), width, height, cost=draw(st.none() | st.just(9.5)))
        columns, rows = draw(st.integers(1, 6)), draw(st.integers(1, 5))
        cell_w, cell_h = width / columns, height / rows
        placements = []
        area = 0.0
        for index in range(columns * rows):
            half = min(cell_w, cell_h) / 2 * draw(st.floats(0.05, 0.6))
            shape = draw(st.sampled_from(["circle", "rectangle", "ring"]))
            outer = Ring.rectangle(-half, -half, 2 * half, 2 * half)
            if shape == "circle":
                outer = Ring.circle(0, 0, half)
            holes = [Ring.circle(0, 0, half / 2)] if shape == "ring" else []
            region = Region.of(outer, holes)
            piece_id = f"{number}.{index}"
            name = draw(NAMES)
            one = PlanPiece(piece_id, piece_id, name, region, region, stock.material, 18.0)
            pieces.append(one)
            panels.append(PlanPanel(piece_id, name, region, (), 1, stock.material, "free"))
            motion = Motion(
                (index % columns + 0.5) * cell_w,
                (index // columns + 0.5) * cell_h,
                draw(st.sampled_from([0.0, 90.0, 180.0, 33.0])),
                draw(st.booleans()),
            )
            placements.append(PlanPlacement(piece_id, 1, motion))
            area += region.area_mm2
        setups = (PlanSetup("a", "", 0, 0, width, height),) if draw(st.booleans()) else ()
        sheets.append(
            PlanSheet(
                stock.id,
                number,
                stock,
                tuple(placements),
                setups=setups,
                piece_area_mm2=area,
                mass_kg=12.0,
            )
        )
    project = Project(name=draw(NAMES), units=unit, shop=Shop())
    return Plan(project, tuple(panels), tuple(pieces), sheets=tuple(sheets))


@QUICK
@given(plans())
def test_pages_of_any_plan_are_clean_and_show_every_copy_once(plan: Plan) -> None:
    cut_list = build_cut_list(plan)
    pages = cut_list_pages(plan)
    drawn: Counter[str] = Counter()
    numbered: Counter[int] = Counter()
    for page in pages:
        if page.kind != "sheet":
            continue
        for mark in page.marks:
            if isinstance(mark, Shape) and mark.role == "piece":
                drawn[mark.key] += 1
            if isinstance(mark, Text) and mark.role == "number":
                numbered[int(mark.text.split()[0])] += 1
    want = range(1, len(cut_list.copies) + 1)
    assert drawn == Counter(str(n) for n in want)
    assert numbered == Counter(want)
    for found in read_pages(cut_list_pdf(plan)):
        assert overlapping(found) == []
        assert outside(found) == []


@QUICK
@given(plans())
def test_the_plan_and_its_table_tell_of_the_same_pieces(plan: Plan) -> None:
    rows = pieces_csv(plan).count("\r\n") - 1
    placed = sum(len(s["placements"]) for s in plan_json(plan)["sheets"])
    assert rows == placed == len(build_cut_list(plan).copies)


@QUICK
@given(plans())
def test_drawings_of_any_plan_hold_every_outline_once_and_nothing_empty(plan: Plan) -> None:
    cut_list = build_cut_list(plan)
    for lines in cut_list.sheets:
        items = sheet_items(cut_list, lines)
        assert len(clean_items(items)) == len(items)
        layers = Counter(item.layer for item in items)
        assert layers["CUT_OUTSIDE"] == len(lines.copies)
        for setup in lines.setups:
            items = setup_items(cut_list, lines, setup)
            assert Counter(i.layer for i in items)["CUT_OUTSIDE"] == len(setup.copies)


@given(
    st.lists(st.floats(0, 100), max_size=30).map(sorted),
    st.floats(0.1, 5),
)
def test_spread_keeps_order_gap_and_bounds(places: list[float], gap: float) -> None:
    out = spread(places, gap, 0.0, 100.0)
    if out is None:
        assert (len(places) - 1) * gap > 100.0
        return
    assert len(out) == len(places)
    assert all(b - a >= gap - 1e-9 for a, b in pairwise(out))
    assert all(-1e-9 <= p <= 100.0 + 1e-9 for p in out)


@given(st.floats(10, 500), st.floats(10, 500), st.floats(0.5, 4))
def test_the_bits_way_is_longer_outside_and_shorter_inside(
    width: float, height: float, radius: float
) -> None:
    ring = Ring.rectangle(0, 0, width, height)
    around = 2 * (width + height)
    assert outside_path_mm(ring, radius) == pytest.approx(around + 2 * math.pi * radius, rel=1e-3)
    assert inside_path_mm(ring, radius) == pytest.approx(around - 8 * radius, rel=1e-6)


@given(st.floats(0, 20000))
def test_inches_on_paper_are_the_nearest_64th(length_mm: float) -> None:
    words = Words("in").length(length_mm)
    assert abs(parse_length(words, "in") - length_mm) <= 25.4 / 128 + 1e-6


@given(st.sets(st.integers(1, 200), max_size=40))
def test_listed_numbers_can_be_read_back(numbers: set[int]) -> None:
    found: set[int] = set()
    for part in listed(sorted(numbers)).split(", "):
        if part:
            low, _, high = part.partition("–")
            found |= set(range(int(low), int(high or low) + 1))
    assert found == numbers


@given(NAMES, st.floats(8, 80), st.sampled_from([6.0, 9.5, 12.0]))
def test_wrapping_loses_no_letter_and_keeps_the_width(
    words: str, width: float, size: float
) -> None:
    lines = wrap(words, width, size)
    assert "".join(lines).replace(" ", "") == printable(words).replace(" ", "")
    assert all(text_width_mm(line, size) <= width or len(line) <= 1 for line in lines)


@given(st.floats(20, 3000), st.floats(20, 3000))
def test_a_board_maps_its_window_into_its_area(width: float, height: float) -> None:
    area = (10.0, 10.0, 287.0, 200.0)
    board = Board((0.0, 0.0, width, height), area)
    x1, y1, x2, y2 = board.paper_box
    assert x1 >= 10.0 and y1 >= 10.0 and x2 <= 287.0 + 1e-9 and y2 <= 200.0 + 1e-9
    assert board.point(width, height) == pytest.approx((x2, y2))
    shape = board.polygon(box(0, 0, width, height))
    assert shape.bounds == pytest.approx(board.paper_box)
