"""What a drawing file is turned into before anything is understood: strands.

A *strand* is one drawn line, arc, polyline or curve as vertices with bulges, in drawing units,
x right and y up. DXF and SVG readers make strands; everything after them is the same for both.
"""

from __future__ import annotations

import math
from collections import Counter
from dataclasses import dataclass, field, replace
from itertools import pairwise

from core.geometry import Point, Vertex, arc_of


@dataclass(frozen=True, slots=True)
class Strand:
    """One drawn thing: vertices (x, y, bulge to the next).

    closed: the last vertex joins the first. curve: flattened from a spline or ellipse, so its
    inner vertices are no corners. source: 0 for the drawing itself, else the number of the
    block instance it came from. order: how early it stands in the file. chords: some of its
    straight edges are chords of a curve.
    """

    rows: tuple[Vertex, ...]
    closed: bool
    layer: str
    source: int = 0
    order: int = 0
    curve: bool = False
    chords: bool = False

    @property
    def start(self) -> Point:
        """First point."""
        return self.rows[0][0], self.rows[0][1]

    @property
    def end(self) -> Point:
        """Last point; of a closed strand the last vertex, not the first again."""
        return self.rows[-1][0], self.rows[-1][1]

    def length(self) -> float:
        """Length along the strand, arcs included."""
        total = 0.0
        rows = (*self.rows, self.rows[0]) if self.closed else self.rows
        for (x1, y1, bulge), (x2, y2, _) in pairwise(rows):
            total += edge_length((x1, y1), (x2, y2), bulge)
        return total

    def reversed(self) -> Strand:
        """The same open strand run the other way."""
        return replace(self, rows=reversed_rows(self.rows))


@dataclass(frozen=True, slots=True)
class RawText:
    """A text with the point it hangs on and its letter height, in drawing units."""

    at: Point
    text: str
    height: float
    layer: str = ""


@dataclass(frozen=True, slots=True)
class RawPoint:
    """A point entity, which may be a drill centre."""

    at: Point
    layer: str


@dataclass
class RawDrawing:
    """Everything a file reader found; filled while walking the file.

    unit: name of the declared unit or None. unit_mm: millimetres per drawing unit that the
    file declares, or None. skipped: kind of entity → how many were left out. notes: sentences
    of oddities, each with a code (code, message, place in drawing units or None).
    unit_is_pixel: an SVG whose size is given in pixels or not at all. curved: something was
    flattened, so that the scale matters to the vertices.
    """

    strands: list[Strand] = field(default_factory=list)
    texts: list[RawText] = field(default_factory=list)
    points: list[RawPoint] = field(default_factory=list)
    unit: str | None = None
    unit_mm: float | None = None
    unit_is_pixel: bool = False
    curved: bool = False
    skipped: Counter[str] = field(default_factory=Counter)
    notes: list[RawNote] = field(default_factory=list)

    def note(self, code: str, message: str, at: Point | None = None, *, warn: bool = False) -> None:
        """Keep an oddity to be told as a finding."""
        self.notes.append(RawNote(code, message, at, warn))


@dataclass(frozen=True, slots=True)
class RawNote:
    """An oddity met while walking the file."""

    code: str
    message: str
    at: Point | None = None
    warn: bool = False


def reversed_rows(rows: tuple[Vertex, ...]) -> tuple[Vertex, ...]:
    """An open run of vertices the other way round, bulges moved and turned with it."""
    last = len(rows) - 1
    return tuple(
        (rows[i][0], rows[i][1], -rows[i - 1][2] if i else 0.0) for i in range(last, -1, -1)
    )


def edge_length(start: Point, end: Point, bulge: float) -> float:
    """Length of one edge."""
    chord = math.hypot(end[0] - start[0], end[1] - start[1])
    if not bulge or not chord:
        return chord
    _, radius, _, sweep = arc_of(start, end, bulge)
    return radius * abs(sweep)


def arc_rows(
    cx: float, cy: float, radius: float, start_rad: float, sweep_rad: float
) -> tuple[Vertex, ...]:
    """Vertices of an arc, none of its edges turning more than half a circle.

    sweep_rad: signed, counter-clockwise positive, at most a full turn.
    """
    parts = 1 if abs(sweep_rad) <= math.pi + 1e-9 else 2
    bulge = math.tan(sweep_rad / parts / 4.0)
    rows: list[Vertex] = []
    for i in range(parts + 1):
        angle = start_rad + sweep_rad * i / parts
        x, y = cx + radius * math.cos(angle), cy + radius * math.sin(angle)
        rows.append((x, y, bulge if i < parts else 0.0))
    return tuple(rows)


def circle_rows(cx: float, cy: float, radius: float) -> tuple[Vertex, ...]:
    """Vertices of a full circle, counter-clockwise."""
    return ((cx - radius, cy, 1.0), (cx + radius, cy, 1.0))
