"""Arcs as bulges against the DXF reference, a circle's formulas and the DXF library."""

from __future__ import annotations

import io
import math

import ezdxf
import pytest
from ezdxf.math import bulge_center, bulge_radius

from core.geometry import Ring, arc_of
from core.outlines import RingItem, read_outlines, write_dxf

# tan(a / 4) of the included angle a, to six places (DXF reference, polyline bulge).
TABLE = [
    (30, 0.131652),
    (45, 0.198912),
    (60, 0.267949),
    (90, 0.414214),
    (120, 0.577350),
    (180, 1.0),
    (270, 2.414214),
]


@pytest.mark.parametrize(("angle_deg", "bulge"), TABLE)
def test_an_arc_drawn_by_its_angle_is_read_as_the_tables_bulge(
    angle_deg: int, bulge: float, tmp_path
) -> None:
    """An ARC entity and its chord: the ring that is read has the table's bulge."""
    doc = ezdxf.new("R2010", units=4)
    msp = doc.modelspace()
    msp.add_arc((0, 0), 100, 0, angle_deg)
    end = (100 * math.cos(math.radians(angle_deg)), 100 * math.sin(math.radians(angle_deg)))
    msp.add_line((100, 0), end)
    path = tmp_path / "arc.dxf"
    doc.saveas(path)
    ring = read_outlines(path).outlines[0].region.outer
    bulges = [v[2] for v in ring.vertices if v[2]]
    turned = sum(4 * math.degrees(math.atan(b)) for b in bulges)
    assert turned == pytest.approx(angle_deg, abs=1e-9)
    if angle_deg <= 180:
        assert bulges == [pytest.approx(bulge, abs=5e-7)]
    # Segment of a circle: r²/2 (a − sin a).
    a = math.radians(angle_deg)
    assert ring.signed_area_mm2 == pytest.approx(5000 * (a - math.sin(a)), rel=1e-12)


@pytest.mark.parametrize(
    ("bulge", "centre", "radius"),
    # (0,0)→(10,0): positive bows to the right of travel, centre above the chord.
    [(0.414214, (5, 5), 7.071068), (-0.414214, (5, -5), 7.071068), (1.0, (5, 0), 5.0)],
)
def test_centre_and_radius_are_the_references(
    bulge: float, centre: tuple[float, float], radius: float
) -> None:
    (cx, cy), r, _, _ = arc_of((0, 0), (10, 0), bulge)
    assert (cx, cy) == pytest.approx(centre, abs=1e-5)
    assert r == pytest.approx(radius, abs=1e-5)


@pytest.mark.parametrize("bulge", [0.05, 0.3, 0.7, 1.0, 2.0, -0.2, -1.5])
def test_centre_and_radius_are_the_dxf_librarys(bulge: float) -> None:
    (cx, cy), r, _, _ = arc_of((3, -2), (17, 11), bulge)
    assert (cx, cy) == pytest.approx(tuple(bulge_center((3, -2), (17, 11), bulge)), abs=1e-9)
    assert r == pytest.approx(abs(bulge_radius((3, -2), (17, 11), bulge)), rel=1e-12)


@pytest.mark.parametrize("version", ["R12", "R2000", "R2010"])
def test_written_bulges_stand_in_the_file_as_group_42(version: str) -> None:
    """The stadium of two half circles: closed flag 1 in group 70, bulge 1 in group 42."""
    ring = Ring.of([(0, 0, 0), (100, 0, 1), (100, 50, 0), (0, 50, 1)])
    stream = io.BytesIO()
    write_dxf(stream, [RingItem("CUT", ring)], version=version)
    lines = [line.strip() for line in stream.getvalue().decode().splitlines()]
    pairs = list(zip(lines[::2], lines[1::2], strict=True))
    first = pairs.index(("0", "POLYLINE" if version == "R12" else "LWPOLYLINE"))
    entity = pairs[first : pairs.index(("0", "ENDSEC"), first)]
    flags = next(value for code, value in entity if code == "70")
    assert int(flags) & 1
    assert [float(value) for code, value in entity if code == "42"].count(1.0) == 2
