"""The drawn joints of the panel shown: which are re-cut for the measured boards, and how."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import (
    QCheckBox,
    QLabel,
    QListWidget,
    QListWidgetItem,
    QVBoxLayout,
    QWidget,
)

from app import theme
from app.commands import ReplacePanels, SetPanels, SetProject
from app.commands.base import LAYOUT, Command
from app.context import Context
from app.document import Change
from app.i18n import tr
from app.jobs import Progress, Stop
from app.stages import joints_refit_model as model
from app.stages.joints_refit_model import DrawnJoints
from app.stages.joints_refit_options import classes, holds, reliefs, sides
from app.widgets.fields import LengthField, show_length
from app.widgets.forms import Choice, Rows, Section, button, words
from app.widgets.lens import JointLens
from app.wording import error_in_words
from core.errors import SeamwrightError
from core.geometry import Point
from core.project.model import Panel
from core.project.refit import KeepWall, Recut, ReliefKind
from core.refit import Reading, RefitItem, without_orphans

_MOST_PLAY_MM = 5.0
_LIST_ROWS = 6
_SAME_SPOT_MM = 1.0


class RefitBox(Section):
    """Lists the joints of a panel; those to decide come first. shown(items, chosen): for the
    canvas. place_wanted(x_mm, y_mm): a joint was chosen in the list."""

    shown = Signal(object, object)
    place_wanted = Signal(float, float)

    def __init__(self, context: Context) -> None:
        super().__init__(tr("Drawn joints"), "caliper", is_open=False)
        self._context = context
        self._panel_id: str | None = None
        self.joints: DrawnJoints | None = None
        self._stale = True
        self._asked: Point | None = None
        self._told = ""  # the panel whose open questions were shown
        self.state = words()
        self.add(self.state)
        self.on = QCheckBox(tr("Re-cut for measured boards"))
        self.on.setToolTip(
            tr("Joints recognised with certainty, on every panel, for the thickness measured")
        )
        self.on.clicked.connect(self._set_on)
        self.add(self.on)
        top = Rows()
        self.add(top)
        self.panel_choice = Choice(
            tr("This panel"),
            [(None, tr("as all panels")), (True, tr("re-cut")), (False, tr("as drawn"))],
        )
        self.panel_choice.chosen.connect(self._set_panel)
        self.panel_row = top.add(tr("This panel"), self.panel_choice)
        self.list = QListWidget()
        self.list.setAccessibleName(tr("Drawn joints of this panel"))
        self.list.setWordWrap(True)
        self.list.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.list.currentRowChanged.connect(self._picked)
        self.add(self.list)
        self.sizes = words(muted=False)
        self.add(self.sizes)
        self.bits = words()
        self.add(self.bits)
        self.orphans = button(tr("Remove decisions"), self._drop_orphans, "delete")
        self.add(self.orphans)
        self.detail = QWidget()
        self._make_detail()
        self.add(self.detail)
        self._make_rules()
        self.problem = words()
        self.problem.setProperty("severity", "stop")
        self.problem.hide()
        self.add(self.problem)
        context.document.changed.connect(self._on_changed)
        context.derived.pieces_changed.connect(self._on_pieces)

    # --- building -------------------------------------------------------------------------
    def _make_detail(self) -> None:
        box = Section(tr("This joint"), "joint")
        self.detail = box
        self.why = words()
        box.add(self.why)
        self.answers = QWidget()
        answers = QVBoxLayout(self.answers)
        answers.setContentsMargins(0, 0, 0, 0)
        answers.setSpacing(theme.TIGHT)
        for text, answer in (
            (tr("Re-cut it"), Recut.YES),
            (tr("Leave it as drawn"), Recut.NO),
        ):
            answers.addWidget(button(text, self._answer(answer)))
        box.add(self.answers)
        self.lens = JointLens(tr("The joint's play, magnified"))
        box.add(self.lens)
        self.scope = QCheckBox(tr("All alike on this panel"))
        self.scope.setChecked(True)
        box.add(self.scope)
        self.rows = Rows()
        box.add(self.rows)
        add = self.rows.add
        self.recut = Choice(
            tr("Whether it is re-cut"),
            [
                (Recut.AUTO, tr("if it is certain")),
                (Recut.YES, tr("yes, re-cut it")),
                (Recut.NO, tr("no, leave it as drawn")),
            ],
        )
        add(tr("Re-cut"), self.recut)
        self.board = Choice(tr("Board of the mate"))
        add(tr("Mate"), self.board, tr("The board that goes in"))
        self.keep = Choice(
            tr("What stays while the width changes"),
            [
                (KeepWall.CENTRE, tr("its centre line")),
                (KeepWall.LOW, tr("its left or lower wall")),
                (KeepWall.HIGH, tr("its right or upper wall")),
            ],
        )
        add(tr("Stays"), self.keep)
        self.hold = Choice(tr("Which size stays"), holds(tr("as the project")))
        add(tr("Holds"), self.hold)
        self.proud = LengthField(
            tr("How far teeth stand out, to be sanded flush"), empty=tr("as the project")
        )
        add(tr("Stands proud"), self.proud)
        self.joint_class = Choice(tr("What the joint is for"), classes(tr("as the project")))
        add(tr("Joint"), self.joint_class)
        self.fit = LengthField(
            tr("Fit: total play across the joint"), most_mm=_MOST_PLAY_MM, empty=tr("as the Shop")
        )
        add(tr("Fit"), self.fit, tr("Total play across the joint; larger is looser, 0 to 5 mm"))
        self.relief = Choice(tr("Room for square corners"), reliefs(tr("as the project")))
        add(tr("Relief"), self.relief)
        self.side = Choice(tr("Which way a T-bone goes"), sides(tr("as the project")))
        add(tr("T-bone"), self.side)
        self.walls = QLabel()
        self.walls.setWordWrap(True)
        self.walls.setTextFormat(Qt.TextFormat.PlainText)
        box.add(self.walls)
        for field, name in self._own_fields():
            if isinstance(field, Choice):
                field.chosen.connect(self._own_setter(name))
            else:
                field.committed.connect(self._own_setter(name))

    def _own_fields(self) -> tuple[tuple[Choice | LengthField, str], ...]:
        return (
            (self.recut, "recut"),
            (self.board, "material"),
            (self.keep, "keep"),
            (self.hold, "hold"),
            (self.proud, "proud_mm"),
            (self.joint_class, "joint_class"),
            (self.fit, "fit_mm"),
            (self.relief, "relief"),
            (self.side, "relief_side"),
        )

    def _make_rules(self) -> None:
        box = Section(tr("How joints are re-cut"), "settings", is_open=False)
        self.rules = box
        rows = Rows()
        box.add(rows)
        self.all_hold = Choice(tr("Which size stays, all panels"), holds(""))
        rows.add(tr("Holds"), self.all_hold, tr("Which size of a panel with teeth stays as drawn"))
        self.all_proud = LengthField(tr("How far teeth stand out, all panels"))
        rows.add(tr("Stands proud"), self.all_proud, tr("To be sanded flush afterwards"))
        self.all_clearance = LengthField(tr("Play in depth where notches cross"))
        rows.add(tr("Depth play"), self.all_clearance, tr("Of two crossing notches together"))
        self.all_class = Choice(tr("What drawn joints are for"), classes(""))
        rows.add(tr("Joints"), self.all_class)
        self.all_fit = LengthField(
            tr("Fit of drawn joints"), most_mm=_MOST_PLAY_MM, empty=tr("as the Shop")
        )
        rows.add(tr("Fit"), self.all_fit, tr("Total play across the joint; larger is looser"))
        self.all_relief = Choice(tr("Room for square corners, all panels"), reliefs(""))
        rows.add(tr("Relief"), self.all_relief)
        self.all_side = Choice(tr("Which way T-bones go, all panels"), sides(""))
        rows.add(tr("T-bones"), self.all_side)
        for field, name in self._rule_fields():
            if isinstance(field, Choice):
                field.chosen.connect(self._rule_setter(name))
            else:
                field.committed.connect(self._rule_setter(name))
        self.add(box)

    def _rule_fields(self) -> tuple[tuple[Choice | LengthField, str], ...]:
        return (
            (self.all_hold, "hold"),
            (self.all_proud, "proud_mm"),
            (self.all_clearance, "halving_clearance_mm"),
            (self.all_class, "joint_class"),
            (self.all_fit, "fit_mm"),
            (self.all_relief, "relief"),
            (self.all_side, "relief_side"),
        )

    # --- following the document -----------------------------------------------------------
    def _on_changed(self, change: Change) -> None:
        if change.kinds != frozenset({LAYOUT}):
            self.refresh()

    def show_panel(self, panel_id: str | None, *, opened: bool = False) -> None:
        """Show the joints of another panel. opened: there is nothing else to show of it."""
        if panel_id != self._panel_id:
            if opened:
                self.open()
            self._panel_id = panel_id
            self.joints = None
            self.list.clearSelection()
            self.refresh()

    def showEvent(self, event: object) -> None:
        """What changed while the box was hidden is worked out now."""
        if self._stale:
            self.refresh()

    def refresh(self) -> None:
        """Work the joints of the panel out again, off the window's thread."""
        if not self.isVisible():
            self._stale = True
            return
        self._stale = False
        document = self._context.document
        project, revision = document.project, document.revision
        panel = project.panel(self._panel_id) if self._panel_id else None
        if panel is None:
            self.joints = None
            self._show()
            return

        def work(_progress: Progress, _stop: Stop) -> DrawnJoints:
            return model.drawn_joints_of(project, panel)

        self._context.jobs.start(
            tr("Looking at drawn joints of {name}").format(name=panel.name),
            work,
            done=self._taken,
            still_wanted=lambda: document.revision == revision and self._panel_id == panel.id,
            lane="refit",
            quiet=True,
        )

    def _taken(self, joints: DrawnJoints) -> None:
        self.joints = self._with_access(joints)
        self._show()

    def _with_access(self, joints: DrawnJoints) -> DrawnJoints:
        access = model.access_of(self._context.derived.pieces, joints.panel.id)
        return replace(joints, access=access)

    def _on_pieces(self) -> None:
        """The pieces are cut anew: what the bits leave of them may be another."""
        if self.joints is None or not self.isVisible():
            return
        joints = self._with_access(self.joints)
        if joints != self.joints:
            self.joints = joints
            self._show_bits()
            self.shown.emit(joints, self.chosen)

    def _show_bits(self) -> None:
        text = "" if self.joints is None else model.bit_words(self.joints, self._context.unit)
        self.bits.setText(text)
        self.bits.setVisible(bool(text))

    # --- showing --------------------------------------------------------------------------
    @property
    def chosen(self) -> RefitItem | None:
        """The joint chosen in the list."""
        row = self.list.currentRow()
        items = self.joints.items if self.joints is not None else ()
        return items[row] if 0 <= row < len(items) else None

    def ask_for(self, at: Point | None) -> None:
        """Open the box at the joint of a notice, now or once its panel is shown."""
        self.open()
        self._asked = at
        if self.joints is not None:
            self._show()

    def choose(self, item: RefitItem) -> None:
        """Choose a joint, from the canvas or a notice."""
        items = self.joints.items if self.joints is not None else ()
        for row, one in enumerate(items):
            if one.ref == item.ref:
                self.list.setCurrentRow(row)

    def _wanted(self) -> RefitItem | None:
        """The joint a notice was about, once."""
        if self._asked is None or self.joints is None:
            return None
        at, items = self._asked, self.joints.items
        near = min(items, key=lambda item: math.dist(item.at, at), default=None)
        if near is None or math.dist(near.at, at) > _SAME_SPOT_MM:
            return None
        self._asked = None
        return near

    def _show(self) -> None:
        joints, project = self.joints, self._context.document.project
        unit = self._context.unit
        self.on.setChecked(project.refit)
        self._show_rules()
        have = joints is not None and bool(joints.items)
        before = self._wanted() or self.chosen
        for widget in (self.list, self.panel_row):
            widget.setVisible(have)
        if joints is None or not have:
            self.state.setText(tr("No joints were recognised in this panel's drawing."))
            self.head.setText(tr("Drawn joints"))
            self.list.clear()
            self.sizes.hide()
            self.orphans.hide()
            self.detail.hide()
            self._show_bits()
            self.shown.emit(joints, None)
            return
        done = sum(item.applied for item in joints.items)
        self.state.setText(_state_words(joints, done))
        title = tr("Drawn joints · {n}").format(n=len(joints.items))
        if joints.to_decide:
            if self._told != joints.panel.id:
                self._told = joints.panel.id
                self.open()
            title = tr("Drawn joints · {n} to decide").format(n=joints.to_decide)
        self.head.setText(title)
        self.panel_choice.set_value(joints.panel.refit)
        self._fill_list(joints, before, unit)
        rows = model.size_rows(project, joints.sizes, unit)
        self.sizes.setText(tr("Sizes that change:") + "\n" + model.as_one_line(rows))
        self.sizes.setVisible(bool(rows))
        count = len(joints.refit.orphans)
        self.orphans.setVisible(count > 0)
        self.orphans.setText(tr("Remove {n} stale decisions").format(n=count))
        self._show_bits()
        self._show_detail()

    def _fill_list(self, joints: DrawnJoints, before: RefitItem | None, unit: str) -> None:
        self.list.blockSignals(True)
        self.list.clear()
        current = 0
        for row, item in enumerate(joints.items):
            entry = QListWidgetItem(model.row_words(joints, item, unit))
            entry.setToolTip(model.why_words(joints, item, unit))
            self.list.addItem(entry)
            if before is not None and item.ref == before.ref:
                current = row
        self.list.setCurrentRow(current)
        self.list.blockSignals(False)
        shown = min(max(self.list.count(), 2), _LIST_ROWS)
        line = max(self.list.sizeHintForRow(0), self.fontMetrics().height() + 4)
        self.list.setFixedHeight(shown * line + 2 * self.list.frameWidth() + 4)

    def _picked(self, _row: int) -> None:
        self._show_detail()
        item = self.chosen
        if item is not None:
            self.place_wanted.emit(*item.at)

    def _show_detail(self) -> None:
        joints, item, unit = self.joints, self.chosen, self._context.unit
        self.detail.setVisible(item is not None)
        self.shown.emit(joints, item)
        if joints is None or item is None:
            return
        own = item.decision
        self.why.setText(model.why_words(joints, item, unit))
        self.answers.setVisible(joints.open(item))
        self.lens.show_joint(model.lens_joint(item), unit)
        same = model.alike(item, joints.items)
        self.scope.setText(tr("All {n} alike on this panel").format(n=len(same)))
        self.scope.setVisible(len(same) > 1)
        self.recut.set_value(own.recut if own is not None else Recut.AUTO)
        shop = self._context.document.project.shop
        names = list(dict.fromkeys([*item.materials, *(m.name for m in shop.materials)]))
        boards: list[tuple[Any, str]] = [("", tr("as recognised"))]
        self.board.set_options(boards + [(name, name) for name in names])
        self.board.set_value(own.material if own is not None else "")
        teeth = item.reading in (Reading.COMB, Reading.TENON)
        self.rows.set_row_visible(self.keep, not teeth)
        self.rows.set_row_visible(self.hold, teeth)
        self.rows.set_row_visible(self.proud, teeth)
        self.keep.set_value(own.keep if own is not None else KeepWall.CENTRE)
        self.hold.set_value(own.hold if own is not None else None)
        self.joint_class.set_value(own.joint_class if own is not None else None)
        self.relief.set_value(own.relief if own is not None else None)
        self.side.set_value(own.relief_side if own is not None else None)
        rules = self._context.document.project.refit_rules
        kind = own.relief if own is not None and own.relief is not None else rules.relief
        self.rows.set_row_visible(self.side, kind is ReliefKind.T_BONE)
        for field, value, usual in (
            (self.proud, own.proud_mm if own is not None else None, rules.proud_mm),
            (self.fit, own.fit_mm if own is not None else None, item.fit_mm),
        ):
            field.set_unit(unit)
            field.set_value(value)
            field.line.setPlaceholderText(
                tr("usual: {value}").format(value=show_length(round(usual, 3), unit))
            )
        walls = model.wall_rows(item, unit)
        head = tr("Walls that move:") if item.applied else tr("Walls that would move:")
        self.walls.setText(f"{head}\n{model.as_one_line(walls, 80)}" if walls else "")
        self.walls.setVisible(bool(walls))

    def _show_rules(self) -> None:
        project, unit = self._context.document.project, self._context.unit
        rules = project.refit_rules
        for field, name in self._rule_fields():
            if isinstance(field, LengthField):
                field.set_unit(unit)
            field.set_value(getattr(rules, name))

    # --- changing -------------------------------------------------------------------------
    def _answer(self, answer: Recut) -> Any:
        """What a button does that decides about a joint left to the maker."""
        text = tr("Say whether a joint is re-cut")
        return lambda: self.set_own(text, "recut", answer)

    def _own_setter(self, name: str) -> Any:
        texts = {
            "recut": tr("Say whether a joint is re-cut"),
            "material": tr("Set the mate of a joint"),
            "keep": tr("Set what of a joint stays"),
            "hold": tr("Set which size is held"),
            "proud_mm": tr("Set how far teeth stand out"),
            "joint_class": tr("Set what a joint is for"),
            "fit_mm": tr("Set the fit of a joint"),
            "relief": tr("Set the relief of a joint"),
            "relief_side": tr("Set the side of a T-bone"),
        }

        def setter(value: Any) -> None:
            self.set_own(texts[name], name, value)

        return setter

    def set_own(self, text: str, name: str, value: Any) -> None:
        """Set one field of the decision about the chosen joint, or all that are alike."""
        joints, item = self.joints, self.chosen
        panel = self._panel()
        if joints is None or item is None or panel is None:
            return
        together = self.scope.isChecked() or not self.scope.isVisible()
        items = model.alike(item, joints.items) if together else [item]
        changed = model.decided(panel, items, name, value)
        self._run(ReplacePanels(text, (changed,)))

    def _rule_setter(self, name: str) -> Any:
        def setter(value: Any) -> None:
            rules = replace(self._context.document.project.refit_rules, **{name: value})
            self._run(SetProject(tr("Set how joints are re-cut"), (("refit_rules", rules),)))

        return setter

    def _set_on(self, on: bool) -> None:
        text = tr("Re-cut drawn joints") if on else tr("Leave drawn joints as drawn")
        self._run(SetProject(text, (("refit", on),)))

    def _set_panel(self, value: bool | None) -> None:
        panel = self._panel()
        if panel is not None:
            text = tr("Set re-cutting of {name}").format(name=panel.name)
            self._run(SetPanels(text, (panel.id,), (("refit", value),)))

    def _drop_orphans(self) -> None:
        panel = self._panel()
        if panel is not None:
            cleaned = without_orphans(self._context.document.project, panel)
            text = tr("Remove decisions that fit nothing")
            self._run(ReplacePanels(text, (cleaned,)))

    def _panel(self) -> Panel | None:
        return self._context.document.project.panel(self._panel_id) if self._panel_id else None

    def _run(self, command: Command) -> None:
        try:
            self._context.document.run(command, sender=self)
        except SeamwrightError as error:
            self.problem.setText(error_in_words(error))
            self.problem.show()
        else:
            self.problem.hide()


def _state_words(joints: DrawnJoints, done: int) -> str:
    count = len(joints.items)
    if joints.off_here:
        return tr("This panel is left wholly as drawn.")
    if not joints.on and not done:
        return tr("{n} recognised; they stay as drawn until re-cutting is on.").format(n=count)
    return tr("{n} of {all} re-cut.").format(n=done, all=count)


__all__ = ["RefitBox"]
