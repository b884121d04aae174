"""Pockets, drill centres, engraving and texts to the outline they belong to."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import shapely
from shapely.geometry import Polygon

from core.geometry import Point, Region
from core.outlines.model import Feature, Outline
from core.outlines.strands import RawText

_LONGEST_NAME = 60


@dataclass
class Outers:
    """The outlines' outer rings, filled, in a search tree."""

    polygons: Any  # object array of shapely polygons
    tree: shapely.STRtree

    @staticmethod
    def of(polygons: Sequence[Polygon]) -> Outers:
        """From filled outer rings, in the outlines' order."""
        array = np.array(polygons, dtype=object)
        return Outers(array, shapely.STRtree(array))

    def owner(self, shape: shapely.Geometry) -> int | None:
        """The smallest outline that holds the shape, else the one it overlaps most."""
        touched = self.tree.query(shape, predicate="intersects")
        if not len(touched):
            return None
        around = [int(i) for i in touched if self.polygons[i].covers(shape)]
        if around:
            return min(around, key=lambda i: (self.polygons[i].area, i))

        def shared(i: int) -> float:
            common = self.polygons[i].intersection(shape)
            return float(common.area or common.length)

        best = max((int(i) for i in touched), key=lambda i: (shared(i), -i))
        return best if shared(best) > 0 else None


def feature_shape(feature: Feature) -> shapely.Geometry:
    """The feature as a shapely geometry: its filled ring, its line or its point."""
    if feature.ring is not None:
        return Region.of(feature.ring).polygon
    if feature.path:
        return shapely.LineString(feature.path)
    return shapely.Point(feature.at or (0.0, 0.0))


def with_features(
    outlines: Sequence[Outline], features: Sequence[Feature], outers: Outers
) -> tuple[list[Outline], list[Feature]]:
    """Outlines with their features, and the features that lie on no outline."""
    owned: dict[int, list[Feature]] = defaultdict(list)
    stray: list[Feature] = []
    for feature in features:
        owner = outers.owner(feature_shape(feature))
        if owner is None:
            stray.append(feature)
        else:
            owned[owner].append(feature)
    return [
        replace(outline, features=tuple(owned.get(i, ()))) for i, outline in enumerate(outlines)
    ], stray


def with_names(
    outlines: Sequence[Outline], texts: Sequence[RawText], stem: str, outers: Outers
) -> list[Outline]:
    """Outlines named by the largest text inside them, else by stem, stem-2, stem-3 …"""
    best: dict[int, tuple[float, int, str]] = {}
    for number, text in enumerate(texts):
        name = name_in(text.text)
        owner = outers.owner(shapely.Point(text.at)) if name else None
        if owner is None:
            continue
        size = text.height if math.isfinite(text.height) else 0.0
        key = (-size, number, name)
        if owner not in best or key < best[owner]:
            best[owner] = key
    out: list[Outline] = []
    unnamed = 0
    for i, outline in enumerate(outlines):
        if i in best:
            out.append(replace(outline, name=best[i][2]))
            continue
        unnamed += 1
        out.append(replace(outline, name=stem if unnamed == 1 else f"{stem}-{unnamed}"))
    return out


def name_in(text: str) -> str:
    """The first line of a text that says something, tidied; "" if none does."""
    for line in text.splitlines():
        tidy = " ".join("".join(c if c.isprintable() else " " for c in line).split())
        if any(c.isalnum() for c in tidy):
            return tidy[:_LONGEST_NAME].strip()
    return ""


def middle_of(feature: Feature) -> Point:
    """A point to show a feature at."""
    if feature.at is not None:
        return feature.at
    if feature.ring is not None:
        x1, y1, x2, y2 = feature.ring.bounds
        return (x1 + x2) / 2, (y1 + y2) / 2
    return feature.path[0]
