"""A plan checked from the outside: plan.json and the DXF files, with shapely and ezdxf alone.

Nothing of the planner is imported here. Each function returns sentences about what is wrong.
"""

from __future__ import annotations

import json
import math
from itertools import combinations, product
from pathlib import Path
from typing import Any

import ezdxf
import shapely
from shapely import affinity
from shapely.geometry import Point, Polygon, box

SLACK_MM = 1e-3
DXF_TOL_MM = 0.05


def load(folder: Path) -> dict[str, Any]:
    plan = json.loads((folder / "plan.json").read_text(encoding="utf-8"))
    assert plan["format"] == "seamwright-plan"
    assert plan["version"] == 1
    assert plan["units"] == "mm"
    return plan  # type: ignore[no-any-return]


def polygon(row: dict[str, Any]) -> Polygon:
    return Polygon(row["outline"], row.get("holes") or [])


def partition(plan: dict[str, Any]) -> list[str]:
    """Pieces of a panel cover it exactly once."""
    wrong = []
    for panel in plan["panels"]:
        whole = polygon(panel)
        parts = [polygon(p) for p in plan["pieces"] if p["panel"] == panel["id"] and not p["loose"]]
        if not parts:
            wrong.append(f"{panel['id']} has no pieces")
            continue
        union = shapely.union_all(parts)
        limit = 1e-6 * whole.area
        doubled = sum(p.area for p in parts) - union.area
        off = union.symmetric_difference(whole).area
        if abs(doubled) > limit or off > limit:
            wrong.append(f"{panel['id']}: overlap {doubled:.6f}, off by {off:.6f} mm²")
    return wrong


def mates(plan: dict[str, Any]) -> list[str]:
    """Cuts of the pieces of one panel stay apart where they are cut right through."""
    wrong = []
    pieces = {p["id"]: p for p in plan["pieces"]}
    for seam in plan["seams"]:
        a, b = (pieces[p] for p in seam["pieces"])
        first, second = polygon(a["cut"]), polygon(b["cut"])
        lap = first.intersection(second)
        if lap.area > 1e-3:
            wrong += [f"seam {seam['id']}: {what}" for what in _laps(a, b, lap)]
    return wrong


def _laps(one: dict[str, Any], two: dict[str, Any], lap: Polygon) -> list[str]:
    """Where cuts overlap both are pocketed from opposite faces, together to the thickness."""
    wrong, open_still = [], lap
    for p, q in product(one["cut"]["pockets"], two["cut"]["pockets"]):
        first, second = Polygon(p["outline"]), Polygon(q["outline"])
        if not (first.is_valid and second.is_valid):
            wrong.append("a pocket's outline crosses itself")
            continue
        # Buffers of nothing leave areas alone: lines and points fall away.
        shared = first.intersection(second).buffer(0).intersection(lap.buffer(0)).buffer(0)
        if shared.area <= 1e-3:
            continue
        if p["face"] == q["face"]:
            wrong.append(f"both mates are pocketed from the {p['face']}")
        if abs(p["depth"] + q["depth"] - one["thickness"]) > 1e-6:
            wrong.append(f"pockets of {p['depth']} and {q['depth']} in {one['thickness']}")
        # A mate's edge and its mate's pocket may differ by the flattening of a curve.
        open_still = open_still.difference(shared.buffer(0.01))
    if open_still.area > 1e-3:
        wrong.append(f"cuts overlap by {open_still.area:.4f} mm² without a pocket")
    return wrong


def layout(plan: dict[str, Any]) -> list[str]:
    """Placements: as stated, on the sheet, off defects, apart by the spacing, in blank and bed."""
    wrong = []
    rules = plan["rules"]
    pieces = {p["id"]: p for p in plan["pieces"]}
    wanted = {
        (p["id"], copy)
        for p in plan["pieces"]
        for copy in range(
            1,
            p["quantity"] * next(q["quantity"] for q in plan["panels"] if q["id"] == p["panel"])
            + 1,
        )
    }
    seen: list[tuple[str, int]] = [(u["piece"], u["copy"]) for u in plan["unplaced"]]
    for sheet in plan["sheets"]:
        margin = rules["edge_margin"]
        outline = Polygon(sheet["outline"])
        shapes = []
        for p in sheet["placements"]:
            seen.append((p["piece"], p["copy"]))
            piece = pieces[p["piece"]]
            shape = polygon(p)
            shapes.append((p, shape))
            again = polygon(piece["cut"])
            if p["mirrored"]:
                again = affinity.scale(again, -1, 1, origin=(0, 0))
            again = affinity.rotate(again, p["rotation"], origin=(0, 0))
            again = affinity.translate(again, p["x"], p["y"])
            if again.symmetric_difference(shape).area > 1e-3:
                wrong.append(f"{p['piece']}: its outline is not its cut laid down")
            turns = piece["turns"]
            if turns is not None and not any(
                abs((p["rotation"] - t + 180) % 360 - 180) < 1e-6 for t in turns
            ):
                wrong.append(f"{p['piece']}: turn {p['rotation']} is not allowed")
            if p["mirrored"] and not piece["may_mirror"]:
                wrong.append(f"{p['piece']}: mirrored although it may not be")
            by_saw = piece["by"] == "saw"
            room = outline if by_saw else outline.buffer(-(margin - SLACK_MM), join_style="mitre")
            if not room.buffer(SLACK_MM).covers(shape):
                wrong.append(f"{p['piece']} on {sheet['id']}: over the edge margin")
            for defect in sheet["defects"]:
                if Polygon(defect).intersection(shape).area > 1e-6:
                    wrong.append(f"{p['piece']} on {sheet['id']}: on a defect")
            if not by_saw:
                wrong += _in_blank(plan, sheet, p, shape)
        for (p, first), (q, second) in combinations(shapes, 2):
            gap = rules["kerf"] if pieces[p["piece"]]["by"] == "saw" else rules["spacing"]
            if first.distance(second) < gap - SLACK_MM:
                wrong.append(f"{sheet['id']}: {p['piece']} and {q['piece']} too close")
        for saw_cut in sheet["saw_cuts"]:
            line = shapely.LineString(
                [(saw_cut["x1"], saw_cut["y1"]), (saw_cut["x2"], saw_cut["y2"])]
            ).buffer(rules["kerf"] / 2 - 1e-6, cap_style="flat")
            for p, shape in shapes:
                if line.intersection(shape).area > 1e-3:
                    wrong.append(f"{sheet['id']}: saw cut {saw_cut['order']} through {p['piece']}")
        for offcut in sheet["offcuts"]:
            for p, shape in shapes:
                if Polygon(offcut["outline"]).intersection(shape).area > 1e-3:
                    wrong.append(f"{sheet['id']}: an offcut overlaps {p['piece']}")
    if len(seen) != len(set(seen)) or set(seen) != wanted:
        wrong.append("copies are missing, doubled or unknown")
    return wrong


def _in_blank(plan: dict[str, Any], sheet: dict[str, Any], p: Any, shape: Polygon) -> list[str]:
    wrong = []
    blanks = {b["id"]: b for b in sheet["blanks"]}
    b = blanks.get(p["blank"])
    if b is None:
        return [f"{p['piece']} on {sheet['id']}: in no blank"]
    table = plan["machine"]["table"]
    size = (b["width"], b["height"])
    long = math.inf if plan["machine"]["open_ended"] else table[0]
    if not any(w <= long + 1e-6 and h <= table[1] + 1e-6 for w, h in (size, size[::-1])):
        wrong.append(f"blank {b['id']} is larger than the table")
    margin = plan["rules"]["edge_margin"] - SLACK_MM
    inside = box(
        b["x"] + margin,
        b["y"] + margin,
        b["x"] + b["width"] - margin,
        b["y"] + b["height"] - margin,
    )
    if not inside.covers(shape):
        wrong.append(f"{p['piece']}: over the margin of blank {b['id']}")
    setup = next((s for s in sheet["setups"] if s["id"] == p["setup"]), None)
    if setup is None or setup["blank"] != b["id"]:
        return [*wrong, f"{p['piece']} is in no setup of blank {b['id']}"]
    stretch = box(setup["x"], setup["y"], setup["x"] + setup["width"], setup["y"] + setup["height"])
    if not stretch.buffer(SLACK_MM).covers(shape):
        wrong.append(f"{p['piece']}: not wholly in the stretch of setup {setup['id']}")
    # As the blank lies on the table, swept by the bit.
    lying = affinity.translate(shape, -setup["x"], -setup["y"])
    if setup["turned"]:
        lying = affinity.affine_transform(lying, (0, -1, 1, 0, setup["height"], 0))
    lying = affinity.translate(lying, setup["bed_x"], setup["bed_y"])
    radius = max(plan["machine"]["cutters"][:1]) / 2
    x1, y1, x2, y2 = lying.bounds
    travel = plan["machine"]["travel"]
    if (
        x1 - radius < -SLACK_MM
        or y1 - radius < -SLACK_MM
        or x2 + radius > travel[0] + SLACK_MM
        or y2 + radius > travel[1] + SLACK_MM
    ):
        wrong.append(f"{p['piece']}: the bit's sweep leaves the travel")
    return wrong


def screws(plan: dict[str, Any]) -> list[str]:
    """Places for screws lie on the board as it is, clear of everything the bit cuts."""
    wrong = []
    for sheet in plan["sheets"]:
        board = Polygon(sheet["outline"])
        bad = [Polygon(d["outline"]) for d in sheet["defects"]]
        for setup in sheet["setups"]:
            for place in setup["screws"]:
                at, name = Point(place), f"{setup['id']}: the screw at {place}"
                if not board.contains(at) or any(d.intersects(at) for d in bad):
                    wrong.append(f"{name} is not in sound board")
                if any(polygon(p).distance(at) <= 1.0 for p in sheet["placements"]):
                    wrong.append(f"{name} is in a piece")
    return wrong


def totals(plan: dict[str, Any]) -> list[str]:
    """Sums agree with what they sum."""
    pieces = {p["id"]: p for p in plan["pieces"]}
    area = sum(Polygon(s["outline"]).area for s in plan["sheets"])
    used = sum(
        polygon(pieces[p["piece"]]["cut"]).area for s in plan["sheets"] for p in s["placements"]
    )
    t = plan["totals"]
    wrong = []
    if t["sheets"] != len(plan["sheets"]):
        wrong.append("number of sheets")
    for name, told, found in (
        ("sheet area", t["sheet_area"], area),
        ("piece area", t["piece_area"], used),
        ("yield", t["yield"], used / area if area else 0.0),
        ("scrap", t["scrap_area"], area - t["piece_area"] - t["offcut_area"]),
    ):
        # Told from true arcs, found from chords within 0.005 mm of them.
        if not math.isclose(told, found, rel_tol=1e-4, abs_tol=1e-6):
            wrong.append(f"{name}: {told} told, {found} found")
    return wrong


def drawings(plan: dict[str, Any], folder: Path) -> list[str]:
    """The sheet DXFs hold each placed outline within DXF_TOL_MM, and pass the audit."""
    wrong = []
    for path in sorted((folder / "sheets").glob("*.dxf")) + sorted(
        (folder / "setups").glob("*.dxf")
    ):
        document = ezdxf.readfile(path)
        if document.audit().errors:
            wrong.append(f"{path.name}: audit finds errors")
        if document.units != 4:
            wrong.append(f"{path.name}: not in millimetres")
    for sheet in plan["sheets"]:
        path = folder / "sheets" / f"sheet-{sheet['number']:02d}.dxf"
        if not path.exists():
            wrong.append(f"{sheet['id']} has no drawing")
            continue
        rings = _rings(path)
        for p in sheet["placements"]:
            for ring in [p["outline"], *p["holes"]]:
                want = Polygon(ring)
                if not any(_same(want, got) for got in rings):
                    wrong.append(f"{path.name}: {p['piece']} copy {p['copy']} is not drawn")
                    break
    return wrong


def _same(want: Polygon, got: Polygon) -> bool:
    near = all(abs(a - b) < DXF_TOL_MM for a, b in zip(want.bounds, got.bounds, strict=True))
    return near and want.exterior.hausdorff_distance(got.exterior) < DXF_TOL_MM


def _rings(path: Path) -> list[Polygon]:
    """Every closed polyline and circle of the drawing, arcs flattened from the true circle."""
    found = []
    for entity in ezdxf.readfile(path).modelspace():
        kind = entity.dxftype()
        points: list[tuple[float, float]] = []
        if kind == "CIRCLE":
            points = [(v.x, v.y) for v in entity.flattening(0.005)]  # type: ignore[attr-defined]
        elif kind in ("LWPOLYLINE", "POLYLINE") and entity.is_closed:  # type: ignore[attr-defined]
            for part in entity.virtual_entities():  # type: ignore[attr-defined]
                if part.dxftype() == "LINE":
                    row = [(v.x, v.y) for v in (part.dxf.start, part.dxf.end)]
                else:
                    row = [(v.x, v.y) for v in part.flattening(0.005)]
                    # An arc always runs counter-clockwise, its polyline perhaps not.
                    if points and math.dist(row[-1], points[-1]) < math.dist(row[0], points[-1]):
                        row.reverse()
                points += row
            if points and math.dist(points[0], points[-1]) > 1e-6:
                first = next(iter(entity.virtual_entities()))  # type: ignore[attr-defined]
                if first.dxftype() == "ARC":
                    # The first arc had nothing to join on to: try it the other way round.
                    count = len(list(first.flattening(0.005)))
                    points[:count] = points[:count][::-1]
        if len(points) > 3:
            found.append(Polygon(points))
    return found


def everything(folder: Path) -> list[str]:
    """All that is wrong with a plan's folder."""
    plan = load(folder)
    return [
        *partition(plan),
        *mates(plan),
        *layout(plan),
        *screws(plan),
        *totals(plan),
        *drawings(plan, folder),
    ]
