"""The test piece in the window and the caliper card: first job, result, readings."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import ezdxf
import pytest
from pytestqt.qtbot import QtBot

from app.shop.test_piece import KeepTestResult, TestPieceDialog
from app.widgets.calipers import CaliperScale, read_several, scale_of, sheet_rows, spread_words
from core.errors import BadLengthError
from core.planning import check_project
from core.project.model import Project
from core.refit import refit_panel
from core.shop import BoardState, Cutter, JointClass, Material
from core.shop import Reading as Caliper
from core.test_pieces import TestResult
from tests.unit.refit.refit_fittings import BIRCH, panel, project, toothed


def carcass() -> Project:
    top = panel("Top", toothed(600, 300, 9, 18.0, tip_first=True))
    side = panel("Side", toothed(400, 300, 9, 18.0, tip_first=False))
    return project(top, side, fit_mm=0.15)


@pytest.fixture
def dialog(make_window: Callable[..., object], qtbot: QtBot) -> TestPieceDialog:
    window = make_window(carcass())
    made: TestPieceDialog = window.shop.test_piece()  # type: ignore[attr-defined]
    qtbot.waitUntil(lambda: made.piece is not None, timeout=20000)
    return made


def typed(field: object, text: str) -> bool:
    field.line.setText(text)  # type: ignore[attr-defined]
    field.line.setModified(True)  # type: ignore[attr-defined]
    return bool(field.commit())  # type: ignore[attr-defined]


def test_the_dialog_shows_the_piece_and_the_words_on_it(dialog: TestPieceDialog) -> None:
    assert dialog.board.currentText() == BIRCH.name
    assert "SNUG 0.10" in dialog.how.text()
    assert "a scrap of that board of at least" in dialog.about.text()
    assert not dialog.keep_button.isEnabled()


def test_drawing_and_page_are_written_where_the_maker_says(
    dialog: TestPieceDialog, ask: object, tmp_path: Path
) -> None:
    for number, (button, name) in enumerate(
        ((dialog.drawing_button, "first.dxf"), (dialog.page_button, "first.pdf"))
    ):
        ask.will("save_file", tmp_path / name)  # type: ignore[attr-defined]
        button.click()
        assert (tmp_path / name).stat().st_size > 1000, number
        assert name in dialog.state.text()
    assert len(list(ezdxf.readfile(tmp_path / "first.dxf").modelspace())) > 20


def test_what_was_right_becomes_the_fit_everything_is_cut_with_and_can_be_undone(
    dialog: TestPieceDialog,
) -> None:
    document = dialog._context.document
    assert "fit-not-tested" in {f.code for f in check_project(document.project)}
    assert typed(dialog.along, "snug")
    assert typed(dialog.across, "0.2")
    # A slot measured 0.04 mm under what it was drawn: the bit is that much under size.
    result = dialog.told_result()
    assert result is not None and result.slot_drawn_mm is not None
    assert typed(dialog.slot, f"{result.slot_drawn_mm - 0.04}")
    assert dialog.lens.text == "0.20 mm across, 0.10 mm a side"
    dialog.keep_button.click()
    shop = document.project.shop
    assert shop.fit_mm(material=BIRCH.name) == 0.2
    assert shop.machine.cutter.measured_mm == pytest.approx(5.96)
    assert "Kept: 0.20 mm across" in dialog.state.text()
    item = refit_panel(document.project, document.project.panels[0]).items[0]
    assert item.fit_mm == 0.2
    assert "fit-not-tested" not in {f.code for f in check_project(document.project)}
    document.undo()
    assert document.project.shop.fit_mm(material=BIRCH.name) == 0.15
    assert document.project.shop.machine.cutter.measured_mm is None


def test_a_word_that_is_not_on_the_piece_and_a_wrong_slot_are_refused_in_place(
    dialog: TestPieceDialog,
) -> None:
    assert not typed(dialog.along, "wobbly")
    assert "is not on the piece" in dialog.along.problem.text()
    assert typed(dialog.along, "EASY")
    assert typed(dialog.slot, "12")
    dialog.keep_button.click()
    assert "Measure again" in dialog.state.text()
    assert not dialog._context.document.project.shop.fits


def test_the_result_of_one_class_leaves_the_other_as_it_was() -> None:
    plan = carcass()
    result = TestResult(BIRCH.name, Cutter(6.0), 0.2, joint_class=JointClass.KNOCK_DOWN)
    after = KeepTestResult("Keep", result).apply(plan)
    assert after.shop.fit_mm(JointClass.GLUED, BIRCH.name) == 0.15
    assert after.shop.fit_mm(JointClass.KNOCK_DOWN, BIRCH.name) == 0.2


# --- the caliper card ------------------------------------------------------------------------

BOARD = Material(
    "Birch ply 18",
    18.0,
    (
        Caliper(17.9, "1"),
        Caliper(17.6, "1", BoardState.SANDED),
        Caliper(17.45, "2", BoardState.SANDED),
    ),
)


def test_the_most_finished_state_counts_and_its_largest_reading_sets_slots() -> None:
    scale = scale_of(BOARD)
    assert scale.readings == (17.6, 17.45)
    assert scale.earlier == (17.9,)
    assert scale.used_mm == 17.6
    # EN 315, as quoted in secondary literature: +(0.2 + 0.03 t), −(0.4 + 0.03 t).
    assert scale.allowed == pytest.approx((17.06, 18.74))


def test_a_spread_beyond_the_fit_is_a_warning_with_what_the_thinnest_gets() -> None:
    text, warns = spread_words(BOARD, 0.1, "mm")
    assert warns and "differ by 0.15 mm" in text and "0.25 mm" in text
    text, warns = spread_words(BOARD, 0.2, "mm")
    assert not warns and "less than the fit" in text
    assert (
        sheet_rows(BOARD, "mm")
        == "By sheet: 1\u00a0=\u00a017.6\u00a0mm, 2\u00a0=\u00a017.45\u00a0mm."
    )


def test_several_readings_are_read_from_one_line() -> None:
    assert read_several("17.6 17,55; 17.6", "mm") == (17.6, 17.55, 17.6)
    assert read_several('45/64"', "mm") == pytest.approx((45 / 64 * 25.4,))
    for bad in ("", "17.6 thick", "0", "17.6 -2"):
        with pytest.raises(BadLengthError):
            read_several(bad, "mm")


def test_the_scale_puts_readings_in_their_place(qtbot: QtBot) -> None:
    scale = CaliperScale()
    qtbot.addWidget(scale)
    scale.resize(300, 80)
    scale.show_material(BOARD, "mm")
    assert scale.x_of(17.06) < scale.x_of(17.45) < scale.x_of(17.6) < scale.x_of(18.0)
    assert "Joints take 17.6 mm, the largest of 2" in scale.text
    scale.grab()


def test_readings_typed_in_a_row_are_added_with_sheet_and_state(
    make_window: Callable[..., object], qtbot: QtBot
) -> None:
    window = make_window(carcass())
    window.open_shop("boards")  # type: ignore[attr-defined]
    card = window.shop.parts["boards"].list.cards[0]  # type: ignore[attr-defined]
    typed(card.sheet, "2")
    card.state.set_value(BoardState.PLANED)
    assert typed(card.several, "17.3 17.9")
    material = window.context.document.project.shop.materials[0]  # type: ignore[attr-defined]
    assert [r.thickness_mm for r in material.readings][-2:] == [17.3, 17.9]
    assert material.readings[-1].sheet == "2"
    assert material.readings[-1].state is BoardState.PLANED
    assert material.thickness_mm == 17.9
    card = window.shop.parts["boards"].list.cards[0]  # type: ignore[attr-defined]
    assert card.warning.text().startswith("▲ Readings differ by 0.6 mm")
    assert "EN 315" in card.note.text()
