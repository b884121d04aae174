"""A tooth read from a drawing, and what a maker asks of it before it is used."""

from __future__ import annotations

import itertools
import math
import os
from dataclasses import dataclass, replace
from pathlib import Path

import shapely

from core.errors import InvalidGeometryError, SeamwrightError
from core.findings import Finding, Severity
from core.geometry.path import flatten_path
from core.geometry.ring import Vertex
from core.joints.own import OwnProfile, OwnTooth, sharp_corners, smallest_arc
from core.joints.profile import JointProfile, ToothPlace, build_profile
from core.joints.style import JointContext
from core.outlines.open_paths import read_open_paths
from core.project.model import ReliefKind, StyleChoice
from core.shop import ToothDrawing
from core.tolerances import BIT_ROOM_MM

_SAME_MM = 0.05  # ends this near are one point: the line is closed


def read_tooth(path: str | os.PathLike[str], units: str | None = None) -> ToothDrawing:
    """The tooth drawn in a DXF or SVG file, in mm, named after the file.

    The longest line of the drawing that is a tooth is taken: an open line whose ends lie on the
    seam. Of a closed outline the lowest straight side with all else on one side is the seam.
    The tooth is laid from (0, 0) along +x.

    Raises UnreadableDrawing, BadLengthError for an unknown unit, InvalidGeometryError if no
    line of the drawing is a tooth.
    """
    name = Path(path).stem or "tooth"
    problem: InvalidGeometryError | None = None
    for rows, closed in read_open_paths(path, units):
        try:
            opened = _opened(rows, closed, name)
            return ToothDrawing(name, tuple(OwnProfile(name, opened).upright()))
        except InvalidGeometryError as error:
            problem = problem or error
    assert problem is not None
    raise problem


def _opened(rows: tuple[Vertex, ...], closed: bool, name: str) -> tuple[Vertex, ...]:
    """The line without the side that lies along the seam, if it is closed."""
    ends_meet = math.dist(rows[0][:2], rows[-1][:2]) <= _SAME_MM
    if not closed and not ends_meet:
        return rows
    if ends_meet and len(rows) > 2:
        rows = rows[:-1]
    count = len(rows)
    ring = [*rows, rows[0]]
    points = shapely.points(flatten_path(tuple(ring), 0.05))
    best: tuple[float, int] | None = None
    for k, (a, b) in enumerate(itertools.pairwise(ring)):
        length = math.dist(a[:2], b[:2])
        if a[2] or length < 1.0:
            continue
        ux, uy = (b[0] - a[0]) / length, (b[1] - a[1]) / length
        coordinates = shapely.get_coordinates(points)
        sides = (coordinates[:, 0] - a[0]) * -uy + (coordinates[:, 1] - a[1]) * ux
        one_sided = sides.min() > -_SAME_MM or sides.max() < _SAME_MM
        height = (a[1] + b[1]) / 2
        if one_sided and (best is None or height < best[0]):
            best = (height, k)
    if best is None:
        raise InvalidGeometryError(
            "The tooth is closed and has no straight side to lie on the seam",
            f'tooth "{name}"',
            "Leave the side at the seam open.",
        )
    k = best[1]
    opened = [ring[(k + 1 + i) % count] for i in range(count)]
    x, y, _ = opened[-1]
    return (*opened[:-1], (x, y, 0.0))


@dataclass(frozen=True)
class ToothReport:
    """What a drawn tooth is like in this board with this bit.

    problem: why it is no tooth at all, "" if it is one. radius_mm: smallest inside radius on
    either mate, 0 for sharp corners. needed_mm: shortest joint length that takes one tooth.
    """

    problem: str = ""
    findings: tuple[Finding, ...] = ()
    radius_mm: float = 0.0
    corners: int = 0
    undercut_mm: float = 0.0
    holds: bool = False
    narrowest_mm: float = 0.0
    needed_mm: float = 0.0
    pitch_mm: float = 0.0

    @property
    def ok(self) -> bool:
        """True if it can be used as a seam style."""
        return not self.problem and all(f.severity is not Severity.STOP for f in self.findings)


def report_on(drawing: ToothDrawing, context: JointContext) -> ToothReport:
    """Check a drawn tooth as the styles that come with the program are checked."""
    try:
        style = OwnTooth(OwnProfile(drawing.name, drawing.points), rounded=drawing.rounded)
        choice = StyleChoice(style.name)
        tooth = style.tooth(choice, context)
        properties = style.properties(choice, context)
        findings = style.check(choice, context)
    except SeamwrightError as error:
        return ToothReport(problem=f"{error.what}. {error.remedy}".strip())
    except shapely.errors.GEOSException:
        return ToothReport(problem="Its line touches itself. Draw it without touching.")
    try:
        row_of_teeth(drawing, context)
    except SeamwrightError as error:
        findings = (
            *findings,
            Finding("tooth-cannot-be-cut", Severity.STOP, error.what, remedy=error.remedy),
        )
    return ToothReport(
        findings=findings,
        radius_mm=properties.inside_radius_mm,
        corners=len(sharp_corners(tooth.path)),
        undercut_mm=tooth.undercut_mm,
        holds=properties.holds,
        narrowest_mm=properties.narrowest_mm or 0.0,
        needed_mm=style.joint_length_needed_mm(choice, context),
        pitch_mm=tooth.pitch_mm,
    )


def suited_to(drawing: ToothDrawing, context: JointContext) -> ToothDrawing:
    """The drawing made to suit the bit: corners rounded, enlarged until the bit can cut it.

    It is enlarged as a whole, so its shape stays: until its tightest arc takes the bit and its
    roundings have room. Raises InvalidGeometryError if it is no tooth, or six times the size
    would not do.
    """
    path = OwnProfile(drawing.name, drawing.points).upright()
    least = context.cutter.radius_mm + context.gap_mm / 2 + BIT_ROOM_MM
    times = max(1.0, least / smallest_arc(path))
    while True:
        rows = tuple((x * times, y * times, b) for x, y, b in drawing.points)
        suited = replace(drawing, points=rows, rounded=bool(sharp_corners(path)))
        try:
            row_of_teeth(suited, context)
            style = OwnTooth(OwnProfile(suited.name, suited.points), rounded=suited.rounded)
            style.tooth(StyleChoice(style.name), context)
        except InvalidGeometryError:
            times *= 1.05
            if times > 6.0:
                raise
            continue
        return suited


def row_of_teeth(drawing: ToothDrawing, context: JointContext, count: int = 3) -> JointProfile:
    """So many teeth on a straight seam along +x, the middle one standing at (0, 0).

    Both mates' edges with fit and relief, as they would be cut. Raises InvalidGeometryError.
    """
    style = OwnTooth(OwnProfile(drawing.name, drawing.points), rounded=drawing.rounded)
    tooth = style.shape(StyleChoice(style.name), context)
    around = tooth.pitch_mm * (count // 2 + 1)
    base = ((-around, 0.0, 0.0), (tooth.base_mm + around, 0.0, 0.0))
    places = [ToothPlace(around + tooth.pitch_mm * (k - count // 2)) for k in range(count)]
    return build_profile(
        base,
        0.0,
        tooth.base_mm + 2 * around,
        tooth,
        places,
        gap_mm=context.gap_mm,
        radius_mm=context.cutter.radius_mm,
        relief=ReliefKind.DOG_BONE,
    )
