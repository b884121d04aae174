"""The drawings of the cut list: a sheet, a clamping, a split panel pulled apart."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

import shapely
from shapely.affinity import affine_transform
from shapely.geometry import LinearRing, LineString, Polygon, box
from shapely.geometry import Point as ShapelyPoint
from shapely.geometry.base import BaseGeometry

from core.geometry import Point, Region
from core.outlines.model import Face, Feature
from core.plan import Plan, PlanSawCut, PlanSheet, polygon_parts
from core.project.model import Grain
from core.reports.board import ORDINATE_PT, Board, Box
from core.reports.cutlist import CopyLine, CutList, SetupLine, SheetLines, from_face
from core.reports.fonts import text_width_mm
from core.reports.holding import hold_boxes, hold_marks
from core.reports.legend import DOWN_SIGN, OTHER_STROKE, SAW_STROKE
from core.reports.picture import (
    ACCENT,
    FINE_MM,
    HEAVY_MM,
    INK,
    MUTED,
    NARROW_MM,
    PAPER,
    THIN_MM,
    TINTS,
    WIDE_MM,
    Line,
    Shape,
    Stroke,
    arrow,
    circle,
    hatch,
    rectangle,
    text,
)
from core.reports.words import Words

_PIECE = Stroke(NARROW_MM)
_HATCH = Stroke(FINE_MM, MUTED)


def tint_of(plan: Plan, panel_id: str) -> str:
    """The pale tint of a panel: the same for all its pieces on every page."""
    ids = [panel.id for panel in plan.panels]
    return TINTS[ids.index(panel_id) % len(TINTS)] if panel_id in ids else PAPER


def sheet_board(
    cut_list: CutList,
    lines: SheetLines,
    area: Box,
    words: Words,
    *,
    letters: Mapping[int, str] | None = None,
) -> Board:
    """The diagram of one sheet within an area of the page, to the largest scale that fits.

    letters: of the offcuts to keep, by their place in the sheet's list.
    """
    plan, sheet = cut_list.plan, lines.sheet
    x1, y1, x2, y2 = sheet.stock.polygon.bounds
    board = Board((x1, y1, x2, y2), area, margins=_margins(words, (x2 - x1, y2 - y1), top=9.0))
    _sheet_ground(board, sheet)
    for line in lines.copies:
        _piece(board, line, tint_of(plan, line.piece.panel))
    for blank in sheet.blanks:
        if not _is_whole_sheet(sheet, blank.width_mm, blank.height_mm):
            board.outline(
                _corners(blank.x_mm, blank.y_mm, blank.width_mm, blank.height_mm),
                Stroke(THIN_MM),
                None,
                role="blank",
            )
    for cut in sheet.saw_cuts:
        board.line(((cut.x1_mm, cut.y1_mm), (cut.x2_mm, cut.y2_mm)), SAW_STROKE, role="saw")
    solid = [board.polygon(c.placed.polygon) for c in lines.copies]
    for cut in sheet.saw_cuts:
        _cut_tag(board, cut)
    filled = [Polygon(shape.exterior) for shape in solid]
    for blank in sheet.blanks if sheet.saw_cuts else ():
        corners = board.polygon(
            box(
                blank.x_mm,
                blank.y_mm,
                blank.x_mm + blank.width_mm,
                blank.y_mm + blank.height_mm,
            )
        )
        _letter(board, corners, blank.letter, filled, board.polygon(sheet.stock.polygon))
    _grain(board, plan, sheet.stock.material)
    _ordinates(board, sheet, lines, words)
    cuts = [
        LineString([board.point(cut.x1_mm, cut.y1_mm), board.point(cut.x2_mm, cut.y2_mm)]).buffer(
            HEAVY_MM
        )
        for cut in sheet.saw_cuts
    ]
    _names(board, lines.copies, words, keep_off=cuts)
    _offcut_names(board, sheet, words, letters or {})
    return board


def setup_board(
    cut_list: CutList, lines: SheetLines, line: SetupLine, area: Box, words: Words
) -> Board:
    """The diagram of one clamping: what lies on the machine, seen from above, from its origin."""
    plan, setup = cut_list.plan, line.setup
    machine = plan.project.shop.machine
    x1 = y1 = 0.0
    x2, y2 = line.size_mm
    whole = box(x1, y1, x2, y2)
    matrix = line.frame.matrix()
    bed_x, bed_y = -setup.bed_x_mm, -setup.bed_y_mm
    travel = (bed_x, bed_y, bed_x + machine.travel_mm[0], bed_y + machine.travel_mm[1])
    clamps = [shapely.affinity.translate(c.polygon, bed_x, bed_y) for c in machine.clamps]
    # Of what reaches far beyond the blank only the near part is shown, to keep the scale large.
    near = whole.buffer(0.1 * max(x2 - x1, y2 - y1), join_style="mitre")
    shown = [(f"C{i + 1}", zone.intersection(near)) for i, zone in enumerate(clamps)]
    shown = [(name, zone) for name, zone in shown if isinstance(zone, Polygon) and zone.area]
    clamps = [zone for _, zone in shown]
    reach = [whole, box(*travel).intersection(near), *clamps]
    wx1, wy1, wx2, wy2 = shapely.unary_union(reach).bounds
    margins = _margins(words, line.size_mm, top=6.0)
    board = Board((wx1, wy1, wx2, wy2), area, margins=margins)
    stock = affine_transform(lines.sheet.stock.polygon, matrix)
    for part in polygon_parts(stock.intersection(whole)):
        board.region(Region.from_polygon(part), Stroke(WIDE_MM), PAPER, role="setup")
    for defect in lines.sheet.stock.defects:
        for part in polygon_parts(affine_transform(defect.polygon, matrix).intersection(whole)):
            board.marks += hatch(board.polygon(part), 1.1, _HATCH, crossed=True)
            board.region(Region.from_polygon(part), Stroke(FINE_MM, MUTED), None, role="defect")
    offcuts = [
        part
        for offcut in lines.sheet.offcuts
        if offcut.keep
        for part in polygon_parts(
            affine_transform(Polygon(offcut.points), matrix).intersection(whole)
        )
    ]
    for part in offcuts:
        board.marks += hatch(board.polygon(part), 2.6, _HATCH)
        board.region(Region.from_polygon(part), Stroke(FINE_MM, MUTED), None, role="offcut")
    held = {c.number for c in line.copies}
    for copy in lines.copies:
        if copy.number not in held:
            other = affine_transform(copy.placed.polygon, matrix).intersection(whole)
            for part in polygon_parts(other):
                board.region(Region.from_polygon(part), OTHER_STROKE, None, role="other")
    for copy in line.laid:
        _piece(board, copy, tint_of(plan, copy.piece.panel))
    edge = box(*travel).exterior.intersection(near)
    for part in getattr(edge, "geoms", [edge]):
        if isinstance(part, LineString) and not part.is_empty:
            stroke = Stroke(NARROW_MM, ACCENT, (4.0, 1.5))
            board.line([(float(x), float(y)) for x, y in part.coords], stroke, role="travel")
    for name, zone in shown:
        shape = board.polygon(zone)
        board.marks.append(
            Shape(Region.from_polygon(shape).rings, Stroke(WIDE_MM), PAPER, "clamp", name)
        )
        board.marks += hatch(shape, 1.4, Stroke(THIN_MM, INK))
    solid = [board.polygon(c.placed.polygon) for c in line.laid]
    board.marks += hold_marks(board, setup, line.frame)
    board.taken += [board.polygon(zone).bounds for zone in clamps]
    for name, zone in shown:
        _beside(board, board.polygon(zone), name, solid)
    _origin(board, (x1, y1))
    xs = [x1, x2, *(v for part in offcuts for v in part.bounds[::2])]
    ys = [y1, y2, *(v for part in offcuts for v in part.bounds[1::2])]
    board.ordinates(
        xs,
        ys,
        words.length,
        origin=(x1, y1),
        least=(
            [c.placed.bounds[0] for c in line.laid],
            [c.placed.bounds[1] for c in line.laid],
        ),
    )
    zones = [board.polygon(zone) for zone in clamps]
    signs = hold_boxes(board, setup, line.frame)
    _names(board, line.laid, words, sizes=False, keep_off=[*zones, *signs], signs=signs)
    return board


def other_face_board(cut_list: CutList, line: CopyLine, area: Box, words: Words) -> Board:
    """A cut piece turned over: line as other_face gives it, with what is cut from that face."""
    board = Board(line.placed.bounds, area, margins=_margins(words, line.placed.size_mm, top=6.0))
    _piece(board, line, tint_of(cut_list.plan, line.piece.panel))
    x1, y1, x2, y2 = line.placed.bounds
    spans = [feature_bounds(line, feature) for feature in from_face(line)]
    xs = [x1, x2, *(v for span in spans for v in (span[0], span[2]))]
    ys = [y1, y2, *(v for span in spans for v in (span[1], span[3]))]
    _origin(board, (x1, y1))
    board.ordinates(xs, ys, words.length, origin=(x1, y1))
    shape = board.polygon(line.placed.polygon)
    board.name_inside(shape, line.piece.name, [], drawn=_drawn_inside(board, line))
    return board


def feature_bounds(line: CopyLine, feature: Feature) -> Box:
    """What a feature covers where its piece lies: its middle only, if it is a hole."""
    motion = line.placement.motion
    if feature.ring is not None:
        return feature.ring.moved(motion).bounds
    points = [motion.apply(*p) for p in ([feature.at] if feature.at is not None else feature.path)]
    xs, ys = [p[0] for p in points], [p[1] for p in points]
    return min(xs), min(ys), max(xs), max(ys)


def _margins(
    words: Words, size_mm: tuple[float, float], *, top: float
) -> tuple[float, float, float, float]:
    """Room for ordinates left and below, for leaders right, for cut numbers above."""
    # The longest that can come up: the largest length, less a little, in the finest steps.
    longest = max(
        text_width_mm(words.length(value - less), ORDINATE_PT)
        for value in size_mm
        for less in (0.0, 0.4)
    )
    if words.imperial:
        longest = max(longest, text_width_mm("96 63/64″", ORDINATE_PT))
    room = max(longest + 6.6, 14.0)
    return (room, room, 12.0, top)


# --- parts of a drawing -------------------------------------------------------------------


def _sheet_ground(board: Board, sheet: PlanSheet) -> None:
    board.outline(list(sheet.stock.polygon.exterior.coords), Stroke(WIDE_MM), PAPER, role="sheet")
    for offcut in sheet.offcuts:
        if offcut.keep:
            board.marks += hatch(board.polygon(Polygon(offcut.points)), 2.6, _HATCH)
            board.outline(offcut.points, Stroke(FINE_MM, MUTED), None, role="offcut")
    for defect in sheet.stock.defects:
        board.marks += hatch(board.polygon(defect.polygon), 1.0, Stroke(THIN_MM), crossed=True)
        board.outline(defect.points, Stroke(NARROW_MM), None, role="defect")


def _piece(board: Board, line: CopyLine, fill: str) -> None:
    board.region(line.placed, _PIECE, fill, role="piece", key=str(line.number))
    motion = line.placement.motion
    for feature in line.piece.features:
        other = feature.face is not line.face_up and feature.depth_mm is not None
        stroke = OTHER_STROKE if other else Stroke(THIN_MM)
        role = "back" if other else ""
        if feature.ring is not None:
            rings = (feature.ring, *feature.islands)
            drawn = tuple(board.ring(ring.moved(motion)) for ring in rings)
            board.marks.append(Shape(drawn, stroke, None, role))
        elif feature.at is not None:
            x, y = board.point(*motion.apply(*feature.at))
            radius = max((feature.diameter_mm or 0.0) / 2 / board.n, 0.3)
            board.marks.append(replace(circle(x, y, radius, stroke), role=role))
        elif len(feature.path) > 1:
            board.line([motion.apply(*p) for p in feature.path], stroke, role=role)


def _drawn_inside(board: Board, line: CopyLine) -> list[BaseGeometry]:
    """Features of a copy as lines on paper, for texts to keep off."""
    motion = line.placement.motion
    out: list[BaseGeometry] = []
    for feature in line.piece.features:
        if feature.ring is not None:
            out.append(LinearRing(board.ring(feature.ring.moved(motion)).flattened(0.05)))
        elif feature.at is not None:
            radius = max((feature.diameter_mm or 0.0) / 2 / board.n, 0.3)
            out.append(ShapelyPoint(board.point(*motion.apply(*feature.at))).buffer(radius))
        elif len(feature.path) > 1:
            out.append(LineString([board.point(*motion.apply(*p)) for p in feature.path]))
    return out


def _is_whole_sheet(sheet: PlanSheet, width_mm: float, height_mm: float) -> bool:
    stock = sheet.stock
    return width_mm >= stock.width_mm - 1e-6 and height_mm >= stock.height_mm - 1e-6


def _corners(x: float, y: float, width: float, height: float) -> list[Point]:
    return [(x, y), (x + width, y), (x + width, y + height), (x, y + height)]


def _cut_tag(board: Board, cut: PlanSawCut) -> None:
    """The cut's number in a circle: past the sheet's edge where it reaches one, else on it."""
    words = str(cut.order)
    half = board.tag_half(words)
    start = board.point(cut.x1_mm, cut.y1_mm)
    end = board.point(cut.x2_mm, cut.y2_mm)
    _, _, bx2, by2 = board.paper_box
    spots: list[Point] = []
    for x, y in (start, end):
        if abs(y - by2) < 1.5 and abs(start[0] - end[0]) < 0.5:
            spots.append((x, by2 + half + 0.6))
        if abs(x - bx2) < 1.5 and abs(start[1] - end[1]) < 0.5:
            spots.append((bx2 + half + 0.6, y))
    for share in (0.5, 0.35, 0.65, 0.2, 0.8, 0.1, 0.9, 0.43, 0.58, 0.27, 0.73, 0.05, 0.95):
        spots.append(
            (start[0] + (end[0] - start[0]) * share, start[1] + (end[1] - start[1]) * share)
        )
    for x, y in spots:
        if board.free((x - half, y - half, x + half, y + half)):
            board.tag((x, y), words)
            return
    # Crowded: beside the middle of the cut, as far out as it takes, joined by a leader.
    middle = ((start[0] + end[0]) / 2, (start[1] + end[1]) / 2)
    for ring in range(1, 40):
        x, y = middle[0] + ring * 2.0 * half, middle[1] + ring * half
        if board.free((x - half, y - half, x + half, y + half)):
            board.marks.append(Line((middle, (x, y)), Stroke(THIN_MM, MUTED), "leader"))
            board.tag((x, y), words)
            return


def _letter(
    board: Board, blank: Polygon, letter: str, solid: Sequence[Polygon], sheet: Polygon
) -> None:
    """The blank's letter in a square, in a corner of the blank, off the pieces where it can."""
    half = board.tag_half(letter, 9.0)
    x1, y1, x2, y2 = blank.bounds
    inset = half + 0.7
    grid = 12
    spots = [(x2 - inset, y2 - inset), (x1 + inset, y2 - inset), (x2 - inset, y1 + inset)]
    spots.append((x1 + inset, y1 + inset))
    wide, high = x2 - x1 - 2 * inset, y2 - y1 - 2 * inset
    spots += [
        (x1 + inset + wide * i / grid, y1 + inset + high * j / grid)
        for j in range(grid, -1, -1)
        for i in range(grid, -1, -1)
    ]
    tree = shapely.STRtree(list(solid)) if solid else None
    best: Point | None = None
    for x, y in spots:
        place = (x - half, y - half, x + half, y + half)
        if not board.free(place) or not sheet.intersects(box(*place)):
            continue
        clear = tree is None or not len(tree.query(box(*place), predicate="intersects"))
        if clear and sheet.covers(box(*place)):
            best = (x, y)
            break
        best = best or (x, y)
    board.tag(best or (x2 - inset, y2 - inset), letter, square=True, size_pt=9.0)


def _beside(board: Board, zone: Polygon, words: str, solid: Sequence[Polygon]) -> None:
    """A short name on or beside a shape on paper, clear of other texts and of the pieces."""
    size = 8.0
    mark = text(0, 0, words, size, bold=True, anchor="middle", role="clamp-name")
    x1, y1, x2, y2 = zone.bounds
    half_w, half_h = mark.width_mm / 2 + 0.3, 1.6
    middle = ((x1 + x2) / 2, (y1 + y2) / 2)
    right, left = x2 + half_w + 0.4, x1 - half_w - 0.4
    above, below = y2 + half_h + 0.4, y1 - half_h - 0.4
    spots = [(right, middle[1]), (left, middle[1]), (middle[0], above), (middle[0], below)]
    spots += [(right, above), (left, above), (right, below), (left, below)]
    if x2 - x1 > 2 * half_w + 1 and y2 - y1 > 2 * half_h + 1:
        spots = [middle]
    tree = shapely.STRtree(list(solid)) if solid else None
    clear: list[Point] = []
    for x, y in spots:
        place = (x - half_w, y - half_h, x + half_w, y + half_h)
        if spots != [middle] and not board.free(place):
            continue
        clear.append((x, y))
        if tree is None or not len(tree.query(box(*place), predicate="intersects")):
            clear = [(x, y)]
            break
    x, y = clear[0] if clear else spots[0]
    ground = rectangle(x - half_w, y - half_h, 2 * half_w, 2 * half_h, None, PAPER)
    board.marks.append(ground)
    board.write(text(x, y - 1.0, words, size, bold=True, anchor="middle", role="clamp-name"))


def _grain(board: Board, plan: Plan, material: str) -> None:
    """A double arrow above the sheet, along its x axis, where the board has a grain."""
    known = plan.project.shop.material(material)
    if known is not None and not known.grained:
        return
    x1, _, _, y2 = board.paper_box
    y = y2 + 3.2
    mark = text(x1, y - 1.1, "Grain", 8, role="grain")
    end = x1 + mark.width_mm
    board.write(mark)
    board.marks += arrow((end + 2.0, y), (end + 26.0, y), Stroke(NARROW_MM), both=True)
    board.taken.append((end, y - 1.5, end + 27.0, y + 1.5))


def _ordinates(board: Board, sheet: PlanSheet, lines: SheetLines, words: Words) -> None:
    x1, y1, x2, y2 = board.window
    xs, ys = [x1, x2], [y1, y2]
    least_x: list[float] = []
    least_y: list[float] = []
    if sheet.saw_cuts:
        for blank in sheet.blanks:
            xs += [blank.x_mm, blank.x_mm + blank.width_mm]
            ys += [blank.y_mm, blank.y_mm + blank.height_mm]
        # The near side of each kerf: where the edge of what is freed will be.
        least_x = [line.near_mm for line in lines.saw if line.across]
        least_y = [line.near_mm for line in lines.saw if line.across is False]
    else:
        least_x = [c.placed.bounds[0] for c in lines.copies]
        least_y = [c.placed.bounds[1] for c in lines.copies]
    # Where the hand saw goes once the pieces are out, and the corners of a shaped board.
    for points in [o.points for o in sheet.offcuts if o.keep]:
        least_x += [p[0] for p in points]
        least_y += [p[1] for p in points]
        if not sheet.saw_cuts:
            xs += [p[0] for p in points]
            ys += [p[1] for p in points]
    if len(sheet.stock.points) <= 12:
        xs += [p[0] for p in sheet.stock.points]
        ys += [p[1] for p in sheet.stock.points]
    board.ordinates(xs, ys, words.length, origin=(x1, y1), least=(least_x, least_y))


def number_text(line: CopyLine) -> str:
    """A copy's number as drawn: with ▼ where its show face lies down."""
    down = line.face_up is Face.BACK
    return f"{line.number} {DOWN_SIGN}" if down else str(line.number)


def _names(
    board: Board,
    copies: Sequence[CopyLine],
    words: Words,
    *,
    sizes: bool = True,
    keep_off: Sequence[Polygon] = (),
    signs: Sequence[Polygon] = (),
) -> None:
    """Number, name and size in or beside each piece; signs: drawn marks that names go off."""
    solid = [board.polygon(c.placed.polygon) for c in copies]
    homeless: list[tuple[Polygon, str]] = []
    # Small shapes first: they have the fewest places to choose from.
    for shape, copy in sorted(
        zip(solid, copies, strict=True), key=lambda pair: (pair[0].area, pair[1].number)
    ):
        lines = [copy.piece.name]
        if sizes:
            lines.append(words.size(copy.width_mm, copy.height_mm))
        drawn = _drawn_inside(board, copy)
        near = [sign for sign in signs if sign.intersects(shape)]
        if not board.name_inside(shape, number_text(copy), lines, drawn=drawn, signs=near):
            homeless.append((shape, number_text(copy)))
    board.lead_out(homeless, [*solid, *keep_off])


def _offcut_names(board: Board, sheet: PlanSheet, words: Words, letters: Mapping[int, str]) -> None:
    """Letters and sizes of the offcuts to keep, where there is room."""
    for index, offcut in enumerate(sheet.offcuts):
        if not offcut.keep:
            continue
        shape = board.polygon(Polygon(offcut.points))
        x1, y1, x2, y2 = Polygon(offcut.points).bounds
        size = words.size(x2 - x1, y2 - y1)
        named = f"offcut {letters[index]}" if index in letters else "offcut"
        joined = f"{named}, {size}" if index in letters else f"{named} {size}"
        for say in (joined, size if index not in letters else named):
            if board.label(shape, say):
                break


def _origin(board: Board, at: Point) -> None:
    """A cross in a ring at the setup's origin, with its axes."""
    x, y = board.point(*at)
    stroke = Stroke(0.35, ACCENT)
    board.marks.append(circle(x, y, 1.8, stroke))
    board.marks += arrow((x, y), (x + 11.0, y), stroke)
    board.marks += arrow((x, y), (x, y + 11.0), stroke)


def grain_words(grain: str) -> str:
    """How a panel's grain lies, for a label."""
    return {
        str(Grain.ALONG): "grain along the width",
        str(Grain.ACROSS): "grain along the height",
    }.get(grain, "any grain")
