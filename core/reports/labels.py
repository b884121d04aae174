"""Labels: one for every copy, with everything one must know about a piece that lies around."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import segno

from core.geometry import Ring
from core.outlines.model import Face
from core.plan import Plan
from core.project.model import CutBy
from core.reports.cutlist import CopyLine, CutList, build_cut_list
from core.reports.fonts import ASCENT, PT_MM, printable, shorten, wrap
from core.reports.label_formats import (
    LABEL_FORMATS,
    LabelFormat,
    default_format,
    format_named,
)
from core.reports.legend import DOWN_SIGN
from core.reports.pdf import render_pdf
from core.reports.picture import (
    FINE_MM,
    HAIRLINE,
    INK,
    MUTED,
    Mark,
    Page,
    Shape,
    Stroke,
    Text,
    text,
)
from core.reports.words import Words, degrees, words_of

__all__ = [
    "LABEL_FORMATS",
    "LabelFormat",
    "default_format",
    "label_guide",
    "label_guide_pdf",
    "label_marks",
    "label_pages",
    "labels_pdf",
    "piece_code",
    "qr_marks",
]

_APART_PT = 9.0  # face and grain have a row each while print is this large
_INSET_MM = 2.2  # printers miss the label's place by a millimetre or two


def piece_code(line: CopyLine) -> str:
    """What the QR code says: the piece's id and its copy, as in the plan."""
    return f"{line.piece.id}#{line.copy}"


def label_pages(
    plan: Plan,
    *,
    form: LabelFormat | str = "",
    first_place: int = 1,
    cut_list: CutList | None = None,
) -> list[Page]:
    """One label for each placed copy, by number.

    form: a format, the name of one in LABEL_FORMATS or of the project's own, or "" for plain
    cut-out labels.
    first_place: where to begin on a part-used sheet, counted from 1 along the rows. Raises
    InvalidRequestError for a format or a place that does not exist.
    """
    if isinstance(form, str):
        form = format_named(form, plan.project.units, plan.project.output)
    form.check_place(first_place)
    lines = cut_list or build_cut_list(plan)
    words = words_of(plan.project)
    pages: list[list[Mark]] = []
    for index, line in enumerate(lines.copies):
        page, place = divmod(index + first_place - 1, form.per_page)
        if page == len(pages):
            pages.append([])
        pages[page] += label_marks(lines, line, form, form.corner(place), words)
    if not pages:
        pages.append([text(20.0, form.paper.height_mm - 30.0, "No pieces are placed yet.", 11.0)])
    return [
        Page(form.paper.width_mm, form.paper.height_mm, tuple(marks), f"Labels {i + 1}", "labels")
        for i, marks in enumerate(pages)
    ]


def labels_pdf(
    plan: Plan, *, form: LabelFormat | str = "", first_place: int = 1, stamp: str = ""
) -> bytes:
    """The labels as PDF bytes; arguments and errors as for label_pages."""
    pages = label_pages(plan, form=form, first_place=first_place)
    return render_pdf(pages, title=f"Labels: {plan.project.name}", subject=stamp)


def label_marks(
    cut_list: CutList, line: CopyLine, form: LabelFormat, corner: tuple[float, float], words: Words
) -> list[Mark]:
    """One label with its lower left corner at `corner`."""
    x, y = corner
    marks: list[Mark] = []
    if form.cut_lines:
        stroke = Stroke(FINE_MM, HAIRLINE, (1.5, 1.0))
        frame = Ring.rectangle(x, y, form.width_mm, form.height_mm)
        marks.append(Shape((frame,), stroke, None, "cut-line"))
    left, right = x + _INSET_MM, x + form.width_mm - _INSET_MM
    top, low = y + form.height_mm - _INSET_MM, y + _INSET_MM
    side = min(0.5 * (top - low), 24.0, 0.30 * (right - left))
    side = max(side, min(13.0, top - low))
    marks += qr_marks(piece_code(line), right - side, low, side)
    # The number large in the upper right corner, above the code.
    size = min(26.0, (top - low - side - 1.0) / PT_MM / 0.78, 0.30 * form.height_mm / PT_MM)
    number = text(0, 0, str(line.number), max(size, 8.0), bold=True, anchor="end", role="number")
    while number.width_mm > side + 4.0 and number.size_pt > 8.0:
        number = replace(number, size_pt=number.size_pt - 0.5)
    base = top - number.size_pt * PT_MM * 0.75
    marks.append(replace(number, x_mm=right, y_mm=base))
    beside = right - max(number.width_mm, 0.0) - 2.0
    width_top = beside - left
    width_low = right - side - 2.0 - left
    marks += _lines(cut_list, line, words, left, top, low, (width_top, width_low), low + side)
    return marks


def _lines(
    cut_list: CutList,
    line: CopyLine,
    words: Words,
    left: float,
    top: float,
    low: float,
    widths: tuple[float, float],
    code_top: float,
) -> list[Mark]:
    """The text of a label, at the largest size at which all of it fits."""
    apart = _rows(cut_list, line, words, apart=True)
    rows = _rows(cut_list, line, words, apart=False)
    room = top - low
    # A row on one line reads best, as long as print does not get small for it.
    for size in (11.0, 10.0, 9.0, 8.5, 8.0):
        laid = _flow(apart, size, widths, top, low, code_top)
        if laid is not None and len(laid) == len(apart):
            return _set(laid, left)
    for size in (11.0, 10.0, 9.0, 8.0, 7.5, 7.0, 6.5, 6.0, 5.5, 5.0):
        laid = _flow(apart if size >= _APART_PT else rows, size, widths, top, low, code_top)
        if laid is not None:
            return _set(laid, left)
    # The smallest print still does not hold it: the first rows whole, names shortened.
    short = [(shorten(words_, min(widths), 5.0, bold), bold) for words_, bold in rows]
    laid = _flow(short[: max(1, int(room / (5.0 * PT_MM * 1.25)))], 5.0, widths, top, low, code_top)
    return _set(laid or [], left)


_Laid = list[tuple[str, bool, float, float]]  # words, bold, size, base line


def _flow(
    rows: Sequence[tuple[str, bool]],
    size: float,
    widths: tuple[float, float],
    top: float,
    low: float,
    code_top: float,
) -> _Laid | None:
    """Rows wrapped from the top down; None if they run out at the lower end."""
    laid: _Laid = []
    y = top
    for words_, bold in rows:
        pt = size * 1.15 if bold else size
        step = pt * PT_MM * 1.24
        rest = words_
        count = 0
        while rest:
            base = y - pt * PT_MM * ASCENT
            if base - pt * PT_MM * 0.24 < low - 0.05:
                return None
            # Rows level with the code are narrower than those above it.
            width = min(widths) if y - step < code_top + 0.8 else widths[0]
            line = wrap(rest, width, pt, bold)[0]
            if count == 2 and line != rest:
                line, rest = shorten(rest, width, pt, bold), ""
                if size > 6.0:
                    return None
            else:
                rest = rest[len(line) :].lstrip()
            laid.append((line, bold, pt, base))
            y -= step
            count += 1
    return laid


def _set(laid: _Laid, left: float) -> list[Mark]:
    return [
        Text(left, base, words_, pt, bold, role="label", colour=INK)
        for words_, bold, pt, base in laid
    ]


def _rows(
    cut_list: CutList, line: CopyLine, words: Words, *, apart: bool
) -> list[tuple[str, bool]]:
    """What a label says, most important first; (words, bold). apart: face and grain in two rows."""
    piece = line.piece
    panel = cut_list.plan.panel(piece.panel)
    rows = [(printable(piece.name), True)]
    copy = f"{line.copy} of {line.of}"
    named = line.panel and line.panel != piece.name
    rows.append((printable(f"{line.panel}, copy {copy}" if named else f"Copy {copy}"), False))
    unit = "" if words.unit in ("in", "ft") else f" {words.unit}"
    size = words.size(line.width_mm, line.height_mm)
    rows.append((f"{size}{unit}, {words.thickness(piece.thickness_mm)} thick", False))
    rows.append((printable(piece.material), False))
    where = [f"Sheet {line.sheet}"]
    if line.blank:
        where.append(f"blank {line.blank}")
    if line.setup is not None:
        where.append(f"clamping {line.sheet}-{line.setup + 1}")
    if piece.by is CutBy.SAW:
        where.append("by saw")
    rows.append((", ".join(where), False))
    face = "Show face up" if line.face_up is Face.SHOW else f"{DOWN_SIGN} Show face down"
    turn = degrees(line.placement.motion.turn_deg)
    if turn != "0°":
        face += f", sheet turn {turn}"
    grain = _grain_words(panel.grain if panel is not None else "", line, words)
    rows += [(face, False), (grain, False)] if apart else [(f"{face}. {grain}", False)]
    if piece.letters:
        seams = "Seam" if len(piece.letters) == 1 else "Seams"
        rows.append((printable(f"{seams} {' '.join(piece.letters)}"), True))
    if piece.loose:
        rows.append(("Loose piece", False))
    return rows


def _grain_words(grain: str, line: CopyLine, words: Words) -> str:
    """How the grain lies on the piece as drawn: an arrow, and the side it runs along."""
    width, height = words.with_unit(line.width_mm), words.with_unit(line.height_mm)
    if grain not in ("along", "across"):
        return "Grain any way"
    sign, side = ("↔", width) if grain == "along" else ("↕", height)
    return f"Grain {sign} as drawn" if width == height else f"Grain {sign} along the {side}"


def qr_marks(content: str, x_mm: float, y_mm: float, side_mm: float) -> list[Mark]:
    """A QR code with its quiet zone inside a square; dark modules as rectangles.

    Error correction is at least M, as labels get scratched (ISO/IEC 18004 names the levels; from
    memory: M restores about 15 %).
    """
    code = segno.make_qr(content, error="m", boost_error=True)
    rows = [bytes(row) for row in code.matrix]
    quiet = 4  # modules of white all round, as the standard asks
    step = side_mm / (len(rows) + 2 * quiet)
    rings = []
    for index, row in enumerate(rows):
        start = None
        for column, dark in enumerate((*row, 0)):
            if dark and start is None:
                start = column
            elif not dark and start is not None:
                rings.append(
                    Ring.rectangle(
                        x_mm + (quiet + start) * step,
                        y_mm + side_mm - (quiet + index + 1) * step,
                        (column - start) * step,
                        step,
                    )
                )
                start = None
    return [Shape(tuple(rings), None, "#000000", "qr", content)]


def label_guide(form: LabelFormat) -> Page:
    """A test print: the outline of every label and the size of the paper, on plain paper."""
    marks: list[Mark] = []
    for place in range(form.per_page):
        x, y = form.corner(place)
        frame = Ring.rectangle(x, y, form.width_mm, form.height_mm)
        marks.append(Shape((frame,), Stroke(0.25), None, "label-outline"))
        words = str(place + 1)
        marks.append(
            text(x + form.width_mm / 2, y + form.height_mm / 2, words, 12, anchor="middle")
        )
    hold = "Hold it against the light with a label sheet. Lines must meet; if not, print at 100 %."
    width = form.paper.width_mm - 24.0
    if form.top_mm > 8.0:
        y = form.paper.height_mm - form.top_mm + 2.5
        marks.append(text(12.0, y, shorten(hold, width, 8.0), 8.0, colour=MUTED))
    return Page(form.paper.width_mm, form.paper.height_mm, tuple(marks), "Label test", "labels")


def label_guide_pdf(form: LabelFormat) -> bytes:
    """The test print of a format as PDF bytes."""
    return render_pdf([label_guide(form)], title=f"Label test: {form.name}")
