"""Work from the other face: a piece that has been cut out, turned over, with what is left to cut.

Such a piece has no waste round it any more. Its page gives the places of pockets and holes from
its own lower left corner, as it lies turned over.
"""

from __future__ import annotations

from core.outlines.model import Face, Feature
from core.reports.board import scale_text
from core.reports.cutlist import CopyLine, CutList, feature_word, from_face, other_face
from core.reports.diagrams import feature_bounds, other_face_board
from core.reports.legend import legend
from core.reports.paper import Column, Flow
from core.reports.picture import MUTED, text
from core.reports.words import Words, listed


def turned_over(cut_list: CutList) -> list[tuple[CopyLine, list[int]]]:
    """One copy of every piece with work left on its other face, turned, with all its numbers."""
    groups: dict[tuple[str, Face], tuple[CopyLine, list[int]]] = {}
    for line in cut_list.copies:
        if line.other_face:
            key = (line.piece.id, line.face_up)
            groups.setdefault(key, (other_face(line), []))[1].append(line.number)
    return list(groups.values())


def other_face_page(
    flow: Flow, cut_list: CutList, line: CopyLine, numbers: list[int], words: Words
) -> None:
    """The page of one piece; line lies turned over, numbers are those of all its copies."""
    which = f"No. {listed(numbers)}, {line.piece.name}"
    flow.page(f"Other face: {which}, {words.size(*line.placed.size_mm)}", "other-face")
    up, down = ("back", "show face") if line.face_up is Face.BACK else ("show face", "back")
    flow.paragraph(
        f"Cut the piece out first, then turn it over: {up} up, {down} on the table. Drawn as it "
        "lies then, left and right swapped; x and y from the lower left corner of the rectangle "
        "round it. No waste is left to hold it by: fix it so that it cannot move and the bit meets "
        "nothing else."
    )
    top = flow.y - 1.0
    low = flow.bottom + 30.0 + 6.3 * len(from_face(line))
    area = (flow.left, max(low, top - flow.full_room * 0.66), flow.right, top)
    drawing = other_face_board(cut_list, line, area, words)
    flow.add(drawing.marks, scale=drawing.n)
    scale = f"Scale {scale_text(drawing.n)}."
    y = drawing.lowest - 2.0
    flow.add([text(flow.left, y - 0.95, scale, 8, colour=MUTED)])
    used = 2.0
    if any(mark.role == "back" for mark in drawing.marks):
        marks, used = legend(["back"], flow.left + 24.0, y, flow.right)
        flow.add(marks)
    flow.y = y - used
    flow.heading("To cut from this face")
    rows = [_cells(line, feature, words) for feature in from_face(line)]
    flow.table(
        [
            Column("", tick=True),
            Column("What", flex=True),
            Column("Depth", align="end"),
            Column("x", align="end"),
            Column("y", align="end"),
            Column("Size", align="end"),
        ],
        rows,
        role="other-face",
        keep=True,
    )
    flow.paragraph(
        "x, y: of a hole its middle, of anything else its lower left, as it lies here.",
        8.0,
        colour=MUTED,
    )


def _cells(line: CopyLine, feature: Feature, words: Words) -> tuple[str, ...]:
    x1, y1, x2, y2 = feature_bounds(line, feature)
    what = feature_word(feature)
    size = words.size(x2 - x1, y2 - y1)
    if feature.at is not None:
        size = words.diameter(feature.diameter_mm) if feature.diameter_mm else "–"
    depth = words.exact(feature.depth_mm) if feature.depth_mm is not None else "–"
    return ("", what, depth, words.length(x1), words.length(y1), size)
