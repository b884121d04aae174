"""Drawings checked from the outside, whatever their version: edges as another program meets them.

Nothing of the writer is imported here; the files are read with ezdxf alone.
"""

from __future__ import annotations

import io
import math
from collections.abc import Iterator
from functools import lru_cache
from typing import Any

from ezdxf import recover
from ezdxf.audit import Auditor
from ezdxf.document import Drawing

#: Shorter is no edge to a toolpath program.
LEAST_EDGE_MM = 1e-3
SAME_MM = 1e-3

Edge = tuple[str, tuple[float, float], tuple[float, float], float]


@lru_cache(maxsize=1)  # several questions are asked of one file, and then none again
def _read(data: bytes) -> tuple[Drawing, Auditor]:
    return recover.read(io.BytesIO(data))


def edges(data: bytes) -> Iterator[Edge]:
    """Layer, ends and bulge of every edge of every line in a drawing."""
    doc, auditor = _read(data)
    assert not auditor.errors and not auditor.fixes
    assert not doc.audit().errors
    for entity in doc.modelspace():
        rows, closed = _vertices(entity)
        for i in range(len(rows) if closed else len(rows) - 1):
            (x1, y1, bulge), (x2, y2, _) = rows[i], rows[(i + 1) % len(rows)]
            yield entity.dxf.layer, (x1, y1), (x2, y2), bulge


def _vertices(entity: Any) -> tuple[list[tuple[float, float, float]], bool]:
    if entity.dxftype() == "LWPOLYLINE":
        return [tuple(map(float, row)) for row in entity.get_points("xyb")], entity.closed
    if entity.dxftype() == "POLYLINE":
        rows = [(*v.dxf.location.vec2, v.dxf.get("bulge", 0.0)) for v in entity.vertices]
        return rows, entity.is_closed
    assert entity.dxftype() in ("CIRCLE", "POINT", "TEXT"), entity.dxftype()
    return [], False


def flaws(data: bytes) -> list[str]:
    """Edges without length, edges drawn twice on one layer, arcs beyond a half circle.

    Twice is told from the ends alone, arcs and lines together, as the strictest reader does.
    """
    wrong = []
    seen: set[tuple[object, ...]] = set()
    for layer, start, end, bulge in edges(data):
        if math.dist(start, end) < LEAST_EDGE_MM:
            wrong.append(f"{layer}: no length at {start}")
        if abs(bulge) > 1.0 + 1e-6:
            wrong.append(f"{layer}: arc beyond a half circle at {start}")
        ends = sorted((round(x / SAME_MM), round(y / SAME_MM)) for x, y in (start, end))
        key = (layer, *ends)
        if key in seen:
            wrong.append(f"{layer}: {start} to {end} is drawn twice")
        seen.add(key)
    return wrong


def version_of(data: bytes) -> str:
    """The version a file says it has, as the maker chooses it."""
    doc, _ = _read(data)
    return str(doc.acad_release)
