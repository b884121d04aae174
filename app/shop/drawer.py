"""The shop slides in from the right of any stage."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from PySide6.QtCore import QEasingCurve, QPoint, QPropertyAnimation, Qt, QTimer, Signal
from PySide6.QtGui import QKeyEvent
from PySide6.QtWidgets import QFrame, QHBoxLayout, QStackedWidget, QVBoxLayout, QWidget

from app import theme
from app.commands import SHOP, Command, RenameMaterial, SetShop, SetShopList, SetShopPart
from app.context import Context
from app.i18n import tr
from app.preferences import read_shop, write_shop
from app.shop.boards import BoardsPart
from app.shop.fits import FitsPart
from app.shop.parts import sections
from app.shop.test_piece import TestPieceDialog
from app.widgets.forms import Heading, button, scrolling, tool, words
from app.wording import error_in_words
from core.errors import SeamwrightError

_WIDTH_CHARS = 56


class ShopDrawer(QFrame):
    """Machine, bits, boards, sheets, distances, fits and limits over the right of a stage."""

    closed = Signal()
    covers = Signal(int)  # pixels of the stage's right side that the drawer lies over

    def __init__(self, context: Context, parent: QWidget) -> None:
        super().__init__(parent)
        self._context = context
        self._is_in = False
        self.setObjectName("shop")
        self.setAccessibleName(tr("Shop"))
        column = QVBoxLayout(self)
        column.setContentsMargins(theme.NORMAL, theme.NORMAL, theme.NORMAL, theme.NORMAL)
        head = QHBoxLayout()
        head.addWidget(Heading(tr("Shop")), 1)
        self.close_button = tool(tr("Close the shop (Esc)"), self.slide_out, "close")
        head.addWidget(self.close_button)
        column.addLayout(head)
        self.problem = words()
        self.problem.setProperty("severity", "stop")
        self.problem.hide()
        column.addWidget(self.problem)
        inside = QWidget()
        inside_column = QVBoxLayout(inside)
        inside_column.setContentsMargins(0, 0, theme.NORMAL, 0)
        self._area = scrolling(inside)
        column.addWidget(self._area, 1)  # before it is filled: a full one is styled once more
        self._sections = {}
        self.parts = {}
        for key, section, part in sections():
            inside_column.addWidget(section)
            part.wanted.connect(self._wanted)
            part.command_wanted.connect(self._run)
            if isinstance(part, FitsPart):
                part.test_wanted.connect(self.test_piece)
            if isinstance(part, BoardsPart):
                part.renamed.connect(self._rename_board)
            self._sections[key] = section
            self.parts[key] = part
        inside_column.addStretch(1)
        foot = QHBoxLayout()
        foot.addWidget(
            button(tr("Keep as mine"), self._keep, "save", tr("New projects begin with this shop"))
        )
        foot.addWidget(
            button(
                tr("Export…"),
                self._export,
                "export",
                tr("Write this shop into a file for another project or person"),
            )
        )
        foot.addWidget(
            button(
                tr("Import…"),
                self._import,
                "import",
                tr("Take the shop of a project or exported file"),
            )
        )
        column.addLayout(foot)
        self._slide = QPropertyAnimation(self, b"pos", self)
        self._slide.setEasingCurve(QEasingCurve.Type.OutCubic)
        self._slide.finished.connect(self._slid)
        context.document.changed.connect(self._on_changed)
        theme.watcher().changed.connect(self._style)
        if isinstance(parent, QStackedWidget):
            parent.currentChanged.connect(self._stay_on_top)
        self._style()
        self.hide()

    def _stay_on_top(self, _index: int) -> None:
        """Another stage came to the front; the drawer stays over it."""
        if self._is_in:
            self.raise_()

    def _style(self) -> None:
        c = {name: theme.color(name).name() for name in ("desk", "hairline")}
        self.setStyleSheet(
            f"QFrame#shop {{ background: {c['desk']}; border: 0;"
            f" border-left: 1px solid {c['hairline']}; }}"
        )

    # --- sliding --------------------------------------------------------------------------
    @property
    def is_in(self) -> bool:
        """True while the drawer is open or opening."""
        return self._is_in

    def _in_rect(self) -> tuple[int, int, int]:
        parent = self.parentWidget()
        assert parent is not None
        wanted = self.fontMetrics().averageCharWidth() * _WIDTH_CHARS + 40
        width = min(wanted, parent.width())
        return parent.width() - width, width, parent.height()

    def place(self) -> None:
        """Keep to the right edge when the window changes its size."""
        x, width, height = self._in_rect()
        self.resize(width, height)
        self._slide.stop()
        self.move(x if self._is_in else x + width, 0)
        if self._is_in:
            self.covers.emit(width)

    def slide_in(self, section: str = "") -> None:
        """Show the drawer, at a section if one is named; "test-piece" opens the test piece too."""
        if section == "test-piece":
            section = "fits"
            self.test_piece()
        x, width, height = self._in_rect()
        self.resize(width, height)
        if not self._is_in:
            self._is_in = True
            self._fill()
            self._go(QPoint(x + width, 0), QPoint(x, 0))
            self.covers.emit(width)
        self.show()
        self.raise_()
        if section in self._sections:
            found = self._sections[section]
            found.open()
            inside = self._area.widget()
            assert inside is not None
            inside.adjustSize()
            self._area.verticalScrollBar().setValue(found.y())
            found.head.setFocus()
            # Its cards have their heights a turn later.
            QTimer.singleShot(0, self, lambda: self._area.verticalScrollBar().setValue(found.y()))
        else:
            self.close_button.setFocus()

    def slide_out(self) -> None:
        """Put the drawer away."""
        if not self._is_in:
            return
        self._is_in = False
        x, width, _ = self._in_rect()
        self._go(self.pos(), QPoint(x + width, 0))
        self.covers.emit(0)
        self.closed.emit()

    def _go(self, start: QPoint, end: QPoint) -> None:
        self._slide.stop()
        if theme.motion_ms() == 0:
            self.move(end)
            self._slid()
            return
        self.move(start)
        self._slide.setStartValue(start)
        self._slide.setEndValue(end)
        self._slide.setDuration(theme.motion_ms())
        self._slide.start()

    def _slid(self) -> None:
        if not self._is_in:
            self.hide()

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Escape closes."""
        if event.key() == Qt.Key.Key_Escape:
            self.slide_out()
            return
        super().keyPressEvent(event)

    # --- values ---------------------------------------------------------------------------
    def _on_changed(self, change: object) -> None:
        if self._is_in:
            self._fill()

    def _fill(self) -> None:
        project = self._context.document.project
        for part in self.parts.values():
            part.fill(project)

    def _wanted(self, text: str, what: str, value: object) -> None:
        command: Command
        if what in ("machine", "rules", "limits"):
            assert isinstance(value, tuple)
            command = SetShopPart(text, what, (value,))
        else:
            command = SetShopList(text, what, value)  # type: ignore[arg-type]
        self._run(command)

    def _rename_board(self, old: str, new: str) -> None:
        self._run(RenameMaterial(tr("Rename board to {name}").format(name=new), old, new))

    def _run(self, command: Command) -> None:
        try:
            self._context.document.run(command, sender=self)
        except SeamwrightError as error:
            self._tell(error_in_words(error))
            self._fill()
            return
        self._tell("")

    def test_piece(self) -> TestPieceDialog:
        """Open the test piece: its drawing, its page, its result."""
        dialog = TestPieceDialog(self._context, self.window())
        dialog.open()
        return dialog

    def _tell(self, sentence: str, severity: str = "stop") -> None:
        theme.mark(self.problem, "severity", severity)
        self.problem.setText(sentence)
        self.problem.setVisible(bool(sentence))

    # --- the maker's shop -----------------------------------------------------------------
    def _guarded(self, act: Callable[[], None], done: str) -> None:
        try:
            act()
        except SeamwrightError as error:
            self._tell(error_in_words(error))
        else:
            self._tell(done, "good")

    def _keep(self) -> None:
        shop = self._context.document.project.shop
        self._guarded(
            lambda: self._context.preferences.set_default_shop(shop),
            tr("New projects now begin with this shop."),
        )

    def _export(self) -> None:
        chosen = self._context.ask.save_file(
            tr("Export the shop"), tr("Shops (*.json)"), suggestion="shop.json"
        )
        if chosen:
            path = Path(chosen)
            path = path if path.suffix else path.with_suffix(".json")
            shop = self._context.document.project.shop
            self._guarded(
                lambda: write_shop(shop, path), tr("Written: {file}").format(file=path.name)
            )

    def _import(self) -> None:
        chosen = self._context.ask.open_file(
            tr("Import a shop"), tr("Shops and projects (*.json);;All files (*)")
        )
        if chosen:

            def act() -> None:
                shop = read_shop(Path(chosen))
                self._context.document.run(
                    SetShop(tr("Import a shop"), shop, frozenset({SHOP})), sender=self
                )
                self._fill()

            self._guarded(
                act, tr("This project now has the shop of {file}.").format(file=Path(chosen).name)
            )
