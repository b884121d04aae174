"""The window: four stages along the top, notices along the bottom, the shop from the right."""

from __future__ import annotations

from PySide6.QtCore import QEvent, QSize, Qt, QTimer
from PySide6.QtGui import (
    QCloseEvent,
    QDragEnterEvent,
    QDropEvent,
    QResizeEvent,
)
from PySide6.QtWidgets import (
    QHBoxLayout,
    QMainWindow,
    QStackedWidget,
    QTabBar,
    QToolButton,
    QVBoxLayout,
    QWidget,
)

from app import theme
from app.ask import Ask
from app.context import Context
from app.derived import Derived
from app.document import Document
from app.files import Files, is_drawing
from app.fixes import Fixes
from app.i18n import tr
from app.jobs import Job
from app.preferences import Preferences
from app.recovery import Leftover, Recovery
from app.stages.base import Stage
from app.widgets.banner import Banner
from app.widgets.notices import Notices, ProgressStrip
from app.window_menus import Menus
from app.wording import error_in_words
from core.errors import SeamwrightError
from core.findings import Finding

APP_NAME = "Seamwright"
STAGE_KEYS = ("panels", "joints", "sheets", "cut list")
_NOTE = "note"  # the key of what is told and goes away by itself


class MainWindow(QMainWindow):
    """Hosts the stages and everything they share."""

    def __init__(
        self,
        document: Document,
        derived: Derived,
        ask: Ask,
        *,
        preferences: Preferences | None = None,
        recovery: Recovery | None = None,
        parent: QWidget | None = None,
    ) -> None:
        super().__init__(parent)
        self.context = Context(
            document, derived, derived.jobs, ask, preferences or Preferences(None)
        )
        self.document = document
        self._recovery = recovery
        self._shop_shown = False
        self.files = Files(self.context, self)
        self.fixes = Fixes(self.context, self.files)
        self.setAcceptDrops(True)
        self.setMinimumSize(QSize(960, 600))
        self._build()
        self.menus = Menus(self)
        self._connect()
        self._show_title()
        self._show_tabs()
        self._show_findings()

    # --- building -------------------------------------------------------------------------
    def _build(self) -> None:
        # First: a part that is put in place already full is styled once more, all of it.
        central = QWidget()
        self.setCentralWidget(central)
        column = QVBoxLayout(central)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(0)

        head = QWidget()
        row = QHBoxLayout(head)
        row.setContentsMargins(theme.NORMAL, theme.TIGHT, theme.NORMAL, 0)
        row.setSpacing(theme.TIGHT)
        self.tabs = QTabBar()
        self.tabs.setDrawBase(False)
        self.tabs.setExpanding(False)
        self.tabs.setUsesScrollButtons(True)
        self.tabs.setElideMode(Qt.TextElideMode.ElideNone)
        self.tabs.setAccessibleName(tr("Stages of the work"))
        self.tabs.setObjectName("stages")
        row.addWidget(self.tabs, 1)
        self.undo_button = QToolButton()
        self.redo_button = QToolButton()
        self.shop_button = QToolButton()
        self.shop_button.setToolButtonStyle(Qt.ToolButtonStyle.ToolButtonTextBesideIcon)
        for button in (self.undo_button, self.redo_button, self.shop_button):
            row.addWidget(button)
        column.addWidget(head)

        self.banner = Banner()
        banner_row = QHBoxLayout()
        banner_row.setContentsMargins(theme.NORMAL, 0, theme.NORMAL, theme.TIGHT)
        banner_row.addWidget(self.banner)
        column.addLayout(banner_row)

        self.stack = QStackedWidget()
        column.addWidget(self.stack, 1)
        self.stages: list[Stage] = []
        for stage in self._make_stages():
            self.stages.append(stage)
            self.stack.addWidget(stage)
            self.tabs.addTab("")

        self.notices = Notices(self.offer_of)
        self.notices.setObjectName("notices")
        self.progress = ProgressStrip()
        self.notices.extra.addWidget(self.progress)
        column.addWidget(self.notices)

        from app.shop.drawer import ShopDrawer

        self.shop = ShopDrawer(self.context, self.stack)
        self._style()

    def _make_stages(self) -> list[Stage]:
        from app.stages.cut_list import CutListStage
        from app.stages.joints import JointsStage
        from app.stages.panels import PanelsStage
        from app.stages.sheets import SheetsStage

        panels = PanelsStage(self.context, self.files, self.stack)
        panels.drawings_noticed.connect(self._on_drawings_changed)
        return [
            panels,
            JointsStage(self.context, self.stack),
            SheetsStage(self.context, self.stack),
            CutListStage(self.context, self.stack),
        ]

    def _style(self) -> None:
        font = self.font()
        font.setPointSizeF(font.pointSizeF() * 1.12)
        self.tabs.setFont(font)
        c = {name: theme.color(name).name() for name in theme.COLORS}
        self.tabs.setStyleSheet(
            f"""
            QTabBar#stages {{ outline: 0; }}
            QTabBar#stages::tab {{ padding: 7px 14px; margin-right: 4px; color: {c["muted"]};
                border: 0; border-bottom: 3px solid transparent; background: transparent; }}
            QTabBar#stages::tab:selected {{ color: {c["ink"]};
                border-bottom: 3px solid {c["accent"]}; }}
            QTabBar#stages::tab:hover:!selected {{ color: {c["ink"]};
                border-bottom: 3px solid {c["hairline"]}; }}
            QTabBar#stages::tab:selected:focus {{ color: {c["accent"]};
                background: {c["accent-wash"]}; }}
            """
        )
        size = theme.icon_px()
        for button in (self.undo_button, self.redo_button, self.shop_button):
            button.setIconSize(QSize(size, size))
        self.notices.setStyleSheet(
            f"QFrame#notices {{ background: {c['paper']}; border: 0;"
            f" border-top: 1px solid {c['hairline']}; }}"
        )

    def _connect(self) -> None:
        document, derived = self.document, self.context.derived
        self.tabs.currentChanged.connect(self._stage_chosen)
        document.history_changed.connect(self.menus.show_history)
        document.path_changed.connect(self._show_title)
        document.changed.connect(self._on_changed)
        document.dirty_changed.connect(self._show_title)
        document.changed_on_disk.connect(self._on_disk_changed)
        derived.findings_changed.connect(self._show_findings)
        self.context.jobs.started.connect(self._job_started)
        self.context.jobs.ended.connect(self.progress.remove)
        self.context.jobs.failed.connect(self._job_failed)
        self.files.told.connect(self.tell)
        self.files.opened.connect(self._on_opened)
        self.files.added.connect(self._on_added)
        self.fixes.told.connect(self.tell)
        self.fixes.shop_wanted.connect(self.open_shop)
        self.notices.go.connect(self.show_finding)
        self.notices.remedy.connect(self._remedy)
        self.shop.closed.connect(self._shop_closed)
        for stage in self.stages:
            self.shop.covers.connect(stage.covered)
        for stage in self.stages:
            stage.status_changed.connect(self._show_tabs)
            stage.message.connect(self.tell)
            stage.stage_wanted.connect(self._go_to)
            stage.shop_wanted.connect(self.open_shop)
            stage.remedy_wanted.connect(self._remedy)
        theme.watcher().changed.connect(self._style)

    # --- stages ---------------------------------------------------------------------------
    @property
    def stage(self) -> Stage:
        """The stage in front."""
        return self.stages[self.stack.currentIndex()]

    def open_stage(self, index: int) -> None:
        """Bring a stage to the front, 0–3."""
        self.tabs.setCurrentIndex(index)

    def _go_to(self, key: str, panel_id: str) -> None:
        index = STAGE_KEYS.index(key)
        self.open_stage(index)
        if panel_id:
            self.stages[index].show_panel(panel_id)

    def _stage_chosen(self, index: int) -> None:
        before = self.stage
        self.stack.setCurrentIndex(index)
        if before is not self.stage:
            before.left_behind()
        self.stage.entered()

    def _show_tabs(self) -> None:
        for i, stage in enumerate(self.stages):
            status = stage.status_text()
            text = f"{i + 1} {stage.title}" + (f" · {status}" if status else "")
            if self.tabs.tabText(i) != text:
                self.tabs.setTabText(i, text)
                self.tabs.setTabToolTip(i, tr("{stage} (Ctrl+{n})").format(stage=text, n=i + 1))

    # --- document -------------------------------------------------------------------------
    def _on_changed(self, _change: object) -> None:
        self._show_tabs()
        self._show_title()
        project = self.document.project
        if project.panels and not project.shop.materials and not self._shop_shown:
            # Nothing can be planned without a board: say so by opening the place for it, once.
            self._shop_shown = True
            self.open_shop("boards")

    def _show_title(self) -> None:
        self.setWindowTitle(f"{self.document.title}[*] – {APP_NAME}")
        self.setWindowModified(self.document.dirty)

    def _on_opened(self) -> None:
        self._shop_shown = False
        self.banner.take_back("disk")
        self.banner.take_back("drawing")
        self.open_stage(0)

    def _on_added(self, _ids: object) -> None:
        self.open_stage(0)

    def _on_disk_changed(self) -> None:
        name = self.document.path.name if self.document.path is not None else ""
        self.banner.say(
            "disk",
            tr("{file} was changed by another program.").format(file=name),
            (tr("Read it again"), self.files.read_again_from_disk),
            (tr("Keep what is here"), lambda: None),
        )

    def _on_drawings_changed(self, findings: tuple[Finding, ...]) -> None:
        """Say it where it is seen from every stage; it stands among the notices as well."""
        if not findings:
            self.banner.take_back("drawing")
            return
        first = findings[-1]
        self.banner.say(
            "drawing",
            first.message,
            (self.offer_of(first), lambda: self._remedy(first)),
        )

    def offer_recovery(self, leftovers: list[Leftover]) -> None:
        """Offer the newest copy a crash left behind."""
        if not leftovers or self._recovery is None:
            return
        recovery = self._recovery
        newest, rest = leftovers[0], leftovers[1:]
        name = newest.original.name if newest.original else tr("a project without a file")
        when = newest.saved_at.strftime("%Y-%m-%d %H:%M")

        def take() -> None:
            self.files.recover(newest, recovery.forget)

        def drop() -> None:
            recovery.forget(newest)
            self.offer_recovery(rest)

        self.banner.say(
            "recovery",
            tr("The last run ended before {name} was saved. A copy from {when} is here.").format(
                name=name, when=when
            ),
            (tr("Recover it"), take),
            (tr("Throw it away"), drop),
        )

    def closeEvent(self, event: QCloseEvent) -> None:
        """Ask about unsaved changes, then stop all work."""
        if not self.files.may_leave():
            event.ignore()
            return
        self.document.close()
        self.context.jobs.close()
        event.accept()

    # --- notices --------------------------------------------------------------------------
    def tell(self, severity: str, sentence: str) -> None:
        """Say something in place, in a line across the top."""
        signs = {"stop": "● ", "warn": "▲ ", "note": "■ "}
        text = signs.get(severity, "") + sentence
        if severity not in ("note", ""):
            self.banner.say("told:" + sentence, text)
            return
        # The newest note replaces the one before: in a queue it would be gone before its turn.
        self.banner.say(_NOTE, text)

        def put_away() -> None:
            if self.banner.said(_NOTE) == text:
                self.banner.take_back(_NOTE)

        QTimer.singleShot(6000, self.banner, put_away)

    def _show_findings(self) -> None:
        self.notices.set_findings(self.context.derived.findings)
        self._show_tabs()

    def show_finding(self, finding: Finding) -> None:
        """Go where the finding is: the stage in front if it can, else the first that can."""
        order = [self.stage, *(stage for stage in self.stages if stage is not self.stage)]
        able = [stage for stage in order if stage.shows(finding)]
        panels, sheets = self.stages[0], self.stages[2]
        if panels in able and sheets in able:
            able.remove(panels)  # its place is one on a sheet, not on the panel
        stage = able[0] if able else None
        if stage is not None:
            self.open_stage(self.stages.index(stage))
            stage.show_finding(finding)

    def offer_of(self, finding: Finding) -> str:
        """What the remedy button of a finding says, "" for no button."""
        label = self.fixes.offer(finding)
        if label:
            return label
        return next((s.offer(finding) for s in self.stages if s.offer(finding)), "")

    def _remedy(self, finding: Finding) -> None:
        if self.fixes.offer(finding):
            self.fixes.take(finding)
            return
        stage = next((s for s in self.stages if s.offer(finding)), None)
        if stage is not None:
            self.open_stage(self.stages.index(stage))
            stage.take_offer(finding)

    def _job_started(self, job: Job) -> None:
        self.progress.add(job)

    def _job_failed(self, _job: Job, error: SeamwrightError) -> None:
        self.tell("stop", error_in_words(error))

    # --- shop -----------------------------------------------------------------------------
    def open_shop(self, section: str = "") -> None:
        """Show the shop, at one of its sections if named."""
        self.menus.shop_action.setChecked(True)
        self.shop.slide_in(section)

    def _shop_closed(self) -> None:
        self.menus.shop_action.setChecked(False)

    # --- events ---------------------------------------------------------------------------
    def resizeEvent(self, event: QResizeEvent) -> None:
        """The shop keeps to the right edge."""
        super().resizeEvent(event)
        self.shop.place()

    def changeEvent(self, event: QEvent) -> None:
        """Losing the focus is a good moment to keep a copy, gaining it to look at the disk."""
        super().changeEvent(event)
        if event.type() == QEvent.Type.ActivationChange:
            if self.isActiveWindow():
                self.document.check_disk()
            else:
                self.document.autosave(wait=False)
        elif event.type() == QEvent.Type.ApplicationFontChange:
            self._style()

    def dragEnterEvent(self, event: QDragEnterEvent) -> None:
        """Drawings and projects may be dropped anywhere."""
        if _dropped(event):
            event.acceptProposedAction()

    def dropEvent(self, event: QDropEvent) -> None:
        """Open what was dropped."""
        paths = _dropped(event)
        if paths:
            event.acceptProposedAction()
            self.files.open(paths)


def _dropped(event: QDropEvent) -> list[str]:
    paths = [url.toLocalFile() for url in event.mimeData().urls() if url.isLocalFile()]
    return [p for p in paths if is_drawing(p) or p.lower().endswith((".json", ".csv", ".tsv"))]
