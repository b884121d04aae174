"""Which bit of the shop cuts what of a piece, and what none of them reaches.

The first bit listed cuts outlines; where it does not get in, the thickest other bit that does
is named. Pockets are cleared by the first bit if it reaches all of them but square corners,
else by the thickest other one that does.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from shapely.geometry import Polygon

from core.findings import Finding, Severity
from core.geometry import Point, Region
from core.joints.access import Unreached, bit_access, pocket_access
from core.shop import Cutter
from core.tolerances import DEPTH_SAME_MM, FILM_MM
from core.units import format_length

_ENTERS_MM = 5e-3  # a bit this much thicker than what was measured still gets in


@dataclass(frozen=True)
class CutDeep:
    """A place cut to a depth from a face: its outline with islands as holes, and how deep."""

    region: Region
    depth_mm: float


@dataclass(frozen=True)
class BitNeed:
    """A bit that a piece needs.

    spots: places of the outline that only this one of the shop's bits cuts, () for the one that
    cuts the outline itself; in_pockets: the same of pockets. depth_mm: the deepest it has to go.
    """

    cutter: Cutter
    spots: tuple[Unreached, ...] = ()
    in_pockets: tuple[Unreached, ...] = ()
    depth_mm: float = 0.0

    @property
    def places(self) -> tuple[Unreached, ...]:
        """All places that need it."""
        return (*self.spots, *self.in_pockets)


@dataclass(frozen=True)
class PieceAccess:
    """What the shop's bits cut of one piece. needs: the outline's bit first. unreached: what no
    bit cuts, square corners included, largest first."""

    needs: tuple[BitNeed, ...]
    unreached: tuple[Unreached, ...] = ()

    @property
    def corners(self) -> tuple[Unreached, ...]:
        """Square inside corners that stay round."""
        return tuple(spot for spot in self.unreached if spot.kind == "corner")

    @property
    def closed(self) -> tuple[Unreached, ...]:
        """What would need a thinner bit than any listed."""
        return tuple(spot for spot in self.unreached if spot.kind != "corner")


def piece_access(
    region: Region,
    pockets: Sequence[CutDeep],
    cutters: Sequence[Cutter],
    *,
    thickness_mm: float,
    agreed: Sequence[Point] = (),
) -> PieceAccess:
    """Which of the cutters (at least one, the outline's first) cuts what of a piece, mm.

    agreed: corners left round on purpose, which are not listed.
    """
    main = cutters[0]
    depths: dict[Cutter, float] = {main: thickness_mm}
    spots: dict[Cutter, list[Unreached]] = {main: []}
    in_pockets: dict[Cutter, list[Unreached]] = {}
    unreached: list[Unreached] = []

    def take(found: Sequence[Unreached], depth_mm: float, able: Sequence[Cutter]) -> None:
        for spot in found:
            bit = None if spot.kind == "corner" else _bit_for(spot, able, depth_mm)
            if bit is None:
                unreached.append(spot)
                continue
            spots.setdefault(bit, []).append(spot)
            depths[bit] = max(depths.get(bit, 0.0), depth_mm)

    take(bit_access(region, main, agreed=agreed), thickness_mm, cutters[1:])
    board = region.polygon
    for pocket in pockets:
        depth = min(pocket.depth_mm, thickness_mm)
        shape = pocket.region.polygon
        found = _left_in(board, shape, main)
        if all(spot.kind == "corner" for spot in found):
            take(found, depth, ())
            continue
        best = _pocket_bit(board, shape, cutters[1:])
        if best is None:
            take(found, depth, ())
            continue
        bit, rest = best
        in_pockets.setdefault(bit, []).extend(s for s in found if s.kind != "corner")
        depths[bit] = max(depths.get(bit, 0.0), depth)
        take(rest, depth, ())
    needs = tuple(
        BitNeed(bit, tuple(spots.get(bit, ())), tuple(in_pockets.get(bit, ())), depths[bit])
        for bit in depths
    )
    return PieceAccess(needs, tuple(sorted(unreached, key=lambda u: -u.area_mm2)))


def _bit_for(spot: Unreached, cutters: Sequence[Cutter], depth_mm: float) -> Cutter | None:
    """The thickest bit that gets into a spot, one that is long enough before one that is not."""
    assert spot.largest_bit_mm is not None
    able = [c for c in cutters if c.diameter_mm <= spot.largest_bit_mm + _ENTERS_MM]
    return max(able, key=lambda c: (_reaches(c, depth_mm), c.diameter_mm), default=None)


def _left_in(board: Polygon, pocket: Polygon, cutter: Cutter) -> tuple[Unreached, ...]:
    """What a bit leaves of a pocket in the board; where it runs out past the edge is air."""
    found = pocket_access(pocket, cutter)
    if board.contains(pocket):
        return found
    return tuple(s for s in found if not s.shape.intersection(board).buffer(-FILM_MM).is_empty)


def _pocket_bit(
    board: Polygon, shape: Polygon, cutters: Sequence[Cutter]
) -> tuple[Cutter, tuple[Unreached, ...]] | None:
    """The thickest bit that clears a pocket but for square corners, and those it leaves."""
    for bit in sorted(cutters, key=lambda c: -c.diameter_mm):
        rest = _left_in(board, shape, bit)
        if all(spot.kind == "corner" for spot in rest):
            return bit, rest
    return None


def _reaches(cutter: Cutter, depth_mm: float) -> bool:
    length = cutter.cutting_length_mm
    return length is None or length >= depth_mm - DEPTH_SAME_MM


# --- what is told -------------------------------------------------------------------------------


def bit_findings(
    access: PieceAccess, *, panel: str, name: str, unit: str = "mm"
) -> tuple[Finding, ...]:
    """Findings about one piece: what no bit cuts, which bits it needs, bits that are too short.

    name: of the piece. A slot narrower than every bit stops, a curve too tight for every bit
    warns, square corners that stay round and further bits are notes.
    """
    main = access.needs[0].cutter
    out = [_closed(spot, panel, name, main.diameter_mm, unit) for spot in access.closed]
    for need in access.needs:
        out += _short(need, panel, name, unit)
        if need.cutter is not main and need.places:
            out.append(_needed(need, main, panel, name, unit))
    if access.corners:
        out.append(_corners(access.corners, main, panel, name, unit))
    return tuple(out)


def bit_size(diameter_mm: float, unit: str) -> str:
    """A bit that would do, rounded down so that it really does."""
    if unit in ("in", "ft"):
        steps = math.floor(diameter_mm / 25.4 * 64 + 1e-6)
        if steps >= 1:
            return format_length(steps * 25.4 / 64, "in", fraction=64)
    return format_length(math.floor(diameter_mm * 100 + 1e-6) / 100, "mm")


def area_words(area_mm2: float, unit: str = "mm") -> str:
    """ "12.4 mm²", two figures where it is small; square inches in a project in inches."""
    if unit in ("in", "ft", "thou"):
        return f"{area_mm2 / 645.16:.3g} in²"
    return f"{area_mm2:.1f} mm²" if area_mm2 >= 10 else f"{area_mm2:.2f} mm²"


def _closed(spot: Unreached, panel: str, name: str, main_mm: float, unit: str) -> Finding:
    assert spot.largest_bit_mm is not None
    bit, area = bit_size(spot.largest_bit_mm, unit), area_words(spot.area_mm2, unit)
    own = format_length(main_mm, unit)
    if spot.kind == "radius":
        return Finding(
            "curve-tighter-than-bit",
            Severity.WARN,
            f"{name}: an inside curve is too tight for the {own} bit, which leaves {area} uncut",
            panel,
            spot.at,
            f"Take a bit of {bit} or less, or ease the curve.",
        )
    if spot.kind == "hole":
        return Finding(
            "hole-smaller-than-bit",
            Severity.STOP,
            f"{name}: a round place of {bit} is smaller than the {own} bit, which leaves {area} "
            "uncut",
            panel,
            spot.at,
            f"Take a bit of {bit} or less, or drill it.",
        )
    return Finding(
        "slot-narrower-than-bit",
        Severity.STOP,
        f"{name}: a place {bit} wide is too narrow for the {own} bit, which leaves {area} uncut",
        panel,
        spot.at,
        f"Add a bit of {bit} or less in the Shop, or widen it.",
    )


def _needed(need: BitNeed, main: Cutter, panel: str, name: str, unit: str) -> Finding:
    count = len(need.places)
    area = area_words(sum(spot.area_mm2 for spot in need.places), unit)
    places = "1 place" if count == 1 else f"{count} places"
    return Finding(
        "needs-further-bit",
        Severity.NOTE,
        f"{name} needs the {format_length(need.cutter.diameter_mm, unit)} bit too: the "
        f"{format_length(main.diameter_mm, unit)} bit leaves {area} in {places}",
        panel,
        need.places[0].at,
        "It is listed with the bits of the clamping.",
    )


def _short(need: BitNeed, panel: str, name: str, unit: str) -> list[Finding]:
    bit = need.cutter
    if _reaches(bit, need.depth_mm):
        return []
    assert bit.cutting_length_mm is not None
    at = need.places[0].at if need.places else None
    return [
        Finding(
            "bit-too-short",
            Severity.STOP,
            f"{name}: the {format_length(bit.diameter_mm, unit)} bit cuts "
            f"{format_length(bit.cutting_length_mm, unit)} deep, {name} asks for "
            f"{format_length(need.depth_mm, unit)}",
            panel,
            at,
            "Take a longer bit, or correct its cutting length in the Shop.",
        )
    ]


def _corners(
    corners: Sequence[Unreached], main: Cutter, panel: str, name: str, unit: str
) -> Finding:
    count = len(corners)
    many = "an inside corner keeps" if count == 1 else f"{count} inside corners keep"
    return Finding(
        "corner-stays-round",
        Severity.NOTE,
        f"{name}: {many} a radius of {format_length(main.radius_mm, unit)}; "
        f"{area_words(sum(spot.area_mm2 for spot in corners), unit)} stay uncut",
        panel,
        corners[0].at,
        "Square them by hand, or give them relief if a mate's corner must enter.",
    )


__all__ = [
    "BitNeed",
    "CutDeep",
    "PieceAccess",
    "area_words",
    "bit_findings",
    "bit_size",
    "piece_access",
]
