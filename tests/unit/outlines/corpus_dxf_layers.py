"""Test drawings as DXF: layers, damage and what drawers leave lying about."""

from __future__ import annotations

from collections.abc import Callable

from corpus_base import RECT, as_bytes, doc, lines


def polyline(version: str) -> Callable[[], bytes]:
    def make() -> bytes:
        made = doc(version)
        msp = made.modelspace()
        if version == "R12":
            msp.add_polyline2d(RECT, close=True)
        else:
            msp.add_lwpolyline(RECT, close=True)
        msp.add_circle((100, 100), 25)
        return as_bytes(made)

    return make


def roles() -> bytes:
    """Every role by its layer's name; the pocket runs over the edge, the frame stays out."""
    made = doc()
    msp = made.modelspace()
    msp.add_lwpolyline(
        [(-50, -50), (2390, -50), (2390, 1170), (-50, 1170)],
        close=True,
        dxfattribs={"layer": "Sheet 18"},
    )
    msp.add_lwpolyline(RECT, close=True, dxfattribs={"layer": "Outside cut"})
    msp.add_circle((300, 200), 30, dxfattribs={"layer": "Inside cut"})
    msp.add_lwpolyline(
        [(500, 100), (700, 100), (700, 150), (500, 150)],
        close=True,
        dxfattribs={"layer": "Pocket 6.5"},
    )
    msp.add_lwpolyline(
        [(50, 300), (200, 300), (200, 318), (50, 318)],
        close=True,
        dxfattribs={"layer": "DADO_9_back"},
    )
    msp.add_circle((50, 50), 2.5, dxfattribs={"layer": "Drill 12 deep"})
    msp.add_point((80, 50), dxfattribs={"layer": "Drill 10 d8"})
    msp.add_line((400, 300), (500, 350), dxfattribs={"layer": "Engrave 0.5"})
    msp.add_circle((450, 50), 20, dxfattribs={"layer": "do not cut"})
    return as_bytes(made)


def hidden() -> bytes:
    made = doc()
    made.layers.add("OFF").off()
    made.layers.add("ICE").freeze()
    msp = made.modelspace()
    msp.add_lwpolyline(RECT, close=True)
    msp.add_circle((100, 100), 20, dxfattribs={"layer": "OFF"})
    msp.add_circle((200, 100), 20, dxfattribs={"layer": "ICE"})
    msp.add_circle((300, 100), 20, dxfattribs={"invisible": 1})
    return as_bytes(made)


def cr_only() -> bytes:
    return polyline("R2000")().replace(b"\r\n", b"\n").replace(b"\n", b"\r")


def cut_off() -> bytes:
    """The file stops in the middle of its sixth outline."""
    made = doc("R2000")
    msp = made.modelspace()
    for k in range(6):
        msp.add_lwpolyline([(x + 700 * k, y) for x, y in RECT], close=True)
    data = as_bytes(made)
    at = [i for i in range(len(data)) if data.startswith(b"LWPOLYLINE\n", i)][-1]
    return data[: at + 130]


def cut_off_binary() -> bytes:
    made = doc("R2000")
    msp = made.modelspace()
    for k in range(6):
        msp.add_lwpolyline([(x + 700 * k, y) for x, y in RECT], close=True)
    data = as_bytes(made, binary=True)
    at = [i for i in range(len(data)) if data.startswith(b"LWPOLYLINE\0", i)][-1]
    return data[: at + 60]


def headerless() -> bytes:
    data = polyline("R2000")().replace(b"\r\n", b"\n")
    at = data.index(b"  0\nSECTION\n  2\nENTITIES")
    end = data.index(b"ENDSEC", at)
    return data[at:end] + b"ENDSEC\n  0\nEOF\n"


def far_out() -> bytes:
    made = doc()
    msp = made.modelspace()
    msp.add_lwpolyline([(x + 4.0e7 + 0.25, y - 2.0e7) for x, y in RECT], close=True)
    return as_bytes(made)


def not_numbers() -> bytes:
    data = polyline("R2000")().replace(b"\r\n", b"\n")
    at = data.index(b"CIRCLE")
    return data[:at] + data[at:].replace(b" 10\n100.0", b" 10\nnan", 1)


def shared_divider() -> bytes:
    """A rectangle of lines with a line across from corner to corner of its long edges."""
    made = doc()
    msp = made.modelspace()
    lines(msp, [(0, 0), (300, 0), (600, 0), (600, 400), (300, 400), (0, 400)])
    msp.add_line((300, 0), (300, 400))
    return as_bytes(made)


def two_layers() -> bytes:
    """One outline whose edges stand on two layers."""
    made = doc()
    msp = made.modelspace()
    lines(msp, [RECT[0], RECT[1], RECT[2]], layer="A", closed=False)
    lines(msp, [RECT[2], RECT[3], RECT[0]], layer="B", closed=False)
    return as_bytes(made)


def messy_polyline() -> bytes:
    """Repeated vertices, the first again at the end without the closed flag, a stray dot."""
    made = doc()
    msp = made.modelspace()
    msp.add_lwpolyline([(0, 0), (0, 0), (600, 0), (600, 400), (600, 400), (0, 400), (0, 0)])
    msp.add_lwpolyline([(5, 5), (5, 5)], close=True)
    msp.add_circle((50, 50), 0.01)
    return as_bytes(made)


def crossing() -> bytes:
    made = doc()
    msp = made.modelspace()
    msp.add_lwpolyline(RECT, close=True)
    msp.add_lwpolyline([(x + 500, y + 100) for x, y in RECT], close=True)
    return as_bytes(made)


def stray_line() -> bytes:
    made = doc()
    msp = made.modelspace()
    msp.add_lwpolyline(RECT, close=True)
    msp.add_line((700, 0), (900, 50))
    return as_bytes(made)


def edge_hole() -> bytes:
    """A rectangle drawn as a hole that lies on the outline's edge: a notch."""
    made = doc()
    msp = made.modelspace()
    msp.add_lwpolyline(RECT, close=True)
    msp.add_lwpolyline([(100, 0), (118, 0), (118, 200), (100, 200)], close=True)
    return as_bytes(made)
