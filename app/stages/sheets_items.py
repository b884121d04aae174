"""A sheet on the floor: its board, its name above, what becomes of it, a bar below."""

from __future__ import annotations

import math

from PySide6.QtCore import QRectF, Qt
from PySide6.QtGui import QPainter, QPainterPath
from PySide6.QtWidgets import QGraphicsItem, QStyleOptionGraphicsItem, QWidget

from app import theme
from app.canvas import boards, items, paths
from app.canvas.labels import LabelItem, place_of
from app.canvas.lengths import glance_size
from app.canvas.stacking import Z_MARKS
from app.i18n import tr
from app.stages.sheets_model import Bench, SheetKey
from app.widgets.fields import show_size
from core.plan import PlanSawCut, PlanSheet


class BarItem(QGraphicsItem):
    """The bar under a sheet: pieces, offcut kept, scrap, each with its share."""

    def __init__(self, width_mm: float, high_mm: float, parent: QGraphicsItem) -> None:
        super().__init__(parent)
        self._rect = QRectF(0, 0, width_mm, high_mm)
        self._shares = (0.0, 0.0, 1.0)
        self.setAcceptedMouseButtons(Qt.MouseButton.NoButton)
        self.label = LabelItem(
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
            self.label.set_text(tr("nothing on it yet"))
        else:
            rows = [tr("pieces {share} %").format(share=round(pieces * 100))]
            if kept > 0.005:
                rows.append(tr("offcut kept {share} %").format(share=round(kept * 100)))
            rows.append(tr("scrap {share} %").format(share=round(scrap * 100)))
            self.label.set_short(f"{round(pieces * 100)} %")
            self.label.set_text("  ·  ".join(rows))
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
        return self.label.text

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
        self.below_mm = high * 2.5  # how far down its name stands
        self.title = LabelItem(
            "",
            (0, stock.height_mm + high * 0.5),
            meaning="ink",
            align=Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignBottom,
            room_mm=(stock.width_mm * 1.06, stock.width_mm),
            elide=True,
            parent=self,
        )
        # Letters and numbers stand above the pieces, hatches below them.
        self.above = items.Holder(Z_MARKS)
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

    def settle_marks(self, px_per_mm: float) -> list[QRectF]:
        """Of letters and numbers that would lie on each other at this scale show the first ones,
        letters before numbers. Returns where they are, mm on the floor."""
        taken: list[QRectF] = []
        for label in sorted(self._labels(), key=lambda label: not label.text.isalpha()):
            if not label.isVisible():
                continue
            place = place_of(label, px_per_mm)
            if any(place.intersects(other) for other in taken):
                label.setVisible(False)
            else:
                taken.append(place)
        return taken

    def _labels(self) -> list[LabelItem]:
        """Letters of blanks and numbers of cuts."""
        found = []
        for item in self.above.childItems():
            if isinstance(item, LabelItem):
                found.append(item)
            found += [c for c in item.childItems() if isinstance(c, LabelItem)]
        return found

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


def label_shares(sheet: PlanSheet) -> dict[int, float]:
    """Where along each saw cut its number stands: clear of blank letters and other numbers."""
    clear = 0.05 * max(sheet.stock.width_mm, sheet.stock.height_mm)
    taken = [
        (b.x_mm + 0.012 * b.width_mm, b.y_mm + 0.985 * b.height_mm - 0.4 * clear)
        for b in sheet.blanks
    ]
    shares: dict[int, float] = {}

    def below_title(cut: PlanSawCut) -> bool:
        """Its number need not stand at the sheet's upper edge, into the title."""
        return sheet.stock.height_mm - min(cut.y1_mm, cut.y2_mm) > clear

    for cut in sheet.saw_cuts:
        best, best_gap = 0.5, -1.0
        for share in (0.06, 0.94, 0.2, 0.8, 0.35, 0.65, 0.5):
            x = cut.x1_mm + (cut.x2_mm - cut.x1_mm) * share
            y = cut.y1_mm + (cut.y2_mm - cut.y1_mm) * share
            gap = min((math.hypot(x - tx, y - ty) for tx, ty in taken), default=math.inf)
            if below_title(cut):
                gap = min(gap, 2.5 * (sheet.stock.height_mm - y))
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
