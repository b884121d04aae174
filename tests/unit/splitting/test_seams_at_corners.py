"""Seams that end within rounding of a corner, or run along the outline: told or cut, no fault."""

from __future__ import annotations

import random
from dataclasses import replace
from functools import cache
from pathlib import Path

import pytest

from core.planning import cut_panels
from core.project.file import load_project
from core.project.model import Panel, Project, SeamLine

DEMOS = Path(__file__).resolve().parents[3] / "demo_projects"
NAMES = ("studio_counter", "glaze_shelves", "kiln_wall")


@cache
def demo(name: str) -> Project:
    return load_project(DEMOS / name / f"{name}.json")


def cut(project: Project, panel: Panel, *seams: SeamLine) -> None:
    """What is refused is told as a finding; anything else is a fault and ends the test."""
    found = cut_panels(replace(project, panels=(replace(panel, seams=seams),), layouts=()))
    assert found.pieces or found.findings


@pytest.mark.parametrize(
    ("name", "panel", "points", "bulges"),
    [
        # The outline's stretch from the seam to the corner had no length.
        ("glaze_shelves", "Kick board", ((838.1999999999999, -1e-4), (1e-13, 101.6)), ()),
        # The seam's ends were one place.
        ("kiln_wall", "Disc 2", ((218.0, 79.999999999), (218.01, 80.01)), ()),
        # It runs back along itself.
        ("studio_counter", "Counter front",
         ((900.0, 590.0), (168.1, 590.0), (1531.9999, 590.0), (168.000001, 590.000001)),
         (0.0, 0.0, 0.2)),
        # What the seam cut off was a line.
        ("studio_counter", "Counter front",
         ((1668.5333551925012, 697.2086546156424), (1700.0, 720.0)), (1e-9,)),
    ],
)  # fmt: skip
def test_a_seam_that_ends_at_a_corner_is_told_or_cut(
    name: str, panel: str, points: tuple[tuple[float, float], ...], bulges: tuple[float, ...]
) -> None:
    project = demo(name)
    (one,) = [p for p in project.panels if p.name == panel]
    cut(project, one, SeamLine(points, bulges=bulges))


@pytest.mark.parametrize("seed", range(12))
def test_ends_near_any_corner_are_told_or_cut(seed: int) -> None:
    rng = random.Random(seed)
    project = demo(rng.choice(NAMES))
    for _ in range(12):
        panel = rng.choice(project.panels)
        corners = [v[:2] for r in (panel.region.outer, *panel.region.holes) for v in r.vertices]
        x1, y1, x2, y2 = panel.region.bounds

        def end(
            corners: list[tuple[float, float]] = corners,
            bounds: tuple[float, float, float, float] = (x1, y1, x2, y2),
        ) -> tuple[float, float]:
            if rng.random() < 0.3:
                return rng.uniform(bounds[0], bounds[2]), rng.uniform(bounds[1], bounds[3])
            x, y = rng.choice(corners)
            off = rng.choice((0.0, 1e-13, 1e-9, 1e-6, 1e-4, 1e-2))
            return x + rng.choice((-off, 0.0, off)), y + rng.choice((-off, 0.0, off))

        cut(project, panel, SeamLine((end(), end())))
