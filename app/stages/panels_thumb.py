"""One panel of the wall, drawn to scale with all that is known about it."""

from __future__ import annotations

from typing import Any

from PySide6.QtCore import (
    QLineF,
    QModelIndex,
    QPersistentModelIndex,
    QPoint,
    QPointF,
    QRect,
    QRectF,
    QSize,
    Qt,
)
from PySide6.QtGui import (
    QBrush,
    QColor,
    QFontMetrics,
    QPainter,
    QPainterPath,
    QPen,
    QTransform,
)
from PySide6.QtWidgets import (
    QStyle,
    QStyledItemDelegate,
    QStyleOptionViewItem,
    QWidget,
)

from app import theme
from app.canvas import as_lines
from app.canvas.paths import line_path, region_path, ring_path
from app.context import Context
from app.i18n import tr
from app.stages.panels_fit import (
    Overhang,
    is_too_big,
    overhang,
    piece_count,
    size_words,
)
from app.widgets.fields import about_length
from core.findings import Finding, Severity
from core.outlines.model import Feature
from core.outlines.recognise import Recognised
from core.project.model import Grain, Panel, SplitChoice

PANEL_ROLE = Qt.ItemDataRole.UserRole + 1
Index = QModelIndex | QPersistentModelIndex

_PAD = 12
_LEAST_CELL = 150


class PanelDelegate(QStyledItemDelegate):
    """Draws one panel to the wall's scale, with all that is known about it."""

    def __init__(self, context: Context, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._context = context
        self.scale = 0.2  # px per mm
        self.hovered: tuple[str, int] | None = None  # panel id and index of the feature
        self.flash: tuple[str, tuple[float, float] | None] | None = None
        self.recognised: tuple[str, tuple[Recognised, ...]] = ("", ())  # panel id, looked at
        self._sizes: dict[str, tuple[tuple[Any, ...], QSize]] = {}
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
        project = self._context.document.project
        state = (
            panel,
            self.scale,
            self._context.derived.pieces,
            self._context.derived.findings_of(panel.id),
            project.shop.machine,
            self._context.unit,
            option.font.key(),
        )
        known = self._sizes.get(panel.id)
        if known is not None and all(
            a is b or a == b for a, b in zip(known[0], state, strict=True)
        ):
            return known[1]
        size = self._measured(panel, option, index)
        self._sizes[panel.id] = (state, size)
        return size

    def _measured(self, panel: Panel, option: QStyleOptionViewItem, index: Index) -> QSize:
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
        self._paint_recognised(painter, panel, cell)
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
        # By how much: on the panel's edge, where it covers no slot, no hole and no sign.
        for axis, by in enumerate(over.over_mm):
            if by <= 0:
                continue
            text = "+ " + about_length(by, unit)
            size = metrics.size(0, text)
            if axis == 0:
                middle = QPointF((room.right() + rect.right()) / 2, rect.bottom())
            else:
                middle = QPointF(rect.right(), (room.top() + rect.top()) / 2)
            box = QRectF(0, 0, size.width() + 8, size.height() + 2)
            box.moveCenter(middle)
            bounds = QRectF(cell)
            box.moveLeft(min(max(box.left(), bounds.left() + 4), bounds.right() - box.width() - 4))
            painter.setPen(QPen(red, 1))
            painter.setBrush(theme.color("paper"))
            painter.drawRoundedRect(box, 3, 3)
            painter.drawText(box, Qt.AlignmentFlag.AlignCenter, text)

    def _paint_recognised(self, painter: QPainter, panel: Panel, cell: QRect) -> None:
        """The features that are looked at in the list beside."""
        panel_id, items = self.recognised
        if panel_id != panel.id or not items:
            return
        to_px = self.to_drawing(panel, cell)
        painter.setBrush(Qt.BrushStyle.NoBrush)
        for item in items:
            style = Qt.PenStyle.DashDotLine if item.kind == "axis" else Qt.PenStyle.SolidLine
            painter.setPen(QPen(theme.color("accent"), 3, style))
            if item.kind == "hole":
                radius = max(item.width_mm / 2 * self.scale, 4.0)
                painter.drawEllipse(to_px.map(QPointF(*item.ref.anchor)), radius, radius)
            for start, end in item.walls:
                line = QLineF(to_px.map(QPointF(*start)), to_px.map(QPointF(*end)))
                if item.kind == "axis":
                    painter.save()
                    painter.setClipRect(QRectF(cell))
                    painter.drawLine(line)
                    painter.restore()
                else:
                    painter.drawLine(line)

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
    painter.setPen(QPen(theme.color("grain"), 1))
    painter.setBrush(Qt.BrushStyle.NoBrush)
    box = path.boundingRect()
    steps = (5.0, 9.0, 6.0, 12.0, 7.0)
    place, i = (box.left() if across else box.top()) + 3.0, 0
    end = box.right() if across else box.bottom()
    lines = QPainterPath()
    while place < end:
        start = (place, box.top()) if across else (box.left(), place)
        lines.moveTo(*start)
        lines.lineTo(*((place, box.bottom()) if across else (box.right(), place)))
        place += steps[i % len(steps)]
        i += 1
    if as_lines.wanted():
        lines = as_lines.within(path, lines)
    else:
        painter.setClipPath(path)
    painter.drawPath(lines)
    painter.restore()
