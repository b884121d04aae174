"""The floor of the Sheets stage: sheets side by side, what lies on them, a bar under each."""

from __future__ import annotations

import time
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from PySide6.QtCore import QEasingCurve, QPointF, QRectF, QTimer, QVariantAnimation
from PySide6.QtGui import QFontMetrics, QPainterPath
from PySide6.QtWidgets import QApplication, QGraphicsItem

from app import theme
from app.canvas import items, paths
from app.canvas.labels import LabelItem, place_of
from app.canvas.stacking import Z_PIECE
from app.canvas.view import Canvas
from app.stages.sheets_items import SheetItem
from app.stages.sheets_model import Bench, Key, SheetKey
from app.stages.sheets_rows import floor_columns
from core.geometry import Motion, Point, Region
from core.outlines.model import Feature
from core.plan import Plan, PlanPiece, PlanSheet

_IDLE_S = 0.008  # work done between two events while the window is idle
_AT_ONCE = 20  # so many new pieces are shown at once, more of them in slices


@dataclass(frozen=True)
class Drawn:
    """A piece as paths: outline with holes, what is cut into it, where its label may stand."""

    path: QPainterPath
    pockets: QPainterPath | None
    label_at: Point
    label_room: tuple[float, float]


class Floor:
    """Keeps the scene in step with a bench. Coordinates: the scene's, mm, y up."""

    def __init__(self, canvas: Canvas) -> None:
        self.canvas = canvas
        self.bench: Bench | None = None
        self.unit = "mm"
        self.sheets: dict[SheetKey, SheetItem] = {}
        self.places: dict[SheetKey, Point] = {}
        self._columns = 0
        self.pieces: dict[Key, items.PieceItem] = {}
        self._drawn: dict[str, tuple[str, Drawn]] = {}
        self._to_draw: list[PlanPiece] = []
        self._idle = QTimer(canvas)
        self._idle.setInterval(0)
        self._idle.timeout.connect(self._draw_some)
        self._to_show: list[Key] = []  # copies whose items are still to be made, the last one next
        self._showing = QTimer(canvas)
        self._showing.setInterval(0)
        self._showing.timeout.connect(self._show_some)
        self._chosen: set[Key] = set()
        self._wrong: set[Key] = set()
        self._glide: QVariantAnimation | None = None
        canvas.scaled.connect(self._rescaled)
        self._line_px = QFontMetrics(QApplication.font()).height()
        canvas.recolored.connect(self._follow_text)
        canvas.set_fit_area(self.area)

    # --- where things are -----------------------------------------------------------------
    def area(self) -> QRectF:
        """Everything on the floor, bars and titles included."""
        rect = QRectF()
        for key, item in self.sheets.items():
            x, y = self.places[key]
            width, height = item.stock.width_mm, item.stock.height_mm
            below = max(0.07 * height, item.below_mm)
            rect = rect.united(QRectF(x, y - below, width, below + height * 1.05))
        return rect

    def sheet_at(self, x_mm: float, y_mm: float, slack_mm: float = 0.0) -> SheetKey | None:
        """The sheet under a point of the floor."""
        for key, (x, y) in self.places.items():
            stock = self.sheets[key].stock
            if (
                x - slack_mm <= x_mm <= x + stock.width_mm + slack_mm
                and y - slack_mm <= y_mm <= y + stock.height_mm + slack_mm
            ):
                return key
        return None

    def piece_at(self, x_mm: float, y_mm: float) -> Key | None:
        """The topmost piece under a point of the floor; the smaller one inside a hole wins."""
        point = QPointF(x_mm, y_mm)
        found: tuple[float, float, Key] | None = None
        for key, item in self.pieces.items():
            if item.contains(item.mapFromScene(point)):
                rank = (-item.zValue(), item.region.area_mm2, key)
                if found is None or rank < found:
                    found = rank
        return None if found is None else found[2]

    # --- showing a bench ------------------------------------------------------------------
    def show(self, bench: Bench, unit: str, *, glide: bool = False) -> None:
        """Make the scene what the bench says. glide: let pieces move to their places."""
        self.stop_glide()
        known = self.bench
        self.bench, self.unit = bench, unit
        self._show_sheets(bench, rebuild=known is None or known.shop != bench.shop)
        scene = self.canvas.scene
        for key in [k for k in self.pieces if k not in bench.placed]:
            scene.removeItem(self.pieces.pop(key))
        moves: list[tuple[items.PieceItem, QPointF, QPointF]] = []
        new: list[Key] = []
        for key, placed in bench.placed.items():
            item = self.pieces.get(key)
            if item is None or item.region is not bench.pieces[key[0]].cut:
                if item is not None:
                    scene.removeItem(self.pieces.pop(key))
                new.append(key)
                continue
            before = item.pos()
            item.lay(placed.motion, self.places[(placed.sheet, placed.sheet_copy)])
            item.label.set_scale_px(self.canvas.px_per_mm)
            item.set_state(locked=placed.locked)
            item.setZValue(Z_PIECE)
            if glide and item.pos() != before:
                moves.append((item, before, item.pos()))
        self._to_show = new[::-1]
        self._show_new(_AT_ONCE)
        if moves and theme.motion_ms() and self.canvas.isVisible():
            self._start_glide(moves)

    def finish(self) -> None:
        """Show at once what is still to come."""
        self._show_new(len(self._to_show))

    def _show_some(self) -> None:
        self._show_new(0)

    def _show_new(self, least: int) -> None:
        """Put new pieces down: so many, and then as many as a moment allows; the rest when the
        window has nothing else to do."""
        bench, scene = self.bench, self.canvas.scene
        until = time.perf_counter() + _IDLE_S
        while self._to_show and bench is not None:
            if least <= 0 and time.perf_counter() > until:
                break
            least -= 1
            key = self._to_show.pop()
            placed = bench.placed[key]
            item = self.pieces[key] = self.make_piece(bench, key)
            item.lay(placed.motion, self.places[(placed.sheet, placed.sheet_copy)])
            item.label.set_scale_px(self.canvas.px_per_mm)
            item.set_state(locked=placed.locked)
            self._mark_one(key, item)
            scene.addItem(item)
        if not self._to_show:
            self._showing.stop()
        elif not self._showing.isActive():
            self._showing.start()

    def make_piece(self, bench: Bench, key: Key) -> items.PieceItem:
        """A new item for a copy, its path shared with the other copies."""
        piece = bench.pieces[key[0]]
        drawn = self.drawn(piece)
        item = items.PieceItem(
            key,
            piece.cut,
            index=bench.tints.get(piece.panel, 0),
            label=bench.name(key),
            label_at=drawn.label_at,
            label_room=drawn.label_room,
            path=drawn.path,
            pockets=drawn.pockets,
        )
        item.label.set_scale_px(self.canvas.px_per_mm)
        return item

    def drawn(self, piece: PlanPiece) -> Drawn:
        """A piece's paths and the place of its label, worked out once for all copies."""
        stamp = piece.digest or str(id(piece.cut))
        known = self._drawn.get(piece.id)
        if known is None or known[0] != stamp:
            at = paths.label_point(piece.cut)
            made = Drawn(
                paths.region_path(piece.cut),
                feature_path(piece.features),
                at,
                paths.label_room(piece.cut, at),
            )
            known = self._drawn[piece.id] = (stamp, made)
        return known[1]

    def prepare(self, pieces: Iterable[PlanPiece]) -> None:
        """Work the paths of these pieces out while nothing else is to be done, so that all of
        them can be shown at once when places are found."""
        self._to_draw = list(pieces)
        known = {piece.id for piece in self._to_draw}
        self._drawn = {key: drawn for key, drawn in self._drawn.items() if key in known}
        self._idle.start()

    def _draw_some(self) -> None:
        until = time.perf_counter() + _IDLE_S
        while self._to_draw and time.perf_counter() < until:
            self.drawn(self._to_draw.pop())
        if not self._to_draw:
            self._idle.stop()

    def _show_sheets(self, bench: Bench, *, rebuild: bool) -> None:
        scene = self.canvas.scene
        for key in [k for k in self.sheets if rebuild or k not in bench.sheets]:
            gone = self.sheets.pop(key)
            scene.removeItem(gone)
            scene.removeItem(gone.above)
        for key in bench.sheets:
            if key not in self.sheets:
                item = SheetItem(key, bench, self.unit)
                self.sheets[key] = item
                scene.addItem(item)
                scene.addItem(item.above)
        self.sheets = {key: self.sheets[key] for key in bench.sheets}
        room = self.canvas.view.viewport().size()
        refit = list(self.places) != list(bench.sheets)
        if refit or rebuild:
            same = bool(set(self.places) & set(bench.sheets))
            self._columns, places = floor_columns(
                [bench.stocks[key[0]].polygon.bounds for key in bench.sheets],
                (max(room.width() - 72, 200), max(room.height() - 72, 150)),
                before=self._columns if same else 0,
                line_px=self._line_px,
            )
            self.places = dict(zip(bench.sheets, places, strict=True))
        used = {key: n for n, key in enumerate(bench.used_sheets, start=1)}
        sawn = {(s.sheet, s.sheet_copy) for s in bench.layout.sheets if s.frozen}
        for key, sheet in self.sheets.items():
            sheet.setPos(*self.places[key])
            sheet.above.setPos(*self.places[key])
            sheet.set_title(used.get(key, 0), self.unit, sawn=key in sawn)
            area = sum(bench.pieces[piece].cut.area_mm2 for piece, _ in bench.on(key))
            sheet.bar.set_shares(area / sheet.stock.polygon.area, sheet.bar.kept if area else 0.0)
        self._rescaled(self.canvas.px_per_mm)
        if refit and self.canvas._auto_fit:
            self.canvas.fit_now()

    def show_plan(self, plan: Plan | None) -> None:
        """Blanks, saw cuts, offcuts and shares from the plan worked out for this bench."""
        bench = self.bench
        if bench is None:
            return
        by_key: dict[SheetKey, PlanSheet] = {}
        for sheet in plan.sheets if plan is not None else ():
            if not sheet.placements:
                continue
            first = sheet.placements[0]
            placed = bench.placed.get((first.piece, first.copy))
            if placed is not None and placed.sheet == sheet.stock.id:
                by_key[(placed.sheet, placed.sheet_copy)] = sheet
        for key, item in self.sheets.items():
            found = by_key.get(key)
            item.show_marks(found, self.unit)
            pieces, kept = item.bar.pieces, 0.0
            if found is not None:
                pieces = found.yield_share
                kept = sum(o.area_mm2 for o in found.offcuts if o.keep) / found.area_mm2
            item.bar.set_shares(pieces, kept)
        self._rescaled(self.canvas.px_per_mm)

    # --- gliding --------------------------------------------------------------------------
    def _start_glide(self, moves: list[tuple[items.PieceItem, QPointF, QPointF]]) -> None:
        for item, before, _ in moves:
            item.setPos(before)
        glide = QVariantAnimation(self.canvas)
        glide.setDuration(theme.motion_ms())
        glide.setStartValue(0.0)
        glide.setEndValue(1.0)
        glide.setEasingCurve(QEasingCurve.Type.OutCubic)

        def step(share: float) -> None:
            for item, before, after in moves:
                item.setPos(before + (after - before) * share)

        def done() -> None:
            self._glide = None

        glide.valueChanged.connect(step)
        glide.finished.connect(done)
        self._glide = glide
        glide.start()

    def stop_glide(self) -> None:
        """Let gliding pieces be where they were going."""
        if self._glide is not None:
            glide, self._glide = self._glide, None
            glide.setCurrentTime(glide.duration())
            glide.stop()
            glide.deleteLater()

    def _follow_text(self) -> None:
        """Text of another size needs other gaps between the sheets."""
        line_px = QFontMetrics(QApplication.font()).height()
        if line_px == self._line_px:
            return
        self._line_px = line_px
        if self.bench is not None:
            self.places = {}
            self.show(self.bench, self.unit)

    def _rescaled(self, px_per_mm: float) -> None:
        for item in self.pieces.values():
            item.label.set_scale_px(px_per_mm)
        marks: dict[SheetKey, list[QRectF]] = {}
        for key, sheet in self.sheets.items():
            sheet.title.set_scale_px(px_per_mm)
            for child in _labels([*sheet.childItems(), *sheet.above.childItems()]):
                child.set_scale_px(px_per_mm)
            marks[key] = sheet.settle_marks(px_per_mm)
        self._clear_captions(px_per_mm)
        placed = {} if self.bench is None else self.bench.placed
        for piece, item in self.pieces.items():
            where = placed.get(piece)
            if where is not None and item.label.isVisible():
                near = marks.get((where.sheet, where.sheet_copy), [])
                _keep_clear(item.label, near, px_per_mm)

    def _clear_captions(self, px_per_mm: float) -> None:
        """What stands below a bar gives way to the name of the sheet in the next row."""
        sheets = list(self.sheets.values())
        for above, below in zip(sheets, sheets[self._columns or 1 :], strict=False):
            caption, title = above.bar.label, below.title
            if caption.isVisible() and title.isVisible():
                place = place_of(title, px_per_mm)
                caption.setVisible(not place_of(caption, px_per_mm).intersects(place))

    # --- states ---------------------------------------------------------------------------
    def mark(self, *, selected: Iterable[Key], wrong: Iterable[Key]) -> None:
        """Show what is selected and what lies where it must not."""
        self._chosen, self._wrong = set(selected), set(wrong)
        for key, item in self.pieces.items():
            self._mark_one(key, item)

    def _mark_one(self, key: Key, item: items.PieceItem) -> None:
        chosen, bad = key in self._chosen, key in self._wrong
        item.set_state(selected=chosen, wrong=bad)
        item.setZValue(Z_PIECE + (2 if chosen else 1 if bad else 0))

    def lay(self, laid: Mapping[Key, Motion], sheet: Point) -> None:
        """Put copies down for now, without telling the document."""
        for key, motion in laid.items():
            item = self.pieces.get(key)
            if item is not None:
                item.lay(motion, sheet)


def _keep_clear(label: LabelItem, marks: Iterable[QRectF], px_per_mm: float) -> None:
    """A piece's name stands beside the marks of its sheet, in two lines if need be, or not."""
    while True:
        place = place_of(label, px_per_mm)
        if not any(place.intersects(mark) for mark in marks):
            return
        if not label.shorten():
            label.setVisible(False)
            return


def _labels(found: Iterable[QGraphicsItem]) -> list[LabelItem]:
    """Labels among items and their children."""
    labels: list[LabelItem] = []
    for item in found:
        if isinstance(item, LabelItem):
            labels.append(item)
        else:
            labels += _labels(item.childItems())
    return labels


def feature_path(features: Iterable[Feature]) -> QPainterPath | None:
    """Pockets, drill holes and engraved lines of a piece as one path, or None."""
    path = QPainterPath()
    for feature in features:
        if feature.ring is not None:
            path.addPath(paths.region_path(Region.of(feature.ring)))
        elif feature.at is not None:
            radius = (feature.diameter_mm or 3.0) / 2
            path.addEllipse(QPointF(*feature.at), radius, radius)
        elif feature.path:
            path.addPath(paths.line_path(feature.path))
    return None if path.isEmpty() else path
