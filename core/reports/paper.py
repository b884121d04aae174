"""Sizes of paper, and pages built from the top down: headings, sentences, tables, pictures."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import contextmanager
from copy import copy
from dataclasses import dataclass, field, replace

from core.errors import InvalidRequestError
from core.reports.columns import PAD_MM, column_widths
from core.reports.columns import Column as Column
from core.reports.columns import Row as Row
from core.reports.fonts import CAP, PT_MM, printable, shorten, text_width_mm, wrap
from core.reports.picture import (
    HAIRLINE,
    INK,
    MUTED,
    SHADE,
    THIN_MM,
    Line,
    Mark,
    Page,
    Stroke,
    Text,
    rectangle,
    text,
)


@dataclass(frozen=True, slots=True)
class Paper:
    """A size of paper, portrait, mm."""

    name: str
    width_mm: float
    height_mm: float


# ISO 216 for A sizes, ASME Y14.1 for A (8.5 × 11 in) and B (11 × 17 in), both as quoted in
# secondary literature.
PAPERS = {
    paper.name: paper
    for paper in (
        Paper("A4", 210.0, 297.0),
        Paper("A3", 297.0, 420.0),
        Paper("Letter", 215.9, 279.4),
        Paper("Tabloid", 279.4, 431.8),
    )
}

MARGIN_MM = 11.0
_HEAD_MM = 11.0
_FOOT_MM = 6.0
_LINE = 1.32  # line spacing in parts of the size
_ROW_MM = 1.7  # beyond its lines, a row of a table is so much higher
_TIGHT_PT, _TIGHT_ROW_MM = 8.5, 1.0  # tables drawn together to save a page; still 3 mm letters
_ASIDE_PT = 7.5
_HEADING_MM = 4.0 + 11.0 * PT_MM + 2.2


def paper_named(name: str) -> Paper:
    """The paper of that name, any case. Raises InvalidRequestError for one not known."""
    for paper in PAPERS.values():
        if paper.name.lower() == name.strip().lower():
            return paper
    raise InvalidRequestError(
        f"There is no paper called “{name}” here", remedy=f"Use {', '.join(PAPERS)}."
    )


@dataclass
class _Draft:
    title: str
    kind: str
    note: str
    marks: list[Mark] = field(default_factory=list)
    scale: float | None = None


class Flow:
    """Builds pages from the top down. y falls from `top` to `bottom`; nothing is written lower.

    A page is begun with :meth:`page`; tables go on to further pages by themselves, with their
    head repeated. :meth:`finish` adds heads and feet, which need the number of pages.
    """

    def __init__(self, paper: Paper, *, landscape: bool = True, note: str = "") -> None:
        wide, high = paper.width_mm, paper.height_mm
        self.width_mm, self.height_mm = (high, wide) if landscape else (wide, high)
        self.left = MARGIN_MM
        self.right = self.width_mm - MARGIN_MM
        self.top = self.height_mm - MARGIN_MM - _HEAD_MM
        self.bottom = MARGIN_MM + _FOOT_MM
        self.y = self.top
        self._note = note
        self._drafts: list[_Draft] = []
        self._pending = self._aside = ""
        self._tight = False

    # --- pages -------------------------------------------------------------------------

    def page(self, title: str, kind: str = "", note: str | None = None) -> None:
        """Begin a page."""
        self._drafts.append(_Draft(title, kind, self._note if note is None else note))
        self.y = self.top

    def more(self) -> None:
        """Begin a further page of the same kind."""
        last = self._drafts[-1]
        title = last.title if last.title.endswith("continued") else f"{last.title}, continued"
        self.page(title, last.kind, last.note)

    @property
    def room(self) -> float:
        """Height left on this page, mm."""
        return self.y - self.bottom

    @property
    def full_room(self) -> float:
        """Height of an empty page, mm."""
        return self.top - self.bottom

    @property
    def span(self) -> float:
        """Width between the margins, mm."""
        return self.right - self.left

    @property
    def page_count(self) -> int:
        """Pages begun so far."""
        return len(self._drafts)

    @contextmanager
    def column(self, left_mm: float, right_mm: float | None = None) -> Iterator[None]:
        """Narrows what follows to between left_mm and right_mm; full width again on leaving."""
        left, right = self.left, self.right
        self.left, self.right = left_mm, right if right_mm is None else right_mm
        try:
            yield
        finally:
            self.left, self.right = left, right

    def trial(self) -> Flow:
        """A flow at the same place, to see where writing would end; its pages are not printed."""
        other = copy(self)
        other._drafts = [replace(draft, marks=[]) for draft in self._drafts]
        return other

    def save_pages(self, write: Callable[[Flow], None]) -> None:
        """Let write set its tables; a little closer if that takes fewer pages."""
        loose, tight = self.trial(), self.trial()
        write(loose)
        if loose.page_count > self.page_count:
            tight._tight = True
            write(tight)
        before, self._tight = self._tight, tight.page_count < loose.page_count and tight._tight
        try:
            write(self)
        finally:
            self._tight = before

    def add(self, marks: Iterable[Mark], *, scale: float | None = None) -> None:
        """Put marks on this page where they are; scale is that of its main drawing."""
        self._drafts[-1].marks.extend(marks)
        if scale is not None:
            self._drafts[-1].scale = scale

    def gap(self, height_mm: float) -> None:
        """Leave room, if not at the top."""
        if self.y < self.top:
            self.y -= height_mm

    def need(self, height_mm: float) -> None:
        """Go on to a further page unless that much height is left."""
        if self.room < height_mm and self.y < self.top:
            self.more()

    # --- words -------------------------------------------------------------------------

    def heading(self, words: str, aside: str = "") -> None:
        """A heading; it is set together with what follows, never alone at the foot of a page.

        aside: small print at the right end of its line, where it must have room.
        """
        self._pending, self._aside = words, aside

    def aside_fits(self, words: str, aside: str) -> bool:
        """True if the aside has room beside the heading."""
        wide = text_width_mm(printable(words), 11.0, True) + 6.0
        return wide + text_width_mm(printable(aside), _ASIDE_PT) <= self.span

    def begin(self, height_mm: float) -> None:
        """Find room for what comes next, with the heading that waits for it, and set that."""
        words, self._pending = self._pending, ""
        if not words:
            self.need(height_mm)
            return
        self.need(_HEADING_MM + height_mm)
        self.gap(4.0)
        self.y -= 11.0 * PT_MM
        self.add([text(self.left, self.y, words, 11.0, bold=True)])
        if self._aside:
            small = text(self.right, self.y, self._aside, _ASIDE_PT, anchor="end", colour=MUTED)
            self.add([small])
        self.y -= 2.2

    def paragraph(
        self,
        words: str,
        size_pt: float = 9.5,
        *,
        bold: bool = False,
        colour: str = INK,
        lead: str = "",
        indent_mm: float = 0.0,
        width_mm: float | None = None,
    ) -> None:
        """Sentences, wrapped. lead: a sign set in front of the first line."""
        width = (width_mm or self.span) - indent_mm
        step = size_pt * PT_MM * _LINE
        lines = wrap(words, width, size_pt, bold)
        self.begin(min(len(lines), 3) * step)
        for number, line in enumerate(lines):
            if self.room < step:
                self.more()
            self.y -= step
            if lead and not number:
                self.add([text(self.left, self.y, lead, size_pt, colour=colour)])
            self.add([text(self.left + indent_mm, self.y, line, size_pt, bold=bold, colour=colour)])
        self.y -= 0.8

    # --- tables ------------------------------------------------------------------------

    def table(
        self,
        columns: Sequence[Column],
        rows: Sequence[Row | tuple[str, ...]],
        *,
        size_pt: float = 9.5,
        least_pt: float = 7.0,
        role: str = "",
        stretch: bool = True,
        keep: bool = False,
    ) -> None:
        """A table from here on, on as many pages as it takes.

        The size falls to least_pt before anything but flex columns is wrapped. role marks the
        texts of the first column. keep: rather a new page than a break, if one page holds it
        or little of this one is left.
        """
        all_rows = [r if isinstance(r, Row) else Row(tuple(r)) for r in rows]
        if self._tight:
            size_pt = min(size_pt, _TIGHT_PT)
        size, widths = column_widths(
            columns, all_rows, self.span, size_pt=size_pt, least_pt=least_pt, stretch=stretch
        )
        line_mm = size * PT_MM * _LINE
        head_lines = self._head(columns, widths, size)
        head_mm = max(len(lines) for lines in head_lines) * line_mm + 1.4
        laid = [self._lay(columns, widths, row, size) for row in all_rows]
        heights = [self._row_height(row, cells, line_mm) for row, cells in laid]
        whole = head_mm + sum(heights)
        titled = whole + (_HEADING_MM if self._pending else 0.0)
        if keep and titled > self.room and (titled <= self.full_room or self.room < 50.0):
            self.begin(self.full_room)
        self.begin(head_mm + sum(heights[:2]))
        self._draw_head(columns, widths, head_lines, size, line_mm, head_mm)
        for index, ((row, cells), height) in enumerate(zip(laid, heights, strict=True)):
            together = height + (heights[index + 1] if row.span and index + 1 < len(laid) else 0.0)
            if self.room < together:
                self.more()
                self._draw_head(columns, widths, head_lines, size, line_mm, head_mm)
            self._draw_row(columns, widths, row, cells, size, line_mm, height, role)

    def _head(
        self, columns: Sequence[Column], widths: Sequence[float], size: float
    ) -> list[list[str]]:
        return [
            wrap(c.title, w - 2 * PAD_MM + 0.01, size, True)
            for c, w in zip(columns, widths, strict=True)
        ]

    def _lay(
        self, columns: Sequence[Column], widths: Sequence[float], row: Row, size: float
    ) -> tuple[Row, list[list[str]]]:
        if row.span:
            return row, [[shorten(row.span, self.span - 2 * PAD_MM, size, True)]]
        return row, [
            [] if c.tick else wrap(cell, w - 2 * PAD_MM + 0.01, size, c.bold, most_lines=3)
            for c, w, cell in zip(columns, widths, row.cells, strict=True)
        ]

    @property
    def _row_pad(self) -> float:
        return _TIGHT_ROW_MM if self._tight else _ROW_MM

    def _row_height(self, row: Row, cells: list[list[str]], line_mm: float) -> float:
        more = self._row_pad + (0.7 if row.span else 0.0)
        return max([len(c) for c in cells] + [1]) * line_mm + more

    def _draw_head(
        self,
        columns: Sequence[Column],
        widths: Sequence[float],
        lines: list[list[str]],
        size: float,
        line_mm: float,
        head_mm: float,
    ) -> None:
        marks: list[Mark] = [
            rectangle(self.left, self.y - head_mm, sum(widths), head_mm, None, SHADE)
        ]
        x = self.left
        for column, width, words in zip(columns, widths, lines, strict=True):
            marks += self._cell(column, x, width, words, self.y, size, line_mm, True, "")
            x += width
        self.y -= head_mm
        marks.append(Line(((self.left, self.y), (x, self.y)), Stroke(THIN_MM * 2)))
        self.add(marks)

    def _draw_row(
        self,
        columns: Sequence[Column],
        widths: Sequence[float],
        row: Row,
        cells: list[list[str]],
        size: float,
        line_mm: float,
        height: float,
        role: str,
    ) -> None:
        marks: list[Mark] = []
        bottom = self.y - height
        total = sum(widths)
        if row.span:
            base = bottom + 1.6
            marks.append(text(self.left + PAD_MM, base, cells[0][0], size, bold=True))
        else:
            x = self.left
            named = False
            for column, width, words in zip(columns, widths, cells, strict=True):
                if column.tick:
                    side = min(3.8, height - 1.5)
                    box_x = x + (width - side) / 2
                    box_y = bottom + (height - side) / 2
                    marks.append(
                        rectangle(box_x, box_y, side, side, Stroke(0.25), None, role="tick")
                    )
                else:
                    tag = role if not named else ""
                    named = True
                    top = self.y + 0.8 - self._row_pad * 0.47  # a cell's text begins 0.8 lower
                    marks += self._cell(
                        column, x, width, words, top, size, line_mm, column.bold, tag
                    )
                x += width
        self.y = bottom
        line = ((self.left, bottom), (self.left + total, bottom))
        marks.append(Line(line, Stroke(THIN_MM, INK if row.span else HAIRLINE)))
        self.add(marks)

    @staticmethod
    def _cell(
        column: Column,
        x: float,
        width: float,
        words: list[str],
        top: float,
        size: float,
        line_mm: float,
        bold: bool,
        role: str,
    ) -> list[Mark]:
        at = {
            "start": x + PAD_MM,
            "middle": x + width / 2,
            "end": x + width - PAD_MM,
        }[column.align]
        base = top - 0.8 - size * PT_MM * (CAP + (_LINE - CAP) / 2)
        return [
            Text(at, base - i * line_mm, line, size, bold, column.align, role=role)
            for i, line in enumerate(words)
            if line
        ]

    # --- the end -----------------------------------------------------------------------

    def finish(self, foot: str, *, first_number: int = 1, total: int | None = None) -> list[Page]:
        """The pages with heads and feet. total: pages of the whole document, if more follow."""
        count = total or len(self._drafts)
        pages = []
        for index, draft in enumerate(self._drafts):
            right = text(
                self.right, MARGIN_MM, f"Page {first_number + index} of {count}", 8, anchor="end"
            )
            note = text(
                self.right,
                self.height_mm - MARGIN_MM - 5.0,
                draft.note,
                8.5,
                anchor="end",
                colour=MUTED,
            )
            room = self.span - note.width_mm - 6.0
            size = 15.0
            while size > 10.0 and text_width_mm(printable(draft.title), size, True) > room:
                size -= 0.5
            title = shorten(draft.title, room, size, True)
            line_y = self.height_mm - MARGIN_MM - 7.6
            marks = [
                text(self.left, self.height_mm - MARGIN_MM - 5.0, title, size, bold=True),
                note,
                Line(((self.left, line_y), (self.right, line_y)), Stroke(0.35)),
                text(
                    self.left,
                    MARGIN_MM,
                    shorten(foot, self.span - right.width_mm - 8.0, 8),
                    8,
                    colour=MUTED,
                ),
                replace(right, colour=MUTED),
                *draft.marks,
            ]
            pages.append(
                Page(self.width_mm, self.height_mm, tuple(marks), title, draft.kind, draft.scale)
            )
        return pages
