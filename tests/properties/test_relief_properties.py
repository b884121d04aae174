"""Relief of random corners: bit-sized arcs, nothing cut that needs no cutting."""

from __future__ import annotations

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.geometry import Point, Polygon

from core.geometry import Ring, arc_of
from core.joints.access import bit_leaves
from core.joints.relief import corner_at, relief_needed, relieve_ring
from core.project.model import ReliefKind

KINDS = (ReliefKind.DOG_BONE, ReliefKind.T_BONE, ReliefKind.SMALLEST)
SOME = settings(max_examples=40, deadline=None, derandomize=True)


def notched(turn_deg: float, waste_deg: float) -> tuple[Ring, int]:
    """A plate with a wedge-shaped notch; the index of the notch's corner."""
    half = math.radians(waste_deg) / 2
    reach = 120.0
    rows = [
        (-200.0, -150.0),
        (200.0, -150.0),
        (200.0, reach * math.cos(half)),
        (reach * math.sin(half), reach * math.cos(half)),
        (0.0, 0.0),
        (-reach * math.sin(half), reach * math.cos(half)),
        (-200.0, reach * math.cos(half)),
    ]
    c, s = math.cos(math.radians(turn_deg)), math.sin(math.radians(turn_deg))
    return Ring.of([(x * c - y * s, x * s + y * c) for x, y in rows]), 4


@SOME
@given(
    turn=st.floats(0, 360),
    waste=st.floats(30, 150),
    radius=st.floats(0.75, 6.35),
    kind=st.sampled_from(KINDS),
    keep=st.booleans(),
)
def test_arcs_have_the_bits_radius_and_the_mates_corner_gets_in(
    turn: float, waste: float, radius: float, kind: ReliefKind, keep: bool
) -> None:
    ring, index = notched(turn, waste)
    cut = relieve_ring(ring, {index: (0.0, 0.0)}, radius, kind, keep_in={index: keep})
    arcs = [edge for edge in cut.edges() if edge[2]]
    assert arcs
    assert all(arc_of(*edge)[1] == pytest.approx(radius) for edge in arcs)
    before, after = Polygon(ring.flattened(1e-4)), Polygon(cut.flattened(1e-4))
    assert after.is_valid
    # Only wood is taken, and only within two diameters of the corner.
    assert after.difference(before).area < 1e-3
    far = 4 * radius / math.sin(math.radians(waste) / 2) + radius
    assert before.difference(after).difference(Point(0, 0).buffer(far)).area < 1e-3
    # What the bit leaves no longer covers the corner.
    left = bit_leaves(after, radius - 0.004)
    assert left.distance(Point(0, 0)) < 0.05
    assert not left.buffer(-0.02).covers(Point(0, 0))


@SOME
@given(waste=st.floats(60, 150), radius=st.floats(0.75, 6.35))
def test_a_corner_the_mate_does_not_enter_is_left_alone(waste: float, radius: float) -> None:
    ring, index = notched(0.0, waste)
    # A mate rounded by the bit and more stays clear of what the bit leaves.
    away = radius / math.sin(math.radians(waste) / 2)
    assert relieve_ring(ring, {index: (0.0, away)}, radius, ReliefKind.DOG_BONE) == ring


@SOME
@given(waste=st.floats(40, 150), gap=st.floats(0, 1.5), radius=st.floats(1, 6))
def test_relief_is_needed_however_loose_the_mate_until_it_is_past_what_the_bit_leaves(
    waste: float, gap: float, radius: float
) -> None:
    # A mate slimmer by the gap all round stands gap / tan(a/2) along each side; the bit leaves
    # the corner out to r / tan(a/2) (plane trigonometry). Within that it can be pushed into it.
    ring, index = notched(0.0, waste)
    half = math.radians(waste) / 2
    path = (*ring.vertices[index - 1 : index + 2],)
    corner = corner_at(path, 1, (0.0, gap / math.sin(half)))
    assert corner is not None
    if abs(radius - gap) > 1e-6:
        assert relief_needed(corner, radius) == (gap < radius)


@SOME
@given(gap=st.floats(0, 0.5), radius=st.floats(1, 6))
def test_a_film_at_a_blunt_corner_is_relieved_only_if_the_mate_stands_in_it(
    gap: float, radius: float
) -> None:
    # At 173° the bit leaves r (1 / sin(a/2) − 1), 0.0019 r: under a hundredth for these bits.
    waste = math.radians(173.0)
    left = radius * (1 / math.sin(waste / 2) - 1)
    assert left < 0.0113
    ring, index = notched(0.0, 173.0)
    path = (*ring.vertices[index - 1 : index + 2],)
    corner = corner_at(path, 1, (0.0, gap))
    assert corner is not None
    if left < 0.01 and abs(left - gap) > 1e-6:
        assert relief_needed(corner, radius) == (gap < left)


@SOME
@given(
    gap=st.floats(0.02, 0.3),
    deep=st.floats(0.0, 0.3),
    radius=st.floats(1.5, 6),
    kind=st.sampled_from(KINDS),
)
def test_a_relieved_corner_takes_the_mate_pushed_against_the_wall(
    gap: float, deep: float, radius: float, kind: ReliefKind
) -> None:
    # A square mate with its gap at one wall and a clearance at the bottom, pushed over.
    ring, index = notched(45.0, 90.0)
    (ax, ay, _), (bx, by, _) = ring.vertices[index - 1], ring.vertices[index + 1]
    one, two = math.hypot(ax, ay), math.hypot(bx, by)
    a, b = (ax / one, ay / one), (bx / two, by / two)
    resting = (a[0] * gap + b[0] * deep, a[1] * gap + b[1] * deep)
    cut = relieve_ring(ring, {index: resting}, radius, kind)
    left = bit_leaves(Polygon(cut.flattened(1e-4)), radius - 0.002)
    pushed = (b[0] * deep, b[1] * deep)
    mate = Polygon(
        [
            pushed,
            (pushed[0] + a[0] * 20, pushed[1] + a[1] * 20),
            (pushed[0] + (a[0] + b[0]) * 20, pushed[1] + (a[1] + b[1]) * 20),
            (pushed[0] + b[0] * 20, pushed[1] + b[1] * 20),
        ]
    )
    assert left.intersection(mate).buffer(-0.004).is_empty


def test_every_corner_of_a_hole_may_be_relieved_at_once() -> None:
    hole = Ring.rectangle(0, 0, 60, 40).reversed()
    indices = {k: (v[0], v[1]) for k, v in enumerate(hole.vertices)}
    cut = relieve_ring(hole, indices, 3.0, ReliefKind.DOG_BONE)
    assert sum(1 for v in cut.vertices if v[2]) == 4
    taken = abs(cut.signed_area_mm2) - abs(hole.signed_area_mm2)
    assert taken == pytest.approx(4 * 9 * (math.pi / 2 - 1))
