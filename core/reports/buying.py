"""The buying list that compares: the same pieces out of different stock."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from shapely.geometry import box

from core.plan import Plan
from core.reports.columns import Column, Row
from core.reports.fonts import shorten
from core.reports.paper import Flow, paper_named
from core.reports.pdf import render_pdf
from core.reports.picture import INK, MUTED, Line, Mark, Page, Stroke, hatch, rectangle, text
from core.reports.spreadsheets import write_table
from core.reports.words import Words, counted, percent, words_of

HEAD = (
    "alternative",
    "complete",
    "sheets",
    "bought",
    "from_rack",
    "cost",
    "offcut_value",
    "net_cost",
    "sheet_area_mm2",
    "piece_area_mm2",
    "offcut_area_mm2",
    "scrap_area_mm2",
    "mass_kg",
    "unplaced",
)


@dataclass(frozen=True, slots=True)
class Alternative:
    """What one choice of stock comes to.

    cost: of what must be bought, None if a price is not known. offcut_value: of what is left to
    keep, at the price per area of the sheet it comes from; None where that is not known.
    net_cost: cost less offcut_value. sheets: description, number, price of one (None if not
    known) of every kind of sheet used.
    """

    name: str
    complete: bool
    unplaced: int
    sheets: tuple[tuple[str, int, float | None], ...]
    bought: int
    from_rack: int
    cost: float | None
    offcut_value: float | None
    sheet_area_mm2: float
    piece_area_mm2: float
    offcut_area_mm2: float
    mass_kg: float

    @property
    def net_cost(self) -> float | None:
        if self.cost is None or self.offcut_value is None:
            return None
        return self.cost - self.offcut_value

    @property
    def scrap_area_mm2(self) -> float:
        return max(0.0, self.sheet_area_mm2 - self.piece_area_mm2 - self.offcut_area_mm2)

    @property
    def yield_share(self) -> float:
        return self.piece_area_mm2 / self.sheet_area_mm2 if self.sheet_area_mm2 else 0.0


def compare(alternatives: Sequence[tuple[str, Plan]]) -> tuple[Alternative, ...]:
    """Each alternative in figures, best first.

    Complete plans before those that leave pieces over, then those with a known cost by cost,
    then by area of sheets. Order of equals is that given.
    """
    found = [_alternative(name, plan) for name, plan in alternatives]

    def key(item: Alternative) -> tuple[float, ...]:
        unknown = item.cost is None
        return (not item.complete, unknown, item.cost or 0.0, item.sheet_area_mm2)

    return tuple(sorted(found, key=key))


def compare_csv(alternatives: Sequence[tuple[str, Plan]]) -> str:
    """The comparison as RFC 4180 text, one row each, best first."""
    return write_table(
        HEAD,
        (
            (
                a.name,
                a.complete,
                a.bought + a.from_rack,
                a.bought,
                a.from_rack,
                "" if a.cost is None else a.cost,
                "" if a.offcut_value is None else a.offcut_value,
                "" if a.net_cost is None else a.net_cost,
                a.sheet_area_mm2,
                a.piece_area_mm2,
                a.offcut_area_mm2,
                a.scrap_area_mm2,
                a.mass_kg,
                a.unplaced,
            )
            for a in compare(alternatives)
        ),
    )


def compare_pages(
    alternatives: Sequence[tuple[str, Plan]],
    *,
    paper: str = "A4",
    stamp: str = "",
    chosen: str = "",
) -> list[Page]:
    """The comparison as a table and a chart. chosen: name of the one the maker picked."""
    found = compare(alternatives)
    project = alternatives[0][1].project if alternatives else None
    words = words_of(project) if project else Words()
    flow = Flow(paper_named(paper), note=words.note)
    title = f"Buying: {project.name}" if project else "Buying"
    flow.page(title, "buying")
    if not found:
        flow.paragraph("There is nothing to compare.")
        return flow.finish(stamp)
    flow.paragraph(_sentence(found, words), 11.0, bold=True)
    flow.paragraph(
        "The same pieces cut from different stock. Offcut value: area kept, at the price of the "
        "sheet it comes from. Net cost: cost less offcut value. Sheets from the rack cost nothing "
        "here.",
        9.0,
        colour=MUTED,
    )
    _table(flow, found, words, chosen)
    _chart(flow, found, words)
    _sheets(flow, found, dict(alternatives), words)
    return flow.finish("  ·  ".join(p for p in (project.name if project else "", stamp) if p))


def compare_pdf(
    alternatives: Sequence[tuple[str, Plan]],
    *,
    paper: str = "A4",
    stamp: str = "",
    chosen: str = "",
) -> bytes:
    """The comparison as PDF bytes."""
    pages = compare_pages(alternatives, paper=paper, stamp=stamp, chosen=chosen)
    return render_pdf(pages, title="Buying list", subject=stamp)


def _alternative(name: str, plan: Plan) -> Alternative:
    words = words_of(plan.project)
    prices = {stock.id: stock.cost for stock in plan.project.shop.stock}
    prices.update({s.stock.id: s.stock.cost for s in plan.sheets})
    value: float | None = 0.0
    for sheet in plan.sheets:
        kept = sum(o.area_mm2 for o in sheet.offcuts if o.keep)
        price = prices.get(sheet.stock.id)
        if not kept:
            continue
        if price is None:
            value = None if not sheet.stock.in_rack else value
        elif value is not None:
            value += price * kept / sheet.area_mm2
    return Alternative(
        name=name,
        complete=not plan.missing,
        unplaced=len(plan.missing),
        sheets=tuple(
            (
                f"{line.material}, {words.size(line.width_mm, line.height_mm)}",
                line.quantity,
                line.cost / line.quantity if line.cost is not None and line.quantity else None,
            )
            for line in plan.purchase
        ),
        bought=sum(line.quantity for line in plan.purchase if not line.in_rack),
        from_rack=sum(line.quantity for line in plan.purchase if line.in_rack),
        cost=plan.cost,
        offcut_value=value,
        sheet_area_mm2=plan.sheet_area_mm2,
        piece_area_mm2=plan.piece_area_mm2,
        offcut_area_mm2=plan.offcut_area_mm2,
        mass_kg=sum(sheet.mass_kg for sheet in plan.sheets),
    )


def _sentence(found: Sequence[Alternative], words: Words) -> str:
    best = found[0]
    if not best.complete:
        return "None of these holds every piece."
    sheets = counted(best.bought + best.from_rack, "sheet")
    if best.cost is None:
        return f"{best.name}: {sheets}, {percent(best.yield_share)} used; prices are not known."
    return f"Least to pay: {best.name}, {words.money(best.cost)} for {sheets}."


def _table(flow: Flow, found: Sequence[Alternative], words: Words, chosen: str) -> None:
    rows = []
    for item in found:
        note = "all placed" if item.complete else f"{counted(item.unplaced, 'piece')} left over"
        rows.append(
            (
                "X" if item.name == chosen else "",
                item.name,
                str(item.bought + item.from_rack),
                str(item.from_rack),
                words.money(item.cost),
                words.money(item.offcut_value),
                words.money(item.net_cost),
                percent(item.yield_share),
                words.area(item.scrap_area_mm2),
                words.mass(item.mass_kg),
                note,
            )
        )
    flow.heading("Alternatives")
    flow.table(
        [
            Column("Pick", align="middle", bold=True),
            Column("Alternative", flex=True, bold=True),
            Column("Sheets", align="end"),
            Column("From the rack", align="end"),
            Column("Cost", align="end"),
            Column("Offcut value", align="end"),
            Column("Net cost", align="end"),
            Column("Used", align="end"),
            Column("Scrap", align="end"),
            Column("Mass", align="end"),
            Column("Pieces"),
        ],
        rows,
        role="alternative",
    )


def _sheets(
    flow: Flow, found: Sequence[Alternative], plans: Mapping[str, Plan], words: Words
) -> None:
    """What each alternative takes, a row for every kind of sheet."""
    rows: list[Row] = []
    for item in found:
        lines = plans[item.name].purchase
        if not lines:
            continue
        rows.append(Row(span=item.name))
        for line in lines:
            one = line.cost / line.quantity if line.cost is not None and line.quantity else None
            rows.append(
                Row(
                    (
                        f"{line.quantity} ×",
                        line.material,
                        words.size(line.width_mm, line.height_mm),
                        "from the rack" if line.in_rack else "buy",
                        "–" if line.in_rack else words.money(one),
                        "–" if line.in_rack else words.money(line.cost),
                    )
                )
            )
    if not rows:
        return
    flow.heading("Sheets of each")
    flow.table(
        [
            Column("Sheets", align="end", bold=True),
            Column("Board", flex=True),
            Column("Size", align="end"),
            Column("Where from"),
            Column("Price of one", align="end"),
            Column("Cost", align="end"),
        ],
        rows,
        role="sheets",
        keep=True,
    )


def _chart(flow: Flow, found: Sequence[Alternative], words: Words) -> None:
    """Bars of sheet area, split into pieces (full), offcut (hatched) and scrap (empty)."""
    flow.heading("Where the board goes")
    flow.begin(10.0 + 8.5 * min(len(found), 6))
    most = max((item.sheet_area_mm2 for item in found), default=0.0) or 1.0
    name_w = min(0.28 * flow.span, 70.0)
    value_w = 36.0
    scale = (flow.span - name_w - value_w) / most
    for item in found:
        flow.need(9.0)
        low = flow.y - 7.0
        x = flow.left + name_w
        marks: list[Mark] = [
            text(flow.left, low + 2.0, shorten(item.name, name_w - 3.0, 9.5), 9.5, role="bar-name")
        ]
        parts = (
            ("pieces", item.piece_area_mm2),
            ("offcut", item.offcut_area_mm2),
            ("scrap", item.scrap_area_mm2),
        )
        for kind, area in parts:
            wide = max(area, 0.0) * scale
            if wide <= 0.0:
                continue
            fill = "#9DB4C4" if kind == "pieces" else None
            marks.append(rectangle(x, low, wide, 6.0, Stroke(0.25), fill, role=f"bar-{kind}"))
            if kind == "offcut":
                marks += hatch(box(x, low, x + wide, low + 6.0), 1.6, Stroke(0.18))
            x += wide
        words_ = words.area(item.sheet_area_mm2)
        if item.cost is not None:
            words_ += f", {words.money(item.cost)}"
        marks.append(text(x + 2.0, low + 2.0, words_, 9.0, role="bar-value"))
        flow.add(marks)
        flow.y -= 8.5
    y = flow.y - 4.0
    at = flow.left + name_w
    marks = [Line(((at, y + 3.6), (flow.right - value_w, y + 3.6)), Stroke(0.18, MUTED))]
    for kind, label in (("pieces", "pieces"), ("offcut", "offcut to keep"), ("scrap", "scrap")):
        fill = "#9DB4C4" if kind == "pieces" else None
        marks.append(rectangle(at, y - 1.0, 6.0, 3.0, Stroke(0.25), fill))
        if kind == "offcut":
            marks += hatch(box(at, y - 1.0, at + 6.0, y + 2.0), 1.2, Stroke(0.18))
        mark = text(at + 8.0, y - 0.6, label, 8.5, colour=INK)
        marks.append(mark)
        at += 8.0 + mark.width_mm + 8.0
    flow.add(marks)
    flow.y = y - 3.0
