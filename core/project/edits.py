"""Changes of the document that take more than a field: drawings in, drawings again."""

from __future__ import annotations

import hashlib
import os
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path

from core.errors import UnreadableDrawing
from core.findings import Finding
from core.outlines import read_outlines
from core.outlines.model import ImportResult, Outline, Role
from core.project.model import CutBy, Drawing, Grain, Panel, Project, StyleChoice
from core.project.rereading import keep_layouts, reread_panels, unit_scale, with_panels
from core.units import UNITS


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
    progress: Callable[[float], object] | None = None,
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
    """A drawing that was read before: decisions stay wherever they still make sense."""
    old = [p for p in project.panels if p.drawing == before.id]
    scale = unit_scale(before, drawing, dict(UNITS))
    reread = reread_panels(old, result.outlines, drawing.file_name, scale=scale)
    taken = [p.id for p in project.panels]
    added: list[Panel] = []
    for index in reread.fresh:
        panel = _panel(result.outlines[index], drawing, defaults, taken)
        added.append(panel)
        taken.append(panel.id)
    _, lost_places = keep_layouts(project.layouts, reread)
    project = with_panels(project, reread, added)
    drawings = tuple(drawing if d.id == before.id else d for d in project.drawings)
    return Edited(
        replace(project, drawings=drawings),
        (*result.findings, *reread.findings, *lost_places),
        tuple(panel.id for panel in added),
        reread.changed,
        reread.lost,
    )


def _free_id(prefix: str, taken: Iterable[str]) -> str:
    names = set(taken)
    number = 1
    while f"{prefix}{number}" in names:
        number += 1
    return f"{prefix}{number}"
