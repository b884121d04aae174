"""What is shown of a joint on its stage: bed, loupe, opening, order, marks and colours."""

from __future__ import annotations

from dataclasses import replace

import pytest
from PySide6.QtCore import QPoint, QPointF, Qt
from PySide6.QtGui import QFont
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication
from pytestqt.qtbot import QtBot
from shapely.geometry import box

from app import theme
from app.stages import joints_model as model
from core.findings import Finding, Severity
from core.geometry import Region, Ring
from core.project.model import Mark, Panel, SeamLine
from tests.app import mouse
from tests.app.joints_bench import (
    BOARD,
    LEFT,
    LINE,
    Make,
    at,
    key,
    project,
    settle,
)


@pytest.fixture
def make(make_joints: Make) -> Make:
    return make_joints


def test_the_bed_can_be_laid_over_any_piece(make: Make) -> None:
    stage = make()
    QTest.mouseClick(stage.bed_button, LEFT)
    envelope = stage.scene.envelope
    assert envelope.isVisible() and envelope.ok
    for _ in range(2):
        if not stage.scene.envelope_piece:
            break
        piece = stage.scene.pieces[stage.scene.envelope_piece]
        rect = envelope.mapRectToScene(envelope.rect)
        assert (
            box(rect.left(), rect.top(), rect.right(), rect.bottom())
            .buffer(1e-6)
            .covers(piece.region.polygon)
        )
        key(stage, Qt.Key.Key_E)
    stage.lay_bed("")
    assert not envelope.isVisible()


def test_a_turned_bed_still_covers_its_piece(make: Make, qtbot: QtBot) -> None:
    tall = Panel(
        "side", "Side", Region.of(Ring.rectangle(0, 0, 380, 1400)), material=BOARD,
        seams=(SeamLine(((0.0, 700.0), (380.0, 700.0))),),
    )  # fmt: skip
    start = project()
    stage = make(replace(start, panels=(tall,)))
    for piece in list(stage.scene.pieces):
        stage.lay_bed(piece)
        envelope = stage.scene.envelope
        corners = [envelope.mapToScene(envelope.rect).at(i) for i in range(4)]
        from shapely.geometry import Polygon

        room = Polygon([(c.x(), c.y()) for c in corners]).buffer(1e-6)
        assert room.covers(stage.scene.pieces[piece].region.polygon)


def test_the_loupe_follows_the_pointer_and_gives_the_gap_in_numbers(
    make: Make, qtbot: QtBot
) -> None:
    stage = make(project(replace(LINE, fit_mm=0.2)))
    assert stage.shown is not None
    joint = stage.shown.split.seams[0].joints[0]
    flank = next(
        ((a[0] + b[0]) / 2, a[1])
        for a, b in zip(joint.middle, joint.middle[1:], strict=False)
        if abs(a[1] - b[1]) < 1e-9 and abs(a[0] - b[0]) > 10
    )
    stage.canvas.show_rect(stage.hand.selection_rect(), glide=False)
    stage.canvas.zoom_by(4, stage.canvas.to_px(*flank), glide=False)
    mouse.move(stage.canvas.view.viewport(), at(stage, *flank))
    assert stage.loupe.isVisible()
    assert stage.loupe.text == "0.20 mm across, 0.10 mm a side"
    assert "0.20 mm across" in stage.line.text()
    assert stage.loupe.px_per_mm >= 10 * 72 / 25.4
    mouse.move(stage.canvas.view.viewport(), QPoint(3, 3))
    assert not stage.loupe.isVisible()


def test_the_words_under_the_loupe_are_whole_at_any_text_size_and_go_with_their_panel(
    make: Make, qtbot: QtBot
) -> None:
    stage = make()
    assert stage.shown is not None
    joint = stage.shown.split.seams[0].joints[0]
    flank = next(
        ((a[0] + b[0]) / 2, a[1])
        for a, b in zip(joint.middle, joint.middle[1:], strict=False)
        if abs(a[1] - b[1]) < 1e-9 and abs(a[0] - b[0]) > 10
    )
    usual = stage.loupe.font()
    for points in (9, 14, 20):
        font = QFont(usual)
        font.setPointSize(points)
        stage.loupe.setFont(font)
        mouse.move(stage.canvas.view.viewport(), at(stage, *flank))
        plate = stage.loupe.plate
        words = stage.loupe.fontMetrics().boundingRect(
            plate.adjusted(4, 0, -4, 0).toRect(),
            Qt.AlignmentFlag.AlignCenter | Qt.TextFlag.TextWordWrap,
            stage.loupe.text,
        )
        assert plate.contains(words.toRectF())
        mouse.move(stage.canvas.view.viewport(), QPoint(3, 3))
    stage.loupe.setFont(usual)
    mouse.move(stage.canvas.view.viewport(), at(stage, *flank))
    assert stage.loupe.isVisible()
    stage.choose_panel("shelf")
    settle(stage, qtbot)
    assert not stage.loupe.isVisible()
    assert stage.line.text() == ""


def test_where_shoulders_meet_the_loupe_says_there_is_no_gap(make: Make) -> None:
    stage = make()
    assert stage.shown is not None
    gap = model.gap_at(stage.shown, 700.0, 1.0, 3.0)
    assert gap is not None and gap.across_mm == pytest.approx(0.0, abs=1e-6)


def test_the_slider_pulls_the_joint_apart(make: Make) -> None:
    stage = make()
    items = list(stage.scene.pieces.values())
    assert all(item.pos() == QPointF(0, 0) for item in items)
    stage.slider.setValue(50)
    gap = abs(items[0].pos().x() - items[1].pos().x())
    assert gap > 50
    stage.slider.setValue(0)
    assert all(item.pos() == QPointF(0, 0) for item in items)


def test_the_order_of_assembly_is_told_by_name(make: Make) -> None:
    stage = make()
    text = stage.pieces_box.order.text()
    assert text == "Putting together:\n1. Side 2: lay it down\n2. Side 1: slide it in at A"


def test_never_marks_are_drawn_and_a_seam_across_one_is_told(make: Make, qtbot: QtBot) -> None:
    start = project()
    mark = Mark("never", ((650.0, 100.0), (750.0, 100.0), (750.0, 200.0), (650.0, 200.0)), "sink")
    panel = replace(start.panels[0], marks=(mark,))
    stage = make(replace(start, panels=(panel, *start.panels[1:])))
    assert len(stage.scene._marks) == 1
    assert "never to be crossed" in stage.pieces_box.notices.text()
    assert stage.shown is not None and not stage.shown.ok


def test_a_finding_leads_to_its_panel(make: Make, qtbot: QtBot) -> None:
    stage = make(panel="shelf")
    finding = Finding("piece-too-big", Severity.STOP, "Too big", "side", (1000, 200))
    assert stage.shows(finding)
    stage.show_finding(finding)
    settle(stage, qtbot)
    assert stage.panel_id == "side"


def test_light_and_dark_can_change_while_the_stage_is_open(make: Make, qapp: QApplication) -> None:
    stage = make()
    theme.apply(qapp, "dark", less_motion=True)
    assert all(i.brush().color().lightness() < 140 for i in stage.scene.pieces.values())
    theme.apply(qapp, "light", less_motion=True)
