"""The first page: what to buy, how much of it is used, what to look at before cutting."""

from __future__ import annotations

import re

from core.findings import Severity, sort_findings
from core.plan import Plan
from core.project.saying import in_project_unit, told
from core.reports.cautions import is_heavy
from core.reports.cutlist import CutList
from core.reports.paper import Column, Flow
from core.reports.picture import MUTED, STOP, WARN
from core.reports.ways import HEADS, MEANING, way_rows
from core.reports.words import Words, counted, percent

SIGNS = {Severity.STOP: "●", Severity.WARN: "▲", Severity.NOTE: "■"}
_SIGN_COLOURS = {Severity.STOP: STOP, Severity.WARN: WARN, Severity.NOTE: MUTED}
#: How a sentence goes on after the name of a panel or of its piece that it begins with.
_GOES_ON = re.compile(r"(?: \d+|,[^:]{0,40})?(?::| (?:is|has|was|needs)\b)")


def summary_page(flow: Flow, cut_list: CutList, words: Words, stamp: str, version: str) -> None:
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
    _ways(flow, plan, words)
    _notices(flow, plan)


def _not_clean(flow: Flow, cut_list: CutList) -> None:
    plan = cut_list.plan
    stops = sum(f.severity is Severity.STOP for f in plan.findings)
    parts = []
    if stops:
        parts.append(counted(stops, "stop"))
    if plan.missing:
        parts.append(f"{counted(len(plan.missing), 'piece')} without a place")
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
            [
                (names.get(u.piece, u.piece), str(u.copy), in_project_unit(u.reason, plan.project))
                for u in plan.unplaced
            ],
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
        heavy = " !" if line.quantity and is_heavy(plan, line.mass_kg / line.quantity) else ""
        rows.append(
            (
                "",
                f"{line.quantity} ×",
                line.material,
                words.exact(thickness.nominal_mm) if thickness else "–",
                words.size(line.width_mm, line.height_mm),
                "from the rack" if line.in_rack else "buy",
                "–" if line.in_rack else words.money(line.cost),
                words.mass(line.mass_kg) + heavy,
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
        heavy = " !" if is_heavy(cut_list.plan, sheet.mass_kg) else ""
        rows.append(
            (
                str(sheet.number),
                sheet.stock.material,
                words.size(sheet.stock.width_mm, sheet.stock.height_mm),
                str(len(lines.copies)),
                str(len(sheet.blanks)) if sheet.blanks and sheet.saw_cuts else "–",
                str(len(lines.setups) or "–"),
                percent(sheet.yield_share),
                words.area(kept) if kept else "–",
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
    if any(is_heavy(cut_list.plan, s.sheet.mass_kg) for s in cut_list.sheets):
        flow.paragraph(
            "! Each of these sheets is heavier than one person should lift without a closer look: "
            "get help, or have the yard make the first cuts.",
            9.0,
        )


def _totals(flow: Flow, cut_list: CutList, words: Words) -> None:
    plan = cut_list.plan
    if not plan.sheets:
        return
    cost = plan.cost
    flow.heading("Altogether")
    rows = [
        (
            words.area(plan.sheet_area_mm2),
            f"{words.area(plan.piece_area_mm2)} ({percent(plan.yield_share)})",
            words.area(plan.offcut_area_mm2),
            words.area(plan.scrap_area_mm2),
            words.mass(cut_list.mass_kg),
            words.money(cost) if cost is not None else "price not known",
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
            else f"at least {plan.sheet_bound} {'is' if plan.sheet_bound == 1 else 'are'} needed "
            "by area and size"
        )
        flow.paragraph(f"{counted(used, 'sheet')}; {known}.", 9.0, colour=MUTED)


def _ways(flow: Flow, plan: Plan, words: Words) -> None:
    """The ways onto the machine, if they were compared."""
    rows = way_rows(plan.ways, words)
    if not rows:
        return
    flow.heading("Ways onto the machine, compared")
    flow.table(
        [
            Column(head, flex=number == 0, align="start" if number < 2 else "end")
            for number, head in enumerate(HEADS)
        ],
        [row.cells for row in rows],
        role="way",
    )
    for row in rows:
        if row.note:
            note = in_project_unit(row.note, plan.project)
            flow.paragraph(f"{row.way.material}, {row.way.title}: {note}", 9.0)
    flow.paragraph(MEANING, 8.0, colour=MUTED)


def _notices(flow: Flow, plan: Plan) -> None:
    if not plan.findings:
        return
    flow.heading("Notices")
    panels = {p.id: p.name for p in plan.panels}
    for noticed in sort_findings(plan.findings):
        finding = told(noticed, plan.project)
        where = panels.get(finding.panel or "", "")
        named = not where or _begins_with(where, finding.message)
        sentence = finding.message if named else f"{where}: {finding.message}"
        if finding.remedy:
            sentence = f"{sentence.rstrip('.')}. {finding.remedy}"
        flow.paragraph(
            sentence,
            9.0,
            lead=SIGNS[finding.severity],
            indent_mm=5.0,
            colour=_SIGN_COLOURS[finding.severity],
        )


def _begins_with(name: str, sentence: str) -> bool:
    """True if a sentence names a panel first; one called “A” is not named in “A seam is …”."""
    return sentence.startswith(name) and bool(_GOES_ON.match(sentence, len(name)))
