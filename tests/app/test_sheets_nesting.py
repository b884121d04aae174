"""Nesting on the Sheets stage, the layouts kept of it, and findings mended there."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest
from PySide6.QtCore import QPoint, Qt
from PySide6.QtTest import QTest
from pytestqt.qtbot import QtBot

from app.commands import SetProject
from app.stages.sheets_model import figures_of
from core.findings import Finding, Severity
from core.geometry import Motion
from core.plan import Plan, PlanOffcut, PlanSawCut
from core.project.model import KeptLayout, Placed, Project
from tests.app import sheets_bench as bench
from tests.app.floor import (
    LEFT,
    A,
    B,
    Make,
    drag,
    key,
    laid,
    select,
    spot,
    with_placed,
)


@pytest.fixture
def make(make_sheets: Make) -> Make:
    return make_sheets


# --- nesting ------------------------------------------------------------------------------
def test_nesting_shows_improvements_and_ends_as_one_step_of_undo(make: Make, qtbot: QtBot) -> None:
    stage = make(bench.project())
    QTest.mouseClick(stage.nest_box.go, LEFT)
    assert stage.nest_box.running
    qtbot.waitUntil(lambda: len(stage.nest_box.curve.points) >= 2, timeout=5000)
    assert stage.document.project.layouts == ()
    qtbot.waitUntil(lambda: not stage.nest_box.running, timeout=5000)
    assert len(stage._bench.placed) == 3
    assert stage.document.undo_text == "Nest 3 pieces"
    assert stage.document.project.current_layout == "Layout 1"
    stage.document.undo()
    assert not stage._bench.placed


def test_the_curve_ends_at_what_is_used_in_the_end(
    make: Make, qtbot: QtBot, monkeypatch: pytest.MonkeyPatch
) -> None:
    stage = make(bench.project())

    def better_at_the_end(_project, pieces, *, progress, **_):  # type: ignore[no-untyped-def]
        progress(0.5, "", bench.row_of_shelves(1, pieces))
        return bench.row_of_shelves(3, pieces)

    engine = replace(stage.derived.engine, lay_out=better_at_the_end)
    monkeypatch.setattr(stage.derived, "engine", engine)
    QTest.mouseClick(stage.nest_box.go, LEFT)
    qtbot.waitUntil(lambda: not stage.nest_box.running, timeout=5000)
    used = figures_of(stage._bench).yield_share
    assert len(stage._bench.placed) == 3
    assert stage.nest_box.curve.points[-1][1] == pytest.approx(used)


def test_nesting_can_be_stopped_and_keeps_the_best(make: Make, qtbot: QtBot) -> None:
    stage = make(bench.project())
    QTest.mouseClick(stage.nest_box.go, LEFT)
    qtbot.waitUntil(lambda: len(stage.nest_box.curve.points) >= 1, timeout=5000)
    QTest.mouseClick(stage.nest_box.go, LEFT)
    qtbot.waitUntil(lambda: not stage.nest_box.running, timeout=5000)
    assert 1 <= len(stage._bench.placed) <= 3
    assert stage.document.project.layouts


def test_locked_pieces_stay_where_they_are_through_nesting(make: Make, qtbot: QtBot) -> None:
    stage = make(with_placed(Placed("shelf", 2, "full", 1, Motion(1500, 600), locked=True)))
    stage.nest()
    qtbot.waitUntil(lambda: not stage.nest_box.running, timeout=5000)
    assert stage._bench.placed[B] == Placed("shelf", 2, "full", 1, Motion(1500, 600), locked=True)


def test_pieces_cannot_be_moved_by_hand_while_nesting_runs(make: Make, qtbot: QtBot) -> None:
    stage = make()
    stage.nest()
    before = stage.document.project
    drag(stage, spot(stage, A), spot(stage, A) + QPoint(100, -100))
    assert stage.document.project is before
    assert "Nesting runs" in stage.line.text()
    qtbot.waitUntil(lambda: not stage.nest_box.running, timeout=5000)


def test_a_change_of_the_shop_ends_nesting(make: Make, qtbot: QtBot) -> None:
    from app.commands.base import SHOP, Edit

    stage = make(bench.project())
    stage.nest()
    stage.document.run(
        Edit(
            "Spacing",
            frozenset({SHOP}),
            lambda p: replace(p, shop=bench.shop(stock=p.shop.stock[:1])),
        )
    )
    assert not stage.nest_box.running
    qtbot.waitUntil(stage.jobs.is_idle, timeout=5000)
    assert stage.document.project.layouts == ()


# --- layouts kept -------------------------------------------------------------------------
def test_a_copy_is_kept_and_compared_and_either_can_be_shown(make: Make) -> None:
    stage = make()
    stage.keep_copy()
    names = [k.name for k in stage.document.project.layouts]
    assert names == ["Layout 1", "Layout 2"]
    select(stage, B)
    key(stage, Qt.Key.Key_Delete)
    table = stage.layouts_box.table
    assert [table.item(i, 1).text() for i in (0, 1)] == ["12 % ✓", "6 %"]
    table.selectRow(0)
    assert stage.document.project.current_layout == "Layout 1"
    assert set(stage._bench.placed) == {A, B}


def test_every_kept_layout_shows_its_saw_cuts_offcut_and_cost(
    make: Make, qtbot: QtBot, monkeypatch: pytest.MonkeyPatch
) -> None:
    def assemble(project: Any, pieces: Any, layout: KeptLayout) -> Plan:
        plan = bench.assemble_plan(project, pieces, layout)
        cuts = tuple(
            PlanSawCut(n, 0, 100 * n, 900, 100 * n) for n in range(1, len(layout.placed) + 1)
        )
        corners = ((0.0, 0.0), (1000.0, 0.0), (1000.0, 500.0), (0.0, 500.0))
        offcut = PlanOffcut(corners, keep=True)
        sheets = tuple(replace(s, saw_cuts=cuts, offcuts=(offcut,)) for s in plan.sheets)
        return replace(plan, sheets=sheets)

    engine = make(Project()).derived.engine
    monkeypatch.setattr(make().derived, "engine", replace(engine, assemble_plan=assemble))
    stage = make(laid(2))
    assert stage.layouts_box.detail.text() == (
        "2 saw cuts · offcut kept 0.50\u00a0m² · to buy for 80.00"
    )
    stage.keep_copy()
    select(stage, B)
    key(stage, Qt.Key.Key_Delete)
    box = stage.layouts_box
    qtbot.waitUntil(lambda: box.detail.text().count("saw cut") == 2, timeout=5000)
    assert box.detail.text().splitlines() == [
        "Layout 1: 2 saw cuts · offcut kept 0.50\u00a0m² · to buy for 80.00",
        "Layout 2: 1 saw cut · offcut kept 0.50\u00a0m² · to buy for 80.00",
    ]
    stage.document.run(SetProject("Inches", (("units", "in"),)))
    qtbot.waitUntil(lambda: box.detail.text().count("ft²") == 2, timeout=5000)
    assert "5.38\u00a0ft²" in box.detail.text()  # 0.5 m²


def test_a_layout_can_be_renamed_and_forgotten(make: Make) -> None:
    stage = make()
    stage.layouts_box.table.item(0, 0).setText("Two shelves")
    assert stage.document.project.current_layout == "Two shelves"
    QTest.mouseClick(stage.layouts_box.forget_button, LEFT)
    assert stage.document.project.layouts == ()
    stage.document.undo()
    assert set(stage._bench.placed) == {A, B}


# --- findings -----------------------------------------------------------------------------
def test_a_finding_leads_to_the_piece_and_can_be_mended(make: Make) -> None:
    stage = make(
        with_placed(
            Placed("shelf", 1, "full", 1, Motion(10, 10)),
            Placed("shelf", 2, "full", 1, Motion(400, 100)),
        )
    )
    finding = Finding("layout-overlap", Severity.STOP, "They overlap", "shelf", (700, 250))
    assert stage.shows(finding) and stage.offer(finding) == "Move it apart"
    stage.show_finding(finding)
    assert stage.hand.selected == [B]
    stage.take_offer(finding)
    assert not stage._all_wrong()
