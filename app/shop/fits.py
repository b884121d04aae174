"""Fits in the shop drawer, by joint class, board and bit."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from PySide6.QtCore import Signal

from app.canvas.lengths import play_text
from app.i18n import tr
from app.shop.part import Part
from app.shop.records import RecordCard, RecordForm, RecordList, Spec, any_of
from app.widgets.fields import show_length
from app.widgets.forms import button, words
from app.widgets.lens import JointLens, LensJoint
from core.project.model import Project
from core.shop import (
    FitSetting,
    JointClass,
)
from core.units import fine_length


class FitCard(RecordCard):
    """One fit, with what it means on each side, drawn to scale."""

    def __init__(self, specs: Sequence[Spec], of: str, remove_text: str) -> None:
        super().__init__(specs, of, remove_text)
        self.lens = JointLens(tr("Play of {of}").format(of=of))
        self.column.addWidget(self.lens)

    def fill(self, record: Any, unit: str) -> None:
        """Show a fit."""
        super().fill(record, unit)
        self.lens.show_joint(LensJoint(record.play_mm), unit)

    def note_of(self, record: FitSetting, unit: str) -> str:
        """Across and a side, and where it comes from."""
        said = fit_words(record.play_mm, unit)
        if record.along_mm is not None and record.across_mm is not None:
            said += ". " + tr("Along the grain {along}, across it {across}.").format(
                along=fine_length(record.along_mm, unit),
                across=fine_length(record.across_mm, unit),
            )
        return said


def fit_words(play_mm: float, unit: str) -> str:
    """ "0.10 mm across, 0.05 mm a side"."""
    return play_text(play_mm, unit)


class FitsPart(Part):
    """Fits by joint class, board and bit. test_wanted(): the test piece is asked for."""

    test_wanted = Signal()

    def __init__(self) -> None:
        super().__init__()
        self._project: Project | None = None
        self.column.addWidget(
            words(
                tr(
                    "A fit is the play over the whole joint: opening less what enters. Larger is "
                    "looser. Cut a test piece to find yours."
                )
            )
        )
        self.test_button = button(
            tr("Test piece…"),
            self._test,
            "caliper",
            tr("Cut a small piece first, say which fit was right, and use it from then on"),
        )
        self.column.addWidget(self.test_button)
        self.general = RecordForm((Spec("fit_mm", tr("Where nothing else is set"), "length"),))
        self.general.edited.connect(
            lambda name, value: self.wanted.emit(tr("Set fit"), "rules", (name, value))
        )
        self.show_in(self.general, lambda project: project.shop.rules)
        self.general_note = words()
        self.column.addWidget(self.general_note)
        self.list = RecordList(self._card, tr("Add a fit"), lambda: FitSetting(0.15))
        self.list.changed.connect(lambda rows: self.wanted.emit(tr("Set fits"), "fits", rows))
        self.show_in(self.list, lambda project: project.shop.fits)

    def _test(self) -> None:
        self.test_wanted.emit()

    def _card(self, i: int) -> RecordCard:
        classes = {
            JointClass.GLUED: tr("glued"),
            JointClass.KNOCK_DOWN: tr("knock-down"),
        }
        specs = (
            Spec("joint_class", tr("Joint"), "choice", options=list(classes.items())),
            Spec("play_mm", tr("Play"), "length"),
            Spec("material", tr("Board"), "choice", options=self._materials),
            Spec("cutter_mm", tr("Bit"), "choice", options=self._bits),
            Spec("from_test", tr("Found on a test piece"), "check"),
        )
        return FitCard(specs, tr("fit {n}").format(n=i + 1), tr("Remove"))

    def _materials(self) -> list[tuple[str, str]]:
        assert self._project is not None
        return any_of([m.name for m in self._project.shop.materials], tr("any board"))

    def _bits(self) -> list[tuple[float, str]]:
        assert self._project is not None
        unit = self._project.units
        bits = {c.diameter_mm for c in self._project.shop.machine.cutters}
        bits |= {f.cutter_mm for f in self._project.shop.fits if f.cutter_mm}
        return [(0.0, tr("any bit"))] + [(d, show_length(d, unit)) for d in sorted(bits)]

    def fill(self, project: Project) -> None:
        """Show the fits, for the boards and bits there are."""
        self._project = project
        super().fill(project)
        self.general_note.setText(fit_words(project.shop.rules.fit_mm, project.units))
