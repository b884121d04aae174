"""A plan as the plain data of plan.json."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any

from shapely.geometry import Polygon

from core.findings import Finding
from core.joints.access import Unreached
from core.joints.bits import PieceAccess
from core.outlines.model import Feature
from core.plan.model import Plan, PlanPanel, PlanPiece, PlanPlacement, PlanSheet, PlanWay
from core.project.model import Project

FORMAT = "seamwright-plan"
VERSION = 1


def _points(coords: Iterable[Sequence[float]]) -> list[list[float]]:
    rows = [[float(c[0]), float(c[1])] for c in coords]
    if len(rows) > 1 and rows[0] == rows[-1]:
        rows.pop()
    return rows


def _rings(polygon: Polygon) -> tuple[list[list[float]], list[list[list[float]]]]:
    return _points(polygon.exterior.coords), [_points(h.coords) for h in polygon.interiors]


def _feature(feature: Feature) -> dict[str, Any]:
    row: dict[str, Any] = {"kind": str(feature.kind)}
    if feature.ring is not None:
        row["outline"] = _points(feature.ring.flattened())
    if feature.islands:
        row["islands"] = [_points(island.flattened()) for island in feature.islands]
    if feature.path:
        row["path"] = _points(feature.path)
        row["at"] = list(feature.path[0])  # where the bit goes in
    if feature.at is not None:
        row["at"] = list(feature.at)
    if feature.diameter_mm is not None:
        row["diameter"] = feature.diameter_mm
    row["depth"] = feature.depth_mm
    if feature.clearance_mm and feature.depth_mm is not None:
        # The depths of two halves of a lap add up to the thickness; room to spare comes on top.
        row["depth"] = feature.depth_mm - feature.clearance_mm
        row["clearance"] = feature.clearance_mm
    row["face"] = str(feature.face)
    return row


def _piece(piece: PlanPiece) -> dict[str, Any]:
    outline, holes = _rings(piece.outline.polygon)
    cut_outline, cut_holes = _rings(piece.cut.polygon)
    pockets = [_feature(f) for f in piece.features if f.ring is not None]
    others = [_feature(f) for f in piece.features if f.ring is None]
    return {
        "id": piece.id,
        "panel": piece.panel,
        "name": piece.name,
        "loose": piece.loose,
        "outline": outline,
        "holes": holes,
        "cut": {
            "outline": cut_outline,
            "holes": cut_holes,
            "pockets": pockets,
            "features": others,
        },
        "material": piece.material,
        "thickness": piece.thickness_mm,
        "quantity": piece.quantity,
        "turns": None if piece.turns_deg is None else list(piece.turns_deg),
        "may_mirror": piece.may_mirror,
        "by": str(piece.by),
        "seams": list(piece.seams),
        "show_face": str(piece.show_face),
        "bits": _bits(piece.access),
        "unreached": [] if piece.access is None else [_spot(u) for u in piece.access.unreached],
    }


def _bits(access: PieceAccess | None) -> list[dict[str, Any]]:
    if access is None:
        return []
    return [
        {
            "diameter": need.cutter.diameter_mm,
            "depth": need.depth_mm,
            "places": [_spot(spot) for spot in need.places],
        }
        for need in access.needs
    ]


def _spot(spot: Unreached) -> dict[str, Any]:
    return {
        "kind": spot.kind,
        "at": list(spot.at),
        "area": spot.area_mm2,
        "largest_bit": spot.largest_bit_mm,
    }


def _panel(panel: PlanPanel) -> dict[str, Any]:
    outline, holes = _rings(panel.outline.polygon)
    return {
        "id": panel.id,
        "name": panel.name,
        "outline": outline,
        "holes": holes,
        "features": [_feature(f) for f in panel.features],
        "quantity": panel.quantity,
        "material": panel.material,
        "grain": panel.grain,
        "assembly": list(panel.assembly),
    }


def _placement(placement: PlanPlacement, piece: PlanPiece) -> dict[str, Any]:
    a, b, d, e, xoff, yoff = placement.motion.matrix()

    def lay(rows: list[list[float]]) -> list[list[float]]:
        return [[a * x + b * y + xoff, d * x + e * y + yoff] for x, y in rows]

    outline, holes = _rings(piece.cut.polygon)
    return {
        "piece": placement.piece,
        "copy": placement.copy,
        "blank": placement.blank,
        "setup": placement.setup,
        "x": placement.motion.x_mm,
        "y": placement.motion.y_mm,
        "rotation": placement.motion.turn_deg,
        "mirrored": placement.motion.mirrored,
        "locked": placement.locked,
        "outline": lay(outline),
        "holes": [lay(hole) for hole in holes],
    }


def _sheet(sheet: PlanSheet, plan: Plan) -> dict[str, Any]:
    return {
        "id": sheet.id,
        "number": sheet.number,
        "stock": sheet.stock.id,
        "material": sheet.stock.material,
        "outline": _points(sheet.stock.polygon.exterior.coords),
        "width": sheet.stock.width_mm,
        "height": sheet.stock.height_mm,
        "yield": sheet.yield_share,
        "mass_kg": sheet.mass_kg,
        "defects": [_points(defect.points) for defect in sheet.stock.defects],
        "placements": [_placement(p, plan.piece(p.piece)) for p in sheet.placements],
        "blanks": [
            {
                "id": b.id,
                "letter": b.letter,
                "x": b.x_mm,
                "y": b.y_mm,
                "width": b.width_mm,
                "height": b.height_mm,
            }
            for b in sheet.blanks
        ],
        "saw_cuts": [
            {
                "order": c.order,
                "x1": c.x1_mm,
                "y1": c.y1_mm,
                "x2": c.x2_mm,
                "y2": c.y2_mm,
                "frees": c.frees,
            }
            for c in sheet.saw_cuts
        ],
        "setups": [
            {
                "id": s.id,
                "blank": s.blank,
                "x": s.x_mm,
                "y": s.y_mm,
                "width": s.width_mm,
                "height": s.height_mm,
                "bed_x": s.bed_x_mm,
                "bed_y": s.bed_y_mm,
                "turned": s.turned,
                "notes": list(s.notes),
                "holds": [
                    {
                        "piece": h.piece,
                        "copy": h.copy,
                        "hole": h.hole,
                        "way": h.way,
                        "places": [list(p) for p in h.places],
                    }
                    for h in s.holds
                ],
                "screws": [list(p) for p in s.screws],
                "registration": {
                    "diameter": s.pin_mm,
                    "bores": [list(p) for p in s.bores],
                    "pins": [list(p) for p in s.pins],
                },
            }
            for s in sheet.setups
        ],
        "offcuts": [{"outline": _points(o.points), "keep": o.keep} for o in sheet.offcuts],
    }


def _finding(finding: Finding) -> dict[str, Any]:
    return {
        "code": finding.code,
        "severity": str(finding.severity),
        "message": finding.message,
        "panel": finding.panel,
        "at": None if finding.at is None else list(finding.at),
        "remedy": finding.remedy,
    }


def _way(way: PlanWay) -> dict[str, Any]:
    return {
        "material": way.material,
        "way": way.way,
        "possible": way.possible,
        "why": way.why,
        "pieces": way.pieces,
        "unplaced": way.unplaced,
        "sheets": way.sheets,
        "yield": way.yield_share,
        "net_yield": way.net_share,
        "saw_cuts": way.saw_cuts,
        "blanks": way.blanks,
        "setups": way.setups,
        "offcut_area": way.offcut_area_mm2,
        "cost": way.cost,
    }


def _origin(project: Project, panel_id: str) -> list[float]:
    panel = project.panel(panel_id)
    drawing = None
    if panel is not None:
        drawing = next((d for d in project.drawings if d.id == panel.drawing), None)
    return list(drawing.origin_mm) if drawing is not None else [0.0, 0.0]


def plan_json(plan: Plan) -> dict[str, Any]:
    """The plan as the plain data of plan.json; lengths mm, full double precision.

    Curves are flattened once, sagitta at most FLATTEN_SAGITTA_MM; rings do not repeat their
    first point.
    """
    shop = plan.project.shop
    panels = []
    for panel in plan.panels:
        row = _panel(panel)
        origin = _origin(plan.project, panel.id)
        if any(origin):
            row["origin"] = origin
        panels.append(row)
    return {
        "format": FORMAT,
        "version": VERSION,
        "units": "mm",
        "steps": plan.steps,
        "seed": plan.seed,
        "sheet_bound": plan.sheet_bound,
        "rules": {
            "spacing": shop.spacing_mm,
            "edge_margin": shop.rules.edge_margin_mm,
            "kerf": shop.rules.kerf_mm,
            "edge_trim": shop.rules.edge_trim_mm,
            "fit": shop.rules.fit_mm,
        },
        "machine": {
            "travel": list(shop.machine.travel_mm),
            "table": list(shop.machine.table_mm),
            "open_ended": shop.machine.open_ended,
            "cutters": [cutter.diameter_mm for cutter in shop.machine.cutters],
        },
        "panels": panels,
        "pieces": [_piece(piece) for piece in plan.pieces],
        "seams": [
            {
                "id": seam.id,
                "letter": seam.letter,
                "panel": seam.panel,
                "style": seam.style,
                "pieces": list(seam.pieces),
                "line": [list(p) for p in seam.line],
                "profile": [list(p) for p in seam.profile],
                "stretches": [[list(p) for p in stretch] for stretch in seam.stretches],
                "fit": seam.fit_mm,
                "joint_length": seam.joint_length_mm,
            }
            for seam in plan.seams
        ],
        "sheets": [_sheet(sheet, plan) for sheet in plan.sheets],
        "unplaced": [{"piece": u.piece, "copy": u.copy, "reason": u.reason} for u in plan.unplaced],
        "findings": [_finding(finding) for finding in plan.findings],
        "purchase": [
            {
                "stock": line.stock,
                "material": line.material,
                "width": line.width_mm,
                "height": line.height_mm,
                "quantity": line.quantity,
                "in_rack": line.in_rack,
                "cost": line.cost,
                "mass_kg": line.mass_kg,
            }
            for line in plan.purchase
        ],
        "ways": [_way(way) for way in plan.ways],
        "totals": {
            "sheets": len(plan.sheets),
            "piece_area": plan.piece_area_mm2,
            "sheet_area": plan.sheet_area_mm2,
            "yield": plan.yield_share,
            "offcut_area": plan.offcut_area_mm2,
            "scrap_area": plan.scrap_area_mm2,
            "cost": plan.cost,
        },
    }
