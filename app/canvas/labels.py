"""Texts on a drawing that keep their size on the screen."""

from __future__ import annotations

from functools import lru_cache

from PySide6.QtCore import QPointF, QRectF, QSizeF, Qt
from PySide6.QtGui import (
    QColor,
    QFont,
    QFontMetricsF,
    QPainter,
    QPixmap,
)
from PySide6.QtWidgets import QApplication, QGraphicsItem, QStyleOptionGraphicsItem, QWidget

from app import theme
from app.canvas.stacking import Z_LABEL
from core.geometry import Point


@lru_cache(maxsize=64)
def _icon(name: str, meaning: str, _rgb: str, size_px: int, ratio: float) -> QPixmap:
    """An icon in the colour in force, drawn once and not at every painting."""
    return theme.pixmap(name, meaning, size_px, ratio)


def two_lines(text: str) -> str:
    """The text broken where its halves are most alike, as it is if it has no gap."""
    words = text.split(" ")
    ways = [(" ".join(words[:n]), " ".join(words[n:])) for n in range(1, len(words))]
    if not ways:
        return text
    first, second = min(ways, key=lambda way: max(len(way[0]), len(way[1])))
    return f"{first}\n{second}"


class LabelItem(QGraphicsItem):
    """A text that keeps its size on screen; hidden where it would not fit its room.

    room_mm: width and height it must fit within, None for always. short: a text to fall back
    on where the full one does not fit. elide: show the beginning with … before nothing at all.
    clear_px: of the room's width, what must stay free beside the text.
    """

    def __init__(
        self,
        text: str,
        at: Point,
        *,
        meaning: str = "ink",
        room_mm: tuple[float, float] | None = None,
        plate: bool = False,
        align: Qt.AlignmentFlag = Qt.AlignmentFlag.AlignCenter,
        bold: bool = False,
        icon: str = "",
        short: str = "",
        elide: bool = False,
        clear_px: float = 0.0,
        parent: QGraphicsItem | None = None,
    ) -> None:
        super().__init__(parent)
        self._sizes: dict[str, QSizeF] = {}
        self._elide = elide
        self._clear_px = clear_px
        self.setFlag(QGraphicsItem.GraphicsItemFlag.ItemIgnoresTransformations)
        self.setAcceptedMouseButtons(Qt.MouseButton.NoButton)
        self._full, self._short = text, short
        self._text = text
        self._icon = icon
        self._meaning = meaning
        self._room = room_mm
        self._plate = plate
        self._align = align
        self._bold = bold
        self._scale: float | None = None
        self.ground: QColor | None = None  # behind the text, so that holes do not run through it
        self._take_font()
        self._place()
        self.setPos(*at)
        self.setZValue(Z_LABEL)

    def _take_font(self) -> None:
        self._font = QFont(QApplication.font())
        self._font.setBold(self._bold)
        self._metrics = QFontMetricsF(self._font)
        self._few_px = 3 * self._metrics.averageCharWidth()
        self._sizes.clear()

    def _size_of(self, text: str) -> QSizeF:
        """Width and height a text takes with its icon and plate."""
        size = self._sizes.get(text)
        if size is None:
            size = self._metrics.boundingRect(QRectF(0, 0, 2000, 2000), 0, text).size()
            self._sizes[text] = size
        pad = 3.0 if self._plate else 0.0
        icon = round(self._metrics.height()) if self._icon else 0
        return QSizeF(size.width() + 2 * pad + 2 + icon, size.height() + 2 * pad)

    def _place(self) -> None:
        size = self._size_of(self._text)
        self._icon_px = round(self._metrics.height()) if self._icon else 0
        wide, high = size.width(), size.height()
        x, y = -wide / 2, -high / 2
        if self._align & Qt.AlignmentFlag.AlignLeft:
            x = 0.0
        elif self._align & Qt.AlignmentFlag.AlignRight:
            x = -wide
        if self._align & Qt.AlignmentFlag.AlignTop:
            y = 0.0
        elif self._align & Qt.AlignmentFlag.AlignBottom:
            y = -high
        self._rect = QRectF(x, y, wide, high)
        self._bounds = self._rect.adjusted(-1, -1, 1, 1)

    @property
    def text(self) -> str:
        """The full text."""
        return self._full

    def set_text(self, text: str) -> None:
        """Show another text."""
        self._full = text
        self._use(text)

    def set_short(self, text: str) -> None:
        """What to show where the full text does not fit."""
        self._short = text

    def _use(self, text: str) -> None:
        if text != self._text:
            self.prepareGeometryChange()
            self._text = text
            self._place()

    def set_icon(self, icon: str) -> None:
        """Show one of our icons before the text; "" for none."""
        if icon != self._icon:
            self.prepareGeometryChange()
            self._icon = icon
            self._place()

    def set_align(self, align: Qt.AlignmentFlag) -> None:
        """Which side of the text its place is."""
        if align != self._align:
            self.prepareGeometryChange()
            self._align = align
            self._place()

    def set_room(self, room_mm: tuple[float, float] | None) -> None:
        """Width and height the text must fit within to be shown."""
        self._room = room_mm

    def set_scale_px(self, px_per_mm: float) -> None:
        """Show or hide for a zoom."""
        self._scale = px_per_mm
        if self._room is None:
            return
        wide, high = self._room[0] * px_per_mm - self._clear_px, self._room[1] * px_per_mm
        for text in (self._full, self._short):
            size = self._size_of(text)
            if text and size.width() <= wide and size.height() <= high:
                break
        else:
            text = self._beginning(wide, high) if self._elide else ""
        if text:
            self._use(text)
        self.setVisible(bool(text))

    def shorten(self) -> bool:
        """Use the short text instead; False if there is none that is another and fits."""
        if not self._short or self._short == self._text or self._scale is None:
            return False
        size, room = self._size_of(self._short), self._room
        if room is not None and (
            size.width() > room[0] * self._scale - self._clear_px
            or size.height() > room[1] * self._scale
        ):
            return False
        self._use(self._short)
        return True

    def _beginning(self, wide: float, high: float) -> str:
        """As much of the text as the room takes, "" where it would be less than three letters."""
        if wide < self._few_px:
            return ""
        around = self._size_of("…")
        room = wide - around.width()
        if around.height() > high or room < self._few_px:
            return ""
        return self._metrics.elidedText(
            self._full, Qt.TextElideMode.ElideRight, room + self._metrics.horizontalAdvance("…")
        )

    def boundingRect(self) -> QRectF:
        return self._bounds

    def paint(
        self, painter: QPainter, option: QStyleOptionGraphicsItem, widget: QWidget | None = None
    ) -> None:
        painter.setFont(self._font)
        if self._plate:
            plate = theme.color("paper")
            plate.setAlpha(225)
            painter.setPen(Qt.PenStyle.NoPen)
            painter.setBrush(plate)
            painter.drawRoundedRect(self._rect, 3, 3)
        elif self.ground is not None:
            painter.setPen(Qt.PenStyle.NoPen)
            painter.setBrush(self.ground)
            painter.drawRoundedRect(self._rect, 3, 3)
        painter.setPen(theme.color(self._meaning))
        rect = self._rect
        if self._icon_px:
            ratio = painter.device().devicePixelRatioF()
            rgb = theme.color(self._meaning).name()
            pixmap = _icon(self._icon, self._meaning, rgb, self._icon_px, ratio)
            top = rect.center().y() - self._icon_px / 2
            painter.drawPixmap(QPointF(rect.left(), top), pixmap)
            rect = rect.adjusted(self._icon_px, 0, 0, 0)
        painter.drawText(rect, Qt.AlignmentFlag.AlignCenter, self._text)

    def recolor(self) -> None:
        """Colours are taken anew at every painting; text may have another size."""
        if self._font.pointSizeF() != QApplication.font().pointSizeF():
            self.prepareGeometryChange()
            self._take_font()
            self._place()
            if self._scale is not None:
                self.set_scale_px(self._scale)
        self.update()


_TOUCH_PX = 3.0  # how far two labels may come into each other's edge


def place_of(label: LabelItem, px_per_mm: float) -> QRectF:
    """What a label must have for itself at a scale, mm of the drawing."""
    box = label.boundingRect().adjusted(_TOUCH_PX, _TOUCH_PX, -_TOUCH_PX, -_TOUCH_PX)
    at = label.scenePos()
    # On the screen y goes down: what is below the place there is less here.
    return QRectF(
        at.x() + box.left() / px_per_mm,
        at.y() - box.bottom() / px_per_mm,
        box.width() / px_per_mm,
        box.height() / px_per_mm,
    )
