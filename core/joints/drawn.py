"""A tooth read from a drawing, and what a maker asks of it before it is used."""

from __future__ import annotations

import itertools
import math
import os
from pathlib import Path

import shapely
from shapely.geometry import LineString

from core.errors import InvalidGeometryError
from core.geometry.path import flatten_path
from core.geometry.ring import Vertex
from core.joints.own import OwnProfile
from core.outlines.open_paths import read_open_paths
from core.shop import ToothDrawing

_SAME_MM = 0.05  # ends this near are one point: the line is closed


def read_tooth(path: str | os.PathLike[str], units: str | None = None) -> ToothDrawing:
    """The tooth drawn in a DXF or SVG file, in mm, named after the file.

    The longest line of the drawing that is a tooth is taken: an open line whose ends lie on the
    seam. Of a closed outline the longest straight side with all else on one side is the seam.
    The tooth is laid from (0, 0) along +x.

    Raises UnreadableDrawing, BadLengthError for an unknown unit, InvalidGeometryError if no
    line of the drawing is a tooth.
    """
    name = Path(path).stem or "tooth"
    problem: InvalidGeometryError | None = None
    for rows, closed in read_open_paths(path, units):
        try:
            opened = _opened(rows, closed, name)
            return ToothDrawing(name, tuple(OwnProfile(name, opened).upright()))
        except InvalidGeometryError as error:
            problem = problem or error
    assert problem is not None
    raise problem


def _opened(rows: tuple[Vertex, ...], closed: bool, name: str) -> tuple[Vertex, ...]:
    """The line without the side that lies along the seam, if it is closed."""
    ends_meet = math.dist(rows[0][:2], rows[-1][:2]) <= _SAME_MM
    if not closed and not ends_meet:
        return rows
    if ends_meet and len(rows) > 2:
        rows = rows[:-1]
    count = len(rows)
    ring = [*rows, rows[0]]
    points = shapely.points(flatten_path(tuple(ring), 0.05))
    best: tuple[float, int] | None = None
    for k, (a, b) in enumerate(itertools.pairwise(ring)):
        length = math.dist(a[:2], b[:2])
        if a[2] or length < 1.0:
            continue
        ux, uy = (b[0] - a[0]) / length, (b[1] - a[1]) / length
        coordinates = shapely.get_coordinates(points)
        sides = (coordinates[:, 0] - a[0]) * -uy + (coordinates[:, 1] - a[1]) * ux
        one_sided = sides.min() > -_SAME_MM or sides.max() < _SAME_MM
        if one_sided and (best is None or length > best[0]):
            best = (length, k)
    if best is None:
        raise InvalidGeometryError(
            "The tooth is closed and has no straight side to lie on the seam",
            f'tooth "{name}"',
            "Leave the side at the seam open.",
        )
    k = best[1]
    opened = [ring[(k + 1 + i) % count] for i in range(count)]
    x, y, _ = opened[-1]
    return (*opened[:-1], (x, y, 0.0))


def crosses_itself(drawing: ToothDrawing) -> bool:
    """True if the drawn line meets itself."""
    return not LineString(flatten_path(drawing.points, 0.05)).is_simple
