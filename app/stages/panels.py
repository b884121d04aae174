"""Stage 1: the panels as drawn, and what the maker decides about each."""

from __future__ import annotations

from PySide6.QtCore import (
    QEvent,
    QItemSelection,
    QItemSelectionModel,
    QObject,
    QPoint,
    QSize,
    Qt,
    Signal,
)
from PySide6.QtGui import QAction, QGuiApplication, QKeySequence
from PySide6.QtWidgets import (
    QHBoxLayout,
    QLabel,
    QLineEdit,
    QListView,
    QMenu,
    QStackedWidget,
    QToolButton,
    QVBoxLayout,
    QWidget,
)

from app import theme
from app.commands import EVERYTHING, RemovePanels, SetPanels
from app.context import Context
from app.demos import Demo
from app.drawing_watch import DrawingWatch
from app.files import Files
from app.i18n import tr
from app.stages.panels_add import PasteCard, SizeCard
from app.stages.panels_drawing import ComparePage, DrawingPage
from app.stages.panels_layers import DrawingLayers
from app.stages.panels_properties import PanelProperties
from app.stages.panels_reading import ReadingStage
from app.stages.panels_start import StartPage
from app.stages.panels_thumb import PANEL_ROLE
from app.stages.panels_wall import PanelModel, PanelWall
from app.widgets.forms import Heading, scrolling, tool, words
from app.widgets.icons import set_icon
from app.widgets.popup import popup_menu
from core.findings import Finding
from core.project.model import Panel

_MOST_SELECTED = 300  # panels that came in together and are selected


class _Pages(QStackedWidget):
    """Pages that make way for the shop without keeping the window from getting narrower."""

    def minimumSizeHint(self) -> QSize:
        """Without the way made."""
        hint = super().minimumSizeHint()
        return QSize(hint.width() - self.contentsMargins().right(), hint.height())


class PanelsStage(ReadingStage):
    """A list, a wall of thumbnails, and fields for what is selected."""

    title = "Panels"
    #: findings of drawings whose files are no longer those that were read
    drawings_noticed = Signal(object)

    def __init__(self, context: Context, files: Files, parent: QWidget | None = None) -> None:
        super().__init__(context, parent)
        self.title = tr("Panels")
        self.files = files
        self.model = PanelModel(context)
        self._searched = False
        self._build_left()
        self._build_centre()
        self._build_right()
        self._build_actions()
        self.document.changed.connect(self._on_changed)
        self.derived.pieces_changed.connect(self._on_derived)
        self.derived.findings_changed.connect(self._on_derived)
        theme.watcher().changed.connect(self.wall.viewport().update)
        files.added.connect(self.select_ids)
        files.table_read.connect(self._paste_text)
        files.compared.connect(self._compare)
        self.watch = DrawingWatch(context, self)
        self.watch.noticed.connect(self.drawings_noticed)
        self._on_changed(None)

    # --- building -------------------------------------------------------------------------
    def _build_left(self) -> None:
        self.search = QLineEdit()
        self.search.setPlaceholderText(tr("Find a panel"))
        self.search.setAccessibleName(tr("Find a panel"))
        self.search.setClearButtonEnabled(True)
        self.search.setMinimumHeight(theme.TARGET)
        self.search.textChanged.connect(self._search)
        self.left_layout.addWidget(self.search)
        self.list = QListView()
        self.list.setModel(self.model)
        self.list.setSelectionMode(QListView.SelectionMode.ExtendedSelection)
        self.list.setAccessibleName(tr("Panels"))
        self.list.setTextElideMode(Qt.TextElideMode.ElideRight)
        self.list.setStyleSheet("QListView::item { padding: 4px 2px; }")
        self.list.setUniformItemSizes(True)
        self.list.activated.connect(self._activated)
        self.left_layout.addWidget(self.list, 1)
        self.summary = words()
        self.left_layout.addWidget(self.summary)

    def _build_centre(self) -> None:
        self.pages = _Pages()
        self._covered = 0
        self.pages.currentChanged.connect(self._make_way)
        self.centre.installEventFilter(self)
        self.start = StartPage(self.files.ask_add, self._open_size, self._open_paste)
        self.start.demo_chosen.connect(self._open_demo)
        self.start.shop_wanted.connect(self._open_shop)
        page = QWidget()
        column = QVBoxLayout(page)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(0)
        bar = QHBoxLayout()
        bar.setContentsMargins(theme.NORMAL, theme.TIGHT, theme.NORMAL, theme.TIGHT)
        bar.setSpacing(theme.TIGHT)
        self.add_button = QToolButton()
        self.add_button.setText(tr("Add"))
        set_icon(self.add_button, "plus")
        self.add_button.setToolButtonStyle(Qt.ToolButtonStyle.ToolButtonTextBesideIcon)
        self.add_button.setPopupMode(QToolButton.ToolButtonPopupMode.InstantPopup)
        self.add_button.setToolTip(tr("Add drawings, a typed size or a pasted list"))
        bar.addWidget(self.add_button)
        self.scale_label = QLabel()
        self.scale_label.setProperty("muted", True)
        self.scale_label.setAlignment(Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter)
        self.scale_label.setWordWrap(True)
        bar.addWidget(self.scale_label, 1)
        self.smaller = tool(tr("Draw smaller"), self._smaller, "zoom-out")
        self.larger = tool(tr("Draw larger"), self._larger, "zoom-in")
        bar.addWidget(self.smaller)
        bar.addWidget(self.larger)
        column.addLayout(bar)
        self.wall = PanelWall(self.context, self.model)
        self.wall.setSelectionModel(self.list.selectionModel())
        self.wall.opened.connect(self._to_joints)
        self.wall.finding_clicked.connect(self.show_finding)
        self.wall.setContextMenuPolicy(Qt.ContextMenuPolicy.CustomContextMenu)
        self.wall.customContextMenuRequested.connect(self._context_menu)
        column.addWidget(self.wall, 1)
        self.pages.addWidget(self.start)
        self.pages.addWidget(page)
        self.drawing_page = DrawingPage(self.context)
        self.drawing_page.closed.connect(self._back_to_wall)
        self.compare_page = ComparePage(self.context)
        self.compare_page.taken.connect(self._take_compared)
        self.compare_page.left.connect(self._leave_compared)
        self.pages.addWidget(self.drawing_page)
        self.pages.addWidget(self.compare_page)

        self.size_card = SizeCard(self.context)
        self.paste_card = PasteCard(self.context)
        self.centre_layout.setSpacing(0)
        for card in (self.size_card, self.paste_card):
            self.centre_layout.addWidget(card)
            card.added.connect(self.select_ids)
        self.centre_layout.addWidget(self.pages, 1)
        self.list.selectionModel().selectionChanged.connect(self._selection_changed)

    def _build_right(self) -> None:
        self.properties = PanelProperties(self.context, self.offered)
        self.properties.finding_clicked.connect(self.show_finding)
        self.properties.remedy_clicked.connect(self.remedy_wanted)
        self.properties.recognised.shown.connect(self.wall.show_recognised)
        self.properties.wants_joints.connect(self._to_joints)
        self.properties.wants_shop.connect(self.shop_wanted)
        self.properties.remove_clicked.connect(self._remove)
        self.layers = DrawingLayers(self.context)
        self.layers.wants_role.connect(self._read_with_role)
        self.layers.wants_again.connect(self._read_again)
        self.layers.wants_reading.connect(self._read_how)
        self.layers.wants_look.connect(self.look_at_drawing)
        nothing = QWidget()
        column = QVBoxLayout(nothing)
        column.setContentsMargins(0, 0, 0, 0)
        column.addWidget(Heading(tr("Drawings and their layers")))
        self.hint = words(
            tr("Choose panels to set their board, quantity and grain. Several at once is fine.")
        )
        column.addWidget(self.hint)
        column.addWidget(self.layers)
        column.addStretch(1)
        self.right_pages = QStackedWidget()
        self.right_pages.addWidget(scrolling(nothing))
        self.right_pages.addWidget(scrolling(self.properties))
        self.right_layout.addWidget(self.right_pages)

    def _build_actions(self) -> None:
        def make(text: str, slot: object, keys: str = "", icon: str = "") -> QAction:
            action = QAction(text, self)
            if keys:
                action.setShortcut(QKeySequence(keys))
                action.setShortcutContext(Qt.ShortcutContext.WidgetWithChildrenShortcut)
            if icon:
                set_icon(action, icon)
            action.triggered.connect(slot)
            self.addAction(action)
            return action

        self.drawings_action = make(tr("Add &drawings…"), self.files.ask_add, "", "import")
        self.size_action = make(tr("Type a &size…"), self._open_size, "Ctrl+T", "square")
        self.paste_action = make(tr("Paste a &list…"), self._open_paste, "Ctrl+V", "paste")
        self.all_action = make(tr("Select &all"), self.wall.selectAll, "Ctrl+A")
        self.more_action = make(tr("One &more of it"), self._one_more, "+", "plus")
        self.fewer_action = make(tr("One &fewer of it"), self._one_fewer, "-", "minus")
        self.joints_action = make(tr("Look at its &joints"), self._selected_to_joints, "", "joint")
        self.remove_action = make(tr("&Remove"), self._remove, "Del", "delete")
        self.larger_action = make(tr("Draw &larger"), self._larger, "Ctrl++", "zoom-in")
        self.larger_action.setShortcuts([QKeySequence("Ctrl++"), QKeySequence("Ctrl+=")])
        self.smaller_action = make(tr("Draw s&maller"), self._smaller, "Ctrl+-", "zoom-out")
        menu = QMenu(self)
        menu.addActions([self.drawings_action, self.size_action, self.paste_action])
        self.add_button.setMenu(menu)

    # --- what the window asks -------------------------------------------------------------
    def status_text(self) -> str:
        """How many panels, or how many still need a board."""
        panels = self.document.project.panels
        if not panels:
            return ""
        bare = sum(1 for panel in panels if not panel.material)
        if bare:
            return tr("{n} ({bare} without a board)").format(n=len(panels), bare=bare)
        return str(len(panels))

    def shows(self, finding: Finding) -> bool:
        """True for anything about a panel that is here, or with a place in a drawing."""
        if finding.panel is not None and self.model.row_of(finding.panel) >= 0:
            return True
        return finding.panel is None and self._drawing_of(finding) is not None

    def show_finding(self, finding: Finding) -> None:
        """Select the panel and ring the place; on no panel, show it in its drawing."""
        if finding.panel is not None:
            self._back_to_wall()
            self.wall.show_panel(finding.panel, finding.at)
            self.wall.setFocus()
            return
        drawing = self._drawing_of(finding)
        if drawing is not None:
            self.look_at_drawing(drawing.id, finding.at)

    def offer(self, finding: Finding) -> str:
        """A depth that is missing can be typed at once."""
        return tr("Set its depth") if finding.fix.startswith("set-depth:") else ""

    def take_offer(self, finding: Finding) -> None:
        """Go to the depth of the layer."""
        drawing = self._drawing_of(finding)
        if drawing is None:
            return
        self._back_to_wall()
        self.list.clearSelection()
        self.right_pages.setCurrentIndex(0)
        self.layers.ask_depth(drawing.id, finding.fix.partition(":")[2])

    def entered(self) -> None:
        if self.wall.isVisibleTo(self):
            self.wall.setFocus()  # not the first thing beside it

    def stage_actions(self) -> list[QAction]:
        """For the window's Stage menu."""
        return [
            self.drawings_action,
            self.size_action,
            self.paste_action,
            self.all_action,
            self.more_action,
            self.fewer_action,
            self.joints_action,
            self.remove_action,
            self.larger_action,
            self.smaller_action,
        ]

    def keys(self) -> list[tuple[str, str]]:
        """What the wall itself understands."""
        return [
            (tr("Arrows"), tr("go from panel to panel; Shift selects on the way")),
            (tr("Enter"), tr("look at the panel's joints")),
            (tr("Ctrl and wheel"), tr("draw larger or smaller")),
        ]

    # --- selection ------------------------------------------------------------------------
    @property
    def selected(self) -> tuple[Panel, ...]:
        """Panels selected, in the project's order."""
        rows = sorted(index.row() for index in self.list.selectionModel().selectedIndexes())
        return tuple(self.model.panels[row] for row in rows if row < len(self.model.panels))

    def select_ids(self, ids: object) -> None:
        """Select the panels of these ids; of very many only the first is shown."""
        wanted = set(ids)  # type: ignore[call-overload]
        rows = [row for row, panel in enumerate(self.model.panels) if panel.id in wanted]
        chosen = QItemSelection()
        # Neighbours as one stretch: thousands of single rows would take Qt seconds.
        start = 0
        for i, row in enumerate(rows):
            if i + 1 == len(rows) or rows[i + 1] != row + 1:
                chosen.select(self.model.index(rows[start]), self.model.index(row))
                start = i + 1
        model = self.list.selectionModel()
        if len(rows) <= _MOST_SELECTED:
            model.select(chosen, QItemSelectionModel.SelectionFlag.ClearAndSelect)
        else:
            model.clearSelection()
        if rows:
            first = self.model.index(rows[0])
            model.setCurrentIndex(first, QItemSelectionModel.SelectionFlag.NoUpdate)
            self.wall.scrollTo(first)

    def _selection_changed(self) -> None:
        panels = self.selected
        self.right_pages.setCurrentIndex(1 if panels else 0)
        self.properties.show_panels(panels)
        some = bool(panels)
        for action in (self.more_action, self.fewer_action, self.remove_action):
            action.setEnabled(some)
        self.joints_action.setEnabled(len(panels) == 1)

    def _search(self, text: str) -> None:
        word = text.strip().lower()
        if not word and not self._searched:
            return
        self._searched = bool(word)
        for row, panel in enumerate(self.model.panels):
            hidden = bool(word) and word not in panel.name.lower()
            self.list.setRowHidden(row, hidden)
            self.wall.setRowHidden(row, hidden)

    # --- refreshing -----------------------------------------------------------------------
    def _on_changed(self, change: object) -> None:
        if getattr(change, "kinds", None) == EVERYTHING:
            # Another project may have panels of the same ids; nobody chose those.
            self.list.clearSelection()
            for card in (self.size_card, self.paste_card):
                if card.isVisibleTo(self):
                    card.put_away()
        selected = {panel.id for panel in self.selected}
        panels = self.document.project.panels
        before = [p.id for p in self.model.panels]
        self.model.set_panels(panels)
        if before != [p.id for p in panels]:
            self.select_ids(selected)
            self._search(self.search.text())
        empty = not panels
        drawings = self.document.project.drawings
        self._refresh_page(empty)
        self.set_sides(left=not empty, right=not empty or bool(drawings))
        self.layers.fill()
        self._selection_changed()
        self._summarise()
        self.status_changed.emit()

    def _refresh_page(self, empty: bool) -> None:
        """Keep what is looked at in front where it still makes sense."""
        shown = self.pages.currentWidget()
        if shown is self.compare_page and self.compare_page.read is not None:
            # What was compared is a step from another project now: look again.
            self.compare_page.forget()
        elif shown is self.drawing_page:
            known = {d.id for d in self.document.project.drawings}
            if self.drawing_page.drawing_id in known:
                self.look_at_drawing(self.drawing_page.drawing_id)
                return
        self.pages.setCurrentIndex(0 if empty else 1)

    def _on_derived(self) -> None:
        self.model.refresh()
        self.properties.show_panels(self.selected)
        self._summarise()

    def _summarise(self) -> None:
        panels = self.document.project.panels
        total = sum(panel.quantity for panel in panels)
        text = (tr("{n} panel") if len(panels) == 1 else tr("{n} panels")).format(n=len(panels))
        if total != len(panels):
            text += tr(", {n} in all").format(n=total)
        pieces = self.derived.pieces
        if pieces is not None and pieces.pieces and panels:
            quantities = {panel.id: panel.quantity for panel in panels}
            n = sum(p.quantity * quantities.get(p.panel, 0) for p in pieces.pieces)
            text += tr(". {n} pieces to cut").format(n=n)
        self.summary.setText(text + ".")
        scale = self.wall.panel_delegate.scale * 25.4 / max(1.0, self.logicalDpiX())
        self.scale_label.setText(
            tr("drawn 1 : {n}").format(n=max(1, round(1 / scale))) if scale > 0 else ""
        )

    # --- doing ----------------------------------------------------------------------------
    def _open_size(self) -> None:
        self.paste_card.put_away()
        self.size_card.open()

    def _open_paste(self) -> None:
        """Open the card; rows on the clipboard are filled in."""
        text = QGuiApplication.clipboard().text()
        looks_like_rows = any(sign in text for sign in ",;\t") and len(text) < 200_000
        self._paste_text(text if looks_like_rows else "")

    def _paste_text(self, text: str) -> None:
        self.size_card.put_away()
        self.paste_card.open(text)

    def _open_demo(self, demo: Demo) -> None:
        self.files.open_project(demo.path, as_copy=True)

    def _activated(self, index: object) -> None:
        self._to_joints(index.data(PANEL_ROLE).id)  # type: ignore[attr-defined]

    def _selected_to_joints(self) -> None:
        if len(self.selected) == 1:
            self._to_joints(self.selected[0].id)

    def _to_joints(self, panel_id: str) -> None:
        self.stage_wanted.emit("joints", panel_id)

    def _change_quantity(self, by: int) -> None:
        for panel in self.selected:
            value = panel.quantity + by
            if value >= 0:
                text = tr("Set quantity of {name}").format(name=panel.name)
                self.document.run(
                    SetPanels(text, (panel.id,), (("quantity", value),)),
                    merge=f"quantity {panel.id}",
                )

    def _one_more(self) -> None:
        self._change_quantity(+1)

    def _one_fewer(self) -> None:
        self._change_quantity(-1)

    def _remove(self) -> None:
        panels = self.selected
        if not panels:
            return
        n = len(panels)
        text = (
            tr("Remove {name}").format(name=panels[0].name)
            if n == 1
            else tr("Remove {n} panels").format(n=n)
        )
        self.document.run(RemovePanels(text, tuple(p.id for p in panels)))

    def _open_shop(self) -> None:
        self.shop_wanted.emit("machine")

    def covered(self, right_px: int) -> None:
        """What is in the middle makes way for the shop."""
        self._covered = right_px
        self._make_way()

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        """A side has come or gone, or has another width."""
        if watched is self.centre and event.type() == QEvent.Type.Resize:
            self._make_way()
        return super().eventFilter(watched, event)

    def _make_way(self) -> None:
        beside = 0 if self.right.isHidden() else self.right.width()
        over = max(0, self._covered - beside)
        room, page = self.centre.width() - over, self.pages.currentWidget()
        least = 0 if page is None else page.minimumSizeHint().width()
        if page is not self.start and room < max(over, least):
            over = 0  # better half hidden than in a slit
        self.pages.setContentsMargins(0, 0, over, 0)

    def _smaller(self) -> None:
        self.wall.zoom(1 / 1.25)
        self._summarise()

    def _larger(self) -> None:
        self.wall.zoom(1.25)
        self._summarise()

    def _context_menu(self, place: QPoint) -> None:
        menu = popup_menu(self)
        if self.wall.indexAt(place).isValid():
            menu.addActions(
                [self.more_action, self.fewer_action, self.joints_action, self.remove_action]
            )
        else:
            menu.addActions([self.drawings_action, self.size_action, self.paste_action])
        menu.popup(self.wall.viewport().mapToGlobal(place))
