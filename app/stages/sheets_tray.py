"""The tray: copies that lie on no sheet, to be dragged out or placed at once."""

from __future__ import annotations

from PySide6.QtCore import QPoint, QRectF, QSize, Qt, Signal
from PySide6.QtGui import QIcon, QKeyEvent, QMouseEvent, QPainter, QPainterPath, QPixmap
from PySide6.QtWidgets import QApplication, QListWidget, QListWidgetItem, QWidget

from app import theme
from app.canvas import items, paths
from app.canvas.lengths import glance_size
from app.i18n import tr
from app.stages.sheets_model import Bench, Key

THUMB = QSize(72, 52)


def thumbnail(path: QPainterPath, tint: int, *, ratio: float = 1.0, size: QSize = THUMB) -> QPixmap:
    """A piece in its tint, as large as fits, the right way up."""
    image = QPixmap(size * ratio)
    image.setDevicePixelRatio(ratio)
    image.fill(Qt.GlobalColor.transparent)
    box = path.boundingRect()
    if box.isEmpty():
        return image
    painter = QPainter(image)
    painter.setRenderHint(QPainter.RenderHint.Antialiasing, True)
    scale = min((size.width() - 6) / box.width(), (size.height() - 6) / box.height())
    painter.translate(size.width() / 2, size.height() / 2)
    painter.scale(scale, -scale)
    painter.translate(-box.center().x(), -box.center().y())
    painter.setPen(items.cosmetic(theme.color("piece.outline")))
    painter.setBrush(theme.tint(tint))
    painter.drawPath(path)
    painter.end()
    return image


class Tray(QListWidget):
    """One row per piece with the number of copies left.

    Dragging a row hands it over with global positions, so that the real piece follows the
    pointer over the floor: lifted(piece id), carried(global), dropped(global). Enter, or a
    double click, asks for the best place at once: wanted(piece id).
    """

    lifted = Signal(str)
    carried = Signal(QPoint, object)
    dropped = Signal(QPoint, object)
    wanted = Signal(str)
    gave_up = Signal()

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setAccessibleName(tr("Tray: pieces that lie on no sheet"))
        self.setToolTip(
            tr("Drag a piece onto a sheet, or press Enter to put it in the best place at once.")
        )
        self.setIconSize(THUMB)
        self.setWordWrap(True)
        self.setUniformItemSizes(False)
        self.setSpacing(1)
        self.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self._from: QPoint | None = None
        self._carrying = False
        self._shown: tuple[object, ...] = ()
        theme.watcher().changed.connect(self._recolor)
        self._bench: Bench | None = None
        self._unit = "mm"
        self.itemDoubleClicked.connect(self._double)

    def show_bench(self, bench: Bench, unit: str) -> None:
        """List what lies nowhere."""
        self._bench, self._unit = bench, unit
        rows = tuple(
            (piece, count, bench.pieces[piece].digest or id(bench.pieces[piece].cut))
            for piece, count in bench.tray_counts.items()
        )
        stamp = (rows, unit, theme.is_dark())
        if stamp == self._shown:
            return
        self._shown = stamp
        current = self.current_piece()
        self.clear()
        ratio = self.devicePixelRatioF()
        for piece_id, count in bench.tray_counts.items():
            piece = bench.pieces[piece_id]
            width, height = piece.cut.size_mm
            lines = [piece.name if count == 1 else f"{piece.name}  × {count}"]
            lines.append(glance_size(width, height, unit))
            item = QListWidgetItem("\n".join(lines))
            icon = thumbnail(
                paths.region_path(piece.cut), bench.tints.get(piece.panel, 0), ratio=ratio
            )
            chosen = QIcon(icon)
            chosen.addPixmap(icon, QIcon.Mode.Selected)  # its tint means something
            item.setIcon(chosen)
            item.setData(Qt.ItemDataRole.UserRole, piece_id)
            item.setData(
                Qt.ItemDataRole.AccessibleTextRole,
                tr("{name}, {n} to place").format(name=piece.name, n=count),
            )
            item.setToolTip(f"{lines[0]} · {lines[1]} · {piece.material}")
            self.addItem(item)
            if piece_id == current:
                self.setCurrentItem(item)

    def _recolor(self) -> None:
        if self._bench is not None:
            self.show_bench(self._bench, self._unit)

    def current_piece(self) -> str | None:
        """The piece of the current row."""
        item = self.currentItem()
        return None if item is None else str(item.data(Qt.ItemDataRole.UserRole))

    def next_copy(self, piece_id: str) -> Key | None:
        """The lowest copy of a piece that is in the tray."""
        if self._bench is None:
            return None
        return next((key for key in self._bench.tray if key[0] == piece_id), None)

    def _double(self, item: QListWidgetItem) -> None:
        self.wanted.emit(str(item.data(Qt.ItemDataRole.UserRole)))

    def mousePressEvent(self, event: QMouseEvent) -> None:
        """A press on a row may become a drag."""
        super().mousePressEvent(event)
        if event.button() == Qt.MouseButton.LeftButton and self.itemAt(event.position().toPoint()):
            self._from = event.position().toPoint()

    def mouseMoveEvent(self, event: QMouseEvent) -> None:
        """Carry the piece: the list keeps the mouse while the button is down."""
        if self._from is None:
            super().mouseMoveEvent(event)
            return
        if not self._carrying:
            far = (event.position().toPoint() - self._from).manhattanLength()
            item = self.itemAt(self._from)
            if far < QApplication.startDragDistance() or item is None:
                return
            self._carrying = True
            self.lifted.emit(str(item.data(Qt.ItemDataRole.UserRole)))
        self.carried.emit(event.globalPosition().toPoint(), event.modifiers())

    def mouseReleaseEvent(self, event: QMouseEvent) -> None:
        """Put the piece down."""
        carrying, self._carrying, self._from = self._carrying, False, None
        if carrying:
            self.dropped.emit(event.globalPosition().toPoint(), event.modifiers())
            return
        super().mouseReleaseEvent(event)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Enter places the current piece; Escape gives up a drag."""
        if event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter):
            piece = self.current_piece()
            if piece is not None:
                self.wanted.emit(piece)
                return
        if event.key() == Qt.Key.Key_Escape and self._carrying:
            self._carrying, self._from = False, None
            self.gave_up.emit()
            return
        super().keyPressEvent(event)

    def paintEvent(self, event: object) -> None:
        """The rows, or a sentence when everything lies on a sheet."""
        super().paintEvent(event)  # type: ignore[arg-type]
        if self.count():
            return
        painter = QPainter(self.viewport())
        painter.setPen(theme.color("muted"))
        text = (
            tr("Everything lies on a sheet.")
            if self._bench is not None and self._bench.copies
            else tr("Pieces to be laid out appear here.")
        )
        rect = QRectF(self.viewport().rect()).adjusted(8, 8, -8, -8)
        painter.drawText(rect, Qt.AlignmentFlag.AlignCenter | Qt.TextFlag.TextWordWrap, text)
        painter.end()
