"""In which order the pieces of a panel go together, and how each goes in."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from core.findings import Finding, Severity
from core.splitting.lines import ReadySeam
from core.splitting.model import Piece, Seam, SplitPanel


@dataclass(frozen=True, slots=True)
class AssemblyStep:
    """One piece put to those that are together already.

    seams: letters of the joints it closes. how: in words. slide_deg: direction in which it
    slides in, in the plane, or None if it drops in from the face. keys: loose keys let in now.
    """

    piece_id: str
    seams: tuple[str, ...]
    how: str
    slide_deg: float | None = None


def _lap_order(seams: Sequence[Seam], ready: Sequence[ReadySeam]) -> dict[str, set[str]]:
    """Per piece those that must lie below it, for half-laps."""
    by_index = {seam.index: seam for seam in ready}
    below: dict[str, set[str]] = {}
    for seam in seams:
        made = by_index[seam.line_index]
        if made.lap is None:
            continue
        left, right = seam.pieces
        upper, lower = (left, right) if made.line.turned_over else (right, left)
        below.setdefault(upper, set()).add(lower)
    return below


def assembly_order(
    panel_id: str, pieces: Sequence[Piece], seams: Sequence[Seam], ready: Sequence[ReadySeam]
) -> tuple[tuple[str, ...], list[Finding]]:
    """Piece ids in an order in which each piece meets one that is there already.

    Starts from the largest piece that may lie lowest. All seams are prisms, so a piece can
    always be dropped in from the face; only half-laps say which of two comes first. If they
    contradict each other a stop finding says so.
    """
    below = _lap_order(seams, ready)
    touching: dict[str, set[str]] = {p.id: set() for p in pieces}
    for seam in seams:
        a, b = seam.pieces
        touching[a].add(b)
        touching[b].add(a)
    areas = {p.id: p.region.area_mm2 for p in pieces}
    left = [p.id for p in pieces]
    order: list[str] = []
    while left:
        free = [p for p in left if not (below.get(p, set()) - set(order))]
        near = [p for p in free if touching[p] & set(order)]
        choice = near or free
        if not choice:
            finding = Finding(
                "laps-in-a-circle",
                Severity.STOP,
                "The half-laps go round in a circle: no piece can lie lowest",
                panel=panel_id,
                remedy="Turn one of the seams over.",
            )
            return tuple(order + left), [finding]
        # Most joints first keeps the row growing from the middle; then the largest.
        pick = max(choice, key=lambda p: (len(touching[p] & set(order)), areas[p]))
        order.append(pick)
        left.remove(pick)
    return tuple(order), []


def assembly_steps(split: SplitPanel) -> tuple[AssemblyStep, ...]:
    """The order of assembly in words, one step per piece after the first."""
    there: set[str] = set()
    steps: list[AssemblyStep] = []
    for piece_id in split.assembly_order:
        joined = [
            s for s in split.seams if piece_id in s.pieces and (set(s.pieces) - {piece_id}) & there
        ]
        there.add(piece_id)
        if not joined:
            steps.append(AssemblyStep(piece_id, (), "lay it down"))
            continue
        letters = tuple(s.letter for s in joined)
        angles = [_closing_deg(s, piece_id) for s in joined]
        slides = all(
            "slides" in s.properties.mating or "pushed" in s.properties.mating for s in joined
        )
        apart = max(abs((a - angles[0] + 180.0) % 360.0 - 180.0) for a in angles)
        named = " and ".join(letters)
        if any(s.style.name == "half-lap" for s in joined):
            steps.append(AssemblyStep(piece_id, letters, f"lay it over at {named}"))
        elif slides and apart < 1.0:
            steps.append(AssemblyStep(piece_id, letters, f"slide it in at {named}", angles[0]))
        else:
            steps.append(AssemblyStep(piece_id, letters, f"drop it in from the face at {named}"))
    return tuple(steps)


def _closing_deg(seam: Seam, piece_id: str) -> float:
    """Direction in which a piece moves to close a seam, degrees."""
    (x1, y1, _), (x2, y2, _) = seam.line[0], seam.line[-1]
    along = math.degrees(math.atan2(y2 - y1, x2 - x1))
    return along - 90.0 if piece_id == seam.pieces[0] else along + 90.0
