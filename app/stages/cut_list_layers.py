"""Drawings for the router: version of the files and the name of each layer, by purpose."""

from __future__ import annotations

from PySide6.QtWidgets import QDialog, QGridLayout, QLabel, QVBoxLayout, QWidget

from app import theme
from app.commands import SetOutput
from app.context import Context
from app.i18n import tr
from app.widgets.fields import TextField
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
from app.widgets.reasons import set_able
from app.widgets.room import resize_within_screen
from app.wording import error_in_words
from core.errors import SeamwrightError


def purposes() -> dict[str, str]:
    """What each purpose of a layer is, in words; purposes without a word are told as they are."""
    return {
        "outside": tr("outlines, bit outside"),
        "inside": tr("cut-outs, bit inside"),
        "pocket": tr("pockets"),
        "dado": tr("dados"),
        "rebate": tr("rebates"),
        "engrave": tr("engraving"),
        "drill": tr("holes to drill"),
        "other-face": tr("cut from the other face"),
        "saw": tr("saw cuts"),
        "saw-part": tr("parts the saw cuts"),
        "sheet": tr("edge of the sheet"),
        "blank": tr("edge of the blank"),
        "offcut": tr("offcuts to keep"),
        "defect": tr("defects"),
        "clamp": tr("clamps"),
        "registration": tr("registration"),
        "tab": tr("tabs"),
        "screw": tr("screws"),
        "text": tr("texts"),
    }


class LayersDialog(QDialog):
    """Every change holds at once and can be undone; there is nothing to confirm."""

    def __init__(self, context: Context, parent: QWidget | None = None) -> None:
        from core.reports.drawings import LAYERS

        super().__init__(parent)
        self.setWindowTitle(tr("Drawings for the router"))
        self._context = context
        column = QVBoxLayout(self)
        column.setContentsMargins(theme.WIDE, theme.WIDE, theme.WIDE, theme.WIDE)
        column.setSpacing(theme.NORMAL)
        rows = Rows()
        self.version = Choice(
            tr("Version of the files"),
            (
                ("R2010", tr("DXF R2010, usual")),
                ("R2000", tr("DXF R2000, for older programs")),
                ("R12", tr("DXF R12, for the oldest")),
            ),
        )
        self.version.chosen.connect(self._set_version)
        rows.add(tr("Files"), self.version)
        self.origin = Choice(
            tr("Origin of a clamping's drawing"),
            (
                ("corner", tr("lower left corner of the board")),
                ("centre", tr("middle of the board")),
            ),
        )
        self.origin.chosen.connect(self._set_origin)
        rows.add(tr("Origin"), self.origin)
        column.addWidget(rows)
        column.addWidget(Heading(tr("Names of layers")))
        column.addWidget(
            words(
                tr(
                    "As your toolpath program wants them. {depth} becomes the depth with its unit, "
                    "{diameter} that of a hole."
                )
            )
        )
        table = QWidget()
        grid = QGridLayout(table)
        grid.setContentsMargins(0, 0, theme.NORMAL, 0)
        grid.setHorizontalSpacing(theme.WIDE)
        grid.setColumnStretch(1, 1)
        self.fields: dict[str, TextField] = {}
        told = purposes()
        for row, (purpose, usual) in enumerate(LAYERS.items()):
            what = told.get(purpose, purpose)
            label = QLabel(what)
            field = TextField(tr("Layer of {what}").format(what=what), empty=usual)
            field.line.setToolTip(tr("Empty: {name}").format(name=usual))
            field.committed.connect(self._renamer(purpose))
            label.setBuddy(field)
            grid.addWidget(label, row, 0)
            grid.addWidget(field, row, 1)
            self.fields[purpose] = field
        column.addWidget(scrolling(table), 1)
        self.told = words()
        self.usual_button = button(tr("Usual names"), self._usual)
        self.keep_button = button(
            tr("Begin new projects with these"),
            self._keep,
            tip=tr("Paper, label sheets, version and layer names as they are in this project"),
        )
        column.addWidget(row_of(self.usual_button, self.keep_button))
        column.addWidget(self.told)
        column.addWidget(close_box(self))
        enter_presses_nothing(self)
        wide = self.fontMetrics().averageCharWidth()
        resize_within_screen(self, wide * 72, round(self.fontMetrics().height() * 34))
        context.document.changed.connect(self._show)
        self._show()

    def _show(self, _change: object = None) -> None:
        output = self._context.document.project.output
        self.version.set_value(output.dxf_version)
        self.origin.set_value(output.dxf_origin)
        names = dict(output.layers)
        for purpose, field in self.fields.items():
            field.set_value(names.get(purpose))
        set_able(self.usual_button, bool(names), tr("All layers have their usual names."))

    def _set_version(self, version: str) -> None:
        text = tr("Write drawings as {version}").format(version=version)
        self._context.document.run(SetOutput(text, (("dxf_version", version),)))

    def _set_origin(self, origin: str) -> None:
        self._context.document.run(SetOutput(tr("Set the origin"), (("dxf_origin", origin),)))

    def _renamer(self, purpose: str) -> object:
        def rename(name: object) -> None:
            self.rename(purpose, str(name or ""))

        return rename

    def rename(self, purpose: str, name: str) -> None:
        """Give a layer another name, "" for its usual one; refused names are explained."""
        names = dict(self._context.document.project.output.layers)
        if name.strip():
            names[purpose] = name.strip()
        else:
            names.pop(purpose, None)
        text = tr("Name the layer of {what}").format(what=purposes().get(purpose, purpose))
        try:
            self._context.document.run(SetOutput(text, (("layers", tuple(names.items())),)))
        except SeamwrightError as error:
            self.fields[purpose].refuse(error_in_words(error))

    def _usual(self) -> None:
        self._context.document.run(SetOutput(tr("Usual names of layers"), (("layers", ()),)))

    def _keep(self) -> None:
        try:
            self._context.preferences.set_default_output(self._context.document.project.output)
        except SeamwrightError as error:
            self.told.setText(error_in_words(error))
            return
        self.told.setText(tr("New projects begin with these."))
