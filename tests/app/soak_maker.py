"""The random maker: what it does on the stages, with files, the shop and the history."""

from __future__ import annotations

import itertools
import random
from collections.abc import Callable
from typing import Any

from PySide6.QtCore import QPoint, Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication, QMenu

from app.window import MainWindow
from core.project.file import project_from_json, project_to_json
from core.project.model import Project
from tests.app.soak_hands import ALT, CTRL, LEFT, NONE, RIGHT, SHIFT, Hands, ends
from tests.app.soak_watch import BrokenError


class Maker(Hands):
    """Somebody who does anything the window lets them do."""

    def __init__(self, window: MainWindow, rng: random.Random) -> None:
        super().__init__(window, rng)
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
        rows = [action for action in rows if not ends(self.window, action)]
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
        action = self.rng.choice(self.window.menus.demo_menu.actions()[:2])
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
