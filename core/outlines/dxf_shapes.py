"""A DXF document's model space to strands, texts and points.

Blocks are walked here rather than by the library's own explosion, because their children must
inherit layer "0", hidden layers must stay hidden, scale factors of zero must not divide, and
the number of shapes must stay bounded however blocks are nested.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable
from typing import Any

from core.errors import UnreadableDrawing
from core.findings import counted
from core.geometry import Vertex
from core.outlines.limits import MAX_BLOCK_DEPTH, MAX_COORDINATE, MAX_SHAPES
from core.outlines.strands import (
    RawDrawing,
    RawPoint,
    RawText,
    Strand,
    arc_rows,
    circle_rows,
)

# Header code of the drawing unit → (our name, exact millimetres).
# Source: DXF reference, $INSUNITS; factors from the definitions of the units.
DXF_UNITS: dict[int, tuple[str, float]] = {
    1: ("in", 25.4),
    2: ("ft", 304.8),
    3: ("mile", 1609344.0),
    4: ("mm", 1.0),
    5: ("cm", 10.0),
    6: ("m", 1000.0),
    7: ("km", 1e6),
    8: ("µin", 25.4e-6),
    9: ("thou", 0.0254),
    10: ("yd", 914.4),
    11: ("Å", 1e-7),
    12: ("nm", 1e-6),
    13: ("µm", 1e-3),
    14: ("dm", 100.0),
    15: ("dam", 1e4),
    16: ("hm", 1e5),
    17: ("Gm", 1e12),
    18: ("AU", 149597870700e3),
    19: ("ly", 9460730472580800e3),
    20: ("pc", 3.0856775814913673e19),
    21: ("ft-us", 1200.0 / 3937.0 * 1000.0),
}

# Kinds that carry no cutting line; told by number, not one by one.
_SILENT = {"DIMENSION", "LEADER", "MULTILEADER", "MLEADER", "VIEWPORT", "ATTDEF", "TOLERANCE"}
_FLAT = math.cos(math.radians(0.1))  # a plane this close to level is level


def dxf_strands(
    doc: Any, *, sagitta: float, where: str, tick: Callable[[], None] = lambda: None
) -> RawDrawing:
    """Everything drawn in the model space.

    sagitta: greatest distance of flattened ellipses and splines from the curve, drawing units.
    tick: called now and then; may raise to stop. Raises UnreadableDrawing when blocks nest
    into more shapes than MAX_SHAPES.
    """
    walk = _Walk(doc, sagitta, where, tick)
    try:
        walk.run()
    except (UnreadableDrawing, RecursionError):
        raise
    except Exception as error:  # the document as a whole lacks something every one must have
        raise UnreadableDrawing(
            "The DXF is too damaged to be read", where, "Export it again, as DXF R12 to R2018."
        ) from error
    return walk.raw


def _too_many(where: str) -> UnreadableDrawing:
    return UnreadableDrawing(
        f"The drawing holds more than {MAX_SHAPES:,} shapes".replace(",", " "),
        where,
        "Export only the panels to be cut.",
    )


class _Walk:
    """One pass over a document."""

    def __init__(self, doc: Any, sagitta: float, where: str, tick: Callable[[], None]) -> None:
        self.doc = doc
        self.sagitta = sagitta
        self.where = where
        self.tick = tick
        self.raw = RawDrawing()
        self.count = 0
        self.sources = 0
        self.broken = 0
        self.clipped = 0
        self.hidden_layers: set[str] = set()

    def _check_unfolded(self) -> None:
        """Refuse blocks in blocks that would unfold to too many shapes, before unfolding any."""
        weights: dict[str, int] = {}

        def weight(name: str, depth: int) -> int:
            key = name.lower()
            if key in weights:
                return weights[key]
            block = self.doc.blocks.get(name)
            if block is None or depth > MAX_BLOCK_DEPTH:
                return 0
            weights[key] = 0  # a block inside itself adds nothing, it is left out later
            weights[key] = unfolded(block, depth)
            return weights[key]

        def unfolded(entities: Iterable[Any], depth: int) -> int:
            total = 0
            for entity in entities:
                total += 1
                if entity.dxftype() == "INSERT":
                    dxf = entity.dxf
                    copies = dxf.get("row_count", 1) * dxf.get("column_count", 1)
                    total += max(copies, 1) * max(weight(str(dxf.get("name", "")), depth + 1), 1)
            return total

        total = unfolded(self.doc.modelspace(), 0)
        if total > MAX_SHAPES:
            raise _too_many(self.where)

    def run(self) -> None:
        for layer in self.doc.layers:
            if layer.is_off() or layer.is_frozen():
                self.hidden_layers.add(str(layer.dxf.get("name", "")).lower())
        self._check_unfolded()
        code = _whole(self.doc.header.get("$INSUNITS", 0))
        if code in DXF_UNITS:
            self.raw.unit, self.raw.unit_mm = DXF_UNITS[code]
        self._entities(self.doc.modelspace(), "0", 0, 0)
        paper = self._on_paper()
        if paper:
            self.raw.note("paper-space", f"Left out: {counted(paper, 'shape')} on paper space.")
        if self.clipped:
            self.raw.note(
                "clip-ignored", f"Read as if not clipped: {counted(self.clipped, 'block')}."
            )
        if self.broken:
            self.raw.note(
                "shape-broken",
                f"Left out: {counted(self.broken, 'shape')} with values that make no sense.",
                warn=True,
            )

    def _on_paper(self) -> int:
        """Shapes on paper space layouts, 0 if the layouts are damaged."""
        try:
            return sum(
                1
                for layout in self.doc.layouts
                if layout.name.lower() != "model"
                for entity in layout
                if entity.dxftype() != "VIEWPORT"
            )
        except Exception:  # a damaged layout table costs only this note
            return 0

    def _entities(self, entities: Iterable[Any], layer: str, source: int, depth: int) -> None:
        for entity in entities:
            self._count_one()
            try:
                self._entity(entity, layer, source, depth)
            except UnreadableDrawing:
                raise
            except Exception:  # one broken entity must not cost the maker all the others
                self.broken += 1

    def _count_one(self) -> None:
        """One more shape or block copy; now and then a look at the clock and the bound."""
        self.count += 1
        if self.count > MAX_SHAPES:
            raise _too_many(self.where)
        if self.count % 500 == 0:
            self.tick()

    def _entity(self, entity: Any, parent_layer: str, source: int, depth: int) -> None:
        kind = entity.dxftype()
        dxf = entity.dxf
        layer = str(dxf.get("layer", "0"))
        if layer == "0":
            layer = parent_layer
        if layer.lower() in self.hidden_layers or dxf.get("invisible", 0):
            self.raw.skipped["hidden"] += 1
            return
        if kind == "INSERT":
            self._insert(entity, layer, depth)
            return
        if kind in ("TEXT", "MTEXT", "ATTRIB"):
            self._text(entity, kind, layer)
            return
        maker = _MAKERS.get(kind)
        if maker is None:
            self.raw.skipped["annotation" if kind in _SILENT else kind] += 1
            return
        if kind == "POINT":
            at = dxf.location
            self._check(((at.x, at.y, 0.0),))
            self.raw.points.append(RawPoint((at.x, at.y), layer))
            return
        if not _level(entity):
            self._tilted(entity, layer, source)
            return
        made = maker(entity, self.sagitta)
        if made is None:
            self.raw.skipped["shape of no size"] += 1
            return
        rows, closed, curve = made
        self._add(rows, closed, curve, layer, source)

    def _add(
        self, rows: tuple[Vertex, ...], closed: bool, curve: bool, layer: str, source: int
    ) -> None:
        self._check(rows)
        self.raw.curved = self.raw.curved or curve
        self.raw.strands.append(Strand(rows, closed, layer, source, len(self.raw.strands), curve))

    @staticmethod
    def _check(rows: tuple[Vertex, ...]) -> None:
        for x, y, bulge in rows:
            # A sum is finite only if all three are; bounded so that squares stay finite too.
            if not math.isfinite(x + y + bulge) or max(abs(x), abs(y)) > MAX_COORDINATE:
                raise ValueError("not a finite number")

    def _insert(self, insert: Any, layer: str, depth: int) -> None:
        if depth >= MAX_BLOCK_DEPTH:
            self.raw.skipped["block nested too deeply"] += 1
            return
        for attrib in insert.attribs:
            self._text(attrib, "ATTRIB", layer)
        dxf = insert.dxf
        if not dxf.get("xscale", 1.0) or not dxf.get("yscale", 1.0):
            self.raw.skipped["block of zero size"] += 1
            return
        if _clipped(insert):
            self.clipped += 1
        if not dxf.get("zscale", 1.0):
            dxf.zscale = 1.0  # flat drawings need no height, and zero cannot be divided by
        rows, columns = dxf.get("row_count", 1), dxf.get("column_count", 1)
        if rows * columns > 1:
            copies: Iterable[Any] = insert.multi_insert()
        else:
            copies = (insert,)
        for copy in copies:
            self.sources += 1
            source = self.sources
            self._count_one()
            self._entities(
                copy.virtual_entities(skipped_entity_callback=self._refused),
                layer,
                source,
                depth + 1,
            )

    def _refused(self, entity: Any, reason: str) -> None:
        self.raw.skipped[entity.dxftype()] += 1

    def _text(self, entity: Any, kind: str, layer: str) -> None:
        if kind == "MTEXT":
            text, height = entity.plain_text(), entity.dxf.get("char_height", 1.0)
            at = entity.dxf.insert
        else:
            text, height = entity.plain_text(), entity.dxf.get("height", 1.0)
            halign, valign = entity.dxf.get("halign", 0), entity.dxf.get("valign", 0)
            at = entity.dxf.insert
            if (halign or valign) and entity.dxf.hasattr("align_point"):
                at = entity.dxf.align_point
            at = entity.ocs().to_wcs(at)
        if str(text).strip() and math.isfinite(at.x + at.y + height):
            self.raw.texts.append(RawText((at.x, at.y), str(text), float(height), layer))

    def _tilted(self, entity: Any, layer: str, source: int) -> None:
        """A shape in a plane that is not level: its shadow on the drawing, flattened."""
        from ezdxf import path

        made = path.make_path(entity)
        size = max(made.control_vertices()[0].magnitude, 1.0)
        points = [(v.x, v.y, 0.0) for v in made.flattening(max(self.sagitta, size * 1e-6))]
        closed = made.is_closed
        if closed and len(points) > 2:
            points.pop()
        if len(points) < 2:
            self.raw.skipped["shape of no size"] += 1
            return
        self.raw.note(
            "not-level",
            f"A shape on layer {layer} lies in a tilted plane; its view from above was taken.",
            points[0][:2],
            warn=True,
        )
        self._add(tuple(points), closed, True, layer, source)


def _clipped(insert: Any) -> bool:
    """True if a block shows through a clipping frame only."""
    if not insert.has_extension_dict:
        return False
    from ezdxf.xclip import XClip

    try:
        return bool(XClip(insert).has_clipping_path)
    except Exception:  # a damaged dictionary clips nothing
        return False


# --- one maker for every kind of entity: (rows, closed, curve) or None if nothing is left ---

_Made = tuple[tuple[Vertex, ...], bool, bool] | None


def _level(entity: Any) -> bool:
    """True if the entity lies level, upright or face down; face down ones are turned over."""
    if entity.dxftype() in ("LINE", "SPLINE", "HELIX") or not entity.dxf.hasattr("extrusion"):
        return True
    normal = entity.dxf.extrusion
    length = normal.magnitude
    if not length:
        return True
    if normal.z / length <= -_FLAT:
        from ezdxf.upright import upright

        entity.dxf.extrusion = (0, 0, -1)
        upright(entity)
        return True
    return bool(normal.z / length >= _FLAT)


def _line(entity: Any, sagitta: float) -> _Made:
    start, end = entity.dxf.start, entity.dxf.end
    return ((start.x, start.y, 0.0), (end.x, end.y, 0.0)), False, False


def _circle(entity: Any, sagitta: float) -> _Made:
    centre, radius = entity.dxf.center, abs(entity.dxf.radius)
    return (circle_rows(centre.x, centre.y, radius), True, False) if radius else None


def _arc(entity: Any, sagitta: float) -> _Made:
    centre, radius = entity.dxf.center, abs(entity.dxf.radius)
    if not radius:
        return None
    if max(radius, abs(centre.x), abs(centre.y)) > MAX_COORDINATE:
        raise ValueError("its ends cannot be told from its centre")
    start = math.radians(math.fmod(entity.dxf.start_angle, 360.0))
    sweep = math.fmod(math.radians(entity.dxf.end_angle) - start, math.tau)
    if sweep <= 1e-12:
        sweep += math.tau
    if math.tau - sweep < 1e-9:
        return circle_rows(centre.x, centre.y, radius), True, False
    return arc_rows(centre.x, centre.y, radius, start, sweep), False, False


def _ellipse(entity: Any, sagitta: float) -> _Made:
    dxf = entity.dxf
    centre, major = dxf.center, dxf.major_axis
    radius, ratio = math.hypot(major.x, major.y), abs(dxf.ratio)
    if not radius or not ratio:
        return None
    sweep = dxf.end_param - dxf.start_param
    whole = abs(abs(sweep) - math.tau) < 1e-9 or not math.fmod(sweep, math.tau)
    if abs(ratio - 1.0) < 1e-9:
        if whole:
            return circle_rows(centre.x, centre.y, radius), True, False
        start = math.fmod(dxf.start_param + math.atan2(major.y, major.x), math.tau)
        turn = math.fmod(sweep, math.tau)
        return arc_rows(centre.x, centre.y, radius, start, turn % math.tau), False, False
    rows = _flat_rows(entity.flattening(max(sagitta, radius * 1e-6)))
    if whole and len(rows) > 2:
        return rows[:-1], True, True
    return (rows, False, True) if len(rows) > 1 else None


def _spline(entity: Any, sagitta: float) -> _Made:
    points = entity.control_points if len(entity.control_points) else entity.fit_points
    if len(points) < 2 or len(points) > 50_000:
        return None
    xs, ys = [float(p[0]) for p in points], [float(p[1]) for p in points]
    # A maximum may pass over what is no number, and such a curve is never flat enough.
    reach = max(abs(v) for v in (*xs, *ys))
    if not all(math.isfinite(v) for p in points for v in p) or reach > MAX_COORDINATE:
        raise ValueError("not a finite number")
    size = math.hypot(max(xs) - min(xs), max(ys) - min(ys))
    if not size:
        return None
    curve = _clamped(entity.construction_tool())
    rows = _flat_rows(curve.flattening(max(sagitta, size * 1e-6, reach * 1e-12)))
    if len(rows) < 2:
        return None
    # A spline that ends where it began is a closed line even if its flag does not say so.
    gap = math.hypot(rows[0][0] - rows[-1][0], rows[0][1] - rows[-1][1])
    if len(rows) > 3 and gap <= 1e-9 * size:
        return rows[:-1], True, True
    return rows, False, True


def _clamped(curve: Any) -> Any:
    """The same B-spline with its first and last knots repeated, so that it begins and ends there.

    A closed spline is often written with evenly running knots. It is drawn between the knots
    after the degree and before it only; beyond them the library would follow its polynomial far
    away. Knots are put in until the ends stand apart (Boehm's knot insertion, by the library).
    """
    from ezdxf.math import BSpline

    degree, knots = curve.degree, list(curve.knots())
    if curve.is_clamped or len(knots) < 2 * degree + 2:
        return curve
    first, last = knots[degree], knots[-degree - 1]
    if not first < last:
        return curve
    for knot in (first, last):
        for _ in range(degree - sum(1 for k in knots if k == knot)):
            curve = curve.insert_knot(knot)
    knots = list(curve.knots())
    start, end = knots.index(first), len(knots) - knots[::-1].index(last) - degree
    inner = knots[start + degree : end]
    ends = [first] * (degree + 1), [last] * (degree + 1)
    weights = list(curve.weights())
    return BSpline(
        curve.control_points[start - 1 : end],
        order=degree + 1,
        knots=[k - first for k in (*ends[0], *inner, *ends[1])],
        weights=weights[start - 1 : end] or None,
    )


def _lwpolyline(entity: Any, sagitta: float) -> _Made:
    rows = tuple((x, y, b) for x, y, b in entity.get_points("xyb"))
    return _polyline_rows(rows, bool(entity.closed))


def _polyline(entity: Any, sagitta: float) -> _Made:
    if entity.is_poly_face_mesh or entity.is_polygon_mesh:
        return None
    # Control points of a smoothed polyline (flag 16) are not on the line itself.
    rows = tuple(
        (v.dxf.location.x, v.dxf.location.y, v.dxf.get("bulge", 0.0))
        for v in entity.vertices
        if not v.dxf.get("flags", 0) & 16
    )
    return _polyline_rows(rows, bool(entity.is_closed))


def _polyline_rows(rows: tuple[Vertex, ...], closed: bool) -> _Made:
    """Repeated points out; one that ends on its first point is closed."""
    kept: list[Vertex] = []
    for x, y, bulge in rows:
        if abs(bulge) > 1e6:  # a turn so close to full that the arc has no end
            bulge = 0.0
        if kept and kept[-1][0] == x and kept[-1][1] == y:
            kept[-1] = (x, y, bulge)
        else:
            kept.append((x, y, bulge))
    if len(kept) > 2 and kept[0][:2] == kept[-1][:2]:
        closed = True
        kept.pop()
    if len(kept) < 2 or (closed and len(kept) == 2 and not any(row[2] for row in kept)):
        return (tuple(kept), False, False) if len(kept) == 2 else None
    return tuple(kept), closed, False


def _flat_rows(points: Iterable[Any]) -> tuple[Vertex, ...]:
    """Points of a flattened curve as rows, repeats out."""
    rows: list[Vertex] = []
    for point in points:
        x, y = float(point.x), float(point.y)
        if not rows or rows[-1][0] != x or rows[-1][1] != y:
            rows.append((x, y, 0.0))
    return tuple(rows)


def _point(entity: Any, sagitta: float) -> _Made:
    return None  # points are no strands; the walk takes them itself


def _whole(value: Any) -> int:
    """A header value as a whole number, 0 when it is none."""
    try:
        return int(value)
    except (TypeError, ValueError):
        return 0


_MAKERS: dict[str, Callable[[Any, float], _Made]] = {
    "LINE": _line,
    "CIRCLE": _circle,
    "ARC": _arc,
    "ELLIPSE": _ellipse,
    "SPLINE": _spline,
    "HELIX": _spline,
    "LWPOLYLINE": _lwpolyline,
    "POLYLINE": _polyline,
    "POINT": _point,
}
