"""Re-cut joints in the whole way from drawing to plan: outlines as drawn, cuts as measured."""

from __future__ import annotations

from dataclasses import replace

import pytest
from shapely import unary_union

from core.geometry import Region, Ring
from core.outlines.model import Feature, Role
from core.planning import cut_panels
from core.project.model import Project, SeamLine, StyleChoice
from core.project.refit import ReliefKind
from core.refit.skeleton import skeleton_of
from tests.unit.refit.refit_fittings import notched, panel, project, tenoned, toothed


def slot_widths(region: Region) -> list[float]:
    out = []
    for ring in region.holes:
        skeleton = skeleton_of(ring)
        assert skeleton is not None
        out.append(min(side.length_mm for side in skeleton.sides))
    return out


def shelf(**more: object) -> Project:
    tenons = [(60.0, 120.0), (230.0, 290.0)]
    holes = [Ring.rectangle(x, low, 18.0, b - low) for x in (150.0, 800.0) for low, b in tenons]
    top = panel("Shelf", Ring.rectangle(0, 0, 1100, 350), holes)
    seam = SeamLine(((550.0, -1.0), (550.0, 351.0)), StyleChoice("finger"))
    top = replace(top, seams=(seam,))
    leg = panel("Leg", tenoned(420.0, 350.0, tenons, 18.0))
    return project(top, leg, **more)  # type: ignore[arg-type]


@pytest.mark.parametrize("relief", [ReliefKind.NONE, ReliefKind.DOG_BONE])
def test_every_piece_of_a_split_panel_has_its_slots_as_measured(relief: ReliefKind) -> None:
    made = cut_panels(shelf(relief=relief))
    drawn = next(p for p in made.panels if p.id == "Shelf")
    pieces = [p for p in made.pieces if p.panel == "Shelf"]
    assert len(pieces) == 2
    assert [w for p in pieces for w in slot_widths(p.cut)] == pytest.approx([17.7] * 4)
    # Outlines stay as drawn and partition the panel.
    assert [w for p in pieces for w in slot_widths(p.outline)] == pytest.approx([18.0] * 4)
    joined = unary_union([p.outline.polygon for p in pieces])
    assert joined.symmetric_difference(drawn.outline.polygon).area < 1e-6 * joined.area
    assert drawn.outline == next(p for p in shelf().panels if p.id == "Shelf").region


def test_with_refit_off_cuts_are_as_drawn() -> None:
    made = cut_panels(replace(shelf(), refit=False))
    pieces = [p for p in made.pieces if p.panel == "Shelf"]
    assert [w for p in pieces for w in slot_widths(p.cut)] == pytest.approx([18.0] * 4)
    assert not any(f.code.startswith("refit") for f in made.findings)


def test_the_seam_between_the_pieces_is_the_same_with_and_without_refit() -> None:
    on, off = (cut_panels(replace(shelf(), refit=refit)) for refit in (True, False))
    for a, b in zip(on.pieces, off.pieces, strict=True):
        if a.panel != "Shelf":
            continue
        assert a.cut.outer == b.cut.outer


def test_a_comb_split_by_a_seam_keeps_depth_and_pitch_on_both_pieces() -> None:
    top = panel("Top", toothed(600, 300, 9, 18.0, tip_first=True))
    seam = SeamLine(((300.0, -1.0), (300.0, 301.0)), StyleChoice("wave"))
    plan = project(
        replace(top, seams=(seam,)), panel("Side", toothed(400, 300, 9, 18.0, tip_first=False))
    )
    pieces = [p for p in cut_panels(plan).pieces if p.panel == "Top"]
    assert len(pieces) == 2
    for piece in pieces:
        skeleton = skeleton_of(piece.cut.outer)
        assert skeleton is not None
        flats = {
            round(s.start[0], 6)
            for s in skeleton.sides
            if s.is_straight and abs(s.direction[1]) > 0.999 and not 200 < s.middle[0] < 400
        }
        assert max(flats) - min(flats) == pytest.approx(17.6)


def test_dados_of_a_plan_are_recut_and_drawn_ones_stay_in_the_panel() -> None:
    dado = Feature(Role.DADO, Ring.rectangle(100, 0, 18, 300), depth_mm=6.0, layer="DADO 6")
    side = replace(panel("Side", Ring.rectangle(0, 0, 400, 300)), features=(dado,))
    made = cut_panels(project(side))
    assert made.panels[0].features == (dado,)
    ring = made.pieces[0].features[0].ring
    assert ring is not None
    assert ring.bounds[2] - ring.bounds[0] == pytest.approx(17.7)


def test_a_grid_in_a_plan_asks_nothing_and_says_what_was_done() -> None:
    long = panel("Long", notched(600, 80, [150, 450], 18.0, 40.0, top=True))
    short = panel("Short", notched(300, 80, [150], 18.0, 40.0, top=False))
    found = [f.code for f in cut_panels(project(long, short)).findings]
    assert found.count("refit-done") == 2 and "refit-ask" not in found
