"""The ways onto the machine, sawn sheets and blanks on the bed, driven in a real window."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import pytest
from PySide6.QtCore import QPointF, Qt
from PySide6.QtGui import QFont
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication
from pytestqt.qtbot import QtBot

from app.derived import Engine
from app.stages.sheets import SheetsStage
from core import planning
from core.geometry import Motion, Region, Ring
from core.plan import PlanWay
from core.project.model import CutBy, KeptLayout, Panel, Placed, Project
from core.shop import Machine, Material, Rules, SawKind, Shop, Stock
from tests.app import mouse

BOARD = "birch 18"
Make = Callable[..., SheetsStage]


def lay_out(project: Project, pieces: planning.PieceSet, **options: object) -> KeptLayout:
    options.pop("seconds", None)
    return planning.lay_out(project, pieces, steps=400, **options)  # type: ignore[arg-type]


def compare(project: Project, pieces: planning.PieceSet, **options: object) -> tuple[PlanWay, ...]:
    return planning.compare_project(project, pieces, steps=200, **options)  # type: ignore[arg-type]


def shelves(**changes: object) -> Project:
    """Three shelves and two saw-cut drawer sides on sheets larger than the table."""
    machine = Machine(travel_mm=(900.0, 600.0), table_mm=(940.0, 640.0), open_ended=True)
    made = Project(
        name="Shelves",
        panels=(
            Panel("shelf", "Shelf", Region.of(Ring.rectangle(0, 0, 700, 300)), quantity=3,
                  material=BOARD),
            Panel("side", "Drawer side", Region.of(Ring.rectangle(0, 0, 400, 120)), quantity=2,
                  material=BOARD, by=CutBy.SAW),
        ),
        shop=Shop(
            machine,
            (Material(BOARD, 18.0),),
            (Stock("full", BOARD, 2440.0, 1220.0, cost=60.0),),
            rules=Rules(),
        ),
    )  # fmt: skip
    return replace(made, **changes)  # type: ignore[arg-type]


@pytest.fixture(scope="module")
def sheets_engine() -> Engine:
    """The planner itself, with short searches."""
    return Engine(planning.cut_panels, planning.assemble_plan, lay_out, compare)


@pytest.fixture
def make(make_sheets: Make) -> Make:
    def build(project: Project | None = None) -> SheetsStage:
        return make_sheets(project if project is not None else shelves())

    return build


def laid(stage: SheetsStage, qtbot: QtBot) -> None:
    """Nest and wait for the plan of it."""
    stage.nest()
    qtbot.waitUntil(lambda: stage._job is None and stage.derived.is_current, timeout=15000)
    assert stage.document.project.layout() is not None


def compared(stage: SheetsStage, qtbot: QtBot) -> None:
    stage.ways.box.compare.click()
    qtbot.waitUntil(lambda: bool(stage.derived.ways), timeout=20000)


def test_the_way_and_the_saw_are_chosen_beside_the_floor(make: Make, qtbot: QtBot) -> None:
    stage = make()
    stage.ways.box.way._picked(2)
    assert stage.document.project.breakdown == "through"
    stage.ways.box.saw._picked(1)
    assert stage.document.project.shop.rules.saw is SawKind.BENCH
    stage.document.undo()
    stage.document.undo()
    assert stage.document.project.breakdown == "blanks"
    assert stage.ways.box.way.value == "blanks"


def test_a_way_the_machine_cannot_go_is_said(make: Make) -> None:
    closed = replace(shelves().shop.machine, open_ended=False)
    stage = make(shelves(breakdown="through", shop=replace(shelves().shop, machine=closed)))
    assert not stage.ways.box.note.isHidden()


def test_the_ways_are_compared_in_one_table_off_the_windows_thread(
    make: Make, qtbot: QtBot
) -> None:
    stage = make()
    compared(stage, qtbot)
    dialog = stage.ways.dialog
    assert dialog is not None
    rows = [
        [dialog.table.item(i, k).text() for k in range(dialog.table.columnCount())]  # type: ignore[union-attr]
        for i in range(dialog.table.rowCount())
    ]
    assert [row[1].removesuffix(" ✓") for row in rows] == [
        "rough-cut blanks",
        "whole sheets",
        "pushed through",
    ]
    assert rows[0][1].endswith("✓")
    assert rows[1][7] == "–"  # a whole sheet has no blanks
    assert int(rows[0][7]) > 0
    # The first page of the cut list has it, too.
    plan = stage.derived.plan
    assert plan is not None
    assert len(plan.ways) == 3
    dialog.table.selectRow(1)
    assert not dialog.take.isEnabled()  # for comparison only
    dialog.close()


def test_every_column_of_the_comparison_can_be_read_in_large_text(
    make: Make, qtbot: QtBot, qapp: QApplication
) -> None:
    stage = make()
    usual = qapp.font()
    large = QFont(usual)
    large.setPointSizeF(usual.pointSizeF() * 1.3)
    qapp.setFont(large)
    try:
        compared(stage, qtbot)
        dialog = stage.ways.dialog
        assert dialog is not None
        dialog.table.setFont(large)
        dialog.show_rows(stage.derived.ways, stage.document.project)
        header = dialog.table.horizontalHeader()
        for column in range(dialog.table.columnCount()):
            asked = max(dialog.table.sizeHintForColumn(column), header.sectionSizeHint(column))
            assert header.sectionSize(column) >= asked, column
        dialog.close()
    finally:
        qapp.setFont(usual)


def test_the_way_taken_is_laid_out_and_undone_in_one_step(make: Make, qtbot: QtBot) -> None:
    stage = make()
    compared(stage, qtbot)
    before = stage.document.project
    dialog = stage.ways.dialog
    assert dialog is not None
    dialog.table.selectRow(2)
    dialog.take.click()
    qtbot.waitUntil(lambda: stage.derived.is_current, timeout=8000)
    project = stage.document.project
    assert project.shop.stock[0].way == "through"
    layout = project.layout()
    assert layout is not None and len(layout.placed) == 5
    plan = stage.derived.plan
    assert plan is not None and plan.is_clean
    assert stage.derived.ways  # the figures still hold
    stage.document.undo()
    assert stage.document.project == before
    dialog.close()


def test_another_panel_makes_the_comparison_void(make: Make, qtbot: QtBot) -> None:
    stage = make()
    compared(stage, qtbot)
    more = replace(stage.document.project.panels[0], quantity=4)
    project = replace(stage.document.project, panels=(more, stage.document.project.panels[1]))
    make(project)
    qtbot.waitUntil(lambda: stage.derived.is_current, timeout=8000)
    assert stage.derived.plan is not None
    stage.ways.dialog.close()  # type: ignore[union-attr]


def test_a_sawn_sheet_stays_sawn_and_is_told_by_its_title(make: Make, qtbot: QtBot) -> None:
    stage = make()
    laid(stage, qtbot)
    sheet = stage._bench.used_sheets[0]
    stage.set_sawn(sheet, True)
    layout = stage.document.project.layout()
    assert layout is not None
    (frozen,) = [s for s in layout.sheets if s.frozen]
    assert len(frozen.wanted) == len(stage._bench.on(sheet))
    assert "sawn" in stage.floor.sheets[sheet].title.text
    laid(stage, qtbot)
    layout = stage.document.project.layout()
    assert layout is not None
    assert [s.blanks for s in layout.sheets if s.frozen] == [frozen.blanks]
    stage.set_sawn(sheet, False)
    layout = stage.document.project.layout()
    assert layout is not None
    assert not any(s.frozen for s in layout.sheets)


def test_a_blank_dragged_on_the_bed_warns_at_once_and_stays_where_it_was_put(
    make: Make, qtbot: QtBot
) -> None:
    stage = make()
    laid(stage, qtbot)
    stage.show_bed()
    dialog = stage.bed_dialog
    assert dialog is not None
    qtbot.waitUntil(lambda: dialog.now is not None, timeout=5000)
    view = dialog.view
    assert dialog.now is not None
    setup = dialog.now.setup
    assert "gets round every piece" in dialog.state.text()
    start = view.to_px(setup.bed_x_mm + 50, setup.bed_y_mm + 50).toPoint()
    scale = view._scale()
    end = (QPointF(start) + QPointF(300 * scale, 0)).toPoint()
    QTest.mousePress(view, Qt.MouseButton.LeftButton, pos=start)
    mouse.move(view, end, Qt.MouseButton.LeftButton)
    assert "does not get round" in dialog.state.text()
    assert stage.document.project.layout().sheets[0].lying == ()  # type: ignore[union-attr]
    QTest.mouseRelease(view, Qt.MouseButton.LeftButton, pos=end)
    lying = stage.document.project.layout().sheets[0].lying  # type: ignore[union-attr]
    assert len(lying) == 1
    assert lying[0][1] == pytest.approx(setup.bed_x_mm + 300, abs=1.5)
    qtbot.waitUntil(lambda: stage.derived.is_current, timeout=8000)
    assert "beyond-reach" in {f.code for f in stage.derived.findings}
    dialog.usual.click()
    qtbot.waitUntil(lambda: stage.derived.is_current, timeout=8000)
    assert "beyond-reach" not in {f.code for f in stage.derived.findings}
    QTest.keyClick(view, Qt.Key.Key_Right)
    assert stage.document.project.layout().sheets[0].lying  # type: ignore[union-attr]
    dialog.close()


def test_a_blank_that_a_change_took_away_is_laid_nowhere(make: Make, qtbot: QtBot) -> None:
    """The bed shows the plan of before until the next one is worked out."""
    stage = make()
    laid(stage, qtbot)
    stage.show_bed()
    dialog = stage.bed_dialog
    assert dialog is not None
    qtbot.waitUntil(lambda: dialog.now is not None, timeout=5000)
    plan = stage.derived.plan
    assert plan is not None and dialog.now is not None
    shifted = [
        replace(sheet, setups=tuple(replace(s, x_mm=s.x_mm + 3.0) for s in sheet.setups))
        for sheet in plan.sheets
    ]
    stage.derived.plan = replace(plan, sheets=tuple(shifted))
    said: list[str] = []
    stage.told = said.append  # type: ignore[method-assign]
    before = stage.document.project
    dialog.lain.emit(dialog.now.setup.id, 10.0, 10.0)
    assert stage.document.project is before
    assert said == ["Still working out the last change: try again in a moment."]
    dialog.close()


def test_a_piece_by_hand_beyond_the_bit_is_told_for_a_pushed_sheet(
    make: Make, qtbot: QtBot
) -> None:
    project = shelves(breakdown="through")
    layout = KeptLayout("Layout 1", (Placed("shelf", 1, "full", 1, Motion(20, 0)),))
    stage = make(replace(project, layouts=(layout,), current_layout="Layout 1"))
    assert {"layout-edge", "layout-keep-out"} & {f.code for f in stage.derived.findings}
