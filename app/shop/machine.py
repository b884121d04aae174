"""The router in the shop drawer: travel, table, clamps, bits."""

from __future__ import annotations

from typing import Any

from app.i18n import tr
from app.shop.part import Part, needed
from app.shop.records import RecordCard, RecordForm, RecordList, Spec
from app.shop.sketch import Sketch
from app.widgets.forms import words
from core.project.model import Project
from core.shop import (
    ClampKind,
    ClampZone,
    Cutter,
)


class MachinePart(Part):
    """Travel, table and how blanks get onto it."""

    def __init__(self) -> None:
        super().__init__()
        self.form = RecordForm(
            (
                Spec("name", tr("Name"), "text", check=needed),
                Spec(
                    "travel_mm",
                    tr("Travel of the bit"),
                    "size",
                    tr("How far the bit's centre moves, width × depth"),
                ),
                Spec(
                    "table_mm",
                    tr("Table"),
                    "size",
                    tr("The largest blank that can lie on the machine"),
                ),
                Spec(
                    "max_blank_kg",
                    tr("Heaviest blank"),
                    "number",
                    tr("What one person may lift onto the table"),
                    tr("any"),
                    suffix="kg",
                    above_zero=True,
                ),
                Spec(
                    "clamp_safety_mm",
                    tr("Distance from clamps"),
                    "length",
                    tr("Kept between the bit and everything that holds the board"),
                ),
                Spec(
                    "open_ended",
                    tr("Open ends: long sheets may be pushed through"),
                    "check",
                ),
                Spec(
                    "upright_long_mm",
                    tr("Upright, longest"),
                    "length",
                    tr("Longest board over the floor, clamped upright for joints on its ends"),
                    tr("not known"),
                    above_zero=True,
                ),
                Spec(
                    "upright_wide_mm",
                    tr("Upright, widest"),
                    "length",
                    tr("Widest board the upright clamp takes"),
                    tr("not known"),
                    above_zero=True,
                ),
                Spec(
                    "upright_thick_mm",
                    tr("Upright, thickest"),
                    "length",
                    tr("Thickest board the upright clamp takes"),
                    tr("not known"),
                    above_zero=True,
                ),
            )
        )
        self.form.edited.connect(self._edited)
        self.show_in(self.form, lambda project: project.shop.machine)
        self.sketch = Sketch(tr("Table, travel and clamps"))
        self.sketch.marked.connect(self._mark)
        self.sketch.setToolTip(tr("Drag to mark where a clamp stands"))
        self.column.addWidget(self.sketch)
        self.clamps = RecordList(
            self._clamp_card,
            tr("Add a clamp"),
            lambda: ClampZone(0.0, 0.0, 60.0, 60.0),
            empty_text=tr("No clamps: the bit may go anywhere in its travel."),
        )
        self.clamps.changed.connect(
            lambda rows: self.wanted.emit(tr("Set clamps"), "machine", ("clamps", rows))
        )
        self.show_in(self.clamps, lambda project: project.shop.machine.clamps)
        self._clamps: tuple[ClampZone, ...] = ()

    @staticmethod
    def _clamp_card(i: int) -> RecordCard:
        kinds = {
            ClampKind.BAR: tr("clamp bar"),
            ClampKind.TOE: tr("toe clamp"),
            ClampKind.SCREW: tr("screw"),
            ClampKind.STOP: tr("edge stop"),
        }
        specs = (
            Spec("kind", tr("What it is"), "choice", options=list(kinds.items())),
            Spec("name", tr("Name"), "text", empty=tr("none")),
            Spec("x_mm", tr("From the left"), "length"),
            Spec("y_mm", tr("From the front"), "length"),
            Spec("width_mm", tr("Width"), "length", above_zero=True),
            Spec("height_mm", tr("Depth"), "length", above_zero=True),
            Spec("stands_mm", tr("Stands above the board"), "length"),
            Spec("round", tr("Round, such as a screw's head"), "check"),
        )
        return RecordCard(specs, tr("clamp {n}").format(n=i + 1), tr("Remove"))

    def _mark(self, x: float, y: float, w: float, h: float) -> None:
        zones = (*self._clamps, ClampZone(x, y, w, h))
        self.wanted.emit(tr("Add a clamp"), "machine", ("clamps", zones))

    def _edited(self, attribute: str, value: Any) -> None:
        self.wanted.emit(tr("Set machine"), "machine", (attribute, value))

    def fill(self, project: Project) -> None:
        """Show the machine and where its clamps stand."""
        super().fill(project)
        machine = project.shop.machine
        self._clamps = machine.clamps
        zones = [tuple(c.polygon.exterior.coords)[:-1] for c in machine.clamps]
        self.sketch.show_bed(machine.table_mm, machine.travel_mm, zones)


class BitsPart(Part):
    """Router bits; the first cuts outlines."""

    def __init__(self) -> None:
        super().__init__()
        self.column.addWidget(words(tr("The first bit cuts the outlines.")))
        self.list = RecordList(self._card, tr("Add a bit"), lambda: Cutter(3.0), least=1)
        self.list.changed.connect(
            lambda rows: self.wanted.emit(tr("Set bits"), "machine", ("cutters", rows))
        )
        self.show_in(self.list, lambda project: project.shop.machine.cutters)

    @staticmethod
    def _card(i: int) -> RecordCard:
        specs = (
            Spec("diameter_mm", tr("Diameter"), "length", above_zero=True),
            Spec(
                "measured_mm",
                tr("Measured on a cut"),
                "length",
                tr("Cut a slot in one pass and measure it; bits are often a little off"),
                tr("not measured"),
                above_zero=True,
            ),
            Spec(
                "cutting_length_mm",
                tr("Cutting length"),
                "length",
                tr("How deep it can cut; at least the board's thickness"),
                tr("not known"),
                above_zero=True,
            ),
            Spec("name", tr("Name"), "text", empty=tr("none")),
        )
        return RecordCard(specs, tr("bit {n}").format(n=i + 1), tr("Remove"))
