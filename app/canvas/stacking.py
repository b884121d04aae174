"""What lies over what on a drawing, from the floor up."""

from __future__ import annotations

from typing import Final

Z_BOARD: Final = 0
Z_SPOT: Final = 5
Z_PIECE: Final = 10
Z_MARKS: Final = 30
Z_LABEL: Final = 40
Z_LIFTED: Final = 50
Z_OVERLAY: Final = 60
