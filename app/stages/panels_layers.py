"""What the layers of a drawing mean: their role, depth and face."""

from __future__ import annotations

from dataclasses import replace

from PySide6.QtCore import Signal
from PySide6.QtGui import QShowEvent
from PySide6.QtWidgets import QVBoxLayout, QWidget

from app import theme
from app.commands import ReplacePanels
from app.context import Context
from app.i18n import tr
from app.widgets.fields import LengthField
from app.widgets.forms import Choice, Section, button, empty_layout, words
from core.outlines.model import Face, Role
from core.project.model import Drawing, Panel


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
    """One section per drawing: layers with role, and depth and face where they are features.

    wants_role(drawing id, layer, role): reading the file again is needed for it.
    wants_again(drawing id): read it again as it is.
    """

    wants_role = Signal(str, str, object)
    wants_again = Signal(str)

    def __init__(self, context: Context) -> None:
        super().__init__()
        self._context = context
        self._column = QVBoxLayout(self)
        self._column.setContentsMargins(0, 0, 0, 0)
        self._column.setSpacing(theme.NORMAL)
        self._shown: object = None
        self._open: dict[str, bool] = {}

    def fill(self) -> None:
        """Show the drawings of the project, if something about them changed.

        While nobody looks, nothing is built; it is made up for when the column is shown.
        """
        if not self.isVisible():
            return
        project = self._context.document.project
        state = (project.drawings, project.units, _features_state(project.panels))
        if state == self._shown:
            return
        self._shown = state
        empty_layout(self._column)
        for drawing in project.drawings:
            self._column.addWidget(self._section(drawing))

    def showEvent(self, event: QShowEvent) -> None:
        """Catch up with the project."""
        super().showEvent(event)
        self.fill()

    def _section(self, drawing: Drawing) -> Section:
        few = len(self._context.document.project.drawings) <= 2
        is_open = self._open.get(drawing.id, few)
        section = Section(drawing.file_name, "page", is_open=is_open)
        section.head.toggled.connect(lambda on: self._open.__setitem__(drawing.id, on))
        unit = tr("read in {unit}").format(unit=drawing.units)
        if drawing.units_guessed:
            unit += tr(", which is a guess")
        section.add(words(unit))
        for layer in self._layers(drawing):
            section.add(self._layer(drawing, layer))
        again = button(
            tr("Read it again"),
            lambda: self.wants_again.emit(drawing.id),
            "refresh",
            tr("Take the file as it is now; what you decided about its panels stays"),
        )
        section.add(again)
        return section

    def _panels(self, drawing: Drawing) -> list[Panel]:
        return [p for p in self._context.document.project.panels if p.drawing == drawing.id]

    def _layers(self, drawing: Drawing) -> list[str]:
        names: dict[str, None] = {}
        for panel in self._panels(drawing):
            names.setdefault(panel.layer)
            for feature in panel.features:
                names.setdefault(feature.layer)
        for layer, _ in drawing.roles:
            names.setdefault(layer)
        return list(names)

    def _layer(self, drawing: Drawing, layer: str) -> QWidget:
        unit = self._context.unit
        holder = QWidget()
        column = QVBoxLayout(holder)
        column.setContentsMargins(0, 0, 0, theme.TIGHT)
        column.setSpacing(theme.TIGHT)
        shown = layer or tr("(no layer)")
        column.addWidget(words(shown, muted=False))
        panels = self._panels(drawing)
        features = [f for p in panels for f in p.features if f.layer == layer]
        given = dict(drawing.roles).get(layer)
        role = given or (features[0].kind if features else Role.CUT)
        choice = Choice(
            tr("Role of layer {layer}").format(layer=shown), [(r, role_words(r)) for r in Role]
        )
        choice.set_value(role)
        choice.chosen.connect(lambda value: self.wants_role.emit(drawing.id, layer, value))
        column.addWidget(choice)
        if features:
            depths = {f.depth_mm for f in features}
            depth = LengthField(
                tr("Depth of layer {layer}").format(layer=shown),
                unit,
                above_zero=True,
                empty=tr("right through"),
            )
            if len(depths) == 1:
                depth.set_value(depths.pop())
            else:
                depth.set_mixed()
            depth.committed.connect(
                lambda value: self._set_features(drawing, layer, {"depth_mm": value})
            )
            column.addWidget(depth)
            faces = {f.face for f in features}
            face = Choice(
                tr("Face of layer {layer}").format(layer=shown),
                ((Face.SHOW, tr("from the show face")), (Face.BACK, tr("from the back"))),
            )
            face.set_value(faces.pop() if len(faces) == 1 else None)
            face.chosen.connect(lambda value: self._set_features(drawing, layer, {"face": value}))
            column.addWidget(face)
        return holder

    def _set_features(self, drawing: Drawing, layer: str, values: dict[str, object]) -> None:
        """Set depth or face of everything on a layer."""
        changed = tuple(
            replace(
                panel,
                features=tuple(
                    replace(f, **values) if f.layer == layer else f  # type: ignore[arg-type]
                    for f in panel.features
                ),
            )
            for panel in self._panels(drawing)
            if any(f.layer == layer for f in panel.features)
        )
        text = (
            tr("Set depth on layer {layer}")
            if "depth_mm" in values
            else tr("Set face on layer {layer}")
        )
        self._context.document.run(ReplacePanels(text.format(layer=layer), changed))


def _features_state(panels: tuple[Panel, ...]) -> tuple[object, ...]:
    return tuple((p.drawing, p.layer, p.features) for p in panels if p.drawing)
