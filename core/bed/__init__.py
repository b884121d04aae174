"""A setup: how a blank lies on the machine and what the bit can reach."""

from core.bed.room import BedRoom, bed_room

__all__ = ["BedRoom", "bed_room"]
