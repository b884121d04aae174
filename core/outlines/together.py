"""Several files read as one drawing: a panel's edges and pockets may be spread over them."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace

from core.geometry import Point
from core.outlines.strands import RawDrawing, RawPoint, RawText, Strand

OF_FILE = " · "  # parts a layer's name from the file it was joined from


def joined_layer(layer: str, file_name: str) -> str:
    """What a layer is called when its file is read together with another one."""
    return f"{layer}{OF_FILE}{file_name}"


def together(
    sources: Sequence[Callable[[float], RawDrawing]], names: Sequence[str], sagitta: float
) -> RawDrawing:
    """Several files as one drawing, in the unit of the first that declares one.

    sources: one for each file, strands by sagitta (drawing units). names: of the files; layers
    of all but the first are called by :func:`joined_layer`.
    """
    raws = [source(sagitta) for source in sources]
    units = [raw.unit_mm if raw.unit_mm and not raw.unit_is_pixel else None for raw in raws]
    base = next((unit for unit in units if unit), None)
    out = raws[0]
    if base and not units[0]:
        told = raws[units.index(base)]
        out.unit, out.unit_mm, out.unit_is_pixel = told.unit, told.unit_mm, False
    for i in range(1, len(raws)):
        raw, unit = raws[i], units[i]
        factor = unit / base if unit and base else 1.0
        if factor != 1.0 and raw.curved:
            raw = sources[i](sagitta / factor)
        _add(out, raw, factor, names[i])
    return out


def _add(out: RawDrawing, raw: RawDrawing, factor: float, name: str) -> None:
    """Put a file on top of those before it."""
    blocks = 1 + max((strand.source for strand in out.strands), default=0)
    strands, points, texts = in_mm(raw, factor, (0.0, 0.0))
    before = len(out.strands)
    out.strands += [
        replace(
            strand,
            layer=joined_layer(strand.layer, name),
            source=strand.source + blocks,
            order=strand.order + before,
        )
        for strand in strands
    ]
    out.points += [replace(point, layer=joined_layer(point.layer, name)) for point in points]
    out.texts += texts
    out.skipped.update(raw.skipped)
    out.notes += scaled_notes(raw, factor, (0.0, 0.0)).notes
    out.curved = out.curved or raw.curved


def in_mm(
    raw: RawDrawing, scale_mm: float, origin: Point
) -> tuple[list[Strand], list[RawPoint], list[RawText]]:
    """Everything scaled and moved; in that order, so that whole-mm origins stay exact."""
    ox, oy = origin

    def at(point: Point) -> Point:
        return point[0] * scale_mm - ox, point[1] * scale_mm - oy

    if scale_mm == 1.0 and origin == (0.0, 0.0):
        strands = raw.strands
    else:
        strands = [
            Strand(
                tuple((x * scale_mm - ox, y * scale_mm - oy, bulge) for x, y, bulge in s.rows),
                s.closed,
                s.layer,
                s.source,
                s.order,
                s.curve,
                s.chords,
            )
            for s in raw.strands
        ]
    points = [RawPoint(at(p.at), p.layer) for p in raw.points]
    texts = [RawText(at(t.at), t.text, t.height * scale_mm, t.layer) for t in raw.texts]
    return strands, points, texts


def scaled_notes(raw: RawDrawing, scale_mm: float, origin: Point) -> RawDrawing:
    """The raw drawing with its notes' places in mm."""
    notes = [
        note
        if note.at is None
        else replace(
            note, at=(note.at[0] * scale_mm - origin[0], note.at[1] * scale_mm - origin[1])
        )
        for note in raw.notes
    ]
    return replace(raw, notes=notes)
