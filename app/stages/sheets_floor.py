"""The floor of the Sheets stage: sheets side by side, what lies on them, a bar under each."""

from __future__ import annotations

import math
import time
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from PySide6.QtCore import QEasingCurve, QPointF, QRectF, Qt, QTimer, QVariantAnimation
from PySide6.QtGui import QPainter, QPainterPath
from PySide6.QtWidgets import QGraphicsItem, QStyleOptionGraphicsItem, QWidget

from app import theme
from app.canvas import boards, items, paths
from app.canvas.lengths import glance_size
from app.canvas.view import Canvas
from app.i18n import tr
from app.stages.sheets_model import Bench, Key, SheetKey
from app.widgets.fields import show_size
from core.geometry import Motion, Point, Region
from core.outlines.model import Feature
from core.plan import Plan, PlanPiece, PlanSheet

_IDLE_S = 0.008  # work done between two events while the window is idle
_AT_ONCE = 20  # so many new pieces are shown at once, more of them in slices


class BarItem(QGraphicsItem):
    """The bar under a sheet: pieces, offcut kept, scrap, each with its share."""

    def __init__(self, width_mm: float, high_mm: float, parent: QGraphicsItem) -> None:
        super().__init__(parent)
        self._rect = QRectF(0, 0, width_mm, high_mm)
        self._shares = (0.0, 0.0, 1.0)
        self.setAcceptedMouseButtons(Qt.MouseButton.NoButton)
        self._label = items.LabelItem(
            "",
            (0, -high_mm * 0.3),
            meaning="ink",
            room_mm=(width_mm * 1.04, width_mm),
            align=Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignTop,
            parent=self,
        )

    def set_shares(self, pieces: float, kept: float) -> None:
        """Shares of the full sheet, 0–1; the rest is scrap."""
        # Pieces put over an edge or over each other may come to more than there is.
        kept = max(0.0, min(kept, 1.0 - pieces))
        scrap = max(0.0, 1.0 - pieces - kept)
        self._shares = (min(pieces, 1.0), kept, scrap)
        if pieces <= 0:
            self._label.set_text(tr("nothing on it yet"))
        else:
            rows = [tr("pieces {share} %").format(share=round(pieces * 100))]
            if kept > 0.005:
                rows.append(tr("offcut kept {share} %").format(share=round(kept * 100)))
            rows.append(tr("scrap {share} %").format(share=round(scrap * 100)))
            self._label.set_short(f"{round(pieces * 100)} %")
            self._label.set_text("  ·  ".join(rows))
        self.update()

    @property
    def pieces(self) -> float:
        """Share of the sheet that becomes pieces."""
        return self._shares[0]

    @property
    def kept(self) -> float:
        """Share of the sheet kept as an offcut."""
        return self._shares[1]

    @property
    def text(self) -> str:
        """What stands beside the bar."""
        return self._label.text

    def recolor(self) -> None:
        """Colours are taken anew at every painting."""
        self.update()

    def boundingRect(self) -> QRectF:
        return self._rect.adjusted(-4, -4, 4, 4)

    def paint(
        self, painter: QPainter, option: QStyleOptionGraphicsItem, widget: QWidget | None = None
    ) -> None:
        x = self._rect.left()
        painter.setPen(Qt.PenStyle.NoPen)
        for share, meaning, kind in zip(
            self._shares, ("accent", "board", "paper"), ("", "hatch", "scrap"), strict=True
        ):
            wide = self._rect.width() * share
            if wide <= 0:
                continue
            path = QPainterPath()
            path.addRect(QRectF(x, self._rect.top(), wide, self._rect.height()))
            painter.setPen(Qt.PenStyle.NoPen)
            painter.setBrush(theme.color(meaning))
            painter.drawPath(path)
            if kind:
                items.paint_hatch(
                    painter, path, kind, theme.color("offcut" if kind == "hatch" else "hairline")
                )
            x += wide
        painter.setPen(items.cosmetic(theme.color("control")))
        painter.setBrush(Qt.BrushStyle.NoBrush)
        painter.drawRect(self._rect)


class SheetItem(boards.BoardItem):
    """One sheet on the floor with its name above and its bar below."""

    def __init__(self, key: SheetKey, bench: Bench, unit: str) -> None:
        stock = bench.stocks[key[0]]
        material = bench.shop.material(stock.material)
        grained = material is None or material.grained
        outline = paths.shape_path(stock.polygon)
        super().__init__(outline, grained=grained, seed=key[1] * 31 + len(stock.id))
        self.key = key
        self.stock = stock
        high = max(stock.height_mm * 0.02, 14.0)
        self.bar = BarItem(stock.width_mm, high, self)
        self.bar.setPos(0, -high * 2.2)
        self.title = items.LabelItem(
            "",
            (0, stock.height_mm + high * 0.5),
            meaning="ink",
            align=Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignBottom,
            room_mm=(stock.width_mm * 1.06, stock.width_mm),
            parent=self,
        )
        # Letters and numbers stand above the pieces, hatches below them.
        self.above = items.Holder(items.Z_MARKS)
        self._marks: list[QGraphicsItem] = []
        for defect in stock.defects:
            boards.defect_item(defect.points, defect.note or tr("not to be used"), self)
        self.set_title(0, unit)

    def set_title(self, number: int, unit: str, *, sawn: bool = False) -> None:
        """The sheet's name; number 0: not in use yet. sawn: its blanks are sawn and stay."""
        size = show_size(self.stock.width_mm, self.stock.height_mm, unit)
        kind = tr("offcut from the rack") if self.stock.in_rack else self.stock.material
        head = tr("Sheet {n}").format(n=number) if number else tr("Empty sheet")
        if sawn:
            head = f"{head} · {tr('sawn')}"
        if self.stock.in_rack and self.stock.material:
            kind = f"{self.stock.material}, {kind}"
        self.title.set_short(f"{head} · {size}" if number else size)
        self.title.set_text(f"{head} · {kind} · {size}")

    def show_marks(self, sheet: PlanSheet | None, unit: str) -> None:
        """Blanks with letters, saw cuts with numbers, offcuts with their size."""
        scene = self.scene()
        for mark in self._marks:
            if scene is not None:
                scene.removeItem(mark)
        self._marks = []
        if sheet is None:
            return
        for offcut in sheet.offcuts:
            xs, ys = [p[0] for p in offcut.points], [p[1] for p in offcut.points]
            size = glance_size(max(xs) - min(xs), max(ys) - min(ys), unit)
            self._marks += boards.offcut_items(offcut.points, offcut.keep, size, self)
        whole = len(sheet.blanks) == 1 and not sheet.saw_cuts
        if not whole:
            for b in sheet.blanks:
                self._marks += boards.blank_items(
                    b.letter, b.x_mm, b.y_mm, b.width_mm, b.height_mm, self.above
                )
        shares = label_shares(sheet)
        for cut in sheet.saw_cuts:
            start, end = (cut.x1_mm, cut.y1_mm), (cut.x2_mm, cut.y2_mm)
            self._marks.append(
                boards.SawCutItem(cut.order, start, end, self.above, share=shares[cut.order])
            )


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
        canvas.set_fit_area(self.area)

    # --- where things are -----------------------------------------------------------------
    def area(self) -> QRectF:
        """Everything on the floor, bars and titles included."""
        rect = QRectF()
        for key, item in self.sheets.items():
            x, y = self.places[key]
            width, height = item.stock.width_mm, item.stock.height_mm
            rect = rect.united(QRectF(x, y - 0.07 * height, width, height * 1.12))
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
            item.setZValue(items.Z_PIECE)
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

    def _rescaled(self, px_per_mm: float) -> None:
        for item in self.pieces.values():
            item.label.set_scale_px(px_per_mm)
        for sheet in self.sheets.values():
            sheet.title.set_scale_px(px_per_mm)
            for child in _labels([*sheet.childItems(), *sheet.above.childItems()]):
                child.set_scale_px(px_per_mm)

    # --- states ---------------------------------------------------------------------------
    def mark(self, *, selected: Iterable[Key], wrong: Iterable[Key]) -> None:
        """Show what is selected and what lies where it must not."""
        self._chosen, self._wrong = set(selected), set(wrong)
        for key, item in self.pieces.items():
            self._mark_one(key, item)

    def _mark_one(self, key: Key, item: items.PieceItem) -> None:
        chosen, bad = key in self._chosen, key in self._wrong
        item.set_state(selected=chosen, wrong=bad)
        item.setZValue(items.Z_PIECE + (2 if chosen else 1 if bad else 0))

    def lay(self, laid: Mapping[Key, Motion], sheet: Point) -> None:
        """Put copies down for now, without telling the document."""
        for key, motion in laid.items():
            item = self.pieces.get(key)
            if item is not None:
                item.lay(motion, sheet)


def _labels(found: Iterable[QGraphicsItem]) -> list[items.LabelItem]:
    """Labels among items and their children."""
    labels: list[items.LabelItem] = []
    for item in found:
        if isinstance(item, items.LabelItem):
            labels.append(item)
        else:
            labels += _labels(item.childItems())
    return labels


def label_shares(sheet: PlanSheet) -> dict[int, float]:
    """Where along each saw cut its number stands: clear of blank letters and other numbers."""
    clear = 0.05 * max(sheet.stock.width_mm, sheet.stock.height_mm)
    taken = [
        (b.x_mm + 0.012 * b.width_mm, b.y_mm + 0.985 * b.height_mm - 0.4 * clear)
        for b in sheet.blanks
    ]
    shares: dict[int, float] = {}
    for cut in sheet.saw_cuts:
        best, best_gap = 0.5, -1.0
        for share in (0.06, 0.94, 0.2, 0.8, 0.35, 0.65, 0.5):
            x = cut.x1_mm + (cut.x2_mm - cut.x1_mm) * share
            y = cut.y1_mm + (cut.y2_mm - cut.y1_mm) * share
            gap = min((math.hypot(x - tx, y - ty) for tx, ty in taken), default=math.inf)
            if gap > best_gap:
                best, best_gap = share, gap
            if gap >= clear:
                break
        shares[cut.order] = best
        taken.append(
            (
                cut.x1_mm + (cut.x2_mm - cut.x1_mm) * best,
                cut.y1_mm + (cut.y2_mm - cut.y1_mm) * best,
            )
        )
    return shares


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


def floor_places(
    bounds: list[tuple[float, float, float, float]], room_px: tuple[int, int] = (840, 600)
) -> list[Point]:
    """Where each sheet lies on the floor: rows from the top, as large as a view can show them.

    bounds: of each sheet, mm. room_px: size of the view; between two rows there is room for a
    title, a bar and its text when everything is shown.
    """
    return floor_columns(bounds, room_px)[1]


def floor_columns(
    bounds: list[tuple[float, float, float, float]],
    room_px: tuple[int, int] = (840, 600),
    *,
    before: int = 0,
) -> tuple[int, list[Point]]:
    """How many sheets a row has, and the places; as :func:`floor_places`.

    before: sheets in a row so far, 0 for none. It stays so, and everybody finds the sheets where
    they were, unless another number shows them much larger.
    """
    if not bounds:
        return 0, []
    best, count, chosen = math.inf, 1, [(0.0, 0.0)]
    for columns in range(1, len(bounds) + 1):
        scale = 0.2
        for _ in range(3):  # the gap in mm follows from the scale, which follows from the gap
            gap = _ROW_TEXT_PX / scale
            places, width, height = _in_rows(bounds, columns, gap)
            scale = min(room_px[0] / width, room_px[1] / height)
        worth = scale * _AS_BEFORE if columns == before else scale
        if 1 / worth < best * 0.999:
            best, count, chosen = 1 / worth, columns, places
    return count, chosen


_AS_BEFORE = 1.3  # how much larger sheets must show for their rows to be laid anew
_ROW_TEXT_PX = 58.0  # bar, its text below and the title of the next row


def _in_rows(
    bounds: list[tuple[float, float, float, float]], columns: int, gap_y: float
) -> tuple[list[Point], float, float]:
    """Places in rows of so many sheets, and the size of all, mm."""
    wide = max(b[2] - b[0] for b in bounds)
    gap_x = 0.06 * wide
    places: list[Point] = []
    top = 0.0
    for start in range(0, len(bounds), columns):
        row = bounds[start : start + columns]
        high = max(b[3] - b[1] for b in row)
        for column, (x1, _, _, y2) in enumerate(row):
            places.append((column * (wide + gap_x) - x1, top - y2))
        top -= high + gap_y
    across = min(columns, len(bounds))
    return places, across * (wide + gap_x), -top
