"""The mirrored twin of a panel, added from its properties and undone in one step."""

from __future__ import annotations

from collections.abc import Callable

from PySide6.QtWidgets import QPushButton

from app.commands.twins import AddTwin
from core.geometry import Ring
from tests.unit.refit.refit_fittings import panel, project

WEDGE = Ring.of([(0, 0), (400, 0), (400, 100), (0, 250)])


def test_the_button_adds_the_other_hand_right_behind_its_panel(
    make_window: Callable[..., object],
) -> None:
    window = make_window(project(panel("Left", WEDGE), panel("Shelf", WEDGE)))
    window.stages[0].select_ids(["Left"])  # type: ignore[attr-defined]
    buttons = window.stages[0].findChildren(QPushButton)  # type: ignore[attr-defined]
    next(b for b in buttons if "twin" in b.text()).click()
    document = window.context.document  # type: ignore[attr-defined]
    assert [p.name for p in document.project.panels] == ["Left", "Left, mirrored", "Shelf"]
    assert document.undo_text == "Add a mirrored twin"
    document.undo()
    assert [p.name for p in document.project.panels] == ["Left", "Shelf"]


def test_no_twin_comes_of_a_panel_that_is_not_there() -> None:
    base = project(panel("Left", WEDGE))
    assert AddTwin("gone").apply(base) == base
