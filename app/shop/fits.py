"""Fits in the shop drawer, by joint class, board and bit."""

from __future__ import annotations

from app.i18n import tr
from app.shop.part import Part
from app.shop.records import RecordCard, RecordForm, RecordList, Spec, any_of
from app.widgets.fields import show_length
from app.widgets.forms import words
from core.project.model import Project
from core.shop import (
    FitSetting,
    JointClass,
)


class FitCard(RecordCard):
    """One fit, with what it means on each side."""

    def note_of(self, record: FitSetting, unit: str) -> str:
        """Across and a side."""
        return fit_words(record.play_mm, unit)


def fit_words(play_mm: float, unit: str) -> str:
    """ "0.10 mm across, 0.05 mm a side"."""
    shown = "mm" if unit in ("mm", "cm", "m") else "thou"
    return tr("{all} across, {half} a side").format(
        all=_fine(play_mm, shown), half=_fine(play_mm / 2, shown)
    )


def _fine(length_mm: float, unit: str) -> str:
    if unit == "mm":
        text = f"{length_mm:.3f}".rstrip("0")
        whole, _, rest = text.partition(".")
        return f"{whole}.{rest.ljust(2, '0')} mm"
    return f"{length_mm / 0.0254:.1f} thou"


class FitsPart(Part):
    """Fits by joint class, board and bit."""

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
        self.general = RecordForm((Spec("fit_mm", tr("Where nothing else is set"), "length"),))
        self.general.edited.connect(
            lambda name, value: self.wanted.emit(tr("Set fit"), "rules", (name, value))
        )
        self.column.addWidget(self.general)
        self.general_note = words()
        self.column.addWidget(self.general_note)
        self.list = RecordList(self._card, tr("Add a fit"), lambda: FitSetting(0.15))
        self.list.changed.connect(lambda rows: self.wanted.emit(tr("Set fits"), "fits", rows))
        self.column.addWidget(self.list)

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
        """Show the fits."""
        self._project = project
        self.general.fill(project.shop.rules, project.units)
        self.general_note.setText(fit_words(project.shop.rules.fit_mm, project.units))
        self.list.fill(project.shop.fits, project.units)
