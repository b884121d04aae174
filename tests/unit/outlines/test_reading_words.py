"""Sentences about a drawing: numbers, and what spoke for the unit."""

from __future__ import annotations

from pathlib import Path

import ezdxf
import pytest
from ezdxf.document import Drawing

from core.findings import Finding
from core.outlines import ImportResult, read_outlines


def read(tmp_path: Path, drawing: Drawing) -> ImportResult:
    path = tmp_path / "plate.dxf"
    drawing.saveas(path)
    return read_outlines(path)


def told(result: ImportResult, code: str) -> Finding:
    (finding,) = [f for f in result.findings if f.code == code]
    return finding


def test_an_outline_whose_corner_lies_on_its_own_edge_is_taken_apart_there(tmp_path: Path) -> None:
    drawing = ezdxf.new(units=4)
    corners = [(300, 0), (500, 0), (500, 200), (400, 0), (300, 200)]
    drawing.modelspace().add_lwpolyline(corners, close=True)
    result = read(tmp_path, drawing)
    assert [round(o.polygon.area, 6) for o in result.outlines] == [10000, 10000]
    assert told(result, "self-touching").at == pytest.approx((400, 0))


def test_a_crossing_outline_is_still_refused_at_the_place(tmp_path: Path) -> None:
    drawing = ezdxf.new(units=4)
    drawing.modelspace().add_lwpolyline([(0, 0), (200, 200), (200, 0), (0, 200)], close=True)
    result = read(tmp_path, drawing)
    assert not result.outlines
    assert told(result, "self-crossing").at == pytest.approx((100, 100))
    assert told(result, "no-outlines").message.startswith("The one shape in the drawing never ")


@pytest.mark.parametrize(
    ("slot", "unit"), [(0.71875, "in"), (0.25, "in"), (18.0, "mm"), (3.0, "mm"), (0.01, "mm")]
)
def test_a_slot_too_narrow_for_any_bit_speaks_for_inches(
    tmp_path: Path, slot: float, unit: str
) -> None:
    drawing = ezdxf.new(units=0)
    model = drawing.modelspace()
    model.add_lwpolyline([(0, 0), (36, 0), (36, 24), (0, 24)], close=True)
    model.add_lwpolyline([(9, 3), (9 + slot, 3), (9 + slot, 22), (9, 22)], close=True)
    result = read(tmp_path, drawing)
    assert result.units == unit
    finding = told(result, "unit-doubtful")
    assert ("too narrow for a bit" in finding.message) == (unit == "in")
    assert finding.fix == ("take-as-mm" if unit == "in" else "take-as-in")


@pytest.mark.parametrize(("number", "words"), [(1, "1 shape"), (2, "2 shapes")])
def test_what_is_left_out_is_counted_in_plain_words(
    tmp_path: Path, number: int, words: str
) -> None:
    drawing = ezdxf.new(units=4)
    drawing.layers.add("OLD").off()
    model = drawing.modelspace()
    model.add_lwpolyline([(0, 0), (360, 0), (360, 240), (0, 240)], close=True)
    for k in range(number):
        model.add_circle((50 + 50 * k, 50), 9, dxfattribs={"layer": "OLD"})
        drawing.layout("Layout1").add_circle((5 + 50 * k, 5), 9)
    result = read(tmp_path, drawing)
    assert told(result, "paper-space").message == f"Left out: {words} on paper space."
    assert told(result, "layer-hidden").message == (
        f"Left out: {words} on layers switched off or frozen."
    )
