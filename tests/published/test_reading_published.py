"""Reading drawings against figures others published."""

from __future__ import annotations

import math
from pathlib import Path

import ezdxf
import numpy as np
import pytest
import shapely
from ezdxf import units

from core.outlines import read_outlines
from core.outlines.dxf_shapes import DXF_UNITS
from core.outlines.taken_unit import PIXEL_MM

# Complete elliptic integral of the second kind E(m), m = 1 − (b/a)²; Abramowitz and Stegun,
# Handbook of Mathematical Functions (1964), table 17.1 (from memory).
ELLIPTIC_E = ((0.0, 1.5707963268), (0.25, 1.4674622093), (0.5, 1.3506438810), (0.75, 1.2110560276))


@pytest.mark.parametrize(("m", "integral"), ELLIPTIC_E)
def test_an_ellipse_has_the_circumference_of_the_handbook(
    m: float, integral: float, tmp_path: Path
) -> None:
    a = 400.0
    doc = ezdxf.new("R2010", units=4)
    doc.modelspace().add_ellipse((0, 0), (a, 0), math.sqrt(1 - m))
    doc.saveas(tmp_path / "e.dxf")
    (outline,) = read_outlines(tmp_path / "e.dxf").outlines
    length = shapely.LinearRing(outline.region.outer.flattened(1e-4)).length
    assert length == pytest.approx(4 * a * integral, abs=0.02)


def test_the_pie_of_the_svg_recommendation_is_three_quarters_of_a_disc(tmp_path: Path) -> None:
    # W3C, Scalable Vector Graphics 1.1, section 8.3.8, example arcs01: the red pie.
    (tmp_path / "pie.svg").write_text(
        '<svg xmlns="http://www.w3.org/2000/svg" width="1200mm" height="400mm" '
        'viewBox="0 0 1200 400"><path d="M300,200 h-150 a150,150 0 1,0 150,-150 z" '
        'fill="none" stroke="blue"/></svg>'
    )
    (outline,) = read_outlines(tmp_path / "pie.svg").outlines
    assert outline.region.area_mm2 == pytest.approx(0.75 * math.pi * 150**2, rel=1e-9)
    # Centre (300, 200) from the top of a page 400 high.
    assert outline.region.bounds == pytest.approx((150, 50, 450, 350))
    assert sum(1 for v in outline.region.outer.vertices if v[2]) == 2


def test_a_quarter_circle_of_a_cubic_bulges_by_the_known_error(tmp_path: Path) -> None:
    # A cubic with handles of 0.5523 radii is out of round by at most 0.0273 % (Goldapp,
    # Approximation of circular arcs by cubic polynomials, CAGD 8, 1991; from memory).
    r = 500.0
    c = 0.5522847498 * r
    (tmp_path / "q.svg").write_text(
        '<svg xmlns="http://www.w3.org/2000/svg" width="600mm" height="600mm" '
        f'viewBox="0 0 600 600"><path d="M0 0 H{r} C{r} {c} {c} {r} 0 {r} Z" '
        'fill="none" stroke="black"/></svg>'
    )
    (outline,) = read_outlines(tmp_path / "q.svg").outlines
    points = outline.region.outer.flattened(1e-4)
    away = np.hypot(points[:, 0], points[:, 1] - 600)
    round_part = away[away > r / 2 + 1]
    assert away.max() == pytest.approx(r * 1.000273, abs=0.01)
    assert len(round_part) > 10


def test_header_units_have_the_factors_of_the_dxf_library() -> None:
    mm = units.InsertUnits.Millimeters
    for code in (*range(1, 8), *range(10, 19)):
        expected = units.conversion_factor(units.InsertUnits(code), mm)
        assert DXF_UNITS[code][1] == pytest.approx(expected, rel=1e-6), code


def test_a_css_pixel_is_a_ninety_sixth_of_an_inch() -> None:
    # W3C, CSS Values and Units Module Level 3, section 5.2.
    assert pytest.approx(25.4) == 96 * PIXEL_MM


@pytest.mark.parametrize("count", [4, 5, 9])
def test_a_closed_spline_is_the_uniform_cubic_of_the_textbook(count: int, tmp_path: Path) -> None:
    # Uniform cubic B-spline: ((1−t)³ P0 + (3t³−6t²+4) P1 + (−3t³+3t²+3t+1) P2 + t³ P3) / 6;
    # de Boor, A Practical Guide to Splines (1978), from memory.
    turns = [math.tau * k / count for k in range(count)]
    corners = np.array(
        [(300 * math.cos(a) + 40 * math.sin(2 * a), 250 * math.sin(a)) for a in turns]
    )
    doc = ezdxf.new("R2010", units=4)
    doc.modelspace().add_spline().set_closed([(x, y, 0) for x, y in corners], degree=3)
    doc.saveas(tmp_path / "s.dxf")
    (outline,) = read_outlines(tmp_path / "s.dxf").outlines
    t = np.linspace(0, 1, 200)[:, None]
    curve = np.vstack(
        [
            (
                (1 - t) ** 3 * corners[k]
                + (3 * t**3 - 6 * t**2 + 4) * corners[(k + 1) % count]
                + (-3 * t**3 + 3 * t**2 + 3 * t + 1) * corners[(k + 2) % count]
                + t**3 * corners[(k + 3) % count]
            )
            / 6
            for k in range(count)
        ]
    )
    line = shapely.LinearRing(outline.region.outer.flattened(1e-4))
    assert shapely.distance(shapely.points(curve), line).max() <= 0.0076
    assert outline.region.area_mm2 == pytest.approx(shapely.Polygon(curve).area, rel=1e-4)
