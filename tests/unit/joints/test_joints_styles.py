"""Seam styles: their teeth, their parameters, and what they say about themselves."""

from __future__ import annotations

import math

import numpy as np
import pytest
from shapely.geometry import LineString

from core.errors import InvalidGeometryError, InvalidRequestError
from core.geometry.path import flatten_path
from core.joints import STYLES, JointContext, SeamStyle, StyleBook, style_book, tooth_from_points
from core.joints.profile import ToothPlace, build_profile
from core.project.model import ReliefKind, StyleChoice
from core.shop import Cutter

BOARD = JointContext(17.6, Cutter(6.0), 0.2)
TOOTHED = ("finger", "dovetail", "rounded", "wave")


def choice(name: str, **params: float) -> StyleChoice:
    return StyleChoice(name, tuple(params.items()))


@pytest.fixture(params=sorted(STYLES))
def style(request: pytest.FixtureRequest) -> SeamStyle:
    return STYLES[request.param]


def test_every_style_has_a_title_a_sentence_and_bounded_parameters(style: SeamStyle) -> None:
    assert style.title
    assert style.when.endswith(".")
    for parameter in style.parameters:
        assert parameter.low <= parameter.default(BOARD) <= parameter.high
        assert parameter.label
        assert parameter.help.endswith(".")


@pytest.mark.parametrize("thickness", [4.0, 9.0, 12.0, 17.6, 24.0, 30.0])
@pytest.mark.parametrize("diameter", [1.5, 3.0, 6.0, 6.35, 8.0, 12.0, 12.7])
def test_defaults_work_in_every_board_with_every_usual_bit(
    style: SeamStyle, thickness: float, diameter: float
) -> None:
    context = JointContext(thickness, Cutter(diameter), 0.2)
    properties = style.properties(StyleChoice(style.name), context)
    assert properties.glue_length_per_m_mm >= 1000.0
    if not properties.needs_relief:
        assert properties.inside_radius_mm >= diameter / 2
    if properties.narrowest_mm is not None:
        assert properties.narrowest_mm >= diameter - 0.2


def test_exactly_the_flared_and_headed_styles_hold(style: SeamStyle) -> None:
    holds = {"dovetail", "rounded", "butterfly"}
    assert style.properties(StyleChoice(style.name), BOARD).holds == (style.name in holds)


def test_shoulders_that_meet_leave_nothing_to_close(style: SeamStyle) -> None:
    closing = style.properties(StyleChoice(style.name), BOARD).closing_mm
    assert closing == (pytest.approx(0.1) if style.name in ("rounded", "wave") else 0.0)


def test_an_unknown_parameter_or_style_names_the_known_ones() -> None:
    with pytest.raises(InvalidRequestError, match="It knows: width, depth"):
        STYLES["finger"].tooth(choice("finger", girth=3.0), BOARD)
    with pytest.raises(InvalidRequestError, match="Known: finger, dovetail"):
        StyleBook(STYLES).get("zigzag")


@pytest.mark.parametrize("value", [0.0, -5.0, 1e9, math.nan, math.inf])
def test_a_value_out_of_range_says_which_range(value: float) -> None:
    with pytest.raises(InvalidRequestError, match="Take 3 to 400 mm"):
        STYLES["finger"].tooth(choice("finger", width=value), BOARD)


def test_a_finger_is_as_wide_and_long_as_asked() -> None:
    tooth = STYLES["finger"].tooth(choice("finger", width=20, depth=15, spacing=25), BOARD)
    assert tooth is not None
    assert (tooth.base_mm, tooth.depth_mm, tooth.pitch_mm) == (20.0, 15.0, 45.0)


def test_a_dovetail_flares_by_its_slope() -> None:
    tooth = STYLES["dovetail"].tooth(choice("dovetail", width=20, depth=24, slope=8), BOARD)
    assert tooth is not None
    assert tooth.head_mm == pytest.approx(20 + 2 * 3)
    assert tooth.undercut_mm == pytest.approx(3.0)


def test_a_rounded_tooth_has_the_sizes_its_arcs_give() -> None:
    # R 9 at 120°: depth 3 R, base 2 √3 R, undercut 2 R (1 − sin 120°).
    tooth = STYLES["rounded"].tooth(choice("rounded", radius=9, angle=120), BOARD)
    assert tooth is not None
    assert tooth.depth_mm == pytest.approx(27.0)
    assert tooth.base_mm == pytest.approx(2 * math.sqrt(3) * 9)
    assert tooth.undercut_mm == pytest.approx(18 * (1 - math.sqrt(3) / 2))
    assert tooth.neck_mm == pytest.approx(2 * (math.sqrt(3) * 9 - 9))


def test_a_wave_is_as_high_and_long_as_asked() -> None:
    tooth = STYLES["wave"].tooth(choice("wave", height=20, length=80), BOARD)
    assert tooth is not None
    assert tooth.depth_mm == pytest.approx(20.0)
    assert tooth.base_mm == pytest.approx(80.0)


@pytest.mark.parametrize(
    ("name", "params", "message"),
    [
        ("wave", {"height": 60, "length": 80}, "would overhang"),
        ("wave", {"height": 4, "length": 9}, "too tight for the 6 mm bit"),
        ("rounded", {"radius": 2}, "too tight for the 6 mm bit"),
        ("rounded", {"radius": 4.5, "angle": 134}, "less than the bit"),
        ("dovetail", {"depth": 60, "spacing": 22}, "narrower than half the bit"),
        ("finger", {"width": 5, "rounded": 1}, "do not fit on a tooth"),
        ("butt", {"depth": 17.6}, "goes right through"),
        ("butt", {"width": 4}, "cannot be cut with"),
        ("butt", {"pitch": 12}, "too close together"),
        ("butterfly", {"width": 18, "waist": 18}, "would not hold"),
        ("half-lap", {"lap": 5}, "narrower than the bit"),
    ],
)
def test_what_cannot_be_made_says_why(name: str, params: dict[str, float], message: str) -> None:
    with pytest.raises(InvalidGeometryError, match=message):
        STYLES[name].properties(choice(name, **params), BOARD)


@pytest.mark.parametrize("name", TOOTHED)
@pytest.mark.parametrize("relief", list(ReliefKind))
@pytest.mark.parametrize("over", [False, True])
def test_both_mates_edges_keep_their_sides_of_the_seam(
    name: str, relief: ReliefKind, over: bool
) -> None:
    tooth = STYLES[name].tooth(StyleChoice(name), BOARD)
    assert tooth is not None
    base = ((0.0, 0.0, 0.0), (400.0, 0.0, 0.0))
    places = [ToothPlace(60 + k * tooth.pitch_mm, over) for k in range(3)]
    made = build_profile(base, 0.0, 400.0, tooth, places, gap_mm=0.1, radius_mm=3.0, relief=relief)
    for path in (made.middle, made.left, made.right, made.left_cut, made.right_cut):
        assert LineString(flatten_path(path)).is_simple
    heights = flatten_path(made.middle)[:, 1]
    assert (heights.min() < -5) == over
    assert (heights.max() > 5) == (not over)
    assert made.teeth == 3
    relieved = name in ("finger", "dovetail") and relief is not ReliefKind.NONE
    assert len(made.corners) == (12 if relieved else 0)


def test_with_no_play_both_edges_are_the_seam_itself() -> None:
    tooth = STYLES["rounded"].tooth(StyleChoice("rounded"), JointContext(18, Cutter(6), 0.0))
    made = build_profile(
        ((0.0, 0.0, 0.0), (200.0, 0.0, 0.0)),
        0.0,
        200.0,
        tooth,
        [ToothPlace(80.0)],
        gap_mm=0.0,
        radius_mm=3.0,
        relief=ReliefKind.NONE,
    )
    assert np.allclose(made.left, made.middle)
    assert np.allclose(made.right, made.middle)


def test_rounded_corners_need_no_relief_and_suit_the_bit() -> None:
    for name in ("finger", "dovetail"):
        properties = STYLES[name].properties(choice(name, rounded=1), BOARD)
        assert not properties.needs_relief
        assert properties.inside_radius_mm >= 3.0


def test_own_teeth_join_the_book_under_their_name() -> None:
    profile = tooth_from_points("swan", ((0, 0), (5, 20), (25, 20), (30, 0)))
    assert "own:swan" in style_book([profile]).styles
