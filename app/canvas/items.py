"""What is drawn: boards, pieces, seams, blanks, saw cuts, offcuts, clamp zones, the bed.

Items are built in mm with y up. Lines are cosmetic and at most one pixel wide except on what is
selected, which keeps the raster viewport quick. Every item has ``recolor`` for a change of
light and dark.
"""

from __future__ import annotations

from functools import lru_cache

from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import (
    QBrush,
    QColor,
    QGuiApplication,
    QPainter,
    QPainterPath,
    QPen,
    QPixmap,
    QTransform,
)
from PySide6.QtWidgets import (
    QGraphicsItem,
    QGraphicsPathItem,
    QStyleOptionGraphicsItem,
    QWidget,
)

from app import theme
from app.canvas import as_lines, paths
from app.canvas.labels import LabelItem, two_lines
from app.canvas.stacking import Z_MARKS, Z_OVERLAY, Z_PIECE
from core.geometry import Motion, Point, Region

PATTERNS = 5
_GROUND_ALPHA = 215  # of the ground behind a piece's label: what lies below still shows
_PATTERN_PX = 12.0  # a piece narrower than that on screen shows no whole repeat of a pattern


def screen_ratio() -> float:
    """How many pixels of the finest screen go into one of the window's."""
    app = QGuiApplication.instance()
    return app.devicePixelRatio() if isinstance(app, QGuiApplication) else 1.0


def cosmetic(color: QColor, width: float = 1.0, style: Qt.PenStyle | None = None) -> QPen:
    """A pen that is width pixels wide at every zoom.

    Qt counts the pixels of the screen. A plain line stays one of them, which is drawn quickly
    and looks fine; what is to stand out is as wide as it looks on a screen of 100 %.
    """
    pen = QPen(color, width * screen_ratio() if width > 1.0 else width)
    pen.setCosmetic(True)
    if style is not None:
        pen.setStyle(style)
    return pen


@lru_cache(maxsize=64)
def _tile(kind: str, rgb: str, ratio: float) -> QPixmap:
    """A small repeating picture for a pattern or hatch, on clear ground; ratio: how many
    pixels of the screen go into one of its units."""
    size = {"dots": 9, "hatch": 9, "cross-hatch": 10, "scrap": 14}.get(kind, 12)
    side = round(size * ratio)
    tile = QPixmap(side, side)
    tile.fill(Qt.GlobalColor.transparent)
    painter = QPainter(tile)
    painter.scale(side / size, side / size)
    painter.setRenderHint(QPainter.RenderHint.Antialiasing, True)
    color = QColor(rgb)
    painter.setPen(QPen(color, 1))
    if kind in ("hatch", "scrap", "cross-hatch"):
        for shift in (-size, 0, size):
            painter.drawLine(QPointF(shift, size), QPointF(shift + size, 0))
    if kind == "cross-hatch":
        for shift in (-size, 0, size):
            painter.drawLine(QPointF(shift, 0), QPointF(shift + size, size))
    if kind == "back":
        for shift in (-size, 0, size):
            painter.drawLine(QPointF(shift, 0), QPointF(shift + size, size))
    if kind == "level":
        painter.drawLine(QPointF(0, size / 2), QPointF(size, size / 2))
    if kind == "upright":
        painter.drawLine(QPointF(size / 2, 0), QPointF(size / 2, size))
    if kind == "dots":
        painter.setPen(Qt.PenStyle.NoPen)
        painter.setBrush(color)
        painter.drawEllipse(QPointF(size / 2, size / 2), 1.1, 1.1)
    painter.end()
    return tile


def hatch(kind: str, color: QColor, ratio: float = 1.0) -> QBrush:
    """A hatch brush: "hatch", "cross-hatch", "scrap", "back", "level", "upright" or "dots".

    Its picture has ratio pixels a unit, to be scaled down by as much when painted.
    """
    return QBrush(_tile(kind, color.name(), ratio))


def _pattern_of(index: int) -> str:
    """The pattern that tells the index-th panel from others of like tint."""
    return ("", "dots", "hatch", "level", "back", "upright")[index % (PATTERNS + 1)]


class PathItem(QGraphicsPathItem):
    """An outline drawn by meanings: a pen, a fill, a hatch over it."""

    def __init__(
        self,
        path: QPainterPath,
        *,
        line: str | None = "ink",
        fill: str | None = None,
        hatch_kind: str = "",
        hatch_color: str = "muted",
        opacity: float = 1.0,
        width: float = 1.0,
        style: Qt.PenStyle | None = None,
        z: float = Z_MARKS,
        parent: QGraphicsItem | None = None,
    ) -> None:
        super().__init__(path, parent)
        self._line, self._fill = line, fill
        self._hatch_kind, self._hatch_color = hatch_kind, hatch_color
        self._width, self._style, self._alpha = width, style, opacity
        self.setZValue(z)
        self.setAcceptedMouseButtons(Qt.MouseButton.NoButton)
        self.recolor()

    def recolor(self) -> None:
        """Take the colours in force."""
        if self._line is None:
            self.setPen(QPen(Qt.PenStyle.NoPen))
        else:
            self.setPen(cosmetic(theme.color(self._line), self._width, self._style))
        if self._fill is None:
            self.setBrush(QBrush(Qt.BrushStyle.NoBrush))
        else:
            color = theme.color(self._fill)
            color.setAlphaF(self._alpha)
            self.setBrush(color)

    def paint(
        self, painter: QPainter, option: QStyleOptionGraphicsItem, widget: QWidget | None = None
    ) -> None:
        painter.setPen(self.pen())
        painter.setBrush(self.brush())
        painter.drawPath(self.path())
        if self._hatch_kind:
            paint_hatch(painter, self.path(), self._hatch_kind, theme.color(self._hatch_color))


def paint_hatch(painter: QPainter, path: QPainterPath, kind: str, color: QColor) -> None:
    """Fill path with a hatch whose lines keep their distance on screen at every zoom."""
    if as_lines.wanted():
        as_lines.hatch(painter, path, kind, color)
        return
    device = painter.device()
    ratio = device.devicePixelRatioF() if device is not None else 1.0
    brush = hatch(kind, color, ratio)
    scale = painter.worldTransform()
    undo, possible = QTransform(scale.m11(), scale.m12(), scale.m21(), scale.m22(), 0, 0).inverted()
    if possible:
        brush.setTransform(QTransform.fromScale(1 / ratio, 1 / ratio) * undo)
    painter.setPen(Qt.PenStyle.NoPen)
    painter.setBrush(brush)
    painter.drawPath(path)


class PieceItem(QGraphicsPathItem):
    """A cut piece: tint and pattern of its panel, ink outline, label.

    state: "" plain, "selected", "wrong" (red outline, whether selected or not), "locked" is
    shown by a small mark beside the label. The path is in the piece's own frame; ``lay`` puts
    it down.
    """

    def __init__(
        self,
        key: tuple[str, int],
        region: Region,
        *,
        index: int,
        label: str,
        label_at: Point | None = None,
        label_room: tuple[float, float] | None = None,
        path: QPainterPath | None = None,
        pockets: QPainterPath | None = None,
        parent: QGraphicsItem | None = None,
    ) -> None:
        self._outline = path if path is not None else paths.region_path(region)
        super().__init__(self._outline, parent)
        box = self._outline.controlPointRect()
        self._small_mm = min(box.width(), box.height())
        self.key = key
        self.region = region
        self.index = index
        self.selected = False
        self.wrong = False
        self.locked = False
        self.hovered = False
        self._pockets = pockets
        self._pattern = _pattern_of(index // 8 + index % 8)
        spot = label_at or paths.label_point(region)
        self._room = label_room or paths.label_room(region, spot)
        self.label = LabelItem(
            label, spot, room_mm=self._room, short=two_lines(label), elide=True, parent=self
        )
        self.setZValue(Z_PIECE)
        self.setAcceptedMouseButtons(Qt.MouseButton.NoButton)
        self.recolor()

    def lay(self, motion: Motion, floor: Point = (0.0, 0.0)) -> None:
        """Put the piece down: motion on its sheet, floor the sheet's own corner."""
        a, b, d, e, _, _ = motion.matrix()
        self.setTransform(QTransform(a, d, b, e, 0, 0))
        self.setPos(motion.x_mm + floor[0], motion.y_mm + floor[1])
        width, height = self._room
        if abs(a) < 1e-9:
            width, height = height, width
        elif abs(b) > 1e-9:
            width = height = min(width, height)
        self.label.set_room((width, height))

    def set_state(
        self,
        *,
        selected: bool | None = None,
        wrong: bool | None = None,
        locked: bool | None = None,
        hovered: bool | None = None,
    ) -> None:
        """Change how it is shown."""
        before = (self.selected, self.wrong, self.locked, self.hovered)
        self.selected = self.selected if selected is None else selected
        self.wrong = self.wrong if wrong is None else wrong
        self.locked = self.locked if locked is None else locked
        self.hovered = self.hovered if hovered is None else hovered
        if before == (self.selected, self.wrong, self.locked, self.hovered):
            return
        if self.locked != before[2]:
            self.label.set_icon("lock" if self.locked else "")
        self.recolor()

    def recolor(self) -> None:
        """Pen and fill for the state in the colours in force."""
        if self.wrong:
            pen = cosmetic(theme.color("stop"), 3.0 if self.selected else 2.0)
        elif self.selected:
            pen = cosmetic(theme.color("piece.selected"), 2.0)
        else:
            pen = cosmetic(theme.color("piece.outline"), 1.0)
        if self.locked and not self.wrong:
            pen.setStyle(Qt.PenStyle.DashLine)
        hot = self.hovered or self.selected
        self._pen, self._fill = pen, theme.tint(self.index, hot=hot)
        ground = QColor(self._fill)
        ground.setAlpha(_GROUND_ALPHA)
        self.label.ground = ground
        self.setPen(pen)
        self.setBrush(self._fill)
        self._line = theme.tint_line(self.index, hot=hot)
        self.update()

    def paint(
        self, painter: QPainter, option: QStyleOptionGraphicsItem, widget: QWidget | None = None
    ) -> None:
        outline = self._outline
        painter.setPen(self._pen)
        painter.setBrush(self._fill)
        painter.drawPath(outline)
        scale = option.levelOfDetailFromTransform(painter.worldTransform())
        if self._pattern and self._small_mm * scale >= _PATTERN_PX:
            paint_hatch(painter, outline, self._pattern, self._line)
        if self._pockets is not None:
            painter.setPen(cosmetic(theme.color("muted")))
            pocket = theme.color("pocket")
            pocket.setAlpha(110)
            painter.setBrush(pocket)
            painter.drawPath(self._pockets)

    # Qt's own bounds of a path item are those of its shape; the few pixels a cosmetic line
    # stands out are within what a view adds for smooth edges. A function of ours would be asked
    # for every piece at every painting.
    def shape(self) -> QPainterPath:
        return self._outline


class HandleItem(QGraphicsItem):
    """A grip of fixed size on screen.

    Round for an end, square for a middle, a diamond to curve, an arrow to turn.
    """

    def __init__(
        self, role: str, at: Point, *, shape: str = "round", parent: QGraphicsItem | None = None
    ) -> None:
        super().__init__(parent)
        self.role = role
        self._shape = shape
        self.hot = False
        self.setFlag(QGraphicsItem.GraphicsItemFlag.ItemIgnoresTransformations)
        self.setAcceptedMouseButtons(Qt.MouseButton.NoButton)
        self.setPos(*at)
        self.setZValue(Z_OVERLAY)

    def boundingRect(self) -> QRectF:
        return QRectF(-12, -12, 24, 24)

    def set_hot(self, hot: bool) -> None:
        """Show that the pointer is on it."""
        if hot != self.hot:
            self.hot = hot
            self.update()

    def recolor(self) -> None:
        """Colours are taken anew at every painting."""
        self.update()

    def paint(
        self, painter: QPainter, option: QStyleOptionGraphicsItem, widget: QWidget | None = None
    ) -> None:
        accent, paper = theme.color("accent"), theme.color("paper")
        painter.setPen(QPen(accent, 2))
        painter.setBrush(accent if self.hot else paper)
        if self._shape == "square":
            painter.drawRoundedRect(QRectF(-6, -6, 12, 12), 2, 2)
        elif self._shape == "diamond":
            painter.drawPolygon([QPointF(0, -7), QPointF(7, 0), QPointF(0, 7), QPointF(-7, 0)])
        elif self._shape == "turn":
            painter.drawEllipse(QRectF(-9, -9, 18, 18))
            painter.setBrush(Qt.BrushStyle.NoBrush)
            painter.setPen(QPen(paper if self.hot else accent, 1.5))
            painter.drawArc(QRectF(-4.5, -4.5, 9, 9), 40 * 16, 270 * 16)
            painter.drawLine(QPointF(3.4, -3.0), QPointF(3.8, -6.0))
            painter.drawLine(QPointF(3.4, -3.0), QPointF(0.6, -3.6))
        else:
            painter.drawEllipse(QRectF(-6, -6, 12, 12))


class Holder(QGraphicsItem):
    """Carries other items to a place and a height; draws nothing itself."""

    def __init__(self, z: float) -> None:
        super().__init__()
        self.setFlag(QGraphicsItem.GraphicsItemFlag.ItemHasNoContents)
        self.setAcceptedMouseButtons(Qt.MouseButton.NoButton)
        self.setZValue(z)

    def boundingRect(self) -> QRectF:
        return QRectF()

    def paint(
        self, painter: QPainter, option: QStyleOptionGraphicsItem, widget: QWidget | None = None
    ) -> None:
        """Nothing."""
