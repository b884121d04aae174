"""Other ways to buy the same pieces: one size of sheet alone, without the rack, another board.

Each alternative is the project with a shop that has less, or with panels of another material;
whoever wants figures lays it out and compares the plans.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace

from core.project.model import Project
from core.reports.words import words_of
from core.shop import Shop, Stock
from core.tolerances import SAME_BOARD_MM

MOST = 8


@dataclass(frozen=True)
class Alternative:
    """One way to buy. material: (from, to) where panels change their board, else None."""

    name: str
    project: Project
    material: tuple[str, str] | None = None


def alternatives(project: Project, *, most: int = MOST) -> tuple[Alternative, ...]:
    """All ways worth comparing, the shop as it is first, at most so many.

    One size alone: for every board used that can be bought in several sizes. Without the rack:
    if the rack holds a board that is used. Another board: of about the same thickness
    (SAME_BOARD_MM), if there is stock of it.
    """
    words = words_of(project)
    shop = project.shop
    used = list(dict.fromkeys(panel.material for panel in project.panels if panel.material))
    found = [Alternative("All stock of the shop", project)]
    for material in used:
        sizes = [s for s in shop.stock if s.material == material and not s.in_rack]
        if len(sizes) < 2:
            continue
        for only in sizes:
            rest = [s for s in shop.stock if s not in sizes or s is only]
            size = words.size(only.width_mm, only.height_mm)
            name = f"{material}: only {size}"
            found.append(Alternative(name, _with_stock(project, rest)))
    if any(s.in_rack and s.material in used for s in shop.stock):
        rest = [s for s in shop.stock if not s.in_rack]
        if any(s.material in used for s in rest):
            found.append(Alternative("Without the rack", _with_stock(project, rest)))
    for material in used:
        for other in _boards_like(shop, material):
            panels = tuple(
                replace(p, material=other) if p.material == material else p for p in project.panels
            )
            name = f"{other} for {material}"
            changed = replace(project, panels=panels)
            found.append(Alternative(name, changed, (material, other)))
    unique = {item.name: item for item in reversed(found)}
    return tuple(item for item in found if unique[item.name] is item)[:most]


def _with_stock(project: Project, stock: Iterable[Stock]) -> Project:
    return replace(project, shop=replace(project.shop, stock=tuple(stock)))


def _boards_like(shop: Shop, name: str) -> list[str]:
    """Other boards of about the same thickness that there is stock of."""
    mine = shop.material(name)
    if mine is None:
        return []
    return [
        board.name
        for board in shop.materials
        if board.name != name
        and abs(board.nominal_mm - mine.nominal_mm) <= SAME_BOARD_MM
        and any(stock.material == board.name for stock in shop.stock)
    ]
