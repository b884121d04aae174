"""The panel on the canvas of the Joints stage: pieces, seams, handles, badges, the bed."""

from __future__ import annotations

import math

import shapely
from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QPainterPath, QTransform
from PySide6.QtWidgets import QGraphicsItem
from shapely.geometry.base import BaseGeometry

from app.canvas import boards, items, paths
from app.canvas.labels import LabelItem
from app.canvas.lengths import glance_size, short_length
from app.canvas.stacking import Z_MARKS
from app.canvas.view import Canvas
from app.i18n import tr
from app.stages import joints_lines as shape
from app.stages import joints_model as model
from app.stages.joints_model import PieceFit, Shown
from core.geometry import Point, Region
from core.project.model import Mark, SeamLine
from core.splitting import Piece

LINE_PX, CHOSEN_PX = 2.0, 3.0


def fit_words(fit: PieceFit, unit: str) -> str:
    """Why a piece cannot be cut, "" if it can."""
    if fit.ok:
        return ""
    if fit.fit is None:
        return tr("no room on the machine free of clamps")
    if fit.heavy:
        return tr("too heavy for one person, or too wide for the planer")
    rows = [
        tr("{n} too {word}").format(n=short_length(over, unit), word=word)
        for over, word in zip(fit.over_mm, (tr("long"), tr("wide")), strict=True)
        if over > 1e-6
    ]
    return tr(" and ").join(rows)


def pocket_path(piece: Piece) -> QPainterPath | None:
    """What is cut into a piece from a face, as one path, or None."""
    path = QPainterPath()
    for pocket in piece.cut.pockets:
        path.addPath(paths.region_path(Region.of(pocket.ring)))
    for drill in piece.cut.drills:
        radius = (drill.diameter_mm or 3.0) / 2
        path.addEllipse(QRectF(drill.at[0] - radius, drill.at[1] - radius, 2 * radius, 2 * radius))
    return None if path.isEmpty() else path


class SeamScene:
    """Shows one panel. Pieces keep their tint while a seam is dragged."""

    def __init__(self, canvas: Canvas) -> None:
        self.canvas = canvas
        self.unit = "mm"
        self.shown: Shown | None = None
        self.open_share = 0.0
        self.chosen: int | None = None
        self.chosen_handle = ""
        self.lines: tuple[SeamLine, ...] = ()
        self.pieces: dict[str, items.PieceItem] = {}
        self.handles: list[items.HandleItem] = []
        self._seams: list[QGraphicsItem] = []
        self._badges: list[LabelItem] = []
        self._marks: list[QGraphicsItem] = []
        self.chosen_mark: int | None = None
        self._mark_draft: QGraphicsItem | None = None
        self.envelope = boards.EnvelopeItem(900, 600, "")
        self.envelope.hide()
        self.envelope_piece = ""
        canvas.scene.addItem(self.envelope)
        canvas.scaled.connect(self._rescaled)
        canvas.set_fit_area(self.area)

    def area(self) -> QRectF:
        """The panel, with room for its opened pieces."""
        rect = QRectF()
        for item in self.pieces.values():
            rect = rect.united(item.mapRectToScene(item.path().boundingRect()))
        return rect

    # --- showing --------------------------------------------------------------------------
    def show(self, shown: Shown | None, unit: str) -> None:
        """Show a panel as it was worked out."""
        self.shown, self.unit = shown, unit
        scene = self.canvas.scene
        for item in self.pieces.values():
            scene.removeItem(item)
        self.pieces = {}
        if shown is not None:
            boards = sorted({piece.material for piece in shown.pieces})
            for number, piece in enumerate(shown.pieces):
                label = piece.name or piece.id
                if len(boards) > 1:
                    # Pieces of one board are of one colour, and the board's name says which.
                    number = boards.index(piece.material)
                    label = f"{label} · {piece.material}"
                item = items.PieceItem(
                    (piece.id, 1),
                    piece.cut.region,
                    index=number,
                    label=label,
                    pockets=pocket_path(piece),
                )
                self.pieces[piece.id] = item
                scene.addItem(item)
            self.lines = shown.lines
        else:
            self.lines = ()
        self._show_marks()
        self._place()
        self.show_lines(self.lines)
        self.show_envelope()

    def _show_marks(self) -> None:
        for old in self._marks:
            self.canvas.scene.removeItem(old)
        self._marks = []
        if self.shown is None:
            return
        for number, mark in enumerate(self.shown.panel.marks):
            item = _mark_item(mark, chosen=number == self.chosen_mark)
            item.setToolTip(mark.note)
            self._marks.append(item)
            self.canvas.scene.addItem(item)

    def choose_mark(self, index: int | None) -> None:
        """Choose a mark, or none."""
        self.chosen_mark = index
        self._show_marks()

    def show_mark_draft(self, mark: Mark | None) -> None:
        """Show a mark in the hand, None takes it away."""
        if self._mark_draft is not None:
            self.canvas.scene.removeItem(self._mark_draft)
            self._mark_draft = None
        if mark is not None:
            self._mark_draft = _mark_item(mark, chosen=True)
            self.canvas.scene.addItem(self._mark_draft)

    def mark_at(self, x_mm: float, y_mm: float) -> int | None:
        """The mark at a point of the panel; lines within reach of a finger."""
        if self.shown is None or self.open_share > 0:
            return None
        spot = shapely.Point(x_mm, y_mm)
        for number, mark in enumerate(self.shown.panel.marks):
            if mark_shape(mark).distance(spot) <= self.canvas.mm(6):
                return number
        return None

    def _place(self) -> None:
        """Put the pieces where the opening has them, with badges on those that do not fit."""
        for badge in self._badges:
            self.canvas.scene.removeItem(badge)
        self._badges = []
        if self.shown is None:
            return
        moves = model.opening(self.shown, self.open_share)
        for key, item in self.pieces.items():
            item.setPos(*moves[key])
            item.label.set_scale_px(self.canvas.px_per_mm)
        for fit in self.shown.fits:
            item = self.pieces[fit.piece]
            item.set_state(wrong=not fit.ok)
            words = fit_words(fit, self.unit)
            if not words:
                continue
            at = item.mapToScene(item.label.pos())
            badge = LabelItem(
                f"● {words}",
                (at.x(), at.y()),
                meaning="stop",
                plate=True,
                align=Qt.AlignmentFlag.AlignHCenter | Qt.AlignmentFlag.AlignTop,
            )
            # Below the piece's own name, on screen.
            badge.setTransform(QTransform.fromTranslate(0, 14))
            self._badges.append(badge)
            self.canvas.scene.addItem(badge)

    @property
    def badges(self) -> tuple[str, ...]:
        """What the badges say."""
        return tuple(badge.text for badge in self._badges)

    def set_open(self, share: float) -> None:
        """Open the joints, 0 closed to 1."""
        self.open_share = share
        self._place()
        self.show_lines(self.lines)
        self.show_envelope()

    def show_lines(self, lines: tuple[SeamLine, ...]) -> None:
        """Draw seam lines, the chosen one thicker and with handles. Hidden while opened."""
        scene = self.canvas.scene
        for item in (*self._seams, *self.handles):
            scene.removeItem(item)
        self._seams, self.handles = [], []
        self.lines = lines
        if self.open_share > 0 or self.shown is None:
            return
        for index, line in enumerate(lines):
            chosen = index == self.chosen
            path = items.PathItem(
                paths.line_path(shape.drawn(line)),
                line="seam",
                width=CHOSEN_PX if chosen else LINE_PX,
                z=Z_MARKS + (2 if chosen else 1),
            )
            self._seams.append(path)
            seam = self.shown.seam_of(index)
            letters = self.shown.letters(index) if seam is not None else ""
            if letters:
                x, y = _label_spot(line)
                self._seams.append(
                    LabelItem(letters, (x, y), meaning="seam", plate=True, bold=True)
                )
        for item in self._seams:
            scene.addItem(item)
        if self.chosen is not None and self.chosen < len(lines):
            line = lines[self.chosen]
            for number, point in enumerate(line.points):
                self.handles.append(items.HandleItem(f"point {number}", point))
            for number in range(len(line.points) - 1):
                place = shape.curve_handle(line, number)
                self.handles.append(items.HandleItem(f"curve {number}", place, shape="diamond"))
            self.handles.append(items.HandleItem("middle", shape.middle_of(line), shape="square"))
            for handle in self.handles:
                handle.set_hot(handle.role == self.chosen_handle)
                scene.addItem(handle)

    def choose(self, index: int | None, handle: str = "") -> None:
        """Choose a seam line, or none."""
        self.chosen, self.chosen_handle = index, handle
        self.show_lines(self.lines)

    # --- the bed --------------------------------------------------------------------------
    def show_envelope(self) -> None:
        """Lay the machine's room over the piece it was put on."""
        shown = self.shown
        fit = None
        if shown is not None and self.envelope_piece:
            fit = next((f for f in shown.fits if f.piece == self.envelope_piece), None)
        if fit is None or fit.fit is None:
            self.envelope.hide()
            return
        motion = model.envelope_motion(fit)
        width, height = fit.room_mm
        size = glance_size(width, height, self.unit)
        self.envelope.set_size(width, height, tr("reach of the bit {size}").format(size=size))
        self.envelope.set_ok(fit.ok)
        a, b, d, e, _, _ = motion.matrix()
        self.envelope.setTransform(QTransform(a, d, b, e, 0, 0))
        piece = self.pieces.get(self.envelope_piece)
        offset = piece.pos() if piece is not None else None
        dx, dy = (offset.x(), offset.y()) if offset is not None else (0.0, 0.0)
        self.envelope.setPos(motion.x_mm + dx, motion.y_mm + dy)
        self.envelope.settle_label(self.area())
        self.envelope.show()

    # --- what is under the pointer ----------------------------------------------------------
    def handle_at(self, px_x: float, px_y: float) -> str:
        """The role of the handle at a place of the viewport, "" if there is none."""
        best, role = 13.0, ""
        for handle in self.handles:
            at = self.canvas.to_px(handle.pos().x(), handle.pos().y())
            away = math.hypot(at.x() - px_x, at.y() - px_y)
            # An end wins over the middle where both are near.
            if away < best:
                best, role = away, handle.role
        return role

    def line_at(self, x_mm: float, y_mm: float) -> int | None:
        """The seam line at a point of the panel, within reach of a finger."""
        if self.open_share > 0:
            return None
        spot = shapely.Point(x_mm, y_mm)
        best, found = self.canvas.mm(9), None
        for index, line in enumerate(self.lines):
            away = shapely.LineString(shape.drawn(line)).distance(spot)
            if away < best:
                best, found = away, index
        return found

    def piece_at(self, x_mm: float, y_mm: float) -> str | None:
        """The piece at a point of the canvas."""
        point = QPointF(x_mm, y_mm)
        for key, item in self.pieces.items():
            if item.contains(item.mapFromScene(point)):
                return key
        return None

    def _rescaled(self, px_per_mm: float) -> None:
        for item in self.pieces.values():
            item.label.set_scale_px(px_per_mm)


def mark_shape(mark: Mark) -> BaseGeometry:
    """What a mark covers: a point, a line or an area."""
    if len(mark.points) > 2:
        return shapely.Polygon(mark.points)
    return shapely.LineString(mark.points) if len(mark.points) > 1 else shapely.Point(mark.points)


def _mark_item(mark: Mark, *, chosen: bool) -> items.PathItem:
    path = QPainterPath()
    if len(mark.points) > 2:
        path.addPolygon(paths.polygon_of(mark.points))
        path.closeSubpath()
    else:
        path = paths.line_path(mark.points)
    never = mark.kind == "never"
    return items.PathItem(
        path,
        line="stop" if never else "good",
        width=CHOSEN_PX + 1.0 if chosen else LINE_PX,
        hatch_kind="cross-hatch" if never else "hatch",
        hatch_color="stop" if never else "good",
    )


def _label_spot(line: SeamLine) -> Point:
    """Where a seam's letter stands: a fifth of the way, out of the middle handle's way."""
    spot = shapely.LineString(shape.drawn(line)).interpolate(0.22, normalized=True)
    return float(spot.x), float(spot.y)
