"""Reliefs as they leave the program: true arcs of the bit's radius in the DXF that is cut."""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path

import ezdxf
import pytest

from core.geometry import Region, Ring
from core.planning import plan_project
from core.project.model import Panel, Project, SeamLine, StyleChoice
from core.project.refit import RefitRules, ReliefKind
from core.reports import write_reports
from core.shop import Cutter, Machine, Material, Reading, Shop, Stock

BIRCH = Material("Birch ply 18", 18.0, (Reading(17.6),))


def project(kind: ReliefKind, cutter: Cutter) -> Project:
    """A front with two slots, split by a seam of square fingers."""
    front = Panel(
        "front",
        "Front",
        Region.of(
            Ring.rectangle(0, 0, 800, 300),
            [Ring.rectangle(100, 80, 18, 120), Ring.rectangle(650, 80, 18, 120)],
        ),
        material=BIRCH.name,
        seams=(SeamLine(((400.0, 0.0), (400.0, 300.0)), StyleChoice("finger"), relief=kind),),
    )
    shop = Shop(
        Machine("Router", (900, 600), (900, 600), (cutter,)),
        (BIRCH,),
        (Stock("s1", BIRCH.name, 1250, 1250),),
    )
    return Project("Reliefs", panels=(front,), shop=shop, refit_rules=RefitRules(relief=kind))


def arcs_of(folder: Path, pattern: str) -> list[float]:
    """Radii of every arc in the drawings of a folder; r = chord (1 + b²) / (4 |b|)."""
    radii = []
    for path in sorted(folder.glob(pattern)):
        for entity in ezdxf.readfile(path).modelspace().query("LWPOLYLINE"):
            rows = [(x, y, b) for x, y, _, _, b in entity.get_points()]
            for (x1, y1, b), (x2, y2, _) in zip(rows, rows[1:] + rows[:1], strict=True):
                if b:
                    chord = math.dist((x1, y1), (x2, y2))
                    radii.append(chord * (1 + b * b) / (4 * abs(b)))
    return radii


@pytest.mark.parametrize("kind", [ReliefKind.DOG_BONE, ReliefKind.T_BONE, ReliefKind.SMALLEST])
@pytest.mark.parametrize("diameter", [6.0, 6.35])
def test_arcs_in_the_exported_drawings_have_the_bits_radius(
    kind: ReliefKind, diameter: float, tmp_path: Path
) -> None:
    plan = plan_project(project(kind, Cutter(diameter)), steps=1)
    assert plan.is_clean
    write_reports(plan, tmp_path)
    for pattern in ("sheets/*.dxf", "setups/*.dxf"):
        radii = arcs_of(tmp_path, pattern)
        # Four corners of two slots, and the inside corners of the fingers on both mates.
        assert len(radii) >= 8 + 8
        assert radii == pytest.approx([diameter / 2] * len(radii), abs=1e-6)


def test_without_relief_nothing_in_the_drawings_is_an_arc(tmp_path: Path) -> None:
    plan = plan_project(project(ReliefKind.NONE, Cutter(6.0)), steps=1)
    write_reports(plan, tmp_path)
    assert arcs_of(tmp_path, "sheets/*.dxf") == []
    notes = [f for f in plan.findings if f.code == "relief-left-out"]
    # Eight corners of the two slots, and those of the seam's fingers on both mates.
    assert sorted("seam" in note.message for note in notes) == [False, True]
    assert any("8 inside corners" in note.message for note in notes)


def test_an_undersize_bit_keeps_its_nominal_radius_in_the_drawing(tmp_path: Path) -> None:
    # The toolpath program offsets by the bit it was told; only the disc stands deeper.
    worn = replace(Cutter(6.0), measured_mm=5.9)
    plan = plan_project(project(ReliefKind.DOG_BONE, worn), steps=1)
    write_reports(plan, tmp_path)
    radii = arcs_of(tmp_path, "sheets/*.dxf")
    assert radii and radii == pytest.approx([3.0] * len(radii), abs=1e-6)
