"""A pasted list becomes panels; lines that cannot be read are named."""

from __future__ import annotations

from app.panel_table import read_table
from core.project.model import CutBy, Grain


def rows(text: str, unit: str = "mm", materials=("birch 18", "oak 20"), material="") -> list:
    table = read_table(text, unit, materials, material)
    assert not table.problems, table.problems
    return [(p.name, *p.size_mm, p.quantity, p.material, str(p.grain)) for p in table.panels]


def test_commas_semicolons_and_tabs_split_columns() -> None:
    wanted = [("Shelf", 800.0, 300.0, 4, "oak 20", "along")]
    assert rows("Shelf, 800, 300, 4, Oak 20, along") == wanted
    assert rows("Shelf;800;300;4;oak 20;along") == wanted
    assert rows("Shelf\t800\t300\t4\toak 20\talong") == wanted


def test_headings_give_the_order() -> None:
    text = "qty,board,name,width (in),height (in)\n2,birch 18,Side,30,20"
    assert rows(text) == [("Side", 762.0, 508.0, 2, "birch 18", "free")]


def test_shapes_and_the_saw_are_read_too() -> None:
    table = read_table("Lid, disc 350, 2\nBack, 800x400, 1, oak 20, across, saw", "mm", ("oak 20",))
    assert [p.size_mm for p in table.panels] == [(350.0, 350.0), (800.0, 400.0)]
    assert table.panels[1].by is CutBy.SAW
    assert table.panels[1].grain is Grain.ACROSS


def test_the_only_board_is_taken_where_none_is_named() -> None:
    assert rows("Shelf, 800, 300", material="birch 18")[0][4] == "birch 18"


def test_bad_lines_are_named_and_the_others_count() -> None:
    table = read_table(
        "Shelf, 800, 300\nBack, wide, 300\nSide, 0, 10\nTop, 10, 10, 1, steel\n", "mm", ("oak 20",)
    )
    assert [p.name for p in table.panels] == ["Shelf"]
    assert [line for line, _ in table.problems] == [2, 3, 4]
    assert "steel" in table.problems[2][1]


def test_nothing_in_gives_nothing_out() -> None:
    assert read_table("", "mm").panels == ()
    assert read_table(" \n\n", "mm").problems == ()
