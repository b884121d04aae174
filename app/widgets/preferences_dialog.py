"""Preferences: units, colours, text, motion, steps, and the shop new projects begin with."""

from __future__ import annotations

from pathlib import Path

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QCheckBox, QDialog, QVBoxLayout, QWidget

from app import theme
from app.commands import SetProject
from app.context import Context
from app.i18n import tr
from app.looks import apply_preferences
from app.preferences_file import export_preferences, import_preferences
from app.widgets.fields import LengthField, NumberField, show_size
from app.widgets.forms import (
    Choice,
    Heading,
    Rows,
    button,
    close_box,
    enter_presses_nothing,
    row_of,
    scrolling,
    words,
)
from app.widgets.room import show_whole
from app.wording import error_in_words
from core.errors import SeamwrightError


class PreferencesDialog(QDialog):
    """Every change holds at once; there is nothing to confirm."""

    def __init__(self, context: Context, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        self.setWindowTitle(tr("Preferences"))
        self._context = context
        preferences = context.preferences
        unit = context.unit
        outside = QVBoxLayout(self)
        outside.setContentsMargins(theme.WIDE, theme.WIDE, theme.WIDE, theme.WIDE)
        outside.setSpacing(theme.NORMAL)
        inside = QWidget()
        column = QVBoxLayout(inside)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(theme.NORMAL)

        column.addWidget(Heading(tr("This project")))
        rows = Rows()
        units = (("mm", tr("millimetres")), ("cm", tr("centimetres")), ("in", tr("inches")))
        self.project_units = Choice(tr("Unit of this project"), units)
        self.project_units.set_value(context.document.project.units)
        self.project_units.chosen.connect(self._set_project_units)
        rows.add(tr("Lengths in"), self.project_units)
        column.addWidget(rows)

        column.addWidget(Heading(tr("New projects")))
        rows = Rows()
        self.units = Choice(tr("Unit of new projects"), units)
        self.units.set_value(preferences.get("units"))
        self.units.chosen.connect(lambda value: preferences.set("units", value))
        rows.add(tr("Lengths in"), self.units)
        self.shop_told = words(self._shop_words())
        rows.add_wide(self.shop_told)
        rows.add_wide(
            button(
                tr("Begin them with this project's shop"),
                self._keep_shop,
                "shop",
                tr("Machine, bits, boards, sheets and fits as they are in this project"),
            )
        )
        column.addWidget(rows)

        column.addWidget(Heading(tr("Window")))
        rows = Rows()
        self.colours = Choice(
            tr("Colours"),
            (("system", tr("as the system")), ("light", tr("light")), ("dark", tr("dark"))),
        )
        self.colours.set_value(preferences.get("colours"))
        self.colours.chosen.connect(self._set_look("colours"))
        rows.add(tr("Colours"), self.colours)
        self.text = Choice(
            tr("Size of text"), [(p, f"{p} %") for p in (80, 90, 100, 110, 125, 150, 175, 200, 250)]
        )
        self.text.set_value(preferences.get("text_percent"))
        self.text.chosen.connect(self._set_look("text_percent"))
        rows.add(tr("Text"), self.text, tr("Against the size the system sets"))
        self.motion = QCheckBox(tr("Nothing glides"))
        self.motion.setChecked(preferences.get("less_motion"))
        self.motion.toggled.connect(self._set_look("less_motion"))
        rows.add_wide(self.motion)
        column.addWidget(rows)

        column.addWidget(Heading(tr("Sheets")))
        rows = Rows()
        self.nudge = LengthField(
            tr("An arrow key moves by"), unit, above_zero=True, least_mm=0.01, most_mm=1000
        )
        self.nudge.set_value(preferences.get("nudge_mm"))
        self.nudge.committed.connect(lambda value: preferences.set("nudge_mm", float(value)))
        rows.add(tr("Arrow key moves by"), self.nudge)
        self.turn = NumberField(tr("A free piece turns by"), suffix="°", least=0.1, most=180)
        self.turn.set_value(preferences.get("turn_deg"))
        self.turn.committed.connect(lambda value: preferences.set("turn_deg", float(value)))
        rows.add(tr("R turns a free piece by"), self.turn)
        self.seconds = NumberField(
            tr("Nesting looks for better for"), suffix="s", least=1, most=3600
        )
        self.seconds.set_value(preferences.get("nest_seconds"))
        self.seconds.committed.connect(lambda value: preferences.set("nest_seconds", float(value)))
        rows.add(tr("Nesting takes"), self.seconds)
        column.addWidget(rows)

        self.export_button = button(
            tr("Export…"),
            self._export,
            "export",
            tr("All of this, with shop and papers, in one file for another machine"),
        )
        self.import_button = button(
            tr("Import…"), self._import, "import", tr("Take over what such a file has")
        )
        column.addStretch(1)
        outside.addWidget(scrolling(inside, whole=True), 1)
        outside.addWidget(row_of(self.export_button, self.import_button))
        self.told = words()
        self.told.hide()
        outside.addWidget(self.told)
        outside.addWidget(close_box(self))
        enter_presses_nothing(self)
        show_whole(self)
        self.setMinimumWidth(self.fontMetrics().averageCharWidth() * 60)

    # --- to and from a file ---------------------------------------------------------------
    def _export(self) -> None:
        chosen = self._context.ask.save_file(
            tr("Export preferences"),
            tr("Preferences (*.json)"),
            suggestion="seamwright-preferences.json",
        )
        if not chosen:
            return
        path = Path(chosen)
        path = path if path.suffix else path.with_suffix(".json")
        try:
            export_preferences(self._context.preferences, path)
        except SeamwrightError as error:
            self._tell(error_in_words(error), "stop")
        else:
            self._tell(tr("Written: {file}").format(file=path.name), "good")

    def _import(self) -> None:
        chosen = self._context.ask.open_file(tr("Import preferences"), tr("Preferences (*.json)"))
        if not chosen:
            return
        try:
            import_preferences(self._context.preferences, Path(chosen))
        except SeamwrightError as error:
            self._tell(error_in_words(error), "stop")
            return
        self._fill()
        apply_preferences(self._context.preferences)
        self._tell(tr("Taken over from {file}.").format(file=Path(chosen).name), "good")

    def _fill(self) -> None:
        """Show the preferences as they are."""
        preferences = self._context.preferences
        for key, field in (
            ("units", self.units),
            ("colours", self.colours),
            ("text_percent", self.text),
            ("nudge_mm", self.nudge),
            ("turn_deg", self.turn),
            ("nest_seconds", self.seconds),
        ):
            field.set_value(preferences.get(key))
        self.motion.setChecked(preferences.get("less_motion"))
        self.shop_told.setText(self._shop_words())

    def _tell(self, sentence: str, severity: str) -> None:
        self.told.setText(f"● {sentence}" if severity == "stop" else sentence)
        theme.mark(self.told, "severity", severity)
        self.told.show()

    # --- changes --------------------------------------------------------------------------
    def _shop_words(self) -> str:
        shop = self._context.preferences.default_shop()
        w, h = shop.machine.travel_mm
        return tr("They begin with: {name}, travel {size}, {n} boards.").format(
            name=shop.machine.name,
            size=show_size(w, h, self._context.unit),
            n=len(shop.materials),
        )

    def _keep_shop(self) -> None:
        try:
            self._context.preferences.set_default_shop(self._context.document.project.shop)
        except SeamwrightError as error:
            self.shop_told.setText(error_in_words(error))
            return
        self.shop_told.setText(self._shop_words())

    def _set_project_units(self, unit: str) -> None:
        self._context.document.run(
            SetProject(tr("Show lengths in {unit}").format(unit=unit), (("units", unit),))
        )
        self.nudge.set_unit(unit)

    def _set_look(self, key: str) -> object:
        def set_it(value: object) -> None:
            self._context.preferences.set(key, value)
            apply_preferences(self._context.preferences)

        return set_it
