"""Changes of the document that take more than a field: drawings in, drawings again."""

from __future__ import annotations

import hashlib
import os
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path

from core.errors import UnreadableDrawing
from core.findings import Finding, Severity
from core.outlines import read_outlines
from core.outlines.model import ImportResult, Outline, Role
from core.project.model import CutBy, Drawing, Grain, Panel, Project, StyleChoice


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
    """A new project, what was noticed on the way, and the ids of panels added or changed."""

    project: Project
    findings: tuple[Finding, ...] = ()
    added: tuple[str, ...] = ()
    changed: tuple[str, ...] = ()
    lost: tuple[str, ...] = ()


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
    defaults: PanelDefaults | None = None,
    project_dir: Path | str | None = None,
    progress: Callable[[float, str], None] | None = None,
    stop: Callable[[], bool] | None = None,
) -> Edited:
    """Read a DXF or SVG file into the project.

    A file of that name read before is read again: its panels keep their decisions, outlines
    that are new become panels, panels whose outline is gone are named as lost and kept out.
    units: takes the numbers in this unit whatever the header says. roles: layer → role, added
    to what was remembered for the drawing. Raises UnreadableDrawing.
    """
    source = Path(path)
    before = find_drawing(project, source, project_dir)
    known: dict[str, Role] = dict(before.roles) if before is not None else {}
    known.update(roles or {})
    if units is None and before is not None and not before.units_guessed:
        units = before.units
    result = read_outlines(source, units, roles=known or None, progress=progress, stop=stop)
    drawing = Drawing(
        id=before.id if before is not None else _free_id("d", (d.id for d in project.drawings)),
        file_name=source.name,
        path=relative_path(source, project_dir),
        sha256=file_hash(source),
        units=result.units,
        units_guessed=result.units_guessed,
        origin_mm=result.origin_mm,
        outlines=result.outlines,
        roles=tuple(sorted(known.items())),
    )
    if before is None:
        return _added(project, drawing, result, defaults or PanelDefaults())
    return _again(project, before, drawing, result, defaults or PanelDefaults())


def find_drawing(
    project: Project, path: Path | str, project_dir: Path | str | None = None
) -> Drawing | None:
    """The drawing that was read from this path, else one of the same file name, else None."""
    source = Path(path)
    wanted = relative_path(source, project_dir)
    for drawing in project.drawings:
        if drawing.path == wanted:
            return drawing
    return next((d for d in project.drawings if d.file_name == source.name), None)


def relative_path(path: Path, project_dir: Path | str | None) -> str:
    """The path as kept in the project: relative to its folder where that is possible."""
    absolute = path.expanduser().resolve()
    if project_dir is None:
        return absolute.as_posix()
    try:
        return Path(os.path.relpath(absolute, Path(project_dir).resolve())).as_posix()
    except ValueError:  # another drive
        return absolute.as_posix()


def _added(
    project: Project, drawing: Drawing, result: ImportResult, defaults: PanelDefaults
) -> Edited:
    panels, findings = list(project.panels), list(result.findings)
    added = []
    for outline in result.outlines:
        panel = _panel(outline, drawing, defaults, [p.id for p in panels])
        panels.append(panel)
        added.append(panel.id)
    project = replace(project, drawings=(*project.drawings, drawing), panels=tuple(panels))
    return Edited(project, tuple(findings), tuple(added))


def _panel(outline: Outline, drawing: Drawing, defaults: PanelDefaults, taken: list[str]) -> Panel:
    return Panel(
        id=_free_id("p", taken),
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
) -> Edited:
    old = [p for p in project.panels if p.drawing == before.id]
    pairs = match_panels(old, result.outlines)
    findings = list(result.findings)
    replaced: dict[str, Panel] = {}
    changed = []
    for panel in old:
        outline = pairs.get(panel.id)
        if outline is None:
            findings.append(
                Finding(
                    "panel-lost",
                    Severity.WARN,
                    f"{panel.name} is no longer in {drawing.file_name}",
                    panel.id,
                    remedy="It was taken out of the project; undo brings it back.",
                    source=drawing.file_name,
                )
            )
            continue
        if outline.region != panel.region or outline.features != panel.features:
            changed.append(panel.id)
        replaced[panel.id] = replace(
            panel, region=outline.region, features=outline.features, layer=outline.layer
        )
    lost = tuple(p.id for p in old if p.id not in replaced)
    panels = [replaced.get(p.id, p) for p in project.panels if p.id not in lost]
    matched = {id(outline) for outline in pairs.values()}
    added = []
    for outline in result.outlines:
        if id(outline) not in matched:
            panel = _panel(
                outline, drawing, defaults, [p.id for p in project.panels + tuple(panels)]
            )
            panels.append(panel)
            added.append(panel.id)
    drawings = tuple(drawing if d.id == before.id else d for d in project.drawings)
    project = replace(project, drawings=drawings, panels=tuple(panels))
    return Edited(project, tuple(findings), tuple(added), tuple(changed), lost)


def match_panels(panels: list[Panel], outlines: tuple[Outline, ...]) -> dict[str, Outline]:
    """Which outline each panel has become: panel id → outline.

    The pairs that share most of their area where they lie are taken first (at least a quarter
    of the two together); then those left with the same name.
    """
    scored = []
    for i, panel in enumerate(panels):
        shape = panel.region.polygon
        for k, outline in enumerate(outlines):
            other = outline.polygon
            if not shape.envelope.intersects(other.envelope):
                continue
            both = shape.intersection(other).area
            share = both / (shape.area + other.area - both)
            if share >= 0.25:
                same = outline.name == panel.name
                scored.append((-share - (0.5 if same else 0.0), i, k))
    pairs: dict[str, Outline] = {}
    used: set[int] = set()
    for _, i, k in sorted(scored):
        if panels[i].id not in pairs and k not in used:
            pairs[panels[i].id] = outlines[k]
            used.add(k)
    for panel in panels:
        if panel.id in pairs:
            continue
        for k, outline in enumerate(outlines):
            if k not in used and outline.name == panel.name:
                pairs[panel.id] = outline
                used.add(k)
                break
    return pairs


def _free_id(prefix: str, taken: Iterable[str]) -> str:
    names = set(taken)
    number = 1
    while f"{prefix}{number}" in names:
        number += 1
    return f"{prefix}{number}"
