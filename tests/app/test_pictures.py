"""Pictures of views: what is clipped or hatched on screen is true lines in an SVG."""

from __future__ import annotations

import re
from itertools import pairwise
from pathlib import Path
from xml.etree import ElementTree

import pytest
from PySide6.QtCore import QPointF, QRectF, QSize
from PySide6.QtGui import QColor, QPainter, QPainterPath
from PySide6.QtWidgets import QWidget
from shapely.geometry import LineString, Point, box

from app.canvas import as_lines, items
from app.pictures import picture_of


def ring_with_hole() -> QPainterPath:
    path = QPainterPath()
    path.addRect(QRectF(10, 10, 100, 60))
    path.addEllipse(QPointF(60, 40), 20, 20)
    return path


def segments(path: QPainterPath) -> list[LineString]:
    return [LineString(row) for row in as_lines._rows(path)]


def test_lines_end_at_the_outline_and_at_its_hole(qapp) -> None:
    lines = QPainterPath()
    for y in (5.0, 40.0, 69.0):
        lines.moveTo(0, y)
        lines.lineTo(200, y)
    found = segments(as_lines.within(ring_with_hole(), lines))
    assert sorted(round(line.length) for line in found) == [30, 30, 100]
    board = box(10, 10, 110, 70).difference(Point(60, 40).buffer(19.5))
    assert all(board.buffer(0.01).covers(line) for line in found)


class Hatched(QWidget):
    """A widget that paints one hatch, scaled as a canvas is."""

    def __init__(self, kind: str) -> None:
        super().__init__()
        self._kind = kind
        self.resize(QSize(120, 80))

    def paintEvent(self, event) -> None:
        painter = QPainter(self)
        painter.scale(0.5, 0.5)
        path = QPainterPath()
        path.addRect(QRectF(20, 20, 180, 100))
        items.paint_hatch(painter, path, self._kind, QColor("#204060"))
        painter.end()


@pytest.mark.parametrize("kind", ["hatch", "cross-hatch", "scrap", "back", "level", "upright"])
def test_a_hatch_is_lines_at_the_screens_distance_within_its_outline(qtbot, kind: str) -> None:
    widget = Hatched(kind)
    qtbot.addWidget(widget)
    data = picture_of(widget, Path("a.svg"), "Hatch")
    assert b"<image" not in data and b"<pattern" not in data
    root = ElementTree.fromstring(data)
    drawn = [e.get("d", "") for e in root.iter() if e.tag.endswith("}path")]
    (path,) = (d for d in drawn if d.count("M") > 3)
    points = [tuple(map(float, at)) for at in re.findall(r"[ML](-?[\d.]+),(-?[\d.]+)", path)]
    assert all(19.9 <= x <= 200.1 and 19.9 <= y <= 120.1 for x, y in points)
    if kind == "level":
        heights = sorted({y for _, y in points})
        assert {round(b - a, 6) for a, b in pairwise(heights)} == {24.0}


def test_dots_lie_within_their_outline_too(qtbot) -> None:
    widget = Hatched("dots")
    qtbot.addWidget(widget)
    data = picture_of(widget, Path("a.svg"), "Dots")
    assert b"<image" not in data
    # 90 × 50 pixels at one dot every 9 each way.
    assert 40 <= data.count(b"Z") + data.count(b"M") <= 160


def test_an_svg_is_as_large_as_on_screen_and_names_a_kind_of_font(qtbot) -> None:
    widget = QWidget()
    qtbot.addWidget(widget)
    widget.resize(254, 127)
    root = ElementTree.fromstring(picture_of(widget, Path("a.svg"), "x"))
    wide = float(root.get("width", "").removesuffix("mm"))
    assert wide == pytest.approx(254 / widget.logicalDpiX() * 25.4, rel=0.01)
    families = {e.get("font-family") for e in root.iter() if e.get("font-family")}
    assert families and all(str(f).endswith(", sans-serif") for f in families)


def test_nothing_but_a_picture_is_painted_as_lines(qtbot) -> None:
    assert not as_lines.wanted()
    with pytest.raises(RuntimeError), as_lines.picture():
        assert as_lines.wanted()
        raise RuntimeError
    assert not as_lines.wanted()
