"""A sheet's layout checked anew from the pieces' outlines alone, whoever made it."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence

from shapely.geometry import Polygon

from core.findings import Severity
from core.layout.arrangement import Arrangement, nest_sheet
from core.nesting import Layout, NestPiece, NestRules, Placement, Violation, check_layout
from core.nesting.proof import ONLY_SHEET
from core.plan import PlanPiece
from core.project.model import Placed
from core.shop import Shop


def check_sheet(
    arrangement: Arrangement,
    placed: Sequence[Placed],
    shapes: Sequence[Polygon],
    sawn: Sequence[bool],
    pieces_by_id: Mapping[str, PlanPiece],
    shop: Shop,
    tell: Callable[..., None],
) -> None:
    """Every rule of the layout: distances, edges, what is closed, turns, faces.

    shapes: the cut outlines where they lie; sawn: whether the saw cuts that one. tell is called
    as a finding's code, severity and words, with panel, at and remedy.
    """
    key = ONLY_SHEET
    routed = [p for p, by_saw in zip(placed, sawn, strict=True) if not by_saw]
    pieces = {
        p.piece: NestPiece(
            p.piece,
            pieces_by_id[p.piece].cut.polygon,
            max(q.copy for q in routed if q.piece == p.piece),
            None,
            may_mirror=True,
        )
        for p in routed
    }
    placements = tuple(
        Placement(
            p.piece,
            p.copy,
            key,
            1,
            p.motion.x_mm,
            p.motion.y_mm,
            p.motion.turn_deg,
            p.motion.mirrored,
        )
        for p in routed
    )
    rules = NestRules(shop.spacing_mm, shop.rules.edge_margin_mm)
    sheet = nest_sheet(arrangement, shop, key, quantity=1, cost=1.0)
    wrong = check_layout(list(pieces.values()), [sheet], rules, Layout(placements))
    spots = {(p.piece, p.copy): shape.centroid for p, shape in zip(placed, shapes, strict=True)}
    for violation in wrong:
        if violation.code == "copies":
            continue  # one sheet holds only some of the copies
        first = violation.placements[0] if violation.placements else None
        piece = pieces_by_id[first.piece_id] if first is not None else None
        spot = spots[(first.piece_id, first.copy)] if first is not None else None
        tell(
            f"layout-{violation.code}",
            Severity.STOP,
            _told(violation, pieces_by_id),
            panel=None if piece is None else piece.panel,
            at=None if spot is None else (spot.x, spot.y),
            remedy="Move the piece, or nest again.",
        )
    for p in placed:
        piece = pieces_by_id[p.piece]
        turn = p.motion.turn_deg
        allowed = piece.turns_deg
        if allowed is not None and not any(
            abs((turn - t + 180) % 360 - 180) < 1e-6 for t in allowed
        ):
            tell(
                "turn-not-allowed",
                Severity.WARN,
                f"{piece.name} lies at {turn:g}°, against its grain",
                panel=piece.panel,
                remedy="Turn it back, or set its grain to free.",
            )
        if p.motion.mirrored and not piece.may_mirror:
            tell(
                "mirrored",
                Severity.STOP,
                f"{piece.name} lies face down but may not be mirrored",
                panel=piece.panel,
                remedy="Turn it over, or allow it to be cut face down.",
            )


def _told(violation: Violation, pieces_by_id: Mapping[str, PlanPiece]) -> str:
    """What is wrong, in names a person knows; the sheet is said before."""
    if violation.code == "keep-out":
        name = pieces_by_id[violation.placements[0].piece_id].name
        return (
            f"{name} lies across a saw cut, in a sawn edge's margin, beyond the bit or on a spot "
            "that must not be used"
        )
    return _named(violation.message, pieces_by_id)


def _named(message: str, pieces_by_id: Mapping[str, PlanPiece]) -> str:
    """Piece ids in a message replaced by names a person knows."""
    words = []
    for word in message.split(" "):
        piece = pieces_by_id.get(word)
        words.append(piece.name if piece is not None else word)
    return " ".join(words)
