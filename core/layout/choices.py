"""Which ways of breaking the sheets down are worth a trial, and what fits the blanks of each."""

from __future__ import annotations

from collections.abc import Sequence

from core.bed import bed_room, feed_of
from core.geometry import Motion
from core.layout.arrangement import Arrangement, arrangements_for, room_of
from core.layout.rooms import fits_rooms, largest_rectangles
from core.nesting import NestPiece
from core.plan import PlanPiece
from core.project.model import Rank, Together
from core.shop import Shop, Stock
from core.tolerances import FIT_REL

#: Ways to break the sheets down that are each tried with a short nesting.
MOST_CHOICES = 4


class Choices:
    """Ways to break the stocks of one material down for the pieces that are needed."""

    def __init__(
        self, stocks: Sequence[Stock], shop: Shop, breakdown: str, needed: Sequence[PlanPiece]
    ) -> None:
        self.stocks = stocks
        self.shop = shop
        self.breakdown = breakdown
        self.needed = needed
        self._known: dict[tuple[object, ...], bool] = {}

    def _ways(self) -> dict[str, tuple[Arrangement, ...]]:
        return {
            stock.id: arrangements_for(stock, self.shop, choice=self.breakdown)
            for stock in self.stocks
        }

    def that_never_run_out(self, choice: Sequence[Arrangement]) -> list[Arrangement]:
        """A choice, and more ways for pieces that it takes on stocks alone that run out."""
        found = list(choice)
        endless = [a for way in self._ways().values() for a in way if a.stock.quantity is None]
        for piece in sorted(self.needed, key=lambda p: -p.cut.area_mm2):
            here = [a for a in found if a.stock.quantity is None]
            if not self.fits(piece, here):
                found += [a for a in endless if self.fits(piece, [a])][:1]
        return found

    def all(self) -> list[list[Arrangement]]:
        """Ways to break the stocks down: each a list with one or more arrangements per stock."""
        ways = self._ways()
        every = [a for way in ways.values() for a in way]
        placeable = [piece for piece in self.needed if self.fits(piece, every)]
        choices: list[list[Arrangement]] = []
        for k in range(max((len(way) for way in ways.values()), default=0)):
            choice = [way[min(k, len(way) - 1)] for way in ways.values() if way]
            if all(self.fits(piece, choice) for piece in placeable):
                choices.append(choice)
                if len(choices) == MOST_CHOICES:
                    break
        if choices:
            return choices
        # No single way has a blank for every piece: let nesting pick among several at once.
        kept = [way[0] for way in ways.values() if way]
        for piece in sorted(placeable, key=lambda p: -p.cut.area_mm2):
            if not self.fits(piece, kept):
                kept.append(next(a for a in every if self.fits(piece, [a])))
        return [kept] if kept else []

    def fits(self, piece: PlanPiece, arrangements: Sequence[Arrangement]) -> bool:
        """True if the piece's bounds fit a blank of one of the arrangements."""
        key = (piece.id, piece.digest, tuple(arrangements))
        if key not in self._known:
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
            self._known[key] = fits_rooms(piece.cut.polygon, piece.turns_deg, rooms)
        return self._known[key]


def windows_of(
    stocks: Sequence[Stock], shop: Shop, breakdown: str
) -> tuple[tuple[bool, float], ...]:
    """(fed along the sheet's y, longest piece) of every way sheets are pushed through."""
    found: dict[tuple[bool, float], None] = {}
    for stock in stocks:
        for arrangement in arrangements_for(stock, shop, choice=breakdown):
            for _, _, w, h in arrangement.blanks if arrangement.through else ():
                feed = feed_of(shop.machine, w, h)
                if feed is not None and bed_room(shop.machine, w, h) is None:
                    found[(feed.turned, feed.window_mm)] = None
    return tuple(found)


def nest_piece(
    piece: PlanPiece, quantity: int, windows: Sequence[tuple[bool, float]] = ()
) -> NestPiece | None:
    """The piece for nesting; where sheets are pushed through, only turns one stop cuts whole.

    None if there is no such turn.
    """
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
        quantity,
        turns,
        piece.may_mirror,
        priority=1 if piece.rank is Rank.FIRST else 0,
        group=piece.panel if piece.together is Together.SHEET else None,
        filler=piece.rank is Rank.SPARE,
    )


def fits_a_blank(piece: PlanPiece, shop: Shop, breakdown: str) -> bool:
    """True if some blank of the sheets of its board could hold a piece by itself."""
    stocks = [s for s in shop.stock if s.material == piece.material and s.quantity != 0]
    every = [a for s in stocks for a in arrangements_for(s, shop, choice=breakdown)]
    if nest_piece(piece, 1, windows_of(stocks, shop, breakdown)) is None:
        return False
    return Choices(stocks, shop, breakdown, [piece]).fits(piece, every)
