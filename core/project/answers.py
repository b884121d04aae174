"""Answers to what reading a drawing asked, and decisions about its layers.

Each is a step from one project to the next that needs no file; what needs the file again goes
through :func:`core.project.edits.add_drawing`.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace

from core.findings import Finding
from core.outlines.model import Feature, LayerRead
from core.outlines.recognise import FeatureRef
from core.outlines.rereading import match_refs
from core.outlines.roles import LayerChoice, merged
from core.project.model import Answer, Drawing, Panel, Project


def settled(project: Project, finding: Finding) -> Project:
    """The project with a finding of a drawing answered: it is not asked again.

    Without a place it is only taken off the list until the drawing is read again. What is told
    may be the finding in other words or another unit: it is known by all but those.
    """
    about = drawing_of(project, finding)
    if about is None:
        return project

    def change(drawing: Drawing) -> Drawing:
        answers = drawing.answers
        if finding.at is not None:
            answers = tuple(dict.fromkeys((*answers, Answer(finding.code, finding.at))))
        kept = tuple(f for f in drawing.findings if not _is_same(f, finding))
        return replace(drawing, answers=answers, findings=kept)

    drawings = tuple(change(d) if d is about else d for d in project.drawings)
    return replace(project, drawings=drawings)


def drawing_of(project: Project, finding: Finding) -> Drawing | None:
    """The drawing a finding is about; None if there is none.

    Where the finding does not name it, the one of its file name that holds it, or the first.
    """
    if finding.drawing:
        return next((d for d in project.drawings if d.id == finding.drawing), None)
    named = [d for d in project.drawings if finding.source and d.file_name == finding.source]
    holds = (d for d in named if any(_is_same(f, finding) for f in d.findings))
    return next(holds, named[0] if named else None)


def _is_same(one: Finding, two: Finding) -> bool:
    """True if two findings of a drawing are one, told in whatever words."""
    if one.at is None and one.message != two.message:
        return False
    return (one.code, one.panel, one.at, one.fix) == (two.code, two.panel, two.at, two.fix)


def counted_twice(project: Project, finding: Finding) -> Project:
    """An outline that was drawn twice counts as one panel more; the question is settled."""
    panels = tuple(
        replace(p, quantity=p.quantity + 1) if p.id == finding.panel else p for p in project.panels
    )
    return settled(replace(project, panels=panels), finding)


def counted_as_one(project: Project, panel_ids: Sequence[str]) -> Project:
    """Panels of one outline as one panel with the sum of their quantities; the first stays.

    The others are removed and stay out when their drawing is read again.
    """
    wanted = set(panel_ids)
    members = [p for p in project.panels if p.id in wanted]
    if len(members) < 2:
        return project
    first = next(p for p in members if p.id == panel_ids[0]) if panel_ids else members[0]
    total = sum(p.quantity for p in members)
    gone = {p.id for p in members} - {first.id}
    panels = tuple(
        replace(p, quantity=total) if p.id == first.id else p
        for p in project.panels
        if p.id not in gone
    )
    drawings = tuple(
        replace(
            d,
            findings=tuple(f for f in d.findings if f.panel not in gone and not _names(f, gone)),
        )
        for d in project.drawings
    )
    layouts = tuple(
        replace(
            layout,
            placed=tuple(one for one in layout.placed if one.piece.split(".")[0] not in gone),
        )
        for layout in project.layouts
    )
    return replace(project, panels=panels, drawings=drawings, layouts=layouts)


def _names(finding: Finding, panel_ids: set[str]) -> bool:
    """True if a finding's fix concerns one of the panels."""
    return bool(panel_ids & set(finding.fix.partition(":")[2].split("+")))


# --- layers ---------------------------------------------------------------------------------


def layer_values(project: Project, drawing_id: str, choice: LayerChoice) -> Project:
    """Depth, face and diameter of everything on a layer, kept for when the file is read again.

    A role is left to reading the file, since it takes other shapes from it.
    """
    values: dict[str, object] = {}
    if choice.through or choice.depth_mm is not None:
        values["depth_mm"] = None if choice.through else choice.depth_mm
    if choice.face is not None:
        values["face"] = choice.face
    layer = choice.layer.lower()

    def on_layer(feature: Feature) -> Feature:
        if feature.layer.lower() != layer:
            return feature
        return replace(feature, **values)  # type: ignore[arg-type]

    def on_panel(panel: Panel) -> Panel:
        if panel.drawing != drawing_id:
            return panel
        features = tuple(on_layer(f) for f in panel.features)
        return panel if features == panel.features else replace(panel, features=features)

    def on_row(row: LayerRead) -> LayerRead:
        return replace(row, **values) if row.layer.lower() == layer else row  # type: ignore[arg-type]

    def on_drawing(drawing: Drawing) -> Drawing:
        told = drawing.findings
        if "depth_mm" in values:
            told = tuple(f for f in told if f.fix.lower() != f"set-depth:{layer}")
        return replace(
            drawing,
            choices=merged(drawing.choices, [choice]),
            layers=tuple(on_row(row) for row in drawing.layers),
            outlines=tuple(
                replace(o, features=tuple(on_layer(f) for f in o.features))
                for o in drawing.outlines
            ),
            findings=told,
        )

    return replace(
        project,
        panels=tuple(on_panel(p) for p in project.panels),
        drawings=tuple(on_drawing(d) if d.id == drawing_id else d for d in project.drawings),
    )


def with_memory(project: Project, choices: Iterable[LayerChoice]) -> Project:
    """The project remembering what layers mean in drawings read from now on."""
    return replace(project, layer_memory=merged(project.layer_memory, choices))


def without_memory(project: Project, layer: str) -> Project:
    """The project with one remembered layer forgotten; drawings read already stay as they are."""
    kept = tuple(c for c in project.layer_memory if c.layer.lower() != layer.lower())
    return replace(project, layer_memory=kept)


def decided_about(drawing: Drawing, layer: str) -> LayerChoice | None:
    """What the maker decided about a layer of a drawing, None if nothing."""
    return next((c for c in drawing.choices if c.layer.lower() == layer.lower()), None)


# --- recognised features ----------------------------------------------------------------------


def switched(panel: Panel, ref: FeatureRef, *, on: bool) -> Panel:
    """The panel with something recognised on it switched on or off."""
    same = {old for old, _ in match_refs(panel.switched_off, [ref]).pairs}
    kept = tuple(known for known in panel.switched_off if known not in same)
    return replace(panel, switched_off=kept if on else (*kept, ref))


def is_off(panel: Panel, ref: FeatureRef) -> bool:
    """True if the maker switched this feature off."""
    return bool(match_refs(panel.switched_off, [ref]).pairs)
