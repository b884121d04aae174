"""Panels without a drawing: by size, pasted, from CSV."""

from __future__ import annotations

import math
from pathlib import Path

import pytest

from core.errors import InvalidRequestError, UnreadableDrawing
from core.outlines import read_panel_file, read_panel_table
from core.outlines.typed import (
    disc,
    rectangle,
    region_from_text,
    rounded_rectangle,
    triangle,
    triangle_of_sides,
)


def test_shapes_have_the_areas_of_school_formulas() -> None:
    assert rectangle(600, 400).area_mm2 == 240000
    assert rounded_rectangle(600, 400, 30).area_mm2 == pytest.approx(
        240000 - (4 - math.pi) * 900, rel=1e-12
    )
    assert rounded_rectangle(600, 400, 200).area_mm2 == pytest.approx(
        200 * 400 + math.pi * 40000, rel=1e-12
    )
    assert disc(350).area_mm2 == pytest.approx(math.pi * 175**2, rel=1e-12)
    assert disc(350, hole_mm=100).area_mm2 == pytest.approx(math.pi * (175**2 - 50**2), rel=1e-12)
    assert triangle(600, 400).area_mm2 == pytest.approx(120000)
    # Heron: sides 3, 4, 5 enclose 6.
    assert triangle_of_sides(300, 400, 500).area_mm2 == pytest.approx(60000)


def test_shapes_lie_at_the_origin_and_run_counter_clockwise() -> None:
    for region in (
        rectangle(60, 40),
        rounded_rectangle(60, 40, 5),
        disc(60),
        triangle(60, 40, apex_mm=0),
        triangle_of_sides(60, 50, 40),
    ):
        assert region.bounds[:2] == pytest.approx((0, 0), abs=1e-12)
        assert region.outer.signed_area_mm2 > 0
        assert region.polygon.is_valid


@pytest.mark.parametrize(
    "make",
    [
        lambda: rectangle(0, 5),
        lambda: rectangle(5, -1),
        lambda: rectangle(math.nan, 5),
        lambda: rounded_rectangle(60, 40, 21),
        lambda: rounded_rectangle(60, 40, -1),
        lambda: disc(0),
        lambda: disc(60, hole_mm=60),
        lambda: triangle(60, math.inf),
        lambda: triangle_of_sides(1, 2, 3),
        lambda: triangle(1, 1, apex_mm=1000),
    ],
)
def test_sizes_that_make_no_shape_are_refused(make) -> None:
    with pytest.raises(InvalidRequestError):
        make()


@pytest.mark.parametrize(
    ("text", "size", "area"),
    [
        ("900x600", (900, 600), 540000),
        ("36 x 24 in", (914.4, 609.6), 914.4 * 609.6),
        ("600x400 r30", (600, 400), 240000 - (4 - math.pi) * 900),
        ("600x400, radius 30 mm", (600, 400), 240000 - (4 - math.pi) * 900),
        ("disc 350", (350, 350), math.pi * 175**2),
        ("⌀350", (350, 350), math.pi * 175**2),
        ("d 350 mm", (350, 350), math.pi * 175**2),
        ("triangle 600x400", (600, 400), 120000),
    ],
)
def test_a_size_in_a_cell_is_a_shape(text: str, size: tuple[float, float], area: float) -> None:
    region = region_from_text(text)
    assert region.size_mm == pytest.approx(size)
    assert region.area_mm2 == pytest.approx(area)


TABLE = """name;size;qty;material;grain;cut by
Shelf;900x300;4;birch 18;along;router
Top;"900,5x600";1;birch 18;;saw

Bad;900;2
# a remark
Round;disc 350
Below;-5x3
Many;5x3;several
Skew;500x300;1;birch;diagonal
Last;2000 x 300;2;;across;Table saw
"""


def test_good_rows_are_kept_and_bad_ones_named_by_line() -> None:
    table = read_panel_table(TABLE, source="list.csv")
    assert [(p.name, p.quantity, p.material, p.grain, p.by, p.line) for p in table.panels] == [
        ("Shelf", 4, "birch 18", "along", "router", 2),
        ("Top", 1, "birch 18", "free", "saw", 3),
        ("Round", 1, "", "free", "router", 7),
        ("Last", 2, "", "across", "saw", 11),
    ]
    assert table.panels[1].region.size_mm == (900.5, 600)
    told = [f.message for f in table.findings]
    assert [text.split(" was")[0] for text in told] == [
        "Line 5", "Line 8", "Line 9", "Line 10",
    ]  # fmt: skip
    assert "below zero" in told[1]
    assert "several" in told[2]
    assert "diagonal" in told[3]
    assert all(f.source == "list.csv" and f.remedy for f in table.findings)


def test_pasted_cells_need_no_heading_and_may_part_width_and_height() -> None:
    table = read_panel_table(
        "Shelf\t900\t300\t4\tbirch\nSide\t600x300\t2\r\nFoot\t1 1/2 in\t2 in\n"
    )
    assert [(p.name, p.region.size_mm, p.quantity, p.material) for p in table.panels] == [
        ("Shelf", (900, 300), 4, "birch"),
        ("Side", (600, 300), 2, ""),
        ("Foot", pytest.approx((38.1, 50.8)), 1, ""),
    ]
    assert table.findings == ()


def test_headings_may_stand_in_any_order_and_name_a_unit() -> None:
    table = read_panel_table(
        'Qty,Material,Width (in),Height [in],Part\n2,ply,36,"23 1/2",Side\n1,ply,12,,None\n'
    )
    (panel,) = table.panels
    assert (panel.name, panel.quantity, panel.material) == ("Side", 2, "ply")
    assert panel.region.size_mm == pytest.approx((914.4, 596.9))
    assert "has no size" in table.findings[0].message


def test_bare_numbers_are_in_the_given_unit() -> None:
    (panel,) = read_panel_table("Side,36x24\n", default_unit="in").panels
    assert panel.region.size_mm == pytest.approx((914.4, 609.6))


def test_a_nameless_row_gets_a_number_and_a_huge_one_a_doubt() -> None:
    table = read_panel_table(",900x300\n,9000x300\n")
    assert [p.name for p in table.panels] == ["panel-1", "panel-2"]
    assert [f.code for f in table.findings] == ["row-large"]


def test_a_panel_has_an_outline_like_one_from_a_drawing() -> None:
    outline = read_panel_table("Shelf,900x300").panels[0].outline
    assert (outline.name, outline.polygon.area) == ("Shelf", 270000)


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "cp1252"])
def test_a_file_is_read_in_the_encodings_spreadsheets_save(encoding: str, tmp_path: Path) -> None:
    path = tmp_path / "list.csv"
    path.write_bytes("Étagère;900x300;2\n".encode(encoding))
    (panel,) = read_panel_file(path).panels
    assert (panel.name, panel.quantity) == ("Étagère", 2)


def test_what_is_no_table_is_refused(tmp_path: Path) -> None:
    with pytest.raises(UnreadableDrawing, match="cannot be opened"):
        read_panel_file(tmp_path / "none.csv")
    path = tmp_path / "list.xls"
    path.write_bytes(b"\xd0\xcf\x11\xe0" + bytes(100))
    with pytest.raises(UnreadableDrawing, match="no table of text"):
        read_panel_file(path)


def test_an_empty_table_is_empty_and_a_broken_quote_costs_no_traceback() -> None:
    assert read_panel_table("").panels == ()
    assert read_panel_table('a;"900x600\nb;5x5').findings
