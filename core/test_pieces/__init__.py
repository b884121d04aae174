"""The test piece: a small cut of its own, done first, that shows which fit is right.

:func:`make_test_piece` draws it, :func:`write_test_piece` writes its drawing and says how to
use it, :func:`keep_result` keeps what came out for the board and the bit.
"""

from core.test_pieces.fits import bit_from_slot, fit_from_test, fit_series
from core.test_pieces.parts import Slot, TestPart
from core.test_pieces.piece import (
    TestPiece,
    make_test_piece,
    materials_used,
    piece_margin_mm,
    piece_words,
    scrap_size_mm,
    slot_to_measure,
    use_words,
    write_test_piece,
)
from core.test_pieces.result import TestResult, fit_called, fit_label, keep_result
from core.test_pieces.told import fit_findings, tested

__all__ = [
    "Slot",
    "TestPart",
    "TestPiece",
    "TestResult",
    "bit_from_slot",
    "fit_called",
    "fit_findings",
    "fit_from_test",
    "fit_label",
    "fit_series",
    "keep_result",
    "make_test_piece",
    "materials_used",
    "piece_margin_mm",
    "piece_words",
    "scrap_size_mm",
    "slot_to_measure",
    "tested",
    "use_words",
    "write_test_piece",
]
