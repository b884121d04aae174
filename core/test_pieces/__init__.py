"""The test piece: a small cut of its own, done first, that shows which fit is right.

:func:`make_test_piece` draws it, :func:`write_test_piece` writes its drawing and says how to
use it, :func:`fit_from_test` keeps the result for the board and the bit.
"""

from core.test_pieces.fits import bit_from_slot, fit_from_test, fit_series
from core.test_pieces.parts import Slot, TestPart
from core.test_pieces.piece import TestPiece, make_test_piece, write_test_piece

__all__ = [
    "Slot",
    "TestPart",
    "TestPiece",
    "bit_from_slot",
    "fit_from_test",
    "fit_series",
    "make_test_piece",
    "write_test_piece",
]
