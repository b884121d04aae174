"""Rows and sections of the side columns: label above or beside, nothing clipped."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from itertools import pairwise
from typing import Any

from PySide6.QtCore import QEvent, QObject, QPoint, QSize, Qt, QTimer, Signal
from PySide6.QtGui import QIcon, QResizeEvent, QWheelEvent
from PySide6.QtWidgets import (
    QApplication,
    QComboBox,
    QDialog,
    QDialogButtonBox,
    QFormLayout,
    QFrame,
    QHBoxLayout,
    QLabel,
    QLayout,
    QListWidget,
    QPushButton,
    QScrollArea,
    QSizePolicy,
    QStyledItemDelegate,
    QTableWidget,
    QToolButton,
    QVBoxLayout,
    QWidget,
)

from app import theme
from app.i18n import tr
from app.widgets.focus_chain import previous_in_chain
from app.widgets.icons import set_icon

_MOST_CHARS = 26  # of an option that a column makes room for
_CHROME_PX = 18  # frame and padding of a drop-down list, beside its arrow


class Choice(QComboBox):
    """One of a few values. chosen(value) when the maker picked another.

    options: (value, text) rows. With mixed values shown nothing is chosen. The wheel scrolls
    the column and never changes the value by accident.
    """

    chosen = Signal(object)

    def __init__(
        self, name: str, options: Sequence[tuple[Any, str]] = (), parent: QWidget | None = None
    ) -> None:
        super().__init__(parent)
        self._values: list[Any] = []
        self.setAccessibleName(name)
        self.setToolTip(name)
        self.setMinimumHeight(theme.TARGET)
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setSizeAdjustPolicy(QComboBox.SizeAdjustPolicy.AdjustToMinimumContentsLengthWithIcon)
        self.setMinimumContentsLength(8)
        self.setItemDelegate(QStyledItemDelegate(self))  # the one that follows the style sheet
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)
        self.setPlaceholderText(tr("several"))
        self.set_options(options)
        self.activated.connect(self._picked)

    def set_options(self, options: Sequence[tuple[Any, str]]) -> None:
        """Other values to choose from; the choice is kept if it is still there."""
        before = self.value
        if [value for value, _ in options] == self._values and [
            self.itemText(i) for i in range(self.count())
        ] == [text for _, text in options]:
            return
        self.blockSignals(True)
        self.clear()
        self._values = [value for value, _ in options]
        for _, text in options:
            self.addItem(text)
        self.updateGeometry()
        self.blockSignals(False)
        self.set_value(before)

    @property
    def value(self) -> Any:
        """The value chosen, None if none is."""
        index = self.currentIndex()
        return self._values[index] if 0 <= index < len(self._values) else None

    def set_value(self, value: Any) -> None:
        """Show a value without telling; one that is not among the options shows nothing."""
        self.setCurrentIndex(self._values.index(value) if value in self._values else -1)

    def _picked(self, index: int) -> None:
        self.chosen.emit(self._values[index])

    def wheelEvent(self, event: QWheelEvent) -> None:
        """Left to the column around it."""
        event.ignore()

    def showPopup(self) -> None:
        """The list is as wide as its longest line, however narrow the field is."""
        view = self.view()
        view.setMinimumWidth(max(self.width(), view.sizeHintForColumn(0) + 4))
        super().showPopup()

    def minimumSizeHint(self) -> QSize:
        """Wide enough for every option, so that none is cut off, but not wider than a column."""
        hint = super().minimumSizeHint()
        metrics = self.fontMetrics()
        longest = max((metrics.horizontalAdvance(text) for text in self._texts()), default=0)
        most = metrics.averageCharWidth() * _MOST_CHARS
        wide = min(longest, most) + _CHROME_PX + theme.arrow_px()
        return QSize(max(hint.width(), wide), hint.height())

    def sizeHint(self) -> QSize:
        """As wide as what it holds."""
        return super().sizeHint().expandedTo(self.minimumSizeHint())

    def _texts(self) -> list[str]:
        return [self.itemText(i) for i in range(self.count())]


_LABEL_GAP_PX = 6  # between a label and its field
_LABEL_DROP_PX = 2  # puts a label on the line of its field's text


class Rows(QWidget):
    """Labelled fields below each other; long labels go above their field."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._form = QFormLayout(self)
        self._form.setContentsMargins(0, 0, 0, 0)
        # The gap is the label's own: Qt would indent the fields below their labels by it where
        # no row has its label beside it.
        self._form.setHorizontalSpacing(0)
        self._form.setVerticalSpacing(theme.NORMAL)
        self._form.setRowWrapPolicy(QFormLayout.RowWrapPolicy.WrapLongRows)
        self._form.setFieldGrowthPolicy(QFormLayout.FieldGrowthPolicy.ExpandingFieldsGrow)
        self._form.setLabelAlignment(Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignTop)

    def add(self, label: str, field: QWidget, tip: str = "") -> QWidget:
        """A row; the label is the field's buddy. Returns the field."""
        text = QLabel(label)
        text.setProperty("muted", True)
        text.setBuddy(field)
        text.setContentsMargins(0, _LABEL_DROP_PX, _LABEL_GAP_PX, 0)
        if tip:
            text.setToolTip(tip)
            field.setToolTip(tip)
        self._form.addRow(text, field)
        return field

    def add_wide(self, widget: QWidget) -> QWidget:
        """A row across the whole width."""
        self._form.addRow(widget)
        return widget

    def set_row_visible(self, field: QWidget, visible: bool) -> None:
        """Show or hide a row with its label."""
        self._form.setRowVisible(field, visible)


class Section(QWidget):
    """A heading that opens and closes what stands below it."""

    def __init__(
        self, title: str, icon: str = "", *, is_open: bool = True, parent: QWidget | None = None
    ) -> None:
        super().__init__(parent)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(theme.TIGHT)
        self.head = QToolButton()
        self.head.setText(title)
        self.head.setCheckable(True)
        self.head.setChecked(is_open)
        self.head.setToolButtonStyle(Qt.ToolButtonStyle.ToolButtonTextBesideIcon)
        self.head.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)
        self.head.setStyleSheet(
            "QToolButton:checked:!focus { background: transparent; border-color: transparent; }"
        )
        self.head.setToolTip(tr("Show or hide {title}").format(title=title))
        set_icon(self.head, "chevron-down" if is_open else "chevron-right")
        head = QHBoxLayout()
        head.setSpacing(theme.TIGHT)
        head.addWidget(self.head, 1)
        if icon:
            self._icon = QLabel()
            self._icon_name = icon
            self._tint()
            theme.watcher().changed.connect(self._tint)
            head.addWidget(self._icon)
        column.addLayout(head)
        self.body = QWidget()
        self.layout_ = QVBoxLayout(self.body)
        self.layout_.setContentsMargins(theme.NORMAL, 0, 0, theme.NORMAL)
        self.layout_.setSpacing(theme.NORMAL)
        column.addWidget(self.body)
        self.body.setVisible(is_open)
        self.head.toggled.connect(self._toggle)

    def _toggle(self, on: bool) -> None:
        self.body.setVisible(on)
        set_icon(self.head, "chevron-down" if on else "chevron-right")

    def _tint(self) -> None:
        size = theme.icon_px()
        ratio = self.devicePixelRatioF()
        self._icon.setPixmap(theme.pixmap(self._icon_name, "muted", size, ratio))

    def add(self, widget: QWidget) -> QWidget:
        """Put a widget below what is there."""
        self.layout_.addWidget(widget)
        return widget

    def open(self) -> None:
        """Show the body."""
        self.head.setChecked(True)


class Heading(QLabel):
    """A title, one size up, no bold wall; it follows the size of the application's text."""

    def __init__(self, text: str = "", parent: QWidget | None = None) -> None:
        super().__init__(text, parent)
        self.setWordWrap(True)
        self.setTextFormat(Qt.TextFormat.PlainText)
        self._resize_font()
        theme.watcher().changed.connect(self._resize_font)

    def _resize_font(self) -> None:
        font = QApplication.font()
        font.setPointSizeF(font.pointSizeF() * 1.2)
        self.setFont(font)


def heading(text: str) -> Heading:
    """A title, one size up."""
    return Heading(text)


def words(text: str = "", *, muted: bool = True) -> QLabel:
    """A sentence that wraps."""
    label = QLabel(text)
    label.setWordWrap(True)
    label.setTextFormat(Qt.TextFormat.PlainText)
    if muted:
        label.setProperty("muted", True)
    return label


def button(
    text: str, slot: object, icon: str = "", tip: str = "", *, primary: bool = False
) -> QPushButton:
    """A push button with one of our icons. primary: the one thing to do here."""
    made = QPushButton(text)
    made.setProperty("primary", primary)
    if icon:
        set_icon(made, icon, "on-accent" if primary else "ink")
    if tip:
        made.setToolTip(tip)
    made.clicked.connect(slot)
    return made


def tool(name: str, slot: object, icon: str) -> QToolButton:
    """A small button that is only an icon; its name is tooltip and accessible name."""
    made = QToolButton()
    set_icon(made, icon)
    made.setToolTip(name)
    made.setAccessibleName(name)
    made.clicked.connect(slot)
    return made


def close_box(dialog: QDialog) -> QDialogButtonBox:
    """The row with the one button of a dialog that needs no confirming."""
    box = QDialogButtonBox(QDialogButtonBox.StandardButton.Close)
    close = box.button(QDialogButtonBox.StandardButton.Close)
    close.setText(tr("Close"))
    close.setIcon(QIcon())  # the style's own is black on any ground
    box.rejected.connect(dialog.reject)
    return box


def enter_presses_nothing(dialog: QDialog) -> None:
    """Enter in a field of this dialog takes the field's value and presses no button."""
    for found in dialog.findChildren(QPushButton):
        found.setAutoDefault(False)
        found.setDefault(False)


def empty_layout(layout: QLayout) -> None:
    """Remove every widget of a layout."""
    while layout.count():
        item = layout.takeAt(0)
        widget = item.widget() if item is not None else None
        if widget is not None:
            widget.hide()
            widget.deleteLater()


def row_of(*widgets: QWidget, stretch: int = -1) -> QWidget:
    """Widgets side by side; stretch: index of the one that takes the room."""
    holder = QWidget()
    layout = QHBoxLayout(holder)
    layout.setContentsMargins(0, 0, 0, 0)
    layout.setSpacing(theme.TIGHT)
    for i, widget in enumerate(widgets):
        layout.addWidget(widget, 1 if i == stretch else 0)
    if stretch < 0:
        layout.addStretch(1)
    return holder


def align_heads(table: QTableWidget, *texts: int) -> None:
    """Heads stand over what is below them: at the left in these columns, else over numbers."""
    for column in range(table.columnCount()):
        head = table.horizontalHeaderItem(column)
        side = Qt.AlignmentFlag.AlignLeft if column in texts else Qt.AlignmentFlag.AlignRight
        if head is not None:
            head.setTextAlignment(side | Qt.AlignmentFlag.AlignVCenter)


def put_before(widget: QWidget, other: QWidget) -> None:
    """Tab goes through what is inside widget just before it comes to other.

    Qt puts what is made later at the end of the window, wherever it is shown.
    """
    inside = [
        one
        for one in (widget, *widget.findChildren(QWidget))
        if one.focusPolicy() & Qt.FocusPolicy.TabFocus and one.window() is other.window()
    ]
    before = previous_in_chain(other)
    if before is None:
        return
    for first, second in pairwise([before, *inside, other]):
        QWidget.setTabOrder(first, second)


def bring_into_view(widget: QWidget, wanted: Callable[[], bool] = lambda: True) -> None:
    """Scroll the column round a widget so that all of it shows, or its top if it is higher.

    Once the widgets have their places, which a new one has not before the next turn. wanted:
    whether it is still to be done then.
    """

    def scroll() -> None:
        parent = widget.parentWidget()
        while parent is not None and not isinstance(parent, QScrollArea):
            parent = parent.parentWidget()
        inside = parent.widget() if isinstance(parent, QScrollArea) else None
        if not isinstance(parent, QScrollArea) or inside is None or not wanted():
            return
        layout = inside.layout()
        if layout is not None:
            layout.activate()
        bar, view = parent.verticalScrollBar(), parent.viewport().height()
        top = widget.mapTo(inside, QPoint(0, 0)).y()
        bottom = top + widget.height()
        if bottom > bar.value() + view:
            bar.setValue(min(top, bottom - view) if widget.height() <= view else top)
        elif top < bar.value():
            bar.setValue(top)

    for wait_ms in (0, 50):  # the column takes a turn or two to grow with what it holds
        QTimer.singleShot(wait_ms, widget, scroll)


class WrappedList(QListWidget):
    """A list whose lines wrap and are never cut off, whatever its width."""

    _SIDES_PX = 16  # padding and focus frame left and right of a line
    _AROUND_PX = 8  # padding above and below

    def __init__(self, name: str) -> None:
        super().__init__()
        self.setAccessibleName(name)
        self.setStyleSheet("QListWidget::item { padding: 4px 2px; }")
        self.setTextElideMode(Qt.TextElideMode.ElideNone)
        self.setWordWrap(True)
        self.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)

    def fit(self) -> None:
        """Every line as high as its words need; to be called when they are others."""
        metrics = self.fontMetrics()
        width = max(40, self.viewport().width() - self._SIDES_PX)
        for i in range(self.count()):
            text = self.item(i).text()
            room = metrics.boundingRect(0, 0, width, 10_000, Qt.TextFlag.TextWordWrap, text)
            high = max(theme.TARGET - 2, room.height() + self._AROUND_PX)
            self.item(i).setSizeHint(QSize(width, high))

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Another width, or a scroll bar that takes some of it."""
        super().resizeEvent(event)
        self.fit()


class ScrollColumn(QScrollArea):
    """Scrolls up and down only, and is never narrower than what it holds."""

    def minimumSizeHint(self) -> QSize:
        """The width inside and the scroll bar's."""
        hint = super().minimumSizeHint()
        inside = self.widget()
        if inside is not None:
            bar = self.verticalScrollBar().sizeHint().width()
            hint.setWidth(inside.minimumSizeHint().width() + bar)
        return hint

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        """What is inside needs another width now."""
        if watched is self.widget() and event.type() == QEvent.Type.LayoutRequest:
            self.updateGeometry()
        return super().eventFilter(watched, event)


class WholeColumn(ScrollColumn):
    """Asks for the height of all it holds, and scrolls only where it does not get it."""

    def __init__(self) -> None:
        super().__init__()
        policy = self.sizePolicy()
        policy.setHeightForWidth(True)
        self.setSizePolicy(policy)

    def sizeHint(self) -> QSize:
        """The size of what is inside."""
        inside = self.widget()
        return super().sizeHint() if inside is None else inside.sizeHint()

    def hasHeightForWidth(self) -> bool:
        """Sentences inside wrap."""
        return True

    def heightForWidth(self, width: int) -> int:
        """What the sentences and fields inside need at this width."""
        inside = self.widget()
        if inside is None or not inside.hasHeightForWidth():
            return self.sizeHint().height()
        return inside.heightForWidth(width)


def scrolling(widget: QWidget, *, whole: bool = False) -> QScrollArea:
    """The widget in a column that scrolls up and down only. whole: see WholeColumn."""
    area = WholeColumn() if whole else ScrollColumn()
    area.setWidget(widget)
    area.setWidgetResizable(True)
    area.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
    area.setFrameShape(QFrame.Shape.NoFrame)
    area.setFocusPolicy(Qt.FocusPolicy.NoFocus)
    return area
