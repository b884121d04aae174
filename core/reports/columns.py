"""Columns of a table: what stands in them and how wide they become."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from core.reports.fonts import printable, text_width_mm

LEAST_UNBROKEN_PT = 8.5  # rather so small than rows of two lines
PAD_MM = 1.6  # between a cell's text and either side of its column


@dataclass(frozen=True, slots=True)
class Column:
    """A column of a table. flex: takes the room that is left and wraps; tick: an empty box."""

    title: str
    align: str = "start"
    flex: bool = False
    tick: bool = False
    bold: bool = False


@dataclass(frozen=True, slots=True)
class Row:
    """Cells of one row, or one heading across the whole table."""

    cells: tuple[str, ...] = ()
    span: str = ""


def column_widths(
    columns: Sequence[Column],
    rows: Sequence[Row],
    span_mm: float,
    *,
    size_pt: float,
    least_pt: float,
    stretch: bool,
) -> tuple[float, list[float]]:
    """The size of the letters, pt, and the width of every column, mm, of a table so wide.

    The size falls to least_pt before anything but flex columns is wrapped. stretch: the table
    takes the whole span.
    """
    flex = [i for i, c in enumerate(columns) if c.flex]
    unbroken = _unbroken(columns, rows, span_mm, size_pt, max(least_pt, LEAST_UNBROKEN_PT))
    size, natural = unbroken or (size_pt, [])
    while True:
        if not unbroken:
            natural = _natural(columns, rows, size, whole=False)
        fixed = sum(w for i, w in enumerate(natural) if i not in flex)
        least_flex = 0.0 if unbroken else 24.0 * len(flex)
        if fixed + least_flex <= span_mm or size <= least_pt:
            break
        size = max(least_pt, size - 0.5)
    spare = span_mm - fixed
    if fixed + least_flex > span_mm:
        share = (span_mm - least_flex) / fixed
        natural = [w if i in flex else w * share for i, w in enumerate(natural)]
        spare = least_flex
    if flex:
        wants = [max(_widest(columns, i, rows, size), natural[i]) for i in flex]
        total = sum(wants)
        least = [
            min(want, max(18.0, min(_longest_word(columns[i], i, rows, size), 60.0)))
            for i, want in zip(flex, wants, strict=True)
        ]
        for i, want, given in zip(flex, wants, _shared(wants, least, spare), strict=True):
            if total <= spare and not stretch:
                natural[i] = want
            elif total <= spare:
                natural[i] = want + (spare - total) / len(flex)
            elif sum(least) <= spare:
                natural[i] = given
            else:
                natural[i] = max(18.0, spare * want / total)
        over = sum(natural) - span_mm
        if over > 0:
            widest = max(flex, key=lambda i: natural[i])
            natural[widest] -= over
    elif stretch and spare > 0:
        grow = [i for i, c in enumerate(columns) if not c.tick]
        for i in grow:
            natural[i] += min(spare / len(grow), 12.0)
    return size, natural


def _unbroken(
    columns: Sequence[Column], rows: Sequence[Row], span_mm: float, size_pt: float, least_pt: float
) -> tuple[float, list[float]] | None:
    """The largest size at which every row takes one line, heads too if they can, with widths.

    The size falls for cells but not for heads alone; None if no size down to least_pt will do.
    """
    size = size_pt
    while size >= least_pt:
        cells = [_widest(columns, i, rows, size) for i in range(len(columns))]
        for whole in (True, False):
            natural = _natural(columns, rows, size, whole=whole)
            if sum(map(max, natural, cells)) <= span_mm:
                return size, natural
        size -= 0.5
    return None


def _shared(wants: Sequence[float], least: Sequence[float], spare: float) -> list[float]:
    """Widths for columns that want more than is there: the widest gives way first.

    None falls below what keeps its words whole; the sum is spare (own derivation: one level cuts
    off all that stands above it, found by halving).
    """
    low, high = 0.0, max(wants, default=0.0)
    for _ in range(50):
        level = (low + high) / 2
        given = [min(w, max(k, level)) for w, k in zip(wants, least, strict=True)]
        low, high = (level, high) if sum(given) <= spare else (low, level)
    return [min(w, max(k, low)) for w, k in zip(wants, least, strict=True)]


def _natural(
    columns: Sequence[Column], rows: Sequence[Row], size: float, *, whole: bool
) -> list[float]:
    """Widths in which no cell is wrapped but those of flex columns, nor, if whole, a head."""
    out = []
    for index, column in enumerate(columns):
        title = printable(column.title)
        words = [title] if whole else title.split(" ")
        wide = max((text_width_mm(w, size, True) for w in words), default=0.0) + 2 * PAD_MM
        if column.tick:
            wide = max(wide, 5.0 + 2 * PAD_MM)
        elif not column.flex:
            wide = max(wide, _widest(columns, index, rows, size))
        out.append(wide)
    return out


def _widest(columns: Sequence[Column], index: int, rows: Sequence[Row], size: float) -> float:
    """Width of a column in which no cell is wrapped."""
    cells = (printable(r.cells[index]) for r in rows if r.cells)
    wide = max((text_width_mm(c, size, columns[index].bold) for c in cells), default=0.0)
    return wide + 2 * PAD_MM


def _longest_word(column: Column, index: int, rows: Sequence[Row], size: float) -> float:
    """Width of a column in which no word of its cells is broken."""
    cells = [printable(r.cells[index]) for r in rows if r.cells]
    widths = [text_width_mm(w, size, column.bold) for c in cells for w in c.split(" ")]
    return max(widths, default=0.0) + 2 * PAD_MM
