"""The pages on a printer, at their true size."""

from __future__ import annotations

from typing import Any

from PySide6.QtCore import QPointF, QRectF, QSizeF
from PySide6.QtGui import QImage, QPageLayout, QPageSize, QPainter

from app.i18n import tr
from app.jobs import Progress, Stop
from app.stages.cut_list_pages import PageSizes, measure, render
from core.errors import SeamwrightError

_PRINT_DPI = 300.0


def prepare(printer: Any, pages: PageSizes, name: str) -> None:
    """Set a printer up for these pages: name, paper upright, no margins of its own."""
    printer.setDocName(name)
    printer.setCreator("Seamwright")
    width, height = pages.sizes[0]
    size = QSizeF(min(width, height), max(width, height))
    fuzzy = QPageSize.SizeMatchPolicy.FuzzyMatch
    printer.setPageSize(QPageSize(size, QPageSize.Unit.Point, "", fuzzy))
    printer.setPageOrientation(_orientation(width, height))
    printer.setFullPage(True)


def wanted_pages(printer: Any, count: int, current: int) -> list[int]:
    """Indexes of the pages asked for in the dialog: all, a range or several, the one looked at."""
    ranges = printer.pageRanges()
    kind = type(printer).PrintRange
    if printer.printRange() == kind.CurrentPage:
        return [min(max(current, 0), count - 1)]
    if not ranges.isEmpty():
        found = [
            page - 1
            for part in ranges.toRangeList()
            for page in range(part.from_, part.to + 1)
            if 1 <= page <= count
        ]
        return list(dict.fromkeys(found))
    first, last = printer.fromPage() or 1, printer.toPage() or count
    return list(range(first - 1, min(last, count)))


def print_pdf(data: bytes, printer: Any, progress: Progress, stop: Stop, current: int = 0) -> int:
    """Paint a PDF's pages at their true size onto a printer; on any thread. How many went.

    current: index of the page looked at, for a printer that is asked for just that.
    """
    pages = measure(data)
    wanted = wanted_pages(printer, len(pages.sizes), current)
    if not wanted:
        raise SeamwrightError(
            tr("None of these pages exists"),
            remedy=tr("The document has pages 1 to {n}.").format(n=len(pages.sizes)),
        )
    copies = 1 if printer.supportsMultipleCopies() else max(1, printer.copyCount())
    dpi = min(_PRINT_DPI, float(printer.resolution()))
    printer.setPageOrientation(_orientation(*pages.sizes[wanted[0]]))
    painter = QPainter()
    if not painter.begin(printer):
        raise SeamwrightError(
            tr("The printer did not take the pages"),
            printer.printerName() or printer.outputFileName(),
            tr("Check that it is on, or save a PDF and print that."),
        )
    done = 0

    def paint(index: int, image: QImage) -> None:
        nonlocal done
        if done:
            printer.newPage()
        width, height = pages.sizes[index]
        scale = printer.resolution() / 72.0
        target = QSizeF(width * scale, height * scale)
        painter.drawImage(QRectF(QPointF(0, 0), target), image)
        done += 1
        share = done / (copies * len(wanted))
        progress(share, tr("Printing page {n}").format(n=index + 1))

    try:
        render(data, wanted * copies, dpi, paint, stop)
    finally:
        painter.end()
    return done


def _orientation(width: float, height: float) -> QPageLayout.Orientation:
    wide = width > height
    return QPageLayout.Orientation.Landscape if wide else QPageLayout.Orientation.Portrait
