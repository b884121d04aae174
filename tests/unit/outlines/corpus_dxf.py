"""Test drawings as DXF."""

from __future__ import annotations

import random
from collections.abc import Callable

from corpus_base import PI, RECT, RECT_WANT, Case, Want, as_bytes, doc, lines
from corpus_dxf_layers import (
    cr_only,
    crossing,
    cut_off,
    cut_off_binary,
    edge_hole,
    far_out,
    headerless,
    hidden,
    messy_polyline,
    not_numbers,
    polyline,
    roles,
    shared_divider,
    stray_line,
    two_layers,
)
from ezdxf import units


def _binary() -> bytes:
    made = doc()
    made.modelspace().add_lwpolyline(RECT, close=True)
    return as_bytes(made, binary=True)


def _soup() -> bytes:
    made = doc()
    msp = made.modelspace()
    rng = random.Random(4)
    edges = []
    for dx in (0, 700, 1400):
        ring = [(x + dx, y) for x, y in RECT]
        edges += list(zip(ring, [*ring[1:], ring[0]], strict=True))
    rng.shuffle(edges)
    for a, b in edges:
        msp.add_line(*((b, a) if rng.random() < 0.5 else (a, b)))
    return as_bytes(made)


def _rounded_soup() -> bytes:
    """500 × 300 with corners of radius 40, from four lines and four arcs."""
    made = doc()
    msp = made.modelspace()
    msp.add_arc((460, 260), 40, 0, 90)
    msp.add_line((40, 0), (460, 0))
    msp.add_arc((40, 40), 40, 180, 270)
    msp.add_line((500, 260), (500, 40))
    msp.add_arc((460, 40), 40, 270, 360)
    msp.add_line((460, 300), (40, 300))
    msp.add_arc((40, 260), 40, 90, 180)
    msp.add_line((0, 40), (0, 260))
    return as_bytes(made)


def _rounds() -> bytes:
    """A disc, a ring of two arcs with a hole, a full ellipse, half an ellipse on a line."""
    made = doc()
    msp = made.modelspace()
    msp.add_circle((200, 200), 150)
    msp.add_arc((700, 200), 100, 90, 270)
    msp.add_arc((700, 200), 100, 270, 90)
    msp.add_circle((700, 200), 40)
    msp.add_ellipse((1200, 200), (200, 0), 0.5)
    msp.add_ellipse((1800, 100), (200, 0), 0.5, 0, PI)
    msp.add_line((1600, 100), (2000, 100))
    return as_bytes(made)


def _parabola() -> bytes:
    """A degree-2 spline with three control points is a parabola; its chord closes it."""
    made = doc()
    msp = made.modelspace()
    msp.add_open_spline([(0, 0, 0), (200, 400, 0), (400, 0, 0)], degree=2)
    msp.add_line((0, 0), (400, 0))
    return as_bytes(made)


def _nearly_closed_spline() -> bytes:
    """A spline whose ends miss each other by 0.00005 mm."""
    made = doc()
    points = [(0, 0, 0), (300, -200, 0), (600, 0, 0), (300, 400, 0), (0, 0.00005, 0)]
    made.modelspace().add_open_spline(points, degree=3)
    return as_bytes(made)


def _blocks() -> bytes:
    """A block in a block: turned by 90°, twice as large, mirrored; layer 0 takes the insert's."""
    made = doc()
    inner = made.blocks.new("HOLE")
    inner.add_circle((0, 0), 10)
    outer = made.blocks.new("SIDE")
    outer.add_lwpolyline([(0, 0), (200, 0), (200, 100), (50, 100)], close=True)
    outer.add_blockref("HOLE", (150, 50))
    msp = made.modelspace()
    msp.add_blockref("SIDE", (0, 0), dxfattribs={"layer": "Outside cut"})
    msp.add_blockref("SIDE", (600, 0), dxfattribs={"rotation": 90, "layer": "Outside cut"})
    msp.add_blockref(
        "SIDE", (700, 0), dxfattribs={"xscale": 2, "yscale": 2, "zscale": 0, "layer": "B"}
    )
    msp.add_blockref("SIDE", (1500, 0), dxfattribs={"xscale": -1, "layer": "C"})
    return as_bytes(made)


def _grid() -> bytes:
    """One block repeated in two rows of three."""
    made = doc()
    block = made.blocks.new("TILE")
    lines(block, [(0, 0), (80, 0), (80, 60), (0, 60)])
    made.modelspace().add_blockref(
        "TILE",
        (0, 0),
        dxfattribs={"row_count": 2, "column_count": 3, "row_spacing": 100, "column_spacing": 100},
    )
    return as_bytes(made)


def _squashed_block() -> bytes:
    """A circle and a bulged polyline under unequal scales become ellipses."""
    made = doc()
    block = made.blocks.new("ROUND")
    block.add_circle((0, 0), 100)
    block.add_lwpolyline(
        [(300, -50, 0), (400, -50, 1), (400, 50, 0), (300, 50, 0)], "xyb", close=True
    )
    made.modelspace().add_blockref("ROUND", (0, 0), dxfattribs={"xscale": 2, "yscale": 1})
    return as_bytes(made)


def _face_down() -> bytes:
    """Drawn from below: extrusion 0, 0, −1 turns x over and every arc with it."""
    made = doc()
    msp = made.modelspace()
    down = {"extrusion": (0, 0, -1)}
    # In its own axes: a 300 × 100 slot shape with round ends; in the world it lies at x < 0.
    msp.add_lwpolyline(
        [(100, 0, 0), (300, 0, 1), (300, 100, 0), (100, 100, 1)], "xyb", close=True, dxfattribs=down
    )
    msp.add_arc((600, 50), 50, 90, 270, dxfattribs=down)
    msp.add_line((-600, 100), (-600, 0))
    return as_bytes(made)


def _texts() -> bytes:
    """Names by text inside, paper space, a dimension, a hatch, and an attribute in a block."""
    made = doc()
    msp = made.modelspace()
    msp.add_lwpolyline(RECT, close=True)
    msp.add_text("cut 2", height=8).set_placement((20, 20))
    msp.add_text("Kiln shelf", height=20).set_placement((50, 200))
    msp.add_lwpolyline([(700, 0), (900, 0), (900, 100), (700, 100)], close=True)
    msp.add_mtext("Wedge\nrack", dxfattribs={"char_height": 10, "insert": (720, 60)})
    msp.add_lwpolyline([(1000, 0), (1100, 0), (1100, 100), (1000, 100)], close=True)
    msp.add_linear_dim(base=(0, -50), p1=(0, 0), p2=(600, 0)).render()
    msp.add_hatch().paths.add_polyline_path([(0, 0), (10, 0), (10, 10)])
    made.paperspace().add_circle((0, 0), 5)
    return as_bytes(made)


def _doubled_lines() -> bytes:
    """Every line twice, one of them in two overlapping stretches; an arc one and a half times."""
    made = doc()
    msp = made.modelspace()
    lines(msp, RECT)
    lines(msp, RECT)
    msp.add_line((100, 0), (300, 0))
    msp.add_line((700, 0), (700, 100))
    msp.add_arc((700, 50), 50, 270, 90)
    msp.add_arc((700, 50), 50, 300, 60)
    return as_bytes(made)


def _abutting() -> bytes:
    """Two panels that share an edge, both drawn whole as lines; the edges differ in length."""
    made = doc()
    msp = made.modelspace()
    lines(msp, [(0, 0), (300, 0), (300, 200), (0, 200)])
    lines(msp, [(300, 0), (500, 0), (500, 150), (300, 150)])
    return as_bytes(made)


def _outline_twice() -> bytes:
    """The same outline on two layers, and another twice on one."""
    made = doc()
    msp = made.modelspace()
    for layer in ("Outside", "Profile"):
        msp.add_lwpolyline(RECT, close=True, dxfattribs={"layer": layer})
    small = [(700, 0), (800, 0), (800, 100), (700, 100)]
    msp.add_lwpolyline(small, close=True, dxfattribs={"layer": "Outside"})
    msp.add_lwpolyline(small[::-1], close=True, dxfattribs={"layer": "Outside"})
    return as_bytes(made)


def _blocks_on_each_other() -> bytes:
    """Two inserts of one block on the same spot: quantity, or a slip?"""
    made = doc()
    block = made.blocks.new("P")
    lines(block, RECT)
    msp = made.modelspace()
    msp.add_blockref("P", (0, 0))
    msp.add_blockref("P", (0, 0))
    return as_bytes(made)


def gap(width: float) -> Callable[[], bytes]:
    """A rectangle of lines whose last corner is open by a width along its left edge."""

    def make() -> bytes:
        made = doc()
        lines(made.modelspace(), [*RECT, (0, width)], closed=False)
        return as_bytes(made)

    return make


def _figure_eight() -> bytes:
    made = doc()
    msp = made.modelspace()
    msp.add_lwpolyline([(0, 0), (200, 200), (200, 0), (0, 200)], close=True)
    msp.add_lwpolyline([(x + 500, y) for x, y in RECT], close=True)
    return as_bytes(made)


def _touching() -> bytes:
    """One polyline that comes back to a corner: two triangles that share a point."""
    made = doc()
    made.modelspace().add_lwpolyline(
        [(0, 0), (200, 0), (100, 100), (200, 200), (0, 200), (100, 100)], close=True
    )
    return as_bytes(made)


def _keyhole() -> bytes:
    """A hole drawn in one line with the outline, joined by a slit run there and back."""
    made = doc()
    made.modelspace().add_lwpolyline(
        [
            *[(0, 0), (400, 0), (400, 300), (0, 300), (0, 100), (100, 100)],
            *[(100, 200), (200, 200), (200, 100), (100, 100), (0, 100)],
        ],
        close=True,
    )
    return as_bytes(made)


def _depths() -> bytes:
    """Outline, hole, island in the hole, hole in the island."""
    made = doc()
    msp = made.modelspace()
    for inset in (0, 50, 100, 150):
        msp.add_lwpolyline(
            [
                (inset, inset),
                (800 - inset, inset),
                (800 - inset, 600 - inset),
                (inset, 600 - inset),
            ],
            close=True,
        )
    return as_bytes(made)


def _notched_l() -> bytes:
    """A square standing in the notch of an L lies inside its box but not inside it."""
    made = doc()
    msp = made.modelspace()
    msp.add_lwpolyline([(0, 0), (400, 0), (400, 100), (100, 100), (100, 400), (0, 400)], close=True)
    msp.add_lwpolyline([(200, 200), (300, 200), (300, 300), (200, 300)], close=True)
    return as_bytes(made)


def unit_case(insunits: int, factor: float) -> Callable[[], bytes]:
    """A 600 × 400 mm panel drawn in a unit of `factor` mm under a header code."""

    def make() -> bytes:
        made = doc(unit=insunits)
        made.modelspace().add_lwpolyline([(x / factor, y / factor) for x, y in RECT], close=True)
        return as_bytes(made)

    return make


_HOLED = Want((0, 0, 600, 400), 240000 - PI * 625, 1)
_SIDE_AREA = 200 * 100 - 50 * 100 / 2

DXF_CASES = (
    *(
        Case(f"polyline-{v}", polyline(v), (_HOLED,), ("unit-guessed",) if v == "R12" else ())
        for v in ("R12", "R2000", "R2004", "R2007", "R2010", "R2013", "R2018")
    ),
    Case("binary", _binary, (RECT_WANT,)),
    Case(
        "line-soup",
        _soup,
        tuple(Want((dx, 0, dx + 600, 400), 240000) for dx in (0, 700, 1400)),
    ),
    Case("rounded-soup", _rounded_soup, (Want((0, 0, 500, 300), 150000 - (4 - PI) * 1600),)),
    Case(
        "rounds",
        _rounds,
        (
            Want((50, 50, 350, 350), PI * 150**2),
            Want((600, 100, 800, 300), PI * (100**2 - 40**2), 1),
            Want((1000, 100, 1400, 300), PI * 200 * 100),
            Want((1600, 100, 2000, 200), PI * 200 * 100 / 2),
        ),
    ),
    # Archimedes: a parabola's segment is two thirds of its box.
    Case("parabola", _parabola, (Want((0, 0, 400, 200), 400 * 200 * 2 / 3),)),
    Case(
        "blocks",
        _blocks,
        (
            Want((0, 0, 200, 100), _SIDE_AREA - PI * 100, 1),
            Want((500, 0, 600, 200), _SIDE_AREA - PI * 100, 1),
            Want((700, 0, 1100, 200), 4 * (_SIDE_AREA - PI * 100), 1),
            Want((1300, 0, 1500, 100), _SIDE_AREA - PI * 100, 1),
        ),
    ),
    Case(
        "grid",
        _grid,
        tuple(
            Want((100 * c, 100 * r, 100 * c + 80, 100 * r + 60), 4800)
            for r in range(2)
            for c in range(3)
        ),
    ),
    Case(
        "squashed-block",
        _squashed_block,
        (
            Want((-200, -100, 200, 100), PI * 200 * 100),
            Want((600, -50, 900, 50), 200 * 100 + PI * 100 * 50 / 2),
        ),
    ),
    Case(
        "face-down",
        _face_down,
        (
            Want((-350, 0, -50, 100), 200 * 100 + PI * 2500),
            Want((-600, 0, -550, 100), PI * 2500 / 2),
        ),
    ),
    Case(
        "texts",
        _texts,
        (
            Want((0, 0, 600, 400), 240000, name="Kiln shelf"),
            Want((700, 0, 900, 100), 20000, name="Wedge"),
            Want((1000, 0, 1100, 100), 10000, name="texts"),
        ),
        ("paper-space", "kind-skipped"),
    ),
    Case(
        "doubled-lines",
        _doubled_lines,
        (RECT_WANT, Want((700, 0, 750, 100), PI * 2500 / 2)),
        ("line-doubled",),
    ),
    Case(
        "abutting",
        _abutting,
        (Want((0, 0, 300, 200), 60000), Want((300, 0, 500, 150), 30000)),
        ("line-doubled", "line-branches"),
    ),
    Case(
        "outline-twice",
        _outline_twice,
        (RECT_WANT, Want((700, 0, 800, 100), 10000)),
        ("outline-twice", "double-dropped"),
    ),
    Case("blocks-on-each-other", _blocks_on_each_other, (RECT_WANT,), ("outline-twice",)),
    Case("gap-silent", gap(0.005), (RECT_WANT,)),
    Case("gap-noticed", gap(0.05), (RECT_WANT,), ("gap-closed",)),
    Case("gap-asked", gap(0.3), (RECT_WANT,), ("gap-closed",)),
    Case("gap-open", gap(0.8), (), ("open-outline", "no-outlines")),
    Case(
        "figure-eight",
        _figure_eight,
        (Want((500, 0, 1100, 400), 240000),),
        ("self-crossing",),
    ),
    Case(
        "touching",
        _touching,
        (Want((0, 0, 200, 100), 10000), Want((0, 100, 200, 200), 10000)),
        ("self-touching",),
    ),
    Case("keyhole", _keyhole, (Want((0, 0, 400, 300), 110000, 1),), ("self-touching",)),
    Case(
        "depths",
        _depths,
        (
            Want((0, 0, 800, 600), 800 * 600 - 700 * 500, 1),
            Want((100, 100, 700, 500), 600 * 400 - 500 * 300, 1),
        ),
    ),
    Case(
        "notched-l",
        _notched_l,
        (Want((0, 0, 400, 400), 70000), Want((200, 200, 300, 300), 10000)),
    ),
    Case("inches", unit_case(units.IN, 25.4), (RECT_WANT,), units="in"),
    Case("centimetres", unit_case(units.CM, 10), (RECT_WANT,), units="cm"),
    Case("metres", unit_case(units.M, 1000), (RECT_WANT,), units="m"),
    Case("metres-that-are-mm", unit_case(units.M, 1), (RECT_WANT,), ("unit-doubtful",)),
    Case("inches-that-are-mm", unit_case(units.IN, 1), (RECT_WANT,), ("unit-doubtful",)),
    Case("no-unit", unit_case(0, 1), (RECT_WANT,), ("unit-guessed",)),
    Case(
        "no-unit-small",
        unit_case(0, 25.4),
        (Want((0, 0, 600 / 25.4, 400 / 25.4), 240000 / 25.4**2),),
        ("unit-doubtful",),
    ),
    Case(
        "roles",
        roles,
        (
            Want(
                (0, 0, 600, 400),
                240000 - PI * 900,
                1,
                features=("pocket", "dado", "drill", "drill", "engrave"),
            ),
        ),
        ("sheet-outline", "depth-read", "layer-ignored"),
    ),
    Case("hidden", hidden, (RECT_WANT,), ("layer-hidden",)),
    Case("cr-only", cr_only, (_HOLED,), ("line-ends",)),
    Case(
        "cut-off",
        cut_off,
        tuple(Want((700 * k, 0, 700 * k + 600, 400), 240000) for k in range(5)),
        ("ends-early",),
    ),
    Case(
        "cut-off-binary",
        cut_off_binary,
        tuple(Want((700 * k, 0, 700 * k + 600, 400), 240000) for k in range(5)),
        ("ends-early",),
    ),
    Case("headerless", headerless, (_HOLED,), ("header-missing", "unit-guessed")),
    Case("far-out", far_out, (Want((0.25, 0, 600.25, 400), 240000),), ("far-out",)),
    Case("not-numbers", not_numbers, (RECT_WANT,), ("shape-broken",)),
    Case(
        "shared-divider",
        shared_divider,
        (Want((0, 0, 300, 400), 120000), Want((300, 0, 600, 400), 120000)),
        ("line-branches",),
    ),
    Case("two-layers", two_layers, (RECT_WANT,)),
    Case("messy-polyline", messy_polyline, (RECT_WANT,), ("speck-dropped", "kind-skipped")),
    Case(
        "crossing",
        crossing,
        (RECT_WANT, Want((500, 100, 1100, 500), 240000)),
        ("outlines-cross",),
    ),
    Case("stray-line", stray_line, (RECT_WANT,), ("open-line",)),
    Case("edge-hole", edge_hole, (Want((0, 0, 600, 400), 240000 - 3600),), ("hole-on-edge",)),
)
