"""Drawings into the document, and read again with decisions kept."""

from __future__ import annotations

import os
from dataclasses import replace
from pathlib import Path

import pytest

from core.errors import UnreadableDrawing
from core.findings import Severity
from core.geometry import Motion, Ring
from core.outlines.write import PathItem, RingItem, TextItem, write_dxf
from core.project.edits import Edited, PanelDefaults, add_drawing
from core.project.model import (
    Grain,
    KeptLayout,
    Panel,
    Placed,
    Project,
    SeamLine,
    StyleChoice,
)
from core.project.places import find_drawing, with_paths_from


def draw(path: Path, *panels: tuple[str, float, float, float, float]) -> None:
    """Rectangles (name, x, y, width, height), mm."""
    items: list[RingItem | TextItem] = []
    for name, x, y, width, height in panels:
        items.append(RingItem("CUT", Ring.rectangle(x, y, width, height)))
        items.append(TextItem("NAMES", (x + width / 3, y + height / 3), name, 8.0))
    write_dxf(path, items)


def first(path: Path) -> Project:
    draw(path, ("Side", 0, 0, 1200, 400), ("Top", 0, 500, 800, 300))
    defaults = PanelDefaults("Birch", Grain.ALONG)
    project = add_drawing(Project(), path, defaults=defaults, project_dir=path.parent).project
    seam = SeamLine(((600.0, -10.0), (600.0, 410.0)), StyleChoice("wave"))
    side = replace(project.panels[named(project, "Side")], seams=(seam,), quantity=2)
    panels = tuple(side if p.name == "Side" else p for p in project.panels)
    return replace(project, panels=panels)


def named(project: Project, name: str) -> int:
    return next(k for k, p in enumerate(project.panels) if p.name == name)


def again(project: Project, path: Path) -> Edited:
    return add_drawing(project, path, project_dir=path.parent)


def panel(edited: Edited, name: str) -> Panel:
    return edited.project.panels[named(edited.project, name)]


def test_panels_get_names_defaults_and_the_drawings_frame(tmp_path: Path) -> None:
    project = first(tmp_path / "side.dxf")
    assert sorted(p.name for p in project.panels) == ["Side", "Top"]
    top = project.panels[named(project, "Top")]
    assert top.region.bounds == (0, 500, 800, 800)
    assert (top.material, top.grain) == ("Birch", Grain.ALONG)
    drawing = find_drawing(project, tmp_path / "side.dxf", tmp_path)
    assert drawing is not None
    assert (drawing.path, drawing.units, len(drawing.sha256)) == ("side.dxf", "mm", 64)


def test_reading_an_unchanged_file_again_changes_nothing(tmp_path: Path) -> None:
    path = tmp_path / "side.dxf"
    project = first(path)
    edited = again(project, path)
    assert edited.project == project
    assert (edited.added, edited.changed, edited.lost) == ((), (), ())


def test_a_changed_outline_keeps_its_decisions_and_is_told(tmp_path: Path) -> None:
    path = tmp_path / "side.dxf"
    project = first(path)
    draw(path, ("Side", 0, 0, 1250, 400), ("Top", 0, 500, 800, 300))
    edited = again(project, path)
    side = panel(edited, "Side")
    assert side.region.bounds == (0, 0, 1250, 400)
    assert side.quantity == 2
    assert side.seams == project.panels[named(project, "Side")].seams
    assert edited.changed == (side.id,)
    assert "panel-changed" in {f.code for f in edited.findings}


def test_seams_move_with_a_panel_that_moved_and_its_place_on_the_sheet_stays(
    tmp_path: Path,
) -> None:
    path = tmp_path / "side.dxf"
    project = first(path)
    side = project.panels[named(project, "Side")]
    before = Placed(f"{side.id}.1", 1, "s", 1, Motion(100, 50, 90.0), locked=True, digest="x")
    project = replace(project, layouts=(KeptLayout("L", (before,)),))
    draw(path, ("Side", 300, 1000, 1200, 400), ("Top", 0, 500, 800, 300))
    edited = again(project, path)
    moved = panel(edited, "Side")
    assert moved.seams is not None
    assert moved.seams[0].points[0] == pytest.approx((900.0, 990.0))
    assert moved.seams[0].points[1] == pytest.approx((900.0, 1410.0))
    (after,) = edited.project.layouts[0].placed
    assert after.locked
    # The same corner of the panel comes to lie on the same spot.
    assert after.motion.apply(300, 1000) == pytest.approx(before.motion.apply(0, 0))


def test_a_panel_that_is_gone_is_named_and_its_places_with_it(tmp_path: Path) -> None:
    path = tmp_path / "side.dxf"
    project = first(path)
    top = project.panels[named(project, "Top")]
    placed = Placed(top.id, 1, "s", 1, Motion())
    project = replace(project, layouts=(KeptLayout("L", (placed,)),))
    draw(path, ("Side", 0, 0, 1200, 400))
    edited = again(project, path)
    assert edited.lost == (top.id,)
    assert not edited.project.layouts[0].placed
    assert {"panel-lost", "placements-lost"} <= {f.code for f in edited.findings}


def test_a_seam_that_no_longer_crosses_its_panel_is_told(tmp_path: Path) -> None:
    path = tmp_path / "side.dxf"
    project = first(path)
    draw(path, ("Side", 0, 0, 500, 400), ("Top", 0, 500, 800, 300))
    assert "seam-lost" in {f.code for f in again(project, path).findings}


def test_a_new_outline_becomes_a_panel_with_an_id_of_its_own(tmp_path: Path) -> None:
    path = tmp_path / "side.dxf"
    project = first(path)
    draw(
        path,
        ("Side", 0, 0, 1200, 400),
        ("Top", 0, 500, 800, 300),
        ("Shelf", 0, 900, 700, 200),
    )
    edited = again(project, path)
    (fresh,) = edited.added
    assert fresh not in {p.id for p in project.panels}
    assert panel(edited, "Shelf").id == fresh


def test_switching_the_unit_keeps_decisions_in_their_place(tmp_path: Path) -> None:
    path = tmp_path / "side.dxf"
    draw(path, ("Side", 0, 0, 48, 16))
    project = add_drawing(Project(), path, units="mm", project_dir=tmp_path).project
    (side,) = project.panels
    side = replace(side, seams=(SeamLine(((24.0, -1.0), (24.0, 17.0))),), quantity=3)
    project = replace(project, panels=(side,))
    edited = add_drawing(project, path, units="in", project_dir=tmp_path)
    (after,) = edited.project.panels
    assert after.region.size_mm == pytest.approx((48 * 25.4, 16 * 25.4))
    assert after.quantity == 3
    assert after.seams is not None
    assert after.seams[0].points[0] == pytest.approx((24 * 25.4, -25.4))


def test_a_file_that_is_no_drawing_leaves_the_project_alone(tmp_path: Path) -> None:
    path = tmp_path / "side.dxf"
    project = first(path)
    path.write_bytes(b"\x00\x01\x02 no drawing")
    with pytest.raises(UnreadableDrawing, match=r"side\.dxf"):
        again(project, path)


def test_a_drawing_is_known_again_after_its_project_was_saved_beside_it(tmp_path: Path) -> None:
    # Drawings are mostly read before the project has a file: their paths are whole ones then.
    path = tmp_path / "side.dxf"
    draw(path, ("Side", 0, 0, 1200, 400), ("Top", 0, 500, 800, 300))
    project = add_drawing(Project(), path).project
    draw(path, ("Side", 0, 0, 1250, 400), ("Top", 0, 500, 800, 300))
    edited = again(project, path)
    assert edited.added == ()
    assert panel(edited, "Side").region.bounds == (0, 0, 1250, 400)


def test_paths_of_drawings_follow_a_project_to_its_new_folder(tmp_path: Path) -> None:
    path = tmp_path / "drawings" / "side.dxf"
    path.parent.mkdir()
    draw(path, ("Side", 0, 0, 1200, 400))
    project = add_drawing(Project(), path).project
    saved = with_paths_from(project, None, tmp_path)
    assert saved.drawings[0].path == "drawings/side.dxf"
    elsewhere = with_paths_from(saved, tmp_path, tmp_path / "jobs")
    assert elsewhere.drawings[0].path == "../drawings/side.dxf"
    assert find_drawing(elsewhere, path, tmp_path / "jobs") is not None
    assert with_paths_from(elsewhere, tmp_path / "jobs", tmp_path / "jobs") is elsewhere


def test_a_project_saved_on_another_drive_finds_its_drawings_by_their_whole_path(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "side.dxf"
    draw(path, ("Side", 0, 0, 1200, 400))
    saved = with_paths_from(add_drawing(Project(), path).project, None, tmp_path)
    assert saved.drawings[0].path == "side.dxf"

    def no_way(*_: object) -> str:
        raise ValueError("path is on another drive")  # as Windows says it

    with monkeypatch.context() as there:
        there.setattr(os.path, "relpath", no_way)
        away = with_paths_from(saved, tmp_path, tmp_path / "stick")
    assert away.drawings[0].path == path.as_posix()
    assert find_drawing(away, path, tmp_path / "stick") is not None
    assert with_paths_from(away, tmp_path / "stick", tmp_path) == saved


def test_slots_of_a_side_that_was_open_are_no_lost_panels_once_it_is_closed(
    tmp_path: Path,
) -> None:
    path = tmp_path / "side.dxf"
    slot = Ring.rectangle(80, 140, 200, 18)
    corners = [(0.0, 0.0), (560.0, 0.0), (560.0, 780.0), (0.0, 780.0), (0.0, 0.6)]
    write_dxf(path, [RingItem("CUT", slot), PathItem.line("CUT", *corners)])
    project = add_drawing(Project(), path).project
    assert [p.region.size_mm for p in project.panels] == [(200, 18)]
    edited = add_drawing(project, path, gap_mm=0.62)
    (side,) = edited.project.panels
    assert len(side.region.holes) == 1
    codes = {f.code: f for f in edited.changes_told}
    assert "panel-lost" not in codes
    assert codes["panel-taken-in"].severity is Severity.NOTE
    assert "is now cut into the panel it lies on" in codes["panel-taken-in"].message
