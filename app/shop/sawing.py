"""The saw, and what holds freed parts, in the shop drawer."""

from __future__ import annotations

from app.i18n import tr
from app.shop.part import Part
from app.shop.records import RecordCard, RecordForm, RecordList, Spec
from core.shop import Hold, SawKind, VacuumArea


class SawPart(Part):
    """The saw sheets are broken down with."""

    def __init__(self) -> None:
        super().__init__()
        self.form = RecordForm(
            (
                Spec(
                    "saw",
                    tr("Sheets sawn with"),
                    "choice",
                    tr("Decides how the saw list is written"),
                    options=[
                        (SawKind.RAIL, tr("rail saw, to pencil marks")),
                        (SawKind.BENCH, tr("bench saw, by its fence")),
                    ],
                ),
                Spec(
                    "fence_reach_mm",
                    tr("Fence reaches"),
                    "length",
                    tr("Widest setting of a bench saw's fence"),
                    tr("any width"),
                    above_zero=True,
                ),
            )
        )
        self.form.edited.connect(
            lambda name, value: self.wanted.emit(tr("Set the saw"), "rules", (name, value))
        )
        self.show_in(self.form, lambda project: project.shop.rules)


class HoldPart(Part):
    """What keeps pieces and slugs in place once they are cut free."""

    def __init__(self) -> None:
        super().__init__()
        self.form = RecordForm(
            (
                Spec(
                    "hold",
                    tr("Freed parts held by"),
                    "choice",
                    tr("Where it cannot be had, the next best hold is taken and told"),
                    options=[
                        (Hold.TABS, tr("tabs")),
                        (Hold.SKIN, tr("a skin")),
                        (Hold.VACUUM, tr("suction")),
                        (Hold.SCREWS, tr("screws in waste")),
                    ],
                ),
                Spec("tab_mm", tr("Tab width"), "length", above_zero=True),
                Spec("tab_thick_mm", tr("Tab thickness"), "length", above_zero=True),
                Spec("skin_mm", tr("Skin left"), "length", above_zero=True),
                Spec(
                    "screw_clear_mm",
                    tr("Screws clear of the bit"),
                    "length",
                    tr("From a screw's middle to any path of the bit"),
                    above_zero=True,
                ),
                Spec(
                    "pin_mm",
                    tr("Pins for feeding"),
                    "length",
                    tr("Diameter of the pins that find a board again when it is pushed through"),
                    above_zero=True,
                ),
            )
        )
        self.form.edited.connect(
            lambda name, value: self.wanted.emit(tr("Set holding"), "rules", (name, value))
        )
        self.show_in(self.form, lambda project: project.shop.rules)
        self.vacuum = RecordList(
            self._card,
            tr("Add a vacuum area"),
            lambda: VacuumArea(0.0, 0.0, 300.0, 200.0),
            empty_text=tr("No vacuum area: nothing is held by suction."),
        )
        self.vacuum.changed.connect(
            lambda rows: self.wanted.emit(tr("Set vacuum areas"), "machine", ("vacuum", rows))
        )
        self.show_in(self.vacuum, lambda project: project.shop.machine.vacuum)

    @staticmethod
    def _card(i: int) -> RecordCard:
        specs = (
            Spec("name", tr("Name"), "text", empty=tr("none")),
            Spec("x_mm", tr("From the left"), "length"),
            Spec("y_mm", tr("From the front"), "length"),
            Spec("width_mm", tr("Width"), "length", above_zero=True),
            Spec("height_mm", tr("Depth"), "length", above_zero=True),
            Spec("round", tr("Round"), "check"),
        )
        return RecordCard(specs, tr("vacuum area {n}").format(n=i + 1), tr("Remove"))
