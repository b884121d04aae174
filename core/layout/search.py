"""Where every copy of every piece is cut from: saw patterns and nesting searched together.

Materials never share sheets, so each is laid out by itself. For the routed pieces of one
material a few ways of breaking the sheets down are tried with a short nesting each; the best
(all pieces placed, then fewest sheets, then fewest blanks used, then the shortest last sheet)
is given the rest of the budget.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

from core.breakdown import SawPart, SawSheet, cut_rectangles
from core.geometry import Motion
from core.layout.arrangement import Arrangement, arrangements_for, blank_room, nest_sheet
from core.layout.demand import layout_to_measure
from core.layout.rooms import fits_rooms, largest_rectangles
from core.nesting import Layout, NestPiece, NestRules, Placement, nest
from core.plan import PlanPiece
from core.project.model import CutBy, KeptLayout, Placed, SawnSheet
from core.shop import Shop, Stock

Progress = Callable[[float, str, KeptLayout | None], None]
Stop = Callable[[], bool]

#: Position evaluations spent when neither steps nor seconds are given.
DEFAULT_STEPS = 4_000_000
#: Part of the budget for choosing among ways to break the sheets down.
TRIAL_SHARE = 0.2
#: What a rack offcut without a price counts, as a share of its area's price: use up, do not hoard.
RACK_SHARE = 0.1

#: Steps for sawing parts from sheets; the seconds only end a search that got stuck.
SAW_STEPS, SAW_SECONDS = 30_000, 120.0
#: Steps for filling blanks made to measure where only a time was given.
TO_MEASURE_STEPS = 20_000
#: Ways to break the sheets down that are each tried with a short nesting.
MOST_CHOICES = 4

Key = tuple[str, int]


@dataclass(frozen=True)
class Copies:
    """A piece with the number of copies the whole plan needs."""

    piece: PlanPiece
    quantity: int


@dataclass(frozen=True, slots=True)
class _Budget:
    """Seconds until a moment, or steps; neither once both are None."""

    seconds: float | None
    steps: int | None

    def share(self, part: float) -> _Budget:
        return _Budget(
            None if self.seconds is None else self.seconds * part,
            None if self.steps is None else max(1, round(self.steps * part)),
        )


def lay_out_pieces(
    pieces: Sequence[Copies],
    shop: Shop,
    *,
    breakdown: str = "blanks",
    name: str = "Layout",
    start: KeptLayout | None = None,
    seconds: float | None = None,
    steps: int | None = None,
    seed: int = 0,
    progress: Progress | None = None,
    stop: Stop | None = None,
) -> KeptLayout:
    """A layout of all copies; what finds no place is simply not in it.

    start: go on from this layout: locked pieces and frozen sheets stay, pieces whose digest
    changed are laid out anew. seconds: wall time to spend; steps: position evaluations
    (deterministic); neither: DEFAULT_STEPS.
    """
    if seconds is None and steps is None:
        steps = DEFAULT_STEPS
    groups: dict[str, list[Copies]] = {}
    for item in pieces:
        if item.quantity > 0:
            groups.setdefault(item.piece.material, []).append(item)
    weight = {name_: _effort(group) for name_, group in groups.items()}
    total = sum(weight.values()) or 1.0
    began = time.monotonic()
    done = 0.0
    result = KeptLayout(name, (), seed=seed)
    for material in sorted(groups):
        share = weight[material] / total
        left = None
        if seconds is not None:
            elapsed = time.monotonic() - began
            left = max(0.2, (seconds - elapsed) * weight[material] / (total * (1 - done) or 1))
        budget = _Budget(left, None if steps is None else max(1, round(steps * share)))
        job = _MaterialJob(groups[material], shop, material, breakdown, seed, stop)
        base = result

        def report(
            fraction: float,
            text: str,
            part: KeptLayout | None,
            *,
            before: float = done,
            span: float = share,
            base: KeptLayout = base,
        ) -> None:
            if progress is not None:
                whole = None if part is None else _joined(base, part)
                progress(min(1.0, before + span * fraction), text, whole)

        result = _joined(result, job.run(start, budget, report))
        done += share
    return result


def _effort(group: Sequence[Copies]) -> float:
    return float(sum(item.quantity for item in group)) ** 1.2


def _joined(first: KeptLayout, second: KeptLayout) -> KeptLayout:
    return replace(
        first,
        placed=first.placed + second.placed,
        sheets=first.sheets + second.sheets,
        steps=first.steps + second.steps,
        sheet_bound=first.sheet_bound + second.sheet_bound,
    )


class _MaterialJob:
    """Laying out the pieces of one material."""

    def __init__(
        self,
        group: list[Copies],
        shop: Shop,
        material: str,
        breakdown: str,
        seed: int,
        stop: Stop | None,
    ) -> None:
        self.routed = [c for c in group if c.piece.by is CutBy.ROUTER]
        self.sawn = [c for c in group if c.piece.by is CutBy.SAW]
        self.shop = shop
        self.stocks = [s for s in shop.stock if s.material == material and s.quantity != 0]
        self.breakdown = breakdown
        self.seed = seed
        self.stop = stop
        self.costs = stock_costs(self.stocks)
        self.rules = NestRules(shop.spacing_mm, shop.rules.edge_margin_mm)
        self.pieces = [_nest_piece(c) for c in self.routed]
        self._known_fits: dict[tuple[object, ...], bool] = {}
        self.digests = {c.piece.id: c.piece.digest for c in group}

    def run(self, start: KeptLayout | None, budget: _Budget, report: Progress) -> KeptLayout:
        """The layout of this material's pieces alone."""
        routed = KeptLayout("", (), seed=self.seed)
        if self.routed and self.stocks:
            routed = self._route(start, budget, report)
        if self.sawn and self.stocks:
            routed = _joined(routed, self._saw(routed))
        return routed

    # --- routed pieces --------------------------------------------------------------------

    def _route(self, start: KeptLayout | None, budget: _Budget, report: Progress) -> KeptLayout:
        if start is not None:
            table, layout, locked = self._from_kept(start)
            if layout.placements:
                return self._nest(table, budget, report, layout, locked)
        choices = self._choices()
        if not choices:
            return KeptLayout("", (), seed=self.seed)
        tries = len(choices) + 1
        if len(choices) == 1 and all(a.is_whole for a in choices[0]):
            return self._nest(_table(choices[0]), budget, report)
        trial = budget.share(TRIAL_SHARE / tries)
        tried: list[KeptLayout] = []
        for number, choice in enumerate(choices):
            tried.append(self._nest(_table(choice), trial, _quiet(report, number, tries)))
            if self.stop is not None and self.stop():
                break
        measured = layout_to_measure(
            [(c.piece, c.quantity) for c in self.routed],
            self.shop,
            self.stocks,
            self.costs,
            steps=trial.steps or TO_MEASURE_STEPS,
            seed=self.seed,
            stop=self.stop,
        )
        if measured is not None:
            tried.append(self._with_digests(measured))
        best = min(tried, key=self._rank)
        table, layout, locked = self._from_kept(best)
        return self._nest(table, budget.share(1 - TRIAL_SHARE), report, layout, locked)

    def _with_digests(self, layout: KeptLayout) -> KeptLayout:
        placed = tuple(replace(p, digest=self.digests.get(p.piece, "")) for p in layout.placed)
        return replace(layout, placed=placed)

    def _choices(self) -> list[list[Arrangement]]:
        """Ways to break the stocks down: each a list with one or more arrangements per stock."""
        ways = {
            stock.id: arrangements_for(stock, self.shop, choice=self.breakdown)
            for stock in self.stocks
        }
        every = [a for way in ways.values() for a in way]
        placeable = [c.piece for c in self.routed if self._fits(c.piece, every)]
        choices: list[list[Arrangement]] = []
        for k in range(max((len(way) for way in ways.values()), default=0)):
            choice = [way[min(k, len(way) - 1)] for way in ways.values() if way]
            if all(self._fits(piece, choice) for piece in placeable):
                choices.append(choice)
                if len(choices) == MOST_CHOICES:
                    break
        if choices:
            return choices
        # No single way has a blank for every piece: let nesting pick among several at once.
        kept = [way[0] for way in ways.values() if way]
        for piece in sorted(placeable, key=lambda p: -p.cut.area_mm2):
            if not self._fits(piece, kept):
                kept.append(next(a for a in every if self._fits(piece, [a])))
        return [kept] if kept else []

    def _fits(self, piece: PlanPiece, arrangements: Sequence[Arrangement]) -> bool:
        """True if the piece's bounds fit a blank of one of the arrangements."""
        key = (piece.id, piece.digest, tuple(arrangements))
        if key not in self._known_fits:
            rooms = []
            for blank in {b[2:] for a in arrangements for b in a.blanks}:
                room = blank_room(self.shop.machine, *blank, self.shop.rules.edge_margin_mm)
                rooms += largest_rectangles(room)
            self._known_fits[key] = fits_rooms(piece.cut.polygon, piece.turns_deg, rooms)
        return self._known_fits[key]

    def _rank(self, layout: KeptLayout) -> tuple[float, ...]:
        """Smaller is better: pieces missing, cost of the sheets, blanks to be sawn and clamped."""
        missing = sum(c.quantity for c in self.routed) - len(layout.placed)
        cost = sum(self.costs[sheet.sheet] for sheet in layout.sheets)
        pieces = {c.piece.id: c.piece for c in self.routed}
        blanks = {(s.sheet, s.sheet_copy): s.blanks for s in layout.sheets}
        used = set()
        for p in layout.placed:
            x1, y1, x2, y2 = pieces[p.piece].cut.moved(p.motion).bounds
            middle = ((x1 + x2) / 2, (y1 + y2) / 2)
            for k, (x, y, w, h) in enumerate(blanks[(p.sheet, p.sheet_copy)]):
                if x <= middle[0] <= x + w and y <= middle[1] <= y + h:
                    used.add((p.sheet, p.sheet_copy, k))
        return (missing, cost, len(used))

    def _nest(
        self,
        table: dict[str, Arrangement],
        budget: _Budget,
        report: Progress,
        start: Layout | None = None,
        locked: Sequence[tuple[str, int]] = (),
    ) -> KeptLayout:
        sheets = []
        left = {stock.id: stock.quantity for stock in self.stocks}
        for key, arrangement in table.items():
            stock = arrangement.stock
            cost = self.costs[stock.id]
            sheets.append(
                nest_sheet(arrangement, self.shop, key, quantity=left[stock.id], cost=cost)
            )

        def step(fraction: float, layout: Layout | None, text: str) -> None:
            report(fraction, text, None if layout is None else self._kept(layout, table))

        found = nest(
            self.pieces,
            sheets,
            self.rules,
            seconds=budget.seconds,
            steps=budget.steps,
            seed=self.seed,
            start=start,
            locked=tuple(locked),
            progress=step,
            stop=self.stop,
        )
        return self._kept(found, table)

    def _kept(self, layout: Layout, table: dict[str, Arrangement]) -> KeptLayout:
        """Sheets of one stock numbered through, whatever arrangement they have."""
        counts: dict[str, int] = {}
        number: dict[Key, Key] = {}
        sheets = []
        limits = {stock.id: stock.quantity for stock in self.stocks}
        for key, copy in layout.sheets:
            arrangement = table[key]
            stock = arrangement.stock.id
            counts[stock] = counts.get(stock, 0) + 1
            limit = limits[stock]
            if limit is not None and counts[stock] > limit:
                continue  # several arrangements shared one limited stock: the last ones go
            number[(key, copy)] = (stock, counts[stock])
            sheets.append(SawnSheet(stock, counts[stock], arrangement.blanks))
        placed = [
            Placed(
                p.piece_id,
                p.copy,
                *number[(p.sheet_id, p.sheet_copy)],
                Motion(p.x_mm, p.y_mm, p.turn_deg, p.mirrored),
                digest=self.digests.get(p.piece_id, ""),
            )
            for p in layout.placements
            if (p.sheet_id, p.sheet_copy) in number
        ]
        return KeptLayout(
            "",
            tuple(placed),
            tuple(sheets),
            steps=layout.steps,
            seed=self.seed,
            sheet_bound=layout.bound,
        )

    def _from_kept(
        self, kept: KeptLayout
    ) -> tuple[dict[str, Arrangement], Layout, list[tuple[str, int]]]:
        """A kept layout as nesting knows it: sheets by arrangement, pieces that did not change."""
        stocks = {stock.id: stock for stock in self.stocks}
        sawn = {(s.sheet, s.sheet_copy): s for s in kept.sheets}
        wanted = {c.piece.id: c.quantity for c in self.routed}
        table: dict[str, Arrangement] = {}
        keys: dict[Arrangement, str] = {}
        numbers: dict[Key, tuple[str, int]] = {}
        counts: dict[str, int] = {}
        placements: list[Placement] = []
        locked: list[tuple[str, int]] = []
        for one in kept.placed:
            changed = bool(one.digest) and one.digest != self.digests.get(one.piece)
            if one.sheet not in stocks or one.copy > wanted.get(one.piece, 0) or changed:
                continue
            at = (one.sheet, one.sheet_copy)
            if at not in numbers:
                blanks = sawn[at].blanks if at in sawn else ()
                if not blanks:
                    ways = arrangements_for(
                        stocks[one.sheet], self.shop, choice=self.breakdown, most=1
                    )
                    if not ways:
                        continue
                    blanks = ways[0].blanks
                arrangement = Arrangement(stocks[one.sheet], blanks)
                key = keys.setdefault(arrangement, f"{one.sheet}#{len(keys)}")
                table[key] = arrangement
                counts[key] = counts.get(key, 0) + 1
                numbers[at] = (key, counts[key])
            key, copy = numbers[at]
            motion = one.motion
            placements.append(
                Placement(
                    one.piece,
                    one.copy,
                    key,
                    copy,
                    motion.x_mm,
                    motion.y_mm,
                    motion.turn_deg,
                    motion.mirrored,
                )
            )
            if one.locked:
                locked.append((one.piece, one.copy))
        for choice in self._choices()[:1]:
            for arrangement in choice:
                if arrangement not in keys:
                    key = f"{arrangement.stock.id}#{len(keys)}"
                    keys[arrangement] = key
                    table[key] = arrangement
        return table, Layout(tuple(placements), seed=self.seed), locked

    # --- parts for the saw ----------------------------------------------------------------

    def _saw(self, routed: KeptLayout) -> KeptLayout:
        """Rectangular parts straight from whole sheets, by saw alone."""
        used: dict[str, int] = {}
        for sheet in routed.sheets:
            used[sheet.sheet] = used.get(sheet.sheet, 0) + 1
        parts = []
        for item in self.sawn:
            width, height = item.piece.cut.size_mm
            turns = item.piece.turns_deg
            upright = turns is None or any(t % 180 == 0 for t in turns)
            across = turns is None or any(t % 180 == 90 for t in turns)
            if not upright:
                width, height = height, width
            parts.append(SawPart(item.piece.id, width, height, item.quantity, upright and across))
        sheets = [
            SawSheet(
                stock.id,
                stock.width_mm,
                stock.height_mm,
                None if stock.quantity is None else max(0, stock.quantity - used.get(stock.id, 0)),
                self.costs[stock.id],
            )
            for stock in self.stocks
            if not stock.points and not stock.defects
        ]
        found = cut_rectangles(
            parts,
            sheets,
            kerf_mm=self.shop.rules.kerf_mm,
            edge_trim_mm=self.shop.rules.edge_trim_mm,
            seconds=SAW_SECONDS,
            steps=SAW_STEPS,
            seed=self.seed,
            stop=self.stop,
        )
        sizes = {item.piece.id: item.piece for item in self.sawn}
        copies: dict[str, int] = {}
        placed = []
        sawn = []
        for sawn_sheet in found.sheets:
            used[sawn_sheet.sheet_id] = number = used.get(sawn_sheet.sheet_id, 0) + 1
            cuts = tuple((c.x1_mm, c.y1_mm, c.x2_mm, c.y2_mm) for c in sawn_sheet.cuts)
            sawn.append(SawnSheet(sawn_sheet.sheet_id, number, (), cuts))
            for part in sawn_sheet.parts:
                copies[part.part_id] = copies.get(part.part_id, 0) + 1
                piece = sizes[part.part_id]
                motion = _laid(piece, part.x_mm, part.y_mm, part.width_mm)
                placed.append(
                    Placed(
                        part.part_id,
                        copies[part.part_id],
                        sawn_sheet.sheet_id,
                        number,
                        motion,
                        digest=piece.digest,
                    )
                )
        return KeptLayout("", tuple(placed), tuple(sawn), steps=found.steps, seed=self.seed)


def _laid(piece: PlanPiece, x_mm: float, y_mm: float, width_mm: float) -> Motion:
    """The motion that lays a rectangular piece with its lower left corner at (x, y)."""
    wide_mm, _ = piece.cut.size_mm
    turns = piece.turns_deg if piece.turns_deg is not None else (0.0, 90.0)
    lies_along = abs(wide_mm - width_mm) < 1e-6
    turn = next((t for t in turns if (t % 180 == 0) == lies_along), 0.0 if lies_along else 90.0)
    turned = piece.cut.moved(Motion(turn_deg=turn)).bounds
    return Motion(x_mm - turned[0], y_mm - turned[1], turn)


def _nest_piece(item: Copies) -> NestPiece:
    piece = item.piece
    return NestPiece(
        piece.id,
        piece.cut.polygon,
        item.quantity,
        piece.turns_deg,
        piece.may_mirror,
    )


def _table(choice: Sequence[Arrangement]) -> dict[str, Arrangement]:
    return {f"{a.stock.id}#{k}": a for k, a in enumerate(choice)}


def _quiet(report: Progress, number: int, count: int) -> Progress:
    """Progress of one trial among several."""

    def told(fraction: float, text: str, layout: KeptLayout | None) -> None:
        report(TRIAL_SHARE * (number + fraction) / count, text, layout)

    return told


def stock_costs(stocks: Sequence[Stock]) -> dict[str, float]:
    """What a sheet of each stock counts in the search.

    Prices where they are known; a stock without one counts by its area at the average price of
    the others (area itself if none has a price), a rack offcut without one RACK_SHARE of that.
    """
    priced = [s for s in stocks if s.cost is not None]
    area = sum(s.polygon.area for s in priced)
    rate = sum(s.cost or 0.0 for s in priced) / area if area else 1.0
    costs = {}
    for stock in stocks:
        if stock.cost is not None:
            costs[stock.id] = stock.cost
        else:
            by_area = stock.polygon.area * (rate or 1.0)
            costs[stock.id] = by_area * RACK_SHARE if stock.in_rack else by_area
    return costs
