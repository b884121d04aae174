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
from core.outlines.dxf_makers import MAKERS, is_level
from core.outlines.limits import MAX_BLOCK_DEPTH, MAX_COORDINATE, MAX_SHAPES
from core.outlines.strands import (
    RawDrawing,
    RawPoint,
    RawText,
    Strand,
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
        maker = MAKERS.get(kind)
        if maker is None:
            self.raw.skipped["annotation" if kind in _SILENT else kind] += 1
            return
        if kind == "POINT":
            at = dxf.location
            self._check(((at.x, at.y, 0.0),))
            self.raw.points.append(RawPoint((at.x, at.y), layer))
            return
        if not is_level(entity):
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


def _whole(value: Any) -> int:
    """A header value as a whole number, 0 when it is none."""
    try:
        return int(value)
    except (TypeError, ValueError):
        return 0
