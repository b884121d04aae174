"""What the plans of the report tests are made of: pieces, boards, and rows of them on sheets."""

from __future__ import annotations

import math
from dataclasses import replace

from shapely.geometry import Polygon

from core.geometry import Motion, Region, Ring
from core.plan import (
    Plan,
    PlanBlank,
    PlanOffcut,
    PlanPanel,
    PlanPiece,
    PlanPlacement,
    PlanSawCut,
    PlanSetup,
    PlanSheet,
    PlanUnplaced,
    PurchaseLine,
    rectangle_points,
)
from core.project.model import Project
from core.shop import (
    ClampKind,
    ClampZone,
    Cutter,
    Limits,
    Machine,
    Material,
    Reading,
    Shop,
    Stock,
)

BIRCH = "Birch plywood 18"
KERF = 3.0
MARGIN = 10.0
SPACING = 8.0


def shop(*, material: Material | None = None, stock: tuple[Stock, ...] = ()) -> Shop:
    return Shop(
        machine=Machine(
            name="Studio router",
            travel_mm=(900.0, 600.0),
            table_mm=(960.0, 660.0),
            cutters=(Cutter(6.0, 22.0, name="Two-flute"), Cutter(3.0, 12.0)),
            clamps=(
                ClampZone(0, 0, 25, 60, name="Left toe"),
                ClampZone(875, 250, 25, 60, kind=ClampKind.BAR),
            ),
        ),
        materials=(
            material or Material(BIRCH, 18.0, readings=(Reading(17.6),), density_kg_m3=685.0),
        ),
        stock=stock,
        limits=Limits(lift_kg=25.0),
    )


def rect_region(width: float, height: float, *, hole: float = 0.0) -> Region:
    holes = [Ring.circle(width / 2, height / 2, hole)] if hole else []
    return Region.of(Ring.rectangle(0, 0, width, height), holes)


def rounded(width: float, height: float, radius: float) -> Region:
    b = math.tan(math.pi / 8)
    r = radius
    return Region.of(
        Ring.of(
            [
                (r, 0, 0),
                (width - r, 0, b),
                (width, r, 0),
                (width, height - r, b),
                (width - r, height, 0),
                (r, height, b),
                (0, height - r, 0),
                (0, r, b),
            ]
        )
    )


def piece(
    piece_id: str,
    name: str,
    region: Region,
    *,
    panel: str = "",
    material: str = BIRCH,
    thickness: float = 17.6,
    **more: object,
) -> PlanPiece:
    return PlanPiece(
        id=piece_id,
        panel=panel or piece_id,
        name=name,
        outline=region,
        cut=region,
        material=material,
        thickness_mm=thickness,
        **more,  # type: ignore[arg-type]
    )


def panel_of(one: PlanPiece, quantity: int = 1, name: str = "") -> PlanPanel:
    return PlanPanel(
        id=one.panel,
        name=name or one.name,
        outline=one.outline,
        features=one.features,
        quantity=quantity,
        material=one.material,
        grain="along",
        pieces=(one.id,),
    )


def lay_in_rows(
    wanted: list[tuple[PlanPiece, int]], width: float, height: float, *, turn: float = 0.0
) -> tuple[list[tuple[PlanPiece, int, Motion]], list[tuple[PlanPiece, int]]]:
    """Rows from the lower left corner of a blank. Returns what was laid and what is left."""
    laid: list[tuple[PlanPiece, int, Motion]] = []
    left: list[tuple[PlanPiece, int]] = []
    x, y, row = MARGIN, MARGIN, 0.0
    for one, copy in wanted:
        region = one.cut.moved(Motion(turn_deg=turn))
        x1, y1, x2, y2 = region.bounds
        w, h = x2 - x1, y2 - y1
        if x + w > width - MARGIN:
            x, y, row = MARGIN, y + row + SPACING, 0.0
        if x + w > width - MARGIN or y + h > height - MARGIN:
            left.append((one, copy))
            continue
        laid.append((one, copy, Motion(x - x1, y - y1, turn)))
        x += w + SPACING
        row = max(row, h)
    return laid, left


def sheet_in_blanks(
    number: int,
    stock: Stock,
    wanted: list[tuple[PlanPiece, int]],
    *,
    columns: int,
    rows: int,
    mirrored: bool = False,
) -> tuple[PlanSheet, list[tuple[PlanPiece, int]]]:
    """A sheet sawn into equal blanks: first up the sheet, then along each column."""
    wide = (stock.width_mm - (columns - 1) * KERF) / columns
    high = (stock.height_mm - (rows - 1) * KERF) / rows
    every = list(wanted)
    blanks, cuts, setups = [], [], []
    placements: list[PlanPlacement] = []
    area = 0.0
    order = 1
    letters = iter("ABCDEFGHIJKLMNOPQRSTUVWXYZ")
    for column in range(columns):
        x = column * (wide + KERF)
        if column < columns - 1:
            at = x + wide + KERF / 2
            cuts.append(PlanSawCut(order, at, 0.0, at, stock.height_mm))
            order += 1
        for row in range(rows):
            y = row * (high + KERF)
            letter = next(letters)
            blank = PlanBlank(f"s{number}{letter}", letter, x, y, wide, high)
            blanks.append(blank)
            if row < rows - 1:
                at = y + high + KERF / 2
                cuts.append(PlanSawCut(order, x, at, x + wide, at, blank.id))
                order += 1
            laid, wanted = lay_in_rows(wanted, wide, high)
            for one, copy, motion in laid:
                if mirrored:
                    _, y1, x2, _ = one.cut.bounds
                    motion = Motion(motion.x_mm + x2, motion.y_mm - y1, 0.0, True)
                placed = replace(motion, x_mm=motion.x_mm + x, y_mm=motion.y_mm + y)
                placements.append(PlanPlacement(one.id, copy, placed, blank.id))
                area += one.cut.area_mm2
            if laid:
                setups.append(
                    PlanSetup(
                        f"{blank.id}-1",
                        blank.id,
                        x,
                        y,
                        wide,
                        high,
                        notes=("Tabs: three on each outline, none on seams.",),
                    )
                )
    offcut = PlanOffcut(
        rectangle_points(stock.width_mm - 300, stock.height_mm - 200, 300, 200), True
    )
    corner = Polygon(offcut.points)
    shapes = {one.id: one.cut for one, _ in every}
    taken = any(shapes[p.piece].moved(p.motion).polygon.intersects(corner) for p in placements)
    mass = stock.width_mm * stock.height_mm * 18.0 * 685e-9
    sheet = PlanSheet(
        id=f"{stock.id}#{number}",
        number=number,
        stock=stock,
        placements=tuple(placements),
        blanks=tuple(blanks),
        saw_cuts=tuple(cuts),
        setups=tuple(setups),
        offcuts=() if taken else (offcut,),
        piece_area_mm2=area,
        mass_kg=mass,
    )
    return sheet, wanted


def purchase_of(sheets: list[PlanSheet]) -> tuple[PurchaseLine, ...]:
    lines = []
    for stock_id in dict.fromkeys(s.stock.id for s in sheets):
        mine = [s for s in sheets if s.stock.id == stock_id]
        stock = mine[0].stock
        cost = None if stock.cost is None else stock.cost * len(mine)
        lines.append(
            PurchaseLine(
                stock_id,
                stock.material,
                stock.width_mm,
                stock.height_mm,
                len(mine),
                stock.in_rack,
                cost,
                sum(s.mass_kg for s in mine),
            )
        )
    return tuple(lines)


def plan_of(
    name: str,
    pieces: list[tuple[PlanPiece, int]],
    stock: Stock,
    *,
    columns: int = 1,
    rows: int = 1,
    units: str = "mm",
    panels: list[PlanPanel] | None = None,
    the_shop: Shop | None = None,
    mirrored: bool = False,
    **more: object,
) -> Plan:
    """Lay out copies on as many sheets as it takes."""
    wanted = [(one, c) for one, count in pieces for c in range(1, count + 1)]
    sheets: list[PlanSheet] = []
    while wanted and len(sheets) < 20:
        before = len(wanted)
        sheet, wanted = sheet_in_blanks(
            len(sheets) + 1, stock, wanted, columns=columns, rows=rows, mirrored=mirrored
        )
        if len(wanted) == before:
            break
        sheets.append(sheet)
    project = Project(name=name, units=units, shop=the_shop or shop(stock=(stock,)))
    return Plan(
        project=project,
        panels=tuple(panels or [panel_of(one, count) for one, count in pieces]),
        pieces=tuple(one for one, _ in pieces),
        sheets=tuple(sheets),
        unplaced=tuple(PlanUnplaced(one.id, c, "no sheet holds it") for one, c in wanted),
        purchase=purchase_of(sheets),
        sheet_bound=max(len(sheets) - 1, 0),
        **more,  # type: ignore[arg-type]
    )


SHEET = Stock("birch-18", BIRCH, 2440.0, 1220.0, cost=78.5)
