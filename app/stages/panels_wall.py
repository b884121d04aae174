"""The wall of panels, all to the same scale, and the model the list beside it shares."""

from __future__ import annotations

from typing import Any

from PySide6.QtCore import (
    QAbstractListModel,
    QEvent,
    QModelIndex,
    QPoint,
    Qt,
    QTimer,
    Signal,
)
from PySide6.QtGui import (
    QHelpEvent,
    QMouseEvent,
    QResizeEvent,
    QWheelEvent,
)
from PySide6.QtWidgets import (
    QAbstractItemView,
    QListView,
    QToolTip,
)

from app import theme
from app.context import Context
from app.i18n import tr
from app.stages.panels_fit import (
    feature_words,
    panel_words,
)
from app.stages.panels_thumb import PANEL_ROLE, Index, PanelDelegate
from core.findings import Severity
from core.project.model import Panel

_LARGEST_PX = 330.0
_BATCH = 80  # panels laid out in one go
_FEW = 12  # so many panels may be drawn larger without filling more than a wall


class PanelModel(QAbstractListModel):
    """The project's panels in order, as both the list and the wall show them."""

    def __init__(self, context: Context) -> None:
        super().__init__()
        self._context = context
        self._panels: tuple[Panel, ...] = ()

    @property
    def panels(self) -> tuple[Panel, ...]:
        """The panels shown."""
        return self._panels

    def set_panels(self, panels: tuple[Panel, ...]) -> None:
        """Show these; where ids stay the same the selection stays too."""
        if [p.id for p in panels] == [p.id for p in self._panels]:
            self._panels = panels
            self.refresh()
            return
        self.beginResetModel()
        self._panels = panels
        self.endResetModel()

    def refresh(self) -> None:
        """The same panels look different now."""
        if self._panels:
            self.dataChanged.emit(self.index(0), self.index(len(self._panels) - 1))

    def row_of(self, panel_id: str) -> int:
        """Row of a panel, -1 if it is not there."""
        return next((i for i, p in enumerate(self._panels) if p.id == panel_id), -1)

    def rowCount(self, parent: Index = QModelIndex()) -> int:  # noqa: B008
        """How many panels."""
        return 0 if parent.isValid() else len(self._panels)

    def data(self, index: Index, role: int = Qt.ItemDataRole.DisplayRole) -> Any:
        """Name with quantity, words for tooltip and screen reader, the panel itself."""
        if not index.isValid() or index.row() >= len(self._panels):
            return None
        panel = self._panels[index.row()]
        if role == PANEL_ROLE:
            return panel
        if role == Qt.ItemDataRole.DisplayRole:
            sign = self.sign(panel)
            name = f"{panel.name}  ×{panel.quantity}" if panel.quantity != 1 else panel.name
            return f"{sign} {name}" if sign else name
        if role == Qt.ItemDataRole.ToolTipRole:
            return self.words(panel)
        if role == Qt.ItemDataRole.AccessibleTextRole:
            return f"{panel.name}. {self.words(panel)}"
        if role == Qt.ItemDataRole.ForegroundRole:
            worst = self.worst(panel)
            return theme.severity_color(worst) if worst is Severity.STOP else None
        return None

    def words(self, panel: Panel) -> str:
        """The panel in a few sentences, what was noticed about it included."""
        context = self._context
        machine = context.document.project.shop.machine
        told = panel_words(panel, machine, context.derived.pieces, context.unit)
        found = [f.message for f in context.derived.findings_of(panel.id)]
        return "\n".join([told, *found])

    def worst(self, panel: Panel) -> Severity | None:
        """The worst that was noticed about the panel."""
        findings = self._context.derived.findings_of(panel.id)
        return findings[0].severity if findings else None

    def sign(self, panel: Panel) -> str:
        """● or ▲ before the name of a panel with a problem."""
        worst = self.worst(panel)
        return theme.SIGNS[worst] if worst in (Severity.STOP, Severity.WARN) else ""


class PanelWall(QListView):
    """The panels as thumbnails to scale with each other; Ctrl and wheel changes the scale."""

    opened = Signal(str)  # panel id, by double click or Enter
    finding_clicked = Signal(object)

    def __init__(self, context: Context, model: PanelModel) -> None:
        super().__init__()
        self._context = context
        self._zoom = 1.0
        self.setModel(model)
        self.panel_delegate = PanelDelegate(context, self)
        self.setItemDelegate(self.panel_delegate)
        self.setViewMode(QListView.ViewMode.IconMode)
        self.setMovement(QListView.Movement.Static)
        self.setResizeMode(QListView.ResizeMode.Adjust)
        self.setSelectionMode(QAbstractItemView.SelectionMode.ExtendedSelection)
        self.setSelectionRectVisible(True)
        self.setVerticalScrollMode(QAbstractItemView.ScrollMode.ScrollPerPixel)
        self.setSpacing(theme.TIGHT)
        # Thousands of panels are laid out a batch at a time, so that the window stays alive.
        self.setLayoutMode(QListView.LayoutMode.Batched)
        self.setBatchSize(_BATCH)
        self.setMouseTracking(True)
        self.setAccessibleName(tr("Panels, drawn to the same scale"))
        self.setFrameShape(QListView.Shape.NoFrame)
        self.viewport().setAutoFillBackground(True)
        self.activated.connect(self._activated)
        self._flash_timer = QTimer(self)
        self._flash_timer.setSingleShot(True)
        self._flash_timer.setInterval(1800)
        self._flash_timer.timeout.connect(self._end_flash)
        model.modelReset.connect(self.fit_scale)
        model.dataChanged.connect(self._data_changed)

    def fit_scale(self) -> None:
        """The largest panel fills a good part of the wall."""
        model = self.model()
        assert isinstance(model, PanelModel)
        largest = max((max(p.size_mm) for p in model.panels), default=1000.0)
        few = len(model.panels) <= _FEW
        room = self.viewport().width() * (0.55 if few else 0.4)
        most = _LARGEST_PX * (1.7 if few else 1.0)
        self.panel_delegate.scale = self._zoom * min(most, max(120.0, room)) / max(largest, 1.0)
        self.scheduleDelayedItemsLayout()
        self.viewport().update()

    def zoom(self, factor: float) -> None:
        """Draw everything larger or smaller, to scale."""
        self._zoom = min(6.0, max(0.3, self._zoom * factor))
        self.fit_scale()

    def show_recognised(self, panel_id: str, items: object) -> None:
        """Draw these features of a panel so that they are seen."""
        self.panel_delegate.recognised = (panel_id, tuple(items))  # type: ignore[arg-type]
        self.viewport().update()

    def show_panel(self, panel_id: str, at: tuple[float, float] | None = None) -> None:
        """Select a panel, scroll to it and ring the place for a moment."""
        model = self.model()
        assert isinstance(model, PanelModel)
        row = model.row_of(panel_id)
        if row < 0:
            return
        index = model.index(row)
        self.setCurrentIndex(index)
        self.scrollTo(index)
        self.panel_delegate.flash = (panel_id, at)
        self._flash_timer.start()
        self.viewport().update()

    def _end_flash(self) -> None:
        self.panel_delegate.flash = None
        self.viewport().update()

    def _data_changed(self) -> None:
        self.fit_scale()

    def _activated(self, index: QModelIndex) -> None:
        self.opened.emit(index.data(PANEL_ROLE).id)

    # --- events ---------------------------------------------------------------------------
    def resizeEvent(self, event: QResizeEvent) -> None:
        """A wider wall shows larger panels."""
        super().resizeEvent(event)
        if event.size().width() != event.oldSize().width():
            self.fit_scale()

    def wheelEvent(self, event: QWheelEvent) -> None:
        """Ctrl and wheel zooms."""
        if event.modifiers() & Qt.KeyboardModifier.ControlModifier:
            self.zoom(1.15 ** (event.angleDelta().y() / 120))
            event.accept()
            return
        super().wheelEvent(event)

    def mouseMoveEvent(self, event: QMouseEvent) -> None:
        """Light what is cut into the panel under the mouse."""
        super().mouseMoveEvent(event)
        self._hover(event.position().toPoint())

    def mousePressEvent(self, event: QMouseEvent) -> None:
        """A sign on a drawing takes you to its notice."""
        place = event.position().toPoint()
        index = self.indexAt(place)
        super().mousePressEvent(event)
        if index.isValid() and event.button() == Qt.MouseButton.LeftButton:
            finding = self.panel_delegate.finding_at(
                index.data(PANEL_ROLE), self.visualRect(index), place
            )
            if finding is not None:
                self.finding_clicked.emit(finding)

    def leaveEvent(self, event: QEvent) -> None:
        """Nothing is lit."""
        super().leaveEvent(event)
        self._set_hovered(None)

    def _hover(self, place: QPoint) -> None:
        index = self.indexAt(place)
        if not index.isValid():
            self._set_hovered(None)
            return
        panel = index.data(PANEL_ROLE)
        found = self.panel_delegate.feature_at(panel, self.visualRect(index), place)
        # -1: the panel is under the mouse, none of its features is.
        self._set_hovered((panel.id, -1 if found is None else found))

    def _set_hovered(self, hovered: tuple[str, int] | None) -> None:
        if hovered != self.panel_delegate.hovered:
            self.panel_delegate.hovered = hovered
            self.viewport().update()

    def viewportEvent(self, event: QEvent) -> bool:
        """The tooltip tells of the sign or feature under the mouse, else of the panel."""
        if event.type() == QEvent.Type.ToolTip and isinstance(event, QHelpEvent):
            index = self.indexAt(event.pos())
            if index.isValid():
                panel, cell = index.data(PANEL_ROLE), self.visualRect(index)
                finding = self.panel_delegate.finding_at(panel, cell, event.pos())
                feature = self.panel_delegate.feature_at(panel, cell, event.pos())
                if finding is not None:
                    text = f"{finding.message}\n{finding.remedy}".strip()
                elif feature is not None:
                    text = feature_words(panel.features[feature], self._context.unit)
                else:
                    text = str(index.data(Qt.ItemDataRole.ToolTipRole))
                QToolTip.showText(event.globalPos(), text, self)
                return True
        return super().viewportEvent(event)
