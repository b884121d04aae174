"""Where the sheets lie on the floor: in rows, as large as a view can show them."""

from __future__ import annotations

import math

from core.geometry import Point


def floor_places(
    bounds: list[tuple[float, float, float, float]], room_px: tuple[int, int] = (840, 600)
) -> list[Point]:
    """Where each sheet lies on the floor: rows from the top, as large as a view can show them.

    bounds: of each sheet, mm. room_px: size of the view; between two rows there is room for a
    title, a bar and its text when everything is shown.
    """
    return floor_columns(bounds, room_px)[1]


def floor_columns(
    bounds: list[tuple[float, float, float, float]],
    room_px: tuple[int, int] = (840, 600),
    *,
    before: int = 0,
    line_px: float = 15.0,
) -> tuple[int, list[Point]]:
    """How many sheets a row has, and the places; as :func:`floor_places`.

    before: sheets in a row so far, 0 for none. It stays so, and everybody finds the sheets where
    they were, unless another number shows them much larger. line_px: height of a line of text.
    """
    if not bounds:
        return 0, []
    best, count, chosen = math.inf, 1, [(0.0, 0.0)]
    for columns in range(1, len(bounds) + 1):
        scale = 0.2
        for _ in range(3):  # the gap in mm follows from the scale, which follows from the gap
            gap = (_ROW_BAR_PX + 2 * line_px) / scale
            places, width, height = _in_rows(bounds, columns, gap)
            scale = min(room_px[0] / width, room_px[1] / height)
        worth = scale * _AS_BEFORE if columns == before else scale
        if 1 / worth < best * 0.999:
            best, count, chosen = 1 / worth, columns, places
    return count, chosen


_AS_BEFORE = 1.3  # how much larger sheets must show for their rows to be laid anew
_ROW_BAR_PX = 28.0  # the bar; its text below and the title of the next row are a line each


def _in_rows(
    bounds: list[tuple[float, float, float, float]], columns: int, gap_y: float
) -> tuple[list[Point], float, float]:
    """Places in rows of so many sheets, and the size of all, mm."""
    wide = max(b[2] - b[0] for b in bounds)
    gap_x = 0.06 * wide
    places: list[Point] = []
    top = 0.0
    for start in range(0, len(bounds), columns):
        row = bounds[start : start + columns]
        high = max(b[3] - b[1] for b in row)
        for column, (x1, _, _, y2) in enumerate(row):
            places.append((column * (wide + gap_x) - x1, top - y2))
        top -= high + gap_y
    across = min(columns, len(bounds))
    return places, across * (wide + gap_x), -top
