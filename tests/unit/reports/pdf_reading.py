"""Reading printed pages back: texts with their boxes and fonts, paths with their corners."""

from __future__ import annotations

import ctypes
import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

import pypdfium2
import pypdfium2.raw as pdfium

from core.plan import Plan
from core.reports.cutlist import SheetLines
from core.reports.pages import cut_list_pdf

PT_MM = 25.4 / 72.0
TABLE = "Pieces in the order of cutting"

Box = tuple[float, float, float, float]


@dataclass(frozen=True)
class FoundText:
    """A run of text as printed. box: mm from the lower left of the page."""

    words: str
    box: Box
    font: str
    embedded: bool

    @property
    def bold(self) -> bool:
        return self.font.endswith("Bold")


@dataclass(frozen=True)
class FoundPath:
    """A path as printed. points: along it, mm, curves as short chords."""

    points: tuple[tuple[float, float], ...]
    filled: bool

    @property
    def box(self) -> Box:
        xs, ys = [p[0] for p in self.points], [p[1] for p in self.points]
        return min(xs), min(ys), max(xs), max(ys)


@dataclass(frozen=True)
class FoundPage:
    width_mm: float
    height_mm: float
    texts: tuple[FoundText, ...]
    paths: tuple[FoundPath, ...]

    @property
    def title(self) -> str:
        return self.texts[0].words.strip() if self.texts else ""

    @property
    def words(self) -> str:
        return "\n".join(t.words for t in self.texts)


def read_pages(data: bytes, *, paths: bool = False) -> list[FoundPage]:
    document = pypdfium2.PdfDocument(data)
    try:
        return [_page(document[i], paths) for i in range(len(document))]
    finally:
        document.close()


_READ: dict[tuple[int, bool, str], tuple[Plan, list[FoundPage]]] = {}


def pages_of(plan: Plan, *, paths: bool = False, paper: str = "A4") -> list[FoundPage]:
    """The cut list of a plan, printed and read back once for all tests that ask."""
    key = (id(plan), paths, paper)
    if key not in _READ:  # the plan is kept, so that its id stays its own
        data = cut_list_pdf(plan, paper=paper, stamp="2026-11-25 10:00")
        _READ[key] = (plan, read_pages(data, paths=paths))
    return _READ[key][1]


def _page(page: pypdfium2.PdfPage, with_paths: bool) -> FoundPage:
    chars = page.get_textpage()
    texts, paths = [], []
    for thing in page.get_objects(max_depth=1):
        if thing.type == pdfium.FPDF_PAGEOBJ_TEXT:
            left, low, right, top = (v * PT_MM for v in thing.get_bounds())
            font = pdfium.FPDFTextObj_GetFont(thing.raw)
            name = ctypes.create_string_buffer(200)
            pdfium.FPDFFont_GetBaseFontName(font, name, 200)
            texts.append(
                FoundText(
                    _words(thing, chars),
                    (left, low, right, top),
                    name.value.decode().split("+")[-1],
                    bool(pdfium.FPDFFont_GetIsEmbedded(font)),
                )
            )
        elif with_paths and thing.type == pdfium.FPDF_PAGEOBJ_PATH:
            paths.append(_path(thing))
    width, height = page.get_size()
    return FoundPage(width * PT_MM, height * PT_MM, tuple(texts), tuple(paths))


def _words(thing: pypdfium2.PdfObject, chars: pypdfium2.PdfTextPage) -> str:
    length = pdfium.FPDFTextObj_GetText(thing.raw, chars.raw, None, 0)
    buffer = ctypes.create_string_buffer(length)
    target = ctypes.cast(buffer, ctypes.POINTER(pdfium.FPDF_WCHAR))
    pdfium.FPDFTextObj_GetText(thing.raw, chars.raw, target, length)
    return buffer.raw.decode("utf-16le").rstrip("\0").strip()


def _path(thing: pypdfium2.PdfObject) -> FoundPath:
    a, b, c, d, e, f = thing.get_matrix().get()
    points: list[tuple[float, float]] = []
    curve: list[tuple[float, float]] = []  # the two handles of a curve, then its end
    for i in range(pdfium.FPDFPath_CountSegments(thing.raw)):
        segment = pdfium.FPDFPath_GetPathSegment(thing.raw, i)
        bent = pdfium.FPDFPathSegment_GetType(segment) == pdfium.FPDF_SEGMENT_BEZIERTO
        x, y = ctypes.c_float(), ctypes.c_float()
        pdfium.FPDFPathSegment_GetPoint(segment, ctypes.byref(x), ctypes.byref(y))
        px = (a * x.value + c * y.value + e) * PT_MM
        py = (b * x.value + d * y.value + f) * PT_MM
        if not bent:
            points.append((px, py))
            continue
        curve.append((px, py))
        if len(curve) == 3:
            points += _along(points[-1], *curve)
            curve = []
    mode, stroke = ctypes.c_int(), ctypes.c_int()
    pdfium.FPDFPath_GetDrawMode(thing.raw, ctypes.byref(mode), ctypes.byref(stroke))
    return FoundPath(tuple(points), bool(mode.value))


def _along(
    start: tuple[float, float],
    one: tuple[float, float],
    two: tuple[float, float],
    end: tuple[float, float],
    count: int = 16,
) -> list[tuple[float, float]]:
    """Points of a cubic Bézier curve after its start."""
    out = []
    for step in range(1, count + 1):
        t = step / count
        w = ((1 - t) ** 3, 3 * t * (1 - t) ** 2, 3 * t**2 * (1 - t), t**3)
        x, y = (
            sum(k * p[axis] for k, p in zip(w, (start, one, two, end), strict=True))
            for axis in (0, 1)
        )
        out.append((x, y))
    return out


def overlapping(page: FoundPage, slack_mm: float = 0.15) -> list[tuple[str, str]]:
    """Pairs of texts whose printed boxes share more than a hair of paper."""
    found = []
    runs = sorted((t for t in page.texts if t.words), key=lambda t: t.box[0])
    for i, first in enumerate(runs):
        for second in runs[i + 1 :]:
            if second.box[0] > first.box[2] - slack_mm:
                break
            wide = min(first.box[2], second.box[2]) - second.box[0]
            high = min(first.box[3], second.box[3]) - max(first.box[1], second.box[1])
            if wide > slack_mm and high > slack_mm:
                found.append((first.words, second.words))
    return found


def outside(page: FoundPage, margin_mm: float = 4.0) -> list[str]:
    """Texts that reach beyond the printable part of the page."""
    return [
        t.words
        for t in page.texts
        if t.words
        and (
            t.box[0] < margin_mm
            or t.box[1] < margin_mm
            or t.box[2] > page.width_mm - margin_mm
            or t.box[3] > page.height_mm - margin_mm
        )
    ]


def sheet_pages(pages: Sequence[FoundPage], number: int) -> list[FoundPage]:
    """The pages of one sheet, its diagram on the first."""
    return [p for p in pages if p.title.startswith(f"Sheet {number} of ")]


def split_at_table(pages: Sequence[FoundPage]) -> tuple[list[FoundText], list[FoundText]]:
    """Texts of the diagram and texts of the tables of one sheet."""
    first, *rest = pages
    head = [t for t in first.texts if t.words == TABLE]
    scale = next(t for t in first.texts if t.words.startswith("Scale 1"))
    diagram = [t for t in first.texts if t.box[1] > scale.box[3]]
    tables = [t for t in first.texts if head and t.box[3] < head[0].box[1]]
    for page in rest:
        tables += page.texts
    return diagram, tables


def numbers_found(
    pages: Sequence[FoundPage], sheets: Sequence[SheetLines]
) -> tuple[Counter[int], Counter[int]]:
    """How often each piece's number is in the diagrams, and in the tables of the sheets."""
    in_diagrams: Counter[int] = Counter()
    in_tables: Counter[int] = Counter()
    for lines in sheets:
        diagram, tables = split_at_table(sheet_pages(pages, lines.sheet.number))
        cuts = Counter(cut.order for cut in lines.sheet.saw_cuts)
        bold = [t.words for t in diagram if t.bold]
        in_diagrams += (
            Counter(
                int(m.group(1)) for words in bold if (m := re.match(r"(\d+)(?: ▼)?(?:$| )", words))
            )
            - cuts
        )
        # The number stands alone, bold, in the third column; saw cuts have their own order.
        column = [t for t in tables if t.bold and re.fullmatch(r"\d+", t.words)]
        in_tables += Counter(int(t.words) for t in column) - cuts
    return in_diagrams, in_tables


def misplaced(page: FoundPage, lines: SheetLines, slack_mm: float = 0.2) -> list[str]:
    """What of a sheet's diagram is off its place on the page by more than the slack.

    The scale is the one the page states; the page must be read with its paths.
    """
    words = next(t.words for t in page.texts if t.words.startswith("Scale 1"))
    n = float(re.match(r"Scale 1 : ([\d.]+)\.", words).group(1))  # type: ignore[union-attr]
    stock = lines.sheet.stock
    x1, y1, x2, y2 = stock.polygon.bounds
    size = ((x2 - x1) / n, (y2 - y1) / n)
    sheets = [p for p in page.paths if near_size(p.box, size, slack_mm)]
    if not sheets:
        return ["the sheet"]
    x0, y0 = sheets[0].box[:2]
    filled = [p.box for p in page.paths if p.filled]
    wrong = []
    for line in lines.copies:
        a1, b1, a2, b2 = line.placed.bounds
        want = (x0 + a1 / n, y0 + b1 / n, x0 + a2 / n, y0 + b2 / n)
        if not any(
            all(abs(a - b) < slack_mm for a, b in zip(box, want, strict=True)) for box in filled
        ):
            wrong.append(f"number {line.number}")
    return wrong


def near_size(box: Sequence[float], size: tuple[float, float], slack_mm: float = 0.2) -> bool:
    """True if a box has that width and height."""
    return abs(box[2] - box[0] - size[0]) < slack_mm and abs(box[3] - box[1] - size[1]) < slack_mm
