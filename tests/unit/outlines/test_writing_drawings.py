"""What is written is what other programs can read: clean, closed, in millimetres, repeatable."""

from __future__ import annotations

import io
import math
import os
from pathlib import Path

import pytest
from ezdxf import recover

from core.errors import InvalidGeometryError, InvalidRequestError, SaveFailedError
from core.geometry import Region, Ring
from core.outlines import (
    CircleItem,
    DrawItem,
    PathItem,
    PointItem,
    RingItem,
    TextItem,
    layer_names,
    read_outlines,
    region_items,
    write_dxf,
    write_svg,
)
from tests import drawing_check

STADIUM = Ring.of([(0, 0, 0), (100, 0, 1), (100, 50, 0), (0, 50, 1)])
ITEMS: list[DrawItem] = [
    RingItem("CUT", STADIUM),
    CircleItem("DRILL 12", (50, 25), 2.5),
    PointItem("DRILL 12", (80, 25)),
    PathItem("ENGRAVE", ((10, 10, 0.5), (20, 10, 0.0), (30, 20, 0.0))),
    TextItem("TEXT", (50, 40), "Rail ½″ é", 4.0, 30.0, centred=True),
]


def loaded(version: str, items: list[DrawItem] = ITEMS):
    stream = io.BytesIO()
    write_dxf(stream, items, version=version)
    return recover.read(io.BytesIO(stream.getvalue()))


@pytest.mark.parametrize("version", ["R12", "R2000", "R2010"])
def test_the_file_passes_the_librarys_audit_without_errors_or_fixes(version: str) -> None:
    doc, auditor = loaded(version)
    assert (len(auditor.errors), len(auditor.fixes)) == (0, 0)
    again = doc.audit()
    assert (len(again.errors), len(again.fixes)) == (0, 0)


@pytest.mark.parametrize("version", ["R12", "R2000", "R2010"])
def test_every_item_is_there_on_its_layer_flat_and_closed(version: str) -> None:
    doc, _ = loaded(version)
    kinds = sorted((e.dxftype().removeprefix("LW"), e.dxf.layer) for e in doc.modelspace())
    assert kinds == [
        ("CIRCLE", "DRILL 12"),
        ("POINT", "DRILL 12"),
        ("POLYLINE", "CUT"),
        ("POLYLINE", "ENGRAVE"),
        ("TEXT", "TEXT"),
    ]
    closed = [e.is_closed for e in doc.modelspace() if "POLYLINE" in e.dxftype()]
    assert sorted(closed) == [False, True]
    text = doc.modelspace().query("TEXT").first
    assert text.dxf.text == "Rail ½″ é"
    assert text.dxf.rotation == 30.0
    assert len(doc.blocks) <= 2  # model and paper space, nothing else


def test_the_header_says_millimetres() -> None:
    for version in ("R2000", "R2010"):
        doc, _ = loaded(version)
        assert doc.header["$INSUNITS"] == 4
        assert doc.header["$MEASUREMENT"] == 1


def test_repeated_points_empty_shapes_and_doubles_are_left_out() -> None:
    ring = Ring(((0, 0, 0), (0, 0, 0), (100, 0, 0), (100, 1e-8, 0), (100, 50, 0)))
    items: list[DrawItem] = [
        RingItem("CUT", ring),
        RingItem("CUT", Ring.of([(100, 0), (100, 50), (0, 0)])),
        RingItem("CUT", ring.reversed()),
        RingItem("OTHER", ring),
        CircleItem("CUT", (0, 0), 0.0),
        PathItem.line("CUT", (5, 5), (5, 5)),
        PathItem.line("CUT", (0, 0), (9, 9)),
        PathItem.line("CUT", (9, 9), (0, 0)),
        TextItem("TEXT", (0, 0), "  "),
    ]
    doc, _ = loaded("R2010", items)
    rows = [(e.dxf.layer, len(e)) for e in doc.modelspace()]
    assert rows == [("CUT", 3), ("OTHER", 3), ("CUT", 2)]


def test_a_coordinate_that_is_no_number_is_refused() -> None:
    for item in (
        CircleItem("A", (math.nan, 0), 5),
        PathItem.line("A", (0, 0), (math.inf, 0)),
        RingItem("A", Ring(((0, 0, math.nan), (1, 0, 0), (1, 1, 0)))),
    ):
        with pytest.raises(InvalidGeometryError, match="not a finite number"):
            write_dxf(io.BytesIO(), [item])


def test_an_unknown_version_is_refused() -> None:
    with pytest.raises(InvalidRequestError, match="R12, R2000, R2010"):
        write_dxf(io.BytesIO(), ITEMS, version="R14")


def test_the_same_items_give_the_same_bytes(tmp_path: Path) -> None:
    for version in ("R12", "R2000", "R2010"):
        streams = [io.BytesIO(), io.BytesIO()]
        for stream in streams:
            write_dxf(stream, ITEMS, version=version)
        assert streams[0].getvalue() == streams[1].getvalue()


def test_a_text_stream_and_a_path_get_what_a_byte_stream_gets(tmp_path: Path) -> None:
    data, text = io.BytesIO(), io.StringIO()
    write_dxf(data, ITEMS)
    write_dxf(text, ITEMS)
    write_dxf(tmp_path / "a.dxf", ITEMS)
    assert text.getvalue().encode() == data.getvalue() == (tmp_path / "a.dxf").read_bytes()


def test_a_folder_that_is_not_there_leaves_an_error_and_no_file(tmp_path: Path) -> None:
    with pytest.raises(SaveFailedError, match="could not be written"):
        write_dxf(tmp_path / "none" / "a.dxf", ITEMS)
    target = tmp_path / "taken"
    target.mkdir()
    with pytest.raises(SaveFailedError):
        write_dxf(target, ITEMS)
    assert os.listdir(tmp_path) == ["taken"]


def test_nothing_to_draw_gives_an_empty_valid_file() -> None:
    doc, auditor = loaded("R2010", [])
    assert len(doc.modelspace()) == 0
    assert not auditor.errors
    stream = io.StringIO()
    write_svg(stream, [])
    assert stream.getvalue().endswith("</svg>\n")


def test_layer_names_become_plain_short_and_stay_apart() -> None:
    names = layer_names(["CUT 18/2*é", "CUT 18_2_e", "x" * 40, "x" * 35, "", "刃"])
    assert names["CUT 18/2*é"] == "CUT 18_2_e"
    assert names["CUT 18_2_e"] == "CUT 18_2_e-2"
    assert names["x" * 40] == "x" * 31
    assert names["x" * 35] == "x" * 29 + "-2"
    assert names[""] == "LAYER"
    assert names["刃"] == "LAYER-2"


def test_letters_that_plain_ones_stand_for_are_spelt_out() -> None:
    names = layer_names(["außen Ø6", "fræs", "nóż", "bore ⌀8"])
    assert list(names.values()) == ["aussen O6", "fraes", "noz", "bore D8"]


def test_layers_take_the_colours_asked_for() -> None:
    stream = io.BytesIO()
    write_dxf(stream, ITEMS, colours={"CUT": 1})
    doc, _ = recover.read(io.BytesIO(stream.getvalue()))
    assert doc.layers.get("CUT").color == 1
    assert doc.layers.get("ENGRAVE").color == 7


@pytest.mark.parametrize("version", ["R12", "R2000", "R2010"])
def test_a_whole_panel_comes_back_from_dxf(version: str, tmp_path: Path) -> None:
    region = Region.of(Ring.rectangle(-50, 20, 600, 400), [STADIUM.moved(_at(100, 100))])
    path = tmp_path / "a.dxf"
    write_dxf(path, region_items("CUT", region), version=version)
    (outline,) = read_outlines(path).outlines
    assert outline.region.area_mm2 == pytest.approx(region.area_mm2, rel=1e-14)
    assert [v[2] for v in outline.region.holes[0].vertices].count(-1.0) == 2


def test_an_svg_states_its_size_and_keeps_layers_and_arcs(tmp_path: Path) -> None:
    path = tmp_path / "a.svg"
    write_svg(path, ITEMS, margin_mm=10)
    text = path.read_text(encoding="utf-8")
    # The stadium with its round ends is 150 × 50.
    assert 'width="170mm" height="70mm"' in text
    assert 'id="DRILL 12"' in text
    result = read_outlines(path)
    (outline,) = result.outlines
    assert outline.region.outer.has_arcs
    assert outline.region.bounds == pytest.approx((10, 10, 160, 60))
    assert outline.name == "Rail ½″ é"
    assert sorted(f.kind.value for f in outline.features) == ["drill", "engrave"]


def test_marks_that_xml_cannot_hold_are_escaped_or_left_out(tmp_path: Path) -> None:
    path = tmp_path / "a.svg"
    write_svg(path, [RingItem('A"<&\x01', STADIUM), TextItem("T", (50, 25), "a<b & \x02c")])
    assert read_outlines(path).outlines[0].name == "a<b & c"


def _at(x: float, y: float):
    from core.geometry import Motion

    return Motion(x, y)


@pytest.mark.parametrize("version", ["R12", "R2000", "R2010"])
def test_edges_too_short_for_any_program_are_not_written(version: str) -> None:
    # Specks along the way, at the closing corner, and one that is an arc; a line ends in one.
    speckled = Ring.of(
        [
            (0, 0, 0),
            (4e-4, 0, 0),
            (100, 0, 0.5),
            (100, 5e-4, 0),
            (100, 60, 0),
            (0, 60, 0),
            (0, 6e-4, 0),
        ]
    )
    line = PathItem.line("ENGRAVE", (10, 10), (20, 10), (20, 10.0008))
    stream = io.BytesIO()
    write_dxf(stream, [RingItem("CUT", speckled), line], version=version)
    assert drawing_check.flaws(stream.getvalue()) == []
    rows = [e for e in drawing_check.edges(stream.getvalue()) if e[0] == "CUT"]
    assert [(round(x), round(y)) for _, (x, y), _, _ in rows] == [
        (0, 0), (100, 0), (100, 60), (0, 60),
    ]  # fmt: skip
    (edge,) = (e for e in drawing_check.edges(stream.getvalue()) if e[0] == "ENGRAVE")
    assert edge[1:3] == ((10, 10), (20, 10.0008))  # the ends stay where they were drawn


def test_a_curve_of_specks_keeps_its_shape() -> None:
    tiny = Ring.of(
        [
            (0.05 * math.cos(k * math.tau / 900), 0.05 * math.sin(k * math.tau / 900))
            for k in range(900)
        ]
    )
    stream = io.BytesIO()
    write_dxf(stream, [RingItem("CUT", tiny)])
    rows = [start for _, start, _, _ in drawing_check.edges(stream.getvalue())]
    assert 200 < len(rows) < 320
    assert Ring.of(rows).signed_area_mm2 == pytest.approx(math.pi * 0.05**2, rel=1e-3)


@pytest.mark.parametrize("version", ["R12", "R2000", "R2010"])
@pytest.mark.parametrize("bulge", [1.5, -2.4142135, 40.0, 1e4])
def test_an_arc_beyond_a_half_circle_is_written_as_two(version: str, bulge: float) -> None:
    keyhole = Ring.of([(0, 0, bulge), (5, 0, 0), (5, -40, 0), (0, -40, 0)])
    stream = io.BytesIO()
    write_dxf(stream, [RingItem("CUT", keyhole)], version=version)
    found = list(drawing_check.edges(stream.getvalue()))
    assert len(found) == 5
    assert max(abs(b) for *_, b in found) <= 1.0
    again = Ring.of([(*start, b) for _, start, _, b in found])
    assert again.signed_area_mm2 == pytest.approx(keyhole.signed_area_mm2, rel=1e-9)
    # An open line ends as it did: its last bulge belongs to no edge.
    path = io.BytesIO()
    write_dxf(path, [PathItem("CUT", ((0, 0, bulge), (5, 0, 7.0)))], version=version)
    assert len(list(drawing_check.edges(path.getvalue()))) == 2
