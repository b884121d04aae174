"""The one drawing surface: zoom, pan, rulers, hover, rubber band.

A stage puts items into ``canvas.scene`` and gives the canvas a :class:`Handler` that hears of
presses, drags and keys in drawing coordinates. What the handler does not take, the canvas does
itself: an empty press draws a rubber band, the middle button or space pans, the wheel zooms.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence

from PySide6.QtCore import (
    QEasingCurve,
    QPoint,
    QPointF,
    QRectF,
    QSize,
    Qt,
    QVariantAnimation,
    Signal,
)
from PySide6.QtGui import (
    QAction,
    QKeySequence,
    QTransform,
)
from PySide6.QtWidgets import (
    QFrame,
    QGraphicsItem,
    QGraphicsScene,
    QGridLayout,
    QHBoxLayout,
    QLabel,
    QToolButton,
    QWidget,
)

from app import theme
from app.canvas.handler import DRAG_START_PX, Handler, Pointer
from app.canvas.rulers import Ruler, RulerCorner
from app.canvas.viewport import WHEEL_ZOOM, Viewport
from app.i18n import tr

MOST_PX_PER_MM = 400.0
LEAST_PX_PER_MM = 0.005

__all__ = ["DRAG_START_PX", "Canvas", "Handler", "Pointer"]


class Canvas(QWidget):
    """View, rulers and the zoom buttons.

    ``scaled(px_per_mm)`` tells items that depend on the zoom; ``viewed`` any change of what is
    seen, ``recolored`` that colours or the size of text are others. Shortcuts: Ctrl+0 fit, Z
    zoom to selection, + and − zoom.
    """

    scaled = Signal(float)
    viewed = Signal()
    recolored = Signal()

    def __init__(self, name: str, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.handler = Handler()
        self.keyboard_focus = False
        self.scene = QGraphicsScene(self)
        # The floor is boundless: a fixed large scene keeps panning free of bounds.
        self.scene.setSceneRect(QRectF(-1e6, -1e6, 2e6, 2e6))
        self.scene.setItemIndexMethod(QGraphicsScene.ItemIndexMethod.NoIndex)
        self.view = Viewport(self, self.scene)
        self.view.setAccessibleName(name)
        self.setFocusProxy(self.view)
        self._unit = "mm"
        self._origin = (0.0, 0.0)
        self._span: QRectF | None = None
        self._px_per_mm = 1.0
        self._offset = QPointF(40, 40)  # viewport place of the drawing's (0, 0)
        self._fit_area: Callable[[], QRectF] = self._content_rect
        self._auto_fit = True
        self._covered_px = 0
        self._motion: QVariantAnimation | None = None
        grid = QGridLayout(self)
        grid.setContentsMargins(0, 0, 0, 0)
        grid.setSpacing(0)
        self.top_ruler = Ruler(vertical=False)
        self.left_ruler = Ruler(vertical=True)
        self.corner = RulerCorner()
        grid.addWidget(self.corner, 0, 0)
        grid.addWidget(self.top_ruler, 0, 1)
        grid.addWidget(self.left_ruler, 1, 0)
        grid.addWidget(self.view, 1, 1)
        self._callout = QLabel(self.view)
        self._callout.setAttribute(Qt.WidgetAttribute.WA_TransparentForMouseEvents)
        self._callout.setTextFormat(Qt.TextFormat.PlainText)
        self._callout.setMargin(theme.TIGHT)
        self._callout.hide()
        self._make_actions()
        self._place_transform()
        theme.watcher().changed.connect(self.recolor)
        self.recolor()

    def _make_actions(self) -> None:
        self.buttons = QFrame(self.view)
        self.buttons.setProperty("card", True)
        row = QHBoxLayout(self.buttons)
        row.setContentsMargins(2, 2, 2, 2)
        row.setSpacing(0)
        self._actions: list[tuple[QToolButton, str]] = []
        for text, icon, keys, slot in (
            (tr("Zoom out"), "zoom-out", ["-"], self.zoom_out),
            (tr("Show everything"), "fit", ["Ctrl+0", "Home"], self.fit),
            (tr("Zoom to the selection"), "loupe", ["Z"], self.zoom_to_selection),
            (tr("Zoom in"), "zoom-in", ["+", "="], self.zoom_in),
        ):
            action = QAction(text, self)
            action.setShortcuts([QKeySequence(k) for k in keys])
            action.setShortcutContext(Qt.ShortcutContext.WidgetWithChildrenShortcut)
            action.triggered.connect(slot)
            self.addAction(action)
            button = QToolButton()
            button.setDefaultAction(action)
            button.setToolTip(f"{text} ({QKeySequence(keys[0]).toString()})")
            button.setAccessibleName(text)
            button.setIconSize(QSize(20, 20))
            button.setFocusPolicy(Qt.FocusPolicy.NoFocus)
            row.addWidget(button)
            self._actions.append((button, icon))

    # --- colours --------------------------------------------------------------------------
    def recolor(self) -> None:
        """Take the colours in force."""
        self.scene.setBackgroundBrush(theme.color("desk"))
        side = max(20, theme.icon_px())
        for button, icon in self._actions:
            button.defaultAction().setIcon(theme.icon(icon))
            button.setIconSize(QSize(side, side))
        paper, ink, line = theme.color("paper"), theme.color("ink"), theme.color("control")
        self._callout.setStyleSheet(
            f"background:{paper.name()}; color:{ink.name()}; border:1px solid {line.name()};"
            "border-radius:3px;"
        )
        for item in self.scene.items():
            recolor = getattr(item, "recolor", None)
            if recolor is not None:
                recolor()
        self.update()
        self.recolored.emit()

    # --- unit and rulers ------------------------------------------------------------------
    def set_unit(self, unit: str) -> None:
        """The unit the rulers show."""
        self._unit = unit
        self.corner.set_unit(unit)
        self._update_rulers()

    def set_ruler_origin(self, x_mm: float, y_mm: float) -> None:
        """Where in the drawing the rulers read zero."""
        if (x_mm, y_mm) != self._origin:
            self._origin = (x_mm, y_mm)
            self._update_rulers()
            self._show_span()

    def set_ruler_span(self, rect: QRectF | None) -> None:
        """Shade the selection's stretch on both rulers, wherever they read zero."""
        self._span = None if rect is None or rect.isNull() else QRectF(rect)
        self._show_span()

    def _show_span(self) -> None:
        rect, (ox, oy) = self._span, self._origin
        self.top_ruler.set_span(None if rect is None else (rect.left() - ox, rect.right() - ox))
        self.left_ruler.set_span(None if rect is None else (rect.top() - oy, rect.bottom() - oy))

    def pointer_at(self, position: QPointF | None) -> None:
        """Mark the pointer on the rulers."""
        self.top_ruler.set_pointer(None if position is None else position.x())
        self.left_ruler.set_pointer(None if position is None else position.y())

    def _update_rulers(self) -> None:
        left, bottom = self.to_mm(QPointF(0, self.view.viewport().height()))
        self.top_ruler.set_view(left - self._origin[0], self._px_per_mm, self._unit)
        self.left_ruler.set_view(bottom - self._origin[1], self._px_per_mm, self._unit)

    # --- coordinates ----------------------------------------------------------------------
    @property
    def px_per_mm(self) -> float:
        """The scale: logical pixels per millimetre."""
        return self._px_per_mm

    def mm(self, px: float) -> float:
        """How many millimetres a length on screen is."""
        return px / self._px_per_mm

    def to_mm(self, position: QPointF) -> tuple[float, float]:
        """Drawing coordinates of a place on the viewport."""
        return (
            (position.x() - self._offset.x()) / self._px_per_mm,
            (self._offset.y() - position.y()) / self._px_per_mm,
        )

    def to_px(self, x_mm: float, y_mm: float) -> QPointF:
        """Place on the viewport of a point of the drawing."""
        return QPointF(
            self._offset.x() + x_mm * self._px_per_mm, self._offset.y() - y_mm * self._px_per_mm
        )

    def visible_rect(self) -> QRectF:
        """The part of the drawing that is seen, mm."""
        size = self.view.viewport().size()
        left, bottom = self.to_mm(QPointF(0, size.height()))
        return QRectF(left, bottom, self.mm(size.width()), self.mm(size.height()))

    # --- zoom and pan ---------------------------------------------------------------------
    def set_fit_area(self, area: Callable[[], QRectF]) -> None:
        """What "show everything" shows; by default all items."""
        self._fit_area = area

    def _content_rect(self) -> QRectF:
        return self.scene.itemsBoundingRect()

    def fit(self) -> None:
        """Show everything, and keep doing so while the window changes size."""
        self._auto_fit = True
        self.show_rect(self._fit_area(), keep_fitting=True)

    def fit_now(self) -> None:
        """Show everything at once, without gliding there."""
        self._auto_fit = True
        self.show_rect(self._fit_area(), glide=False, keep_fitting=True)

    def zoom_to_selection(self) -> None:
        """Show what is selected; everything if nothing is."""
        rect = self.handler.selection_rect()
        if rect.isEmpty():
            self.fit()
        else:
            self.show_rect(rect)

    def show_rect(
        self, rect: QRectF, *, glide: bool = True, keep_fitting: bool = False, margin_px: float = 36
    ) -> None:
        """Bring an area of the drawing (mm) into view with a margin."""
        if rect.isEmpty():
            return
        self._auto_fit = keep_fitting
        # What stands above and below in letters keeps its size on the screen.
        margin_px = max(margin_px, 1.6 * self.fontMetrics().height())
        room = QRectF(self.view.viewport().rect())
        if room.width() - self._covered_px >= room.width() / 2:
            room.setWidth(room.width() - self._covered_px)
        scale, offset = self._fitted(rect, room, margin_px)
        buttons = QRectF(self.buttons.geometry()).adjusted(-theme.TIGHT, -theme.TIGHT, 0, 0)
        shown = QRectF(
            offset.x() + rect.left() * scale,
            offset.y() - rect.bottom() * scale,
            rect.width() * scale,
            rect.height() * scale + (margin_px / 2 if keep_fitting else 0),
        )
        if shown.intersects(buttons):
            rise = min(room.bottom() - buttons.top() - margin_px / 2, room.height() / 3)
            # What was asked for stays in the middle; everything may move up a little.
            room.adjust(0, 0 if keep_fitting else rise, 0, -rise)
            scale, offset = self._fitted(rect, room, margin_px)
        self._go(scale, offset, glide=glide)

    def _fitted(self, rect: QRectF, room: QRectF, margin_px: float) -> tuple[float, QPointF]:
        """Scale and offset that show an area of the drawing in the middle of a room of pixels."""
        wide = max(room.width() - 2 * margin_px, 40)
        high = max(room.height() - 2 * margin_px, 40)
        scale = self._bounded(min(wide / rect.width(), high / rect.height()))
        there, middle = room.center(), rect.center()
        return scale, QPointF(there.x() - middle.x() * scale, there.y() + middle.y() * scale)

    def set_covered(self, right_px: int) -> None:
        """So much of the right of the drawing lies below something else: the buttons stand
        beside it, and what is fitted is fitted into the rest."""
        if right_px != self._covered_px:
            self._covered_px = right_px
            self.resized()

    def zoom_in(self) -> None:
        """One step nearer, about the middle."""
        self.zoom_by(WHEEL_ZOOM)

    def zoom_out(self) -> None:
        """One step away, about the middle."""
        self.zoom_by(1 / WHEEL_ZOOM)

    def zoom_by(self, factor: float, about: QPointF | None = None, *, glide: bool = True) -> None:
        """Scale by factor; the point of the drawing under ``about`` stays where it is."""
        if about is None:
            about = QPointF(self.view.viewport().rect().center())
        self._auto_fit = False
        scale, offset = self._goal()
        new = self._bounded(scale * factor)
        ratio = new / scale
        there = QPointF(
            about.x() + (offset.x() - about.x()) * ratio,
            about.y() + (offset.y() - about.y()) * ratio,
        )
        self._go(new, there, glide=glide)

    def pan_px(self, dx: float, dy: float) -> None:
        """Move the drawing by pixels."""
        self.stop_motion()
        self._auto_fit = False
        self._set(self._px_per_mm, self._offset + QPointF(dx, dy))

    def centre_on(self, x_mm: float, y_mm: float) -> None:
        """Bring a point to the middle without changing the scale."""
        self._auto_fit = False
        middle = QPointF(self.view.viewport().rect().center())
        offset = QPointF(middle.x() - x_mm * self._px_per_mm, middle.y() + y_mm * self._px_per_mm)
        self._go(self._px_per_mm, offset)

    def stop_motion(self) -> None:
        """End a glide at its goal."""
        if self._motion is not None:
            goal = self._motion.property("goal")
            self._motion.stop()
            self._motion = None
            self._set(*goal)

    def _goal(self) -> tuple[float, QPointF]:
        if self._motion is not None:
            scale, offset = self._motion.property("goal")
            return scale, offset
        return self._px_per_mm, self._offset

    @staticmethod
    def _bounded(scale: float) -> float:
        return min(MOST_PX_PER_MM, max(LEAST_PX_PER_MM, scale))

    def _go(self, scale: float, offset: QPointF, *, glide: bool = True) -> None:
        time_ms = theme.motion_ms()
        if self._motion is not None:
            self._motion.stop()
            self._motion = None
        if not glide or not time_ms or not self.isVisible():
            self._set(scale, offset)
            return
        start_scale, start_offset = self._px_per_mm, QPointF(self._offset)
        motion = QVariantAnimation(self)
        motion.setDuration(round(time_ms * 0.8))
        motion.setStartValue(0.0)
        motion.setEndValue(1.0)
        motion.setEasingCurve(QEasingCurve.Type.OutCubic)
        motion.setProperty("goal", (scale, QPointF(offset)))

        def step(share: float) -> None:
            # The point that must not move does not, if scale and offset go by one rule.
            now = start_scale * math.pow(scale / start_scale, share)
            if abs(scale - start_scale) > 1e-12:
                part = (now - start_scale) / (scale - start_scale)
            else:
                part = share
            self._set(now, start_offset + (offset - start_offset) * part)

        motion.valueChanged.connect(step)
        motion.finished.connect(self._moved)
        self._motion = motion
        motion.start(QVariantAnimation.DeletionPolicy.DeleteWhenStopped)

    def _moved(self) -> None:
        self._motion = None

    def _set(self, scale: float, offset: QPointF) -> None:
        rescaled = scale != self._px_per_mm
        self._px_per_mm, self._offset = scale, QPointF(offset)
        self._place_transform()
        self._update_rulers()
        if rescaled:
            self.scaled.emit(scale)
        self.viewed.emit()

    def _place_transform(self) -> None:
        """Put scale and offset into the view; scroll bars only carry whole pixels, so they stay
        at rest and the transform carries all of it."""
        view = self.view
        transform = QTransform(self._px_per_mm, 0, 0, -self._px_per_mm, 0, 0)
        view.setTransform(transform)
        horizontal, vertical = view.horizontalScrollBar(), view.verticalScrollBar()
        horizontal.setValue(round(-self._offset.x()))
        vertical.setValue(round(-self._offset.y()))
        # Keep our own idea of the offset in step with the whole pixels the view can show.
        self._offset = QPointF(-horizontal.value(), -vertical.value())

    def resized(self) -> None:
        """The viewport has another size."""
        size = self.view.viewport().size()
        hint = self.buttons.sizeHint()
        self.buttons.setGeometry(
            max(0, size.width() - self._covered_px - hint.width() - theme.NORMAL),
            size.height() - hint.height() - theme.NORMAL,
            hint.width(),
            hint.height(),
        )
        if self._auto_fit and not self.view.holding:
            self.show_rect(self._fit_area(), glide=False, keep_fitting=True)
        else:
            self._place_transform()
        self._update_rulers()
        self.viewed.emit()

    # --- hover ----------------------------------------------------------------------------
    def show_hover(self, text: str, px: QPoint) -> None:
        """A small note beside the pointer; "" takes it away."""
        if not text:
            self._callout.hide()
            return
        if text != self._callout.text():
            self._callout.setText(text)
        room = self.view.viewport().size()
        self._callout.setWordWrap(False)
        size = self._callout.sizeHint()
        if size.width() > room.width() - 4:
            self._callout.setWordWrap(True)
            wide = max(40, room.width() - 4)
            size = QSize(wide, self._callout.heightForWidth(wide))
        self._callout.resize(size)
        x = px.x() + 18 if px.x() + 18 + size.width() < room.width() else px.x() - 12 - size.width()
        y = (
            px.y() + 18
            if px.y() + 18 + size.height() < room.height()
            else px.y() - 12 - size.height()
        )
        self._callout.move(max(2, x), max(2, y))
        self._callout.raise_()  # above the buttons too
        self._callout.show()

    @property
    def hover_text(self) -> str:
        """What the note beside the pointer says; "" while there is none."""
        return self._callout.text() if self._callout.isVisible() else ""

    def items_at(self, pointer: Pointer) -> Sequence[QGraphicsItem]:
        """Items under the pointer, topmost first."""
        return self.view.items(pointer.px)
