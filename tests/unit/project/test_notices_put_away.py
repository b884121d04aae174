"""A notice of a drawing that was put away: of that drawing only, in whatever words it was told."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import ezdxf
import pytest

from core.findings import Finding
from core.project.answers import drawing_of, settled
from core.project.codec import to_plain
from core.project.edits import add_drawing
from core.project.model import Project
from core.project.saying import told


def side(folder: Path) -> Path:
    """A side whose outline is closed over a gap of 0.3 mm, in a folder of its own."""
    folder.mkdir()
    doc = ezdxf.new("R2010", units=4)
    corners = [(0, 0), (800, 0), (800, 300), (0, 300), (0, 0.3)]
    doc.modelspace().add_lwpolyline(corners, close=False)
    doc.saveas(folder / "side.dxf")
    return folder / "side.dxf"


@pytest.fixture
def project(tmp_path: Path) -> Project:
    """Two drawings of one name and one content, from two folders."""
    project = Project()
    for name in ("left", "right"):
        project = add_drawing(project, side(tmp_path / name), project_dir=tmp_path).project
    assert [d.file_name for d in project.drawings] == ["side.dxf", "side.dxf"]
    return project


def closed(project: Project, drawing: int) -> list[Finding]:
    return [f for f in project.drawings[drawing].findings if f.code == "gap-closed"]


def test_a_notice_of_one_drawing_leaves_that_of_its_namesake(
    project: Project, tmp_path: Path
) -> None:
    shown = replace(closed(project, 1)[0], drawing=project.drawings[1].id)
    done = settled(project, shown)
    assert closed(done, 0) and not closed(done, 1)
    assert not done.drawings[0].answers and len(done.drawings[1].answers) == 1
    # and reading both again tells the one that nobody looked at
    for name in ("left", "right"):
        done = add_drawing(done, tmp_path / name / "side.dxf", project_dir=tmp_path).project
    assert closed(done, 0) and not closed(done, 1)


def test_a_notice_told_in_inches_is_put_away_as_well(project: Project) -> None:
    project = replace(project, units="in")
    shown = told(replace(closed(project, 0)[0], drawing=project.drawings[0].id), project)
    assert shown.message != closed(project, 0)[0].message
    done = settled(project, shown)
    assert not closed(done, 0) and closed(done, 1)
    spoken = replace(shown, message="Eine Lücke von 0.012 in ist zu.", remedy="")
    assert not closed(settled(project, spoken), 0)
    elsewhere = replace(shown, at=(1.0, 3.0))
    assert closed(settled(project, elsewhere), 0)


def test_a_notice_of_a_drawing_that_is_gone_changes_nothing(project: Project) -> None:
    gone = replace(closed(project, 0)[0], drawing="d9")
    assert drawing_of(project, gone) is None
    assert settled(project, gone) == project


def test_a_notice_that_names_no_drawing_is_of_the_one_that_holds_it(project: Project) -> None:
    one = closed(project, 1)[0]
    here = replace(
        project, drawings=(replace(project.drawings[0], findings=()), project.drawings[1])
    )
    assert drawing_of(here, one) is here.drawings[1]
    assert drawing_of(here, replace(one, source="other.dxf")) is None


def test_a_file_holds_no_more_of_a_notice_than_before(project: Project) -> None:
    assert "drawing" not in to_plain(closed(project, 0)[0])
