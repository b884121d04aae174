"""A tooth read from a drawing, its report, and the way from the shop to the plan."""

from __future__ import annotations

import itertools
from pathlib import Path

import ezdxf
import pytest

from core.errors import InvalidGeometryError, UnreadableDrawing
from core.geometry import Region, Ring
from core.joints import JointContext, styles_of
from core.joints.drawn import read_tooth, report_on, row_of_teeth, suited_to
from core.planning import cut_panels
from core.project.file import load_project, save_project
from core.project.model import Panel, Project, SeamLine, StyleChoice
from core.shop import Cutter, Material, Reading, Shop, Stock, ToothDrawing

CONTEXT = JointContext(17.6, Cutter(6.0), 0.15)
FAN = ((0.0, 0.0), (2.0, 10.0), (-4.0, 22.0), (36.0, 22.0), (30.0, 10.0), (32.0, 0.0))
BUD = ToothDrawing("bud", tuple((x, y, 0.0) for x, y in FAN), rounded=True)


def drawn(tmp_path: Path, *, closed: bool = False, loose: bool = False) -> Path:
    doc = ezdxf.new(units=4)
    space = doc.modelspace()
    # Open lines may be drawn upside down; of a closed one the lowest side is the seam.
    rows = [(x + 40, 100 + y if closed else 100 - y) for x, y in FAN]
    if loose:
        for a, b in itertools.pairwise(rows):
            space.add_line(a, b)
    else:
        space.add_lwpolyline(rows, close=closed)
    path = tmp_path / "fan.dxf"
    doc.saveas(path)
    return path


@pytest.mark.parametrize("how", [{}, {"closed": True}, {"loose": True}])
def test_an_open_a_closed_and_a_loose_line_give_the_same_tooth(
    tmp_path: Path, how: dict[str, bool]
) -> None:
    tooth = read_tooth(drawn(tmp_path, **how))
    assert tooth.name == "fan"
    assert [p[:2] for p in tooth.points] == [pytest.approx(p, abs=1e-6) for p in FAN]


def test_arcs_of_an_svg_stay_arcs_and_its_unit_is_kept(tmp_path: Path) -> None:
    path = tmp_path / "knob.svg"
    path.write_text(
        '<svg xmlns="http://www.w3.org/2000/svg" width="40mm" height="40mm" viewBox="0 0 40 40">'
        '<path fill="none" stroke="black" d="M 10 30 L 12 20 A 10 10 0 1 1 28 20 L 30 30"/></svg>'
    )
    tooth = read_tooth(path)
    assert tooth.points[-1][:2] == pytest.approx((20.0, 0.0), abs=1e-6)
    assert any(abs(p[2]) > 0.3 for p in tooth.points)
    report = report_on(tooth, CONTEXT)
    assert report.holds and report.ok


def test_inches_are_read_as_such(tmp_path: Path) -> None:
    doc = ezdxf.new(units=1)
    doc.modelspace().add_lwpolyline([(0, 0), (0, 1), (1.5, 1), (1.5, 0)])
    doc.saveas(tmp_path / "block.dxf")
    tooth = read_tooth(tmp_path / "block.dxf")
    assert tooth.points[-1][:2] == pytest.approx((38.1, 0.0))


def test_a_drawing_without_a_tooth_says_why(tmp_path: Path) -> None:
    doc = ezdxf.new(units=4)
    doc.modelspace().add_circle((0, 0), 20)
    doc.saveas(tmp_path / "disc.dxf")
    with pytest.raises(InvalidGeometryError, match="no straight side"):
        read_tooth(tmp_path / "disc.dxf")
    empty = ezdxf.new(units=4)
    empty.saveas(tmp_path / "empty.dxf")
    with pytest.raises(UnreadableDrawing, match="no line"):
        read_tooth(tmp_path / "empty.dxf")


def test_a_report_says_everything_that_the_other_styles_say() -> None:
    report = report_on(BUD, CONTEXT)
    assert report.ok and report.holds
    assert report.radius_mm >= CONTEXT.cutter.radius_mm
    assert report.corners == 6
    assert report.needed_mm > 40.0 + 2 * 6.0
    # The heads of two neighbours stand 40 + 49.6 − 2 · 40 = 9.6 apart where they are sharp.
    assert 9.6 < report.narrowest_mm < 16.0
    crossed = ToothDrawing("x", ((0, 0, 0), (20, 20, 0), (0, 20, 0), (20, 0, 0)))
    assert not report_on(crossed, CONTEXT).ok
    assert "cross" in report_on(crossed, CONTEXT).problem


def test_a_tooth_too_small_for_the_bit_is_a_stop_and_suiting_it_mends_it() -> None:
    tiny = ToothDrawing("tiny", tuple((x / 5, y / 5, b) for x, y, b in BUD.points))
    assert not report_on(tiny, CONTEXT).ok
    suited = suited_to(tiny, CONTEXT)
    assert report_on(suited, CONTEXT).ok
    ratio = suited.points[-1][0] / tiny.points[-1][0]
    assert ratio > 1.5
    assert suited.points[2][1] / tiny.points[2][1] == pytest.approx(ratio)


def test_both_mates_of_a_row_of_teeth_keep_the_gap_and_the_bit_reaches_them() -> None:
    from shapely.geometry import LineString

    from core.geometry.path import flatten_path

    profile = row_of_teeth(BUD, CONTEXT)
    left, right = (LineString(flatten_path(p)) for p in (profile.left_cut, profile.right_cut))
    middle = left.interpolate(0.5, normalized=True)
    assert right.distance(middle) == pytest.approx(CONTEXT.gap_mm, abs=2e-3)
    assert profile.teeth == 3


def shop() -> Shop:
    return Shop(
        materials=(Material("birch", 18.0, (Reading(17.6),)),),
        stock=(Stock("full", "birch", 2500, 1250),),
        teeth=(BUD,),
    )


def test_own_teeth_are_kept_in_the_project_file(tmp_path: Path) -> None:
    save_project(Project(shop=shop()), tmp_path / "p.json")
    assert load_project(tmp_path / "p.json").shop.teeth == (BUD,)


@pytest.mark.parametrize("by_hand", [True, False])
def test_a_plan_cuts_seams_with_own_teeth_drawn_by_hand_or_planned(by_hand: bool) -> None:
    style = StyleChoice("own:bud")
    line = SeamLine(((700.0, 0.0), (700.0, 380.0)), style)
    panel = Panel(
        "side",
        "Side",
        Region.of(Ring.rectangle(0, 0, 1400, 380)),
        material="birch",
        style=style,
        seams=(line,) if by_hand else None,
    )
    pieces = cut_panels(Project(panels=(panel,), shop=shop()))
    assert [f for f in pieces.findings if f.severity == "stop"] == []
    assert len(pieces.pieces) == 2
    (seam,) = pieces.seams
    assert seam.style == "own:bud" and seam.style_title == "bud"
    assert len(seam.profile) > 30


def test_a_seam_whose_tooth_is_missing_stops_and_says_so() -> None:
    line = SeamLine(((700.0, 0.0), (700.0, 380.0)), StyleChoice("own:lost"))
    panel = Panel(
        "side", "Side", Region.of(Ring.rectangle(0, 0, 1400, 380)), material="birch", seams=(line,)
    )
    stops = cut_panels(Project(panels=(panel,), shop=shop())).findings
    assert any(f.severity == "stop" and "own:lost" in f.message for f in stops)


def test_a_damaged_drawing_of_a_tooth_is_left_out_of_the_styles() -> None:
    flat = ToothDrawing("flat", ((0, 0, 0), (20, 0, 0)))
    assert set(styles_of((flat, BUD)).styles) - set(styles_of(()).styles) == {"own:bud"}


def test_the_test_piece_tries_the_makers_own_tooth() -> None:
    from core.test_pieces import make_test_piece

    panel = Panel(
        "side",
        "Side",
        Region.of(Ring.rectangle(0, 0, 1400, 380)),
        material="birch",
        style=StyleChoice("own:bud", (("scale", 0.6),)),
    )
    piece = make_test_piece(Project(panels=(panel,), shop=shop()))
    assert piece.style == "own:bud"
