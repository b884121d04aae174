"""Left and right pairs, face up and down: what travels along, and what is never turned."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import ezdxf
import pytest
import shapely
from shapely import affinity

from core.geometry import Motion, Region, Ring
from core.outlines.model import Face, Feature, Role
from core.planning import cut_panels, plan_project
from core.project.edits import add_drawing
from core.project.model import Mark, Panel, Project, SeamLine, StyleChoice
from core.project.refit import KeepWall, RefitDecision, ReliefKind
from core.refit import mirrored_twin, propose_refit, refit_panel
from core.reports import write_reports
from core.shop import Cutter, Machine, Material, Reading, Shop, Stock
from tests.unit.refit.refit_fittings import notched, panel, project

LEFT = Panel(
    "end",
    "End left",
    Region.of(
        Ring.of([(0, 0), (500, 0), (500, 300), (200, 300), (0, 180)]), [Ring.circle(420, 60, 20)]
    ),
    (
        Feature(Role.POCKET, Ring.rectangle(40, 20, 120, 30), depth_mm=6.0, face=Face.BACK),
        Feature(Role.DADO, Ring.rectangle(300, 0, 18, 300), depth_mm=8.0),
        Feature(Role.DRILL, at=(450.0, 250.0), diameter_mm=5.0, depth_mm=10.0),
        Feature(Role.ENGRAVE, path=((60.0, 100.0), (110.0, 120.0)), depth_mm=0.3),
    ),
    material="Birch ply 18",
)


def shop(*stock: Stock) -> Shop:
    board = Material("Birch ply 18", 18.0, (Reading(17.6),))
    sheets = stock or (Stock("s1", board.name, 1250, 650),)
    return Shop(Machine("Router", (900, 600), (900, 600), (Cutter(6.0),)), (board,), sheets)


def same_area(one: shapely.Geometry, two: shapely.Geometry) -> bool:
    return one.symmetric_difference(two).area < 1e-6


def flipped(shape: shapely.Geometry, about_x: float) -> shapely.Geometry:
    return affinity.scale(shape, -1, 1, origin=(about_x, 0))


def test_the_twin_is_the_mirror_image_with_everything_cut_into_it() -> None:
    base = Project("Pair", panels=(LEFT,), shop=shop())
    twin = mirrored_twin(base, LEFT)
    assert twin.name == "End left, mirrored"
    assert twin.id != LEFT.id and twin.drawing == ""
    assert same_area(twin.region.polygon, flipped(LEFT.region.polygon, 250))
    assert twin.region.outer.signed_area_mm2 > 0
    for old, new in zip(LEFT.features, twin.features, strict=True):
        assert (new.kind, new.depth_mm, new.face) == (old.kind, old.depth_mm, old.face)
        if old.ring is not None and new.ring is not None:
            one, two = Region(old.ring).polygon, Region(new.ring).polygon
            assert same_area(two, flipped(one, 250))
    assert twin.features[2].at == pytest.approx((50.0, 250.0))
    assert twin.features[3].path == ((440.0, 100.0), (390.0, 120.0))


def test_the_twin_of_a_twin_is_the_panel_again() -> None:
    base = Project("Pair", panels=(LEFT,), shop=shop())
    twin = mirrored_twin(base, LEFT)
    again = mirrored_twin(replace(base, panels=(LEFT, twin)), twin)
    assert again.name == LEFT.name
    assert same_area(again.region.polygon, LEFT.region.polygon)
    assert again.features[2].at == pytest.approx(LEFT.features[2].at)


@pytest.mark.parametrize("style", ["finger", "dovetail", "rounded", "half-lap"])
def test_a_split_twin_is_cut_into_mirrored_pieces(style: str) -> None:
    from core.joints import STYLES

    name = next((n for n in STYLES if n.startswith(style.split("-")[0])), "finger")
    side = Panel(
        "side",
        "Side",
        Region.of(Ring.of([(0, 0), (1000, 0), (1000, 300), (100, 300), (0, 250)])),
        (Feature(Role.POCKET, Ring.rectangle(80, 60, 90, 40), depth_mm=5.0),),
        material="Birch ply 18",
        seams=(SeamLine(((430.0, 0.0), (430.0, 300.0)), StyleChoice(name)),),
        marks=(Mark("support", ((500.0, 0.0), (500.0, 300.0))),),
    )
    base = Project("Pair", panels=(side,), shop=shop())
    twin = mirrored_twin(base, side)
    assert twin.marks[0].points == ((500.0, 0.0), (500.0, 300.0))
    done = cut_panels(replace(base, panels=(side, twin)))
    own = [p for p in done.pieces if p.panel == side.id and not p.loose]
    other = [p for p in done.pieces if p.panel == twin.id and not p.loose]
    assert len(own) == len(other) == 2
    for piece in own:
        image = flipped(piece.cut.polygon, 500.0)
        best = min(other, key=lambda p: p.cut.polygon.symmetric_difference(image).area)
        assert best.cut.polygon.symmetric_difference(image).area < 0.05
        assert len(best.features) == len(piece.features)


def test_decisions_about_drawn_joints_follow_to_the_other_hand() -> None:
    part = panel("Strip", notched(600, 80, [150, 450], 18.0, 40.0, top=True))
    ref = propose_refit(project(part))[0].ref
    part = replace(part, refits=(RefitDecision(ref, keep=KeepWall.LOW),))
    base = project(part, relief=ReliefKind.NONE)
    twin = mirrored_twin(base, part)
    assert twin.refits[0].keep is KeepWall.HIGH
    both = replace(base, panels=(part, twin))
    one = refit_panel(both, part).panel.region.polygon
    two = refit_panel(both, twin).panel.region.polygon
    assert same_area(two, flipped(one, 300.0))
    assert not refit_panel(both, twin).orphans


# --- never turned over unasked -----------------------------------------------------------------


def test_a_piece_with_two_hands_is_never_laid_face_down_unless_it_may_be() -> None:
    # Two of these go on the sheet only if one is turned over; may_mirror is off.
    wedge = Region.of(Ring.of([(0, 0), (560, 0), (560, 60), (0, 240)]))
    part = Panel("w", "Wedge", wedge, quantity=6, material="Birch ply 18")
    plan = plan_project(Project("Hands", panels=(part,), shop=shop()), steps=40)
    assert plan.sheets
    assert not any(p.motion.mirrored for s in plan.sheets for p in s.placements)
    may = replace(part, may_mirror=True)
    (piece,) = cut_panels(Project("Hands", panels=(may,), shop=shop())).pieces
    assert piece.may_mirror


def test_a_layout_that_turns_a_piece_over_unasked_is_told(tmp_path: Path) -> None:
    from core.planning import assemble_plan
    from core.project.model import KeptLayout, Placed

    base = Project("Hands", panels=(LEFT,), shop=shop())
    pieces = cut_panels(base)
    motion = Motion(600.0, 100.0, mirrored=True)
    layout = KeptLayout("By hand", (Placed(pieces.pieces[0].id, 1, "s1", 1, motion),))
    codes = {f.code: f for f in assemble_plan(base, pieces, layout).findings}
    assert codes["mirrored"].severity == "stop"


def test_the_drawing_of_a_piece_that_lies_face_down_carries_the_word(tmp_path: Path) -> None:
    from core.planning import assemble_plan
    from core.project.model import KeptLayout, Placed

    part = replace(LEFT, may_mirror=True)
    base = Project("Hands", panels=(part,), shop=shop())
    pieces = cut_panels(base)
    motion = Motion(600.0, 100.0, mirrored=True)
    layout = KeptLayout("By hand", (Placed(pieces.pieces[0].id, 1, "s1", 1, motion),))
    plan = assemble_plan(base, pieces, layout)
    write_reports(plan, tmp_path)
    said = []
    for path in sorted(tmp_path.rglob("*.dxf")):
        space = ezdxf.readfile(path).modelspace()
        said += [e.dxf.text for e in space if e.dxftype() == "TEXT"]
    assert any("End left MIRRORED" in text for text in said)


def test_reading_the_drawing_again_keeps_decisions_and_twins(tmp_path: Path) -> None:
    from core.outlines.write import region_items, write_dxf

    strip = Region.of(notched(600, 80, [150, 450], 18.0, 40.0, top=True))
    path = tmp_path / "strip.dxf"
    write_dxf(path, region_items("CUT", strip))
    base = Project("Again", shop=shop())
    base = add_drawing(base, path).project
    own = base.panels[0]
    ref = propose_refit(base)[0].ref
    decided = replace(own, refits=(RefitDecision(ref, keep=KeepWall.LOW),), material="Birch ply 18")
    base = replace(base, panels=(decided, mirrored_twin(base, decided)))
    # Drawn anew with a longer end and the notches where they were.
    longer = Region.of(notched(620, 80, [150, 450], 18.0, 40.0, top=True))
    write_dxf(path, region_items("CUT", longer))
    again = add_drawing(base, path).project
    assert [p.name for p in again.panels][1].endswith("mirrored")
    assert again.panels[0].region.size_mm[0] == pytest.approx(620.0)
    assert again.panels[0].refits[0].keep is KeepWall.LOW
    done = refit_panel(again, again.panels[0])
    assert not done.orphans and done.items[0].decision is not None
