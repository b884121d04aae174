"""Places on an outline where a tab can stand, and a good choice for a part by itself."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import affinity
from shapely.geometry import LinearRing
from shapely.geometry.base import BaseGeometry

from core.geometry import Motion, Point

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]

#: One tab for so much outline (common practice, no source); never fewer than two.
TAB_EVERY_MM = 350.0
LEAST_TABS, MOST_TABS = 2, 8
#: A tab stays so far from a flank, beyond its own half and the bit (own choice).
OFF_FLANK_MM = 2.0
#: An outline may bend so little within a tab: its chord against its length.
TAB_STRAIGHT = 0.985


@dataclass(frozen=True, slots=True)
class TabSpots:
    """Places on a ring looked at for a tab; arrays of n.

    along_mm (n,): from the ring's beginning. middle, way, out (n, 2): the point, the unit vector
    along the ring and the one across it, to the side where the bit runs. good (n,): straight
    enough, and off the flanks.
    """

    ring: LinearRing
    along_mm: FloatArray
    middle: FloatArray
    way: FloatArray
    out: FloatArray
    good: BoolArray

    @property
    def wanted(self) -> int:
        """How many tabs a ring of this length gets."""
        return min(MOST_TABS, max(LEAST_TABS, math.ceil(self.ring.length / TAB_EVERY_MM)))

    def moved(self, motion: Motion) -> TabSpots:
        """The spots of a part that was laid down so."""
        a, b, d, e, x, y = motion.matrix()
        turn = np.array([[a, d], [b, e]])
        return replace(
            self,
            ring=affinity.affine_transform(self.ring, motion.matrix()),
            middle=self.middle @ turn + (x, y),
            way=self.way @ turn,
            out=self.out @ turn,
        )

    def gaps(self, chosen: Sequence[float]) -> FloatArray:
        """From each spot to the nearest of those distances along the ring, going round; (n,)."""
        found = np.full(len(self.along_mm), np.inf)
        for one in chosen:
            away = np.abs(self.along_mm - one)
            found = np.minimum(found, np.minimum(away, self.ring.length - away))
        return found

    def least_gap(self, chosen: int, tab_mm: float) -> float:
        """So far from the others a further tab must stand, when so many are chosen."""
        if chosen < LEAST_TABS:
            return 3 * tab_mm
        return max(3 * tab_mm, self.ring.length / (2.5 * self.wanted))


def tab_spots(
    ring: LinearRing,
    tab_mm: float,
    *,
    bit_mm: float,
    flanks: BaseGeometry | None = None,
    inside: bool = False,
) -> TabSpots:
    """The spots of an outline, or of a cut-out, inside which the bit runs.

    A good one stands at least half a tab, a bit and OFF_FLANK_MM from the flanks.
    """
    length = ring.length
    step = max(tab_mm / 2, length / 240)
    at = np.arange(step / 2, length, step)
    middle = shapely.get_coordinates(shapely.line_interpolate_point(ring, at))
    before = shapely.get_coordinates(shapely.line_interpolate_point(ring, (at - tab_mm) % length))
    after = shapely.get_coordinates(shapely.line_interpolate_point(ring, (at + tab_mm) % length))
    chord = after - before
    long = np.hypot(chord[:, 0], chord[:, 1])
    # A tab and half its width beside it on either side must lie on one gentle stretch.
    good = long >= TAB_STRAIGHT * 2 * tab_mm
    if flanks is not None and not flanks.is_empty:
        keep = tab_mm / 2 + bit_mm + OFF_FLANK_MM
        good &= shapely.distance(shapely.points(middle), flanks) >= keep
    way = chord / np.maximum(long, 1e-12)[:, None]
    side = 1.0 if ring.is_ccw != inside else -1.0
    out = side * np.column_stack((way[:, 1], -way[:, 0]))
    return TabSpots(ring, at, middle, way, out, good)


def tab_places(
    ring: LinearRing, tab_mm: float, *, bit_mm: float, flanks: BaseGeometry | None = None
) -> tuple[Point, ...]:
    """Middles of tabs on an outline: on straight or gently bent stretches, well spread.

    Fewer than LEAST_TABS places: the outline has no room for tabs.
    """
    spots = tab_spots(ring, tab_mm, bit_mm=bit_mm, flanks=flanks)
    usable = np.flatnonzero(spots.good)
    if not len(usable):
        return ()
    chosen = [int(usable[0])]
    while len(chosen) < spots.wanted:
        gaps = spots.gaps([float(spots.along_mm[k]) for k in chosen])[usable]
        best = int(np.argmax(gaps))
        if gaps[best] < spots.least_gap(len(chosen), tab_mm):
            break
        chosen.append(int(usable[best]))
    return tuple((float(x), float(y)) for x, y in spots.middle[sorted(chosen)])
