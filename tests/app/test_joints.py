"""The Joints stage driven with real mouse and key events on real geometry."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import replace

import pytest
from PySide6.QtCore import QEvent, QPoint, QPointF, Qt
from PySide6.QtGui import QFont, QMouseEvent
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication
from pytestqt.qtbot import QtBot
from shapely.geometry import box

from app import theme
from app.ask import WindowAsk
from app.context import Context
from app.derived import Derived
from app.document import Document
from app.jobs import Jobs
from app.preferences import Preferences
from app.stages import joints_lines as shape
from app.stages import joints_model as model
from app.stages.joints import JointsStage
from app.widgets.fields import LengthField
from core.findings import Finding, Severity
from core.geometry import Region, Ring
from core.joints import STYLES
from core.project.model import Mark, Panel, Project, SeamLine, StyleChoice
from core.shop import FitSetting, JointClass, Material, Reading, Shop, Stock
from tests.app import mouse

LEFT = Qt.MouseButton.LeftButton
NONE, ALT = Qt.KeyboardModifier.NoModifier, Qt.KeyboardModifier.AltModifier
SHIFT = Qt.KeyboardModifier.ShiftModifier
BOARD = "birch 18"
LINE = SeamLine(((700.0, 0.0), (700.0, 380.0)))
Make = Callable[..., JointsStage]


def project(*seams: SeamLine, automatic: bool = False) -> Project:
    """A side 1400 × 380 on a machine of 900 × 600, and a shelf that fits."""
    side = Panel(
        "side",
        "Side",
        Region.of(Ring.rectangle(0, 0, 1400, 380)),
        material=BOARD,
        seams=None if automatic else (seams or (LINE,)),
    )
    shelf = Panel("shelf", "Shelf", Region.of(Ring.rectangle(0, 0, 600, 300)), material=BOARD)
    shop = Shop(
        materials=(Material(BOARD, 18.0, (Reading(17.6),)),),
        stock=(Stock("full", BOARD, 2500, 1250),),
    )
    return Project(panels=(side, shelf), shop=shop)


@pytest.fixture(scope="module")
def shared(qapp: QApplication) -> Iterator[JointsStage]:
    """One stage for all tests; each opens a project of its own in it."""
    document = Document(Project())
    jobs = Jobs(document)
    context = Context(
        document, Derived(document, jobs, parent=document), jobs, WindowAsk(), Preferences()
    )
    stage = JointsStage(context)
    stage.resize(1300, 760)
    stage.show()
    yield stage
    jobs.close()
    stage.close()
    stage.deleteLater()


@pytest.fixture
def make(shared: JointsStage, qtbot: QtBot) -> Make:
    def build(start: Project | None = None, panel: str = "side") -> JointsStage:
        shared.slider.setValue(0)
        shared.loupe_button.setChecked(True)
        shared.all_panels.setChecked(False)
        shared.style_box.scope.setChecked(True)
        shared.preferences.set("nudge_mm", 1.0)
        shared.document.take(start if start is not None else project(), None)
        settle(shared, qtbot)
        if shared.panel_id != panel and shared.document.project.panel(panel) is not None:
            shared.choose_panel(panel)
            settle(shared, qtbot)
        return shared

    return build


def settle(stage: JointsStage, qtbot: QtBot) -> None:
    """Until everything asked for is worked out."""
    qtbot.wait(30)
    qtbot.waitUntil(stage.jobs.is_idle, timeout=20000)
    QApplication.processEvents()


def seams(stage: JointsStage) -> tuple[SeamLine, ...]:
    panel = stage.panel
    assert panel is not None and panel.seams is not None
    return panel.seams


def at(stage: JointsStage, x: float, y: float) -> QPoint:
    return stage.canvas.to_px(x, y).toPoint()


def move(stage: JointsStage, to: QPoint, mods: Qt.KeyboardModifier = NONE) -> None:
    port = stage.canvas.view.viewport()
    event = QMouseEvent(
        QEvent.Type.MouseMove,
        QPointF(to),
        QPointF(port.mapToGlobal(to)),
        Qt.MouseButton.NoButton,
        LEFT,
        mods,
    )
    QApplication.sendEvent(port, event)


def drag(
    stage: JointsStage,
    start: QPoint,
    end: QPoint,
    *,
    mods: Qt.KeyboardModifier = NONE,
    drop: bool = True,
) -> None:
    port = stage.canvas.view.viewport()
    QTest.mousePress(port, LEFT, NONE, start)
    for step in range(1, 5):
        move(stage, start + (end - start) * step / 4, mods)
    if drop:
        QTest.mouseRelease(port, LEFT, mods, end)


def key(stage: JointsStage, which: Qt.Key, mods: Qt.KeyboardModifier = NONE) -> None:
    QTest.keyClick(stage.canvas.view, which, mods)


# --- the list -------------------------------------------------------------------------------
def test_the_list_holds_panels_that_need_a_seam_and_says_how_much_too_big(make: Make) -> None:
    stage = make()
    assert [stage.list.item(i).text() for i in range(stage.list.count())] == [
        "Side\n+ 520 mm too big\n2 pieces"
    ]
    stage.all_panels.setChecked(True)
    assert stage.list.count() == 2
    assert stage.list.item(1).text() == "Shelf\nfits whole"


def test_a_project_whose_panels_all_fit_says_so(make: Make) -> None:
    start = project()
    stage = make(replace(start, panels=start.panels[1:]))
    assert stage.empty.isVisible() and "no seam is needed" in stage.empty.text()


def test_pieces_seams_and_their_letters_are_shown(make: Make) -> None:
    stage = make()
    assert len(stage.scene.pieces) == 2
    assert "2 pieces, 1 seam, 380 mm of joint · every piece fits" in stage.summary.text()
    assert stage.style_box.head.text() == "Seam A"
    assert stage.status_text() == "1 split"


def test_a_panel_the_planner_splits_is_shown_with_its_seams(make: Make) -> None:
    stage = make(project(automatic=True))
    assert stage.shown is not None and not stage.shown.own
    assert stage.shown.ok and len(stage.shown.pieces) == 2


# --- dragging -------------------------------------------------------------------------------
def test_dragging_the_middle_handle_moves_the_seam_and_undo_brings_it_back(
    make: Make, qtbot: QtBot
) -> None:
    stage = make()
    drag(stage, at(stage, 700, 190), at(stage, 640, 250))
    (line,) = seams(stage)
    assert line.points[0][0] == line.points[1][0] == pytest.approx(640, abs=stage.canvas.mm(2))
    assert line.points[0][1] == 0.0  # an upright seam moves square to itself
    assert stage.document.undo_text == "Move Seam A"
    settle(stage, qtbot)
    assert stage.shown is not None and stage.shown.lines == (line,)
    stage.document.undo()
    assert seams(stage) == (LINE,)


def test_the_pieces_follow_while_the_seam_is_dragged(make: Make, qtbot: QtBot) -> None:
    stage = make()
    before = stage.document.project
    assert stage.shown is not None
    areas = sorted(p.area_mm2 for p in stage.shown.pieces)
    drag(stage, at(stage, 700, 190), at(stage, 560, 190), drop=False)
    qtbot.waitUntil(
        lambda: (
            stage.shown is not None
            and abs(sorted(p.area_mm2 for p in stage.shown.pieces)[0] - areas[0]) > 20000
        ),
        timeout=5000,
    )
    assert stage.document.project is before
    key(stage, Qt.Key.Key_Escape)
    settle(stage, qtbot)
    assert stage.document.project is before
    assert sorted(p.area_mm2 for p in stage.shown.pieces) == pytest.approx(areas)


def test_an_end_handle_turns_the_seam_and_snaps_upright(make: Make) -> None:
    stage = make()
    drag(stage, at(stage, 700, 380), at(stage, 760, 380))
    (line,) = seams(stage)
    assert line.points[1][0] == pytest.approx(760, abs=stage.canvas.mm(2))
    drag(stage, at(stage, *line.points[1]), at(stage, 703, 380))
    assert seams(stage)[0].points[1][0] == 700.0


def test_alt_moves_freely(make: Make) -> None:
    stage = make()
    drag(stage, at(stage, 700, 190), at(stage, 650, 160), mods=ALT)
    assert seams(stage)[0].points[0][1] == pytest.approx(-30, abs=stage.canvas.mm(2))


def test_a_seam_that_makes_a_piece_too_big_is_told_with_a_number(make: Make, qtbot: QtBot) -> None:
    stage = make()
    stage.style_box.changed.emit("points", ((300.0, 0.0), (300.0, 380.0)))
    settle(stage, qtbot)
    (badge,) = stage.scene.badges
    assert badge == "● 241.9 mm too long"  # 220 mm and a finger, less the gap at its tip
    assert "1 piece too big" in stage.summary.text()
    assert "241.9 mm too long" in stage.pieces_box.list.text()
    assert stage.status_text() == "1 to decide"
    big = max(stage.scene.pieces.values(), key=lambda item: item.region.area_mm2)
    assert big.wrong and big.pen().color() == theme.color("stop")


def test_a_line_can_be_drawn_across_the_panel(make: Make, qtbot: QtBot) -> None:
    stage = make()
    QTest.mouseClick(stage.new_button, LEFT)
    drag(stage, at(stage, 350, -20), at(stage, 353, 400))
    lines = seams(stage)
    assert len(lines) == 2
    assert lines[1].points[0][0] == lines[1].points[1][0]
    settle(stage, qtbot)
    assert stage.shown is not None and len(stage.shown.pieces) == 3
    assert stage.document.undo_text == "Draw a seam"


def test_a_double_click_bends_the_seam_and_delete_straightens_it(make: Make, qtbot: QtBot) -> None:
    stage = make()
    QTest.mouseDClick(stage.canvas.view.viewport(), LEFT, NONE, at(stage, 700, 110))
    (line,) = seams(stage)
    assert len(line.points) == 3 and line.corner_mm > 0
    settle(stage, qtbot)
    drag(stage, at(stage, *line.points[1]), at(stage, 780, 110))
    assert seams(stage)[0].points[1][0] == pytest.approx(780, abs=stage.canvas.mm(2))
    key(stage, Qt.Key.Key_Delete)
    assert len(seams(stage)[0].points) == 2


# --- keys -----------------------------------------------------------------------------------
def test_the_keyboard_alone_adds_moves_turns_and_removes_seams(make: Make) -> None:
    stage = make()
    stage.canvas.setFocus()
    key(stage, Qt.Key.Key_N)
    assert len(seams(stage)) == 2 and stage.document.undo_text == "Add a seam"
    key(stage, Qt.Key.Key_Comma)
    assert stage.scene.chosen == 0
    key(stage, Qt.Key.Key_Left, SHIFT)
    key(stage, Qt.Key.Key_Left)
    assert seams(stage)[0].points[0][0] == pytest.approx(689)
    key(stage, Qt.Key.Key_BracketRight)
    assert stage.scene.chosen_handle == "point 0"
    key(stage, Qt.Key.Key_Right)
    assert seams(stage)[0].points[0][0] == pytest.approx(690)
    assert seams(stage)[0].points[1][0] == pytest.approx(689)
    key(stage, Qt.Key.Key_BracketLeft)
    key(stage, Qt.Key.Key_R)
    assert seams(stage)[0].points[0][0] > 700
    key(stage, Qt.Key.Key_Delete)
    assert len(seams(stage)) == 1


def test_a_seam_just_drawn_can_wait_for_its_pieces_while_the_colours_change(make: Make) -> None:
    stage = make()
    stage.canvas.setFocus()
    QTest.keyClick(stage.canvas.view, Qt.Key.Key_N)
    assert stage.shown is not None and stage.scene.chosen == len(stage.shown.lines)
    theme.watcher().changed.emit()  # before the pieces are worked out
    assert not stage.remove_button.isEnabled()
    stage.take_style("wave")
    stage.set_parameter("pitch_mm", 60.0)
    assert len(seams(stage)) == 2


def test_nudges_of_one_seam_are_one_step_of_undo(make: Make) -> None:
    stage = make()
    stage.canvas.setFocus()
    for _ in range(5):
        key(stage, Qt.Key.Key_Left)
    assert seams(stage)[0].points[0][0] == pytest.approx(695)
    stage.document.undo()
    assert seams(stage) == (LINE,)


def test_t_turns_the_teeth_over(make: Make, qtbot: QtBot) -> None:
    stage = make()
    stage.canvas.setFocus()
    key(stage, Qt.Key.Key_T)
    assert seams(stage)[0].turned_over
    settle(stage, qtbot)
    assert stage.shown is not None and stage.shown.ok


# --- styles, numbers, fit ---------------------------------------------------------------------
def test_the_gallery_draws_this_seam_in_every_style(make: Make) -> None:
    stage = make()
    gallery = stage.style_box.gallery
    titles = [gallery.item(i).text() for i in range(gallery.count())]
    assert titles == [style.title for style in STYLES.values()]
    assert gallery.currentRow() == 0
    by_name = {sample.name: sample for sample in stage._samples}
    assert by_name["finger"].teeth > 0 and by_name["butt"].keys
    widths = {
        sum(region.area_mm2 for region in sample.left) for sample in stage._samples if sample.left
    }
    assert len(widths) > 3  # real geometry, not one picture


def test_a_click_in_the_gallery_changes_the_style(make: Make, qtbot: QtBot) -> None:
    stage = make()
    gallery = stage.style_box.gallery
    rect = gallery.visualItemRect(gallery.item(1))
    QTest.mouseClick(gallery.viewport(), LEFT, NONE, rect.center())
    assert seams(stage)[0].style == StyleChoice("dovetail")
    assert stage.document.undo_text == "Make the seams dovetail"
    settle(stage, qtbot)
    assert stage.shown is not None
    assert stage.shown.split.seams[0].properties.holds
    assert "Holds against pulling apart" in stage.style_box.facts.text()


def test_enter_in_the_gallery_changes_the_style(make: Make) -> None:
    stage = make()
    gallery = stage.style_box.gallery
    gallery.setFocus()
    gallery.setCurrentRow(3)
    QTest.keyClick(gallery, Qt.Key.Key_Return)
    assert seams(stage)[0].style.name == "wave"


def test_the_style_of_an_automatic_panel_is_kept_for_what_the_planner_finds(
    make: Make, qtbot: QtBot
) -> None:
    stage = make(project(automatic=True))
    stage.take_style("wave")
    assert stage.panel is not None
    assert stage.panel.seams is None and stage.panel.style == StyleChoice("wave")
    settle(stage, qtbot)
    assert stage.shown is not None and stage.shown.lines[0].style.name == "wave"


def test_a_number_of_the_style_can_be_typed_and_left_to_the_usual_again(
    make: Make, qtbot: QtBot
) -> None:
    stage = make()
    field = stage.style_box.field_of("finger", "width")
    assert isinstance(field, LengthField)
    assert field.line.placeholderText() == "usual: 22 mm"
    QTest.keyClicks(field.line, "1.5 in")
    QTest.keyClick(field.line, Qt.Key.Key_Return)
    assert seams(stage)[0].style.params == (("width", pytest.approx(38.1)),)
    settle(stage, qtbot)
    field.line.selectAll()
    QTest.keyClick(field.line, Qt.Key.Key_Delete)
    QTest.keyClick(field.line, Qt.Key.Key_Return)
    assert seams(stage)[0].style.params == ()


def test_a_number_out_of_range_is_refused_in_place(make: Make) -> None:
    stage = make()
    field = stage.style_box.field_of("finger", "width")
    assert isinstance(field, LengthField)
    QTest.keyClicks(field.line, "1")
    QTest.keyClick(field.line, Qt.Key.Key_Return)
    assert seams(stage) == (LINE,)
    assert field.problem.text() == "At least 3 mm."
    QTest.keyClick(field.line, Qt.Key.Key_Escape)


def test_the_fit_is_total_play_and_never_negative(make: Make, qtbot: QtBot) -> None:
    stage = make()
    line = stage.style_box.fit.line
    QTest.keyClicks(line, "-0.1")
    QTest.keyClick(line, Qt.Key.Key_Return)
    assert seams(stage) == (LINE,) and stage.style_box.fit.problem.text()
    line.selectAll()
    QTest.keyClicks(line, "0.4")
    QTest.keyClick(line, Qt.Key.Key_Return)
    assert seams(stage)[0].fit_mm == 0.4
    settle(stage, qtbot)
    assert stage.shown is not None and stage.shown.split.seams[0].fit_mm == 0.4


def test_numbers_go_to_one_seam_only_when_they_are_not_to_be_alike(make: Make) -> None:
    other = shape.moved_line(LINE, -300, 0)
    stage = make(project(LINE, other))
    stage.style_box.scope.setChecked(False)
    stage.hand.choose(1)
    stage.set_field("fit_mm", 0.3)
    assert [line.fit_mm for line in seams(stage)] == [None, 0.3]
    stage.style_box.scope.setChecked(True)
    stage.set_field("fit_mm", 0.2)
    assert [line.fit_mm for line in seams(stage)] == [0.2, 0.2]


def test_shift_moves_the_pattern_along_the_seam(make: Make, qtbot: QtBot) -> None:
    stage = make()
    assert stage.shown is not None
    before = stage.shown.split.seams[0].profile
    line = stage.style_box.shift.line
    QTest.mouseClick(line, Qt.MouseButton.LeftButton)
    QTest.keyClick(line, Qt.Key.Key_A, Qt.KeyboardModifier.ControlModifier)
    QTest.keyClicks(line, "6")
    QTest.keyClick(line, Qt.Key.Key_Return)
    settle(stage, qtbot)
    assert stage.shown.split.seams[0].profile != before
    assert stage.shown.ok


# --- proposals --------------------------------------------------------------------------------
def test_proposals_are_drawn_and_one_can_be_taken_and_left_again(make: Make, qtbot: QtBot) -> None:
    stage = make(project(automatic=True))
    gallery = stage.proposals_box.gallery
    assert gallery.count() >= 1
    assert gallery.item(0).text().startswith("2 pieces")
    QTest.mouseClick(
        gallery.viewport(), LEFT, NONE, gallery.visualItemRect(gallery.item(0)).center()
    )
    assert stage.document.undo_text == "Split Side into 2"
    assert len(seams(stage)) == 1
    settle(stage, qtbot)
    assert stage.proposals_box.automatic.isVisibleTo(stage)
    QTest.mouseClick(stage.proposals_box.automatic, LEFT)
    assert stage.panel is not None and stage.panel.seams is None


# --- bed, loupe, opening ------------------------------------------------------------------------
def test_a_way_taken_keeps_what_the_joint_was_said_to_be_for(make: Make, qtbot: QtBot) -> None:
    loose = FitSetting(0.4, JointClass.KNOCK_DOWN, BOARD)
    begun = project()
    stage = make(replace(begun, shop=replace(begun.shop, fits=(loose,))))
    stage.hand.choose(0, "middle")
    stage.style_box.joint_class.chosen.emit(JointClass.KNOCK_DOWN)
    settle(stage, qtbot)
    assert seams(stage)[0].joint_class is JointClass.KNOCK_DOWN
    qtbot.waitUntil(lambda: stage.proposals_box.gallery.count() > 0, timeout=20000)
    stage.take_proposal(0)
    settle(stage, qtbot)
    assert {line.joint_class for line in seams(stage)} == {JointClass.KNOCK_DOWN}
    assert stage.shown is not None
    assert {seam.fit_mm for seam in stage.shown.split.seams} == {0.4}


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


# --- lines ------------------------------------------------------------------------------------
def test_a_line_turned_about_its_middle_keeps_its_middle_and_length() -> None:
    turned = shape.turned_line(LINE, 30)
    assert shape.middle_of(turned) == pytest.approx(shape.middle_of(LINE))
    (x1, y1), (x2, y2) = turned.points
    assert ((x2 - x1) ** 2 + (y2 - y1) ** 2) ** 0.5 == pytest.approx(380)


def test_a_bend_goes_into_the_nearest_stretch() -> None:
    line = SeamLine(((0.0, 0.0), (100.0, 0.0), (100.0, 100.0)))
    bent, number = shape.bent_at(line, 102, 60, 20)
    assert number == 2 and len(bent.points) == 4
    assert shape.without_point(bent, 2).points == line.points
    assert shape.without_point(line, 0) is line
