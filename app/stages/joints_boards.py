"""The boards of a split panel's pieces: all of one, every other of another, or one by one."""

from __future__ import annotations

from PySide6.QtCore import Signal

from app.i18n import tr
from app.stages.joints_model import Shown
from app.widgets.forms import Choice, Rows, Section, words
from core.shop import Material

_MOST_ROWS = 24  # pieces that get a row of their own


class BoardsBox(Section):
    """Hidden where there is no other board of the same finished thickness.

    alternate(name): every other piece of that board, "" for one board. one(piece id, name).
    """

    alternate = Signal(str)
    one = Signal(str, str)

    def __init__(self) -> None:
        super().__init__(tr("Boards of the pieces"), "board", is_open=False)
        self.note = words(
            tr(
                "Boards of one finished thickness may take turns. Where they change, the grain "
                "keeps its direction but its figure does not run on."
            )
        )
        self.add(self.note)
        self.rows = Rows()
        self.add(self.rows)
        self.every_other = Choice(tr("Every other piece of"))
        self.every_other.chosen.connect(self._alternate)
        self.rows.add(tr("Every other"), self.every_other)
        self.choices: list[Choice] = []
        self._pieces: list[str] = []
        self.setVisible(False)

    def show_boards(self, shown: Shown | None, others: tuple[Material, ...]) -> None:
        """Take over a panel. others: boards its pieces may be of, its own first."""
        have = shown is not None and len(shown.pieces) > 1 and len(others) > 1
        self.setVisible(have or bool(shown and shown.panel.boards))
        if shown is None or not (have or shown.panel.boards):
            return
        own = shown.panel.material
        names = [m.name for m in others]
        names += [c.material for c in shown.panel.boards if c.material not in names]
        rest = [name for name in names if name != own]
        self.every_other.set_options([("", tr("the same board")), *((name, name) for name in rest)])
        pieces = shown.pieces[:_MOST_ROWS]
        used = {p.material for p in pieces}
        self.every_other.set_value("" if used == {own} else next(iter(used - {own}), ""))
        while len(self.choices) < len(pieces):
            choice = Choice(tr("Board of a piece"))
            choice.setProperty("number", len(self.choices))
            choice.chosen.connect(self._one)
            self.rows.add(tr("Piece {n}").format(n=len(self.choices) + 1), choice)
            self.choices.append(choice)
        self._pieces = [p.id for p in pieces]
        for number, choice in enumerate(self.choices):
            self.rows.set_row_visible(choice, number < len(pieces))
            if number < len(pieces):
                choice.set_options([(name, name) for name in names])
                choice.set_value(pieces[number].material)
                choice.setAccessibleName(tr("Board of {piece}").format(piece=pieces[number].name))

    def _alternate(self, name: str) -> None:
        self.alternate.emit(name)

    def _one(self, name: str) -> None:
        number = int(self.sender().property("number"))
        if number < len(self._pieces):
            self.one.emit(self._pieces[number], name)
