"""Two ways to split a panel side by side, cut for real, with what each costs."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from PySide6.QtCore import QPointF, QRectF, QSize, Qt, Signal
from PySide6.QtGui import QPainter, QPaintEvent
from PySide6.QtWidgets import QDialog, QGridLayout, QSizePolicy, QVBoxLayout, QWidget

from app import theme
from app.canvas import items, paths
from app.canvas.lengths import glance, glance_size
from app.i18n import tr
from app.jobs import Jobs, Progress, Stop
from app.stages import joints_model as model
from app.stages.joints_model import Shown
from app.widgets.forms import Choice, Heading, button, words
from app.widgets.reasons import set_able
from app.widgets.room import resize_within_screen
from app.wording import in_words
from core.errors import SeamwrightError
from core.project.saying import in_unit
from core.splitting import Proposal, SplitPanel


@dataclass(frozen=True)
class Way:
    """One way to split it: the proposal's number, or 0 for the seams there are now."""

    number: int
    title: str
    split: SplitPanel
    reasons: tuple[str, ...] = ()

    @property
    def joint_mm(self) -> float:
        """Length of joint in all."""
        return sum(seam.joint_length_mm for seam in self.split.seams)


def ways_of(shown: Shown, proposals: Sequence[Proposal]) -> list[Way]:
    """The seams there are, if no proposal, and every proposal, cut; what cannot be is left out."""
    known = [[s.points for s in proposal.seams] for proposal in proposals]
    ways = []
    if shown.split.seams and [s.points for s in shown.lines] not in known:
        ways.append(Way(0, tr("As it is now"), shown.split))
    for number, proposal in enumerate(proposals, start=1):
        try:
            split = model.cut_along(shown.panel, proposal.seams, shown.context, draft=True)
        except SeamwrightError:
            continue
        ways.append(Way(number, tr("Way {n}").format(n=number), split, proposal.reasons))
    return ways


def facts_of(way: Way, unit: str) -> str:
    """What a maker compares: pieces, seams, joint, teeth, the largest and smallest piece."""
    pieces = [p for p in way.split.pieces if not p.loose]
    by_area = sorted(pieces, key=lambda p: p.area_mm2)
    teeth = sum(seam.teeth for seam in way.split.seams)
    rows = [
        tr("{n} pieces, {s} seams").format(n=len(pieces), s=len(way.split.seams)),
        tr("{length} of joint, {n} teeth or keys").format(
            length=glance(way.joint_mm, unit), n=teeth
        ),
        tr("largest piece {size}").format(size=glance_size(*by_area[-1].cut.region.size_mm, unit)),
        tr("smallest piece {size}").format(size=glance_size(*by_area[0].cut.region.size_mm, unit)),
    ]
    rows += [
        f"{theme.SIGNS[f.severity]} {in_unit(in_words(f.message), unit)}"
        for f in way.split.findings
    ]
    rows += [in_unit(in_words(reason), unit) for reason in way.reasons]
    return "\n".join(rows)


class WayPicture(QWidget):
    """The pieces of one way, in their tints, as large as there is room."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.way: Way | None = None
        self.setMinimumSize(280, 200)
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Expanding)
        theme.watcher().changed.connect(self.update)

    def sizeHint(self) -> QSize:
        return QSize(440, 300)

    def show_way(self, way: Way | None) -> None:
        """Draw another way."""
        self.way = way
        self.setAccessibleName(way.title if way is not None else "")
        self.update()

    def paintEvent(self, event: QPaintEvent) -> None:
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing, True)
        painter.fillRect(self.rect(), theme.color("desk"))
        if self.way is not None:
            self._draw(painter, self.way)
        painter.end()

    def _draw(self, painter: QPainter, way: Way) -> None:
        pieces = [p for p in way.split.pieces if not p.loose]
        box = QRectF()
        shapes = [paths.region_path(piece.cut.region) for piece in pieces]
        for shape in shapes:
            box = box.united(shape.boundingRect())
        room = QRectF(self.rect()).adjusted(14, 14, -14, -14)
        scale = min(room.width() / box.width(), room.height() / box.height())
        painter.save()
        painter.translate(room.center())
        painter.scale(scale, -scale)
        painter.translate(-box.center())
        painter.setPen(items.cosmetic(theme.color("ink")))
        for number, shape in enumerate(shapes):
            painter.setBrush(theme.tint(number))
            painter.drawPath(shape)
        marks: list[tuple[QPointF, str, str]] = []
        place = painter.worldTransform()
        for number, piece in enumerate(pieces, start=1):
            spot = piece.region.polygon.representative_point()
            marks.append((place.map(QPointF(spot.x, spot.y)), str(number), "ink"))
        for seam in way.split.seams:
            middle = seam.profile[len(seam.profile) // 2]
            marks.append((place.map(QPointF(*middle)), seam.letter, "seam"))
        painter.restore()
        for at, text, colour in marks:
            plate = QRectF(at.x() - 10, at.y() - 9, 20, 18)
            if colour == "seam":
                painter.setPen(Qt.PenStyle.NoPen)
                painter.setBrush(theme.color("paper"))
                painter.drawRoundedRect(plate, 4, 4)
            painter.setPen(theme.color(colour))
            painter.drawText(plate, Qt.AlignmentFlag.AlignCenter, text)


class CompareDialog(QDialog):
    """Two panes, each with a way of its own. taken(number) when one is wanted, from 1 on."""

    taken = Signal(int)

    def __init__(
        self,
        jobs: Jobs,
        shown: Shown,
        proposals: Sequence[Proposal],
        unit: str,
        parent: QWidget | None = None,
    ) -> None:
        super().__init__(parent)
        self.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        self.setWindowTitle(tr("Ways to split {name}").format(name=shown.panel.name))
        self._unit = unit
        self.ways: list[Way] = []
        column = QVBoxLayout(self)
        column.setContentsMargins(theme.WIDE, theme.WIDE, theme.WIDE, theme.WIDE)
        grid = QGridLayout()
        grid.setHorizontalSpacing(theme.WIDE)
        grid.setRowStretch(1, 1)
        self.choices: list[Choice] = []
        self.pictures: list[WayPicture] = []
        self.facts = [words(muted=False), words(muted=False)]
        self.buttons = []
        for side, title in enumerate((tr("Left"), tr("Right"))):
            choice = Choice(tr("Way shown on this side: {side}").format(side=title))
            choice.chosen.connect(self._show)
            picture = WayPicture()
            take = button(
                tr("Take this one"), self._take_left if side == 0 else self._take_right, "check"
            )
            take.setAutoDefault(False)
            self.facts[side].setAlignment(Qt.AlignmentFlag.AlignTop)
            for number, widget in enumerate((choice, picture, self.facts[side], take)):
                grid.addWidget(widget, number, side)
            grid.setColumnStretch(side, 1)
            self.choices.append(choice)
            self.pictures.append(picture)
            self.buttons.append(take)
        self.state = Heading(tr("Cutting every way…"))
        column.addWidget(self.state)
        column.addLayout(grid, 1)
        close = button(tr("Close"), self.reject)
        close.setAutoDefault(False)
        column.addWidget(close, 0, Qt.AlignmentFlag.AlignRight)
        resize_within_screen(self, 980, 640)
        found = tuple(proposals)

        def work(_progress: Progress, _stop: Stop) -> list[Way]:
            return ways_of(shown, found)

        jobs.start(
            tr("Comparing ways to split it"), work, done=self._made, lane="compare", quiet=True
        )

    def _made(self, ways: list[Way]) -> None:
        self.ways = ways
        options = [(k, way.title) for k, way in enumerate(ways)]
        for side, choice in enumerate(self.choices):
            choice.set_options(options)
            choice.set_value(min(side, len(ways) - 1))
        self.state.setText(tr("Two ways side by side"))
        self._show()

    def _way(self, side: int) -> Way | None:
        index = self.choices[side].value
        return self.ways[index] if index is not None and index < len(self.ways) else None

    def _show(self, _value: object = None) -> None:
        for side in (0, 1):
            way = self._way(side)
            self.pictures[side].show_way(way)
            self.facts[side].setText(facts_of(way, self._unit) if way is not None else "")
            set_able(
                self.buttons[side],
                way is not None and way.number > 0,
                tr("The panel is split this way already.") if way is not None else "",
            )

    def _take_left(self) -> None:
        self._take(0)

    def _take_right(self) -> None:
        self._take(1)

    def _take(self, side: int) -> None:
        way = self._way(side)
        if way is not None and way.number > 0:
            self.taken.emit(way.number)
            self.accept()
