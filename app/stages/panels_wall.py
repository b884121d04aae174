"""The wall of panels, all to the same scale, and the model the list beside it shares."""

from __future__ import annotations

from typing import Any

from PySide6.QtCore import (
    QAbstractListModel,
    QEvent,
    QModelIndex,
    QPersistentModelIndex,
    QPoint,
    QPointF,
    QRect,
    QRectF,
    QSize,
    Qt,
    QTimer,
    Signal,
)
from PySide6.QtGui import (
    QBrush,
    QColor,
    QFontMetrics,
    QHelpEvent,
    QMouseEvent,
    QPainter,
    QPainterPath,
    QPen,
    QResizeEvent,
    QTransform,
    QWheelEvent,
)
from PySide6.QtWidgets import (
    QAbstractItemView,
    QListView,
    QStyle,
    QStyledItemDelegate,
    QStyleOptionViewItem,
    QToolTip,
    QWidget,
)

from app import theme
from app.canvas.paths import line_path, region_path, ring_path
from app.context import Context
from app.i18n import tr
from app.stages.panels_fit import (
    Overhang,
    feature_words,
    is_too_big,
    overhang,
    panel_words,
    piece_count,
    size_words,
)
from app.widgets.fields import about_length
from core.findings import Finding, Severity
from core.outlines.model import Feature
from core.project.model import Grain, Panel, SplitChoice

PANEL_ROLE = Qt.ItemDataRole.UserRole + 1
Index = QModelIndex | QPersistentModelIndex

_LARGEST_PX = 330.0
_FEW = 12  # so many panels may be drawn larger without filling more than a wall
_PAD = 12
_LEAST_CELL = 150


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


class PanelDelegate(QStyledItemDelegate):
    """Draws one panel to the wall's scale, with all that is known about it."""

    def __init__(self, context: Context, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._context = context
        self.scale = 0.2  # px per mm
        self.hovered: tuple[str, int] | None = None  # panel id and index of the feature
        self.flash: tuple[str, tuple[float, float] | None] | None = None
        self._paths: dict[str, tuple[Panel, QPainterPath, list[QPainterPath]]] = {}

    # --- sizes ----------------------------------------------------------------------------
    def _over(self, panel: Panel) -> Overhang | None:
        machine = self._context.document.project.shop.machine
        if not is_too_big(panel, machine, self._context.derived.pieces):
            return None
        return overhang(panel, machine)

    def drawing_rect(self, panel: Panel, cell: QRect) -> QRectF:
        """Where the panel itself is drawn in its cell."""
        w, h = panel.size_mm[0] * self.scale, panel.size_mm[1] * self.scale
        over = self._over(panel)
        extra_h = max(0.0, over.room_mm[1] * self.scale - h) if over is not None else 0.0
        extra_w = max(0.0, over.room_mm[0] * self.scale - w) if over is not None else 0.0
        left = cell.x() + (cell.width() - w - extra_w) / 2
        return QRectF(left, cell.y() + _PAD + extra_h, w, h)

    def to_drawing(self, panel: Panel, cell: QRect) -> QTransform:
        """From the panel's mm (y up) to the view's pixels."""
        rect = self.drawing_rect(panel, cell)
        x1, y1, _, _ = panel.region.bounds
        return QTransform(
            self.scale,
            0,
            0,
            -self.scale,
            rect.left() - x1 * self.scale,
            rect.bottom() + y1 * self.scale,
        )

    def sizeHint(self, option: QStyleOptionViewItem, index: Index) -> QSize:
        """Drawing, envelope and two lines of text."""
        panel = index.data(PANEL_ROLE)
        w, h = panel.size_mm
        over = self._over(panel)
        if over is not None:
            w, h = max(w, over.room_mm[0]), max(h, over.room_mm[1])
        metrics = QFontMetrics(option.font)
        line = metrics.height()
        text = max(
            metrics.horizontalAdvance(self.second_line(panel)),
            metrics.horizontalAdvance(str(index.data(Qt.ItemDataRole.DisplayRole))),
        )
        text = min(text + 2 * _PAD + 2, metrics.averageCharWidth() * 34)
        width = max(_LEAST_CELL, text, round(w * self.scale) + 2 * _PAD)
        return QSize(width, round(h * self.scale) + 2 * line + 3 * _PAD)

    # --- paint ----------------------------------------------------------------------------
    def paint(self, painter: QPainter, option: QStyleOptionViewItem, index: Index) -> None:
        """The panel on its board, holes open, what is cut into it, seams, envelope, signs."""
        panel = index.data(PANEL_ROLE)
        cell = option.rect
        painter.save()
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        selected = bool(option.state & QStyle.StateFlag.State_Selected)
        if selected or option.state & QStyle.StateFlag.State_MouseOver:
            painter.setPen(Qt.PenStyle.NoPen)
            painter.setBrush(theme.color("accent-wash" if selected else "hover"))
            painter.drawRoundedRect(QRectF(cell).adjusted(2, 2, -2, -2), 6, 6)
        if option.state & QStyle.StateFlag.State_HasFocus:
            painter.setPen(QPen(theme.color("accent"), 1.5))
            painter.setBrush(Qt.BrushStyle.NoBrush)
            painter.drawRoundedRect(QRectF(cell).adjusted(2.5, 2.5, -2.5, -2.5), 6, 6)
        self._paint_panel(painter, panel, cell, selected)
        self._paint_envelope(painter, panel, cell)
        self._paint_findings(painter, panel, cell)
        self._paint_text(painter, panel, option, index)
        painter.restore()

    def _paths_of(self, panel: Panel) -> tuple[QPainterPath, list[QPainterPath]]:
        kept = self._paths.get(panel.id)
        if kept is None or kept[0] is not panel:
            features = [feature_path(feature) for feature in panel.features]
            kept = (panel, region_path(panel.region), features)
            self._paths[panel.id] = kept
        return kept[1], kept[2]

    def _paint_panel(self, painter: QPainter, panel: Panel, cell: QRect, selected: bool) -> None:
        outline, features = self._paths_of(panel)
        to_px = self.to_drawing(panel, cell)
        path = to_px.map(outline)
        omitted = panel.split is SplitChoice.OMIT
        painter.setPen(Qt.PenStyle.NoPen)
        painter.setBrush(theme.color("paper" if omitted else "board"))
        painter.drawPath(path)
        if omitted:
            hatch = theme.color("hairline")
            painter.setBrush(QBrush(hatch, Qt.BrushStyle.BDiagPattern))
            painter.drawPath(path)
        elif panel.grain is not Grain.FREE:
            _paint_grain(painter, path, across=panel.grain is Grain.ACROSS)
        hovered = self.hovered if self.hovered and self.hovered[0] == panel.id else None
        for i, feature_path in enumerate(features):
            mapped = to_px.map(feature_path)
            lit = hovered is not None and hovered[1] == i
            if panel.features[i].ring is not None or panel.features[i].at is not None:
                painter.setBrush(theme.color("accent" if lit else "pocket"))
            else:
                painter.setBrush(Qt.BrushStyle.NoBrush)
            painter.setPen(QPen(theme.color("accent" if hovered else "muted"), 1))
            painter.drawPath(mapped)
        painter.setBrush(Qt.BrushStyle.NoBrush)
        pen = QPen(theme.color("piece.selected" if selected else "ink"), 2 if selected else 1)
        painter.setPen(pen)
        painter.drawPath(path)
        pieces = self._context.derived.pieces
        if pieces is not None and not omitted:
            painter.setPen(QPen(theme.color("seam"), 1.5))
            for seam in pieces.seams:
                if seam.panel == panel.id:
                    painter.drawPath(to_px.map(line_path(seam.profile)))

    def _paint_envelope(self, painter: QPainter, panel: Panel, cell: QRect) -> None:
        """What fits on the machine, laid over a panel that does not."""
        over = self._over(panel)
        if over is None:
            return
        rect = self.drawing_rect(panel, cell)
        red = theme.color("stop")
        room = QRectF(
            rect.left(),
            rect.bottom() - over.room_mm[1] * self.scale,
            over.room_mm[0] * self.scale,
            over.room_mm[1] * self.scale,
        )
        pen = QPen(red, 1.5, Qt.PenStyle.DashLine)
        painter.setPen(pen)
        painter.setBrush(Qt.BrushStyle.NoBrush)
        painter.drawRect(room)
        metrics = painter.fontMetrics()
        unit = self._context.unit
        for axis, by in enumerate(over.over_mm):
            if by <= 0:
                continue
            text = "+ " + about_length(by, unit)
            size = metrics.size(0, text)
            if axis == 0:
                middle = QPointF((room.right() + rect.right()) / 2, rect.center().y())
            else:
                middle = QPointF(rect.center().x(), (room.top() + rect.top()) / 2)
            box = QRectF(0, 0, size.width() + 8, size.height() + 2)
            box.moveCenter(middle)
            bounds = QRectF(cell)
            box.moveLeft(min(max(box.left(), bounds.left() + 4), bounds.right() - box.width() - 4))
            painter.setPen(QPen(red, 1))
            painter.setBrush(theme.color("paper"))
            painter.drawRoundedRect(box, 3, 3)
            painter.drawText(box, Qt.AlignmentFlag.AlignCenter, text)

    def _paint_findings(self, painter: QPainter, panel: Panel, cell: QRect) -> None:
        to_px = self.to_drawing(panel, cell)
        for finding in self._context.derived.findings_of(panel.id):
            if finding.at is None:
                continue
            place = to_px.map(QPointF(*finding.at))
            color = theme.severity_color(finding.severity)
            paint_sign(painter, place, finding.severity, color)
        if self.flash is not None and self.flash[0] == panel.id and self.flash[1] is not None:
            painter.setBrush(Qt.BrushStyle.NoBrush)
            painter.setPen(QPen(theme.color("accent"), 2.5))
            painter.drawEllipse(to_px.map(QPointF(*self.flash[1])), 16.0, 16.0)

    def _paint_text(
        self, painter: QPainter, panel: Panel, option: QStyleOptionViewItem, index: Index
    ) -> None:
        metrics = QFontMetrics(option.font)
        line = metrics.height()
        cell = option.rect
        width = cell.width() - 2 * _PAD
        top = cell.bottom() - 2 * line - _PAD // 2
        middle = Qt.AlignmentFlag.AlignHCenter | Qt.AlignmentFlag.AlignVCenter
        elide = Qt.TextElideMode.ElideRight
        painter.setFont(option.font)
        name = str(index.data(Qt.ItemDataRole.DisplayRole))
        stop = index.data(Qt.ItemDataRole.ForegroundRole)
        painter.setPen(stop if isinstance(stop, QColor) else theme.color("ink"))
        painter.drawText(
            QRect(cell.x() + _PAD, top, width, line), middle, metrics.elidedText(name, elide, width)
        )
        painter.setPen(theme.color("muted"))
        painter.drawText(
            QRect(cell.x() + _PAD, top + line, width, line),
            middle,
            metrics.elidedText(self.second_line(panel), elide, width),
        )

    def second_line(self, panel: Panel) -> str:
        """Size, number of pieces, what is missing."""
        parts = [size_words(panel, self._context.unit)]
        if panel.split is SplitChoice.OMIT:
            parts.append(tr("left out"))
        else:
            count = piece_count(panel, self._context.derived.pieces)
            if count is not None and count > 1:
                parts.append(tr("{n} pieces").format(n=count))
        if not panel.material:
            parts.append(tr("no board"))
        return " · ".join(parts)

    # --- what is under the mouse ------------------------------------------------------------
    def feature_at(self, panel: Panel, cell: QRect, place: QPoint) -> int | None:
        """Index of the feature under a place of the view."""
        inverse, ok = self.to_drawing(panel, cell).inverted()
        if not ok:
            return None
        at = inverse.map(QPointF(place))
        reach = 3.0 / self.scale
        _, features = self._paths_of(panel)
        for i, path in enumerate(features):
            if path.contains(at) or path.intersects(
                QRectF(at.x() - reach, at.y() - reach, 2 * reach, 2 * reach)
            ):
                return i
        return None

    def finding_at(self, panel: Panel, cell: QRect, place: QPoint) -> Finding | None:
        """The finding whose sign is under a place of the view."""
        to_px = self.to_drawing(panel, cell)
        for finding in self._context.derived.findings_of(panel.id):
            if finding.at is not None:
                away = to_px.map(QPointF(*finding.at)) - QPointF(place)
                if away.manhattanLength() < 14:
                    return finding
        return None


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


def paint_sign(painter: QPainter, at: QPointF, severity: Severity, color: QColor) -> None:
    """● ▲ or ■ at a place, edged so that it is seen on any board."""
    path = QPainterPath()
    if severity is Severity.STOP:
        path.addEllipse(at, 6.0, 6.0)
    elif severity is Severity.WARN:
        path.moveTo(at + QPointF(0, -7))
        path.lineTo(at + QPointF(7, 6))
        path.lineTo(at + QPointF(-7, 6))
        path.closeSubpath()
    else:
        path.addRect(QRectF(at.x() - 5, at.y() - 5, 10, 10))
    painter.setPen(QPen(theme.color("paper"), 1.5))
    painter.setBrush(color)
    painter.drawPath(path)


def feature_path(feature: Feature) -> QPainterPath:
    if feature.ring is not None:
        return ring_path(feature.ring)
    path = QPainterPath()
    if feature.at is not None:
        radius = max(0.5, (feature.diameter_mm or 3.0) / 2)
        path.addEllipse(QPointF(*feature.at), radius, radius)
    elif feature.path:
        path = line_path(feature.path)
    return path


def _paint_grain(painter: QPainter, path: QPainterPath, *, across: bool) -> None:
    """A hint of grain: uneven thin lines along the way it runs."""
    painter.save()
    painter.setClipPath(path)
    painter.setPen(QPen(theme.color("grain"), 1))
    box = path.boundingRect()
    steps = (5.0, 9.0, 6.0, 12.0, 7.0)
    place, i = (box.left() if across else box.top()) + 3.0, 0
    end = box.right() if across else box.bottom()
    while place < end:
        if across:
            painter.drawLine(QPointF(place, box.top()), QPointF(place, box.bottom()))
        else:
            painter.drawLine(QPointF(box.left(), place), QPointF(box.right(), place))
        place += steps[i % len(steps)]
        i += 1
    painter.restore()
