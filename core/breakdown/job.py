"""A sawing job in whole numbers, as the searches take it, and layouts as they hand them back."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from core.breakdown.model import SawPart, SawSheet
from core.tolerances import SAW_SAME_MM, SAW_UNITS_PER_MM

SAME = round(SAW_SAME_MM * SAW_UNITS_PER_MM)  # sizes that differ by this many units are the same


def units(length_mm: float) -> int:
    """A length in mm as a whole number of units."""
    return round(length_mm * SAW_UNITS_PER_MM)


@dataclass(frozen=True, slots=True)
class Place:
    """A part's place: index of the part, lower left corner on the sheet, mm."""

    part: int
    x_mm: float
    y_mm: float
    turned: bool


@dataclass(frozen=True, slots=True)
class Layout:
    """Sheets used (index of the sheet, places on it), and what could be shown about them."""

    sheets: tuple[tuple[int, tuple[Place, ...]], ...]
    bound: float
    proven: bool
    steps: int


@dataclass(frozen=True, slots=True)
class Job:
    """Parts and sheets with the kerf added to every size: cutting without a kerf.

    sizes: one row a part: width, height (units, kerf included), 1 if it may turn, and the least
    rest it may leave beside it (half a kerf; less for a part that fits no sheet otherwise).
    rooms: one row a sheet: usable width and height, units, kerf included.
    values: of one copy (part area if none given); valued: some part carries a value.
    """

    parts: tuple[SawPart, ...]
    sheets: tuple[SawSheet, ...]
    kerf_mm: float
    trim_mm: float
    kerf: int
    sizes: np.ndarray
    rooms: np.ndarray
    costs: tuple[float, ...]
    values: tuple[float, ...]
    valued: bool

    def fits(self, part: int, sheet: int) -> bool:
        """True if a copy can be sawn from an empty sheet."""
        return fits_room(self.sizes[part], self.rooms[sheet], int(self.sizes[part, 3]))

    def fits_some_sheet(self, part: int) -> bool:
        """True if a copy can be sawn from some sheet of which there is at least one."""
        return any(
            self.fits(part, index)
            for index, sheet in enumerate(self.sheets)
            if sheet.quantity is None or sheet.quantity > 0
        )

    def wanted(self) -> bool:
        """True if there is anything to place that fits a sheet."""
        return any(
            part.quantity != 0 and self.fits_some_sheet(index)
            for index, part in enumerate(self.parts)
        )


def fits_room(size: np.ndarray, room: np.ndarray, sliver: int) -> bool:
    """True if a part fits an empty room in an allowed turn, leaving nothing or more than sliver."""
    for turn in range(1 + int(size[2])):
        gaps = (int(room[0] - size[turn]), int(room[1] - size[1 - turn]))
        if all(abs(gap) <= SAME or gap > sliver for gap in gaps):
            return True
    return False


def make_job(
    parts: Sequence[SawPart], sheets: Sequence[SawSheet], *, kerf_mm: float, edge_trim_mm: float
) -> Job:
    """Sizes to whole numbers. A trim thinner than half a kerf cannot be sawn: a kerf is taken."""
    trim = max(edge_trim_mm, kerf_mm) if 0 < edge_trim_mm <= kerf_mm / 2 else edge_trim_mm
    kerf = units(kerf_mm)
    sizes = np.zeros((len(parts), 4), dtype=np.int64)
    rooms = np.zeros((len(sheets), 2), dtype=np.int64)
    for index, sheet in enumerate(sheets):
        rooms[index] = (
            units(sheet.width_mm - 2 * trim) + kerf,
            units(sheet.height_mm - 2 * trim) + kerf,
        )
    sliver = max(SAME, kerf // 2)
    present = [i for i, sheet in enumerate(sheets) if sheet.quantity is None or sheet.quantity > 0]
    for index, part in enumerate(parts):
        width, height = units(part.width_mm) + kerf, units(part.height_mm) + kerf
        turn = int(part.may_turn and width != height)
        sizes[index] = (width, height, turn, sliver)
        if not any(fits_room(sizes[index], rooms[i], sliver) for i in present):
            sizes[index, 3] = SAME
    return Job(
        parts=tuple(parts),
        sheets=tuple(sheets),
        kerf_mm=float(kerf_mm),
        trim_mm=float(trim),
        kerf=kerf,
        sizes=sizes,
        rooms=rooms,
        costs=tuple(float(s.width_mm * s.height_mm if s.cost is None else s.cost) for s in sheets),
        values=tuple(
            float(p.width_mm * p.height_mm if p.value is None else p.value) for p in parts
        ),
        valued=any(part.value is not None for part in parts),
    )
