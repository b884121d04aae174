"""Hatches and clipped lines as true lines, for a picture that keeps lines as lines.

A picture in SVG knows neither clipping nor hatches at the screen's scale. While one is made,
painters ask :func:`wanted` and draw what lies within an outline line by line.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import contextmanager

import numpy as np
import shapely
from PySide6.QtCore import QPointF, Qt
from PySide6.QtGui import QColor, QPainter, QPainterPath, QPen
from shapely.geometry import LineString, Polygon
from shapely.geometry.base import BaseGeometry

from app.canvas.paths import line_path

#: Distance of a pattern's lines (level or upright) or dots, pixels, as its tile on screen.
PITCH_PX = {"dots": 9.0, "hatch": 9.0, "cross-hatch": 10.0, "scrap": 14.0}
_USUAL_PITCH_PX = 12.0
_DOT_PX = 1.1
_MOST_DOTS = 20_000

_on = False

Segment = tuple[tuple[float, float], tuple[float, float]]


def wanted() -> bool:
    """True while a picture is made that keeps lines as lines."""
    return _on


@contextmanager
def picture() -> Iterator[None]:
    """What is painted within goes into such a picture."""
    global _on
    before, _on = _on, True
    try:
        yield
    finally:
        _on = before


def shape_of(path: QPainterPath) -> BaseGeometry:
    """What a path fills by the odd-even rule, curves as short chords."""
    shape: BaseGeometry = Polygon()
    for points in _rows(path):
        if len(points) > 3:
            shape = shape.symmetric_difference(shapely.make_valid(Polygon(points)))
    return shape


def within(path: QPainterPath, lines: QPainterPath) -> QPainterPath:
    """What of some lines lies in a path's area."""
    shape = shape_of(path)
    out = QPainterPath()
    for points in _rows(lines):
        if len(points) > 1:
            _add(out, LineString(points).intersection(shape))
    return out


def _rows(path: QPainterPath) -> list[list[tuple[float, float]]]:
    """The corners of every part of a path, curves as short chords."""
    return [
        [(part.at(i).x(), part.at(i).y()) for i in range(part.size())]
        for part in path.toSubpathPolygons()
    ]


def hatch(painter: QPainter, path: QPainterPath, kind: str, color: QColor) -> None:
    """Fill a path with a hatch or dots, their distance as on screen at the painter's scale."""
    there = painter.worldTransform()
    back, possible = there.inverted()
    shape = shape_of(there.map(path))
    if not possible or shape.is_empty:
        return
    pitch = PITCH_PX.get(kind, _USUAL_PITCH_PX)
    painter.save()
    if kind == "dots":
        painter.setPen(Qt.PenStyle.NoPen)
        painter.setBrush(color)
        dots = QPainterPath()
        for x, y in _dots(shape, pitch):
            dots.addEllipse(QPointF(x, y), _DOT_PX, _DOT_PX)
        painter.drawPath(back.map(dots))
    else:
        lines = QPainterPath()
        for ends in _across(shape.bounds, kind, pitch):
            _add(lines, LineString(ends).intersection(shape))
        pen = QPen(color, 1)
        pen.setCosmetic(True)
        painter.setPen(pen)
        painter.setBrush(Qt.BrushStyle.NoBrush)
        painter.drawPath(back.map(lines))
    painter.restore()


def _across(bounds: Sequence[float], kind: str, pitch: float) -> Iterator[Segment]:
    """The lines of a pattern right across a box; y points down."""
    x1, y1, x2, y2 = bounds
    if kind == "level":
        for y in _steps(y1, y2, pitch):
            yield (x1, y), (x2, y)
    elif kind == "upright":
        for x in _steps(x1, x2, pitch):
            yield (x, y1), (x, y2)
    if kind in ("hatch", "scrap", "cross-hatch"):  # x + y is the same all along
        for c in _steps(x1 + y1, x2 + y2, pitch):
            yield (c - y1, y1), (c - y2, y2)
    if kind in ("back", "cross-hatch"):  # x − y is
        for c in _steps(x1 - y2, x2 - y1, pitch):
            yield (c + y1, y1), (c + y2, y2)


def _steps(low: float, high: float, pitch: float) -> list[float]:
    """Whole multiples of the pitch, so that patterns of neighbours go on in each other."""
    first = np.ceil(low / pitch)
    return [float(k * pitch) for k in np.arange(first, np.floor(high / pitch) + 1)]


def _dots(shape: BaseGeometry, pitch: float) -> list[tuple[float, float]]:
    x1, y1, x2, y2 = shape.bounds
    xs, ys = np.meshgrid(_steps(x1, x2, pitch), _steps(y1, y2, pitch))
    if xs.size > _MOST_DOTS:
        return []
    inside = shapely.contains_xy(shape, xs.ravel(), ys.ravel())
    return list(zip(xs.ravel()[inside].tolist(), ys.ravel()[inside].tolist(), strict=True))


def _add(out: QPainterPath, cut: BaseGeometry) -> None:
    for part in shapely.get_parts(cut):
        if part.geom_type == "LineString":
            out.addPath(line_path(shapely.get_coordinates(part).tolist()))
