"""What to buy and how the plan stands, beside the pages."""

from __future__ import annotations

from PySide6.QtCore import QLocale, Qt
from PySide6.QtWidgets import QGridLayout, QVBoxLayout, QWidget

from app import theme
from app.i18n import tr
from app.widgets.fields import show_size
from app.widgets.forms import Heading, empty_layout, words
from core.plan import Plan, PurchaseLine


class BuyingBox(QWidget):
    """State of the plan, sheets to buy, those from the rack, and the figures of it all."""

    def __init__(self) -> None:
        super().__init__()
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(theme.NORMAL)
        self.state = words("", muted=False)
        column.addWidget(self.state)
        column.addWidget(Heading(tr("To buy")))
        self.lines = QWidget()
        self._grid = QGridLayout(self.lines)
        self._grid.setContentsMargins(0, 0, 0, 0)
        self._grid.setColumnStretch(1, 1)
        column.addWidget(self.lines)
        self.figures = words()
        column.addWidget(self.figures)

    def show_plan(self, plan: Plan | None) -> None:
        """The lines of the buying list."""
        empty_layout(self._grid)
        lines = plan.purchase if plan is not None else ()
        unit = plan.project.units if plan is not None else "mm"
        currency = plan.project.shop.rules.currency if plan is not None else ""
        buy = [line for line in lines if not line.in_rack]
        rack = [line for line in lines if line.in_rack]
        row = 0
        for line in buy:
            row = self._line(row, line, unit, currency)
        if not buy:
            row = self._wide(row, tr("Nothing to buy.") if rack else tr("Nothing yet."))
        elif plan is not None:
            cost = plan.cost
            row = self._wide(
                row,
                tr("Together {cost}").format(cost=money(cost, currency))
                if cost is not None
                else tr("No total: a price is missing. Prices are set in the shop."),
            )
        if rack:
            row = self._wide(row, tr("From the rack:"))
            for line in rack:
                row = self._line(row, line, unit, currency)
        self.figures.setText(_figures(plan) if plan is not None else "")

    def show_state(self, plan: Plan | None, *, busy: bool) -> None:
        """Whether everything has its place."""
        if plan is None or not plan.pieces:
            self.state.hide()
            return
        severity, text = "good", tr("Everything has its place.")
        if plan.missing:
            n = len(plan.missing)
            severity = "stop"
            text = (
                tr("1 piece is not on a sheet yet.")
                if n == 1
                else tr("{n} pieces are not on a sheet yet.").format(n=n)
            )
        elif not plan.is_clean:
            severity, text = "stop", tr("Something stops this plan; see the notices below.")
        if busy:
            text += " " + tr("Working out changes…")
        theme.mark(self.state, "severity", severity)
        self.state.setText(text)
        self.state.show()

    def _wide(self, row: int, text: str) -> int:
        self._grid.addWidget(words(text), row, 0, 1, 3)
        return row + 1

    def _line(self, row: int, line: PurchaseLine, unit: str, currency: str) -> int:
        count = words(f"{line.quantity} ×", muted=False)
        count.setAlignment(Qt.AlignmentFlag.AlignTop | Qt.AlignmentFlag.AlignRight)
        size = show_size(line.width_mm, line.height_mm, unit)
        what = words(f"{line.material}, {size}", muted=False)
        known = line.cost is not None and not line.in_rack
        price = words(money(line.cost, currency) if known else "")
        price.setAlignment(Qt.AlignmentFlag.AlignTop | Qt.AlignmentFlag.AlignRight)
        price.setWordWrap(False)
        for column, widget in enumerate((count, what, price)):
            self._grid.addWidget(widget, row, column)
        return row + 1


def money(amount: float | None, currency: str) -> str:
    """An amount as the system writes numbers, with the shop's sign for its money; a dash for an
    amount that is not known."""
    if amount is None:
        return "–"
    return f"{QLocale().toString(float(amount), 'f', 2)}\u00a0{currency}".rstrip()


def _figures(plan: Plan) -> str:
    if not plan.sheets:
        return ""
    n = sum(len(sheet.placements) for sheet in plan.sheets)
    sheets = len(plan.sheets)
    on = tr("1 sheet") if sheets == 1 else tr("{n} sheets").format(n=sheets)
    pieces = tr("1 piece") if n == 1 else tr("{n} pieces").format(n=n)
    text = tr("{pieces} on {sheets}, {share} % used.").format(
        pieces=pieces, sheets=on, share=round(plan.yield_share * 100)
    )
    mass = sum(sheet.mass_kg for sheet in plan.sheets)
    if mass:
        from core.reports.words import Words

        heavy = Words(plan.project.units).mass(mass)
        text += " " + tr("Together {mass}; get help with full sheets.").format(mass=heavy)
    return text
