"""Joints: panels too big for the machine, their seams, and the pieces these make."""

from __future__ import annotations

from dataclasses import replace

from PySide6.QtCore import QSize, Qt
from PySide6.QtGui import QAction
from PySide6.QtWidgets import (
    QCheckBox,
    QListWidget,
    QListWidgetItem,
    QSlider,
    QWidget,
)

from app import theme
from app.canvas import paths
from app.canvas.view import Canvas
from app.commands.base import EVERYTHING, LAYOUT
from app.context import Context
from app.document import Change
from app.i18n import tr
from app.jobs import Progress, Stop
from app.stages import joints_model as model
from app.stages.joints_boards import BoardsBox
from app.stages.joints_edits import JointsEdits
from app.stages.joints_hand import SeamHand
from app.stages.joints_loupe import Loupe
from app.stages.joints_marks import MarkHand, MarksBox
from app.stages.joints_model import PanelRow
from app.stages.joints_refit import RefitBox
from app.stages.joints_refit_model import with_drawn_joints
from app.stages.joints_refit_scene import RefitOverlay
from app.stages.joints_scene import SeamScene
from app.stages.joints_side import PiecesBox, ProposalsBox
from app.stages.joints_style import StyleBox
from app.stages.joints_thumbs import panel_picture, plain_icon
from app.stages.sheets_side import side_column
from app.widgets.fields import about_length
from app.widgets.forms import Heading, bring_into_view, button, row_of, scrolling, words
from app.widgets.wrapping import WrappingRow
from core.findings import Finding, Severity
from core.project.model import Panel, SeamLine, SplitChoice

_THUMB = QSize(72, 48)
_NEAR_EDGE = 24  # pixels from the canvas edge where a place is not well seen
_HERE = (
    "piece-too-big",
    "no-split-found",
    "cannot-split",
    "joint-",
    "seam-",
    "relief-",
    "laps-in-a-circle",
    "feather-",
    "sliver",
    "refit-",
    "slot-narrower-than-bit",
    "curve-tighter-than-bit",
    "hole-",
    "corner-stays-round",
    "needs-further-bit",
    "bit-too-short",
)


class JointsStage(JointsEdits):
    """One panel large, with its seams to drag and the pieces that follow."""

    def __init__(self, context: Context, parent: QWidget | None = None) -> None:
        super().__init__(context, parent)
        self.title = tr("Joints")
        self._status = ""
        self._stale = True

        self.canvas = Canvas(tr("The panel and its seams"))
        for ruler in (self.canvas.top_ruler, self.canvas.left_ruler):
            ruler.setToolTip(tr("Counts from the drawing's own zero, as you read it in CAD"))
        self.scene = SeamScene(self.canvas)
        self.hand = SeamHand(
            self.canvas, self.scene, self, self.preferences, lambda: self.context.unit
        )
        self.marks = MarkHand(
            self.canvas, self.scene, self.hand, self, self.preferences, lambda: self.context.unit
        )
        self.canvas.handler = self.marks
        self.loupe = Loupe(self.canvas, self.scene)
        self._make_left()
        self._make_centre()
        self._make_right()
        self._make_actions()

        self.document.changed.connect(self._on_changed)
        self.derived.pieces_changed.connect(self._on_pieces)
        self.derived.findings_changed.connect(self._on_findings)
        theme.watcher().changed.connect(self._on_colours)
        self._refresh()

    # --- building -------------------------------------------------------------------------
    def _make_left(self) -> None:
        self.left_layout.addWidget(Heading(tr("Panels with joints")))
        self.list = QListWidget()
        self.list.setAccessibleName(tr("Panels that need a seam, or have one or drawn joints"))
        self.list.setIconSize(_THUMB)
        self.list.setWordWrap(True)
        self.list.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.list.currentItemChanged.connect(self._picked)
        self.left_layout.addWidget(self.list, 1)
        self.all_panels = QCheckBox(tr("Show all panels"))
        self.all_panels.setToolTip(tr("Panels that fit whole can be split too"))
        self.all_panels.toggled.connect(self._fill_list)
        self.left_layout.addWidget(self.all_panels)

    def _make_centre(self) -> None:
        self._make_head()
        self.new_button = button(
            tr("Draw a seam"),
            self._start_drawing,
            "plus",
            tr("Drag a line across the panel; N puts one across the middle"),
        )
        self.remove_button = button(
            tr("Remove"), self.hand.remove, "delete", tr("Remove the chosen seam or bend (Delete)")
        )
        self.bed_button = button(
            tr("Lay the bed over"),
            self._toggle_bed,
            "router",
            tr("Lay what the bit reaches over a piece; E goes to the next piece"),
        )
        self.bed_button.setCheckable(True)
        self.loupe_button = button(
            tr("Loupe"), self._toggle_loupe, "loupe", tr("Ten times life size along the seams")
        )
        self.loupe_button.setCheckable(True)
        self.loupe_button.setChecked(True)
        closed = words(tr("closed"))
        opened = words(tr("open"))
        closed.setWordWrap(False)
        opened.setWordWrap(False)
        self.slider = QSlider(Qt.Orientation.Horizontal)
        self.slider.setRange(0, 100)
        self.slider.setMinimumWidth(100)
        self.slider.setMaximumWidth(180)
        self.slider.setMinimumHeight(theme.TARGET)
        self.slider.setAccessibleName(tr("Open the joints"))
        self.slider.setToolTip(tr("Pull the pieces apart to see each joint"))
        self.slider.valueChanged.connect(self._opened)
        pulled = row_of(closed, self.slider, opened)
        tools = WrappingRow(
            self.new_button,
            self.remove_button,
            self.bed_button,
            self.loupe_button,
            pulled,
            margin=(theme.NORMAL, theme.TIGHT),
        )
        self.centre_layout.addWidget(tools)
        self._make_line(above_px=0, below_px=theme.TIGHT)

    def _make_right(self) -> None:
        self.proposals_box = ProposalsBox()
        self.proposals_box.taken.connect(self.take_proposal)
        self.proposals_box.wants_automatic.connect(self._leave_to_planner)
        self.proposals_box.wants_comparing.connect(self.compare_ways)
        self.style_box = StyleBox(self.context.unit)
        self.style_box.style_taken.connect(self.take_style)
        self.style_box.changed.connect(self.set_field)
        self.style_box.parameter.connect(self.set_parameter)
        self.style_box.turned_over.connect(self.turn_over)
        self.style_box.own_wanted.connect(self.draw_tooth)
        self.pieces_box = PiecesBox()
        self.marks_box = MarksBox()
        self.marks_box.wanted.connect(self.marks.start)
        self.marks_box.chosen.connect(self.marks.choose)
        self.marks_box.removed.connect(self.marks.remove)
        self.marks_box.noted.connect(self.marks.note)
        self.marks_box.split.connect(self.set_split)
        self.boards_box = BoardsBox()
        self.boards_box.alternate.connect(self.alternate_boards)
        self.boards_box.one.connect(self.set_board)
        self.refit_box = RefitBox(self.context)
        self.refit_overlay = RefitOverlay(self.canvas)
        self.refit_box.shown.connect(self.refit_overlay.show)
        self.refit_box.place_wanted.connect(self._see_place)
        self.slider.valueChanged.connect(self.refit_overlay.set_open)
        self.side = scrolling(
            side_column(
                self.refit_box,
                self.style_box,
                self.proposals_box,
                self.marks_box,
                self.boards_box,
                self.pieces_box,
            )
        )
        self.right_layout.addWidget(self.side)

    def _make_actions(self) -> None:
        self._actions: list[QAction] = []
        for text, slot in (
            (tr("&New seam across the middle\tN"), self.new_seam),
            (tr("&Remove the seam or bend\tDel"), self.hand.remove),
            (tr("&Turn over\tT"), self.turn_over),
            (tr("Lay the &bed over\tE"), self._toggle_bed),
            (tr("Draw your own &tooth…"), self.draw_tooth),
            (tr("Ways to split it, &side by side…"), self.compare_ways),
            (tr("&Leave it to the planner"), self._leave_to_planner),
        ):
            action = QAction(text, self)
            action.triggered.connect(slot)
            self._actions.append(action)

    # --- what the window asks -------------------------------------------------------------
    def stage_actions(self) -> list[QAction]:
        return self._actions

    def keys(self) -> list[tuple[str, str]]:
        return [
            (tr(". and ,"), tr("Choose the next seam, the one before")),
            (tr("[ and ]"), tr("Choose a handle of the seam: the middle, an end, a bend")),
            (tr("Arrows"), tr("Move the handle; with Shift ten times as far, with Ctrl a tenth")),
            (tr("Arrows, no seam chosen"), tr("Move the view")),
            (tr("R, Shift+R"), tr("Turn the seam about its middle")),
            (tr("N, B, Delete"), tr("New seam, bend in the middle, remove the seam or bend")),
            (tr("T"), tr("Teeth to the other side")),
            (tr("M, Shift+M"), tr("Mark a place never to be crossed, a support")),
            (tr("E"), tr("Lay the bed over the next piece")),
            (tr("Alt while dragging"), tr("Move freely, without snapping")),
            (tr("Double click on a seam"), tr("Put a bend there")),
            (tr("Alt and drag on a seam"), tr("Curve it through the pointer")),
            (tr("C"), tr("Curve the stretch of the chosen handle, or straighten it")),
            (tr("Double click on a piece"), tr("Lay the bed over it")),
        ]

    def status_text(self) -> str:
        stuck = {f.panel for f in self.derived.findings if f.panel is not None and _to_decide(f)}
        if stuck:
            return tr("{n} to decide").format(n=len(stuck))
        pieces = self.derived.pieces
        if pieces is not None and pieces.seams:
            return tr("{n} split").format(n=len({seam.panel for seam in pieces.seams}))
        return ""

    def shows(self, finding: Finding) -> bool:
        return finding.panel is not None and finding.code.startswith(_HERE)

    def show_finding(self, finding: Finding) -> None:
        if finding.panel is None:
            return
        if finding.code.startswith("refit-"):
            self.refit_box.ask_for(finding.at)
        self.choose_panel(finding.panel)
        if finding.at is not None:
            self.canvas.centre_on(*finding.at)
        self.canvas.setFocus()

    def entered(self) -> None:
        self.read_kept_teeth()
        if self._stale:
            self._refresh()
        self.canvas.setFocus()
        self._place_empty()

    def left_behind(self) -> None:
        if self.hand.busy:
            self.hand.cancel()
        self.loupe.hide()

    # --- following the document -----------------------------------------------------------
    def _on_changed(self, change: Change) -> None:
        if change.kinds == frozenset({LAYOUT}):
            return
        if self.hand.busy:
            self.hand.cancel()
        if change.kinds == EVERYTHING:
            self.panel_id, self.shown = None, None
            self.scene.envelope_piece = ""
            self.bed_button.setChecked(False)
            self.told("")
        if self.isVisible():
            self._refresh()
        else:
            self._stale = True  # worked out when the stage comes to the front

    def _on_pieces(self) -> None:
        if self.isVisible():
            self._fill_list()

    def _on_findings(self) -> None:
        if self.status_text() != self._status:
            self._status = self.status_text()
            self.status_changed.emit()

    def _on_colours(self) -> None:
        self._fill_list()
        self._show_side()

    def _refresh(self) -> None:
        """Work out the list and the panel shown, off the window's thread."""
        self._stale = False
        project = self.document.project
        unit = project.units
        self.canvas.set_unit(unit)
        self.style_box.set_unit(unit)
        panels, shop = project.panels, project.shop
        revision = self.document.revision

        def work(_progress: Progress, stop: Stop) -> list[PanelRow]:
            rows = []
            jointed = with_drawn_joints(project)
            for panel in panels:
                if stop():
                    break
                row = model.panel_row(panel, shop, model.as_cut(project, panel))
                rows.append(replace(row, needs=row.needs or panel.id in jointed))
            return rows

        def done(rows: list[PanelRow]) -> None:
            self._rows = {row.panel: row for row in rows}
            self._fill_list()

        self.jobs.start(
            tr("Looking which panels fit"),
            work,
            done=done,
            still_wanted=lambda: self.document.revision == revision,
            lane="joints-list",
            quiet=True,
        )
        if self.panel_id is not None and self.panel is None:
            self.panel_id, self.shown = None, None
        self._work_out()

    def _fill_list(self) -> None:
        project, pieces = self.document.project, self.derived.pieces
        everything = self.all_panels.isChecked()
        counts: dict[str, int] = {}
        for piece in pieces.pieces if pieces is not None else ():
            if not piece.loose:
                counts[piece.panel] = counts.get(piece.panel, 0) + 1
        self.list.blockSignals(True)
        self.list.clear()
        ratio = self.devicePixelRatioF()
        lines: dict[str, list[SeamLine]] = {}
        for seam in pieces.seams if pieces is not None else ():
            lines.setdefault(seam.panel, []).append(SeamLine(seam.line))
        chosen = None
        for panel in project.panels:
            row = self._rows.get(panel.id)
            if row is None or not (everything or row.needs):
                continue
            item = QListWidgetItem(f"{panel.name}\n{self._row_words(panel, row, counts)}")
            picture = panel_picture(
                paths.region_path(panel.region),
                lines.get(panel.id, ()),
                ratio=ratio,
                size=_THUMB,
            )
            item.setIcon(plain_icon(picture))
            item.setData(Qt.ItemDataRole.UserRole, panel.id)
            self.list.addItem(item)
            if panel.id == self.panel_id:
                chosen = item
        if chosen is None and self.list.count():
            chosen = self.list.item(0)
        if chosen is not None:
            self.list.setCurrentItem(chosen)
        self.list.blockSignals(False)
        if chosen is not None and chosen.data(Qt.ItemDataRole.UserRole) != self.panel_id:
            self.choose_panel(str(chosen.data(Qt.ItemDataRole.UserRole)))
        elif chosen is None and self.panel_id is not None:
            self.panel_id = None
            self._take(None)
        self._show_empty()

    def _row_words(self, panel: Panel, row: PanelRow, counts: dict[str, int]) -> str:
        unit = self.document.project.units
        parts = []
        if row.over_mm > 0:
            parts.append(tr("+ {over} too big").format(over=about_length(row.over_mm, unit)))
        if panel.split is SplitChoice.WHOLE and row.over_mm > 0:
            parts.append(tr("▲ left whole"))
        elif panel.split is SplitChoice.OMIT:
            parts.append(tr("left out"))
        elif counts.get(panel.id, 1) > 1:
            parts.append(tr("{n} pieces").format(n=counts[panel.id]))
        stuck = any(_to_decide(f) for f in self.derived.findings_of(panel.id))
        if stuck:
            parts.append(tr("● to decide"))
        return "\n".join(parts) if parts else tr("fits whole")

    def chosen_changed(self) -> None:
        """The hand went to a seam: its style and numbers come into view beside it."""
        super().chosen_changed()
        if self.scene.chosen is not None:
            panel = self.panel_id
            bring_into_view(self.style_box, lambda: self.panel_id == panel)

    def _see_place(self, x_mm: float, y_mm: float) -> None:
        """Bring a place into the view if it is not there already; the view stays if it is."""
        port = self.canvas.view.viewport().rect()
        inner = port.adjusted(_NEAR_EDGE, _NEAR_EDGE, -_NEAR_EDGE, -_NEAR_EDGE)
        if not inner.contains(self.canvas.to_px(x_mm, y_mm).toPoint()):
            self.canvas.centre_on(x_mm, y_mm)

    def _picked(self, item: QListWidgetItem | None) -> None:
        if item is not None:
            self.choose_panel(str(item.data(Qt.ItemDataRole.UserRole)))

    def choose_panel(self, panel_id: str) -> None:
        """Show another panel."""
        if panel_id == self.panel_id or self.document.project.panel(panel_id) is None:
            return
        if self.hand.busy:
            self.hand.cancel()
        self.panel_id = panel_id
        self.side.verticalScrollBar().setValue(0)
        self.scene.chosen, self.scene.chosen_handle = None, ""
        self.scene.chosen_mark = None
        self.scene.envelope_piece = ""
        self.bed_button.setChecked(False)
        self.slider.setValue(0)
        self.told("")
        for i in range(self.list.count()):
            if self.list.item(i).data(Qt.ItemDataRole.UserRole) == panel_id:
                self.list.blockSignals(True)
                self.list.setCurrentRow(i)
                self.list.blockSignals(False)
        self._work_out()


def _to_decide(finding: Finding) -> bool:
    """True if the maker has to do or say something here before panels are cut."""
    stops = finding.severity is Severity.STOP and finding.code.startswith(_HERE)
    return stops or finding.code == "refit-ask"
