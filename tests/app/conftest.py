"""What tests of the window share: offscreen by default, no Qt warnings, scripted answers."""

from __future__ import annotations

import gc
import os
from collections.abc import Iterator
from pathlib import Path
from typing import TypeVar

os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")

import pytest
from PySide6.QtCore import QCoreApplication, QEvent, Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication
from scripted import ScriptedAsk

from app import theme
from app.ask import Ask, WindowAsk
from app.derived import Derived, Engine
from app.document import Document
from app.jobs import Jobs
from app.looks import apply_preferences
from app.panel_table import rectangle_panel
from app.preferences import Preferences
from app.recovery import Recovery
from app.stages.base import Stage
from app.stages.joints import JointsStage
from app.stages.sheets import SheetsStage
from app.window import MainWindow
from core.geometry import Motion
from core.plan import Plan, PlanPanel, PlanPiece, PlanPlacement, PlanSheet, PurchaseLine
from core.project.model import KeptLayout, Placed, Project
from core.shop import Cutter, Machine, Material, Shop, Stock
from tests.app import floor, joints_bench, sheets_bench
from tests.app.foreign import Foreign

AnyStage = TypeVar("AnyStage", bound=Stage)


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """A warning of Qt fails the test that caused it."""
    here = Path(__file__).parent
    for item in items:
        if here in Path(item.path).parents:
            item.add_marker(pytest.mark.qt_log_level_fail("WARNING"))
            item.add_marker(
                pytest.mark.qt_log_ignore(
                    # Said by the offscreen platform whatever a window does.
                    "This plugin does not support propagateSizeHints",
                    "This plugin does not support raise",
                )
            )


@pytest.fixture(scope="session")
def qapp_args() -> list[str]:
    """The name the application is started with."""
    return ["seamwright-tests"]


_tests = 0


@pytest.fixture(autouse=True)
def _collect_here() -> Iterator[None]:
    """Garbage is collected on this thread only, as in the running program."""
    global _tests
    if not _tests:
        # Modules and collected tests stay to the end: not gone through again every time.
        gc.collect()
        gc.freeze()
    gc.disable()
    yield
    _tests += 1
    gc.collect(2 if _tests % 20 == 0 else 0)


@pytest.fixture(autouse=True)
def _plain_look(qapp: QApplication) -> Iterator[None]:
    """Every test begins light, at 100 %, without anything gliding."""
    preferences = Preferences(None)
    preferences.set("colours", "light")
    preferences.set("less_motion", True)
    apply_preferences(preferences)
    yield
    assert theme.watcher() is not None


@pytest.fixture
def ask() -> ScriptedAsk:
    """Answers questions as the test says; an unexpected one fails."""
    return ScriptedAsk()


@pytest.fixture
def shop() -> Shop:
    """A small shop: a 900 × 600 router and birch as it is sold and as it measures."""
    return Shop(
        machine=Machine(cutters=(Cutter(6.0, cutting_length_mm=22.0),)),
        materials=(Material("birch 18", 18.0),),
        stock=(Stock("s1", "birch 18", 2440.0, 1220.0, cost=60.0),),
    )


class PlainEngine:
    """A quick stand-in for the planner: one piece a panel, all on one row of one sheet."""

    def __init__(self) -> None:
        self.cut_calls = 0
        self.plan_calls = 0
        self.error: Exception | None = None
        self.findings: tuple[object, ...] = ()

    def engine(self) -> Engine:
        """The calls the window makes."""
        return Engine(self.cut_panels, self.assemble_plan, self.lay_out)

    def cut_panels(self, project: Project, **_options: object) -> PlainPieces:
        """One piece a panel."""
        self.cut_calls += 1
        if self.error is not None:
            raise self.error
        pieces = tuple(
            PlanPiece(
                id=f"{p.id}-1",
                panel=p.id,
                name=p.name,
                outline=p.region,
                cut=p.region,
                material=p.material,
                thickness_mm=18.0,
                features=p.features,
                digest=f"{p.id}",
            )
            for p in project.panels
        )
        panels = tuple(
            PlanPanel(p.id, p.name, p.region, p.features, p.quantity, p.material, str(p.grain))
            for p in project.panels
        )
        return PlainPieces(panels, pieces, tuple(self.findings))

    def assemble_plan(self, project: Project, pieces: PlainPieces, layout: KeptLayout) -> Plan:
        """The layout's placements on the first sheet."""
        self.plan_calls += 1
        sheets: tuple[PlanSheet, ...] = ()
        purchase: tuple[PurchaseLine, ...] = ()
        if layout.placed and project.shop.stock:
            stock = project.shop.stock[0]
            placements = tuple(
                PlanPlacement(p.piece, p.copy, p.motion, locked=p.locked) for p in layout.placed
            )
            sheets = (PlanSheet("sheet-1", 1, stock, placements, piece_area_mm2=1000.0),)
            purchase = (
                PurchaseLine(
                    stock.id,
                    stock.material,
                    stock.width_mm,
                    stock.height_mm,
                    1,
                    False,
                    stock.cost,
                    30.0,
                ),
            )
        return Plan(
            project,
            pieces.panels,
            pieces.pieces,
            (),
            sheets,
            (),
            tuple(self.findings),
            purchase,  # type: ignore[arg-type]
        )

    def lay_out(self, _project: Project, _pieces: object, **_options: object) -> KeptLayout:
        """Nothing placed."""
        return KeptLayout("Layout 1", ())


class PlainPieces:
    """Has what the window reads of a set of pieces."""

    def __init__(
        self,
        panels: tuple[PlanPanel, ...],
        pieces: tuple[PlanPiece, ...],
        findings: tuple[object, ...],
    ) -> None:
        self.panels = panels
        self.pieces = pieces
        self.seams: tuple[object, ...] = ()
        self.findings = findings


@pytest.fixture
def engine() -> PlainEngine:
    """The quick stand-in for the planner."""
    return PlainEngine()


@pytest.fixture
def make_window(qtbot, ask: Ask, engine: PlainEngine, tmp_path: Path):  # type: ignore[no-untyped-def]
    """Makes windows; each is closed, with its jobs, when the test ends."""
    made: list[MainWindow] = []

    def make(
        project: Project | None = None,
        *,
        real: bool = False,
        with_recovery: bool = False,
        preferences: Preferences | None = None,
    ) -> MainWindow:
        recovery = Recovery(tmp_path / "recovery") if with_recovery else None
        document = Document(project or Project(), recovery=recovery)
        derived = Derived(document, Jobs(), engine=None if real else engine.engine())
        window = MainWindow(
            document,
            derived,
            ask,
            preferences=preferences or Preferences(tmp_path / "preferences"),
            recovery=recovery,
        )
        for owned in (derived.jobs, derived, document):
            owned.setParent(window)
        window.resize(1366, 768)
        with qtbot.waitActive(window):
            window.show()
            window.activateWindow()
        made.append(window)
        return window

    yield make
    for window in made:
        window.document.close()
        window.context.jobs.close()
        window.files.may_leave = lambda: True  # type: ignore[method-assign]
        window.close()
        window.deleteLater()
    made.clear()
    QCoreApplication.sendPostedEvents(None, QEvent.Type.DeferredDelete)


@pytest.fixture
def idle(qtbot):  # type: ignore[no-untyped-def]
    """Waits until a window has nothing left to work out."""

    def wait(window: MainWindow, timeout: int = 20_000) -> None:
        derived, jobs = window.context.derived, window.context.jobs
        qtbot.waitUntil(
            lambda: jobs.is_idle() and not derived.busy and derived.is_current, timeout=timeout
        )
        QApplication.processEvents()

    return wait


@pytest.fixture
def elsewhere(qapp: QApplication) -> Iterator[None]:
    """Everything that is asked for is said in a made-up language."""
    translator = Foreign()
    qapp.installTranslator(translator)
    yield
    qapp.removeTranslator(translator)


@pytest.fixture
def cut_list_window(make_window, shop: Shop, idle, qtbot) -> MainWindow:  # type: ignore[no-untyped-def]
    """Two shelves on a sheet, in a window at its fourth stage with the pages made."""
    placed = tuple(
        Placed("shelf-1", i, "s1", 1, Motion(20.0, 20.0 + 320.0 * (i - 1))) for i in (1, 2)
    )
    project = Project(
        name="Shelves",
        shop=shop,
        panels=(rectangle_panel("Shelf", 800, 300, 2, "birch 18"),),
        layouts=(KeptLayout("Layout 1", placed),),
        current_layout="Layout 1",
    )
    made: MainWindow = make_window(project)
    idle(made)
    QTest.keyClick(made, Qt.Key.Key_4, Qt.KeyboardModifier.ControlModifier)
    qtbot.waitUntil(lambda: made.stages[3].view.count > 0, timeout=30_000)
    idle(made)
    return made


def _shown(stage: AnyStage, height: int) -> Iterator[AnyStage]:
    """A stage as a window of its own, until its tests are over."""
    stage.resize(1300, height)
    stage.show()
    yield stage
    stage.jobs.close()
    stage.close()
    stage.deleteLater()


@pytest.fixture(scope="module")
def sheets_engine() -> Engine | None:
    """What plans in the shared Sheets stage: nothing that searches, unless a module says so."""
    return None


@pytest.fixture(scope="module")
def shared_sheets(qapp: QApplication, sheets_engine: Engine | None) -> Iterator[SheetsStage]:
    """One Sheets stage for the tests of a module; each opens a project of its own in it."""
    yield from _shown(SheetsStage(sheets_bench.context(Project(), sheets_engine)), 800)


@pytest.fixture
def make_sheets(shared_sheets: SheetsStage, qtbot):  # type: ignore[no-untyped-def]
    """Opens a project in the shared Sheets stage, two shelves on a sheet if none is given."""

    def build(project: Project | None = None) -> SheetsStage:
        stage = shared_sheets
        stage.document.take(project if project is not None else floor.laid(2), None)
        for name in ("nudge_mm", "turn_deg"):
            stage.preferences.set(name, 1.0 if name == "nudge_mm" else 15.0)
        qtbot.waitUntil(lambda: stage.derived.is_current, timeout=8000)
        return stage

    return build


@pytest.fixture
def make_active_sheets(make_sheets, qtbot):  # type: ignore[no-untyped-def]
    """The same in a window that has the keyboard, nothing selected and all sheets in view."""

    def build(project: Project | None = None) -> SheetsStage:
        stage: SheetsStage = make_sheets(project)
        with qtbot.waitActive(stage):
            stage.activateWindow()
        stage.hand.select([])
        stage.canvas.fit_now()
        return stage

    return build


@pytest.fixture(scope="module")
def joints_ask() -> Ask:
    """Who is asked by the shared Joints stage: the one of the window, unless a module says so."""
    return WindowAsk()


@pytest.fixture(scope="module")
def shared_joints(qapp: QApplication, joints_ask: Ask) -> Iterator[JointsStage]:
    """One Joints stage for the tests of a module; each opens a project of its own in it."""
    yield from _shown(JointsStage(joints_bench.context(joints_ask)), 760)


@pytest.fixture
def make_joints(shared_joints: JointsStage, qtbot):  # type: ignore[no-untyped-def]
    """Opens a project in the shared Joints stage, a side with a seam if none is given."""

    def build(start: Project | None = None, panel: str = "side") -> JointsStage:
        stage = shared_joints
        stage.slider.setValue(0)
        stage.loupe_button.setChecked(True)
        stage.all_panels.setChecked(False)
        stage.style_box.scope.setChecked(True)
        stage.preferences.set("nudge_mm", 1.0)
        stage.document.take(start if start is not None else joints_bench.project(), None)
        joints_bench.settle(stage, qtbot)
        if stage.panel_id != panel and stage.document.project.panel(panel) is not None:
            stage.choose_panel(panel)
            joints_bench.settle(stage, qtbot)
        return stage

    return build
