"""Pieces and sheets made ready for the search: shapes, poses, rooms.

Every distinct outline is one *shape*, centred on its bounding box so that no drawing origin,
however far, costs precision. A *pose* is a shape mirrored or not at one turn; poses of a piece
that cover the same ground (a rectangle at 0° and 180°) are kept once. A position is that of the
shape's centre. Spacing is given to the shapes: each grows by half of it, with mitres that
always contain the rounded corner, so two grown shapes that touch are spaced.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import affinity
from shapely.geometry.base import BaseGeometry

from core import tolerances
from core.nesting.model import NestPiece, NestRules, NestSheet, Placement, cos_sin
from core.nesting.proof import sheet_room, sound, without_holes

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
_FEW_VERTICES = 32  # up to here a corner may cost two vertices to follow the arc more closely


@dataclass(slots=True)
class Pose:
    """A shape at one turn. bounds: of the outline; grown_bounds: with half the spacing."""

    index: int
    variant: int
    turn_deg: float
    mirrored: bool
    polygon: BaseGeometry
    grown: BaseGeometry
    bounds: tuple[float, float, float, float]
    grown_bounds: tuple[float, float, float, float]
    offset: tuple[float, float]  # what the drawing's own origin adds: x_mm = centre x - offset[0]


@dataclass(slots=True)
class Kind:
    """One NestPiece ready to place. problem: why it can never be placed, or ""."""

    piece: NestPiece
    area: float
    poses: list[Pose]
    problem: str = ""


@dataclass(slots=True)
class Stock:
    """One NestSheet ready to fill. room: where outlines may lie; bounds: of the room.

    plain: the room is the whole rectangle of its bounds.
    """

    sheet: NestSheet
    room: BaseGeometry
    bounds: tuple[float, float, float, float]
    plain: bool
    area: float
    cost: float
    quantity: int | None


@dataclass(slots=True)
class Job:
    """All of a request made ready."""

    kinds: list[Kind]
    stocks: list[Stock]
    rules: NestRules
    variants: list[BaseGeometry]  # grown outlines at turn 0, mirrored ones included
    raw_variants: list[BaseGeometry]
    poses: list[Pose]
    grow_mm: float = 0.0
    kind_by_id: dict[str, int] = field(default_factory=dict)
    stock_by_id: dict[str, int] = field(default_factory=dict)
    searched: dict[tuple[int, float, bool], Any] = field(default_factory=dict)  # kept by tables.py


def prepare(
    pieces: Sequence[NestPiece],
    sheets: Sequence[NestSheet],
    rules: NestRules,
    *,
    lying: Collection[str] = (),
) -> Job:
    """Make a checked request ready. Pieces without an area get a problem, not an error.

    lying: pieces with a copy placed already; one that has not a hair to spare there is none that
    fits nowhere.
    """
    job = Job([], [], rules, [], [], [])
    shapes: dict[bytes, int] = {}
    poses: dict[tuple[int, float], Pose] = {}
    job.grow_mm = grown_by(rules, [piece.polygon for piece in pieces])
    for piece in pieces:
        job.kind_by_id[piece.id] = len(job.kinds)
        job.kinds.append(_kind(job, shapes, poses, piece, job.grow_mm))
    for sheet in sheets:
        job.stock_by_id[sheet.id] = len(job.stocks)
        hair = rules.spacing_mm / 2 - job.grow_mm
        job.stocks.append(_stock(sheet, rules, 4 * hair))
    for kind in job.kinds:
        if kind.piece.id in lying:
            continue
        if not kind.problem and not any(_fits_bounds(kind, stock) for stock in job.stocks):
            kind.problem = _too_large(kind, job.stocks)
    return job


def grown_by(rules: NestRules, polygons: Sequence[BaseGeometry]) -> float:
    """How far outlines grow: half the spacing less a hair, so exact fits stay open.

    Without spacing the outline shrinks by the hair: a millionth part of the smallest piece.
    """
    areas = [p.area for p in polygons if 0 < p.area < math.inf]
    hair = tolerances.NEST_HAIR_REL * math.sqrt(min(areas, default=1.0))
    if rules.spacing_mm > 0:
        hair = max(hair, min(tolerances.NEST_HAIR_MM, rules.spacing_mm / 4))
    return rules.spacing_mm / 2 - hair


def grow(polygon: BaseGeometry, by_mm: float) -> BaseGeometry:
    """The outline moved outwards (inwards if negative); contains the rounded offset."""
    if by_mm == 0:
        return polygon
    few = shapely.get_num_coordinates(polygon) <= _FEW_VERTICES
    grown = polygon.buffer(by_mm, join_style="mitre", mitre_limit=1.06 if few else 1.42)
    if by_mm < 0:
        grown = polygon.buffer(by_mm, join_style="mitre", mitre_limit=5.0)
    return polygon if grown.is_empty else grown


def _kind(
    job: Job,
    shapes: dict[bytes, int],
    poses: dict[tuple[int, float], Pose],
    piece: NestPiece,
    grow_mm: float,
) -> Kind:
    bounds = piece.polygon.bounds
    if piece.polygon.is_empty or not np.isfinite(shapely.get_coordinates(piece.polygon)).all():
        return Kind(piece, 0.0, [], "The outline is empty or not finite")
    polygon = sound(piece.polygon)
    if not polygon.area > tolerances.NEST_SMALLEST_AREA_MM2:
        return Kind(piece, 0.0, [], "The outline has no area")
    solid = polygon if job.rules.use_holes else without_holes(polygon)
    centre = ((bounds[0] + bounds[2]) / 2, (bounds[1] + bounds[3]) / 2)
    base = affinity.translate(solid, -centre[0], -centre[1])
    base = shapely.remove_repeated_points(base, tolerances.SAME_POINT_MM)
    if not base.is_valid or base.is_empty:
        base = affinity.translate(solid, -centre[0], -centre[1])
    kind = Kind(piece, float(polygon.area), [])
    seen: set[bytes] = set()
    for mirrored in (False, True) if piece.may_mirror else (False,):
        flipped = affinity.scale(base, -1, 1, origin=(0, 0)) if mirrored else base
        variant = _variant(job, shapes, flipped, grow_mm)
        for turn in turns_of(piece, flipped):
            pose = poses.get((variant, turn % 360))
            if pose is None:
                pose = _pose(job, variant, turn, mirrored)
            own = _own_pose(pose, turn, mirrored, centre)
            covers = _ground(pose.polygon)
            if covers in seen:
                continue
            seen.add(covers)
            poses[(variant, turn % 360)] = pose
            kind.poses.append(own)
    return kind


def turns_of(piece: NestPiece, base: BaseGeometry) -> tuple[float, ...]:
    """The turns tried: those allowed; for any angle the right angles and the tight ones.

    Tight: the least rectangle around the outline is square to the sheet.
    """
    if piece.turns_deg is not None:
        return tuple(dict.fromkeys(float(turn) % 360 for turn in piece.turns_deg))
    turns = [0.0, 90.0, 180.0, 270.0]
    around = shapely.minimum_rotated_rectangle(base)
    if around.geom_type == "Polygon":
        xs, ys = around.exterior.xy
        lean = math.degrees(math.atan2(ys[1] - ys[0], xs[1] - xs[0])) % 90
        if min(lean, 90 - lean) > 0.5:
            turns += [(quarter - lean) % 360 for quarter in (0.0, 90.0, 180.0, 270.0)]
    return tuple(turns)


def _variant(job: Job, shapes: dict[bytes, int], polygon: BaseGeometry, grow_mm: float) -> int:
    key = _ground(polygon)
    if key not in shapes:
        shapes[key] = len(job.variants)
        job.variants.append(grow(polygon, grow_mm))
        job.raw_variants.append(polygon)
    return shapes[key]


def _pose(job: Job, variant: int, turn: float, mirrored: bool) -> Pose:
    cos, sin = cos_sin(turn)
    matrix = (cos, -sin, sin, cos, 0.0, 0.0)
    polygon = affinity.affine_transform(job.raw_variants[variant], matrix)
    grown = affinity.affine_transform(job.variants[variant], matrix)
    pose = Pose(
        len(job.poses), variant, turn, mirrored, polygon, grown, polygon.bounds, grown.bounds,
        (0.0, 0.0),
    )  # fmt: skip
    job.poses.append(pose)
    return pose


def _own_pose(pose: Pose, turn: float, mirrored: bool, centre: tuple[float, float]) -> Pose:
    """The pose for one piece: shapes are shared, the drawing's origin is the piece's own."""
    cos, sin = cos_sin(turn)
    x = -centre[0] if mirrored else centre[0]
    offset = (cos * x - sin * centre[1], sin * x + cos * centre[1])
    return Pose(
        pose.index, pose.variant, turn, mirrored, pose.polygon, pose.grown, pose.bounds,
        pose.grown_bounds, offset,
    )  # fmt: skip


def _ground(polygon: BaseGeometry) -> bytes:
    """A key equal for outlines that cover the same ground, whatever vertex they start at."""
    rounded = shapely.transform(polygon, lambda xy: np.round(xy, 6) + 0.0)
    return shapely.to_wkb(shapely.normalize(rounded))


def _stock(sheet: NestSheet, rules: NestRules, clear_mm: float) -> Stock:
    room = sheet_room(sheet, rules.edge_margin_mm, clear_mm)
    bounds = room.bounds if not room.is_empty else (0.0, 0.0, 0.0, 0.0)
    box_area = (bounds[2] - bounds[0]) * (bounds[3] - bounds[1])
    plain = room.area >= box_area * (1 - 1e-12) and not room.is_empty
    return Stock(sheet, room, bounds, plain, float(room.area), sheet.cost_of_one, sheet.quantity)


def _fits_bounds(kind: Kind, stock: Stock) -> bool:
    slack = tolerances.LAYOUT_DISTANCE_MM / 2
    width = stock.bounds[2] - stock.bounds[0] + slack
    height = stock.bounds[3] - stock.bounds[1] + slack
    if stock.area + slack * (width + height) < kind.area:
        return False
    return any(
        pose.bounds[2] - pose.bounds[0] <= width and pose.bounds[3] - pose.bounds[1] <= height
        for pose in kind.poses
    )


def _too_large(kind: Kind, stocks: list[Stock]) -> str:
    if not stocks:
        return "There is no sheet"
    pose = kind.poses[0]
    width, height = pose.bounds[2] - pose.bounds[0], pose.bounds[3] - pose.bounds[1]
    return (
        f"The piece ({width:.1f} × {height:.1f} mm) is larger than every sheet less its margin, "
        "in every turn allowed"
    )


def pose_of(job: Job, kind: Kind, placement: Placement) -> Pose:
    """The kind's pose of a placement; made, if its turn is not among those tried."""
    for pose in kind.poses:
        if pose.mirrored == placement.mirrored:
            off = abs((pose.turn_deg - placement.turn_deg + 180) % 360 - 180)
            if off <= tolerances.LAYOUT_TURN_DEG:
                return pose
    solid = sound(kind.piece.polygon)
    solid = solid if job.rules.use_holes else without_holes(solid)
    bounds = kind.piece.polygon.bounds
    centre = ((bounds[0] + bounds[2]) / 2, (bounds[1] + bounds[3]) / 2)
    base = affinity.translate(solid, -centre[0], -centre[1])
    if placement.mirrored:
        base = affinity.scale(base, -1, 1, origin=(0, 0))
    key = _ground(base)
    variant = next((i for i, one in enumerate(job.raw_variants) if _ground(one) == key), -1)
    if variant < 0:
        variant = len(job.variants)
        job.raw_variants.append(base)
        job.variants.append(grow(base, job.grow_mm))
    pose = _pose(job, variant, placement.turn_deg % 360, placement.mirrored)
    return _own_pose(pose, placement.turn_deg, placement.mirrored, centre)


def placement_of(
    job: Job, kind: Kind, pose: Pose, copy: int, stock: int, sheet_copy: int, x: float, y: float
) -> Placement:
    """A placement from the position of the shape's centre, mm in sheet coordinates."""
    return Placement(
        kind.piece.id, copy, job.stocks[stock].sheet.id, sheet_copy,
        float(x - pose.offset[0]), float(y - pose.offset[1]), pose.turn_deg, pose.mirrored,
    )  # fmt: skip


def rings_of(polygon: BaseGeometry) -> tuple[Floats, Ints]:
    """Vertices (n, 2) of all rings one after another and where each ring starts (r + 1,)."""
    rings = shapely.get_rings(shapely.get_parts(polygon))
    coords, index = shapely.get_coordinates(rings, return_index=True)
    starts = np.zeros(len(rings) + 1, dtype=np.int64)
    np.cumsum(np.bincount(index, minlength=len(rings)), out=starts[1:])
    return np.ascontiguousarray(coords), starts
