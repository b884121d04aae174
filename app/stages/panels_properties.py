"""The right side of the Panels stage: the selection in plain words and fields."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import QCheckBox, QFrame, QHBoxLayout, QPushButton, QVBoxLayout, QWidget

from app import theme
from app.commands import SetPanels
from app.commands.twins import AddTwin
from app.context import Context
from app.i18n import tr
from app.stages.panels_fit import feature_words, panel_words
from app.stages.panels_recognised import RecognisedSection
from app.widgets.fields import LengthField, NumberField, TextField
from app.widgets.forms import Choice, Heading, Rows, Section, button, empty_layout, tool, words
from app.wording import error_in_words
from core.errors import SeamwrightError
from core.findings import Finding
from core.outlines.model import Face
from core.project.model import CutBy, Grain, Panel, Rank, SplitChoice, Together

_FINDINGS_SHOWN = 5


class PanelProperties(QWidget):
    """Fields for one or several panels; what differs among them shows “several”."""

    finding_clicked = Signal(object)
    remedy_clicked = Signal(object)
    wants_joints = Signal(str)
    wants_shop = Signal(str)
    remove_clicked = Signal()

    def __init__(self, context: Context, offer: Callable[[Finding], str]) -> None:
        super().__init__()
        self._context = context
        self._offer = offer
        self._ids: tuple[str, ...] = ()
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(theme.NORMAL)
        self.title = Heading()
        column.addWidget(self.title)
        self.told = words()
        column.addWidget(self.told)
        self._findings = QVBoxLayout()
        self._findings.setSpacing(theme.TIGHT)
        column.addLayout(self._findings)

        rows = Rows()
        self.name = TextField(tr("Name"), check=_not_empty)
        self.quantity = NumberField(tr("Quantity"), whole=True, least=0, most=100_000)
        self.material = Choice(tr("Board"))
        self.grain = Choice(
            tr("Grain"),
            (
                (Grain.FREE, tr("any way")),
                (Grain.ALONG, tr("along its width")),
                (Grain.ACROSS, tr("along its height")),
            ),
        )
        self.face = Choice(
            tr("Show face"),
            ((Face.SHOW, tr("as drawn")), (Face.BACK, tr("the back of the drawing"))),
        )
        self.by = Choice(tr("Cut by"), ((CutBy.ROUTER, tr("router")), (CutBy.SAW, tr("saw alone"))))
        self.split = Choice(
            tr("If too big"),
            (
                (SplitChoice.AUTO, tr("split where it must be")),
                (SplitChoice.WHOLE, tr("leave whole")),
                (SplitChoice.SPLIT, tr("split although it fits")),
                (SplitChoice.OMIT, tr("leave out of this plan")),
            ),
        )
        self.rank = Choice(
            tr("Lay out"),
            (
                (Rank.USUAL, tr("with the others")),
                (Rank.FIRST, tr("before the others")),
                (Rank.SPARE, tr("only where board is left over")),
            ),
        )
        self.together = Choice(
            tr("Its pieces"),
            (
                (Together.ANYWHERE, tr("wherever they fit")),
                (Together.SHEET, tr("on one sheet if it costs nothing")),
                (Together.ORDER, tr("side by side, grain running through")),
            ),
        )
        self.ends = LengthField(tr("Depth of teeth on its ends"), context.unit, empty=tr("none"))
        self.mirror = QCheckBox(tr("May be turned over"))
        self.mirror.setToolTip(
            tr("Both faces are alike, so nesting may lay it face down to save board")
        )
        rows.add(tr("Name"), self.name)
        rows.add(tr("Quantity"), self.quantity)
        rows.add(tr("Board"), self.material)
        rows.add(
            tr("Grain"), self.grain, tr("How the board's grain runs on the panel as it is drawn")
        )
        rows.add(tr("Show face"), self.face, tr("The face that is seen on the finished piece"))
        rows.add(
            tr("Cut by"), self.by, tr("Only rectangles without anything cut into them suit the saw")
        )
        rows.add(
            tr("If too big"),
            self.split,
            tr("What becomes of a panel that is larger than the machine"),
        )
        rows.add(
            tr("Lay out"),
            self.rank,
            tr("What comes first where sheets run short; spares never open a sheet"),
        )
        rows.add(
            tr("Its pieces"),
            self.together,
            tr("How the pieces of a split panel lie to each other on the sheets"),
        )
        rows.add(
            tr("End teeth"),
            self.ends,
            tr("Joints cut on both ends, the board clamped upright: how deep the teeth go"),
        )
        rows.add_wide(self.mirror)
        column.addWidget(rows)
        self.rows = rows

        self.twin_button = button(
            tr("Add its mirrored twin"),
            self._add_twin,
            "mirror",
            tr("Left and right: the other hand of this panel as a panel of its own"),
        )
        column.addWidget(self.twin_button)
        self.features = Section(tr("Cut into it"), "layers", is_open=False)
        self.features_text = words()
        self.features.add(self.features_text)
        column.addWidget(self.features)
        self.recognised = RecognisedSection(context)
        column.addWidget(self.recognised)
        self.joints_button = button(
            tr("Look at its joints"), self._to_joints, "joint", tr("Open this panel on stage 2")
        )
        column.addWidget(self.joints_button)
        self.remove_button = button(
            tr("Remove"), self.remove_clicked.emit, "delete", tr("Take it out of the project (Del)")
        )
        column.addWidget(self.remove_button)
        column.addStretch(1)

        self.name.committed.connect(self._set_name)
        self.quantity.committed.connect(self._set_quantity)
        self.ends.committed.connect(self._set_ends)
        self.material.chosen.connect(self._set_material)
        self.grain.chosen.connect(self._set_grain)
        self.face.chosen.connect(self._set_face)
        self.by.chosen.connect(self._set_by)
        self.split.chosen.connect(self._set_split)
        self.rank.chosen.connect(self._set_rank)
        self.together.chosen.connect(self._set_together)
        self.mirror.clicked.connect(self._set_mirror)

    # --- showing --------------------------------------------------------------------------
    @property
    def ids(self) -> tuple[str, ...]:
        """The panels the fields stand for."""
        return self._ids

    def show_panels(self, panels: tuple[Panel, ...]) -> None:
        """Show these panels' values."""
        self._ids = tuple(panel.id for panel in panels)
        if not panels:
            self.recognised.show_panel(None)
            return
        one = panels[0] if len(panels) == 1 else None
        self.title.setText(one.name if one else tr("{n} panels").format(n=len(panels)))
        self.told.setText(self._words(panels))
        self.rows.set_row_visible(self.name, one is not None)
        if one is not None:
            self.name.set_value(one.name)
        self._fill_materials(panels)
        for field, attribute in (
            (self.material, "material"),
            (self.grain, "grain"),
            (self.face, "show_face"),
            (self.by, "by"),
            (self.split, "split"),
            (self.rank, "rank"),
            (self.together, "together"),
        ):
            field.set_value(_common(panels, attribute))
        quantity = _common(panels, "quantity")
        if quantity is None:
            self.quantity.set_mixed()
        else:
            self.quantity.set_value(quantity)
        self.ends.set_unit(self._context.unit)
        ends = _common(panels, "ends_mm")
        if ends is None:
            self.ends.set_mixed()
        else:
            self.ends.set_value(ends or None)
        mirror = _common(panels, "may_mirror")
        self.mirror.setTristate(mirror is None)
        self.mirror.setCheckState(
            Qt.CheckState.PartiallyChecked
            if mirror is None
            else Qt.CheckState.Checked
            if mirror
            else Qt.CheckState.Unchecked
        )
        self._show_features(one)
        self.recognised.show_panel(one)
        self.joints_button.setVisible(one is not None)
        self.twin_button.setVisible(one is not None)
        self._show_findings(panels)

    def _words(self, panels: tuple[Panel, ...]) -> str:
        context = self._context
        machine = context.document.project.shop.machine
        if len(panels) == 1:
            return panel_words(panels[0], machine, context.derived.pieces, context.unit)
        pieces = sum(panel.quantity for panel in panels)
        from core.reports.words import Words

        area = sum(panel.region.area_mm2 * panel.quantity for panel in panels)
        return tr("{n} in all with their quantities, {area} of board.").format(
            n=pieces, area=Words(context.unit).area(area)
        )

    def _fill_materials(self, panels: tuple[Panel, ...]) -> None:
        names = [m.name for m in self._context.document.project.shop.materials]
        options: list[tuple[Any, str]] = [(name, name) for name in names]
        for panel in panels:
            if panel.material and panel.material not in names:
                options.append(
                    (panel.material, tr("{name} (not in the shop)").format(name=panel.material))
                )
                names.append(panel.material)
        options.insert(0, ("", tr("not chosen yet")))
        options.append((None, tr("Add a board…")))
        self.material.set_options(options)

    def _show_features(self, panel: Panel | None) -> None:
        self.features.setVisible(panel is not None and bool(panel.features))
        if panel is not None:
            unit = self._context.unit
            counted: dict[str, int] = {}
            for feature in panel.features:
                text = feature_words(feature, unit)
                counted[text] = counted.get(text, 0) + 1
            lines = [f"{n} × {text}" if n > 1 else text for text, n in counted.items()]
            self.features_text.setText("\n".join(lines))

    def _show_findings(self, panels: tuple[Panel, ...]) -> None:
        empty_layout(self._findings)
        found = [f for panel in panels for f in self._context.derived.findings_of(panel.id)]
        for finding in found[:_FINDINGS_SHOWN]:
            self._findings.addWidget(self._finding_card(finding))
        more = len(found) - _FINDINGS_SHOWN
        if more > 0:
            self._findings.addWidget(words(tr("and {n} more, see below").format(n=more)))

    def _finding_card(self, finding: Finding) -> QWidget:
        card = QFrame()
        card.setProperty("card", True)
        column = QVBoxLayout(card)
        column.setContentsMargins(theme.NORMAL, theme.TIGHT, theme.NORMAL, theme.TIGHT)
        column.setSpacing(2)
        text = words(f"{theme.SIGNS[finding.severity]} {finding.message}", muted=False)
        text.setProperty("severity", str(finding.severity))
        column.addWidget(text)
        if finding.remedy:
            column.addWidget(words(finding.remedy))
        label = self._offer(finding)
        if label:
            remedy = QPushButton(label)
            remedy.clicked.connect(lambda: self.remedy_clicked.emit(finding))
            row = QHBoxLayout()
            row.addWidget(remedy, 1)
            if finding.at is not None:
                row.addWidget(
                    tool(tr("Show the place"), lambda: self.finding_clicked.emit(finding), "eye")
                )
            column.addLayout(row)
        elif finding.at is not None:
            show = QPushButton(tr("Show the place"))
            show.clicked.connect(lambda: self.finding_clicked.emit(finding))
            column.addWidget(show)
        return card

    # --- changing -------------------------------------------------------------------------
    def _set(self, text: str, field: str, value: Any) -> None:
        if not self._ids:
            return
        n = len(self._ids)
        whole = text if n == 1 else tr("{what}, {n} panels").format(what=text, n=n)
        try:
            self._context.document.run(SetPanels(whole, self._ids, ((field, value),)))
        except SeamwrightError as error:
            self.told.setText(error_in_words(error))

    def _set_name(self, value: str) -> None:
        self._set(tr("Rename panel"), "name", value)

    def _set_quantity(self, value: int) -> None:
        self._set(tr("Set quantity"), "quantity", value)

    def _set_material(self, value: str | None) -> None:
        if value is None:
            self.material.set_value(self._common_now("material"))
            self.wants_shop.emit("boards")
            return
        self._set(tr("Set board"), "material", value)

    def _set_grain(self, value: Grain) -> None:
        self._set(tr("Set grain"), "grain", value)

    def _set_face(self, value: Face) -> None:
        self._set(tr("Set show face"), "show_face", value)

    def _set_by(self, value: CutBy) -> None:
        self._set(tr("Set machine"), "by", value)

    def _set_split(self, value: SplitChoice) -> None:
        self._set(tr("Set splitting"), "split", value)

    def _set_rank(self, value: Rank) -> None:
        self._set(tr("Set when it is laid out"), "rank", value)

    def _set_together(self, value: Together) -> None:
        self._set(tr("Set how its pieces lie"), "together", value)

    def _set_ends(self, value: float | None) -> None:
        self._set(tr("Set its ends"), "ends_mm", value or 0.0)

    def _set_mirror(self) -> None:
        on = self.mirror.checkState() is not Qt.CheckState.Unchecked
        self._set(tr("Set turning over"), "may_mirror", on)

    def _add_twin(self) -> None:
        if len(self._ids) == 1:
            self._context.document.run(AddTwin(self._ids[0]))

    def _common_now(self, attribute: str) -> Any:
        project = self._context.document.project
        panels = tuple(p for p in project.panels if p.id in self._ids)
        return _common(panels, attribute) if panels else None

    def _to_joints(self) -> None:
        if len(self._ids) == 1:
            self.wants_joints.emit(self._ids[0])


def _common(panels: tuple[Panel, ...], attribute: str) -> Any:
    """The value all panels share, None if they differ."""
    values = {getattr(panel, attribute) for panel in panels}
    return values.pop() if len(values) == 1 else None


def _not_empty(text: str) -> str:
    return "" if text else tr("A panel needs a name for its label.")
