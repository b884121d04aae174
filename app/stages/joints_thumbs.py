"""Small pictures of real geometry: a panel with its seams, a stretch of seam in each style."""

from __future__ import annotations

import math
from collections.abc import Sequence

from PySide6.QtCore import QRect, QRectF, QSize, Qt, Signal
from PySide6.QtGui import QIcon, QKeyEvent, QPainter, QPainterPath, QPixmap
from PySide6.QtWidgets import QListView, QListWidget, QListWidgetItem, QWidget

from app import theme
from app.canvas import items, paths
from app.stages.joints_lines import drawn
from app.stages.joints_model import Sample
from core.project.model import SeamLine

THUMB = QSize(108, 66)


def _canvas(size: QSize, ratio: float) -> tuple[QPixmap, QPainter]:
    image = QPixmap(size * ratio)
    image.setDevicePixelRatio(ratio)
    image.fill(Qt.GlobalColor.transparent)
    painter = QPainter(image)
    painter.setRenderHint(QPainter.RenderHint.Antialiasing, True)
    return image, painter


def panel_picture(
    outline: QPainterPath, lines: Sequence[SeamLine], *, ratio: float = 1.0, size: QSize = THUMB
) -> QPixmap:
    """A panel on its board with its seam lines."""
    image, painter = _canvas(size, ratio)
    box = outline.boundingRect()
    if not box.isEmpty():
        scale = min((size.width() - 8) / box.width(), (size.height() - 8) / box.height())
        painter.translate(size.width() / 2, size.height() / 2)
        painter.scale(scale, -scale)
        painter.translate(-box.center().x(), -box.center().y())
        painter.setPen(items.cosmetic(theme.color("ink")))
        painter.setBrush(theme.color("board"))
        painter.drawPath(outline)
        painter.setClipPath(outline)
        painter.setBrush(Qt.BrushStyle.NoBrush)
        painter.setPen(items.cosmetic(theme.color("seam"), 2.0))
        for line in lines:
            painter.drawPath(paths.line_path(drawn(line)))
    painter.end()
    return image


def sample_picture(sample: Sample, *, ratio: float = 1.0, size: QSize = THUMB) -> QPixmap:
    """The middle of a seam, lying level, its two mates in two tints."""
    image, painter = _canvas(size, ratio)
    frame = QRectF(0.5, 0.5, size.width() - 1, size.height() - 1)
    glass = QPainterPath()
    glass.addRoundedRect(frame, 4, 4)
    painter.fillPath(glass, theme.color("desk"))
    painter.setClipPath(glass)
    if sample.left or sample.right:
        scale = size.width() / sample.span_mm
        painter.save()
        painter.translate(size.width() / 2, size.height() / 2)
        painter.scale(scale, -scale)
        painter.rotate(-sample.along_deg)
        painter.translate(-sample.middle[0], -sample.middle[1])
        _mates(painter, sample)
        painter.restore()
    painter.setClipping(False)
    painter.setPen(theme.color("hairline"))
    painter.setBrush(Qt.BrushStyle.NoBrush)
    painter.drawPath(glass)
    painter.end()
    return image


def _mates(painter: QPainter, sample: Sample) -> None:
    painter.setPen(items.cosmetic(theme.color("ink")))
    for regions, tint in ((sample.left, 0), (sample.right, 1)):
        painter.setBrush(theme.tint(tint))
        for region in regions:
            painter.drawPath(paths.region_path(region))
    pocket = theme.color("pocket")
    pocket.setAlpha(150)
    painter.setBrush(pocket)
    for region in sample.keys:
        painter.drawPath(paths.region_path(region))


def plain_icon(picture: QPixmap) -> QIcon:
    """An icon that is not washed over when its row is chosen: the colours mean something."""
    icon = QIcon(picture)
    icon.addPixmap(picture, QIcon.Mode.Selected)
    return icon


class Gallery(QListWidget):
    """Pictures to choose from, side by side. taken(index) on a click or Enter."""

    taken = Signal(int)

    def __init__(self, name: str, parent: QWidget | None = None, *, thumb: QSize = THUMB) -> None:
        super().__init__(parent)
        self.setAccessibleName(name)
        self.setProperty("gallery", True)
        self._thumb = thumb
        self.setViewMode(QListView.ViewMode.IconMode)
        self.setMovement(QListView.Movement.Static)
        self.setResizeMode(QListView.ResizeMode.Adjust)
        self.setIconSize(thumb)
        self.setWordWrap(True)
        self.setSpacing(2)
        self.setTextElideMode(Qt.TextElideMode.ElideNone)
        self.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.setVerticalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self._lines = 2
        self.itemClicked.connect(self._clicked)

    def show_rows(
        self, rows: Sequence[tuple[QPixmap, str, str]], current: int = -1, *, lines: int = 2
    ) -> None:
        """Fill it: (picture, text below, tooltip) each; current is marked."""
        self._lines = lines
        while self.count() > len(rows):
            self.takeItem(self.count() - 1)
        for i, (picture, text, tip) in enumerate(rows):
            item = self.item(i)
            if item is None:
                item = QListWidgetItem()
                self.addItem(item)
            item.setIcon(plain_icon(picture))
            item.setText(text)
            item.setToolTip(tip)
            item.setData(Qt.ItemDataRole.AccessibleTextRole, f"{text}. {tip}")
            item.setTextAlignment(Qt.AlignmentFlag.AlignHCenter | Qt.AlignmentFlag.AlignTop)
        if 0 <= current < self.count():
            self.setCurrentRow(current)
        else:
            self.clearSelection()
            self.setCurrentRow(-1)
        self._fit_height()

    def _fit_height(self) -> None:
        """As high as its rows: the column around it scrolls, not the gallery."""
        metrics = self.fontMetrics()
        longest = max(
            (
                metrics.horizontalAdvance(word)
                for i in range(self.count())
                for word in self.item(i).text().split()
            ),
            default=0,
        )
        # No word is cut: a cell is at least as wide as the longest.
        cell_w = max(self._thumb.width() + 8, longest + 14)
        column = QRect(0, 0, cell_w - 10, 1000)
        # Large text may wrap into more lines than it has.
        words = max(
            [metrics.lineSpacing() * self._lines]
            + [
                metrics.boundingRect(column, Qt.TextFlag.TextWordWrap, self.item(i).text()).height()
                for i in range(self.count())
            ]
        )
        cell_h = self._thumb.height() + words + 14
        self.setGridSize(QSize(cell_w, cell_h))
        for i in range(self.count()):
            self.item(i).setSizeHint(QSize(cell_w, cell_h))
        room = max(self.viewport().width(), cell_w)
        across = max(1, room // cell_w)
        self.setFixedHeight(math.ceil(max(self.count(), 1) / across) * cell_h + 6)

    def resizeEvent(self, event: object) -> None:
        """Another width may mean another number of rows."""
        super().resizeEvent(event)  # type: ignore[arg-type]
        self._fit_height()

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Enter takes the current picture."""
        if event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter, Qt.Key.Key_Space):
            if self.currentRow() >= 0:
                self.taken.emit(self.currentRow())
            return
        super().keyPressEvent(event)

    def _clicked(self, item: QListWidgetItem) -> None:
        self.taken.emit(self.row(item))
