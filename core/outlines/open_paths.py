"""Open lines of a drawing joined end to end: for shapes that are no panel, such as a tooth."""

from __future__ import annotations

import os
from pathlib import Path

from core.errors import UnreadableDrawing
from core.geometry import Vertex
from core.outlines.loops import open_chains
from core.outlines.reading import first_guess, read_strands
from core.outlines.strands import Strand
from core.outlines.taken_unit import TakenUnit, unit_given
from core.tolerances import FLATTEN_SAGITTA_MM


def read_open_paths(
    path: str | os.PathLike[str], units: str | None = None
) -> tuple[tuple[tuple[Vertex, ...], bool], ...]:
    """Every line of a DXF or SVG drawing as (vertices with bulges in mm, closed), longest first.

    Loose lines and arcs that meet end to end are one. units: the unit the numbers are in, None
    as the file declares (an SVG without one: CSS pixels), else mm.
    Raises UnreadableDrawing if there is no line, BadLengthError for an unknown unit.
    """
    given = unit_given(units) if units is not None else None
    source = read_strands(Path(path))
    raw = source(FLATTEN_SAGITTA_MM)
    if not raw.strands:
        raise UnreadableDrawing(
            "There is no line in the drawing", str(path), "Draw the tooth as one open line."
        )
    taken = given
    if taken is None and raw.unit_mm is not None:
        taken = TakenUnit(raw.unit or "mm", raw.unit_mm, "declared")
    if taken is None:
        taken = first_guess(raw)
    if raw.curved and taken.mm != 1.0:
        raw = source(FLATTEN_SAGITTA_MM / taken.mm)
    scaled = [
        Strand(
            tuple((x * taken.mm, y * taken.mm, b) for x, y, b in s.rows),
            s.closed,
            s.layer,
            s.source,
            s.order,
            s.curve,
        )
        for s in raw.strands
    ]
    found = [s for s in scaled if s.closed]
    found += open_chains([s for s in scaled if not s.closed])
    found.sort(key=lambda s: -s.length())
    return tuple((s.rows, s.closed) for s in found)
