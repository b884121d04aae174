"""What is written is read back; what a soup of lines held is found whatever its order."""

from __future__ import annotations

import io
import math
import random
from pathlib import Path

import ezdxf
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from core.geometry import Motion, Region, Ring
from core.outlines import (
    CircleItem,
    RingItem,
    compare_outlines,
    read_outlines,
    recognise,
    region_items,
    write_dxf,
    write_svg,
)
from core.outlines.typed import rounded_rectangle

_FEW = settings(max_examples=40, deadline=None, suppress_health_check=list(HealthCheck))


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("drawings")


@st.composite
def rings(draw: st.DrawFn) -> Ring:
    """A star-shaped ring of 3 to 12 corners, some of its edges bowed a little."""
    count = draw(st.integers(3, 12))
    radii = draw(st.lists(st.floats(100, 400), min_size=count, max_size=count))
    bulges = draw(
        st.lists(
            st.one_of(st.just(0.0), st.floats(0.02, 0.12), st.floats(-0.12, -0.02)),
            min_size=count,
            max_size=count,
        )
    )
    x, y = draw(st.tuples(st.floats(-2000, 2000), st.floats(-2000, 2000)))
    rows = [
        (x + r * math.cos(math.tau * k / count), y + r * math.sin(math.tau * k / count), b)
        for k, (r, b) in enumerate(zip(radii, bulges, strict=True))
    ]
    ring = Ring.of(rows)
    return ring if Region(ring).polygon.is_valid else Ring.of([(a, b, 0.0) for a, b, _ in rows])


def turned_to(ring: Ring, like: Ring) -> Ring:
    """The ring begun at the corner nearest to another's first."""
    first = min(
        range(len(ring.vertices)),
        key=lambda i: math.dist(ring.vertices[i][:2], like.vertices[0][:2]),
    )
    return Ring((*ring.vertices[first:], *ring.vertices[:first]))


def assert_same(found: Ring, want: Ring, shift: tuple[float, float] = (0.0, 0.0)) -> None:
    moved = want.oriented(ccw=found.signed_area_mm2 > 0).moved(Motion(*shift))
    back = turned_to(found, moved)
    assert len(back.vertices) == len(moved.vertices)
    for (x1, y1, b1), (x2, y2, b2) in zip(back.vertices, moved.vertices, strict=True):
        assert math.dist((x1, y1), (x2, y2)) <= 1e-3
        assert b1 == pytest.approx(b2, abs=1e-9)


@_FEW
@given(ring=rings(), version=st.sampled_from(("R12", "R2000", "R2010")))
def test_a_ring_written_to_dxf_is_read_back_with_its_arcs(
    ring: Ring, version: str, folder: Path
) -> None:
    path = folder / "ring.dxf"
    write_dxf(path, [RingItem("CUT", ring)], version=version)
    (outline,) = read_outlines(path).outlines
    assert_same(outline.region.outer, ring)


@_FEW
@given(ring=rings())
def test_a_ring_written_to_svg_is_read_back_with_its_arcs(ring: Ring, folder: Path) -> None:
    path = folder / "ring.svg"
    write_svg(path, [RingItem("CUT", ring)], margin_mm=7)
    result = read_outlines(path)
    (outline,) = result.outlines
    x, y, _, _ = ring.bounds
    # The page's corner, a margin outside the drawing, is the origin of what is read.
    assert_same(outline.region.outer, ring, (7 - x, 7 - y))
    assert result.units == "mm"
    assert result.findings == ()


@_FEW
@given(st.floats(20, 2000), st.floats(20, 2000), st.floats(0.01, 0.49), st.floats(1, 8))
def test_a_panel_with_a_hole_keeps_exact_area_through_dxf(
    folder: Path, width: float, height: float, corner: float, hole: float
) -> None:
    outer = rounded_rectangle(width, height, corner * min(width, height)).outer
    region = Region.of(outer, [Ring.circle(width / 2, height / 2, hole)])
    path = folder / "panel.dxf"
    write_dxf(path, region_items("CUT", region))
    (outline,) = read_outlines(path, "mm").outlines
    assert outline.region.area_mm2 == pytest.approx(region.area_mm2, rel=1e-12)
    assert outline.region.bounds == pytest.approx(region.bounds, abs=1e-9)


@_FEW
@given(st.lists(rings(), min_size=1, max_size=4), st.integers(0, 2**16), st.floats(0, 0.009))
def test_loops_are_found_in_any_order_direction_and_with_silent_gaps(
    folder: Path, shapes: list[Ring], seed: int, gap: float
) -> None:
    rng = random.Random(seed)
    doc = ezdxf.new("R2010", units=4)
    msp = doc.modelspace()
    edges = []
    placed = []
    for k, ring in enumerate(shapes):
        x, y, _, _ = ring.bounds
        placed.append(ring.moved(Motion(1000 * k - x, -y)))
        edges += list(placed[-1].edges())
    rng.shuffle(edges)
    for start, end, bulge in edges:
        turn = rng.uniform(0, math.tau)
        # A straight edge may stop short; only one end moves, so gaps stay within the bound.
        short = (end[0] + gap * math.cos(turn), end[1] + gap * math.sin(turn))
        if not bulge:
            msp.add_line(*((short, start) if rng.random() < 0.5 else (start, short)))
        elif rng.random() < 0.5:
            msp.add_lwpolyline([(*start, bulge), (*end, 0)], format="xyb")
        else:
            msp.add_lwpolyline([(*end, -bulge), (*start, 0)], format="xyb")
    path = folder / "soup.dxf"
    doc.saveas(path)
    result = read_outlines(path)
    assert result.findings == ()
    found = sorted(result.outlines, key=lambda o: o.region.bounds[0])
    assert len(found) == len(placed)
    for outline, ring in zip(found, placed, strict=True):
        assert outline.region.area_mm2 == pytest.approx(
            abs(ring.signed_area_mm2), abs=0.03 * outline.polygon.length + 0.01
        )


@_FEW
@given(
    st.floats(3, 30),
    st.floats(40, 300),
    st.floats(0, 360),
    st.booleans(),
    st.floats(-3000, 3000),
)
def test_a_notch_and_a_slot_are_recognised_wherever_the_panel_lies(
    thickness: float, depth: float, turn: float, mirrored: bool, x: float
) -> None:
    t, d = thickness, depth
    outer = [(0, 0), (200, 0), (200, d), (200 + t, d), (200 + t, 0), (700, 0), (700, 500), (0, 500)]
    region = Region.of(Ring.of(outer), [Ring.rectangle(400, 100, t, 80 + t)])
    moved = region.moved(Motion(x, -x / 2, turn, mirrored))
    found = recognise(moved, [t])
    kinds = {item.kind: item for item in found if item.kind in ("notch", "slot")}
    assert kinds["notch"].ref.size == pytest.approx((t, d), abs=1e-6)
    assert kinds["slot"].ref.size == pytest.approx((t, 80 + t), abs=1e-6)
    mouth = Motion(x, -x / 2, turn, mirrored).apply(200 + t / 2, 0)
    assert kinds["notch"].ref.anchor == pytest.approx(mouth, abs=1e-6)


@_FEW
@given(st.lists(rings(), min_size=1, max_size=5), st.randoms(use_true_random=False))
def test_a_drawing_in_another_order_has_nothing_changed(
    folder: Path, shapes: list[Ring], rng: random.Random
) -> None:
    placed = []
    for k, ring in enumerate(shapes):
        x, y, _, _ = ring.bounds
        placed.append(ring.moved(Motion(1000 * k - x, -y)))
    items = [RingItem("CUT", ring) for ring in placed]
    write_dxf(folder / "old.dxf", items)
    rng.shuffle(items)
    write_dxf(folder / "new.dxf", items)
    old = read_outlines(folder / "old.dxf").outlines
    new = read_outlines(folder / "new.dxf").outlines
    changes = compare_outlines(old, new)
    assert {change.kind.value for change in changes} == {"same"}
    assert sorted(change.new for change in changes) == list(range(len(new)))


@_FEW
@given(st.lists(st.text(max_size=40), max_size=12))
def test_layer_names_are_plain_short_and_all_different(names: list[str]) -> None:
    from core.outlines import layer_names

    safe = layer_names(names)
    assert set(safe) == set(names)
    assert len({value.lower() for value in safe.values()}) == len(safe)
    assert all(value.isascii() and 0 < len(value) <= 31 for value in safe.values())
    stream = io.BytesIO()
    write_dxf(stream, [CircleItem(name, (0, 0), 5) for name in names])
    assert stream.getvalue()
