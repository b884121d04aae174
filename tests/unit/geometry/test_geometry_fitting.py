"""Does a shape fit a room: exactly, at given turns or at any."""

from __future__ import annotations

import math

import numpy as np
import pytest
from shapely.geometry import Point, box

from core.geometry.fitting import best_fit, fits, hull_points


def scan(points: np.ndarray, width: float, height: float, steps: int = 20001) -> float:
    """Least ratio over many angles, independently of the code under test."""
    angles = np.linspace(0, math.pi, steps)
    c, s = np.cos(angles)[:, None], np.sin(angles)[:, None]
    x = points[:, 0] * c - points[:, 1] * s
    y = points[:, 0] * s + points[:, 1] * c
    return float(np.maximum(np.ptp(x, axis=1) / width, np.ptp(y, axis=1) / height).min())


def test_a_rectangle_of_exactly_the_rooms_size_fits_both_ways_round() -> None:
    assert fits(box(7, 3, 907, 603), 900, 600)
    assert fits(box(7, 3, 607, 903), 900, 600)
    assert not fits(box(0, 0, 900.001, 600), 900, 600)


def test_a_turn_that_is_not_allowed_is_not_used() -> None:
    assert not fits(box(0, 0, 600, 900), 900, 600, turns_deg=(0.0, 180.0))
    assert fits(box(0, 0, 600, 900), 900, 600, turns_deg=(90.0,))


def test_a_long_lath_fits_on_the_diagonal() -> None:
    lath = box(0, 0, 1050, 20)
    fit = best_fit(lath, 900, 600)
    assert fit.fits
    assert fit.turn_deg % 90 > 1
    assert not fits(box(0, 0, 1100, 20), 900, 600)


def test_the_place_given_puts_the_turned_shape_into_the_room() -> None:
    lath = box(0, 0, 1050, 20)
    fit = best_fit(lath, 900, 600)
    a = math.radians(fit.turn_deg)
    points = hull_points(lath)
    x = points[:, 0] * math.cos(a) - points[:, 1] * math.sin(a) - fit.x_mm
    y = points[:, 0] * math.sin(a) + points[:, 1] * math.cos(a) - fit.y_mm
    assert x.min() == pytest.approx(0, abs=1e-9)
    assert y.min() == pytest.approx(0, abs=1e-9)
    assert x.max() <= 900 * (1 + 1e-9)
    assert y.max() <= 600 * (1 + 1e-9)


def test_no_scan_over_angles_beats_the_closed_form() -> None:
    rng = np.random.default_rng(7)
    for _ in range(60):
        points = rng.normal(size=(rng.integers(3, 14), 2)) * rng.uniform(50, 500, size=2)
        width, height = rng.uniform(100, 900, 2)
        fit = best_fit(points, width, height)
        found = scan(hull_points(points), width, height, 4001)
        if not fit.fits:
            assert fit.ratio <= found + 1e-9


def test_a_round_shape_needs_its_diameter() -> None:
    disc = Point(0, 0).buffer(300, quad_segs=64)
    assert fits(disc, 600, 600)
    assert not fits(disc, 599, 900)
