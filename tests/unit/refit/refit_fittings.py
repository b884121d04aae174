"""Fittings of a small ceramics studio, drawn at nominal thickness, for tests of the re-fit."""

from __future__ import annotations

from collections.abc import Sequence

from core.geometry import Point, Region, Ring
from core.project.model import Panel, Project
from core.project.refit import RefitRules, ReliefKind, SizeHold
from core.refit import refit_panel
from core.shop import Cutter, Machine, Material, Reading, Rules, Shop

BIRCH = Material("Birch ply 18", 18.0, (Reading(17.6), Reading(17.55)))
PLAIN = ReliefKind.NONE
BOARD = Ring.rectangle(0, 0, 400, 300)


def project(
    *panels: Panel,
    fit_mm: float = 0.1,
    proud_mm: float = 0.0,
    hold: SizeHold = SizeHold.OUTSIDE,
    materials: Sequence[Material] = (BIRCH,),
    relief: ReliefKind = ReliefKind.DOG_BONE,
    refit: bool = True,
    clearance_mm: float = 0.2,
    cutter: Cutter | None = None,
) -> Project:
    rules = RefitRules(
        hold=hold, proud_mm=proud_mm, relief=relief, halving_clearance_mm=clearance_mm
    )
    shop = Shop(
        Machine(cutters=(cutter or Cutter(6.0),)), tuple(materials), rules=Rules(fit_mm=fit_mm)
    )
    return Project("Studio", panels=panels, shop=shop, refit=refit, refit_rules=rules)


def panel(
    name: str, outer: Ring, holes: Sequence[Ring] = (), material: str = BIRCH.name, **more: object
) -> Panel:
    return Panel(name, name, Region.of(outer, holes), material=material, **more)  # type: ignore[arg-type]


def slotted(*holes: Ring, **more: object) -> Panel:
    return panel("Front", BOARD, holes, **more)  # type: ignore[arg-type]


def hole_size(region: Region, index: int = 0) -> tuple[float, float]:
    x1, y1, x2, y2 = region.holes[index].bounds
    return x2 - x1, y2 - y1


def codes(plan: Project, part: Panel) -> list[str]:
    return [finding.code for finding in refit_panel(plan, part).findings]


def toothed(length: float, across: float, teeth: int, depth: float, *, tip_first: bool) -> Ring:
    """A board `length` over its tips along x and `across` along y, with fingers on both ends."""
    width = across / teeth
    right: list[Point] = []
    for k in range(teeth):
        tip = (k % 2 == 0) == tip_first
        x = length if tip else length - depth
        right += [(x, k * width), (x, (k + 1) * width)]
    left = [(length - x, y) for x, y in reversed(right)]
    return Ring.of([*right, *left])


def notched(
    length: float, height: float, centres: Sequence[float], width: float, depth: float, *, top: bool
) -> Ring:
    """A strip along x with notches from above or below."""
    rows: list[Point] = [(0.0, 0.0)]
    if not top:
        for c in centres:
            rows += [
                (c - width / 2, 0.0),
                (c - width / 2, depth),
                (c + width / 2, depth),
                (c + width / 2, 0.0),
            ]
    rows += [(length, 0.0), (length, height)]
    if top:
        for c in reversed(centres):
            rows += [
                (c + width / 2, height),
                (c + width / 2, height - depth),
                (c - width / 2, height - depth),
                (c - width / 2, height),
            ]
    rows.append((0.0, height))
    return Ring.of(rows)


def tenoned(
    length: float, width: float, tenons: Sequence[tuple[float, float]], depth: float
) -> Ring:
    """A board width along x, length along y up to its shoulders, with tenons on top."""
    rows: list[Point] = [(0.0, 0.0), (width, 0.0), (width, length)]
    for low, high in sorted(tenons, reverse=True):
        rows += [(high, length), (high, length + depth), (low, length + depth), (low, length)]
    rows.append((0.0, length))
    return Ring.of(rows)
