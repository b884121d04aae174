"""Boards in the shop drawer: what they are sold as and what they measure."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QMenu

from app.i18n import tr
from app.shop.part import Part
from app.shop.records import RecordCard, RecordList, Spec
from app.shop.usual import AddUsualBoard, UsualBoard, usual_boards
from app.widgets.fields import show_length
from app.widgets.forms import button
from core.project.model import Project
from core.shop import (
    BoardState,
    Material,
    Reading,
)


class _ReadingCard(RecordCard):
    """One caliper reading on a line."""

    def __init__(self, i: int, of: str) -> None:
        states = {
            BoardState.BOUGHT: tr("as bought"),
            BoardState.PLANED: tr("planed"),
            BoardState.SANDED: tr("sanded"),
            BoardState.FINISHED: tr("finished"),
        }
        specs = (
            Spec("thickness_mm", tr("Thickness"), "length", above_zero=True),
            Spec("state", tr("State"), "choice", options=list(states.items())),
            Spec("sheet", tr("Sheet"), "text", empty=tr("sheet")),
        )
        super().__init__(
            specs,
            tr("reading {n} of {board}").format(n=i + 1, board=of),
            tr("Remove"),
            compact=True,
        )


class MaterialCard(RecordCard):
    """A board with its caliper readings and what they mean for slots."""

    def __init__(self, i: int, check_name: Any) -> None:
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
        self.readings = RecordList(
            lambda k: _ReadingCard(k, of),
            tr("Add a caliper reading"),
            self._new_reading,
            empty_text=tr("Not measured yet: joints are made for the nominal size."),
        )
        self.readings.changed.connect(self._set_readings)
        self.column.addWidget(self.readings)

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

    def note_of(self, record: Material, unit: str) -> str:
        """What the readings mean."""
        if not record.readings:
            return ""
        used = tr("Slots are cut for {t}").format(t=show_length(record.thickness_mm, unit))
        values = [r.thickness_mm for r in record.readings]
        spread = max(values) - min(values)
        if len(values) > 1 and spread > 0:
            return tr("{used}, the largest reading. They differ by {spread}.").format(
                used=used, spread=show_length(round(spread, 3), unit)
            )
        return used + "."


class BoardsPart(Part):
    """Boards by name."""

    renamed = Signal(str, str)

    def __init__(self) -> None:
        super().__init__()
        self._materials: tuple[Material, ...] = ()
        self.list = RecordList(
            lambda i: MaterialCard(i, self._check_name),
            tr("Add a board"),
            self._new,
            empty_text=tr("Add the boards you cut, for example “birch 18”."),
        )
        self.list.changed.connect(self._changed)
        self.column.addWidget(self.list)
        self.usual = button(
            tr("Add a usual board with its sheet"),
            self._show_usual,
            "board",
            tr("Boards many shops cut; measure yours before you cut joints"),
        )
        self.usual_menu = QMenu(self.usual)
        for board in usual_boards():
            self.usual_menu.addAction(board.name).triggered.connect(self._adder(board))
        self.column.addWidget(self.usual)

    def _show_usual(self) -> None:
        self.usual_menu.popup(self.usual.mapToGlobal(self.usual.rect().bottomLeft()))

    def _adder(self, board: UsualBoard) -> Callable[[], None]:
        return lambda: self.command_wanted.emit(AddUsualBoard(board))

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
        """Show the boards."""
        self._materials = project.shop.materials
        self.list.fill(project.shop.materials, project.units)
