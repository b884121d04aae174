"""Reading printed pages back: texts with their boxes and fonts, paths with their corners."""

from __future__ import annotations

import ctypes
from dataclasses import dataclass

import pypdfium2
import pypdfium2.raw as pdfium

PT_MM = 25.4 / 72.0

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
    """A path as printed. points: ends of its segments, mm."""

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
    points = []
    for i in range(pdfium.FPDFPath_CountSegments(thing.raw)):
        segment = pdfium.FPDFPath_GetPathSegment(thing.raw, i)
        x, y = ctypes.c_float(), ctypes.c_float()
        pdfium.FPDFPathSegment_GetPoint(segment, ctypes.byref(x), ctypes.byref(y))
        px = (a * x.value + c * y.value + e) * PT_MM
        py = (b * x.value + d * y.value + f) * PT_MM
        points.append((px, py))
    mode, stroke = ctypes.c_int(), ctypes.c_int()
    pdfium.FPDFPath_GetDrawMode(thing.raw, ctypes.byref(mode), ctypes.byref(stroke))
    return FoundPath(tuple(points), bool(mode.value))


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
