"""What lies where: pieces, copies and sheets of the layout as the Sheets stage sees them.

No Qt here. Everything is worked out from the piece set, the kept layout and the shop, so a
layout being searched for can be shown in the same way as the one in the document.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property, lru_cache
from typing import TYPE_CHECKING

import numpy as np
import shapely
from shapely.geometry import Polygon

from app.canvas.contact import Contact, Kind, Mover, Obstacle
from app.stages.sheets_motions import bounds_of, shifted
from app.stages.sheets_shapes import Bounds, Laid, Shapes, gap_of_bounds, laid_polygon
from core.geometry import Motion
from core.plan import PlanPiece
from core.project.model import CutBy, KeptLayout, Placed, Project, Rank
from core.shop import Shop, Stock
from core.tolerances import LAYOUT_DISTANCE_MM, LAYOUT_OVERLAP_REL, LAYOUT_TURN_DEG

if TYPE_CHECKING:
    from core.layout.arrangement import Arrangement
    from core.planning import PieceSet

Key = tuple[str, int]  # piece id, copy
SheetKey = tuple[str, int]  # stock id, copy
_NEAR_MM = 1.0  # beyond the distance to be kept, what a piece that stays is not asked about


@dataclass(frozen=True)
class Bench:
    """The pieces to be cut and where each copy lies.

    placed: copies that lie on a sheet of the shop and are still the piece they were placed as;
    tray: all others, in the order of the pieces.
    """

    shop: Shop
    pieces: Mapping[str, PlanPiece]
    tints: Mapping[str, int]
    copies: tuple[Key, ...]
    placed: Mapping[Key, Placed]
    layout: KeptLayout
    breakdown: str = "blanks"
    extra: tuple[SheetKey, ...] = field(default=())
    shapes: Shapes = field(default_factory=Shapes, compare=False, repr=False)

    @cached_property
    def tray(self) -> tuple[Key, ...]:
        """Copies that lie nowhere."""
        return tuple(key for key in self.copies if key not in self.placed)

    @cached_property
    def tray_counts(self) -> dict[str, int]:
        """Piece id → copies in the tray."""
        counts: dict[str, int] = {}
        for piece, _ in self.tray:
            counts[piece] = counts.get(piece, 0) + 1
        return counts

    @cached_property
    def stocks(self) -> dict[str, Stock]:
        """Stock by id."""
        return {stock.id: stock for stock in self.shop.stock}

    @cached_property
    def used_sheets(self) -> tuple[SheetKey, ...]:
        """Sheets that carry pieces, in the order of the shop's list."""
        order = {stock.id: k for k, stock in enumerate(self.shop.stock)}
        found = {(p.sheet, p.sheet_copy) for p in self.placed.values()}
        return tuple(sorted(found, key=lambda key: (order[key[0]], key[1])))

    @cached_property
    def sheets(self) -> tuple[SheetKey, ...]:
        """Sheets on the floor: those in use, those laid out by hand, and one to go on with for
        each material that has pieces in the tray."""
        found = list(self.used_sheets)
        sawn = tuple((s.sheet, s.sheet_copy) for s in self.layout.sheets if s.frozen)
        for key in (*sawn, *self.extra):
            if key not in found and self.can_have(key):
                found.append(key)
        for material in dict.fromkeys(self.pieces[piece].material for piece, _ in self.tray):
            empty = any(
                key not in self.used_sheets and self.stocks[key[0]].material == material
                for key in found
            )
            spare = None if empty else self.next_sheet(material)
            if spare is not None:
                found.append(spare)
        return tuple(found)

    def can_have(self, key: SheetKey) -> bool:
        """True if the shop has, or can buy, a sheet of that number."""
        stock = self.stocks.get(key[0])
        return stock is not None and (stock.quantity is None or key[1] <= stock.quantity)

    def next_sheet(self, material: str, taken: Iterable[SheetKey] = ()) -> SheetKey | None:
        """The next unused sheet of a material, the rack before the yard."""
        gone = {*self.used_sheets, *taken}
        rows = [s for s in self.shop.stock if s.material == material]
        for stock in sorted(rows, key=lambda s: not s.in_rack):
            key = self.next_of(stock.id, gone)
            if key is not None:
                return key
        return None

    def next_of(self, stock: str, taken: Iterable[SheetKey]) -> SheetKey | None:
        """The lowest free number of a stock, or None if there is no more of it."""
        gone = set(taken)
        number = 1
        while (stock, number) in gone:
            number += 1
        return (stock, number) if self.can_have((stock, number)) else None

    def on(self, sheet: SheetKey) -> list[Key]:
        """Copies that lie on a sheet."""
        return [key for key, p in self.placed.items() if (p.sheet, p.sheet_copy) == sheet]

    def shape(self, key: Key) -> Polygon:
        """The cut outline where it lies, sheet coordinates."""
        return self.laid(key).polygon

    def laid(self, key: Key) -> Laid:
        """The cut outline where it lies, with its bounds and edges."""
        return self.shapes.laid(key, self.pieces[key[0]], self.placed[key].motion)

    @cached_property
    def _copies_of(self) -> Counter[str]:
        return Counter(piece for piece, _ in self.copies)

    def name(self, key: Key) -> str:
        """What a person calls the copy."""
        piece = self.pieces[key[0]]
        return f"{piece.name} · {key[1]}" if self._copies_of[key[0]] > 1 else piece.name

    # --- distances ------------------------------------------------------------------------
    def keep_mm(self, keys: Iterable[Key]) -> float:
        """Distance between pieces: spacing, or a kerf where only the saw cuts."""
        by_saw = all(self.pieces[piece].by is CutBy.SAW for piece, _ in keys)
        return self.shop.rules.kerf_mm if by_saw else self.shop.spacing_mm

    def surroundings(
        self, sheet: SheetKey, moving: Sequence[Key], near: Bounds | None = None
    ) -> list[Obstacle]:
        """Everything the moving copies must keep away from on a sheet.

        near: bounds of the moving copies if they stay where they are; pieces too far from them to
        matter are then left out.
        """
        stock = self.stocks[sheet[0]]
        rules = self.shop.rules
        keep = self.keep_mm(moving)
        by_saw = all(self.pieces[piece].by is CutBy.SAW for piece, _ in moving)
        margin = rules.edge_trim_mm if by_saw else rules.edge_margin_mm
        found = [Obstacle("", stock.polygon, margin, Kind.EDGE)]
        gone = set(moving)
        for key in self.on(sheet):
            if key not in gone:
                apart = min(keep, self.keep_mm([key]))
                laid = self.laid(key)
                if near is None or gap_of_bounds(near, laid.bounds) <= apart + _NEAR_MM:
                    found.append(Obstacle(_joined(key), laid.polygon, apart, edges=laid.edges))
        for number, defect in enumerate(stock.defects):
            found.append(Obstacle(str(number), defect.polygon, 0.0, Kind.DEFECT))
        if not by_saw:
            for number, part in enumerate(closed_parts(self, sheet)):
                found.append(Obstacle(str(number), part, 0.0, Kind.ROOM))
        return found

    def mover(self, sheet: SheetKey, laid: Mapping[Key, Motion], *, stays: bool = False) -> Mover:
        """The copies laid as given, ready to be moved as one over a sheet.

        stays: they are asked about where they lie and will not be moved far.
        """
        shapes = [laid_polygon(self.pieces[key[0]], motion) for key, motion in laid.items()]
        near = bounds_of(shapes) if stays else None
        return Mover(shapes, self.surroundings(sheet, list(laid), near))

    # --- turns ----------------------------------------------------------------------------
    def allows_turn(self, piece_id: str, turn_deg: float) -> bool:
        """True if grain lets the piece lie so."""
        allowed = self.pieces[piece_id].turns_deg
        if allowed is None:
            return True
        return any(abs((turn_deg - t + 180) % 360 - 180) <= LAYOUT_TURN_DEG for t in allowed)

    def next_turn(self, piece_id: str, turn_deg: float, way: int, step_deg: float) -> float:
        """The allowed turn that follows in the given direction (+1 counter-clockwise)."""
        allowed = self.pieces[piece_id].turns_deg
        if allowed is None:
            step = step_deg * way
            return round((turn_deg + step) % 360, 9)
        ahead = sorted(((t - turn_deg) * way) % 360 for t in allowed)
        further = next((a for a in ahead if a > LAYOUT_TURN_DEG), 0.0)
        return round((turn_deg + way * further) % 360, 9)

    def nearest_turn(self, piece_id: str, turn_deg: float) -> float:
        """The allowed turn nearest to a wished one."""
        allowed = self.pieces[piece_id].turns_deg
        if allowed is None:
            return round(turn_deg % 360, 1)
        return min(allowed, key=lambda t: abs((turn_deg - t + 180) % 360 - 180)) % 360


def _joined(key: Key) -> str:
    return f"{key[0]}\n{key[1]}"


def key_of(contact: Contact) -> Key | None:
    """The copy a contact is with, None if it is no piece."""
    if contact.kind is not Kind.PIECE:
        return None
    piece, copy = contact.id.split("\n")
    return piece, int(copy)


def make_bench(
    project: Project,
    pieces: PieceSet | None,
    layout: KeptLayout | None = None,
    extra: tuple[SheetKey, ...] = (),
    *,
    before: Bench | None = None,
) -> Bench:
    """The bench for a project; layout: another one than the one the project shows.

    before: the bench this one follows; outlines laid for it are taken over.
    """
    shown = layout if layout is not None else project.layout() or KeptLayout("", ())
    tints = {panel.id: i for i, panel in enumerate(project.panels)}
    if pieces is None:
        return Bench(project.shop, {}, tints, (), {}, shown, project.breakdown, extra)
    quantity = {panel.id: panel.quantity for panel in pieces.panels}
    by_id = {piece.id: piece for piece in pieces.pieces}
    copies = tuple(
        (piece.id, copy)
        for piece in pieces.pieces
        for copy in range(1, quantity.get(piece.panel, 1) * piece.quantity + 1)
    )
    known, stocks = set(copies), {stock.id: stock for stock in project.shop.stock}
    placed: dict[Key, Placed] = {}
    for one in shown.placed:
        key = (one.piece, one.copy)
        if key not in known or one.sheet not in stocks or key in placed:
            continue
        piece = by_id[one.piece]
        if one.digest and piece.digest and one.digest != piece.digest:
            continue  # it has changed since it was laid there
        if stocks[one.sheet].material != piece.material:
            continue
        placed[key] = one
    shapes = before.shapes if before is not None else Shapes()
    shapes.keep_only(known)
    return Bench(
        project.shop, by_id, tints, copies, placed, shown, project.breakdown, extra, shapes
    )


def arrangement_of(bench: Bench, sheet: SheetKey) -> Arrangement | None:
    """How a sheet is broken down: as the layout says, else the usual way."""
    from core.layout.arrangement import Arrangement, arrangements_for  # slow to load

    stock = bench.stocks[sheet[0]]
    for sawn in bench.layout.sheets:
        if (sawn.sheet, sawn.sheet_copy) == sheet and sawn.blanks:
            lying = tuple(at for at in sawn.lying if 0 <= at[0] < len(sawn.blanks))
            return Arrangement(stock, sawn.blanks, sawn.through, lying)
    ways = arrangements_for(stock, bench.shop, choice=bench.breakdown, most=1)
    return ways[0] if ways else None


def closed_parts(bench: Bench, sheet: SheetKey) -> list[Polygon]:
    """Parts of a sheet no cut may enter: kerfs, margins of sawn edges, beyond the bit."""
    arrangement = arrangement_of(bench, sheet)
    if arrangement is None:
        return []
    return list(_closed(arrangement, bench.shop))


@lru_cache(maxsize=64)
def _closed_cached(
    stock: Stock,
    blanks: tuple[tuple[float, float, float, float], ...],
    through: bool,
    lying: tuple[tuple[int, float, float], ...],
    shop: _ByIdentity,
) -> tuple[Polygon, ...]:
    from core.layout.arrangement import Arrangement, cutting_room  # slow to load

    room = cutting_room(Arrangement(stock, blanks, through, lying), shop.value)
    closed = stock.polygon.difference(room)
    return tuple(
        part
        for part in shapely.get_parts(closed)
        if part.geom_type == "Polygon" and part.area > 1e-9
    )


@dataclass(frozen=True)
class _ByIdentity:
    """A shop as a cache key by what of it decides the room."""

    key: tuple[object, ...]
    value: Shop = field(compare=False)


def _closed(arrangement: Arrangement, shop: Shop) -> tuple[Polygon, ...]:
    key = (shop.machine, shop.rules, shop.limits, shop.material(arrangement.stock.material))
    return _closed_cached(
        arrangement.stock,
        arrangement.blanks,
        arrangement.through,
        arrangement.lying,
        _ByIdentity(key, shop),
    )


# --- what is wrong ------------------------------------------------------------------------
def wrong_keys(bench: Bench, sheet: SheetKey) -> set[Key]:
    """Copies on a sheet that break a distance, lie in a closed spot or against their grain."""
    keys = bench.on(sheet)
    if not keys:
        return set()
    stock = bench.stocks[sheet[0]]
    shapes = np.array([bench.shape(key) for key in keys], dtype=object)
    shapely.prepare(shapes)
    found: set[Key] = set()
    # A part for the saw is a kerf from the next one, whatever else is cut from the sheet.
    saw = [bench.pieces[piece].by is CutBy.SAW for piece, _ in keys]
    apart = [max(bench.keep_mm([key]) - LAYOUT_DISTANCE_MM, 0.0) for key in keys]
    tree = shapely.STRtree(shapes)
    first, second = tree.query(shapes, predicate="dwithin", distance=max(apart))
    for i, j in zip(first.tolist(), second.tolist(), strict=True):
        if i < j:
            keep = min(apart[i], apart[j])
            gap = shapely.distance(shapes[i], shapes[j])
            if gap >= keep and keep > 0:
                continue
            if keep == 0:
                most = LAYOUT_OVERLAP_REL * min(shapes[i].area, shapes[j].area)
                if shapes[i].intersection(shapes[j]).area <= most:
                    continue
            found |= {keys[i], keys[j]}
    outline = stock.polygon
    rules = bench.shop.rules
    inside = {
        by_saw: shapely.covers(
            outline.buffer(LAYOUT_DISTANCE_MM - margin, join_style="mitre"), shapes
        )
        for by_saw, margin in ((True, rules.edge_trim_mm), (False, rules.edge_margin_mm))
    }
    spots = [defect.polygon for defect in stock.defects]
    closed = [] if all(saw) else closed_parts(bench, sheet)
    for i, key in enumerate(keys):
        if not inside[saw[i]][i] or not _turn_ok(bench, key):
            found.add(key)
            continue
        for spot in spots if saw[i] else (*spots, *closed):
            # The same hair that the proof of a layout allows.
            most = LAYOUT_OVERLAP_REL * min(shapes[i].area, spot.area)
            if shapes[i].intersects(spot) and shapes[i].intersection(spot).area > most:
                found.add(key)
                break
    return found


def _turn_ok(bench: Bench, key: Key) -> bool:
    motion = bench.placed[key].motion
    return bench.allows_turn(key[0], motion.turn_deg) and (
        not motion.mirrored or bench.pieces[key[0]].may_mirror
    )


# --- figures ------------------------------------------------------------------------------
@dataclass(frozen=True, slots=True)
class Figures:
    """A layout in numbers. cost None: a price is not known."""

    placed: int
    unplaced: int
    sheets: int
    piece_area_mm2: float
    sheet_area_mm2: float
    cost: float | None

    @property
    def yield_share(self) -> float:
        """Piece area by sheet area, 0–1."""
        return self.piece_area_mm2 / self.sheet_area_mm2 if self.sheet_area_mm2 else 0.0


def figures_of(bench: Bench) -> Figures:
    """Count and measure what lies on the sheets."""
    area = sum(bench.pieces[piece].cut.area_mm2 for piece, _ in bench.placed)
    sheets = [bench.stocks[stock] for stock, _ in bench.used_sheets]
    bought = [stock.cost for stock in sheets if not stock.in_rack]
    known = [cost for cost in bought if cost is not None]
    return Figures(
        len(bench.placed),
        sum(bench.pieces[piece].rank is not Rank.SPARE for piece, _ in bench.tray),
        len(sheets),
        area,
        sum(float(stock.polygon.area) for stock in sheets),
        sum(known) if len(known) == len(bought) else None,
    )


# --- a good place at once -----------------------------------------------------------------
def best_place(
    bench: Bench, key: Key, sheets: Sequence[SheetKey]
) -> tuple[SheetKey, Motion] | None:
    """The lowest place at the left of the first sheet that takes the copy, or None.

    Every allowed turn is tried (quarter turns where any angle is allowed); the place that
    makes the used length shortest wins.
    """
    piece = bench.pieces[key[0]]
    turns = piece.turns_deg if piece.turns_deg is not None else (0.0, 90.0, 180.0, 270.0)
    for sheet in sheets:
        stock = bench.stocks[sheet[0]]
        if stock.material != piece.material:
            continue
        best: tuple[tuple[float, float], Motion] | None = None
        for turn in turns:
            motion = Motion(0, 0, turn)
            x1, y1, x2, y2 = laid_polygon(piece, motion).bounds
            margin = bench.shop.rules.edge_margin_mm if piece.by is CutBy.ROUTER else 0.0
            low_x, low_y, high_x, high_y = stock.polygon.bounds
            room = (low_x + margin, low_y + margin, high_x - margin, high_y - margin)
            slack = LAYOUT_DISTANCE_MM / 2
            if x2 - x1 > room[2] - room[0] + slack or y2 - y1 > room[3] - room[1] + slack:
                continue
            motion = shifted(motion, room[0] - x1, room[1] - y1)
            mover = bench.mover(sheet, {key: motion})
            span = (
                max(0.0, room[2] - room[0] - (x2 - x1)),
                max(0.0, room[3] - room[1] - (y2 - y1)),
            )
            place = mover.lower_left(*span)
            if place is None:
                continue
            rank = (round(place[0] + x2 - x1, 3), round(place[1], 3))
            if best is None or rank < best[0]:
                best = (rank, shifted(motion, *place))
        if best is not None:
            return sheet, best[1]
    return None
