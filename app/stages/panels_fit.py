"""How a panel stands to the machine, in numbers and words for the wall."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from app.i18n import tr
from app.widgets.fields import about_length, show_length, show_size
from core.outlines.model import Feature
from core.project.model import CutBy, Grain, Panel, SplitChoice
from core.shop import Machine
from core.tolerances import FIT_REL

if TYPE_CHECKING:
    from core.planning import PieceSet


@dataclass(frozen=True, slots=True)
class Overhang:
    """By how much a panel is larger than what the bit can go round.

    room_mm: width and height of the room as laid over the panel (already turned if that is
    better). over_mm: what sticks out along x and y, 0 where nothing does.
    """

    room_mm: tuple[float, float]
    over_mm: tuple[float, float]

    @property
    def largest_mm(self) -> float:
        """The larger of the two."""
        return max(self.over_mm)


def room_mm(machine: Machine) -> tuple[float, float]:
    """The largest rectangle the bit can go all the way round: the travel less a diameter."""
    diameter = machine.cutter.diameter_mm
    return machine.travel_mm[0] - diameter, machine.travel_mm[1] - diameter


def overhang(panel: Panel, machine: Machine) -> Overhang | None:
    """How far the panel's bounds stick out of the room the better way round; None if not."""
    if panel.by is CutBy.SAW:
        return None
    w, h = panel.size_mm
    best: Overhang | None = None
    room_w, room_h = room_mm(machine)
    for room in ((room_w, room_h), (room_h, room_w)):
        over = tuple(
            max(0.0, size - space) if size > space * (1 + FIT_REL) else 0.0
            for size, space in zip((w, h), room, strict=True)
        )
        found = Overhang(room, (over[0], over[1]))
        if best is None or sum(found.over_mm) < sum(best.over_mm):
            best = found
    return best if best is not None and best.largest_mm > 0 else None


def piece_count(panel: Panel, pieces: PieceSet | None) -> int | None:
    """How many pieces the panel is cut into, loose ones left out; None if not known yet."""
    if pieces is None:
        return None
    count = sum(1 for p in pieces.pieces if p.panel == panel.id and not p.loose)
    return count or None


def is_too_big(panel: Panel, machine: Machine, pieces: PieceSet | None) -> bool:
    """True if the panel as drawn does not go onto the machine.

    A panel whose bounds stick out but that was left in one piece without being told so goes
    on at a slant, and is not too big.
    """
    if overhang(panel, machine) is None:
        return False
    slanted = piece_count(panel, pieces) == 1 and panel.split is SplitChoice.AUTO
    return not slanted


def size_words(panel: Panel, unit: str) -> str:
    """ "1700 × 820 mm", to a tenth of a millimetre."""
    return show_size(round(panel.size_mm[0], 1), round(panel.size_mm[1], 1), unit)


def grain_words(grain: Grain) -> str:
    """The grain in words."""
    return {
        Grain.FREE: tr("grain any way"),
        Grain.ALONG: tr("grain along"),
        Grain.ACROSS: tr("grain across"),
    }[grain]


def feature_words(feature: Feature, unit: str) -> str:
    """ "Pocket 120 × 18 mm, 6 mm deep, from the back"."""
    name = {
        "pocket": tr("Pocket"),
        "dado": tr("Dado"),
        "rebate": tr("Rebate"),
        "drill": tr("Hole"),
        "engrave": tr("Engraving"),
    }.get(str(feature.kind), str(feature.kind).capitalize())
    parts = [name]
    if feature.diameter_mm is not None:
        parts[0] += f" ⌀ {show_length(round(feature.diameter_mm, 2), unit)}"
    elif feature.ring is not None:
        x1, y1, x2, y2 = feature.ring.bounds
        parts[0] += f" {show_size(round(x2 - x1, 2), round(y2 - y1, 2), unit)}"
    if feature.depth_mm is None and str(feature.kind) == "engrave":
        parts.append(tr("depth not said"))  # nobody engraves right through a board
    elif feature.depth_mm is None:
        parts.append(tr("right through"))
    else:
        depth = show_length(round(feature.depth_mm, 2), unit)
        parts.append(tr("{depth} deep").format(depth=depth))
    if str(feature.face) == "back":
        parts.append(tr("from the back"))
    return ", ".join(parts)


def panel_words(panel: Panel, machine: Machine, pieces: PieceSet | None, unit: str) -> str:
    """One panel in a few plain sentences."""
    holes = len(panel.region.holes)
    sentences = [size_words(panel, unit)]
    inside = []
    if holes:
        inside.append((tr("{n} hole") if holes == 1 else tr("{n} holes")).format(n=holes))
    if panel.features:
        n = len(panel.features)
        inside.append((tr("{n} feature") if n == 1 else tr("{n} features")).format(n=n))
    if inside:
        sentences[0] += ", " + ", ".join(inside)
    sentences[0] += "."
    over = overhang(panel, machine)
    count = piece_count(panel, pieces)
    if over is not None and is_too_big(panel, machine, pieces):
        by = about_length(over.largest_mm, unit)
        sentences.append(tr("Larger than the machine by {by}.").format(by=by))
    if count is not None and count > 1:
        sentences.append(tr("Cut into {n} pieces.").format(n=count))
    elif over is not None and count == 1:
        sentences.append(tr("Cut in one piece."))
    return " ".join(sentences)
