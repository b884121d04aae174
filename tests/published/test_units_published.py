"""Lengths against published definitions."""

from __future__ import annotations

import pytest

from core.units import UNITS, parse_length

# International yard and pound agreement of 1 July 1959: the yard is 0.9144 m exactly.
YARD_MM = 914.4


def test_inch_and_foot_are_the_1959_yards_36th_and_third() -> None:
    assert UNITS["in"] == pytest.approx(YARD_MM / 36, rel=1e-15)
    assert UNITS["ft"] == pytest.approx(YARD_MM / 3, rel=1e-15)
    assert parse_length("1 yd") == YARD_MM


@pytest.mark.parametrize(
    ("text", "mm"),
    [
        # Decimal equivalents of inch fractions, as in any machinist's table.
        ("1/64", 0.396875),
        ("1/32", 0.79375),
        ("1/16", 1.5875),
        ("1/8", 3.175),
        ("1/4", 6.35),
        ("3/8", 9.525),
        ("1/2", 12.7),
        ("23/32", 18.25625),
        ("3/4", 19.05),
        ("63/64", 25.003125),
    ],
)
def test_inch_fractions_are_the_tables_millimetres(text: str, mm: float) -> None:
    assert parse_length(text, "in") == mm


@pytest.mark.parametrize(
    ("inches", "mm"),
    # ANSI/ASME Y14.1 sheets A and B, in both units as secondary literature gives them.
    [("8.5", 215.9), ("11", 279.4), ("17", 431.8)],
)
def test_drawing_sheets_come_out_in_both_units(inches: str, mm: float) -> None:
    assert parse_length(inches, "in") == pytest.approx(mm, rel=1e-15)


def test_a_thou_is_a_thousandth_of_an_inch() -> None:
    assert parse_length("1000 thou") == parse_length("1 in") == 25.4
