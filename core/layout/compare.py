"""The ways onto the machine side by side: whole sheets, rough-cut blanks, pushed through.

Each way is laid out by the same search with the same budget and worked out to the last saw cut,
so that the figures can be held against each other. A way this machine cannot go is told; whole
sheets are laid out even then, as the measure of what sawing first costs in board.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from core.bed import bed_room
from core.layout.arrangement import WAYS, arrangements_for, largest_blank_mm2
from core.layout.assemble import assemble_sheets
from core.layout.search import Copies, Progress, Stop, lay_out_pieces
from core.plan import PlanSeam, PlanWay
from core.project.model import CutBy, KeptLayout
from core.shop import Shop, Stock
from core.tolerances import FIT_REL
from core.units import format_size

#: Position evaluations for each way and board when neither steps nor seconds are given.
COMPARE_STEPS = 1_000_000


def compare_ways(
    pieces: Sequence[Copies],
    shop: Shop,
    *,
    seams: Sequence[PlanSeam] = (),
    seconds: float | None = None,
    steps: int | None = None,
    seed: int = 0,
    progress: Progress | None = None,
    stop: Stop | None = None,
) -> tuple[PlanWay, ...]:
    """Every way for every board that has routed pieces, board by board in the order of WAYS.

    seconds: wall time for all of them together; steps: position evaluations for each (then the
    same input gives the same figures). Stopped early, the rows done so far are returned.
    """
    if seconds is None and steps is None:
        steps = COMPARE_STEPS
    boards: dict[str, list[Copies]] = {}
    for item in pieces:
        if item.quantity > 0 and any(s.material == item.piece.material for s in shop.stock):
            boards.setdefault(item.piece.material, []).append(item)
    boards = {
        name: group
        for name, group in boards.items()
        if any(c.piece.by is CutBy.ROUTER for c in group)
    }
    count = len(boards) * len(WAYS)
    rows: list[PlanWay] = []
    for material in sorted(boards):
        for way in WAYS:
            done = len(rows)

            def told(
                fraction: float,
                text: str,
                _layout: KeptLayout | None,
                *,
                done: int = done,
                way: str = way,
                material: str = material,
            ) -> None:
                if progress is not None:
                    progress((done + fraction) / count, f"{material}, {WORDS[way]}: {text}", None)

            rows.append(
                _row(
                    boards[material],
                    shop,
                    material,
                    way,
                    seams,
                    None if seconds is None else seconds / count,
                    steps,
                    seed,
                    told,
                    stop,
                )
            )
            if stop is not None and stop():
                return tuple(rows)
    return tuple(rows)


#: The ways in words, as a table's first column has them.
WORDS = {
    "blanks": "rough-cut blanks",
    "whole": "whole sheets",
    "through": "pushed through",
}


def _row(
    group: list[Copies],
    shop: Shop,
    material: str,
    way: str,
    seams: Sequence[PlanSeam],
    seconds: float | None,
    steps: int | None,
    seed: int,
    progress: Progress,
    stop: Stop | None,
) -> PlanWay:
    stocks = tuple(replace(s, way="") for s in shop.stock if s.material == material)
    used = replace(shop, stock=stocks)
    can, why = _why_not(used, stocks, material, way)
    if not can and way != "whole":
        return PlanWay(material, way, WORDS[way], False, why)
    if not can:
        used = _as_if_it_lay(used, stocks)
    layout = lay_out_pieces(
        group,
        used,
        breakdown=way,
        seconds=seconds,
        steps=steps,
        seed=seed,
        progress=progress,
        stop=stop,
    )
    found = assemble_sheets([c.piece for c in group], used, layout, breakdown=way, seams=seams)
    wanted = sum(c.quantity for c in group)
    sheets = found.sheets
    bought = [s.stock.cost for s in sheets if not s.stock.in_rack]
    known = [cost for cost in bought if cost is not None]
    return PlanWay(
        material=material,
        way=way,
        title=WORDS[way],
        possible=can,
        why=why,
        pieces=len(layout.placed),
        unplaced=wanted - len(layout.placed),
        sheets=len(sheets),
        piece_area_mm2=sum(s.piece_area_mm2 for s in sheets),
        sheet_area_mm2=sum(s.area_mm2 for s in sheets),
        saw_cuts=sum(len(s.saw_cuts) for s in sheets),
        blanks=sum(len(s.blanks) for s in sheets if s.saw_cuts),
        setups=sum(len(s.setups) for s in sheets),
        offcut_area_mm2=sum(o.area_mm2 for s in sheets for o in s.offcuts if o.keep),
        cost=sum(known) if len(known) == len(bought) else None,
        layout=layout if can else None,
    )


def _why_not(shop: Shop, stocks: Sequence[Stock], material: str, way: str) -> tuple[bool, str]:
    """Whether the machine can go this way, and what there is to say about it."""
    machine = shop.machine
    largest = max(stocks, key=lambda s: s.width_mm * s.height_mm)
    size = format_size(largest.width_mm, largest.height_mm)
    table = format_size(*machine.table_mm)
    if way == "through" and not machine.open_ended:
        return False, "The bed has no open ends."
    if not any(arrangements_for(s, shop, choice=way, most=1) for s in stocks):
        if way == "whole":
            return False, (
                f"For comparison only: a sheet of {size} does not lie on the table of {table}."
            )
        return False, f"No blank of a sheet of {size} goes onto the table of {table}."
    if way == "whole" and bed_room(machine, largest.width_mm, largest.height_mm) is None:
        return False, (
            f"For comparison only: a sheet of {size} does not lie on the table of {table}."
        )
    most_mm2 = largest_blank_mm2(shop, shop.material(material))
    heavy = most_mm2 is not None and largest.polygon.area > most_mm2 * (1 + FIT_REL)
    if way != "blanks" and heavy:
        return True, "A full sheet is heavier than one person is to lift: get help."
    return True, ""


def _as_if_it_lay(shop: Shop, stocks: Sequence[Stock]) -> Shop:
    """The shop with a table and a travel that take every sheet whole."""
    bit = shop.machine.cutter.diameter_mm
    wide = max(s.width_mm for s in stocks) + 2 * bit
    deep = max(s.height_mm for s in stocks) + 2 * bit
    machine = replace(shop.machine, travel_mm=(wide, deep), table_mm=(wide, deep), clamps=())
    return replace(shop, machine=machine)
