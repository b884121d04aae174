"""One sheet on paper: the diagram, then pieces and saw cuts in the order of the work."""

from __future__ import annotations

from collections.abc import Mapping

from core.outlines.model import Face
from core.project.model import CutBy
from core.reports.board import scale_text
from core.reports.cautions import is_heavy
from core.reports.cutlist import CopyLine, CutList, SawLine, SheetLines
from core.reports.diagrams import sheet_board
from core.reports.fonts import text_width_mm
from core.reports.legend import DOWN_SIGN, legend
from core.reports.paper import Column, Flow, Row
from core.reports.picture import MUTED, text
from core.reports.saw_page import saw_table
from core.reports.sawing import offcut_letters, saw_list_of
from core.reports.words import Words, counted, degrees, percent


def sheet_page(flow: Flow, cut_list: CutList, lines: SheetLines, words: Words) -> None:
    plan, sheet = cut_list.plan, lines.sheet
    size = words.size(sheet.stock.width_mm, sheet.stock.height_mm)
    size += ", shaped" if sheet.stock.points else ""
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
    if is_heavy(plan, sheet.mass_kg):
        advice = " Heavy: get help to lift it, or have the yard make the first cuts."
    flow.paragraph(", ".join(facts) + "." + advice)
    below = 12.0
    area = (flow.left, flow.bottom + below, flow.right, flow.y - 1.0)
    steps = saw_list_of(plan, lines)
    letters = offcut_letters(lines, steps)
    drawing = sheet_board(cut_list, lines, area, words, letters=letters)
    flow.add(drawing.marks, scale=drawing.n)
    entries = ["number"]
    entries += ["saw"] if sheet.saw_cuts else []
    entries += ["blank"] if sheet.blanks and sheet.saw_cuts else []
    entries += ["offcut"] if any(o.keep for o in sheet.offcuts) else []
    entries += ["defect"] if sheet.stock.defects else []
    entries += ["down"] if any(c.face_up is Face.BACK for c in lines.copies) else []
    entries += ["back"] if any(c.other_face for c in lines.copies) else []
    _scale_and_legend(flow, drawing.n, drawing.lowest, entries)

    def tables(onto: Flow) -> None:
        _piece_table(onto, lines, words)
        if steps is not None:
            saw_table(onto, steps, words)
        else:
            _saw_table(onto, lines, words)
        _offcut_table(onto, lines, words, letters)

    flow.save_pages(tables)


def _scale_and_legend(flow: Flow, n: float, lowest: float, entries: list[str]) -> None:
    words = f"Scale {scale_text(n)}. Dimensions from the lower left corner."
    y = lowest - 2.0
    flow.add([text(flow.left, y - 0.95, words, 8, colour=MUTED, role="scale")])
    start = flow.left + text_width_mm(words, 8) + 7.0
    marks, used = legend(entries, start, y, flow.right)
    flow.add(marks)
    flow.y = y - used


def _piece_table(flow: Flow, lines: SheetLines, words: Words) -> None:
    if not lines.copies:
        return
    flow.heading("Pieces in the order of cutting")
    rows: list[Row] = []
    group: object = ()
    count = len({c.setup for c in lines.copies})
    # A title over every piece or two would only push the table apart: a column says it then.
    titled = 1 < count <= len(lines.copies) / 3
    for line in lines.copies:
        if titled and line.setup != group:
            group = line.setup
            rows.append(Row(span=_group_title(lines, line)))
        rows.append(Row(_piece_cells(lines, line, words)))
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
            Column("Clamping"),
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


def _piece_cells(lines: SheetLines, line: CopyLine, words: Words) -> tuple[str, ...]:
    by = "by saw" if line.piece.by is CutBy.SAW else "–"
    if line.setup is not None:
        by = lines.setups[line.setup].name
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
        by,
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


def _offcut_table(flow: Flow, lines: SheetLines, words: Words, letters: Mapping[int, str]) -> None:
    kept = [(index, o) for index, o in enumerate(lines.sheet.offcuts) if o.keep]
    if not kept:
        return
    flow.heading("Offcuts to keep")
    rows = []
    for index, offcut in sorted(
        kept, key=lambda item: (len(letters.get(item[0], "")), letters.get(item[0], ""))
    ):
        xs, ys = [p[0] for p in offcut.points], [p[1] for p in offcut.points]
        rows.append(
            (
                "",
                *((letters.get(index, "–"),) if letters else ()),
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
            *((Column("Letter", bold=True),) if letters else ()),
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
