"""Joints re-cut for boards as data sheets describe them, and reliefs against arithmetic."""

from __future__ import annotations

import math

import pytest

from core.geometry import Region, Ring
from core.project.model import Panel, Project
from core.project.refit import RefitRules, ReliefKind
from core.refit import refit_panel
from core.shop import Cutter, Machine, Material, Reading, Rules, Shop
from core.test_pieces import fit_series

# Mean thickness of birch plywood by nominal, a data sheet of Finnish practice, as quoted in
# secondary literature.
BIRCH_MEAN = {9.0: 9.2, 12.0: 12.0, 15.0: 14.9, 18.0: 17.7, 21.0: 20.5, 24.0: 23.4, 30.0: 29.4}


def recut(
    nominal: float, measured: float, fit: float, cutter: float, relief: ReliefKind
) -> tuple[float, float, float, float]:
    """Bounds of a slot drawn nominal × 100 at (50, 50), re-cut."""
    board = Material("Board", nominal, (Reading(measured),))
    hole = Ring.rectangle(50.0, 50.0, nominal, 100.0)
    part = Panel(
        "p", "Front", Region.of(Ring.rectangle(0, 0, 400, 300), [hole]), material=board.name
    )
    shop = Shop(Machine(cutters=(Cutter(cutter),)), (board,), rules=Rules(fit_mm=fit))
    rules = RefitRules(relief=relief)
    project = Project(panels=(part,), shop=shop, refit=True, refit_rules=rules)
    return refit_panel(project, part).panel.region.holes[0].bounds


@pytest.mark.parametrize("nominal", BIRCH_MEAN)
def test_a_slot_drawn_nominal_for_birch_as_it_really_is_gets_the_fit_and_no_more(
    nominal: float,
) -> None:
    # Slots drawn at nominal come out loose (or tight) by the difference: common practice, no
    # source.
    mean = BIRCH_MEAN[nominal]
    x1, _, x2, _ = recut(nominal, mean, 0.1, 6.0, ReliefKind.NONE)
    assert x2 - x1 == pytest.approx(mean + 0.1)


def test_a_slot_for_23_32_category_plywood_at_its_usual_thickness() -> None:
    # PS 1 category 23/32: 0.703 in usual, as quoted in secondary literature.
    inch = 25.4
    x1, _, x2, _ = recut(23 / 32 * inch, 0.703 * inch, 0.006 * inch, 0.25 * inch, ReliefKind.NONE)
    assert (x2 - x1) / inch == pytest.approx(0.709)


@pytest.mark.parametrize(
    ("cutter", "overcut"), [(3.175, 0.4650), (6.0, 0.8787), (6.35, 0.9299), (12.7, 1.8599)]
)
def test_a_dog_bone_cuts_beyond_each_wall_by_0_29289_of_the_bits_radius(
    cutter: float, overcut: float
) -> None:
    # r (1 − 1/√2), arithmetic: a circle through the corner with its centre on the bisector.
    assert overcut == pytest.approx(cutter / 2 * (1 - math.sqrt(0.5)), abs=5e-5)
    plain = recut(30.0, 29.4, 0.1, cutter, ReliefKind.NONE)
    boned = recut(30.0, 29.4, 0.1, cutter, ReliefKind.DOG_BONE)
    for before, after, sign in zip(plain, boned, (-1, -1, 1, 1), strict=True):
        assert after - before == pytest.approx(sign * overcut, abs=1e-4)


@pytest.mark.parametrize("cutter", [3.175, 6.0, 6.35])
def test_a_t_bone_cuts_beyond_one_wall_by_the_bits_radius_and_not_beyond_the_other(
    cutter: float,
) -> None:
    # Arithmetic: a circle centred on one wall's line, a radius from the corner.
    plain = recut(30.0, 29.4, 0.1, cutter, ReliefKind.NONE)
    boned = recut(30.0, 29.4, 0.1, cutter, ReliefKind.T_BONE)
    assert boned[0] == pytest.approx(plain[0]) and boned[2] == pytest.approx(plain[2])
    assert plain[1] - boned[1] == pytest.approx(cutter / 2)


def test_the_usual_test_piece_tries_the_plays_that_are_common_for_plywood() -> None:
    # 0.05 to 0.25 mm in all: common practice, no source.
    assert (min(fit_series(0.15, 5)), max(fit_series(0.15, 5))) == (0.05, 0.25)
