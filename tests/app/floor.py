"""The floor of the Sheets stage under the mouse and the keys of a test."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from PySide6.QtCore import QPoint, Qt
from PySide6.QtTest import QTest

from app.stages import sheets_model as model
from app.stages.sheets import SheetsStage
from core.geometry import Motion
from core.project.model import KeptLayout, Placed, Project
from tests.app import mouse
from tests.app import sheets_bench as bench

LEFT, RIGHT = Qt.MouseButton.LeftButton, Qt.MouseButton.RightButton
NONE = Qt.KeyboardModifier.NoModifier
SHIFT, ALT = Qt.KeyboardModifier.ShiftModifier, Qt.KeyboardModifier.AltModifier
CTRL = Qt.KeyboardModifier.ControlModifier
A, B, C = ("shelf", 1), ("shelf", 2), ("shelf", 3)
DISC = ("disc", 1)

Make = Callable[..., SheetsStage]


def laid(count: int, **changes: object) -> Project:
    """The project with some shelves on the first sheet."""
    project = bench.project(**changes)
    layout = bench.row_of_shelves(count, bench.cut_panels(project))
    return replace(project, layouts=(layout,), current_layout=layout.name)


def with_placed(*placed: Placed, project: Project | None = None) -> Project:
    start = project or bench.project()
    return replace(start, layouts=(KeptLayout("Layout 1", placed),), current_layout="Layout 1")


def spot(stage: SheetsStage, key: model.Key) -> QPoint:
    """The middle of a piece on the viewport."""
    x, y = stage.hand._home_of(key)
    middle = stage._bench.shape(key).centroid
    return stage.canvas.to_px(middle.x + x, middle.y + y).toPoint()


def at(stage: SheetsStage, sheet: model.SheetKey, x: float, y: float) -> QPoint:
    """A point of a sheet on the viewport."""
    ox, oy = stage.floor.places[sheet]
    return stage.canvas.to_px(x + ox, y + oy).toPoint()


def drag(
    stage: SheetsStage,
    start: QPoint,
    end: QPoint,
    *,
    mods: Qt.KeyboardModifier = NONE,
    button: Qt.MouseButton = LEFT,
    drop: bool = True,
) -> None:
    mouse.drag(stage.canvas.view.viewport(), start, end, button, mods, drop=drop)


def key(stage: SheetsStage, which: Qt.Key, mods: Qt.KeyboardModifier = NONE) -> None:
    QTest.keyClick(stage.canvas.view, which, mods)


def motion(stage: SheetsStage, of: model.Key) -> Motion:
    return stage._bench.placed[of].motion


def select(stage: SheetsStage, *keys: model.Key) -> None:
    """Click the pieces, the second and later ones with Shift."""
    for i, one in enumerate(keys):
        QTest.mouseClick(stage.canvas.view.viewport(), LEFT, SHIFT if i else NONE, spot(stage, one))
