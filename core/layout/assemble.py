"""From a layout, found or made by hand, to sheets with blanks, saw cuts, setups and offcuts.

Nothing is trusted: whatever the layout says is checked again here with exact predicates, and
what breaks a rule becomes a finding. So a layout dragged about by hand is told on exactly like
one that a search made.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache

import shapely
from shapely.geometry import Polygon, box
from shapely.geometry.base import BaseGeometry

from core.breakdown import (
    CutReplayError,
    FreePattern,
    NotSawableError,
    Rect,
    follow,
    letter,
    pattern_for,
    rects_of,
    saw_steps,
)
from core.errors import InvalidRequestError
from core.findings import Finding, Severity
from core.layout import holding
from core.layout.arrangement import (
    Arrangement,
    Rectangle,
    arrangements_for,
    largest_blank_mm2,
    planer_for,
)
from core.layout.checks import check_sheet
from core.layout.offcuts import edge_rectangle, first_overlap, rect_of, worth_keeping
from core.layout.setups import setups_of
from core.plan import (
    PlanBlank,
    PlanOffcut,
    PlanPiece,
    PlanPlacement,
    PlanSawCut,
    PlanSeam,
    PlanSetup,
    PlanSheet,
    rectangle_points,
)
from core.project.model import CutBy, KeptLayout, Placed, SawnSheet
from core.shop import SawKind, Shop, Stock
from core.tolerances import FIT_REL, LAYOUT_DISTANCE_MM, LYING_ON_MM2

_Cut = tuple[float, float, float, float]


@dataclass(frozen=True)
class Assembled:
    """The sheets of a plan and what was noticed about them."""

    sheets: tuple[PlanSheet, ...]
    findings: tuple[Finding, ...]


def assemble_sheets(
    pieces: Sequence[PlanPiece],
    shop: Shop,
    layout: KeptLayout,
    *,
    breakdown: str = "blanks",
    seams: Sequence[PlanSeam] = (),
) -> Assembled:
    """Sheets, blanks, cuts, setups, offcuts and findings of a layout.

    seams: of the pieces, so that no tab is put on a joint. Pieces that are not in ``pieces`` any
    more or sheets not in the shop are left out and told.
    """
    by_id = {piece.id: piece for piece in pieces}
    stocks = {stock.id: stock for stock in shop.stock}
    sawn = {(s.sheet, s.sheet_copy): s for s in layout.sheets}
    groups: dict[tuple[str, int], list[Placed]] = {}
    findings: list[Finding] = []
    for one in layout.placed:
        if one.piece in by_id and one.sheet in stocks:
            groups.setdefault((one.sheet, one.sheet_copy), []).append(one)
    order = {stock.id: k for k, stock in enumerate(shop.stock)}
    by_seam = {seam.id: seam for seam in seams}
    sheets = []
    for number, (at, placed) in enumerate(
        sorted(groups.items(), key=lambda item: (order[item[0][0]], item[0][1])), start=1
    ):
        maker = _SheetMaker(
            number, stocks[at[0]], sawn.get(at), placed, by_id, shop, breakdown, by_seam
        )
        sheets.append(maker.sheet())
        findings += maker.findings
    holding.next_round()
    return Assembled(tuple(sheets), tuple(findings))


class _SheetMaker:
    """One sheet of the plan."""

    def __init__(
        self,
        number: int,
        stock: Stock,
        sawn: SawnSheet | None,
        placed: list[Placed],
        by_id: dict[str, PlanPiece],
        shop: Shop,
        breakdown: str,
        seams: Mapping[str, PlanSeam],
    ) -> None:
        self.seams = seams
        self.number = number
        self.stock = stock
        self.placed = placed
        self.by_id = by_id
        self.shop = shop
        self.findings: list[Finding] = []
        self.shapes = [by_id[p.piece].cut.moved(p.motion).polygon for p in placed]
        self.id = f"S{number}"
        self.sawn_part = [by_id[p.piece].by is CutBy.SAW for p in placed]
        self.by_saw = all(self.sawn_part)
        self.sawn = sawn if sawn is not None else self._usual(breakdown)

    def _usual(self, breakdown: str) -> SawnSheet:
        """The usual breakdown of a sheet whose layout does not say."""
        ways = arrangements_for(self.stock, self.shop, choice=breakdown, most=1)
        sheet_copy = self.placed[0].sheet_copy
        if not ways or self.by_saw:
            return SawnSheet(self.stock.id, sheet_copy)
        return SawnSheet(self.stock.id, sheet_copy, ways[0].blanks, through=ways[0].through)

    def sheet(self) -> PlanSheet:
        """The sheet with all that happens to it."""
        if self.by_saw:
            return self._sawn_only()
        sawn = self.sawn
        lying = tuple(at for at in sawn.lying if 0 <= at[0] < len(sawn.blanks))
        arrangement = Arrangement(self.stock, sawn.blanks, sawn.through, lying)
        check_sheet(
            arrangement,
            self.placed,
            self.shapes,
            self.sawn_part,
            self.by_id,
            self.shop,
            self._tell,
        )
        home = [
            None if by_saw else self._blank_of(shape)
            for shape, by_saw in zip(self.shapes, self.sawn_part, strict=True)
        ]
        # Blanks that were sawn are all there, whether anything is cut from them or not.
        used = sorted({k for k in home if k is not None})
        shown = list(range(len(sawn.blanks))) if sawn.frozen else used
        rects = [sawn.blanks[k] for k in shown]
        parts = [
            rect_of(shape)
            for shape, by_saw in zip(self.shapes, self.sawn_part, strict=True)
            if by_saw
        ]
        cuts, order, free = self._saw(arrangement, rects, parts)
        names = {shown[k]: letter(n) for n, k in enumerate(order)}
        blanks = tuple(
            PlanBlank(f"{self.id}{names[shown[k]]}", names[shown[k]], *rects[k]) for k in order
        )
        placements = tuple(
            PlanPlacement(
                p.piece,
                p.copy,
                p.motion,
                f"{self.id}{names[at]}" if at is not None else "",
                p.locked,
            )
            for p, at in zip(self.placed, home, strict=True)
        )
        cuts = self._freed(cuts, blanks, placements)
        offcuts = [PlanOffcut(rectangle_points(*rect), worth_keeping(rect)) for rect in free]
        offcuts += self._blank_offcuts(blanks, placements)
        offcuts = [self._if_clear(offcut) for offcut in offcuts]
        holding = {p.blank for p in placements}
        made = setups_of(
            arrangement,
            [blank for blank in blanks if blank.id in holding],
            placements,
            self.shapes,
            self.by_id,
            self.seams,
            self.shop,
            self._tell,
            kept=[Polygon(o.points) for o in offcuts if o.keep],
        )
        self._check_mass(blanks)
        self._check_planer(blanks)
        return self._plan_sheet(made.placements, blanks, cuts, made.setups, tuple(offcuts))

    def _tell(
        self,
        code: str,
        severity: Severity,
        message: str,
        *,
        panel: str | None = None,
        at: tuple[float, float] | None = None,
        remedy: str = "",
    ) -> None:
        """A finding about this sheet."""
        words = f"Sheet {self.number}: {message}"
        self._find(code, severity, words, panel=panel, at=at, remedy=remedy)

    def _freed(
        self,
        cuts: tuple[PlanSawCut, ...],
        blanks: Sequence[PlanBlank],
        placements: Sequence[PlanPlacement],
    ) -> tuple[PlanSawCut, ...]:
        """The cuts with what each sets free: ids of blanks and of parts the saw finishes."""
        if not cuts:
            return cuts
        known = [((b.x_mm, b.y_mm, b.width_mm, b.height_mm), b.id) for b in blanks]
        known += [
            (rect_of(shape), p.piece)
            for p, shape, by_saw in zip(placements, self.shapes, self.sawn_part, strict=True)
            if by_saw
        ]
        kerf = self.shop.rules.kerf_mm
        size = (self.stock.width_mm, self.stock.height_mm)
        lines = [(c.x1_mm, c.y1_mm, c.x2_mm, c.y2_mm) for c in cuts]
        try:
            _, traces = follow(*size, lines, kerf)
        except CutReplayError as problem:
            self._tell("not-sawable", Severity.STOP, problem.what, remedy="Plan it again.")
            return cuts
        rects = rects_of(*size, traces, kerf)
        again = {trace.piece for trace in traces}
        named = []
        for cut, trace in zip(cuts, traces, strict=True):
            found = []
            for child in (trace.low, trace.high):
                if child >= 0 and child not in again:
                    rect = rects[child]
                    found += [
                        name
                        for known_rect, name in known
                        if all(
                            abs(a - b) <= LAYOUT_DISTANCE_MM
                            for a, b in zip(known_rect, rect, strict=True)
                        )
                    ]
            named.append(replace(cut, frees=", ".join(found)))
        return tuple(named)

    def _check_planer(self, blanks: Sequence[PlanBlank]) -> None:
        """A board to be planed that the planer does not take is told."""
        planer = planer_for(self.shop.material(self.stock.material), self.shop.limits)
        for blank in blanks if planer is not None else ():
            if planer is not None and not planer.takes(blank.width_mm, blank.height_mm):
                self._find(
                    "blank-not-planed",
                    Severity.WARN,
                    f"Sheet {self.number}: blank {blank.letter} is too wide or too short for the "
                    f"planer, which takes {planer.widest_mm:g} mm by {planer.shortest_mm:g} mm or "
                    "more",
                    at=(blank.x_mm, blank.y_mm),
                    remedy="Surface it on the bed, held by suction or edge stops with no clamp "
                    "on top.",
                )

    def _check_mass(self, blanks: Sequence[PlanBlank]) -> None:
        """A blank heavier than the mass set for one person is told."""
        most_mm2 = largest_blank_mm2(self.shop, self.shop.material(self.stock.material))
        for blank in blanks:
            area = blank.width_mm * blank.height_mm
            if most_mm2 is not None and area > most_mm2 * (1 + FIT_REL):
                self._find(
                    "blank-heavy",
                    Severity.WARN,
                    f"Blank {blank.letter} of sheet {self.number} is {area / most_mm2:.1f} times "
                    "as heavy as one person is to lift",
                    at=(blank.x_mm, blank.y_mm),
                    remedy="Get help, or split its pieces further.",
                )

    def _plan_sheet(
        self,
        placements: tuple[PlanPlacement, ...],
        blanks: tuple[PlanBlank, ...],
        cuts: tuple[PlanSawCut, ...],
        setups: tuple[PlanSetup, ...],
        offcuts: tuple[PlanOffcut, ...],
    ) -> PlanSheet:
        area = sum(self.by_id[p.piece].cut.area_mm2 for p in placements)
        material = self.shop.material(self.stock.material)
        mass = 0.0
        if material is not None:
            thickness_mm = material.raw_mm or material.thickness_mm
            volume_m3 = self.stock.polygon.area * thickness_mm * 1e-9
            mass = volume_m3 * material.density_kg_m3
        return PlanSheet(
            self.id,
            self.number,
            self.stock,
            placements,
            blanks,
            cuts,
            setups,
            offcuts,
            area,
            mass,
        )

    def _find(
        self,
        code: str,
        severity: Severity,
        message: str,
        *,
        panel: str | None = None,
        at: tuple[float, float] | None = None,
        remedy: str = "",
    ) -> None:
        self.findings.append(Finding(code, severity, message, panel, at, remedy))

    def _blank_of(self, shape: Polygon) -> int | None:
        """The index of the blank that holds the shape, or None if a cut goes through it."""
        x1, y1, x2, y2 = shape.bounds
        slack = LAYOUT_DISTANCE_MM
        for k, (x, y, width, height) in enumerate(self.sawn.blanks):
            if (
                x1 >= x - slack
                and y1 >= y - slack
                and x2 <= x + width + slack
                and y2 <= y + height + slack
            ):
                return k
        return None

    # --- saw and bed ----------------------------------------------------------------------

    def _saw(
        self,
        arrangement: Arrangement,
        rects: Sequence[Rectangle],
        parts: Sequence[Rectangle],
    ) -> tuple[tuple[PlanSawCut, ...], list[int], list[Rectangle]]:
        """Cuts that free the used blanks and the saw's parts, the order in which the blanks come
        free, and what is left."""
        if arrangement.is_whole and not parts:
            return (), list(range(len(rects))), []
        if not rects and not parts:
            return (), [], []
        try:
            pattern = _pattern(
                (*rects, *parts),
                self.stock.width_mm,
                self.stock.height_mm,
                self.shop.rules.kerf_mm,
            )
        except NotSawableError as problem:
            self._find(
                "not-sawable",
                Severity.STOP,
                f"Sheet {self.number}: {problem.what}",
                remedy="Let the sheet be broken down again.",
            )
            return (), list(range(len(rects))), []
        cuts = tuple(
            PlanSawCut(n, *cut)
            for n, cut in enumerate(self._in_order(pattern.cuts, (*rects, *parts)), start=1)
        )
        free = [(r.x_mm, r.y_mm, r.width_mm, r.height_mm) for r in pattern.offcuts]
        return cuts, [k for k in pattern.targets if k < len(rects)], free

    def _in_order(self, cuts: Sequence[_Cut], targets: Sequence[Rectangle]) -> Sequence[_Cut]:
        """The cuts as the saw makes them: for a bench saw, its fence set as seldom as found."""
        rules = self.shop.rules
        if rules.saw is not SawKind.BENCH or not cuts:
            return cuts
        try:
            steps = saw_steps(
                self.stock.width_mm,
                self.stock.height_mm,
                cuts,
                [(str(k), Rect(*target)) for k, target in enumerate(targets)],
                kerf_mm=rules.kerf_mm,
                saw="bench",
                fence_reach_mm=rules.fence_reach_mm,
            ).steps
        except (CutReplayError, InvalidRequestError):
            return cuts
        return [step.cut for step in steps]

    def _blank_offcuts(
        self, blanks: Sequence[PlanBlank], placements: Sequence[PlanPlacement]
    ) -> list[PlanOffcut]:
        """The largest clear rectangle at an edge of each used blank, if it is worth keeping."""
        found = []
        for blank in blanks:
            inside = [
                shape
                for shape, p in zip(self.shapes, placements, strict=True)
                if p.blank == blank.id
            ]
            rect = edge_rectangle(blank, inside, self.shop.spacing_mm, self.stock)
            if rect is not None and worth_keeping(rect):
                found.append(PlanOffcut(rectangle_points(*rect), True))
        return found

    def _if_clear(self, offcut: PlanOffcut) -> PlanOffcut:
        """An offcut is not kept where a piece lies on it, as one may that a hand put amiss."""
        if not offcut.keep:
            return offcut
        area = Polygon(offcut.points)
        lying = (shape for shape in self.shapes if shape.intersects(area))
        covered = any(shape.intersection(area).area > LYING_ON_MM2 for shape in lying)
        return replace(offcut, keep=False) if covered else offcut

    # --- parts cut by the saw alone -------------------------------------------------------

    def _sawn_only(self) -> PlanSheet:
        parts = [rect_of(shape) for shape in self.shapes]
        order = self._in_order(self.sawn.cuts or (), parts)
        cuts = tuple(PlanSawCut(n, *cut) for n, cut in enumerate(order, start=1))
        placements = tuple(
            PlanPlacement(p.piece, p.copy, p.motion, "", p.locked) for p in self.placed
        )
        cuts = self._freed(cuts, (), placements)
        whole = box(0, 0, self.stock.width_mm, self.stock.height_mm)
        kerf = self.shop.rules.kerf_mm
        slots = [
            shapely.LineString([(c.x1_mm, c.y1_mm), (c.x2_mm, c.y2_mm)]).buffer(
                kerf / 2, cap_style="flat"
            )
            for c in cuts
        ]
        rest: BaseGeometry = whole.difference(shapely.union_all([*slots, *self.shapes]))
        offcuts = []
        for part in shapely.get_parts(rest):
            if part.geom_type != "Polygon" or part.area < 1.0:
                continue
            x1, y1, x2, y2 = part.bounds
            rect = (x1, y1, x2 - x1, y2 - y1)
            is_rectangle = part.area > 0.999 * rect[2] * rect[3]
            offcuts.append(
                PlanOffcut(
                    tuple((float(x), float(y)) for x, y in part.exterior.coords[:-1]),
                    is_rectangle and worth_keeping(rect),
                )
            )
        overlap = first_overlap(self.shapes)
        if overlap is not None:
            first, second = (self.by_id[self.placed[k].piece].name for k in overlap)
            self._find(
                "layout-overlap",
                Severity.STOP,
                f"Sheet {self.number}: {first} and {second} overlap",
                remedy="Plan the sheet again.",
            )
        return self._plan_sheet(placements, (), cuts, (), tuple(offcuts))


@lru_cache(maxsize=256)
def _pattern(
    targets: tuple[Rectangle, ...], width_mm: float, height_mm: float, kerf_mm: float
) -> FreePattern:
    """pattern_for, remembered: a hand that moves a piece changes no blank."""
    return pattern_for(targets, width_mm, height_mm, kerf_mm=kerf_mm)
