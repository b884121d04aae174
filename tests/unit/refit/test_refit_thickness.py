"""What readings of a board give cause to say."""

from __future__ import annotations

from dataclasses import replace

import pytest

from core.errors import InvalidRequestError
from core.geometry import Ring
from core.project.model import Project
from core.refit.thickness import (
    Standard,
    expected_range,
    explain_thickness,
    spread_mm,
    thickness_findings,
)
from core.shop import BoardState, Material, Reading
from tests.unit.refit.refit_fittings import panel, project


def with_board(material: Material, fit_mm: float = 0.1) -> Project:
    part = panel("Shelf", Ring.rectangle(0, 0, 300, 200), material=material.name)
    return project(part, materials=(material,), fit_mm=fit_mm)


def codes(plan: Project) -> list[str]:
    return [finding.code for finding in thickness_findings(plan)]


def test_a_spread_larger_than_the_fit_is_warned_about_and_one_as_large_is_not() -> None:
    board = Material("Ply", 18.0, (Reading(17.5), Reading(17.6)))
    assert codes(with_board(board, 0.1)) == []
    board = replace(board, readings=(*board.readings, Reading(17.65)))
    assert codes(with_board(board, 0.1)) == ["thickness-spread"]
    assert spread_mm(board) == pytest.approx(0.15)


def test_only_the_most_finished_state_counts() -> None:
    board = Material(
        "Ply",
        18.0,
        (
            Reading(18.4),
            Reading(17.6, state=BoardState.SANDED),
            Reading(17.55, state=BoardState.SANDED),
        ),
    )
    assert spread_mm(board) == pytest.approx(0.05)
    assert board.measured_mm == 17.6


def test_a_reading_no_such_board_can_have_is_questioned() -> None:
    assert codes(with_board(Material("Ply", 18.0, (Reading(15.1),)))) == ["thickness-odd"]
    assert codes(with_board(Material("Fir ply", 23 / 32 * 25.4, (Reading(17.9),)))) == []


def test_a_planed_board_measured_as_bought_is_asked_to_be_measured_again() -> None:
    board = Material("Ash", 20.0, (Reading(24.0),), raw_mm=24.0)
    assert codes(with_board(board)) == ["thickness-stale"]
    planed = replace(board, readings=(Reading(20.1, state=BoardState.PLANED),))
    assert codes(with_board(planed)) == []


def test_boards_no_panel_uses_are_left_alone() -> None:
    plan = with_board(Material("Ply", 18.0, (Reading(17.6),)))
    other = Material("Other", 18.0, (Reading(12.0),))
    assert (
        codes(replace(plan, shop=replace(plan.shop, materials=(*plan.shop.materials, other)))) == []
    )


def test_the_explanation_names_the_standard_and_the_reading_that_counts() -> None:
    text = " ".join(explain_thickness(Material("Ply 18", 18.0, (Reading(17.6), Reading(17.5)))))
    assert "EN 315" in text and "17.6 mm" in text and "largest of 2" in text
    text = " ".join(explain_thickness(Material("Fir ply 23/32", 23 / 32 * 25.4), "in"))
    assert "PS 1" in text and "23/32 CAT" in text and "No reading yet" in text
    assert "EN 622" in explain_thickness(Material("MDF 18", 18.0))[0]


def test_a_thickness_that_is_no_category_is_refused() -> None:
    with pytest.raises(InvalidRequestError, match="no performance category"):
        expected_range(17.0, Standard.PS_1_CATEGORY)
    with pytest.raises(InvalidRequestError, match="sold under"):
        expected_range(0.0, Standard.EN_315)
