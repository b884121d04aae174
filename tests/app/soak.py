"""A maker at random: hands, keys and menus all over the window, and what must hold all the while.

By hand, thousands of actions with any seed, memory told as it goes, or only until somebody
kills it (``tests/app/kill.py`` does):

    python tests/app/soak.py --actions 2000 --seed 1
    python tests/app/soak.py --minutes 20 --memory-every 60

After every action the document is valid, undoing everything gives its beginning byte for byte
and doing everything again gives its end; every hundred actions that is done through the window
with Ctrl+Z and Ctrl+Shift+Z too. A warning of Qt, an exception nobody caught or a layout that is
wrong without being marked ends the run.
"""

from __future__ import annotations

import argparse
import contextlib
import faulthandler
import gc
import itertools
import logging
import multiprocessing
import os
import random
import sys
import tempfile
import time
import traceback
from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parents[2]
sys.path[:0] = [str(ROOT)]
if not os.environ.get("DISPLAY"):
    os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")

from PySide6.QtCore import QObject, QPoint, QPointF, Qt, QTimer, qInstallMessageHandler  # noqa: E402
from PySide6.QtGui import QAction, QWheelEvent  # noqa: E402
from PySide6.QtTest import QTest  # noqa: E402
from PySide6.QtWidgets import (  # noqa: E402
    QAbstractButton,
    QAbstractItemView,
    QApplication,
    QComboBox,
    QHeaderView,
    QLineEdit,
    QMenu,
    QSlider,
    QTabBar,
    QTableView,
    QToolButton,
    QWidget,
)
from shapely import STRtree  # noqa: E402

from app.commands import AddPanels  # noqa: E402
from app.commands.base import EVERYTHING  # noqa: E402
from app.document import Change, Document  # noqa: E402
from app.panel_table import rectangle_panel  # noqa: E402
from app.window import MainWindow  # noqa: E402
from core.project.file import load_project, project_from_json, project_to_json  # noqa: E402
from core.project.model import Project  # noqa: E402
from core.project.validate import validate_project  # noqa: E402
from core.shop import Cutter, Machine, Material, Shop, Stock  # noqa: E402
from tests.app import mouse  # noqa: E402

DEMOS = ("studio_counter", "glaze_shelves")
LEFT, RIGHT, MIDDLE = (
    Qt.MouseButton.LeftButton,
    Qt.MouseButton.RightButton,
    Qt.MouseButton.MiddleButton,
)
NONE = Qt.KeyboardModifier.NoModifier
SHIFT, CTRL, ALT = (
    Qt.KeyboardModifier.ShiftModifier,
    Qt.KeyboardModifier.ControlModifier,
    Qt.KeyboardModifier.AltModifier,
)
TYPED = (
    *("0", "1", "2", "3", "7", "12", "18", "17.6", "6", "600", "1250", "-3", "0.2", "1e9", ""),
    *("23/32 in", '1 1/2"', "5' 3\"", "703 thou", "1200 x 800", "2440 × 1220", "18 mm mm"),
    *("Regal links", "Shelf", "shelf “B” <&>", "  ", "Платформа", "x" * 80, "None", "ä/ö:?*"),
)
IDLE_MOST_S = 90.0


class RandomAsk:
    """Answers what the window asks at random, with files in a folder of the run's own."""

    def __init__(self, rng: random.Random, folder: Path) -> None:
        self._rng = rng
        self.folder_path = folder
        self.drawings = sorted(
            path
            for demo in DEMOS
            for path in (ROOT / "demo_projects" / demo).iterdir()
            if path.suffix in (".dxf", ".svg")
        )
        self.parent: Any = None

    def _project(self) -> Path:
        made = sorted(self.folder_path.glob("*.json"))
        demos = [ROOT / "demo_projects" / d / f"{d}.json" for d in DEMOS]
        return self._rng.choice([*made, *demos])

    def open_files(self, title: str, filters: str, *, folder: str = "") -> list[str]:
        """Some drawings, or a project where one may be opened."""
        if "json" in filters and self._rng.random() < 0.6:
            return [str(self._copy(self._project()))]
        count = self._rng.randint(0, 2)
        return [str(path) for path in self._rng.sample(self.drawings, count)]

    def _copy(self, path: Path) -> Path:
        """Demos are opened as copies, so that saving in place leaves them alone."""
        if path.parent == self.folder_path:
            return path
        copy = self.folder_path / path.name
        copy.write_bytes(path.read_bytes())
        return copy

    def open_file(self, title: str, filters: str, *, folder: str = "") -> str | None:
        """A drawing, a shop or nothing."""
        kept = sorted(self.folder_path.glob("*"))
        return str(self._rng.choice([*self.drawings, *kept])) if self._rng.random() < 0.7 else None

    def save_file(self, title: str, filters: str, *, suggestion: str = "") -> str | None:
        """One of a few names in the run's folder."""
        if self._rng.random() < 0.2:
            return None
        suffix = next((s for s in (".json", ".pdf", ".csv") if s in filters), "")
        return str(self.folder_path / f"kept {self._rng.randint(1, 4)}{suffix}")

    def folder(self, title: str, *, folder: str = "") -> str | None:
        """A folder to write into."""
        if self._rng.random() < 0.3:
            return None
        out = self.folder_path / "out"
        out.mkdir(exist_ok=True)
        return str(out)

    def confirm(self, title: str, text: str, *, yes: str, no: str) -> bool:
        """Either."""
        return self._rng.random() < 0.6

    def choose(self, title: str, text: str, options: Sequence[str]) -> int | None:
        """Any of them, or none."""
        return self._rng.choice([*range(len(options)), None])

    def text(self, title: str, label: str, *, initial: str = "") -> str | None:
        """Anything."""
        return self._rng.choice([None, initial, *TYPED])

    def printer(self, printer: Any, *, pages: int = 0) -> bool:
        """Nothing is printed."""
        return False


class BrokenError(AssertionError):
    """Something that must always hold did not."""


class Watch(QObject):
    """What must hold after every action."""

    def __init__(self, document: Document) -> None:
        super().__init__(document)
        self.document = document
        self.begun = project_to_json(document.project)
        self.warnings: list[str] = []
        document.changed.connect(self._changed)

    def _changed(self, change: Change) -> None:
        if change.kinds == EVERYTHING and not self.document.history:
            self.begun = project_to_json(self.document.project)  # another document

    @contextlib.contextmanager
    def listening(self) -> Iterator[None]:
        """Keep warnings of Qt, exceptions nobody caught and jobs that failed by our fault."""
        watch = self

        class Log(logging.Handler):
            def emit(self, record: logging.LogRecord) -> None:
                watch.warnings.append(self.format(record))

        def said(kind: Any, _context: Any, text: str) -> None:
            quiet = ("propagateSizeHints", "does not support raise", "does not support grabbing")
            if not any(q in text for q in quiet):
                watch.warnings.append(f"{kind}: {text}")

        def uncaught(kind: Any, value: Any, trace: Any) -> None:
            if kind is KeyboardInterrupt:
                sys.__excepthook__(kind, value, trace)
            watch.warnings.append("".join(traceback.format_exception(kind, value, trace)))

        handler = Log(level=logging.WARNING)
        logging.getLogger("app").addHandler(handler)
        before, hook = qInstallMessageHandler(said), sys.excepthook
        sys.excepthook = uncaught
        try:
            yield
        finally:
            sys.excepthook = hook
            qInstallMessageHandler(before)
            logging.getLogger("app").removeHandler(handler)

    def check(self) -> None:
        """Raise BrokenError if anything is not as it must be."""
        if self.warnings:
            raise BrokenError("\n".join(self.warnings))
        document = self.document
        project = document.project
        validate_project(project)
        text = project_to_json(project)
        if project_to_json(project_from_json(text)) != text:
            raise BrokenError("what is written is not what is read")
        twin = self._twin()
        while twin.undo_text is not None:
            twin.undo()
        if project_to_json(twin.project) != self.begun:
            raise BrokenError("undoing everything does not give the beginning")
        for _ in range(document.history_at):
            twin.redo()
        if twin.project != project or project_to_json(twin.project) != text:
            raise BrokenError("undoing and doing again does not give the present")
        end = self._end()
        while twin.redo_text is not None:
            twin.redo()
        if project_to_json(twin.project) != end:
            raise BrokenError("doing everything again does not give the end")

    def _end(self) -> str:
        steps = self.document._steps
        return project_to_json(steps[-1].after if steps else self.document.project)

    def _twin(self) -> Document:
        """A document nobody looks at, with the same history."""
        twin = Document(self.document.project)
        twin._steps, twin._at = list(self.document._steps), self.document.history_at
        return twin

    def check_marks(self, window: MainWindow) -> None:
        """Every overlap on the floor is marked: found here by plain geometry."""
        stage: Any = window.stages[2]
        bench, wrong = stage._bench, stage._all_wrong()
        if stage._preview is not None:
            return
        for sheet in bench.sheets:
            keys = list(bench.on(sheet))
            if len(keys) < 2:
                continue
            shapes = [bench.shape(key) for key in keys]
            tree = STRtree(shapes)
            for a, b in zip(*tree.query(shapes, predicate="intersects"), strict=True):
                if a < b and shapes[a].intersection(shapes[b]).area > 0.5:
                    unmarked = [keys[i] for i in (a, b) if keys[i] not in wrong]
                    if unmarked:
                        raise BrokenError(
                            f"{keys[a]} and {keys[b]} overlap and {unmarked} is not red"
                        )


class Maker:
    """Somebody who does anything the window lets them do."""

    def __init__(self, window: MainWindow, rng: random.Random) -> None:
        self.window = window
        self.rng = rng
        self.document = window.document
        self.ways: dict[Callable[[], str], float] = {
            self._any_widget: 24,
            self._canvas_gesture: 10,
            self._move_piece: 14,
            self._turn_or_lock: 7,
            self._nest: 1.5,
            self._drag_seam: 8,
            self._style: 3,
            self._undo_redo: 9,
            self._menu: 6,
            self._key: 7,
            self._stage: 7,
            self._file: 3,
            self._shop: 3,
            self._from_tray: 4,
            self._look: 1,
        }

    # --- the run --------------------------------------------------------------------------
    def act(self) -> str:
        """Do one thing; its name."""
        if not self.document.project.panels and self.rng.random() < 0.3:
            return self._open_demo()
        popup = QApplication.activePopupWidget()
        if isinstance(popup, QMenu):
            return self._in_menu(popup)
        if popup is not None:
            QTest.keyClick(popup, Qt.Key.Key_Escape)
            return "escape from a list"
        modal = QApplication.activeModalWidget()
        self._activate(modal or self.window)
        if modal is not None:
            return self._in_dialog(modal)
        way = self.rng.choices(list(self.ways), list(self.ways.values()))[0]
        return way()

    def idle(self, most_s: float = IDLE_MOST_S) -> None:
        """Wait until nothing is worked on any more. Raises BrokenError if it takes too long."""
        derived, jobs = self.window.context.derived, self.window.context.jobs
        stage: Any = self.window.stages[2]
        began = time.monotonic()
        while (spent := time.monotonic() - began) < most_s:
            QTest.qWait(5)
            if spent > 4 and stage.hands_off():  # somebody typed a long time to look
                stage.stop_nesting()
            if jobs.is_idle() and not derived.busy:
                return
        running = [job.title for job in jobs.running]
        raise BrokenError(
            f"not at rest after {most_s:.0f} s: at work {running}, waiting {list(jobs._waiting)}, "
            f"busy {derived.busy}, plan of {derived.plan_revision}, document "
            f"{self.document.revision}"
        )

    @staticmethod
    def _activate(window: QWidget) -> None:
        """Where no window manager runs, nobody gives the focus back when a dialog closes."""
        if QApplication.activeWindow() is not window.window():
            window.window().activateWindow()
            for _ in range(100):
                QTest.qWait(2)
                if QApplication.activeWindow() is window.window():
                    break

    # --- widgets --------------------------------------------------------------------------
    def _in_dialog(self, dialog: QWidget) -> str:
        if self.rng.random() < 0.35:
            QTest.keyClick(dialog, Qt.Key.Key_Escape)
            return "close a dialog"
        return "dialog: " + self._any_widget(dialog)

    def _in_menu(self, menu: QMenu) -> str:
        rows = [a for a in menu.actions() if a.isEnabled() and not a.isSeparator()]
        rows = [a for a in rows if not _ends(self.window, a)]
        if not rows or self.rng.random() < 0.3:
            QTest.keyClick(menu, Qt.Key.Key_Escape)
            return "leave a menu"
        action = self.rng.choice(rows)
        QTest.mouseClick(menu, LEFT, NONE, menu.actionGeometry(action).center())
        return f"menu row {action.text()}"

    def _answer_menu(self) -> None:
        popup = QApplication.activePopupWidget()
        if isinstance(popup, QMenu):
            self._in_menu(popup)
            popup.close()

    def _any_widget(self, root: QWidget | None = None) -> str:
        root = root or self.window
        kinds = (QAbstractButton, QLineEdit, QComboBox, QAbstractItemView, QSlider, QTabBar)
        for _ in range(20):
            found = [
                w
                for w in root.findChildren(QWidget)
                if isinstance(w, kinds)
                and w.isVisible()
                and w.isEnabled()
                and not isinstance(w, QHeaderView)
            ]
            if not found:
                break
            widget = self.rng.choice(found)
            at = _reachable(widget)
            if at is not None:
                name = widget.accessibleName() or getattr(widget, "text", str)() or ""
                return f"{self._use(widget, at)} {type(widget).__name__} {name}"
        return "nothing to reach"

    def _use(self, widget: QWidget, at: QPoint) -> str:
        rng = self.rng
        if isinstance(widget, QLineEdit):
            QTest.mouseClick(widget, LEFT, NONE, at)
            QTest.keyClick(widget, Qt.Key.Key_A, CTRL)
            for sign in rng.choice(TYPED):
                QTest.keyClicks(widget, sign) if ord(sign) < 128 else widget.insert(sign)
            end = (Qt.Key.Key_Return, Qt.Key.Key_Tab, Qt.Key.Key_Escape, Qt.Key.Key_Up)
            QTest.keyClick(widget, rng.choice(end))
            return "type into"
        if isinstance(widget, QComboBox):
            widget.setFocus()
            for _ in range(rng.randint(1, 3)):
                QTest.keyClick(widget, rng.choice((Qt.Key.Key_Down, Qt.Key.Key_Up)))
            return "choose in"
        if isinstance(widget, QAbstractItemView):
            return self._use_list(widget)
        if isinstance(widget, QSlider):
            widget.setFocus()
            keys = (Qt.Key.Key_Right, Qt.Key.Key_Left, Qt.Key.Key_PageUp, Qt.Key.Key_Home)
            QTest.keyClick(widget, rng.choice(keys))
            return "slide"
        if isinstance(widget, QToolButton) and widget.menu() is not None:
            # Qt waits in a loop of its own until the menu is gone.
            QTimer.singleShot(60, widget, self._answer_menu)
        if rng.random() < 0.2:
            widget.setFocus()
            QTest.keyClick(widget, Qt.Key.Key_Space)
            return "space on"
        QTest.mouseClick(widget, LEFT, NONE, at)
        return "click"

    def _use_list(self, view: QAbstractItemView) -> str:
        rng, port = self.rng, view.viewport()
        model = view.model()
        if model is None or not model.rowCount():
            QTest.mouseClick(port, LEFT, NONE, port.rect().center())
            return "click into empty"
        columns = view.horizontalHeader().count() if isinstance(view, QTableView) else 1
        index = model.index(rng.randrange(model.rowCount()), rng.randrange(max(columns, 1)))
        view.scrollTo(index)
        at = view.visualRect(index).center()
        way = rng.random()
        if way < 0.6:
            QTest.mouseClick(port, LEFT, rng.choice((NONE, NONE, SHIFT, CTRL)), at)
            return "row of"
        if way < 0.7:
            QTest.mouseDClick(port, LEFT, NONE, at)
            editor = QApplication.focusWidget()
            if isinstance(editor, QLineEdit) and view.isAncestorOf(editor):
                QTest.keyClicks(editor, rng.choice(("Layout x", "rest", "")))
                QTest.keyClick(editor, rng.choice((Qt.Key.Key_Return, Qt.Key.Key_Escape)))
            return "double click in"
        if way < 0.8:
            QTest.mouseClick(port, RIGHT, NONE, at)
            return "right click in"
        view.setFocus()
        keys = (Qt.Key.Key_Down, Qt.Key.Key_Up, Qt.Key.Key_End, Qt.Key.Key_Plus, Qt.Key.Key_Minus)
        QTest.keyClick(view, rng.choice(keys))
        return "key in"

    # --- canvas ---------------------------------------------------------------------------
    def _canvas(self) -> Any:
        return getattr(self.window.stage, "canvas", None)

    def _spot(self, port: QWidget) -> QPoint:
        return QPoint(self.rng.randrange(port.width()), self.rng.randrange(port.height()))

    def drag(
        self,
        port: QWidget,
        start: QPoint,
        end: QPoint,
        button: Qt.MouseButton = LEFT,
        modifiers: Qt.KeyboardModifier = NONE,
    ) -> None:
        """Press, move in steps, sometimes think better of it, let go."""
        QTest.mousePress(port, button, modifiers, start)
        steps = self.rng.randint(2, 7)
        for step in range(1, steps + 1):
            mouse.move(port, start + (end - start) * step / steps, button, modifiers)
        if self.rng.random() < 0.06:
            QTest.keyClick(port.parentWidget() or port, Qt.Key.Key_Escape)
        QTest.mouseRelease(port, button, modifiers, end)

    def _canvas_gesture(self) -> str:
        canvas = self._canvas()
        if canvas is None or not canvas.isVisible():
            return self._any_widget()
        port, rng = canvas.view.viewport(), self.rng
        at = self._spot(port)
        way = rng.randrange(7)
        if way == 0:
            self.wheel(port, at, rng.choice((-120, 120)), rng.choice((NONE, NONE, ALT, CTRL)))
            return "wheel"
        if way == 1:
            self.drag(port, at, self._spot(port), MIDDLE)
            return "pan"
        if way == 2:
            QTest.mouseClick(port, RIGHT, NONE, at)
            return "right click"
        if way == 3:
            QTest.mouseDClick(port, LEFT, NONE, at)
            QTest.mouseRelease(port, LEFT, NONE, at)
            return "double click"
        if way == 4:
            mouse.move(port, at)
            return "hover"
        if way == 5:
            QTest.keyClick(canvas.view, rng.choice((Qt.Key.Key_Home, Qt.Key.Key_Z)))
            return "fit"
        modifiers = rng.choice((NONE, NONE, SHIFT, ALT))
        self.drag(port, at, self._spot(port), modifiers=modifiers)
        return "drag anywhere"

    def wheel(
        self, port: QWidget, at: QPoint, angle: int, modifiers: Qt.KeyboardModifier = NONE
    ) -> None:
        """Turn the wheel by one notch."""
        event = QWheelEvent(
            QPointF(at),
            QPointF(port.mapToGlobal(at)),
            QPoint(),
            QPoint(0, angle),
            Qt.MouseButton.NoButton,
            modifiers,
            Qt.ScrollPhase.NoScrollPhase,
            False,
        )
        QApplication.sendEvent(port, event)

    # --- sheets ---------------------------------------------------------------------------
    def _sheets(self) -> Any:
        if self.window.stage is not self.window.stages[2]:
            self._go(2)
        return self.window.stages[2]

    def _piece_spot(self, stage: Any) -> QPoint | None:
        placed = sorted(stage._bench.placed)
        if not placed:
            return None
        key = self.rng.choice(placed)
        if stage.hand.sheet_of(key) not in stage.floor.places:
            return None
        x, y = stage.hand._home_of(key)
        middle = stage._bench.shape(key).representative_point()
        at = stage.canvas.to_px(middle.x + x, middle.y + y).toPoint()
        if not stage.canvas.view.viewport().rect().contains(at):
            QTest.keyClick(stage.canvas.view, Qt.Key.Key_0, CTRL)
            at = stage.canvas.to_px(middle.x + x, middle.y + y).toPoint()
        return at

    def _move_piece(self) -> str:
        stage = self._sheets()
        at = self._piece_spot(stage)
        if at is None:
            return self._from_tray()
        port, rng = stage.canvas.view.viewport(), self.rng
        way = rng.random()
        if way < 0.25:
            QTest.mouseClick(port, LEFT, rng.choice((NONE, SHIFT)), at)
            return "pick a piece"
        if way < 0.5:
            end = at + QPoint(rng.randint(-150, 150), rng.randint(-150, 150))
        elif way < 0.62:
            end = port.mapFromGlobal(stage.tray.mapToGlobal(stage.tray.rect().center()))
        else:
            end = self._spot(port)
        button = RIGHT if rng.random() < 0.15 else LEFT
        self.drag(port, at, end, button, rng.choice((NONE, NONE, NONE, ALT)))
        return "drag a piece"

    def _turn_or_lock(self) -> str:
        stage, rng = self._sheets(), self.rng
        if not stage.hand.selected:
            at = self._piece_spot(stage)
            if at is None:
                return "no piece to turn"
            QTest.mouseClick(stage.canvas.view.viewport(), LEFT, NONE, at)
        if rng.random() < 0.2:
            QTest.keyClick(stage.canvas.view, Qt.Key.Key_A, CTRL)
        key, modifiers = rng.choice(
            (
                (Qt.Key.Key_R, NONE),
                (Qt.Key.Key_R, SHIFT),
                (Qt.Key.Key_R, ALT),
                (Qt.Key.Key_M, NONE),
                (Qt.Key.Key_L, NONE),
                (Qt.Key.Key_Left, SHIFT),
                (Qt.Key.Key_Up, NONE),
                (Qt.Key.Key_Right, ALT),
                (Qt.Key.Key_Delete, NONE),
                (Qt.Key.Key_Period, NONE),
            )
        )
        for _ in range(rng.randint(1, 3)):
            QTest.keyClick(stage.canvas.view, key, modifiers)
        return f"key on pieces {key.name}"

    def _from_tray(self) -> str:
        stage, rng = self._sheets(), self.rng
        tray, port = stage.tray, stage.canvas.view.viewport()
        if not tray.count():
            return "tray is empty"
        row = rng.randrange(tray.count())
        tray.scrollToItem(tray.item(row))
        at = tray.visualItemRect(tray.item(row)).center()
        if rng.random() < 0.5:
            QTest.mouseClick(tray.viewport(), LEFT, NONE, at)
            QTest.keyClick(tray, Qt.Key.Key_Return)
            return "place this one"
        end = tray.viewport().mapFromGlobal(port.mapToGlobal(self._spot(port)))
        self.drag(tray.viewport(), at, end)
        return "drag out of the tray"

    def _nest(self) -> str:
        stage = self._sheets()
        QTest.keyClick(stage.canvas.view, Qt.Key.Key_F5)
        if self.rng.random() < 0.5:
            self.idle()
        return "nest or stop"

    # --- joints ---------------------------------------------------------------------------
    def _drag_seam(self) -> str:
        if self.window.stage is not self.window.stages[1]:
            self._go(1)
        stage: Any = self.window.stages[1]
        rng, port, scene = self.rng, stage.canvas.view.viewport(), stage.scene
        if rng.random() < 0.3 and stage.list.count():
            row = stage.list.item(rng.randrange(stage.list.count()))
            stage.list.scrollToItem(row)
            at = stage.list.visualItemRect(row).center()
            QTest.mouseClick(stage.list.viewport(), LEFT, NONE, at)
            return "another panel"
        if not scene.lines:
            QTest.keyClick(stage.canvas.view, Qt.Key.Key_N)
            return "new seam by key"
        line = rng.choice(scene.lines)
        ends = [line.points[0], line.points[-1]]
        middle = tuple(sum(v) / 2 for v in zip(*ends, strict=True))
        spot = stage.canvas.to_px(*rng.choice([*ends, middle])).toPoint()
        if rng.random() < 0.3:
            QTest.mouseClick(port, LEFT, NONE, spot)
            keys = (Qt.Key.Key_Left, Qt.Key.Key_Up, Qt.Key.Key_Delete, Qt.Key.Key_Tab)
            QTest.keyClick(stage.canvas.view, rng.choice(keys))
            return "key on a seam"
        end = spot + QPoint(rng.randint(-90, 90), rng.randint(-90, 90))
        self.drag(port, spot, end, modifiers=rng.choice((NONE, NONE, ALT)))
        return "drag a seam"

    def _style(self) -> str:
        if self.window.stage is not self.window.stages[1]:
            self._go(1)
        return "joints: " + self._any_widget(self.window.stages[1].right)

    # --- the window -----------------------------------------------------------------------
    def _go(self, index: int) -> None:
        tabs = self.window.tabs
        QTest.mouseClick(tabs, LEFT, NONE, tabs.tabRect(index).center())

    def _stage(self) -> str:
        index = self.rng.randrange(4)
        if self.rng.random() < 0.5:
            self._go(index)
        else:
            QTest.keyClick(self.window, Qt.Key(Qt.Key.Key_1.value + index), CTRL)
        return f"stage {index + 1}"

    def _undo_redo(self) -> str:
        back = self.rng.random() < 0.6
        for _ in range(self.rng.choice((1, 1, 2, 5, 12))):
            QTest.keyClick(self.window, Qt.Key.Key_Z, CTRL if back else CTRL | SHIFT)
        return "undo" if back else "redo"

    def undo_all_and_redo_all(self) -> None:
        """Ctrl+Z to the beginning and Ctrl+Shift+Z to the end, through the window."""
        document = self.document
        if QApplication.activeModalWidget() or QApplication.activePopupWidget():
            return
        self._activate(self.window)
        self.window.setFocus()
        end = self.watch_end()
        steps = document.history
        for _ in range(document.history_at):
            at, name = document.history_at, document.undo_text
            QTest.keyClick(self.window, Qt.Key.Key_Z, CTRL)
            if document.history_at != at - 1 or document.history != steps:
                now = document.history[document.history_at - 2 : document.history_at]
                raise BrokenError(
                    f"Ctrl+Z of “{name}” led from step {at} to {document.history_at} ({now}); "
                    f"the focus is on {QApplication.focusWidget()}"
                )
        for _ in range(len(document.history)):
            QTest.keyClick(self.window, Qt.Key.Key_Z, CTRL | SHIFT)
        if project_to_json(document.project) != end:
            raise BrokenError("Ctrl+Shift+Z does not lead to the end")

    def watch_end(self) -> str:
        """What the last step of the history leaves."""
        steps = self.document._steps
        return project_to_json(steps[-1].after if steps else self.document.project)

    def _menu(self) -> str:
        menus = [a.menu() for a in self.window.menuBar().actions() if a.menu() is not None]
        menu = self.rng.choice(menus)
        menu.aboutToShow.emit()
        rows = [
            action
            for action in itertools.chain(
                menu.actions(), *(m.actions() for m in menu.findChildren(QMenu))
            )
            if action.isEnabled() and not action.isSeparator() and action.menu() is None
        ]
        rows = [action for action in rows if not _ends(self.window, action)]
        if not rows:
            return "empty menu"
        action = self.rng.choice(rows)
        text = action.text()
        action.trigger()
        return f"menu {text}"

    def _key(self) -> str:
        rng = self.rng
        widget = QApplication.focusWidget() or self.window
        names = "Tab Backtab Up Down Left Right Escape Return Space Delete F8 Plus Minus R L M A N"
        name = rng.choice(names.split())
        key = getattr(Qt.Key, f"Key_{name}")
        QTest.keyClick(widget, key, rng.choice((NONE, NONE, NONE, SHIFT)))
        return f"key {name}"

    def _open_demo(self) -> str:
        action = self.rng.choice(self.window.demo_menu.actions()[:2])
        action.trigger()
        self.idle()
        return f"demo {action.text()}"

    def _file(self) -> str:
        window, rng = self.window, self.rng
        way = rng.choices(
            ("save", "save as", "open", "add", "new", "focus lost", "changed on disk"),
            (6, 3, 1, 2, 0.5, 2, 2),
        )[0]
        if way == "save":
            QTest.keyClick(window, Qt.Key.Key_S, CTRL)
        elif way == "save as":
            QTest.keyClick(window, Qt.Key.Key_S, CTRL | SHIFT)
        elif way == "open":
            QTest.keyClick(window, Qt.Key.Key_O, CTRL)
        elif way == "add":
            QTest.keyClick(window, Qt.Key.Key_I, CTRL)
        elif way == "new":
            QTest.keyClick(window, Qt.Key.Key_N, CTRL)
        elif way == "focus lost":
            self.document.autosave(wait=False)
        elif self.document.path is not None and self.document.path.exists():
            other = project_from_json(self.document.path.read_text(encoding="utf-8"))
            text = project_to_json(_renamed(other, f"by another {rng.randint(1, 99)}"))
            self.document.path.write_text(text, encoding="utf-8")
            self.document.check_disk()
        return way

    def _shop(self) -> str:
        if not self.window.shop.isVisible() or self.rng.random() < 0.2:
            QTest.keyClick(self.window, Qt.Key.Key_F9)
            QTest.qWait(5)
        if self.window.shop.isVisible():
            return "shop: " + self._any_widget(self.window.shop)
        return "close the shop"

    def _look(self) -> str:
        size = self.rng.choice(((1366, 768), (1600, 900), (1024, 700)))
        self.window.resize(*size)
        return f"window {size}"


def _renamed(project: Project, name: str) -> Project:
    from dataclasses import replace

    return replace(project, name=name)


def _ends(window: MainWindow, action: QAction) -> bool:
    return action is window.quit_action


def _reachable(widget: QWidget) -> QPoint | None:
    """A point of the widget a pointer would really hit, or None."""
    area = widget.visibleRegion().boundingRect()
    if area.isEmpty():
        return None
    at = area.center()
    top = widget.window()
    hit = top.childAt(widget.mapTo(top, at))
    if hit is None or not (hit is widget or widget.isAncestorOf(hit)):
        return None
    return at


def run(
    window: MainWindow,
    *,
    actions: int,
    seed: int,
    minutes: float = 0.0,
    tell: Callable[[int, str], None] | None = None,
    real_undo_every: int = 100,
    rest_share: float = 0.12,
) -> Counter[str]:
    """Let a random maker do so many things in a window; what was done, counted.

    Raises BrokenError at the first thing that is not as it must be, with the last actions named.
    """
    rng = random.Random(seed)
    window.context.preferences.set("nest_seconds", 1.0)
    ask = window.context.ask
    if isinstance(ask, RandomAsk):
        ask._rng = rng
    watch, maker = Watch(window.document), Maker(window, rng)
    window.stages[2].nest_box.seconds.set_value(1.0)  # type: ignore[attr-defined]
    done: Counter[str] = Counter()
    last: list[str] = []
    until = time.monotonic() + minutes * 60
    with watch.listening():
        for number in itertools.count(1):
            if (minutes and time.monotonic() > until) or (not minutes and number > actions):
                break
            try:
                what = maker.act()
                last = [*last[-14:], what]
                done[what.split(" ")[0]] += 1
                QApplication.processEvents()
                if rng.random() < rest_share:
                    maker.idle()
                watch.check()
                if number % 25 == 0:
                    maker.idle()
                    watch.check_marks(window)
                if number % real_undo_every == 0:
                    maker.undo_all_and_redo_all()
                    watch.check()
            except Exception as error:
                trail = "\n  ".join(last)
                raise BrokenError(f"action {number}, seed {seed}:\n  {trail}\n{error}") from error
            if tell is not None:
                tell(number, what)
        maker.idle()
        watch.check()
    return done


def beginning(name: str) -> Project:
    """What a run begins with: a demo, or "small", where the time goes into the window and not
    into cutting; one of its panels is split."""
    if name != "small":
        return load_project(ROOT / "demo_projects" / name / f"{name}.json")
    shop = Shop(
        machine=Machine(cutters=(Cutter(6.0, cutting_length_mm=22.0),)),
        materials=(Material("birch 18", 18.0),),
        stock=(Stock("s1", "birch 18", 2440.0, 1220.0, cost=60.0),),
    )
    panels = (
        rectangle_panel("Rail", 1500, 120, 1, "birch 18"),
        rectangle_panel("Shelf", 500, 300, 3, "birch 18"),
    )
    return AddPanels("Add", panels).apply(Project(shop=shop))


def rss_mb(pid: int | str = "self") -> float:
    """Memory a process holds, this one by default, MB (Linux)."""
    try:
        lines = Path(f"/proc/{pid}/status").read_text().splitlines()
    except OSError:  # it has ended
        return 0.0
    return next((int(line.split()[1]) / 1024 for line in lines if line.startswith("VmRSS")), 0.0)


def helpers_mb() -> float:
    """Memory the processes hold that nest and read drawings for this one, MB."""
    return sum(rss_mb(child.pid or 0) for child in multiprocessing.active_children())


def main() -> int:
    """The run by hand."""
    from app.main import application, make_window
    from app.preferences import Preferences
    from app.recovery import Recovery
    from app.tidy import Collector
    from app.window import apply_preferences

    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else "")
    parser.add_argument("--actions", type=int, default=2000)
    parser.add_argument("--minutes", type=float, default=0.0)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--demo", default=DEMOS[0])
    parser.add_argument("--memory-every", type=float, default=60.0, help="seconds")
    parser.add_argument("--folder", type=Path, help="where files and copies go")
    parser.add_argument("--autosave-ms", type=int, default=0)
    parser.add_argument("--journal", type=Path, help="write down every state with its time")
    parser.add_argument("--rest", type=float, default=0.12, help="how often it waits")
    parser.add_argument("--verbose", action="store_true")
    args = parser.parse_args()
    faulthandler.enable()
    folder = args.folder or Path(tempfile.mkdtemp(prefix="soak-"))
    folder.mkdir(parents=True, exist_ok=True)
    app = application()
    preferences = Preferences(None)
    apply_preferences(preferences)
    recovery = Recovery(folder / "recovery")
    ask = RandomAsk(random.Random(args.seed), folder)
    window = make_window(preferences, recovery, ask)  # type: ignore[arg-type]
    if args.autosave_ms:
        window.document._autosave_timer.setInterval(args.autosave_ms)
    if args.journal:
        _keep_journal(window.document, args.journal)
    window.resize(1366, 768)
    window.show()
    collector = Collector(app)
    window.document.take(beginning(args.demo), None)
    began, next_memory = time.monotonic(), 0.0

    def tell(number: int, what: str) -> None:
        nonlocal next_memory
        spent = time.monotonic() - began
        if args.verbose:
            print(f"{number:5d} {spent:7.1f} s  {what}", flush=True)
        if spent >= next_memory and window.context.jobs.is_idle():
            # Only at rest: a thread must not build a tuple while all objects are listed.
            next_memory = spent + args.memory_every
            gc.unfreeze()  # what was set aside counts too
            gc.collect()
            widgets = len(QApplication.allWidgets())
            print(
                f"{spent:7.0f} s  action {number:6d}  {rss_mb():7.1f} MB  "
                f"(helpers {helpers_mb():6.1f})  "
                f"{len(gc.get_objects()):8d} objects  {widgets:5d} widgets  "
                f"{len(window.document.history):4d} steps",
                flush=True,
            )

    try:
        done = run(
            window,
            actions=args.actions,
            seed=args.seed,
            minutes=args.minutes,
            tell=tell,
            rest_share=args.rest,
        )
    except BrokenError as error:
        print(f"BROKEN: {error}")
        traceback.print_exception(error.__cause__)
        os._exit(1)
    spent = time.monotonic() - began
    print(f"{sum(done.values())} actions in {spent:.0f} s, seed {args.seed}: all holds")
    print(", ".join(f"{what} {n}" for what, n in done.most_common()))
    collector.release()
    window.document.close()
    window.context.jobs.close()
    return 0


def _keep_journal(document: Document, path: Path) -> None:
    """A line per state of the document: when, and the digest of what would be saved."""
    import hashlib

    book = path.open("a", buffering=1, encoding="ascii")

    def note(_change: object = None) -> None:
        digest = hashlib.sha256(project_to_json(document.project).encode()).hexdigest()
        book.write(f"{time.time():.3f} {digest} {int(document.dirty)}\n")

    document.changed.connect(note)
    document.dirty_changed.connect(note)
    note()


if __name__ == "__main__":
    sys.exit(main())
