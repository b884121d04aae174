"""Sawing rectangular parts from sheets: the front door, and the choice of method.

Two questions, told apart by what is asked. If everything can be placed, the cheapest sheets
are looked for; if not, or if there is to be as many as fit, the greatest value on the sheets
there are. Which search answers is decided here; each search hands back trees or places, and
the cuts are always made by :mod:`core.breakdown.freeing`.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence

from core.breakdown.freeing import pattern_for
from core.breakdown.job import Job, Layout, make_job
from core.breakdown.model import PlacedPart, SawPart, SawPlan, SawSheet, SheetCuts, UnplacedPart
from core.breakdown.strategy import solve
from core.errors import InvalidRequestError


def cut_rectangles(
    parts: Sequence[SawPart],
    sheets: Sequence[SawSheet],
    *,
    kerf_mm: float,
    edge_trim_mm: float = 0.0,
    seconds: float,
    seed: int = 0,
    steps: int | None = None,
    stop: Callable[[], bool] | None = None,
) -> SawPlan:
    """Plan how rectangular parts are sawn from sheets by through cuts.

    parts, sheets: see SawPart and SawSheet; ids are unique. kerf_mm: width of the saw cut, taken
    between neighbours and wherever waste is sawn off. edge_trim_mm: parts keep this far from
    every edge of the sheet. seconds: greatest time; the search spends a number of steps that
    depends on it, so the same input, seconds and seed give the same plan unless the machine is
    so slow that time runs out first. steps: this many instead (20 000 are about a second on a
    slow machine); with generous seconds the plan then depends on nothing else. stop: asked now
    and then; True ends the search with what there is.

    Where all parts can be placed: all of them on the cheapest sheets found, then with the
    largest offcuts. Where sheets are limited and not all fit: the greatest value (a part's area
    if none is given). quantity None of a part: as many as fit; if other parts have a quantity
    and none has a value, those come first. Every cut's centre lies on the board, so a part that
    leaves less than half a kerf beside it is sawn only if it fits nowhere else.
    Raises InvalidRequestError for sizes that are not positive and the like.
    """
    _check(parts, sheets, kerf_mm, edge_trim_mm, seconds, steps)
    job = make_job(parts, sheets, kerf_mm=kerf_mm, edge_trim_mm=edge_trim_mm)
    layout = solve(job, seconds=seconds, seed=seed, steps=steps, stop=stop)
    return _plan(job, layout)


def _check(
    parts: Sequence[SawPart],
    sheets: Sequence[SawSheet],
    kerf_mm: float,
    edge_trim_mm: float,
    seconds: float,
    steps: int | None,
) -> None:
    """Raise InvalidRequestError for anything the planner cannot make sense of."""

    def demand(good: bool, what: str, where: str, remedy: str) -> None:
        if not good:
            raise InvalidRequestError(what, where, remedy)

    for name, length in (("kerf", kerf_mm), ("edge trim", edge_trim_mm)):
        demand(
            math.isfinite(length) and length >= 0,
            f"The {name} is {length:g} mm",
            "",
            "Give a length of 0 mm or more.",
        )
    demand(seconds >= 0, f"The time allowed is {seconds:g} s", "", "Allow 0 s or more.")
    demand(steps is None or steps >= 0, f"The steps allowed are {steps}", "", "Allow 0 or more.")
    for kind, things in (("part", parts), ("sheet", sheets)):
        names = [thing.id for thing in things]
        for thing in things:
            where = f"{kind} {thing.id}"
            demand(names.count(thing.id) == 1, "Name is used twice", where, "Rename one.")
            demand(
                all(math.isfinite(s) and s > 0 for s in (thing.width_mm, thing.height_mm)),
                f"Size is {thing.width_mm:g} × {thing.height_mm:g} mm",
                where,
                "Give a width and a height above 0 mm.",
            )
            demand(
                thing.quantity is None or thing.quantity >= 0,
                f"Quantity is {thing.quantity}",
                where,
                "Give 0 or more, or leave it open.",
            )
            worth = thing.value if isinstance(thing, SawPart) else thing.cost
            demand(
                worth is None or (math.isfinite(worth) and worth >= 0),
                f"{'Value' if kind == 'part' else 'Cost'} is {worth}",
                where,
                "Give 0 or more.",
            )
    endless = any(sheet.quantity is None for sheet in sheets)
    demand(
        not (endless and parts and all(part.quantity is None for part in parts)),
        "As many parts as fit on as many sheets as needed has no end",
        "",
        "Limit the sheets, or say how many parts are wanted.",
    )


def _plan(job: Job, layout: Layout) -> SawPlan:
    """Places on sheets to cuts, and what is missing to reasons."""
    done: list[SheetCuts] = []
    copies: dict[str, int] = {}
    placed = [0] * len(job.parts)
    for index, places in layout.sheets:
        sheet = job.sheets[index]
        copies[sheet.id] = copies.get(sheet.id, 0) + 1
        parts = []
        for place in places:
            part = job.parts[place.part]
            size = (part.width_mm, part.height_mm)
            width, height = size[::-1] if place.turned else size
            parts.append(PlacedPart(part.id, place.x_mm, place.y_mm, width, height, place.turned))
            placed[place.part] += 1
        free = pattern_for(
            [part.rect for part in parts], sheet.width_mm, sheet.height_mm, kerf_mm=job.kerf_mm
        )
        done.append(
            SheetCuts(
                sheet_id=sheet.id,
                copy=copies[sheet.id],
                width_mm=sheet.width_mm,
                height_mm=sheet.height_mm,
                cost=job.costs[index],
                cuts=free.cuts,
                parts=tuple(parts[i] for i in free.targets),
                offcuts=free.offcuts,
            )
        )
    unplaced = []
    for index, part in enumerate(job.parts):
        fits = job.fits_some_sheet(index)
        wanted = part.quantity if part.quantity is not None else (0 if fits else 1)
        if wanted > placed[index]:
            reason = (
                f"No room left for it on the {len(done)} sheets planned"
                if fits
                else _why_no_sheet(job, part)
            )
            unplaced.append(UnplacedPart(part.id, wanted - placed[index], reason))
    return SawPlan(
        sheets=tuple(done),
        unplaced=tuple(unplaced),
        cost=math.fsum(sheet.cost for sheet in done),
        value=math.fsum(count * job.values[index] for index, count in enumerate(placed) if count),
        bound=layout.bound,
        proven=layout.proven,
        steps=layout.steps,
    )


def _why_no_sheet(job: Job, part: SawPart) -> str:
    """A sentence for a part that fits no sheet at all."""
    size = f"{part.width_mm:g} × {part.height_mm:g} mm"
    if not job.sheets:
        return "There is no sheet to saw it from"
    trim = f" less {job.trim_mm:g} mm trimmed all round" if job.trim_mm else ""
    largest = max(job.sheets, key=lambda sheet: sheet.width_mm * sheet.height_mm)
    stock = f"{largest.width_mm:g} × {largest.height_mm:g} mm{trim}"
    turned = "" if part.may_turn else " and may not turn"
    return f"{size} fits no sheet{turned}; the largest is {stock}"
