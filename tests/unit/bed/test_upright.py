"""Boards clamped upright for joints on their ends."""

from __future__ import annotations

from dataclasses import replace

import pytest

from core.bed.upright import upright_findings, upright_size
from core.findings import Severity
from core.geometry import Region, Ring
from core.project.model import Grain, Panel
from core.shop import Cutter, Machine

SIDE = Panel(
    "side", "Side", Region.of(Ring.rectangle(0, 0, 600, 120)), grain=Grain.ALONG, ends_mm=12.0
)
CLAMP = Machine(
    cutters=(Cutter(6.0, 22.0),),
    upright_long_mm=800.0,
    upright_wide_mm=150.0,
    upright_thick_mm=25.0,
)


def test_the_ends_lie_across_the_grain() -> None:
    assert upright_size(SIDE, 18.0) == (600.0, 120.0, 18.0)
    assert upright_size(replace(SIDE, grain=Grain.ACROSS), 18.0) == (120.0, 600.0, 18.0)
    assert upright_size(replace(SIDE, grain=Grain.FREE), 18.0) == (600.0, 120.0, 18.0)


def test_a_board_that_fits_is_told_how_it_is_clamped_and_turned() -> None:
    (note,) = upright_findings(SIDE, CLAMP, 18.0)
    assert note.severity is Severity.NOTE
    for words in ("120 × 18 mm", "12 mm down", "second end", "show face stays towards you"):
        assert words in note.message


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"upright_long_mm": 599.0}, "600 mm long, 599 mm is the most"),
        ({"upright_wide_mm": 100.0}, "120 mm wide, 100 mm is the most"),
        ({"upright_thick_mm": 12.0}, "18 mm thick, 12 mm is the most"),
        ({"cutters": (Cutter(6.0, 10.0),)}, "12 mm deep and the bit cuts 10 mm"),
    ],
)
def test_what_does_not_fit_stops_with_its_figures(change: dict[str, object], words: str) -> None:
    (found,) = upright_findings(SIDE, replace(CLAMP, **change), 18.0)  # type: ignore[arg-type]
    assert found.severity is Severity.STOP
    assert words in found.message


def test_a_size_that_fits_exactly_fits() -> None:
    exact = replace(CLAMP, upright_long_mm=600.0, upright_wide_mm=120.0, upright_thick_mm=18.0)
    assert [f.code for f in upright_findings(SIDE, exact, 18.0)] == ["upright-clamping"]


def test_unknown_limits_are_asked_for_and_plain_panels_say_nothing() -> None:
    assert [f.code for f in upright_findings(SIDE, Machine(), 18.0)] == ["upright-not-known"]
    assert upright_findings(replace(SIDE, ends_mm=0.0), CLAMP, 18.0) == ()
