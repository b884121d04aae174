"""Copies counted with a panel, when their drawing is read again."""

from __future__ import annotations

from pathlib import Path

import pytest

from core.geometry import Ring
from core.outlines.write import RingItem, TextItem, write_dxf
from core.project.answers import counted_as_one
from core.project.edits import Edited, add_drawing
from core.project.model import Project


def draw(path: Path, *shelves: tuple[float, float], other: bool = False) -> None:
    """A row of shelves, 300 mm deep: (y, width) of each, and a tray beside them if asked."""
    items: list[RingItem | TextItem] = []
    for y, width in shelves:
        items.append(RingItem("CUT", Ring.rectangle(0, y, width, 300)))
        items.append(TextItem("NAMES", (width / 3, y + 100), "Shelf", 8.0))
    if other:
        items.append(RingItem("CUT", Ring.rectangle(2000, 0, 200, 150)))
        items.append(TextItem("NAMES", (2050, 60), "Tray", 8.0))
    write_dxf(path, items)


@pytest.fixture
def counted(tmp_path: Path) -> tuple[Path, Project]:
    """Three shelves drawn, counted as one panel in three copies."""
    path = tmp_path / "rack.dxf"
    draw(path, (0, 800), (400, 800), (800, 800))
    project = add_drawing(Project(), path, project_dir=tmp_path).project
    project = counted_as_one(project, [p.id for p in project.panels])
    assert [p.quantity for p in project.panels] == [3]
    return path, project


def again(path: Path, project: Project) -> Edited:
    return add_drawing(project, path, project_dir=path.parent)


def test_copies_that_all_became_longer_are_still_counted_as_one(
    counted: tuple[Path, Project],
) -> None:
    path, project = counted
    draw(path, (0, 860), (400, 860), (800, 860), other=True)
    edited = again(path, project)
    assert [(p.name, p.quantity) for p in edited.project.panels] == [("Shelf", 3), ("Tray", 1)]
    assert edited.project.panels[0].region.size_mm == (860, 300)
    assert "copy-differs" not in {f.code for f in edited.changes_told}


@pytest.mark.parametrize(
    ("shelves", "panels"),
    [
        (((0, 800), (400, 800), (800, 860)), [(800, 3), (860, 1)]),
        (((0, 860), (400, 800), (800, 800)), [(800, 3), (860, 1)]),
        (((0, 860), (400, 860), (800, 800)), [(800, 3), (860, 1), (860, 1)]),
    ],
    ids=["a copy", "the panel", "the panel and a copy"],
)
def test_what_differs_from_its_copies_becomes_a_panel_and_the_quantity_is_asked_about(
    counted: tuple[Path, Project],
    shelves: tuple[tuple[float, float], ...],
    panels: list[tuple[float, int]],
) -> None:
    path, project = counted
    draw(path, *shelves)
    edited = again(path, project)
    assert [(p.region.size_mm[0], p.quantity) for p in edited.project.panels] == panels
    told = [f for f in edited.changes_told if f.code == "copy-differs"]
    assert [f.panel for f in told] == [edited.project.panels[0].id]
    assert "3 times" in told[0].message


def test_a_copy_that_left_the_drawing_brings_nothing_back(
    counted: tuple[Path, Project],
) -> None:
    path, project = counted
    draw(path, (0, 800), (400, 800))
    edited = again(path, project)
    assert [p.quantity for p in edited.project.panels] == [3]
