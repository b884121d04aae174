"""Saw patterns and nesting searched together, and a layout's sheets worked out."""

from core.layout.arrangement import Arrangement, arrangements_for
from core.layout.assemble import Assembled, assemble_sheets
from core.layout.search import Copies, lay_out_pieces

__all__ = [
    "Arrangement",
    "Assembled",
    "Copies",
    "arrangements_for",
    "assemble_sheets",
    "lay_out_pieces",
]
