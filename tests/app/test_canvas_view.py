"""The drawing surface: zoom, pan, fit, rulers, hover, rubber band; driven with real events."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import pytest
from PySide6.QtCore import QPoint, QPointF, QRectF, Qt
from PySide6.QtGui import (
    QFontMetricsF,
    QInputDevice,
    QKeyEvent,
    QNativeGestureEvent,
    QPointingDevice,
    QWheelEvent,
)
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication
from pytestqt.qtbot import QtBot

from app import theme
from app.canvas import boards, items, paths
from app.canvas.labels import LabelItem, two_lines
from app.canvas.rulers import tick_step_mm
from app.canvas.view import Canvas, Handler, Pointer
from app.widgets.forms import Heading
from core.geometry import Motion, Region, Ring
from tests.app import mouse

LEFT = Qt.MouseButton.LeftButton
NONE = Qt.KeyboardModifier.NoModifier


class Recorder(Handler):
    """Writes down what it hears."""

    def __init__(self) -> None:
        self.takes = False
        self.heard: list[str] = []
        self.band: tuple[QRectF, bool] | None = None
        self.last: Pointer | None = None

    def press(self, pointer: Pointer) -> bool:
        self.heard.append("press")
        self.last = pointer
        return self.takes

    def drag(self, pointer: Pointer) -> None:
        self.heard.append("drag")
        self.last = pointer

    def release(self, pointer: Pointer) -> None:
        self.heard.append("release")

    def cancel(self) -> bool:
        self.heard.append("cancel")
        return True

    def hover(self, pointer: Pointer | None) -> str:
        return "" if pointer is None else f"{pointer.x_mm:.0f}, {pointer.y_mm:.0f}"

    def key(self, event: QKeyEvent) -> bool:
        self.heard.append(f"key {event.text()}")
        return event.key() == Qt.Key.Key_R

    def wheel(self, pointer: Pointer, notches: float) -> bool:
        self.heard.append(f"wheel {notches:g}")
        return True

    def banded(self, area: QRectF, adding: bool) -> None:
        self.band = (area, adding)

    def selection_rect(self) -> QRectF:
        return QRectF(100, 100, 50, 50)


@pytest.fixture
def canvas(qtbot: QtBot, qapp: QApplication) -> Iterator[Canvas]:
    theme.apply(qapp, "light", less_motion=True)
    made = Canvas("Drawing")
    qtbot.addWidget(made)
    made.resize(800, 600)
    board = boards.BoardItem(paths.region_path(Region.of(Ring.rectangle(0, 0, 1000, 500))))
    made.scene.addItem(board)
    made.handler = Recorder()
    made.show()
    qtbot.waitExposed(made)
    made.fit_now()
    yield made


def wheel(canvas: Canvas, at: QPointF, notches: float, mods: Qt.KeyboardModifier = NONE) -> None:
    event = QWheelEvent(
        at,
        canvas.view.viewport().mapToGlobal(at),
        QPoint(),
        QPoint(0, round(120 * notches)),
        Qt.MouseButton.NoButton,
        mods,
        Qt.ScrollPhase.NoScrollPhase,
        False,
    )
    QApplication.sendEvent(canvas.view.viewport(), event)


def drag(canvas: Canvas, start: QPoint, end: QPoint, button: Qt.MouseButton = LEFT) -> None:
    port = canvas.view.viewport()
    QTest.mousePress(port, button, NONE, start)
    middle = (start + end) / 2
    for point in (start + QPoint(3, 3), middle, end):
        mouse.move(port, point, button)
    QTest.mouseRelease(port, button, NONE, end)


def test_fit_shows_the_whole_board_with_y_upwards(canvas: Canvas) -> None:
    low, high = canvas.to_px(0, 0), canvas.to_px(1000, 500)
    assert low.y() > high.y() and low.x() < high.x()
    port = canvas.view.viewport().rect()
    assert port.contains(low.toPoint()) and port.contains(high.toPoint())


def test_the_view_agrees_with_our_own_coordinates(canvas: Canvas) -> None:
    wheel(canvas, QPointF(200, 150), 3)
    seen = canvas.view.mapToScene(300, 200)
    ours = canvas.to_mm(QPointF(300, 200))
    assert (seen.x(), seen.y()) == pytest.approx(ours, abs=canvas.mm(1.01))


def test_the_wheel_zooms_and_what_is_under_the_pointer_stays(canvas: Canvas) -> None:
    at = QPointF(333, 222)
    before, scale = canvas.to_mm(at), canvas.px_per_mm
    for _ in range(5):
        wheel(canvas, at, 1)
    assert canvas.px_per_mm == pytest.approx(scale * 1.22**5)
    assert canvas.to_mm(at) == pytest.approx(before, abs=canvas.mm(3))
    for _ in range(5):
        wheel(canvas, at, -1)
    assert canvas.px_per_mm == pytest.approx(scale)


def test_zoom_keeps_within_bounds(canvas: Canvas) -> None:
    for _ in range(120):
        wheel(canvas, QPointF(300, 300), 1)
    assert canvas.px_per_mm == pytest.approx(400)


def test_a_glide_ends_where_it_was_meant_to(canvas: Canvas, qtbot: QtBot) -> None:
    theme.watcher().less_motion = False
    scale, at = canvas.px_per_mm, QPointF(250, 330)
    before, seen = canvas.to_mm(at), []
    canvas.scaled.connect(seen.append)
    wheel(canvas, at, 1)
    wheel(canvas, at, 1)  # while it still glides
    qtbot.waitUntil(lambda: canvas.px_per_mm == pytest.approx(scale * 1.22**2), timeout=2000)
    assert seen == sorted(seen) and len(seen) > 2, "smoothly, not in one jump"
    assert canvas.to_mm(at) == pytest.approx(before, abs=canvas.mm(2))


def test_the_middle_button_pans(canvas: Canvas) -> None:
    before = canvas.to_px(0, 0)
    drag(canvas, QPoint(300, 300), QPoint(360, 270), Qt.MouseButton.MiddleButton)
    after = canvas.to_px(0, 0)
    assert (after.x() - before.x(), after.y() - before.y()) == (60, -30)


def test_space_and_drag_pans_and_lets_the_handler_alone(canvas: Canvas) -> None:
    before = canvas.to_px(0, 0)
    QTest.keyPress(canvas.view, Qt.Key.Key_Space)
    drag(canvas, QPoint(300, 300), QPoint(310, 350))
    QTest.keyRelease(canvas.view, Qt.Key.Key_Space)
    after = canvas.to_px(0, 0)
    assert (after.x() - before.x(), after.y() - before.y()) == (10, 50)
    assert canvas.handler.heard == []  # type: ignore[attr-defined]


def two_fingers(
    canvas: Canvas, at: QPointF, step: QPoint, mods: Qt.KeyboardModifier = NONE
) -> None:
    """What a touch pad sends while two fingers move over it."""
    pad = QPointingDevice(
        "pad",
        7,
        QInputDevice.DeviceType.TouchPad,
        QPointingDevice.PointerType.Finger,
        QInputDevice.Capability.Scroll,
        2,
        0,
    )
    event = QWheelEvent(
        at,
        canvas.view.viewport().mapToGlobal(at),
        step,
        step * 4,
        Qt.MouseButton.NoButton,
        mods,
        Qt.ScrollPhase.ScrollUpdate,
        False,
        Qt.MouseEventSource.MouseEventNotSynthesized,
        pad,
    )
    QApplication.sendEvent(canvas.view.viewport(), event)


def test_two_fingers_pan_and_with_ctrl_zoom(canvas: Canvas) -> None:
    at = QPointF(300, 200)
    before, scale = canvas.to_mm(at), canvas.px_per_mm
    two_fingers(canvas, at, QPoint(30, -20))
    assert canvas.px_per_mm == scale
    assert canvas.to_mm(at + QPointF(30, -20)) == pytest.approx(before, abs=canvas.mm(1.01))
    two_fingers(canvas, at, QPoint(0, 30), Qt.KeyboardModifier.ControlModifier)
    assert canvas.px_per_mm > scale


def test_two_fingers_apart_zoom_about_the_place_between_them(canvas: Canvas) -> None:
    at = QPointF(250, 300)
    before, scale = canvas.to_mm(at), canvas.px_per_mm
    event = QNativeGestureEvent(
        Qt.NativeGestureType.ZoomNativeGesture,
        QPointingDevice.primaryPointingDevice(),
        2,
        at,
        at,
        canvas.view.viewport().mapToGlobal(at),
        0.25,
        QPointF(),
    )
    QApplication.sendEvent(canvas.view.viewport(), event)
    assert canvas.px_per_mm == pytest.approx(1.25 * scale)
    assert canvas.to_mm(at) == pytest.approx(before, abs=canvas.mm(1.01))


def test_keys_and_buttons_zoom_and_show_everything(canvas: Canvas) -> None:
    canvas.view.setFocus()
    canvas.window().activateWindow()
    fitted = canvas.px_per_mm
    for button, _keys in canvas._actions:
        assert button.accessibleName() and button.toolTip()
    smaller, everything, selection, larger = (button for button, _keys in canvas._actions)
    QTest.mouseClick(larger, LEFT)
    assert canvas.px_per_mm == pytest.approx(fitted * 1.22)
    QTest.mouseClick(smaller, LEFT)
    assert canvas.px_per_mm == pytest.approx(fitted)
    QTest.mouseClick(selection, LEFT)
    assert canvas.px_per_mm > 3 * fitted
    QTest.mouseClick(everything, LEFT)
    assert canvas.px_per_mm == pytest.approx(fitted)


def test_a_press_the_handler_takes_is_dragged_in_drawing_coordinates(canvas: Canvas) -> None:
    recorder = canvas.handler
    assert isinstance(recorder, Recorder)
    recorder.takes = True
    drag(canvas, QPoint(200, 200), QPoint(260, 240))
    assert recorder.heard == ["press", "drag", "drag", "drag", "release"]
    assert recorder.last is not None
    assert (recorder.last.x_mm, recorder.last.y_mm) == pytest.approx(
        canvas.to_mm(QPointF(260, 240)), abs=canvas.mm(1)
    )


def test_a_press_on_nothing_draws_a_rubber_band(canvas: Canvas) -> None:
    drag(canvas, QPoint(200, 200), QPoint(320, 280))
    recorder = canvas.handler
    assert isinstance(recorder, Recorder) and recorder.band is not None
    area, adding = recorder.band
    assert not adding
    assert area.width() == pytest.approx(canvas.mm(121), abs=canvas.mm(2))
    assert area.height() == pytest.approx(canvas.mm(81), abs=canvas.mm(2))


def test_escape_gives_up_a_drag(canvas: Canvas) -> None:
    recorder = canvas.handler
    assert isinstance(recorder, Recorder)
    recorder.takes = True
    QTest.mousePress(canvas.view.viewport(), LEFT, NONE, QPoint(200, 200))
    QTest.keyClick(canvas.view, Qt.Key.Key_Escape)
    assert recorder.heard[-1] == "cancel"


def test_hovering_measures_beside_the_pointer(canvas: Canvas) -> None:
    mouse.move(canvas.view.viewport(), QPoint(250, 250))
    x, y = canvas.to_mm(QPointF(250, 250))
    assert canvas.hover_text == f"{x:.0f}, {y:.0f}"


def test_the_wheel_with_alt_goes_to_the_handler(canvas: Canvas) -> None:
    scale = canvas.px_per_mm
    wheel(canvas, QPointF(300, 300), 1, Qt.KeyboardModifier.AltModifier)
    assert canvas.handler.heard == ["wheel 1"]  # type: ignore[attr-defined]
    assert canvas.px_per_mm == scale


def test_keys_go_to_the_handler_first(canvas: Canvas) -> None:
    QTest.keyClick(canvas.view, Qt.Key.Key_R)
    assert canvas.handler.heard == ["key r"]  # type: ignore[attr-defined]


def test_zoom_to_selection_brings_the_selection_to_the_middle(canvas: Canvas) -> None:
    canvas.zoom_to_selection()
    middle = canvas.to_mm(QPointF(canvas.view.viewport().rect().center()))
    assert middle == pytest.approx((125, 125), abs=canvas.mm(2))
    assert canvas.visible_rect().width() < 250


def test_a_fitted_drawing_stays_fitted_when_the_window_grows(canvas: Canvas) -> None:
    scale = canvas.px_per_mm
    canvas.resize(1200, 900)
    QApplication.processEvents()
    assert canvas.px_per_mm > scale * 1.3


@pytest.mark.parametrize(
    ("scale", "unit", "step_mm"),
    [(1.0, "mm", 100.0), (0.3, "mm", 500.0), (8.0, "mm", 10.0), (1.0, "in", 152.4)],
)
def test_rulers_step_in_round_numbers_of_the_unit(scale: float, unit: str, step_mm: float) -> None:
    step, _ = tick_step_mm(scale, unit)
    assert step == pytest.approx(step_mm)


def test_inch_rulers_go_down_to_fractions(canvas: Canvas) -> None:
    step, _ = tick_step_mm(20.0, "in")
    assert step / 25.4 == pytest.approx(1 / 8)


def test_arcs_of_a_region_are_drawn_as_arcs() -> None:
    region = Region.of(
        Ring.of([(0, 0), (100, 0, 1.0), (100, 80), (0, 80)]), [Ring.circle(40, 40, 15)]
    )
    path = paths.region_path(region)
    assert path.contains(QPointF(139.9, 40)) and not path.contains(QPointF(140.1, 40))
    assert not path.contains(QPointF(40, 40)) and path.contains(QPointF(24, 40))
    points = np.array([(p.x(), p.y()) for poly in path.toFillPolygons() for p in poly])
    assert points[:, 0].max() == pytest.approx(140, abs=0.05)


@pytest.mark.parametrize("mirrored", [False, True])
def test_a_laid_piece_covers_what_its_motion_says(canvas: Canvas, mirrored: bool) -> None:
    region = Region.of(Ring.of([(0, 0), (100, 0), (0, 40)]))
    item = items.PieceItem(("p", 1), region, index=0, label="P")
    canvas.scene.addItem(item)
    motion = Motion(300, 200, 30, mirrored)
    item.lay(motion, (1000, 0))
    x, y = motion.apply(20, 10)
    assert item.contains(item.mapFromScene(QPointF(x + 1000, y)))
    x, y = motion.apply(60, 30)
    assert not item.contains(item.mapFromScene(QPointF(x + 1000, y)))


def test_labels_hide_where_they_would_not_fit(canvas: Canvas) -> None:
    label = LabelItem("Counter front", (0, 0), room_mm=(100, 50))
    canvas.scene.addItem(label)
    label.set_scale_px(0.2)
    assert not label.isVisible()
    label.set_scale_px(3.0)
    assert label.isVisible()


def test_texts_on_the_drawing_follow_the_size_of_the_system_s_text(
    canvas: Canvas, qapp: QApplication
) -> None:
    label = LabelItem("1499 × 1250 mm", (500, 250), plate=True, room_mm=(2000, 400))
    canvas.scene.addItem(label)
    label.set_scale_px(canvas.px_per_mm)
    heading = Heading("Tray")
    before, ruler = label.boundingRect(), canvas.top_ruler.height()
    font = qapp.font()
    usual, written = font.pointSizeF(), heading.font().pointSizeF()
    try:
        font.setPointSizeF(usual * 2)
        qapp.setFont(font)
        theme.apply(qapp, "light", less_motion=True)
        now = label.boundingRect()
        needed = QFontMetricsF(qapp.font()).horizontalAdvance("1499 × 1250 mm")
        assert now.width() >= needed > before.width()
        assert canvas.top_ruler.height() > ruler
        assert heading.font().pointSizeF() == pytest.approx(2 * written)
    finally:
        font.setPointSizeF(usual)
        qapp.setFont(font)
        theme.apply(qapp, "light", less_motion=True)
    assert label.boundingRect() == before
    assert canvas.top_ruler.height() == ruler


def test_a_change_of_light_and_dark_reaches_every_item(canvas: Canvas, qapp: QApplication) -> None:
    region = Region.of(Ring.rectangle(0, 0, 100, 50))
    piece = items.PieceItem(("p", 1), region, index=2, label="P")
    canvas.scene.addItem(piece)
    light = piece.brush().color()
    theme.apply(qapp, "dark", less_motion=True)
    assert piece.brush().color() != light
    theme.apply(qapp, "light", less_motion=True)
    assert piece.brush().color() == light


def test_a_piece_in_a_forbidden_place_keeps_its_colour_and_turns_its_outline_red(
    canvas: Canvas,
) -> None:
    piece = items.PieceItem(("p", 1), Region.of(Ring.rectangle(0, 0, 9, 5)), index=0, label="P")
    fill = piece.brush().color()
    piece.set_state(wrong=True)
    assert piece.brush().color() == fill
    assert piece.pen().color() == theme.color("stop")


def test_a_name_too_long_for_its_piece_is_broken_or_begun_rather_than_left_out(qapp) -> None:
    label = LabelItem(
        "Wedging top 2",
        (0, 0),
        room_mm=(100, 60),
        short=two_lines("Wedging top 2"),
        elide=True,
    )
    label.set_scale_px(3.0)
    assert label._text == "Wedging top 2"
    label.set_scale_px(0.8)
    assert label.isVisible()
    assert label._text == "Wedging\ntop 2"
    label.set_scale_px(0.5)
    assert label.isVisible()
    assert label._text.startswith("W")
    assert label._text.endswith("…")
    label.set_scale_px(0.1)
    assert not label.isVisible()
    assert two_lines("Backboard") == "Backboard"


def test_the_size_of_an_offcut_leaves_the_corner_to_the_blanks_letter(qapp) -> None:
    label = LabelItem("1000 × 180 mm", (500, 90), room_mm=(1000, 180), clear_px=48.0)
    text_px = label.boundingRect().width()
    label.set_scale_px((text_px + 60) / 1000)
    assert label.isVisible()
    label.set_scale_px((text_px + 10) / 1000)
    assert not label.isVisible()
