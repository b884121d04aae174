"""A blank on the machine's bed, seen from above: moved by hand, warned of at once."""

from __future__ import annotations

from dataclasses import dataclass, replace

from PySide6.QtCore import QPointF, QRectF, QSize, Qt, Signal
from PySide6.QtGui import (
    QBrush,
    QFontMetrics,
    QKeyEvent,
    QMouseEvent,
    QPainter,
    QPainterPath,
    QPaintEvent,
    QPen,
    QTransform,
)
from PySide6.QtWidgets import (
    QApplication,
    QDialog,
    QHBoxLayout,
    QSizePolicy,
    QVBoxLayout,
    QWidget,
)
from shapely.geometry import Polygon

from app import theme
from app.canvas import paths
from app.canvas.handler import arrow_way
from app.i18n import tr
from app.widgets.fields import LengthField
from app.widgets.forms import Choice, Rows, button, close_box, words
from app.widgets.reasons import set_able
from app.widgets.room import resize_within_screen
from app.wording import in_words
from core.layout.setups import bed_point, off_table, reach_problem, to_bed
from core.plan import Plan, PlanSetup
from core.project.model import Project
from core.project.saying import in_project_unit
from core.shop import Hold, Machine

_MARGIN = 14.0


@dataclass(frozen=True)
class OnBed:
    """One setup with the outlines cut in it, sheet coordinates. movable: it may be moved."""

    setup: PlanSetup
    title: str
    shapes: tuple[Polygon, ...]
    names: tuple[str, ...]
    movable: bool


def setups_on_bed(plan: Plan) -> list[OnBed]:
    """Every setup of a plan."""
    rows = []
    for sheet in plan.sheets:
        letters = {b.id: b.letter for b in sheet.blanks}
        stretches = [s.blank for s in sheet.setups]
        for number, setup in enumerate(sheet.setups, start=1):
            here = [p for p in sheet.placements if p.setup == setup.id]
            title = tr("Sheet {n}, blank {letter}, clamping {k}").format(
                n=sheet.number, letter=letters.get(setup.blank, "–"), k=number
            )
            rows.append(
                OnBed(
                    setup,
                    title,
                    tuple(plan.placed_region(p).polygon for p in here),
                    tuple(plan.piece(p.piece).name for p in here),
                    stretches.count(setup.blank) == 1 and not setup.pins,
                )
            )
    return rows


def moved(setup: PlanSetup, x_mm: float, y_mm: float) -> PlanSetup:
    """The setup with its board's corner there."""
    return replace(setup, bed_x_mm=x_mm, bed_y_mm=y_mm)


class BedView(QWidget):
    """Table, travel, clamps, suction, and the board to be dragged over them.

    dragged(x_mm, y_mm): where the board's corner is now; dropped: the hand let go.
    """

    dragged = Signal(float, float)
    dropped = Signal()

    def __init__(self) -> None:
        super().__init__()
        self.setAccessibleName(tr("The board on the bed; arrows move it"))
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Expanding)
        self._machine: Machine | None = None
        self._one: OnBed | None = None
        self._wrong: set[int] = set()
        self._grip: tuple[QPointF, float, float] | None = None
        theme.watcher().changed.connect(self.update)

    def sizeHint(self) -> QSize:
        """A view to work on."""
        return QSize(560, 380)

    def show_setup(self, machine: Machine, one: OnBed | None, wrong: set[int]) -> None:
        """Draw this setup; wrong: indices of pieces the bit must not cut there."""
        self._machine, self._one, self._wrong = machine, one, wrong
        self.update()

    # --- scale ------------------------------------------------------------------------------
    def _bounds(self) -> tuple[float, float, float, float]:
        machine = self._machine or Machine()
        (tw, th), (w, h) = machine.travel_mm, machine.table_mm
        x, y = min(0.0, (tw - w) / 2), min(0.0, (th - h) / 2)
        return x, y, max(tw, tw - x), max(th, th - y)

    def _scale(self) -> float:
        x1, y1, x2, y2 = self._bounds()
        wide, high = self.width() - 2 * _MARGIN, self.height() - 2 * _MARGIN
        return max(1e-6, min(wide / (x2 - x1), high / (y2 - y1)))

    def to_px(self, x_mm: float, y_mm: float) -> QPointF:
        """From bed coordinates, y up, to the widget."""
        x1, _, _, y2 = self._bounds()
        scale = self._scale()
        return QPointF(_MARGIN + (x_mm - x1) * scale, _MARGIN + (y2 - y_mm) * scale)

    def _rect(self, x: float, y: float, w: float, h: float) -> QRectF:
        return QRectF(self.to_px(x, y + h), self.to_px(x + w, y))

    def _path(self, shape: Polygon) -> QPainterPath:
        scale, origin = self._scale(), self.to_px(0, 0)
        turn = QTransform(scale, 0.0, 0.0, -scale, origin.x(), origin.y())
        return turn.map(paths.shape_path(shape))

    # --- painting ---------------------------------------------------------------------------
    def paintEvent(self, _event: QPaintEvent) -> None:
        """The bed from below to above: table, board, pieces, clamps, travel."""
        machine, one = self._machine, self._one
        if machine is None:
            return
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        (tw, th), (w, h) = machine.travel_mm, machine.table_mm
        painter.setPen(QPen(theme.color("ink"), 1))
        painter.setBrush(theme.color("paper"))
        painter.drawRect(self._rect((tw - w) / 2, (th - h) / 2, w, h))
        painter.setPen(QPen(theme.color("control"), 1))
        for area in machine.vacuum:
            painter.setBrush(QBrush(theme.color("control"), Qt.BrushStyle.Dense7Pattern))
            painter.drawPath(self._path(area.polygon))
        if one is not None:
            setup = one.setup
            wide, deep = setup.width_mm, setup.height_mm
            if setup.turned:
                wide, deep = deep, wide
            painter.setPen(QPen(theme.color("ink"), 1.5))
            painter.setBrush(theme.color("board"))
            painter.drawRect(self._rect(setup.bed_x_mm, setup.bed_y_mm, wide, deep))
            for k, shape in enumerate(one.shapes):
                bad = k in self._wrong
                painter.setPen(QPen(theme.color("stop" if bad else "ink"), 2.5 if bad else 1))
                brush = Qt.BrushStyle.BDiagPattern if bad else Qt.BrushStyle.NoBrush
                painter.setBrush(QBrush(theme.color("stop"), brush))
                laid = to_bed(shape, setup)
                if isinstance(laid, Polygon):
                    painter.drawPath(self._path(laid))
            self._paint_holds(painter, setup)
        color = theme.color("clamp")
        painter.setPen(QPen(color, 1.2))
        painter.setBrush(QBrush(color, Qt.BrushStyle.FDiagPattern))
        for clamp in machine.clamps:
            painter.drawPath(self._path(clamp.polygon))
        painter.setBrush(Qt.BrushStyle.NoBrush)
        painter.setPen(QPen(theme.color("accent"), 1.4, Qt.PenStyle.DashLine))
        painter.drawRect(self._rect(0, 0, tw, th))
        if self.hasFocus():
            painter.setPen(QPen(theme.color("accent"), 1))
            painter.drawRect(self.rect().adjusted(1, 1, -2, -2))

    def _paint_holds(self, painter: QPainter, setup: PlanSetup) -> None:
        """Tabs as crosses, screws as crossed rings, holes for pins as rings, pins filled."""
        ink = QPen(theme.color("ink"), 1.6)
        painter.setPen(ink)
        painter.setBrush(Qt.BrushStyle.NoBrush)
        screws = list(setup.screws)
        for hold in setup.holds:
            if hold.way == Hold.SCREWS:
                screws += hold.places
            for at in hold.places if hold.way == Hold.TABS else ():
                spot = self.to_px(*bed_point(at, setup))
                painter.drawLine(spot - QPointF(3, 0), spot + QPointF(3, 0))
                painter.drawLine(spot - QPointF(0, 3), spot + QPointF(0, 3))
        for at in screws:
            spot = self.to_px(*bed_point(at, setup))
            painter.drawEllipse(spot, 4, 4)
            painter.drawLine(spot - QPointF(3, 3), spot + QPointF(3, 3))
            painter.drawLine(spot - QPointF(3, -3), spot + QPointF(3, -3))
        painter.setPen(QPen(theme.color("accent"), 1.6))
        for at in setup.bores:
            painter.drawEllipse(self.to_px(*bed_point(at, setup)), 5, 5)
        painter.setBrush(theme.color("accent"))
        for at in setup.pins:
            painter.drawEllipse(self.to_px(*bed_point(at, setup)), 4, 4)

    # --- the hand ---------------------------------------------------------------------------
    def mousePressEvent(self, event: QMouseEvent) -> None:
        """Take hold of the board."""
        if self._one is not None and self._one.movable:
            self._grip = (event.position(), self._one.setup.bed_x_mm, self._one.setup.bed_y_mm)
            self.setCursor(Qt.CursorShape.ClosedHandCursor)

    def mouseMoveEvent(self, event: QMouseEvent) -> None:
        """The board goes with the hand, in half millimetres."""
        if self._grip is None:
            return
        start, x, y = self._grip
        scale = self._scale()
        x += round((event.position().x() - start.x()) / scale * 2) / 2
        y -= round((event.position().y() - start.y()) / scale * 2) / 2
        self.dragged.emit(x, y)

    def mouseReleaseEvent(self, _event: QMouseEvent) -> None:
        """It stays there."""
        if self._grip is not None:
            self._grip = None
            self.unsetCursor()
            self.dropped.emit()

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Arrows move it by 1 mm, with Shift by 10."""
        way = arrow_way(event)
        if way is None or self._one is None or not self._one.movable:
            super().keyPressEvent(event)
            return
        far = 10.0 if event.modifiers() & Qt.KeyboardModifier.ShiftModifier else 1.0
        setup = self._one.setup
        self.dragged.emit(setup.bed_x_mm + far * way[0], setup.bed_y_mm + far * way[1])
        self.dropped.emit()


class BedDialog(QDialog):
    """One clamping after the other; lain(setup id, x_mm, y_mm or None, None): put there."""

    lain = Signal(str, object, object)

    def __init__(self, unit: str, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setWindowTitle(tr("Blanks on the bed"))
        row = QHBoxLayout(self)
        self.view = BedView()
        row.addWidget(self.view, 1)
        self._column = column = QWidget()
        side = QVBoxLayout(column)
        side.setContentsMargins(0, 0, 0, 0)
        row.addWidget(column)
        rows = Rows()
        self.which = Choice(tr("Clamping"))
        self.at_x = LengthField(tr("Left edge from the travel's corner"), unit, least_mm=-1e6)
        self.at_y = LengthField(tr("Lower edge from the travel's corner"), unit, least_mm=-1e6)
        rows.add(tr("Clamping"), self.which)
        rows.add(tr("x"), self.at_x)
        rows.add(tr("y"), self.at_y)
        side.addWidget(rows)
        self.usual = button(
            tr("Lay it the usual way"),
            self._lay_usual,
            "refresh",
            tr("Back to where the bit reaches most of it"),
        )
        side.addWidget(self.usual)
        self.state = words("", muted=False)
        side.addWidget(self.state)
        self.holding = words("")
        self.holding.setAccessibleName(tr("What holds the parts here, and what to mind"))
        side.addWidget(self.holding)
        self.hint = words(
            tr(
                "Drag the board, or move it with the arrow keys. Dashed: the reach of the bit. "
                "Crosses: tabs; crossed rings: places for screws; rings: holes for pins."
            )
        )
        side.addWidget(self.hint)
        side.addStretch(1)
        side.addWidget(close_box(self))
        self._project = Project()
        self._machine = Machine()
        self._rows: list[OnBed] = []
        self._now: OnBed | None = None
        self.which.chosen.connect(self._pick)
        self.at_x.committed.connect(self._set_x)
        self.at_y.committed.connect(self._set_y)
        self.view.dragged.connect(self._drag)
        self.view.dropped.connect(self._drop)
        theme.watcher().changed.connect(self._follow_text)
        self._follow_text()

    def _follow_text(self) -> None:
        """As large as the text asks for. The column's width is fixed: the view must not change
        its scale under the hand."""
        text = max(1.0, QFontMetrics(QApplication.font()).height() / 15.0)
        self._column.setFixedWidth(round(330 * text))
        resize_within_screen(self, round(960 * text), round(540 * text))

    def show_plan(self, plan: Plan, unit: str) -> None:
        """Take over a plan; the clamping shown stays if it is still there."""
        self._project = plan.project
        self._machine = plan.project.shop.machine
        self._rows = setups_on_bed(plan)
        self.at_x.set_unit(unit)
        self.at_y.set_unit(unit)
        self.which.set_options([(one.setup.id, one.title) for one in self._rows])
        ids = [one.setup.id for one in self._rows]
        wish = self.which.value if self.which.value in ids else (ids[0] if ids else None)
        self.which.set_value(wish)
        self._pick(wish)

    @property
    def now(self) -> OnBed | None:
        """The clamping as it is shown."""
        return self._now

    def _pick(self, setup_id: object) -> None:
        self._now = next((one for one in self._rows if one.setup.id == setup_id), None)
        self._show()

    def _show(self) -> None:
        one = self._now
        wrong: set[int] = set()
        rows: list[str] = []
        if one is not None:
            for k, (shape, name) in enumerate(zip(one.shapes, one.names, strict=True)):
                problem = reach_problem(one.setup, shape, self._machine)
                if problem:
                    wrong.add(k)
                    rows.append(f"● {name}: {in_words(problem)}")
            off = off_table(one.setup, self._machine)
            if off:
                rows.append("● " + tr("The board hangs over the table's edge."))
            self.at_x.set_value(one.setup.bed_x_mm)
            self.at_y.set_value(one.setup.bed_y_mm)
        text = "\n".join(rows[:6]) if rows else tr("✓ The bit gets round every piece here.")
        notes = "" if one is None else "\n".join(one.setup.notes)
        self.holding.setText(in_project_unit(in_words(notes), self._project))
        if one is None:
            text = tr("Nothing is laid out yet.")
        elif not one.movable:
            text += "\n" + tr("A board pushed through lies where its pins are.")
        theme.mark(self.state, "severity", "stop" if rows else "")
        self.state.setText(text)
        may = one is not None and one.movable
        why = text if one is None else tr("A board pushed through lies where its pins are.")
        for widget in (self.at_x, self.at_y, self.usual):
            set_able(widget, may, why)
        self.view.show_setup(self._machine, one, wrong)

    def _drag(self, x_mm: float, y_mm: float) -> None:
        if self._now is not None:
            self._now = replace(self._now, setup=moved(self._now.setup, x_mm, y_mm))
            self._show()

    def _drop(self) -> None:
        if self._now is not None:
            setup = self._now.setup
            self.lain.emit(setup.id, setup.bed_x_mm, setup.bed_y_mm)

    def _set_x(self, value: float) -> None:
        if self._now is not None:
            self._drag(value, self._now.setup.bed_y_mm)
            self._drop()

    def _set_y(self, value: float) -> None:
        if self._now is not None:
            self._drag(self._now.setup.bed_x_mm, value)
            self._drop()

    def _lay_usual(self) -> None:
        if self._now is not None:
            self.lain.emit(self._now.setup.id, None, None)
