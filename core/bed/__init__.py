"""A setup: how a board lies on the machine, what the bit can reach there, what holds it."""

from core.bed.holds import (
    MILLED,
    Held,
    hold_piece,
    hold_slug,
    notch_walls,
    screw_places,
)
from core.bed.room import BedRoom, bed_room, blocked_zones
from core.bed.tabs import TabSpots, tab_places, tab_spots
from core.bed.through import Feed, Stretch, feed_of, lying, on_sheet, stretches
from core.bed.ties import Freed, TiedDown, bit_path, tie_down

__all__ = [
    "MILLED",
    "BedRoom",
    "Feed",
    "Freed",
    "Held",
    "Stretch",
    "TabSpots",
    "TiedDown",
    "bed_room",
    "bit_path",
    "blocked_zones",
    "feed_of",
    "hold_piece",
    "hold_slug",
    "lying",
    "notch_walls",
    "on_sheet",
    "screw_places",
    "stretches",
    "tab_places",
    "tab_spots",
    "tie_down",
]
