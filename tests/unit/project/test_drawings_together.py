"""Panels spread over files, layers remembered, questions answered, removed panels kept out."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import ezdxf
import pytest

from core.errors import UnreadableDrawing
from core.findings import Finding
from core.outlines.model import Face, Role
from core.outlines.recognise import recognise
from core.outlines.roles import LayerChoice
from core.project.answers import (
    counted_as_one,
    counted_twice,
    is_off,
    layer_values,
    settled,
    switched,
    with_memory,
    without_memory,
)
from core.project.codec import from_plain, to_plain
from core.project.compare import compare
from core.project.edits import Edited, add_drawing
from core.project.model import Answer, Project
from core.refit import refit_panel
from core.shop import Material, Reading, Shop

Box = tuple[float, float, float, float]


def draw(path: Path, *boxes: tuple[str, Box], lines: tuple[tuple, ...] = (), unit: int = 4) -> Path:
    """Rectangles (layer, (x, y, width, height)) and lines (start, end)."""
    doc = ezdxf.new("R2010", units=unit)
    msp = doc.modelspace()
    for layer, (x, y, w, h) in boxes:
        corners = [(x, y), (x + w, y), (x + w, y + h), (x, y + h)]
        msp.add_lwpolyline(corners, close=True, dxfattribs={"layer": layer})
    for start, end in lines:
        msp.add_line(start, end)
    doc.saveas(path)
    return path


def read(project: Project, path: Path, **options: object) -> Edited:
    return add_drawing(project, path, project_dir=path.parent, **options)  # type: ignore[arg-type]


def told(edited: Edited, code: str) -> list[Finding]:
    return [f for f in edited.findings if f.code == code]


# --- one panel in several files ---------------------------------------------------------------


def tray(folder: Path) -> tuple[Project, Path, Path]:
    outline = draw(folder / "tray.dxf", ("0", (0, 0, 600, 400)))
    pockets = draw(folder / "tray_in.dxf", ("Pocket 6", (100, 100, 80, 40)))
    project = read(Project(), outline).project
    return read(project, pockets).project, outline, pockets


def test_pockets_in_a_file_of_their_own_are_offered_to_their_panel(tmp_path: Path) -> None:
    project, _, pockets = tray(tmp_path)
    again = read(project, pockets)
    (finding,) = told(again, "spread-over-files")
    assert finding.fix == "join-files:d1+d2"
    assert "tray.dxf and tray_in.dxf" in finding.message
    assert finding.at == pytest.approx((140, 120))


def test_files_read_together_make_one_panel_and_stay_together(tmp_path: Path) -> None:
    project, outline, pockets = tray(tmp_path)
    project = read(project, outline, join=[pockets]).project
    (panel,) = project.panels
    (pocket,) = panel.features
    assert (pocket.kind, pocket.depth_mm) == (Role.POCKET, 6.0)
    assert pocket.layer == "Pocket 6 · tray_in.dxf"
    (drawing,) = project.drawings
    assert [f.path for f in drawing.joined] == ["tray_in.dxf"]
    assert from_plain(Project, to_plain(project)) == project
    # Both ways to it read the whole again.
    assert read(project, pockets).project == project
    assert read(project, outline).project == project
    draw(pockets, ("Pocket 6", (100, 100, 90, 40)))
    changed = read(project, pockets)
    assert changed.changed == ("p1",)
    parted = read(project, outline, part=["tray_in.dxf"]).project
    assert parted.panels[0].features == ()
    assert parted.drawings[0].joined == ()


def test_a_joined_file_that_is_gone_is_named(tmp_path: Path) -> None:
    project, outline, pockets = tray(tmp_path)
    project = read(project, outline, join=[pockets]).project
    pockets.unlink()
    with pytest.raises(UnreadableDrawing, match=r"cannot be (read|found)|no such|There is no"):
        read(project, outline)


def test_halves_of_an_outline_in_two_files_are_offered_and_joined(tmp_path: Path) -> None:
    left = draw(
        tmp_path / "a.dxf",
        lines=(((300, 0), (0, 0)), ((0, 0), (0, 400)), ((0, 400), (300, 400))),
    )
    right = draw(
        tmp_path / "b.dxf",
        lines=(((300, 0), (600, 0)), ((600, 0), (600, 400)), ((600, 400), (300, 400))),
    )
    project = read(Project(), left).project
    assert not project.panels
    edited = read(project, right)
    (finding,) = told(edited, "spread-over-files")
    assert "open lines meet" in finding.message
    joined = read(edited.project, left, join=[right])
    (panel,) = joined.project.panels
    assert panel.region.bounds == (0, 0, 600, 400)
    assert not joined.project.drawings[0].open_lines


def test_files_in_different_units_are_joined_to_scale(tmp_path: Path) -> None:
    outline = draw(tmp_path / "tray.dxf", ("0", (0, 0, 600, 400)))
    inches = draw(tmp_path / "more.dxf", ("Pocket", (1, 1, 2, 3)), unit=1)
    project = read(Project(), outline, join=[inches]).project
    ring = project.panels[0].features[0].ring
    assert ring is not None
    assert ring.bounds == pytest.approx((25.4, 25.4, 76.2, 101.6))


def test_a_file_named_after_pockets_makes_its_plain_layer_pockets(tmp_path: Path) -> None:
    outline = draw(tmp_path / "tray.dxf", ("0", (0, 0, 600, 400)))
    inner = draw(tmp_path / "tray pockets 8.dxf", ("0", (50, 50, 60, 60)))
    (panel,) = read(Project(), outline, join=[inner]).project.panels
    (pocket,) = panel.features
    assert (pocket.kind, pocket.depth_mm) == (Role.POCKET, 8.0)


def test_parts_at_the_origin_of_unrelated_files_are_not_tied(tmp_path: Path) -> None:
    large = draw(tmp_path / "side.dxf", ("0", (0, 0, 600, 400)))
    small = draw(tmp_path / "block.dxf", ("0", (0, 0, 60, 40)))
    edited = read(read(Project(), large).project, small)
    assert not told(edited, "spread-over-files")


def test_a_panel_that_lies_in_one_of_a_file_it_is_named_after_is_offered(tmp_path: Path) -> None:
    large = draw(tmp_path / "side.dxf", ("0", (0, 0, 600, 400)))
    small = draw(tmp_path / "side-holes.dxf", ("0", (50, 50, 60, 40)))
    edited = read(read(Project(), large).project, small)
    assert len(told(edited, "spread-over-files")) == 1
    joined = read(edited.project, large, join=[small])
    assert len(joined.project.panels) == 1
    assert len(joined.project.panels[0].region.holes) == 1
    assert told(joined, "panel-taken-in")


# --- the same outline more than once ------------------------------------------------------------


def legs(folder: Path) -> tuple[Edited, Path]:
    path = draw(folder / "legs.dxf", *(("0", (100.0 * k, 0, 60, 700)) for k in range(4)))
    return read(Project(), path), path


def test_alike_panels_of_a_file_are_asked_about_and_counted(tmp_path: Path) -> None:
    edited, path = legs(tmp_path)
    (finding,) = told(edited, "panels-alike")
    assert finding.fix == "count-as-quantity:p1+p2+p3+p4"
    project = counted_as_one(edited.project, ["p1", "p2", "p3", "p4"])
    (panel,) = project.panels
    assert panel.quantity == 4
    assert not project.drawings[0].findings
    again = read(project, path)
    assert [p.quantity for p in again.project.panels] == [4]
    (out,) = told(again, "panel-left-out")
    assert "3 outlines" in out.message
    back = read(project, path, bring_back=True)
    assert len(back.project.panels) == 4


def test_the_same_outline_in_two_files_is_asked_about(tmp_path: Path) -> None:
    one = draw(tmp_path / "left.dxf", ("0", (0, 0, 600, 400)))
    two = draw(tmp_path / "right.dxf", ("0", (0, 0, 600, 400)))
    edited = read(read(Project(), one).project, two)
    (finding,) = told(edited, "panels-alike")
    assert "left.dxf and right.dxf" in finding.message
    assert len(edited.project.panels) == 2


def test_panels_with_different_pockets_are_not_alike(tmp_path: Path) -> None:
    path = draw(
        tmp_path / "two.dxf",
        ("0", (0, 0, 600, 400)),
        ("0", (0, 500, 600, 400)),
        ("Pocket 6", (50, 50, 60, 40)),
    )
    assert not told(read(Project(), path), "panels-alike")


def test_an_outline_on_two_layers_is_counted_once_asked_once(tmp_path: Path) -> None:
    path = draw(tmp_path / "a.dxf", ("CUT", (0, 0, 600, 400)), ("Outline", (0, 0, 600, 400)))
    edited = read(Project(), path)
    (finding,) = told(edited, "outline-twice")
    assert finding.panel == "p1"
    project = counted_twice(edited.project, finding)
    assert project.panels[0].quantity == 2
    again = read(project, path)
    assert not told(again, "outline-twice")
    assert again.project == project


def test_a_stray_line_left_out_is_not_asked_about_again(tmp_path: Path) -> None:
    path = draw(tmp_path / "a.dxf", ("0", (0, 0, 600, 400)), lines=(((700, 0), (800, 90)),))
    edited = read(Project(), path)
    (finding,) = told(edited, "open-line")
    assert finding.fix == "leave-out"
    project = settled(edited.project, finding)
    assert not told(read(project, path), "open-line")


def test_a_board_drawn_round_its_panels_is_the_sheet_once_said(tmp_path: Path) -> None:
    path = draw(
        tmp_path / "a.dxf",
        ("0", (0, 0, 2440, 1220)),
        ("0", (50, 50, 600, 400)),
        ("0", (700, 50, 600, 300)),
    )
    edited = read(Project(), path)
    (finding,) = told(edited, "may-be-sheet")
    assert len(edited.project.panels) == 1
    assert finding.at is not None
    project = read(edited.project, path, answers=[Answer(finding.code, finding.at)]).project
    assert sorted(p.size_mm for p in project.panels) == [(600, 300), (600, 400)]
    assert sorted(p.size_mm for p in read(project, path).project.panels) == [(600, 300), (600, 400)]


# --- layers -------------------------------------------------------------------------------------


def test_depth_and_face_set_by_hand_outlive_reading_again(tmp_path: Path) -> None:
    path = draw(tmp_path / "a.dxf", ("0", (0, 0, 600, 400)), ("Recess", (50, 50, 60, 40)))
    project = read(Project(), path).project
    project = layer_values(project, "d1", LayerChoice("Recess", depth_mm=7.5, face=Face.BACK))
    assert project.panels[0].features[0].depth_mm == 7.5
    assert not [f for f in project.drawings[0].findings if f.code == "depth-missing"]
    assert from_plain(Project, to_plain(project)) == project
    draw(path, ("0", (0, 0, 620, 400)), ("Recess", (50, 50, 60, 40)))
    again = read(project, path).project
    feature = again.panels[0].features[0]
    assert (feature.depth_mm, feature.face) == (7.5, Face.BACK)
    through = layer_values(again, "d1", LayerChoice("Recess", through=True))
    assert read(through, path).project.panels[0].features[0].depth_mm is None


def test_a_remembered_layer_is_read_so_in_other_files_and_told(tmp_path: Path) -> None:
    memory = LayerChoice("Blue", Role.POCKET, 5.0, face=Face.BACK)
    project = with_memory(Project(), [memory])
    path = draw(tmp_path / "b.dxf", ("0", (0, 0, 600, 400)), ("BLUE", (50, 50, 60, 40)))
    edited = read(project, path)
    (feature,) = edited.project.panels[0].features
    assert (feature.kind, feature.depth_mm, feature.face) == (Role.POCKET, 5.0, Face.BACK)
    (note,) = told(edited, "layer-remembered")
    assert "5 mm deep from the back, as you decided" in note.message
    assert note.fix == "forget-layer:BLUE"
    # Kept with the drawing, whatever becomes of the memory.
    forgotten = without_memory(edited.project, "blue")
    assert forgotten.layer_memory == ()
    assert read(forgotten, path).project.panels[0].features == (feature,)
    by_name = read(edited.project, path, forget=["BLUE"]).project
    assert by_name.panels[0].features == ()
    assert len(by_name.panels[0].region.holes) == 1


def test_gaps_closed_once_stay_closed(tmp_path: Path) -> None:
    doc = ezdxf.new("R2010", units=4)
    doc.modelspace().add_lwpolyline([(0, 0), (600, 0), (600, 400), (0, 400), (0, 2.5)])
    path = tmp_path / "open.dxf"
    doc.saveas(path)
    edited = read(Project(), path)
    (finding,) = told(edited, "open-outline")
    assert finding.fix == "close-gap:2.51"
    assert edited.project.drawings[0].open_lines
    closed = read(edited.project, path, gap_mm=2.51)
    assert len(closed.project.panels) == 1
    (gap,) = told(closed, "gap-closed")
    assert "2.5 mm" in gap.message
    assert read(closed.project, path).project == closed.project


# --- reading again ------------------------------------------------------------------------------


def test_a_removed_panel_does_not_come_back(tmp_path: Path) -> None:
    path = draw(tmp_path / "a.dxf", ("0", (0, 0, 600, 400)), ("0", (0, 500, 600, 300)))
    project = read(Project(), path).project
    project = replace(project, panels=project.panels[:1])
    draw(path, ("0", (0, 0, 600, 400)), ("0", (0, 500, 600, 300)), ("0", (0, 900, 90, 30)))
    edited = read(project, path)
    assert [p.size_mm for p in edited.project.panels] == [(600, 400), (90, 30)]
    assert edited.added == ("p2",)


def test_before_and_after_are_laid_side_by_side(tmp_path: Path) -> None:
    path = draw(
        tmp_path / "a.dxf",
        ("0", (0, 0, 600, 400)),
        ("0", (0, 500, 500, 300)),
        ("0", (900, 0, 77, 33)),
    )
    project = read(Project(), path).project
    draw(
        path,
        ("0", (0, 0, 640, 400)),
        ("0", (10, 520, 500, 300)),
        ("0", (2000, 2000, 50, 900)),
    )
    edited = read(project, path)
    comparison = compare(project, edited, "d1")
    kinds = {c.name: c.kind.value for c in comparison.panels}
    assert kinds == {"a": "changed", "a-2": "moved", "a-3": "removed"} | {
        c.name: c.kind.value for c in comparison.panels if c.old is None
    }
    stretched = comparison.panels[0]
    assert sum(p.area for p in stretched.differing) == pytest.approx(40 * 400)
    assert comparison.panels[1].moved_mm == pytest.approx((10, 20))
    assert [c.kind.value for c in comparison.panels if c.old is None] == ["added"]
    assert {f.code for f in comparison.told} >= {"panel-changed", "panel-lost"}


def test_another_file_of_the_same_name_is_another_drawing(tmp_path: Path) -> None:
    (tmp_path / "x").mkdir()
    (tmp_path / "y").mkdir()
    one = draw(tmp_path / "x" / "side.dxf", ("0", (0, 0, 600, 400)))
    two = draw(tmp_path / "y" / "side.dxf", ("0", (0, 0, 500, 300)))
    project = add_drawing(Project(), one, project_dir=tmp_path).project
    project = add_drawing(project, two, project_dir=tmp_path).project
    assert len(project.drawings) == 2
    # Moved with its folder, it is the one that was read.
    one.unlink()
    (tmp_path / "z").mkdir()
    moved = draw(tmp_path / "z" / "side.dxf", ("0", (0, 0, 600, 410)))
    edited = add_drawing(project, moved, project_dir=tmp_path)
    assert edited.changed == ("p1",)
    assert len(edited.project.drawings) == 2


def test_a_header_that_changed_its_unit_is_believed_unless_the_maker_said_otherwise(
    tmp_path: Path,
) -> None:
    path = draw(tmp_path / "a.dxf", ("0", (0, 0, 600, 400)))
    project = read(Project(), path).project
    draw(path, ("0", (0, 0, 60, 40)), unit=5)  # the same in centimetres
    again = read(project, path)
    assert again.project.drawings[0].units == "cm"
    assert again.project.panels[0].size_mm == pytest.approx((600, 400))
    assert not again.changed
    chosen = read(project, path, units="mm").project
    assert read(chosen, path).project.panels[0].size_mm == pytest.approx((60, 40))


# --- recognised features ------------------------------------------------------------------------


def test_a_feature_switched_off_stays_off_where_the_panel_goes(tmp_path: Path) -> None:
    boxes = (("0", (0.0, 0.0, 600.0, 400.0)), ("0", (100.0, 100.0, 18.0, 120.0)))
    path = draw(tmp_path / "a.dxf", *boxes)
    project = read(Project(), path).project
    slot = next(r for r in recognise(project.panels[0].region, [18]) if r.kind == "slot")
    panel = switched(project.panels[0], slot.ref, on=False)
    assert is_off(panel, slot.ref)
    assert switched(panel, slot.ref, on=True) == project.panels[0]
    project = replace(project, panels=(panel,))
    assert from_plain(Project, to_plain(project)) == project
    draw(path, *((layer, (x + 50, y, w, h)) for layer, (x, y, w, h) in boxes))
    again = read(project, path).project.panels[0]
    moved = next(r for r in recognise(again.region, [18]) if r.kind == "slot")
    assert moved.ref.anchor == pytest.approx((159, 160))
    assert is_off(again, moved.ref)


def test_a_slot_switched_off_is_not_recut(tmp_path: Path) -> None:
    path = draw(tmp_path / "a.dxf", ("0", (0, 0, 600, 400)), ("0", (100, 100, 18, 120)))
    shop = Shop(materials=(Material("birch 18", 18.0, readings=(Reading(17.6),)),))
    project = replace(Project(shop=shop, refit=True), panels=())
    project = read(project, path).project
    panel = replace(project.panels[0], material="birch 18")
    project = replace(project, panels=(panel,))
    (item,) = refit_panel(project, panel).items
    off = switched(panel, item.ref, on=False)
    assert refit_panel(replace(project, panels=(off,)), off).items == ()
