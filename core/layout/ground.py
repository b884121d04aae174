"""Sheets on offer to the search, and a kept layout as the search knows it and back.

A sheet that was sawn already (frozen) is on offer as it is, once, before any other; its number
stays. All others are numbered through as they come.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from core.geometry import Motion
from core.layout.arrangement import Arrangement, arrangements_for, nest_sheet
from core.nesting import Layout, NestSheet, Placement
from core.project.model import KeptLayout, Placed, SawnSheet
from core.shop import Shop, Stock

Key = tuple[str, int]


@dataclass(frozen=True)
class Offer:
    """Sheets of one kind on offer. frozen: the one sheet of it, sawn already, else None."""

    arrangement: Arrangement
    frozen: SawnSheet | None = None


@dataclass(frozen=True)
class Ground:
    """The sheets of one material, by the key the search knows each kind of them by."""

    shop: Shop
    stocks: tuple[Stock, ...]
    costs: dict[str, float]
    offers: dict[str, Offer]

    @property
    def frozen_keys(self) -> tuple[str, ...]:
        """Keys of the sheets that were sawn already."""
        return tuple(key for key, offer in self.offers.items() if offer.frozen is not None)

    def sheets(self) -> list[NestSheet]:
        """The offers for nesting. A sheet that was sawn costs nothing more."""
        gone: dict[str, int] = {}
        for offer in self.offers.values():
            if offer.frozen is not None:
                gone[offer.frozen.sheet] = gone.get(offer.frozen.sheet, 0) + 1
        found = []
        for key, offer in self.offers.items():
            stock = offer.arrangement.stock
            left: int | None = 1
            cost = 0.0
            if offer.frozen is None:
                cost = self.costs[stock.id]
                left = stock.quantity
                if left is not None:
                    left -= gone.get(stock.id, 0)
                    if left <= 0:
                        continue
            found.append(nest_sheet(offer.arrangement, self.shop, key, quantity=left, cost=cost))
        return found

    def only(self, keys: Iterable[str]) -> Ground:
        """The same with some of the offers alone."""
        chosen = set(keys)
        return replace(self, offers={k: o for k, o in self.offers.items() if k in chosen})

    def kept(self, layout: Layout, digests: dict[str, str], seed: int) -> KeptLayout:
        """A layout of the search as one to keep, frozen sheets in it whether used or not."""
        frozen = [o.frozen for o in self.offers.values() if o.frozen is not None]
        taken: dict[str, set[int]] = {}
        for sheet in frozen:
            taken.setdefault(sheet.sheet, set()).add(sheet.sheet_copy)
        limits = {stock.id: stock.quantity for stock in self.stocks}
        number: dict[Key, Key] = {}
        sheets = list(frozen)
        for key, copy in layout.sheets:
            offer = self.offers[key]
            stock = offer.arrangement.stock.id
            if offer.frozen is not None:
                number[(key, copy)] = (stock, offer.frozen.sheet_copy)
                continue
            used = taken.setdefault(stock, set())
            limit = limits[stock]
            if limit is not None and len(used) >= limit:
                continue  # several arrangements shared one limited stock: the last ones go
            free = next(k for k in range(1, len(used) + 2) if k not in used)
            used.add(free)
            number[(key, copy)] = (stock, free)
            sheets.append(
                SawnSheet(stock, free, offer.arrangement.blanks, through=offer.arrangement.through)
            )
        placed = tuple(
            Placed(
                p.piece_id,
                p.copy,
                *number[(p.sheet_id, p.sheet_copy)],
                Motion(p.x_mm, p.y_mm, p.turn_deg, p.mirrored),
                digest=digests.get(p.piece_id, ""),
            )
            for p in layout.placements
            if (p.sheet_id, p.sheet_copy) in number
        )
        return KeptLayout(
            "", placed, tuple(sheets), steps=layout.steps, seed=seed, sheet_bound=layout.bound
        )


def ground_for(
    choice: Sequence[Arrangement],
    frozen: Sequence[SawnSheet],
    shop: Shop,
    stocks: Sequence[Stock],
    costs: dict[str, float],
) -> Ground:
    """The ground of frozen sheets and, after them, of fresh ones broken down as chosen."""
    by_id = {stock.id: stock for stock in stocks}
    offers: dict[str, Offer] = {}
    for sheet in frozen:
        if sheet.sheet in by_id and sheet.blanks:
            arrangement = Arrangement(by_id[sheet.sheet], sheet.blanks, sheet.through, sheet.lying)
            offers[f"{sheet.sheet}!{sheet.sheet_copy}"] = Offer(arrangement, sheet)
    for number, arrangement in enumerate(choice):
        offers[f"{arrangement.stock.id}#{number}"] = Offer(arrangement)
    return Ground(shop, tuple(stocks), costs, offers)


def from_kept(
    kept: KeptLayout,
    ground: Ground,
    wanted: dict[str, int],
    digests: dict[str, str],
    breakdown: str,
) -> tuple[Ground, Layout, list[Key]]:
    """A kept layout as the search knows it: ground, pieces that did not change, locked ones.

    wanted: copies of each piece. A sheet whose breakdown the layout does not say is broken down
    the usual way. Copies on frozen sheets keep their places but are not locked by that.
    """
    stocks = {stock.id: stock for stock in ground.stocks}
    sawn = {(s.sheet, s.sheet_copy): s for s in kept.sheets}
    offers = dict(ground.offers)
    keys = {o.arrangement: k for k, o in offers.items() if o.frozen is None}
    numbers: dict[Key, tuple[str, int]] = {
        (o.frozen.sheet, o.frozen.sheet_copy): (k, 1)
        for k, o in offers.items()
        if o.frozen is not None
    }
    counts: dict[str, int] = {}
    placements: list[Placement] = []
    locked: list[Key] = []
    for one in kept.placed:
        changed = bool(one.digest) and one.digest != digests.get(one.piece)
        if one.sheet not in stocks or one.copy > wanted.get(one.piece, 0) or changed:
            continue
        at = (one.sheet, one.sheet_copy)
        if at not in numbers:
            sheet = sawn.get(at)
            blanks = sheet.blanks if sheet is not None else ()
            through = sheet.through if sheet is not None else False
            if not blanks:
                ways = arrangements_for(stocks[one.sheet], ground.shop, choice=breakdown, most=1)
                if not ways:
                    continue
                blanks, through = ways[0].blanks, ways[0].through
            arrangement = Arrangement(stocks[one.sheet], blanks, through)
            if arrangement not in keys:
                keys[arrangement] = f"{one.sheet}#{len(keys)}-"
                offers[keys[arrangement]] = Offer(arrangement)
            key = keys[arrangement]
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
    return replace(ground, offers=offers), Layout(tuple(placements), seed=kept.seed), locked
