"""Re-cut joints for any board, fit and size: larger is looser, never anything else."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.geometry import box

from core.geometry import Motion, Region, Ring
from core.project.model import Panel, Project
from core.project.refit import KeepWall, RefitDecision, ReliefKind, SizeHold
from core.refit import propose_refit, refit_cut, refit_panel
from core.shop import Material, Reading
from tests.unit.refit.refit_fittings import notched, panel, project, tenoned, toothed
from tests.unit.refit.refit_solids import Board, overlap_mm3

NOMINAL = 18.0
fits = st.floats(0.0, 0.5)
measured = st.floats(16.5, 19.0)
holds = st.sampled_from(list(SizeHold))
reliefs = st.sampled_from(list(ReliefKind))
QUICK = settings(max_examples=25, deadline=None)


def board(thickness: float) -> Material:
    return Material("Birch ply 18", NOMINAL, (Reading(thickness),))


def recut(part: Panel, plan: Project) -> Region:
    return refit_panel(plan, part).panel.region


def fittings(teeth: int, width: float) -> dict[str, list[Panel]]:
    tenons = [(40.0, 40.0 + width), (180.0, 180.0 + width)]
    mortises = [Ring.rectangle(60.0, low, NOMINAL, high - low) for low, high in tenons]
    return {
        "carcass": [
            panel("Top", toothed(600, 30.0 * teeth, teeth, NOMINAL, tip_first=True)),
            panel("Side", toothed(400, 30.0 * teeth, teeth, NOMINAL, tip_first=False)),
        ],
        "grid": [
            panel("Long", notched(600, 80, [150, 450], NOMINAL, 40.0, top=True)),
            panel("Short", notched(300, 80, [150], NOMINAL, 40.0, top=False)),
        ],
        "seat": [
            panel("Seat", Ring.rectangle(0, 0, 400, 350), mortises),
            panel("Leg", tenoned(300.0, 350.0, tenons, NOMINAL)),
        ],
    }


@QUICK
@given(
    kind=st.sampled_from(["carcass", "grid", "seat"]),
    teeth=st.integers(3, 9),
    width=st.floats(25.0, 100.0),
    thickness=measured,
    one=fits,
    two=fits,
    hold=holds,
)
def test_a_larger_fit_only_ever_takes_board_away(
    kind: str, teeth: int, width: float, thickness: float, one: float, two: float, hold: SizeHold
) -> None:
    low, high = sorted((one, two))
    for part in fittings(teeth, width)[kind]:
        parts = fittings(teeth, width)[kind]
        tight, loose = (
            recut(
                part,
                project(
                    *parts,
                    fit_mm=fit,
                    materials=(board(thickness),),
                    hold=hold,
                    relief=ReliefKind.NONE,
                ),
            ).polygon
            for fit in (low, high)
        )
        assert loose.difference(tight).area < 1e-6


@settings(max_examples=12, deadline=None)
@given(
    teeth=st.integers(3, 9),
    thickness=measured,
    fit=fits,
    proud=st.floats(0.0, 0.5),
    hold=holds,
    relief=reliefs,
)
def test_a_carcass_fits_up_to_its_play_and_not_beyond(
    teeth: int, thickness: float, fit: float, proud: float, hold: SizeHold, relief: ReliefKind
) -> None:
    top, side = fittings(teeth, 50.0)["carcass"]
    plan = project(
        top,
        side,
        fit_mm=fit,
        proud_mm=proud,
        hold=hold,
        materials=(board(thickness),),
        relief=relief,
    )
    one, two = recut(top, plan), recut(side, plan)
    # Outer faces of the mates: tips, less what stands proud.
    left, low = one.bounds[0] + proud, two.bounds[0] + proud
    lying = Board(one.polygon, "xy", low, thickness)
    upright = Board(two.polygon, "zy", left, thickness)
    assert overlap_mm3(lying, upright) < 1e-3
    # The smallest relief only just clears a mate in the middle of its play.
    if fit > 1e-3 and relief is not ReliefKind.SMALLEST:
        assert overlap_mm3(lying.moved(y=fit / 2 - 1e-4), upright) < 1e-3
    assert overlap_mm3(lying.moved(y=fit / 2 + 0.01), upright) > 0.1
    assert overlap_mm3(lying.moved(y=-fit / 2 - 0.01), upright) > 0.1


@QUICK
@given(
    width=st.floats(25.0, 100.0), thickness=measured, fit=fits, keep=st.sampled_from(list(KeepWall))
)
def test_a_seat_takes_its_tenons_up_to_the_play_and_not_beyond(
    width: float, thickness: float, fit: float, keep: KeepWall
) -> None:
    top, leg = fittings(3, width)["seat"]
    plan = project(top, leg, fit_mm=fit, materials=(board(thickness),), relief=ReliefKind.NONE)
    refs = [item.ref for item in propose_refit(plan) if item.panel == "Seat"]
    top = Panel(**{**_fields(top), "refits": tuple(RefitDecision(r, keep=keep) for r in refs)})
    plan = project(top, leg, fit_mm=fit, materials=(board(thickness),), relief=ReliefKind.NONE)
    seat, legs = recut(top, plan), recut(leg, plan)
    hole = seat.holes[0].bounds
    middle = (hole[0] + hole[2]) / 2
    if keep is KeepWall.LOW:
        assert hole[0] == pytest.approx(60.0)
    if keep is KeepWall.HIGH:
        assert hole[2] == pytest.approx(78.0)
    lying = Board(seat.polygon, "xy", legs.bounds[3] - thickness, thickness)
    upright = Board(legs.polygon, "yz", middle - thickness / 2, thickness)
    assert overlap_mm3(lying, upright) < 1e-3
    for axis in ("x", "y"):
        if fit > 1e-3:
            inside = {axis: fit / 2 - 1e-4}
            assert overlap_mm3(lying, upright.moved(**inside)) < 1e-3
        outside = {axis: fit / 2 + 0.01}
        assert overlap_mm3(lying, upright.moved(**outside)) > 0.1


def _fields(part: Panel) -> dict[str, object]:
    from dataclasses import fields

    return {f.name: getattr(part, f.name) for f in fields(part)}


@QUICK
@given(
    kind=st.sampled_from(["carcass", "grid", "seat"]),
    thickness=measured,
    fit=fits,
    hold=holds,
    relief=reliefs,
    at=st.floats(0.2, 0.8),
)
def test_pieces_recut_are_the_recut_panel_in_pieces(
    kind: str, thickness: float, fit: float, hold: SizeHold, relief: ReliefKind, at: float
) -> None:
    parts = fittings(5, 60.0)[kind]
    plan = project(*parts, fit_mm=fit, hold=hold, materials=(board(thickness),), relief=relief)
    for part in parts:
        done = refit_panel(plan, part)
        x1, y1, x2, y2 = part.region.bounds
        cut_at = x1 + (x2 - x1) * at
        # A seam keeps clear of joints: 12 mm from their walls (those across it) and reliefs.
        walls = [w for w in done.cut.walls if abs(w.start[0] - w.end[0]) < 30]
        near = [x for w in walls for x in (w.start[0], w.end[0])]
        near += [spot.at[0] for joint in done.cut.reliefs for spot in joint.spots]
        if any(abs(x - cut_at) < 12 for x in near):
            continue
        for low, high in ((x1 - 5, cut_at), (cut_at, x2 + 5)):
            frame = box(low, y1 - 5, high, y2 + 5)
            piece = part.region.polygon.intersection(frame)
            if piece.geom_type != "Polygon":
                continue
            ours = refit_cut(Region.from_polygon(piece), done.cut).polygon
            whole = done.panel.region.polygon.intersection(frame)
            assert ours.symmetric_difference(whole).area < 1e-2


@QUICK
@given(
    kind=st.sampled_from(["carcass", "grid", "seat"]),
    turn=st.floats(0, 360),
    x=st.floats(-500, 500),
    mirrored=st.booleans(),
    thickness=measured,
)
def test_where_a_panel_lies_in_its_drawing_does_not_matter(
    kind: str, turn: float, x: float, mirrored: bool, thickness: float
) -> None:
    parts = fittings(5, 60.0)[kind]
    motion = Motion(x, 40.0, turn, mirrored)
    plan = project(*parts, materials=(board(thickness),))
    for part in parts:
        laid = Panel(**{**_fields(part), "region": part.region.moved(motion)})
        others = tuple(laid if p is part else p for p in parts)
        here = recut(part, plan)
        there = recut(laid, project(*others, materials=(board(thickness),)))
        assert there.area_mm2 == pytest.approx(here.area_mm2, abs=1e-5)


@QUICK
@given(width=st.floats(5.0, 60.0), length=st.floats(5.0, 200.0))
def test_only_openings_near_a_nominal_thickness_are_ever_touched(
    width: float, length: float
) -> None:
    part = panel("Front", Ring.rectangle(0, 0, 400, 300), [Ring.rectangle(50, 50, width, length)])
    region = recut(part, project(part))
    near = any(abs(size - NOMINAL) <= 0.3 for size in (width, length))
    if not near:
        assert region is part.region
