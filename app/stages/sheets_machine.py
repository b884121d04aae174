"""The Sheets stage beside the floor: the tray, sheets laid out, what the saw and the bed ask."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from typing import TYPE_CHECKING, Any

from PySide6.QtCore import QPoint, Qt
from PySide6.QtGui import QAction
from PySide6.QtWidgets import QMenu, QPushButton

from app.canvas.view import Pointer
from app.commands.layout import (
    SetPlaced,
    SetSawn,
)
from app.i18n import tr
from app.jobs import Progress, Stop
from app.stages import sheets_model as model
from app.stages.sheets_model import Key, SheetKey
from app.stages.sheets_nesting import NestingStage
from app.stages.sheets_sawn import as_sawn, is_frozen, key_of_sheet, lain, sawn_of
from app.widgets.fields import show_size
from app.widgets.popup import popup_menu
from core.project.model import Placed

if TYPE_CHECKING:
    from app.stages.sheets_bed import BedDialog


class MachineStage(NestingStage):
    """Tray and stock, sawn sheets, blanks on the bed."""

    add_button: QPushButton
    bed_dialog: BedDialog | None

    def place(
        self, text: str, placed: Iterable[Placed], removed: Iterable[Key] = (), *, merge: str = ""
    ) -> None:
        """Change the layout as one named step."""
        self._run(SetPlaced(text, tuple(placed), tuple(removed)), merge=merge)

    def hands_off(self) -> bool:
        """True while nesting runs."""
        return self._job is not None

    def _add_sawn(self, menu: QMenu, sheet: SheetKey | None) -> None:
        """Whether the blanks of the sheet under the pointer were sawn."""
        if sheet is None or not (self._bench.on(sheet) or is_frozen(self._bench, sheet)):
            return
        action = menu.addAction(tr("The blanks of this sheet are sawn"))
        action.setCheckable(True)
        action.setChecked(is_frozen(self._bench, sheet))
        action.setData(sheet)
        menu.triggered.connect(self._sawn_chosen)

    def _sawn_chosen(self, action: QAction) -> None:
        if isinstance(action.data(), tuple):
            self.set_sawn(action.data(), action.isChecked())

    def set_sawn(self, sheet: SheetKey, sawn: bool) -> None:
        """Freeze a sheet as it is broken down now, or give it up again."""
        number = self._bench.sheets.index(sheet) + 1
        if sawn:
            text = tr("Blanks of sheet {n} are sawn").format(n=number)
            self._run(SetSawn(text, as_sawn(self._bench, sheet)))
            self.told(
                tr("Sheet {n} is sawn: nesting keeps to its blanks from now on.").format(n=number)
            )
            return
        known = sawn_of(self._bench, sheet)
        if known is not None:
            text = tr("Blanks of sheet {n} are not sawn").format(n=number)
            self._run(SetSawn(text, replace(known, frozen=False, wanted=())))

    def show_bed(self) -> None:
        """Show the blanks as they lie on the machine, to be moved there."""
        from app.stages.sheets_bed import BedDialog

        if self.bed_dialog is None:
            self.bed_dialog = BedDialog(self.context.unit, self)
            self.bed_dialog.lain.connect(self._lay_blank)
        self.bed_dialog.show()
        self.bed_dialog.raise_()
        self._show_on_bed()

    def _show_on_bed(self) -> None:
        plan = self.derived.plan if self.derived.is_current else None
        if self.bed_dialog is not None and self.bed_dialog.isVisible() and plan is not None:
            self.bed_dialog.show_plan(plan, self.context.unit)

    def _lay_blank(self, setup_id: str, x_mm: float | None, y_mm: float | None) -> None:
        plan = self.derived.plan
        for sheet in plan.sheets if plan is not None else ():
            for setup in sheet.setups:
                key = key_of_sheet(self._bench, sheet) if setup.id == setup_id else None
                if key is not None:
                    text = tr("Move blank on the bed")
                    sawn = lain(self._bench, key, setup, x_mm, y_mm)
                    if sawn is not None:
                        self._run(SetSawn(text, sawn), merge=f"bed {setup_id}")
                    else:
                        self.told(tr("Still working out the last change: try again in a moment."))

    def _pointer(self, spot: QPoint, modifiers: Qt.KeyboardModifier) -> Pointer:
        place = self.canvas.view.viewport().mapFromGlobal(spot)
        x, y = self.canvas.to_mm(place.toPointF())
        return Pointer(x, y, place, Qt.MouseButton.LeftButton, modifiers)

    def _tray_lifted(self, piece: str) -> None:
        key = self.tray.next_copy(piece)
        if self.hands_off():
            self.told(tr("Nesting runs: stop it to move pieces by hand."))
        elif key is not None:
            allowed = self._bench.pieces[piece].turns_deg
            self.hand.lift_from_tray(key, allowed[0] if allowed else 0.0)

    def _tray_carried(self, spot: QPoint, modifiers: Qt.KeyboardModifier) -> None:
        self.hand.carry_to(self._pointer(spot, modifiers))

    def _tray_dropped(self, spot: QPoint, modifiers: Qt.KeyboardModifier) -> None:
        self.hand.let_go(self._pointer(spot, modifiers))
        self.canvas.setFocus()

    def _tray_gave_up(self) -> None:
        self.hand.cancel()

    def _place_current(self) -> None:
        piece = self.tray.current_piece()
        if piece is None and self._bench.tray:
            piece = self._bench.tray[0][0]
        if piece is not None:
            self.place_best(piece)

    def place_best(self, piece: str) -> None:
        """Put the next copy of a piece in the best free place at once."""
        key = self.tray.next_copy(piece)
        if key is None or self.hands_off():
            return
        bench, revision = self._bench, self.document.revision
        spare = bench.next_sheet(bench.pieces[piece].material, bench.sheets)
        sheets = (*bench.sheets, spare) if spare is not None else bench.sheets

        def work(_progress: Progress, _stop: Stop) -> object:
            return model.best_place(bench, key, sheets)

        def done(found: tuple[SheetKey, Any] | None) -> None:
            name = bench.name(key)
            if found is None:
                self.told(tr("{name} fits no free place.").format(name=name), wrong=True)
                return
            sheet, motion = found
            digest = bench.pieces[piece].digest
            placed = Placed(key[0], key[1], sheet[0], sheet[1], motion, False, digest)
            self.place(tr("Place {what}").format(what=name), [placed])
            self.hand.select([key])
            self.told(tr("Placed {name}.").format(name=name))

        self.jobs.start(
            tr("Looking for a place"),
            work,
            done=done,
            still_wanted=lambda: self.document.revision == revision,
            lane="place",
            quiet=True,
        )

    def _show_stock_menu(self) -> None:
        menu = popup_menu(self)
        self._fill_stock_menu(menu)
        menu.popup(self.add_button.mapToGlobal(QPoint(0, self.add_button.height())))
        self._menu = menu

    def _fill_stock_menu(self, menu: QMenu) -> None:
        bench = self._bench
        for stock in bench.shop.stock:
            key = bench.next_of(stock.id, bench.sheets)
            size = show_size(stock.width_mm, stock.height_mm, self.context.unit)
            kind = tr("offcut") if stock.in_rack else tr("sheet")
            action = menu.addAction(f"{stock.material} · {size} · {kind}")
            action.setEnabled(key is not None)
            action.setData(stock.id)
            if key is None:
                action.setText(action.text() + " · " + tr("no more of it"))
        if menu.isEmpty():
            menu.addAction(tr("The shop has no sheets yet")).setEnabled(False)
        menu.triggered.connect(self._stock_chosen)

    def _stock_chosen(self, action: QAction) -> None:
        if isinstance(action.data(), str):
            self.lay_out_sheet(action.data())

    def lay_out_sheet(self, stock: str) -> None:
        """Put one more empty sheet of a stock on the floor."""
        key = self._bench.next_of(stock, self._bench.sheets)
        if key is not None:
            self._extra = (*self._extra, key)
            self._rebuild()
            self.canvas.fit()
