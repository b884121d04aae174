"""Drawings for the router, read back by two readers that share no code with the writer's user."""

from __future__ import annotations

import math
from collections import Counter
from dataclasses import replace
from pathlib import Path

import ezdxf
import numpy as np
import pyogrio
import pytest
import shapely
from shapely.geometry import Point, Polygon, box

from core.errors import InvalidRequestError
from core.geometry import Motion, Ring
from core.outlines.model import Face
from core.outlines.write import CircleItem, RingItem, TextItem, clean_items, write_dxf
from core.plan import Plan
from core.reports.cutlist import build_cut_list
from core.reports.drawings import (
    LAYERS,
    Layers,
    _named,
    layer_colours,
    setup_items,
    sheet_items,
)
from core.reports.files import drawing_files
from tests import drawing_check
from tests.unit.reports.report_plans import every_plan

PLANS = every_plan()
DRAWN = ["small", "inch", "split", "mirrored", "long", "rack", "saw", "turned"]


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    root = tmp_path_factory.mktemp("drawings")
    for name in DRAWN:
        for path, data in drawing_files(build_cut_list(PLANS[name])).items():
            target = root / name / path
            target.parent.mkdir(parents=True, exist_ok=True)
            target.write_bytes(data)
    return root


def outer_rings(plan: Plan, path: Path) -> list[Ring]:
    """The outer outlines that should be on a file, in its own frame."""
    cut_list = build_cut_list(plan)
    number = int(path.stem.split("-")[1])
    lines = next(s for s in cut_list.sheets if s.sheet.number == number)
    if path.parent.name == "sheets":
        return [c.placed.outer for c in lines.copies]
    setup = lines.setups[int(path.stem.split("-")[3]) - 1]
    place = setup.setup
    shift = Motion(-place.x_mm, -place.y_mm)
    rings = [c.placed.outer.moved(shift) for c in setup.copies]
    if place.turned:  # (x, y) → (height − y, x): the left edge comes to lie below
        rings = [
            Ring(tuple((place.height_mm - y, x, b) for x, y, b in ring.vertices)) for ring in rings
        ]
    return rings


@pytest.mark.parametrize("name", DRAWN)
def test_drawings_come_back_as_the_plan_has_them_and_pass_the_audit(
    folder: Path, name: str
) -> None:
    files = sorted((folder / name).rglob("*.dxf"))
    assert files
    for path in files:
        doc = ezdxf.readfile(path)
        audit = doc.audit()
        assert not audit.errors and not audit.fixes
        assert doc.units == 4  # millimetres
        found = [
            Ring(tuple((x, y, b) for x, y, b in line.get_points("xyb")))
            for line in doc.modelspace().query('LWPOLYLINE[layer=="CUT_OUTSIDE"|layer=="SAW_PART"]')
        ]
        assert all(
            line.closed for line in doc.modelspace().query("LWPOLYLINE[layer=='CUT_OUTSIDE']")
        )
        want = outer_rings(PLANS[name], path)
        assert len(found) == len(want)
        for ring in want:
            shape = Polygon(ring.flattened(0.01))
            # A piece may lie in the middle of another's hole: the area tells them apart.
            best = min(
                found,
                key=lambda f: (
                    shape.centroid.distance(Polygon(f.flattened(0.01)).centroid)
                    + abs(shape.area - Polygon(f.flattened(0.01)).area) ** 0.5
                ),
            )
            other = Polygon(best.flattened(0.01))
            assert shapely.hausdorff_distance(shape.exterior, other.exterior) < 0.05
            assert best.has_arcs == ring.has_arcs
            assert best.signed_area_mm2 == pytest.approx(ring.signed_area_mm2, rel=1e-9)


@pytest.mark.parametrize("name", DRAWN)
def test_a_second_reader_finds_the_same_areas(folder: Path, name: str) -> None:
    pyogrio.set_gdal_config_options({"OGR_ARC_STEPSIZE": "1", "DXF_CLOSED_LINE_AS_POLYGON": "YES"})
    for path in sorted((folder / name).rglob("*.dxf")):
        meta, _, geometry, fields = pyogrio.raw.read(path)
        layers = fields[list(meta["fields"]).index("Layer")]
        shapes = shapely.from_wkb(geometry)
        picked = np.isin(layers, ["CUT_OUTSIDE", "SAW_PART"])
        got = sorted(float(s.area) for s in shapes[picked] if s.geom_type == "Polygon")
        want = sorted(r.signed_area_mm2 for r in outer_rings(PLANS[name], path))
        # One degree a chord: a full circle loses 5e-5 of its area.
        assert got == pytest.approx(want, rel=1e-4)


@pytest.mark.parametrize("version", ["R12", "R2000", "R2010"])
def test_every_version_holds_the_same_closed_outlines(version: str, tmp_path: Path) -> None:
    cut_list = build_cut_list(PLANS["small"])
    lines = cut_list.sheets[0]
    items = setup_items(cut_list, lines, lines.setups[1])
    path = tmp_path / "out.dxf"
    write_dxf(path, items, version=version, colours=layer_colours(items))
    doc = ezdxf.readfile(path)
    assert not doc.audit().errors
    kind = "POLYLINE" if version == "R12" else "LWPOLYLINE"
    outlines = doc.modelspace().query(f'{kind}[layer=="CUT_OUTSIDE"]')
    assert len(outlines) == 2
    assert all(o.is_closed if version == "R12" else o.closed for o in outlines)


def test_layers_are_named_by_purpose_with_depth_in_ascii() -> None:
    cut_list = build_cut_list(PLANS["small"])
    lines = cut_list.sheets[0]
    names = Counter(item.layer for item in setup_items(cut_list, lines, lines.setups[1]))
    assert names["CUT_OUTSIDE"] == 2
    assert names["POCKET_6mm"] == 2
    assert names["DRILL_D5_12mm"] == 2
    assert names["OTHER_FACE"] == 2  # pockets from the back cannot be cut in this clamping
    assert names["REGISTRATION"] == 4 and names["CLAMP"] == 2 and names["BLANK"] == 1
    for name in {i.layer for sheet in cut_list.sheets for i in sheet_items(cut_list, sheet)}:
        assert name.isascii() and len(name) <= 31


def test_holes_are_inside_cuts_and_the_origin_is_the_blanks_corner() -> None:
    cut_list = build_cut_list(PLANS["small"])
    lines = cut_list.sheets[0]
    items = setup_items(cut_list, lines, lines.setups[0])
    inside = [i for i in items if isinstance(i, RingItem) and i.layer == "CUT_INSIDE"]
    assert len(inside) == 1
    # The ring lies 10 mm from both edges of blank A; its hole of radius 200 is centred at 270.
    assert inside[0].ring.bounds == pytest.approx((70.0, 70.0, 470.0, 470.0))
    blank = next(i for i in items if isinstance(i, RingItem) and i.layer == "BLANK")
    assert blank.ring.bounds[:2] == (0.0, 0.0)


def test_a_mirrored_piece_is_drawn_as_it_lies_with_its_back_pocket_on_top() -> None:
    cut_list = build_cut_list(PLANS["mirrored"])
    lines = cut_list.sheets[0]
    setup = lines.setups[0]
    items = setup_items(cut_list, lines, setup)
    assert Counter(i.layer for i in items)["POCKET_5mm"] == len(setup.copies)
    hook = next(i for i in items if isinstance(i, RingItem) and i.layer == "CUT_OUTSIDE")
    # Drawn with its corner lower left, so mirrored the corner lies lower right.
    corners = {(round(x, 3), round(y, 3)) for x, y, _ in hook.ring.vertices}
    x1, _, x2, y2 = hook.ring.bounds
    assert (round(x2, 3), round(y2, 3)) in corners
    assert (round(x1, 3), round(y2, 3)) not in corners


def test_nothing_is_drawn_twice_or_without_length() -> None:
    for name in DRAWN:
        cut_list = build_cut_list(PLANS[name])
        for lines in cut_list.sheets:
            for setup in lines.setups:
                items = setup_items(cut_list, lines, setup)
                assert len(clean_items(items)) == len(items)


@pytest.mark.parametrize("version", ["R12", "R2000", "R2010"])
@pytest.mark.parametrize("name", DRAWN)
def test_no_file_of_any_version_holds_an_edge_twice_or_without_length(
    name: str, version: str
) -> None:
    for path, data in drawing_files(build_cut_list(PLANS[name]), dxf_version=version).items():
        assert drawing_check.flaws(data) == [], path
        assert drawing_check.version_of(data) == version


@pytest.mark.parametrize("name", ["small", "split", "mirrored", "turned"])
def test_the_name_of_a_piece_stands_inside_it_and_off_its_holes(name: str) -> None:
    cut_list = build_cut_list(PLANS[name])
    for lines in cut_list.sheets:
        texts = {
            item.text: item
            for item in sheet_items(cut_list, lines)
            if isinstance(item, TextItem) and item.centred
        }
        for copy in lines.copies:
            (item,) = (t for words, t in texts.items() if words.startswith(f"{copy.number} "))
            wide, high = 0.6 * item.height_mm * len(item.text), item.height_mm
            if item.turn_deg:
                wide, high = high, wide
            x, y = item.at
            taken = box(x - wide / 2, y - high / 2, x + wide / 2, y + high / 2)
            assert copy.placed.polygon.contains(taken), item
            assert 4.0 <= item.height_mm <= 8.0


def test_a_name_turns_in_a_narrow_piece_and_is_never_left_out() -> None:
    upright = _named("TEXT", Polygon([(0, 0), (20, 0), (20, 300), (0, 300)]), "7 Narrow rail")
    assert (upright.turn_deg, upright.height_mm) == (90.0, 8.0)
    tiny = _named("TEXT", Polygon([(0, 0), (6, 0), (6, 6), (0, 6)]), "8 Key")
    assert tiny.height_mm == 4.0 and Polygon([(0, 0), (6, 0), (6, 6), (0, 6)]).covers(
        Point(tiny.at)
    )


def test_a_pocket_that_ends_at_an_edge_is_to_be_run_out_past_it() -> None:
    plan = PLANS["small"]
    shelf = next(p for p in plan.pieces if p.features and p.features[0].ring is not None)
    x1, _, x2, y2 = shelf.cut.bounds
    for bottom, said in ((y2 - 40.0, True), (y2 - 60.0, False)):
        ring = Ring.rectangle((x1 + x2) / 2 - 60, bottom, 120, 40)
        pocket = replace(shelf.features[0], ring=ring, face=Face.SHOW, depth_mm=4.0, islands=())
        one = replace(shelf, features=(pocket,))
        pieces = tuple(one if p.id == one.id else replace(p, features=()) for p in plan.pieces)
        cut_list = build_cut_list(replace(plan, pieces=pieces))
        hints = [
            item.text
            for lines in cut_list.sheets
            for setup in lines.setups
            for item in setup_items(cut_list, lines, setup)
            if isinstance(item, TextItem) and "run the bit out past it" in item.text
        ]
        assert bool(hints) == said


def test_a_round_hole_is_four_quarters_of_its_circle() -> None:
    cut_list = build_cut_list(PLANS["small"])
    lines = cut_list.sheets[0]
    items = setup_items(cut_list, lines, lines.setups[0])
    (hole,) = (i.ring for i in items if isinstance(i, RingItem) and i.layer == "CUT_INSIDE")
    assert len(hole.vertices) == 4
    assert {round(math.hypot(x - 270, y - 270), 9) for x, y, _ in hole.vertices} == {200.0}
    assert abs(hole.signed_area_mm2) == pytest.approx(math.pi * 200**2, rel=1e-12)


def test_layer_names_can_be_changed_to_suit_a_toolpath_program() -> None:
    layers = Layers({"outside": "1-PROFILE", "pocket": "P {depth}"})
    assert layers.name("outside") == "1-PROFILE"
    assert layers.name("pocket", depth_mm=6.25) == "P 6.25mm"
    assert layers.name("pocket") == "P THRU"
    cut_list = build_cut_list(PLANS["small"])
    lines = cut_list.sheets[0]
    items = setup_items(cut_list, lines, lines.setups[1], layers)
    assert {"1-PROFILE", "P 6mm"} <= {i.layer for i in items}
    assert layer_colours(items, layers)["1-PROFILE"] == 5
    assert any("1-PROFILE: bit 6 mm outside" in getattr(i, "text", "") for i in items)


@pytest.mark.parametrize(
    ("names", "message"),
    [
        ({"outline": "X"}, "no layer for “outline”"),
        ({"outside": " "}, "needs a name"),
        ({"outside": "cut_inside"}, "same name"),
        ({"pocket": "P{width}"}, "holds {width}"),
    ],
)
def test_layer_names_that_make_no_sense_are_refused(names: dict[str, str], message: str) -> None:
    with pytest.raises(InvalidRequestError, match=message):
        Layers(names)


def test_default_layer_names_differ() -> None:
    assert len({n.lower() for n in LAYERS.values()}) == len(LAYERS)


def test_an_offcut_that_is_no_rectangle_is_drawn_as_it_is() -> None:
    cut_list = build_cut_list(PLANS["rack"])
    lines = cut_list.sheets[0]
    areas = []
    for setup in lines.setups:
        items = setup_items(cut_list, lines, setup)
        blank = next(i for i in items if isinstance(i, RingItem) and i.layer == "BLANK")
        areas.append(abs(blank.ring.signed_area_mm2))
    # The L of 1300 × 300 and 500 × 400 mm, parted at 850 mm.
    assert areas == pytest.approx([850 * 300 + 500 * 400, 450 * 300])


def test_a_board_turned_on_the_table_is_drawn_as_it_lies_there() -> None:
    plan = PLANS["turned"]
    cut_list = build_cut_list(plan)
    lines = cut_list.sheets[0]
    setup = lines.setups[1]  # two shelves of 700 × 260, blank of 1218.5 × 608.5
    items = setup_items(cut_list, lines, setup)
    blank = next(i for i in items if isinstance(i, RingItem) and i.layer == "BLANK")
    assert blank.ring.bounds == pytest.approx((0.0, 0.0, 608.5, 1218.5))
    shelves = [i for i in items if isinstance(i, RingItem) and i.layer == "CUT_OUTSIDE"]
    # On the sheet the first lies 10 from the left and 10 up; turned it lies 10 from the right.
    assert shelves[0].ring.bounds == pytest.approx((338.5, 10.0, 598.5, 710.0))
    # Its 18 × 140 pocket at (40, 60) goes with it: x from 608.5 − 10 − 200, y from 10 + 40.
    pocket = next(i for i in items if isinstance(i, RingItem) and i.layer == "POCKET_6mm")
    assert pocket.ring.bounds == pytest.approx((398.5, 50.0, 538.5, 68.0))
    # The drill at (350, 130) as well.
    hole = next(i for i in items if isinstance(i, CircleItem))
    assert hole.at == pytest.approx((608.5 - 10 - 130, 10 + 350))
    assert any("quarter turn counter-clockwise" in getattr(i, "text", "") for i in items)
    # Clamps stand still: they are where the table has them, from the board's corner.
    clamp = next(i for i in items if isinstance(i, RingItem) and i.layer == "CLAMP")
    assert clamp.ring.bounds == pytest.approx((-30.0, -5.0, -5.0, 55.0))


def test_islands_are_drawn_on_the_layer_of_their_pocket() -> None:
    cut_list = build_cut_list(PLANS["turned"])
    lines = cut_list.sheets[0]
    items = setup_items(cut_list, lines, lines.setups[1])
    # Two shelves, each a pocket of 4 mm with one island in it.
    areas = sorted(
        abs(i.ring.signed_area_mm2)
        for i in items
        if isinstance(i, RingItem) and i.layer == "POCKET_4mm"
    )
    circle = 400 * math.pi
    assert areas == pytest.approx([circle, circle, 14400, 14400])
