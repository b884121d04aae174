"""What test drawings are made of, each with what a reader must find, written down by hand.

The drawings are made with the DXF library directly, or as SVG text, never with our own writer,
so that reader and writer cannot agree on the same mistake. Areas follow from school formulas.
"""

from __future__ import annotations

import io
import math
from collections.abc import Callable
from dataclasses import dataclass
from itertools import pairwise

import ezdxf
from ezdxf import units

PI = math.pi
Box = tuple[float, float, float, float]


@dataclass(frozen=True)
class Want:
    """One outline: bounds, area and number of holes; features by kind if any."""

    box: Box
    area: float
    holes: int = 0
    name: str = ""
    features: tuple[str, ...] = ()


@dataclass(frozen=True)
class Case:
    """A drawing, what it must give, and the codes of findings it must and may raise."""

    name: str
    make: Callable[[], bytes]
    wants: tuple[Want, ...]
    codes: tuple[str, ...] = ()
    units: str = "mm"
    suffix: str = ".dxf"


def doc(version: str = "R2010", unit: int = units.MM):
    """A new document with its unit stated."""
    made = ezdxf.new(version)
    if version != "R12":
        made.units = unit
    return made


def as_bytes(made, binary: bool = False) -> bytes:
    """The document as it would stand on disk."""
    if binary:
        stream = io.BytesIO()
        made.write(stream, fmt="bin")
        return stream.getvalue()
    text = io.StringIO()
    made.write(text)
    return made.encode(text.getvalue())


RECT = [(0, 0), (600, 0), (600, 400), (0, 400)]
RECT_WANT = Want((0, 0, 600, 400), 240000.0)


def lines(msp, points, layer="0", closed=True):
    """Single LINEs from point to point."""
    rows = [*points, points[0]] if closed else points
    for a, b in pairwise(rows):
        msp.add_line(a, b, dxfattribs={"layer": layer})


def svg(body: str, head: str = 'width="900mm" height="600mm" viewBox="0 0 900 600"') -> bytes:
    """An SVG file around a body."""
    return (
        '<svg xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink" '
        'xmlns:inkscape="http://www.inkscape.org/namespaces/inkscape" '
        f"{head}>{body}</svg>"
    ).encode()


def svg_case(
    name: str,
    body: str,
    wants: tuple[Want, ...],
    codes: tuple[str, ...] = (),
    head: str = 'width="900mm" height="600mm" viewBox="0 0 900 600"',
    unit: str = "mm",
) -> Case:
    """A case around an SVG body."""
    return Case(name, lambda: svg(body, head), wants, codes, unit, ".svg")
