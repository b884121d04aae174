"""Labels for blanks, stuck or chalked on as they come off the saw."""

from __future__ import annotations

from collections.abc import Sequence

from shapely.geometry import Polygon, box

from core.geometry import Ring
from core.outlines.model import Face
from core.plan import Plan, PlanBlank
from core.reports.cutlist import CutList, SheetLines, build_cut_list
from core.reports.fonts import PT_MM, shorten, text_width_mm
from core.reports.label_formats import LabelFormat, format_named
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
    arrow,
    text,
)
from core.reports.words import Words, counted, words_of
from core.tolerances import LAYOUT_DISTANCE_MM

_HEAD_MM = 7.0
_INSET_MM = 3.0
_LEAST_PT = 6.0


def sawn_blanks(cut_list: CutList) -> list[tuple[SheetLines, PlanBlank]]:
    """Every blank that comes off the saw, in the order of sheets and letters."""
    return [
        (lines, blank)
        for lines in cut_list.sheets
        if lines.sheet.saw_cuts
        for blank in lines.sheet.blanks
    ]


def blank_label_pages(
    plan: Plan,
    *,
    form: LabelFormat | str = "",
    first_place: int = 1,
    cut_list: CutList | None = None,
) -> list[Page]:
    """One label for each blank, no page where nothing is sawn into blanks.

    form, first_place: as for label_pages, whose errors it shares. Each says sheet and letter,
    which edge is at the top on the sheet's page, how it lies on the table and which pieces are
    cut from it.
    """
    lines = cut_list or build_cut_list(plan)
    if isinstance(form, str):
        form = format_named(form, plan.project.units, plan.project.output)
    form.check_place(first_place)
    words = words_of(plan.project)
    pages: list[list[Mark]] = []
    for index, (sheet, blank) in enumerate(sawn_blanks(lines)):
        page, place = divmod(index + first_place - 1, form.per_page)
        if page == len(pages):
            pages.append([])
        pages[page] += _label(lines, sheet, blank, form, form.corner(place), words)
    return [
        Page(form.paper.width_mm, form.paper.height_mm, tuple(marks), f"Blanks {k}", "labels")
        for k, marks in enumerate(pages, start=1)
    ]


def blank_labels_pdf(
    plan: Plan,
    *,
    form: LabelFormat | str = "",
    stamp: str = "",
    cut_list: CutList | None = None,
) -> bytes | None:
    """The labels as PDF bytes, None where nothing is sawn into blanks; as blank_label_pages."""
    pages = blank_label_pages(plan, form=form, cut_list=cut_list)
    if not pages:
        return None
    return render_pdf(pages, title=f"Labels of blanks: {plan.project.name}", subject=stamp)


def _label(
    cut_list: CutList,
    sheet: SheetLines,
    blank: PlanBlank,
    form: LabelFormat,
    corner: tuple[float, float],
    words: Words,
) -> list[Mark]:
    x, y = corner
    marks: list[Mark] = []
    if form.cut_lines:
        frame = Ring.rectangle(x, y, form.width_mm, form.height_mm)
        marks.append(Shape((frame,), Stroke(FINE_MM, HAIRLINE, (1.5, 1.0)), None, "cut-line"))
    left, right = x + _INSET_MM, x + form.width_mm - _INSET_MM
    top = y + form.height_mm - _INSET_MM
    # Which way is up: an arrow along the right edge, towards the edge that is at the top.
    # Its head is large enough to be seen at arm's length.
    stem = right - 2.0
    marks += arrow((stem, y + _INSET_MM), (stem, top), Stroke(0.5, INK), head_mm=_HEAD_MM)
    size = min(24.0, 0.34 * form.height_mm / PT_MM)
    name = f"{sheet.sheet.number} {blank.letter}"
    base = top - size * PT_MM * 0.75
    marks.append(text(left, base, name, size, bold=True, role="number"))
    room = right - 6.0 - left
    rows = _rows(cut_list, sheet, blank, words)
    small = _size(rows, room, base - y - 1.5)
    if small < _LEAST_PT:
        rows = _rows(cut_list, sheet, blank, words, brief=True)
        small = max(_LEAST_PT, _size(rows, room, base - y - 1.5))
    line = base - 0.6
    for row, colour in rows:
        line -= small * PT_MM * 1.3
        if line < y + 1.0:
            break
        marks.append(text(left, line, shorten(row, room, small), small, colour=colour))
    return marks


def _size(rows: Sequence[tuple[str, str]], width_mm: float, height_mm: float) -> float:
    """The largest print at which every row goes in whole, 0 if none does."""
    for size in (11.0, 10.0, 9.0, 8.5, 8.0, 7.5, 7.0, 6.5, _LEAST_PT):
        wide = max(text_width_mm(row, size) for row, _ in rows)
        if wide <= width_mm and len(rows) * size * PT_MM * 1.3 + 0.6 <= height_mm:
            return size
    return 0.0


def _rows(
    cut_list: CutList, sheet: SheetLines, blank: PlanBlank, words: Words, *, brief: bool = False
) -> list[tuple[str, str]]:
    """What a label says, with the ink. brief: clamping and pieces in one row, for low labels."""
    plan = cut_list.plan
    here = [c for c in sheet.copies if c.placement.blank == blank.id]
    faces = {c.face_up for c in here}
    face = "show face up"
    if faces == {Face.BACK}:
        face = "show face down"
    elif len(faces) > 1:
        face = "faces mixed, see its page"
    setups = [s for s in sheet.setups if s.setup.blank == blank.id]
    numbers = _runs([c.number for c in here]) or "nothing"
    share = blank.width_mm * blank.height_mm / sheet.sheet.area_mm2
    name = f"Sheet {sheet.sheet.number}, blank {blank.letter}"
    rows = [
        (f"{name}: {_measured(blank.width_mm, blank.height_mm, words)}", INK),
        (f"{sheet.sheet.stock.material}, {words.mass(sheet.sheet.mass_kg * share)}", INK),
        ("Arrow: top edge on the sheet's page", INK),
    ]
    if setups:
        # A quarter turn counter-clockwise brings the upper edge to the left.
        way = "to the left" if setups[0].setup.turned else "away from you"
        rows.append((f"Table: arrow {way}, {face}", INK))
    pieces = f"{counted(len(here), 'piece')}: {numbers}"
    clamping = f"Clamping {', '.join(s.name for s in setups) or '–'}"
    rows.append((f"{clamping}, {pieces}" if brief else pieces, INK))
    place = box(
        blank.x_mm, blank.y_mm, blank.x_mm + blank.width_mm, blank.y_mm + blank.height_mm
    ).buffer(LAYOUT_DISTANCE_MM)
    for offcut in sheet.sheet.offcuts:
        left = Polygon(offcut.points)
        if offcut.keep and place.covers(left):
            x1, y1, x2, y2 = left.bounds
            rows.append((f"Keep its offcut: {_measured(x2 - x1, y2 - y1, words)}", INK))
    if not brief:
        rows.append((f"{clamping} · {plan.project.name}", MUTED))
    return rows


def _measured(width_mm: float, height_mm: float, words: Words) -> str:
    size = words.size(width_mm, height_mm)
    return size if words.unit in ("in", "ft") else f"{size} {words.unit}"


def _runs(numbers: Sequence[int]) -> str:
    """Numbers in order, three and more that follow each other as a run.

    >>> _runs([7, 1, 2, 3, 5])
    '1–3, 5, 7'
    """
    found: list[list[int]] = []
    for number in sorted(numbers):
        if found and number == found[-1][-1] + 1:
            found[-1].append(number)
        else:
            found.append([number])
    words = []
    for run in found:
        words += [f"{run[0]}–{run[-1]}"] if len(run) > 2 else [str(n) for n in run]
    return ", ".join(words)
