"""Very many pieces: shown in slices and looked over off the window's thread, and nothing lost."""

from __future__ import annotations

import pytest
from PySide6.QtCore import QPoint
from pytestqt.qtbot import QtBot

from app.commands.layout import SetPlaced
from app.stages import sheets_checks, sheets_floor
from app.stages import sheets_model as model
from app.stages.sheets import SheetsStage
from core.geometry import Motion
from core.project.model import Placed
from tests.app.floor import A, B, Make, drag, laid, spot, with_placed


@pytest.fixture
def slow(make_sheets: Make, monkeypatch: pytest.MonkeyPatch) -> Make:
    """A stage for which two pieces are very many."""
    monkeypatch.setattr(sheets_floor, "_AT_ONCE", 0)
    monkeypatch.setattr(sheets_floor, "_IDLE_S", -1.0)
    monkeypatch.setattr(sheets_checks, "_LOOKED_AT_ONCE", 0)
    return make_sheets


def drawn(stage: SheetsStage) -> set[tuple[str, int]]:
    return {key for key, item in stage.floor.pieces.items() if item.scene() is not None}


def test_pieces_come_in_slices_until_all_are_there(
    slow: Make, qtbot: QtBot, monkeypatch: pytest.MonkeyPatch
) -> None:
    stage = slow(laid(3))
    monkeypatch.setattr(sheets_floor, "_IDLE_S", 0.008)
    qtbot.waitUntil(lambda: not stage.floor._to_show, timeout=5000)
    assert drawn(stage) == set(stage._bench.placed) and len(drawn(stage)) == 3
    assert not stage.floor._showing.isActive()


def test_what_is_selected_meanwhile_is_shown_so_when_it_comes(slow: Make) -> None:
    stage = slow()
    assert not drawn(stage)
    stage.hand.select([B])
    stage.floor.finish()
    assert drawn(stage) == {A, B}
    assert stage.floor.pieces[B].selected and not stage.floor.pieces[A].selected
    assert stage.floor.pieces[B].zValue() > stage.floor.pieces[A].zValue()


def test_a_drag_has_all_pieces_there_first(slow: Make, monkeypatch: pytest.MonkeyPatch) -> None:
    stage = slow()
    monkeypatch.setattr(sheets_floor, "_AT_ONCE", 1)
    stage.floor.show(stage._bench, "mm")
    assert drawn(stage) == {A}
    start = spot(stage, A)
    stage.hand.select([A, B])
    drag(stage, start, start + QPoint(20, 5), drop=False)
    assert drawn(stage) == {A, B}
    assert stage.hand.cancel()


def test_a_layout_that_changed_meanwhile_is_shown_as_it_is_now(
    slow: Make, monkeypatch: pytest.MonkeyPatch
) -> None:
    stage = slow(laid(3))
    assert len(stage.floor._to_show) == 3
    gone = tuple(key for key in stage._bench.placed if key != A)
    stage.document.run(SetPlaced("Two into the tray", (), gone))
    monkeypatch.setattr(sheets_floor, "_AT_ONCE", 20)
    stage._rebuild()
    assert drawn(stage) == {A}


def test_overlaps_among_very_many_are_marked_as_soon_as_they_are_found(
    slow: Make, qtbot: QtBot
) -> None:
    over = with_placed(
        Placed(*A, "full", 1, Motion(20, 20)), Placed(*B, "full", 1, Motion(200, 100))
    )
    stage = slow(over)
    qtbot.waitUntil(lambda: stage._all_wrong() == {A, B}, timeout=5000)
    stage.floor.finish()
    qtbot.waitUntil(stage.jobs.is_idle, timeout=5000)
    assert stage.floor.pieces[A].wrong and stage.floor.pieces[B].wrong
    assert "2 pieces lie where they must not" in stage.summary.text()
    stage.document.take(laid(2), None)
    qtbot.waitUntil(lambda: stage.derived.is_current and stage.jobs.is_idle(), timeout=5000)
    assert stage._all_wrong() == set()


def test_each_sheet_is_looked_over_once_however_many_there_are(
    slow: Make, qtbot: QtBot, monkeypatch: pytest.MonkeyPatch
) -> None:
    seen: list[tuple[str, int]] = []
    honest = model.wrong_keys

    def counting(bench: model.Bench, sheet: model.SheetKey) -> set[model.Key]:
        seen.append(sheet)
        return honest(bench, sheet)

    three = with_placed(
        Placed(*A, "full", 1, Motion(20, 20)),
        Placed(*B, "full", 2, Motion(20, 20)),
        Placed("shelf", 3, "full", 3, Motion(5, 20)),
    )
    stage = slow(three)
    qtbot.waitUntil(stage.jobs.is_idle, timeout=5000)
    monkeypatch.setattr(model, "wrong_keys", counting)
    stage.checks._found.clear()
    stage.checks._bench = None
    stage._mark()
    qtbot.waitUntil(stage.jobs.is_idle, timeout=5000)
    assert sorted(seen) == [("full", 1), ("full", 2), ("full", 3)]
    assert stage._all_wrong() == {("shelf", 3)}
    # what was found of a sheet is taken though another one has changed meanwhile
    seen.clear()
    stage.checks._found.pop(("full", 3))
    stage.checks._bench = None
    stage._mark()
    stage.document.run(SetPlaced("Move", (Placed(*A, "full", 1, Motion(40, 20)),)))
    qtbot.waitUntil(lambda: stage.derived.is_current and stage.jobs.is_idle(), timeout=5000)
    assert sorted(seen) == [("full", 1), ("full", 3)]
    assert stage._all_wrong() == {("shelf", 3)}
