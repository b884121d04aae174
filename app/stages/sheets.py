"""Sheets: stock on the floor, pieces laid on it by hand or by nesting, layouts compared."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import QPoint
from PySide6.QtGui import QAction, QKeySequence
from PySide6.QtWidgets import QWidget

from app.canvas.view import Canvas, Pointer
from app.commands.base import EVERYTHING, LAYOUT
from app.commands.panels import SetPanels
from app.context import Context
from app.document import Change
from app.i18n import tr
from app.jobs import Job
from app.stages import sheets_model as model
from app.stages.sheets_checks import SheetChecks
from app.stages.sheets_compare import LayoutsCompared
from app.stages.sheets_floor import Floor
from app.stages.sheets_hand import Hand
from app.stages.sheets_machine import MachineStage
from app.stages.sheets_model import Key, SheetKey
from app.stages.sheets_nesting import pieces_text, sheets_text
from app.stages.sheets_side import LayoutsBox, NestBox, SelectionBox, side_column
from app.stages.sheets_tray import Tray
from app.stages.sheets_ways import Ways
from app.widgets.fields import show_size
from app.widgets.forms import Heading, button, scrolling
from app.widgets.popup import popup_menu
from app.widgets.reasons import set_able
from core.findings import Finding
from core.project.model import KeptLayout

if TYPE_CHECKING:
    from app.stages.sheets_bed import BedDialog

_HERE = (
    "layout-",
    "turn-not-allowed",
    "mirrored",
    "not-sawable",
    "blank-",
    "beyond-reach",
    "no-room-",
    "unplaced",
)
_APART = ("layout-overlap", "layout-spacing", "layout-edge", "layout-keep-out")


class SheetsStage(MachineStage):
    """The floor in the middle, the tray on the left, selection and nesting on the right."""

    def __init__(self, context: Context, parent: QWidget | None = None) -> None:
        super().__init__(context, parent)
        self.title = tr("Sheets")
        self._preview: KeptLayout | None = None
        self._extra: tuple[SheetKey, ...] = ()
        self._bench = model.make_bench(self.document.project, None)
        self.checks = SheetChecks(self.jobs, self)
        self.checks.looked_over.connect(self._on_looked_over)
        self._job: Job | None = None
        self._began = 0.0
        self._told_plan: object = None
        self.compared = LayoutsCompared(context, self)
        self.compared.changed.connect(self._show_layouts)
        self._status = ""

        self.canvas = Canvas(tr("Sheets on the floor"))
        self.floor = Floor(self.canvas)
        self.hand = Hand(self.canvas, self.floor, self, self.preferences, lambda: self._bench)
        self.canvas.handler = self.hand
        self._make_left()
        self._make_centre()
        self._make_right()
        self._make_actions()

        self.document.changed.connect(self._on_changed)
        self.derived.pieces_changed.connect(self._on_pieces)
        self.derived.plan_changed.connect(self._on_plan)
        self.derived.busy_changed.connect(self._on_busy)
        self.preferences.changed.connect(self._on_preference)
        self._rebuild()

    # --- building -------------------------------------------------------------------------
    def _make_left(self) -> None:
        self.tray_title = Heading(tr("Tray"))
        self.left_layout.addWidget(self.tray_title)
        self.tray = Tray()
        self.tray.lifted.connect(self._tray_lifted)
        self.tray.carried.connect(self._tray_carried)
        self.tray.dropped.connect(self._tray_dropped)
        self.tray.wanted.connect(self.place_best)
        self.tray.gave_up.connect(self._tray_gave_up)
        self.left_layout.addWidget(self.tray, 1)
        self.place_button = button(
            tr("Place this one"),
            self._place_current,
            "drop",
            tr("Put the chosen piece in the best free place at once (Enter)"),
        )
        self.left_layout.addWidget(self.place_button)
        self.add_button = button(
            tr("Lay out a sheet"),
            self._show_stock_menu,
            "sheet",
            tr("Put an empty sheet on the floor"),
        )
        self.left_layout.addWidget(self.add_button)

    def _make_centre(self) -> None:
        self._make_head()
        self._make_line(above_px=2, below_px=2)

    def _make_right(self) -> None:
        self.nest_box = NestBox(float(self.preferences.get("nest_seconds")))
        self.nest_box.start.connect(self.nest)
        self.nest_box.stop.connect(self.stop_nesting)
        self.nest_box.seconds.committed.connect(self._keep_seconds)
        self.selection_box = SelectionBox(self.hand, self.context.unit)
        self.selection_box.copies_wanted.connect(self._set_copies)
        self.ways = Ways(self.context, self)
        self.bed_dialog: BedDialog | None = None
        self.layouts_box = LayoutsBox()
        self.layouts_box.chosen.connect(self._show_layout)
        self.layouts_box.renamed.connect(self._rename_layout)
        self.layouts_box.keep.connect(self.keep_copy)
        self.layouts_box.forget.connect(self._forget_layout)
        self.right_layout.addWidget(
            scrolling(
                side_column(self.nest_box, self.selection_box, self.ways.box, self.layouts_box)
            )
        )

    def _make_actions(self) -> None:
        self._actions: list[QAction] = []
        for text, slot, keys in (
            (tr("&Nest the pieces, or stop"), self._nest_or_stop, "F5"),
            (tr("&Keep a copy of this layout"), self.keep_copy, "Ctrl+K"),
            (tr("Compare the &ways onto the machine…"), self.ways.compare, ""),
            (tr("Blanks on the &bed…"), self.show_bed, "Ctrl+B"),
            (tr("Turn &left\tR"), self._turn_left, ""),
            (tr("Turn &right\tShift+R"), self._turn_right, ""),
            (tr("Turn &over\tM"), self._mirror, ""),
            (tr("L&ock or unlock\tL"), self._lock, ""),
            (tr("Back to the &tray\tDel"), self._to_tray, ""),
        ):
            action = QAction(text, self)
            if keys:
                action.setShortcut(QKeySequence(keys))
            action.triggered.connect(slot)
            self._actions.append(action)
        self.addActions(self._actions)  # their keys work without the menu

    # --- what the window asks -------------------------------------------------------------
    def stage_actions(self) -> list[QAction]:
        return self._actions

    def keys(self) -> list[tuple[str, str]]:
        return [
            (
                tr("Arrows"),
                tr("Nudge the selection; with Shift ten times as far, with Ctrl a tenth"),
            ),
            (tr("Alt + arrows"), tr("Nudge even where it is not allowed")),
            (tr("R, Shift+R"), tr("Turn to the next allowed way; Alt+R turns whatever the grain")),
            (tr("Alt + wheel"), tr("Turn; with Shift by one degree where any angle is allowed")),
            (tr("Alt while dragging"), tr("Go through neighbours; a wrong place is shown in red")),
            (tr(". and ,"), tr("Select the next piece, the one before; with Shift one more")),
            (tr("Arrows, nothing selected"), tr("Move the view")),
            (tr("Menu"), tr("What can be done with the selection")),
            (tr("Ctrl+A"), tr("Select all pieces")),
            (tr("L, M, Delete"), tr("Lock, turn over, back to the tray")),
            (tr("Enter in the tray"), tr("Put the piece in the best place at once")),
            (tr("Esc"), tr("Leave it where it was")),
            (tr("Space and drag"), tr("Move the view")),
            (tr("Ctrl+0, Z, +, −"), tr("Show everything, the selection, nearer, further")),
        ]

    def status_text(self) -> str:
        figures = model.figures_of(self._bench)
        if figures.unplaced:
            return tr("{n} to place").format(n=figures.unplaced)
        if figures.sheets:
            return f"{figures.sheets}, {round(figures.yield_share * 100)} %"
        return ""

    def shows(self, finding: Finding) -> bool:
        return finding.code.startswith(_HERE)

    def show_finding(self, finding: Finding) -> None:
        key = self._key_of(finding)
        if key is not None:
            self.hand.select([key])
            self.canvas.zoom_to_selection()
        elif finding.code == "unplaced" and self.tray.count():
            self.tray.setFocus()
            self.tray.setCurrentRow(0)
        self.canvas.setFocus()

    def offer(self, finding: Finding) -> str:
        if finding.code in _APART and self._key_of(finding) is not None:
            return tr("Move it apart")
        return ""

    def take_offer(self, finding: Finding) -> None:
        key = self._key_of(finding)
        if key is not None:
            self.hand.select([key])
            self.hand.settle([key])

    def _key_of(self, finding: Finding) -> Key | None:
        """The copy a finding is about: of its panel, nearest to its place."""
        found: tuple[float, Key] | None = None
        for key in self._bench.placed:
            if finding.panel is not None and self._bench.pieces[key[0]].panel != finding.panel:
                continue
            if finding.at is None:
                return key
            middle = self._bench.shape(key).centroid
            far = abs(middle.x - finding.at[0]) + abs(middle.y - finding.at[1])
            if found is None or far < found[0]:
                found = (far, key)
        return None if found is None else found[1]

    def entered(self) -> None:
        self.canvas.setFocus()
        self._place_empty()

    def left_behind(self) -> None:
        if self.hand.busy:
            self.hand.cancel()

    # --- following the document -----------------------------------------------------------
    def _on_changed(self, change: Change) -> None:
        if self.hand.busy:
            self.hand.cancel()
        self.told("")  # what the line and the tip said was about how things lay before
        self.canvas.show_hover("", QPoint())
        if self._job is not None and change.kinds != frozenset({LAYOUT}):
            self._job.abandon()
            self._end_job(tr("Nesting ended: the pieces or the shop changed."))
        if change.kinds == EVERYTHING:  # another project
            self._extra = ()
            self._told_plan = None
            self.floor.show_plan(None)
            self.compared.clear()
            self.nest_box.forget()
            self.told("")
            self.hand.select([])
            self.canvas.fit_now()
        self._rebuild()

    def _on_pieces(self) -> None:
        self._rebuild()
        if self.derived.pieces is not None:
            self.floor.prepare(self.derived.pieces.pieces)

    def _on_plan(self) -> None:
        self._show_plan()
        self._show_summary()
        self._show_layouts()
        self.ways.refresh()
        self._show_on_bed()

    def _on_looked_over(self) -> None:
        self._mark()
        self._show_summary()

    def _on_busy(self, _busy: bool) -> None:
        self._show_empty()

    def _on_preference(self, _key: str) -> None:
        self._show_summary()

    def _rebuild(self, *, glide: bool = False) -> None:
        """Work out the bench anew and show it, with all that is said about it."""
        super()._rebuild(glide=glide)
        self._mark()
        self._show_plan()
        self._show_summary()
        if self._preview is None:
            self._show_layouts()
        self._show_empty()
        self.ways.refresh()
        self._read_from_sheet()

    def _read_from_sheet(self) -> None:
        """The rulers read from the sheet of the selection, as the fields do; or the first one."""
        places, chosen = self.floor.places, self.hand.selected
        home = self.hand.sheet_of(chosen[0]) if chosen else None
        at = places[home] if home in places else next(iter(places.values()), None)
        if at is not None:
            self.canvas.set_ruler_origin(*at)

    def _show_plan(self) -> None:
        if self._preview is not None:
            if self._told_plan is not None:
                self.floor.show_plan(None)
                self._told_plan = None
            return
        # What the last plan said stays until the next is there: letters must not flicker.
        plan = self.derived.plan if self.derived.is_current else None
        if plan is not None and plan is not self._told_plan:
            self.floor.show_plan(plan)
            self._told_plan = plan

    def _all_wrong(self) -> set[Key]:
        """What lies where it must not; what the engine shows has been proven."""
        return self.checks.wrong(self._bench) if self._preview is None else set()

    def _mark(self) -> None:
        """Show what is selected and what lies where it must not."""
        self.floor.mark(selected=self.hand.selected, wrong=self._all_wrong())
        problem = ""
        if len(self.hand.selected) == 1 and self.hand.selected[0] in self._all_wrong():
            rows = self.hand.describe(self.hand.selected[0]).split("\n")[1:]
            problem = "● " + "; ".join(row for row in rows if row)
        self.selection_box.show_selection(problem)

    def _set_copies(self, panel_id: str, count: int) -> None:
        panel = next((p for p in self.document.project.panels if p.id == panel_id), None)
        if panel is not None:
            text = tr("Set quantity of {name}").format(name=panel.name)
            self._run(SetPanels(text, (panel_id,), (("quantity", count),)))

    def _show_summary(self) -> None:
        """Say what lies on the floor."""
        bench = self._bench
        figures = model.figures_of(bench)
        if not figures.sheets:
            waiting = pieces_text(figures.unplaced)
            text = tr("{pieces} to lay out.").format(pieces=waiting) if bench.copies else ""
        else:
            text = tr("{pieces} on {sheets}, {used} % used.").format(
                pieces=pieces_text(figures.placed),
                sheets=sheets_text(figures.sheets),
                used=round(figures.yield_share * 100),
            )
            if figures.unplaced:
                text += " " + tr("{n} still in the tray.").format(n=figures.unplaced)
            buy = self._buying()
            if buy:
                text += " " + tr("Buy {list}.").format(list=buy)
        wrong = self._all_wrong()
        if wrong:
            amiss = (
                tr("● 1 piece lies where it must not.")
                if len(wrong) == 1
                else tr("● {n} pieces lie where they must not.")
            )
            text += " " + amiss.format(n=len(wrong))
        self.summary.setText(text)
        left = len(bench.tray)
        self.tray_title.setText(tr("Tray · {n}").format(n=left) if left else tr("Tray"))
        set_able(
            self.place_button,
            bool(left) and bool(bench.sheets),
            tr("The tray is empty.") if not left else tr("There is no sheet to put it on."),
        )
        set_able(
            self.nest_box.go,
            self._job is not None or bool(bench.copies),
            tr("There are no pieces yet: add panels on the Panels stage."),
        )
        if self.status_text() != self._status:
            self._status = self.status_text()
            self.status_changed.emit()

    def _buying(self) -> str:
        counts: dict[tuple[str, float, float], int] = {}
        for stock_id, _ in self._bench.used_sheets:
            stock = self._bench.stocks[stock_id]
            if not stock.in_rack:
                key = (stock.material, stock.width_mm, stock.height_mm)
                counts[key] = counts.get(key, 0) + 1
        sizes = {material for material, _, _ in counts}
        rows = []
        for (material, width, height), count in counts.items():
            plain = len([k for k in counts if k[0] == material]) == 1 and material in sizes
            size = "" if plain else f" {show_size(width, height, self.context.unit)}"
            rows.append(f"{count} × {material}{size}")
        return ", ".join(rows)

    def _show_empty(self) -> None:
        bench, text = self._bench, ""
        if not self.document.project.panels:
            text = tr("Nothing to lay out yet.\nAdd drawings on the Panels stage first.")
        elif not bench.copies:
            text = tr("Working out the pieces…") if self.derived.busy else ""
        elif not bench.sheets:
            missing = sorted({p.material for p in bench.pieces.values()})
            names = ", ".join(m for m in missing if m)
            text = (
                tr("The shop has no sheet of {names}.\nAdd one in the Shop (F9).").format(
                    names=names
                )
                if names
                else tr("Choose a material for the panels first, on the Panels stage.")
            )
        self._say_empty(text)

    # --- what the hand needs --------------------------------------------------------------

    def selection_changed(self) -> None:
        """Other pieces are selected."""
        self._mark()
        if self.hand.selected:
            self._read_from_sheet()

    def over_tray(self, pointer: Pointer) -> bool:
        """True if the pointer is over the tray."""
        spot = self.canvas.view.viewport().mapToGlobal(pointer.px)
        return self.tray.rect().contains(self.tray.mapFromGlobal(spot))

    def menu_for(self, key: Key | None, pointer: Pointer) -> None:
        """Show the menu of the selection, or of the floor."""
        menu = popup_menu(self)
        if key is not None:
            menu.addActions(self._actions[4:])
        else:
            self._fill_stock_menu(menu.addMenu(tr("Lay out a sheet")))
            menu.addActions(self._actions[:4])
            self._add_sawn(menu, self.floor.sheet_at(pointer.x_mm, pointer.y_mm))
        menu.popup(self.canvas.view.viewport().mapToGlobal(pointer.px))
        self._menu = menu

    def _turn_left(self) -> None:
        self.hand.turn(1)

    def _turn_right(self) -> None:
        self.hand.turn(-1)

    def _mirror(self) -> None:
        self.hand.mirror()

    def _lock(self) -> None:
        self.hand.lock()

    def _to_tray(self) -> None:
        self.hand.to_tray()
