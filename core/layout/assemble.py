"""From a layout, found or made by hand, to sheets with blanks, saw cuts, setups and offcuts.

Nothing is trusted: whatever the layout says is checked again here with exact predicates, and
what breaks a rule becomes a finding. So a layout dragged about by hand is told on exactly like
one that a search made.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import shapely
from shapely.geometry import Polygon, box
from shapely.geometry.base import BaseGeometry

from core.bed import bed_room
from core.breakdown import NotSawableError, letter, pattern_for
from core.findings import Finding, Severity
from core.layout.arrangement import (
    Arrangement,
    Rectangle,
    arrangements_for,
    largest_blank_mm2,
    nest_sheet,
)
from core.nesting import Layout, NestPiece, NestRules, Placement, check_layout
from core.plan import (
    PlanBlank,
    PlanOffcut,
    PlanPiece,
    PlanPlacement,
    PlanSawCut,
    PlanSetup,
    PlanSheet,
    rectangle_points,
)
from core.project.model import CutBy, KeptLayout, Placed, SawnSheet
from core.shop import Shop, Stock
from core.tolerances import FIT_REL, LAYOUT_DISTANCE_MM

#: An offcut is worth keeping from this size on (common practice, no source).
KEEP_SHORT_MM, KEEP_LONG_MM = 150.0, 300.0


@dataclass(frozen=True)
class Assembled:
    """The sheets of a plan and what was noticed about them."""

    sheets: tuple[PlanSheet, ...]
    findings: tuple[Finding, ...]


def assemble_sheets(
    pieces: Sequence[PlanPiece], shop: Shop, layout: KeptLayout, *, breakdown: str = "blanks"
) -> Assembled:
    """Sheets, blanks, cuts, setups, offcuts and findings of a layout.

    Pieces that are not in ``pieces`` any more or sheets not in the shop are left out and told.
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
    sheets = []
    for number, (at, placed) in enumerate(
        sorted(groups.items(), key=lambda item: (order[item[0][0]], item[0][1])), start=1
    ):
        maker = _SheetMaker(number, stocks[at[0]], sawn.get(at), placed, by_id, shop, breakdown)
        sheets.append(maker.sheet())
        findings += maker.findings
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
    ) -> None:
        self.number = number
        self.stock = stock
        self.placed = placed
        self.by_id = by_id
        self.shop = shop
        self.findings: list[Finding] = []
        self.shapes = [by_id[p.piece].cut.moved(p.motion).polygon for p in placed]
        self.id = f"S{number}"
        self.by_saw = all(by_id[p.piece].by is CutBy.SAW for p in placed)
        self.sawn = sawn if sawn is not None else self._usual(breakdown)

    def _usual(self, breakdown: str) -> SawnSheet:
        """The usual breakdown of a sheet whose layout does not say."""
        ways = arrangements_for(self.stock, self.shop, choice=breakdown, most=1)
        blanks = ways[0].blanks if ways and not self.by_saw else ()
        return SawnSheet(self.stock.id, self.placed[0].sheet_copy, blanks)

    def sheet(self) -> PlanSheet:
        """The sheet with all that happens to it."""
        if self.by_saw:
            return self._sawn_only()
        arrangement = Arrangement(self.stock, self.sawn.blanks)
        self._check(arrangement)
        home = [self._blank_of(shape) for shape in self.shapes]
        used = sorted({k for k in home if k is not None})
        rects = [self.sawn.blanks[k] for k in used]
        cuts, order, free = self._saw(arrangement, rects)
        names = {used[k]: letter(n) for n, k in enumerate(order)}
        blanks = tuple(
            PlanBlank(f"{self.id}{names[used[k]]}", names[used[k]], *rects[k]) for k in order
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
        offcuts = [PlanOffcut(rectangle_points(*rect), _worth_keeping(rect)) for rect in free]
        offcuts += self._blank_offcuts(blanks, placements)
        setups = tuple(self._setup(blank) for blank in blanks)
        if any(setup is None for setup in setups):
            self._find(
                "blank-too-large",
                Severity.STOP,
                f"A blank of sheet {self.number} is larger than the table",
                remedy="Let the sheet be broken down again, or choose a larger machine.",
            )
        self._check_mass(blanks)
        return self._plan_sheet(
            placements,
            blanks,
            cuts,
            tuple(setup for setup in setups if setup is not None),
            tuple(offcuts),
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

    # --- checks ---------------------------------------------------------------------------

    def _check(self, arrangement: Arrangement) -> None:
        """Every rule of the layout, from the pieces' outlines alone."""
        key = "sheet"
        pieces = {
            p.piece: NestPiece(
                p.piece,
                self.by_id[p.piece].cut.polygon,
                max(q.copy for q in self.placed if q.piece == p.piece),
                None,
                may_mirror=True,
            )
            for p in self.placed
        }
        placements = tuple(
            Placement(
                p.piece,
                p.copy,
                key,
                1,
                p.motion.x_mm,
                p.motion.y_mm,
                p.motion.turn_deg,
                p.motion.mirrored,
            )
            for p in self.placed
        )
        rules = NestRules(self.shop.spacing_mm, self.shop.rules.edge_margin_mm)
        sheet = nest_sheet(arrangement, self.shop, key, quantity=1, cost=1.0)
        wrong = check_layout(list(pieces.values()), [sheet], rules, Layout(placements))
        spots = {
            (p.piece, p.copy): shape.centroid
            for p, shape in zip(self.placed, self.shapes, strict=True)
        }
        for violation in wrong:
            if violation.code == "copies":
                continue  # one sheet holds only some of the copies
            first = violation.placements[0] if violation.placements else None
            piece = self.by_id[first.piece_id] if first is not None else None
            spot = spots[(first.piece_id, first.copy)] if first is not None else None
            self._find(
                f"layout-{violation.code}",
                Severity.STOP,
                f"Sheet {self.number}: {self._named(violation.message)}",
                panel=None if piece is None else piece.panel,
                at=None if spot is None else (spot.x, spot.y),
                remedy="Move the piece, or nest again.",
            )
        for p in self.placed:
            piece = self.by_id[p.piece]
            turn = p.motion.turn_deg
            allowed = piece.turns_deg
            if allowed is not None and not any(
                abs((turn - t + 180) % 360 - 180) < 1e-6 for t in allowed
            ):
                self._find(
                    "turn-not-allowed",
                    Severity.WARN,
                    f"Sheet {self.number}: {piece.name} lies at {turn:g}°, against its grain",
                    panel=piece.panel,
                    remedy="Turn it back, or set its grain to free.",
                )
            if p.motion.mirrored and not piece.may_mirror:
                self._find(
                    "mirrored",
                    Severity.STOP,
                    f"Sheet {self.number}: {piece.name} lies face down but may not be mirrored",
                    panel=piece.panel,
                    remedy="Turn it over, or allow it to be cut face down.",
                )

    def _named(self, message: str) -> str:
        """Piece ids in a message replaced by names a person knows."""
        words = []
        for word in message.split(" "):
            piece = self.by_id.get(word)
            words.append(piece.name if piece is not None else word)
        return " ".join(words)

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
        self, arrangement: Arrangement, rects: Sequence[Rectangle]
    ) -> tuple[tuple[PlanSawCut, ...], list[int], list[Rectangle]]:
        """Cuts that free the used blanks, the order in which they come free, and what is left."""
        if arrangement.is_whole or not rects:
            return (), list(range(len(rects))), []
        try:
            pattern = pattern_for(
                rects, self.stock.width_mm, self.stock.height_mm, kerf_mm=self.shop.rules.kerf_mm
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
            PlanSawCut(n, c.x1_mm, c.y1_mm, c.x2_mm, c.y2_mm)
            for n, c in enumerate(pattern.cuts, start=1)
        )
        free = [(r.x_mm, r.y_mm, r.width_mm, r.height_mm) for r in pattern.offcuts]
        return cuts, list(pattern.targets), free

    def _setup(self, blank: PlanBlank) -> PlanSetup | None:
        found = bed_room(
            self.shop.machine,
            blank.width_mm,
            blank.height_mm,
            edge_margin_mm=self.shop.rules.edge_margin_mm,
        )
        if found is None:
            return None
        return PlanSetup(
            f"{blank.id}-1",
            blank.id,
            blank.x_mm,
            blank.y_mm,
            blank.width_mm,
            blank.height_mm,
            found.bed_x_mm,
            found.bed_y_mm,
            found.turned,
        )

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
            if rect is not None and _worth_keeping(rect):
                found.append(PlanOffcut(rectangle_points(*rect), True))
        return found

    # --- parts cut by the saw alone -------------------------------------------------------

    def _sawn_only(self) -> PlanSheet:
        cuts = tuple(PlanSawCut(n, *cut) for n, cut in enumerate(self.sawn.cuts or (), start=1))
        placements = tuple(
            PlanPlacement(p.piece, p.copy, p.motion, "", p.locked) for p in self.placed
        )
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
                    is_rectangle and _worth_keeping(rect),
                )
            )
        overlap = _first_overlap(self.shapes)
        if overlap is not None:
            first, second = (self.by_id[self.placed[k].piece].name for k in overlap)
            self._find(
                "layout-overlap",
                Severity.STOP,
                f"Sheet {self.number}: {first} and {second} overlap",
                remedy="Plan the sheet again.",
            )
        return self._plan_sheet(placements, (), cuts, (), tuple(offcuts))


def _first_overlap(shapes: Sequence[Polygon]) -> tuple[int, int] | None:
    for i, first in enumerate(shapes):
        for j in range(i + 1, len(shapes)):
            if first.intersection(shapes[j]).area > 1e-3:
                return i, j
    return None


def _worth_keeping(rect: Rectangle) -> bool:
    short, long = sorted(rect[2:])
    return short >= KEEP_SHORT_MM and long >= KEEP_LONG_MM


def edge_rectangle(
    blank: PlanBlank, shapes: Sequence[Polygon], spacing_mm: float, stock: Stock
) -> Rectangle | None:
    """The largest clear rectangle that one straight cut frees from a blank, or None.

    Full width or height of the blank, from an edge to the nearest piece less spacing.
    """
    if not shapes:
        return None
    x1, y1 = blank.x_mm, blank.y_mm
    x2, y2 = x1 + blank.width_mm, y1 + blank.height_mm
    bounds = [shape.bounds for shape in shapes]
    left = min(b[0] for b in bounds) - spacing_mm
    low = min(b[1] for b in bounds) - spacing_mm
    right = max(b[2] for b in bounds) + spacing_mm
    high = max(b[3] for b in bounds) + spacing_mm
    options: list[Rectangle] = [
        (right, y1, x2 - right, y2 - y1),
        (x1, high, x2 - x1, y2 - high),
        (x1, y1, left - x1, y2 - y1),
        (x1, y1, x2 - x1, low - y1),
    ]
    closed = [d.polygon for d in stock.defects]
    outline = stock.polygon
    best: Rectangle | None = None
    for rect in options:
        if rect[2] <= 0 or rect[3] <= 0:
            continue
        shape = box(rect[0], rect[1], rect[0] + rect[2], rect[1] + rect[3])
        if any(shape.intersects(d) for d in closed) or not outline.buffer(1e-6).covers(shape):
            continue
        if best is None or rect[2] * rect[3] > best[2] * best[3]:
            best = rect
    return best
