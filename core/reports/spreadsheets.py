"""Tables for a spreadsheet: RFC 4180, UTF-8, lengths in plain millimetres with a point.

Printed pages round for reading; these files do not.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Sequence

from core.outlines.model import Face
from core.plan import Plan, PlanPiece
from core.reports.cutlist import CutList, build_cut_list, copies_of

PIECE_HEAD = (
    "number",
    "piece",
    "name",
    "copy",
    "of",
    "panel",
    "loose",
    "material",
    "thickness_mm",
    "width_mm",
    "height_mm",
    "area_mm2",
    "seams",
    "by",
    "sheet",
    "stock",
    "blank",
    "clamping",
    "x_mm",
    "y_mm",
    "turn_deg",
    "mirrored",
    "face_up",
    "note",
    "bits_mm",
    "unreached_mm2",
    "largest_bit_mm",
)
SAW_HEAD = (
    "sheet",
    "cut",
    "x1_mm",
    "y1_mm",
    "x2_mm",
    "y2_mm",
    "kerf_from_mm",
    "kerf_to_mm",
    "length_mm",
    "frees",
    "fence_mm",
)
BUY_HEAD = (
    "stock",
    "material",
    "width_mm",
    "height_mm",
    "quantity",
    "from_rack",
    "cost",
    "mass_kg",
    "cost_of_one",
)


def write_table(head: Sequence[str], rows: Iterable[Sequence[object]]) -> str:
    """A table as RFC 4180 text: commas, quotes where needed, CRLF, a head line."""
    stream = io.StringIO(newline="")
    writer = csv.writer(stream, lineterminator="\r\n")
    writer.writerow(head)
    for row in rows:
        writer.writerow([_cell(value) for value in row])
    return stream.getvalue()


def _bits(piece: PlanPiece) -> tuple[object, object, object]:
    """Bits a piece needs, what none of them reaches, and the thickest that would."""
    access = piece.access
    if access is None:
        return "", "", ""
    bits = " ".join(f"{need.cutter.diameter_mm:g}" for need in access.needs)
    rest = sum(spot.area_mm2 for spot in access.unreached)
    would = [s.largest_bit_mm for s in access.closed if s.largest_bit_mm is not None]
    return bits, round(rest, 3), min(would) if would else ""


def pieces_csv(plan: Plan, cut_list: CutList | None = None) -> str:
    """One row for every copy of every piece, by number; those without a place last, with why."""
    lines = (cut_list or build_cut_list(plan)).copies
    rows: list[Sequence[object]] = []
    for line in lines:
        piece, motion = line.piece, line.placement.motion
        sheet = plan.sheets[_index(plan, line.sheet)]
        rows.append(
            (
                line.number,
                piece.id,
                piece.name,
                line.copy,
                line.of,
                line.panel,
                piece.loose,
                piece.material,
                piece.thickness_mm,
                line.width_mm,
                line.height_mm,
                piece.cut.area_mm2,
                " ".join(piece.letters),
                str(piece.by),
                line.sheet,
                sheet.stock.id,
                line.blank,
                "" if line.setup is None else f"{line.sheet}-{line.setup + 1}",
                line.x_mm,
                line.y_mm,
                motion.turn_deg,
                motion.mirrored,
                "show" if line.face_up is Face.SHOW else "back",
                "",
                *_bits(piece),
            )
        )
    pieces = {piece.id: piece for piece in plan.pieces}
    for lost in plan.unplaced:
        found = pieces.get(lost.piece)
        if found is None:
            rows.append(("", lost.piece, "", lost.copy, *[""] * 19, lost.reason, "", "", ""))
            continue
        panel = plan.panel(found.panel)
        rows.append(
            (
                "",
                found.id,
                found.name,
                lost.copy,
                copies_of(plan, found),
                panel.name if panel is not None else "",
                found.loose,
                found.material,
                found.thickness_mm,
                *found.cut.size_mm,
                found.cut.area_mm2,
                " ".join(found.letters),
                str(found.by),
                *[""] * 9,
                lost.reason,
                *_bits(found),
            )
        )
    return write_table(PIECE_HEAD, rows)


def saw_csv(plan: Plan, cut_list: CutList | None = None) -> str:
    """One row for every saw cut, sheet by sheet in the order of cutting."""
    rows: list[Sequence[object]] = []
    for lines in (cut_list or build_cut_list(plan)).sheets:
        ordered = sorted(lines.sheet.saw_cuts, key=lambda c: c.order)
        for cut, line in zip(ordered, lines.saw, strict=True):
            straight = line.across is not None
            rows.append(
                (
                    lines.sheet.number,
                    cut.order,
                    cut.x1_mm,
                    cut.y1_mm,
                    cut.x2_mm,
                    cut.y2_mm,
                    line.near_mm if straight else "",
                    line.far_mm if straight else "",
                    line.length_mm,
                    line.frees,
                    "" if line.fence_mm is None else line.fence_mm,
                )
            )
    return write_table(SAW_HEAD, rows)


def buying_csv(plan: Plan) -> str:
    """One row for every kind of sheet to buy or to take from the rack."""
    return write_table(
        BUY_HEAD,
        (
            (
                line.stock,
                line.material,
                line.width_mm,
                line.height_mm,
                line.quantity,
                line.in_rack,
                "" if line.cost is None else line.cost,
                line.mass_kg,
                "" if line.cost is None or not line.quantity else line.cost / line.quantity,
            )
            for line in plan.purchase
        ),
    )


def _index(plan: Plan, number: int) -> int:
    return next(i for i, sheet in enumerate(plan.sheets) if sheet.number == number)


def _cell(value: object) -> str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float):
        # A ten-thousandth of a millimetre, without the dust of binary fractions.
        text = f"{value:.4f}".rstrip("0").rstrip(".")
        return "0" if text in ("-0", "") else text
    return str(value)
