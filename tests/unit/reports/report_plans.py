"""Plans made by hand for the report tests: a ceramics studio's fittings, laid out on shelves.

Nothing here is planned by the program itself: pieces go in rows from the lower left corner of
each blank, so every figure in them can be checked by eye.
"""

from __future__ import annotations

import random
from dataclasses import replace
from functools import cache

from core.findings import Finding, Severity
from core.geometry import Motion, Point, Region, Ring
from core.outlines.model import Face, Feature, Role
from core.plan import (
    Plan,
    PlanBlank,
    PlanOffcut,
    PlanPanel,
    PlanPlacement,
    PlanSawCut,
    PlanSeam,
    PlanSetup,
    PlanSheet,
    rectangle_points,
)
from core.project.model import CutBy, Panel, Project
from core.shop import (
    Defect,
    Material,
    Stock,
)
from tests.unit.reports.report_parts import (
    BIRCH,
    SHEET,
    panel_of,
    piece,
    plan_of,
    purchase_of,
    rect_region,
    rounded,
    shop,
)


def small_plan() -> Plan:
    """One sheet in four blanks, a ring with a disc in its hole, pockets and holes."""
    ring = piece("ring", "Wheel ring", rect_region(520, 520, hole=200))
    disc = piece("disc", "Bat", Region.of(Ring.circle(0, 0, 150)))
    shelf = piece(
        "shelf",
        "Glaze shelf",
        rounded(700, 260, 30),
        features=(
            Feature(Role.POCKET, ring=Ring.rectangle(40, 60, 18, 140), depth_mm=6.0),
            Feature(
                Role.POCKET, ring=Ring.rectangle(600, 60, 18, 140), depth_mm=6.0, face=Face.BACK
            ),
            Feature(Role.DRILL, at=(350.0, 130.0), diameter_mm=5.0, depth_mm=12.0),
        ),
    )
    rail = piece("rail", "Rail", rect_region(600, 80), by=CutBy.SAW)
    plan = plan_of(
        "Studio shelves",
        [(ring, 1), (shelf, 3), (rail, 2)],
        replace(SHEET, defects=(Defect(rectangle_points(2330, 40, 60, 50), "knot"),)),
        columns=2,
        rows=2,
    )
    first = plan.sheets[0]
    spot = next(p for p in first.placements if p.piece == "ring")
    inside = PlanPlacement(
        "disc", 1, Motion(spot.motion.x_mm + 260, spot.motion.y_mm + 260), spot.blank
    )
    sheet = replace(
        first,
        placements=(*first.placements, inside),
        piece_area_mm2=first.piece_area_mm2 + disc.cut.area_mm2,
    )
    return replace(
        plan,
        pieces=(*plan.pieces, disc),
        panels=(*plan.panels, panel_of(disc)),
        sheets=(sheet, *plan.sheets[1:]),
        findings=(
            Finding(
                "fit-guess",
                Severity.NOTE,
                "The fit of 0.15 mm is assumed.",
                remedy="Cut a test piece.",
            ),
            Finding(
                "narrow-slot",
                Severity.WARN,
                "A slot is 5.8 mm wide; the 6 mm bit cannot enter.",
                panel="shelf",
            ),
        ),
    )


def big_plan() -> Plan:
    """About 160 pieces of 40 shapes on eight sheets or so."""
    source = random.Random(5)
    pieces = []
    for index in range(40):
        w, h = source.randint(8, 60) * 10.0, source.randint(6, 34) * 10.0
        shape = rounded(w, h, 20) if index % 3 else rect_region(w, h)
        pieces.append((piece(f"k{index:02d}", f"Kiln part {index + 1}", shape), 4))
    return plan_of("Kiln wall", pieces, SHEET, columns=3, rows=2)


def inch_plan() -> Plan:
    """Fractions of an inch, 23/32 plywood on 4 × 8 ft sheets."""
    board = Material("Plywood 23/32", 18.25625, density_kg_m3=577.0)
    stock = Stock("ply", board.name, 96 * 25.4, 48 * 25.4, cost=64.0)
    side = piece("side", "Tall side", rect_region(34.5 * 25.4, 11.125 * 25.4), material=board.name)
    back = piece("back", "Divider", rect_region(22.75 * 25.4, 10.71875 * 25.4), material=board.name)
    cleat = piece("cleat", "Cleat ⅜", rect_region(7.375 * 25.4, 3.5 * 25.4), material=board.name)
    return plan_of(
        "Glaze shelves",
        [(side, 4), (back, 6), (cleat, 9)],
        stock,
        columns=2,
        rows=2,
        units="in",
        the_shop=shop(material=board, stock=(stock,)),
    )


def long_name_plan() -> Plan:
    """Names no label holds, signs no font has."""
    long = "Upper left-hand front panel of the double-width drying cupboard beside the big kiln"
    pieces = [
        (piece("a", long, rect_region(420, 300)), 2),
        (piece("b", "Wandbrett „Glasur“ ½ × ¾ – ⌀ 35", rect_region(300, 90)), 3),
        (piece("c", "棚板 shelf\nnew line", rect_region(200, 60)), 2),
        (piece("d", "X" * 120, rect_region(500, 70)), 1),
    ]
    return plan_of("Names " + long + " " + long, pieces, SHEET)


def tiny_plan() -> Plan:
    """Sixty pieces too small to carry even their number."""
    pieces = [
        (piece("peg", "Peg", rect_region(12, 9)), 60),
        (piece("strip", "Strip", rect_region(700, 14)), 6),
        (piece("plate", "Plate", rect_region(160, 160)), 3),
    ]
    return plan_of("Pegs", pieces, SHEET, columns=2, rows=1)


def finger_line(height: float, tooth: float = 60.0, depth: float = 30.0) -> list[Point]:
    """A square tooth profile along x = 0 from y = 0 to height."""
    points: list[Point] = [(0.0, 0.0)]
    y, side = tooth, 1.0
    while y < height - tooth / 2:
        points += [(points[-1][0], y), (depth * side if points[-1][0] == 0 else 0.0, y)]
        y += tooth
    if points[-1][0] != 0:
        points += [(points[-1][0], height - tooth / 2), (0.0, height - tooth / 2)]
    points.append((0.0, height))
    return points


def split_plan() -> Plan:
    """A counter front of 1700 × 820 in three pieces, with seams A and B, made twice."""
    width, height = 1700.0, 820.0
    xs = (560.0, 1130.0)
    lines = [[(x + dx, y) for dx, y in finger_line(height)] for x in xs]
    left = [(0.0, 0.0), *lines[0], (0.0, height)]
    middle = [*lines[1], *reversed(lines[0])]
    right = [(width, 0.0), (width, height), *reversed(lines[1])]
    names = ("Counter front, left", "Counter front, middle", "Counter front, right")
    letters = (("A",), ("A", "B"), ("B",))
    bodies = [Region.of(Ring.of(points)) for points in (left, middle, right)]
    pieces = [
        piece(
            f"front.{i + 1}",
            names[i],
            bodies[i],
            panel="front",
            letters=letters[i],
            seams=tuple(f"front-{x}" for x in letters[i]),
        )
        for i in range(3)
    ]
    seams = tuple(
        PlanSeam(
            id=f"front-{letter}",
            letter=letter,
            panel="front",
            style="finger",
            style_title="Square fingers",
            pieces=(f"front.{i + 1}", f"front.{i + 2}"),
            line=((xs[i], 0.0), (xs[i], height)),
            profile=tuple(lines[i]),
            fit_mm=0.15,
            joint_length_mm=height,
            notes=("slides together in the plane",) if i else (),
        )
        for i, letter in enumerate("AB")
    )
    panel = PlanPanel(
        id="front",
        name="Counter front",
        outline=rect_region(width, height),
        features=(),
        quantity=2,
        material=BIRCH,
        grain="along",
        pieces=tuple(p.id for p in pieces),
        assembly=(
            "Lay the middle piece on a flat surface, show face up.",
            "Glue seam A and push the left piece home.",
            "front.3",
        ),
    )
    plan = plan_of(
        "Studio counter",
        [(p, 2) for p in pieces],
        replace(SHEET, width_mm=2500.0, height_mm=1250.0),
        columns=2,
        panels=[panel],
        cautions=("Large panels: glue on a surface checked with a straight edge.",),
    )
    return replace(plan, seams=seams)


def mirrored_plan() -> Plan:
    """Pieces that are cut show face down."""
    hook = Region.of(Ring.of([(0, 0), (300, 0), (300, 80), (80, 80), (80, 300), (0, 300)]))
    one = piece(
        "hook",
        "Bracket",
        hook,
        may_mirror=True,
        features=(
            Feature(Role.POCKET, ring=Ring.rectangle(20, 20, 40, 30), depth_mm=5.0, face=Face.BACK),
        ),
    )
    return plan_of("Brackets", [(one, 4)], SHEET, columns=2, mirrored=True)


def rack_plan() -> Plan:
    """An L-shaped offcut from the rack, its price not known, fed through in two stretches."""
    points = (
        (0.0, 0.0),
        (1300.0, 0.0),
        (1300.0, 300.0),
        (500.0, 300.0),
        (500.0, 700.0),
        (0.0, 700.0),
    )
    stock = Stock("rest", BIRCH, 1300.0, 700.0, quantity=1, points=points, in_rack=True)
    wide = piece("wide", "Bench end", rect_region(380, 260))
    flat = piece("flat", "Drip tray", rounded(320, 210, 25))
    spots = (("wide", 1, 15, 15), ("wide", 2, 15, 400), ("flat", 1, 420, 40), ("flat", 2, 900, 40))
    placements = tuple(
        PlanPlacement(i, c, Motion(float(x), float(y)), "whole") for i, c, x, y in spots
    )
    area = 2 * (wide.cut.area_mm2 + flat.cut.area_mm2)
    sheet = PlanSheet(
        "rest#1",
        1,
        stock,
        placements,
        blanks=(PlanBlank("whole", "A", 0.0, 0.0, 1300.0, 700.0),),
        setups=(
            PlanSetup("r1", "whole", 0.0, 0.0, 850.0, 700.0, notes=("Feed on 850 mm afterwards.",)),
            PlanSetup("r2", "whole", 850.0, 0.0, 450.0, 700.0, 20.0, 10.0),
        ),
        offcuts=(PlanOffcut(rectangle_points(150, 320, 300, 60), False),),
        piece_area_mm2=area,
        mass_kg=8.2,
    )
    return Plan(
        project=Project(name="From the rack", shop=shop(stock=(stock,))),
        panels=(panel_of(wide, 2), panel_of(flat, 2)),
        pieces=(wide, flat),
        sheets=(sheet,),
        purchase=purchase_of([sheet]),
    )


def saw_plan() -> Plan:
    """Rectangles that the saw alone makes: strips first, then lengths."""
    stock = replace(SHEET, cost=None)
    strip = piece("strip", "Drawer side", rect_region(600, 120), by=CutBy.SAW)
    cuts, placements = [], []
    order, copy = 1, 1
    for row in range(6):
        y = row * 123.0
        cuts.append(PlanSawCut(order, 0.0, y + 121.5, 2440.0, y + 121.5))
        order += 1
        for column in range(4):
            x = column * 603.0
            cuts.append(PlanSawCut(order, x + 601.5, y, x + 601.5, y + 120.0))
            order += 1
            placements.append(PlanPlacement("strip", copy, Motion(x, y)))
            copy += 1
    sheet = PlanSheet(
        "birch-18#1",
        1,
        stock,
        tuple(placements),
        saw_cuts=tuple(cuts),
        offcuts=(PlanOffcut(rectangle_points(0.0, 738.0, 2440.0, 482.0), True),),
        piece_area_mm2=24 * strip.cut.area_mm2,
        mass_kg=36.7,
    )
    return Plan(
        project=Project(name="Drawers", shop=shop(stock=(stock,))),
        panels=(panel_of(strip, 24),),
        pieces=(strip,),
        sheets=(sheet,),
        purchase=purchase_of([sheet]),
    )


def turned_plan() -> Plan:
    """The small plan with every board lying a quarter turn on the table, islands in a pocket."""
    plan = small_plan()
    island = Feature(
        Role.POCKET,
        ring=Ring.rectangle(150, 60, 120, 120),
        islands=(Ring.circle(210, 120, 20),),
        depth_mm=4.0,
    )
    pieces = tuple(
        replace(p, features=(*p.features, island)) if p.id == "shelf" else p for p in plan.pieces
    )
    (sheet,) = plan.sheets
    setups = tuple(replace(s, turned=True, bed_x_mm=30.0, bed_y_mm=5.0) for s in sheet.setups)
    return replace(plan, pieces=pieces, sheets=(replace(sheet, setups=setups),))


def empty_plan() -> Plan:
    return Plan(project=Project(name="Nothing yet", panels=(Panel("p", "P", rect_region(10, 10)),)))


@cache
def every_plan() -> dict[str, Plan]:
    """All of them, made once: frozen, and so the same for every test."""
    return {
        "small": small_plan(),
        "big": big_plan(),
        "inch": inch_plan(),
        "long": long_name_plan(),
        "tiny": tiny_plan(),
        "split": split_plan(),
        "mirrored": mirrored_plan(),
        "rack": rack_plan(),
        "saw": saw_plan(),
        "turned": turned_plan(),
        "empty": empty_plan(),
    }
