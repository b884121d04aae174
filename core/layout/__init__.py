"""Saw patterns and nesting searched together, and a layout's sheets worked out."""

from core.layout.arrangement import WAYS, Arrangement, arrangements_for
from core.layout.assemble import Assembled, assemble_sheets
from core.layout.choices import fits_a_blank
from core.layout.compare import compare_ways
from core.layout.matched import unmatched
from core.layout.search import Copies, lay_out_pieces

__all__ = [
    "WAYS",
    "Arrangement",
    "Assembled",
    "Copies",
    "arrangements_for",
    "assemble_sheets",
    "compare_ways",
    "fits_a_blank",
    "lay_out_pieces",
    "unmatched",
]
