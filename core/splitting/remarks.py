"""What speaks against where seams run: marks, features, supports, tips that break off."""

from __future__ import annotations

import math
from collections.abc import Sequence

import shapely
from shapely.geometry import LineString, Polygon
from shapely.geometry.base import BaseGeometry

from core.cutting import drilled_holes
from core.errors import InvalidGeometryError
from core.findings import Finding, Severity
from core.geometry import Point, Region
from core.geometry.path import (
    Path,
    at_station,
    edge_direction,
    edges_of,
    flatten_path,
    path_length,
    sub_path,
)
from core.project.model import Panel
from core.shop import Cutter
from core.splitting.laying import JointLength, SeamLayout
from core.splitting.lines import (
    ReadySeam,
)
from core.splitting.placing import margin_of, room_of

FEATHER_DEG = 25.0  # a seam meeting an edge flatter than this leaves a tip that breaks off
ALONG_EDGE_DEG = 3.0  # flatter still, it runs along the edge and parts nothing cleanly


def hole_notes(panel: Panel, region: Region, cutter: Cutter) -> list[Finding]:
    """Notes on round holes that are drilled because the bit is thicker."""
    return [
        Finding(
            "hole-becomes-drill",
            Severity.NOTE,
            f"A round hole of {drill.diameter_mm:.2f} mm is thinner than the "
            f"{cutter.diameter_mm:g} mm bit and is drilled instead",
            panel=panel.id,
            at=drill.at,
            remedy="Drill it to size, or cut it with a thinner bit.",
        )
        for drill in drilled_holes(region, cutter)[1]
    ]


def line_findings(
    panel: Panel, ready: Sequence[ReadySeam], layout: SeamLayout, shapes: Sequence[BaseGeometry]
) -> list[Finding]:
    """What speaks against where the seams run."""
    found: list[Finding] = []
    for joint in layout.joints:
        seam = ready[joint.line]
        path = sub_path(seam.base, *joint.span)
        line = LineString(flatten_path(path))
        middle = at_station(path, path_length(path) / 2)[0]
        for mark in panel.marks:
            if mark.kind != "never" or not mark.points:
                continue
            shape = _mark_shape(mark.points)
            reach = _swept(seam, joint, path)
            if reach.intersects(shape):
                found.append(
                    Finding(
                        "seam-crosses-mark",
                        Severity.STOP,
                        "A seam crosses a place marked never to be crossed"
                        + (f" ({mark.note})" if mark.note else ""),
                        at=middle,
                        remedy="Move the seam, or remove the mark.",
                    )
                )
        for feature, shape in zip(panel.features, shapes, strict=True):
            if line.intersects(shape):
                spot = line.intersection(shape).representative_point()
                found.append(
                    Finding(
                        "seam-crosses-feature",
                        Severity.WARN,
                        f"A seam crosses a feature ({feature.kind.value}); it is cut in two",
                        at=(spot.x, spot.y),
                        remedy="Move the seam beside it.",
                    )
                )
        if room_of(seam) is not None and not joint.middles:
            what = "key" if seam.keys is not None else "tooth"
            need = seam.tooth.base_mm if seam.tooth is not None else 0.0
            need += 2 * margin_of(seam)
            found.append(
                Finding(
                    "joint-has-no-tooth",
                    Severity.WARN,
                    f"A joint length of {joint.span[1] - joint.span[0]:.0f} mm is too short or "
                    f"too crowded for a {what}; it stays plain",
                    at=middle,
                    remedy=f"Leave {need:.0f} mm of plain board, take smaller teeth or a key.",
                )
            )
        supports = [m for m in panel.marks if m.kind == "support" and m.points]
        if supports and not any(
            line.distance(_mark_shape(m.points)) <= panel_support_reach(seam) for m in supports
        ):
            found.append(
                Finding(
                    "seam-unsupported",
                    Severity.WARN,
                    "A seam lies away from every marked support",
                    at=middle,
                    remedy="Put a batten below it, choose the half-lap, or move it to a support.",
                )
            )
    found.extend(_feather_findings(layout))
    return found


def panel_support_reach(seam: ReadySeam) -> float:
    """How near a support must be to carry a seam: three board thicknesses (common practice)."""
    return 3.0 * seam.context.thickness_mm


def _mark_shape(points: Sequence[Point]) -> BaseGeometry:
    if len(points) == 1:
        return shapely.Point(points[0])
    if len(points) == 2:
        return LineString(points)
    return Polygon(points).buffer(0)


def _swept(seam: ReadySeam, joint: JointLength, path: Path) -> BaseGeometry:
    shape: BaseGeometry = LineString(flatten_path(path))
    if joint.profile is not None:
        shape = shape.union(LineString(flatten_path(joint.profile.middle)))
    if seam.lap is not None:
        shape = shape.buffer(seam.lap.lap_mm / 2, cap_style="flat")
    return shape


def _feather_findings(layout: SeamLayout) -> list[Finding]:
    """Nodes where two edges of a piece meet so sharply that the tip will break."""
    found: list[Finding] = []
    for face in layout.faces:
        for loop in (face.outer, *face.holes):
            for k, walk in enumerate(loop):
                before = loop[k - 1]
                if walk.seam is None and before.seam is None:
                    continue
                bx, by = edge_direction(*edges_of(before.path)[-1], 1.0)
                ax, ay = edge_direction(*edges_of(walk.path)[0], 0.0)
                inner = math.pi - math.atan2(bx * ay - by * ax, bx * ax + by * ay)
                degrees = math.degrees(inner)
                at = layout.nodes.places[walk.start]
                if degrees < ALONG_EDGE_DEG:
                    raise InvalidGeometryError(
                        "A seam runs into an edge along it, almost parallel",
                        f"({at[0]:.0f}, {at[1]:.0f})",
                        "Turn the seam so that it meets the edge more squarely.",
                    )
                if degrees < FEATHER_DEG:
                    found.append(
                        Finding(
                            "feather-tip",
                            Severity.WARN,
                            f"A piece ends in a {degrees:.0f}° tip that will break off",
                            at=at,
                            remedy="Bend the seam so that it meets the edge squarely.",
                        )
                    )
    return found
