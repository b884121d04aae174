"""Drawn joints on the Joints stage: listed, decided, shown over the panel, undone."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import pytest
from pytestqt.qtbot import QtBot

from app.stages import joints_refit_model as model
from app.stages.joints_refit import RefitBox
from app.stages.joints_refit_scene import RefitOverlay, walls_paths
from app.widgets.lens import JointLens, LensJoint
from core.geometry import Ring
from core.project.model import Project
from core.project.refit import KeepWall, Recut, ReliefKind, SizeHold
from core.refit import propose_refit, refit_panel
from core.shop import Material, Reading
from tests.unit.refit.refit_fittings import BIRCH, BOARD, panel, project, toothed


def tray() -> Project:
    """A slot that is certain, one that is not quite nominal, and teeth with their mate."""
    slots = [Ring.rectangle(50, 50, 18, 100), Ring.rectangle(150, 50, 18.25, 100)]
    part = panel("Tray", BOARD, slots)
    top = panel("Top", toothed(600, 300, 9, 18.0, tip_first=True))
    side = panel("Side", toothed(400, 300, 9, 18.0, tip_first=False))
    return project(part, top, side, refit=False)


@pytest.fixture
def box(make_window: Callable[..., object], qtbot: QtBot) -> RefitBox:
    window = make_window(tray())
    window.open_stage(1)  # type: ignore[attr-defined]
    stage = window.stages[1]  # type: ignore[attr-defined]
    # Panels with drawn joints are listed although they fit the machine whole.
    qtbot.waitUntil(lambda: stage.list.count() == 3, timeout=20000)
    stage.choose_panel("Tray")
    qtbot.waitUntil(
        lambda: stage.refit_box.joints is not None and stage.refit_box.joints.panel.id == "Tray",
        timeout=20000,
    )
    made: RefitBox = stage.refit_box
    return made


def settled(qtbot: QtBot, box: RefitBox, check: Callable[[], bool]) -> None:
    qtbot.waitUntil(lambda: box.joints is not None and check(), timeout=20000)


def rows(box: RefitBox) -> list[str]:
    return [box.list.item(i).text() for i in range(box.list.count())]


def test_joints_are_listed_and_stay_as_drawn_until_recutting_is_on(
    box: RefitBox, qtbot: QtBot
) -> None:
    assert rows(box) == ["– Slot 18 mm, as drawn", "– Slot 18.25 mm, as drawn"]
    assert "2 recognised" in box.state.text()
    box.on.click()
    settled(qtbot, box, lambda: any("→" in row for row in rows(box)))
    # What has to be decided comes first; nothing doubtful is done unasked.
    assert rows(box) == ["▲ Slot 18.25 mm: to decide", "■ Slot 18 → 17.7 mm"]
    assert "1 to decide" in box.head.text()
    assert "18.25 mm, not the nominal 18.00 mm" in box.why.text()


def test_a_doubtful_joint_is_recut_once_the_maker_says_so_and_undone_in_one_step(
    box: RefitBox, qtbot: QtBot
) -> None:
    document = box._context.document
    box.on.click()
    settled(qtbot, box, lambda: box.joints.to_decide == 1)  # type: ignore[union-attr]
    box.list.setCurrentRow(0)
    box.recut.chosen.emit(Recut.YES)
    settled(qtbot, box, lambda: box.joints.to_decide == 0)  # type: ignore[union-attr]
    assert sorted(rows(box)) == ["■ Slot 18 → 17.7 mm", "■ Slot 18.25 → 17.7 mm"]
    assert len(document.project.panels[0].refits) == 1
    document.undo()
    settled(qtbot, box, lambda: box.joints.to_decide == 1)  # type: ignore[union-attr]
    assert document.project.panels[0].refits == ()


def test_wall_relief_and_fit_of_one_joint_are_set_in_their_fields(
    box: RefitBox, qtbot: QtBot
) -> None:
    document = box._context.document
    box.on.click()
    settled(qtbot, box, lambda: box.joints.to_decide == 1)  # type: ignore[union-attr]
    box.list.setCurrentRow(1)
    box.keep.chosen.emit(KeepWall.LOW)
    settled(qtbot, box, lambda: len(document.project.panels[0].refits) == 1)
    box.relief.chosen.emit(ReliefKind.T_BONE)
    settled(qtbot, box, lambda: box.rows._form.isRowVisible(box.side))
    box.fit.line.setText("4 thou")
    box.fit.line.setModified(True)
    assert box.fit.commit()
    (own,) = document.project.panels[0].refits
    assert (own.keep, own.relief) == (KeepWall.LOW, ReliefKind.T_BONE)
    assert own.fit_mm == pytest.approx(0.1016)
    box.fit.line.setText("-0.1")
    box.fit.line.setModified(True)
    assert not box.fit.commit()
    assert "below zero" in box.fit.problem.text()


def test_every_moved_wall_is_listed_with_which_way_it_moves(box: RefitBox, qtbot: QtBot) -> None:
    box.on.click()
    settled(qtbot, box, lambda: box.joints.to_decide == 1)  # type: ignore[union-attr]
    box.list.setCurrentRow(1)
    text = box.walls.text()
    assert text.startswith("Walls that move:")
    assert text.count("0.15 mm out of the board") == 2
    assert text.count("0.05 mm into the board") == 2
    assert "-" not in text and "−" not in text


def test_the_drawing_shows_walls_as_drawn_and_as_cut_over_each_other(
    box: RefitBox, qtbot: QtBot
) -> None:
    box.on.click()
    settled(qtbot, box, lambda: box.joints.to_decide == 1)  # type: ignore[union-attr]
    overlay: RefitOverlay = box.window().stages[1].refit_overlay  # type: ignore[attr-defined]
    assert overlay.count == 3  # before and after of the one, the other as drawn
    done = next(item for item in box.joints.items if item.applied)  # type: ignore[union-attr]
    before, after = walls_paths(done)
    assert before.boundingRect().width() == pytest.approx(18.0)
    assert after.boundingRect().width() == pytest.approx(17.7)
    overlay.set_open(30)
    assert overlay.count == 0


def test_panels_that_change_their_size_are_listed() -> None:
    base = tray()
    rules = replace(base.refit_rules, hold=SizeHold.INSIDE)
    inside = replace(base, refit=True, refit_rules=rules)
    top = inside.panel("Top")
    assert top is not None
    shown = model.drawn_joints_of(inside, top)
    assert model.size_rows(inside, shown.sizes, "mm") == [
        "Top: width 600 → 599.2 mm",
        "Side: width 400 → 399.2 mm",
    ]


def test_a_panel_left_as_drawn_still_lists_its_joints() -> None:
    base = replace(tray(), refit=True)
    off = replace(base.panels[0], refit=False)
    shown = model.drawn_joints_of(replace(base, panels=(off, *base.panels[1:])), off)
    assert shown.off_here and not any(item.applied for item in shown.items)
    assert len(shown.items) == 2 and shown.to_decide == 0


def test_what_the_bits_leave_is_told_and_hatched_on_the_drawing(
    make_window: Callable[..., object], qtbot: QtBot
) -> None:
    part = panel("Tray", BOARD, [Ring.rectangle(50, 50, 30, 4), Ring.rectangle(200, 50, 40, 40)])
    window = make_window(project(part), real=True)
    window.open_stage(1)  # type: ignore[attr-defined]
    stage = window.stages[1]  # type: ignore[attr-defined]
    stage.all_panels.setChecked(True)
    made = stage.refit_box
    qtbot.waitUntil(lambda: stage.list.count() == 1, timeout=20000)
    stage.choose_panel("Tray")
    qtbot.waitUntil(
        lambda: made.joints is not None and len(made.joints.unreached) == 5, timeout=20000
    )
    assert "Bits it needs: 6 mm." in made.bits.text()
    assert "no bit reaches; one of 4 mm or less would" in made.bits.text()
    assert "4 inside corners stay round" in made.bits.text()
    assert stage.refit_overlay.count == 5


# --- the lens --------------------------------------------------------------------------------


def test_the_lens_tells_the_play_and_draws_it_to_a_scale_that_shows_all(qtbot: QtBot) -> None:
    lens = JointLens("Play")
    qtbot.addWidget(lens)
    lens.resize(260, 120)
    lens.show_joint(LensJoint(0.1, -0.15, -0.15), "mm")
    assert lens.text == "0.10 mm across, 0.05 mm a side"
    assert lens.times >= 50
    lens.show_joint(LensJoint(3.0, -2.5, -2.5), "mm")
    assert lens.times == 10
    lens.show_joint(LensJoint(0.1016), "in")
    assert lens.text == "4 thou across, 2 thou a side"


def test_the_lens_draws_the_mate_half_the_play_off_each_wall(qtbot: QtBot) -> None:
    from PySide6.QtGui import QColor

    from app import theme

    lens = JointLens("Play")
    qtbot.addWidget(lens)
    lens.resize(300, 130)
    lens.show_joint(LensJoint(0.2), "mm")
    image = lens.grab().toImage()
    y = 20
    colours = [image.pixelColor(x, y) for x in range(image.width())]
    ratio = lens.devicePixelRatioF()
    gap = sum(1 for c in colours if c == QColor(theme.color("paper")))
    px_per_mm = lens.times * lens.logicalDpiX() / 25.4 * ratio
    # Two gaps of 0.1 mm and the 8 px break in the middle, less the lines drawn over them.
    assert gap == pytest.approx(0.2 * px_per_mm + 8 * ratio - 6 * ratio, abs=6 * ratio)


def test_the_lens_of_a_slot_gets_its_moved_walls(qtbot: QtBot) -> None:
    plan = project(panel("Tray", BOARD, [Ring.rectangle(50, 50, 18, 100)]))
    (item,) = propose_refit(plan)
    joint = model.lens_joint(item)
    assert joint is not None
    assert (joint.play_mm, joint.low_mm, joint.high_mm) == pytest.approx((0.1, -0.15, -0.15))
    top = panel("Top", toothed(600, 300, 9, 18.0, tip_first=True))
    side = panel("Side", toothed(400, 300, 9, 18.0, tip_first=False))
    plan = project(top, side)
    teeth = model.lens_joint(refit_panel(plan, top).items[0])
    assert teeth is not None
    assert teeth.low_mm == pytest.approx(0.025)


def test_boards_that_stand_for_one_thickness_are_asked_about_by_name() -> None:
    other = Material("Larch ply 18", 18.0, (Reading(18.2),))
    part = panel("Tray", BOARD, [Ring.rectangle(50, 50, 18, 100)])
    plan = project(part, materials=(BIRCH, other))
    shown = model.drawn_joints_of(plan, part)
    assert shown.to_decide == 1
    why = model.why_words(shown, shown.items[0], "mm")
    assert "Birch ply 18 or Larch ply 18" in why
