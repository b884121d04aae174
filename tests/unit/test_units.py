"""Lengths as people write them."""

from __future__ import annotations

import pytest

from core.errors import BadLengthError
from core.units import format_length, format_size, parse_length, parse_size, unit_named


@pytest.mark.parametrize(
    ("text", "unit", "mm"),
    [
        ("18", "mm", 18.0),
        ("17.6 mm", "in", 17.6),
        ("17,6", "mm", 17.6),
        (".5", "mm", 0.5),
        ("1.", "mm", 1.0),
        ("2 cm", "mm", 20.0),
        ("1.2m", "mm", 1200.0),
        ("1 m 20 cm 5 mm", "in", 1205.0),
        ("23/32", "in", 18.25625),
        ("23/32 in", "mm", 18.25625),
        ("1 1/2 in", "mm", 38.1),
        ("1-1/2″", "mm", 38.1),
        ("1½ in", "mm", 38.1),
        ("½", "in", 12.7),
        ("5' 3 1/2\"", "mm", 1612.9),
        ("5′-3½″", "mm", 1612.9),
        ("5' 3", "mm", 1600.2),
        ("5 ft 3 in", "mm", 1600.2),
        ("5''", "mm", 127.0),
        ("10 thou", "mm", 0.254),
        ("5 mil", "mm", 0.127),
        ("3 thousandths", "mm", 0.0762),
        ("1e3", "mm", 1000.0),
        ("+4", "mm", 4.0),
        ("12 Inches", "mm", 304.8),
        ("0,375 in", "mm", 9.525),
        ("1\u00a01/2 in", "mm", 38.1),
    ],
)
def test_a_length_is_read(text: str, unit: str, mm: float) -> None:
    assert parse_length(text, unit) == pytest.approx(mm, rel=1e-15)


@pytest.mark.parametrize(
    ("text", "reason"),
    [
        ("", "No length"),
        ("   ", "No length"),
        ("wide", "no length"),
        ("nan", "not a finite number"),
        ("inf", "not a finite number"),
        ("1e400", "too large"),
        ("9" * 90, "too large"),
        ("9" * 101, "too long"),
        ("-3", "below zero"),
        ("−3 mm", "below zero"),
        ("1,234.5", "two ways"),
        ("1.234,5", "two ways"),
        ("1.2.3", "two ways"),
        ("1,234", "may be a decimal sign or group thousands"),
        ("1 000", "two numbers"),
        ("3 in 4", "two numbers"),
        ("5 in 3 ft", "two lengths"),
        ("1 m 3 in", "two lengths"),
        ("1/0", "divides by zero"),
        ("1 1/0", "divides by zero"),
        ("1/2/3", "no length"),
        ("3 cubits", "unit nobody knows"),
        ("5²", "no length"),
        ("--3", "no length"),
        ("3 +", "no length"),
    ],
)
def test_what_is_no_length_is_refused_with_a_reason(text: str, reason: str) -> None:
    with pytest.raises(BadLengthError, match=reason):
        parse_length(text)


def test_below_zero_is_read_where_it_is_allowed() -> None:
    assert parse_length("-1/2 in", allow_negative=True) == -12.7


def test_zero_is_refused_where_it_makes_no_sense() -> None:
    assert parse_length("0") == 0.0
    with pytest.raises(BadLengthError, match="is zero"):
        parse_length("0 mm", allow_zero=False)


@pytest.mark.parametrize(
    ("text", "unit", "size"),
    [
        ("900x600", "mm", (900.0, 600.0, None)),
        ("900 × 600", "mm", (900.0, 600.0, None)),
        ("900X600x3", "mm", (900.0, 600.0, 3)),
        ("8 x 4 ft", "mm", (2438.4, 1219.2, None)),
        ('96"x48"x10', "mm", (2438.4, 1219.2, 10)),
        ("2 m x 90 cm", "mm", (2000.0, 900.0, None)),
        ("36x24", "in", (914.4, 609.6, None)),
        ("1 1/2x3/4", "in", (38.1, 19.05, None)),
    ],
)
def test_a_size_is_read(text: str, unit: str, size: tuple[float, float, int | None]) -> None:
    read = parse_size(text, unit)
    assert (read.width_mm, read.height_mm) == pytest.approx(size[:2], rel=1e-15)
    assert read.quantity == size[2]


@pytest.mark.parametrize(
    "text",
    ["900", "900x", "x600", "axb", "900x600x0", "900x600x1.5", "0x5", "1x2x3x4", "-5x3", "8ft x 4"],
)
def test_what_is_no_size_is_refused(text: str) -> None:
    with pytest.raises(BadLengthError):
        parse_size(text)


@pytest.mark.parametrize(
    ("mm", "unit", "options", "text"),
    [
        (17.6, "mm", {}, "17.6 mm"),
        (100.0, "mm", {}, "100 mm"),
        (-0.0001, "mm", {}, "0 mm"),
        (18.25625, "in", {}, "0.7188 in"),
        (18.25625, "in", {"fraction": 64}, "23/32 in"),
        (-38.1, "in", {"fraction": 16}, "-1 1/2 in"),
        (25.4, "in", {"precision": 3}, "1.000 in"),
        (1234.5, "m", {}, "1.2345 m"),
        (1234.5, "cm", {"with_unit": False}, "123.45"),
        (50.8, "inches", {"fraction": 8}, "2 in"),
    ],
)
def test_a_length_is_shown(mm: float, unit: str, options: dict[str, object], text: str) -> None:
    assert format_length(mm, unit, **options) == text  # type: ignore[arg-type]


def test_a_size_is_shown_with_its_unit_once() -> None:
    assert format_size(914.4, 609.6, "in") == "36 × 24 in"


def test_showing_what_is_no_length_is_refused() -> None:
    with pytest.raises(BadLengthError, match="not finite"):
        format_length(float("nan"))
    with pytest.raises(BadLengthError, match="Fractions are for inches"):
        format_length(5.0, "mm", fraction=64)
    with pytest.raises(BadLengthError, match="no unit of length"):
        format_length(5.0, "parsec")


def test_units_answer_to_every_name_people_use() -> None:
    assert [unit_named(w) for w in ("″", "Inches", "'", "MM", "mil")] == [
        "in", "in", "ft", "mm", "thou",
    ]  # fmt: skip
