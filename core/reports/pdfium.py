"""PDFium, which must never be entered by two threads at once, not even to close something.

Whoever opens a PDF with it, in the window or for a picture, does so here.
"""

from __future__ import annotations

import threading
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from pypdfium2 import PdfDocument

_LOCK = threading.Lock()


@contextmanager
def opened(pdf: bytes | Path) -> Iterator[PdfDocument]:
    """The PDF, open and this thread's alone for as long as the block lasts; pages and texts
    taken from it are closed with it, so take values out and no objects. Not to be nested."""
    import pypdfium2  # heavy, and only needed for pictures

    with _LOCK:
        document = pypdfium2.PdfDocument(pdf)
        try:
            yield document
        finally:
            document.close()
