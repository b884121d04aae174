"""Writing drawings that any router program reads: flat, clean, in millimetres.

What is to be drawn is a list of small values, each naming its layer: :class:`RingItem`,
:class:`PathItem`, :class:`CircleItem`, :class:`PointItem` and :class:`TextItem`. The same list
goes to :func:`write_dxf` or :func:`write_svg`. Both clean what they are given (repeated points,
edges without length, the same shape twice on one layer) and keep arcs as true arcs. An arc
beyond a half circle is written as two, as some readers take the short way round.

DXF files hold closed LWPOLYLINEs (POLYLINEs for R12), open ones for lines, CIRCLE, POINT and
TEXT at z = 0 and nothing else: no blocks, no splines, plain ASCII layer names of at most
31 characters. The same items give the same bytes, whatever the date.
"""

from __future__ import annotations

import io
import logging
import math
import os
import re
import unicodedata
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import IO, Any
from xml.sax.saxutils import escape, quoteattr

from core.atomic import replace_file
from core.errors import InvalidGeometryError, InvalidRequestError, SaveFailedError
from core.geometry import Point, Region, Ring, Vertex, arc_of
from core.tolerances import DRAWN_EDGE_MM, SAME_POINT_MM, SAME_SHAPE_MM

# A library may not print to the maker's terminal by itself.
logging.getLogger("ezdxf").addHandler(logging.NullHandler())

VERSIONS = ("R12", "R2000", "R2010")
_LONGEST_LAYER_NAME = 31
# Letters that are no plain one with a mark; the last is the sign of a diameter.
_SPELT_OUT = str.maketrans(
    {"ß": "ss", "æ": "ae", "Æ": "AE", "œ": "oe", "Œ": "OE", "ø": "o", "Ø": "O", "ł": "l", "Ł": "L"}
    | {"đ": "d", "Đ": "D", "þ": "th", "Þ": "Th", "⌀": "D"}
)
_SVG_STROKE_MM = 0.2


@dataclass(frozen=True, slots=True)
class RingItem:
    """A closed outline, arcs kept."""

    layer: str
    ring: Ring


@dataclass(frozen=True, slots=True)
class PathItem:
    """An open line: vertices (x_mm, y_mm, bulge to the next), the last one's bulge unused."""

    layer: str
    vertices: tuple[Vertex, ...]

    @staticmethod
    def line(layer: str, *points: Point) -> PathItem:
        """Straight from point to point."""
        return PathItem(layer, tuple((x, y, 0.0) for x, y in points))


@dataclass(frozen=True, slots=True)
class CircleItem:
    """A full circle, for holes to be drilled or bored."""

    layer: str
    at: Point
    radius_mm: float


@dataclass(frozen=True, slots=True)
class PointItem:
    """A single point, for drill centres without a diameter."""

    layer: str
    at: Point


@dataclass(frozen=True, slots=True)
class TextItem:
    """One line of text; `at` is the lower left of the text, or its middle if centred."""

    layer: str
    at: Point
    text: str
    height_mm: float = 5.0
    turn_deg: float = 0.0
    centred: bool = False


DrawItem = RingItem | PathItem | CircleItem | PointItem | TextItem


def region_items(layer: str, region: Region) -> list[DrawItem]:
    """The outer ring and every hole of a region on one layer."""
    return [RingItem(layer, ring) for ring in region.rings]


def layer_names(names: Iterable[str]) -> dict[str, str]:
    """A file-safe name for every layer name: ASCII, ≤ 31 characters, all different.

    Letters with marks lose them, ß and its like are spelt out, anything a DXF forbids becomes
    "_"; names that would fall together get -2, -3 … . The same names in the same order give the
    same answer.
    """
    out: dict[str, str] = {}
    taken: set[str] = set()
    for name in names:
        if name in out:
            continue
        plain = unicodedata.normalize("NFKD", name.translate(_SPELT_OUT))
        plain = plain.encode("ascii", "ignore").decode()
        plain = re.sub(r"[^A-Za-z0-9 ._+()#-]", "_", plain).strip()[:_LONGEST_LAYER_NAME].strip()
        plain = plain or "LAYER"
        candidate, count = plain, 1
        while candidate.lower() in taken:
            count += 1
            behind = f"-{count}"
            candidate = plain[: _LONGEST_LAYER_NAME - len(behind)] + behind
        taken.add(candidate.lower())
        out[name] = candidate
    return out


def halved_arcs(rows: Sequence[Vertex], *, closed: bool, beyond: float) -> tuple[Vertex, ...]:
    """The vertices with every arc halved whose bulge is larger than `beyond`, either way round.

    The line stays the same. closed: the last vertex joins the first.
    """
    out: list[Vertex] = []
    for i, (x, y, bulge) in enumerate(rows):
        if abs(bulge) <= beyond or (i + 1 == len(rows) and not closed):
            out.append((x, y, bulge))
            continue
        x2, y2, _ = rows[(i + 1) % len(rows)]
        (cx, cy), radius, begin, sweep = arc_of((x, y), (x2, y2), bulge)
        middle, half = begin + sweep / 2, math.tan(sweep / 8)
        out.append((x, y, half))
        out.append((cx + radius * math.cos(middle), cy + radius * math.sin(middle), half))
    return tuple(out)


def clean_items(items: Iterable[DrawItem]) -> list[DrawItem]:
    """The items without repeated points, empty shapes and repeats on one layer.

    Raises InvalidGeometryError for a coordinate that is not finite.
    """
    kept: list[DrawItem] = []
    seen: set[tuple[object, ...]] = set()
    for item in items:
        cleaned = _cleaned(item)
        if cleaned is None:
            continue
        key = _shape_key(cleaned)
        if key in seen:
            continue
        seen.add(key)
        kept.append(cleaned)
    return kept


def write_dxf(
    target: str | os.PathLike[str] | IO[Any],
    items: Iterable[DrawItem],
    *,
    version: str = "R2010",
    colours: dict[str, int] | None = None,
) -> None:
    """Write items to a DXF file in millimetres.

    target: a path (written whole or not at all) or an open stream, text or binary.
    version: one of VERSIONS. R12 has no unit in its header: its numbers are millimetres.
    colours: layer name → colour index 1–255; layers not named get 7.

    Raises InvalidRequestError for another version, InvalidGeometryError for a coordinate
    that is not finite, SaveFailedError when the file cannot be written.
    """
    if version not in VERSIONS:
        raise InvalidRequestError(
            f"DXF version “{version}” is not written", remedy=f"Use {', '.join(VERSIONS)}."
        )
    _deliver(target, _dxf_bytes(clean_items(items), version, colours or {}))


def write_svg(
    target: str | os.PathLike[str] | IO[Any],
    items: Iterable[DrawItem],
    *,
    margin_mm: float = 0.0,
) -> None:
    """Write items to an SVG file whose size is stated in millimetres, one group per layer.

    The page is the drawing's bounds plus margin_mm all round; y is turned over, as SVG counts
    down. Raises as :func:`write_dxf`.
    """
    _deliver(target, _svg_text(clean_items(items), margin_mm).encode("utf-8"))


# --- cleaning -----------------------------------------------------------------------------


def _cleaned(item: DrawItem) -> DrawItem | None:
    """The item cleaned, None when nothing is left of it."""
    if isinstance(item, RingItem):
        try:
            return RingItem(item.layer, Ring.of(_without_specks(item.ring.vertices, closed=True)))
        except InvalidGeometryError:
            _check_finite(item.layer, *(c for v in item.ring.vertices for c in v))
            return None
    if isinstance(item, PathItem):
        rows: list[Vertex] = []
        for x, y, bulge in item.vertices:
            _check_finite(item.layer, x, y, bulge)
            if rows and math.hypot(x - rows[-1][0], y - rows[-1][1]) <= SAME_POINT_MM:
                rows[-1] = (rows[-1][0], rows[-1][1], bulge)
            else:
                rows.append((x, y, bulge))
        rows = _without_specks(rows, closed=False)
        return PathItem(item.layer, tuple(rows)) if len(rows) > 1 else None
    _check_finite(item.layer, *item.at)
    if isinstance(item, CircleItem):
        _check_finite(item.layer, item.radius_mm)
        return item if item.radius_mm > SAME_POINT_MM else None
    if isinstance(item, TextItem):
        _check_finite(item.layer, item.height_mm, item.turn_deg)
        text = " ".join(item.text.split())
        if not text or item.height_mm <= 0:
            return None
        return TextItem(item.layer, item.at, text, item.height_mm, item.turn_deg, item.centred)
    return item


def _without_specks(rows: Sequence[Vertex], *, closed: bool) -> list[Vertex]:
    """The vertices without edges, straight or bulged, shorter than DRAWN_EDGE_MM.

    The two ends of an open line stay where they are.
    """
    kept: list[Vertex] = []
    for i, (x, y, bulge) in enumerate(rows):
        if not kept or _edge_mm(kept[-1], (x, y)) >= DRAWN_EDGE_MM:
            kept.append((x, y, bulge))
        elif i + 1 == len(rows) and not closed and len(kept) > 1:
            kept[-1] = (x, y, bulge)
        else:
            kept[-1] = (*kept[-1][:2], bulge)
    while closed and len(kept) > 1 and _edge_mm(kept[-1], kept[0][:2]) < DRAWN_EDGE_MM:
        kept.pop()
    return kept


def _edge_mm(start: Vertex, end: Point) -> float:
    """Length of the edge from a vertex, along its arc if it has one."""
    chord, bulge = math.hypot(end[0] - start[0], end[1] - start[1]), abs(start[2])
    if not bulge or not chord:
        return chord
    return chord * (1.0 + bulge * bulge) / bulge * math.atan(bulge)


def _check_finite(layer: str, *values: float) -> None:
    if not all(math.isfinite(value) for value in values):
        raise InvalidGeometryError("A coordinate is not a finite number", f"layer {layer}")


def _shape_key(item: DrawItem) -> tuple[object, ...]:
    """Equal for items that would draw the same thing on the same layer."""

    def cell(value: float) -> int:
        return round(value / SAME_SHAPE_MM)

    if isinstance(item, RingItem):
        rows = [
            (cell(x), cell(y), round(b, 9)) for x, y, b in item.ring.oriented(ccw=True).vertices
        ]
        first = rows.index(min(rows))
        return ("ring", item.layer, *rows[first:], *rows[:first])
    if isinstance(item, PathItem):
        ahead = [(cell(x), cell(y), round(b, 9)) for x, y, b in item.vertices]
        ahead[-1] = (*ahead[-1][:2], 0.0)
        back = [
            (x, y, -ahead[i - 1][2] if i else 0.0) for i, (x, y, _) in reversed([*enumerate(ahead)])
        ]
        return ("path", item.layer, *min(ahead, back))
    x, y = item.at
    if isinstance(item, CircleItem):
        return ("circle", item.layer, cell(x), cell(y), cell(item.radius_mm))
    if isinstance(item, TextItem):
        return ("text", item.layer, cell(x), cell(y), item.text, item.height_mm, item.turn_deg)
    return ("point", item.layer, cell(x), cell(y))


# --- DXF ----------------------------------------------------------------------------------


def _dxf_bytes(items: Sequence[DrawItem], version: str, colours: dict[str, int]) -> bytes:
    import ezdxf  # heavy, and only needed when something is written
    from ezdxf import options, units

    dated = options.write_fixed_meta_data_for_testing
    # The date of writing would make two files of the same plan differ.
    options.write_fixed_meta_data_for_testing = True
    try:
        doc = ezdxf.new(version, setup=False)
        if version != "R12":  # an R12 header knows no unit
            doc.units = units.MM
        _fill(doc, items, version, colours)
        stream = io.StringIO()
        # The library takes its class names from a set, whose order changes from run to run.
        if version != "R12":
            doc.classes.add_required_classes(doc.dxfversion)
            known = sorted(doc.classes.classes.items())
            doc.classes.classes.clear()
            doc.classes.classes.update(known)
        doc.write(stream)
    finally:
        options.write_fixed_meta_data_for_testing = dated
    data: bytes = doc.encode(stream.getvalue())
    return data


def _fill(doc: Any, items: Sequence[DrawItem], version: str, colours: dict[str, int]) -> None:
    """Put the items into an empty document's model space."""
    from ezdxf.enums import TextEntityAlignment

    doc.header["$MEASUREMENT"] = 1
    names = layer_names(item.layer for item in items)
    for name, plain in names.items():
        if plain != "0" and plain not in doc.layers:
            doc.layers.add(plain, color=colours.get(name, 7))
    msp = doc.modelspace()
    for item in items:
        attribs: dict[str, Any] = {"layer": names[item.layer]}
        if isinstance(item, RingItem | PathItem):
            rows = item.ring.vertices if isinstance(item, RingItem) else item.vertices
            closed = isinstance(item, RingItem)
            rows = halved_arcs(rows, closed=closed, beyond=1.0 + 1e-9)
            if version == "R12":
                msp.add_polyline2d(rows, format="xyb", close=closed, dxfattribs=attribs)
            else:
                msp.add_lwpolyline(rows, format="xyb", close=closed, dxfattribs=attribs)
        elif isinstance(item, CircleItem):
            msp.add_circle(item.at, item.radius_mm, dxfattribs=attribs)
        elif isinstance(item, PointItem):
            msp.add_point(item.at, dxfattribs=attribs)
        else:
            attribs["rotation"] = item.turn_deg
            text = msp.add_text(item.text, height=item.height_mm, dxfattribs=attribs)
            align = TextEntityAlignment.MIDDLE_CENTER if item.centred else TextEntityAlignment.LEFT
            text.set_placement(item.at, align=align)
    bounds = _bounds(items)
    msp.reset_extents((bounds[0], bounds[1], 0), (bounds[2], bounds[3], 0))


# --- SVG ----------------------------------------------------------------------------------


def _number(value: float) -> str:
    """As short as it can be without losing a bit; no exponent, which some readers refuse."""
    text = repr(round(value, 12))
    if "e" in text:
        text = f"{value:.12f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


def _svg_path(rows: Sequence[Vertex], closed: bool) -> str:
    parts = [f"M {_number(rows[0][0])} {_number(-rows[0][1])}"]
    last = len(rows) if closed else len(rows) - 1
    for i in range(last):
        x1, y1, bulge = rows[i]
        x2, y2, _ = rows[(i + 1) % len(rows)]
        if not bulge:
            if i + 1 < len(rows):
                parts.append(f"L {_number(x2)} {_number(-y2)}")
            continue
        _, radius, _, sweep = arc_of((x1, y1), (x2, y2), bulge)
        large = int(abs(sweep) > math.pi)
        # y is turned over, so a counter-clockwise arc has sweep flag 0.
        turn = int(bulge < 0)
        r = _number(radius)
        parts.append(f"A {r} {r} 0 {large} {turn} {_number(x2)} {_number(-y2)}")
    if closed:
        parts.append("Z")
    return " ".join(parts)


def _svg_shape(item: DrawItem) -> str:
    if isinstance(item, RingItem):
        return f'<path d="{_svg_path(item.ring.vertices, True)}"/>'
    if isinstance(item, PathItem):
        return f'<path d="{_svg_path(item.vertices, False)}"/>'
    x, y = _number(item.at[0]), _number(-item.at[1])
    if isinstance(item, CircleItem):
        return f'<circle cx="{x}" cy="{y}" r="{_number(item.radius_mm)}"/>'
    if isinstance(item, PointItem):
        # A mark that has no area and no length: a moved-to point with a round end.
        return f'<path d="M {x} {y} Z" stroke-linecap="round"/>'
    turn = f' transform="rotate({_number(-item.turn_deg)} {x} {y})"' if item.turn_deg else ""
    centre = ' text-anchor="middle" dominant-baseline="central"' if item.centred else ""
    return (
        f'<text x="{x}" y="{y}" font-size="{_number(item.height_mm)}"{centre}{turn} '
        f'fill="black" stroke="none">{escape(_xml_safe(item.text))}</text>'
    )


def _xml_safe(text: str) -> str:
    """The text without the control characters XML cannot hold."""
    return "".join(c for c in text if c >= " " and c not in "\ufffe\uffff" and not _surrogate(c))


def _surrogate(char: str) -> bool:
    return "\ud800" <= char <= "\udfff"


def _svg_text(items: Sequence[DrawItem], margin_mm: float) -> str:
    x1, y1, x2, y2 = _bounds(items)
    x1, y1, x2, y2 = x1 - margin_mm, y1 - margin_mm, x2 + margin_mm, y2 + margin_mm
    width, height = max(x2 - x1, 1.0), max(y2 - y1, 1.0)
    box = " ".join(_number(v) for v in (x1, -y1 - height, width, height))
    lines = [
        '<?xml version="1.0" encoding="UTF-8"?>',
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{_number(width)}mm" '
        f'height="{_number(height)}mm" viewBox="{box}">',
    ]
    for layer in dict.fromkeys(item.layer for item in items):
        lines.append(
            f'<g id={quoteattr(_xml_safe(layer))} fill="none" stroke="black" '
            f'stroke-width="{_SVG_STROKE_MM}">'
        )
        lines.extend(_svg_shape(item) for item in items if item.layer == layer)
        lines.append("</g>")
    lines.append("</svg>\n")
    return "\n".join(lines)


# --- shared -------------------------------------------------------------------------------


def _bounds(items: Sequence[DrawItem]) -> tuple[float, float, float, float]:
    """Bounds of everything but the length of texts; a unit square when there is nothing."""
    boxes: list[tuple[float, float, float, float]] = []
    for item in items:
        if isinstance(item, RingItem):
            boxes.append(item.ring.bounds)
        elif isinstance(item, PathItem):
            rows = item.vertices
            # Closing the path backwards along itself gives its bounds, arcs included.
            way_back = [
                (rows[i][0], rows[i][1], -rows[i - 1][2] if i else 0.0)
                for i in range(len(rows) - 1, 0, -1)
            ]
            boxes.append(Ring((*rows[:-1], *way_back)).bounds)
        else:
            r = item.radius_mm if isinstance(item, CircleItem) else 0.0
            x, y = item.at
            boxes.append((x - r, y - r, x + r, y + r))
    if not boxes:
        return 0.0, 0.0, 1.0, 1.0
    lows_x, lows_y, highs_x, highs_y = zip(*boxes, strict=True)
    return min(lows_x), min(lows_y), max(highs_x), max(highs_y)


def _deliver(target: str | os.PathLike[str] | IO[Any], data: bytes) -> None:
    """To a stream, or to a path by way of a neighbour file, so that a crash leaves the old one."""
    if not isinstance(target, str | os.PathLike):
        if isinstance(target, io.TextIOBase):
            target.write(data.decode("utf-8"))
        else:
            target.write(data)
        return
    path = Path(target)
    try:
        replace_file(path, data)
    except OSError as error:
        raise SaveFailedError(
            f"The drawing could not be written ({error.strerror or error})",
            str(path),
            "Check that the folder exists, is writable and has room.",
        ) from error
