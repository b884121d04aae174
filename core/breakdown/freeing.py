"""Finding the cuts that free given rectangles from a sheet: through cuts only, few of them.

Whatever decides where parts or blanks lie (a search, a nesting, a hand) only has to keep them
a kerf apart and separable; this module turns the places into a cut list. A cut that frees
nothing is never made, so what is left over stays in pieces as large as they can be.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from core.breakdown.model import Rect, SawCut
from core.errors import InvalidGeometryError
from core.tolerances import SAW_TOL_MM

_SEARCH_STEPS = 20_000  # regions looked at for the fewest cuts; beyond, the first cut that does
_MANY_GAPS = 10  # with more ways to part a row, it is halved: every one is needed some time


class NotSawableError(InvalidGeometryError):
    """Rectangles that no order of through cuts can free."""


@dataclass(frozen=True, slots=True)
class FreePattern:
    """Cuts that free the wanted rectangles.

    cuts: in order. targets: indices of the wanted rectangles in the order in which they come
    free. offcuts: whole rectangles left over.
    """

    cuts: tuple[SawCut, ...]
    targets: tuple[int, ...]
    offcuts: tuple[Rect, ...]


# A region is (x0, y0, x1, y1); a tree is the index of a target, a region (an offcut), or a cut.
_Region = tuple[float, float, float, float]


@dataclass(frozen=True, slots=True)
class _Cut:
    upright: bool
    at_mm: float  # kerf centre
    low: _Cut | _Region | int | None  # left of or below the kerf; None: eaten by the kerf
    high: _Cut | _Region | int | None


_Tree = _Cut | _Region | int | None
_Score = tuple[int, int, float]  # skimming cuts, cuts, minus the sum of squared offcut areas


def pattern_for(
    targets: Sequence[tuple[float, float, float, float]],
    sheet_w_mm: float,
    sheet_h_mm: float,
    *,
    kerf_mm: float,
) -> FreePattern:
    """Through cuts that free the target rectangles (x, y, width, height) from a sheet.

    targets: inside the sheet, pairwise at least a kerf apart in x or in y. Of all orders of cuts
    (all are tried on small sets) the one with the fewest cuts wins, then the one that leaves the
    largest offcuts. Raises NotSawableError if no order of through cuts frees the targets.
    >>> pattern_for([(0, 0, 3, 4)], 10, 4, kerf_mm=2).cuts
    (SawCut(x1_mm=4.0, y1_mm=0.0, x2_mm=4.0, y2_mm=4.0),)
    """
    rects = [Rect(*(float(value) for value in target)) for target in targets]
    whole = (0.0, 0.0, float(sheet_w_mm), float(sheet_h_mm))
    for rect in rects:
        outside = (
            min(rect.x_mm, rect.y_mm) < -SAW_TOL_MM
            or rect.right_mm > whole[2] + SAW_TOL_MM
            or rect.top_mm > whole[3] + SAW_TOL_MM
        )
        if outside or min(rect.width_mm, rect.height_mm) <= 0:
            raise NotSawableError(
                "Rectangle is empty or not on the sheet",
                f"{rect.width_mm:g} × {rect.height_mm:g} mm at ({rect.x_mm:g}, {rect.y_mm:g})",
                "Move it onto the sheet.",
            )
    search = _Search(rects, float(kerf_mm))
    result = search.best(whole, tuple(range(len(rects))))
    if result is None:
        raise NotSawableError(
            "Rectangles cannot be freed by through cuts",
            f"{len(rects)} rectangles on a sheet of {sheet_w_mm:g} × {sheet_h_mm:g} mm",
            f"Place them so that straight cuts {kerf_mm:g} mm wide can part them one by one.",
        )
    cuts: list[SawCut] = []
    freed: list[int] = []
    offcuts: list[Rect] = []
    _emit(result[1], whole, search.kerf_mm, cuts, freed, offcuts)
    return FreePattern(tuple(cuts), tuple(freed), tuple(offcuts))


class _Search:
    """Depth-first search over regions; a region's targets follow from the region, so it is memo."""

    def __init__(self, rects: list[Rect], kerf_mm: float) -> None:
        self.rects = rects
        self.kerf_mm = kerf_mm
        self.steps = 0
        self.known: dict[tuple[_Region, tuple[int, ...]], tuple[_Score, _Tree] | None] = {}

    def best(self, region: _Region, inside: tuple[int, ...]) -> tuple[_Score, _Tree] | None:
        x0, y0, x1, y1 = region
        if min(x1 - x0, y1 - y0) <= SAW_TOL_MM:
            return ((0, 0, 0.0), None) if not inside else None
        if not inside:
            return (0, 0, -(((x1 - x0) * (y1 - y0)) ** 2)), region
        if len(inside) == 1:
            rect = self.rects[inside[0]]
            if (
                abs(rect.width_mm - (x1 - x0)) <= SAW_TOL_MM
                and abs(rect.height_mm - (y1 - y0)) <= SAW_TOL_MM
            ):
                return (0, 0, 0.0), inside[0]
        key = (region, inside)
        if key not in self.known:
            self.known[key] = self._try_cuts(region, inside)
        return self.known[key]

    def _try_cuts(self, region: _Region, inside: tuple[int, ...]) -> tuple[_Score, _Tree] | None:
        found: tuple[_Score, _Tree] | None = None
        for upright, at, left, right in self._candidates(region, inside):
            self.steps += 1
            x0, y0, x1, y1 = region
            low_edge, high_edge = at - self.kerf_mm / 2, at + self.kerf_mm / 2
            low = self.best((x0, y0, low_edge, y1) if upright else (x0, y0, x1, low_edge), left)
            if low is None:
                continue
            high = self.best((high_edge, y0, x1, y1) if upright else (x0, high_edge, x1, y1), right)
            if high is None:
                continue
            start, end = (x0, x1) if upright else (y0, y1)
            skims = not start < at < end
            score = (
                low[0][0] + high[0][0] + skims,
                low[0][1] + high[0][1] + 1,
                low[0][2] + high[0][2],
            )
            if found is None or score < found[0]:
                found = score, _Cut(upright, at, low[1], high[1])
            # A through cut never makes the rest less separable, so any first cut will do.
            if self.steps > _SEARCH_STEPS and found[0][0] == 0:
                break
        return found

    def _candidates(
        self, region: _Region, inside: tuple[int, ...]
    ) -> list[tuple[bool, float, tuple[int, ...], tuple[int, ...]]]:
        """Kerfs that lie flush to a target and cross none, with the targets on either side."""
        found: list[tuple[bool, float, tuple[int, ...], tuple[int, ...]]] = []
        for upright in (False, True):
            spans = sorted(
                ((rect.x_mm, rect.right_mm, index) if upright else (rect.y_mm, rect.top_mm, index))
                for index, rect in ((i, self.rects[i]) for i in inside)
            )
            start, end = (region[0], region[2]) if upright else (region[1], region[3])
            half = self.kerf_mm / 2
            if spans[0][0] - start > SAW_TOL_MM:
                found.append((upright, spans[0][0] - half, (), inside))
            reach = spans[0][1]
            gaps = []
            for position in range(1, len(spans)):
                if spans[position][0] - reach >= self.kerf_mm - SAW_TOL_MM:
                    gaps.append((position, reach))
                reach = max(reach, spans[position][1])
            if len(gaps) > _MANY_GAPS:
                gaps = [gaps[len(gaps) // 2]]
            for position, before in gaps:
                left = tuple(sorted(index for _, _, index in spans[:position]))
                right = tuple(sorted(index for _, _, index in spans[position:]))
                found.append((upright, before + half, left, right))
                if spans[position][0] - before > self.kerf_mm + SAW_TOL_MM:
                    found.append((upright, spans[position][0] - half, left, right))
            if end - reach > SAW_TOL_MM:
                found.append((upright, reach + half, inside, ()))
        return found


def _emit(
    tree: _Tree,
    region: _Region,
    kerf_mm: float,
    cuts: list[SawCut],
    freed: list[int],
    offcuts: list[Rect],
) -> None:
    """Write the cuts of a tree: first all parallel ones of a part in order, then each strip's."""
    if tree is None:
        return
    if isinstance(tree, int):
        freed.append(tree)
        return
    if not isinstance(tree, _Cut):
        offcuts.append(Rect(tree[0], tree[1], tree[2] - tree[0], tree[3] - tree[1]))
        return
    positions: list[float] = []
    strips: list[_Tree] = []
    _flatten(tree, tree.upright, positions, strips)
    x0, y0, x1, y1 = region
    for at in positions:
        if tree.upright:
            cuts.append(SawCut(at, y0, at, y1))
        else:
            cuts.append(SawCut(x0, at, x1, at))
    starts = [x0 if tree.upright else y0, *(at + kerf_mm / 2 for at in positions)]
    ends = [*(at - kerf_mm / 2 for at in positions), x1 if tree.upright else y1]
    for strip, low, high in zip(strips, starts, ends, strict=True):
        part = (low, y0, high, y1) if tree.upright else (x0, low, x1, high)
        _emit(strip, part, kerf_mm, cuts, freed, offcuts)


def _flatten(tree: _Tree, upright: bool, positions: list[float], strips: list[_Tree]) -> None:
    """Positions of a part's parallel cuts, low to high, and the strips between them."""
    if isinstance(tree, _Cut) and tree.upright == upright:
        _flatten(tree.low, upright, positions, strips)
        positions.append(tree.at_mm)
        _flatten(tree.high, upright, positions, strips)
    else:
        strips.append(tree)
