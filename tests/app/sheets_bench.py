"""A small ceramics studio's shelf boards for tests of the Sheets stage, without solvers."""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any

from app.ask import WindowAsk
from app.context import Context
from app.derived import Derived, Engine
from app.document import Document
from app.jobs import Jobs
from app.preferences import Preferences
from core.findings import Finding
from core.geometry import Motion, Region, Ring
from core.plan import Plan, PlanPanel, PlanPiece, PlanPlacement, PlanSeam, PlanSheet
from core.project.model import KeptLayout, Panel, Placed, Project
from core.shop import Defect, Machine, Material, Rules, Shop, Stock

BIRCH = "birch 18"


@dataclass(frozen=True)
class Pieces:
    """Stands where the planner's piece set stands."""

    panels: tuple[PlanPanel, ...]
    pieces: tuple[PlanPiece, ...]
    seams: tuple[PlanSeam, ...] = ()
    findings: tuple[Finding, ...] = ()


def shop(**changes: Any) -> Shop:
    made = Shop(
        machine=Machine(travel_mm=(2600, 1300), table_mm=(2600, 1300)),
        materials=(Material(BIRCH, 18.0), Material("mdf 12", 12.0, grained=False)),
        stock=(
            Stock("full", BIRCH, 2440, 1220, cost=80.0),
            Stock("rack", BIRCH, 900, 500, quantity=1, in_rack=True),
            Stock("mdf", "mdf 12", 1200, 600),
        ),
        rules=Rules(spacing_mm=8.0, edge_margin_mm=10.0),
    )
    return replace(made, **changes)


def project(**changes: Any) -> Project:
    """Three shelves 600 × 300, a disc of 200 and an mdf back, nothing placed."""
    made = Project(
        name="Shelves",
        panels=(
            Panel("shelf", "Shelf", Region.of(Ring.rectangle(0, 0, 600, 300)), quantity=3,
                  material=BIRCH),
            Panel("disc", "Disc", Region.of(Ring.circle(0, 0, 100)), quantity=1, material=BIRCH),
            Panel("back", "Back", Region.of(Ring.rectangle(0, 0, 500, 400)), material="mdf 12"),
        ),
        shop=shop(),
    )  # fmt: skip
    return replace(made, **changes)


def cut_panels(project: Project, **_: Any) -> Pieces:
    """Every panel whole, as one piece."""
    turns = {"disc": None, "back": (0.0, 90.0, 180.0, 270.0)}
    panels, pieces = [], []
    for p in project.panels:
        panels.append(
            PlanPanel(p.id, p.name, p.region, (), p.quantity, p.material, str(p.grain), (p.id,))
        )
        pieces.append(
            PlanPiece(
                p.id,
                p.id,
                p.name,
                p.region,
                p.region,
                p.material,
                18.0,
                turns_deg=turns.get(p.id, (0.0, 180.0)),
                may_mirror=p.id == "disc",
                digest=f"{p.id}-{p.region.area_mm2:.1f}",
            )
        )
    return Pieces(tuple(panels), tuple(pieces))


def assemble_plan(project: Project, pieces: Pieces, layout: KeptLayout) -> Plan:
    """Sheets with their placements; no saw."""
    by_id = {piece.id: piece for piece in pieces.pieces}
    stocks = {stock.id: stock for stock in project.shop.stock}
    rows: dict[tuple[str, int], list[Placed]] = {}
    for one in layout.placed:
        rows.setdefault((one.sheet, one.sheet_copy), []).append(one)
    sheets = tuple(
        PlanSheet(
            f"S{n}",
            n,
            stocks[key[0]],
            tuple(PlanPlacement(p.piece, p.copy, p.motion, "", p.locked) for p in placed),
            piece_area_mm2=sum(by_id[p.piece].cut.area_mm2 for p in placed),
        )
        for n, (key, placed) in enumerate(rows.items(), start=1)
    )
    return Plan(project, pieces.panels, pieces.pieces, (), sheets)


def row_of_shelves(count: int, pieces: Pieces) -> KeptLayout:
    """Shelves side by side on the first full sheet, at the margin and the spacing."""
    digest = {piece.id: piece.digest for piece in pieces.pieces}
    placed = tuple(
        Placed("shelf", i + 1, "full", 1, Motion(10 + 608 * i, 10), False, digest["shelf"])
        for i in range(count)
    )
    return KeptLayout("Layout 1", placed)


def lay_out(
    project: Project,
    pieces: Pieces,
    *,
    start: KeptLayout | None = None,
    seconds: float | None = None,
    seed: int | None = None,
    progress: Callable[..., None],
    stop: Callable[[], bool],
) -> KeptLayout:
    """Puts one shelf more on the sheet at every step until stopped or done."""
    locked = {(p.piece, p.copy): p for p in start.placed if p.locked} if start else {}
    layout = KeptLayout("", tuple(locked.values()))
    for count in (1, 2, 3):
        row = row_of_shelves(count, pieces).placed
        placed = tuple(locked.get((p.piece, p.copy), p) for p in row)
        layout = KeptLayout("found", placed, steps=count)
        progress(count / 3, "", layout)
        if stop():
            break
        time.sleep(0.06)
    return layout


def context(start: Project, engine: Engine | None = None) -> Context:
    """Everything a stage is given, around a project."""
    document = Document(start)
    jobs = Jobs(document)
    used = engine or Engine(cut_panels, assemble_plan, lay_out)  # type: ignore[arg-type]
    return Context(
        document,
        Derived(document, jobs, engine=used, parent=document),
        jobs,
        WindowAsk(),
        Preferences(),
    )


def with_defect(stock: Stock) -> Stock:
    return replace(stock, defects=(Defect(((1000, 200), (1100, 200), (1050, 300)), "knot"),))
