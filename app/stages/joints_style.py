"""The chosen seam on the right of the Joints stage: its style, its numbers, its ends."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from typing import Any

from PySide6.QtCore import Signal
from PySide6.QtGui import QPixmap
from PySide6.QtWidgets import QCheckBox, QVBoxLayout, QWidget

from app import theme
from app.canvas.lengths import glance, play_text, short_length
from app.i18n import tr
from app.stages import joints_lines as shape
from app.stages.joints_model import Sample, Shown, joint_context
from app.stages.joints_thumbs import Gallery, sample_picture
from app.widgets.fields import LengthField, NumberField, ParsedField, show_length
from app.widgets.forms import Choice, Rows, Section, button, row_of, words
from app.wording import error_in_words, in_words
from core.joints.style import Parameter, SeamStyle
from core.project.model import ReliefKind, SeamLine, StyleChoice
from core.project.refit import ReliefSide
from core.shop import JointClass
from core.units import fine_length


class StyleBox(Section):
    """This panel's seam in every style, and the numbers of the one in force."""

    style_taken = Signal(str)
    changed = Signal(str, object)  # name of a field of the line, value
    parameter = Signal(str, object)  # key, value or None for the usual
    turned_over = Signal()
    own_wanted = Signal()

    def __init__(self, unit: str) -> None:
        super().__init__(tr("Seam"), "joint")
        self._unit = unit
        self._shown: Shown | None = None
        self._line: SeamLine | None = None
        self.state = words()
        self.add(self.state)
        self.scope = QCheckBox(tr("All seams of this panel alike"))
        self.scope.setChecked(True)
        self.scope.setToolTip(tr("Style and numbers go to every seam of this panel"))
        self.add(self.scope)
        self.gallery = Gallery(tr("Seam styles, drawn on this seam"))
        self.gallery.taken.connect(self._style_taken)
        self.add(self.gallery)
        self.own_button = button(
            tr("Draw your own tooth…"),
            self._own,
            "joint",
            tr("A tooth drawn here or read from a drawing becomes a style of its own"),
        )
        self.add(self.own_button)
        self.when = words()
        self.add(self.when)
        self.facts = words()
        self.add(self.facts)
        self.rows = QWidget()
        self._rows_column = QVBoxLayout(self.rows)
        self._rows_column.setContentsMargins(0, 0, 0, 0)
        self.add(self.rows)
        self._samples: tuple[Sample, ...] = ()
        self._pictures: dict[tuple[Sample, bool], QPixmap] = {}
        self._tables: dict[str, tuple[Rows, list[tuple[str, QWidget]]]] = {}
        self.common = Rows()
        self.add(self.common)
        self.fit = LengthField(
            tr("Fit: total play across the joint"), unit, most_mm=5.0, empty=tr("as in the Shop")
        )
        self.common.add(
            tr("Fit"), self.fit, tr("Total play across the joint; larger is looser, 0 to 5 mm")
        )
        self.fit_words = words()
        self.common.add_wide(self.fit_words)
        self.joint_class = Choice(
            tr("What the joint is for"),
            [(JointClass.GLUED, tr("glued")), (JointClass.KNOCK_DOWN, tr("to be taken apart"))],
        )
        self.common.add(tr("Joint"), self.joint_class)
        self.relief = Choice(
            tr("Room for square corners"),
            [
                (ReliefKind.DOG_BONE, tr("dog-bone")),
                (ReliefKind.T_BONE, tr("T-bone")),
                (ReliefKind.SMALLEST, tr("smallest that clears")),
                (ReliefKind.NONE, tr("none")),
            ],
        )
        self.common.add(tr("Relief"), self.relief)
        self.relief_side = Choice(
            tr("Which way T-bones go"),
            [
                (ReliefSide.ENDS, tr("into shoulders and tips")),
                (ReliefSide.WALLS, tr("into flanks")),
            ],
        )
        self.common.add(tr("T-bones"), self.relief_side)
        self.shift = LengthField(tr("Pattern moved along the seam"), unit, least_mm=-2000.0)
        self.common.add(tr("Shift"), self.shift)
        self.corner = LengthField(tr("Radius at bends of the seam"), unit)
        self.common.add(tr("Bends"), self.corner)
        self.rise = LengthField(tr("How far the seam bows"), unit, least_mm=-2000.0)
        self.common.add(
            tr("Bow"),
            self.rise,
            tr("How far the seam bows out of a straight line, to its left; 0 for straight"),
        )
        self.over = button(
            tr("Turn over"), self._over, "mirror", tr("Teeth point to the other side (T)")
        )
        self.over_row = row_of(self.over)
        self.add(self.over_row)
        self.places = Rows()
        self.add(self.places)
        self.ends: list[LengthField] = []
        for label, name in (
            (tr("Start x"), tr("Start of the seam, x")),
            (tr("Start y"), tr("Start of the seam, y")),
            (tr("End x"), tr("End of the seam, x")),
            (tr("End y"), tr("End of the seam, y")),
        ):
            field = LengthField(name, unit, least_mm=-1e5)
            self.places.add(label, field)
            field.committed.connect(self._end_changed)
            self.ends.append(field)
        self.fit.committed.connect(self._fit_changed)
        self.joint_class.chosen.connect(self._class_changed)
        self.relief.chosen.connect(self._relief_changed)
        self.relief_side.chosen.connect(self._relief_side_changed)
        self.shift.committed.connect(self._shift_changed)
        self.corner.committed.connect(self._corner_changed)
        self.rise.committed.connect(self._rise_changed)
        self.show_seam(None, None, "")

    def set_unit(self, unit: str) -> None:
        """Show lengths in another unit."""
        self._unit = unit
        for field in (self.fit, self.shift, self.corner, self.rise, *self.ends):
            field.set_unit(unit)
        for _, fields in self._tables.values():
            for _, widget in fields:
                if isinstance(widget, LengthField):
                    widget.set_unit(unit)

    # --- showing --------------------------------------------------------------------------
    def show_seam(self, shown: Shown | None, line: SeamLine | None, letters: str) -> None:
        """Take over a seam line; None: no seam is chosen."""
        self._shown, self._line = shown, line
        have = shown is not None and line is not None
        for widget in (self.rows, self.common, self.over_row, self.places, self.gallery):
            widget.setVisible(have)
        self.when.setVisible(have)
        self.facts.setVisible(have)
        self.scope.setVisible(have and len(shown.lines if shown else ()) > 1)
        if not have or shown is None or line is None:
            self.head.setText(tr("Seam"))
            self.state.setText(
                tr("Click a seam to choose it. N draws a new one across the middle.")
            )
            self.state.show()
            return
        self.head.setText(tr("Seam {letters}").format(letters=letters) if letters else tr("Seam"))
        seam = next((s for s in shown.split.seams if s.line_index == self._index()), None)
        self.state.setVisible(seam is not None)
        if seam is not None:
            self.state.setText(
                tr("{length} of joint, {n} teeth or keys").format(
                    length=glance(seam.joint_length_mm, self._unit), n=seam.teeth
                )
            )
        self._show_parameters(shown, line)
        if not self.fit.line.isModified():
            self.fit.set_value(line.fit_mm)
        play = line.fit_mm if line.fit_mm is not None else shown.context.fit_of(line)
        self.fit_words.setText(play_text(play, self._unit))
        usual = show_length(round(shown.context.fit_of(line), 3), self._unit)
        self.fit.line.setPlaceholderText(tr("as in the Shop: {fit}").format(fit=usual))
        self.joint_class.set_value(line.joint_class)
        self.relief.set_value(line.relief)
        self.relief_side.set_value(line.relief_side)
        self.common.set_row_visible(self.relief_side, line.relief is ReliefKind.T_BONE)
        self.shift.set_value(line.shift_mm)
        self.corner.set_value(line.corner_mm)
        self.common.set_row_visible(self.corner, len(line.points) > 2)
        self.common.set_row_visible(self.rise, len(line.points) == 2)
        self.rise.set_value(shape.rise_of(line, 0))
        flat = [line.points[0][0], line.points[0][1], line.points[-1][0], line.points[-1][1]]
        for field, value in zip(self.ends, flat, strict=True):
            field.set_value(value)

    def _index(self) -> int:
        if self._shown is None or self._line is None:
            return -1
        return next((i for i, li in enumerate(self._shown.lines) if li == self._line), -1)

    def _show_parameters(self, shown: Shown, line: SeamLine) -> None:
        style = shown.context.styles.styles.get(line.style.name)
        if style is None:
            return
        fields = self._table(style)
        context = joint_context(shown, line)
        chosen = dict(line.style.params)
        for (key, widget), parameter in zip(fields, style.parameters, strict=True):
            usual = parameter.default(context)
            value = chosen.get(key)
            if isinstance(widget, QCheckBox):
                widget.setChecked(bool(usual if value is None else value))
            elif isinstance(widget, ParsedField):
                widget.set_value(value)
                shown_usual = (
                    short_length(usual, self._unit)
                    if parameter.unit == "mm"
                    else f"{usual:g} {parameter.unit if parameter.unit == '°' else ''}".strip()
                )
                widget.line.setPlaceholderText(tr("usual: {value}").format(value=shown_usual))
        self.when.setText(in_words(style.when))
        try:
            self.facts.setText(style_facts(style.properties(line.style, context), self._unit))
        except ValueError as error:
            self.facts.setText(f"● {error_in_words(error)}")

    def _table(self, style: SeamStyle) -> list[tuple[str, QWidget]]:
        """The fields of a style, made once, and all other styles' hidden."""
        if style.name not in self._tables:
            rows = Rows()
            self._rows_column.addWidget(rows)
            fields = [(p.key, self._field(p, rows)) for p in style.parameters]
            self._tables[style.name] = (rows, fields)
        for name, (rows, _) in self._tables.items():
            rows.setVisible(name == style.name)
        return self._tables[style.name][1]

    def field_of(self, style: str, key: str) -> QWidget:
        """The field of a style's parameter; KeyError if it was not shown yet."""
        return dict(self._tables[style][1])[key]

    def _field(self, parameter: Parameter, rows: Rows) -> QWidget:
        if parameter.choice:
            box = QCheckBox(in_words(parameter.label))
            box.setToolTip(in_words(parameter.help))
            box.setProperty("key", parameter.key)
            box.clicked.connect(self._box_clicked)
            rows.add_wide(box)
            return box
        label = in_words(parameter.label)
        if parameter.unit == "mm":
            field: ParsedField = LengthField(
                label,
                self._unit,
                least_mm=parameter.low,
                most_mm=parameter.high,
                empty=tr("usual"),
            )
        else:
            suffix = parameter.unit if parameter.unit == "°" else ""
            field = NumberField(
                label,
                suffix=suffix,
                least=parameter.low,
                most=parameter.high,
                empty=tr("usual"),
            )
        field.setProperty("key", parameter.key)
        field.committed.connect(self._field_committed)
        if parameter.unit == "1 in n":
            label = tr("{label}, 1 in").format(label=label)
        return rows.add(label, field, in_words(parameter.help))

    def show_samples(self, samples: Sequence[Sample], current: str) -> None:
        """Fill the gallery with what has been worked out so far."""
        ratio = self.devicePixelRatioF()
        rows = []
        chosen = -1
        dark = theme.is_dark()
        known = {
            key: picture
            for key, picture in self._pictures.items()
            if key[1] == dark and any(sample is key[0] for sample in samples)
        }
        for sample in samples:
            if (sample, dark) not in known:
                known[(sample, dark)] = sample_picture(sample, ratio=ratio)
        self._pictures = known
        self._samples = tuple(samples)
        for number, sample in enumerate(samples):
            if sample.name == current:
                chosen = number
            tip = in_words(sample.style.when)
            if sample.properties is not None:
                tip += "\n" + style_facts(sample.properties, self._unit)
            if sample.problem:
                tip = f"● {sample.problem}"
            rows.append((known[(sample, dark)], in_words(sample.style.title), tip))
        self.gallery.show_rows(rows, chosen, lines=2)

    # --- telling --------------------------------------------------------------------------
    def _style_taken(self, index: int) -> None:
        if 0 <= index < len(self._samples):
            self.style_taken.emit(self._samples[index].name)

    def _field_committed(self, value: Any) -> None:
        key = self.sender().property("key")
        self.parameter.emit(str(key), value)

    def _box_clicked(self, on: bool) -> None:
        self.parameter.emit(str(self.sender().property("key")), 1.0 if on else 0.0)

    def _fit_changed(self, value: float | None) -> None:
        self.changed.emit("fit_mm", value)

    def _class_changed(self, value: JointClass) -> None:
        self.changed.emit("joint_class", value)

    def _relief_changed(self, value: ReliefKind) -> None:
        self.changed.emit("relief", value)

    def _relief_side_changed(self, value: ReliefSide) -> None:
        self.changed.emit("relief_side", value)

    def _shift_changed(self, value: float) -> None:
        self.changed.emit("shift_mm", value)

    def _rise_changed(self, value: float) -> None:
        if self._line is not None:
            self.changed.emit("bulges", shape.with_rise(self._line, 0, value).bulges)

    def _corner_changed(self, value: float) -> None:
        self.changed.emit("corner_mm", value)

    def _own(self) -> None:
        self.own_wanted.emit()

    def _over(self) -> None:
        self.turned_over.emit()

    def _end_changed(self, _value: float) -> None:
        if self._line is None or any(field.value is None for field in self.ends):
            return
        x1, y1, x2, y2 = (float(field.value) for field in self.ends)
        points = ((x1, y1), *self._line.points[1:-1], (x2, y2))
        self.changed.emit("points", points)


def glue_area(area_mm2: float, unit: str) -> str:
    """A glue area in cm² or square inches, whole."""
    if unit == "in":
        return f"{area_mm2 / 25.4**2:.0f} in²"
    return f"{area_mm2 / 100:.0f} cm²"


def style_facts(properties: Any, unit: str) -> str:
    """What a maker wants to know of a style, in one paragraph."""
    rows = [
        tr("holds against pulling apart")
        if properties.holds
        else tr("pulls apart in the plane: glue and a clamp hold it")
    ]
    if properties.needs_relief:
        rows.append(tr("square corners: needs relief"))
    elif not math.isfinite(properties.inside_radius_mm):
        rows.append(tr("no inside corners"))
    else:
        rows.append(
            tr("smallest inside radius {radius}").format(
                radius=short_length(properties.inside_radius_mm, unit)
            )
        )
    rows.append(
        tr("{length} of glue line and {area} of glue per metre").format(
            length=glance(properties.glue_length_per_m_mm, unit),
            area=glue_area(properties.glue_area_per_m_mm2, unit),
        )
    )
    if properties.closing_mm > 1e-6:
        rows.append(
            tr("closes up by {closing} if pushed home").format(
                closing=fine_length(properties.closing_mm, unit)
            )
        )
    rows += [in_words(text) for text in (properties.mating, *properties.needs)]
    text = "; ".join(row for row in rows if row)
    return text[:1].upper() + text[1:] + "."


def with_parameter(style: StyleChoice, key: str, value: float | None) -> StyleChoice:
    """The style with one number set, or left to the usual with None."""
    params = tuple((k, v) for k, v in style.params if k != key)
    if value is not None:
        params = (*params, (key, float(value)))
    return replace(style, params=params)
