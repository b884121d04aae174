"""Panels typed or pasted as a table, with the boards of the shop looked up.

The core reads the rows; here a row's board is matched with the shop's and becomes a panel.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

from app.i18n import tr
from app.wording import in_words
from core.geometry import Region, Ring
from core.outlines import TypedPanel, read_panel_table
from core.project.model import CutBy, Grain, Panel


@dataclass(frozen=True)
class Table:
    """Panels read, and what could not be: (line, sentence) rows."""

    panels: tuple[Panel, ...]
    problems: tuple[tuple[int, str], ...]
    lines: tuple[int, ...] = ()  # those that became panels


def rectangle_panel(
    name: str, width_mm: float, height_mm: float, quantity: int = 1, material: str = ""
) -> Panel:
    """A rectangular panel with its lower left corner at 0, 0. Ids are given on adding."""
    region = Region.of(Ring.rectangle(0.0, 0.0, width_mm, height_mm))
    return shaped_panel(name, region, quantity, material)


def shaped_panel(name: str, region: Region, quantity: int = 1, material: str = "") -> Panel:
    """A panel of any typed shape. Ids are given on adding."""
    return Panel(id=_id_of(name), name=name, region=region, quantity=quantity, material=material)


def read_table(text: str, unit: str, materials: Sequence[str] = (), material: str = "") -> Table:
    """The panels a text holds. unit: of bare numbers. material: where a line names none.

    A line that cannot be read becomes a problem; the others count.
    """
    table = read_panel_table(text, default_unit=unit)
    problems: list[tuple[int, str]] = []
    for finding in table.findings:
        number = re.search(r"\d+", finding.message)
        line = int(number.group()) if number and finding.code == "row-unreadable" else 0
        problems.append((line, f"{in_words(finding.message)} {in_words(finding.remedy)}".strip()))
    known = {name.lower(): name for name in materials}
    panels: list[Panel] = []
    lines: list[int] = []
    for row in table.panels:
        board = row.material.strip()
        if board and board.lower() not in known:
            problems.append(
                (
                    row.line,
                    tr("Line {n}: no board in the shop is called “{name}”. Add it there.").format(
                        n=row.line, name=board[:40]
                    ),
                )
            )
            continue
        panels.append(_panel(row, known.get(board.lower(), material)))
        lines.append(row.line)
    return Table(tuple(panels), tuple(sorted(problems)), tuple(lines))


def _panel(row: TypedPanel, material: str) -> Panel:
    return Panel(
        id=_id_of(row.name),
        name=row.name,
        region=row.region,
        quantity=row.quantity,
        material=material,
        grain=Grain(row.grain),
        by=CutBy(row.by),
    )


def _id_of(name: str) -> str:
    word = re.sub(r"[^a-z0-9]+", "-", name.lower()).strip("-")
    return word or "panel"
