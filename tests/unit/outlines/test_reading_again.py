"""A drawing read again: which outline became which, what moved, what is orphaned."""

from __future__ import annotations

import math

import pytest

from core.geometry import Motion, Region, Ring
from core.outlines import (
    ChangeKind,
    Feature,
    FeatureRef,
    Outline,
    Role,
    compare_outlines,
    find_repeats,
    match_refs,
    recognise,
)
from core.outlines.typed import rectangle


def outline(name: str, width: float, height: float, x: float = 0, y: float = 0, **more) -> Outline:
    return Outline(rectangle(width, height).moved(Motion(x, y)), name=name, **more)


OLD = [outline("side", 600, 400), outline("top", 500, 300, 700), outline("foot", 90, 90, 1300)]


def kinds(new: list[Outline]) -> list[tuple[str, int | None, int | None]]:
    return [(c.kind.value, c.old, c.new) for c in compare_outlines(OLD, new)]


def test_the_same_drawing_has_nothing_changed_in_any_order() -> None:
    assert kinds(OLD) == [("same", 0, 0), ("same", 1, 1), ("same", 2, 2)]
    assert kinds(OLD[::-1]) == [("same", 0, 2), ("same", 1, 1), ("same", 2, 0)]


def test_a_moved_outline_says_how_far() -> None:
    change = compare_outlines(OLD, [OLD[0], outline("top", 500, 300, 730, 40), OLD[2]])[1]
    assert change.kind is ChangeKind.MOVED
    assert change.moved_mm == (30, 40)
    assert (change.differs_mm, change.differs_mm2) == (0, 0)


def test_a_stretched_outline_says_by_how_much() -> None:
    change = compare_outlines(OLD, [outline("side", 610, 400), *OLD[1:]])[0]
    assert change.kind is ChangeKind.CHANGED
    assert change.differs_mm == pytest.approx(10)
    assert change.differs_mm2 == pytest.approx(4000)


def test_added_and_removed_outlines_are_listed() -> None:
    assert kinds([OLD[0], OLD[2], outline("new", 50, 800, 0, 900)]) == [
        ("same", 0, 0),
        ("removed", 1, None),
        ("same", 2, 1),
        ("added", None, 2),
    ]


def test_a_renamed_outline_is_the_same_outline() -> None:
    change = compare_outlines(OLD, [outline("left side", 600, 400), *OLD[1:]])[0]
    assert (change.kind, change.renamed) == (ChangeKind.SAME, True)


def test_equal_outlines_that_moved_keep_their_names() -> None:
    old = [outline("a", 100, 50), outline("b", 100, 50, 200)]
    new = [outline("b", 100, 50, 0, 500), outline("a", 100, 50, 200, 500)]
    assert [(c.old, c.new) for c in compare_outlines(old, new)] == [(0, 1), (1, 0)]


def test_a_changed_outline_is_found_by_its_place_when_its_name_went() -> None:
    change = compare_outlines(OLD, [outline("x", 600, 380), *OLD[1:]])[0]
    assert (change.kind, change.new) == (ChangeKind.CHANGED, 0)


def test_a_new_hole_and_a_deeper_pocket_are_changes() -> None:
    ring = Ring.rectangle(50, 50, 80, 40)
    pocket = Feature(Role.POCKET, ring=ring, depth_mm=6)
    old = [outline("side", 600, 400, features=(pocket,))]
    deeper = [outline("side", 600, 400, features=(Feature(Role.POCKET, ring=ring, depth_mm=9),))]
    change = compare_outlines(old, deeper)[0]
    assert (change.kind, change.features_changed) == (ChangeKind.CHANGED, True)
    assert change.differs_mm == 0
    holed = Outline(Region.of(old[0].region.outer, [Ring.circle(300, 200, 20)]), name="side")
    assert compare_outlines(old, [holed])[0].kind is ChangeKind.CHANGED


def test_features_move_with_their_panel() -> None:
    pocket = Feature(Role.POCKET, ring=Ring.rectangle(50, 50, 80, 40), depth_mm=6)
    drill = Feature(Role.DRILL, at=(20, 20), diameter_mm=8)
    line = Feature(Role.ENGRAVE, path=((10, 10), (50, 60)))
    old = [outline("side", 600, 400, features=(pocket, drill, line))]
    shifted = (
        Feature(Role.DRILL, at=(120, 20), diameter_mm=8),
        Feature(Role.POCKET, ring=Ring.rectangle(150, 50, 80, 40), depth_mm=6),
        Feature(Role.ENGRAVE, path=((110, 10), (150, 60))),
    )
    change = compare_outlines(old, [outline("side", 600, 400, 100, features=shifted)])[0]
    assert (change.kind, change.features_changed) == (ChangeKind.MOVED, False)


def test_refs_are_found_again_after_a_small_shift_and_orphans_are_listed() -> None:
    region = Region.of(
        Ring.rectangle(0, 0, 600, 400), [Ring.circle(100, 100, 5), Ring.rectangle(300, 100, 18, 90)]
    )
    later = Region.of(
        Ring.rectangle(0, 0, 600, 400),
        [Ring.circle(100.02, 100, 5), Ring.rectangle(300, 160, 18, 90)],
    )
    old = [item.ref for item in recognise(region, [18])]
    new = [item.ref for item in recognise(later, [18])]
    match = match_refs(old, new)
    assert [ref.kind for ref in match.orphans] == ["slot"]
    assert [ref.kind for ref in match.fresh] == ["slot"]
    hole = next(pair for pair in match.pairs if pair[0].kind == "hole")
    assert hole[1].anchor == pytest.approx((100.02, 100))


def test_refs_of_a_moved_panel_are_matched_by_its_motion() -> None:
    old = [FeatureRef("hole", (10.0,), (5, 5)), FeatureRef("hole", (10.0,), (25, 5))]
    new = [FeatureRef("hole", (10.0,), (125, 55)), FeatureRef("hole", (10.0,), (105, 55))]
    match = match_refs(old, new, moved_mm=(100, 50))
    assert match.pairs == ((old[0], new[1]), (old[1], new[0]))
    assert match_refs(old, new).orphans == tuple(old)


def test_each_ref_is_matched_once_nearest_first() -> None:
    old = [FeatureRef("hole", (10.0,), (0, 0)), FeatureRef("hole", (10.0,), (0.04, 0))]
    new = [FeatureRef("hole", (10.0,), (0.03, 0))]
    match = match_refs(old, new)
    assert match.pairs == ((old[1], new[0]),)
    assert match.orphans == (old[0],)


def test_an_axis_matches_over_the_half_turn() -> None:
    match = match_refs(
        [FeatureRef("axis", (0.001,), (0, 0))], [FeatureRef("axis", (179.999,), (0, 0))]
    )
    assert len(match.pairs) == 1


def test_repeats_are_grouped_wherever_they_lie_and_never_mirrored() -> None:
    corner = Ring.of([(0, 0), (100, 0), (0, 60)])
    far = [
        Outline(Region(corner)),
        Outline(Region(corner).moved(Motion(500, 20))),
        Outline(Region(corner).moved(Motion(900, 0, 0, True))),
        Outline(rectangle(100, 60)),
    ]
    assert find_repeats(far) == ((0, 1),)


def test_a_curve_that_shifted_by_a_fraction_is_measured() -> None:
    old = [Outline(Region(Ring.circle(0, 0, 100)), name="disc")]
    new = [Outline(Region(Ring.circle(0, 0, 100.5)), name="disc")]
    change = compare_outlines(old, new)[0]
    assert change.differs_mm == pytest.approx(0.5, abs=0.01)
    assert change.differs_mm2 == pytest.approx(math.pi * (100.5**2 - 100**2), rel=1e-3)
