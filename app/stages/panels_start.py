"""What an empty project shows: what to do, where to drop, and demos one click away."""

from __future__ import annotations

from collections.abc import Callable

from PySide6.QtCore import QEvent, QRectF, QSize, Qt, Signal
from PySide6.QtGui import QPainter, QPaintEvent, QPen, QResizeEvent
from PySide6.QtWidgets import (
    QBoxLayout,
    QFrame,
    QGridLayout,
    QHBoxLayout,
    QLabel,
    QPushButton,
    QScrollArea,
    QSizePolicy,
    QVBoxLayout,
    QWidget,
)

from app import theme
from app.demos import Demo, demos
from app.i18n import tr
from app.widgets.forms import Heading, words
from app.widgets.icons import set_icon

_NARROW_CHARS = 60  # of the usual width, below which nothing stands side by side


class DropTarget(QWidget):
    """A dashed field with an icon, a sentence and buttons."""

    def __init__(self, text: str, buttons: list[QPushButton]) -> None:
        super().__init__()
        column = QVBoxLayout(self)
        column.setContentsMargins(theme.WIDE, theme.WIDE, theme.WIDE, theme.WIDE)
        self._icon = QLabel()
        self._icon.setAlignment(Qt.AlignmentFlag.AlignCenter)
        column.addWidget(self._icon)
        label = Heading(text)
        label.setAlignment(Qt.AlignmentFlag.AlignCenter)
        column.addWidget(label)
        self.row = QHBoxLayout()
        self.row.addStretch(1)
        for button in buttons:
            self.row.addWidget(button)
        self.row.addStretch(1)
        column.addLayout(self.row)
        self._retint()
        theme.watcher().changed.connect(self._retint)

    def _retint(self) -> None:
        ratio = self.devicePixelRatioF()
        self._icon.setPixmap(theme.pixmap("drop", "accent", 48, ratio))

    def paintEvent(self, _event: QPaintEvent) -> None:
        """The dashed edge."""
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        painter.setPen(QPen(theme.color("control"), 1.5, Qt.PenStyle.DashLine))
        painter.setBrush(theme.color("paper"))
        painter.drawRoundedRect(QRectF(self.rect()).adjusted(1, 1, -1, -1), 8, 8)


class StartPage(QScrollArea):
    """The empty state of the first stage."""

    demo_chosen = Signal(object)  # Demo
    shop_wanted = Signal()

    def __init__(
        self, choose: Callable[[], None], type_size: Callable[[], None], paste: Callable[[], None]
    ) -> None:
        super().__init__()
        self.setWidgetResizable(True)
        self.setFrameShape(QFrame.Shape.NoFrame)
        page = QWidget()
        outer = QHBoxLayout(page)
        outer.addStretch(1)
        column = QVBoxLayout()
        column.setSpacing(theme.WIDE)
        column.addStretch(1)
        outer.addLayout(column, 6)
        outer.addStretch(1)

        self.choose_button = QPushButton(tr("Choose drawings…"))
        self.choose_button.setProperty("primary", True)
        self.choose_button.clicked.connect(choose)
        self.size_button = QPushButton(tr("Type a size…"))
        self.size_button.clicked.connect(type_size)
        self.paste_button = QPushButton(tr("Paste a list…"))
        self.paste_button.clicked.connect(paste)
        target = DropTarget(
            tr("Drop the drawings of your panels here (DXF or SVG), or a list (CSV)"),
            [self.choose_button, self.size_button, self.paste_button],
        )
        column.addWidget(target)

        self._steps = QGridLayout()
        self._steps.setHorizontalSpacing(theme.WIDE)
        self._steps.setVerticalSpacing(theme.TIGHT)
        self._told: list[tuple[QWidget, QWidget]] = []
        for title, text in (
            (
                tr("1 Panels"),
                tr("Draw each part as a closed outline, full size. Say what board it is."),
            ),
            (
                tr("2 Joints"),
                tr("What is larger than the machine is cut into pieces that lock together."),
            ),
            (
                tr("3 Sheets"),
                tr("Pieces are laid on your sheets, sheets sawn into blanks that you can lift."),
            ),
            (
                tr("4 Cut list"),
                tr("Print the pages for the saw and the bench; export drawings for the router."),
            ),
        ):
            text_label = words(text)
            text_label.setAlignment(Qt.AlignmentFlag.AlignTop)
            self._told.append((Heading(title), text_label))
        column.addLayout(self._steps)

        shop_row = QHBoxLayout()
        shop_row.setSpacing(theme.NORMAL)
        self.shop_button = QPushButton(tr("Set up the shop…"))
        set_icon(self.shop_button, "shop")
        self.shop_button.clicked.connect(self.shop_wanted)
        shop_row.addWidget(self.shop_button)
        shop_row.addWidget(
            words(tr("The machine, bits, boards and sheets that you have: once for all projects.")),
            1,
        )
        column.addLayout(shop_row)

        self._rows = [target.row, shop_row]
        found = demos()
        if found:
            column.addWidget(words(tr("Or look round in a demo first:")))
            row = QHBoxLayout()
            self.demo_buttons = [self._demo_button(demo) for demo in found]
            for button in self.demo_buttons:
                row.addWidget(button, 1)
            column.addLayout(row)
            self._rows.append(row)
        else:
            self.demo_buttons = []
        column.addStretch(2)
        self._columns = 0
        self._arrange()
        self.setWidget(page)

    def _arrange(self) -> None:
        """In a narrow room, or in large text, things go below each other."""
        narrow = self.viewport().width() < _NARROW_CHARS * self.fontMetrics().averageCharWidth()
        columns = 2 if narrow else 4
        if columns == self._columns:
            return
        self._columns = columns
        way = QBoxLayout.Direction.TopToBottom if narrow else QBoxLayout.Direction.LeftToRight
        for row in self._rows:
            row.setDirection(way)
        for i, pair in enumerate(self._told):
            for k, label in enumerate(pair):
                self._steps.addWidget(label, 2 * (i // columns) + k, i % columns)
        for i in range(4):
            self._steps.setColumnStretch(i, 1 if i < columns else 0)

    def resizeEvent(self, event: QResizeEvent) -> None:
        """The shop has come or gone, or the window has another size."""
        super().resizeEvent(event)
        self._arrange()

    def changeEvent(self, event: QEvent) -> None:
        """Text of another size."""
        super().changeEvent(event)
        if event.type() == QEvent.Type.FontChange and hasattr(self, "_columns"):
            self._arrange()

    def _demo_button(self, demo: Demo) -> QPushButton:
        button = DemoButton(demo)
        button.clicked.connect(lambda: self.demo_chosen.emit(demo))
        return button


class DemoButton(QPushButton):
    """A card with a demo's title and a line about it."""

    def __init__(self, demo: Demo) -> None:
        super().__init__()
        self.demo = demo
        self.setAccessibleName(
            tr("Open the demo {title}: {about}").format(title=demo.title, about=demo.about)
        )
        self.setToolTip(tr("Open this demo; your own files stay untouched"))
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Minimum)
        column = QVBoxLayout(self)
        self._column = column
        column.setContentsMargins(theme.NORMAL, theme.NORMAL, theme.NORMAL, theme.NORMAL)
        title = Heading(demo.title)
        about = words(demo.about)
        for label in (title, about):
            label.setAttribute(Qt.WidgetAttribute.WA_TransparentForMouseEvents)
            column.addWidget(label)
        column.addStretch(1)

    def sizeHint(self) -> QSize:
        """As large as what it holds, at the width it has."""
        hint = self._column.totalSizeHint()
        width = max(self.width(), 160)
        hint.setHeight(max(hint.height(), self._column.totalHeightForWidth(width)))
        return hint

    def minimumSizeHint(self) -> QSize:
        """Nothing is clipped."""
        hint = self.sizeHint()
        hint.setWidth(140)
        return hint

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Another width wraps the text otherwise."""
        super().resizeEvent(event)
        self.updateGeometry()
