"""Changes made on the Joints stage: styles, numbers, seams put in, the bed laid over."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import shapely

from app.canvas.lengths import short_length
from app.canvas.view import Pointer
from app.commands.base import Command, Together
from app.commands.panels import SetPanels
from app.commands.seams import (
    KeepTooth,
    RemoveTooth,
    SetBoards,
    SetSeams,
    SetStyle,
    teeth_used,
)
from app.i18n import tr
from app.stages import joints_lines as shape
from app.stages import joints_model as model
from app.stages.joints_compare import CompareDialog
from app.stages.joints_style import with_parameter
from app.stages.joints_tooth import ToothDialog
from app.stages.joints_work import JointsWork
from app.wording import error_in_words, in_words
from core.errors import SeamwrightError
from core.project.model import BoardChoice, Mark, SeamLine, SplitChoice, StyleChoice
from core.shop import ToothDrawing
from core.splitting import alternating


class JointsEdits(JointsWork):
    """Every change is one undoable command; looks (loupe, bed, opening) change nothing."""

    def take_proposal(self, number: int) -> None:
        """Make a proposal's lines the panel's seams."""
        panel = self.panel
        if panel is None or not 0 <= number < len(self.proposals_box.proposals):
            return
        proposal = self.proposals_box.proposals[number]
        text = tr("Split {name} into {n}").format(name=panel.name, n=proposal.pieces)
        self.scene.chosen = 0
        self._run(SetSeams(text, panel.id, proposal.seams))

    def _leave_to_planner(self) -> None:
        panel = self.panel
        if panel is not None and panel.seams is not None:
            text = tr("Leave {name} to the planner").format(name=panel.name)
            self._run(SetSeams(text, panel.id, None))

    # --- changes of the chosen seam -------------------------------------------------------
    def _change_lines(
        self, text: str, change: Callable[[SeamLine], SeamLine], *, merge: str = ""
    ) -> None:
        """Change the chosen line, or all lines if they are to be alike."""
        shown, index = self.shown, self._chosen()
        if shown is None or index is None:
            return
        alike = self.style_box.scope.isChecked()
        lines = tuple(
            change(line) if alike or i == index else line for i, line in enumerate(shown.lines)
        )
        self.commit(text, lines, merge=merge)

    def take_style(self, name: str) -> None:
        """Make the seams in another style."""
        shown, index = self.shown, self._chosen()
        styles = self.styles.styles
        if shown is None or index is None or name not in styles:
            return
        if shown.lines[index].style.name == name:
            return
        text = tr("Make the seams {style}").format(style=in_words(styles[name].title).lower())
        if self.style_box.scope.isChecked() and not shown.own:
            self._run(self._with_tooth(SetStyle(text, shown.panel.id, StyleChoice(name)), name))
            return

        def restyled(line: SeamLine) -> SeamLine:
            return replace(line, style=StyleChoice(name), shift_mm=0.0)

        alike = self.style_box.scope.isChecked()
        lines = tuple(
            restyled(line) if alike or i == index else line for i, line in enumerate(shown.lines)
        )
        self._run(self._with_tooth(SetSeams(text, shown.panel.id, lines), name))

    def _with_tooth(self, command: Command, style: str) -> Command:
        """The command, and with it the tooth of that style if the project has it not yet."""
        mine = {tooth.name for tooth in self.document.project.shop.teeth}
        tooth = next((t for t in self.teeth if f"own:{t.name}" == style), None)
        if tooth is None or tooth.name in mine:
            return command
        return Together(command.text, (KeepTooth(command.text, tooth), command))

    def compare_ways(self) -> CompareDialog | None:
        """Open two ways to split the panel side by side."""
        shown = self.shown
        if shown is None or not self.proposals_box.proposals:
            return None
        dialog = CompareDialog(
            self.jobs, shown, self.proposals_box.proposals, self.context.unit, self
        )
        dialog.taken.connect(self._way_taken)
        dialog.open()
        return dialog

    def _way_taken(self, number: int) -> None:
        self.take_proposal(number - 1)

    # --- marks -----------------------------------------------------------------------------
    def commit_marks(self, text: str, marks: tuple[Mark, ...], *, merge: str = "") -> None:
        """Make these the panel's marks as one named step."""
        panel = self.panel
        if panel is not None:
            self._run(SetPanels(text, (panel.id,), (("marks", marks),)), merge=merge)

    def mark_chosen(self) -> None:
        """Another mark is chosen."""
        self.marks_box.show_panel(self.panel, self.scene.chosen_mark, self.context.unit)

    def set_split(self, choice: SplitChoice) -> None:
        """Whether this panel is split, left whole or left out."""
        panel = self.panel
        if panel is not None and panel.split is not choice:
            self._run(SetPanels(tr("Set splitting"), (panel.id,), (("split", choice),)))

    # --- the maker's own teeth --------------------------------------------------------------
    def draw_tooth(self) -> ToothDialog | None:
        """Open the drawing of own teeth, for the board, the bit and the fit of this seam."""
        shown, index = self.shown, self._chosen()
        if shown is None:
            return None
        line = shown.lines[index] if index is not None else SeamLine(((0.0, 0.0), (1.0, 0.0)))
        seam = shown.seam_of(index) if index is not None else None
        dialog = ToothDialog(
            self.context,
            model.joint_context(shown, line),
            self.teeth,
            used=teeth_used(self.document.project),
            joint_mm=max((j.length_mm for j in seam.joints), default=None) if seam else None,
            chosen=line.style.name.removeprefix("own:"),
            parent=self,
        )
        dialog.kept.connect(self._tooth_kept)
        dialog.removed.connect(self._tooth_removed)
        dialog.open()
        return dialog

    def _tooth_kept(self, tooth: ToothDrawing, was: str, use: bool) -> None:
        self._keep_for_others(tooth, was)
        self._run(KeepTooth(tr("Keep the tooth {name}").format(name=tooth.name), tooth, was))
        if use:
            self.take_style(f"own:{tooth.name}")

    def _tooth_removed(self, name: str) -> None:
        self._keep_for_others(None, name)
        if any(tooth.name == name for tooth in self.document.project.shop.teeth):
            self._run(RemoveTooth(tr("Remove the tooth {name}").format(name=name), name))
        self.chosen_changed()

    def _keep_for_others(self, tooth: ToothDrawing | None, was: str) -> None:
        """Put a tooth into the shop that new projects begin with, or take one out of it."""
        shop = self.preferences.default_shop()
        names = {was} | ({tooth.name} if tooth is not None else set())
        teeth = tuple(t for t in shop.teeth if t.name not in names)
        if tooth is not None:
            teeth = (*teeth, tooth)
        try:
            self.preferences.set_default_shop(replace(shop, teeth=teeth))
        except SeamwrightError as error:
            self.told(error_in_words(error), wrong=True)
        self.read_kept_teeth()

    def set_parameter(self, key: str, value: float | None) -> None:
        """Set a number of the style, None for the usual."""
        shown, index = self.shown, self._chosen()
        if shown is None or index is None:
            return
        chosen = shown.lines[index].style
        style = with_parameter(chosen, key, value)
        name = in_words(self.styles.get(chosen.name).title).lower()
        text = tr("Change the {style} seam").format(style=name)
        if self.style_box.scope.isChecked() and not shown.own:
            self._run(SetStyle(text, shown.panel.id, style))
            return

        def changed(line: SeamLine) -> SeamLine:
            if line.style.name != style.name:
                return line
            return replace(line, style=with_parameter(line.style, key, value))

        self._change_lines(text, changed)

    def set_field(self, name: str, value: Any) -> None:
        """Set a field of the seam line: fit, joint class, relief, shift, bends, points."""
        texts = {
            "fit_mm": tr("Set the fit"),
            "joint_class": tr("Set what the joint is for"),
            "relief": tr("Set the relief"),
            "relief_side": tr("Set which way T-bones go"),
            "shift_mm": tr("Shift the pattern"),
            "corner_mm": tr("Round the bends"),
            "points": tr("Place the seam"),
            "bulges": tr("Curve the seam"),
        }
        one_only = name in ("shift_mm", "corner_mm", "points", "bulges")
        shown, index = self.shown, self._chosen()
        if shown is None or index is None:
            return
        if one_only:
            lines = tuple(
                replace(line, **{name: value}) if i == index else line
                for i, line in enumerate(shown.lines)
            )
            self.commit(texts[name], lines)
            return
        self._change_lines(texts[name], lambda line: replace(line, **{name: value}))

    def alternate_boards(self, name: str) -> None:
        """Every other piece of another board; "" for one board."""
        shown = self.shown
        if shown is None:
            return
        boards = alternating(shown.panel, shown.split, name) if name else ()
        text = tr("Alternate boards") if name else tr("Take one board for all pieces")
        self._run(SetBoards(text, shown.panel.id, boards))

    def set_board(self, piece_id: str, name: str) -> None:
        """One piece of another board."""
        shown = self.shown
        piece = shown.split.piece(piece_id) if shown is not None else None
        if shown is None or piece is None or piece.material == name:
            return
        shape = piece.region.polygon
        kept = [c for c in shown.panel.boards if not shape.intersects(shapely.Point(c.at))]
        if name != shown.panel.material:
            spot = shape.representative_point()
            kept.append(BoardChoice((float(spot.x), float(spot.y)), name))
        text = tr("Take {board} for {piece}").format(board=name, piece=piece.name)
        self._run(SetBoards(text, shown.panel.id, tuple(kept)))

    def turn_over(self) -> None:
        """Let the teeth of the chosen seam point to the other side."""
        shown, index = self.shown, self._chosen()
        if shown is None or index is None:
            return
        lines = tuple(
            replace(line, turned_over=not line.turned_over) if i == index else line
            for i, line in enumerate(shown.lines)
        )
        self.commit(tr("Turn the seam over"), lines)

    def new_seam(self) -> None:
        """A seam across the middle of the panel, ready to be moved."""
        shown = self.shown
        if shown is None:
            return
        style = shown.lines[0].style if shown.lines else shown.panel.style
        line = shape.upright_line(shown.panel, style)
        while any(line.points == other.points for other in shown.lines):
            line = shape.moved_line(line, 40.0, 40.0)
        self.scene.chosen, self.scene.chosen_handle = len(shown.lines), "middle"
        self.commit(tr("Add a seam"), (*shown.lines, line))

    def _start_drawing(self) -> None:
        self.hand.drawing = True
        self.slider.setValue(0)
        self.canvas.setFocus()
        self.told(tr("Drag a line across the panel. Esc leaves it."))

    def look(self, pointer: Pointer | None) -> bool:
        """The loupe follows the pointer near a seam; True while it shows something."""
        shown = self.shown
        if (
            pointer is None
            or shown is None
            or not self.loupe_button.isChecked()
            or self.scene.open_share > 0
            or len(shown.pieces) < 2
        ):
            self.loupe.hide()
            return False
        reach = max(self.canvas.mm(14), 3.0)
        gap = model.gap_at(shown, pointer.x_mm, pointer.y_mm, reach)
        if gap is None:
            self.loupe.hide()
            return False
        # The glass is centred on the joint itself: a hand is never that steady.
        self.loupe.look(pointer.px, *gap.at, gap, self.context.unit)
        self.told(
            tr("{first} and {second}: {gap}").format(
                first=gap.names[0], second=gap.names[1], gap=self.loupe.text
            )
        )
        return True

    def lay_bed(self, piece: str) -> None:
        """Lay the bed over a piece; "" takes it away."""
        self.scene.envelope_piece = piece
        self.bed_button.setChecked(bool(piece))
        self.scene.show_envelope()
        shown = self.shown
        fit = next((f for f in shown.fits if f.piece == piece), None) if shown else None
        if fit is not None and fit.fit is not None:
            unit = self.context.unit
            spare = min(fit.room_mm[0] - fit.fit.width_mm, fit.room_mm[1] - fit.fit.height_mm)
            text = (
                tr("{name} fits, with {spare} to spare").format(
                    name=fit.name, spare=short_length(max(spare, 0.0), unit)
                )
                if fit.ok
                else tr("{name} is too big for the machine").format(name=fit.name)
            )
            if abs(fit.fit.turn_deg % 90) > 1e-6:
                text += ", " + tr("turned by {n}°").format(n=f"{fit.fit.turn_deg % 180:.1f}")
            self.told(text, wrong=not fit.ok)

    def _toggle_bed(self) -> None:
        shown = self.shown
        if shown is None or not shown.fits:
            self.bed_button.setChecked(False)
            return
        if self.scene.envelope_piece:
            self.lay_bed("")
            return
        worst = max(shown.fits, key=lambda f: f.fit.ratio if f.fit is not None else 9.0)
        self.lay_bed(worst.piece)

    def _toggle_loupe(self) -> None:
        if not self.loupe_button.isChecked():
            self.loupe.hide()

    def _opened(self, value: int) -> None:
        self.loupe.hide()
        self.scene.set_open(value / 100)
        if self.canvas._auto_fit:
            self.canvas.fit_now()
