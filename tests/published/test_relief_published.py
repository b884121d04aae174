"""Relief and corner figures against plane geometry and what makers' pages give for it."""

from __future__ import annotations

import math

import pytest
from shapely.geometry import Point, Polygon, box

from core.geometry import Region, Ring, arc_of
from core.geometry.path import Path, edges_of, flatten_path
from core.joints.access import bit_access, bit_leaves
from core.joints.relief import corner_at, disc_centre, overcut_mm, relief_needed, relieve_path
from core.project.model import ReliefKind

# Bit diameters in common use, mm (1/8, 6, 1/4, 1/2 in): common practice, no source.
BITS = (3.175, 6.0, 6.35, 12.7)
ANGLES = tuple(range(30, 151, 10))


def corner_path(waste_deg: float, side_mm: float = 200.0) -> Path:
    """A path, material on its left, that turns right at (0, 0) leaving waste of this angle."""
    a = math.radians(waste_deg)
    return (
        (-side_mm * math.cos(a / 2), side_mm * math.sin(a / 2), 0.0),
        (0.0, 0.0, 0.0),
        (-side_mm * math.cos(a / 2), -side_mm * math.sin(a / 2), 0.0),
    )


def material(path: Path) -> Polygon:
    """Board to the left of the path: everything but the waste wedge, opening to the left."""
    points = flatten_path(path, 1e-4)
    return box(-150, -400, 300, 400).difference(Polygon([*points]).buffer(0))


@pytest.mark.parametrize("diameter", BITS)
def test_radius_left_in_a_square_corner_is_half_the_bit(diameter: float) -> None:
    # A bit leaves its own radius: geometry, as machining pages give it (8 mm bit → 4 mm).
    r = diameter / 2
    (spot,) = bit_access(
        Region.from_polygon(box(0, 0, 90, 90).difference(box(40, 40, 91, 91))), diameter
    )
    # Arithmetic: the vertex lies r (√2 − 1) from the arc, r² (1 − π / 4) stays uncut.
    assert spot.area_mm2 == pytest.approx(r * r * (1 - math.pi / 4), rel=0.02)
    furthest = max(Point(40, 40).distance(Point(p)) for p in spot.shape.exterior.coords if p[0] > 0)
    assert furthest <= r * 1.02
    gap = min(math.dist((40 + r, 40 + r), p) for p in spot.shape.exterior.coords)
    assert gap == pytest.approx(r, rel=0.02)


@pytest.mark.parametrize(
    ("diameter", "overcut"), [(3.175, 0.4650), (6.0, 0.8787), (6.35, 0.9299), (12.7, 1.8599)]
)
def test_a_square_dog_bone_overcuts_by_0_293_of_the_radius(diameter: float, overcut: float) -> None:
    # Arithmetic: r (1 − 1/√2) beyond each wall, centre r/√2 from each wall.
    r = diameter / 2
    assert overcut_mm(r, math.pi / 2) == pytest.approx(overcut, abs=5e-5)
    assert overcut_mm(r, math.pi / 2) == pytest.approx(r * (1 - 1 / math.sqrt(2)))
    corner = corner_at(corner_path(90.0), 1, (0.0, 0.0))
    assert corner is not None
    x, y = disc_centre(corner, r, ReliefKind.DOG_BONE)
    assert (x, y) == pytest.approx((-r, 0.0))


def test_a_square_dog_bone_removes_what_the_formula_says_beyond_the_walls() -> None:
    # Arithmetic: r² (π/2 − 1) of board beyond the two walls.
    path = corner_path(90.0)
    corner = corner_at(path, 1, (0.0, 0.0))
    assert corner is not None
    cut = relieve_path(path, {1: corner}, 3.0, ReliefKind.DOG_BONE)
    removed = material(path).difference(material(cut)).area
    assert removed == pytest.approx(9 * (math.pi / 2 - 1), rel=1e-3)


@pytest.mark.parametrize("waste_deg", ANGLES)
@pytest.mark.parametrize("diameter", (3.0, 6.0))
def test_dog_bones_overcut_by_the_closed_formula_at_every_angle(
    waste_deg: float, diameter: float
) -> None:
    # Plane trigonometry: overcut r (1 − sin(a/2)); the disc passes through the corner.
    r, a = diameter / 2, math.radians(waste_deg)
    path = corner_path(waste_deg)
    corner = corner_at(path, 1, (0.0, 0.0))
    assert corner is not None
    assert relief_needed(corner, r)
    cut = relieve_path(path, {1: corner}, r, ReliefKind.DOG_BONE)
    arcs = [arc_of(*edge) for edge in edges_of(cut) if edge[2]]
    assert arcs
    for (cx, cy), radius, _, _ in arcs:
        assert radius == pytest.approx(r)
        assert (cx, cy) == pytest.approx((-r, 0.0), abs=1e-9)
    # Beyond a wall: the wall runs at a/2 above the bisector.
    nx, ny = math.sin(a / 2), math.cos(a / 2)
    points = flatten_path(cut, 1e-5)
    beyond = max(x * nx + y * ny for x, y in points if y > -1e-9 and x > -1.2 * r)
    swept = waste_deg < 90
    formula = r - r * math.sin(a / 2)
    assert beyond >= formula - 1e-3 if swept else beyond == pytest.approx(formula, abs=1e-3)


@pytest.mark.parametrize("waste_deg", ANGLES)
@pytest.mark.parametrize("keep_in", [True, False])
def test_t_bones_leave_one_side_whole_and_cut_the_other_by_the_formula(
    waste_deg: float, keep_in: bool
) -> None:
    # Plane trigonometry: 0 in the kept side, r (1 + cos a) in the other.
    r, a = 3.0, math.radians(waste_deg)
    path = corner_path(waste_deg)
    corner = corner_at(path, 1, (0.0, 0.0))
    assert corner is not None
    cut = relieve_path(path, {1: corner}, r, ReliefKind.T_BONE, keep_in={1: keep_in})
    points = flatten_path(cut, 1e-5)[1:-1]
    sign = 1.0 if keep_in else -1.0
    kept = max(x * math.sin(a / 2) + sign * y * math.cos(a / 2) for x, y in points)
    other = max(x * math.sin(a / 2) - sign * y * math.cos(a / 2) for x, y in points)
    assert kept == pytest.approx(0.0, abs=1e-4)
    assert other == pytest.approx(r * (1 + math.cos(a)), abs=1e-3)


@pytest.mark.parametrize("waste_deg", ANGLES)
@pytest.mark.parametrize("kind", [ReliefKind.DOG_BONE, ReliefKind.T_BONE, ReliefKind.SMALLEST])
def test_an_independent_simulated_cut_lets_the_mates_corner_in(
    waste_deg: float, kind: ReliefKind
) -> None:
    # The mate is the waste wedge itself, 0.05 mm slimmer all round.
    r, gap = 3.0, 0.05
    path = corner_path(waste_deg)
    a = math.radians(waste_deg)
    mate_corner = (-gap / math.sin(a / 2), 0.0)
    corner = corner_at(path, 1, mate_corner)
    assert corner is not None
    wedge = Polygon(flatten_path(path)).buffer(-gap, join_style="mitre", mitre_limit=20)
    # Only near the corner: the drawn board ends a little way off.
    wedge = wedge.intersection(box(-40, -40, 40, 40))
    plain = bit_leaves(material(path), r)
    assert (plain.intersection(wedge).area > 0.01) == relief_needed(corner, r)
    cut = relieve_path(path, {1: corner}, r, kind)
    left = bit_leaves(material(cut), r - 0.004)
    assert left.intersection(wedge).buffer(-0.004).is_empty


def test_the_narrowest_slot_is_the_bits_diameter() -> None:
    # Arithmetic: a disc of d enters a slot of d, not one narrower.
    for width, fits in ((6.0, True), (5.98, False)):
        region = Region.of(
            Ring.rectangle(0, 0, 200, 60),
            [Ring.of([(40, 20, 0), (160, 20, 1.0), (160, 20 + width, 0), (40, 20 + width, 1.0)])],
        )
        assert (bit_access(region, 6.0) == ()) == fits
