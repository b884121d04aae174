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

from core.bed import bed_room, feed_of
from core.geometry import Motion
from core.layout.arrangement import Arrangement, arrangements_for, room_of
from core.layout.demand import layout_to_measure
from core.layout.ground import Ground, Key, from_kept, ground_for
from core.layout.idle_cuts import holds, without_idle_cuts
from core.layout.matched import Body, bodies_of, bound, freed, matched_keys, rooms_of, unmatched
from core.layout.rooms import fits_rooms, largest_rectangles
from core.layout.sawing import place_saw_parts, used_blanks
from core.layout.snug import put_back
from core.nesting import Layout, NestPiece, NestRules, Placement, nest
from core.plan import PlanPiece
from core.project.model import CutBy, KeptLayout, Rank, SawnSheet, Together
from core.shop import Shop, Stock
from core.tolerances import FIT_REL

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
#: Ways to break the sheets down that are each tried with a short nesting.
MOST_CHOICES = 4


@dataclass(frozen=True)
class Copies:
    """A piece with the number of copies the whole plan needs."""

    piece: PlanPiece
    quantity: int


@dataclass(frozen=True, slots=True)
class _Budget:
    """A moment (time.monotonic()) to be done by, or steps; neither once both are None."""

    until: float | None
    steps: int | None

    @property
    def seconds(self) -> float | None:
        """What is left of the time."""
        return None if self.until is None else max(0.0, self.until - time.monotonic())

    def share(self, part: float) -> _Budget:
        """Part of the steps, or of the time that is left from now on."""
        until = None
        if self.until is not None:
            now = time.monotonic()
            until = now + max(0.0, self.until - now) * part
        return _Budget(until, self._steps(part))

    def rest(self, part: float) -> _Budget:
        """Part of the steps, or all the time that is left."""
        return _Budget(self.until, self._steps(part))

    def _steps(self, part: float) -> int | None:
        return None if self.steps is None else max(1, round(self.steps * part))

    def is_over(self) -> bool:
        """True once the moment has passed."""
        return self.until is not None and time.monotonic() >= self.until


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
        budget = _Budget(until, None if steps is None else max(1, round(steps * share)))
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
        windows = self._windows()
        made = [_nest_piece(c, windows) for c in self.routed]
        self.pieces = [piece for piece in made if piece is not None]
        self._known_fits: dict[tuple[object, ...], bool] = {}
        #: Copy numbers in the search → in the layout, where sawn blanks had no room for some.
        self.renumbered: dict[Key, int] = {}

    def _windows(self) -> tuple[tuple[bool, float], ...]:
        """(fed along the sheet's y, longest piece) of every way sheets are pushed through."""
        found: dict[tuple[bool, float], None] = {}
        for stock in self.stocks:
            for arrangement in arrangements_for(stock, self.shop, choice=self.breakdown):
                for _, _, w, h in arrangement.blanks if arrangement.through else ():
                    feed = feed_of(self.shop.machine, w, h)
                    if feed is not None and bed_room(self.shop.machine, w, h) is None:
                        found[(feed.turned, feed.window_mm)] = None
        return tuple(found)

    def run(self, start: KeptLayout | None, budget: _Budget, report: Progress) -> KeptLayout:
        """The layout of this material's pieces alone."""
        here = {stock.id for stock in self.stocks}
        frozen = [s for s in (start.sheets if start else ()) if s.frozen and s.sheet in here]
        routed = KeptLayout("", (), tuple(frozen), seed=self.seed)
        if self.routed and self.stocks:
            routed = self._route(start, frozen, budget, report)
        if self.sawn and self.stocks:
            routed = self._beside_spares(start, frozen, routed)
        every = {c.piece.id: c.piece for c in (*self.routed, *self.sawn)}
        return without_idle_cuts(routed, self.shop, self.stocks, every)

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
        budget: _Budget,
        report: Progress,
    ) -> KeptLayout:
        choices = self._choices(frozen)
        if start is not None:
            wanted = {piece: self.wanted[piece] for piece in self.by_id}
            ground = self._ground(choices[0] if choices else (), frozen)
            ground, layout, locked = from_kept(start, ground, wanted, self.digests, self.breakdown)
            pieces = self.pieces
            if ground.frozen_keys:
                pieces, layout, locked = self._in_sawn(start, ground, layout, locked, budget)
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

    def _in_sawn(
        self,
        start: KeptLayout,
        ground: Ground,
        layout: Layout,
        locked: list[Key],
        budget: _Budget,
    ) -> tuple[list[NestPiece], Layout, list[Key]]:
        """What the sawn blanks were sawn for goes back into them, or nowhere.

        Returns the pieces still to be laid (copies without room in the sawn blanks are left
        out), the start of their layout and what is locked in it.
        """
        bound = {
            (piece, copy)
            for sheet in start.sheets
            if sheet.frozen
            for piece, copy in sheet.wanted
            if copy <= self.wanted.get(piece, 0) and piece in self.by_id
        }
        held = {(s.sheet, s.sheet_copy) for s in start.sheets if s.frozen}
        bound |= {
            (p.piece, p.copy)
            for p in start.placed
            if (p.sheet, p.sheet_copy) in held
            and p.piece in self.by_id
            and p.copy <= self.wanted.get(p.piece, 0)
        }
        lying = {(p.piece_id, p.copy) for p in layout.placements}
        homeless = sorted(bound - lying)
        back_again = put_back(
            homeless,
            start,
            ground,
            layout.placements,
            self.by_id,
            spacing_mm=self.rules.spacing_mm,
        )
        layout = replace(layout, placements=(*layout.placements, *back_again))
        homeless = [k for k in homeless if k not in {(p.piece_id, p.copy) for p in back_again}]
        if not homeless:
            return self.pieces, layout, locked
        keys = ground.frozen_keys
        here = [p for p in layout.placements if p.sheet_id in keys]
        # Copies are renamed so that each can be laid by itself.
        by_id = {p.id: p for p in self.pieces}
        names = {f"{piece}\n{copy}": (piece, copy) for piece, copy in homeless}
        names |= {f"{p.piece_id}\n{p.copy}": (p.piece_id, p.copy) for p in here}
        single = [replace(by_id[piece], id=name, quantity=1) for name, (piece, _) in names.items()]
        stay = Layout(tuple(p._replace(piece_id=f"{p.piece_id}\n{p.copy}", copy=1) for p in here))
        share = budget.share(TRIAL_SHARE)
        found = nest(
            single,
            ground.only(keys).sheets(),
            self.rules,
            seconds=share.seconds,
            steps=share.steps,
            seed=self.seed,
            start=stay,
            locked=[(p.piece_id, 1) for p in stay.placements],
            stop=self.stop,
        )
        back = {names[p.piece_id]: p for p in found.placements}
        placements = list(layout.placements)
        for piece, copy in homeless:
            one = back.get((piece, copy))
            if one is not None:
                placements.append(one._replace(piece_id=piece, copy=copy))
        lost = [key for key in homeless if key not in back]
        return self._without(lost, placements, locked)

    def _without(
        self, lost: Sequence[Key], placements: list[Placement], locked: list[Key]
    ) -> tuple[list[NestPiece], Layout, list[Key]]:
        """Fewer copies of some pieces, all that are left over numbered from 1."""
        fewer: dict[str, int] = {}
        for name, _ in lost:
            fewer[name] = fewer.get(name, 0) + 1
        pieces = []
        rename: dict[Key, Key] = {}
        for piece in self.pieces:
            left = piece.quantity - fewer.get(piece.id, 0)
            if left > 0:
                pieces.append(replace(piece, quantity=left))
            kept = [c for c in range(1, piece.quantity + 1) if (piece.id, c) not in lost]
            for number, copy in enumerate(kept, start=1):
                rename[(piece.id, copy)] = (piece.id, number)
                self.renumbered[(piece.id, number)] = copy
        moved = tuple(
            p._replace(copy=rename[(p.piece_id, p.copy)][1])
            for p in placements
            if (p.piece_id, p.copy) in rename
        )
        return pieces, Layout(moved, seed=self.seed), [rename[k] for k in locked if k in rename]

    def _to_measure(self, trial: _Budget) -> KeptLayout | None:
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

    def _choices(self, frozen: Sequence[SawnSheet] = ()) -> list[list[Arrangement]]:
        """Ways to break the stocks down: each a list with one or more arrangements per stock."""
        ways = {
            stock.id: arrangements_for(stock, self.shop, choice=self.breakdown)
            for stock in self.stocks
        }
        every = [a for way in ways.values() for a in way]
        placeable = [c.piece for c in self.needed if self._fits(c.piece, every)]
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
            for arrangement in arrangements:
                for size in dict.fromkeys(b[2:] for b in arrangement.blanks):
                    room = room_of(arrangement, (0.0, 0.0, *size), self.shop)
                    found = largest_rectangles(room)
                    if arrangement.through and bed_room(self.shop.machine, *size) is None:
                        feed = feed_of(self.shop.machine, *size)
                        window = feed.window_mm if feed is not None else 0.0
                        turned = feed is not None and feed.turned
                        found = [
                            (w, min(h, window)) if turned else (min(w, window), h) for w, h in found
                        ]
                    rooms += found
            self._known_fits[key] = fits_rooms(piece.cut.polygon, piece.turns_deg, rooms)
        return self._known_fits[key]

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
        budget: _Budget,
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
        budget: _Budget,
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


def _nest_piece(item: Copies, windows: Sequence[tuple[bool, float]] = ()) -> NestPiece | None:
    """The piece for nesting; where sheets are pushed through, only turns one stop cuts whole.

    None if there is no such turn.
    """
    piece = item.piece
    turns = piece.turns_deg
    if windows:
        kept = []
        for turn in turns if turns is not None else (0.0, 90.0, 180.0, 270.0):
            x1, y1, x2, y2 = piece.cut.moved(Motion(turn_deg=turn)).bounds
            if all(
                ((y2 - y1) if turned else (x2 - x1)) <= window * (1 + FIT_REL)
                for turned, window in windows
            ):
                kept.append(turn)
        if not kept:
            return None
        turns = tuple(kept)
    return NestPiece(
        piece.id,
        piece.cut.polygon,
        item.quantity,
        turns,
        piece.may_mirror,
        priority=1 if piece.rank is Rank.FIRST else 0,
        group=piece.panel if piece.together is Together.SHEET else None,
        filler=piece.rank is Rank.SPARE,
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
