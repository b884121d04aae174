"""A drawing of board to scale on paper: outlines, names that fit or lead out, ordinates."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence

import numpy as np
import shapely
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

from core.geometry import Motion, Point, Region, Ring
from core.reports.finder import SIZES_PT, Box, Finder, Keep, blocks
from core.reports.fonts import ASCENT, DESCENT, PT_MM, printable, text_width_mm
from core.reports.picture import (
    INK,
    MUTED,
    PAPER,
    THIN_MM,
    Line,
    Mark,
    Shape,
    Stroke,
    Text,
    circle,
    rectangle,
    text,
)

# Paper 1 : n. Steps small enough that a drawing fills its place.
_SCALES = (
    *(1.0, 1.5, 2.0, 2.5, 3.0, 4.0, 5.0, 6.0, 7.0, 8.0, 9.0, 10.0, 11.0, 12.0, 13.0, 14.0),
    *(15.0, 16.0, 18.0, 20.0, 22.0, 25.0, 28.0, 30.0, 35.0, 40.0, 45.0, 50.0, 60.0, 75.0),
    *(100.0, 150.0, 200.0, 300.0, 500.0, 1000.0),
)
ORDINATE_PT = 7.5


def pick_scale(width_mm: float, height_mm: float, room_w_mm: float, room_h_mm: float) -> float:
    """The largest drawing scale, as n of 1 : n, at which a size goes into a room."""
    for n in _SCALES:
        if width_mm / n <= room_w_mm and height_mm / n <= room_h_mm:
            return n
    return math.ceil(max(width_mm / room_w_mm, height_mm / room_h_mm))


def scale_text(n: float) -> str:
    """``1 : 12``."""
    return f"1 : {n:g}"


def spread(places: Sequence[float], gap: float, low: float, high: float) -> list[float] | None:
    """Sorted places moved apart to at least gap, as near as may be; None if there is no room.

    Own derivation: blocks of neighbours that touch are centred on their mean (pool adjacent
    violators, least squares).
    """
    count = len(places)
    if count and (count - 1) * gap > high - low + 1e-9:
        return None
    blocks: list[list[float]] = []  # [sum of (place − rank·gap), count]
    for rank, place in enumerate(places):
        blocks.append([place - rank * gap, 1.0])
        while len(blocks) > 1 and blocks[-2][0] / blocks[-2][1] > blocks[-1][0] / blocks[-1][1]:
            total, size = blocks.pop()
            blocks[-1][0] += total
            blocks[-1][1] += size
    out: list[float] = []
    top = high - (count - 1) * gap
    for total, size in blocks:
        base = min(max(total / size, low), top)
        for _ in range(int(size)):
            out.append(base + len(out) * gap)
    return out


class Board:
    """Maps a window of board to a place on paper and collects marks there.

    window: real mm (x1, y1, x2, y2). The drawing's lower left corner goes to (x_mm, y_mm) plus
    the left and lower margins. Texts keep clear of each other through `taken`.
    """

    def __init__(
        self,
        window: Box,
        area: Box,
        *,
        margins: tuple[float, float, float, float] = (16.0, 15.0, 12.0, 9.0),
        scale: float | None = None,
    ) -> None:
        x1, y1, x2, y2 = window
        left, low, right, high = margins
        ax1, ay1, ax2, ay2 = area
        self.n = scale or pick_scale(
            x2 - x1, y2 - y1, ax2 - ax1 - left - right, ay2 - ay1 - low - high
        )
        self.window = window
        self.width_mm = (x2 - x1) / self.n
        self.height_mm = (y2 - y1) / self.n
        self.margins = margins
        # At the top of its area, so that what follows comes close below.
        self.x0 = ax1 + left
        self.y0 = ay2 - high - self.height_mm
        self.marks: list[Mark] = []
        self.taken: list[Box] = []

    @property
    def paper_box(self) -> Box:
        """Where the window lies on the page."""
        return (self.x0, self.y0, self.x0 + self.width_mm, self.y0 + self.height_mm)

    @property
    def lowest(self) -> float:
        """Lower end of drawing and lower margin on the page."""
        return self.y0 - self.margins[1]

    # --- mapping -----------------------------------------------------------------------

    def point(self, x_mm: float, y_mm: float) -> Point:
        return (
            self.x0 + (x_mm - self.window[0]) / self.n,
            self.y0 + (y_mm - self.window[1]) / self.n,
        )

    def ring(self, ring: Ring) -> Ring:
        dx, dy = self.point(0.0, 0.0)
        return ring.scaled(1.0 / self.n).moved(Motion(dx, dy))

    def rings(self, region: Region) -> tuple[Ring, ...]:
        return tuple(self.ring(r) for r in region.rings)

    def polygon(self, shape: Polygon) -> Polygon:
        dx, dy = self.point(0.0, 0.0)
        return shapely.transform(shape, lambda c: c / self.n + np.array([dx, dy]))

    # --- marks -------------------------------------------------------------------------

    def region(
        self,
        region: Region,
        stroke: Stroke | None,
        fill: str | None,
        *,
        role: str = "",
        key: str = "",
    ) -> None:
        self.marks.append(Shape(self.rings(region), stroke, fill, role, key))

    def outline(
        self, points: Sequence[Point], stroke: Stroke | None, fill: str | None, *, role: str = ""
    ) -> None:
        self.marks.append(Shape((self.ring(Ring.of(points)),), stroke, fill, role))

    def line(self, points: Iterable[Point], stroke: Stroke, *, role: str = "") -> None:
        self.marks.append(Line(tuple(self.point(*p) for p in points), stroke, role))

    def write(self, mark: Text) -> None:
        """Write a text and keep its place."""
        self.marks.append(mark)
        self.taken.append(mark.box().bounds)

    def free(self, place: Box) -> bool:
        """True if no text stands there."""
        x1, y1, x2, y2 = place
        return not any(x1 < b[2] and b[0] < x2 and y1 < b[3] and b[1] < y2 for b in self.taken)

    def tag(self, at: Point, words: str, *, square: bool = False, size_pt: float = 8.0) -> None:
        """A number in a circle, or a letter in a square, on white."""
        half = self.tag_half(words, size_pt)
        x, y = at
        if square:
            edge = Stroke(0.35)
            self.marks.append(rectangle(x - half, y - half, 2 * half, 2 * half, edge, PAPER))
        else:
            self.marks.append(circle(x, y, half, Stroke(0.25), PAPER))
        base = y - size_pt * PT_MM * 0.36
        self.marks.append(text(x, base, words, size_pt, bold=True, anchor="middle", role="tag"))
        self.taken.append((x - half, y - half, x + half, y + half))

    @staticmethod
    def tag_half(words: str, size_pt: float = 8.0) -> float:
        """Half the width of a tag."""
        return max(2.1, text_width_mm(words, size_pt, True) / 2 + 0.9)

    # --- names -------------------------------------------------------------------------

    def name_inside(
        self,
        shape: Polygon,
        number: str,
        lines: Sequence[str],
        *,
        drawn: Sequence[BaseGeometry] = (),
        signs: Sequence[BaseGeometry] = (),
    ) -> bool:
        """Write a number, with as many of the lines below it as fit, inside a shape on paper.

        drawn: what is drawn inside the shape; the text goes off it where it can. signs: marks it
        keeps off unless nothing else is left.

        Lines are never shortened: all that are given, or fewer from the end, or the first one
        broken into two or three, or the number alone. False if not even that fits.
        """
        finder = Finder(self.free, shape, drawn, signs)
        return any(
            self._write_block(finder, rows, size, turned, keep=keep)
            for rows, turned, size, keep in blocks(number, lines, plain=not drawn and not signs)
        )

    def label(self, shape: Polygon, words: str) -> bool:
        """Write one line of plain text inside a shape on white ground; False if it cannot fit."""
        finder = Finder(self.free, shape)
        label = printable(words)
        for size in SIZES_PT[1:]:
            wide = text_width_mm(label, size) + 1.0
            high = size * PT_MM * (ASCENT + DESCENT)
            for turned in (False, True):
                spot = finder.spot(high if turned else wide, wide if turned else high)
                if spot is None:
                    continue
                down = high / 2 - size * PT_MM * ASCENT
                at = (spot[0] - down, spot[1]) if turned else (spot[0], spot[1] + down)
                turn = 90.0 if turned else 0.0
                mark = Text(*at, label, size, False, "middle", turn, MUTED, "offcut")
                bx1, by1, bx2, by2 = mark.box().bounds
                self.marks.append(rectangle(bx1, by1, bx2 - bx1, by2 - by1, None, PAPER))
                self.write(mark)
                return True
        return False

    def _write_block(
        self,
        finder: Finder,
        rows: Sequence[str],
        size_pt: float,
        turned: bool,
        *,
        keep: Keep,
    ) -> bool:
        step = size_pt * PT_MM * 1.25
        wide = max(text_width_mm(row, size_pt, index == 0) for index, row in enumerate(rows))
        high = (len(rows) - 1) * step + size_pt * PT_MM * (ASCENT + DESCENT)
        room = (high, wide) if turned else (wide, high)
        spot = finder.spot(*room, keep=keep)
        if spot is None:
            return False
        x, y = spot
        # Base line of the first row, measured from the middle of the block.
        first = high / 2 - size_pt * PT_MM * ASCENT
        for index, row in enumerate(rows):
            down = first - index * step
            at = (x - down, y) if turned else (x, y + down)
            role = "number" if index == 0 else "name"
            turn = 90.0 if turned else 0.0
            self.write(Text(*at, row, size_pt, index == 0, "middle", turn, role=role))
        return True

    def lead_out(self, wanted: Sequence[tuple[Polygon, str]], solid: Sequence[Polygon]) -> None:
        """Write numbers beside shapes they do not fit into, joined by a line with a dot.

        wanted: shapes on paper with their numbers; solid: shapes no number may lie on. Free
        board nearby is used first, then a margin right of the drawing. Leaders cross as few
        other shapes as may be.
        """
        tree = shapely.STRtree([*solid]) if solid else None
        left_over: list[tuple[Point, str]] = []
        size = 7.0
        high = size * PT_MM * (ASCENT + DESCENT)
        for shape, number in sorted(wanted, key=lambda w: (w[0].centroid.x, w[0].centroid.y)):
            wide = text_width_mm(number, size, True) + 0.8
            found = self._open_spot(shape, wide, high, tree)
            if found is None:
                start = shape.representative_point()
                left_over.append(((start.x, start.y), number))
            else:
                self._leader(*found, number, size, wide, high)
        self._margin(left_over, size, high)

    def _open_spot(
        self, shape: Polygon, wide: float, high: float, tree: shapely.STRtree | None
    ) -> tuple[Point, Point] | None:
        """Where the leader starts in the shape and where the number goes, or None."""
        core = _inner(shape)
        x1, y1, x2, y2 = core.bounds
        reach = 24.0
        xs = np.arange(x1 - reach, x2 + reach, 1.4)
        ys = np.arange(y1 - reach, y2 + reach, 1.4)
        spots = np.array(np.meshgrid(xs, ys)).reshape(2, -1).T
        bx1, by1, bx2, by2 = self.paper_box
        w, h = wide / 2, high / 2
        ok = (spots[:, 0] - w > bx1) & (spots[:, 0] + w < bx2)
        ok &= (spots[:, 1] - h > by1) & (spots[:, 1] + h < by2)
        for t1, u1, t2, u2 in self.taken:
            across = (spots[:, 0] - w < t2) & (spots[:, 0] + w > t1)
            ok &= ~(across & (spots[:, 1] - h < u2) & (spots[:, 1] + h > u1))
        spots = spots[ok]
        if not len(spots):
            return None
        if tree is not None:
            places = shapely.box(spots[:, 0] - w, spots[:, 1] - h, spots[:, 0] + w, spots[:, 1] + h)
            blocked = np.unique(tree.query(places, predicate="intersects")[0])
            spots = np.delete(spots, blocked, axis=0)
        if not len(spots):
            return None
        lines = shapely.shortest_line(core, shapely.points(spots))
        cost = shapely.length(lines)
        near = np.flatnonzero(cost <= reach)
        if not len(near):
            return None
        if tree is not None:
            crossed = tree.query(lines[near], predicate="intersects")[0]
            cost = cost.copy()
            cost[near] += 4.0 * np.bincount(crossed, minlength=len(near))
        best = int(near[np.argmin(cost[near])])
        start = lines[best].coords[0]
        spot = spots[best]
        return (float(start[0]), float(start[1])), (float(spot[0]), float(spot[1]))

    def _leader(
        self, start: Point, spot: Point, number: str, size: float, wide: float, high: float
    ) -> None:
        end = _box_edge(spot, wide / 2 + 0.2, high / 2 + 0.1, start)
        self.marks.append(Line((start, end), Stroke(THIN_MM, MUTED), "leader"))
        self.marks.append(circle(*start, 0.35, None, INK))
        base = spot[1] - high / 2 + size * PT_MM * DESCENT
        self.write(text(spot[0], base, number, size, bold=True, anchor="middle", role="number"))

    def _margin(self, left_over: list[tuple[Point, str]], size: float, high: float) -> None:
        """Numbers in a column right of the drawing, then a second one, with leaders."""
        _, by1, bx2, by2 = self.paper_box
        todo = sorted(left_over, key=lambda item: (item[0][1], -item[0][0]))
        column = 0
        while todo:
            wide = max(text_width_mm(number, size, True) for _, number in todo) + 1.0
            x = bx2 + 3.0 + column * (wide + 1.5)
            room = int((by2 - by1) / (high + 0.3)) + 1
            batch, todo = todo[:room], todo[room:]
            places = spread([p[1] for p, _ in batch], high + 0.2, by1, by2) or []
            for (start, number), y in zip(batch, places, strict=True):
                self._leader(start, (x + wide / 2, y), number, size, wide, high)
            column += 1

    # --- ordinates ---------------------------------------------------------------------

    def ordinates(
        self,
        xs: Iterable[float],
        ys: Iterable[float],
        say: Callable[[float], str],
        *,
        origin: Point,
        least: tuple[Iterable[float], Iterable[float]] = ((), ()),
    ) -> None:
        """Distances from one datum along the lower and the left side.

        xs, ys: real coordinates to be dimensioned; least: those left out first when it is too
        tight, but where they are among xs and ys those kept longest. origin: the datum; its
        zeros are always there.
        """
        size = ORDINATE_PT
        pitch = size * PT_MM * 1.12
        x1, y1, x2, y2 = self.paper_box
        keep = _distinct([origin[0], *xs])
        at_x = self._fit(keep, _distinct(least[0]), 0, pitch, x1 - 3.0, x2 + 3.0)
        for value, place in at_x:
            px = self.point(value, 0.0)[0]
            start, kink, end = (px, y1 - 1.0), (px, y1 - 3.0), (place, y1 - 5.0)
            points = (start, kink, end)
            self.marks.append(Line(points, Stroke(THIN_MM * 0.75, MUTED), "ordinate"))
            words = say(value - origin[0])
            base = place + size * PT_MM * 0.36
            self.write(
                text(base, y1 - 5.6, words, size, anchor="end", turn_deg=90.0, role="ordinate-x")
            )
        keep = _distinct([origin[1], *ys])
        at_y = self._fit(keep, _distinct(least[1]), 1, pitch, y1 - 1.5, y2 + 3.0)
        for value, place in at_y:
            py = self.point(0.0, value)[1]
            points = ((x1 - 1.0, py), (x1 - 3.0, py), (x1 - 5.0, place))
            self.marks.append(Line(points, Stroke(THIN_MM * 0.75, MUTED), "ordinate"))
            base = place - size * PT_MM * 0.36
            words = say(value - origin[1])
            self.write(text(x1 - 5.6, base, words, size, anchor="end", role="ordinate-y"))

    def _fit(
        self,
        keep: list[float],
        least: list[float],
        axis: int,
        pitch: float,
        low: float,
        high: float,
    ) -> list[tuple[float, float]]:
        """Values that find room, each with its place on paper, in order."""
        values = _distinct([*keep, *least])
        if (len(values) - 1) * pitch > high - low:
            values = keep
        while (len(values) - 1) * pitch > high - low and len(values) > 2:
            # Too tight even so: drop the one closest to its neighbours, and of a kerf's two walls
            # the one that nobody measures to.
            inner = range(1, len(values) - 1)
            aside = [i for i in inner if all(abs(values[i] - v) > 0.1 for v in least)]
            gaps = {i: values[i + 1] - values[i - 1] for i in aside or inner}
            values = [*values]
            del values[min(gaps, key=gaps.__getitem__)]
        places = [self.point(v, v)[axis] for v in values]
        apart = spread(places, pitch, low, high) or places
        return list(zip(values, apart, strict=True))


def _distinct(values: Iterable[float]) -> list[float]:
    """Sorted, those within a tenth of a millimetre once."""
    out: list[float] = []
    for value in sorted(values):
        if not out or value - out[-1] > 0.1:
            out.append(value)
    return out


def _inner(shape: Polygon) -> Polygon:
    """The shape a little smaller, so that a leader's dot lies well within; never empty."""
    x1, y1, x2, y2 = shape.bounds
    inner = shape.buffer(-min(0.5, min(x2 - x1, y2 - y1) / 3))
    return shape if inner.is_empty else inner


def _box_edge(centre: Point, half_w: float, half_h: float, towards: Point) -> Point:
    """Where the line from a box's middle to a point leaves the box."""
    dx, dy = towards[0] - centre[0], towards[1] - centre[1]
    share = max(abs(dx) / half_w if half_w else 0.0, abs(dy) / half_h if half_h else 0.0, 1e-9)
    return (centre[0] + dx / max(share, 1.0), centre[1] + dy / max(share, 1.0))
