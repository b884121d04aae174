"""Test drawings of what exporters do besides: overshoots, islands, odd entities, SVG units."""

from __future__ import annotations

import math

from corpus_base import PI, RECT, RECT_WANT, Case, Want, as_bytes, doc, lines, svg_case
from ezdxf import units


def _rect(msp, x, y, w, h, layer="0"):
    msp.add_lwpolyline(
        [(x, y), (x + w, y), (x + w, y + h), (x, y + h)],
        close=True,
        dxfattribs={"layer": layer},
    )


def _overshot() -> bytes:
    """Every line 1.5 longer at both ends than its corner."""
    made = doc()
    msp = made.modelspace()
    msp.add_line((-1.5, 0), (601.5, 0))
    msp.add_line((600, -1.5), (600, 401.5))
    msp.add_line((601.5, 400), (-1.5, 400))
    msp.add_line((0, 401.5), (0, -1.5))
    return as_bytes(made)


def _t_corner() -> bytes:
    """The lower line runs on past the corner by 80; only its own end is loose."""
    made = doc()
    msp = made.modelspace()
    msp.add_line((-80, 0), (600, 0))
    lines(msp, [(600, 0), (600, 400), (0, 400), (0, 0)], closed=False)
    return as_bytes(made)


def _islands() -> bytes:
    """A frame in a frame in a frame: outline, hole, island with a hole of its own."""
    made = doc()
    msp = made.modelspace()
    _rect(msp, 0, 0, 1000, 800)
    _rect(msp, 100, 100, 800, 600)
    _rect(msp, 200, 200, 600, 400)
    msp.add_circle((500, 400), 100)
    return as_bytes(made)


def _nested_mirror() -> bytes:
    """A block in a block, both mirrored and scaled: mirrored twice is turned, not mirrored."""
    made = doc()
    inner = made.blocks.new("WEDGE")
    inner.add_lwpolyline([(0, 0), (30, 0), (0, 10)], close=True)
    outer = made.blocks.new("TWO")
    outer.add_blockref("WEDGE", (100, 0), dxfattribs={"xscale": -2, "yscale": 2})
    made.modelspace().add_blockref("TWO", (0, 0), dxfattribs={"xscale": -3, "yscale": 3})
    return as_bytes(made)


def _whole_ellipse_arc() -> bytes:
    """Half an ellipse closed by a line, turned by 30 degrees."""
    made = doc()
    msp = made.modelspace()
    ux, uy = math.cos(math.radians(30)), math.sin(math.radians(30))
    msp.add_ellipse((0, 0), (300 * ux, 300 * uy), 0.5, 0, PI)
    msp.add_line((300 * ux, 300 * uy), (-300 * ux, -300 * uy))
    return as_bytes(made)


def _smoothed_polyline() -> bytes:
    """An old polyline smoothed by its program: frame points besides, which are not on it."""
    made = doc("R2000")
    msp = made.modelspace()
    line = msp.add_polyline2d(RECT, close=True)
    line.vertices[1].dxf.flags = 0
    frame = msp.add_polyline2d([(900, 0), (1000, 0), (1000, 100), (900, 100)], close=True)
    frame.append_vertices([(950, 500)], dxfattribs={"flags": 16})
    return as_bytes(made)


def _mesh() -> bytes:
    """A mesh, a face, a solid and a point: nothing a router cuts along."""
    made = doc()
    msp = made.modelspace()
    _rect(msp, 0, 0, 600, 400)
    mesh = msp.add_polymesh((2, 2))
    for i in range(2):
        for k in range(2):
            mesh.set_mesh_vertex((i, k), (10 * i, 10 * k, 5))
    msp.add_3dface([(0, 0), (10, 0), (10, 10)])
    msp.add_solid([(0, 0), (10, 0), (10, 10)])
    msp.add_point((30, 30))
    return as_bytes(made)


def _pocket_over_edge() -> bytes:
    """A pocket that runs over the panel's edge, as a rebate is drawn to be cut clear."""
    made = doc()
    msp = made.modelspace()
    _rect(msp, 0, 0, 600, 400)
    _rect(msp, -10, 100, 60, 50, "Pocket 6")
    return as_bytes(made)


def _many_panels() -> bytes:
    """Three panels with names, holes and drill centres in one file."""
    made = doc()
    msp = made.modelspace()
    for k, name in enumerate(("Left", "Right", "Shelf")):
        x = 700.0 * k
        _rect(msp, x, 0, 600, 400)
        msp.add_circle((x + 100, 100), 15)
        msp.add_point((x + 300, 200), dxfattribs={"layer": "Drill 10 d5"})
        msp.add_text(name, height=20).set_placement((x + 300, 300))
    return as_bytes(made)


def _half_inches() -> bytes:
    """Inches in the header and inch numbers: 23 5/8 by 15 3/4."""
    made = doc(unit=units.IN)
    _rect(made.modelspace(), 0, 0, 23.625, 15.75)
    return as_bytes(made)


def _binary(version: str):
    def make() -> bytes:
        made = doc(version)
        msp = made.modelspace()
        msp.add_polyline2d(RECT, close=True)
        msp.add_circle((300, 200), 25)
        return as_bytes(made, binary=True)

    return make


def _damaged() -> bytes:
    """An entity without its owner, a handle twice, a group code that is none."""
    made = doc()
    msp = made.modelspace()
    _rect(msp, 0, 0, 600, 400)
    msp.add_circle((300, 200), 25)
    data = as_bytes(made)
    at = data.index(b"\nCIRCLE\n")
    return data[:at] + b"\nCIRCLE\n  x\nnot a code\n" + data[at + len(b"\nCIRCLE\n") :]


def _reversed_arc() -> bytes:
    """A slot of two lines and two arcs, one of the arcs from a mirrored plane."""
    made = doc()
    msp = made.modelspace()
    msp.add_line((0, 0), (200, 0))
    msp.add_line((0, 100), (200, 100))
    msp.add_arc((200, 50), 50, -90, 90)
    msp.add_arc((0, 50), 50, -90, 90, dxfattribs={"extrusion": (0, 0, -1)})
    return as_bytes(made)


def _wide_polyline() -> bytes:
    """A bulged R12 polyline: a quarter ring of arcs both ways."""
    made = doc("R12")
    msp = made.modelspace()
    quarter = math.tan(PI / 8)
    msp.add_polyline2d(
        [(300, 0, quarter), (0, 300, 0), (0, 200, -quarter), (200, 0, 0)], format="xyb", close=True
    )
    return as_bytes(made)


_HOLED = Want((0, 0, 600, 400), 240000 - PI * 625, 1)
_SKEW = math.hypot(300 * math.cos(PI / 6), 150 * math.sin(PI / 6))
_LINE = 'fill="none" stroke="black"'

MORE_CASES = (
    Case("overshot", _overshot, (RECT_WANT,), ("overshoot-trimmed",)),
    Case("t-corner", _t_corner, (RECT_WANT,), ("open-line",)),
    Case(
        "islands",
        _islands,
        (
            Want((0, 0, 1000, 800), 800000 - 480000, 1),
            Want((200, 200, 800, 600), 240000 - PI * 10000, 1),
        ),
    ),
    # Mirrored twice: (30, 0), (0, 10) sixfold, from x = 100 · −3.
    Case("nested-mirror", _nested_mirror, (Want((-300, 0, -120, 60), 180 * 60 / 2),)),
    Case(
        "half-ellipse",
        _whole_ellipse_arc,
        (
            Want(
                # The upper extreme is the turned ellipse's; left and right likewise where the
                # half that is drawn holds them, else an end of the line.
                (-_SKEW, -150, 300 * math.cos(PI / 6), math.hypot(150, 150 * math.cos(PI / 6))),
                PI * 300 * 150 / 2,
            ),
        ),
    ),
    Case("smoothed-polyline", _smoothed_polyline, (RECT_WANT, Want((900, 0, 1000, 100), 10000))),
    Case("mesh", _mesh, (RECT_WANT,), ("kind-skipped",)),
    Case("pocket-over-edge", _pocket_over_edge, (Want((0, 0, 600, 400), 240000, 0, "",
         ("pocket",)),), ("depth-read",)),
    Case(
        "many-panels",
        _many_panels,
        tuple(
            Want((700.0 * k, 0, 700.0 * k + 600, 400), 240000 - PI * 225, 1, name, ("drill",))
            for k, name in enumerate(("Left", "Right", "Shelf"))
        ),
        ("depth-read",),
    ),
    Case("inch-fractions", _half_inches, (Want((0, 0, 600.075, 400.05), 600.075 * 400.05),),
         units="in"),
    Case("binary-R2000", _binary("R2000"), (_HOLED,)),
    Case("binary-R2018", _binary("R2018"), (_HOLED,)),
    Case("binary-R12", _binary("R12"), (_HOLED,), ("unit-guessed",)),
    Case("damaged", _damaged, (_HOLED,), ("file-repaired",)),
    Case("reversed-arc", _reversed_arc, (Want((-50, 0, 250, 100), 20000 + PI * 2500),)),
    Case("quarter-ring", _wide_polyline, (Want((0, 0, 300, 300), PI * (90000 - 40000) / 4),),
         ("unit-guessed",)),
    svg_case(
        "svg-centimetres",
        f'<rect x="1" y="2" width="60" height="40" {_LINE}/>',
        (Want((10, 180, 610, 580), 240000),),
        head='width="90cm" height="60cm" viewBox="0 0 90 60"',
        unit="cm",
    ),
    svg_case(
        "svg-arcs-in-a-path",
        f'<path d="M100 100 H300 A50 50 0 0 1 300 200 H100 A50 50 0 0 1 100 100 Z" {_LINE}/>',
        (Want((50, 400, 350, 500), 20000 + PI * 2500),),
    ),
    svg_case(
        "svg-mirrored-and-turned",
        '<g transform="translate(400 300) rotate(90) scale(-1 2)">'
        f'<path d="M0 0 H100 V50 Z" {_LINE}/></g>',
        # (x, y) goes to (400 − 2y, 300 − x) on the page, 600 high.
        (Want((300, 300, 400, 400), 100 * 50 / 2 * 2),),
    ),
    svg_case(
        "svg-ellipse",
        f'<ellipse cx="300" cy="300" rx="200" ry="80" {_LINE}/>',
        (Want((100, 220, 500, 380), PI * 200 * 80),),
    ),
    svg_case(
        "svg-text",
        f'<rect x="100" y="50" width="600" height="400" {_LINE}/>'
        '<text x="300" y="250" font-size="20">Kiln shelf</text>',
        (Want((100, 150, 700, 550), 240000, 0, "Kiln shelf"),),
    ),
)  # fmt: skip
