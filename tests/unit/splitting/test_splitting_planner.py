"""The planner: fewest pieces, limits, the maker's own wishes, and what it says."""

from __future__ import annotations

import math
from dataclasses import replace
from functools import cache

import pytest
from shapely.geometry import LineString, Polygon, box

from core.errors import InvalidRequestError
from core.geometry import Region, Ring
from core.outlines.model import Feature, Role
from core.project.model import (
    Grain,
    Mark,
    Panel,
    ReliefKind,
    SeamLine,
    SplitChoice,
    StyleChoice,
)
from core.project.refit import ReliefSide
from core.shop import ClampZone, Cutter, JointClass, Machine, Shop
from core.splitting import (
    PieceLimits,
    Proposal,
    fit_piece,
    propose,
    split_panel,
    usual_line,
    ways_to_split,
)

BIT = Cutter(6.0)
ROOM = PieceLimits.travel(906, 606)  # a room of 900 × 600 for the cut piece


def panel(outer: Ring, *holes: Ring, **more: object) -> Panel:
    return Panel("P1", "panel", Region.of(outer, holes), **more)  # type: ignore[arg-type]


def rectangle(width: float, height: float, **more: object) -> Panel:
    return panel(Ring.rectangle(0, 0, width, height), **more)


def polygon(*points: tuple[float, ...]) -> Ring:
    return Ring.of(points)


def best(task: Panel, limits: object = ROOM, style: str = "finger") -> Proposal:
    return propose(task, limits, style, BIT)[0]  # type: ignore[arg-type]


WAVY = polygon(
    (0, 0), (1700, 0), (1700, 760, 0.2), (1275, 760, -0.2), (850, 760, 0.2), (425, 760, -0.2),
    (0, 760),
)  # fmt: skip

# Fewest pieces by hand for a room of 900 × 600, whose diagonal is 1081.7 and area 540 000.
MINIMA: dict[str, tuple[Panel, int]] = {
    # Longer than the diagonal, so at least two.
    "shelf": (rectangle(1600, 300), 2),
    # 2400 × 600 / 540 000 = 2.7, so at least three.
    "wide shelf": (rectangle(2400, 600), 3),
    # Longer than two diagonals, so at least three; holes at the ends must stay whole.
    "plank": (
        panel(
            Ring.rectangle(0, 0, 2600, 200), Ring.circle(100, 100, 40), Ring.circle(2500, 100, 40)
        ),
        3,
    ),
    # The outer corner and both far ends lie more than a diagonal from each other.
    "L": (panel(polygon((0, 0), (1300, 0), (1300, 450), (450, 450), (450, 1300), (0, 1300))), 3),
    # Both tips of the legs and the middle of the base lie more than a diagonal apart.
    "U": (
        panel(
            polygon(
                (0, 0), (1600, 0), (1600, 800), (1300, 800),
                (1300, 300), (300, 300), (300, 800), (0, 800),
            )
        ),
        3,
    ),
    # 850 across in every direction, so at least two.
    "disc": (panel(Ring.circle(0, 0, 425)), 2),
    # Two would each have to take half the outer edge, which spans its full diameter.
    "ring": (panel(Ring.circle(0, 0, 500), Ring.circle(0, 0, 380)), 3),
    # 1.3 m² / 540 000 = 2.4, so at least three.
    "wavy front": (panel(WAVY), 3),
    # Four corners more than a diagonal apart but for the short sides: three at least, and
    # three cannot be reached with four straight rails of 1500 and 900.
    "frame": (panel(Ring.rectangle(0, 0, 1500, 900), Ring.rectangle(150, 150, 1200, 600)), 4),
    # 1.14 m² / 540 000 = 2.1, so at least three; found with four.
    "gable": (panel(polygon((0, 0), (1200, 0), (1200, 700), (600, 1200), (0, 700))), 4),
    # Hypotenuse 1836, so at least two; found with three.
    "triangle": (panel(polygon((0, 0), (1600, 0), (0, 900))), 3),
    # 1.21 m² / 540 000 = 2.2, so at least three; four quarters.
    "square": (rectangle(1100, 1100), 4),
    # Both ends 700 wide and more than a diagonal apart; the middle is nearer to either.
    "waisted shelf": (
        panel(
            polygon(
                (0, 0), (500, 0), (500, 150), (1100, 150), (1100, 0), (1600, 0),
                (1600, 550), (1100, 550), (1100, 400), (500, 400), (500, 550), (0, 550),
            )
        ),
        2,
    ),
    # A T: the bar's ends and the foot lie more than a diagonal apart.
    "T": (
        panel(
            polygon(
                (0, 900), (550, 900), (550, 0), (850, 0),
                (850, 900), (1400, 900), (1400, 1200), (0, 1200),
            )
        ),
        3,
    ),
}  # fmt: skip


@cache
def ways_of(name: str) -> tuple[Proposal, ...]:
    """What is proposed for one of them."""
    return tuple(propose(MINIMA[name][0], ROOM, "finger", BIT))


@pytest.mark.parametrize("name", MINIMA)
def test_fewest_pieces_or_a_stated_bound_one_below(name: str) -> None:
    task, fewest = MINIMA[name]
    proposal = ways_of(name)[0]
    assert proposal.pieces == fewest
    assert proposal.lower_bound >= fewest - 1
    assert proposal.proven_fewest == (proposal.lower_bound == proposal.pieces)
    made = split_panel(task, proposal.seams, cutter=BIT, thickness_mm=18.0)
    assert made.ok
    assert len(made.pieces) == fewest
    for piece in made.pieces:
        fit = fit_piece(piece.cut.polygon, ROOM)
        assert fit is not None
        assert fit.fits


@pytest.mark.parametrize("name", ["shelf", "wide shelf", "plank", "U", "disc", "frame", "T"])
def test_symmetric_panels_get_symmetric_seams(name: str) -> None:
    proposal = ways_of(name)[0]
    assert "Symmetric, as the panel is." in proposal.reasons


def test_a_butt_seam_lets_a_panel_of_exactly_two_rooms_be_two_pieces() -> None:
    assert best(rectangle(1800, 600), style="butt").pieces == 2
    assert best(rectangle(1800, 600), style="finger").pieces == 3


def test_a_panel_that_fits_is_left_whole() -> None:
    (only,) = propose(rectangle(900, 600), ROOM, "finger", BIT)
    assert only.seams == ()
    assert only.pieces == 1


def test_leave_whole_and_split_although_it_fits_are_the_makers() -> None:
    whole = rectangle(2000, 300, split=SplitChoice.WHOLE)
    assert propose(whole, ROOM, "finger", BIT)[0].seams == ()
    anyway = rectangle(800, 300, split=SplitChoice.SPLIT)
    assert best(anyway).pieces == 2


def test_a_never_mark_is_not_crossed() -> None:
    mark = Mark("never", ((700, 0), (1100, 0), (1100, 300), (700, 300)), "sink")
    for proposal in propose(rectangle(1700, 300, marks=(mark,)), ROOM, "finger", BIT):
        for line in proposal.seams:
            assert not LineString(line.points).intersects(box(700, 0, 1100, 300))


def test_a_panel_marked_all_over_has_no_split_and_says_so() -> None:
    mark = Mark("never", ((0, 0), (2000, 0), (2000, 300), (0, 300)))
    (only,) = propose(rectangle(2000, 300, marks=(mark,)), ROOM, "finger", BIT)
    assert only.findings[0].code == "no-split-found"
    assert only.findings[0].severity == "stop"


def test_seams_keep_off_pockets_and_drill_centres() -> None:
    pocket = Feature(Role.POCKET, ring=Ring.rectangle(780, 100, 60, 100), depth_mm=6.0)
    drill = Feature(Role.DRILL, at=(800.0, 250.0), diameter_mm=5.0)
    proposal = best(rectangle(1600, 300, features=(pocket, drill)))
    assert proposal.pieces == 2
    assert not proposal.findings
    (line,) = proposal.seams
    assert LineString(line.points).distance(box(780, 100, 840, 200)) > 6.0


def test_a_seam_goes_to_the_support_where_it_can() -> None:
    support = Mark("support", ((880, 0), (880, 300)), "leg")
    proposals = propose(rectangle(1600, 300, marks=(support,)), ROOM, "finger", BIT)
    on = [p for p in proposals if not any(f.code == "seam-unsupported" for f in p.findings)]
    assert on
    assert proposals[0] is on[0]


def test_grain_forbids_turning_a_piece_to_fit() -> None:
    # 1050 × 20 lies on the diagonal of the room if it may turn.
    lath = rectangle(1050, 20)
    limits = PieceLimits.travel(906, 606, turns_deg=(0.0,))
    assert best(lath).pieces == 1
    strict = PieceLimits(envelopes_mm=limits.envelopes_mm, turns_deg=(0.0,), min_width_mm=15.0)
    assert best(lath, strict, "butt").pieces == 2


def test_clamps_and_the_bit_take_their_room_from_the_travel() -> None:
    clamp = ClampZone(0.0, 0.0, 40.0, 600.0)
    free = Machine(travel_mm=(900, 600), table_mm=(1000, 700))
    clamped = Machine(travel_mm=(900, 600), table_mm=(1000, 700), clamps=(clamp,))
    # 900 − 6 fits without clamps; a bar of 40, the bit and the safety leave 900 − 48 − 6.
    fits, not_fits = rectangle(894, 500), rectangle(847, 500)
    assert best(fits, free).pieces == 1
    assert best(fits, clamped).pieces == 2
    assert best(not_fits, clamped).pieces == 2
    assert best(rectangle(846, 500), clamped).pieces == 1


def test_limits_come_as_a_shop_a_machine_or_the_travel() -> None:
    task = rectangle(1600, 300)
    for limits in (Shop(), Machine(), (900.0, 600.0), ROOM):
        assert best(task, limits).pieces == 2
    with pytest.raises(InvalidRequestError, match="the travel"):
        best(task, "900 by 600")


def test_the_same_task_gives_the_same_proposals() -> None:
    task = MINIMA["gable"][0]
    assert propose(task, ROOM, "wave", BIT) == propose(task, ROOM, "wave", BIT)


def test_proposals_are_sorted_and_differ() -> None:
    found = ways_of("frame")
    assert len(found) > 2
    keys = [(p.pieces, p.score) for p in found]
    assert keys == sorted(keys)
    assert len({p.seams for p in found}) == len(found)
    assert all(p.reasons for p in found)


@pytest.mark.parametrize("style", ["dovetail", "rounded", "wave", "butt", "butterfly", "half-lap"])
def test_every_style_is_planned_with_its_own_reach(style: str) -> None:
    task = MINIMA["wavy front"][0]
    proposal = propose(task, ROOM, StyleChoice(style), BIT)[0]
    made = split_panel(task, proposal.seams, cutter=BIT, thickness_mm=18.0)
    assert made.ok
    for piece in made.pieces:
        fit = fit_piece(piece.cut.polygon, ROOM)
        assert fit is not None
        assert piece.loose or fit.fits


def test_a_plan_that_cannot_be_made_in_this_style_says_why() -> None:
    tight = StyleChoice("rounded", (("radius", 2.0),))
    (only,) = propose(rectangle(1600, 300), ROOM, tight, BIT)
    assert "too tight" in only.findings[0].message


def test_grained_pieces_keep_to_the_sheet_they_come_from() -> None:
    from core.shop import Material, Stock

    shop = Shop(
        machine=Machine(travel_mm=(1300, 900), table_mm=(1400, 1000)),
        materials=(Material("ply", 18.0),),
        stock=(Stock("s", "ply", 1200.0, 420.0),),
    )
    along = rectangle(380, 1000, material="ply", grain=Grain.ALONG)
    across = rectangle(380, 1000, material="ply", grain=Grain.ACROSS)
    # Along: x runs with the sheet's length, so 1000 lies across its 420 and must be split.
    assert best(along, shop).pieces > 1
    assert best(across, shop).pieces == 1


def test_a_long_front_gets_crossing_or_meeting_seams() -> None:
    task = rectangle(1850, 950)
    proposal = best(task, PieceLimits.travel(900, 600))
    assert 4 <= proposal.pieces <= 6
    made = split_panel(task, proposal.seams, cutter=BIT, thickness_mm=18.0)
    assert made.ok
    union = Polygon()
    for piece in made.pieces:
        union = union.union(piece.region.polygon)
    assert union.area == pytest.approx(1850 * 950)
    assert math.isfinite(proposal.score)


# --- bounds, engraved lines, the panel as it is cut ------------------------------------------
@pytest.mark.parametrize(
    ("region", "fewest"),
    [
        # Pieces of 894 × 594 stand across a board 650 wide: 2400 / 594 is over four, so five.
        (Region.of(Ring.rectangle(0, 0, 2400, 650)), 5),
        # 1 757 500 mm² / 531 036 is 3.3; two rows of two do not reach 1850 × 950.
        (Region.of(Ring.rectangle(0, 0, 1850, 950)), 5),
        # The rim of 4084 mm, of which one piece holds at most some 1200.
        (Region.of(Ring.circle(0, 0, 650)), 5),
    ],
)
def test_large_panels_on_a_bed_of_900_by_600_are_at_most_one_above_the_bound(
    region: Region, fewest: int
) -> None:
    proposal = best(Panel("P1", "panel", region), PieceLimits.travel(900, 600))
    assert proposal.pieces == fewest
    assert proposal.lower_bound >= fewest - 1


def test_the_bound_is_never_above_what_is_known_to_do() -> None:
    # Exactly two rows of three rooms: six do, so no bound may say seven.
    from core.splitting.bounds import coverage_bound

    room = PieceLimits.travel(906, 606)
    assert coverage_bound(box(0, 0, 2700, 1200), room, 99) <= 6
    assert coverage_bound(box(0, 0, 900, 600), room, 99) == 1
    assert coverage_bound(box(0, 0, 1800, 600), room, 99) == 2
    turned = PieceLimits.travel(906, 606, turns_deg=(0.0,))
    assert coverage_bound(box(0, 0, 2700, 1200), turned, 99) <= 6


def test_an_engraved_line_is_kept_off_where_another_way_is_as_good() -> None:
    line = Feature(Role.ENGRAVE, path=((800.0, 100.0), (800.0, 200.0)), depth_mm=1.0)
    proposal = best(rectangle(1600, 300, features=(line,)))
    assert proposal.pieces == 2
    assert all(f.code != "seam-crosses-feature" for f in proposal.findings)
    assert abs(proposal.seams[0].points[0][0] - 800.0) > 10.0


def test_an_engraved_line_along_the_whole_panel_is_crossed_and_told() -> None:
    line = Feature(Role.ENGRAVE, path=((0.0, 150.0), (1600.0, 150.0)), depth_mm=1.0)
    task = rectangle(1600, 300, features=(line,))
    proposal = best(task)
    assert proposal.pieces == 2
    assert "seam-crosses-feature" in {f.code for f in proposal.findings}
    assert "No way keeps off every engraved line." in proposal.reasons
    split = split_panel(task, proposal.seams, cutter=BIT, thickness_mm=18.0)
    (found,) = (f for f in split.findings if f.code == "seam-crosses-feature")
    assert "a feature (engrave)" in found.message and found.at is not None
    # Both pieces carry their part of it, and no tooth stands on it.
    assert [len(p.cut.engravings) for p in split.pieces] == [1, 1]


def test_a_pocket_along_the_whole_panel_is_never_crossed() -> None:
    ring = Ring.rectangle(0, 140, 1600, 20)
    task = rectangle(1600, 300, features=(Feature(Role.POCKET, ring=ring, depth_mm=5.0),))
    assert propose(task, ROOM, "finger", BIT)[0].seams == ()


def test_teeth_keep_clear_of_a_pocket_by_moving_the_seam_not_by_leaving_them_out() -> None:
    pocket = Feature(Role.POCKET, ring=Ring.rectangle(820, 60, 300, 180), depth_mm=5.0)
    proposal = best(rectangle(1600, 300, features=(pocket,)))
    split = split_panel(
        rectangle(1600, 300, features=(pocket,)), proposal.seams, cutter=BIT, thickness_mm=18.0
    )
    (seam,) = split.seams
    plain = split_panel(rectangle(1600, 300), proposal.seams, cutter=BIT, thickness_mm=18.0)
    assert seam.teeth == plain.seams[0].teeth


def test_a_panel_that_fits_as_drawn_but_not_as_cut_is_split() -> None:
    from core.splitting import ways_to_split

    drawn = rectangle(900, 300)
    proud = Region.of(Ring.rectangle(-0.2, 0, 900.4, 300))
    more = {"thickness_mm": 18.0, "fit_mm": 0.15}
    assert ways_to_split(drawn, ROOM, BIT, **more) == []  # type: ignore[arg-type]
    ways = ways_to_split(drawn, ROOM, BIT, physical=proud, **more)  # type: ignore[arg-type]
    assert ways[0].pieces == 2
    # Pieces of a long one leave room for what its ends get longer.
    long = rectangle(1790, 300)
    proud = Region.of(Ring.rectangle(-0.2, 0, 1790.4, 300))
    for way in ways_to_split(long, ROOM, BIT, physical=proud, **more):  # type: ignore[arg-type]
        split = split_panel(long, way.seams, cutter=BIT, thickness_mm=18.0)
        for piece in split.pieces:
            x1, y1, x2, y2 = piece.cut.region.bounds
            grown = box(x1 - 0.2, y1, x2 + 0.2, y2)
            found = fit_piece(grown, ROOM)
            assert found is not None and found.fits


def test_new_ways_keep_the_kind_of_joint_the_maker_chose_for_the_seams_there_are() -> None:
    own = SeamLine(
        ((700, -10), (700, 510)),
        joint_class=JointClass.KNOCK_DOWN,
        relief=ReliefKind.T_BONE,
        relief_side=ReliefSide.WALLS,
        fit_mm=0.35,
    )
    asked: list[JointClass] = []

    def fit(line: SeamLine) -> float:
        asked.append(line.joint_class)
        return 0.4 if line.joint_class is JointClass.KNOCK_DOWN else 0.1

    task = rectangle(1400, 500, seams=(own,))
    ways = ways_to_split(task, ROOM, Cutter(6.0), thickness_mm=18.0, fit_mm=fit)
    lines = [line for way in ways for line in way.seams]
    assert lines
    assert {(s.joint_class, s.relief, s.relief_side, s.fit_mm) for s in lines} == {
        (JointClass.KNOCK_DOWN, ReliefKind.T_BONE, ReliefSide.WALLS, 0.35)
    }
    task = rectangle(1400, 500, seams=(replace(own, fit_mm=None),))
    assert ways_to_split(task, ROOM, Cutter(6.0), thickness_mm=18.0, fit_mm=fit)
    assert set(asked) == {JointClass.KNOCK_DOWN}


def test_seams_of_different_kinds_leave_new_ways_as_usual() -> None:
    loose = SeamLine(((700, -10), (700, 510)), joint_class=JointClass.KNOCK_DOWN)
    assert usual_line((loose, SeamLine(((300, -10), (300, 510))))) is None
    assert usual_line(()) is None
    assert usual_line(None) is None
    kept = usual_line((loose, replace(loose, points=((300, -10), (300, 510)), shift_mm=4.0)))
    assert kept is not None
    assert kept.joint_class is JointClass.KNOCK_DOWN


def test_a_seam_is_proposed_beside_a_slot_and_not_where_the_slot_takes_its_teeth() -> None:
    """A slot near the middle leaves a seam through it or close by with fewer teeth to hold."""
    slot = Ring.rectangle(621, 100, 18, 200)
    task = panel(Ring.rectangle(0, 0, 1260, 560), slot, grain=Grain.ALONG)
    found = best(task, PieceLimits.travel(850, 620))
    assert found.pieces == 2
    made = split_panel(task, found.seams, cutter=BIT, thickness_mm=18.0, fit_mm=0.15)
    teeth = [p.cut.region.polygon for p in made.pieces]
    opening = box(621, 100, 639, 300)
    # the whole slot lies in one piece, with board round it
    around = opening.buffer(8.0).difference(opening)
    assert sum(piece.intersection(around).area > 1.0 for piece in teeth) == 1
    undisturbed = best(rectangle(1260, 560, grain=Grain.ALONG), PieceLimits.travel(850, 620))
    whole = split_panel(
        rectangle(1260, 560), undisturbed.seams, cutter=BIT, thickness_mm=18.0, fit_mm=0.15
    )
    assert made.seams[0].teeth == whole.seams[0].teeth
