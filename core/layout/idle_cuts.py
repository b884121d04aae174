"""Cuts that only take scrap off a blank are not made: the blank keeps it.

A blank is planned as large as what lies on it asks for. Where the strip beside it is good for
nothing, sawing it off frees nothing: one cut more, and often a sliver that is unpleasant at the
saw. Such a blank grows up to where the next cut runs anyway. Pieces stay where they lie.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import replace

from shapely import affinity
from shapely.geometry import Polygon

from core.breakdown import FreePattern, NotSawableError, pattern_for
from core.layout.arrangement import (
    Arrangement,
    Rectangle,
    largest_blank_mm2,
    planer_for,
    room_of,
)
from core.layout.offcuts import KEEP_SHORT_MM, rect_of, worth_keeping
from core.plan import PlanPiece
from core.project.model import CutBy, KeptLayout, SawnSheet
from core.shop import Shop, Stock
from core.tolerances import FIT_REL, LAYOUT_DISTANCE_MM, SAW_TOL_MM


def without_idle_cuts(
    layout: KeptLayout,
    shop: Shop,
    stocks: Sequence[Stock],
    pieces: Mapping[str, PlanPiece],
    *,
    stop: Callable[[], bool] | None = None,
) -> KeptLayout:
    """The layout with blanks grown over scrap wherever that saves a cut.

    pieces: by id, those for the saw too. stop: asked now and then; once true, the sheets not yet
    looked at stay as they are (a sheet of 28 blanks takes a second). Sheets that are sawn already
    or pushed through, that have defects, another outline than a rectangle or blanks put on the
    bed by hand stay as they are too.
    """
    by_id = {s.id: s for s in stocks if not s.points and not s.defects}
    sheets = []
    for sheet in layout.sheets:
        stock = by_id.get(sheet.sheet)
        settled = sheet.frozen or sheet.through or bool(sheet.lying) or bool(sheet.cuts)
        if stock is None or settled or not sheet.blanks or (stop is not None and stop()):
            sheets.append(sheet)
        else:
            sheets.append(_SheetOfBlanks(sheet, stock, shop, layout, pieces).grown())
    return replace(layout, sheets=tuple(sheets))


class _SheetOfBlanks:
    """One sheet whose blanks may still change."""

    def __init__(
        self,
        sheet: SawnSheet,
        stock: Stock,
        shop: Shop,
        layout: KeptLayout,
        pieces: Mapping[str, PlanPiece],
    ) -> None:
        self.sheet = sheet
        self.stock = stock
        self.shop = shop
        self.kerf_mm = shop.rules.kerf_mm
        material = shop.material(stock.material)
        self.most_mm2 = largest_blank_mm2(shop, material)
        self.planer = planer_for(material, shop.limits)
        #: Outlines on each blank that is used; rectangles that the saw finishes.
        self.on: dict[int, list[Polygon]] = {}
        self.parts: list[Rectangle] = []
        for one in layout.placed:
            at = (one.sheet, one.sheet_copy)
            if at != (sheet.sheet, sheet.sheet_copy) or one.piece not in pieces:
                continue
            shape = pieces[one.piece].cut.moved(one.motion).polygon
            if pieces[one.piece].by is CutBy.SAW:
                self.parts.append(rect_of(shape))
                continue
            home = next((k for k, b in enumerate(sheet.blanks) if holds(b, shape)), None)
            if home is not None:
                self.on.setdefault(home, []).append(shape)

    def grown(self) -> SawnSheet:
        """The sheet with fewer cuts, or as it is."""
        blanks = {k: self.sheet.blanks[k] for k in sorted(self.on)}
        known = self._pattern(blanks)
        if known is None:
            return self.sheet
        changed = True
        while changed and known.cuts:
            changed = False
            for k in blanks:
                for rect in self._larger(k, blanks, known):
                    tried = {**blanks, k: rect}
                    found = self._pattern(tried)
                    if (
                        found is not None
                        and len(found.cuts) < len(known.cuts)
                        and _kept_mm2(found) >= _kept_mm2(known) * (1 - FIT_REL)
                    ):
                        blanks, known, changed = tried, found, True
                        break
        # A blank without a piece that would now overlap is part of the one that grew.
        kept = []
        for k, rect in enumerate(self.sheet.blanks):
            if k in blanks:
                kept.append(blanks[k])
            elif all(_apart(rect, other, 0.0) for other in blanks.values()):
                kept.append(rect)
        return replace(self.sheet, blanks=tuple(kept))

    def _pattern(self, blanks: Mapping[int, Rectangle]) -> FreePattern | None:
        try:
            return pattern_for(
                (*blanks.values(), *self.parts),
                self.stock.width_mm,
                self.stock.height_mm,
                kerf_mm=self.kerf_mm,
            )
        except NotSawableError:
            return None

    def _larger(
        self, k: int, blanks: Mapping[int, Rectangle], known: FreePattern
    ) -> Iterator[Rectangle]:
        """The blank with a strip of scrap more at one side, as far as it may have it."""
        x, y, w, h = blanks[k]
        others = [rect for j, rect in blanks.items() if j != k] + self.parts
        size = (self.stock.width_mm, self.stock.height_mm)
        for axis in (0, 1):
            low, high = (x, x + w) if axis == 0 else (y, y + h)
            for upper in (True, False):
                for more in sorted(self._strips(blanks[k], axis, upper, others, size, known)):
                    start, end = (low, high + more) if upper else (low - more, high)
                    rect = (start, y, end - start, h) if axis == 0 else (x, start, w, end - start)
                    if self._serves(k, rect) and all(
                        _apart(rect, other, self.kerf_mm) for other in others
                    ):
                        yield rect

    def _strips(
        self,
        blank: Rectangle,
        axis: int,
        upper: bool,
        others: Sequence[Rectangle],
        size: tuple[float, float],
        known: FreePattern,
    ) -> set[float]:
        """How far a side may move out: over an offcut that adjoins, or up to what is next."""
        across = 1 - axis
        side = blank[axis] + blank[axis + 2] if upper else blank[axis]
        room = size[axis] - side if upper else side
        for other in others:
            if (
                other[across] < blank[across] + blank[across + 2] - SAW_TOL_MM
                and other[across] + other[across + 2] > blank[across] + SAW_TOL_MM
            ):
                gap = other[axis] - side if upper else side - (other[axis] + other[axis + 2])
                if gap >= 0:
                    room = min(room, gap - self.kerf_mm)
        found = {room}
        for rect in known.offcuts:
            strip: Rectangle = (rect.x_mm, rect.y_mm, rect.width_mm, rect.height_mm)
            near = strip[axis] - side if upper else side - (strip[axis] + strip[axis + 2])
            if abs(near - self.kerf_mm) <= LAYOUT_DISTANCE_MM and not worth_keeping(strip):
                found.add(near + strip[axis + 2])
        return {v for v in found if SAW_TOL_MM < v <= min(room, KEEP_SHORT_MM) + SAW_TOL_MM}

    def _serves(self, k: int, rect: Rectangle) -> bool:
        """True if a person, the planer, the table and the bit can do with the larger blank."""
        if self.most_mm2 is not None and rect[2] * rect[3] > self.most_mm2 * (1 + FIT_REL):
            return False
        was = self.sheet.blanks[k]
        if (
            self.planer is not None
            and self.planer.takes(*was[2:])
            and not self.planer.takes(*rect[2:])
        ):
            return False
        room = room_of(Arrangement(self.stock, (rect,)), rect, self.shop)
        room = affinity.translate(room, rect[0], rect[1]).buffer(LAYOUT_DISTANCE_MM)
        return all(room.covers(shape) for shape in self.on[k])


def holds(blank: Rectangle, shape: Polygon) -> bool:
    """True if the shape lies on the blank."""
    x, y, w, h = blank
    x1, y1, x2, y2 = shape.bounds
    slack = LAYOUT_DISTANCE_MM
    return bool(x1 >= x - slack and y1 >= y - slack and x2 <= x + w + slack and y2 <= y + h + slack)


def _apart(first: Rectangle, second: Rectangle, kerf_mm: float) -> bool:
    """True if a saw cut runs between two rectangles (kerf 0: they do not overlap)."""
    gaps = [
        max(second[a] - first[a] - first[a + 2], first[a] - second[a] - second[a + 2])
        for a in (0, 1)
    ]
    return max(gaps) >= kerf_mm - SAW_TOL_MM


def _kept_mm2(pattern: FreePattern) -> float:
    """Area of the offcuts that go to the rack."""
    rects = ((r.x_mm, r.y_mm, r.width_mm, r.height_mm) for r in pattern.offcuts)
    return sum(rect[2] * rect[3] for rect in rects if worth_keeping(rect))
