"""Joint proportions against tradition, handbook figures and common practice."""

from __future__ import annotations

import math

import pytest
from shapely.geometry import Polygon

from core.geometry.path import edge_direction, edges_of, flatten_path
from core.joints import STYLES, JointContext
from core.joints.curved import turned_tooth
from core.joints.own import undercut_of
from core.project.model import StyleChoice
from core.shop import Cutter

# Board thicknesses of birch plywood by its maker's data sheet (Finnish practice), mean mm for
# 9, 12, 15, 18, 21, 24 nominal, as quoted in secondary literature.
BOARDS = (9.2, 12.0, 14.9, 17.7, 20.5, 23.4)


def flank_deg(slope: float) -> float:
    """Lean of a dovetail's flank from square, degrees, measured on the tooth itself."""
    context = JointContext(18.0, Cutter(6.0), 0.1)
    choice = StyleChoice("dovetail", (("slope", slope), ("depth", 20.0), ("spacing", 40.0)))
    tooth = STYLES["dovetail"].tooth(choice, context)
    assert tooth is not None
    dx, dy = edge_direction(*edges_of(tooth.path)[0], 0.0)
    return math.degrees(math.atan2(-dx, dy))


@pytest.mark.parametrize(
    ("slope", "degrees"), [(5, 11.3099), (6, 9.4623), (7, 8.1301), (8, 7.1250), (4, 14.0362)]
)
def test_dovetail_slopes_have_the_traditional_angles(slope: float, degrees: float) -> None:
    # 1:6 softwood and 1:8 hardwood: tradition, as quoted in secondary literature (which adds
    # that museum pieces show any slope); the angles are arithmetic.
    assert flank_deg(slope) == pytest.approx(degrees, abs=5e-5)


@pytest.mark.parametrize("thickness", BOARDS)
def test_fingers_are_one_to_one_and_a_half_thicknesses_wide(thickness: float) -> None:
    # Common practice, no source: even fingers, width 1 to 1.5 t.
    context = JointContext(thickness, Cutter(3.0), 0.1)
    tooth = STYLES["finger"].tooth(StyleChoice("finger"), context)
    assert tooth is not None
    assert thickness <= tooth.base_mm <= 1.5 * thickness
    assert tooth.pitch_mm == pytest.approx(2 * tooth.base_mm)


def test_no_style_asks_for_end_grain_to_hold_alone() -> None:
    # An end-grain butt joint reaches about 25 % of the wood's strength in tension, a joint
    # needs a glue area of at least ten times the cross-section (Wood Handbook, FPL-GTR-190,
    # ch. 10, as quoted in secondary literature). A flat seam has one cross-section; every style
    # with teeth, keys or a lap adds to it, and the half-lap most.
    context = JointContext(17.7, Cutter(6.0), 0.1)
    area = {
        name: style.properties(StyleChoice(name), context).glue_area_per_m_mm2
        for name, style in STYLES.items()
    }
    flat = 1000 * 17.7
    assert all(a > 1.15 * flat for a in area.values())
    assert max(area, key=lambda name: area[name]) == "half-lap"
    assert area["finger"] == pytest.approx(2 * flat)


def test_a_lap_of_ten_thicknesses_reaches_the_handbooks_glue_area() -> None:
    # Glue area at least 10 × the cross-section (Wood Handbook, FPL-GTR-190, ch. 10, as quoted
    # in secondary literature): a half-lap of 9 t has it, shoulders counted.
    context = JointContext(18.0, Cutter(6.0), 0.1)
    properties = STYLES["half-lap"].properties(StyleChoice("half-lap", (("lap", 162.0),)), context)
    assert properties.glue_area_per_m_mm2 == pytest.approx(10 * 1000 * 18.0)


@pytest.mark.parametrize("fit", [0.05, 0.1, 0.15, 0.2, 0.25])
def test_usual_clearances_leave_dovetails_and_rounded_teeth_holding(fit: float) -> None:
    # Clearance for routed wood joints 0.05 to 0.25 mm in all: common practice, no source.
    context = JointContext(17.7, Cutter(6.0), fit)
    for name in ("dovetail", "rounded"):
        assert STYLES[name].properties(StyleChoice(name), context).holds


def test_tooth_sizes_follow_from_the_turns_of_its_arcs() -> None:
    # Plane geometry, checked on the flattened outline: half base (Rf + Rh) sin a, depth
    # (Rf + Rh)(1 − cos a), undercut (Rf + Rh)(1 − sin a).
    for angle in (60.0, 95.0, 110.0, 120.0, 130.0):
        path = turned_tooth(8.0, 11.0, angle)
        a = math.radians(angle)
        points = flatten_path(path, 1e-5)
        assert points[-1][0] == pytest.approx(2 * 19 * math.sin(a))
        assert points[:, 1].max() == pytest.approx(19 * (1 - math.cos(a)), abs=1e-4)
        if angle > 90:
            tooth = Polygon(points)
            low = tooth.intersection(tooth.envelope.buffer(0)).bounds
            assert low[0] == pytest.approx(min(0.0, 19 * math.sin(a) - 11.0), abs=1e-3)
            assert undercut_of(path) == pytest.approx(19 * (1 - math.sin(a)), abs=0.25)
