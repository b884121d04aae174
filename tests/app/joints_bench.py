"""A panel with a seam on the Joints stage, under the mouse and the keys of a test."""

from __future__ import annotations

from collections.abc import Callable

from PySide6.QtCore import QPoint, Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication
from pytestqt.qtbot import QtBot

from app.ask import Ask
from app.context import Context
from app.derived import Derived
from app.document import Document
from app.jobs import Jobs
from app.preferences import Preferences
from app.stages.joints import JointsStage
from core.geometry import Region, Ring
from core.project.model import Panel, Project, SeamLine
from core.shop import Material, Reading, Shop, Stock
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


def context(ask: Ask) -> Context:
    """Everything a stage is given, around an empty project."""
    document = Document(Project())
    jobs = Jobs(document)
    return Context(document, Derived(document, jobs, parent=document), jobs, ask, Preferences())


def settle(stage: JointsStage, qtbot: QtBot) -> None:
    """Until everything asked for is worked out."""
    QApplication.processEvents()
    qtbot.waitUntil(lambda: stage.jobs.is_idle() and not stage.derived.busy, timeout=20000)
    QApplication.processEvents()


def seams(stage: JointsStage) -> tuple[SeamLine, ...]:
    panel = stage.panel
    assert panel is not None and panel.seams is not None
    return panel.seams


def at(stage: JointsStage, x: float, y: float) -> QPoint:
    return stage.canvas.to_px(x, y).toPoint()


def move(stage: JointsStage, to: QPoint, mods: Qt.KeyboardModifier = NONE) -> None:
    mouse.move(stage.canvas.view.viewport(), to, LEFT, mods)


def drag(
    stage: JointsStage,
    start: QPoint,
    end: QPoint,
    *,
    mods: Qt.KeyboardModifier = NONE,
    drop: bool = True,
) -> None:
    mouse.drag(stage.canvas.view.viewport(), start, end, LEFT, mods, drop=drop)


def key(stage: JointsStage, which: Qt.Key, mods: Qt.KeyboardModifier = NONE) -> None:
    QTest.keyClick(stage.canvas.view, which, mods)
