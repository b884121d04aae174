"""What a cut piece must stay within, worked out from the shop; and whether it does."""

from __future__ import annotations

from collections.abc import Sequence

import shapely
from shapely.geometry.base import BaseGeometry

from core.findings import Finding, Severity
from core.geometry.fitting import Fit, FloatArray, best_fit, hull_points
from core.project.model import Grain, Panel
from core.shop import Machine, Shop, Stock
from core.splitting.model import Piece, PieceLimits, SplitPanel
from core.tolerances import SLANT_TOLD_DEG


def free_rectangles(machine: Machine) -> tuple[tuple[float, float, float, float], ...]:
    """Largest rectangles (x, y, width, height) of the travel that keep off clamp zones.

    They bound the bit's centre: zones are grown by the bit's radius and the safety distance.
    None contains another; widest area first.
    """
    width, height = machine.travel_mm
    grow = machine.cutter.radius_mm + machine.clamp_safety_mm
    zones = [
        (z.x_mm - grow, z.y_mm - grow, z.x_mm + z.width_mm + grow, z.y_mm + z.height_mm + grow)
        for z in machine.clamps
    ]
    zones = [z for z in zones if z[0] < width and z[1] < height and z[2] > 0 and z[3] > 0]
    free = [(0.0, 0.0, width, height)]
    for zx1, zy1, zx2, zy2 in zones:
        after: list[tuple[float, float, float, float]] = []
        for x1, y1, x2, y2 in free:
            if zx1 >= x2 or zx2 <= x1 or zy1 >= y2 or zy2 <= y1:
                after.append((x1, y1, x2, y2))
                continue
            after += [(x1, y1, zx1, y2), (zx2, y1, x2, y2), (x1, y1, x2, zy1), (x1, zy2, x2, y2)]
        after = [r for r in after if r[2] - r[0] > 1e-6 and r[3] - r[1] > 1e-6]
        free = [
            r
            for k, r in enumerate(after)
            if not any(
                _within(r, other) and (not _within(other, r) or j < k)
                for j, other in enumerate(after)
                if j != k
            )
        ]
    free.sort(key=lambda r: -(r[2] - r[0]) * (r[3] - r[1]))
    return tuple((x1, y1, x2 - x1, y2 - y1) for x1, y1, x2, y2 in free)


def _within(a: tuple[float, float, float, float], b: tuple[float, float, float, float]) -> bool:
    return a[0] >= b[0] and a[1] >= b[1] and a[2] <= b[2] and a[3] <= b[3]


def _undominated(sizes: Sequence[tuple[float, float]]) -> tuple[tuple[float, float], ...]:
    kept: list[tuple[float, float]] = []
    for w, h in sorted(set(sizes), key=lambda s: -s[0] * s[1]):
        if w > 0 and h > 0 and not any(w <= a and h <= b for a, b in kept):
            kept.append((w, h))
    return tuple(kept)


def limits_for(panel: Panel, shop: Shop) -> PieceLimits:
    """Limits of one panel's cut pieces in this shop.

    A piece must lie in the travel free of clamps, on a blank that the table takes (the edge
    margin is kept all round) and, where sheets of its material are listed, on one of them in a
    turn the grain allows. Mass and planer bound the blank it comes from.
    """
    machine, rules = shop.machine, shop.rules
    d = machine.cutter.diameter_mm
    margin = rules.edge_margin_mm
    table = (machine.table_mm[0] - 2 * margin, machine.table_mm[1] - 2 * margin)
    if machine.open_ended:
        table = (float("inf"), table[1])
    rooms = [
        (min(w - d, table[0]), min(h - d, table[1])) for _, _, w, h in free_rectangles(machine)
    ]
    material = shop.material(panel.material)
    stocks = [s for s in shop.stock if s.material == panel.material and not s.points]
    grained = panel.grain is not Grain.FREE
    sizes: list[tuple[float, float]] = []
    for w, h in rooms:
        if not stocks:
            sizes += [(w, h), (h, w)] if grained else [(w, h)]
            continue
        for stock in stocks:
            sizes += _on_stock(w, h, stock, margin, panel.grain)
    turns: tuple[float, ...] | None = (0.0,) if grained else None
    max_kg = min(
        (kg for kg in (machine.max_blank_kg, shop.limits.lift_kg) if kg is not None), default=None
    )
    kg_per_mm2 = 0.0
    planer = None
    if material is not None:
        kg_per_mm2 = material.density_kg_m3 * material.thickness_mm * 1e-9
        if material.raw_mm is not None:
            kg_per_mm2 = material.density_kg_m3 * material.raw_mm * 1e-9
            planer = shop.limits.planer_width_mm
    return PieceLimits(
        envelopes_mm=_undominated(sizes),
        radius_mm=machine.cutter.radius_mm,
        turns_deg=turns,
        blank_margin_mm=margin,
        max_kg=max_kg,
        kg_per_mm2=kg_per_mm2,
        planer_width_mm=planer,
    )


def _on_stock(
    w: float, h: float, stock: Stock, margin: float, grain: Grain
) -> list[tuple[float, float]]:
    """Rooms both the machine and one sheet give a piece, in the panel's own turn."""
    s, t = stock.width_mm - 2 * margin, stock.height_mm - 2 * margin
    if grain is Grain.ACROSS:
        # The panel's x runs across the sheet.
        s, t = t, s
    both = [(min(w, s), min(h, t)), (min(h, s), min(w, t))]
    # At any angle a room and the same lying down are one.
    return [both[0], (both[1][1], both[1][0])] if grain is Grain.FREE else both


def fit_piece(shape: BaseGeometry | FloatArray, limits: PieceLimits) -> Fit | None:
    """How a cut piece lies best within its limits: the room in which it fits best.

    shape: polygon or (n, 2) points. None if the limits leave no room at all. A piece that is
    too heavy or too wide for the planer has a ratio over 1.
    """
    points = hull_points(shape)
    best: Fit | None = None
    for w, h in limits.envelopes_mm:
        fit = best_fit(points, w, h, turns_deg=limits.turns_deg)
        ratio = fit.ratio
        m = 2 * limits.blank_margin_mm
        if limits.max_kg is not None and limits.kg_per_mm2 > 0.0:
            kg = (fit.width_mm + m) * (fit.height_mm + m) * limits.kg_per_mm2
            ratio = max(ratio, kg / limits.max_kg)
        if limits.planer_width_mm is not None:
            narrow = min(fit.width_mm, fit.height_mm) + m
            ratio = max(ratio, narrow / limits.planer_width_mm)
        if ratio != fit.ratio:
            fit = Fit(ratio, fit.turn_deg, fit.width_mm, fit.height_mm, fit.x_mm, fit.y_mm)
        if best is None or fit.ratio < best.ratio:
            best = fit
    return best


def limit_findings(split: SplitPanel, limits: PieceLimits) -> tuple[Finding, ...]:
    """A stop for every piece that is too big, saying by how much."""
    found: list[Finding] = []
    for piece in split.pieces:
        problem = too_big(piece, limits)
        if problem is not None:
            found.append(problem)
    return tuple(found)


def too_big(piece: Piece, limits: PieceLimits) -> Finding | None:
    """The stop finding of a piece that fits no machine room, None if it fits."""
    fit = fit_piece(piece.cut.polygon, limits)
    if fit is not None and fit.fits:
        return None
    centre = piece.cut.polygon.representative_point()
    name = piece.name or piece.id
    if fit is None:
        message = f'"{name}" cannot be cut: the machine has no room free of clamps'
    else:
        w, h = min(
            limits.envelopes_mm,
            key=lambda e: max(fit.width_mm / e[0], fit.height_mm / e[1]),
        )
        over = [
            f"{extra:.1f} mm too {word}"
            for extra, word in ((fit.width_mm - w, "long"), (fit.height_mm - h, "wide"))
            if extra > 1e-6
        ]
        if not over:
            over = ["too heavy for one person or too wide for the planer"]
        size = (fit.width_mm, fit.height_mm)
        slanted = abs((fit.turn_deg + 45.0) % 90.0 - 45.0) > SLANT_TOLD_DEG
        if slanted:
            x1, y1, x2, y2 = piece.cut.polygon.bounds
            size = (x2 - x1, y2 - y1)
        message = (
            f'"{name}" is {size[0]:.1f} × {size[1]:.1f} mm, '
            + (f"turned by {fit.turn_deg:.0f}° still " if slanted else "")
            + " and ".join(over)
            + f" (room {w:.1f} × {h:.1f} mm)"
        )
    return Finding(
        "piece-too-big",
        Severity.STOP,
        message,
        panel=piece.panel_id,
        at=(centre.x, centre.y),
        remedy="Split it, or move the seam.",
    )


def door_finding(panel: Panel, shop: Shop) -> Finding | None:
    """A warning if the assembled panel does not go through the door, None if it does."""
    door = shop.limits.door_mm
    if door is None:
        return None
    points = hull_points(panel.region.polygon)
    around = shapely.minimum_rotated_rectangle(shapely.multipoints(points))
    ring = shapely.get_coordinates(around)
    sides = sorted(
        (
            float(((ring[1] - ring[0]) ** 2).sum() ** 0.5),
            float(((ring[2] - ring[1]) ** 2).sum() ** 0.5),
        )
    )
    if sides[0] <= max(door):
        return None
    return Finding(
        "panel-door",
        Severity.WARN,
        f'"{panel.name}" put together is {sides[0]:.0f} mm across and does not pass a door of '
        f"{door[0]:.0f} × {door[1]:.0f} mm",
        panel=panel.id,
        remedy="Put it together where it will stand.",
    )


__all__ = [
    "door_finding",
    "fit_piece",
    "free_rectangles",
    "limit_findings",
    "limits_for",
    "too_big",
]
