"""Ellipses and splines come as few arcs that stay close to the curve."""

from __future__ import annotations

import math
from pathlib import Path
from typing import Any

import ezdxf
import numpy as np
import pytest
import shapely

from core.outlines import read_outlines
from core.tolerances import CURVE_ARC_MM, CURVE_SAGITTA_MM

# Flattening and fitting together; a fitted arc is flattened again for the comparison.
MOST_MM = CURVE_ARC_MM + CURVE_SAGITTA_MM


def read(folder: Path, draw: Any, suffix: str = ".dxf") -> Any:
    path = folder / f"curve{suffix}"
    if suffix == ".svg":
        path.write_text(draw)
    else:
        doc = ezdxf.new("R2010", units=4)
        draw(doc.modelspace())
        doc.saveas(path)
    (outline,) = read_outlines(path).outlines
    return outline


def farthest(points: np.ndarray, ring: Any) -> float:
    line = shapely.LinearRing(ring.flattened(1e-5))
    return float(shapely.distance(shapely.points(points), line).max())


@pytest.mark.parametrize(("a", "b"), [(500, 250), (40, 10), (1200, 1190), (300, 3)])
def test_an_ellipse_is_few_arcs_on_its_line(a: float, b: float, tmp_path: Path) -> None:
    outline = read(tmp_path, lambda msp: msp.add_ellipse((0, 0), (a, 0), b / a))
    ring = outline.region.outer
    t = np.linspace(0, math.tau, 4001)
    assert farthest(np.column_stack((a * np.cos(t), b * np.sin(t))), ring) <= MOST_MM
    assert len(ring.vertices) <= 80
    assert sum(1 for v in ring.vertices if v[2]) >= len(ring.vertices) - 2
    # Area of an ellipse, π·a·b.
    assert outline.region.area_mm2 == pytest.approx(math.pi * a * b, abs=MOST_MM * 2 * (a + b) * 2)


def test_a_spline_with_a_corner_keeps_the_corner(tmp_path: Path) -> None:
    def draw(msp: Any) -> None:
        msp.add_open_spline([(0, 0), (200, 0), (200, 200)], degree=2)  # a parabola
        msp.add_line((200, 200), (0, 200))
        msp.add_line((0, 200), (0, 0))

    outline = read(tmp_path, draw)
    t = np.linspace(0, 1, 2001)
    curve = np.column_stack((400 * t * (1 - t) + 200 * t * t, 200 * t * t))
    assert farthest(curve, outline.region.outer) <= MOST_MM
    corners = {(round(x, 6) + 0.0, round(y, 6) + 0.0) for x, y, _ in outline.region.outer.vertices}
    assert {(0.0, 0.0), (200.0, 200.0), (0.0, 200.0)} <= corners


def test_straight_sides_of_an_svg_path_stay_straight_beside_its_curves(tmp_path: Path) -> None:
    svg = (
        '<svg xmlns="http://www.w3.org/2000/svg" width="600mm" height="400mm" '
        'viewBox="0 0 600 400"><path fill="none" stroke="#000" '
        'd="M0 0 H600 V400 C400 300 200 300 0 400 Z"/></svg>'
    )
    ring = read(tmp_path, svg, ".svg").region.outer
    t = np.linspace(0, 1, 2001)[:, None]
    p0, p1, p2, p3 = (np.array(p) for p in ((600, 0), (400, 100), (200, 100), (0, 0)))
    curve = p0 * (1 - t) ** 3 + 3 * p1 * t * (1 - t) ** 2 + 3 * p2 * t**2 * (1 - t) + p3 * t**3
    assert farthest(curve, ring) <= MOST_MM
    straight = [v for v in ring.vertices if not v[2]]
    assert len(straight) == 3
    assert len(ring.vertices) <= 30


def test_chords_a_maker_drew_stay_chords(tmp_path: Path) -> None:
    points = [
        (300 * math.cos(math.tau * k / 48), 200 * math.sin(math.tau * k / 48)) for k in range(48)
    ]
    outline = read(tmp_path, lambda msp: msp.add_lwpolyline(points, close=True))
    assert len(outline.region.outer.vertices) == 48
    assert not outline.region.outer.has_arcs


def test_the_same_spline_drawn_from_both_ends_is_drawn_twice(tmp_path: Path) -> None:
    points = [(0, 0), (100, 150), (250, -50), (400, 0)]

    def draw(msp: Any) -> None:
        msp.add_open_spline(points, degree=3)
        msp.add_open_spline(points[::-1], degree=3)
        msp.add_line((400, 0), (400, -300))
        msp.add_line((400, -300), (0, -300))
        msp.add_line((0, -300), (0, 0))

    doc = ezdxf.new("R2010", units=4)
    draw(doc.modelspace())
    path = tmp_path / "twice.dxf"
    doc.saveas(path)
    result = read_outlines(path)
    assert len(result.outlines) == 1
    assert {f.code for f in result.findings} == {"line-doubled"}
