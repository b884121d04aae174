"""Holes, slots, notches, combs, edges and axes are seen for what they are."""

from __future__ import annotations

import math

import pytest

from core.geometry import Motion, Region, Ring
from core.outlines import Recognised, recognise
from core.outlines.typed import disc, rectangle, triangle, triangle_of_sides


def of_kind(region: Region, kind: str, nominals: list[float]) -> list[Recognised]:
    return [item for item in recognise(region, nominals) if item.kind == kind]


def panel(*holes: Ring) -> Region:
    return Region.of(Ring.rectangle(0, 0, 600, 400), holes)


def comb(teeth: int, width: float, depth: float) -> Ring:
    """A rectangle 300 high whose top edge is a row of teeth, begun and ended by a tooth."""
    rows = [(0.0, 0.0), ((2 * teeth - 1) * width, 0.0)]
    for k in range(teeth - 1, -1, -1):
        right, left = (2 * k + 1) * width, 2 * k * width
        rows += [(right, 300 + depth), (left, 300 + depth)]
        if k:
            rows += [(left, 300.0), (left - width, 300.0)]
    return Ring.of(rows)


def test_a_round_hole_has_its_diameter_however_it_was_drawn() -> None:
    quarter = math.tan(math.pi / 8)
    arcs = Ring.of(
        [(220, 200, quarter), (200, 220, quarter), (180, 200, quarter), (200, 180, quarter)]
    )
    corners = Ring.of(
        [
            (400 + 10 * math.cos(k * math.tau / 48), 200 + 10 * math.sin(k * math.tau / 48))
            for k in range(48)
        ]
    )
    found = of_kind(panel(Ring.circle(100, 200, 5), arcs, corners), "hole", [18])
    assert [item.width_mm for item in found] == pytest.approx([10, 40, 20])
    assert [item.ref.anchor for item in found] == [
        pytest.approx((100, 200)),
        pytest.approx((200, 200)),
        pytest.approx((400, 200)),
    ]


def test_a_square_or_hexagonal_hole_is_no_round_hole() -> None:
    hexagon = Ring.of(
        [
            (300 + 20 * math.cos(k * math.pi / 3), 200 + 20 * math.sin(k * math.pi / 3))
            for k in range(6)
        ]
    )
    assert of_kind(panel(Ring.rectangle(50, 50, 20, 20), hexagon), "hole", [18]) == []


def test_a_slot_of_nominal_width_is_one_and_of_another_width_is_none() -> None:
    region = panel(Ring.rectangle(100, 100, 18, 90), Ring.rectangle(200, 100, 20, 90))
    (slot,) = of_kind(region, "slot", [12, 18])
    assert slot.ref.size == (18, 90)
    assert slot.ref.anchor == (109, 145)
    assert (slot.nominal_mm, slot.matches, slot.certain, slot.ring) == (18, (18,), True, 1)
    walls = sorted(wall[0][0] for wall in slot.walls)
    assert walls == [100, 118]


def test_a_round_ended_slot_and_one_with_dog_bones_are_slots() -> None:
    obround = Ring.of([(100, 100, 0), (180, 100, 1), (180, 118, 0), (100, 118, 1)])
    # 18 × 90 with 3 mm reliefs bulging over the ends of both long walls.
    bones = Ring.of(
        [
            (300, 103, 2.0), (303, 100, 0), (315, 100, 2.0), (318, 103, 0),
            (318, 187, 2.0), (315, 190, 0), (303, 190, 2.0), (300, 187, 0),
        ]
    ).oriented(ccw=True)  # fmt: skip
    found = of_kind(panel(obround, bones), "slot", [18])
    assert len(found) == 2
    assert found[0].certain
    assert not found[1].certain
    assert [item.width_mm for item in found] == pytest.approx([18, 18])


def test_two_thicknesses_that_fit_a_slot_are_both_named_and_asked() -> None:
    (slot,) = of_kind(panel(Ring.rectangle(100, 100, 18.03, 90)), "slot", [18, 18.1, 12])
    assert slot.matches == (18, 18.1)
    assert not slot.certain


def test_an_edge_notch_has_width_depth_and_a_mouth() -> None:
    ring = Ring.of(
        [(0, 0), (200, 0), (200, 150), (218, 150), (218, 0), (600, 0), (600, 400), (0, 400)]
    )
    (notch,) = of_kind(Region(ring), "notch", [18])
    assert notch.ref.size == (18, 150)
    assert notch.ref.anchor == (209, 0)
    assert (notch.first_edge, notch.last_edge) == (1, 3)
    assert notch.walls == (((200, 0), (200, 150)), ((218, 150), (218, 0)))
    assert notch.certain


def test_a_notch_over_the_rings_first_corner_is_found() -> None:
    ring = Ring.of(
        [(218, 150), (218, 0), (600, 0), (600, 400), (0, 400), (0, 0), (200, 0), (200, 150)]
    )
    (notch,) = of_kind(Region(ring), "notch", [18])
    assert (notch.first_edge, notch.last_edge) == (6, 0)


def test_a_tongue_of_nominal_width_is_no_notch() -> None:
    ring = Ring.of(
        [(0, 0), (200, 0), (200, -50), (218, -50), (218, 0), (600, 0), (600, 400), (0, 400)]
    )
    assert of_kind(Region(ring), "notch", [18]) == []


def test_a_notch_with_relieved_corners_is_found_and_asked() -> None:
    ring = Ring.of(
        [
            (0, 0, 0), (200, 0, 0), (200, 147, -2), (203, 150, 0), (215, 150, -2), (218, 147, 0),
            (218, 0, 0), (600, 0, 0), (600, 400, 0), (0, 400, 0),
        ]
    )  # fmt: skip
    (notch,) = of_kind(Region(ring), "notch", [18])
    assert notch.width_mm == 18
    assert not notch.certain


def test_a_comb_as_deep_as_a_nominal_thickness_is_one_feature() -> None:
    (found,) = of_kind(Region(comb(5, 40, 18)), "comb", [18])
    # Nine stretches of 40, eight walls between their ends' middles.
    assert found.ref.size == pytest.approx((18, 320 - 40, 8))
    assert len(found.walls) == 8
    assert found.certain
    assert of_kind(Region(comb(5, 40, 18)), "notch", [18, 40]) == []


def test_a_comb_a_little_proud_is_asked_and_of_another_depth_is_none() -> None:
    (proud,) = of_kind(Region(comb(4, 40, 18.2)), "comb", [18])
    assert not proud.certain
    assert of_kind(Region(comb(4, 40, 25)), "comb", [18]) == []


def relieved_comb(way: str, radius: float = 3.175) -> Region:
    """Four gaps 18 deep in a panel's lower edge, their inside corners cleared by a bit."""
    rows: list[tuple[float, ...]] = [(0, 0, 0)]
    for x0 in (20.0, 80.0, 140.0, 200.0):
        x1, r, s = x0 + 30, radius, radius * math.sqrt(2)
        rows.append((x0, 0, 0))
        rows += {
            "dog-bone": [(x0, 18 - s, -1), (x0 + s, 18, 0), (x1 - s, 18, -1), (x1, 18 - s, 0)],
            "into the floor": [
                (x0, 18, -1),
                (x0 + 2 * r, 18, 0),
                (x1 - 2 * r, 18, -1),
                (x1, 18, 0),
            ],
            "into the walls": [
                (x0, 18 - 2 * r, -1),
                (x0, 18, 0),
                (x1, 18, -1),
                (x1, 18 - 2 * r, 0),
            ],
            "rounded": [
                (x0, 18 - r, math.tan(math.radians(-90) / 4)),
                (x0 + r, 18, 0),
                (x1 - r, 18, math.tan(math.radians(-90) / 4)),
                (x1, 18 - r, 0),
            ],
        }[way]
        rows.append((x1, 0, 0))
    rows += [(260, 0, 0), (260, 200, 0), (0, 200, 0)]
    return Region.of(Ring.of(rows))


@pytest.mark.parametrize("way", ["dog-bone", "into the floor", "into the walls", "rounded"])
def test_a_comb_with_cleared_corners_is_found_and_asked(way: str) -> None:
    region = relieved_comb(way)
    assert region.polygon.is_valid
    (comb,) = [r for r in recognise(region, [18.0]) if r.kind == "comb"]
    assert comb.ref.size == pytest.approx((18.0, 210.0, 8.0))
    assert comb.ref.anchor == pytest.approx((125.0, 9.0))
    assert not comb.certain
    assert not [r for r in recognise(region, [12.0]) if r.kind == "comb"]


def test_a_comb_over_the_rings_first_corner_stays_whole() -> None:
    ring = comb(5, 40, 18)
    for shift in range(len(ring.vertices)):
        turned = Ring((*ring.vertices[shift:], *ring.vertices[:shift]))
        (found,) = of_kind(Region(turned), "comb", [18])
        assert found.ref.size[2] == 8


@pytest.mark.parametrize(
    ("region", "angles"),
    [
        (rectangle(600, 400), [0, 90]),
        (rectangle(400, 400), [0, 45, 90, 135]),
        (disc(300), [0, 90]),
        (triangle(600, 400), [90]),
        (triangle(600, 400, apex_mm=0), []),
        (triangle_of_sides(500, 500, 500), [30, 90, 150]),
        (panel(Ring.circle(300, 100, 20)), [90]),
        (panel(Ring.circle(300.5, 100, 20)), []),
        (panel(Ring.circle(100, 100, 20)), []),
        (Region(comb(5, 40, 18)), [90]),
    ],
)
def test_axes_are_the_lines_a_panel_mirrors_in(region: Region, angles: list[float]) -> None:
    found = [item.ref.size[0] for item in recognise(region, []) if item.kind == "axis"]
    assert found == pytest.approx(angles, abs=0.01)


def test_axes_turn_with_the_panel() -> None:
    turned = rectangle(600, 400).moved(Motion(50, 70, 33))
    axes = [item.ref.size[0] for item in recognise(turned, []) if item.kind == "axis"]
    assert axes == pytest.approx([33, 123], abs=0.01)


def test_straight_edges_are_whole_even_if_drawn_in_pieces() -> None:
    ring = Ring.of([(0, 0), (100, 0), (350, 0), (600, 0), (600, 400), (0, 400)])
    edges = of_kind(Region(ring), "edge", [])
    assert [item.width_mm for item in edges] == [600, 400, 600, 400]
    assert (edges[0].first_edge, edges[0].last_edge) == (0, 2)
