"""Reading and showing lengths fit each other, and no text makes the reader stumble."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from core.errors import BadLengthError
from core.units import UNITS, format_length, parse_length, parse_size

lengths = st.floats(0, 1e6, allow_nan=False)
units = st.sampled_from(sorted(UNITS))


@given(lengths, units)
def test_a_shown_length_reads_back_within_its_decimals(mm: float, unit: str) -> None:
    assert parse_length(format_length(mm, unit), "mm") == pytest.approx(mm, abs=0.0127)


@given(lengths, units, st.integers(3, 8))
def test_more_decimals_read_back_closer(mm: float, unit: str, precision: int) -> None:
    back = parse_length(format_length(mm, unit, precision=precision))
    assert back == pytest.approx(mm, rel=1e-14, abs=0.51 * 10**-precision * UNITS[unit])


@given(st.integers(0, 20_000), st.sampled_from((2, 4, 8, 16, 32, 64, 128)))
def test_whole_fractions_of_an_inch_survive_exactly(steps: int, fraction: int) -> None:
    mm = steps * 25.4 / fraction
    text = format_length(mm, "in", fraction=fraction)
    assert parse_length(text) == pytest.approx(mm, rel=1e-14)


@given(st.integers(0, 99), st.integers(0, 11), st.integers(0, 63))
def test_feet_inches_and_fractions_add_up(feet: int, inches: int, part: int) -> None:
    want = (feet * 12 + inches + part / 64) * 25.4
    assert parse_length(f"{feet}' {inches} {part}/64\"") == pytest.approx(want, rel=1e-14)


_NOISE = st.text("0123456789 .,/-+xX×eE'\"″½mcinft", max_size=16)


@given(st.one_of(st.text(max_size=40), _NOISE))
def test_any_text_is_a_length_or_a_clear_refusal(text: str) -> None:
    for read in (parse_length, parse_size):
        try:
            value = read(text)
        except BadLengthError as error:
            assert error.what
            continue
        numbers = [value] if isinstance(value, float) else [value.width_mm, value.height_mm]
        assert all(math.isfinite(number) and 0 <= number <= 1e9 for number in numbers)
