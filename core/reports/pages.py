"""The pages of the cut list, in the order of the work: buy, saw, rout, put together."""

from __future__ import annotations

from shapely.geometry import box

from core.findings import Severity, sort_findings
from core.outlines.model import Face
from core.plan import Plan
from core.project.model import CutBy
from core.reports.bits import BitJob
from core.reports.board import scale_text
from core.reports.cautions import DEFER, LIFT_ADVICE_KG, cautions
from core.reports.cutlist import CopyLine, CutList, SawLine, SetupLine, SheetLines
from core.reports.cutlist import build_cut_list as build
from core.reports.diagrams import DOWN_SIGN, legend, setup_board, sheet_board
from core.reports.fonts import text_width_mm
from core.reports.paper import Column, Flow, Row, paper_named
from core.reports.pdf import render_pdf
from core.reports.picture import MUTED, STOP, WARN, Page, text
from core.reports.seam_map import seam_page, split_panels
from core.reports.words import Words, counted, degrees, money, percent
from core.tolerances import LAYOUT_DISTANCE_MM

SIGNS = {Severity.STOP: "●", Severity.WARN: "▲", Severity.NOTE: "■"}
_SIGN_COLOURS = {Severity.STOP: STOP, Severity.WARN: WARN, Severity.NOTE: MUTED}


def cut_list_pages(
    plan: Plan, *, paper: str = "A4", stamp: str = "", version: str = ""
) -> list[Page]:
    """All pages of the cut list, landscape.

    paper: a name of core.reports.paper.PAPERS. stamp: date and time as they shall be printed
    ("" for none). version: of the program. Raises InvalidRequestError for an unknown paper.
    """
    cut_list = build(plan)
    words = Words(plan.project.units)
    flow = Flow(paper_named(paper), note=words.note)
    _summary(flow, cut_list, words, stamp, version)
    _cautions(flow, cut_list, words)
    for lines in cut_list.sheets:
        _sheet(flow, cut_list, lines, words)
        for setup in lines.setups:
            _setup(flow, cut_list, lines, setup, words)
    for panel in split_panels(plan):
        seam_page(flow, cut_list, panel, words)
    return flow.finish(foot_line(cut_list, stamp))


def cut_list_pdf(plan: Plan, *, paper: str = "A4", stamp: str = "", version: str = "") -> bytes:
    """The cut list as PDF bytes; the same arguments give the same bytes."""
    pages = cut_list_pages(plan, paper=paper, stamp=stamp, version=version)
    return render_pdf(pages, title=f"Cut list: {plan.project.name}", subject=stamp)


def foot_line(cut_list: CutList, stamp: str) -> str:
    """What stands at the foot of every page: project, plan and time."""
    parts = [cut_list.plan.project.name, f"plan {cut_list.mark}", stamp]
    return "  ·  ".join(part for part in parts if part)


# --- the first page -----------------------------------------------------------------------


def _summary(flow: Flow, cut_list: CutList, words: Words, stamp: str, version: str) -> None:
    plan = cut_list.plan
    flow.page(f"Cut list: {plan.project.name}", "summary")
    placed = len(cut_list.copies)
    if plan.sheets:
        line = (
            f"{counted(placed, 'piece')} on {counted(len(plan.sheets), 'sheet')}, "
            f"{percent(plan.yield_share)} used."
        )
    else:
        line = "Nothing is laid out yet."
    flow.paragraph(line, 13.0, bold=True)
    made = [f"plan {cut_list.mark}", stamp, f"program version {version}" if version else ""]
    flow.paragraph("  ·  ".join(m for m in made if m), 8.5, colour=MUTED)
    if not plan.is_clean:
        _not_clean(flow, cut_list)
    _buying(flow, plan, words)
    if plan.sheets:
        _sheets_table(flow, cut_list, words)
    _totals(flow, cut_list, words)
    _notices(flow, plan)


def _not_clean(flow: Flow, cut_list: CutList) -> None:
    plan = cut_list.plan
    stops = sum(f.severity is Severity.STOP for f in plan.findings)
    parts = []
    if stops:
        parts.append(counted(stops, "stop"))
    if plan.unplaced:
        parts.append(f"{counted(len(plan.unplaced), 'piece')} without a place")
    flow.paragraph(
        f"Do not cut yet: {' and '.join(parts)}, see below.",
        11.0,
        bold=True,
        colour=STOP,
        lead=SIGNS[Severity.STOP],
        indent_mm=6.0,
    )
    if plan.unplaced:
        names = {p.id: p.name for p in plan.pieces}
        flow.heading("Without a place")
        flow.table(
            [Column("Piece", flex=True), Column("Copy", align="end"), Column("Why", flex=True)],
            [(names.get(u.piece, u.piece), str(u.copy), u.reason) for u in plan.unplaced],
            role="unplaced",
        )


def _buying(flow: Flow, plan: Plan, words: Words) -> None:
    flow.heading("What to buy")
    if not plan.purchase:
        flow.paragraph("Nothing.")
        return
    rows = []
    for line in sorted(plan.purchase, key=lambda p: p.in_rack):
        thickness = plan.project.shop.material(line.material)
        rows.append(
            (
                "",
                f"{line.quantity} ×",
                line.material,
                words.thickness(thickness.nominal_mm) if thickness else "–",
                words.size(line.width_mm, line.height_mm),
                "from the rack" if line.in_rack else "buy",
                "–" if line.in_rack else money(line.cost),
                words.mass(line.mass_kg),
            )
        )
    flow.table(
        [
            Column("", tick=True),
            Column("Sheets", align="end", bold=True),
            Column("Board", flex=True),
            Column("Sold as", align="end"),
            Column("Size", align="end"),
            Column("Where from"),
            Column("Cost", align="end"),
            Column("Mass", align="end"),
        ],
        rows,
        role="buy",
    )


def _sheets_table(flow: Flow, cut_list: CutList, words: Words) -> None:
    flow.heading("Sheets")
    rows = []
    for lines in cut_list.sheets:
        sheet = lines.sheet
        kept = sum(o.area_mm2 for o in sheet.offcuts if o.keep)
        heavy = " !" if _heavy(cut_list.plan, sheet.mass_kg) else ""
        rows.append(
            (
                str(sheet.number),
                sheet.stock.material,
                words.size(sheet.stock.width_mm, sheet.stock.height_mm),
                str(len(lines.copies)),
                str(len(sheet.blanks)) if sheet.blanks and sheet.saw_cuts else "–",
                str(len(lines.setups)),
                percent(sheet.yield_share),
                words.area(kept),
                words.mass(sheet.mass_kg) + heavy,
            )
        )
    flow.table(
        [
            Column("Sheet", align="end", bold=True),
            Column("Board", flex=True),
            Column("Size", align="end"),
            Column("Pieces", align="end"),
            Column("Blanks", align="end"),
            Column("Clampings", align="end"),
            Column("Used", align="end"),
            Column("Offcut kept", align="end"),
            Column("Mass", align="end"),
        ],
        rows,
        role="sheet",
    )
    if any(_heavy(cut_list.plan, s.sheet.mass_kg) for s in cut_list.sheets):
        flow.paragraph(
            "! Heavier than one person should lift without a closer look: get help, or have the "
            "yard make the first cuts.",
            9.0,
        )


def _heavy(plan: Plan, mass_kg: float) -> bool:
    limit = plan.project.shop.limits.lift_kg
    return mass_kg > (limit if limit is not None else LIFT_ADVICE_KG)


def _totals(flow: Flow, cut_list: CutList, words: Words) -> None:
    plan = cut_list.plan
    if not plan.sheets:
        return
    scrap = plan.sheet_area_mm2 - plan.piece_area_mm2 - plan.offcut_area_mm2
    cost = plan.cost
    flow.heading("Altogether")
    rows = [
        (
            words.area(plan.sheet_area_mm2),
            f"{words.area(plan.piece_area_mm2)} ({percent(plan.yield_share)})",
            words.area(plan.offcut_area_mm2),
            words.area(scrap),
            words.mass(cut_list.mass_kg),
            money(cost) if cost is not None else "price not known",
        )
    ]
    flow.table(
        [
            Column("Sheets", align="end"),
            Column("Pieces", align="end"),
            Column("Offcut kept", align="end"),
            Column("Scrap", align="end"),
            Column("Mass", align="end"),
            Column("Cost", align="end"),
        ],
        rows,
    )
    if plan.sheet_bound:
        used = len(plan.sheets)
        known = (
            "no layout can use fewer"
            if used <= plan.sheet_bound
            else f"at least {plan.sheet_bound} are needed by area and size"
        )
        flow.paragraph(f"{counted(used, 'sheet')}; {known}.", 9.0, colour=MUTED)


def _notices(flow: Flow, plan: Plan) -> None:
    if not plan.findings:
        return
    flow.heading("Notices")
    panels = {p.id: p.name for p in plan.panels}
    for finding in sort_findings(plan.findings):
        where = panels.get(finding.panel or "", "")
        sentence = f"{where}: {finding.message}" if where else finding.message
        if finding.remedy:
            sentence = f"{sentence.rstrip('.')}. {finding.remedy}"
        flow.paragraph(
            sentence,
            9.0,
            lead=SIGNS[finding.severity],
            indent_mm=5.0,
            colour=_SIGN_COLOURS[finding.severity],
        )


# --- one sheet ----------------------------------------------------------------------------


def _sheet(flow: Flow, cut_list: CutList, lines: SheetLines, words: Words) -> None:
    plan, sheet = cut_list.plan, lines.sheet
    size = words.size(sheet.stock.width_mm, sheet.stock.height_mm)
    flow.page(
        f"Sheet {sheet.number} of {len(plan.sheets)}: {sheet.stock.material}, {size}", "sheet"
    )
    facts = [counted(len(lines.copies), "piece"), f"{percent(sheet.yield_share)} used"]
    if sheet.saw_cuts:
        facts.append(counted(len(sheet.saw_cuts), "saw cut"))
    if sheet.saw_cuts and sheet.blanks:
        facts.append(counted(len(sheet.blanks), "blank"))
    facts.append(words.mass(sheet.mass_kg))
    if sheet.stock.in_rack:
        facts.append("from the rack")
    board = plan.project.shop.material(sheet.stock.material)
    if board is not None and board.measured_mm is not None:
        facts.append(f"measured {words.thickness(board.measured_mm)}")
    advice = ""
    if _heavy(plan, sheet.mass_kg):
        advice = " Heavy: get help to lift it, or have the yard make the first cuts."
    flow.paragraph(", ".join(facts) + "." + advice)
    below = 12.0
    area = (flow.left, flow.bottom + below, flow.right, flow.y - 1.0)
    drawing = sheet_board(cut_list, lines, area, words)
    flow.add(drawing.marks, scale=drawing.n)
    entries = ["number"]
    entries += ["saw"] if sheet.saw_cuts else []
    entries += ["blank"] if sheet.blanks else []
    entries += ["offcut"] if any(o.keep for o in sheet.offcuts) else []
    entries += ["defect"] if sheet.stock.defects else []
    entries += ["down"] if any(c.face_up is Face.BACK for c in lines.copies) else []
    _scale_and_legend(flow, drawing.n, drawing.lowest, entries)
    _piece_table(flow, plan, lines, words)
    _saw_table(flow, lines, words)
    _offcut_table(flow, lines, words)


def _scale_and_legend(flow: Flow, n: float, lowest: float, entries: list[str]) -> None:
    words = f"Scale {scale_text(n)}. Dimensions from the lower left corner."
    y = lowest - 2.0
    flow.add([text(flow.left, y - 0.95, words, 8, colour=MUTED, role="scale")])
    start = flow.left + text_width_mm(words, 8) + 7.0
    marks, used = legend(entries, start, y, flow.right)
    flow.add(marks)
    flow.y = y - used


def _piece_table(flow: Flow, plan: Plan, lines: SheetLines, words: Words) -> None:
    if not lines.copies:
        return
    flow.heading("Pieces in the order of cutting")
    rows: list[Row] = []
    group: object = ()
    several = len(lines.setups) > 1 or any(c.setup is None for c in lines.copies)
    for line in lines.copies:
        if several and line.setup != group:
            group = line.setup
            rows.append(Row(span=_group_title(lines, line)))
        rows.append(Row(_piece_cells(line, words)))
    flow.table(
        [
            Column("Cut", tick=True),
            Column("Label", tick=True),
            Column("No.", align="end", bold=True),
            Column("Piece", flex=True),
            Column("Copy"),
            Column("Panel", flex=True),
            Column("Cut size", align="end"),
            Column("Thick", align="end"),
            Column("x", align="end"),
            Column("y", align="end"),
            Column("Turn", align="end"),
            Column("Up"),
            Column("Blank"),
            Column("Seams"),
            Column("By"),
        ],
        rows,
        role="copy",
        keep=True,
    )
    flow.paragraph(
        "x, y: lower left of the piece, from the lower left corner of the sheet. Turn: "
        "counter-clockwise from the drawing.",
        8.0,
        colour=MUTED,
    )


def _group_title(lines: SheetLines, line: CopyLine) -> str:
    if line.setup is None:
        return "Off the saw"
    setup = lines.setups[line.setup]
    blank = f", blank {setup.blank}" if setup.blank else ""
    return f"Clamping {setup.name}{blank}"


def face_words(line: CopyLine) -> str:
    """Which face lies up while it is cut."""
    return "show" if line.face_up is Face.SHOW else f"back {DOWN_SIGN}"


def _piece_cells(line: CopyLine, words: Words) -> tuple[str, ...]:
    return (
        "",
        "",
        str(line.number),
        line.piece.name,
        f"{line.copy} of {line.of}",
        line.panel if not line.piece.loose else f"{line.panel} (loose)".strip(),
        words.size(line.width_mm, line.height_mm),
        words.thickness(line.piece.thickness_mm),
        words.length(line.x_mm),
        words.length(line.y_mm),
        degrees(line.placement.motion.turn_deg),
        face_words(line),
        line.blank or "–",
        " ".join(line.piece.letters) or "–",
        "saw" if line.piece.by is CutBy.SAW else "router",
    )


def _saw_table(flow: Flow, lines: SheetLines, words: Words) -> None:
    if not lines.saw:
        return
    flow.heading("Saw cuts, in this order")
    flow.table(
        [
            Column("", tick=True),
            Column("Cut", align="end", bold=True),
            Column("Runs", flex=True),
            Column("Kerf from", align="end"),
            Column("to", align="end"),
            Column("Starts at", align="end"),
            Column("Ends at", align="end"),
            Column("Length", align="end"),
            Column("Frees", flex=True),
            Column("Fence at", align="end"),
            Column("Mind"),
        ],
        [_saw_cells(line, words) for line in lines.saw],
        role="cut",
        keep=True,
    )
    flow.paragraph(
        "Kerf from and to: the two sides of the saw cut, from the lower left corner of the sheet: "
        "set the blade between the two marks. Fence at: width of what the cut frees."
        + (
            " !: shorter along the fence than across it; not to be pushed along a fence."
            if any(line.flagged for line in lines.saw)
            else ""
        ),
        8.0,
        colour=MUTED,
    )


def _saw_cells(line: SawLine, words: Words) -> tuple[str, ...]:
    runs = {True: "up the sheet, at x", False: "along the sheet, at y", None: "askew, see diagram"}
    return (
        "",
        str(line.order),
        runs[line.across],
        words.length(line.near_mm) if line.across is not None else "–",
        words.length(line.far_mm) if line.across is not None else "–",
        words.length(line.from_mm),
        words.length(line.to_mm),
        words.length(line.length_mm),
        line.frees or "–",
        words.length(line.fence_mm) if line.fence_mm is not None else "–",
        "!" if line.flagged else "–",
    )


def _offcut_table(flow: Flow, lines: SheetLines, words: Words) -> None:
    kept = [o for o in lines.sheet.offcuts if o.keep]
    if not kept:
        return
    flow.heading("Offcuts to keep")
    rows = []
    for offcut in kept:
        xs, ys = [p[0] for p in offcut.points], [p[1] for p in offcut.points]
        rows.append(
            (
                "",
                words.size(max(xs) - min(xs), max(ys) - min(ys)),
                words.area(offcut.area_mm2),
                words.length(min(xs)),
                words.length(min(ys)),
                "rectangle" if _is_rectangle(xs, ys, offcut.area_mm2) else "not a rectangle",
            )
        )
    flow.table(
        [
            Column("Racked", tick=True),
            Column("Size", align="end"),
            Column("Area", align="end"),
            Column("x", align="end"),
            Column("y", align="end"),
            Column("Shape", flex=True),
        ],
        rows,
    )


def _is_rectangle(xs: list[float], ys: list[float], area_mm2: float) -> bool:
    full = (max(xs) - min(xs)) * (max(ys) - min(ys))
    return abs(full - area_mm2) <= 1e-6 * full


# --- one clamping -------------------------------------------------------------------------


def _setup(
    flow: Flow, cut_list: CutList, lines: SheetLines, setup: SetupLine, words: Words
) -> None:
    plan = cut_list.plan
    letter = f", blank {setup.blank}" if setup.blank else ""
    size = words.size(setup.setup.width_mm, setup.setup.height_mm)
    flow.page(f"Clamping {setup.name}: sheet {lines.sheet.number}{letter}, {size}", "setup")
    machine = plan.project.shop.machine
    faces = {c.face_up for c in setup.copies}
    if faces == {Face.BACK}:
        way = "Show face down on the table."
    elif len(faces) > 1:
        way = f"Mixed: pieces marked {DOWN_SIGN} lie show face down."
    else:
        way = "Show face up."
    at = ""
    if setup.setup.bed_x_mm or setup.setup.bed_y_mm:
        at = (
            f" The origin lies {words.with_unit(setup.setup.bed_x_mm)} right of and "
            f"{words.with_unit(setup.setup.bed_y_mm)} above the corner of the bit's reach."
        )
    blank = next((b for b in lines.sheet.blanks if b.id == setup.setup.blank), None)
    along = setup.setup.x_mm - (blank.x_mm if blank is not None else 0.0)
    if along > LAYOUT_DISTANCE_MM:
        origin = (
            f"feed the board on and set the origin {words.with_unit(along)} from its left end, on "
            "its lower edge"
        )
    else:
        origin = "set the origin at the lower left corner of the blank, on its edges"
    flow.paragraph(
        f"{machine.name}: {origin}; x to the right, y away from you.{at} {way} "
        f"{words.mass(setup.mass_kg)}."
    )
    side = max(112.0, flow.span * 0.43)
    top = flow.y - 1.0
    # As large as may be, but so that the table below goes on the same page if it can.
    table = 20.0 + 6.3 * len(setup.copies)
    high = min(flow.full_room * 0.66, max(flow.room - table - 14.0, flow.full_room * 0.45))
    area = (flow.left, top - high, flow.right - side - 4.0, top)
    drawing = setup_board(cut_list, lines, setup, area, words)
    flow.add(drawing.marks, scale=drawing.n)
    entries = ["number", "travel"]
    entries += ["clamp"] if machine.clamps else []
    entries += ["down"] if any(c.face_up is Face.BACK for c in setup.copies) else []
    place = box(
        setup.setup.x_mm,
        setup.setup.y_mm,
        setup.setup.x_mm + setup.setup.width_mm,
        setup.setup.y_mm + setup.setup.height_mm,
    )
    if any(defect.polygon.intersects(place) for defect in lines.sheet.stock.defects):
        entries.append("defect")
    y = drawing.lowest - 2.0
    flow.add([text(flow.left, y - 0.95, f"Scale {scale_text(drawing.n)}.", 8, colour=MUTED)])
    marks, used = legend(entries, flow.left + 24.0, y, flow.right - side - 4.0)
    flow.add(marks)
    low = y - used
    page = flow.page_count
    flow.y = top
    with flow.column(flow.right - side):
        _bit_table(flow, setup, words)
        _clamp_list(flow, plan, words)
        _hold_list(flow, setup)
    if flow.page_count == page:
        flow.y = min(flow.y, low)
    _setup_order(flow, setup, words)


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
        "Length of the bit's way, once round at one depth; pockets at half a bit's step-over. "
        "Multiply by your passes.",
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


def _hold_list(flow: Flow, setup: SetupLine) -> None:
    if not setup.setup.notes:
        return
    flow.heading("Holding and mind")
    for note in setup.setup.notes:
        flow.paragraph(note, 9.5, lead="–", indent_mm=4.0)


def _setup_order(flow: Flow, setup: SetupLine, words: Words) -> None:
    if not setup.copies:
        return
    flow.heading("Order: pockets and holes first, then cut-outs, then outlines")
    x0, y0 = setup.setup.x_mm, setup.setup.y_mm
    rows = []
    for line in setup.copies:
        up = sum(f.face is line.face_up or f.depth_mm is None for f in line.piece.features)
        mind = []
        if line.inside is not None:
            mind.append(f"before {line.inside}, in whose cut-out it lies")
        if line.other_face:
            mind.append(f"{counted(line.other_face, 'cut')} from the other face, later")
        rows.append(
            (
                "",
                str(line.number),
                line.title,
                words.length(line.x_mm - x0),
                words.length(line.y_mm - y0),
                degrees(line.placement.motion.turn_deg),
                str(up) if up else "–",
                str(len(line.piece.cut.holes)) if line.piece.cut.holes else "–",
                "; ".join(mind) or "–",
            )
        )
    flow.table(
        [
            Column("", tick=True),
            Column("No.", align="end", bold=True),
            Column("Piece", flex=True),
            Column("x", align="end"),
            Column("y", align="end"),
            Column("Turn", align="end"),
            Column("Pockets, holes", align="end"),
            Column("Cut-outs", align="end"),
            Column("Mind", flex=True),
        ],
        rows,
        role="order",
        keep=True,
    )


# --- cautions -----------------------------------------------------------------------------


def _cautions(flow: Flow, cut_list: CutList, words: Words) -> None:
    found = cautions(cut_list, words)
    if not found:
        return
    flow.page("Before you start", "cautions", note="")
    flow.paragraph(DEFER, 10.0, bold=True)
    for caution in found:
        flow.heading(caution.title)
        flow.paragraph(caution.text, 9.0)
        if caution.source:
            flow.paragraph(f"Source: {caution.source}.", 7.5, colour=MUTED)
