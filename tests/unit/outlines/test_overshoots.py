"""Lines that run past their corner are trimmed, those that stop short are lengthened; all told."""

from __future__ import annotations

import math
from collections.abc import Callable
from pathlib import Path
from typing import Any

import ezdxf
import pytest

from core.findings import Severity
from core.outlines import ImportResult, read_outlines


def read(folder: Path, draw: Callable[[Any], None], **options: Any) -> ImportResult:
    doc = ezdxf.new("R2010", units=4)
    draw(doc.modelspace())
    path = folder / "plate.dxf"
    doc.saveas(path)
    return read_outlines(path, **options)


def hash_sign(over: float) -> Callable[[Any], None]:
    """A rectangle of 600 × 400 whose four lines run past every corner."""

    def draw(msp: Any) -> None:
        msp.add_line((-over, 0), (600 + over, 0))
        msp.add_line((600, -over), (600, 400 + over))
        msp.add_line((600 + over, 400), (-over, 400))
        msp.add_line((0, 400 + over), (0, -over))

    return draw


def test_lines_past_all_corners_give_the_rectangle_and_eight_places(tmp_path: Path) -> None:
    result = read(tmp_path, hash_sign(1.2))
    (outline,) = result.outlines
    assert outline.region.bounds == pytest.approx((0, 0, 600, 400), abs=1e-9)
    assert len(outline.region.outer.vertices) == 4
    assert [f.code for f in result.findings] == ["overshoot-trimmed"] * 8
    assert {tuple(round(v, 6) + 0.0 for v in f.at or ()) for f in result.findings} == {
        (0.0, 0.0),
        (600.0, 0.0),
        (600.0, 400.0),
        (0.0, 400.0),
    }
    assert all("1.2 mm" in f.message and f.severity is Severity.WARN for f in result.findings)


def test_up_to_two_millimetres_are_trimmed_and_not_more(tmp_path: Path) -> None:
    assert len(read(tmp_path, hash_sign(1.99)).outlines) == 1
    beyond = read(tmp_path, hash_sign(2.1))
    assert not beyond.outlines
    assert {f.code for f in beyond.findings} == {"open-line", "no-outlines"}


def test_a_line_that_ends_on_another_makes_a_corner_there(tmp_path: Path) -> None:
    def draw(msp: Any) -> None:
        msp.add_line((-50, 0), (600, 0))
        msp.add_line((600, 0), (600, 400))
        msp.add_line((600, 400), (0, 400))
        msp.add_line((0, 400), (0, 0))

    result = read(tmp_path, draw)
    assert result.outlines[0].region.bounds == pytest.approx((0, 0, 600, 400))
    (finding,) = result.findings
    assert finding.code == "open-line"
    assert "50.0 mm" in finding.message


def test_a_line_that_stops_short_of_another_is_lengthened(tmp_path: Path) -> None:
    def draw(msp: Any) -> None:
        msp.add_line((-1, 0), (600, 0))
        msp.add_line((600, 0), (600, 400))
        msp.add_line((600, 400), (0, 400))
        msp.add_line((0, 400), (0, 0.3))

    result = read(tmp_path, draw)
    assert result.outlines[0].region.area_mm2 == pytest.approx(240000, rel=1e-12)
    assert sorted(f.code for f in result.findings) == ["gap-closed", "overshoot-trimmed"]
    short = next(f for f in result.findings if f.code == "gap-closed")
    assert "0.300 mm" in short.message
    assert short.at == pytest.approx((0, 0), abs=1e-9)


def test_an_arc_past_its_corner_stays_an_arc(tmp_path: Path) -> None:
    def draw(msp: Any) -> None:
        msp.add_line((0, 0), (600, 0))
        msp.add_line((600, 0), (600, 401))
        msp.add_arc((300, 400), 300, -0.15, 180)
        msp.add_line((0, 400), (0, 0))

    (outline,) = read(tmp_path, draw).outlines
    assert outline.region.area_mm2 == pytest.approx(240000 + math.pi * 300**2 / 2, rel=1e-9)
    assert outline.region.outer.has_arcs
    assert len(outline.region.outer.vertices) <= 5


def test_a_divider_that_overshoots_gives_both_panels(tmp_path: Path) -> None:
    def draw(msp: Any) -> None:
        hash_sign(1.0)(msp)
        msp.add_line((300, -1), (300, 401))

    result = read(tmp_path, draw)
    assert sorted(o.region.bounds for o in result.outlines) == [
        pytest.approx((0, 0, 300, 400)),
        pytest.approx((300, 0, 600, 400)),
    ]
    assert "line-branches" in {f.code for f in result.findings}


def test_strays_that_cross_each_other_are_left_as_they_are_drawn(tmp_path: Path) -> None:
    def draw(msp: Any) -> None:
        hash_sign(1.0)(msp)
        msp.add_line((100, 100), (200, 200))
        msp.add_line((150, 90), (150, 151))

    result = read(tmp_path, draw)
    assert len(result.outlines) == 1
    told = sorted(f.message for f in result.findings if f.code == "open-line")
    assert len(told) == 2
    assert "(150.0, 90.0) to (150.0, 151.0)" in told[1]


def test_nothing_is_trimmed_when_gaps_are_to_stay_open(tmp_path: Path) -> None:
    assert not read(tmp_path, hash_sign(1.2), gap_tol_mm=0.0).outlines
