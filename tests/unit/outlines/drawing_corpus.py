"""Our own test drawings, all of them.

New ones go to the end: kept seeds of damaged drawings name the drawing they damage.
"""

from __future__ import annotations

from corpus_base import RECT, Case, as_bytes, doc, lines, svg
from corpus_dxf import DXF_CASES, gap
from corpus_more import MORE_CASES
from corpus_svg import SVG_CASES

__all__ = ["CASES", "RECT", "Case", "as_bytes", "doc", "gap", "lines", "svg"]

CASES = (*DXF_CASES, *SVG_CASES, *MORE_CASES)
