"""Working out the panel shown on the Joints stage: its pieces, its proposals, its samples."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any

from PySide6.QtWidgets import QCheckBox, QPushButton, QSlider, QWidget

from app.canvas import paths
from app.canvas.lengths import glance, glance_size
from app.commands import Command
from app.commands.seams import SetSeams
from app.context import Context
from app.i18n import tr
from app.jobs import Progress, Stop
from app.stages import joints_model as model
from app.stages.drawing import DrawingStage
from app.stages.joints_boards import BoardsBox
from app.stages.joints_hand import SeamHand
from app.stages.joints_loupe import Loupe
from app.stages.joints_marks import MarksBox
from app.stages.joints_model import PanelRow, Sample, Shown
from app.stages.joints_refit import RefitBox
from app.stages.joints_scene import SeamScene
from app.stages.joints_side import PiecesBox, ProposalsBox
from app.stages.joints_style import StyleBox
from app.widgets.reasons import set_able
from app.wording import error_in_words, in_words
from core.errors import SeamwrightError
from core.findings import Severity
from core.joints import StyleBook, styles_of
from core.project.model import Panel, SeamLine
from core.project.saying import in_unit
from core.shop import ToothDrawing
from core.splitting import Proposal, usual_line

if TYPE_CHECKING:
    from core.refit import PanelRefit

_PROPOSALS_KEPT = 64  # panels whose proposals are remembered, undo included


class JointsWork(DrawingStage):
    """What the stage has worked out on threads of their own, and where it shows it.

    The widgets are made by JointsStage. A draft follows the hand; the document decides.
    """

    scene: SeamScene
    hand: SeamHand
    loupe: Loupe
    slider: QSlider
    all_panels: QCheckBox
    new_button: QPushButton
    remove_button: QPushButton
    bed_button: QPushButton
    loupe_button: QPushButton
    proposals_box: ProposalsBox
    style_box: StyleBox
    pieces_box: PiecesBox
    boards_box: BoardsBox
    marks_box: MarksBox
    refit_box: RefitBox

    def __init__(self, context: Context, parent: QWidget | None = None) -> None:
        super().__init__(context, parent)
        self.panel_id: str | None = None
        self.shown: Shown | None = None
        self._rows: dict[str, PanelRow] = {}
        self._draft_wanted: tuple[SeamLine, ...] | None = None
        self._draft_running = False
        self._draft_serial = 0
        self._samples: list[Sample] = []
        self._proposals: dict[tuple[Any, ...], list[Proposal]] = {}
        self._kept_teeth: tuple[ToothDrawing, ...] = ()

    @property
    def panel(self) -> Panel | None:
        """The panel shown."""
        return model.panel_of(self.document.project, self.panel_id)

    # --- working out ----------------------------------------------------------------------
    def _work_out(self) -> None:
        """Cut the panel along the seams in force, with true arcs."""
        project = self.document.project
        panel, shop = self.panel, project.shop
        self._draft_serial += 1
        self._draft_wanted = None
        if panel is None:
            self._take(None)
            return
        if self.shown is None or self.shown.panel.id != panel.id:
            self._take(None, keep_text=True)
            self.summary.setText(tr("{name}: working out its seams…").format(name=panel.name))
        revision = self.document.revision

        def work(_progress: Progress, _stop: Stop) -> Shown:
            return model.work_out(panel, shop, recut=model.recut_of(project, panel))

        def wanted() -> bool:
            return self.document.revision == revision and self.panel_id == panel.id

        self.jobs.start(
            tr("Cutting {name}").format(name=panel.name),
            work,
            done=self._taken,
            failed=self._failed,
            still_wanted=wanted,
            lane="joints",
            quiet=True,
        )

    def _taken(self, shown: Shown) -> None:
        self._take(shown)
        self._find_proposals()
        self._find_samples()

    def _failed(self, error: SeamwrightError) -> None:
        self.told(error_in_words(error), wrong=True)

    def _take(self, shown: Shown | None, *, keep_text: bool = False) -> None:
        """Show what was worked out."""
        before = self.shown
        self.shown = shown
        other = (before.panel.id if before else None) != (shown.panel.id if shown else None)
        chosen = self.scene.chosen
        if shown is not None and chosen is None and shown.lines and other:
            chosen = 0
        if shown is None or (chosen is not None and chosen >= len(shown.lines)):
            chosen = None
        self.scene.chosen = chosen
        self.loupe.hide()  # what it shows is no longer so
        self.scene.show(shown, self.context.unit)
        if shown is not None and (other or before is None):
            self.canvas.fit_now()
        if not keep_text:
            self._show_side()
            whole = shown is not None and not shown.lines
            self.refit_box.show_panel(shown.panel.id if shown is not None else None, opened=whole)
        self._show_empty()

    def _chosen(self) -> int | None:
        """The chosen seam line; None too while one just drawn is not worked out yet."""
        shown, index = self.shown, self.scene.chosen
        if shown is None or index is None or index >= len(shown.lines):
            return None
        return index

    def _show_side(self) -> None:
        shown, unit = self.shown, self.context.unit
        self.pieces_box.show_pieces(shown, unit)
        shop = self.document.project.shop
        others = model.boards_for(shown.panel, shop) if shown is not None else ()
        self.boards_box.show_boards(shown, others)
        self.marks_box.show_panel(self.panel, self.scene.chosen_mark, unit)
        index = self._chosen()
        line = shown.lines[index] if shown is not None and index is not None else None
        letters = shown.letters(index) if shown is not None and index is not None else ""
        self.style_box.show_seam(shown, line, letters)
        self.style_box.show_samples(self._samples, line.style.name if line is not None else "")
        self._show_proposals()
        no_panel = tr("Choose a panel on the left first.")
        set_able(
            self.remove_button,
            line is not None,
            tr("Choose a seam on the drawing first.") if shown is not None else no_panel,
        )
        set_able(self.new_button, shown is not None, no_panel)
        set_able(self.bed_button, shown is not None and bool(shown.fits), no_panel)
        set_able(
            self.slider,
            shown is not None and len(shown.pieces) > 1,
            tr("Nothing to pull apart: it is one piece.") if shown is not None else no_panel,
        )
        if shown is None:
            self.summary.setText("")
            return
        width, height = shown.panel.size_mm
        text = f"{shown.panel.name}  {glance_size(width, height, unit)}"
        if shown.split.seams:
            joint = sum(seam.joint_length_mm for seam in shown.split.seams)
            count = len(shown.split.seams)
            text += " · " + tr("{n} pieces, {seams}, {length} of joint").format(
                n=len(shown.pieces),
                seams=tr("1 seam") if count == 1 else tr("{n} seams").format(n=count),
                length=glance(joint, unit),
            )
        bad = [fit for fit in shown.fits if not fit.ok]
        stops = [f for f in shown.findings if f.severity is Severity.STOP]
        if bad:
            text += " · " + (
                tr("● 1 piece too big for the machine")
                if len(bad) == 1
                else tr("● {n} pieces too big for the machine").format(n=len(bad))
            )
        elif stops:
            text += f" · ● {in_unit(in_words(stops[0].message), unit)}"
        else:
            text += " · " + tr("every piece fits")
        self.summary.setText(text)

    def _show_empty(self) -> None:
        text = ""
        if not self.document.project.panels:
            text = tr("No panels yet.\nAdd drawings on the Panels stage first.")
        elif self.panel_id is None and self._rows:
            text = tr(
                "Every panel fits the machine whole: no seam is needed.\n"
                "“Show all panels” lets you split one all the same."
            )
        self._say_empty(text)

    # --- proposals and styles -------------------------------------------------------------
    @property
    def teeth(self) -> tuple[ToothDrawing, ...]:
        """The maker's own teeth: this project's, then those kept for other projects."""
        mine = self.document.project.shop.teeth
        names = {tooth.name for tooth in mine}
        return (*mine, *(tooth for tooth in self._kept_teeth if tooth.name not in names))

    @property
    def styles(self) -> StyleBook:
        """Every style that can be had."""
        return styles_of(self.teeth)

    def read_kept_teeth(self) -> None:
        """Look which teeth are kept with the shop that new projects begin with."""
        self._kept_teeth = self.preferences.default_shop().teeth

    def _proposal_key(self, panel: Panel) -> tuple[Any, ...]:
        plain = replace(panel, seams=None)
        recut = self._recut_of(panel)
        cut = None if recut is None else recut.panel.region
        line = usual_line(panel.seams)
        return (plain, line, model.context_of(panel, self.document.project.shop), cut)

    def _recut_of(self, panel: Panel) -> PanelRefit | None:
        """The panel's drawn joints as they are cut, if that was worked out."""
        shown = self.shown
        return shown.recut if shown is not None and shown.panel.id == panel.id else None

    def _find_proposals(self) -> None:
        panel, shop = self.panel, self.document.project.shop
        if panel is None:
            return
        key, recut = self._proposal_key(panel), self._recut_of(panel)
        if key in self._proposals:
            self._show_proposals()
            return

        def work(_progress: Progress, _stop: Stop) -> list[Proposal]:
            return model.proposals_for(panel, shop, recut=recut)

        def done(found: list[Proposal]) -> None:
            while len(self._proposals) >= _PROPOSALS_KEPT:
                del self._proposals[next(iter(self._proposals))]
            self._proposals[key] = found
            self._show_proposals()

        self.jobs.start(
            tr("Looking for ways to split {name}").format(name=panel.name),
            work,
            done=done,
            still_wanted=lambda: self.panel is not None and self._proposal_key(self.panel) == key,
            lane="proposals",
            quiet=True,
        )

    def _show_proposals(self) -> None:
        shown = self.shown
        if shown is None:
            self.proposals_box.setVisible(False)
            return
        self.proposals_box.setVisible(True)
        found = self._proposals.get(self._proposal_key(shown.panel))
        self.proposals_box.show_proposals(
            found,
            paths.region_path(shown.panel.region),
            self.context.unit,
            shown.lines,
            own=shown.own,
        )

    def _find_samples(self) -> None:
        shown, index = self.shown, self.scene.chosen
        if shown is None or index is None or index >= len(shown.lines):
            self._samples = []
            return
        teeth = self.teeth
        names = list(self.styles.styles)

        def work(progress: Progress, stop: Stop) -> list[Sample]:
            made: list[Sample] = []
            for name in names:
                if stop():
                    break
                made.append(model.style_sample(shown, index, name, teeth))
                progress(len(made) / len(names), "", list(made))
            return made

        def wanted() -> bool:
            return self.shown is shown and self.scene.chosen == index

        def partial(_fraction: float, _text: str, made: object) -> None:
            if isinstance(made, list) and wanted() and len(made) > len(self._samples):
                done(made)

        def done(made: list[Sample]) -> None:
            self._samples = made
            self.style_box.show_samples(made, shown.lines[index].style.name)

        self.jobs.start(
            tr("Drawing the styles"),
            work,
            done=done,
            partial=partial,
            still_wanted=wanted,
            lane="samples",
            quiet=True,
        )

    # --- what the hand needs --------------------------------------------------------------
    def draft(self, lines: tuple[SeamLine, ...]) -> None:
        """Show lines at once; the pieces follow as soon as they are worked out."""
        self.scene.show_lines(lines)
        self._draft_wanted = lines
        if not self._draft_running:
            self._next_draft()

    def _next_draft(self) -> None:
        lines, self._draft_wanted = self._draft_wanted, None
        panel, shop = self.panel, self.document.project.shop
        if lines is None or panel is None:
            return
        serial = self._draft_serial
        recut = self.shown.recut if self.shown is not None else None
        self._draft_running = True

        def work(_progress: Progress, _stop: Stop) -> Shown:
            return model.work_out(panel, shop, lines, draft=True, recut=recut)

        def done(shown: Shown) -> None:
            if serial == self._draft_serial and self.hand.busy:
                now = self.scene.lines
                self.shown = shown
                self.scene.show(shown, self.context.unit)
                self.scene.show_lines(now)
                self.pieces_box.show_pieces(shown, self.context.unit)

        job = self.jobs.start(
            tr("Following the seam"), work, done=done, failed=self._failed, quiet=True
        )
        job.ended.connect(self._draft_ended)

    def _draft_ended(self) -> None:
        self._draft_running = False
        if self._draft_wanted is not None:
            self._next_draft()

    def commit(self, text: str, lines: tuple[SeamLine, ...], *, merge: str = "") -> None:
        """Make these lines the panel's seams as one named step."""
        panel = self.panel
        if panel is None:
            return
        self.scene.show_lines(lines)
        self._run(SetSeams(text, panel.id, lines), merge=merge)

    def revert(self) -> None:
        """Show again what the document says."""
        self._draft_serial += 1
        self._draft_wanted = None
        self._work_out()

    def chosen_changed(self) -> None:
        """Another seam is chosen."""
        self._samples = []
        self._show_side()
        self._find_samples()

    def _run(self, command: Command, *, merge: str = "") -> bool:
        """As everywhere; what was refused goes back to what the document says."""
        done = super()._run(command, merge=merge)
        if not done:
            self.revert()
        return done
