"""What a stage of the work is to the window that hosts it."""

from __future__ import annotations

from PySide6.QtCore import Signal
from PySide6.QtGui import QAction, QFontMetrics, QShowEvent
from PySide6.QtWidgets import QApplication, QHBoxLayout, QVBoxLayout, QWidget

from app import theme
from app.context import Context
from app.widgets.dividers import Divided
from core.findings import Finding

LEFT_WIDTH = 220  # logical pixels, more where the text is large
RIGHT_WIDTH = 300
MOST_FOR_SIDES = 0.6  # of the width, however large the text is


class Stage(QWidget):
    """One of the four stages: what there is on the left, the drawing in the middle, the
    selection on the right.

    ``left``, ``centre`` and ``right`` are empty widgets with a vertical layout each
    (``left_layout`` …); a side that stays unused is hidden with ``set_sides``. Subclasses set
    ``title`` (one word, on the tab), give ``status_text`` ("3 to decide") and emit
    ``status_changed`` when it changes. What the window asks or tells is answered here for a
    stage that has nothing to show, offer or put away; one that has, answers for itself.
    """

    title: str = ""
    status_changed = Signal()
    #: (severity name or "", sentence): a line for the window's notice strip that is no finding
    message = Signal(str, str)
    #: (stage key "panels", "joints", "sheets" or "cut list", panel id or ""): go there
    stage_wanted = Signal(str, str)
    #: section of the shop to open: "machine", "bits", "boards", "stock", "fits", "rules" or ""
    shop_wanted = Signal(str)
    #: the remedy button of a finding was pressed somewhere on the stage
    remedy_wanted = Signal(object)

    def __init__(self, context: Context, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.context = context
        self.document = context.document
        self.derived = context.derived
        self.jobs = context.jobs
        self.ask = context.ask
        self.preferences = context.preferences
        row = QHBoxLayout(self)
        row.setContentsMargins(0, 0, 0, 0)
        self.splitter = Divided()
        row.addWidget(self.splitter)
        self.left, self.left_layout = self._side(theme.NORMAL)
        self.centre, self.centre_layout = self._side(0)
        self.right, self.right_layout = self._side(theme.NORMAL)
        for widget in (self.left, self.centre, self.right):
            self.splitter.addWidget(widget)
        self.splitter.setStretchFactor(0, 0)
        self.splitter.setStretchFactor(1, 1)
        self.splitter.setStretchFactor(2, 0)
        self._seen = False
        self._sides_scale = self._text_scale()
        self._sides_wish = (float(LEFT_WIDTH), float(RIGHT_WIDTH))  # at the usual size of text
        self.splitter.setSizes(
            [round(LEFT_WIDTH * self._sides_scale), 1000, round(RIGHT_WIDTH * self._sides_scale)]
        )
        self.splitter.splitterMoved.connect(self._sides_moved)
        theme.watcher().changed.connect(self._follow_text)

    @staticmethod
    def _text_scale() -> float:
        """How much larger than usual the text is; sides grow with it, but not below."""
        return max(1.0, QFontMetrics(QApplication.font()).height() / 15.0)

    def _follow_text(self) -> None:
        """The sides grow and shrink with the text, but leave the middle its part; what the maker
        set keeps its proportion."""
        now = self._text_scale()
        if abs(now - self._sides_scale) < 0.01:
            return
        self._sides_scale = now
        self._fit_sides()

    def showEvent(self, event: QShowEvent) -> None:
        """Large text from the start: the middle has its part all the same."""
        super().showEvent(event)
        if not self._seen:
            self._seen = True
            self._fit_sides()

    def _fit_sides(self) -> None:
        total = sum(self.splitter.sizes())
        left, right = (wish * self._sides_scale for wish in self._sides_wish)
        part = min(1.0, MOST_FOR_SIDES * total / max(left + right, 1.0))
        wide = round(left * part), round(right * part)
        self.splitter.setSizes([wide[0], max(0, total - sum(wide)), wide[1]])

    def _sides_moved(self, _place: int, _index: int) -> None:
        """The maker has moved a divider."""
        left, _, right = self.splitter.sizes()
        if left and right:
            self._sides_wish = left / self._sides_scale, right / self._sides_scale

    @staticmethod
    def _side(margin: int) -> tuple[QWidget, QVBoxLayout]:
        widget = QWidget()
        layout = QVBoxLayout(widget)
        layout.setContentsMargins(margin, margin, margin, margin)
        layout.setSpacing(theme.NORMAL)
        return widget, layout

    def set_sides(self, *, left: bool = True, right: bool = True) -> None:
        """Show or hide the side columns."""
        self.left.setVisible(left)
        self.right.setVisible(right)

    # --- what the window asks -------------------------------------------------------------
    def status_text(self) -> str:
        """What is left to do here, a few words with a number; "" if there is nothing to say."""
        return ""

    def shows(self, finding: Finding) -> bool:
        """True if show_finding can bring the view to the finding's place."""
        return False

    def show_finding(self, finding: Finding) -> None:
        """Bring the view to the finding's place and let it be seen."""

    def offer(self, finding: Finding) -> str:
        """What this stage can do about the finding at one press ("Move it apart"), or ""."""
        return ""

    def take_offer(self, finding: Finding) -> None:
        """Do what offer said."""

    def stage_actions(self) -> list[QAction]:
        """Actions for the window's menu while this stage is in front, shortcuts included."""
        return []

    def keys(self) -> list[tuple[str, str]]:
        """(keys, what they do) beyond stage_actions, for the keyboard reference."""
        return []

    def show_panel(self, panel_id: str) -> None:
        """Another stage asked to see this panel here."""

    def offered(self, finding: Finding) -> str:
        """What the whole window can do about a finding at one press, "" if nothing."""
        window = self.window()
        offer = getattr(window, "offer_of", None)
        return str(offer(finding)) if offer is not None else self.offer(finding)

    def entered(self) -> None:
        """The stage has come to the front."""

    def left_behind(self) -> None:
        """Another stage has come to the front."""

    def covered(self, right_px: int) -> None:
        """The shop lies over this much of the stage's right side, 0 when it is away."""
