"""An SVG's XML made safe and plain before its shapes are read.

The shape library draws symbols where they are defined, follows circular references for ever
and rounds the scale of the page, so the tree is put in order first: entities are checked,
symbols become definitions, references are counted, and the page's own scale is taken off and
kept as an exact number.
"""

from __future__ import annotations

import math
import re
import xml.etree.ElementTree as ET
from collections import Counter
from dataclasses import dataclass, field
from typing import Any

from core.errors import UnreadableDrawing
from core.findings import counted
from core.outlines.limits import MAX_SHAPES, MAX_XML_DEPTH, MAX_XML_ENTITY_BYTES
from core.outlines.roles import meaning_of

SVG_NS = "http://www.w3.org/2000/svg"
_HREFS = ("{http://www.w3.org/1999/xlink}href", "href")
#: The layer of a shape, kept on the element under this attribute.
LAYER = "panel-layer"

_LENGTH = re.compile(r"\s*([+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?)\s*([a-zA-Z%]*)\s*$")
# CSS absolute units in mm; "" and px are pixels of 1/96 in.
_PHYSICAL = {"mm": 1.0, "cm": 10.0, "in": 25.4, "pt": 25.4 / 72, "pc": 25.4 / 6, "q": 0.25}
_ENTITY = re.compile(rb"<!ENTITY\s+(%\s+)?([^\s>]+)\s+([^>]*)>", re.DOTALL)
_NO_DRAWING = ("clipPath", "mask", "marker", "pattern", "filter", "script", "metadata")


@dataclass
class PlainSvg:
    """A tree with the page's scale taken off.

    root: to be read with one user unit per pixel. unit_mm: millimetres per user unit, None if
    the file states no physical size. left, top: user-unit coordinates of the page's lower left
    corner (y counts down). notes: (code, sentence) pairs. skipped: kinds left out.
    """

    root: ET.Element
    unit: str | None
    unit_mm: float | None
    left: float
    bottom: float
    notes: list[tuple[str, str]] = field(default_factory=list)
    skipped: Counter[str] = field(default_factory=Counter)


def plain_svg(data: bytes, where: str) -> PlainSvg:
    """The tree of an SVG file, safe to read; raises UnreadableDrawing if there is none."""
    _check_entities(data, where)
    notes: list[tuple[str, str]] = []
    root = _parsed(data, where, notes)
    if _local(root) != "svg":
        raise UnreadableDrawing(
            f"The XML holds “{_local(root)}”, not a drawing", where, "Export it as SVG or DXF."
        )
    _check_depth(root, where)
    _name_space(root)
    plain = _without_page_scale(root)
    plain.notes = notes
    _drop_what_draws_nothing(plain)
    _mark_layers(root)
    _settle_references(plain, where)
    return plain


def _check_entities(data: bytes, where: str) -> None:
    """Refuse entities that reach out or unfold without bound."""
    if b"<!ENTITY" not in data:
        return
    unfolded = 0
    for parameter, name, rest in _ENTITY.findall(data):
        value = rest.strip()
        reaches = bool(re.match(rb"(SYSTEM|PUBLIC)\b", value))
        nested = re.search(rb"&(?!#)", value) is not None or b"&#38;" in value or b"&#x26;" in value
        if parameter or reaches or nested:
            raise UnreadableDrawing(
                "The file uses XML entities that reach into other files or each other",
                where,
                "Export it again as plain SVG.",
            )
        unfolded += len(value) * data.count(b"&" + name + b";")
    if unfolded > MAX_XML_ENTITY_BYTES:
        raise UnreadableDrawing(
            "The file's XML entities unfold to too much text", where, "Export it as plain SVG."
        )


def _parsed(data: bytes, where: str, notes: list[tuple[str, str]]) -> ET.Element:
    """The root element; of a file that breaks off, with what came before the break."""
    parser: Any = ET.XMLPullParser(events=("start",))
    root: ET.Element | None = None
    try:
        for start in range(0, len(data), 1 << 20):
            parser.feed(data[start : start + (1 << 20)])
            root = _first(parser, root)
        parser.close()
        root = _first(parser, root)
    except (ET.ParseError, ValueError, LookupError) as error:
        root = _first_quietly(parser, root)
        if root is None:
            raise UnreadableDrawing(
                f"The XML cannot be read ({error})", where, "Export it again as SVG or DXF."
            ) from error
        notes.append(
            ("ends-early", f"The XML breaks off ({error}); the shapes up to there were read.")
        )
    if root is None:
        raise UnreadableDrawing("The XML is empty", where, "Export it again as SVG or DXF.")
    return root


def _first(parser: Any, root: ET.Element | None) -> ET.Element | None:
    for event in parser.read_events():
        if root is None and isinstance(event[1], ET.Element):
            root = event[1]
    return root


def _first_quietly(parser: Any, root: ET.Element | None) -> ET.Element | None:
    try:
        return _first(parser, root)
    except (ET.ParseError, ValueError, LookupError):
        return root


def _check_depth(root: ET.Element, where: str) -> None:
    level, here = 0, [root]
    while here:
        level += 1
        if level > MAX_XML_DEPTH:
            raise UnreadableDrawing(
                "The drawing's groups are nested too deeply", where, "Ungroup them once or twice."
            )
        here = [child for element in here for child in element]


def _name_space(root: ET.Element) -> None:
    """Put elements into SVG's name space when the root forgot it or misspelt it."""
    tag = str(root.tag)
    own = tag[: tag.index("}") + 1] if tag.startswith("{") else ""
    right = f"{{{SVG_NS}}}"
    if own == right:
        return
    for element in root.iter():
        if (
            isinstance(element.tag, str)
            and element.tag.startswith(own or "")
            and (own or not element.tag.startswith("{"))
        ):
            element.tag = right + element.tag[len(own) :]


def _local(element: ET.Element) -> str:
    tag = element.tag
    return tag.rsplit("}", 1)[-1] if isinstance(tag, str) else ""


def _length(text: str | None) -> tuple[float, str] | None:
    """(number, unit in small letters) of an attribute, None if it is none."""
    match = _LENGTH.match(text or "")
    if not match:
        return None
    value = float(match.group(1))
    return (value, match.group(2).lower()) if math.isfinite(value) and value > 0 else None


def _without_page_scale(root: ET.Element) -> PlainSvg:
    """Take width, height and viewBox off the root and keep what they mean."""
    width, height = _length(root.get("width")), _length(root.get("height"))
    box = _view_box(root.get("viewBox"))
    unit: str | None = None
    unit_mm: float | None = None
    if box is None:
        # Without a viewBox a user unit is a CSS pixel, whatever the page measures.
        page_h = _in_pixels(height)
        page_w = _in_pixels(width)
        left, bottom = 0.0, page_h or 0.0
        if any(size and size[1] in _PHYSICAL for size in (width, height)):
            unit, unit_mm = "px", 25.4 / 96.0
        box = (0.0, 0.0, page_w or 1000.0, page_h or 1000.0)
    else:
        left, bottom = box[0], box[1] + box[3]
        scales = [
            size[0] * _PHYSICAL[size[1]] / extent
            for size, extent in ((width, box[2]), (height, box[3]))
            if size and size[1] in _PHYSICAL
        ]
        scales = [scale for scale in scales if 1e-9 <= scale <= 1e9]  # no page is else
        if scales:
            unit_mm = min(scales)  # "meet": the whole drawing fits into the page
            unit = _unit_of(unit_mm, next(s[1] for s in (width, height) if s and s[1] in _PHYSICAL))
            if root.get("preserveAspectRatio", "").strip().startswith("none") and len(scales) == 2:
                _squeeze(root, scales[0] / unit_mm, scales[1] / unit_mm)
                left, bottom = left * scales[0] / unit_mm, bottom * scales[1] / unit_mm
    for name in ("viewBox", "preserveAspectRatio", "x", "y", "transform"):
        root.attrib.pop(name, None)
    root.set("width", repr(box[2]))
    root.set("height", repr(box[3]))
    return PlainSvg(root, unit, unit_mm, left, bottom)


def _unit_of(unit_mm: float, written: str) -> str:
    """Name of the unit the numbers are in."""
    for name, mm in (("mm", 1.0), ("in", 25.4), ("cm", 10.0), ("px", 25.4 / 96), ("pt", 25.4 / 72)):
        if abs(unit_mm / mm - 1) < 1e-4:
            return name
    return written


def _squeeze(root: ET.Element, x_scale: float, y_scale: float) -> None:
    """Scale everything by two factors, for a page that is stretched."""
    group = ET.Element(f"{{{SVG_NS}}}g", {"transform": f"scale({x_scale!r},{y_scale!r})"})
    for child in list(root):
        if _local(child) not in ("defs", "style"):
            root.remove(child)
            group.append(child)
    root.append(group)


def _in_pixels(size: tuple[float, str] | None) -> float | None:
    if size is None or size[1] == "%":
        return None
    return size[0] * _PHYSICAL.get(size[1], 25.4 / 96) * 96 / 25.4


def _view_box(text: str | None) -> tuple[float, float, float, float] | None:
    parts = re.split(r"[\s,]+", (text or "").strip())
    try:
        values = [float(part) for part in parts]
    except ValueError:
        return None
    if len(values) != 4 or not all(map(math.isfinite, values)) or min(values[2:]) <= 0:
        return None
    return values[0], values[1], values[2], values[3]


def _drop_what_draws_nothing(plain: PlainSvg) -> None:
    """Clip paths, masks, patterns and the like out, each kind told by number."""
    clipped = 0
    for parent in list(plain.root.iter()):
        style = parent.get("style", "")
        if parent.get("clip-path") or "clip-path" in style or parent.get("mask"):
            clipped += 1
        for child in list(parent):
            kind = _local(child)
            if kind in _NO_DRAWING or not isinstance(child.tag, str):
                parent.remove(child)
            elif kind in ("image", "foreignObject"):
                parent.remove(child)
                plain.skipped[kind] += 1
    if clipped:
        plain.notes.append(
            (
                "clip-ignored",
                "Read as if not clipped: "
                f"{counted(clipped, 'shape or group', 'shapes or groups')}.",
            )
        )


def _mark_layers(root: ET.Element) -> None:
    """Write the layer's name on every shape: its group's label, else its group's id."""
    stack: list[tuple[ET.Element, str, bool, bool]] = [(root, "", False, False)]
    while stack:
        element, layer, labelled, defined = stack.pop()
        kind = _local(element)
        label = next((v for k, v in element.attrib.items() if k.endswith("}label")), "")
        if kind in ("g", "svg") and element is not root:
            if label:
                layer, labelled = label, True
            elif element.get("id") and not labelled:
                layer = element.get("id", "")
        elif label and meaning_of(label).known:
            layer, labelled = label, True
        defined = defined or kind in ("defs", "symbol")
        # What is only defined here takes the layer of the place where it is used.
        if layer and not defined:
            element.set(LAYER, layer)
        stack.extend((child, layer, labelled, defined) for child in element)


def _settle_references(plain: PlainSvg, where: str) -> None:
    """Symbols to definitions, circular references out, the unfolded number of shapes bounded."""
    root = plain.root
    by_id = {e.get("id", ""): e for e in root.iter() if e.get("id")}
    _define_symbols(root)
    state: dict[int, float] = {}

    def weight(element: ET.Element, open_ids: frozenset[int]) -> float:
        """Shapes an element unfolds to; circular references are removed on the way."""
        if id(element) in state:
            return state[id(element)]
        total = 1.0
        inside = open_ids | {id(element)}
        for child in list(element):
            if _local(child) == "use":
                target = by_id.get(_target(child))
                if target is None:
                    continue
                if id(target) in inside or len(inside) > 4 * MAX_XML_DEPTH:
                    element.remove(child)
                    plain.skipped["circular reference"] += 1
                    continue
                total += weight(target, inside)
            else:
                total += weight(child, inside)
        state[id(element)] = total
        return total

    if weight(root, frozenset()) > MAX_SHAPES:
        raise UnreadableDrawing(
            f"The drawing unfolds to more than {MAX_SHAPES:,} shapes".replace(",", " "),
            where,
            "Export only the panels to be cut.",
        )
    _place_symbols(root, by_id)


def _target(use: ET.Element) -> str:
    return next((use.get(h, "")[1:] for h in _HREFS if use.get(h, "").startswith("#")), "")


def _define_symbols(root: ET.Element) -> None:
    """Move symbols into definitions, so that they are drawn only where they are used."""
    for parent in list(root.iter()):
        if _local(parent) == "defs":
            continue
        for child in list(parent):
            if _local(child) == "symbol":
                where = list(parent).index(child)
                parent.remove(child)
                defs = ET.Element(f"{{{SVG_NS}}}defs")
                defs.append(child)
                parent.insert(where, defs)


def _place_symbols(root: ET.Element, by_id: dict[str, ET.Element]) -> None:
    """A symbol becomes a group; each use of it carries the symbol's own scale."""
    for use in list(root.iter()):
        target = by_id.get(_target(use)) if _local(use) == "use" else None
        if target is None or _local(target) != "symbol":
            continue
        box = _view_box(target.get("viewBox"))
        width, height = _length(use.get("width")), _length(use.get("height"))
        width = width or _length(target.get("width"))
        height = height or _length(target.get("height"))
        move = f"translate({_plain(use.get('x'))!r},{_plain(use.get('y'))!r})"
        if box and width and height:
            w, h = _in_pixels(width) or box[2], _in_pixels(height) or box[3]
            scale = min(w / box[2], h / box[3])
            # Centred in its frame, as SVG does unless told otherwise.
            dx = (w - box[2] * scale) / 2 - box[0] * scale
            dy = (h - box[3] * scale) / 2 - box[1] * scale
            move += f" translate({dx!r},{dy!r}) scale({scale!r})"
        use.set("transform", f"{use.get('transform', '')} {move}".strip())
        for name in ("x", "y", "width", "height"):
            use.attrib.pop(name, None)
    for element in root.iter():
        if _local(element) == "symbol":
            element.tag = f"{{{SVG_NS}}}g"
            for name in ("viewBox", "width", "height", "x", "y"):
                element.attrib.pop(name, None)


def _plain(text: str | None) -> float:
    match = _LENGTH.match(text or "")
    if not match:
        return 0.0
    value = float(match.group(1))
    unit = match.group(2).lower()
    return value * _PHYSICAL[unit] * 96 / 25.4 if unit in _PHYSICAL else value
