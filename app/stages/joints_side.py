"""The right column of the Joints stage: proposals, pieces and their order."""

from __future__ import annotations

from collections.abc import Sequence

from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QPainterPath
from PySide6.QtWidgets import QLabel

from app import theme
from app.canvas.lengths import glance, glance_size
from app.i18n import tr
from app.stages.joints_model import Shown
from app.stages.joints_scene import fit_words
from app.stages.joints_thumbs import Gallery, panel_picture
from app.widgets.forms import Section, button, words
from app.wording import finding_in_words, in_words
from core.project.model import SeamLine
from core.project.saying import in_unit
from core.splitting import Proposal


class ProposalsBox(Section):
    """Ways to split the panel, drawn small, best first."""

    taken = Signal(int)

    def __init__(self) -> None:
        super().__init__(tr("Ways to split it"), "split")
        self.state = words()
        self.add(self.state)
        self.gallery = Gallery(tr("Ways to split it"))
        self.gallery.taken.connect(self.taken)
        self.add(self.gallery)
        self.compare = button(
            tr("Side by side…"),
            self._compare,
            "face",
            tr("Two ways next to each other, cut for real, with what each costs"),
        )
        self.add(self.compare)
        self.automatic = button(
            tr("Leave it to the planner"),
            self._automatic,
            "refresh",
            tr("Forget the seams drawn by hand; the best proposal is taken"),
        )
        self.add(self.automatic)
        self.proposals: tuple[Proposal, ...] = ()

    wants_automatic = Signal()
    wants_comparing = Signal()

    def show_proposals(
        self,
        proposals: Sequence[Proposal] | None,
        outline: QPainterPath,
        unit: str,
        lines: Sequence[SeamLine],
        *,
        own: bool,
    ) -> None:
        """Fill the gallery; None while they are being looked for."""
        self.automatic.setVisible(own)
        self.proposals = tuple(proposals or ())
        if proposals is None:
            self.state.setText(tr("Looking for good ways…"))
        elif not proposals:
            self.state.setText(tr("It fits whole: no seam is needed."))
        else:
            bound = proposals[0].lower_bound
            self.state.setText(
                tr("Fewer than {n} pieces cannot do.").format(n=bound)
                if bound > 1
                else tr("Best first.")
            )
        ratio = self.devicePixelRatioF()
        rows = []
        current = -1
        for number, proposal in enumerate(self.proposals):
            if [s.points for s in proposal.seams] == [s.points for s in lines]:
                current = number
            text = tr("{n} pieces\n{length} of joint").format(
                n=proposal.pieces, length=glance(proposal.seam_mm, unit)
            )
            picture = panel_picture(outline, proposal.seams, ratio=ratio)
            rows.append((picture, text, in_unit(in_words("\n".join(proposal.reasons)), unit)))
        self.gallery.setVisible(bool(rows))
        self.compare.setVisible(len(rows) + own > 1)
        self.gallery.show_rows(rows, current, lines=2)

    def _compare(self) -> None:
        self.wants_comparing.emit()

    def _automatic(self) -> None:
        self.wants_automatic.emit()


class PiecesBox(Section):
    """The pieces in numbers, what stops them, and how the panel is put together."""

    def __init__(self) -> None:
        super().__init__(tr("Pieces and their order"), "list")
        self.list = QLabel()
        self.list.setWordWrap(True)
        self.list.setTextFormat(Qt.TextFormat.PlainText)
        self.add(self.list)
        self.notices = QLabel()
        self.notices.setWordWrap(True)
        self.notices.setTextFormat(Qt.TextFormat.PlainText)
        self.add(self.notices)
        self.order = words(muted=False)
        self.add(self.order)

    def show_pieces(self, shown: Shown | None, unit: str) -> None:
        """Take over what was worked out."""
        self.setVisible(shown is not None)
        if shown is None:
            return
        fits = {fit.piece: fit for fit in shown.fits}
        rows = []
        for piece in shown.split.pieces:
            width, height = piece.cut.region.size_mm
            size = glance_size(width, height, unit)
            row = f"{piece.name or piece.id}  {size}"
            if piece.quantity > 1:
                row += f"  × {piece.quantity}"
            found = fits.get(piece.id)
            bad = fit_words(found, unit) if found is not None else ""
            rows.append(f"● {row}: {bad}" if bad else row)
        self.list.setText("\n".join(rows))
        notices = [
            f"{theme.SIGNS[f.severity]} {in_unit(f'{f.message}. {f.remedy}', unit)}".strip()
            for f in map(finding_in_words, shown.findings)
        ]
        self.notices.setText("\n".join(notices))
        self.notices.setVisible(bool(notices))
        steps = [f"{n}. {in_words(step)}" for n, step in enumerate(shown.steps(), start=1)]
        self.order.setText(tr("Putting together:") + "\n" + "\n".join(steps) if steps else "")
        self.order.setVisible(bool(steps))
