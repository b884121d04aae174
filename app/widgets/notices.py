"""The strip at the bottom: what is wrong or worth knowing; a click goes to the place."""

from __future__ import annotations

from collections.abc import Callable
from html import escape
from itertools import pairwise

from PySide6.QtCore import QRect, QSize, Qt, QTimerEvent, Signal
from PySide6.QtGui import QFont, QMouseEvent, QPaintEvent, QResizeEvent, QTextLayout
from PySide6.QtWidgets import (
    QFrame,
    QHBoxLayout,
    QHeaderView,
    QLabel,
    QProgressBar,
    QPushButton,
    QSizePolicy,
    QStyle,
    QStyleOptionButton,
    QStylePainter,
    QToolButton,
    QTreeWidget,
    QTreeWidgetItem,
    QVBoxLayout,
    QWidget,
)

from app import theme
from app.i18n import tr
from app.jobs import Job
from app.widgets.icons import set_icon
from app.wording import in_words
from core.findings import Finding, Severity

_ROWS_SHOWN = 6
_LIST_SHARE = 0.22  # of the window's height, for the open list
_MOST_LINES = 3  # of the one notice in view
_LEAST_ABOVE = 12  # lines of the window for every line of that notice
_PROGRESS_SHARE = 0.3  # of the window's width, for what is being worked out
_MEASURED = 40  # of the notices, for how many lines they take


def count_text(findings: tuple[Finding, ...]) -> str:
    """ "● 1 stop  ▲ 3 warnings": how many of each kind, kinds without any left out."""
    words = {
        Severity.STOP: (tr("{n} stop"), tr("{n} stops")),
        Severity.WARN: (tr("{n} warning"), tr("{n} warnings")),
        Severity.NOTE: (tr("{n} note"), tr("{n} notes")),
    }
    parts = []
    for severity, (one, many) in words.items():
        n = sum(1 for f in findings if f.severity is severity)
        if n:
            parts.append(f"{theme.SIGNS[severity]} " + (one if n == 1 else many).format(n=n))
    return "  ".join(parts)


class ElidedButton(QPushButton):
    """A flat button whose text wraps into a few lines and ends in … where there is no room; the
    tooltip has it all."""

    _SIDES_PX = 32  # what is left and right of the text
    _AROUND_PX = 12  # above and below it

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._full = ""
        self._lines = 1
        self.setFlat(True)
        self.setSizePolicy(QSizePolicy.Policy.Ignored, QSizePolicy.Policy.Fixed)
        self.setStyleSheet("QPushButton:!focus { border-color: transparent; }")

    def set_full_text(self, text: str) -> None:
        """The text to show as much of as fits."""
        self._full = text
        self.setToolTip(f"<p>{escape(text)}</p>")  # as rich text it wraps
        self.setAccessibleName(text)
        self.update()

    @property
    def full_text(self) -> str:
        """The whole text."""
        return self._full

    def set_lines(self, lines: int) -> None:
        """How many lines it has room for."""
        if lines != self._lines:
            self._lines = lines
            self.updateGeometry()
            self.update()

    def sizeHint(self) -> QSize:
        """As high as its lines."""
        hint = super().sizeHint()
        high = self._lines * self.fontMetrics().lineSpacing() + self._AROUND_PX
        return QSize(hint.width(), max(hint.height(), high))

    def minimumSizeHint(self) -> QSize:
        """As high as its lines, and as narrow as need be."""
        return QSize(super().minimumSizeHint().width(), self.sizeHint().height())

    def shown_lines(self) -> list[str]:
        """What is shown, line by line, the last one elided where there is more."""
        room = max(20, self.width() - self._SIDES_PX)
        starts = line_starts(self._full, self.font(), room)
        rows = [self._full[i:j] for i, j in pairwise([*starts, len(self._full)])]
        if len(rows) > self._lines:
            rest = "".join(rows[self._lines - 1 :])
            elided = self.fontMetrics().elidedText(rest, Qt.TextElideMode.ElideRight, room)
            rows = [*rows[: self._lines - 1], elided]
        return [row.strip() for row in rows]

    def paintEvent(self, _event: QPaintEvent) -> None:
        """The button's frame, and the lines in it."""
        painter = QStylePainter(self)
        option = QStyleOptionButton()
        self.initStyleOption(option)
        painter.drawControl(QStyle.ControlElement.CE_PushButton, option)
        painter.setPen(theme.color("ink" if self.isEnabled() else "muted"))
        side = self._SIDES_PX // 2
        room = self.rect().adjusted(side, 0, -side, 0)
        left = Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter
        painter.drawText(room, left, "\n".join(self.shown_lines()))
        painter.end()


def line_starts(text: str, font: QFont, wide: float) -> list[int]:
    """Where the lines of a text begin when it is wrapped at a width, in pixels."""
    layout = QTextLayout(text, font)
    starts = []
    layout.beginLayout()
    while (line := layout.createLine()).isValid():
        line.setLineWidth(wide)
        starts.append(line.textStart())
    layout.endLayout()
    return starts or [0]


class _PressedOnce(QPushButton):
    """A button whose second press of a double click counts for nothing: by then it may say, and
    do, what belongs to the next notice."""

    def mouseDoubleClickEvent(self, event: QMouseEvent) -> None:
        """Nothing."""
        event.accept()


class Notices(QFrame):
    """One line with the counts and one notice; opened, the list of all.

    go(finding): a notice was clicked. remedy(finding): its button was pressed. ``offer`` tells
    what the button may say for a finding ("" for no button).
    """

    go = Signal(object)
    remedy = Signal(object)

    def __init__(self, offer: Callable[[Finding], str], parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._offer = offer
        self._findings: tuple[Finding, ...] = ()
        self._at = 0
        self._chosen = False  # the maker went to the one in view
        self.setAccessibleName(tr("Notices"))
        # It gets what it asks for before the stage above gets what that would like.
        self.setSizePolicy(QSizePolicy.Policy.Preferred, QSizePolicy.Policy.Fixed)
        column = QVBoxLayout(self)
        column.setContentsMargins(theme.NORMAL, theme.TIGHT, theme.NORMAL, theme.TIGHT)
        column.setSpacing(theme.TIGHT)

        self._list = QTreeWidget()
        self._list.setColumnCount(3)
        self._list.setHeaderHidden(True)
        self._list.setRootIsDecorated(False)
        self._list.setUniformRowHeights(False)
        self._list.setWordWrap(True)
        self._list.setAccessibleName(tr("All notices"))
        self._list.setStyleSheet(f"QTreeView::item {{ min-height: {theme.TARGET}px; }}")
        self._list.header().setSectionResizeMode(0, QHeaderView.ResizeMode.ResizeToContents)
        self._list.header().setSectionResizeMode(1, QHeaderView.ResizeMode.Stretch)
        self._list.header().setSectionResizeMode(2, QHeaderView.ResizeMode.Stretch)
        self._list.header().setStretchLastSection(False)
        self._list.header().sectionResized.connect(self._wrap_rows)
        self._list.currentItemChanged.connect(self._row_chosen)
        self._list.itemClicked.connect(self._row_clicked)
        self._list.itemActivated.connect(self._row_clicked)
        self._list.hide()
        column.addWidget(self._list)

        row = QHBoxLayout()
        row.setSpacing(theme.NORMAL)
        self._counts = QToolButton()
        self._counts.setCheckable(True)
        self._counts.setToolTip(tr("Show or hide all notices"))
        self._counts.toggled.connect(self.set_open)
        # Aligned, since a row is never higher than the lowest of what is not.
        middle = Qt.AlignmentFlag.AlignVCenter
        row.addWidget(self._counts, 0, middle)
        self._sentence = ElidedButton()
        self._sentence.clicked.connect(self._sentence_clicked)
        row.addWidget(self._sentence, 1)
        self._button = _PressedOnce()
        self._button.clicked.connect(self._remedy_clicked)
        row.addWidget(self._button, 0, middle)
        self._before = self._step_button("chevron-left", tr("The notice before"), -1)
        self._after = self._step_button("chevron-right", tr("The next notice"), +1)
        row.addWidget(self._before, 0, middle)
        row.addWidget(self._after, 0, middle)
        self.extra = QHBoxLayout()  # the window puts progress here
        row.addLayout(self.extra)
        column.addLayout(row)
        theme.watcher().changed.connect(self._fill)
        self.set_findings(())

    def _step_button(self, icon: str, text: str, step: int) -> QToolButton:
        button = QToolButton()
        set_icon(button, icon)
        button.setToolTip(text)
        button.setAccessibleName(text)
        button.clicked.connect(lambda: self.step(step))
        return button

    # --- what is shown --------------------------------------------------------------------
    def set_findings(self, findings: tuple[Finding, ...]) -> None:
        """Show these: the one the maker went to if it is still among them, else the worst."""
        before = self.current if self._chosen else None
        self._findings = findings
        self._chosen = before is not None and before in findings
        self._at = findings.index(before) if before is not None and self._chosen else 0
        self._fill()

    @property
    def findings(self) -> tuple[Finding, ...]:
        """The notices, worst first."""
        return self._findings

    @property
    def current(self) -> Finding | None:
        """The notice in view."""
        return self._findings[self._at] if self._at < len(self._findings) else None

    def step(self, by: int) -> None:
        """Bring the next (or previous) notice into view, round and round, and go there."""
        if self._findings:
            self._chosen = True
            self._at = (self._at + by) % len(self._findings)
            self._show_current()
            self.go.emit(self._findings[self._at])

    def set_open(self, is_open: bool) -> None:
        """Open or close the list of all notices."""
        self._counts.setChecked(is_open)
        self._list.setVisible(is_open and bool(self._findings))
        self._wrap_rows()

    def toggle(self) -> None:
        """Open the list of all notices, or close it again."""
        self.set_open(not self._counts.isChecked())
        if self._list.isVisible():
            self._list.setFocus()

    def _fill(self) -> None:
        self._list.blockSignals(True)
        self._list.clear()
        for finding in self._findings:
            item = QTreeWidgetItem([theme.SIGNS[finding.severity], finding.message, finding.remedy])
            item.setForeground(0, theme.severity_color(finding.severity))
            item.setToolTip(1, finding.message)
            item.setToolTip(2, finding.remedy)
            self._list.addTopLevelItem(item)
        self._list.blockSignals(False)
        line = max(theme.TARGET, self._list.fontMetrics().height() + 4)
        rows = min(_ROWS_SHOWN, max(1, len(self._findings)))
        self._list.setFixedHeight(rows * line + 8)
        self._counts.setVisible(bool(self._findings))
        self._counts.setText(count_text(self._findings))
        if self._findings:
            worst = theme.severity_color(self._findings[0].severity).name()
            self._counts.setStyleSheet(f"QToolButton {{ color: {worst}; }}")
        self._counts.setAccessibleName(
            tr("Notices: {counts}").format(counts=count_text(self._findings))
        )
        if not self._findings:
            self._list.hide()
        elif self._counts.isChecked():
            self._list.show()
        self._wrap_rows()
        self._measure()
        self._show_current()

    def _wrap_rows(self) -> None:
        """Every row as high as its sentences need at the width they have."""
        if not self._list.isVisible():
            return
        metrics = self._list.fontMetrics()
        for i in range(self._list.topLevelItemCount()):
            item = self._list.topLevelItem(i)
            for column in (1, 2):
                width = max(40, self._list.columnWidth(column) - 10)
                room = QRect(0, 0, width, 10_000)
                text = item.text(column) if item is not None else ""
                high = metrics.boundingRect(room, Qt.TextFlag.TextWordWrap, text).height()
                if item is not None:
                    item.setSizeHint(column, QSize(width, max(theme.TARGET, high + 6)))
        rows = range(self._list.topLevelItemCount())
        index = self._list.model().index
        high = sum(
            max(self._list.sizeHintForIndex(index(i, c)).height() for c in (1, 2)) for i in rows
        )
        line = max(theme.TARGET, metrics.height() + 4)
        most = max(3 * line, round(_LIST_SHARE * self.window().height()))
        self._list.setFixedHeight(min(high, most) + 8)

    def _measure(self) -> None:
        """As many lines as the longest notice takes, so that going from one to the next, or work
        that begins beside it, does not move the window."""
        counts = self._counts.sizeHint().width() if self._findings else 0
        steps = 2 * self._before.sizeHint().width() + 4 * theme.NORMAL
        window = self.window().height() // max(1, self.fontMetrics().height())
        room_for = max(1, min(_MOST_LINES, window // _LEAST_ABOVE))
        most = 1
        for finding in self._findings[:_MEASURED]:
            label = self._offer(finding)
            offer = self.fontMetrics().horizontalAdvance(label) + 40 if label else 0
            room = self.width() - counts - steps - offer - ElidedButton._SIDES_PX - 2 * theme.NORMAL
            starts = line_starts(sentence_of(finding), self._sentence.font(), max(20, room))
            most = max(most, min(room_for, len(starts)))
        self._sentence.set_lines(most)

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Another width wraps otherwise."""
        super().resizeEvent(event)
        self._measure()

    def _show_current(self) -> None:
        finding = self.current
        several = len(self._findings) > 1
        self._before.setVisible(several)
        self._after.setVisible(several)
        self._sentence.setEnabled(finding is not None)
        if finding is None:
            self._sentence.set_full_text(tr("Nothing to put right."))
            self._button.setAccessibleName(tr("Remedy"))
            self._button.hide()
            return
        self._sentence.set_full_text(sentence_of(finding))
        label = self._offer(finding)
        self._button.setText(label)
        self._button.setAccessibleName(label or tr("Remedy"))
        self._button.setVisible(bool(label))
        item = self._list.topLevelItem(self._at)
        if item is not None and self._list.currentItem() is not item:
            self._list.blockSignals(True)
            self._list.setCurrentItem(item)
            self._list.blockSignals(False)

    # --- what is done ---------------------------------------------------------------------
    def _row_chosen(self, item: QTreeWidgetItem | None, _before: object) -> None:
        if item is not None:
            self._chosen = True
            self._at = self._list.indexOfTopLevelItem(item)
            self._show_current()

    def _row_clicked(self, item: QTreeWidgetItem, _column: int) -> None:
        self._chosen = True
        self._at = self._list.indexOfTopLevelItem(item)
        self._show_current()
        self._sentence_clicked()

    def _sentence_clicked(self) -> None:
        if self.current is not None:
            self.go.emit(self.current)

    def _remedy_clicked(self) -> None:
        if self.current is not None:
            self.remedy.emit(self.current)


def sentence_of(finding: Finding) -> str:
    """Sign, what is wrong and what to do, as one text."""
    text = finding.message
    if finding.remedy:
        stopped = text.endswith((".", "!", "?"))
        text = f"{text if stopped else text + '.'} {finding.remedy}"
    return f"{theme.SIGNS[finding.severity]} {text}"


class ProgressStrip(QWidget):
    """What is being worked out, how far it is, and a way to stop it."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        row = QHBoxLayout(self)
        row.setContentsMargins(0, 0, 0, 0)
        self._label = QLabel()
        self._label.setProperty("muted", True)
        self._bar = QProgressBar()
        self._bar.setRange(0, 1000)
        self._bar.setTextVisible(False)
        self._bar.setFixedSize(QSize(96, 8))
        self._bar.setAccessibleName(tr("Progress"))
        self._cancel = QToolButton()
        set_icon(self._cancel, "halt")
        self._cancel.setToolTip(tr("Stop this"))
        self._cancel.setAccessibleName(tr("Stop this"))
        self._cancel.clicked.connect(self._stop)
        row.addWidget(self._label)
        row.addWidget(self._bar)
        row.addWidget(self._cancel)
        self._jobs: list[Job] = []
        self._timer = 0  # shown only for work that takes a while
        self.hide()

    def add(self, job: Job) -> None:
        """Follow a job; it is shown once it has run for half a second."""
        if job.quiet:
            return
        self._jobs.append(job)
        job.progressed.connect(self._progressed)
        if not self._timer and not self.isVisible():
            self._timer = self.startTimer(500)

    def remove(self, job: Job) -> None:
        """The job is over."""
        if job in self._jobs:
            self._jobs.remove(job)
        if not self._jobs:
            if self._timer:
                self.killTimer(self._timer)
                self._timer = 0
            self.hide()
        else:
            self._show_last()

    def timerEvent(self, _event: QTimerEvent) -> None:
        """Half a second is over."""
        self.killTimer(self._timer)
        self._timer = 0
        if self._jobs:
            self._show_last()
            self.show()

    def _progressed(self, _fraction: float, _text: str, _partial: object) -> None:
        self._show_last()

    def _show_last(self) -> None:
        job = self._jobs[-1]
        text = in_words(job.text) or job.title
        most = round(_PROGRESS_SHARE * self.window().width())
        elided = self._label.fontMetrics().elidedText(text, Qt.TextElideMode.ElideRight, most)
        self._label.setText(elided)
        self._label.setToolTip(text if elided != text else "")
        self._bar.setValue(round(1000 * job.fraction))

    def _stop(self) -> None:
        if self._jobs:
            self._jobs[-1].cancel()
