"""Writes the three demo projects: their drawings and their project files.

A small ceramics studio builds its shop fittings. Run from the project's root:
``python demo_projects/make_demos.py``. The same script always writes the same files.
"""

from __future__ import annotations

import math
import random
import sys
from dataclasses import replace
from pathlib import Path

HERE = Path(__file__).resolve().parent
sys.path.insert(0, str(HERE.parent))

from core.geometry import Region, Ring  # noqa: E402
from core.outlines.write import (  # noqa: E402
    CircleItem,
    DrawItem,
    PathItem,
    RingItem,
    TextItem,
    write_dxf,
    write_svg,
)
from core.project.edits import PanelDefaults, add_drawing  # noqa: E402
from core.project.file import save_project  # noqa: E402
from core.project.model import CutBy, Grain, Panel, Project, StyleChoice  # noqa: E402
from core.shop import (  # noqa: E402
    Cutter,
    Defect,
    Limits,
    Machine,
    Material,
    Reading,
    Rules,
    Shop,
    Stock,
)

INCH = 25.4


def rectangle(x: float, y: float, width: float, height: float) -> Ring:
    return Ring.rectangle(x, y, width, height)


def obround(x: float, y: float, length: float, width: float, *, upright: bool = False) -> Ring:
    """A slot with round ends, centred at (x, y)."""
    straight, radius = (length - width) / 2, width / 2
    if upright:
        return Ring.of(
            [
                (x + radius, y - straight),
                (x + radius, y + straight, 1.0),
                (x - radius, y + straight),
                (x - radius, y - straight, 1.0),
            ]
        )
    return Ring.of(
        [
            (x - straight, y - radius),
            (x + straight, y - radius, 1.0),
            (x + straight, y + radius),
            (x - straight, y + radius, 1.0),
        ]
    )


def rounded(x: float, y: float, width: float, height: float, radius: float) -> Ring:
    """A rectangle with rounded corners."""
    b = math.tan(math.pi / 8)
    x2, y2, r = x + width, y + height, radius
    return Ring.of(
        [
            (x + r, y),
            (x2 - r, y, b),
            (x2, y + r),
            (x2, y2 - r, b),
            (x2 - r, y2),
            (x + r, y2, b),
            (x, y2 - r),
            (x, y + r, b),
        ]
    )


def panel_items(
    name: str, outer: Ring, holes: list[Ring] | None = None, layer: str = "CUT"
) -> list[DrawItem]:
    """Outline, holes and the name written inside."""
    region = Region.of(outer, holes or [])
    spot = region.polygon.representative_point()
    items: list[DrawItem] = [RingItem(layer, outer)]
    items += [RingItem(layer, hole) for hole in holes or []]
    items.append(TextItem("NAMES", (spot.x, spot.y), name, 12.0))
    return items


# --- studio counter (mm) ------------------------------------------------------------------


def counter_front(x: float = 0.0, y: float = 0.0) -> tuple[Ring, list[Ring]]:
    """The wavy front, about 1700 × 820: level below, four swings of a wave above."""
    width, low, high = 1700.0, 720.0, 780.0
    corner = math.tan(math.pi / 8)
    vertices: list[tuple[float, ...]] = [
        (x + 40, y),
        (x + width - 40, y, corner),
        (x + width, y + 40),
        (x + width, y + low, 0.20),
        (x + width * 0.75, y + high, -0.20),
        (x + width * 0.5, y + low + 30, 0.20),
        (x + width * 0.25, y + high, -0.12),
        (x, y + low),
        (x, y + 40, corner),
    ]
    slots = [
        rectangle(x + sx, y + sy, 18.0, 150.0) for sx in (150.0, 1532.0) for sy in (110.0, 440.0)
    ]
    hole = obround(x + 850.0, y + 560.0, 160.0, 60.0)
    return Ring.of(vertices), [*slots, hole]


def counter_end(x: float, *, left: bool) -> tuple[Ring, list[Ring]]:
    """A curved end with two tenons for the front and an oval hand hole."""

    def place(px: float, py: float, bulge: float = 0.0) -> tuple[float, float, float]:
        return (x + px, py, bulge) if left else (x + 560.0 - px, py, -bulge)

    outer = Ring.of(
        [
            place(0, 0),
            place(470, 0, 0.15),
            place(500, 330, -0.10),
            place(380, 700),
            place(0, 700),
            place(0, 590),
            place(-18, 590),
            place(-18, 440),
            place(0, 440),
            place(0, 260),
            place(-18, 260),
            place(-18, 110),
            place(0, 110),
        ]
    )
    hx, hy, _ = place(200, 560)
    return outer, [obround(hx, hy, 110.0, 38.0)]


def make_studio_counter(folder: Path) -> None:
    folder.mkdir(parents=True, exist_ok=True)
    front, holes = counter_front()
    items = panel_items("Counter front", front, holes)
    items += [RingItem("POCKET 8 BACK", rounded(600.0, 60.0, 500.0, 90.0, 12.0))]
    write_dxf(folder / "counter_front.dxf", items)
    items = []
    for x, name, left in ((0.0, "End left", True), (700.0, "End right", False)):
        outer, hand = counter_end(x, left=left)
        items += panel_items(name, outer, hand)
        items += [
            CircleItem("DRILL 12 D8", (x + (60 if left else 500), 60.0 + 80 * k), 4.0)
            for k in range(3)
        ]
    write_dxf(folder / "counter_ends.dxf", items)
    shelf = rounded(0.0, 0.0, 820.0, 330.0, 60.0)
    tray = rounded(0.0, 400.0, 420.0, 260.0, 40.0)
    items = panel_items("Glaze shelf", shelf)
    items += panel_items("Tool tray", tray, [obround(210.0, 620.0, 120.0, 32.0)])
    write_svg(folder / "counter_small_parts.svg", items, margin_mm=10.0)
    birch = Material(
        "Birch ply 18",
        18.0,
        (Reading(17.58, "1"), Reading(17.60, "1"), Reading(17.55, "2")),
        density_kg_m3=685.0,
    )
    shop = Shop(
        machine=Machine("Bench router", (900.0, 600.0), (940.0, 640.0), (Cutter(6.0, 22.0),)),
        materials=(birch,),
        stock=(
            Stock("birch-2500", birch.name, 2500.0, 1250.0, None, 89.0),
            Stock(
                "birch-offcut",
                birch.name,
                880.0,
                560.0,
                1,
                defects=(Defect(((600, 380), (700, 380), (700, 470), (600, 470)), "knot"),),
                in_rack=True,
            ),
        ),
        limits=Limits(lift_kg=25.0, door_mm=(2000.0, 900.0)),
        rules=Rules(edge_margin_mm=8.0, kerf_mm=3.0, fit_mm=0.15, currency="€"),
    )
    project = Project("Studio counter", "mm", shop=shop)
    for name in ("counter_front.dxf", "counter_ends.dxf", "counter_small_parts.svg"):
        project = add_drawing(
            project,
            folder / name,
            defaults=PanelDefaults(birch.name, Grain.ALONG, style=StyleChoice("wave")),
            project_dir=folder,
        ).project
    project = with_panels(project, {"Glaze shelf": {"quantity": 2}, "Tool tray": {"quantity": 2}})
    save_project(project, folder / "studio_counter.json")


# --- glaze shelves (inches) ---------------------------------------------------------------


def make_glaze_shelves(folder: Path) -> None:
    folder.mkdir(parents=True, exist_ok=True)
    inch = INCH
    slot = 23 / 32 * inch
    # A tall side, longer than the bed, with dados for the shelves.
    items = panel_items("Tall side", rounded(0, 0, 68 * inch, 13.5 * inch, 1.5 * inch))
    for k in range(1, 5):
        x = k * 13.6 * inch - slot / 2
        items.append(RingItem("DADO 1-4", rectangle(x, 0.0, slot, 13.5 * inch)))
    write_dxf(folder / "tall_side.dxf", _renamed(items, "DADO 1-4", "DADO 6.35 MM"))
    # Dividers that cross: long ones slotted from above, short ones from below.
    long_w, height, deep = 33.0 * inch, 6.0 * inch, 3.0 * inch
    slots = [8.25 * inch * k for k in (1, 2, 3)]
    items = panel_items("Divider long", _notched(0.0, 0.0, long_w, height, slots, deep, slot, True))
    short_w = 12.5 * inch
    items += panel_items(
        "Divider short",
        _notched(0.0, 8.0 * inch, short_w, height, [4.2 * inch, 8.3 * inch], deep, slot, False),
    )
    write_dxf(folder / "dividers.dxf", items)
    plate = rounded(0, 0, 30 * inch, 12.5 * inch, 1.0 * inch)
    holes = [Ring.circle(6 * inch * k, 6.25 * inch, 1.75 * inch) for k in range(1, 5)]
    write_svg(
        folder / "jar_plate.svg", panel_items("Jar plate", plate, holes), margin_mm=0.5 * inch
    )
    ply = Material("Fir ply 23/32", slot, (Reading(0.703 * inch),), density_kg_m3=577.0)
    shop = Shop(
        machine=Machine(
            "Router",
            (36 * inch, 24 * inch),
            (37 * inch, 25 * inch),
            (Cutter(0.25 * inch, 1.0 * inch),),
        ),
        materials=(ply,),
        stock=(Stock("ply-4x8", ply.name, 96 * inch, 48 * inch, None, 64.0),),
        rules=Rules(
            spacing_mm=0.375 * inch,
            edge_margin_mm=0.375 * inch,
            kerf_mm=0.125 * inch,
            fit_mm=0.006 * inch,
            currency="$",
        ),
    )
    project = Project("Glaze shelves", "in", shop=shop)
    for name in ("tall_side.dxf", "dividers.dxf", "jar_plate.svg"):
        project = add_drawing(
            project,
            folder / name,
            defaults=PanelDefaults(ply.name, Grain.ALONG),
            project_dir=folder,
        ).project
    project = with_panels(
        project,
        {
            "Tall side": {"quantity": 2},
            "Divider long": {"quantity": 2, "grain": Grain.FREE},
            "Divider short": {"quantity": 3, "grain": Grain.FREE},
        },
    )
    sawn = [("Shelf", 33.0, 13.0, 5), ("Cleat", 33.0, 2.5, 6), ("Kick board", 33.0, 4.0, 2)]
    panels = list(project.panels)
    for number, (name, width, depth, quantity) in enumerate(sawn, start=1):
        panels.append(
            Panel(
                f"saw{number}",
                name,
                Region.of(rectangle(0, 0, width * inch, depth * inch)),
                quantity=quantity,
                material=ply.name,
                grain=Grain.ALONG,
                by=CutBy.SAW,
            )
        )
    save_project(replace(project, panels=tuple(panels)), folder / "glaze_shelves.json")


def _renamed(items: list[DrawItem], old: str, new: str) -> list[DrawItem]:
    return [replace(item, layer=new) if item.layer == old else item for item in items]


def _notched(
    x: float,
    y: float,
    width: float,
    height: float,
    centres: list[float],
    deep: float,
    slot: float,
    from_top: bool,
) -> Ring:
    """A strip with slots half its height, from above or from below."""
    bottom: list[tuple[float, float]] = [(x, y)]
    top: list[tuple[float, float]] = [(x + width, y + height)]
    if from_top:
        for c in sorted(centres, reverse=True):
            top += [
                (x + c + slot / 2, y + height),
                (x + c + slot / 2, y + height - deep),
                (x + c - slot / 2, y + height - deep),
                (x + c - slot / 2, y + height),
            ]
    else:
        for c in sorted(centres):
            bottom += [
                (x + c - slot / 2, y),
                (x + c - slot / 2, y + deep),
                (x + c + slot / 2, y + deep),
                (x + c + slot / 2, y),
            ]
    return Ring.of([*bottom, (x + width, y), *top, (x, y + height)])


# --- kiln wall (mm, a big order) ----------------------------------------------------------


def bracket(rng: random.Random) -> tuple[Ring, list[Ring]]:
    """A shelf bracket: two straight edges and a hollow curve between."""
    wide, tall, foot = rng.randrange(180, 340, 10), rng.randrange(160, 300, 10), 45.0
    ring = Ring.of(
        [(0, 0), (wide, 0), (wide, foot, -rng.choice((0.2, 0.25, 0.3))), (foot, tall), (0, tall)]
    )
    return ring, [Ring.circle(22, 22, 5), Ring.circle(22, tall - 22, 5)]


def rail(rng: random.Random) -> tuple[Ring, list[Ring]]:
    """A rail with slots for hooks."""
    long, deep = rng.randrange(420, 860, 20), rng.randrange(70, 120, 10)
    count = long // 140
    slots = [obround(long * (k + 0.5) / count, deep / 2, 60.0, 16.0) for k in range(count)]
    return rounded(0, 0, long, deep, 18), slots


def tray(rng: random.Random) -> tuple[Ring, list[Ring]]:
    """A drying tray with round holes, big enough to take small parts."""
    wide, deep = rng.randrange(300, 520, 20), rng.randrange(220, 340, 20)
    radius = rng.choice((28, 34, 42))
    columns, rows = wide // (2 * radius + 30), deep // (2 * radius + 30)
    holes = [
        Ring.circle(wide * (i + 0.5) / columns, deep * (k + 0.5) / rows, radius)
        for i in range(columns)
        for k in range(rows)
    ]
    return rounded(0, 0, wide, deep, 25), holes


def yoke(rng: random.Random) -> tuple[Ring, list[Ring]]:
    """A U-shaped yoke with a round bottom."""
    wide, tall, arm = rng.randrange(180, 320, 20), rng.randrange(160, 280, 20), 48.0
    inner = wide - 2 * arm
    return (
        Ring.of(
            [
                (0, 0),
                (wide, 0),
                (wide, tall),
                (wide - arm, tall),
                (wide - arm, arm + inner / 2, -1.0),
                (arm, arm + inner / 2),
                (arm, tall),
                (0, tall),
            ]
        ),
        [],
    )


def gusset(rng: random.Random) -> tuple[Ring, list[Ring]]:
    """A triangle with blunted corners."""
    wide, tall = rng.randrange(120, 240, 10), rng.randrange(110, 220, 10)
    return Ring.of([(0, 0), (wide, 0), (wide, 20), (20, tall), (0, tall)]), [
        Ring.circle(wide * 0.27, tall * 0.27, 12)
    ]


def disc(rng: random.Random) -> tuple[Ring, list[Ring]]:
    """A turntable disc with a centre hole."""
    radius = rng.randrange(50, 130, 5)
    return Ring.circle(radius, radius, radius), [Ring.circle(radius, radius, 8)]


def crook(rng: random.Random) -> tuple[Ring, list[Ring]]:
    """A hook with a round throat."""
    size = float(rng.randrange(110, 190, 10))
    return (
        Ring.of(
            [
                (0, 0),
                (size, 0, 0.4),
                (size, size * 0.7),
                (size * 0.72, size * 0.7, -0.9),
                (size * 0.3, size * 0.7),
                (size * 0.3, size * 1.4),
                (0, size * 1.4),
            ]
        ),
        [Ring.circle(size * 0.15, size * 1.22, 5)],
    )


def make_kiln_wall(folder: Path) -> None:
    folder.mkdir(parents=True, exist_ok=True)
    rng = random.Random(11)
    birch = Material("Birch ply 12", 12.0, (Reading(11.9),), density_kg_m3=695.0)
    mdf = Material(
        "MDF 19", 19.0, (Reading(19.1), Reading(19.05)), density_kg_m3=740.0, grained=False
    )
    families = (
        ("brackets", bracket, 6, birch, 5),
        ("rails", rail, 6, birch, 3),
        ("trays", tray, 6, birch, 3),
        ("yokes", yoke, 6, mdf, 4),
        ("gussets", gusset, 6, birch, 5),
        ("discs", disc, 4, mdf, 5),
        ("hooks", crook, 5, mdf, 4),
    )
    shop = Shop(
        machine=Machine(
            "Gantry router",
            (1250.0, 900.0),
            (1300.0, 950.0),
            (Cutter(6.0, 25.0), Cutter(3.0, 12.0)),
        ),
        materials=(birch, mdf),
        stock=(
            Stock("birch-2440", birch.name, 2440.0, 1220.0, None, 58.0),
            Stock("birch-offcut-1", birch.name, 1100.0, 610.0, 1, in_rack=True),
            Stock(
                "birch-offcut-2",
                birch.name,
                900.0,
                700.0,
                1,
                points=((0, 0), (900, 0), (900, 380), (520, 700), (0, 700)),
                in_rack=True,
            ),
            Stock("mdf-2440", mdf.name, 2440.0, 1220.0, None, 39.0),
            Stock("mdf-offcut-1", mdf.name, 1220.0, 640.0, 1, in_rack=True),
        ),
        limits=Limits(lift_kg=25.0),
        rules=Rules(edge_margin_mm=8.0, kerf_mm=3.0, currency="€"),
    )
    project = Project("Kiln wall", "mm", shop=shop, seed=3)
    wanted: dict[str, dict[str, object]] = {}
    for name, make, count, material, quantity in families:
        items: list[DrawItem] = []
        x = 0.0
        for number in range(1, count + 1):
            outer, holes = make(rng)
            x1, _, x2, _ = outer.bounds
            label = f"{name[:-1].capitalize()} {number}"
            shift = x - x1
            items += panel_items(
                label, _shifted(outer, shift), [_shifted(hole, shift) for hole in holes]
            )
            x += x2 - x1 + 30.0
            wanted[label] = {"quantity": quantity}
        write_dxf(folder / f"{name}.dxf", items)
        project = add_drawing(
            project,
            folder / f"{name}.dxf",
            defaults=PanelDefaults(material.name, Grain.ALONG if name == "rails" else Grain.FREE),
            project_dir=folder,
        ).project
    long_rail = rounded(0.0, 0.0, 1900.0, 140.0, 30.0)
    items = panel_items(
        "Top rail", long_rail, [Ring.circle(150 + 400 * k, 70, 20) for k in range(5)]
    )
    items.append(PathItem.line("ENGRAVE 0.5", (100.0, 20.0), (800.0, 20.0)))
    write_dxf(folder / "top_rail.dxf", items)
    project = add_drawing(
        project,
        folder / "top_rail.dxf",
        defaults=PanelDefaults(birch.name, Grain.ALONG),
        project_dir=folder,
    ).project
    wanted["Top rail"] = {"quantity": 2}
    save_project(with_panels(project, wanted), folder / "kiln_wall.json")


def _shifted(ring: Ring, x_mm: float) -> Ring:
    return Ring(tuple((x + x_mm, y, bulge) for x, y, bulge in ring.vertices))


def with_panels(project: Project, changes: dict[str, dict[str, object]]) -> Project:
    """The project with fields of panels set, by panel name."""
    missing = set(changes) - {panel.name for panel in project.panels}
    if missing:
        raise SystemExit(f"no such panel: {', '.join(sorted(missing))}")
    panels = tuple(replace(p, **changes.get(p.name, {})) for p in project.panels)  # type: ignore[arg-type]
    return replace(project, panels=panels)


def main() -> None:
    """Write all three demos beside this script."""
    make_studio_counter(HERE / "studio_counter")
    make_glaze_shelves(HERE / "glaze_shelves")
    make_kiln_wall(HERE / "kiln_wall")


if __name__ == "__main__":
    main()
