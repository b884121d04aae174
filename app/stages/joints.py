"""Joints: panels too big for the machine, their seams, and the pieces these make."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

from PySide6.QtCore import QSize, Qt
from PySide6.QtGui import QAction
from PySide6.QtWidgets import (
    QCheckBox,
    QHBoxLayout,
    QLabel,
    QListWidget,
    QListWidgetItem,
    QSlider,
    QWidget,
)

from app import theme
from app.canvas import paths
from app.canvas.lengths import glance, glance_size, short_length
from app.canvas.view import Canvas, Pointer
from app.commands.base import EVERYTHING, LAYOUT
from app.commands.seams import SetSeams, SetStyle
from app.context import Context
from app.document import Change
from app.i18n import tr
from app.jobs import Progress, Stop
from app.stages import joints_model as model
from app.stages.base import Stage
from app.stages.joints_hand import SeamHand
from app.stages.joints_loupe import Loupe
from app.stages.joints_model import PanelRow, Sample, Shown
from app.stages.joints_scene import SeamScene
from app.stages.joints_side import PiecesBox, ProposalsBox, StyleBox, with_parameter
from app.stages.joints_thumbs import panel_picture, plain_icon
from app.stages.sheets_side import side_column
from app.widgets.fields import about_length
from app.widgets.forms import Heading, button, scrolling, words
from core.errors import SeamwrightError
from core.findings import Finding, Severity
from core.joints import STYLES
from core.project.model import Panel, SeamLine, SplitChoice, StyleChoice
from core.splitting import Proposal

_THUMB = QSize(72, 48)
_PROPOSALS_KEPT = 64  # panels whose proposals are remembered, undo included
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
)


class JointsStage(Stage):
    """One panel large, with its seams to drag and the pieces that follow."""

    def __init__(self, context: Context, parent: QWidget | None = None) -> None:
        super().__init__(context, parent)
        self.title = tr("Joints")
        self.panel_id: str | None = None
        self.shown: Shown | None = None
        self._rows: dict[str, PanelRow] = {}
        self._draft_wanted: tuple[SeamLine, ...] | None = None
        self._draft_running = False
        self._draft_serial = 0
        self._samples: list[Sample] = []
        self._proposals: dict[tuple[Any, ...], list[Proposal]] = {}
        self._status = ""
        self._stale = True

        self.canvas = Canvas(tr("The panel and its seams"))
        self.scene = SeamScene(self.canvas)
        self.hand = SeamHand(
            self.canvas, self.scene, self, self.preferences, lambda: self.context.unit
        )
        self.canvas.handler = self.hand
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
        self.left_layout.addWidget(Heading(tr("Panels with seams")))
        self.list = QListWidget()
        self.list.setAccessibleName(tr("Panels that need a seam or have one"))
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
        strip = QWidget()
        row = QHBoxLayout(strip)
        row.setContentsMargins(theme.NORMAL, theme.TIGHT, theme.NORMAL, theme.TIGHT)
        self.summary = QLabel()
        self.summary.setTextFormat(Qt.TextFormat.PlainText)
        self.summary.setWordWrap(True)
        row.addWidget(self.summary, 1)
        self.centre_layout.setSpacing(0)
        self.centre_layout.addWidget(strip)
        self.centre_layout.addWidget(self.canvas, 1)
        tools = QWidget()
        line = QHBoxLayout(tools)
        line.setContentsMargins(theme.NORMAL, theme.TIGHT, theme.NORMAL, theme.TIGHT)
        line.setSpacing(theme.NORMAL)
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
        for widget in (self.new_button, self.remove_button, self.bed_button, self.loupe_button):
            line.addWidget(widget)
        line.addStretch(1)
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
        line.addWidget(closed)
        line.addWidget(self.slider)
        line.addWidget(opened)
        self.centre_layout.addWidget(tools)
        self.line = words()
        self.line.setContentsMargins(theme.NORMAL, 0, theme.NORMAL, theme.TIGHT)
        self.line.setMinimumHeight(theme.TARGET)
        self.line.setAccessibleName(tr("What the hand is doing"))
        self.centre_layout.addWidget(self.line)
        self.empty = words()
        self.empty.setParent(self.canvas.view)
        self.empty.setAlignment(Qt.AlignmentFlag.AlignCenter)
        self.empty.setAttribute(Qt.WidgetAttribute.WA_TransparentForMouseEvents)
        self.canvas.viewed.connect(self._place_empty)

    def _make_right(self) -> None:
        self.proposals_box = ProposalsBox()
        self.proposals_box.taken.connect(self.take_proposal)
        self.proposals_box.wants_automatic.connect(self._leave_to_planner)
        self.style_box = StyleBox(self.context.unit)
        self.style_box.style_taken.connect(self.take_style)
        self.style_box.changed.connect(self.set_field)
        self.style_box.parameter.connect(self.set_parameter)
        self.style_box.turned_over.connect(self.turn_over)
        self.pieces_box = PiecesBox()
        self.right_layout.addWidget(
            scrolling(side_column(self.style_box, self.proposals_box, self.pieces_box))
        )

    def _make_actions(self) -> None:
        self._actions: list[QAction] = []
        for text, slot in (
            (tr("&New seam across the middle\tN"), self.new_seam),
            (tr("&Remove the seam or bend\tDel"), self.hand.remove),
            (tr("&Turn over\tT"), self.turn_over),
            (tr("Lay the &bed over\tE"), self._toggle_bed),
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
            (tr("R, Shift+R"), tr("Turn the seam about its middle")),
            (tr("N, B, Delete"), tr("New seam, bend in the middle, remove the seam or bend")),
            (tr("T"), tr("Teeth to the other side")),
            (tr("E"), tr("Lay the bed over the next piece")),
            (tr("Alt while dragging"), tr("Move freely, without snapping")),
            (tr("Double click on a seam"), tr("Put a bend there")),
            (tr("Double click on a piece"), tr("Lay the bed over it")),
        ]

    def status_text(self) -> str:
        stuck = {
            f.panel
            for f in self.derived.findings
            if f.severity is Severity.STOP and f.code.startswith(_HERE) and f.panel is not None
        }
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
        self.choose_panel(finding.panel)
        if finding.at is not None:
            self.canvas.centre_on(*finding.at)
        self.canvas.setFocus()

    def entered(self) -> None:
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

    @property
    def panel(self) -> Panel | None:
        """The panel shown."""
        return model.panel_of(self.document.project, self.panel_id)

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
            for panel in panels:
                if stop():
                    break
                rows.append(model.panel_row(panel, shop))
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
        stuck = any(
            f.severity is Severity.STOP and f.code.startswith(_HERE)
            for f in self.derived.findings_of(panel.id)
        )
        if stuck:
            parts.append(tr("● to decide"))
        return "\n".join(parts) if parts else tr("fits whole")

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
        self.scene.chosen, self.scene.chosen_handle = None, ""
        self.scene.envelope_piece = ""
        self.bed_button.setChecked(False)
        self.slider.setValue(0)
        for i in range(self.list.count()):
            if self.list.item(i).data(Qt.ItemDataRole.UserRole) == panel_id:
                self.list.blockSignals(True)
                self.list.setCurrentRow(i)
                self.list.blockSignals(False)
        self._work_out()

    # --- working out ----------------------------------------------------------------------
    def _work_out(self) -> None:
        """Cut the panel along the seams in force, with true arcs."""
        project = self.document.project
        panel, shop = self.panel, project.shop
        self._draft_serial += 1
        self._draft_wanted = None
        if panel is None:
            self._take(None)
            return
        if self.shown is None or self.shown.panel.id != panel.id:
            self._take(None, keep_text=True)
            self.summary.setText(tr("{name}: working out its seams…").format(name=panel.name))
        revision = self.document.revision

        def work(_progress: Progress, _stop: Stop) -> Shown:
            return model.work_out(panel, shop, recut=model.recut_of(project, panel))

        def wanted() -> bool:
            return self.document.revision == revision and self.panel_id == panel.id

        self.jobs.start(
            tr("Cutting {name}").format(name=panel.name),
            work,
            done=self._taken,
            failed=self._failed,
            still_wanted=wanted,
            lane="joints",
            quiet=True,
        )

    def _taken(self, shown: Shown) -> None:
        self._take(shown)
        self._find_proposals()
        self._find_samples()

    def _failed(self, error: SeamwrightError) -> None:
        self.told(str(error), wrong=True)

    def _take(self, shown: Shown | None, *, keep_text: bool = False) -> None:
        """Show what was worked out."""
        before = self.shown
        self.shown = shown
        other = (before.panel.id if before else None) != (shown.panel.id if shown else None)
        chosen = self.scene.chosen
        if shown is not None and chosen is None and shown.lines and other:
            chosen = 0
        if shown is None or (chosen is not None and chosen >= len(shown.lines)):
            chosen = None
        self.scene.chosen = chosen
        self.scene.show(shown, self.context.unit)
        if shown is not None and (other or before is None):
            self.canvas.fit_now()
        if not keep_text:
            self._show_side()
        self._show_empty()

    def _show_side(self) -> None:
        shown, unit = self.shown, self.context.unit
        self.pieces_box.show_pieces(shown, unit)
        index = self.scene.chosen
        line = shown.lines[index] if shown is not None and index is not None else None
        letters = shown.letters(index) if shown is not None and index is not None else ""
        self.style_box.show_seam(shown, line, letters)
        self.style_box.show_samples(self._samples, line.style.name if line is not None else "")
        self._show_proposals()
        self.remove_button.setEnabled(line is not None)
        self.new_button.setEnabled(shown is not None)
        self.bed_button.setEnabled(shown is not None and bool(shown.fits))
        self.slider.setEnabled(shown is not None and len(shown.pieces) > 1)
        if shown is None:
            self.summary.setText("")
            return
        width, height = shown.panel.size_mm
        text = f"{shown.panel.name}  {glance_size(width, height, unit)}"
        if shown.split.seams:
            joint = sum(seam.joint_length_mm for seam in shown.split.seams)
            count = len(shown.split.seams)
            text += " · " + tr("{n} pieces, {seams}, {length} of joint").format(
                n=len(shown.pieces),
                seams=tr("1 seam") if count == 1 else tr("{n} seams").format(n=count),
                length=glance(joint, unit),
            )
        bad = [fit for fit in shown.fits if not fit.ok]
        stops = [f for f in shown.findings if f.severity is Severity.STOP]
        if bad:
            text += " · " + (
                tr("● 1 piece too big for the machine")
                if len(bad) == 1
                else tr("● {n} pieces too big for the machine").format(n=len(bad))
            )
        elif stops:
            text += f" · ● {stops[0].message}"
        else:
            text += " · " + tr("every piece fits")
        self.summary.setText(text)

    def _show_empty(self) -> None:
        text = ""
        if not self.document.project.panels:
            text = tr("No panels yet.\nAdd drawings on the Panels stage first.")
        elif self.panel_id is None and self._rows:
            text = tr(
                "Every panel fits the machine whole: no seam is needed.\n"
                "“Show all panels” lets you split one all the same."
            )
        self.empty.setText(text)
        self.empty.setVisible(bool(text))
        self._place_empty()

    def _place_empty(self) -> None:
        room = self.canvas.view.viewport().rect()
        self.empty.setGeometry(room.adjusted(40, 40, -40, -40))

    # --- proposals and styles -------------------------------------------------------------
    def _proposal_key(self, panel: Panel) -> tuple[Any, ...]:
        plain = replace(panel, seams=None)
        return (plain, model.context_of(panel, self.document.project.shop))

    def _find_proposals(self) -> None:
        panel, shop = self.panel, self.document.project.shop
        if panel is None:
            return
        key = self._proposal_key(panel)
        if key in self._proposals:
            self._show_proposals()
            return

        def work(_progress: Progress, _stop: Stop) -> list[Proposal]:
            return model.proposals_for(panel, shop)

        def done(found: list[Proposal]) -> None:
            while len(self._proposals) >= _PROPOSALS_KEPT:
                del self._proposals[next(iter(self._proposals))]
            self._proposals[key] = found
            self._show_proposals()

        self.jobs.start(
            tr("Looking for ways to split {name}").format(name=panel.name),
            work,
            done=done,
            still_wanted=lambda: self.panel is not None and self._proposal_key(self.panel) == key,
            lane="proposals",
            quiet=True,
        )

    def _show_proposals(self) -> None:
        shown = self.shown
        if shown is None:
            self.proposals_box.setVisible(False)
            return
        self.proposals_box.setVisible(True)
        found = self._proposals.get(self._proposal_key(shown.panel))
        self.proposals_box.show_proposals(
            found,
            paths.region_path(shown.panel.region),
            self.context.unit,
            shown.lines,
            own=shown.own,
        )

    def _find_samples(self) -> None:
        shown, index = self.shown, self.scene.chosen
        if shown is None or index is None or index >= len(shown.lines):
            self._samples = []
            return
        names = list(STYLES)

        def work(progress: Progress, stop: Stop) -> list[Sample]:
            made: list[Sample] = []
            for name in names:
                if stop():
                    break
                made.append(model.style_sample(shown, index, name))
                progress(len(made) / len(names), "", list(made))
            return made

        def wanted() -> bool:
            return self.shown is shown and self.scene.chosen == index

        def partial(_fraction: float, _text: str, made: object) -> None:
            if isinstance(made, list) and wanted() and len(made) > len(self._samples):
                done(made)

        def done(made: list[Sample]) -> None:
            self._samples = made
            self.style_box.show_samples(made, shown.lines[index].style.name)

        self.jobs.start(
            tr("Drawing the styles"),
            work,
            done=done,
            partial=partial,
            still_wanted=wanted,
            lane="samples",
            quiet=True,
        )

    def take_proposal(self, number: int) -> None:
        """Make a proposal's lines the panel's seams."""
        panel = self.panel
        if panel is None or not 0 <= number < len(self.proposals_box.proposals):
            return
        proposal = self.proposals_box.proposals[number]
        text = tr("Split {name} into {n}").format(name=panel.name, n=proposal.pieces)
        self.scene.chosen = 0
        self._run(SetSeams(text, panel.id, proposal.seams))

    def _leave_to_planner(self) -> None:
        panel = self.panel
        if panel is not None and panel.seams is not None:
            text = tr("Leave {name} to the planner").format(name=panel.name)
            self._run(SetSeams(text, panel.id, None))

    # --- changes of the chosen seam -------------------------------------------------------
    def _change_lines(
        self, text: str, change: Callable[[SeamLine], SeamLine], *, merge: str = ""
    ) -> None:
        """Change the chosen line, or all lines if they are to be alike."""
        shown, index = self.shown, self.scene.chosen
        if shown is None or index is None:
            return
        alike = self.style_box.scope.isChecked()
        lines = tuple(
            change(line) if alike or i == index else line for i, line in enumerate(shown.lines)
        )
        self.commit(text, lines, merge=merge)

    def take_style(self, name: str) -> None:
        """Make the seams in another style."""
        shown, index = self.shown, self.scene.chosen
        if shown is None or index is None or name not in STYLES:
            return
        if shown.lines[index].style.name == name:
            return
        text = tr("Make the seams {style}").format(style=STYLES[name].title.lower())
        if self.style_box.scope.isChecked() and not shown.own:
            self._run(SetStyle(text, shown.panel.id, StyleChoice(name)))
            return

        def restyled(line: SeamLine) -> SeamLine:
            return replace(line, style=StyleChoice(name), shift_mm=0.0)

        self._change_lines(text, restyled)

    def set_parameter(self, key: str, value: float | None) -> None:
        """Set a number of the style, None for the usual."""
        shown, index = self.shown, self.scene.chosen
        if shown is None or index is None:
            return
        chosen = shown.lines[index].style
        style = with_parameter(chosen, key, value)
        name = STYLES[chosen.name].title.lower()
        text = tr("Change the {style} seam").format(style=name)
        if self.style_box.scope.isChecked() and not shown.own:
            self._run(SetStyle(text, shown.panel.id, style))
            return

        def changed(line: SeamLine) -> SeamLine:
            if line.style.name != style.name:
                return line
            return replace(line, style=with_parameter(line.style, key, value))

        self._change_lines(text, changed)

    def set_field(self, name: str, value: Any) -> None:
        """Set a field of the seam line: fit, joint class, relief, shift, bends, points."""
        texts = {
            "fit_mm": tr("Set the fit"),
            "joint_class": tr("Set what the joint is for"),
            "relief": tr("Set the relief"),
            "shift_mm": tr("Shift the pattern"),
            "corner_mm": tr("Round the bends"),
            "points": tr("Place the seam"),
        }
        one_only = name in ("shift_mm", "corner_mm", "points")
        shown, index = self.shown, self.scene.chosen
        if shown is None or index is None:
            return
        if one_only:
            lines = tuple(
                replace(line, **{name: value}) if i == index else line
                for i, line in enumerate(shown.lines)
            )
            self.commit(texts[name], lines)
            return
        self._change_lines(texts[name], lambda line: replace(line, **{name: value}))

    def turn_over(self) -> None:
        """Let the teeth of the chosen seam point to the other side."""
        shown, index = self.shown, self.scene.chosen
        if shown is None or index is None:
            return
        lines = tuple(
            replace(line, turned_over=not line.turned_over) if i == index else line
            for i, line in enumerate(shown.lines)
        )
        self.commit(tr("Turn the seam over"), lines)

    def new_seam(self) -> None:
        """A seam across the middle of the panel, ready to be moved."""
        shown = self.shown
        if shown is None:
            return
        style = shown.lines[0].style if shown.lines else shown.panel.style
        line = model.upright_line(shown.panel, style)
        while any(line.points == other.points for other in shown.lines):
            line = model.moved_line(line, 40.0, 40.0)
        self.scene.chosen, self.scene.chosen_handle = len(shown.lines), "middle"
        self.commit(tr("Add a seam"), (*shown.lines, line))

    def _start_drawing(self) -> None:
        self.hand.drawing = True
        self.slider.setValue(0)
        self.canvas.setFocus()
        self.told(tr("Drag a line across the panel. Esc leaves it."))

    # --- what the hand needs --------------------------------------------------------------
    def draft(self, lines: tuple[SeamLine, ...]) -> None:
        """Show lines at once; the pieces follow as soon as they are worked out."""
        self.scene.show_lines(lines)
        self._draft_wanted = lines
        if not self._draft_running:
            self._next_draft()

    def _next_draft(self) -> None:
        lines, self._draft_wanted = self._draft_wanted, None
        panel, shop = self.panel, self.document.project.shop
        if lines is None or panel is None:
            return
        serial = self._draft_serial
        recut = self.shown.recut if self.shown is not None else None
        self._draft_running = True

        def work(_progress: Progress, _stop: Stop) -> Shown:
            return model.work_out(panel, shop, lines, draft=True, recut=recut)

        def done(shown: Shown) -> None:
            if serial == self._draft_serial and self.hand.busy:
                now = self.scene.lines
                self.shown = shown
                self.scene.show(shown, self.context.unit)
                self.scene.show_lines(now)
                self.pieces_box.show_pieces(shown, self.context.unit)

        job = self.jobs.start(
            tr("Following the seam"), work, done=done, failed=self._failed, quiet=True
        )
        job.ended.connect(self._draft_ended)

    def _draft_ended(self) -> None:
        self._draft_running = False
        if self._draft_wanted is not None:
            self._next_draft()

    def commit(self, text: str, lines: tuple[SeamLine, ...], *, merge: str = "") -> None:
        """Make these lines the panel's seams as one named step."""
        panel = self.panel
        if panel is None:
            return
        self.scene.show_lines(lines)
        self._run(SetSeams(text, panel.id, lines), merge=merge)

    def revert(self) -> None:
        """Show again what the document says."""
        self._draft_serial += 1
        self._draft_wanted = None
        self._work_out()

    def chosen_changed(self) -> None:
        """Another seam is chosen."""
        self._samples = []
        self._show_side()
        self._find_samples()

    def told(self, text: str, *, wrong: bool = False) -> None:
        """A sentence below the panel."""
        self.line.setText(f"● {text}" if wrong and text else text)
        theme.mark(self.line, "severity", "stop" if wrong else "")

    def look(self, pointer: Pointer | None) -> bool:
        """The loupe follows the pointer near a seam; True while it shows something."""
        shown = self.shown
        if (
            pointer is None
            or shown is None
            or not self.loupe_button.isChecked()
            or self.scene.open_share > 0
            or len(shown.pieces) < 2
        ):
            self.loupe.hide()
            return False
        reach = max(self.canvas.mm(14), 3.0)
        gap = model.gap_at(shown, pointer.x_mm, pointer.y_mm, reach)
        if gap is None:
            self.loupe.hide()
            return False
        # The glass is centred on the joint itself: a hand is never that steady.
        self.loupe.look(pointer.px, *gap.at, gap, self.context.unit)
        self.told(
            tr("{first} and {second}: {gap}").format(
                first=gap.names[0], second=gap.names[1], gap=self.loupe.text
            )
        )
        return True

    def lay_bed(self, piece: str) -> None:
        """Lay the bed over a piece; "" takes it away."""
        self.scene.envelope_piece = piece
        self.bed_button.setChecked(bool(piece))
        self.scene.show_envelope()
        shown = self.shown
        fit = next((f for f in shown.fits if f.piece == piece), None) if shown else None
        if fit is not None and fit.fit is not None:
            unit = self.context.unit
            spare = min(fit.room_mm[0] - fit.fit.width_mm, fit.room_mm[1] - fit.fit.height_mm)
            text = (
                tr("{name} fits, with {spare} to spare").format(
                    name=fit.name, spare=short_length(max(spare, 0.0), unit)
                )
                if fit.ok
                else tr("{name} is too big for the machine").format(name=fit.name)
            )
            if abs(fit.fit.turn_deg % 90) > 1e-6:
                text += ", " + tr("turned by {n}°").format(n=f"{fit.fit.turn_deg % 180:.1f}")
            self.told(text, wrong=not fit.ok)

    def _toggle_bed(self) -> None:
        shown = self.shown
        if shown is None or not shown.fits:
            self.bed_button.setChecked(False)
            return
        if self.scene.envelope_piece:
            self.lay_bed("")
            return
        worst = max(shown.fits, key=lambda f: f.fit.ratio if f.fit is not None else 9.0)
        self.lay_bed(worst.piece)

    def _toggle_loupe(self) -> None:
        if not self.loupe_button.isChecked():
            self.loupe.hide()

    def _opened(self, value: int) -> None:
        self.loupe.hide()
        self.scene.set_open(value / 100)
        if self.canvas._auto_fit:
            self.canvas.fit_now()

    def _run(self, command: Any, *, merge: str = "") -> None:
        try:
            self.document.run(command, sender=self, merge=merge)
        except SeamwrightError as error:
            self.told(str(error), wrong=True)
            self.revert()
