"""How long a drag step, a zoom step and building the scene take. Run by hand:

    python tests/benchmarks/canvas.py [pieces] [vertices]

The goal is under 8 ms per drag step with 200 pieces of 200 vertices.
"""

from __future__ import annotations

import math
import os
import random
import sys
import time

import numpy as np
import shapely
from shapely.geometry import Polygon, box

os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")

from app.canvas.contact import Kind, Mover, Obstacle, warm


def wavy(x_mm: float, y_mm: float, vertices: int, seed: int) -> Polygon:
    """A wavy piece about 110 mm across with its middle at (x, y)."""
    rng = random.Random(seed)
    lobes, deep = rng.randint(3, 9), rng.uniform(0.05, 0.2)
    turn = rng.uniform(0, math.tau)
    angles = np.linspace(0, math.tau, vertices, endpoint=False)
    radius = 48 * (1 + deep * np.sin(lobes * angles + turn))
    return Polygon(
        np.column_stack([x_mm + radius * np.cos(angles), y_mm + radius * np.sin(angles)])
    )


def crowd(pieces: int, vertices: int) -> list[Polygon]:
    """Pieces in rows, none nearer than a few millimetres to the next."""
    columns = math.ceil(math.sqrt(pieces * 2))
    return [
        wavy(90 + 128 * (i % columns), 90 + 128 * (i // columns), vertices, i)
        for i in range(pieces)
    ]


def report(name: str, times: list[float]) -> None:
    ms = np.array(times) * 1000
    print(
        f"{name:34s} median {np.median(ms):6.2f}   95 % {np.percentile(ms, 95):6.2f}"
        f"   worst {ms.max():6.2f} ms"
    )


def drag(pieces: int, vertices: int) -> None:
    """A hand that pulls one piece all over a crowded sheet, in steps of a fast mouse."""
    shapes = crowd(pieces, vertices)
    width = max(s.bounds[2] for s in shapes) + 400
    height = max(s.bounds[3] for s in shapes) + 60
    sheet = Obstacle("sheet", box(0, 0, width, height), 10, Kind.EDGE)
    others = [Obstacle(str(i), s, 8) for i, s in enumerate(shapes)]
    start = time.perf_counter()
    mover = Mover([wavy(width - 130, height / 2, vertices, 7)], [sheet, *others])
    print(f"lift a piece: {(time.perf_counter() - start) * 1000:.1f} ms")
    rng = random.Random(3)
    x = y = 0.0
    gx, gy = -width / 2, 0.0
    times: list[float] = []
    held = 0
    union = shapely.STRtree(shapes)
    worst = math.inf
    for i in range(1500):
        if i % 40 == 0:
            gx, gy = rng.uniform(-width, 100), rng.uniform(-height / 2, height / 2)
        way = math.hypot(gx - x, gy - y) or 1.0
        stride = min(rng.uniform(2, 60), way)
        x, y = x + (gx - x) / way * stride, y + (gy - y) / way * stride
        begin = time.perf_counter()
        outcome = mover.move(x, y, snap_mm=6)
        times.append(time.perf_counter() - begin)
        held += outcome.held
        if outcome.legal:
            laid = shapely.affinity.translate(mover._polygons[0], outcome.dx_mm, outcome.dy_mm)
            near = union.query(laid.buffer(9))
            worst = min([worst, *(laid.distance(shapes[k]) for k in near)])
    report(f"drag step, {pieces} × {vertices} vertices", times)
    print(f"  held back in {held} of 1500 steps; least distance kept {worst:.5f} of 8 mm")


def main() -> None:
    pieces = int(sys.argv[1]) if len(sys.argv) > 1 else 200
    vertices = int(sys.argv[2]) if len(sys.argv) > 2 else 200
    warm()
    drag(pieces, vertices)


if __name__ == "__main__":
    main()
