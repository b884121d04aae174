"""The saw list as a person follows it, as data: marks for a rail saw, a fence for a bench saw.

A rail saw follows a mark: measured from an edge of the piece on the floor, with the kerf on the
waste side of it. A bench saw has a fence: the piece between fence and blade comes out as wide as
the fence is set, so cuts of one setting are made one after the other, as far as the pieces for
them are there. Texts for paper and screen are made elsewhere from these values.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal

from core.breakdown.fence import fewest_settings
from core.breakdown.model import Rect, SawCut, letter
from core.breakdown.replay import CutTrace, follow, rects_of
from core.errors import InvalidRequestError
from core.tolerances import SAW_TOL_MM

Saw = Literal["rail", "bench"]
Edge = Literal["left", "right", "bottom", "top"]
Kind = Literal["sheet", "strip", "part", "offcut", "scrap"]

_SETTING_DIGITS = 3  # fence settings that agree to a thousandth of a mm are one


@dataclass(frozen=True, slots=True)
class SawPiece:
    """A piece on the floor.

    name: "" for the sheet and for scrap, the part's or blank's own id, else a letter. kind: a
    strip is cut again, an offcut is kept, scrap is too narrow to keep. rect: where it lay on the
    sheet.
    """

    name: str
    kind: Kind
    rect: Rect


@dataclass(frozen=True, slots=True)
class SawStep:
    """One cut.

    order: counted from 1. piece: what is cut. cut: the kerf's centre line on the sheet.
    measure_mm from edge: where the mark goes; waste_side: the side of the mark on which the kerf
    lies. off: what comes off, stays: the rest; either is None if the kerf eats it.
    length_mm: along the cut; across_mm: size of the piece the other way.
    skims: less than half the blade is in the board.
    fence_mm: bench saw only, the width between fence and blade; fence_edge: the edge of the piece
    that runs along the fence; new_setting: the fence is moved before this cut; short_on_fence: the
    piece is shorter along the fence than across, so it may turn and bind: use a sled or another
    saw; beyond_fence: the fence does not reach so far.
    """

    order: int
    piece: SawPiece
    cut: SawCut
    measure_mm: float
    edge: Edge
    waste_side: Edge
    off: SawPiece | None
    stays: SawPiece | None
    length_mm: float
    across_mm: float
    skims: bool
    fence_mm: float | None = None
    fence_edge: Edge | None = None
    new_setting: bool = False
    short_on_fence: bool = False
    beyond_fence: bool = False


@dataclass(frozen=True, slots=True)
class SawList:
    """All steps for one sheet. settings: how often a bench saw's fence is set."""

    saw: Saw
    steps: tuple[SawStep, ...]
    settings: int


def mass_kg(area_mm2: float, thickness_mm: float, density_kg_m3: float) -> float:
    """Mass of a board: area × thickness × density.

    Raises InvalidRequestError for a negative value.
    >>> round(mass_kg(1220 * 2440, 18, 685), 2)
    36.7
    """
    if min(area_mm2, thickness_mm, density_kg_m3) < 0:
        raise InvalidRequestError(
            "Area, thickness and density cannot be negative",
            f"{area_mm2:g} mm², {thickness_mm:g} mm, {density_kg_m3:g} kg/m³",
            "Correct the board.",
        )
    return area_mm2 * thickness_mm * density_kg_m3 * 1e-9


def saw_steps(
    width_mm: float,
    height_mm: float,
    cuts: Sequence[tuple[float, float, float, float]],
    targets: Sequence[tuple[str, Rect]],
    *,
    kerf_mm: float,
    saw: Saw = "rail",
    fence_reach_mm: float | None = None,
    keep_side_mm: float = 100.0,
) -> SawList:
    """The cuts of a sheet as steps for a person at the saw.

    cuts: through cuts in order, as cut_rectangles, blanks_for and pattern_for give them. targets:
    name and rectangle of every wanted part or blank. For a bench saw the cuts are put in an order
    that sets the fence as few times as found; fence_reach_mm: widest setting of the fence.
    keep_side_mm: what is left over and narrower than this is scrap and gets no letter.
    Raises CutReplayError for cuts that cannot be done and InvalidRequestError for a target that
    the cuts do not free.
    """
    _, traces = follow(width_mm, height_mm, cuts, kerf_mm)
    rects = rects_of(width_mm, height_mm, traces, kerf_mm)
    pieces = _name_pieces(rects, traces, targets, keep_side_mm)
    book = _Book(traces, rects, pieces, kerf_mm)
    if saw == "rail":
        steps = tuple(
            book.rail_step(order, number) for order, number in enumerate(range(len(traces)), 1)
        )
        return SawList("rail", steps, 0)
    options = [book.fence_options(number, fence_reach_mm) for number in range(len(traces))]
    maker = {child: n for n, trace in enumerate(traces) for child in (trace.low, trace.high)}
    needs = [maker.get(trace.piece, -1) for trace in traces]
    keys = [{round(size, _SETTING_DIGITS): low for size, low in option} for option in options]
    runs = fewest_settings([list(key) for key in keys], needs)
    done: list[SawStep] = []
    for setting, numbers in runs:
        for position, number in enumerate(numbers):
            low_side = keys[number][setting]
            done.append(
                book.bench_step(len(done) + 1, number, low_side, position == 0, fence_reach_mm)
            )
    return SawList("bench", tuple(done), len(runs))


def _name_pieces(
    rects: dict[int, Rect],
    traces: Sequence[CutTrace],
    targets: Sequence[tuple[str, Rect]],
    keep_side_mm: float,
) -> dict[int, SawPiece]:
    """Targets keep their names; other pieces get the next free letter as they come off."""
    cut_up = {trace.piece for trace in traces}
    wanted: dict[int, str] = {}
    for name, target in targets:
        for number, rect in rects.items():
            if number not in cut_up and number not in wanted and _same(rect, Rect(*target)):
                wanted[number] = name
                break
        else:
            raise InvalidRequestError(
                f"The cuts do not free {name}",
                f"{target[2]:g} × {target[3]:g} mm at ({target[0]:g}, {target[1]:g})",
                "Take targets and cuts from the same plan.",
            )
    taken = {name for name, _ in targets}
    pieces: dict[int, SawPiece] = {}
    count = 0
    for number in sorted(rects):
        if number in wanted:
            pieces[number] = SawPiece(wanted[number], "part", rects[number])
            continue
        if number == 0:
            pieces[number] = SawPiece("", "sheet", rects[number])
            continue
        rect = rects[number]
        if number not in cut_up and min(rect.width_mm, rect.height_mm) < keep_side_mm:
            pieces[number] = SawPiece("", "scrap", rect)
            continue
        while letter(count) in taken:
            count += 1
        kind: Kind = "strip" if number in cut_up else "offcut"
        pieces[number] = SawPiece(letter(count), kind, rect)
        count += 1
    return pieces


def _same(one: Rect, other: Rect) -> bool:
    return all(abs(a - b) <= 2 * SAW_TOL_MM for a, b in zip(one, other, strict=True))


class _Book:
    """Traces and pieces with what the steps ask of them."""

    def __init__(
        self,
        traces: Sequence[CutTrace],
        rects: dict[int, Rect],
        pieces: dict[int, SawPiece],
        kerf_mm: float,
    ) -> None:
        self.traces = traces
        self.rects = rects
        self.pieces = pieces
        self.kerf_mm = kerf_mm
        self.cut_of = {trace.piece: number for number, trace in enumerate(traces)}

    def _cut_again(self, piece: int, upright: bool) -> bool:
        """True if the piece or something of it is cut once more in the same direction."""
        waiting = [piece]
        while waiting:
            number = self.cut_of.get(waiting.pop())
            if number is None:
                continue
            trace = self.traces[number]
            if trace.upright == upright:
                return True
            waiting += [child for child in (trace.low, trace.high) if child >= 0]
        return False

    def _sides(self, number: int) -> tuple[tuple[float, bool, bool], tuple[float, bool, bool]]:
        """Low and high side of a cut: size, whether wanted, whether that size is final."""
        trace = self.traces[number]
        sides = []
        for child in (trace.low, trace.high):
            if child < 0:
                sides.append((0.0, False, False))
                continue
            rect = self.rects[child]
            size = rect.width_mm if trace.upright else rect.height_mm
            wanted = self.pieces[child].kind in ("strip", "part")
            sides.append((size, wanted, wanted and not self._cut_again(child, trace.upright)))
        return sides[0], sides[1]

    def _step(
        self,
        order: int,
        number: int,
        low_side: bool,
        measure: float,
        waste_low: bool,
        from_low: bool,
    ) -> SawStep:
        trace = self.traces[number]
        rect = self.rects[trace.piece]
        low, high = (
            self.pieces[child] if child >= 0 else None for child in (trace.low, trace.high)
        )
        low_edge, high_edge = _edges(trace.upright)
        at = trace.cut.position_mm
        start = rect.x_mm if trace.upright else rect.y_mm
        end = rect.right_mm if trace.upright else rect.top_mm
        return SawStep(
            order=order,
            piece=self.pieces[trace.piece],
            cut=trace.cut,
            measure_mm=measure,
            edge=low_edge if from_low else high_edge,
            waste_side=low_edge if waste_low else high_edge,
            off=low if low_side else high,
            stays=high if low_side else low,
            length_mm=rect.height_mm if trace.upright else rect.width_mm,
            across_mm=rect.width_mm if trace.upright else rect.height_mm,
            skims=not start < at < end,
        )

    def rail_step(self, order: int, number: int) -> SawStep:
        """A cut along a mark: the size that matters is measured, the kerf lies beyond it."""
        (low, low_wanted, low_final), (high, high_wanted, high_final) = self._sides(number)
        if low_final or (low_wanted and not high_final):
            return self._step(order, number, True, low, waste_low=False, from_low=True)
        if high_final:
            return self._step(
                order, number, not high_wanted or low > 0, high, waste_low=True, from_low=False
            )
        # Trimming an edge: the mark is where the rest of the piece begins.
        return self._step(order, number, True, low + self.kerf_mm, waste_low=True, from_low=True)

    def fence_options(self, number: int, reach: float | None) -> list[tuple[float, bool]]:
        """Settings that make this cut: width between fence and blade, low side at the fence."""
        (low, low_wanted, low_final), (high, high_wanted, high_final) = self._sides(number)
        both = [(low, True, low_final, low_wanted), (high, False, high_final, high_wanted)]
        both = [side for side in both if side[0] > 0]
        for rank in (2, 3):
            chosen = [side for side in both if side[rank]]
            if chosen:
                break
        else:
            chosen = both
        near = [side for side in chosen if reach is None or side[0] <= reach + SAW_TOL_MM]
        if not near:
            near = [side for side in both if reach is None or side[0] <= reach + SAW_TOL_MM]
        return [(size, is_low) for size, is_low, _, _ in near or chosen]

    def bench_step(
        self, order: int, number: int, low_side: bool, new_setting: bool, reach: float | None
    ) -> SawStep:
        """A cut along the fence; the side at the fence comes out as wide as the setting."""
        sides = self._sides(number)
        size = sides[0 if low_side else 1][0]
        step = self._step(order, number, low_side, size, waste_low=not low_side, from_low=low_side)
        return replace(
            step,
            fence_mm=size,
            fence_edge=step.edge,
            new_setting=new_setting,
            short_on_fence=step.length_mm < step.across_mm - SAW_TOL_MM,
            beyond_fence=reach is not None and size > reach + SAW_TOL_MM,
        )


def _edges(upright: bool) -> tuple[Edge, Edge]:
    return ("left", "right") if upright else ("bottom", "top")
