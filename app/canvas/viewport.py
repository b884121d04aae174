"""The viewport of a canvas: events in, to the handler first; rubber band, pan and zoom."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import QEvent, QPoint, QPointF, QRect, QRectF, Qt
from PySide6.QtGui import (
    QColor,
    QContextMenuEvent,
    QFocusEvent,
    QGuiApplication,
    QInputDevice,
    QKeyEvent,
    QMouseEvent,
    QNativeGestureEvent,
    QPainter,
    QPaintEvent,
    QPen,
    QResizeEvent,
    QTouchEvent,
    QWheelEvent,
)
from PySide6.QtWidgets import QFrame, QGraphicsScene, QGraphicsView

from app import theme
from app.canvas.guard import guarded
from app.canvas.handler import DRAG_START_PX, Handler, Pointer, arrow_way
from app.canvas.touch import Fingers

if TYPE_CHECKING:
    from app.canvas.view import Canvas

WHEEL_ZOOM = 1.22  # one notch of a wheel
PAN_PX = 40  # one press of an arrow
_MODIFIERS = (Qt.Key.Key_Shift, Qt.Key.Key_Control, Qt.Key.Key_Alt, Qt.Key.Key_Meta)


class Viewport(QGraphicsView):
    """The viewport. Events go to the canvas's handler first."""

    def __init__(self, canvas: Canvas, scene: QGraphicsScene) -> None:
        super().__init__(scene)
        self._canvas = canvas
        self.setViewportUpdateMode(QGraphicsView.ViewportUpdateMode.MinimalViewportUpdate)
        self.setRenderHint(QPainter.RenderHint.Antialiasing, True)
        self.setOptimizationFlag(QGraphicsView.OptimizationFlag.DontSavePainterState, True)
        self.setTransformationAnchor(QGraphicsView.ViewportAnchor.NoAnchor)
        self.setResizeAnchor(QGraphicsView.ViewportAnchor.NoAnchor)
        self.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.setVerticalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.setFrameShape(QFrame.Shape.NoFrame)
        self.setMouseTracking(True)
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self._fingers = Fingers(self)
        self._taken = False
        self._panning: QPoint | None = None
        self._space = False
        self._band_from: QPoint | None = None
        self._band: QRect | None = None

    # --- helpers --------------------------------------------------------------------------
    def pointer(self, position: QPointF, button: Qt.MouseButton, mods: object) -> Pointer:
        """Drawing coordinates of a place on the viewport, to fractions of a pixel."""
        place = self.viewportTransform().inverted()[0].map(position)
        return Pointer(place.x(), place.y(), position.toPoint(), button, mods)  # type: ignore[arg-type]

    @property
    def holding(self) -> bool:
        """True while something is in the hand: the drawing must not move under it."""
        return self._taken

    def _of(self, event: QMouseEvent) -> Pointer:
        return self.pointer(event.position(), event.button(), event.modifiers())

    @property
    def handler(self) -> Handler:
        return self._canvas.handler

    # --- mouse ----------------------------------------------------------------------------
    @guarded
    def mousePressEvent(self, event: QMouseEvent) -> None:
        self._canvas.stop_motion()
        self._show_focus(False)
        button = event.button()
        if button == Qt.MouseButton.MiddleButton or (
            button == Qt.MouseButton.LeftButton and self._space
        ):
            self._panning = event.position().toPoint()
            self.viewport().setCursor(Qt.CursorShape.ClosedHandCursor)
            return
        pointer = self._of(event)
        if button == Qt.MouseButton.RightButton:
            if self.handler.press(pointer):
                self._taken = True
            else:
                self.handler.menu(pointer)
            return
        if button != Qt.MouseButton.LeftButton:
            return
        if self.handler.press(pointer):
            self._taken = True
        else:
            self._band_from = pointer.px

    @guarded
    def mouseMoveEvent(self, event: QMouseEvent) -> None:
        self._canvas.pointer_at(event.position())
        if self._panning is not None:
            now = event.position().toPoint()
            self._canvas.pan_px(now.x() - self._panning.x(), now.y() - self._panning.y())
            self._panning = now
            return
        pointer = self._of(event)
        if self._taken:
            self.handler.drag(pointer)
        elif self._band_from is not None:
            if (pointer.px - self._band_from).manhattanLength() >= DRAG_START_PX or self._band:
                before = self._band
                self._band = QRect(self._band_from, pointer.px).normalized()
                for area in (before, self._band):
                    if area is not None:
                        self.viewport().update(area.adjusted(-2, -2, 2, 2))
        else:
            text = self.handler.hover(pointer)
            self._canvas.show_hover(text, pointer.px)

    @guarded
    def mouseReleaseEvent(self, event: QMouseEvent) -> None:
        if self._panning is not None:
            self._panning = None
            self._show_hand()
            return
        pointer = self._of(event)
        if self._taken:
            self._taken = False
            self.handler.release(pointer)
        elif self._band_from is not None:
            band, self._band, self._band_from = self._band, None, None
            adding = pointer.has(Qt.KeyboardModifier.ShiftModifier) or pointer.has(
                Qt.KeyboardModifier.ControlModifier
            )
            if band is None:
                self.handler.banded(QRectF(pointer.x_mm, pointer.y_mm, 0, 0), adding)
                return
            self.viewport().update(band.adjusted(-2, -2, 2, 2))
            back = self.viewportTransform().inverted()[0]
            self.handler.banded(back.mapRect(QRectF(band)), adding)

    @guarded
    def mouseDoubleClickEvent(self, event: QMouseEvent) -> None:
        if event.button() == Qt.MouseButton.LeftButton and self.handler.double(self._of(event)):
            return
        self.mousePressEvent(event)

    @guarded
    def contextMenuEvent(self, event: QContextMenuEvent) -> None:
        """The menu key; a right click has been dealt with as a press."""
        if event.reason() is not QContextMenuEvent.Reason.Keyboard:
            return
        chosen = self.handler.selection_rect()
        if chosen.isEmpty():
            place = QPointF(self.viewport().rect().center())
        else:
            place = self._canvas.to_px(chosen.center().x(), chosen.center().y())
        mods = Qt.KeyboardModifier.NoModifier
        self.handler.menu(self.pointer(place, Qt.MouseButton.NoButton, mods))
        event.accept()

    @guarded
    def leaveEvent(self, event: QEvent) -> None:
        self.handler.hover(None)
        self._canvas.show_hover("", QPoint())
        self._canvas.pointer_at(None)
        super().leaveEvent(event)

    # --- wheel and touch ------------------------------------------------------------------
    @guarded
    def wheelEvent(self, event: QWheelEvent) -> None:
        event.accept()
        mods = event.modifiers()
        angle = event.angleDelta()
        turn = Qt.KeyboardModifier.AltModifier | Qt.KeyboardModifier.ShiftModifier
        if mods & turn:
            # Qt turns a wheel with Alt on its side.
            notches = (angle.y() or angle.x()) / 120.0
            pointer = self.pointer(event.position(), Qt.MouseButton.NoButton, mods)
            if notches and self.handler.wheel(pointer, notches):
                return
        two_fingers = event.device() is not None and (
            event.device().type() == QInputDevice.DeviceType.TouchPad
        )
        if two_fingers and not mods & Qt.KeyboardModifier.ControlModifier:
            step = event.pixelDelta() if not event.pixelDelta().isNull() else angle / 4
            self._canvas.pan_px(step.x(), step.y())
            return
        if angle.y():
            self._canvas.zoom_by(WHEEL_ZOOM ** (angle.y() / 120.0), event.position())

    def move_view(self, by: QPointF, zoom: float, about: QPointF) -> None:
        """Move and zoom at once, as two fingers do."""
        self._canvas.pan_px(by.x(), by.y())
        self._canvas.zoom_by(zoom, about, glide=False)

    def give_up(self) -> None:
        """Leave what is in the hand where it was, as Escape does."""
        self._escape()
        self._taken = False

    def viewportEvent(self, event: QEvent) -> bool:
        if isinstance(event, QTouchEvent):
            self._fingers.take(event)
            return True
        if isinstance(event, QNativeGestureEvent):
            if event.gestureType() == Qt.NativeGestureType.ZoomNativeGesture:
                self._canvas.zoom_by(1.0 + event.value(), event.position(), glide=False)
                return True
            if event.gestureType() == Qt.NativeGestureType.PanNativeGesture:
                self._canvas.pan_px(event.delta().x(), event.delta().y())
                return True
        return super().viewportEvent(event)

    # --- keys -----------------------------------------------------------------------------
    @guarded
    def keyPressEvent(self, event: QKeyEvent) -> None:
        if event.key() == Qt.Key.Key_Escape and self._escape():
            return
        if event.key() == Qt.Key.Key_Space and not event.isAutoRepeat():
            self._space = True
            self._show_hand()
            return
        if event.key() not in _MODIFIERS:
            self._show_focus(True)
        if self.handler.key(event) or self._pan_by_key(event):
            event.accept()
            return
        event.ignore()

    def _pan_by_key(self, event: QKeyEvent) -> bool:
        """Arrows that nobody else wants move the view, with Shift further."""
        way = arrow_way(event)
        mods = event.modifiers() & ~Qt.KeyboardModifier.KeypadModifier
        if way is None or mods & ~Qt.KeyboardModifier.ShiftModifier:
            return False
        step = PAN_PX * (5 if mods else 1)
        self._canvas.pan_px(-way[0] * step, way[1] * step)
        return True

    @guarded
    def keyReleaseEvent(self, event: QKeyEvent) -> None:
        if event.key() == Qt.Key.Key_Space and not event.isAutoRepeat():
            self._space = False
            self._show_hand()
            return
        event.ignore()

    @guarded
    def focusInEvent(self, event: QFocusEvent) -> None:
        by_mouse = event.reason() == Qt.FocusReason.MouseFocusReason
        held = QGuiApplication.mouseButtons() != Qt.MouseButton.NoButton
        if event.reason() not in (
            Qt.FocusReason.ActiveWindowFocusReason,
            Qt.FocusReason.PopupFocusReason,
        ):
            self._show_focus(not by_mouse and not held)
        super().focusInEvent(event)

    def _show_focus(self, show: bool) -> None:
        """Frame the drawing while the keyboard is what works on it."""
        if self._canvas.keyboard_focus != show:
            self._canvas.keyboard_focus = show
            self.viewport().update()

    @guarded
    def focusOutEvent(self, event: object) -> None:
        self._space = False
        self._show_hand()
        self.viewport().update()
        super().focusOutEvent(event)  # type: ignore[arg-type]

    def _escape(self) -> bool:
        if self._band is not None or self._band_from is not None:
            self._band = self._band_from = None
            self.viewport().update()
            return True
        if self.handler.cancel():
            self._taken = False
            return True
        return False

    def _show_hand(self) -> None:
        if self._space:
            self.viewport().setCursor(Qt.CursorShape.OpenHandCursor)
        else:
            self.viewport().unsetCursor()

    # --- painting -------------------------------------------------------------------------
    @guarded
    def paintEvent(self, event: QPaintEvent) -> None:
        super().paintEvent(event)
        if self._band is None and not self.hasFocus():
            return
        painter = QPainter(self.viewport())
        if self._band is not None:
            line = theme.color("accent")
            wash = QColor(line)
            wash.setAlpha(36)
            painter.setPen(QPen(line, 1, Qt.PenStyle.DashLine))
            painter.setBrush(wash)
            painter.drawRect(self._band)
        if self.hasFocus() and self._canvas.keyboard_focus:
            painter.setPen(QPen(theme.color("accent"), 2))
            painter.setBrush(Qt.BrushStyle.NoBrush)
            painter.drawRect(self.viewport().rect().adjusted(1, 1, -1, -1))
        painter.end()

    @guarded
    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        self._canvas.resized()
