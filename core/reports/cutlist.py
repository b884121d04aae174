"""The cut list as data: every copy numbered in the order of cutting, every saw cut in words.

What prints, what goes into the spreadsheet and what the labels say all come from here, so they
cannot differ. Numbers run through the whole plan: number 17 on a diagram, in a table and on a
label is one and the same piece of board.
"""

from __future__ import annotations

import hashlib
import json
import math
from dataclasses import dataclass, replace
from functools import cached_property

from shapely.geometry import Polygon, box

from core.bed import MILLED
from core.geometry import Motion, Region
from core.outlines.model import Face, Feature, Role
from core.plan import Plan, PlanBlank, PlanPiece, PlanPlacement, PlanSetup, PlanSheet, plan_json
from core.project.model import CutBy
from core.reports.bits import BitJob, setup_jobs
from core.tolerances import FREED_SAME_MM, LAYOUT_DISTANCE_MM

ENGRAVING = "engraving"  # on paper; its line is followed, not cleared


@dataclass(frozen=True)
class CopyLine:
    """One copy of one piece where it is cut.

    number: its own in the whole plan. size: of the cut piece as drawn (not turned), mm.
    x_mm, y_mm: lower left of what it covers, from the sheet's lower left corner. blank: the letter
    of the blank it lies in, "" if none is sawn.
    other_face: features that must be cut from the face that lies down. setup: index into the
    sheet's setups or None.
    """

    number: int
    piece: PlanPiece
    placement: PlanPlacement
    of: int
    panel: str
    width_mm: float
    height_mm: float
    placed: Region
    face_up: Face
    other_face: int
    sheet: int
    blank: str
    setup: int | None
    inside: int | None

    @property
    def copy(self) -> int:
        return self.placement.copy

    @property
    def x_mm(self) -> float:
        return self.placed.bounds[0]

    @property
    def y_mm(self) -> float:
        return self.placed.bounds[1]

    @property
    def title(self) -> str:
        """The piece's name, with its copy where there are several."""
        return f"{self.piece.name} ({self.copy} of {self.of})" if self.of > 1 else self.piece.name


@dataclass(frozen=True, slots=True)
class SawLine:
    """One saw cut in a maker's terms.

    across: True if the cut runs up the sheet (its place is an x), False if along it (a y),
    None if askew. near_mm, far_mm: the two walls of the kerf, from the datum. fence_mm: width
    of the blank it frees, for a fence. flagged: shorter along the fence than across it.
    """

    order: int
    across: bool | None
    near_mm: float
    far_mm: float
    from_mm: float
    to_mm: float
    length_mm: float
    frees: str
    fence_mm: float | None
    flagged: bool


@dataclass(frozen=True)
class SetupLine:
    """One clamping. name: as written on its page and in its file name.

    frame carries sheet coordinates to the table's, whose origin is the lower left corner of the
    board as it lies there; laid are the copies in that frame, size_mm the board's size in it.
    """

    setup: PlanSetup
    name: str
    index: int
    blank: str
    copies: tuple[CopyLine, ...]
    jobs: tuple[BitJob, ...]
    mass_kg: float
    frame: Motion
    laid: tuple[CopyLine, ...]

    @property
    def size_mm(self) -> tuple[float, float]:
        wide, high = self.setup.width_mm, self.setup.height_mm
        return (high, wide) if self.setup.turned else (wide, high)


@dataclass(frozen=True)
class SheetLines:
    """One sheet with everything done to it, in order."""

    sheet: PlanSheet
    copies: tuple[CopyLine, ...]
    saw: tuple[SawLine, ...]
    setups: tuple[SetupLine, ...]


@dataclass(frozen=True)
class CutList:
    """The whole cut list of a plan."""

    plan: Plan
    sheets: tuple[SheetLines, ...]

    @cached_property
    def copies(self) -> tuple[CopyLine, ...]:
        """Every placed copy, by number."""
        return tuple(line for sheet in self.sheets for line in sheet.copies)

    @cached_property
    def mark(self) -> str:
        """Six signs that tell this plan from every other, printed on each page and label."""
        text = json.dumps(plan_json(self.plan), sort_keys=True, separators=(",", ":"))
        return hashlib.sha256(text.encode()).hexdigest()[:6]

    @property
    def mass_kg(self) -> float:
        return sum(sheet.sheet.mass_kg for sheet in self.sheets)


def build_cut_list(plan: Plan) -> CutList:
    """Number the copies in the order of cutting and put saw cuts and setups into words.

    Order within a sheet: what no setup holds first, as the saw cuts free it; then setup by
    setup as the plan has them; within a setup pieces that lie in the hole of another one before
    that one, then from the origin outwards.
    """
    sheets = []
    number = 1
    for sheet in plan.sheets:
        lines = _sheet(plan, sheet, number)
        number += len(lines.copies)
        sheets.append(lines)
    return CutList(plan, tuple(sheets))


def copies_of(plan: Plan, piece: PlanPiece) -> int:
    """How many copies of a piece the plan needs: the panel's quantity times the piece's."""
    panel = plan.panel(piece.panel)
    return piece.quantity * (panel.quantity if panel is not None else 1)


def face_up(piece: PlanPiece, *, mirrored: bool) -> Face:
    """The face that lies up: what was drawn, turned over if the piece is mirrored."""
    if not mirrored:
        return piece.show_face
    return Face.BACK if piece.show_face is Face.SHOW else Face.SHOW


def other_face(line: CopyLine) -> CopyLine:
    """The copy out of its board, turned over like a page: left and right change sides.

    Its lower left corner as it then lies is at (0, 0); the face that lay down is up.
    """
    mirrored = line.face_up is line.piece.show_face
    x1, y1, _, _ = line.piece.cut.moved(Motion(mirrored=mirrored)).bounds
    motion = Motion(-x1, -y1, mirrored=mirrored)
    return replace(
        line,
        placement=replace(line.placement, motion=motion),
        placed=line.piece.cut.moved(motion),
        face_up=face_up(line.piece, mirrored=mirrored),
    )


def feature_word(feature: Feature) -> str:
    """What a feature is called on paper."""
    if feature.kind is Role.ENGRAVE:
        return ENGRAVING
    if feature.at is not None:
        return "hole"
    return "pocket" if feature.ring is not None else "line"


def from_face(line: CopyLine) -> list[Feature]:
    """What is cut only from the face that lies up."""
    return [f for f in line.piece.features if f.face is line.face_up and f.depth_mm is not None]


def _setup_of(sheet: PlanSheet, placement: PlanPlacement, placed: Region) -> int | None:
    """The setup the plan says, else the one whose stretch holds the piece, or most of it."""
    if placement.setup:
        named = (k for k, setup in enumerate(sheet.setups) if setup.id == placement.setup)
        return next(named, None)
    x1, y1, x2, y2 = placed.bounds
    best: tuple[float, int] | None = None
    for index, setup in enumerate(sheet.setups):
        if setup.blank != placement.blank:
            continue
        wide = min(x2, setup.x_mm + setup.width_mm) - max(x1, setup.x_mm)
        high = min(y2, setup.y_mm + setup.height_mm) - max(y1, setup.y_mm)
        shared = max(wide, 0.0) * max(high, 0.0)
        # A piece on the border of two stretches belongs to the first that holds all of it.
        if shared > 0.0 and (best is None or shared > best[0] * (1.0 + 1e-9)):
            best = (shared, index)
    return best[1] if best else None


def _depths(regions: list[Region]) -> tuple[list[int], list[int | None]]:
    """How many pieces' holes each region lies in, and the index of the innermost such piece."""
    filled = [Polygon(r.outer.flattened(0.1)) if r.holes else None for r in regions]
    depths, inside = [], []
    for i, region in enumerate(regions):
        spot = region.polygon.representative_point()
        holders = [j for j, f in enumerate(filled) if j != i and f is not None and f.contains(spot)]
        depths.append(len(holders))
        inside.append(min(holders, key=lambda j: regions[j].area_mm2, default=None))
    return depths, inside


def _sheet(plan: Plan, sheet: PlanSheet, first_number: int) -> SheetLines:
    placements = list(sheet.placements)
    regions = [plan.placed_region(p) for p in placements]
    depths, inside = _depths(regions)
    setups = [_setup_of(sheet, p, r) for p, r in zip(placements, regions, strict=True)]
    # A sheet that is not sawn first is its own blank and needs no letter.
    letters = {blank.id: blank.letter for blank in sheet.blanks} if sheet.saw_cuts else {}
    freeing = _freeing_ranks(sheet, regions, plan.project.shop.rules.kerf_mm)

    def key(i: int) -> tuple[float, ...]:
        x1, y1, _, _ = regions[i].bounds
        setup = setups[i]
        if setup is None:
            return (-1, freeing[i], round(x1, 3), round(y1, 3), i)
        return (setup, -depths[i], round(x1, 3), round(y1, 3), i)

    order = sorted(range(len(placements)), key=key)
    numbers = {i: first_number + rank for rank, i in enumerate(order)}
    copies = []
    for i in order:
        placement, placed = placements[i], regions[i]
        piece = plan.piece(placement.piece)
        panel = plan.panel(piece.panel)
        up = face_up(piece, mirrored=placement.motion.mirrored)
        holder = inside[i]
        width, height = piece.cut.size_mm
        copies.append(
            CopyLine(
                number=numbers[i],
                piece=piece,
                placement=placement,
                of=copies_of(plan, piece),
                panel=panel.name if panel is not None else "",
                width_mm=width,
                height_mm=height,
                placed=placed,
                face_up=up,
                other_face=sum(f.face is not up and f.depth_mm is not None for f in piece.features),
                sheet=sheet.number,
                blank=letters.get(placement.blank, ""),
                setup=setups[i],
                inside=None if holder is None else numbers[holder],
            )
        )
    return SheetLines(
        sheet, tuple(copies), _saw(plan, sheet, copies), _setups(plan, sheet, letters, copies)
    )


def table_frame(setup: PlanSetup) -> Motion:
    """From sheet coordinates to those of the table, whose origin is the board's corner there."""
    if setup.turned:
        # A quarter turn takes (x, y) to (−y, x): the upper left corner becomes the lower left.
        return Motion(setup.y_mm + setup.height_mm, -setup.x_mm, 90.0)
    return Motion(-setup.x_mm, -setup.y_mm)


def carried(line: CopyLine, frame: Motion) -> CopyLine:
    """A copy as it lies after its board was moved by a frame that does not mirror."""
    old = line.placement.motion
    x, y = frame.apply(old.x_mm, old.y_mm)
    motion = Motion(x, y, (old.turn_deg + frame.turn_deg) % 360.0, old.mirrored)
    placement = replace(line.placement, motion=motion)
    return replace(line, placement=placement, placed=line.piece.cut.moved(motion))


def _setups(
    plan: Plan, sheet: PlanSheet, letters: dict[str, str], copies: list[CopyLine]
) -> tuple[SetupLine, ...]:
    lines = []
    full = sheet.area_mm2
    for index, setup in enumerate(sheet.setups):
        held = tuple(c for c in copies if c.setup == index)
        frame = table_frame(setup)
        blank = next((b for b in sheet.blanks if b.id == setup.blank), None)
        area = full
        if blank is not None:
            x, y = blank.x_mm, blank.y_mm
            sawn = box(x, y, x + blank.width_mm, y + blank.height_mm)
            area = float(sheet.stock.polygon.intersection(sawn).area)
        lines.append(
            SetupLine(
                setup=setup,
                name=f"{sheet.number}-{index + 1}",
                index=index,
                blank=letters.get(setup.blank, ""),
                copies=held,
                jobs=setup_jobs(
                    plan.project.shop,
                    [(c.piece, c.face_up) for c in held],
                    milled=[_milled(setup, c) for c in held],
                ),
                mass_kg=sheet.mass_kg * area / full if full else 0.0,
                frame=frame,
                laid=tuple(carried(c, frame) for c in held),
            )
        )
    return tuple(lines)


def _milled(setup: PlanSetup, line: CopyLine) -> frozenset[int]:
    """The holes of a copy whose slugs are milled away."""
    mine = (h for h in setup.holds if (h.piece, h.copy) == (line.piece.id, line.copy))
    return frozenset(h.hole for h in mine if h.hole is not None and h.way == MILLED)


def _saw(plan: Plan, sheet: PlanSheet, copies: list[CopyLine]) -> tuple[SawLine, ...]:
    kerf = plan.project.shop.rules.kerf_mm
    blanks = {b.id: b for b in sheet.blanks}
    freed = _freed_by_cut(sheet, copies, kerf)
    lines = []
    for cut in sorted(sheet.saw_cuts, key=lambda c: c.order):
        dx, dy = abs(cut.x2_mm - cut.x1_mm), abs(cut.y2_mm - cut.y1_mm)
        across = True if dx <= LAYOUT_DISTANCE_MM else False if dy <= LAYOUT_DISTANCE_MM else None
        at = cut.x1_mm if across else cut.y1_mm
        ends = (cut.y1_mm, cut.y2_mm) if across else (cut.x1_mm, cut.x2_mm)
        length = (dx * dx + dy * dy) ** 0.5
        words, sizes = freed.get(cut.order, ([], []))
        if not words and cut.frees:
            words = [_named(plan, cut.frees, blanks, copies)]
            blank = blanks.get(cut.frees)
            sizes = [(blank.width_mm, blank.height_mm)] if blank is not None else []
        fence = None
        if sizes and across is not None:
            fence = sizes[0][0] if across else sizes[0][1]
        lines.append(
            SawLine(
                order=cut.order,
                across=across,
                near_mm=at - kerf / 2,
                far_mm=at + kerf / 2,
                from_mm=min(ends),
                to_mm=max(ends),
                length_mm=length,
                frees=", ".join(words),
                fence_mm=fence,
                flagged=fence is not None and length < fence - LAYOUT_DISTANCE_MM,
            )
        )
    return tuple(lines)


_Rect = tuple[float, float, float, float]


def _replayed(sheet: PlanSheet, kerf_mm: float) -> list[tuple[int, list[_Rect]]]:
    """The cuts made one after another on the rectangle of the sheet: what each leaves apart.

    Cuts that are askew or lie off the board are passed over.
    """
    parts: list[_Rect] = [sheet.stock.polygon.bounds]
    out: list[tuple[int, list[_Rect]]] = []
    half = kerf_mm / 2
    for cut in sorted(sheet.saw_cuts, key=lambda c: c.order):
        x, y = (cut.x1_mm + cut.x2_mm) / 2, (cut.y1_mm + cut.y2_mm) / 2
        whole = next((p for p in parts if p[0] < x < p[2] and p[1] < y < p[3]), None)
        upright = abs(cut.x1_mm - cut.x2_mm) <= LAYOUT_DISTANCE_MM
        level = abs(cut.y1_mm - cut.y2_mm) <= LAYOUT_DISTANCE_MM
        if whole is None or not (upright or level):
            continue
        x1, y1, x2, y2 = whole
        if upright:
            halves = [(x1, y1, x - half, y2), (x + half, y1, x2, y2)]
        else:
            halves = [(x1, y1, x2, y - half), (x1, y + half, x2, y2)]
        parts.remove(whole)
        new = [h for h in halves if h[2] > h[0] and h[3] > h[1]]
        parts += new
        out.append((cut.order, new))
    return out


def _freed_by_cut(
    sheet: PlanSheet, copies: list[CopyLine], kerf_mm: float
) -> dict[int, tuple[list[str], list[tuple[float, float]]]]:
    """What each cut sets free: names and sizes of blanks, saw parts and offcuts to keep."""
    known: list[tuple[_Rect, str]] = [
        ((b.x_mm, b.y_mm, b.x_mm + b.width_mm, b.y_mm + b.height_mm), f"blank {b.letter}")
        for b in sheet.blanks
    ]
    known += [(c.placed.bounds, f"{c.number} {c.piece.name}") for c in copies if by_saw(c)]
    known += [(Polygon(o.points).bounds, "offcut to keep") for o in sheet.offcuts if o.keep]
    out: dict[int, tuple[list[str], list[tuple[float, float]]]] = {}
    for order, parts in _replayed(sheet, kerf_mm):
        names: list[str] = []
        sizes: list[tuple[float, float]] = []
        for part in parts:
            name = next((words for rect, words in known if _same(rect, part)), "")
            if name:
                names.append(name)
                sizes.append((part[2] - part[0], part[3] - part[1]))
        out[order] = (names, sizes)
    return out


def _freeing_ranks(sheet: PlanSheet, regions: list[Region], kerf_mm: float) -> list[float]:
    """For every region the order of the cut that leaves just its rectangle; inf if none does."""
    ranks = [math.inf] * len(regions)
    for order, parts in _replayed(sheet, kerf_mm):
        for part in parts:
            for index, region in enumerate(regions):
                if ranks[index] == math.inf and _same(region.bounds, part):
                    ranks[index] = order
    return ranks


def _same(first: _Rect, second: _Rect) -> bool:
    """True if two rectangles are one as far as a saw can tell."""
    return all(abs(a - b) <= FREED_SAME_MM for a, b in zip(first, second, strict=True))


def _named(plan: Plan, frees: str, blanks: dict[str, PlanBlank], copies: list[CopyLine]) -> str:
    """What the plan says a cut sets free, in words."""
    blank = blanks.get(frees)
    if blank is not None:
        return f"blank {blank.letter}"
    found = [c for c in copies if c.piece.id == frees]
    if len(found) == 1:
        return f"{found[0].number} {found[0].piece.name}"
    return found[0].piece.name if found else frees


def by_saw(line: CopyLine) -> bool:
    """True if the piece is finished by the saw."""
    return line.piece.by is CutBy.SAW
