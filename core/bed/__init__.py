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
from core.bed.tabs import Freed, TabSpots, TiedDown, bit_path, tab_places, tab_spots, tie_down
from core.bed.through import Feed, Stretch, feed_of, lying, on_sheet, stretches

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
