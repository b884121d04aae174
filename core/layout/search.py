"""Where every copy of every piece is cut from: saw patterns and nesting searched together.

Materials never share sheets, so each is laid out by itself. For the routed pieces of one
material a few ways of breaking the sheets down are tried with a short nesting each; the best
(all pieces placed, then fewest sheets, then fewest blanks used, then the shortest last sheet)
is given the rest of the budget.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Collection, Sequence
from dataclasses import dataclass, replace

from core.layout.arrangement import Arrangement
from core.layout.budget import Budget
from core.layout.choices import Choices, nest_piece, windows_of
from core.layout.demand import layout_to_measure
from core.layout.ground import Ground, Key, from_kept, ground_for
from core.layout.idle_cuts import holds, without_idle_cuts
from core.layout.matched import Body, bodies_of, bound, freed, matched_keys, rooms_of, unmatched
from core.layout.resawn import SawnBlanks
from core.layout.sawing import place_saw_parts, used_blanks
from core.nesting import Layout, NestPiece, NestRules, NestSheet, least_sheets, nest
from core.plan import PlanPiece
from core.project.model import CutBy, KeptLayout, Rank, SawnSheet, Together
from core.shop import Shop, Stock

Progress = Callable[[float, str, KeptLayout | None], None]
Stop = Callable[[], bool]

#: Position evaluations spent when neither steps nor seconds are given.
DEFAULT_STEPS = 4_000_000
#: Part of the budget for choosing among ways to break the sheets down.
TRIAL_SHARE = 0.2
#: What a rack offcut without a price counts, as a share of its area's price: use up, do not hoard.
RACK_SHARE = 0.1

#: Steps for filling blanks made to measure where only a time was given.
TO_MEASURE_STEPS = 20_000


@dataclass(frozen=True)
class Copies:
    """A piece with the number of copies the whole plan needs."""

    piece: PlanPiece
    quantity: int


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
        until = None
        if seconds is not None:
            now = time.monotonic()
            left = (seconds - (now - began)) * weight[material] / (total * (1 - done) or 1)
            until = now + max(0.2, left)
        budget = Budget(until, None if steps is None else max(1, round(steps * share)))
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
        #: Blanks are made for these; spares take what is left over.
        self.needed = [c for c in self.routed if c.piece.rank is not Rank.SPARE]
        self.shop = shop
        self.stocks = [s for s in shop.stock if s.material == material and s.quantity != 0]
        self.breakdown = breakdown
        self.seed = seed
        self.stop = stop
        self.costs = stock_costs(self.stocks)
        self.rules = NestRules(shop.spacing_mm, shop.rules.edge_margin_mm)
        self.wanted = {c.piece.id: c.quantity for c in group}
        self.by_id = {c.piece.id: c.piece for c in self.routed}
        self.digests = {c.piece.id: c.piece.digest for c in group}
        windows = windows_of(self.stocks, shop, breakdown)
        made = [nest_piece(c.piece, c.quantity, windows) for c in self.routed]
        self.pieces = [piece for piece in made if piece is not None]
        #: Copy numbers in the search → in the layout, where sawn blanks had no room for some.
        self.renumbered: dict[Key, int] = {}

    def run(self, start: KeptLayout | None, budget: Budget, report: Progress) -> KeptLayout:
        """The layout of this material's pieces alone."""
        here = {stock.id for stock in self.stocks}
        frozen = [s for s in (start.sheets if start else ()) if s.frozen and s.sheet in here]
        routed = KeptLayout("", (), tuple(frozen), seed=self.seed)
        if self.routed and self.stocks:
            routed = self._route(start, frozen, budget, report)
            routed = replace(routed, sheet_bound=self._least())
        if self.sawn and self.stocks:
            routed = self._beside_spares(start, frozen, routed)
        every = {c.piece.id: c.piece for c in (*self.routed, *self.sawn)}
        return without_idle_cuts(routed, self.shop, self.stocks, every, stop=self.stop)

    def _least(self) -> int:
        """How few sheets could ever do, however they are broken down."""
        sheets = [
            NestSheet(
                s.id, s.polygon, s.quantity, self.costs[s.id], tuple(d.polygon for d in s.defects)
            )
            for s in self.stocks
        ]
        return least_sheets(self.pieces, sheets, self.rules)

    def _beside_spares(
        self, start: KeptLayout | None, frozen: Sequence[SawnSheet], routed: KeptLayout
    ) -> KeptLayout:
        """Parts for the saw added; they go before spares that lie where they could be sawn."""
        found = self._saw(start, frozen, routed)
        spares = {c.piece.id for c in self.routed if c.piece.rank is Rank.SPARE}
        held = {(s.sheet, s.sheet_copy) for s in frozen}
        needed = [
            p
            for p in routed.placed
            if p.piece not in spares or p.locked or (p.sheet, p.sheet_copy) in held
        ]
        if len(needed) == len(routed.placed):
            return found
        bare = self._saw(start, frozen, replace(routed, placed=tuple(needed)))

        def worth(layout: KeptLayout) -> tuple[float, float]:
            ids = {c.piece.id for c in self.sawn}
            cost = sum(self.costs[sheet.sheet] for sheet in layout.sheets if not sheet.frozen)
            return -sum(p.piece in ids for p in layout.placed), cost

        if worth(found) <= worth(bare):
            return found
        # On the blanks that are sawn anyway spares are in nobody's way.
        there = {(s.sheet, s.sheet_copy): used_blanks(s, bare, self.by_id) for s in bare.sheets}
        again = [
            p
            for p in routed.placed
            if p not in needed
            and any(
                holds(blank, self.by_id[p.piece].cut.moved(p.motion).polygon)
                for blank in there.get((p.sheet, p.sheet_copy), ())
            )
        ]
        return replace(bare, placed=(*bare.placed, *again))

    # --- routed pieces --------------------------------------------------------------------

    def _ground(self, choice: Sequence[Arrangement], frozen: Sequence[SawnSheet]) -> Ground:
        return ground_for(choice, frozen, self.shop, self.stocks, self.costs)

    def _route(
        self,
        start: KeptLayout | None,
        frozen: Sequence[SawnSheet],
        budget: Budget,
        report: Progress,
    ) -> KeptLayout:
        needed = [c.piece for c in self.needed]
        ways = Choices(self.stocks, self.shop, self.breakdown, needed)
        choices = ways.all()
        if start is not None:
            wanted = {piece: self.wanted[piece] for piece in self.by_id}
            # No trials here: what lies on a rack offcut may leave no room on it for the rest.
            first = ways.that_never_run_out(choices[0]) if choices else []
            ground = self._ground(first, frozen)
            ground, layout, locked = from_kept(start, ground, wanted, self.digests, self.breakdown)
            pieces = self.pieces
            if ground.frozen_keys:
                sawn = SawnBlanks(
                    self.pieces, self.by_id, self.wanted, self.rules, seed=self.seed, stop=self.stop
                )
                pieces, layout, locked = sawn.run(start, ground, layout, locked, budget)
                self.renumbered = sawn.renumbered
            if layout.placements:
                return self._nest(ground, budget, report, layout, locked, pieces)
            if ground.frozen_keys and pieces is not self.pieces:
                return self._nest(ground, budget, report, pieces=pieces)
        if not choices and not frozen:
            return KeptLayout("", (), seed=self.seed)
        tries = len(choices) + 1
        if len(choices) <= 1 and all(a.is_whole for a in (choices or [[]])[0]):
            return self._nest(self._ground((choices or [[]])[0], frozen), budget, report)
        tried: list[KeptLayout] = []
        for number, choice in enumerate(choices):
            ground = self._ground(choice, frozen)
            trial = budget.share(TRIAL_SHARE / tries)
            tried.append(self._nest(ground, trial, _quiet(report, number, tries)))
            if self.stop is not None and self.stop():
                break
        measured = self._to_measure(budget.share(TRIAL_SHARE / tries)) if not frozen else None
        if measured is not None:
            tried.append(measured)
        best = min(tried, key=self._rank)
        ground, layout, locked = from_kept(
            best,
            self._ground(choices[0] if choices else (), frozen),
            {piece: self.wanted[piece] for piece in self.by_id},
            self.digests,
            self.breakdown,
        )
        rest = budget.rest(1 - TRIAL_SHARE)
        return self._nest(ground, rest, _after_trials(report), layout, locked)

    def _to_measure(self, trial: Budget) -> KeptLayout | None:
        """Blanks made to measure, from the stocks that are sawn into blanks at all."""
        stocks = [s for s in self.stocks if (s.way or self.breakdown) == "blanks"]
        measured = layout_to_measure(
            [(c.piece, c.quantity) for c in self.needed],
            self.shop,
            stocks,
            self.costs,
            steps=trial.steps or TO_MEASURE_STEPS,
            seconds=trial.seconds,
            seed=self.seed,
            stop=lambda: trial.is_over() or (self.stop is not None and self.stop()),
        )
        if measured is None:
            return None
        placed = tuple(replace(p, digest=self.digests.get(p.piece, "")) for p in measured.placed)
        return replace(measured, placed=placed)

    def _rank(self, layout: KeptLayout) -> tuple[float, ...]:
        """Smaller is better: pieces missing, those to go first before all; panels whose grain
        does not run through; cost of the sheets; blanks to be sawn and clamped."""

        def missing(wanted: Sequence[Copies]) -> int:
            ids = {c.piece.id for c in wanted}
            return sum(c.quantity for c in wanted) - sum(p.piece in ids for p in layout.placed)

        first = missing([c for c in self.needed if c.piece.rank is Rank.FIRST])
        cost = sum(self.costs[sheet.sheet] for sheet in layout.sheets if not sheet.frozen)
        used = sum(len(used_blanks(sheet, layout, self.by_id)) for sheet in layout.sheets)
        pieces = [c.piece for c in self.routed]
        apart = len(unmatched(pieces, layout.placed, self.rules.spacing_mm))
        return (first, missing(self.needed), apart, cost, used)

    def _nest(
        self,
        ground: Ground,
        budget: Budget,
        report: Progress,
        start: Layout | None = None,
        locked: Sequence[Key] = (),
        pieces: Sequence[NestPiece] | None = None,
    ) -> KeptLayout:
        nested = self.pieces if pieces is None else pieces
        apart = {piece for piece, _ in locked}
        bodies = self._bodies(ground, nested, apart)
        found = self._search(ground, budget, report, start, locked, nested, bodies)
        lost = {u.piece_id for u in found.unplaced}
        if any(piece in lost for body in bodies for piece, _ in body.members):
            # No place for them side by side: better apart than not at all.
            bodies = self._bodies(ground, nested, apart | lost)
            found = self._search(ground, budget, report, found, locked, nested, bodies)
        return self._kept(found, ground)

    def _bodies(
        self, ground: Ground, nested: Sequence[NestPiece], apart: Collection[str]
    ) -> list[Body]:
        pieces = [c.piece for c in self.routed]
        if all(piece.together is not Together.ORDER for piece in pieces):
            return []
        rooms = rooms_of(ground.sheets(), self.rules.edge_margin_mm)
        return bodies_of(pieces, nested, rooms, self.rules.spacing_mm, apart)

    def _search(
        self,
        ground: Ground,
        budget: Budget,
        report: Progress,
        start: Layout | None,
        locked: Sequence[Key],
        nested: Sequence[NestPiece],
        bodies: Sequence[Body],
    ) -> Layout:
        def step(fraction: float, layout: Layout | None, text: str) -> None:
            known = None if layout is None else self._kept(freed(bodies, layout), ground)
            report(fraction, text, known)

        searched, begun = bound(bodies, nested, start)
        members = {piece for body in bodies for piece, _ in body.members}
        locked = [*locked, *(k for k in self._in_order(ground, start) if k[0] not in members)]
        found = nest(
            searched,
            ground.sheets(),
            self.rules,
            seconds=budget.seconds,
            steps=budget.steps,
            seed=self.seed,
            start=begun,
            locked=tuple(dict.fromkeys(locked)),
            progress=step,
            stop=self.stop,
        )
        return freed(bodies, found)

    def _in_order(self, ground: Ground, start: Layout | None) -> list[Key]:
        """Copies that lie as their panel asks for already; moved alone they would not."""
        pieces = [c.piece for c in self.routed]
        if start is None or all(piece.together is not Together.ORDER for piece in pieces):
            return []
        placed = self._kept(start, ground).placed
        return sorted(matched_keys(pieces, placed, self.rules.spacing_mm))

    def _kept(self, layout: Layout, ground: Ground) -> KeptLayout:
        kept = ground.kept(layout, self.digests, self.seed)
        if not self.renumbered:
            return kept
        placed = tuple(
            replace(p, copy=self.renumbered.get((p.piece, p.copy), p.copy)) for p in kept.placed
        )
        return replace(kept, placed=placed)

    # --- parts for the saw ----------------------------------------------------------------

    def _saw(
        self, start: KeptLayout | None, frozen: Sequence[SawnSheet], routed: KeptLayout
    ) -> KeptLayout:
        """Rectangular parts: those sawn already stay, the others come from what is left over."""
        at = {(s.sheet, s.sheet_copy) for s in frozen}
        ids = {c.piece.id for c in self.sawn}
        stay = tuple(
            p
            for p in (start.placed if start is not None else ())
            if p.piece in ids
            and (p.sheet, p.sheet_copy) in at
            and p.copy <= self.wanted[p.piece]
            and p.digest in ("", self.digests[p.piece])
        )
        there = {(p.piece, p.copy) for p in stay}
        items = [
            (c.piece, [k for k in range(1, c.quantity + 1) if (c.piece.id, k) not in there])
            for c in self.sawn
        ]
        routed = replace(routed, placed=(*routed.placed, *stay))
        return place_saw_parts(
            [(piece, copies) for piece, copies in items if copies],
            self.shop,
            self.stocks,
            self.costs,
            routed,
            self.by_id,
            seed=self.seed,
            stop=self.stop,
        )


def _after_trials(report: Progress) -> Progress:
    """Progress of what comes after the trials."""

    def told(fraction: float, text: str, layout: KeptLayout | None) -> None:
        report(TRIAL_SHARE + (1 - TRIAL_SHARE) * fraction, text, layout)

    return told


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
