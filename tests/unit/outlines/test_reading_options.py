"""What the caller decides about reading: unit, roles, gaps, stopping; and how panels are named."""

from __future__ import annotations

import math
from pathlib import Path

import ezdxf
import pytest
from drawing_corpus import RECT, as_bytes, doc, gap, lines, svg

from core.errors import BadLengthError, UnreadableDrawing
from core.findings import Severity
from core.outlines import Face, LayerMeaning, Role, read_outlines


def saved(folder: Path, data: bytes, name: str = "shelf.dxf") -> Path:
    path = folder / name
    path.write_bytes(data)
    return path


def plain(folder: Path, unit: int = 4, layer: str = "0", name: str = "shelf.dxf") -> Path:
    made = doc(unit=unit)
    made.modelspace().add_lwpolyline(RECT, close=True, dxfattribs={"layer": layer})
    return saved(folder, as_bytes(made), name)


@pytest.mark.parametrize(
    ("units", "factor"), [("mm", 1.0), ("in", 25.4), ("inches", 25.4), ("cm", 10.0), ("″", 25.4)]
)
def test_a_given_unit_wins_over_the_header(units: str, factor: float, tmp_path: Path) -> None:
    result = read_outlines(plain(tmp_path, unit=6), units)
    assert result.outlines[0].region.size_mm == pytest.approx((600 * factor, 400 * factor))
    assert not result.units_guessed
    assert result.scale_mm == factor


def test_an_unknown_unit_is_refused(tmp_path: Path) -> None:
    with pytest.raises(BadLengthError, match="no unit of length"):
        read_outlines(plain(tmp_path), "parsec")


def test_a_physical_svg_keeps_its_size_whatever_unit_is_given(tmp_path: Path) -> None:
    """Hundredths of a millimetre in the numbers: the page's size says what they are."""
    data = svg(
        '<rect width="60000" height="40000" fill="none" stroke="black"/>',
        'width="900mm" height="600mm" viewBox="0 0 90000 60000"',
    )
    result = read_outlines(saved(tmp_path, data, "a.svg"), "mm")
    assert result.outlines[0].region.size_mm == pytest.approx((600, 400))


def test_a_pixel_svg_is_taken_as_the_given_unit(tmp_path: Path) -> None:
    data = svg('<rect width="600" height="400" fill="none" stroke="black"/>', 'width="600"')
    result = read_outlines(saved(tmp_path, data, "a.svg"), "mm")
    assert result.outlines[0].region.size_mm == pytest.approx((600, 400))
    assert (result.units, result.units_guessed) == ("mm", False)


def test_the_doubt_about_the_unit_states_the_size_and_a_way_out(tmp_path: Path) -> None:
    result = read_outlines(plain(tmp_path, unit=1))
    (finding,) = result.findings
    assert "600.0 × 400.0 mm" in finding.message
    assert finding.fix == "take-as-in"
    assert result.units_guessed


def test_declared_inches_are_doubted_when_every_slot_would_be_a_hand_wide(tmp_path: Path) -> None:
    """A 120 × 90 panel with 18-wide slots under an inch header is believable only as mm."""
    made = doc(unit=1)
    msp = made.modelspace()
    msp.add_lwpolyline([(0, 0), (120, 0), (120, 90), (0, 90)], close=True)
    msp.add_lwpolyline([(20, 20), (38, 20), (38, 70), (20, 70)], close=True)
    result = read_outlines(saved(tmp_path, as_bytes(made)))
    (finding,) = result.findings
    assert (finding.code, finding.fix) == ("unit-doubtful", "take-as-mm")
    assert result.units == "in"


def test_the_makers_role_for_a_layer_wins_over_its_name(tmp_path: Path) -> None:
    made = doc()
    msp = made.modelspace()
    msp.add_lwpolyline(RECT, close=True)
    box = [(50, 50), (100, 50), (100, 80), (50, 80)]
    msp.add_lwpolyline(box, close=True, dxfattribs={"layer": "Blue 4"})
    path = saved(tmp_path, as_bytes(made))
    assert len(read_outlines(path).outlines[0].region.holes) == 1
    as_pocket = read_outlines(path, roles={"blue 4": Role.POCKET}).outlines[0]
    assert not as_pocket.region.holes
    assert as_pocket.features[0].depth_mm == 4.0
    meaning = LayerMeaning(Role.DADO, 7.5, Face.BACK)
    dado = read_outlines(path, roles={"Blue 4": meaning}).outlines[0].features[0]
    assert (dado.kind, dado.depth_mm, dado.face) == (Role.DADO, 7.5, Face.BACK)
    assert read_outlines(path, roles={"Blue 4": "ignore"}).outlines[0].features == ()


def test_the_result_lists_every_layer_with_its_role(tmp_path: Path) -> None:
    result = read_outlines(plain(tmp_path, layer="Outside cut"))
    assert result.layers == (("Outside cut", Role.CUT),)


def test_depth_face_and_diameter_come_from_the_layers_name(tmp_path: Path) -> None:
    made = doc(unit=1)
    msp = made.modelspace()
    msp.add_lwpolyline([(0, 0), (24, 0), (24, 16), (0, 16)], close=True)
    box = [(2, 2), (4, 2), (4, 3), (2, 3)]
    msp.add_lwpolyline(box, close=True, dxfattribs={"layer": "Pocket 0.25 back"})
    msp.add_point((10, 10), dxfattribs={"layer": "drill 0.375 d0.25"})
    result = read_outlines(saved(tmp_path, as_bytes(made)))
    pocket, hole = result.outlines[0].features
    assert (pocket.depth_mm, pocket.face) == (pytest.approx(6.35), Face.BACK)
    assert (hole.depth_mm, hole.diameter_mm) == (pytest.approx(9.525), pytest.approx(6.35))
    assert hole.at == pytest.approx((254, 254))


def test_a_pocket_keeps_its_island(tmp_path: Path) -> None:
    made = doc()
    msp = made.modelspace()
    msp.add_lwpolyline(RECT, close=True)
    at = {"layer": "Pocket 5"}
    msp.add_lwpolyline([(50, 50), (250, 50), (250, 250), (50, 250)], close=True, dxfattribs=at)
    msp.add_circle((150, 150), 30, dxfattribs=at)
    (pocket,) = read_outlines(saved(tmp_path, as_bytes(made))).outlines[0].features
    assert len(pocket.islands) == 1


def test_a_feature_on_no_panel_and_one_without_a_depth_are_told(tmp_path: Path) -> None:
    made = doc()
    msp = made.modelspace()
    msp.add_lwpolyline(RECT, close=True)
    msp.add_circle((900, 900), 20, dxfattribs={"layer": "Pocket"})
    msp.add_lwpolyline([(10, 10), (40, 10), (40, 20)], dxfattribs={"layer": "Pocket"})
    msp.add_lwpolyline([(50, 50), (80, 50), (80, 70)], close=True, dxfattribs={"layer": "Drill"})
    result = read_outlines(saved(tmp_path, as_bytes(made)))
    codes = {f.code: f for f in result.findings}
    assert set(codes) == {"feature-outside", "depth-missing", "open-feature", "drill-not-round"}
    assert codes["feature-outside"].at == pytest.approx((900, 900))


def test_a_gap_is_closed_only_up_to_the_makers_tolerance(tmp_path: Path) -> None:
    path = saved(tmp_path, gap(0.8)())
    assert not read_outlines(path).outlines
    result = read_outlines(path, gap_tol_mm=1.0)
    assert result.outlines[0].region.area_mm2 == pytest.approx(240000)
    (closed,) = (f for f in result.findings if f.code == "gap-closed")
    assert closed.severity is Severity.WARN
    assert closed.at == pytest.approx((0, 0), abs=1e-9)
    assert "0.800 mm" in closed.message
    assert not read_outlines(saved(tmp_path, gap(0.3)()), gap_tol_mm=0.2).outlines
    with pytest.raises(ValueError, match="gap_tol_mm"):
        read_outlines(path, gap_tol_mm=50)


def test_a_gap_of_a_tenth_is_a_note_and_a_hundredth_is_silent(tmp_path: Path) -> None:
    noted = read_outlines(saved(tmp_path, gap(0.09)())).findings
    assert [f.severity for f in noted] == [Severity.NOTE]
    assert read_outlines(saved(tmp_path, gap(0.009)())).findings == ()


def test_an_open_outline_shows_both_its_ends(tmp_path: Path) -> None:
    result = read_outlines(saved(tmp_path, gap(0.8)()))
    opened = next(f for f in result.findings if f.code == "open-outline")
    assert opened.severity is Severity.STOP
    assert opened.fix == "close-gap:0.81"
    assert "(0.0, 0.8)" in opened.message
    assert "(0.0, 0.0)" in opened.message


def test_short_chords_do_not_vanish_when_gaps_are_closed(tmp_path: Path) -> None:
    """A disc of 2000 chords of 0.3 mm, shorter than the widest gap, beside an open outline."""
    made = doc()
    msp = made.modelspace()
    points = [
        (95.5 * math.cos(math.tau * k / 2000), 95.5 * math.sin(math.tau * k / 2000))
        for k in range(2000)
    ]
    lines(msp, points)
    lines(msp, [(300 + x, y) for x, y in [*RECT, (0, 0.4)]], closed=False)
    result = read_outlines(saved(tmp_path, as_bytes(made)))
    assert sorted(len(o.region.outer.vertices) for o in result.outlines) == [4, 2000]


def test_panels_are_named_by_text_else_by_file_and_number(tmp_path: Path) -> None:
    made = doc()
    msp = made.modelspace()
    for k in range(4):
        msp.add_lwpolyline([(x + 700 * k, y) for x, y in RECT], close=True)
    msp.add_text("  Back \t rail ", height=10).set_placement((750, 50))
    msp.add_text("...", height=90).set_placement((1450, 50))
    result = read_outlines(saved(tmp_path, as_bytes(made), "side panel.v2.dxf"))
    assert [o.name for o in result.outlines] == [
        "side panel.v2", "Back rail", "side panel.v2-2", "side panel.v2-3",
    ]  # fmt: skip


def test_a_block_attribute_names_its_panel(tmp_path: Path) -> None:
    made = doc()
    block = made.blocks.new("P")
    block.add_lwpolyline(RECT, close=True)
    insert = made.modelspace().add_blockref("P", (100, 100))
    insert.add_attrib("NAME", "Left side", (150, 150))
    assert read_outlines(saved(tmp_path, as_bytes(made))).outlines[0].name == "Left side"


def test_progress_rises_to_one_and_stop_stops(tmp_path: Path) -> None:
    seen: list[float] = []
    read_outlines(plain(tmp_path), progress=seen.append)
    assert seen == sorted(seen)
    assert seen[-1] == 1.0
    with pytest.raises(UnreadableDrawing, match="stopped"):
        read_outlines(plain(tmp_path), stop=lambda: len(seen) > 0)


def test_arcs_stay_arcs_and_a_circle_of_quarter_arcs_is_a_circle(tmp_path: Path) -> None:
    made = doc()
    msp = made.modelspace()
    for k in range(4):
        msp.add_arc((100, 100), 50, 90 * k, 90 * k + 90)
    (outline,) = read_outlines(saved(tmp_path, as_bytes(made))).outlines
    assert [abs(v[2]) for v in outline.region.outer.vertices] == [1.0, 1.0]


def test_a_far_out_drawing_states_the_origin_taken_off(tmp_path: Path) -> None:
    made = doc()
    made.modelspace().add_lwpolyline([(x + 3e6 + 0.5, y + 7e6) for x, y in RECT], close=True)
    result = read_outlines(saved(tmp_path, as_bytes(made)))
    assert result.origin_mm == (3e6, 7e6)
    assert result.outlines[0].region.bounds == pytest.approx((0.5, 0, 600.5, 400), abs=1e-8)


def test_a_rectangle_of_a_boards_size_around_panels_is_doubted(tmp_path: Path) -> None:
    made = doc()
    msp = made.modelspace()
    msp.add_lwpolyline([(0, 0), (2440, 0), (2440, 1220), (0, 1220)], close=True)
    for k in range(3):
        msp.add_lwpolyline([(x + 50 + 700 * k, y + 50) for x, y in RECT], close=True)
    path = saved(tmp_path, as_bytes(made))
    (finding,) = read_outlines(path).findings
    assert (finding.code, finding.fix) == ("may-be-sheet", "treat-as-sheet")


def test_every_dxf_release_from_r12_on_is_read(tmp_path: Path) -> None:
    for version in ("R12", "R2000", "R2004", "R2007", "R2010", "R2013", "R2018"):
        made = ezdxf.new(version)
        made.modelspace().add_line((0, 0), (600, 0))
        made.modelspace().add_line((600, 0), (600, 400))
        made.modelspace().add_line((600, 400), (0, 0))
        path = tmp_path / f"{version}.dxf"
        made.saveas(path)
        assert len(read_outlines(path).outlines) == 1


def test_a_layer_named_after_a_part_is_cut_when_nothing_else_would_be(tmp_path: Path) -> None:
    result = read_outlines(plain(tmp_path, layer="Frame"))
    assert len(result.outlines) == 1
    assert [f.code for f in result.findings] == ["layer-doubtful"]
    kept = read_outlines(plain(tmp_path, layer="Frame"), roles={"Frame": Role.IGNORE})
    assert not kept.outlines


def test_a_clipped_block_is_read_whole_and_told(tmp_path: Path) -> None:
    from ezdxf.xclip import XClip

    made = doc()
    made.blocks.new("P").add_lwpolyline(RECT, close=True)
    insert = made.modelspace().add_blockref("P", (0, 0))
    XClip(insert).set_block_clipping_path([(0, 0), (100, 100)])
    result = read_outlines(saved(tmp_path, as_bytes(made)))
    assert result.outlines[0].region.area_mm2 == 240000
    assert [f.code for f in result.findings] == ["clip-ignored"]
