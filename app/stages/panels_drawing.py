"""A drawing as it was read, and a drawing read again over what it was before."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

import shapely
from PySide6.QtCore import QPointF, QRectF, Qt, QTimer, Signal
from PySide6.QtGui import QPainter, QPainterPath
from PySide6.QtWidgets import (
    QGraphicsItem,
    QHBoxLayout,
    QListWidget,
    QListWidgetItem,
    QStyleOptionGraphicsItem,
    QVBoxLayout,
    QWidget,
)

from app import theme
from app.canvas.items import PathItem
from app.canvas.paths import line_path, region_path, shape_path
from app.canvas.view import Canvas
from app.context import Context
from app.i18n import tr
from app.reading import ReadDrawings
from app.stages.panels_thumb import feature_path, paint_sign
from app.widgets.fields import show_length
from app.widgets.forms import Heading, button, words
from app.wording import in_words
from core.findings import Finding, Severity
from core.outlines.model import Feature, Outline
from core.outlines.rereading import ChangeKind
from core.project.compare import ComparedPanel, Comparison
from core.project.model import Drawing

_FLASH_MS = 1800
_SHOWN = ("panel-lost", "panel-changed")  # said by the panels' own lines
_AT_ONCE = 150  # outlines whose paths are built within a frame or two
_LEAST_SHOWN_MM = 40.0  # around a place that is shown


class _Signs(QGraphicsItem):
    """The notices of a drawing at their places, as large on screen at any zoom."""

    def __init__(self, findings: Sequence[Finding]) -> None:
        super().__init__()
        self._findings = [f for f in findings if f.at is not None]
        self.flash: tuple[float, float] | None = None
        self.setZValue(50)
        self.setAcceptedMouseButtons(Qt.MouseButton.NoButton)

    def boundingRect(self) -> QRectF:
        """All the places, with room for the signs."""
        places = [f.at for f in self._findings if f.at is not None]
        if self.flash is not None:
            places.append(self.flash)
        if not places:
            return QRectF()
        xs, ys = [x for x, _ in places], [y for _, y in places]
        box = QRectF(min(xs), min(ys), max(xs) - min(xs), max(ys) - min(ys))
        return box.adjusted(-1, -1, 1, 1)

    def paint(
        self, painter: QPainter, option: QStyleOptionGraphicsItem, widget: QWidget | None = None
    ) -> None:
        """A sign for each, worst on top."""
        to_px = painter.worldTransform()
        painter.save()
        painter.resetTransform()
        for finding in reversed(self._findings):
            assert finding.at is not None
            color = theme.severity_color(finding.severity)
            paint_sign(painter, to_px.map(QPointF(*finding.at)), finding.severity, color)
        if self.flash is not None:
            painter.setBrush(Qt.BrushStyle.NoBrush)
            painter.setPen(theme.color("accent"))
            painter.drawEllipse(to_px.map(QPointF(*self.flash)), 16.0, 16.0)
        painter.restore()


class DrawingPage(QWidget):
    """One drawing as it was read: outlines, what is cut in, what belongs to nothing.

    closed(): the maker goes back to the panels.
    """

    closed = Signal()

    def __init__(self, context: Context) -> None:
        super().__init__()
        self._context = context
        self.drawing_id = ""
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(0)
        bar = QHBoxLayout()
        bar.setContentsMargins(theme.NORMAL, theme.TIGHT, theme.NORMAL, theme.TIGHT)
        self.title = Heading()
        bar.setSpacing(theme.NORMAL)
        bar.addWidget(self.title)
        self.told = words()
        bar.addWidget(self.told, 1)
        self.back = button(tr("Back to the panels"), self.closed.emit, "close")
        bar.addWidget(self.back)
        column.addLayout(bar)
        self.canvas = Canvas(tr("The drawing as it was read"))
        column.addWidget(self.canvas, 1)
        self._signs: _Signs | None = None
        self._flash = QTimer(self)
        self._flash.setSingleShot(True)
        self._flash.setInterval(_FLASH_MS)
        self._flash.timeout.connect(self._end_flash)

    def show_drawing(self, drawing: Drawing, at: tuple[float, float] | None = None) -> None:
        """Show a drawing, and a place in it."""
        self.canvas.set_unit(self._context.unit)
        self.drawing_id = drawing.id
        self.title.setText(drawing.file_name)
        self.told.setText(_counted(drawing))
        self.canvas.scene.clear()
        self._signs = None
        drawing_id = drawing.id

        def done(layers: list[Layer]) -> None:
            if self.drawing_id == drawing_id:
                self._fill(drawing, layers, at)

        _made(self._context, len(drawing.outlines), lambda: drawing_layers(drawing), done)

    def _fill(self, drawing: Drawing, layers: list[Layer], at: tuple[float, float] | None) -> None:
        scene = self.canvas.scene
        scene.clear()
        _put(self.canvas, layers)
        self._signs = _Signs(drawing.findings)
        scene.addItem(self._signs)
        if at is None:
            self.canvas.fit_now()
            return
        self._signs.flash = at
        self._flash.start()
        reach = max(_LEAST_SHOWN_MM, _span(drawing.outlines) / 6)
        box = QRectF(at[0] - reach / 2, at[1] - reach / 2, reach, reach)
        self.canvas.show_rect(box, glide=False)

    def _end_flash(self) -> None:
        if self._signs is not None:
            self._signs.flash = None
            self.canvas.view.viewport().update()


class ComparePage(QWidget):
    """Drawings read again over what they were: the maker takes them or leaves them.

    taken(ReadDrawings), left(ReadDrawings).
    """

    taken = Signal(object)
    left = Signal(object)

    def __init__(self, context: Context) -> None:
        super().__init__()
        self._context = context
        self._read: ReadDrawings | None = None
        self._rows: list[ComparedPanel | None] = []
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(0)
        head = QVBoxLayout()
        head.setContentsMargins(theme.NORMAL, theme.TIGHT, theme.NORMAL, theme.TIGHT)
        self.title = Heading()
        head.addWidget(self.title)
        self.legend = words(
            tr(
                "Dashed: as it was. Full line: as it is now. Hatched: board in one and not in "
                "the other. Seams, boards, locks and places stay where they still make sense."
            )
        )
        head.addWidget(self.legend)
        column.addLayout(head)
        self.canvas = Canvas(tr("The drawing before and after"))
        column.addWidget(self.canvas, 1)
        self.list = QListWidget()
        self.list.setAccessibleName(tr("What changed"))
        self.list.setMaximumHeight(self.list.fontMetrics().height() * 8)
        self.list.currentRowChanged.connect(self._show_row)
        column.addWidget(self.list)
        row = QHBoxLayout()
        row.setContentsMargins(theme.NORMAL, theme.TIGHT, theme.NORMAL, theme.NORMAL)
        row.setSpacing(theme.NORMAL)
        self.take_button = button(tr("Take it as it is now"), self._take, "check", primary=True)
        self.leave_button = button(tr("Leave it as it was"), self._leave, "close")
        row.addWidget(self.take_button)
        row.addWidget(self.leave_button)
        row.addStretch(1)
        column.addLayout(row)

    @property
    def read(self) -> ReadDrawings | None:
        """What is being looked at."""
        return self._read

    def show_read(self, read: ReadDrawings) -> None:
        """Show what reading again gave."""
        self.canvas.set_unit(self._context.unit)
        self._read = read
        names = ", ".join(c.file_name for c in read.compared)
        self.title.setText(tr("{files} changed").format(files=names))
        scene = self.canvas.scene
        scene.clear()
        self.list.clear()
        self._rows = []
        for comparison in read.compared:
            for panel in comparison.changed:
                self._line(_SIGNS[panel.kind], change_words(panel, self._context.unit), panel)
            for finding in comparison.told:
                if finding.severity is not Severity.NOTE and finding.code not in _SHOWN:
                    self._line(theme.SIGNS[finding.severity], in_words(finding.message), None)
        if self.list.count() == 0:
            self._line("=", tr("Nothing about the panels changed."), None)
        self.take_button.setFocus()

        def done(layers: list[Layer]) -> None:
            if self._read is read:
                _put(self.canvas, layers)
                self.canvas.fit_now()

        count = sum(len(c.panels) for c in read.compared)
        _made(self._context, count, lambda: compared_layers(read.compared), done)

    def _line(self, sign: str, text: str, panel: ComparedPanel | None) -> None:
        self.list.addItem(QListWidgetItem(f"{sign}  {text}"))
        self._rows.append(panel)

    def _show_row(self, row: int) -> None:
        panel = self._rows[row] if 0 <= row < len(self._rows) else None
        if panel is None:
            return
        boxes = [p.region.bounds for p in (panel.old, panel.new) if p is not None]
        x1, y1 = min(b[0] for b in boxes), min(b[1] for b in boxes)
        x2, y2 = max(b[2] for b in boxes), max(b[3] for b in boxes)
        self.canvas.show_rect(QRectF(x1, y1, x2 - x1, y2 - y1))

    def _take(self) -> None:
        if self._read is not None:
            self.taken.emit(self._read)

    def _leave(self) -> None:
        if self._read is not None:
            self.left.emit(self._read)

    def forget(self) -> None:
        """Nothing is being looked at any more."""
        self._read = None
        self.canvas.scene.clear()


_SIGNS = {
    ChangeKind.SAME: "=",
    ChangeKind.MOVED: "→",
    ChangeKind.CHANGED: "≠",
    ChangeKind.ADDED: "+",
    ChangeKind.REMOVED: "−",
}


def change_words(panel: ComparedPanel, unit: str) -> str:
    """What became of a panel, in words."""

    def size(mm: float) -> str:
        return show_length(round(mm, 2), unit)

    if panel.old is None:
        return tr("{name} is new").format(name=panel.name)
    if panel.new is None:
        return tr("{name} is gone; it leaves the project").format(name=panel.name)
    parts = []
    if panel.change.differs_mm > 0:
        by = size(panel.change.differs_mm)
        parts.append(tr("its outline differs by up to {by}").format(by=by))
    dx, dy = panel.moved_mm
    if (dx or dy) and panel.kind is ChangeKind.MOVED:
        parts.append(tr("it moved by {dx}, {dy} in the drawing").format(dx=size(dx), dy=size(dy)))
    if panel.change.features_changed:
        parts.append(tr("what is cut into it differs"))
    return f"{panel.name}: " + (", ".join(parts) or tr("as it was"))


def _moved(panel: ComparedPanel) -> QPainterPath:
    """An arrow from where a panel was to where it is."""
    assert panel.old is not None
    x1, y1, x2, y2 = panel.old.region.bounds
    start = QPointF((x1 + x2) / 2, (y1 + y2) / 2)
    end = start + QPointF(*panel.moved_mm)
    along = end - start
    head = along * 0.15
    across = QPointF(-head.y(), head.x()) * 0.5
    path = QPainterPath(start)
    path.lineTo(end)
    path.moveTo(end - head + across)
    path.lineTo(end)
    path.lineTo(end - head - across)
    return path


@dataclass
class Layer:
    """One path of a picture and how it is drawn; a drawing of any size is a handful of them."""

    path: QPainterPath
    look: dict[str, Any]


def drawing_layers(drawing: Drawing) -> list[Layer]:
    """A drawing as it was read."""
    boards, cut_in, lines = QPainterPath(), QPainterPath(), QPainterPath()
    for outline in drawing.outlines:
        boards.addPath(region_path(outline.region))
        _add_features(outline.features, cut_in, lines)
    strays, loose = QPainterPath(), QPainterPath()
    _add_features(drawing.strays, strays, strays)
    for line in drawing.open_lines:
        loose.addPath(line_path(line))
    return [
        Layer(boards, {"fill": "board", "z": 1}),
        Layer(cut_in, {"line": "muted", "fill": "pocket", "z": 2}),
        Layer(lines, {"line": "muted", "z": 2}),
        Layer(strays, {"line": "warn", "width": 2.0, "z": 3}),
        Layer(loose, {"line": "stop", "width": 2.5, "z": 10}),
    ]


def compared_layers(compared: Sequence[Comparison]) -> list[Layer]:
    """Drawings after they were read again, with what they were before laid over."""
    now, fresh, cut_in, lines = (QPainterPath() for _ in range(4))
    old, gone, differing, ways = (QPainterPath() for _ in range(4))
    for panel in (panel for comparison in compared for panel in comparison.panels):
        if panel.new is not None:
            (fresh if panel.old is None else now).addPath(region_path(panel.new.region))
            _add_features(panel.new.features, cut_in, lines)
        if panel.old is not None and panel.kind is not ChangeKind.SAME:
            (gone if panel.new is None else old).addPath(region_path(panel.old.region))
        if panel.differing:
            differing.addPath(shape_path(shapely.MultiPolygon(panel.differing)))
        if panel.moved_mm != (0.0, 0.0) and panel.old is not None and panel.new is not None:
            ways.addPath(_moved(panel))
    dashed = Qt.PenStyle.DashLine
    return [
        Layer(now, {"line": "ink", "width": 1.6, "fill": "board", "z": 1}),
        Layer(fresh, {"line": "good", "width": 2.2, "fill": "board", "z": 1}),
        Layer(cut_in, {"line": "muted", "fill": "pocket", "z": 2}),
        Layer(lines, {"line": "muted", "z": 2}),
        Layer(
            differing, {"line": "warn", "hatch_kind": "cross-hatch", "hatch_color": "warn", "z": 4}
        ),
        Layer(old, {"line": "accent", "width": 1.6, "style": dashed, "z": 5}),
        Layer(gone, {"line": "stop", "width": 1.6, "style": dashed, "z": 5}),
        Layer(ways, {"line": "accent", "width": 2.0, "z": 6}),
    ]


def _add_features(features: Sequence[Feature], filled: QPainterPath, open_: QPainterPath) -> None:
    """Closed features and holes to one path, engraved lines to the other."""
    for feature in features:
        closed = feature.ring is not None or feature.at is not None
        (filled if closed else open_).addPath(feature_path(feature))


def _put(canvas: Canvas, layers: Sequence[Layer]) -> None:
    for layer in layers:
        if not layer.path.isEmpty():
            canvas.scene.addItem(PathItem(layer.path, **layer.look))


def _made(
    context: Context, count: int, work: Callable[[], list[Layer]], done: Callable[[Any], None]
) -> None:
    """Build paths at once where they are few, else off the window's thread."""
    if count <= _AT_ONCE:
        done(work())
        return
    context.jobs.start(
        tr("Drawing it"), lambda _progress, _stop: work(), done=done, lane="picture", quiet=True
    )


def _span(outlines: Sequence[Outline]) -> float:
    """The longest side of the largest outline."""
    return max((max(o.region.size_mm) for o in outlines), default=300.0)


def _counted(drawing: Drawing) -> str:
    outlines, lines, features = map(len, (drawing.outlines, drawing.open_lines, drawing.strays))
    parts = [tr("1 outline") if outlines == 1 else tr("{n} outlines").format(n=outlines)]
    if lines:
        several = tr("{n} lines in no outline").format(n=lines)
        parts.append(tr("1 line in no outline") if lines == 1 else several)
    if features:
        several = tr("{n} features on no panel").format(n=features)
        parts.append(tr("1 feature on no panel") if features == 1 else several)
    return ", ".join(parts)
