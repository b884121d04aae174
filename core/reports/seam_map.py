"""The seam map: a split panel pulled apart, how it goes together and how to check it square."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import shapely

from core.geometry import Motion, Point, Region
from core.outlines.model import Face
from core.plan import Plan, PlanPanel, PlanPiece, PlanSeam
from core.project.saying import in_project_unit
from core.reports.board import Board, Box, scale_text
from core.reports.cutlist import CutList
from core.reports.diagrams import tint_of
from core.reports.fonts import wrap
from core.reports.paper import Column, Flow
from core.reports.picture import (
    ACCENT,
    FINE_MM,
    INK,
    MUTED,
    NARROW_MM,
    THIN_MM,
    WIDE_MM,
    Line,
    Shape,
    Stroke,
    circle,
    text,
)
from core.reports.words import Words, listed

SHARP_DEG = 30.0  # arcs are drawn in chords that turn by less


@dataclass(frozen=True, slots=True)
class Diagonals:
    """Two distances that are equal when a panel with mirror-like corners is square.

    first, second: end points on the drawn outline.
    """

    first: tuple[Point, Point]
    second: tuple[Point, Point]

    @property
    def first_mm(self) -> float:
        return math.dist(*self.first)

    @property
    def second_mm(self) -> float:
        return math.dist(*self.second)


def diagonals(outline: Region) -> Diagonals | None:
    """The diagonals to measure on the glued panel; None if its corners do not lie apart.

    Ends are what a tape can be hooked on: the outline's own corners near the corners of its
    bounds; where there is none, its nearest points (the middle of the arc of a rounded corner).
    """
    x1, y1, x2, y2 = outline.bounds
    edge = outline.polygon.exterior
    sharp = _sharp_corners(edge)
    found: list[Point] = []
    for corner in ((x1, y1), (x2, y1), (x2, y2), (x1, y2)):
        end = shapely.shortest_line(edge, shapely.Point(corner)).coords[0]
        point = (float(end[0]), float(end[1]))
        near = min(((math.dist(at, corner), at) for at in sharp), default=(0.0, point))[1]
        # Beyond that it is another corner of the panel, as of a notch beside a rounded corner.
        if math.dist(near, corner) <= 1.5 * math.dist(point, corner) + 1.0:
            point = near
        found.append(point)
    apart = min(math.dist(a, b) for i, a in enumerate(found) for b in found[i + 1 :])
    if apart < 0.05 * min(x2 - x1, y2 - y1):
        return None
    return Diagonals((found[0], found[2]), (found[1], found[3]))


def _sharp_corners(edge: shapely.LinearRing) -> list[Point]:
    """Vertices at which a ring turns by more than arcs in chords do."""
    points = shapely.get_coordinates(edge)[:-1]
    before, after = points - np.roll(points, 1, axis=0), np.roll(points, -1, axis=0) - points
    cross = before[:, 0] * after[:, 1] - before[:, 1] * after[:, 0]
    turn = np.degrees(np.abs(np.arctan2(cross, (before * after).sum(axis=1))))
    return [(float(x), float(y)) for x, y in points[turn >= SHARP_DEG]]


def split_panels(plan: Plan) -> list[PlanPanel]:
    """Panels that are made of pieces with seams between them."""
    with_seams = {seam.panel for seam in plan.seams}
    return [panel for panel in plan.panels if panel.id in with_seams]


def seam_page(flow: Flow, cut_list: CutList, panel: PlanPanel, words: Words) -> None:
    """The pages of one split panel."""
    plan = cut_list.plan
    seams = [s for s in plan.seams if s.panel == panel.id]
    ids = dict.fromkeys([*panel.pieces, *(p for s in seams for p in s.pieces)])
    pieces = [plan.piece(i) for i in ids if _has(plan, i)]
    made = f", make {panel.quantity}" if panel.quantity > 1 else ""
    flow.page(f"Seam map: {panel.name}{made}", "seams")
    face = pieces[0].show_face if pieces else Face.SHOW
    side = "the show face" if face is Face.SHOW else "the back"
    width, height = panel.outline.size_mm
    flow.paragraph(
        f"Drawn with {side} towards you and pulled apart. Glued up it measures "
        f"{words.with_unit(width)} by {words.with_unit(height)}. Bring letters together: "
        "each edge marked with a letter meets the edge with the same letter.",
    )
    inset = min(78.0, flow.span * 0.29)
    area = (flow.left, flow.bottom, flow.right - inset - 6.0, flow.y - 2.0)
    high = min(flow.room - 2.0, flow.full_room * 0.62)
    area = (area[0], area[3] - high, area[2], area[3])
    board = exploded_board(plan, panel, pieces, seams, area)
    flow.add(board.marks, scale=board.n)
    flow.add([text(flow.left, board.y0 - 5.0, f"Scale {scale_text(board.n)}", 8, colour=MUTED)])
    side_low = _closed(flow, panel, seams, words, flow.right - inset, area[3], inset)
    flow.y = min(board.y0 - 7.0, side_low)
    _seam_table(flow, plan, seams, words)
    flow.save_pages(lambda onto: _lists(onto, cut_list, panel, pieces, words))


def exploded_board(
    plan: Plan, panel: PlanPanel, pieces: list[PlanPiece], seams: list[PlanSeam], area: Box
) -> Board:
    """The pieces of a panel moved apart from its middle, seams lettered in the gaps."""
    body = [p for p in pieces if not p.loose]
    loose = [p for p in pieces if p.loose]
    shifts = _shifts(panel, body, seams)
    moved = {p.id: p.cut.moved(shifts[p.id]) for p in body}
    boxes = [r.bounds for r in moved.values()] or [panel.outline.bounds]
    low_x, low_y = min(b[0] for b in boxes), min(b[1] for b in boxes)
    high_x, high_y = max(b[2] for b in boxes), max(b[3] for b in boxes)
    # Loose pieces (keys) lie in a row below.
    at_x, row_y = low_x, low_y
    for piece in loose:
        x1, y1, x2, y2 = piece.cut.bounds
        gap = 0.04 * (high_x - low_x)
        if at_x + x2 - x1 > high_x and at_x > low_x:
            at_x, row_y = low_x, low_y
        shift = Motion(at_x - x1, row_y - gap - y2)
        moved[piece.id] = piece.cut.moved(shift)
        at_x += x2 - x1 + gap
        low_y = min(low_y, row_y - gap - (y2 - y1))
    window = (low_x, low_y, max(high_x, at_x), high_y)
    board = Board(window, area, margins=(2.0, 2.0, 2.0, 2.0))
    for piece in pieces:
        board.region(
            moved[piece.id], Stroke(NARROW_MM), tint_of(plan, panel.id), role="part", key=piece.id
        )
    for seam in seams:
        ends = [i for i in seam.pieces if i in shifts]
        for piece_id in ends:
            shift = shifts[piece_id]
            for stretch in seam.stretches or (seam.profile,):
                board.line([shift.apply(*p) for p in stretch], Stroke(WIDE_MM, ACCENT))
        _seam_letter(board, seam, [shifts[i] for i in ends])
    shapes = [board.polygon(moved[p.id].polygon) for p in pieces]
    homeless = []
    for piece, shape in sorted(zip(pieces, shapes, strict=True), key=lambda pair: pair[1].area):
        if not board.name_inside(shape, piece.name, []):
            homeless.append((shape, piece.name))
    board.lead_out(homeless, shapes)
    return board


def _has(plan: Plan, piece_id: str) -> bool:
    return any(piece.id == piece_id for piece in plan.pieces)


def _shifts(panel: PlanPanel, pieces: list[PlanPiece], seams: list[PlanSeam]) -> dict[str, Motion]:
    """How far each piece moves from the panel's middle so that every seam opens visibly."""
    middles = {p.id: _middle(p.outline) for p in pieces}
    wide, high = panel.outline.size_mm
    gap = 0.09 * max(wide, high)
    nearest = min(
        (
            math.dist(middles[s.pieces[0]], middles[s.pieces[1]])
            for s in seams
            if s.pieces[0] in middles and s.pieces[1] in middles
        ),
        default=gap,
    )
    factor = min(gap / nearest, 0.6) if nearest > 0 else 0.3
    cx, cy = _middle(panel.outline)
    return {
        piece_id: Motion((x - cx) * factor, (y - cy) * factor)
        for piece_id, (x, y) in middles.items()
    }


def _middle(region: Region) -> Point:
    x1, y1, x2, y2 = region.bounds
    return ((x1 + x2) / 2, (y1 + y2) / 2)


def _half_way(points: tuple[Point, ...]) -> Point:
    """The point half way along a line."""
    steps = [math.dist(a, b) for a, b in pairwise(points)]
    left = sum(steps) / 2
    for (a, b), step in zip(pairwise(points), steps, strict=True):
        if step >= left and step > 0:
            share = left / step
            return (a[0] + (b[0] - a[0]) * share, a[1] + (b[1] - a[1]) * share)
        left -= step
    return points[0]


def _seam_letter(board: Board, seam: PlanSeam, shifts: list[Motion]) -> None:
    spot = _half_way(seam.line or seam.profile)
    ends = [board.point(*shift.apply(*spot)) for shift in shifts]
    if len(ends) == 2:
        board.marks.append(Line((ends[0], ends[1]), Stroke(THIN_MM, ACCENT, (0.8, 0.6))))
    x = sum(e[0] for e in ends) / len(ends) if ends else board.point(*spot)[0]
    y = sum(e[1] for e in ends) / len(ends) if ends else board.point(*spot)[1]
    half = board.tag_half(seam.letter, 9.0)
    # Tags of neighbours step aside along the seam.
    line = seam.line or seam.profile
    a, b = board.point(*line[0]), board.point(*line[-1])
    length = math.dist(a, b) or 1.0
    ux, uy = (b[0] - a[0]) / length, (b[1] - a[1]) / length
    for step in (0, 1, -1, 2, -2, 3, -3, 4, -4, 5, -5, 6, -6):
        px, py = x + ux * step * half, y + uy * step * half
        if board.free((px - half, py - half, px + half, py + half)):
            x, y = px, py
            break
    board.tag((x, y), seam.letter, size_pt=9.0)


def _closed(
    flow: Flow,
    panel: PlanPanel,
    seams: list[PlanSeam],
    words: Words,
    left: float,
    top: float,
    width: float,
) -> float:
    """The panel put together, with both diagonals. Returns the lowest point used."""
    board = Board(
        panel.outline.bounds, (left, top - 75.0, left + width, top), margins=(1.0, 1.0, 1.0, 6.0)
    )
    marks = [text(left, top - 3.2, "Glued up", 9, bold=True), *board.marks]
    marks.append(Shape(board.rings(panel.outline), Stroke(NARROW_MM)))
    for seam in seams:
        points = tuple(board.point(*p) for p in seam.line)
        if len(points) > 1:
            marks.append(Line(points, Stroke(THIN_MM, ACCENT)))
    y = board.y0 - 4.5
    found = diagonals(panel.outline)
    if found is None:
        flow.add(marks)
        return y
    for name, pair in (("1", found.first), ("2", found.second)):
        a, b = (board.point(*p) for p in pair)
        marks.append(Line((a, b), Stroke(FINE_MM, MUTED, (1.6, 0.8))))
        share = 0.22
        at = (a[0] + (b[0] - a[0]) * share, a[1] + (b[1] - a[1]) * share)
        board.marks = []
        board.tag(at, name, size_pt=7.0)
        marks += board.marks
        marks += [circle(*end, 0.6, None, INK) for end in (a, b)]
    rows = [
        f"Diagonal 1: {words.with_unit(found.first_mm)}",
        f"Diagonal 2: {words.with_unit(found.second_mm)}",
    ]
    for row in rows:
        marks.append(text(left, y, row, 9))
        y -= 4.6
    where = "Measured between the dots. At a rounded corner the dot is the middle of its round."
    for row in wrap(where, width, 8.0):
        marks.append(text(left, y, row, 8, colour=MUTED))
        y -= 3.8
    flow.add(marks)
    return y


def _seam_table(flow: Flow, plan: Plan, seams: list[PlanSeam], words: Words) -> None:
    names = {p.id: p.name for p in plan.pieces}
    flow.heading("Seams")
    flow.table(
        [
            Column("Seam", bold=True),
            Column("Kind", flex=True),
            Column("Joins", flex=True),
            Column("Fit", align="end"),
            Column("Length", align="end"),
            Column("Mind", flex=True),
        ],
        [
            (
                seam.letter,
                seam.style_title or seam.style,
                " + ".join(names.get(i, i) for i in seam.pieces),
                words.thickness(seam.fit_mm),
                words.length(seam.joint_length_mm),
                in_project_unit(_sentences(seam.notes), plan.project) or "–",
            )
            for seam in seams
        ],
        role="seam",
    )


def _sentences(notes: Sequence[str]) -> str:
    """Notes drawn together as sentences, each with a capital and a full stop."""
    made = [note.strip().rstrip(".") for note in notes]
    return " ".join(f"{note[0].upper()}{note[1:]}." for note in made if note)


def _lists(
    flow: Flow, cut_list: CutList, panel: PlanPanel, pieces: list[PlanPiece], words: Words
) -> None:
    """Pieces and the order of gluing, side by side where that goes on the page."""
    middle = flow.left + flow.span * 0.5
    trial, y = flow.trial(), flow.y
    with trial.column(flow.left, middle - 4.0):
        _piece_table(trial, cut_list, pieces, words)
    ends = [(trial.page_count, trial.y)]
    trial = flow.trial()
    with trial.column(middle + 4.0):
        _gluing_table(trial, cut_list, panel, words)
    ends.append((trial.page_count, trial.y))
    if any(count > flow.page_count for count, _ in ends):
        _piece_table(flow, cut_list, pieces, words)
        _gluing_table(flow, cut_list, panel, words)
        return
    with flow.column(flow.left, middle - 4.0):
        _piece_table(flow, cut_list, pieces, words)
    flow.y = y
    with flow.column(middle + 4.0):
        _gluing_table(flow, cut_list, panel, words)
    flow.y = min(low for _, low in ends)


def _piece_table(flow: Flow, cut_list: CutList, pieces: list[PlanPiece], words: Words) -> None:
    flow.heading("Pieces")
    numbers: dict[str, list[int]] = {}
    sheets: dict[str, list[int]] = {}
    for line in cut_list.copies:
        numbers.setdefault(line.piece.id, []).append(line.number)
        sheets.setdefault(line.piece.id, []).append(line.sheet)
    flow.table(
        [
            Column("Piece", flex=True),
            Column("No."),
            Column("Sheet"),
            Column("Cut size", align="end"),
            Column("Seams"),
        ],
        [
            (
                piece.name + (" (loose)" if piece.loose else ""),
                listed(numbers.get(piece.id, [])) or "not placed",
                listed(sorted(set(sheets.get(piece.id, [])))) or "–",
                words.size(*piece.cut.size_mm),
                " ".join(piece.letters) or "–",
            )
            for piece in pieces
        ],
    )


def _gluing_table(flow: Flow, cut_list: CutList, panel: PlanPanel, words: Words) -> None:
    plan = cut_list.plan
    names = {p.id: p.name for p in plan.pieces}
    flow.heading("Gluing up, in this order")
    steps = [in_project_unit(names.get(step, step), plan.project) for step in panel.assembly]
    if not steps:
        steps = ["Dry-fit everything, then glue one seam after another on a flat surface."]
    found = diagonals(panel.outline)
    if found is not None:
        difference = abs(found.first_mm - found.second_mm)
        check = (
            "Measure both diagonals before the glue sets: they must come out equal."
            if difference < 0.05
            else "Before the glue sets measure the diagonals: "
            f"{words.with_unit(found.first_mm)} (1) and {words.with_unit(found.second_mm)} (2)."
        )
        steps.append(check)
    flow.table(
        [Column("", tick=True), Column("Step", bold=True), Column("What to do", flex=True)],
        [("", str(i + 1), step) for i, step in enumerate(steps)],
    )
