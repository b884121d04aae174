"""Drawn joints over the panel on the canvas: where walls were drawn and where they are cut."""

from __future__ import annotations

import math

from PySide6.QtCore import Qt
from PySide6.QtGui import QPainterPath
from PySide6.QtWidgets import QGraphicsItem

from app.canvas import items, paths
from app.canvas.stacking import Z_MARKS
from app.canvas.view import Canvas
from app.stages.joints_refit_model import DrawnJoints
from core.geometry import Point
from core.refit import RefitItem

_SAME_MM = 1e-6


class RefitOverlay:
    """Dashed where a wall was drawn, thick where it is cut; joints to decide in warning colour;
    what the bits leave uncut hatched."""

    def __init__(self, canvas: Canvas) -> None:
        self._canvas = canvas
        self._items: list[QGraphicsItem] = []
        self._shown: tuple[DrawnJoints | None, RefitItem | None] = (None, None)
        self._open = False

    def set_open(self, share: int) -> None:
        """Pieces pulled apart leave their walls: nothing is drawn over them then."""
        if bool(share) != self._open:
            self._open = bool(share)
            self.show(*self._shown)

    def show(self, joints: DrawnJoints | None, chosen: RefitItem | None) -> None:
        """Draw a panel's joints, the chosen one thicker; None takes them away."""
        for item in self._items:
            self._canvas.scene.removeItem(item)
        self._items = []
        self._shown = (joints, chosen)
        if joints is None or self._open:
            return
        for spot in joints.unreached:
            corner = spot.kind == "corner"
            shape = items.PathItem(
                paths.shape_path(spot.shape),
                line="muted" if corner else "stop",
                hatch_kind="hatch" if corner else "cross-hatch",
                hatch_color="muted" if corner else "stop",
                z=Z_MARKS + 2,
            )
            self._items.append(shape)
            self._canvas.scene.addItem(shape)
        for joint in joints.items:
            is_chosen = chosen is not None and joint.ref == chosen.ref
            before, after = walls_paths(joint)
            open_ = joints.open(joint)
            if joint.applied:
                self._add(before, "muted", 1.0, Qt.PenStyle.DashLine, 3)
                self._add(after, "accent", 3.0 if is_chosen else 2.0, None, 4)
            else:
                meaning = "warn" if open_ else "muted"
                style = Qt.PenStyle.DashLine if open_ else None
                self._add(before, meaning, 3.0 if is_chosen else 1.5, style, 4)

    def _add(
        self,
        path: QPainterPath,
        meaning: str,
        width: float,
        style: Qt.PenStyle | None,
        above: int,
    ) -> None:
        item = items.PathItem(path, line=meaning, width=width, style=style, z=Z_MARKS + above)
        self._items.append(item)
        self._canvas.scene.addItem(item)

    @property
    def count(self) -> int:
        """How many lines lie over the panel."""
        return len(self._items)


def walls_paths(joint: RefitItem) -> tuple[QPainterPath, QPainterPath]:
    """A joint's straight walls as drawn and as cut, neighbours meeting where they now do."""
    before, after = QPainterPath(), QPainterPath()
    straight = [wall for wall in joint.walls if not wall.bulge]
    for wall in straight:
        _line(before, wall.start, wall.end)
        one, two = wall.moved
        for other in straight:
            if math.dist(other.end, wall.start) < _SAME_MM:
                one = _meet(wall.moved, other.moved) or one
            if math.dist(other.start, wall.end) < _SAME_MM:
                two = _meet(wall.moved, other.moved) or two
        _line(after, one, two)
    return before, after


def _meet(one: tuple[Point, Point], two: tuple[Point, Point]) -> Point | None:
    """Where two lines cross, None if they are almost parallel."""
    (ax, ay), (bx, by) = one
    (cx, cy), (dx, dy) = two
    ux, uy, vx, vy = bx - ax, by - ay, dx - cx, dy - cy
    cross = ux * vy - uy * vx
    if abs(cross) < 1e-9:
        return None
    along = ((cx - ax) * vy - (cy - ay) * vx) / cross
    return ax + ux * along, ay + uy * along


def _line(path: QPainterPath, one: Point, two: Point) -> None:
    path.moveTo(*one)
    path.lineTo(*two)
