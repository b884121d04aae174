"""One clamping on paper: origin, clamps, bits, and the order of cutting."""

from __future__ import annotations

from collections.abc import Callable

from core.findings import Severity
from core.joints.bits import area_words
from core.outlines.model import Face
from core.plan import Plan, PlanPiece, PlanSetup
from core.project.saying import in_project_unit
from core.reports.bits import BitJob
from core.reports.board import Board, scale_text
from core.reports.cutlist import (
    ENGRAVING,
    CopyLine,
    CutList,
    SetupLine,
    SheetLines,
    feature_word,
)
from core.reports.diagrams import setup_board
from core.reports.holding import held_words, hold_entries
from core.reports.legend import DOWN_SIGN, legend
from core.reports.paper import Column, Flow
from core.reports.picture import MUTED, WARN, text
from core.reports.summary_page import SIGNS
from core.reports.words import Words, counted, degrees
from core.tolerances import LAYOUT_DISTANCE_MM

_LEAST_SIDE_MM = 85.0  # what the lists beside a drawing need
_BESIDE_MM = 16.0
#: How notes begin whose lengths need not be kept to a tenth of a millimetre.
_ROUGH = ("Tabs ", "A skin ", "The waste ", "The offcut ", "No waste ")


def setup_page(
    flow: Flow, cut_list: CutList, lines: SheetLines, setup: SetupLine, words: Words
) -> None:
    plan = cut_list.plan
    letter = f", blank {setup.blank}" if setup.blank else ""
    size = words.size(*setup.size_mm)
    flow.page(f"Clamping {setup.name}: sheet {lines.sheet.number}{letter}, {size}", "setup")
    flow.paragraph(_lying(plan, lines, setup, words))
    _drawing_and_lists(flow, cut_list, lines, setup, words)
    _setup_order(flow, setup, words)


def _lying(plan: Plan, lines: SheetLines, setup: SetupLine, words: Words) -> str:
    """How the board lies on the machine and where its origin is."""
    machine, place = plan.project.shop.machine, setup.setup
    faces = {c.face_up for c in setup.copies}
    if faces == {Face.BACK}:
        way = "Show face down on the table."
    elif len(faces) > 1:
        way = f"Mixed: pieces marked {DOWN_SIGN} lie show face down."
    else:
        way = "Show face up."
    along = _fed_on_mm(lines, setup)
    if along > LAYOUT_DISTANCE_MM:
        origin = (
            f"feed the board on and set the origin {words.with_unit(along)} from its left end, on "
            "its lower edge"
        )
    else:
        board = f"blank {setup.blank}" if setup.blank else "the board"
        origin = f"set the origin at the lower left corner of {board}, on its edges"
    if plan.project.output.dxf_origin == "centre":
        origin += " (its drawing has its own origin in the middle of the board)"
    turned = ""
    if place.turned:
        turned = (
            "The board lies a quarter turn counter-clockwise from the sheet's drawing: its left "
            "edge there is towards you here. "
        )
    return (
        f"{machine.name}: {origin}; x to the right, y away from you."
        f"{_off_the_corner(place, words)} {turned}{way} The board weighs "
        f"{words.mass(setup.mass_kg)}."
    )


def _off_the_corner(place: PlanSetup, words: Words) -> str:
    """Where the origin lies from the corner of the bit's reach, if it is not there."""
    across, up = place.bed_x_mm, place.bed_y_mm
    ways = [
        f"{words.with_unit(abs(value))} {less if value < 0 else more}"
        for value, less, more in ((across, "left of", "right of"), (up, "below", "above"))
        if abs(value) > LAYOUT_DISTANCE_MM
    ]
    if not ways:
        return ""
    out = f" The origin lies {' and '.join(ways)} the corner of the bit's reach"
    if min(across, up) < -LAYOUT_DISTANCE_MM:
        return f"{out}, where the bit cannot stand: touch off inside and count back."
    return f"{out}."


def _drawing_and_lists(
    flow: Flow, cut_list: CutList, lines: SheetLines, setup: SetupLine, words: Words
) -> None:
    """The drawing with the lists beside it, below it or, where it needs a page, after it."""
    plan = cut_list.plan
    top = flow.y - 1.0
    side = max(112.0, flow.span * 0.43)

    def drawn(right: float, high: float) -> Board:
        return setup_board(cut_list, lines, setup, (flow.left, top - high, right, top), words)

    # As large as may be, but so that the table below goes on the same page if it can. Where it
    # cannot, the drawing has the page to itself and the tables follow on the next one.
    table = _height(flow, lambda onto: _setup_order(onto, setup, words)) + 2.0
    alone = flow.room - table - 14.0 < flow.full_room * 0.5
    if alone:
        drawing = drawn(flow.right, flow.room - 12.0)
        side = flow.right - drawing.paper_box[2] - _BESIDE_MM
        low = _under(flow, plan, lines, setup, drawing, flow.right, words)
        if side < _LEAST_SIDE_MM:
            flow.y = low
            _lists(flow, plan, setup, words)
        else:
            _beside(flow, plan, setup, words, flow.right - side, top, low)
        return
    right = flow.right - side - 4.0
    drawing = drawn(right, min(flow.full_room * 0.66, flow.room - table - 14.0))
    # A long, low board is larger over the whole width, with the lists in two columns below.
    lists = _height(flow, lambda onto: _lists_below(onto, plan, setup, words))
    high = flow.room - table - lists - 14.0
    if high > 40.0:
        wide = drawn(flow.right, high)
        if wide.n < drawing.n:
            flow.y = _under(flow, plan, lines, setup, wide, flow.right, words)
            _lists_below(flow, plan, setup, words)
            return
    low = _under(flow, plan, lines, setup, drawing, right, words)
    _beside(flow, plan, setup, words, flow.right - side, top, low)


def _height(flow: Flow, write: Callable[[Flow], None]) -> float:
    """How much height writing takes on an empty page."""
    trial = flow.trial()
    trial.page("")
    pages = trial.page_count
    # A gap is left out at the top of a page, but not where this will stand.
    trial.y -= 0.1
    write(trial)
    return trial.top - trial.y + (trial.page_count - pages) * trial.full_room


def _under(
    flow: Flow,
    plan: Plan,
    lines: SheetLines,
    setup: SetupLine,
    drawing: Board,
    right: float,
    words: Words,
) -> float:
    """Put the drawing on the page with its scale and key below. Returns the lowest point."""
    machine = plan.project.shop.machine
    flow.add(drawing.marks, scale=drawing.n)
    roles = {mark.role for mark in drawing.marks}
    entries = ["number", "travel"]
    entries += ["clamp"] if machine.clamps else []
    entries += ["down"] if any(c.face_up is Face.BACK for c in setup.copies) else []
    entries += [name for name in ("other", "back", "offcut", "defect") if name in roles]
    entries += hold_entries(setup.setup)
    y = drawing.lowest - 2.0
    flow.add([text(flow.left, y - 0.95, f"Scale {scale_text(drawing.n)}.", 8, colour=MUTED)])
    reach = f", {words.size(*machine.travel_mm)} in all"
    marks, used = legend(entries, flow.left + 24.0, y, right, more={"travel": reach})
    flow.add(marks)
    return y - used


def _beside(
    flow: Flow, plan: Plan, setup: SetupLine, words: Words, left: float, top: float, low: float
) -> None:
    """The lists right of the drawing, whose lowest point is low."""
    page = flow.page_count
    flow.y = top
    with flow.column(left):
        _lists(flow, plan, setup, words)
    if flow.page_count == page:
        flow.y = min(flow.y, low)


def _lists(flow: Flow, plan: Plan, setup: SetupLine, words: Words) -> None:
    _bit_table(flow, setup, words)
    _clamp_list(flow, plan, words)
    _hold_list(flow, plan, setup, words)


def _lists_below(flow: Flow, plan: Plan, setup: SetupLine, words: Words) -> None:
    """The same in two columns: bits at the left, clamps and what holds the pieces at the right."""
    top, middle = flow.y, flow.left + flow.span / 2
    with flow.column(flow.left, middle - 4.0):
        _bit_table(flow, setup, words)
    low, flow.y = flow.y, top
    with flow.column(middle + 4.0):
        _clamp_list(flow, plan, words)
        _hold_list(flow, plan, setup, words)
    flow.y = min(low, flow.y)


def _fed_on_mm(lines: SheetLines, setup: SetupLine) -> float:
    """How far the board was pushed on along the table's x since its first stretch."""
    place = setup.setup
    blank = next((b for b in lines.sheet.blanks if b.id == place.blank), None)
    left, low = (blank.x_mm, blank.y_mm) if blank is not None else (0.0, 0.0)
    if not place.turned:
        return place.x_mm - left
    high = blank.height_mm if blank is not None else lines.sheet.stock.height_mm
    return low + high - (place.y_mm + place.height_mm)


def _bit_table(flow: Flow, setup: SetupLine, words: Words) -> None:
    if not setup.jobs:
        return
    flow.heading("Bits, in the order of work")
    flow.table(
        [
            Column("Fitted", tick=True),
            Column("Bit", flex=True),
            Column("Work"),
            Column("Length of cut", align="end"),
            Column("Entries", align="end"),
        ],
        [
            (
                "",
                bit_words(job, words),
                job.job,
                words.travel(job.length_mm) if job.length_mm else "–",
                str(job.entries),
            )
            for job in setup.jobs
        ],
        size_pt=9.0,
        role="bit",
    )
    flow.paragraph(
        "Length of the bit's way, once round at one depth; pockets and what is milled away at "
        "half a bit's step-over. Multiply by your passes.",
        8.0,
        colour=MUTED,
    )
    if any(not job.reached for job in setup.jobs):
        flow.paragraph(
            "Some of it is narrower than every bit listed in the shop.",
            9.0,
            lead=SIGNS[Severity.WARN],
            indent_mm=5.0,
            colour=WARN,
        )


def bit_words(job: BitJob, words: Words) -> str:
    """A bit or drill as it is asked for."""
    if job.drill:
        return f"drill {words.diameter(job.diameter_mm)}" if job.diameter_mm else "drill to suit"
    if not job.reached:
        return "smaller bit than any listed"
    name = f"{job.name} " if job.name else "bit "
    return f"{name}{words.diameter(job.diameter_mm)}"


def bit_minds(piece: PlanPiece, words: Words) -> list[str]:
    """What of a piece the outline's bit leaves, and which bit cuts it, if any does."""
    access = piece.access
    if access is None:
        return []
    out = []
    for need in access.needs[1:]:
        if need.places:
            size = words.diameter(need.cutter.diameter_mm)
            out.append(f"bit {size} too, {counted(len(need.places), 'place')}")
    for spot in access.closed:
        if spot.largest_bit_mm is not None:
            would = words.diameter(spot.largest_bit_mm)
            out.append(f"{area_words(spot.area_mm2, words.unit)} no bit reaches, {would} would")
    if access.corners:
        out.append(f"{counted(len(access.corners), 'corner')} left round")
    return out


def _clamp_list(flow: Flow, plan: Plan, words: Words) -> None:
    clamps = plan.project.shop.machine.clamps
    if not clamps:
        return
    flow.heading("Clamps")
    flow.table(
        [
            Column("Set", tick=True),
            Column("", bold=True),
            Column("Clamp", flex=True),
            Column("x", align="end"),
            Column("y", align="end"),
            Column("Size", align="end"),
            Column("Stands", align="end"),
        ],
        [
            (
                "",
                f"C{index + 1}",
                clamp.name or str(clamp.kind),
                words.length(clamp.x_mm),
                words.length(clamp.y_mm),
                words.size(clamp.width_mm, clamp.height_mm),
                words.length(clamp.stands_mm),
            )
            for index, clamp in enumerate(clamps)
        ],
        size_pt=9.0,
    )
    flow.paragraph("x, y: from the corner of the bit's reach.", 8.0, colour=MUTED)


def _hold_list(flow: Flow, plan: Plan, setup: SetupLine, words: Words) -> None:
    if not setup.setup.notes:
        return
    flow.heading("Holding and mind")
    for note in setup.setup.notes:
        # How wide a tab is may be rounded; what is planed or bored must come out as it was planned.
        say = words.about if note.startswith(_ROUGH) else words.exact
        said = in_project_unit(note, plan.project, say=say)
        flow.paragraph(said, 9.5, lead="–", indent_mm=4.0)


def _setup_order(flow: Flow, setup: SetupLine, words: Words) -> None:
    if not setup.copies:
        return
    flow.heading("Order: pockets and holes first, then cut-outs, then outlines")
    rows = []
    for line in setup.laid:
        up = sum(f.face is line.face_up or f.depth_mm is None for f in line.piece.features)
        mind = depth_words(line, words)
        if line.inside is not None:
            mind.append(f"before {line.inside}, in whose cut-out it lies")
        if line.other_face:
            mind.append(f"{counted(line.other_face, 'cut')} from the other face, on its own page")
        mind += bit_minds(line.piece, words)
        rows.append(
            (
                "",
                str(line.number),
                line.title,
                words.length(line.x_mm),
                words.length(line.y_mm),
                degrees(line.placement.motion.turn_deg),
                str(up) if up else "–",
                str(len(line.piece.cut.holes)) if line.piece.cut.holes else "–",
                held_words(setup.setup, line.piece.id, line.copy),
                "; ".join(mind) or "–",
            )
        )
    columns = [
        Column("", tick=True),
        Column("No.", align="end", bold=True),
        Column("Piece", flex=True),
        Column("x", align="end"),
        Column("y", align="end"),
        Column("Turn", align="end"),
        Column("Pockets, holes", align="end"),
        Column("Cut-outs", align="end"),
        Column("Held by"),
        Column("Mind", flex=True),
    ]
    flow.save_pages(lambda onto: onto.table(columns, rows, role="order", keep=True))


def depth_words(line: CopyLine, words: Words) -> list[str]:
    """How deep what is cut from the face that lies up goes, the same ones together."""
    counts: dict[tuple[str, float | None], int] = {}
    for feature in line.piece.features:
        if feature.face is line.face_up or feature.depth_mm is None:
            key = (feature_word(feature), feature.depth_mm)
            counts[key] = counts.get(key, 0) + 1
    through = {ENGRAVING: ", depth not said"}  # nobody engraves right through a board
    return [
        counted(count, kind)
        + (through.get(kind, " through") if depth is None else f" {words.exact(depth)} deep")
        for (kind, depth), count in counts.items()
    ]
