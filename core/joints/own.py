"""The maker's own tooth: a drawn profile that becomes a style, checked like the others."""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np
import shapely
from shapely.affinity import translate
from shapely.geometry import LineString, Polygon, box

from core.errors import InvalidGeometryError
from core.findings import Finding, Severity
from core.geometry.path import (
    Path,
    clean_path,
    edge_direction,
    edges_of,
    flatten_path,
    moved_path,
    reversed_path,
    round_corners,
)
from core.geometry.ring import Point, Vertex, arc_of
from core.joints.square import rounding_for
from core.joints.style import (
    HOLD_MARGIN_MM,
    RELIEF_NEED,
    JointContext,
    Parameter,
    SeamStyle,
    StyleProperties,
    Tooth,
    glue_per_metre,
)
from core.project.model import StyleChoice
from core.tolerances import SMOOTH_TURN_RAD

_CORNER_RAD = 0.02  # a drawn curve of short chords turns less than this at each vertex
_SAGITTA_MM = 0.05  # hold and neck are judged on a flattened tooth


@dataclass(frozen=True, slots=True)
class OwnProfile:
    """A drawn tooth: an open path of lines and arcs whose two ends lie on the seam.

    points: (x_mm, y_mm, bulge to the next) rows as drawn, in any position and turn.
    """

    name: str
    points: tuple[Vertex, ...]

    def upright(self) -> Path:
        """The profile laid from (0, 0) along +x with the tooth on the +y side.

        Raises InvalidGeometryError if it is closed, flat or crosses itself.
        """
        where = f'tooth "{self.name}"'
        path = clean_path(self.points)
        if len(path) < 2:
            raise InvalidGeometryError("A tooth needs more than one point", where)
        (x1, y1, _), (x2, y2, _) = path[0], path[-1]
        base = math.hypot(x2 - x1, y2 - y1)
        if base < 1.0:
            raise InvalidGeometryError(
                "The tooth is closed: its ends meet", where, "Leave the side at the seam open."
            )
        c, s = (x2 - x1) / base, (y2 - y1) / base
        path = moved_path(tuple((x - x1, y - y1, b) for x, y, b in path), (0.0, 0.0), (c, -s))
        line = LineString(flatten_path(path, _SAGITTA_MM))
        if not line.is_simple:
            raise InvalidGeometryError(
                "The tooth crosses itself", where, "Draw it without a crossing."
            )
        _, low, _, high = line.bounds
        if high - low < 0.5:
            raise InvalidGeometryError("The tooth is flat", where, "Draw it at least 0.5 mm high.")
        if high < -low:
            path = tuple((base - x, -y, b) for x, y, b in reversed_path(path))
        return ((0.0, 0.0, path[0][2]), *path[1:-1], (base, 0.0, 0.0))


def sharp_corners(path: Path) -> list[int]:
    """Indices of vertices where a path, lying on a seam along +x, turns with a corner."""
    edges = edges_of(path)
    directions = [(1.0, 0.0)]
    for edge in edges:
        directions += [edge_direction(*edge, 0.0), edge_direction(*edge, 1.0)]
    directions.append((1.0, 0.0))
    found = []
    for index in range(len(path)):
        (bx, by), (ax, ay) = directions[2 * index], directions[2 * index + 1]
        if abs(math.atan2(bx * ay - by * ax, bx * ax + by * ay)) > _CORNER_RAD:
            found.append(index)
    return found


def _sweep(tooth: Polygon, dx: float, dy: float) -> Polygon:
    ring = np.asarray(tooth.exterior.coords)
    quads = [
        Polygon([a, b, (b[0] + dx, b[1] + dy), (a[0] + dx, a[1] + dy)])
        for a, b in itertools.pairwise(ring)
    ]
    return shapely.union_all([q.buffer(0) for q in quads] + [tooth, translate(tooth, dx, dy)])


@lru_cache(maxsize=64)
def undercut_of(path: Path) -> float:
    """Largest gap in mm at which the tooth still cannot be pulled out in the plane.

    Pulling is tried straight and up to 60° to either side; 0 if it slides out. Found on the
    flattened tooth by simulated pulls, to 0.02 mm.
    """
    points = flatten_path(path, _SAGITTA_MM)
    tooth = Polygon(points).buffer(0)
    x1, _, x2, top = tooth.bounds
    width = x2 - x1
    above = box(x1 - width, 0.0, x2 + width, top + 1.0)
    mate = above.difference(tooth)

    def held(gap_mm: float) -> bool:
        slim = tooth.intersection(above).buffer(-gap_mm / 2)
        wide = mate.buffer(-gap_mm / 2)
        if slim.is_empty or slim.geom_type != "Polygon":
            return False
        for degrees in (0, -15, 15, -30, 30, -45, 45, -60, 60):
            reach = (top + 2.0) / math.cos(math.radians(degrees))
            swept = _sweep(
                slim,
                reach * math.sin(math.radians(degrees)),
                -reach * math.cos(math.radians(degrees)),
            )
            if swept.intersection(wide).area < 1e-3:
                return False
        return True

    if not held(0.01):
        return 0.0
    low, high = 0.01, max(2.0, width)
    while high - low > 0.02:
        middle = (low + high) / 2
        low, high = (middle, high) if held(middle) else (low, middle)
    return low


@lru_cache(maxsize=64)
def narrowest_of(path: Path, pitch_mm: float) -> float:
    """Narrowest board of the tooth, or between two of them pitch_mm apart, mm."""
    tooth = Polygon(flatten_path(path, _SAGITTA_MM)).buffer(0)
    x1, _, x2, top = tooth.bounds
    root = max(pitch_mm, x2 - x1)
    row = [translate(tooth, k * pitch_mm) for k in (-1, 0, 1)]
    foot = box(x1 - 3 * root, -root, x2 + 3 * root, 0.0)
    mine = shapely.union_all([*row, foot])
    theirs = box(x1 - 2 * root, 0.0, x2 + 2 * root, top + root).difference(mine)
    result = math.inf
    for board in (mine, theirs):
        low, high = 0.0, root
        whole = board.area
        while high - low > 0.05:
            middle = (low + high) / 2
            eroded = board.buffer(-middle / 2)
            # Still one piece, and every tooth still in it once it has grown back.
            back = eroded.buffer(middle / 2 + 0.01)
            lost = board.difference(back).buffer(-middle / 8).area
            alone = eroded.geom_type == "Polygon" and not eroded.is_empty
            low, high = (middle, high) if alone and lost < 0.01 * whole else (low, middle)
        result = min(result, low)
    return result


class OwnTooth(SeamStyle):
    """A style made from an OwnProfile."""

    when = "Your own drawn tooth."
    parameters: tuple[Parameter, ...] = (
        Parameter("scale", "Scale", "", "1 = as drawn.", lambda context: 1.0, 0.05, 20.0),
        Parameter(
            "spacing",
            "Between teeth",
            "mm",
            "Seam left between the bases of two teeth.",
            lambda context: max(context.thickness_mm, context.cutter.diameter_mm + 1.0),
            0.0,
            1000.0,
        ),
        Parameter(
            "rounded",
            "Round corners to the bit",
            "",
            "Corners get a radius the bit can reach on both mates.",
            lambda context: 0.0,
            0.0,
            1.0,
            choice=True,
        ),
    )

    def __init__(self, profile: OwnProfile, *, rounded: bool = False) -> None:
        self.profile = profile
        usual = 1.0 if rounded else 0.0
        self.parameters = tuple(
            replace(p, default=lambda context: usual) if p.key == "rounded" else p
            for p in self.parameters
        )
        self.name = f"own:{profile.name}"
        self.title = profile.name
        self._upright = profile.upright()

    def tooth(self, choice: StyleChoice, context: JointContext) -> Tooth:
        made = self.shape(choice, context)
        return replace(made, undercut_mm=undercut_of(_as_rounded(made.path, made.radii_mm)))

    def shape(self, choice: StyleChoice, context: JointContext) -> Tooth:
        """The tooth without its hold, which takes simulated pulls to find."""
        v = self.values(choice, context)
        path = tuple((x * v["scale"], y * v["scale"], b) for x, y, b in self._upright)
        edges = len(path) - 1
        radii = [0.0] * len(path)
        if v["rounded"]:
            for index in sharp_corners(path):
                radii[index] = rounding_for(context)
        points = flatten_path(path, _SAGITTA_MM)
        low, high = float(points[:, 0].min()), float(points[:, 0].max())
        base = path[-1][0]
        head = 2 * max(base / 2 - low, high - base / 2)
        overhang = max(0.0, head - base)
        spacing = max(v["spacing"], overhang + context.cutter.diameter_mm + 1.0 if overhang else 0)
        return Tooth(
            path=path,
            left_shift=(0.5,) * edges,
            right_shift=(0.5,) * edges,
            radii_mm=tuple(radii),
            base_shift=0.5,
            pitch_mm=base + spacing,
            head_mm=head,
            neck_mm=base,
        )

    def properties(self, choice: StyleChoice, context: JointContext) -> StyleProperties:
        tooth = self.tooth(choice, context)
        corners = sharp_corners(tooth.path)
        rounded = bool(self.values(choice, context)["rounded"])
        radius = smallest_arc(tooth.path) - context.gap_mm / 2
        if corners:
            radius = context.cutter.radius_mm + BIT_SLACK if rounded else 0.0
        glue = glue_per_metre(tooth)
        holds = tooth.undercut_mm > context.gap_mm + HOLD_MARGIN_MM
        needs = []
        if corners and not rounded:
            needs.append(RELIEF_NEED)
        return StyleProperties(
            holds=holds,
            inside_radius_mm=radius,
            needs_relief=bool(corners) and not rounded,
            glue_length_per_m_mm=glue,
            glue_area_per_m_mm2=glue * context.thickness_mm,
            closing_mm=context.gap_mm,
            mating="drops in from the face" if tooth.undercut_mm > 0 else "slides together flat",
            needs=tuple(needs),
            narrowest_mm=narrowest_of(_as_rounded(tooth.path, tooth.radii_mm), tooth.pitch_mm)
            - context.gap_mm,
        )

    def check(self, choice: StyleChoice, context: JointContext) -> tuple[Finding, ...]:
        """What speaks against this tooth in this board with this bit."""
        found: list[Finding] = []
        tooth = self.tooth(choice, context)
        properties = self.properties(choice, context)
        least = context.cutter.radius_mm + context.gap_mm / 2
        for start, end, bulge in edges_of(tooth.path):
            if bulge == 0.0:
                continue
            radius = arc_of(start, end, bulge)[1]
            if radius < least:
                found.append(
                    Finding(
                        "tooth-arc-too-tight",
                        Severity.STOP,
                        f'"{self.title}" has an arc of radius {radius:.2f} mm; the '
                        f"{context.cutter.diameter_mm:g} mm bit needs {least:.2f} mm on both mates",
                        at=start,
                        remedy="Enlarge the tooth or take a thinner bit.",
                    )
                )
        if properties.needs_relief:
            found.append(
                Finding(
                    "tooth-has-corners",
                    Severity.NOTE,
                    f'"{self.title}" has {len(sharp_corners(tooth.path))} corners the bit cannot '
                    "cut sharp; they get relief",
                    remedy="Round them to the bit.",
                    fix="round-to-bit",
                )
            )
        if not properties.holds:
            found.append(
                Finding(
                    "tooth-does-not-hold",
                    Severity.NOTE,
                    f'"{self.title}" can be pulled apart in the plane of the board: its undercut '
                    f"is {tooth.undercut_mm:.2f} mm",
                    remedy="Glue it, or draw the head wider than the neck.",
                )
            )
        neck = properties.narrowest_mm or 0.0
        if neck < context.cutter.diameter_mm:
            found.append(
                Finding(
                    "tooth-neck-narrow",
                    Severity.WARN,
                    f'The narrowest place of "{self.title}" is {neck:.1f} mm, less than the bit',
                    remedy="Draw the neck wider, or space the teeth further apart.",
                )
            )
        return tuple(found)

    def joint_length_needed_mm(self, choice: StyleChoice, context: JointContext) -> float:
        """Shortest joint length that takes one tooth, mm."""
        tooth = self.tooth(choice, context)
        margin = max(context.cutter.diameter_mm, context.thickness_mm / 2)
        return max(tooth.head_mm, tooth.base_mm) + 2 * margin


def _as_rounded(path: Path, radii_mm: Sequence[float]) -> Path:
    """The tooth with its corners rounded, those at the seam too; its ends lie on the seam.

    Raises InvalidGeometryError if a rounding does not fit.
    """
    if not any(radii_mm):
        return path
    far = path[-1][0] + 4.0 * max(radii_mm) + 1.0
    # A plain stretch of seam on both sides lets the corners at the seam be rounded as well.
    longer = ((-far, 0.0, 0.0), *path[:-1], (*path[-1][:2], 0.0), (path[-1][0] + far, 0.0, 0.0))
    return round_corners(longer, [0.0, *radii_mm, 0.0])[1:-1]


BIT_SLACK = SMOOTH_TURN_RAD  # rounded corners are reported with the bit's radius or more


def smallest_arc(path: Path) -> float:
    """Radius of the tightest arc of a path, infinite if it has none, mm."""
    radii = [arc_of(a, b, bulge)[1] for a, b, bulge in edges_of(path) if bulge]
    return min(radii, default=math.inf)


def tooth_from_points(name: str, points: tuple[Point, ...] | tuple[Vertex, ...]) -> OwnProfile:
    """An OwnProfile from (x, y) or (x, y, bulge) rows in mm, checked.

    Raises InvalidGeometryError as OwnProfile.upright does.
    """
    rows = tuple((p[0], p[1], p[2] if len(p) > 2 else 0.0) for p in points)
    profile = OwnProfile(name, rows)
    profile.upright()
    return profile
