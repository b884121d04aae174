"""Distances and limits in the shop drawer."""

from __future__ import annotations

from app.i18n import tr
from app.shop.part import Part
from app.shop.records import RecordForm, Spec


class RulesPart(Part):
    """Distances of the plan."""

    def __init__(self) -> None:
        super().__init__()
        self.form = RecordForm(
            (
                Spec(
                    "spacing_mm",
                    tr("Between pieces"),
                    "length",
                    tr("Distance between cut pieces"),
                    tr("bit and 2 mm"),
                ),
                Spec(
                    "edge_margin_mm",
                    tr("From board edges"),
                    "length",
                    tr("Distance of pieces from factory and sawn edges"),
                ),
                Spec("kerf_mm", tr("Saw kerf"), "length", tr("Width of a saw cut")),
                Spec(
                    "edge_trim_mm",
                    tr("Edge trim"),
                    "length",
                    tr("Factory edge sawn off where a part is finished by the saw"),
                ),
                Spec(
                    "blank_oversize_mm",
                    tr("Blank oversize"),
                    "length",
                    tr("Added to each blank for a saw that wanders"),
                ),
            )
        )
        self.form.edited.connect(
            lambda name, value: self.wanted.emit(tr("Set rules"), "rules", (name, value))
        )
        self.show_in(self.form, lambda project: project.shop.rules)


class LimitsPart(Part):
    """What else bounds sheets, blanks and whole panels."""

    def __init__(self) -> None:
        super().__init__()
        none = tr("no limit")
        self.form = RecordForm(
            (
                Spec(
                    "vehicle_mm",
                    tr("Vehicle"),
                    "size",
                    tr("Largest sheet you can carry home"),
                    none,
                ),
                Spec(
                    "door_mm",
                    tr("Door or press"),
                    "size",
                    tr("Largest whole panel that gets out of the shop"),
                    none,
                ),
                Spec(
                    "lift_kg",
                    tr("One person lifts"),
                    "number",
                    tr("A reminder, not advice that a lift is safe"),
                    none,
                    suffix="kg",
                    above_zero=True,
                ),
                Spec("planer_width_mm", tr("Planer width"), "length", "", none, above_zero=True),
                Spec(
                    "planer_min_length_mm",
                    tr("Planer's shortest"),
                    "length",
                    tr("Shortest board the planer may take; see its manual"),
                    none,
                    above_zero=True,
                ),
                Spec("snipe_mm", tr("Snipe at each end"), "length"),
            )
        )
        self.form.edited.connect(
            lambda name, value: self.wanted.emit(tr("Set limits"), "limits", (name, value))
        )
        self.show_in(self.form, lambda project: project.shop.limits)
