"""The test piece in the window: its drawing and page for the first job, and its result."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from PySide6.QtCore import QRectF, QSize, Qt
from PySide6.QtGui import QPainter, QPaintEvent, QPen, QTransform
from PySide6.QtWidgets import QDialog, QHBoxLayout, QSizePolicy, QVBoxLayout, QWidget

from app import theme
from app.canvas import paths
from app.canvas.lengths import play_text
from app.commands.base import SHOP
from app.context import Context
from app.i18n import tr
from app.jobs import Progress, Stop
from app.widgets.fields import LengthField, ParsedField, show_length
from app.widgets.forms import Choice, Heading, Rows, button, close_box, row_of, scrolling, words
from app.widgets.lens import JointLens, LensJoint
from app.widgets.reasons import set_able
from app.widgets.room import show_whole
from app.wording import error_in_words, in_words
from core.atomic import write_atomically
from core.errors import SeamwrightError
from core.project.model import Project
from core.shop import Cutter, FitSetting, JointClass

if TYPE_CHECKING:
    from core.test_pieces import TestPiece, TestResult


@dataclass(frozen=True)
class KeepTestResult:
    """Keep what came out of a test piece for its board, bit and joint class."""

    text: str
    result: TestResult
    kinds: frozenset[str] = frozenset({SHOP})

    def apply(self, project: Project) -> Project:
        """The project with that fit in use from now on."""
        from core.test_pieces import keep_result

        return keep_result(project, self.result)


class PiecePicture(QWidget):
    """The parts of a test piece to scale with each other, with their writing."""

    def __init__(self) -> None:
        super().__init__()
        self._piece: TestPiece | None = None
        self.setAccessibleName(tr("The test piece"))
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Expanding)
        theme.watcher().changed.connect(self.update)

    def sizeHint(self) -> QSize:
        """Room for a plate and its testers."""
        return QSize(420, 300)

    def show_piece(self, piece: TestPiece | None) -> None:
        """Show a piece, None while it is being drawn."""
        self._piece = piece
        self.update()

    def paintEvent(self, _event: QPaintEvent) -> None:
        """Board, openings, writing."""
        painter = QPainter(self)
        painter.fillRect(self.rect(), theme.color("paper"))
        piece = self._piece
        if piece is None:
            return
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        x1, y1, x2, y2 = piece.bounds
        room = QRectF(self.rect()).adjusted(10, 10, -10, -10)
        scale = min(room.width() / (x2 - x1), room.height() / (y2 - y1))
        left = room.center().x() - scale * (x1 + x2) / 2
        low = room.center().y() + scale * (y1 + y2) / 2
        painter.setTransform(QTransform(scale, 0, 0, -scale, left, low), True)
        ink, fine = QPen(theme.color("ink"), 1.2), QPen(theme.color("ink"), 1.0)
        for pen in (ink, fine):
            pen.setCosmetic(True)
        for part in piece.parts:
            painter.setPen(ink)
            painter.setBrush(theme.color("board"))
            painter.drawPath(paths.region_path(part.region))
            painter.setPen(fine)
            painter.setBrush(theme.color("pocket"))
            for ring in part.pockets:
                painter.drawPath(paths.ring_path(ring))
            painter.setBrush(Qt.BrushStyle.NoBrush)
            for stroke in part.strokes:
                painter.drawPath(paths.line_path(stroke))
        painter.end()


class TestPieceDialog(QDialog):
    """First job: cut a test piece, say which was right, and that is the fit from then on."""

    __test__ = False  # its name would make a test runner collect it

    def __init__(self, context: Context, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        self.setWindowTitle(tr("Test piece"))
        self._context = context
        self.piece: TestPiece | None = None
        column = QVBoxLayout(self)
        column.setContentsMargins(theme.WIDE, theme.WIDE, theme.WIDE, theme.WIDE)
        body = QHBoxLayout()
        body.setSpacing(theme.WIDE)
        column.addLayout(body, 1)
        self.picture = PiecePicture()
        body.addWidget(self.picture, 3)
        side = QWidget()
        side_column = QVBoxLayout(side)
        side_column.setContentsMargins(0, 0, 0, 0)
        side_column.setSpacing(theme.NORMAL)
        body.addWidget(scrolling(side, whole=True), 2)
        side_column.addWidget(Heading(tr("1  Cut it first")))
        self._make_choices(side_column)
        side_column.addWidget(Heading(tr("2  Which was right?")))
        self._make_result(side_column)
        side_column.addStretch(1)
        self.state = words()
        column.addWidget(self.state)
        column.addWidget(close_box(self))
        show_whole(self)
        context.document.changed.connect(self._fill)
        self._fill()
        self._draw()

    # --- building -------------------------------------------------------------------------
    def _make_choices(self, column: QVBoxLayout) -> None:
        rows = Rows()
        self.board = Choice(tr("Board of the test piece"))
        rows.add(tr("Board"), self.board)
        self.bit = Choice(tr("Bit of the test piece"))
        rows.add(tr("Bit"), self.bit)
        self.joint_class = Choice(
            tr("What the joints are for"),
            [(JointClass.GLUED, tr("glued")), (JointClass.KNOCK_DOWN, tr("to be taken apart"))],
        )
        self.joint_class.set_value(JointClass.GLUED)
        rows.add(tr("Joints"), self.joint_class)
        for choice in (self.board, self.bit, self.joint_class):
            choice.chosen.connect(self._draw)
        column.addWidget(rows)
        self.about = words()
        column.addWidget(self.about)
        self.drawing_button = button(
            tr("Drawing…"), self._write_drawing, "export", tr("Write the DXF of the test piece")
        )
        self.page_button = button(
            tr("Page and label…"),
            self._write_page,
            "page",
            tr("Write the PDF with the clamping, how to try it, and a label"),
        )
        column.addWidget(row_of(self.drawing_button, self.page_button))

    def _make_result(self, column: QVBoxLayout) -> None:
        self.how = words()
        column.addWidget(self.how)
        rows = Rows()
        self.along = self._which(tr("What was right along the grain"))
        rows.add(tr("Along the grain"), self.along)
        self.across = self._which(tr("What was right across the grain"))
        rows.add(tr("Across it"), self.across)
        self.slot = LengthField(
            tr("What the slot measured"), self._context.unit, above_zero=True, empty=tr("not yet")
        )
        rows.add(tr("Slot measured"), self.slot)
        column.addWidget(rows)
        self.slot_words = words()
        column.addWidget(self.slot_words)
        self.lens = JointLens(tr("The play that was right, magnified"))
        column.addWidget(self.lens)
        for field in (self.along, self.across, self.slot):
            field.committed.connect(self._show_result)
        self.keep_button = button(tr("Use this fit from now on"), self.keep, "check", primary=True)
        column.addWidget(row_of(self.keep_button))

    def _which(self, name: str) -> ParsedField:
        return ParsedField(self._read, self._write, name=name, empty=tr("not tried"))

    def _read(self, text: str) -> float:
        from core.test_pieces import fit_called

        fits = self.piece.fits_mm if self.piece is not None else ()
        return fit_called(text, fits, unit=self._context.unit)

    def _write(self, play_mm: float) -> str:
        from core.test_pieces import fit_label

        fits = self.piece.fits_mm if self.piece is not None else ()
        return fit_label(play_mm, fits, unit=self._context.unit)

    # --- showing --------------------------------------------------------------------------
    def _fill(self, _change: object = None) -> None:
        from core.test_pieces import materials_used

        project = self._context.document.project
        unit = project.units
        used = materials_used(project)
        names = [*used, *(m.name for m in project.shop.materials if m.name not in used)]
        before = self.board.value
        self.board.set_options([(name, name) for name in names])
        self.board.set_value(before if before in names else (names[0] if names else None))
        bits = project.shop.machine.cutters
        old = self.bit.value
        self.bit.set_options([(c, _bit_words(c, unit)) for c in bits])
        same = next((c for c in bits if old and c.diameter_mm == old.diameter_mm), bits[0])
        self.bit.set_value(same)
        self.slot.set_unit(unit)
        self._show_kept()

    def _show_kept(self) -> None:
        kept = self.kept()
        if kept is None:
            self.state.setText(
                tr("No result is kept for this board and bit yet; the fit is assumed.")
            )
        else:
            self.state.setText(
                tr("Kept for this board and bit: {play}.").format(
                    play=play_text(kept.play_mm, self._context.unit)
                )
            )

    def kept(self) -> FitSetting | None:
        """The result kept for the board, bit and class chosen."""
        shop = self._context.document.project.shop
        cutter = self.bit.value
        for setting in shop.fits:
            if (
                setting.from_test
                and setting.material == self.board.value
                and cutter is not None
                and setting.cutter_mm == cutter.diameter_mm
                and setting.joint_class is self.joint_class.value
            ):
                return setting
        return None

    def _draw(self, _value: object = None) -> None:
        """Draw the piece for what is chosen, off the window's thread."""
        project, board, bit = self._context.document.project, self.board.value, self.bit.value
        joint = self.joint_class.value
        for field in (self.along, self.across, self.slot):
            field.set_value(None)
        self.piece = None
        self._show_piece("")
        self._show_kept()
        if board is None:
            self._show_piece(tr("Add a board in the Shop first."))
            return

        def work(_progress: Progress, _stop: Stop) -> TestPiece:
            from core.test_pieces import make_test_piece

            return make_test_piece(project, material=board, cutter=bit, joint_class=joint)

        self._context.jobs.start(
            tr("Drawing the test piece"),
            work,
            done=self._drawn,
            failed=self._failed,
            still_wanted=lambda: self.board.value == board and self.bit.value == bit,
            lane="test-piece",
            quiet=True,
            owner=self,
        )

    def _drawn(self, piece: TestPiece) -> None:
        self.piece = piece
        self._show_piece("")

    def _failed(self, error: SeamwrightError) -> None:
        self._show_piece(f"● {error_in_words(error)}")

    def _show_piece(self, problem: str) -> None:
        from core.test_pieces import piece_words, slot_to_measure, use_words

        piece, project = self.piece, self._context.document.project
        self.picture.show_piece(piece)
        have = piece is not None
        for widget in (self.drawing_button, self.page_button, self.along, self.across, self.slot):
            set_able(widget, have, problem or tr("Drawing it…"))
        if piece is None:
            self.about.setText(problem or tr("Drawing it…"))
            self.how.setText("")
            self.slot_words.setText("")
        else:
            self.about.setText(" ".join(map(in_words, piece_words(project, piece))))
            names = ", ".join(self._write(fit) for fit in piece.fits_mm)
            self.how.setText(tr("Type the word or the figure on the piece: {n}.").format(n=names))
            self.how.setToolTip("\n".join(map(in_words, use_words(project, piece))))
            width = show_length(slot_to_measure(piece).width_mm, self._context.unit)
            self.slot_words.setText(
                tr(
                    "The first upright slot is drawn {w} wide; measure it across its middle."
                ).format(w=width)
            )
        self._show_result()

    def _show_result(self, _value: object = None) -> None:
        result = self.told_result()
        told = result is not None and (result.along_mm, result.across_mm) != (None, None)
        set_able(
            self.keep_button, told, tr("First type what was right, along or across the grain.")
        )
        if result is None or not told:
            self.lens.show_joint(None, self._context.unit)
            return
        joint = LensJoint(result.play_mm)
        self.lens.show_joint(joint, self._context.unit)

    def told_result(self) -> TestResult | None:
        """What is typed, None while there is no piece."""
        from core.test_pieces import TestResult, slot_to_measure

        piece = self.piece
        if piece is None:
            return None
        return TestResult(
            piece.material,
            piece.cutter,
            self.along.value,
            self.across.value,
            slot_to_measure(piece).width_mm,
            self.slot.value,
            self.joint_class.value,
        )

    # --- doing ----------------------------------------------------------------------------
    def keep(self) -> None:
        """Keep the result; one step of undo."""
        for field in (self.along, self.across, self.slot):
            if not field.commit():
                return
        result = self.told_result()
        if result is None:
            return
        text = tr("Keep the fit of {board}").format(board=result.material)

        def act() -> str:
            self._context.document.run(KeepTestResult(text, result), sender=self)
            said = play_text(result.play_mm, self._context.unit)
            if result.bit_mm is None:
                return tr("Kept: {play}.").format(play=said)
            bit = show_length(round(result.bit_mm, 3), self._context.unit)
            return tr("Kept: {play}. The bit really is {bit}.").format(play=said, bit=bit)

        self._guarded(act)

    def _write_drawing(self) -> None:
        from core.outlines.write import write_dxf
        from core.test_pieces import piece_margin_mm

        piece = self.piece
        chosen = self._context.ask.save_file(
            tr("Drawing of the test piece"), tr("Drawings (*.dxf)"), suggestion="test-piece.dxf"
        )
        if piece is None or not chosen:
            return
        path = _with_suffix(chosen, ".dxf")
        margin = piece_margin_mm(self._context.document.project, piece)

        def act() -> str:
            write_dxf(path, piece.items((margin, margin)))
            return tr("Written: {file}").format(file=path.name)

        self._guarded(act)

    def _write_page(self) -> None:
        from core.reports.fit_test_page import fit_test_pdf

        piece = self.piece
        chosen = self._context.ask.save_file(
            tr("Page of the test piece"), tr("PDF (*.pdf)"), suggestion="test-piece.pdf"
        )
        if piece is None or not chosen:
            return
        path = _with_suffix(chosen, ".pdf")

        def act() -> str:
            write_atomically(path, fit_test_pdf(self._context.document.project, (piece,)))
            return tr("Written: {file}").format(file=path.name)

        self._guarded(act)

    def _guarded(self, act: Callable[[], str]) -> None:
        try:
            said = act()
        except SeamwrightError as error:
            self.state.setText(f"● {error_in_words(error)}")
        else:
            self.state.setText(said)


def _with_suffix(chosen: str, suffix: str) -> Path:
    path = Path(chosen)
    return path if path.suffix else path.with_suffix(suffix)


def _bit_words(cutter: Cutter, unit: str) -> str:
    size = show_length(cutter.diameter_mm, unit)
    return f"{cutter.name} {size}".strip()
