"""The very pages of a PDF on screen: rendered off the UI thread, shown one below the other."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from PySide6.QtCore import QPoint, QRect, QSize, Qt, Signal
from PySide6.QtGui import QImage, QPainter, QPaintEvent, QPen, QResizeEvent, QWheelEvent
from PySide6.QtWidgets import QAbstractScrollArea, QFrame

from app import theme
from app.i18n import tr
from app.jobs import Jobs, Progress, Stop

_GAP = 16
_POINTS_PER_INCH = 72.0
_KEPT_PAGES = 6  # a page is some 5 MB


@dataclass(frozen=True)
class PageSizes:
    """A PDF's bytes with the size of each page in points and what its contents call it."""

    data: bytes
    sizes: tuple[tuple[float, float], ...]
    titles: tuple[str, ...] = ()


def measure(data: bytes) -> PageSizes:
    """Open a PDF and note its page sizes."""
    from core.reports.pdfium import opened  # slow to load

    with opened(data) as document:
        sizes = tuple(document.get_page_size(i) for i in range(len(document)))
        titles = [""] * len(sizes)
        for mark in document.get_toc(max_depth=2):
            target = mark.get_dest()
            index = target.get_index() if target is not None else None
            if index is not None and 0 <= index < len(titles) and not titles[index]:
                titles[index] = str(mark.get_title())
    return PageSizes(data, sizes, tuple(titles))


def render(
    data: bytes,
    wanted: list[int],
    dpi: float,
    take: Callable[[int, QImage], None],
    stop: Stop,
) -> None:
    """Render pages of a PDF, one after the other, handing each to take."""
    from core.reports.pdfium import opened  # slow to load

    for index in wanted:
        if stop():
            return
        with opened(data) as document:
            bitmap = document[index].render(scale=dpi / _POINTS_PER_INCH, rev_byteorder=True)
            image = _image(bitmap)
            bitmap.close()
        take(index, image)


def _image(bitmap: Any) -> QImage:
    """A copy of a pdfium bitmap that Qt owns."""
    kind = {
        3: QImage.Format.Format_RGB888,
        4: QImage.Format.Format_RGBX8888,
        1: QImage.Format.Format_Grayscale8,
    }[bitmap.n_channels]
    image = QImage(bytes(bitmap.buffer), bitmap.width, bitmap.height, bitmap.stride, kind)
    return image.copy()


class PageView(QAbstractScrollArea):
    """Pages below each other at reading size; Ctrl and wheel zooms. at_page(index) on scroll."""

    at_page = Signal(int)

    def __init__(self, jobs: Jobs) -> None:
        super().__init__()
        self._jobs = jobs
        self._pages = PageSizes(b"", ())
        self._images: dict[int, QImage] = {}
        self._asked: set[int] = set()
        self._zoom = 1.0
        self._current = 0
        self.setFrameShape(QFrame.Shape.NoFrame)
        self.setAccessibleName(tr("Pages of the cut list"))
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.verticalScrollBar().valueChanged.connect(self._scrolled)
        self.verticalScrollBar().setSingleStep(40)

    # --- what is shown --------------------------------------------------------------------
    def show_pages(self, pages: PageSizes) -> None:
        """Show these pages, staying at the place looked at."""
        same_count = len(pages.sizes) == len(self._pages.sizes)
        place = self.verticalScrollBar().value() if same_count else 0
        self._pages = pages
        if not same_count:
            self._images.clear()
        self._asked.clear()
        self._layout()
        self.verticalScrollBar().setValue(place)
        self._ask(stale=True)
        self.viewport().update()

    @property
    def count(self) -> int:
        """How many pages there are."""
        return len(self._pages.sizes)

    @property
    def rendered(self) -> int:
        """How many pages are there as pictures."""
        return len(self._images)

    def go_to(self, index: int) -> None:
        """Scroll to a page."""
        rects = self._rects()
        if 0 <= index < len(rects):
            self.verticalScrollBar().setValue(rects[index].top() - _GAP)

    def zoom(self, factor: float) -> None:
        """Show the pages larger or smaller."""
        self._zoom = min(4.0, max(0.3, self._zoom * factor))
        self._images.clear()
        self._asked.clear()
        self._layout()
        self._ask()
        self.viewport().update()

    def fit_width(self) -> None:
        """A page as wide as the view, but not larger than life and a half."""
        self._zoom = 1.0
        self.zoom(1.0)

    # --- geometry -------------------------------------------------------------------------
    def _scale(self) -> float:
        """Logical pixels per point."""
        widest = max((w for w, _ in self._pages.sizes), default=595.0)
        room = max(200, self.viewport().width() - 2 * _GAP)
        natural = 1.25 * self.logicalDpiX() / _POINTS_PER_INCH
        return self._zoom * min(room / widest, natural)

    def _rects(self) -> list[QRect]:
        """Where each page lies in the scrolled whole."""
        scale = self._scale()
        rects = []
        y = _GAP
        for w, h in self._pages.sizes:
            width, height = round(w * scale), round(h * scale)
            x = max(_GAP, (self.viewport().width() - width) // 2)
            rects.append(QRect(x, y, width, height))
            y += height + _GAP
        return rects

    def _layout(self) -> None:
        rects = self._rects()
        bottom = rects[-1].bottom() + _GAP if rects else 0
        right = max((r.width() for r in rects), default=0) + 2 * _GAP
        vertical, horizontal = self.verticalScrollBar(), self.horizontalScrollBar()
        vertical.setRange(0, max(0, bottom - self.viewport().height()))
        vertical.setPageStep(self.viewport().height())
        horizontal.setRange(0, max(0, right - self.viewport().width()))
        horizontal.setPageStep(self.viewport().width())

    def _offset(self) -> QPoint:
        return QPoint(self.horizontalScrollBar().value(), self.verticalScrollBar().value())

    def _visible(self) -> list[int]:
        view = QRect(self._offset(), self.viewport().size()).adjusted(0, -400, 0, 400)
        return [i for i, rect in enumerate(self._rects()) if rect.intersects(view)]

    # --- rendering ------------------------------------------------------------------------
    def _ask(self, *, stale: bool = False) -> None:
        """Have the visible pages rendered that are not yet."""
        wanted = [
            i for i in self._visible() if i not in self._asked and (stale or i not in self._images)
        ]
        if not wanted:
            return
        self._asked.update(wanted)
        data = self._pages.data
        dpi = self._scale() * _POINTS_PER_INCH * self.devicePixelRatioF()
        key = (data, dpi)

        def work(progress: Progress, stop: Stop) -> None:
            render(data, wanted, dpi, lambda i, image: progress(0.5, "", (i, image, key)), stop)

        self._jobs.start(tr("Drawing pages"), work, partial=self._take, quiet=True)

    def _take(self, _fraction: float, _text: str, partial: object) -> None:
        if not isinstance(partial, tuple):
            return
        index, image, (data, dpi) = partial
        if data is not self._pages.data:
            return
        if abs(dpi - self._scale() * _POINTS_PER_INCH * self.devicePixelRatioF()) > 1e-6:
            self._asked.discard(index)
            return
        image.setDevicePixelRatio(self.devicePixelRatioF())
        self._images[index] = image
        visible = set(self._visible())
        for old in [i for i in self._images if i not in visible]:
            if len(self._images) <= _KEPT_PAGES:
                break
            del self._images[old]
            self._asked.discard(old)
        self.viewport().update()

    # --- events ---------------------------------------------------------------------------
    def paintEvent(self, _event: QPaintEvent) -> None:
        """Paper with the page on it; a page still to come is blank paper."""
        painter = QPainter(self.viewport())
        painter.fillRect(self.viewport().rect(), theme.color("desk"))
        painter.translate(-self._offset())
        for i, rect in enumerate(self._rects()):
            painter.fillRect(rect, Qt.GlobalColor.white)
            image = self._images.get(i)
            if image is not None:
                painter.setRenderHint(QPainter.RenderHint.SmoothPixmapTransform)
                painter.drawImage(rect, image)
            painter.setPen(QPen(theme.color("hairline"), 1))
            painter.setBrush(Qt.BrushStyle.NoBrush)
            painter.drawRect(rect)

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Another width, another scale."""
        super().resizeEvent(event)
        self._layout()
        self._asked.clear()
        self._ask(stale=True)

    def wheelEvent(self, event: QWheelEvent) -> None:
        """Ctrl and wheel zooms."""
        if event.modifiers() & Qt.KeyboardModifier.ControlModifier:
            self.zoom(1.15 ** (event.angleDelta().y() / 120))
            event.accept()
            return
        super().wheelEvent(event)

    def scrollContentsBy(self, _dx: int, _dy: int) -> None:
        """Scrolled: paint anew."""
        self.viewport().update()

    def _scrolled(self, _value: int) -> None:
        self._ask()
        middle = self._offset().y() + self.viewport().height() // 3
        for i, rect in enumerate(self._rects()):
            if rect.bottom() >= middle:
                if i != self._current:
                    self._current = i
                    self.at_page.emit(i)
                break

    def sizeHint(self) -> QSize:
        """A page wide."""
        return QSize(700, 800)
