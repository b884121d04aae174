"""The maker's own tooth: read in any position, checked, rounded to the bit on request."""

from __future__ import annotations

import math

import pytest

from core.errors import InvalidGeometryError
from core.joints import JointContext, OwnTooth, tooth_from_points
from core.joints.own import narrowest_of, sharp_corners, undercut_of
from core.project.model import StyleChoice
from core.shop import Cutter

BOARD = JointContext(18.0, Cutter(6.0), 0.2)
HOOK = ((0, 0), (5, 0), (2, 20), (28, 20), (25, 0), (30, 0))
BUMP = ((0.0, 0.0, 0.0), (10.0, 0.0, -1.0), (40.0, 0.0, 0.0), (50.0, 0.0, 0.0))


def style(name: str, points: tuple[tuple[float, ...], ...]) -> OwnTooth:
    return OwnTooth(tooth_from_points(name, points))  # type: ignore[arg-type]


def test_a_tooth_drawn_anywhere_stands_upright() -> None:
    angle = math.radians(37)
    c, s = math.cos(angle), math.sin(angle)
    turned = tuple((100 + x * c - y * s, 50 + x * s + y * c) for x, y in HOOK)
    upright = tooth_from_points("hook", turned).upright()
    for got, want in zip(upright, HOOK, strict=True):
        assert got[:2] == pytest.approx(want)


def test_a_tooth_drawn_upside_down_is_turned_over() -> None:
    down = tuple((x, -y) for x, y in HOOK)
    upright = tooth_from_points("hook", down).upright()
    assert max(y for _, y, _ in upright) == pytest.approx(20)
    assert upright[0][:2] == (0.0, 0.0)
    assert upright[-1][:2] == (30.0, 0.0)


@pytest.mark.parametrize(
    ("points", "message"),
    [
        (((0, 0), (10, 0), (10, 10), (0, 10), (0, 0.2)), "closed"),
        (((0, 0), (30, 20), (0, 20), (30, 0)), "crosses itself"),
        (((0, 0), (15, 0.2), (30, 0)), "flat"),
        (((0, 0),), "more than one point"),
    ],
)
def test_what_is_no_tooth_says_why(points: tuple[tuple[float, ...], ...], message: str) -> None:
    with pytest.raises(InvalidGeometryError, match=message):
        tooth_from_points("x", points)  # type: ignore[arg-type]


def test_a_flared_tooth_holds_and_a_straight_one_does_not() -> None:
    hook, straight = style("hook", HOOK), style("box", ((0, 0), (0, 20), (30, 20), (30, 0)))
    assert hook.properties(StyleChoice(hook.name), BOARD).holds
    assert not straight.properties(StyleChoice(straight.name), BOARD).holds
    assert undercut_of(straight.tooth(StyleChoice(straight.name), BOARD).path) == 0.0


def test_the_undercut_of_a_round_headed_tooth_is_what_its_arcs_give() -> None:
    from core.joints.curved import turned_tooth

    # Pulled straight or at a slant, it holds until the gap reaches about 2 R (1 − sin 120°).
    found = undercut_of(turned_tooth(9.0, 9.0, 120.0))
    assert found == pytest.approx(18 * (1 - math.sin(math.radians(120))), abs=0.15)


def test_sharp_corners_are_found_where_the_tooth_leaves_the_seam_too() -> None:
    assert sharp_corners(tooth_from_points("hook", HOOK).upright()) == [1, 2, 3, 4]
    assert sharp_corners(tooth_from_points("bump", BUMP).upright()) == [1, 2]


def test_corners_are_rounded_to_the_bit_on_request() -> None:
    own = style("hook", HOOK)
    plain = own.properties(StyleChoice(own.name), BOARD)
    rounded = own.properties(StyleChoice(own.name, (("rounded", 1.0),)), BOARD)
    assert plain.needs_relief
    assert plain.inside_radius_mm == 0.0
    assert not rounded.needs_relief
    assert rounded.inside_radius_mm >= 3.0


def test_an_arc_too_tight_for_the_bit_is_a_stop() -> None:
    tight = style("tight", ((0.0, 0.0, 0.0), (5.0, 0.0, -1.0), (9.0, 0.0, 0.0), (14.0, 0.0, 0.0)))
    codes = {f.code: f.severity for f in tight.check(StyleChoice(tight.name), BOARD)}
    assert codes["tooth-arc-too-tight"] == "stop"


def test_a_narrow_neck_is_a_warning_with_its_width() -> None:
    mushroom = style(
        "mushroom",
        ((0, 0), (8, 0), (8, 10), (0, 10), (0, 20), (20, 20), (20, 10), (12, 10), (12, 0), (20, 0)),
    )
    found = [
        f
        for f in mushroom.check(StyleChoice(mushroom.name), BOARD)
        if f.code == "tooth-neck-narrow"
    ]
    assert found
    assert (
        "3.9 mm" in found[0].message or "4.0 mm" in found[0].message or "3.8 mm" in found[0].message
    )


def test_the_narrowest_place_may_lie_between_two_teeth() -> None:
    tooth = style("box", ((0, 0), (0, 20), (30, 20), (30, 0)))
    made = tooth.tooth(StyleChoice(tooth.name, (("spacing", 8.0),)), BOARD)
    assert narrowest_of(made.path, made.pitch_mm) == pytest.approx(8.0, abs=0.2)


def test_the_joint_length_needed_is_the_tooth_and_a_margin_on_both_sides() -> None:
    own = style("hook", HOOK)
    assert own.joint_length_needed_mm(StyleChoice(own.name), BOARD) == pytest.approx(30 + 2 * 9)


def test_scaling_keeps_the_shape() -> None:
    own = style("hook", HOOK)
    half = own.tooth(StyleChoice(own.name, (("scale", 0.5),)), BOARD)
    assert half.base_mm == pytest.approx(15.0)
    assert half.depth_mm == pytest.approx(10.0)
