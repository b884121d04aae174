"""The Sheets stage's bench: the pieces as they lie on the floor and wait in the tray."""

from __future__ import annotations

from app import theme
from app.stages import sheets_model as model
from app.stages.drawing import DrawingStage
from app.stages.sheets_floor import Floor
from app.stages.sheets_hand import Hand
from app.stages.sheets_model import Bench, SheetKey
from app.stages.sheets_side import SelectionBox
from app.stages.sheets_tray import Tray
from core.project.model import KeptLayout


class BenchStage(DrawingStage):
    """Floor, hand and tray over one bench; the base of the Sheets stage, which makes them."""

    floor: Floor
    hand: Hand
    tray: Tray
    selection_box: SelectionBox
    _bench: Bench
    _extra: tuple[SheetKey, ...]
    _preview: KeptLayout | None

    def _rebuild(self, *, glide: bool = False) -> None:
        """Work out the bench anew and lay it out on the floor and in the tray."""
        if self.hand.busy:  # what is in the hand may no longer be what it was
            self.hand.cancel()
        project = self.document.project
        self._bench = model.make_bench(
            project, self.derived.pieces, self._preview, self._extra, before=self._bench
        )
        self.canvas.set_unit(project.units)
        self.selection_box.set_unit(project.units)
        self.floor.show(self._bench, project.units, glide=glide)
        self.tray.show_bench(self._bench, project.units)
        self.hand.keep_selection()

    def told(self, text: str, *, wrong: bool = False) -> None:
        """A sentence about what the hand is doing, below the floor."""
        super().told(text, wrong=wrong)
        # While something is in the hand the line may grow but not shrink: the drawing above it
        # would move to and fro, and be painted anew each time.
        high = self.line.heightForWidth(self.line.width()) if self.hand.busy else 0
        least = max(theme.TARGET, high, self.line.minimumHeight() if high else 0)
        if least != self.line.minimumHeight():
            self.line.setMinimumHeight(least)
