"""Boards in the shop drawer: what they are sold as and what they measure."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QMenu

from app import theme
from app.i18n import tr
from app.shop.part import Part
from app.shop.records import RecordCard, RecordList, Spec
from app.shop.usual import AddUsualBoard, UsualBoard, usual_boards
from app.widgets.calipers import CaliperScale, read_several, sheet_rows, spread_words
from app.widgets.fields import TextField
from app.widgets.forms import Choice, Rows, bring_into_view, button, words
from app.wording import error_in_words, in_words
from core.errors import SeamwrightError
from core.project.model import Project
from core.refit.thickness import explain_thickness
from core.shop import (
    BoardState,
    Material,
    Reading,
)


def state_options() -> list[tuple[BoardState, str]]:
    """The states a board may be measured in, as they are shown."""
    return [
        (BoardState.BOUGHT, tr("as bought")),
        (BoardState.PLANED, tr("planed")),
        (BoardState.SANDED, tr("sanded")),
        (BoardState.FINISHED, tr("finished")),
    ]


class _ReadingCard(RecordCard):
    """One caliper reading on a line."""

    def __init__(self, i: int, of: str) -> None:
        specs = (
            Spec("thickness_mm", tr("Thickness"), "length", above_zero=True),
            Spec("state", tr("State"), "choice", options=state_options()),
            Spec("sheet", tr("Sheet"), "text", empty=tr("any")),
        )
        super().__init__(
            specs,
            tr("reading {n} of {board}").format(n=i + 1, board=of),
            tr("Remove"),
            compact=True,
        )


class MaterialCard(RecordCard):
    """A board with its caliper readings and what they mean for slots."""

    def __init__(
        self, i: int, check_name: Any, fit_of: Callable[[str], float] = lambda _name: 0.0
    ) -> None:
        of = tr("board {n}").format(n=i + 1)
        super().__init__(
            (
                Spec("name", tr("Name"), "text", check=check_name),
                Spec(
                    "nominal_mm",
                    tr("Sold as"),
                    "length",
                    above_zero=True,
                    tip=tr("Nominal thickness, the size it is sold under"),
                ),
                Spec(
                    "raw_mm",
                    tr("Planed down from"),
                    "length",
                    tr("Thickness as bought where the board is planed before use"),
                    tr("not planed"),
                    above_zero=True,
                ),
                Spec("density_kg_m3", tr("Density"), "number", suffix="kg/m³", above_zero=True),
                Spec("grained", tr("Grain direction matters"), "check"),
            ),
            of,
            tr("Remove"),
        )
        self._fit_of = fit_of
        self.scale = CaliperScale()
        self.column.addWidget(self.scale)
        self.warning = words()
        self.warning.setProperty("severity", "warn")
        self.column.addWidget(self.warning)
        self.readings = RecordList(
            lambda k: _ReadingCard(k, of),
            tr("Add a caliper reading"),
            self._new_reading,
        )
        self.readings.changed.connect(self._set_readings)
        self.column.addWidget(self.readings)
        self._make_several(of)

    def _make_several(self, of: str) -> None:
        """Readings typed one after the other, as they are called out at the board."""
        several = Rows()
        self.several = TextField(
            tr("Several readings, {of}").format(of=of), empty=tr("like 17.6 17.55 17.6")
        )
        several.add(
            tr("Readings"),
            self.several,
            tr("Several at once. Measure near each corner and the middle of each side"),
        )
        self.sheet = TextField(tr("Sheet they were taken on, {of}").format(of=of), empty=tr("any"))
        several.add(tr("on sheet"), self.sheet)
        self.state = Choice(tr("State of the board, {of}").format(of=of), state_options())
        self.state.set_value(BoardState.BOUGHT)
        several.add(tr("measured"), self.state, tr("Joints follow the most finished state"))
        self.several.committed.connect(self._add_several)
        self.column.addWidget(several)

    def _add_several(self, text: str | None) -> None:
        if not text:
            return
        try:
            values = read_several(text, self.unit)
        except SeamwrightError as error:
            self.several.refuse(error_in_words(error))
            return
        self.several.set_value(None)
        sheet = self.sheet.value or ""
        state = self.state.value or BoardState.BOUGHT
        added = tuple(Reading(value, sheet, state) for value in values)
        self._set_readings((*self.record.readings, *added))

    def _new_reading(self) -> Reading:
        last = self.record.readings[-1] if self.record.readings else None
        return Reading(
            last.thickness_mm if last else self.record.nominal_mm,
            state=last.state if last else BoardState.BOUGHT,
        )

    def _set_readings(self, rows: tuple[Reading, ...]) -> None:
        self.changed.emit(replace(self.record, readings=rows))

    def fill(self, record: Any, unit: str) -> None:
        """Show a board."""
        super().fill(record, unit)
        self.readings.fill(record.readings, unit)
        self.scale.show_material(record, unit)
        spread, warns = spread_words(record, self._fit_of(record.name), unit)
        self.warning.setText(spread)
        self.warning.setVisible(bool(spread))
        theme.mark(self.warning, "severity", "warn" if warns else "")

    def note_of(self, record: Material, unit: str) -> str:
        """What to expect of the board and what its readings mean."""
        rows = [*map(in_words, explain_thickness(record, unit)), sheet_rows(record, unit)]
        return " ".join(row for row in rows if row)


class BoardsPart(Part):
    """Boards by name."""

    renamed = Signal(str, str)

    def __init__(self) -> None:
        super().__init__()
        self._materials: tuple[Material, ...] = ()
        self._project = Project()
        self.list = RecordList(
            lambda i: MaterialCard(i, self._check_name, self._fit_of),
            tr("Add a board"),
            self._new,
            empty_text=tr("Add the boards you cut, for example “birch 18”."),
        )
        self.list.changed.connect(self._changed)
        self.show_in(self.list, lambda project: project.shop.materials)
        self.usual = button(
            tr("Add a usual board with its sheet"),
            self._show_usual,
            "board",
            tr("Boards many shops cut; measure yours before you cut joints"),
        )
        self.usual_menu = QMenu(self.usual)
        for board in usual_boards():
            self.usual_menu.addAction(board.described).triggered.connect(self._adder(board))
        self.column.addWidget(self.usual)

    def _fit_of(self, name: str) -> float:
        project = self._project
        return project.shop.fit_mm(project.refit_rules.joint_class, name)

    def _show_usual(self) -> None:
        self.usual_menu.popup(self.usual.mapToGlobal(self.usual.rect().bottomLeft()))

    def _adder(self, board: UsualBoard) -> Callable[[], None]:
        def add() -> None:
            self.command_wanted.emit(AddUsualBoard(board))
            if self.list.cards:
                bring_into_view(self.list.cards[-1])

        return add

    def _check_name(self, name: str) -> str:
        return "" if name else tr("A board needs a name.")

    def _new(self) -> Material:
        names = {m.name for m in self._materials}
        n = 1
        while tr("Board {n}").format(n=n) in names:
            n += 1
        return Material(tr("Board {n}").format(n=n), 18.0)

    def _changed(self, rows: tuple[Material, ...]) -> None:
        if len(rows) == len(self._materials):
            for old, new in zip(self._materials, rows, strict=True):
                if old.name != new.name:
                    self.renamed.emit(old.name, new.name)
                    return
        text = tr("Add a board") if len(rows) > len(self._materials) else tr("Set boards")
        self.wanted.emit(text, "materials", rows)

    def fill(self, project: Project) -> None:
        """Show the boards, each with the fit its joints would have."""
        self._project = project
        self._materials = project.shop.materials
        super().fill(project)
