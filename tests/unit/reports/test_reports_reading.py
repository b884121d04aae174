"""What a reader at arm's length stumbles over: heads, broken lines, half-empty pages."""

from __future__ import annotations

from collections.abc import Sequence

import pytest
from shapely.geometry import Polygon, box
from shapely.geometry.base import BaseGeometry
from shapely.ops import unary_union

from core.reports.board import Board
from core.reports.columns import Column, Row, column_widths
from core.reports.fonts import text_width_mm, wrap
from core.reports.paper import Flow, paper_named
from core.reports.picture import Text


def _widths(columns: list[Column], cells: tuple[str, ...], span: float) -> list[float]:
    _, widths = column_widths(columns, [Row(cells)], span, size_pt=9.5, least_pt=7.0, stretch=True)
    return widths


def test_the_head_of_a_column_stays_on_one_line_where_there_is_room() -> None:
    columns = [Column("Piece", flex=True), Column("Held by"), Column("Mind", flex=True)]
    cells = ("Glaze shelf", "7 tabs", "–")
    head = text_width_mm("Held by", 9.5, True)
    assert _widths(columns, cells, 200.0)[1] >= head
    assert sum(_widths(columns, cells, 200.0)) == pytest.approx(200.0)
    # A narrow page breaks the head rather than the cells.
    assert _widths(columns, ("x" * 20, "7 tabs", "y" * 20), 70.0)[1] < head


def test_the_widest_column_gives_way_first_where_room_is_short() -> None:
    columns = [Column("Joins", flex=True), Column("Mind", flex=True)]
    joins = "Tall side 2 + Tall side 1"
    widths = _widths(columns, (joins, "slides together in the plane of the board, " * 4), 150.0)
    assert sum(widths) == pytest.approx(150.0)
    assert wrap(joins, widths[0] - 3.2 + 0.01, 9.5) == [joins]


@pytest.mark.parametrize("kept", ["3 mg/m³", "300 mm", "80 dB(A)", "⌀ 6 mm", "43 %"])
def test_a_figure_is_never_parted_from_its_unit(kept: str) -> None:
    for width in range(8, 60):
        lines = wrap(f"For hardwood dust the place lists {kept}, so it is", float(width), 9.0)
        assert any(kept in line for line in lines) or width < text_width_mm(kept + ",", 9.0)


def test_tables_move_closer_together_where_that_saves_a_page_and_only_there() -> None:
    def rows(count: int, flow: Flow) -> None:
        flow.table([Column("No.", align="end"), Column("Piece", flex=True)], [("1", "a")] * count)

    def pages(count: int, *, save: bool) -> int:
        flow = Flow(paper_named("A4"))
        flow.page("Sheet")
        if save:
            flow.save_pages(lambda f: rows(count, f))
        else:
            rows(count, flow)
        assert flow.y >= flow.bottom - 1e-9
        return flow.page_count

    loose = max(n for n in range(10, 60) if pages(n, save=False) == 1)
    assert pages(loose, save=True) == 1
    assert pages(loose + 2, save=False) == 2 and pages(loose + 2, save=True) == 1
    assert pages(2 * loose, save=True) == 2


def _name_box(
    drawn: Sequence[BaseGeometry], signs: Sequence[BaseGeometry], shape: Polygon
) -> BaseGeometry:
    board = Board((0.0, 0.0, 100.0, 40.0), (0.0, 0.0, 120.0, 60.0), scale=1.0)
    assert board.name_inside(shape, "3", ["Rail 3", "700 × 110"], drawn=drawn, signs=signs)
    return unary_union([m.box() for m in board.marks if isinstance(m, Text)])


def test_a_name_goes_off_what_is_drawn_in_its_piece_even_without_its_size() -> None:
    piece = box(0, 0, 100, 14)
    middle = _name_box([], [], piece)
    slots = [box(x, 5.5, x + 9, 8.5).exterior for x in range(4, 100, 20)]
    name = _name_box(slots, [], piece)
    assert any(slot.intersects(middle) for slot in slots)
    assert not any(slot.intersects(name) for slot in slots)


def test_a_name_would_rather_be_a_number_than_lie_across_the_mark_of_a_tab() -> None:
    tabs = [box(x - 1.1, 5.9, x + 1.1, 8.1) for x in range(4, 100, 6)]
    name = _name_box([], tabs, box(0, 4, 100, 14))
    assert not any(tab.intersects(name) for tab in tabs)


def test_a_name_comes_nearer_to_the_outline_before_it_is_left_out() -> None:
    slots = [box(x, 5.1, x + 7, 6.9) for x in range(4, 100, 16)]
    piece = box(0, 3, 100, 9.3).difference(unary_union(slots))
    board = Board((0.0, 0.0, 100.0, 40.0), (0.0, 0.0, 120.0, 60.0), scale=1.0)
    assert board.name_inside(piece, "46", ["Rail 6", "740 × 70"])
    assert [m.text for m in board.marks if isinstance(m, Text)] == ["46", "Rail 6"]


def test_where_ordinates_are_crowded_the_walls_that_are_measured_to_stay() -> None:
    board = Board((0.0, 0.0, 60.0, 40.0), (0.0, 0.0, 90.0, 70.0), scale=1.0)
    marks = [5.0 + 4.0 * k for k in range(13)]
    walls = [mark - 1.5 for mark in marks]
    board.ordinates([60.0, *marks, *walls], [], str, origin=(0.0, 0.0), least=(marks, []))
    said = {float(m.text) for m in board.marks if isinstance(m, Text) and m.role == "ordinate-x"}
    assert set(marks) < said
    assert not set(walls) <= said
