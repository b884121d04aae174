"""The drawings of the project: their unit, their files, and what their layers mean."""

from __future__ import annotations

from pathlib import Path

from PySide6.QtCore import Signal
from PySide6.QtGui import QShowEvent
from PySide6.QtWidgets import QCheckBox, QVBoxLayout, QWidget

from app import theme
from app.commands.base import DRAWINGS, PANELS, PROJECT, Edit
from app.context import Context
from app.i18n import tr
from app.reading import HowToRead
from app.widgets.fields import LengthField, show_length, unit_word
from app.widgets.forms import Choice, Section, button, empty_layout, row_of, tool, words
from core.outlines.limits import MAX_GAP_MM
from core.outlines.model import Face, LayerRead, Role
from core.outlines.roles import FEATURE_ROLES, LayerChoice
from core.project.answers import decided_about, layer_values, with_memory, without_memory
from core.project.model import Drawing, Panel
from core.tolerances import GAP_ASK_MM

_GUESSED = ""  # as a choice of unit: the one taken, which nobody has said yet
_UNITS = ("mm", "cm", "m", "in", "ft", "px")
# Layers nobody named mean something else in every drawing.
_NAMELESS = ("", "0")


def role_words(role: Role) -> str:
    """A role as the maker says it."""
    return {
        Role.CUT: tr("cut through"),
        Role.POCKET: tr("pocket"),
        Role.DADO: tr("dado"),
        Role.REBATE: tr("rebate"),
        Role.DRILL: tr("drill"),
        Role.ENGRAVE: tr("engrave"),
        Role.SHEET: tr("the sheet itself"),
        Role.IGNORE: tr("leave out"),
    }[role]


class DrawingLayers(QWidget):
    """One section per drawing: unit, gaps, files, layers with role, depth and face.

    wants_role(drawing id, layer, role): reading the file again is needed for it.
    wants_again(drawing id): read it again as it is. wants_reading(drawing id, HowToRead): read
    it again with that. wants_look(drawing id): show it as it was read.
    """

    wants_role = Signal(str, str, object)
    wants_again = Signal(str)
    wants_reading = Signal(str, object)
    wants_look = Signal(str)

    def __init__(self, context: Context) -> None:
        super().__init__()
        self._context = context
        self._column = QVBoxLayout(self)
        self._column.setContentsMargins(0, 0, 0, 0)
        self._column.setSpacing(theme.NORMAL)
        self._shown: object = None
        self._open: dict[str, bool] = {}
        self._depths: dict[tuple[str, str], LengthField] = {}

    def fill(self) -> None:
        """Show the drawings of the project, if something about them changed.

        While nobody looks, nothing is built; it is made up for when the column is shown.
        """
        if not self.isVisible():
            return
        project = self._context.document.project
        state = (
            project.drawings,
            project.units,
            project.layer_memory,
            _features_state(project.panels),
        )
        if state == self._shown:
            return
        self._shown = state
        self._depths.clear()
        empty_layout(self._column)
        for drawing in project.drawings:
            self._column.addWidget(self._section(drawing))
        if project.layer_memory:
            self._column.addWidget(self._memory_section())

    def showEvent(self, event: QShowEvent) -> None:
        """Catch up with the project."""
        super().showEvent(event)
        self.fill()

    def ask_depth(self, drawing_id: str, layer: str) -> bool:
        """Put the cursor into the depth of a layer. False if it has none."""
        if not self._open.get(drawing_id, True):
            self._open[drawing_id] = True
            self._shown = None
        self.fill()
        field = self._depths.get((drawing_id, layer.lower()))
        if field is None:
            return False
        field.line.setFocus()
        field.line.selectAll()
        return True

    # --- one drawing ------------------------------------------------------------------------
    def _section(self, drawing: Drawing) -> Section:
        few = len(self._context.document.project.drawings) <= 2
        is_open = self._open.get(drawing.id, few)
        section = Section(drawing.file_name, "page", is_open=is_open)
        section.head.toggled.connect(lambda on: self._open.__setitem__(drawing.id, on))
        section.add(self._unit(drawing))
        section.add(self._gap(drawing))
        for layer in self._layers(drawing):
            section.add(self._layer(drawing, layer))
        for file in drawing.joined:
            section.add(self._joined(drawing, file.file_name))
        look = button(
            tr("Look at the drawing"),
            lambda: self.wants_look.emit(drawing.id),
            "eye",
            tr("See it as it was read, with what belongs to no outline"),
        )
        again = button(
            tr("Read it again"),
            lambda: self.wants_again.emit(drawing.id),
            "refresh",
            tr("Take the file as it is now; what you decided about its panels stays"),
        )
        more = button(
            tr("Add a file to it…"),
            lambda: self._ask_join(drawing),
            "plus",
            tr("Read another file on top of this one, where one panel is spread over several"),
        )
        for widget in (look, again, more):
            section.add(widget)
        return section

    def _unit(self, drawing: Drawing) -> QWidget:
        """Which unit its numbers are in, to be switched."""
        choice = Choice(tr("Unit of {file}").format(file=drawing.file_name))
        units = _UNITS if drawing.units in _UNITS else (drawing.units, *_UNITS)
        plain = tr("read in {unit}")
        options = [(unit, plain.format(unit=unit_word(unit))) for unit in units]
        if drawing.units_guessed:
            guess = tr("read in {unit}, a guess").format(unit=unit_word(drawing.units))
            options.insert(0, (_GUESSED, guess))
        choice.set_options(options)
        choice.set_value(_GUESSED if drawing.units_guessed else drawing.units)
        choice.setToolTip(
            tr(
                "What the numbers in the file are; choose it to say so. What you decided about "
                "its panels stays"
            )
        )

        def say(unit: str) -> None:
            if unit != _GUESSED:
                self.wants_reading.emit(drawing.id, HowToRead(units=unit))

        choice.chosen.connect(say)
        return choice

    def _gap(self, drawing: Drawing) -> QWidget:
        """Up to where loose ends are joined."""
        field = LengthField(
            tr("Gaps closed in {file}").format(file=drawing.file_name),
            self._context.unit,
            least_mm=0.0,
            most_mm=MAX_GAP_MM,
        )
        field.set_value(GAP_ASK_MM if drawing.gap_mm is None else drawing.gap_mm)
        field.committed.connect(
            lambda value: self.wants_reading.emit(drawing.id, HowToRead(gap_mm=value))
        )
        label = words(tr("gaps closed up to"))
        return row_of(label, field, stretch=1)

    def _joined(self, drawing: Drawing, name: str) -> QWidget:
        """A file read together with it, to be parted again."""
        part = tool(
            tr("Read {file} on its own").format(file=name),
            lambda: self.wants_reading.emit(drawing.id, HowToRead(part=(name,))),
            "split",
        )
        return row_of(words(tr("with {file}").format(file=name), muted=False), part, stretch=0)

    def _ask_join(self, drawing: Drawing) -> None:
        paths = self._context.ask.open_files(
            tr("Add to {file}").format(file=drawing.file_name),
            tr("Drawings (*.dxf *.svg);;All files (*)"),
            folder=str(Path(drawing.path).parent) if Path(drawing.path).is_absolute() else "",
        )
        if paths:
            how = HowToRead(join=tuple(Path(path) for path in paths))
            self.wants_reading.emit(drawing.id, how)

    # --- layers -----------------------------------------------------------------------------
    def _panels(self, drawing: Drawing) -> list[Panel]:
        return [p for p in self._context.document.project.panels if p.drawing == drawing.id]

    def _layers(self, drawing: Drawing) -> list[LayerRead]:
        """What every layer was read as; older projects know only the layers of their panels."""
        rows = {row.layer: row for row in drawing.layers}
        given = dict(drawing.roles)
        for panel in self._panels(drawing):
            rows.setdefault(panel.layer, LayerRead(panel.layer, Role.CUT))
            for f in panel.features:
                rows.setdefault(f.layer, LayerRead(f.layer, f.kind, f.depth_mm, f.face))
        for layer, role in given.items():
            rows.setdefault(layer, LayerRead(layer, role))
        return list(rows.values())

    def _layer(self, drawing: Drawing, row: LayerRead) -> QWidget:
        layer = row.layer
        holder = QWidget()
        column = QVBoxLayout(holder)
        column.setContentsMargins(0, 0, 0, theme.TIGHT)
        column.setSpacing(theme.TIGHT)
        shown = layer or tr("(no layer)")
        column.addWidget(words(shown, muted=False))
        features = [f for p in self._panels(drawing) for f in p.features if f.layer == layer]
        role = dict(drawing.roles).get(layer) or row.role
        choice = Choice(
            tr("Role of layer {layer}").format(layer=shown), [(r, role_words(r)) for r in Role]
        )
        choice.set_value(role)
        choice.chosen.connect(lambda value: self.wants_role.emit(drawing.id, layer, value))
        column.addWidget(choice)
        if features or role in FEATURE_ROLES:
            depths = {f.depth_mm for f in features} or {row.depth_mm}
            faces = {f.face for f in features} or {row.face}
            column.addWidget(self._depth(drawing, layer, shown, depths))
            column.addWidget(self._face(drawing, layer, shown, faces))
        decided = decided_about(drawing, layer)
        if decided is not None and layer not in _NAMELESS:
            column.addWidget(self._remember(decided, shown))
        return holder

    def _depth(
        self, drawing: Drawing, layer: str, shown: str, depths: set[float | None]
    ) -> LengthField:
        depth = LengthField(
            tr("Depth of layer {layer}").format(layer=shown),
            self._context.unit,
            above_zero=True,
            empty=tr("right through"),
        )
        if len(depths) == 1:
            depth.set_value(depths.pop())
        else:
            depth.set_mixed()
        depth.committed.connect(
            lambda value: self._decide(
                drawing,
                LayerChoice(layer, depth_mm=value, through=value is None),
                tr("Set depth on layer {layer}").format(layer=layer),
            )
        )
        self._depths[drawing.id, layer.lower()] = depth
        return depth

    def _face(self, drawing: Drawing, layer: str, shown: str, faces: set[Face]) -> Choice:
        face = Choice(
            tr("Face of layer {layer}").format(layer=shown),
            ((Face.SHOW, tr("from the show face")), (Face.BACK, tr("from the back"))),
        )
        face.set_value(faces.pop() if len(faces) == 1 else None)
        face.chosen.connect(
            lambda value: self._decide(
                drawing,
                LayerChoice(layer, face=value),
                tr("Set face on layer {layer}").format(layer=layer),
            )
        )
        return face

    def _decide(self, drawing: Drawing, choice: LayerChoice, text: str) -> None:
        """Set depth or face of everything on a layer, here and in drawings to come."""
        remembered = choice.layer not in _NAMELESS

        def change(project: object) -> object:
            done = layer_values(project, drawing.id, choice)  # type: ignore[arg-type]
            return with_memory(done, [choice]) if remembered else done

        kinds = frozenset({PANELS, DRAWINGS, PROJECT})
        self._context.document.run(Edit(text, kinds, change))  # type: ignore[arg-type]
        self._keep_memory()

    # --- what is remembered -------------------------------------------------------------------
    def _remember(self, decided: LayerChoice, shown: str) -> QCheckBox:
        """A tick: the layer means the same in drawings to come."""
        layer = decided.layer.lower()
        memory = self._context.document.project.layer_memory
        box = QCheckBox(tr("The same in other drawings"))
        box.setAccessibleName(tr("Layer {layer} the same in other drawings").format(layer=shown))
        box.setToolTip(tr("Drawings read from now on take this layer as you decided here"))
        box.setChecked(any(choice.layer.lower() == layer for choice in memory))
        box.clicked.connect(lambda on: self._set_memory(decided, on))
        return box

    def _set_memory(self, choice: LayerChoice, on: bool) -> None:
        text = tr("Remember layer {layer}") if on else tr("Forget layer {layer}")
        edit = Edit(
            text.format(layer=choice.layer),
            frozenset({PROJECT}),
            lambda project: (
                with_memory(project, [choice]) if on else without_memory(project, choice.layer)
            ),
        )
        self._context.document.run(edit)
        self._keep_memory()

    def _keep_memory(self) -> None:
        """Let new projects begin with it."""
        self._context.preferences.set_layer_memory(self._context.document.project.layer_memory)

    def _memory_section(self) -> Section:
        """Every layer remembered, to be forgotten."""
        section = Section(tr("Remembered layers"), "layers", is_open=self._open.get("", False))
        section.head.toggled.connect(lambda on: self._open.__setitem__("", on))
        section.add(words(tr("Drawings read from now on take these layers like this.")))
        for choice in self._context.document.project.layer_memory:
            text = f"{choice.layer}: {choice_words(choice, self._context.unit)}"
            forget = tool(
                tr("Forget layer {layer}").format(layer=choice.layer),
                lambda _on=False, choice=choice: self._set_memory(choice, False),
                "close",
            )
            section.add(row_of(words(text, muted=False), forget, stretch=0))
        return section


def choice_words(choice: LayerChoice, unit: str) -> str:
    """What was decided about a layer in a few words."""
    parts = []
    if choice.role is not None:
        parts.append(role_words(choice.role))
    if choice.through:
        parts.append(tr("right through"))
    elif choice.depth_mm is not None:
        parts.append(tr("{depth} deep").format(depth=show_length(choice.depth_mm, unit)))
    if choice.face is not None:
        parts.append(tr("from the back") if choice.face is Face.BACK else tr("from the show face"))
    return ", ".join(parts) or tr("as its name says")


def _features_state(panels: tuple[Panel, ...]) -> tuple[object, ...]:
    return tuple((p.drawing, p.layer, p.features) for p in panels if p.drawing)
