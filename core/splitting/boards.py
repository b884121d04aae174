"""Pieces of one panel from alternating boards: which piece is of which, and what to mind."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

import shapely

from core.findings import Finding, Severity
from core.project.model import BoardChoice, Grain, Panel
from core.shop import Material
from core.splitting.model import Piece, SplitPanel
from core.tolerances import FLUSH_MM


def boards_of(panel: Panel, pieces: Sequence[Piece]) -> dict[str, str]:
    """Piece id → name of its board, for the panel's own pieces.

    A choice holds for the piece its point lies in, so it survives a seam that is moved; of two
    choices in one piece the later holds. Pieces without one are of the panel's board.
    """
    names: dict[str, str] = {}
    for piece in pieces:
        if piece.loose:
            continue
        names[piece.id] = panel.material
        for choice in panel.boards:
            if piece.region.polygon.intersects(shapely.Point(choice.at)):
                names[piece.id] = choice.material
    return names


def with_boards(panel: Panel, split: SplitPanel) -> SplitPanel:
    """The split panel, every piece with its board's name."""
    if not panel.boards:
        return split
    names = boards_of(panel, split.pieces)
    pieces = tuple(replace(p, material=names.get(p.id, p.material)) for p in split.pieces)
    return replace(split, pieces=pieces)


def same_thickness(one: Material, two: Material) -> bool:
    """True if boards may lie side by side in one panel: finished, they are flush."""
    return abs(one.thickness_mm - two.thickness_mm) <= FLUSH_MM


def board_findings(
    panel: Panel, split: SplitPanel, boards: Mapping[str, Material]
) -> tuple[Finding, ...]:
    """What speaks against the boards of a panel's pieces.

    boards: of the shop by name. A board the shop has not and one of another finished thickness
    stop; where the grain changes at a seam a note says so.
    """
    if not panel.boards or len(split.pieces) < 2:
        return ()
    names = {p.id: p.material for p in split.pieces if not p.loose}
    main = boards.get(panel.material)
    found: list[Finding] = []
    for piece in split.pieces:
        if piece.loose or piece.material == panel.material:
            continue
        spot = piece.region.polygon.representative_point()
        board = boards.get(piece.material)
        name = piece.name or piece.id
        if board is None:
            found.append(
                Finding(
                    "no-material",
                    Severity.STOP,
                    f"{name} is of “{piece.material}”, which is not in the Shop",
                    panel.id,
                    at=(spot.x, spot.y),
                    remedy="Choose its board again, or add that board in the Shop.",
                )
            )
        elif main is not None and not same_thickness(main, board):
            found.append(
                Finding(
                    "joint-boards-differ",
                    Severity.STOP,
                    f"{name} is of {board.name}, finished {board.thickness_mm:g} mm, beside "
                    f"{main.name} of {main.thickness_mm:g} mm: their faces are not flush",
                    panel.id,
                    at=(spot.x, spot.y),
                    remedy="Take boards of one finished thickness, or plane both to one.",
                )
            )
    grained = panel.grain is not Grain.FREE and (main is None or main.grained)
    changes = [
        seam.letter for seam in split.seams if names[seam.pieces[0]] != names[seam.pieces[1]]
    ]
    if grained and changes:
        seams = "seam " + changes[0] if len(changes) == 1 else "seams " + ", ".join(changes)
        found.append(
            Finding(
                "joint-grain-changes",
                Severity.NOTE,
                f"{panel.name}: boards change at {seams}; the grain keeps its direction there "
                "but its figure does not run on",
                panel.id,
                remedy="Take one board for all pieces if the figure is to run on.",
            )
        )
    return tuple(found)


def alternating(panel: Panel, split: SplitPanel, other: str) -> tuple[BoardChoice, ...]:
    """Choices that give every other piece the board called other, the first kept as it is.

    Neighbours across a seam differ where the seams allow it (in a ring of three they cannot).
    """
    own = [p for p in split.pieces if not p.loose]
    beside: dict[str, list[str]] = {p.id: [] for p in own}
    for seam in split.seams:
        a, b = seam.pieces
        beside[a].append(b)
        beside[b].append(a)
    turn: dict[str, bool] = {}
    for start in own:
        if start.id in turn:
            continue
        turn[start.id] = False
        queue = [start.id]
        while queue:
            here = queue.pop(0)
            for there in beside[here]:
                if there not in turn:
                    turn[there] = not turn[here]
                    queue.append(there)
    chosen = []
    for piece in own:
        if turn[piece.id]:
            spot = piece.region.polygon.representative_point()
            chosen.append(BoardChoice((float(spot.x), float(spot.y)), other))
    return tuple(chosen)


__all__ = ["alternating", "board_findings", "boards_of", "same_thickness", "with_boards"]
