"""How long a drag step, a zoom step and building the scene take. Run by hand:

    python tests/benchmarks/canvas.py [pieces] [vertices]

First the distances alone, then in the stage with mouse events, with 200 and with 1,000 pieces.
The goal is under 8 ms per mouse move with 200 pieces of 200 vertices. On a machine that does
other things too, look at the thread's own work.
"""

from __future__ import annotations

import math
import os
import random
import sys
import time
from pathlib import Path

import numpy as np
import shapely
from shapely.geometry import Polygon, box

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))
if not os.environ.get("DISPLAY"):
    os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")

from PySide6.QtCore import QEvent, QPointF, Qt
from PySide6.QtGui import QMouseEvent
from PySide6.QtWidgets import QApplication, QWidget

from app import theme
from app.canvas.contact import Kind, Mover, Obstacle, warm
from app.canvas.view import Canvas
from app.stages.sheets import SheetsStage
from app.stages.sheets_floor import Floor
from core.geometry import Motion, Region, Ring
from core.project.model import KeptLayout, Panel, Placed, Project
from core.shop import Machine, Material, Rules, Shop, Stock
from tests.app import sheets_bench


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
    worked: list[float] = []
    held = 0
    union = shapely.STRtree(shapes)
    worst = math.inf
    for i in range(1500):
        if i % 40 == 0:
            gx, gy = rng.uniform(-width, 100), rng.uniform(-height / 2, height / 2)
        way = math.hypot(gx - x, gy - y) or 1.0
        stride = min(rng.uniform(2, 60), way)
        x, y = x + (gx - x) / way * stride, y + (gy - y) / way * stride
        begin, own = time.perf_counter(), time.thread_time()
        outcome = mover.move(x, y, snap_mm=6)
        times.append(time.perf_counter() - begin)
        worked.append(time.thread_time() - own)
        held += outcome.held
        if outcome.legal:
            laid = shapely.affinity.translate(mover._polygons[0], outcome.dx_mm, outcome.dy_mm)
            near = union.query(laid.buffer(9))
            worst = min([worst, *(laid.distance(shapes[k]) for k in near)])
    report(f"drag step, {pieces} × {vertices} vertices", times)
    report("  of it the thread's own work", worked)
    print(f"  held back in {held} of 1500 steps; least distance kept {worst:.5f} of 8 mm")


def laid(pieces: int, vertices: int) -> Project:
    """A project with that many different pieces on one large sheet, as nesting leaves them."""
    shapes = crowd(pieces, vertices)
    width = max(s.bounds[2] for s in shapes) + 60
    height = max(s.bounds[3] for s in shapes) + 60
    stock = Stock("full", "birch", width, height)
    panels, placed = [], []
    for i, shape in enumerate(shapes):
        x, y = shape.centroid.x, shape.centroid.y
        ring = Ring.of([(px - x, py - y) for px, py in list(shape.exterior.coords)[:-1]])
        panels.append(Panel(f"p{i}", f"Dish {i}", Region.of(ring), material="birch"))
        placed.append(Placed(f"p{i}", 1, "full", 1, Motion(x, y)))
    layout = KeptLayout("Layout 1", tuple(placed))
    return Project(
        panels=tuple(panels),
        shop=Shop(
            machine=Machine(travel_mm=(width, height), table_mm=(width, height)),
            materials=(Material("birch", 18.0),),
            stock=(stock,),
            rules=Rules(spacing_mm=8.0, edge_margin_mm=10.0),
        ),
        layouts=(layout,),
        current_layout=layout.name,
    )


def event(port: QWidget, kind: QEvent.Type, at: QPointF, buttons: Qt.MouseButton) -> None:
    held = Qt.MouseButton.NoButton if kind is QEvent.Type.MouseMove else Qt.MouseButton.LeftButton
    place = QPointF(port.mapToGlobal(at))
    QApplication.sendEvent(
        port, QMouseEvent(kind, at, place, held, buttons, Qt.KeyboardModifier.NoModifier)
    )


def in_the_window(pieces: int, vertices: int) -> None:
    """Build the floor, zoom it and drag on it with mouse events, painting included."""
    app = QApplication.instance() or QApplication([])
    assert isinstance(app, QApplication)
    theme.apply(app, "light", less_motion=True)
    stage = SheetsStage(sheets_bench.context(Project()))
    stage.resize(1366, 768)
    stage.show()
    project = laid(pieces, vertices)
    import core.planning  # noqa: F401 - in the program it is there by the time pieces are

    start = time.perf_counter()
    gaps: list[float] = []
    stage.document.take(project, None)
    while not stage.derived.is_current or stage.floor._to_show or not stage.jobs.is_idle():
        own = time.thread_time()
        app.processEvents()
        gaps.append(1000 * (time.thread_time() - own))
    print(
        f"{pieces} pieces: cut, planned and on screen {time.perf_counter() - start:.2f} s; the "
        f"window worked at most {max(gaps):.0f} ms at a time"
    )
    floor, view = stage.floor, stage.canvas.view
    fresh = Floor(Canvas("again"))
    for what, one in (("scene built, paths and all", fresh), ("brought up to date", floor)):
        start, own = time.perf_counter(), time.thread_time()
        one.show(stage._bench, "mm")
        one.finish()  # in the window it comes in slices
        print(
            f"  {what}: {(time.perf_counter() - start) * 1000:.0f} ms, of it the thread's own "
            f"work {(time.thread_time() - own) * 1000:.0f} ms"
        )
    stage.canvas.fit_now()
    app.processEvents()
    port = view.viewport()
    times: list[float] = []
    worked: list[float] = []
    for i in range(60):
        begin, own = time.perf_counter(), time.thread_time()
        stage.canvas.zoom_by(1.22 if i % 20 < 10 else 1 / 1.22, QPointF(300, 300), glide=False)
        port.repaint()
        times.append(time.perf_counter() - begin)
        worked.append(time.thread_time() - own)
    report("zoom step with painting", times)
    report("  of it the thread's own work", worked)
    stage.canvas.fit_now()
    app.processEvents()
    times, worked = [], []
    for i in range(300):
        at = QPointF(60 + (i * 37) % (port.width() - 120), 60 + (i * 23) % (port.height() - 120))
        begin, own = time.perf_counter(), time.thread_time()
        event(port, QEvent.Type.MouseMove, at, Qt.MouseButton.NoButton)
        times.append(time.perf_counter() - begin)
        worked.append(time.thread_time() - own)
        app.processEvents()
    report("mouse move over pieces", times)
    report("  of it the thread's own work", worked)
    key = (f"p{pieces // 2}", 1)
    x, y = stage.hand._home_of(key)
    middle = stage._bench.shape(key).centroid
    at = stage.canvas.to_px(middle.x + x, middle.y + y)
    event(port, QEvent.Type.MouseButtonPress, at, Qt.MouseButton.LeftButton)
    rng = random.Random(2)
    times, worked = [], []
    painted: list[float] = []
    for _ in range(300):
        at += QPointF(rng.uniform(-14, 14), rng.uniform(-14, 14))
        at = QPointF(min(max(at.x(), 20), port.width() - 20), min(max(at.y(), 20), 600))
        begin, own = time.perf_counter(), time.thread_time()
        event(port, QEvent.Type.MouseMove, at, Qt.MouseButton.LeftButton)
        times.append(time.perf_counter() - begin)
        worked.append(time.thread_time() - own)
        app.processEvents()
        painted.append(time.thread_time() - own)
    event(port, QEvent.Type.MouseButtonRelease, at, Qt.MouseButton.NoButton)
    report("mouse move while dragging", times)
    report("  of it the thread's own work", worked)
    report("  own work with what it paints", painted)
    stage.jobs.close()
    stage.deleteLater()


def main() -> None:
    pieces = int(sys.argv[1]) if len(sys.argv) > 1 else 200
    vertices = int(sys.argv[2]) if len(sys.argv) > 2 else 200
    warm()
    drag(pieces, vertices)
    for count in (200, 1000) if len(sys.argv) < 2 else (pieces,):
        in_the_window(count, vertices)


if __name__ == "__main__":
    main()
