"""The test piece: what is on it, that its play is what is written, and how its result is kept."""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path

import ezdxf
import pytest
from shapely import affinity

from core.errors import BadLengthError, InvalidProjectError, InvalidRequestError
from core.geometry import Region, Ring
from core.outlines import read_outlines
from core.project.model import Panel, Project, ReliefKind, StyleChoice
from core.reports.fit_test_page import fit_test_pages, fit_test_pdf
from core.reports.picture import Shape, Text
from core.shop import Cutter, JointClass, Machine, Material, Reading, Rules, Shop
from core.test_pieces import (
    TestResult,
    bit_from_slot,
    fit_called,
    fit_from_test,
    fit_label,
    fit_series,
    keep_result,
    make_test_piece,
    write_test_piece,
)

BIRCH = Material("Birch ply 18", 18.0, (Reading(17.6),))


def project(
    style: str = "finger",
    *,
    board: Material = BIRCH,
    fit_mm: float = 0.15,
    cutter_mm: float = 6.0,
    travel: tuple[float, float] = (900.0, 600.0),
    units: str = "mm",
) -> Project:
    panel = Panel(
        "p1",
        "Shelf",
        Region.of(Ring.rectangle(0, 0, 500, 300)),
        material=board.name,
        style=StyleChoice(style),
    )
    machine = Machine("Router", travel, travel, (Cutter(cutter_mm),))
    shop = Shop(machine, (board,), rules=Rules(fit_mm=fit_mm))
    return Project("Glaze shelves", units, panels=(panel,), shop=shop)


def test_the_series_has_the_fit_that_is_set_and_never_a_negative_one() -> None:
    assert fit_series(0.15, 5) == (0.05, 0.1, 0.15, 0.2, 0.25)
    assert fit_series(0.0, 4) == (0.0, 0.05, 0.1, 0.15)
    assert 0.13 in fit_series(0.13, 5)
    assert fit_series(0.006 * 25.4, 3, inches=True) == pytest.approx(
        (0.004 * 25.4, 0.006 * 25.4, 0.008 * 25.4)
    )


def test_a_negative_fit_is_refused() -> None:
    with pytest.raises(InvalidRequestError, match="zero or more"):
        fit_series(-0.1, 5)


@pytest.mark.parametrize("style", ["finger", "dovetail", "rounded", "wave"])
@pytest.mark.parametrize("thickness", [6.0, 17.6, 25.0])
def test_the_piece_stays_small_and_its_parts_lie_apart(style: str, thickness: float) -> None:
    piece = make_test_piece(project(style, board=Material("Board", thickness)))
    width, height = piece.size_mm
    assert width <= 300 and height <= 200
    polygons = [part.region.polygon for part in piece.parts]
    assert all(polygon.is_valid for polygon in polygons)
    for i, one in enumerate(polygons):
        for other in polygons[i + 1 :]:
            assert one.distance(other) >= 8.0 - 1e-6  # bit 6 + 2


def test_the_bits_centre_stays_within_a_small_machines_travel() -> None:
    piece = make_test_piece(project(travel=(260.0, 190.0)))
    width, height = piece.size_mm
    assert width + 6.0 <= 260.0 and height + 6.0 <= 190.0


def test_a_machine_too_small_for_any_test_piece_is_told() -> None:
    with pytest.raises(InvalidRequestError, match="does not go into"):
        make_test_piece(project(travel=(90.0, 60.0)))


def test_each_slot_is_thickness_plus_play_wide_and_tab_plus_play_long_both_ways() -> None:
    piece = make_test_piece(project(), relief=ReliefKind.NONE)
    plate, lying, standing = piece.parts
    for along in (True, False):
        slots = [slot for slot in plate.slots if slot.length_along is along]
        assert [slot.play_mm for slot in slots] == list(piece.fits_mm)
        for slot in slots:
            hole = next(
                h for h in plate.region.holes if Region.of(h).polygon.contains_properly(_dot(slot))
            )
            x1, y1, x2, y2 = hole.bounds
            size = (y2 - y1, x2 - x1) if along else (x2 - x1, y2 - y1)
            assert size[0] == pytest.approx(17.6 + slot.play_mm, abs=1e-9)
            # The tab's width is the standing tester's extent at its foot.
            foot = standing.region.polygon.bounds[1] + 5.0
            tab = _width_at(standing.region, foot)
            assert size[1] == pytest.approx(tab + slot.play_mm, abs=1e-9)
    assert lying.region.area_mm2 == pytest.approx(standing.region.area_mm2, rel=1e-9)


def _dot(slot):  # type: ignore[no-untyped-def]
    from shapely.geometry import Point

    return Point(slot.at)


def _width_at(region: Region, y: float) -> float:
    from shapely.geometry import LineString

    x1, _, x2, _ = region.bounds
    return float(region.polygon.intersection(LineString([(x1 - 1, y), (x2 + 1, y)])).length)


@pytest.mark.parametrize("style", ["finger", "dovetail", "rounded", "wave"])
@pytest.mark.parametrize("fit_mm", [0.0, 0.15])
def test_the_tester_stands_in_each_socket_with_half_the_play_at_each_flank(
    style: str, fit_mm: float
) -> None:
    piece = make_test_piece(project(style, fit_mm=fit_mm))
    assert piece.style == style
    plate, lying, standing = (part.region.polygon for part in piece.parts)
    _, y1, x2, y2 = plate.bounds
    # The tester across the grain goes into the lower edge from below.
    sx1, _, sx2, sy2 = standing.bounds
    lx1, ly1, _, ly2 = lying.bounds
    tooth_mm = _tooth_reach(standing)
    up = [s for s in piece.parts[0].slots if not s.length_along]
    for slot in up:
        seated = affinity.translate(standing, slot.at[0] - (sx1 + sx2) / 2, y1 - (sy2 - tooth_mm))
        assert seated.intersection(plate).area < 1e-3
        # Pushed a little further sideways than its play it collides.
        shifted = affinity.translate(seated, slot.play_mm / 2 + 0.02, 0)
        if style == "finger":
            assert (
                affinity.translate(seated, slot.play_mm / 2 - 1e-4, 0).intersection(plate).area
                < 1e-3
            )
        assert shifted.intersection(plate).area > 1e-3
    assert lx1 > x2 or ly2 < y1 or ly1 > y2


def _tooth_reach(polygon) -> float:  # type: ignore[no-untyped-def]
    """Height of the tooth on top of a standing tester: from its shoulder to its tip."""
    _, _, x2, y2 = polygon.bounds
    shoulder = max(y for x, y in polygon.exterior.coords if abs(x - x2) < 1e-9)
    return float(y2 - shoulder)


@pytest.mark.parametrize("style", ["butt", "butterfly"])
def test_a_seam_with_keys_gives_a_key_and_a_pocket_of_each_fit(style: str) -> None:
    piece = make_test_piece(project(style))
    assert piece.style == style and piece.parts[-1].name == "Key"
    plate, key = piece.parts[0], piece.parts[-1].region.flattened(1e-4)
    assert len(plate.pockets) == len(piece.fits_mm) and 0 < plate.pocket_mm < 17.6
    upright = affinity.rotate(key, 90, origin="centroid")
    centre = upright.centroid
    for ring, fit in zip(plate.pockets, piece.fits_mm, strict=True):
        pocket = Region.of(ring).flattened(1e-4)
        spot = pocket.centroid
        laid = affinity.translate(upright, spot.x - centre.x, spot.y - centre.y)
        assert pocket.contains(laid)
        assert laid.exterior.distance(pocket.exterior) == pytest.approx(fit / 2, abs=2e-3)
        assert plate.region.polygon.contains(pocket)


def test_a_half_lap_gives_slots_only_and_says_why() -> None:
    piece = make_test_piece(project("half-lap"))
    assert piece.style == "" and "neither teeth nor keys" in piece.no_teeth
    assert len(piece.parts[0].slots) == 10


def test_figures_and_words_stand_on_the_plate_in_the_projects_unit() -> None:
    texts = make_test_piece(project()).parts[0].texts
    assert {"0.05", "0.15", "0.25", "TIGHT", "LOOSE"} <= set(texts)
    inch = make_test_piece(project(units="in", fit_mm=0.006 * 25.4)).parts[0].texts
    assert ".006" in inch


def test_writing_stays_on_board() -> None:
    for style in ("finger", "wave", "butt", "butterfly"):
        for part in make_test_piece(project(style)).parts:
            board = part.region.polygon
            for stroke in part.strokes:
                from shapely.geometry import LineString

                assert board.contains(LineString(stroke)), part.name


def test_the_drawing_reads_back_as_three_panels_with_true_arcs_of_the_bits_radius(
    tmp_path: Path,
) -> None:
    sentences = write_test_piece(project(), tmp_path / "test.dxf")
    assert any("17.6 mm" in s for s in sentences)
    assert any("scrap" in s for s in sentences)
    doc = ezdxf.readfile(tmp_path / "test.dxf")
    assert doc.units == ezdxf.units.MM
    radii = set()
    for line in doc.modelspace().query('LWPOLYLINE[layer=="CUT"]'):
        rows = line.get_points("xyb")
        for (ax, ay, bulge), (bx, by, _) in zip(rows, rows[1:] + rows[:1], strict=True):
            if bulge:
                chord = math.hypot(bx - ax, by - ay)
                radii.add(round(chord * (1 + bulge * bulge) / (4 * abs(bulge)), 6))
    assert radii == {3.0}
    result = read_outlines(tmp_path / "test.dxf")
    assert len(result.outlines) == 3
    assert sum(len(o.region.holes) for o in result.outlines) == 10


def test_every_board_of_the_project_gets_its_own_file(tmp_path: Path) -> None:
    other = Material("MDF 12", 12.0)
    base = project()
    more = replace(base.panels[0], id="p2", material=other.name)
    both = replace(
        base, panels=(*base.panels, more), shop=replace(base.shop, materials=(BIRCH, other))
    )
    write_test_piece(both, tmp_path / "t.dxf")
    assert sorted(p.name for p in tmp_path.iterdir()) == ["t-mdf-12.dxf", "t.dxf"]


def test_an_unmeasured_board_is_warned_about(tmp_path: Path) -> None:
    sentences = write_test_piece(project(board=Material("MDF", 18.0)), tmp_path / "t.dxf")
    assert any("has not been measured" in s for s in sentences)


def test_the_result_is_kept_for_the_board_and_the_bit_and_replaces_an_earlier_one() -> None:
    before = project()
    bit = before.shop.machine.cutter
    once = fit_from_test(before, BIRCH.name, bit, 0.20)
    after = fit_from_test(once, BIRCH.name, bit, 0.10, 5.94)
    assert after.shop.fit_mm(JointClass.GLUED, BIRCH.name) == 0.10
    assert len(after.shop.fits) == 1 and after.shop.fits[0].from_test
    assert after.shop.machine.cutter.measured_mm == 5.94
    assert after.shop.fit_mm(JointClass.GLUED, "another board") == 0.15


def test_a_result_for_a_board_or_bit_the_shop_has_not_got_is_refused() -> None:
    before = project()
    with pytest.raises(InvalidProjectError, match="no material"):
        fit_from_test(before, "Oak", before.shop.machine.cutter, 0.1)
    with pytest.raises(InvalidProjectError, match="no 8 mm bit"):
        fit_from_test(before, BIRCH.name, Cutter(8.0), 0.1)
    with pytest.raises(InvalidRequestError, match="looser"):
        fit_from_test(before, BIRCH.name, before.shop.machine.cutter, -0.1)


def test_a_slot_cut_narrow_tells_how_far_the_bit_is_under_size() -> None:
    assert bit_from_slot(Cutter(6.0), drawn_mm=17.75, measured_mm=17.69) == pytest.approx(5.94)
    with pytest.raises(InvalidRequestError, match="Measure again"):
        bit_from_slot(Cutter(6.0), drawn_mm=17.75, measured_mm=15.0)


def test_a_bit_thicker_than_the_board_is_refused() -> None:
    with pytest.raises(InvalidRequestError, match="no thicker than the board"):
        make_test_piece(project(board=Material("Ply 4", 4.0)))


# --- the result as it is told --------------------------------------------------------------------

SERIES = (0.05, 0.1, 0.15, 0.2, 0.25)


@pytest.mark.parametrize(
    ("typed", "play"),
    [("snug", 0.1), (" LOOSE ", 0.25), ("0.15", 0.15), (".2", 0.2), ("0.12 mm", 0.12)],
)
def test_which_was_right_is_told_by_its_word_or_its_figure(typed: str, play: float) -> None:
    assert fit_called(typed, SERIES) == pytest.approx(play)


def test_thou_typed_as_they_stand_on_the_piece_mean_that_fit() -> None:
    series = fit_series(0.006 * 25.4, 5, inches=True)
    assert fit_called(".006", series, unit="in") == series[2]
    assert fit_label(series[2], series, unit="in") == "EASY .006"


@pytest.mark.parametrize("typed", ["", "tightish", "-0.1"])
def test_a_word_that_is_not_on_the_piece_is_refused(typed: str) -> None:
    with pytest.raises(BadLengthError):
        fit_called(typed, SERIES)


def test_the_looser_way_of_the_grain_becomes_the_fit_of_board_bit_and_class() -> None:
    plan = project()
    result = TestResult(BIRCH.name, Cutter(6.0), 0.1, 0.2, 17.7, 17.66, JointClass.KNOCK_DOWN)
    kept = keep_result(plan, result)
    assert kept.shop.fit_mm(JointClass.KNOCK_DOWN, BIRCH.name) == 0.2
    assert kept.shop.fit_mm(JointClass.GLUED, BIRCH.name) == 0.15
    assert kept.shop.machine.cutter.measured_mm == pytest.approx(5.96)
    # It is the fit the next test piece starts from, and what seams and slots are cut with.
    piece = make_test_piece(kept, joint_class=JointClass.KNOCK_DOWN)
    assert 0.2 in [round(f, 9) for f in piece.fits_mm]


def test_a_result_needs_at_least_one_way_of_the_grain() -> None:
    with pytest.raises(InvalidRequestError, match="no result yet"):
        keep_result(project(), TestResult(BIRCH.name, Cutter(6.0)))


def test_the_page_has_the_clamping_the_series_and_a_label() -> None:
    plan = project()
    piece = make_test_piece(plan)
    (page,) = fit_test_pages(plan, (piece,))
    said = " ".join(mark.text for mark in page.marks if isinstance(mark, Text))
    assert "First job: test piece for Birch ply 18" in said
    assert "clamp a scrap" in said and "Which was right?" in said
    shapes = [m for m in page.marks if isinstance(m, Shape)]
    assert sum(1 for s in shapes if s.role == "label") == 1
    assert sum(1 for s in shapes if s.role == "test-part") == len(piece.parts)
    fits = [m.text for m in page.marks if isinstance(m, Text) and m.role == "fit"]
    assert fits == [fit_label(f, piece.fits_mm) for f in piece.fits_mm]
    # Everything drawn lies on the paper.
    for shape in shapes:
        for ring in shape.rings:
            x1, y1, x2, y2 = ring.bounds
            assert 0 <= x1 <= x2 <= page.width_mm and 0 <= y1 <= y2 <= page.height_mm
    assert fit_test_pdf(plan, (piece,)).startswith(b"%PDF")
