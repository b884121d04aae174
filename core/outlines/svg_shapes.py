"""An SVG's shapes to strands: true arcs where a circle was drawn, y turned up."""

from __future__ import annotations

import io
import math
import xml.etree.ElementTree as ET
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import shapely

from core.errors import UnreadableDrawing
from core.findings import counted
from core.geometry import Ring, Vertex
from core.outlines.limits import MAX_COORDINATE
from core.outlines.loops import signed_area
from core.outlines.strands import RawDrawing, RawText, Strand
from core.outlines.svg_tree import LAYER, PlainSvg, plain_svg

_HIDDEN = ("hidden", "collapse")


@dataclass
class LoadedSvg:
    """A parsed SVG: its elements flatten to strands as often as asked."""

    plain: PlainSvg
    elements: list[Any]
    broken: int

    @property
    def notes(self) -> list[tuple[str, str]]:
        """Oddities of the file."""
        return self.plain.notes

    def strands(self, sagitta: float, tick: Callable[[], None]) -> RawDrawing:
        """Everything drawn, in user units with y up from the page's lower edge."""
        raw = RawDrawing(unit=self.plain.unit, unit_mm=self.plain.unit_mm)
        raw.unit_is_pixel = self.plain.unit_mm is None or self.plain.unit == "px"
        raw.skipped.update(self.plain.skipped)
        broken = self.broken
        for number, element in enumerate(self.elements):
            if number % 200 == 0:
                tick()
            try:
                _element(element, raw, self.plain, sagitta)
            except Exception:  # one broken element must not cost the maker all the others
                broken += 1
        if broken:
            raw.note(
                "shape-broken",
                f"Left out: {counted(broken, 'shape')} with values that make no sense.",
                warn=True,
            )
        return raw


def load_svg(data: bytes, where: str) -> LoadedSvg:
    """Parse an SVG; raises UnreadableDrawing when it is none."""
    from svgelements import SVG

    plain = plain_svg(data, where)
    broken = 0
    try:
        parsed = SVG.parse(_stream(plain.root), reify=True, ppi=96)
    except RecursionError:
        raise
    except Exception:  # the parser raises whatever a bad attribute makes it raise
        broken = _drop_bad_shapes(plain.root)
        try:
            parsed = SVG.parse(_stream(plain.root), reify=True, ppi=96)
        except Exception as error:
            raise UnreadableDrawing(
                "The shapes in this SVG cannot be read", where, "Export it again as SVG or DXF."
            ) from error
    if not hasattr(parsed, "elements"):
        raise UnreadableDrawing(
            "The XML holds no SVG drawing", where, "Export it again as SVG or DXF."
        )
    return LoadedSvg(plain, list(parsed.elements()), broken)


def _stream(root: ET.Element) -> io.BytesIO:
    return io.BytesIO(ET.tostring(root, encoding="utf-8"))


def _drop_bad_shapes(root: ET.Element) -> int:
    """Take out every shape that does not parse on its own; how many."""
    from svgelements import SVG

    gone = 0
    for parent in list(root.iter()):
        for child in list(parent):
            if len(child) or not isinstance(child.tag, str):
                continue
            alone = ET.Element(root.tag, {"width": "1000", "height": "1000"})
            alone.append(child)
            try:
                SVG.parse(_stream(alone), reify=True, ppi=96)
            except Exception:  # what makes the whole file fail must go, whatever it is
                parent.remove(child)
                gone += 1
    return gone


def _element(element: Any, raw: RawDrawing, plain: PlainSvg, sagitta: float) -> None:
    from svgelements import Path, Shape, Text

    values = element.values if isinstance(getattr(element, "values", None), dict) else {}
    if values.get("visibility") in _HIDDEN:
        raw.skipped["hidden"] += isinstance(element, Shape | Text)
        return
    layer = str(values.get(LAYER) or "0")
    if isinstance(element, Text):
        _text(element, raw, plain, layer)
        return
    if not isinstance(element, Shape):
        return
    path = abs(Path(element))
    made: list[Strand] = []
    for subpath in path.as_subpaths():
        segments = list(Path(subpath))
        chords = any(_is_flattened(segment) for segment in segments)
        raw.curved = raw.curved or chords
        rows, closed = _rows(segments, plain, sagitta)
        if len(rows) < 2:
            continue
        for x, y, bulge in rows:
            if not math.isfinite(x + y + bulge) or max(abs(x), abs(y)) > MAX_COORDINATE:
                raise ValueError("not a finite number")
        order = len(raw.strands) + len(made)
        made.append(Strand(rows, closed, layer, 0, order, chords=chords))
    if _is_filled_only(element) and str(values.get("fill-rule", "nonzero")) != "evenodd":
        made = _seen_when_filled(made, raw)
    raw.strands += made


def _rows(segments: list[Any], plain: PlainSvg, sagitta: float) -> tuple[tuple[Vertex, ...], bool]:
    """Vertices of one subpath and whether it is closed; y turned up."""
    from ezdxf.math import Bezier3P, Bezier4P, Vec2
    from svgelements import Arc, Close, CubicBezier, Line, Move, QuadraticBezier

    rows: list[Vertex] = []
    closed = False

    def up(point: Any) -> tuple[float, float]:
        return float(point.x) - plain.left, plain.bottom - float(point.y)

    def go_on(points: list[tuple[float, float]], bulge: float = 0.0) -> None:
        for x, y in points:
            if rows and rows[-1][:2] == (x, y):
                continue
            if rows:
                rows[-1] = (rows[-1][0], rows[-1][1], bulge)
            rows.append((x, y, 0.0))

    for segment in segments:
        if isinstance(segment, Close):
            closed = True
            continue
        if segment.end is None:
            continue
        if isinstance(segment, Move):
            go_on([up(segment.end)])
            continue
        if not rows and segment.start is not None:
            go_on([up(segment.start)])
        end = up(segment.end)
        if isinstance(segment, Line):
            go_on([end])
        elif isinstance(segment, Arc):
            _arc(segment, up, go_on, sagitta)
        elif isinstance(segment, CubicBezier | QuadraticBezier):
            controls = [segment.start, segment.end]
            controls[1:1] = (
                [segment.control1, segment.control2]
                if isinstance(segment, CubicBezier)
                else [segment.control]
            )
            points = [Vec2(up(p)) for p in controls]
            # A maximum may pass over what is no number, and such a curve is never flat enough.
            reach = max(abs(p.x) + abs(p.y) for p in points)
            if not all(math.isfinite(p.x + p.y) for p in points) or reach > MAX_COORDINATE:
                raise ValueError("not a finite number")
            size = max(points[0].distance(p) for p in points)
            kind = Bezier4P if len(points) == 4 else Bezier3P
            finest = max(sagitta, size * 1e-6, reach * 1e-12)
            flat = kind(points).flattening(finest, segments=2)
            go_on([(p.x, p.y) for p in flat])
    if len(rows) > 2 and math.dist(rows[0][:2], rows[-1][:2]) <= 1e-9 * (1 + abs(rows[0][0])):
        closed = True
        rows.pop()
    if closed and len(rows) == 2 and not (rows[0][2] or rows[1][2]):
        closed = False
    return tuple(rows), closed


def _is_flattened(segment: Any) -> bool:
    """True for what has no true arc: Béziers and stretched arcs."""
    from svgelements import Arc, CubicBezier, QuadraticBezier

    if isinstance(segment, Arc):
        return not abs(float(segment.rx) - float(segment.ry)) <= 1e-6 * float(segment.rx)
    return isinstance(segment, CubicBezier | QuadraticBezier)


def _arc(
    arc: Any,
    up: Callable[[Any], tuple[float, float]],
    go_on: Callable[..., None],
    sagitta: float,
) -> None:
    """One SVG arc: true arcs when it is circular, else chords."""
    sweep, rx, ry = float(arc.sweep), float(arc.rx), float(arc.ry)
    if not (math.isfinite(sweep) and math.isfinite(rx) and math.isfinite(ry)) or not rx * ry:
        go_on([up(arc.end)])
        return
    if abs(rx - ry) <= 1e-6 * max(rx, ry):
        parts = 1 if abs(sweep) <= math.pi * (1 + 1e-9) else 2
        # Turning y over turns the sense of the arc over.
        bulge = -math.tan(sweep / parts / 4)
        if parts == 2:
            go_on([up(arc.point(0.5))], bulge)
        go_on([up(arc.end)], bulge)
        return
    radius = max(abs(rx), abs(ry))
    step = 2 * math.acos(max(-1.0, 1 - max(sagitta, radius * 1e-6) / radius))
    count = min(max(2, math.ceil(abs(sweep) / step)), 10_000)
    go_on([up(arc.point(k / count)) for k in range(1, count)])
    go_on([up(arc.end)])


def _text(element: Any, raw: RawDrawing, plain: PlainSvg, layer: str) -> None:
    from svgelements import Matrix, Point

    if not element.text:
        return
    at = Point(element.x, element.y) * Matrix(element.transform)
    x, y = float(at.x) - plain.left, plain.bottom - float(at.y)
    height = float(element.font_size or 12)
    if math.isfinite(x + y + height):
        raw.texts.append(RawText((x, y), str(element.text), height, layer))


def _is_filled_only(element: Any) -> bool:
    """True if the shape shows by its filling alone."""

    def shows(paint: Any) -> bool:
        return paint is not None and getattr(paint, "value", None) is not None

    return shows(element.fill) and not shows(element.stroke)


def _seen_when_filled(strands: list[Strand], raw: RawDrawing) -> list[Strand]:
    """Only the lines of a filled path that bound its filling under the nonzero rule."""
    closed = [s for s in strands if s.closed and len(s.rows) > 1]
    if len(closed) < 2 or len(closed) > 2000:
        return strands
    shapes = [shapely.Polygon(Ring(s.rows).flattened()) for s in closed]
    if not all(shape.is_valid for shape in shapes):
        return strands
    turns = [1 if signed_area(s.rows) > 0 else -1 for s in closed]
    hidden = []
    for i, shape in enumerate(shapes):
        around = sum(turns[k] for k, other in enumerate(shapes) if k != i and other.contains(shape))
        if around and around + turns[i]:
            hidden.append(closed[i])
    if hidden:
        raw.note(
            "inner-line-hidden",
            f"Left out: {counted(len(hidden), 'line')} inside a filled shape, no hole's edge.",
        )
    return [s for s in strands if s not in hidden]
