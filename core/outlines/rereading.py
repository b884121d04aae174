"""When a drawing has changed on disk: which outline became which, and what moved.

Outlines are matched by what they are, nearest first: the same shape in the same place, the
same shape elsewhere, the same name, then whatever lies mostly on the old place. Decisions on a
panel then hang on through :func:`match_refs`, which finds each feature's ref again or lists it
as an orphan.
"""

from __future__ import annotations

import math
from collections import Counter, defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from enum import StrEnum

import numpy as np
import shapely

from core.geometry import Point, Region
from core.outlines.model import Feature, Outline
from core.outlines.recognise import FeatureRef
from core.tolerances import REREAD_TOL_MM

_MOST_TRIED = 16  # outlines of one size compared with an outline that moved, nearest first


class ChangeKind(StrEnum):
    """What became of an outline."""

    SAME = "same"
    MOVED = "moved"
    CHANGED = "changed"
    ADDED = "added"
    REMOVED = "removed"


@dataclass(frozen=True)
class OutlineChange:
    """One outline, before and after.

    old, new: indices into the two sequences, None where there is none. moved_mm: how far its
    lower left corner went. differs_mm: greatest distance of the new line from the old one,
    both laid corner on corner for a moved outline. differs_mm2: area that is in one and not in
    the other. features_changed: pockets, drill centres or engraving differ.
    renamed: the name differs.
    """

    kind: ChangeKind
    old: int | None
    new: int | None
    moved_mm: Point = (0.0, 0.0)
    differs_mm: float = 0.0
    differs_mm2: float = 0.0
    features_changed: bool = False
    renamed: bool = False


@dataclass(frozen=True)
class RefMatch:
    """Where each old ref is found again: (old, new) pairs, orphans without a new one."""

    pairs: tuple[tuple[FeatureRef, FeatureRef], ...]
    orphans: tuple[FeatureRef, ...]
    fresh: tuple[FeatureRef, ...]


def compare_outlines(
    old: Sequence[Outline], new: Sequence[Outline], *, tolerance_mm: float = REREAD_TOL_MM
) -> tuple[OutlineChange, ...]:
    """What became of every outline; in the old order, added ones last in the new order.

    tolerance_mm: differences below it are none.
    """
    changes: dict[int, OutlineChange] = {}
    left_old = list(range(len(old)))
    left_new = list(range(len(new)))

    def settle(pairs: Iterable[tuple[int, int]]) -> None:
        nonlocal left_old, left_new
        before, after = set(left_old), set(left_new)
        for a, b in pairs:
            if a in before and b in after:
                changes[a] = _change(old[a], new[b], a, b, tolerance_mm)
                before.remove(a)
                after.remove(b)
        left_old = [a for a in left_old if a in before]
        left_new = [b for b in left_new if b in after]

    settle(_pairs_in_place(old, new, left_old, left_new, tolerance_mm))
    settle(_pairs_elsewhere(old, new, left_old, left_new, tolerance_mm))
    settle(_pairs_by_name(old, new, left_old, left_new))
    settle(_pairs_by_overlap(old, new, left_old, left_new))
    out = [changes.get(a) or OutlineChange(ChangeKind.REMOVED, a, None) for a in range(len(old))]
    return (*out, *(OutlineChange(ChangeKind.ADDED, None, b) for b in left_new))


def match_refs(
    old: Iterable[FeatureRef],
    new: Iterable[FeatureRef],
    *,
    moved_mm: Point = (0.0, 0.0),
    tolerance_mm: float = REREAD_TOL_MM,
) -> RefMatch:
    """Find refs again: same kind, sizes and anchor within the tolerance, nearest first.

    moved_mm: added to every old anchor first, for a panel that moved in its drawing. Angles of
    axes match within a hundredth of a degree per tenth of a millimetre of tolerance.
    """
    olds, news = list(old), list(new)
    options: list[tuple[float, int, int]] = []
    for i, a in enumerate(olds):
        anchor = (a.anchor[0] + moved_mm[0], a.anchor[1] + moved_mm[1])
        for k, b in enumerate(news):
            if a.kind != b.kind or len(a.size) != len(b.size):
                continue
            away = math.dist(anchor, b.anchor)
            off = max((abs(p - q) for p, q in zip(a.size, b.size, strict=True)), default=0.0)
            if a.kind == "axis":
                off = abs(math.remainder(a.size[0] - b.size[0], 180.0)) * 10
            if away <= tolerance_mm and off <= tolerance_mm:
                options.append((away + off, i, k))
    options.sort()
    taken_old: dict[int, int] = {}
    taken_new: set[int] = set()
    for _, i, k in options:
        if i not in taken_old and k not in taken_new:
            taken_old[i] = k
            taken_new.add(k)
    return RefMatch(
        tuple((olds[i], news[k]) for i, k in sorted(taken_old.items())),
        tuple(a for i, a in enumerate(olds) if i not in taken_old),
        tuple(b for k, b in enumerate(news) if k not in taken_new),
    )


def find_repeats(
    outlines: Sequence[Outline], *, tolerance_mm: float = REREAD_TOL_MM
) -> tuple[tuple[int, ...], ...]:
    """Groups of outlines of the same shape wherever they lie, turned by nothing.

    They are never merged by themselves: the maker is asked whether a group is one panel in
    several copies.
    """
    groups: list[list[int]] = []
    cells: dict[tuple[int, int, int], list[list[int]]] = defaultdict(list)
    for i, outline in enumerate(outlines):
        here = _size_cell(outline.region, tolerance_mm)
        near = (group for cell in _around(here) for group in cells.get(cell, ()))
        for group in near:
            if are_alike(outlines[group[0]], outline, tolerance_mm=tolerance_mm):
                group.append(i)
                break
        else:
            groups.append([i])
            cells[here].append(groups[-1])
    return tuple(tuple(group) for group in groups if len(group) > 1)


def are_alike(a: Outline, b: Outline, *, tolerance_mm: float = REREAD_TOL_MM) -> bool:
    """True for the same shape with the same things cut into it, wherever both lie."""
    if not _same_shape(a.region, b.region, tolerance_mm):
        return False
    (ax, ay), (bx, by) = _corner(a.region), _corner(b.region)
    return _same_features(a.features, b.features, (bx - ax, by - ay), tolerance_mm)


def _size_cell(region: Region, tolerance: float) -> tuple[int, int, int]:
    """Where a region falls when sizes are sorted into steps well above the tolerance."""
    width, height = region.size_mm
    step = 4 * max(tolerance, 1e-9)
    return math.floor(width / step), math.floor(height / step), len(region.holes)


def _around(cell: tuple[int, int, int]) -> list[tuple[int, int, int]]:
    """A cell and its neighbours."""
    w, h, holes = cell
    return [(w + i, h + k, holes) for i in (0, -1, 1) for k in (0, -1, 1)]


# --- pairing --------------------------------------------------------------------------------


def _pairs_in_place(
    old: Sequence[Outline], new: Sequence[Outline], a: list[int], b: list[int], tolerance: float
) -> list[tuple[int, int]]:
    """Same shape, same place."""
    pairs = []
    step = 4 * max(tolerance, 1e-9)

    def cell(region: Region) -> tuple[int, int, int]:
        return math.floor(region.bounds[0] / step), math.floor(region.bounds[1] / step), 0

    places: dict[tuple[int, int, int], list[int]] = defaultdict(list)
    for k in b:
        places[cell(new[k].region)].append(k)
    taken: set[int] = set()
    for i in a:
        near = sorted(k for here in _around(cell(old[i].region)) for k in places.get(here, ()))
        for k in near:
            if k in taken:
                continue
            close = np.abs(np.subtract(old[i].region.bounds, new[k].region.bounds)).max()
            if close <= tolerance and _same_shape(old[i].region, new[k].region, tolerance):
                pairs.append((i, k))
                taken.add(k)
                break
    return pairs


def _pairs_elsewhere(
    old: Sequence[Outline], new: Sequence[Outline], a: list[int], b: list[int], tolerance: float
) -> list[tuple[int, int]]:
    """Same shape in another place: same name first, then the nearest."""
    options = []
    sizes: dict[tuple[int, int, int], list[int]] = defaultdict(list)
    corners = np.array([_corner(outline.region) for outline in new]).reshape(-1, 2)
    named: dict[str, list[int]] = defaultdict(list)
    for k in b:
        if len(named[new[k].name]) < _MOST_TRIED:
            named[new[k].name].append(k)
        sizes[_size_cell(new[k].region, tolerance)].append(k)
    for i in a:
        cells = _around(_size_cell(old[i].region, tolerance))
        fitting = [k for cell in cells for k in sizes.get(cell, ())]
        if len(fitting) > _MOST_TRIED:
            away = np.hypot(*(corners[fitting] - _corner(old[i].region)).T)
            nearest = [fitting[n] for n in np.argsort(away, kind="stable")[:_MOST_TRIED]]
            fitting = [*nearest, *(k for k in named.get(old[i].name, ()) if k not in nearest)]
        for k in fitting:
            if _same_shape(old[i].region, new[k].region, tolerance):
                far = math.dist(_corner(old[i].region), _corner(new[k].region))
                options.append((old[i].name != new[k].name, far, i, k))
    return [(i, k) for _, _, i, k in sorted(options)]


def _pairs_by_name(
    old: Sequence[Outline], new: Sequence[Outline], a: list[int], b: list[int]
) -> list[tuple[int, int]]:
    """A name that stands for one outline before and after, and shapes not wholly different."""
    pairs = []
    count = Counter(old[x].name for x in a)
    named: dict[str, list[int]] = defaultdict(list)
    for k in b:
        named[new[k].name].append(k)
    for i in a:
        same = named.get(old[i].name, [])
        if (
            count[old[i].name] == 1
            and len(same) == 1
            and _may_be_one(old[i].region, new[same[0]].region)
        ):
            pairs.append((i, same[0]))
    return pairs


def _pairs_by_overlap(
    old: Sequence[Outline], new: Sequence[Outline], a: list[int], b: list[int]
) -> list[tuple[int, int]]:
    """Outlines that share most of their place."""
    if not a or not b:
        return []
    options = []
    tree = shapely.STRtree([new[k].region.polygon for k in b])
    for i in a:
        for place in tree.query(old[i].region.polygon):
            k = b[int(place)]
            shared = _shared(old[i].region, new[k].region)
            if shared > 0.5:
                options.append((-shared, i, k))
    return [(i, k) for _, i, k in sorted(options)]


def _change(old: Outline, new: Outline, a: int, b: int, tolerance: float) -> OutlineChange:
    """How one outline differs from what it was."""
    (ox, oy), (nx, ny) = _corner(old.region), _corner(new.region)
    moved = (nx - ox, ny - oy)
    same = _same_shape(old.region, new.region, tolerance)
    shift = moved if same else (0.0, 0.0)
    before = shapely.transform(old.region.polygon, lambda rows: rows + np.array(shift))
    after = new.region.polygon
    differs = 0.0 if same else float(before.boundary.hausdorff_distance(after.boundary))
    area = 0.0 if same else float(before.symmetric_difference(after).area)
    stays = math.hypot(*moved) <= tolerance
    kind = ChangeKind.SAME if same and stays else ChangeKind.MOVED if same else ChangeKind.CHANGED
    features = not _same_features(old.features, new.features, shift, tolerance)
    if features and kind is not ChangeKind.CHANGED:
        kind = ChangeKind.CHANGED
    return OutlineChange(
        kind,
        a,
        b,
        (0.0, 0.0) if kind is ChangeKind.SAME else moved,
        differs,
        area,
        features,
        old.name != new.name,
    )


def _corner(region: Region) -> Point:
    return region.bounds[0], region.bounds[1]


def _same_shape(a: Region, b: Region, tolerance: float) -> bool:
    """True if b laid corner on corner lies on a within the tolerance."""
    if len(a.holes) != len(b.holes):
        return False
    if any(abs(p - q) > tolerance for p, q in zip(a.size_mm, b.size_mm, strict=True)):
        return False
    length = a.polygon.length + b.polygon.length
    if abs(a.area_mm2 - b.area_mm2) > tolerance * length:
        return False
    (ax, ay), (bx, by) = _corner(a), _corner(b)
    # Most are the very same vertices: told at once, where comparing boundaries takes a millisecond.
    first, second = (shapely.get_coordinates(r.polygon) for r in (a, b))
    if first.shape == second.shape:
        off = np.abs(second + np.array((ax - bx, ay - by)) - first)
        if float(off.max()) <= tolerance / 2:
            return True
    laid = shapely.transform(b.polygon, lambda rows: rows + np.array((ax - bx, ay - by)))
    return bool(a.polygon.boundary.hausdorff_distance(laid.boundary) <= tolerance)


def _may_be_one(a: Region, b: Region) -> bool:
    """True if outlines of one name may be one outline: alike in part, more so if far apart.

    Names given by count (side-2) go over to another outline when one before it is deleted.
    """
    return _likeness(a, b) > (0.2 if a.polygon.intersects(b.polygon) else 0.5)


def _likeness(a: Region, b: Region) -> float:
    """Shared area of two regions laid corner on corner, as a share of both together."""
    (ax, ay), (bx, by) = _corner(a), _corner(b)
    laid = shapely.transform(b.polygon, lambda rows: rows + np.array((ax - bx, ay - by)))
    return _share(a.polygon, laid)


def _shared(a: Region, b: Region) -> float:
    """Shared area where they lie, as a share of both together."""
    return _share(a.polygon, b.polygon)


def _share(a: shapely.Polygon, b: shapely.Polygon) -> float:
    if not a.intersects(b):
        return 0.0
    both = a.union(b).area
    return float(a.intersection(b).area / both) if both else 0.0


def _same_features(
    old: Sequence[Feature], new: Sequence[Feature], shift: Point, tolerance: float
) -> bool:
    """True if every feature is found again with its kind, depth, face and place."""
    if len(old) != len(new):
        return False
    left = list(new)
    for feature in old:
        match = next((other for other in left if _alike(feature, other, shift, tolerance)), None)
        if match is None:
            return False
        left.remove(match)
    return True


def _alike(a: Feature, b: Feature, shift: Point, tolerance: float) -> bool:
    same = (a.kind, a.face) == (b.kind, b.face) and len(a.islands) == len(b.islands)
    return same and all(
        (p is None) == (q is None) and (p is None or q is None or abs(p - q) <= tolerance)
        for p, q in zip(_numbers(a, shift), _numbers(b, (0.0, 0.0)), strict=True)
    )


def _numbers(feature: Feature, shift: Point) -> tuple[float | None, ...]:
    """What fixes a feature's place and size."""
    if feature.ring is not None:
        x1, y1, x2, y2 = feature.ring.bounds
        place = (x1, y1, x2, y2, math.sqrt(abs(feature.ring.signed_area_mm2)))
    elif feature.path:
        xs, ys = zip(*feature.path, strict=True)
        place = (min(xs), min(ys), max(xs), max(ys), float(len(feature.path)))
    else:
        x, y = feature.at or (0.0, 0.0)
        place = (x, y, x, y, 0.0)
    dx, dy = shift
    moved = (place[0] + dx, place[1] + dy, place[2] + dx, place[3] + dy, place[4])
    return (*moved, feature.depth_mm, feature.diameter_mm)
