"""Blanks for the router: table, mass and planer, and what the saw leaves."""

from __future__ import annotations

import pytest

from core.breakdown import (
    Blank,
    BlankLimits,
    PlanerLimits,
    Rect,
    blank_patterns,
    blanks_for,
    letter,
    max_area_mm2,
    replay,
)
from core.errors import InvalidRequestError


def test_letters_go_on_after_z() -> None:
    assert [letter(i) for i in (0, 25, 26, 51, 52, 701, 702)] == [
        "A",
        "Z",
        "AA",
        "AZ",
        "BA",
        "ZZ",
        "AAA",
    ]


def test_a_sheet_that_fits_the_table_stays_whole() -> None:
    best = blank_patterns(800, 500, (900, 600), kerf_mm=3)[0]
    assert best.cuts == () and best.blanks == (Blank("A", 0, 0, 800, 500),)


def test_the_best_pattern_of_a_full_sheet_has_few_cuts_and_little_waste() -> None:
    best = blank_patterns(2440, 1220, (900, 600), kerf_mm=3)[0]
    assert len(best.blanks) == 6 and len(best.cuts) <= 6
    assert best.blank_area_mm2 > 0.98 * 2440 * 1220
    assert [blank.id for blank in best.blanks] == list("ABCDEF")


@pytest.mark.parametrize("may_turn", [True, False])
def test_every_blank_lies_on_the_table_and_every_pattern_replays(may_turn: bool) -> None:
    patterns = blank_patterns(2500, 1250, (900, 640), kerf_mm=2.2, may_turn=may_turn)
    assert len(patterns) > 5
    limits = BlankLimits(900, 640, may_turn, min_side_mm=100)
    for pattern in patterns:
        assert all(limits.allows(b.width_mm, b.height_mm) for b in pattern.blanks)
        pieces = replay(2500, 1250, pattern.cuts, 2.2)
        assert len(pieces) == len(pattern.blanks) + len(pattern.offcuts)
    turned = any(blank.height_mm > 640 + 1e-6 for pattern in patterns for blank in pattern.blanks)
    assert turned is may_turn


def test_no_blank_is_heavier_than_asked() -> None:
    most = max_area_mm2(8.0, 18, 685)
    patterns = blank_patterns(2440, 1220, (1300, 1300), kerf_mm=3, max_area_mm2=most)
    assert patterns
    for pattern in patterns:
        for blank in pattern.blanks:
            mass = blank.width_mm * blank.height_mm * 18 * 685e-9
            assert mass <= 8.0 + 1e-6


def test_a_density_of_nothing_is_refused() -> None:
    with pytest.raises(InvalidRequestError, match="above 0"):
        max_area_mm2(25, 18, 0)


def test_edge_trim_keeps_blanks_off_the_factory_edge() -> None:
    for pattern in blank_patterns(2440, 1220, (900, 600), kerf_mm=3, edge_trim_mm=8)[:5]:
        for blank in pattern.blanks:
            assert blank.x_mm >= 8 - 1e-9 and blank.rect.right_mm <= 2432 + 1e-9
            assert blank.y_mm >= 8 - 1e-9 and blank.rect.top_mm <= 1212 + 1e-9


def test_blanks_for_the_planer_are_narrow_and_long_enough() -> None:
    planer = PlanerLimits(widest_mm=330, shortest_mm=350, snipe_mm=60, feed="x")
    patterns = blank_patterns(2440, 1220, (900, 600), kerf_mm=3, planer=planer)
    assert patterns
    for pattern in patterns:
        for blank in pattern.blanks:
            assert blank.height_mm <= 330 + 1e-6 and blank.width_mm >= 350
    assert planer.usable(Rect(10, 20, 800, 300)) == Rect(70, 20, 680, 300)


@pytest.mark.parametrize(
    ("feed", "width", "height", "takes"),
    [
        ("x", 800, 300, True),
        ("x", 300, 800, False),
        ("y", 300, 800, True),
        ("y", 800, 300, False),
        ("either", 300, 800, True),
        ("either", 400, 800, False),
        ("either", 300, 320, False),
    ],
)
def test_the_planer_takes_what_fits_its_feed(
    feed: str, width: float, height: float, takes: bool
) -> None:
    assert PlanerLimits(330, 350, 60, feed).takes(width, height) is takes


def test_snipe_at_both_ends_makes_the_shortest_blank_longer() -> None:
    assert not PlanerLimits(330, 100, 60, "x").takes(119, 200)
    assert PlanerLimits(330, 100, 60, "x").takes(120, 200)


def test_an_unknown_feed_is_refused() -> None:
    with pytest.raises(InvalidRequestError, match="Feed direction"):
        PlanerLimits(330, 100, 0, "z")


def test_no_table_no_blanks() -> None:
    assert blank_patterns(2440, 1220, (90, 60), kerf_mm=3, min_side_mm=100) == []
    with pytest.raises(InvalidRequestError, match="larger than 0"):
        blank_patterns(2440, 1220, (0, 600), kerf_mm=3)


def test_blanks_round_clusters_keep_the_offcut_whole() -> None:
    clusters = [(0, 0, 700, 500), (703, 0, 650, 480)]
    pattern = blanks_for(clusters, 2440, 1220, kerf_mm=3)
    assert {(b.id, b.width_mm) for b in pattern.blanks} == {("A", 700.0), ("B", 650.0)}
    assert max(rect.area_mm2 for rect in pattern.offcuts) > 0.85 * (2440 * 1220 - 1353 * 500) * 0.8
    assert len(pattern.cuts) == 4


@pytest.mark.parametrize("upright", [True, False])
def test_a_strip_that_no_blank_can_be_had_from_stays_whole_beside_one_with_blanks(
    upright: bool,
) -> None:
    """Three strips of 250 and one of 251 mm: the weight allowed makes the first ones' blanks
    97 mm long, less than the least side and four in the depth exactly, the last one's 96 mm."""
    sheet, table = (1010.0, 397.0), (251.0, 600.0)
    if not upright:
        sheet, table = sheet[::-1], table[::-1]
    patterns = blank_patterns(
        *sheet, table, kerf_mm=3, may_turn=False, max_area_mm2=97.0 * 250.0, mark_mm=1.0
    )
    for pattern in patterns:
        assert all(blank.rect.area_mm2 <= 97.0 * 250.0 + 1e-6 for blank in pattern.blanks)
