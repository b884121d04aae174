"""Seams curved and bent by hand: handles, Alt, keys, the field, and what is cut from it."""

from __future__ import annotations

import math

import pytest
import shapely
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest
from pytestqt.qtbot import QtBot

from app.stages import joints_lines as shape
from core.project.model import SeamLine
from tests.app.joints_bench import (
    ALT,
    LINE,
    Make,
    at,
    drag,
    key,
    move,
    project,
    seams,
    settle,
)


@pytest.fixture
def make(make_joints: Make) -> Make:
    return make_joints


def test_the_arc_through_a_point_passes_it_on_either_side() -> None:
    line = SeamLine(((0.0, 0.0), (0.0, 200.0)))
    for x, y in ((30.0, 60.0), (-45.0, 120.0), (10.0, 100.0)):
        curved = shape.curved_through(line, 0, x, y)
        path = shapely.LineString(shape.drawn(curved))
        assert path.distance(shapely.Point(x, y)) < 0.2
        # Left of an upward line is towards −x.
        assert math.copysign(1.0, shape.rise_of(curved, 0)) == math.copysign(1.0, -x)


def test_a_bend_put_into_a_curve_keeps_its_turn_and_taking_it_out_straightens() -> None:
    line = shape.with_rise(SeamLine(((0.0, 0.0), (0.0, 200.0))), 0, 40.0)
    bent, number = shape.bent_at(line, *shape.middle_of(line), 20.0)
    assert number == 1 and len(bent.bulges) == 2
    turns = [4 * math.atan(b) for b in bent.bulges]
    assert sum(turns) == pytest.approx(4 * math.atan(line.bulges[0]))
    assert shape.length_of(bent) == pytest.approx(shape.length_of(line), rel=1e-3)
    assert shape.without_point(bent, 1).bulges == ()


def test_dragging_the_diamond_curves_the_seam_and_the_pieces_follow(
    make: Make, qtbot: QtBot
) -> None:
    stage = make()
    x, y = shape.curve_handle(LINE, 0)
    drag(stage, at(stage, x, y), at(stage, x + 60, y))
    (line,) = seams(stage)
    assert stage.document.undo_text == "Move Seam A"
    path = shapely.LineString(shape.drawn(line))
    assert path.distance(shapely.Point(x + 60, y)) < stage.canvas.mm(3)
    settle(stage, qtbot)
    assert stage.shown is not None and stage.shown.ok
    seam = stage.shown.split.seams[0]
    assert seam.teeth > 4 and seam.joint_length_mm > 385.0, line
    assert any(v[2] for v in seam.line)
    stage.document.undo()
    assert seams(stage) == (LINE,)


def test_alt_and_drag_on_the_seam_itself_curves_it(make: Make) -> None:
    stage = make()
    port = stage.canvas.view.viewport()
    start, end = at(stage, 700, 60), at(stage, 650, 60)
    QTest.mousePress(port, Qt.MouseButton.LeftButton, ALT, start)
    for step in range(1, 5):
        move(stage, start + (end - start) * step / 4, ALT)
    QTest.mouseRelease(port, Qt.MouseButton.LeftButton, ALT, end)
    (line,) = seams(stage)
    assert line.points == LINE.points and line.bulges
    assert shape.rise_of(line, 0) > 50.0


def test_a_curve_dragged_back_onto_its_chord_is_straight_again(make: Make, qtbot: QtBot) -> None:
    curved = shape.with_rise(LINE, 0, 40.0)
    stage = make(project(curved))
    x, y = shape.curve_handle(curved, 0)
    drag(stage, at(stage, x, y), at(stage, 700, y))
    assert seams(stage)[0].bulges == ()


def test_a_point_dragged_onto_the_next_leaves_a_curve_without_length_and_no_fault(
    make: Make,
) -> None:
    curved = shape.with_rise(LINE, 0, 40.0)
    for upon in (curved.points[1], (curved.points[1][0], curved.points[1][1] + 1e-9)):
        assert shape.radius_of(shape.with_point(curved, 0, *upon), 0) is None
    stage = make(project(curved))
    ends = [at(stage, *point) for point in curved.points]
    drag(stage, ends[0], ends[1])  # an exception in a handler fails the test
    assert len(seams(stage)) == 1


def test_keys_curve_the_seam_make_it_rounder_and_straighten_it(make: Make) -> None:
    stage = make()
    key(stage, Qt.Key.Key_C)
    (line,) = seams(stage)
    assert shape.rise_of(line, 0) == pytest.approx(38.0)
    assert stage.scene.chosen_handle == "curve 0"
    key(stage, Qt.Key.Key_Left)
    assert shape.rise_of(seams(stage)[0], 0) == pytest.approx(39.0)
    key(stage, Qt.Key.Key_Delete)
    assert seams(stage)[0].bulges == () and len(seams(stage)) == 1
    key(stage, Qt.Key.Key_C)
    key(stage, Qt.Key.Key_C)
    assert seams(stage)[0].bulges == ()


def test_the_bow_can_be_typed(make: Make, qtbot: QtBot) -> None:
    stage = make()
    field = stage.style_box.rise.line
    field.selectAll()
    QTest.keyClicks(field, "-25")
    QTest.keyClick(field, Qt.Key.Key_Return)
    (line,) = seams(stage)
    assert shape.rise_of(line, 0) == pytest.approx(-25.0)
    assert stage.document.undo_text == "Curve the seam"
    settle(stage, qtbot)
    assert "radius" in stage.hand._line_words(line)


def test_a_curve_tighter_than_the_bit_is_told_not_cut(make: Make, qtbot: QtBot) -> None:
    tight = SeamLine(((700.0, 0.0), (700.0, 376.0), (700.0, 380.0)), bulges=(0.0, 0.9))
    stage = make(project(tight))
    assert stage.shown is not None and not stage.shown.ok
    assert any("tighter than the bit" in f.message for f in stage.shown.findings)
