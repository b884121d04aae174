"""Changes of the document that take more than a field: drawings in, drawings again."""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path

from shapely import Polygon

from core.errors import UnreadableDrawing
from core.findings import Finding, Severity, sort_findings
from core.outlines import OutlineChange, read_outlines
from core.outlines.model import Face, ImportResult, Outline, Role
from core.outlines.roles import LayerChoice, merged
from core.outlines.together import joined_layer
from core.project.copies import left_out_before
from core.project.ids import free_ids
from core.project.model import (
    Answer,
    CutBy,
    Drawing,
    Grain,
    JoinedFile,
    Panel,
    Project,
    StyleChoice,
)
from core.project.places import absolute_path, find_drawing, place, relative_path
from core.project.rereading import keep_layouts, reread_panels, unit_scale, with_panels
from core.project.spread import alike_findings, is_answered, located, spread_findings
from core.tolerances import GAP_ASK_MM
from core.units import UNITS, format_length


@dataclass(frozen=True, slots=True)
class PanelDefaults:
    """What a panel gets when its drawing does not say."""

    material: str = ""
    grain: Grain = Grain.FREE
    quantity: int = 1
    by: CutBy = CutBy.ROUTER
    style: StyleChoice = field(default_factory=StyleChoice)


@dataclass(frozen=True)
class Edited:
    """A new project, what was noticed on the way, and the ids of panels added or changed.

    findings: everything noticed; changes_told: what of it says how a drawing read again differs
    from before (the rest is kept with the drawing). changes: what became of each panel that was
    there, by id.
    """

    project: Project
    findings: tuple[Finding, ...] = ()
    added: tuple[str, ...] = ()
    changed: tuple[str, ...] = ()
    lost: tuple[str, ...] = ()
    changes_told: tuple[Finding, ...] = ()
    changes: tuple[tuple[str, OutlineChange], ...] = ()


def file_hash(path: Path | str) -> str:
    """SHA-256 of a file's bytes as hex. Raises UnreadableDrawing if it cannot be read."""
    try:
        return hashlib.sha256(Path(path).read_bytes()).hexdigest()
    except OSError as problem:
        raise UnreadableDrawing(
            f"The file cannot be read ({problem.strerror})",
            Path(path).name,
            "Check the name, the folder and its permissions.",
        ) from problem


def add_drawing(
    project: Project,
    path: Path | str,
    *,
    units: str | None = None,
    roles: Mapping[str, Role] | None = None,
    choices: Iterable[LayerChoice] = (),
    forget: Iterable[str] = (),
    gap_mm: float | None = None,
    join: Iterable[Path | str] = (),
    part: Iterable[str] = (),
    answers: Iterable[Answer] = (),
    bring_back: bool = False,
    defaults: PanelDefaults | None = None,
    project_dir: Path | str | None = None,
    progress: Callable[[float], object] | None = None,
    stop: Callable[[], bool] | None = None,
) -> Edited:
    """Read a DXF or SVG file into the project.

    A file read before is read again: its panels keep their decisions, outlines that are new
    become panels, panels whose outline is gone are named as lost and kept out; outlines whose
    panel the maker removed stay out unless bring_back is set.

    units: takes the numbers in this unit whatever the header says. roles: layer → role, and
    choices: more about layers, both added to what was remembered; forget: layers that mean
    again what their name says. gap_mm: widest gap closed from now on. join: files to be read
    together with it from now on (a drawing of the project among them is taken in, with its
    decisions about layers); part: names of joined files that go their own way again. answers:
    questions settled. Raises UnreadableDrawing.
    """
    source = Path(path)
    before = find_drawing(project, source, project_dir)
    if before is not None and place(source, None) in {
        place(file.path, project_dir) for file in before.joined
    }:
        source = absolute_path(before.path, project_dir)
    plan = _plan(project, source, before, join, part, project_dir)
    known = merged(
        _remembered(project, before),
        [] if before is None else _choices(before),
        *(_qualified(other) for other in plan.taken_in),
        [LayerChoice(layer, role) for layer, role in (roles or {}).items()],
        choices,
    )
    dropped = {layer.lower() for layer in forget}
    known = tuple(choice for choice in known if choice.layer.lower() not in dropped)
    if gap_mm is None:
        gap_mm = before.gap_mm if before is not None else None
    settled = tuple(dict.fromkeys((*(before.answers if before is not None else ()), *answers)))
    chosen = units is not None or (before is not None and before.unit_chosen)
    if units is None and before is not None and before.unit_chosen:
        units = before.units

    def read(unit: str | None) -> ImportResult:
        return read_outlines(
            source,
            unit,
            also=plan.files,
            roles={choice.layer: choice for choice in known} or None,
            gap_tol_mm=GAP_ASK_MM if gap_mm is None else gap_mm,
            sheets_at=[answer.at for answer in settled if answer.code == "may-be-sheet"],
            progress=progress,
            stop=stop,
        )

    result = read(units)
    guessed = result.units_guessed
    if before is not None and guessed and result.units != before.units and units is None:
        # What was taken once, by whatever evidence, is not guessed anew when a part changes.
        result = read(before.units)
        guessed = before.units_guessed
    present = {row.layer.lower() for row in result.layers_read}
    own = {choice.layer.lower() for choice in choices} | {layer.lower() for layer in roles or {}}
    known = tuple(
        choice
        for choice in known
        if choice.layer.lower() in present
        or choice.layer.lower() in own
        or (before is not None and choice in before.choices)
    )
    drawing = Drawing(
        id=before.id
        if before is not None
        else next(free_ids("d", (d.id for d in project.drawings))),
        file_name=source.name,
        path=relative_path(source, project_dir),
        sha256=file_hash(source),
        units=result.units,
        units_guessed=guessed,
        origin_mm=result.origin_mm,
        outlines=result.outlines,
        roles=tuple((choice.layer, choice.role) for choice in known if choice.role is not None),
        layers=result.layers_read,
        choices=known,
        gap_mm=gap_mm,
        open_lines=result.open_lines,
        strays=result.strays,
        answers=settled,
        joined=tuple(
            JoinedFile(file.name, relative_path(file, project_dir), file_hash(file))
            for file in plan.files
        ),
        unit_chosen=chosen,
    )
    if before is None:
        edited = _added(project, drawing, result, defaults or PanelDefaults())
    else:
        edited = _again(
            project,
            before,
            drawing,
            result,
            defaults or PanelDefaults(),
            taken_in=plan.taken_in,
            bring_back=bring_back,
        )
    return _told(edited, drawing.id, result, _from_memory(project, before, drawing))


@dataclass(frozen=True)
class _Plan:
    """Files to read on top of the first, and drawings of the project that are taken in."""

    files: tuple[Path, ...]
    taken_in: tuple[Drawing, ...]


def _plan(
    project: Project,
    source: Path,
    before: Drawing | None,
    join: Iterable[Path | str],
    part: Iterable[str],
    project_dir: Path | str | None,
) -> _Plan:
    gone = set(part)
    files = [
        absolute_path(file.path, project_dir)
        for file in (before.joined if before is not None else ())
        if file.file_name not in gone
    ]
    taken_in: list[Drawing] = []
    own = place(source, None)
    for path in join:
        extra = [Path(path)]
        other = find_drawing(project, extra[0], project_dir)
        if other is not None and (before is None or other.id != before.id):
            taken_in.append(other)
            extra += [absolute_path(file.path, project_dir) for file in other.joined]
        known = {own, *(place(file, None) for file in files)}
        files += [file for file in extra if place(file, None) not in known]
    return _Plan(tuple(files), tuple(taken_in))


def _choices(drawing: Drawing) -> tuple[LayerChoice, ...]:
    """What was decided about a drawing's layers; older projects kept roles alone."""
    return merged([LayerChoice(layer, role) for layer, role in drawing.roles], drawing.choices)


def _qualified(drawing: Drawing) -> tuple[LayerChoice, ...]:
    """A drawing's choices for its layers as they are called once it is joined to another."""
    return tuple(
        replace(choice, layer=joined_layer(choice.layer, drawing.file_name))
        for choice in _choices(drawing)
    )


def _remembered(project: Project, before: Drawing | None) -> tuple[LayerChoice, ...]:
    """What the maker decided for drawings to come; one that was read already keeps its own."""
    return project.layer_memory if before is None else ()


def _from_memory(project: Project, before: Drawing | None, drawing: Drawing) -> tuple[Finding, ...]:
    """A note for every layer that was read as decided in another drawing."""
    out = []
    read = {row.layer.lower(): row for row in drawing.layers}
    for choice in _remembered(project, before):
        row = read.get(choice.layer.lower())
        if row is None:
            continue
        deep = f", {format_length(row.depth_mm)} deep" if row.depth_mm is not None else ""
        back = " from the back" if row.face is Face.BACK else ""
        out.append(
            Finding(
                "layer-remembered",
                Severity.NOTE,
                f"Layer “{row.layer}” was read as {row.role.value}{deep}{back}, as you decided "
                "before.",
                remedy="If this drawing means it differently, read the layer by its name.",
                source=drawing.file_name,
                fix=f"forget-layer:{row.layer}",
            )
        )
    return tuple(out)


def _told(
    edited: Edited, drawing_id: str, result: ImportResult, more: tuple[Finding, ...]
) -> Edited:
    """The drawing with what was noticed on reading it, each with the panel it lies on."""
    project = edited.project
    drawing = next(d for d in project.drawings if d.id == drawing_id)
    own = [p for p in project.panels if p.drawing == drawing_id]
    noticed = (
        *located(result.findings, own),
        *more,
        *spread_findings(project, drawing),
        *alike_findings(project, drawing),
    )
    # What ties two drawings together is asked once, not with each of them.
    asked = {f.fix for d in project.drawings if d.id != drawing_id for f in d.findings if f.fix}
    kept = tuple(
        f
        for f in sort_findings(noticed)
        if not is_answered(drawing, f)
        and not (f.code in ("spread-over-files", "panels-alike") and f.fix in asked)
    )
    drawings = tuple(
        replace(d, findings=kept) if d.id == drawing_id else d for d in project.drawings
    )
    changes = tuple(replace(f, drawing=drawing_id) for f in edited.changes_told)
    return replace(
        edited,
        project=replace(project, drawings=drawings),
        findings=(*kept, *changes),
        changes_told=changes,
    )


def _added(
    project: Project, drawing: Drawing, result: ImportResult, defaults: PanelDefaults
) -> Edited:
    panels = list(project.panels)
    added = []
    ids = free_ids("p", (p.id for p in panels))
    for outline in result.outlines:
        panel = _panel(outline, drawing, defaults, next(ids))
        panels.append(panel)
        added.append(panel.id)
    project = replace(project, drawings=(*project.drawings, drawing), panels=tuple(panels))
    return Edited(project, (), tuple(added))


def _panel(outline: Outline, drawing: Drawing, defaults: PanelDefaults, panel_id: str) -> Panel:
    return Panel(
        id=panel_id,
        name=outline.name or Path(drawing.file_name).stem,
        region=outline.region,
        features=outline.features,
        quantity=defaults.quantity,
        material=defaults.material,
        grain=defaults.grain,
        by=defaults.by,
        style=defaults.style,
        drawing=drawing.id,
        layer=outline.layer,
    )


def _again(
    project: Project,
    before: Drawing,
    drawing: Drawing,
    result: ImportResult,
    defaults: PanelDefaults,
    *,
    taken_in: Sequence[Drawing],
    bring_back: bool,
) -> Edited:
    """A drawing that was read before: decisions stay wherever they still make sense."""
    joined_ids = {other.id for other in taken_in}
    old = [p for p in project.panels if p.drawing == before.id or p.drawing in joined_ids]
    scale = unit_scale(before, drawing, dict(UNITS))
    reread = reread_panels(old, result.outlines, drawing.file_name, scale=scale)
    left_out: list[int] = []
    told: list[Finding] = []
    if not bring_back:
        left_out, told = left_out_before(before, old, result.outlines, reread, scale=scale)
    ids = free_ids("p", (p.id for p in project.panels))
    added: list[Panel] = []
    for index in reread.fresh:
        if index in left_out:
            continue
        added.append(_panel(result.outlines[index], drawing, defaults, next(ids)))
    _, lost_places = keep_layouts(project.layouts, reread)
    project = with_panels(project, reread, added)
    panels = tuple(
        replace(p, drawing=drawing.id) if p.drawing in joined_ids else p for p in project.panels
    )
    drawings = tuple(
        drawing if d.id == before.id else d for d in project.drawings if d.id not in joined_ids
    )
    own = {
        p.id
        for p in old
        if p.drawing in joined_ids or (p.id in reread.lost and _is_hole(p, result.outlines))
    }
    told += [
        _taken_in(finding, own) if finding.code == "panel-lost" else finding
        for finding in reread.findings
    ]
    if left_out:
        n = len(left_out)
        told.append(
            Finding(
                "panel-left-out",
                Severity.NOTE,
                f"{n} outline{'' if n == 1 else 's'} in {drawing.file_name} stayed out, as you "
                "removed or counted them before.",
                remedy="Bring them back if they are to be panels after all.",
                source=drawing.file_name,
                fix="bring-back",
            )
        )
    return Edited(
        replace(project, panels=panels, drawings=drawings),
        (),
        tuple(panel.id for panel in added),
        reread.changed,
        reread.lost,
        (*told, *lost_places),
        tuple(reread.changes.items()),
    )


def _is_hole(panel: Panel, outlines: Iterable[Outline]) -> bool:
    """True if a panel's outline is now an opening of another, whose own has been closed."""
    area, place = panel.region.polygon.area, panel.region.polygon.representative_point()
    for outline in outlines:
        for hole in outline.region.polygon.interiors:
            inside = Polygon(hole)
            if abs(inside.area - area) <= 1e-3 * area and inside.contains(place):
                return True
    return False


def _taken_in(finding: Finding, holes: set[str]) -> Finding:
    """A lost panel's finding, in other words where its outline is now cut into another panel."""
    if finding.panel not in holes:
        return finding
    return replace(
        finding,
        code="panel-taken-in",
        severity=Severity.NOTE,
        message=f"{finding.message.split(' is no longer')[0]} is now cut into the panel it lies on",
        remedy="Give its layer another role if it does not go right through.",
    )
