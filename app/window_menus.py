"""The menu bar of the window: its actions, and what is done by nothing but them."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from PySide6.QtCore import QObject
from PySide6.QtGui import QAction, QActionGroup, QKeySequence
from PySide6.QtWidgets import QMenu

from app.i18n import tr
from app.looks import apply_preferences
from app.widgets.icons import set_icon

if TYPE_CHECKING:
    from app.window import MainWindow


class Menus(QObject):
    """Makes the menus of a window that stands, and gives its head the buttons for them."""

    def __init__(self, window: MainWindow) -> None:
        super().__init__(window)
        self._window = window
        self._build()

    def _action(
        self,
        text: str,
        slot: object,
        keys: str | QKeySequence.StandardKey | None = None,
        icon: str = "",
        tip: str = "",
    ) -> QAction:
        action = QAction(text, self._window)
        if keys is not None:
            action.setShortcut(QKeySequence(keys))
        if icon:
            set_icon(action, icon)
        if tip:
            action.setToolTip(tip)
        action.triggered.connect(slot)
        self._window.addAction(action)
        return action

    def _build(self) -> None:
        window, files = self._window, self._window.files
        bar = window.menuBar()
        a = self._action
        file = bar.addMenu(tr("&File"))
        self.new_action = a(tr("&New project"), files.new, "Ctrl+N", "new")
        self.open_action = a(tr("&Open…"), files.ask_open, "Ctrl+O", "open")
        self.recent_menu = QMenu(tr("Open &recent"), window)
        self.recent_menu.aboutToShow.connect(self._fill_recent)
        self.demo_menu = QMenu(tr("Open a &demo"), window)
        self._fill_demos()
        self.add_action = a(tr("&Add drawings…"), files.ask_add, "Ctrl+I", "import")
        self.save_action = a(tr("&Save"), files.save, "Ctrl+S", "save")
        self.save_as_action = a(tr("Save &as…"), files.save_as, "Ctrl+Shift+S")
        self.print_action = a(tr("&Print the cut list…"), self._print, "Ctrl+P", "print")
        self.export_action = a(
            tr("&Export everything…"),
            self._export,
            "Ctrl+E",
            "export",
            tr("Write cut list, labels, drawings and plan into a folder"),
        )
        self.picture_action = a(
            tr("Save p&icture of this view…"),
            self._save_picture,
            "Ctrl+Shift+E",
            "eye",
            tr("Write what is in view as SVG or PNG"),
        )
        self.quit_action = a(tr("&Quit"), window.close, "Ctrl+Q")
        file.addActions([self.new_action, self.open_action])
        file.addMenu(self.recent_menu)
        file.addMenu(self.demo_menu)
        file.addSeparator()
        file.addAction(self.add_action)
        file.addSeparator()
        file.addActions([self.save_action, self.save_as_action])
        file.addSeparator()
        file.addActions([self.print_action, self.export_action, self.picture_action])
        file.addSeparator()
        file.addAction(self.quit_action)

        edit = bar.addMenu(tr("&Edit"))
        self.undo_action = a(tr("&Undo"), self._undo, "Ctrl+Z", "undo")
        self.redo_action = a(tr("&Redo"), self._redo, "Ctrl+Shift+Z", "redo")
        self.redo_action.setShortcuts([QKeySequence("Ctrl+Shift+Z"), QKeySequence("Ctrl+Y")])
        self.preferences_action = a(
            tr("&Preferences…"), self._show_preferences, "Ctrl+,", "settings"
        )
        self.rename_action = a(tr("Rename &project…"), self._rename)
        edit.addActions([self.undo_action, self.redo_action])
        edit.addSeparator()
        edit.addActions([self.rename_action, self.preferences_action])
        window.undo_button.setDefaultAction(self.undo_action)
        window.redo_button.setDefaultAction(self.redo_action)

        # A child of the window: one that the bar makes is lost to us when Qt clears up.
        self.stage_menu = QMenu(tr("S&tage"), window)
        bar.addMenu(self.stage_menu)
        self.stage_menu.aboutToShow.connect(self._fill_stage_menu)
        go = bar.addMenu(tr("&Go"))
        for i, stage in enumerate(window.stages):
            action = a(stage.title, self._stage_opener(i), f"Ctrl+{i + 1}")
            go.addAction(action)
        go.addSeparator()
        self.shop_action = a(
            tr("&Shop"), self._toggle_shop, "F9", "shop", tr("Machines, bits, boards, fits (F9)")
        )
        self.shop_action.setCheckable(True)
        window.shop_button.setDefaultAction(self.shop_action)
        self.next_notice_action = a(tr("Next &notice"), self._next_notice, "F8")
        self.all_notices_action = a(tr("&All notices"), window.notices.toggle, "Shift+F8")
        go.addActions([self.shop_action, self.next_notice_action, self.all_notices_action])

        view = bar.addMenu(tr("&View"))
        self.bigger_action = a(tr("&Larger text"), self._text_larger)
        self.smaller_action = a(tr("S&maller text"), self._text_smaller)
        # Where plus needs Shift, Ctrl+Shift and that key means Ctrl++: larger drawings.
        for action, keys in (
            (self.bigger_action, ("Ctrl+Alt++", "Ctrl+Alt+=", "Ctrl+Shift++")),
            (self.smaller_action, ("Ctrl+Alt+-", "Ctrl+Shift+-")),
        ):
            action.setShortcuts([QKeySequence(key) for key in keys])
        view.addActions([self.bigger_action, self.smaller_action])
        view.addSeparator()
        group = QActionGroup(window)
        wish = window.context.preferences.get("colours")
        for value, text in (
            ("system", tr("Colours of the s&ystem")),
            ("light", tr("L&ight")),
            ("dark", tr("&Dark")),
        ):
            action = a(text, self._colour_setter(value))
            action.setCheckable(True)
            action.setChecked(value == wish)
            group.addAction(action)
            view.addAction(action)

        help_menu = bar.addMenu(tr("&Help"))
        self.keys_action = a(tr("&Keyboard"), self._show_keys, "F1", "keyboard")
        self.about_action = a(tr("&About and licences"), self._show_about, None, "info")
        help_menu.addActions([self.keys_action, self.about_action])
        self.show_history()

    # --- document ---------------------------------------------------------------------------
    def show_history(self) -> None:
        """What undo and redo would do now."""
        for action, text, word, keys in (
            (self.undo_action, self._window.document.undo_text, tr("Undo"), "Ctrl+Z"),
            (self.redo_action, self._window.document.redo_text, tr("Redo"), "Ctrl+Shift+Z"),
        ):
            action.setEnabled(text is not None)
            action.setText(f"{word}: {text}" if text else word)
            action.setToolTip(f"{word}: {text} ({keys})" if text else f"{word} ({keys})")

    def _undo(self) -> None:
        self._window.document.undo()

    def _redo(self) -> None:
        self._window.document.redo()

    def _rename(self) -> None:
        from app.commands import SetProject

        name = self._window.context.ask.text(
            tr("Rename project"),
            tr("Name on the cut list"),
            initial=self._window.document.project.name,
        )
        if name and name.strip():
            self._window.document.run(SetProject(tr("Rename project"), (("name", name.strip()),)))

    def _fill_recent(self) -> None:
        self.recent_menu.clear()
        recent = self._window.context.preferences.recent
        for path in recent:
            action = self.recent_menu.addAction(path.name)
            action.setToolTip(str(path))
            action.triggered.connect(self._project_opener(path))
        if not recent:
            self.recent_menu.addAction(tr("Nothing opened yet")).setEnabled(False)

    def _fill_demos(self) -> None:
        from app.demos import demos

        for demo in demos():
            action = self.demo_menu.addAction(demo.title)
            action.setToolTip(demo.about)
            action.triggered.connect(self._demo_opener(demo.path))
        self.demo_menu.setEnabled(not self.demo_menu.isEmpty())

    def _project_opener(self, path: Path) -> object:
        return lambda: self._window.files.open_project(path)

    def _demo_opener(self, path: Path) -> object:
        return lambda: self._window.files.open_project(path, as_copy=True)

    # --- stages, notices, shop ----------------------------------------------------------------
    def _stage_opener(self, index: int) -> object:
        return lambda: self._window.open_stage(index)

    def _fill_stage_menu(self) -> None:
        self.stage_menu.clear()
        actions = self._window.stage.stage_actions()
        self.stage_menu.addActions(actions)
        if not actions:
            self.stage_menu.addAction(tr("Nothing here")).setEnabled(False)

    def _next_notice(self) -> None:
        self._window.notices.step(1)

    def _toggle_shop(self) -> None:
        if self.shop_action.isChecked():
            self._window.shop.slide_in()
        else:
            self._window.shop.slide_out()

    # --- the cut list from the menu ---------------------------------------------------------
    def _print(self) -> None:
        self._window.open_stage(3)
        self._window.stages[3].print_pages()  # type: ignore[attr-defined]

    def _export(self) -> None:
        self._window.open_stage(3)
        self._window.stages[3].export_folder()  # type: ignore[attr-defined]

    def _save_picture(self) -> None:
        """Write what is in view: the page on the cut list, elsewhere the drawing as it is shown."""
        from app.pictures import save_view

        if self._window.stage is self._window.stages[3]:
            self._window.stages[3].save_picture()  # type: ignore[attr-defined]
        else:
            save_view(self._window.stage)

    # --- looks and help -------------------------------------------------------------------
    def _colour_setter(self, value: str) -> object:
        def set_colours() -> None:
            self._window.context.preferences.set("colours", value)
            apply_preferences(self._window.context.preferences)

        return set_colours

    def _text_larger(self) -> None:
        self._set_text(+10)

    def _text_smaller(self) -> None:
        self._set_text(-10)

    def _set_text(self, by: int) -> None:
        preferences = self._window.context.preferences
        percent = min(250, max(80, preferences.get("text_percent") + by))
        preferences.set("text_percent", percent)
        apply_preferences(preferences)

    def _show_preferences(self) -> None:
        from app.widgets.preferences_dialog import PreferencesDialog

        PreferencesDialog(self._window.context, self._window).open()

    def _show_keys(self) -> None:
        from app.widgets.help import KeyboardDialog

        KeyboardDialog(self._window, self._window).open()

    def _show_about(self) -> None:
        from app.widgets.help import AboutDialog

        AboutDialog(self._window).open()
