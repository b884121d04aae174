"""The maker's own teeth: drawn with handles or read from a drawing, checked while they change."""

from __future__ import annotations

from collections.abc import Sequence

from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QKeySequence, QShortcut
from PySide6.QtWidgets import (
    QCheckBox,
    QDialog,
    QHBoxLayout,
    QLabel,
    QVBoxLayout,
    QWidget,
)

from app import theme
from app.canvas.lengths import short_length
from app.context import Context
from app.i18n import tr
from app.jobs import Progress, Stop
from app.stages import joints_tooth_model as model
from app.stages.joints_tooth_model import Rows
from app.stages.joints_tooth_pad import ToothPad
from app.widgets.fields import TextField
from app.widgets.forms import Heading, button, scrolling, words
from app.widgets.reasons import set_able
from app.widgets.room import show_whole
from app.widgets.told_list import ToldList
from app.wording import error_in_words, in_words
from core.errors import SeamwrightError
from core.findings import Severity
from core.joints.drawn import ToothReport, read_tooth, report_on, suited_to
from core.joints.style import JointContext
from core.project.ids import free_name
from core.shop import ToothDrawing

_GOOD = "✓"


class ToothDialog(QDialog):
    """Draws one tooth at a time; kept(tooth, name it had, use it now) when the maker keeps it.

    teeth: those there are. joint_mm: of the seam it is drawn for, None if there is none.
    """

    kept = Signal(object, str, bool)
    removed = Signal(str)

    def __init__(
        self,
        context: Context,
        joint: JointContext,
        teeth: Sequence[ToothDrawing],
        *,
        used: frozenset[str] = frozenset(),
        joint_mm: float | None = None,
        chosen: str = "",
        parent: QWidget | None = None,
    ) -> None:
        super().__init__(parent)
        self.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        self.setWindowTitle(tr("Your own teeth"))
        self._context, self._joint, self._joint_mm = context, joint, joint_mm
        self.teeth = {tooth.name: tooth for tooth in teeth}
        self._used = used
        self._was = ""
        self._steps: list[tuple[Rows, bool]] = []
        self._at = -1
        self._serial = 0
        self.report: ToothReport | None = None
        row = QHBoxLayout(self)
        row.setContentsMargins(theme.WIDE, theme.WIDE, theme.WIDE, theme.WIDE)
        row.setSpacing(theme.WIDE)
        row.addLayout(self._make_left(), 1)
        row.addLayout(self._make_middle(), 3)
        row.addLayout(self._make_right(), 2)
        show_whole(self)
        for keys, slot in (
            (QKeySequence.StandardKey.Undo, self.undo),
            (QKeySequence.StandardKey.Redo, self.redo),
        ):
            QShortcut(QKeySequence(keys), self, slot)
        self._fill_list(chosen)
        if chosen in self.teeth:
            self.show_tooth(self.teeth[chosen])
        else:
            self.new()

    # --- building -------------------------------------------------------------------------
    def _make_left(self) -> QVBoxLayout:
        column = QVBoxLayout()
        column.addWidget(Heading(tr("Teeth")))
        self.list = ToldList(
            tr("Teeth you have drawn"), tr("Teeth that you keep are here, for every project.")
        )
        self.list.currentTextChanged.connect(self._picked)
        column.addWidget(self.list, 1)
        column.addWidget(button(tr("New"), self.new, "plus", tr("Begin another tooth")))
        column.addWidget(
            button(
                tr("Read a drawing…"),
                self.read,
                "open",
                tr(
                    "Take the tooth drawn in a DXF or SVG file: an open line with both ends on the "
                    "seam, or a closed one whose lowest side lies there"
                ),
            )
        )
        self.remove_button = button(tr("Remove"), self._remove, "delete")
        column.addWidget(self.remove_button)
        return column

    def _make_middle(self) -> QVBoxLayout:
        column = QVBoxLayout()
        self.pad = ToothPad(self._joint, self._context.unit)
        self.pad.changed.connect(self._changed)
        self.pad.stepped.connect(self._stepped)
        self.pad.told.connect(self._tell)
        column.addWidget(self.pad, 1)
        self.line = words()
        self.line.setMinimumHeight(theme.TARGET)
        column.addWidget(self.line)
        column.addWidget(
            words(
                tr(
                    "Drag a round handle to move a point, a diamond to curve an edge. Double "
                    "click on an edge adds a point, on a point takes it out. Alt: without the "
                    "half-millimetre grid. Keys: [ ] and arrows, B, Delete, Ctrl+Z."
                )
            )
        )
        return column

    def _make_right(self) -> QVBoxLayout:
        column = QVBoxLayout()
        column.addWidget(Heading(tr("This tooth")))
        self.name = TextField(tr("Name of the tooth"))
        self.name.setMinimumWidth(230)
        column.addWidget(self.name)
        self.alike = QCheckBox(tr("Same from both ends"))
        self.alike.setChecked(True)
        self.alike.toggled.connect(self._set_alike)
        column.addWidget(self.alike)
        self.rounded = QCheckBox(tr("Corners rounded to the bit"))
        self.rounded.setToolTip(tr("Both mates get corners the bit can reach: no relief is needed"))
        self.rounded.clicked.connect(self._set_rounded)
        column.addWidget(self.rounded)
        self.suit_button = button(
            tr("Round to suit the bit"),
            self.suit,
            "relief",
            tr("Rounds the corners and enlarges the tooth until its tightest curve takes the bit"),
        )
        column.addWidget(self.suit_button)
        self.checks = QLabel()
        self.checks.setWordWrap(True)
        self.checks.setTextFormat(Qt.TextFormat.PlainText)
        self.checks.setMinimumWidth(230)
        self.checks.setAlignment(Qt.AlignmentFlag.AlignTop)
        self.checks.setAccessibleName(tr("What speaks for and against this tooth"))
        column.addWidget(scrolling(self.checks, whole=True), 1)
        self.keep_button = button(
            tr("Keep it"), self._keep, "save", tr("Kept in this project's shop and for others")
        )
        self.use_button = button(tr("Keep and use it"), self._use, "joint", primary=True)
        close = button(tr("Close"), self.reject)
        for widget in (self.use_button, self.keep_button, close):
            widget.setAutoDefault(False)
            column.addWidget(widget)
        return column

    # --- which tooth ----------------------------------------------------------------------
    def _fill_list(self, chosen: str) -> None:
        self.list.blockSignals(True)
        self.list.clear()
        self.list.addItems(sorted(self.teeth))
        for k in range(self.list.count()):
            if self.list.item(k).text() == chosen:
                self.list.setCurrentRow(k)
        self.list.blockSignals(False)

    def _picked(self, name: str) -> None:
        if name in self.teeth:
            self.show_tooth(self.teeth[name])

    def new(self) -> None:
        """Begin another tooth."""
        name = free_name(tr("My tooth"), self.teeth, joint=" ")
        self.show_tooth(ToothDrawing(name, model.BEGINNING, True), new=True)

    def read(self) -> None:
        """Take a tooth from a drawing."""
        path = self._context.ask.open_file(
            tr("A tooth"), tr("Drawings (*.dxf *.svg);;All files (*)")
        )
        if path is None:
            return

        def work(_progress: Progress, _stop: Stop) -> ToothDrawing:
            return read_tooth(path)

        def done(tooth: ToothDrawing) -> None:
            name = free_name(tooth.name, self.teeth, joint=" ")
            self.show_tooth(ToothDrawing(name, tooth.points), new=True)

        self._context.jobs.start(
            tr("Reading the tooth"),
            work,
            done=done,
            failed=self._failed,
            lane="tooth-read",
            owner=self,
        )

    def _failed(self, error: SeamwrightError) -> None:
        self._tell(f"● {error_in_words(error)}")

    def show_tooth(self, tooth: ToothDrawing, *, new: bool = False) -> None:
        """Edit a tooth."""
        self._was = "" if new else tooth.name
        if new:
            self._fill_list("")
        self.name.set_value(tooth.name)
        rows = tuple(tooth.points)
        self.alike.blockSignals(True)
        self.alike.setChecked(model.is_alike(rows))
        self.alike.blockSignals(False)
        self.pad.alike = self.alike.isChecked()
        self.rounded.setChecked(tooth.rounded)
        self.pad.chosen = ""
        self.pad.show_rows(rows, rounded=tooth.rounded)
        self._steps, self._at = [(rows, tooth.rounded)], 0
        self._may_remove("" if new else tooth.name)
        self._check()

    def _may_remove(self, name: str) -> None:
        """Say whether a tooth can be removed; "": it is not kept yet."""
        used = name in self._used
        why = tr("A seam of this project has it.") if used else tr("It is not kept yet.")
        set_able(self.remove_button, bool(name) and not used, why)

    @property
    def tooth(self) -> ToothDrawing:
        """The tooth as drawn now."""
        name = self.name.text.strip() or tr("My tooth")
        return model.drawing_of(name, self.pad.rows, rounded=self.pad.rounded)

    # --- changes --------------------------------------------------------------------------
    def _changed(self, _rows: object) -> None:
        self._check()

    def _stepped(self) -> None:
        state = (self.pad.rows, self.pad.rounded)
        if self._steps[self._at] == state:
            return
        self._steps = [*self._steps[: self._at + 1], state]
        self._at = len(self._steps) - 1

    def undo(self) -> None:
        """Take the last step back."""
        self._go(self._at - 1)

    def redo(self) -> None:
        """Take it again."""
        self._go(self._at + 1)

    def _go(self, at: int) -> None:
        if not 0 <= at < len(self._steps):
            return
        self._at = at
        rows, rounded = self._steps[at]
        self.rounded.setChecked(rounded)
        self.pad.show_rows(rows, rounded=rounded)
        self._check()

    def _set_alike(self, on: bool) -> None:
        self.pad.alike = on
        if on:
            self._take(model.made_alike(self.pad.rows), self.pad.rounded)

    def _set_rounded(self, on: bool) -> None:
        self._take(self.pad.rows, on)

    def suit(self) -> None:
        """Round corners to the bit, and enlarge the tooth if a curve is too tight for it."""
        try:
            suited = suited_to(self.tooth, self._joint)
        except SeamwrightError as error:
            self._tell(f"● {error_in_words(error)}")
            return
        self.rounded.setChecked(suited.rounded)
        self._take(tuple(suited.points), suited.rounded)

    def _take(self, rows: Rows, rounded: bool) -> None:
        self.pad.show_rows(rows, rounded=rounded)
        self._stepped()
        self._check()

    # --- checks ---------------------------------------------------------------------------
    def _check(self) -> None:
        """Look at the tooth on a thread of its own; pulling it out on trial takes a moment."""
        self._serial += 1
        serial, tooth, joint = self._serial, self.tooth, self._joint

        def work(_progress: Progress, _stop: Stop) -> ToothReport:
            return report_on(tooth, joint)

        self._context.jobs.start(
            tr("Checking the tooth"),
            work,
            done=self._checked,
            failed=self._failed,
            still_wanted=lambda: serial == self._serial,
            lane="tooth-check",
            quiet=True,
            owner=self,
        )

    def _checked(self, report: ToothReport) -> None:
        self.report = report
        self.checks.setText("\n".join(self._rows(report)))
        for widget in (self.keep_button, self.use_button):
            set_able(widget, report.ok, tr("First put right what is marked ● above."))

    def _rows(self, report: ToothReport) -> list[str]:
        """A sentence for everything that was looked at, with its sign."""
        stop, warn = theme.SIGNS[Severity.STOP], theme.SIGNS[Severity.WARN]
        note = theme.SIGNS[Severity.NOTE]
        if report.problem:
            return [f"{stop} {in_words(report.problem)}"]
        unit = self._context.unit

        def length(mm: float) -> str:
            return short_length(mm, unit)

        signs = {f.code: theme.SIGNS[f.severity] for f in report.findings}
        rows = [f"{_GOOD} " + tr("Its line does not cross itself.")]
        bit = length(self._joint.cutter.diameter_mm)
        if "tooth-arc-too-tight" in signs:
            rows.append(f"{stop} " + tr("A curve is too tight for the {bit} bit.").format(bit=bit))
        elif report.corners and not self.pad.rounded:
            rows.append(
                f"{note} "
                + tr("{n} corners get relief, or round them to the bit.").format(n=report.corners)
            )
        else:
            rows.append(
                f"{_GOOD} " + tr("The {bit} bit reaches all of it on both mates.").format(bit=bit)
            )
        rows.append(
            f"{_GOOD} "
            + tr("Holds: its undercut is {under}.").format(under=length(report.undercut_mm))
            if report.holds
            else f"{note} " + tr("Pulls apart in the plane: glue holds it.")
        )
        rows += [
            f"{stop} {in_words(f.message)}. {in_words(f.remedy)}"
            for f in report.findings
            if f.code == "tooth-cannot-be-cut"
        ]
        narrow = tr("Narrowest place {size}.").format(size=length(report.narrowest_mm))
        rows.append(f"{warn if 'tooth-neck-narrow' in signs else _GOOD} {narrow}")
        needs = tr("One tooth takes {size} of joint; from tooth to tooth {pitch}.").format(
            size=length(report.needed_mm), pitch=length(report.pitch_mm)
        )
        short = self._joint_mm is not None and self._joint_mm < report.needed_mm
        rows.append(f"{warn if short else _GOOD} {needs}")
        if short and self._joint_mm is not None:
            rows.append(
                f"{warn} "
                + tr("This seam has only {size} of joint.").format(size=length(self._joint_mm))
            )
        return rows

    def _tell(self, text: str) -> None:
        self.line.setText(text)

    # --- the end --------------------------------------------------------------------------
    def _keep(self) -> None:
        self._done(use=False)

    def _use(self) -> None:
        self._done(use=True)

    def _done(self, *, use: bool) -> None:
        tooth = self.tooth
        report = report_on(tooth, self._joint)
        if not report.ok:
            self._checked(report)
            return
        if tooth.name != self._was and tooth.name in self.teeth:
            self._tell("● " + tr("There is a tooth of that name: give it another."))
            return
        was, self._was = self._was, tooth.name
        self.teeth.pop(was, None)
        self.teeth[tooth.name] = tooth
        self._fill_list(tooth.name)
        self._may_remove(tooth.name)
        self.kept.emit(tooth, was, use)
        if use:
            self.accept()

    def _remove(self) -> None:
        if not self._was or self._was in self._used:
            return
        name = self._was
        del self.teeth[name]
        self._fill_list("")
        self.new()
        self.removed.emit(name)
