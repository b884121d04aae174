"""Panels without a drawing, listed in a CSV file: what `import` makes of one."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from core.errors import UnreadableDrawing
from core.findings import Finding, Severity
from core.outlines import TypedPanel, read_panel_file
from core.project.edits import Edited, PanelDefaults
from core.project.model import CutBy, Grain, Panel, Project


def is_table(name: str) -> bool:
    """True for the name of a file that holds a table of panels."""
    return Path(name).suffix.lower() in (".csv", ".tsv")


def add_table(project: Project, name: str, *, units: str | None, defaults: PanelDefaults) -> Edited:
    """The project with a table's panels: rows known by name are updated, others added.

    units: of bare numbers, the project's if None. Rows that cannot be read, or name a board the
    shop does not have, are left out and told by line. Raises UnreadableDrawing where no row is
    left.
    """
    table = read_panel_file(name, default_unit=units or project.units)
    file_name = Path(name).name
    findings = list(table.findings)
    boards = {board.name.lower(): board.name for board in project.shop.materials}
    panels = {panel.id: panel for panel in project.panels}
    typed = {panel.name: panel for panel in project.panels if not panel.drawing}
    added: list[str] = []
    changed: list[str] = []
    for row in table.panels:
        board = row.material.strip()
        if board and board.lower() not in boards:
            findings.append(_no_board(row, board, file_name))
            continue
        material = boards.get(board.lower(), "")
        known = typed.get(row.name)
        if known is not None and known.id not in (*added, *changed):
            panels[known.id] = _updated(known, row, material)
            changed.append(known.id)
            continue
        number = next(k for k in range(1, 10**6) if f"p{k}" not in panels)
        panel = Panel(
            id=f"p{number}",
            name=row.name,
            region=row.region,
            quantity=row.quantity,
            material=material or defaults.material,
            grain=defaults.grain if row.grain == "free" else Grain(row.grain),
            by=CutBy(row.by),
            style=defaults.style,
        )
        panels[panel.id] = panel
        added.append(panel.id)
    if not added and not changed:
        said = findings[0] if findings else None
        raise UnreadableDrawing(
            said.message if said else "The table has no row with a panel",
            name,
            said.remedy if said else "Write a row a panel: name, width, height, quantity.",
        )
    project = replace(project, panels=tuple(panels.values()))
    return Edited(project, tuple(findings), tuple(added), tuple(changed))


def _updated(panel: Panel, row: TypedPanel, material: str) -> Panel:
    """A panel typed before, as the table has it now; what was decided on it stays."""
    return replace(
        panel,
        region=row.region,
        quantity=row.quantity,
        material=material or panel.material,
        grain=panel.grain if row.grain == "free" else Grain(row.grain),
        by=CutBy(row.by),
    )


def _no_board(row: TypedPanel, board: str, source: str) -> Finding:
    return Finding(
        "row-unreadable",
        Severity.WARN,
        f"Line {row.line} was left out: no board in the shop is called “{board[:40]}”.",
        remedy="Add the board, or correct the row and read the table again.",
        source=source,
    )
