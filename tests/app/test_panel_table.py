"""A pasted list becomes panels; lines that cannot be read are named."""

from __future__ import annotations

from app.panel_table import read_table
from core.project.model import Grain


def rows(text: str, unit: str = "mm", materials=("birch 18", "oak 20"), material="") -> list:
    table = read_table(text, unit, materials, material)
    assert not table.problems, table.problems
    return [(p.name, *p.size_mm, p.quantity, p.material, str(p.grain)) for p in table.panels]


def test_commas_semicolons_and_tabs_split_columns() -> None:
    wanted = [("Shelf", 800.0, 300.0, 4, "oak 20", "along")]
    assert rows("Shelf, 800, 300, 4, oak 20, along") == wanted
    assert rows("Shelf;800;300;4;oak 20;along") == wanted
    assert rows("Shelf\t800\t300\t4\toak 20\talong") == wanted


def test_a_decimal_comma_survives_where_semicolons_split() -> None:
    assert rows("Shelf;800,5;300")[0][1:3] == (800.5, 300.0)


def test_headings_give_the_order() -> None:
    table = read_table("qty,board,name,width,height\n2,birch 18,Side,700,530", "mm", ("birch 18",))
    assert [(p.name, p.size_mm, p.quantity) for p in table.panels] == [("Side", (700.0, 530.0), 2)]


def test_inches_with_their_sign_are_no_quotation() -> None:
    assert rows('Shelf, 30", 12 1/2", 4', "in")[0][1:3] == (762.0, 317.5)


def test_a_size_in_one_cell_and_a_missing_name_will_do() -> None:
    assert rows("Shelf, 800 x 300")[0][:3] == ("Shelf", 800.0, 300.0)
    assert rows("800, 300")[0][:3] == ("Panel 1", 800.0, 300.0)


def test_the_only_board_is_taken_where_none_is_named() -> None:
    assert rows("Shelf, 800, 300", material="birch 18")[0][4] == "birch 18"


def test_bad_lines_are_named_and_the_others_count() -> None:
    table = read_table(
        "Shelf, 800, 300\nBack, wide, 300\nSide, 0, 10\nTop, 10, 10, 1, steel\n", "mm", ("oak 20",)
    )
    assert [p.name for p in table.panels] == ["Shelf"]
    assert [problem.split(":")[0] for problem in table.problems] == ["Line 2", "Line 3", "Line 4"]
    assert "steel" in table.problems[2]


def test_nothing_in_gives_nothing_out() -> None:
    assert read_table("", "mm") == read_table(" \n\n", "mm")
    assert read_table("", "mm").panels == ()


def test_grain_words_are_read() -> None:
    table = read_table("A,1,2,across\nB,1,2,1,oak 20,free", "mm", ("oak 20",))
    assert [p.grain for p in table.panels] == [Grain.ACROSS, Grain.FREE]
