"""The document: named undo without end, saving, noticing the disk, recovery."""

from __future__ import annotations

import os
import random
import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import pytest

from app.commands import (
    AddPanels,
    Adopt,
    RemovePanels,
    RenameMaterial,
    SetPanels,
    SetProject,
    SetShopList,
    SetShopPart,
    Together,
)
from app.document import Change, Document
from app.panel_table import rectangle_panel
from app.recovery import Recovery
from core.errors import InvalidProjectError, SaveFailedError, UnreadableProject
from core.geometry import Ring
from core.outlines.write import RingItem, write_dxf
from core.project import places
from core.project.edits import add_drawing
from core.project.file import load_project, project_to_json
from core.project.model import Grain, Project
from core.shop import Material


def shelf(name: str = "Shelf", w: float = 800, h: float = 300) -> AddPanels:
    return AddPanels(f"Add {name}", (rectangle_panel(name, w, h),))


def test_undo_and_redo_go_through_named_steps(qtbot) -> None:
    document = Document()
    document.run(shelf("Side"))
    document.run(SetPanels("Set grain", ("side",), (("grain", Grain.ALONG),)))
    assert document.undo_text == "Set grain"
    document.undo()
    assert (document.undo_text, document.redo_text) == ("Add Side", "Set grain")
    assert document.project.panels[0].grain is Grain.FREE
    document.redo()
    assert document.project.panels[0].grain is Grain.ALONG
    assert document.history == ("Add Side", "Set grain")


def test_a_command_that_changes_nothing_leaves_no_step(qtbot) -> None:
    document = Document()
    document.run(shelf())
    assert not document.run(SetPanels("Set quantity", ("shelf",), (("quantity", 1),)))
    assert document.history == ("Add Shelf",)


def test_a_new_step_after_undo_drops_what_was_undone(qtbot) -> None:
    document = Document()
    document.run(shelf("One"))
    document.run(shelf("Two"))
    document.undo()
    document.run(shelf("Three"))
    assert document.redo_text is None
    assert [p.name for p in document.project.panels] == ["One", "Three"]


def test_steps_with_the_same_merge_word_become_one(qtbot) -> None:
    document = Document()
    document.run(shelf())
    for quantity in (2, 3, 4):
        document.run(
            SetPanels("Set quantity", ("shelf",), (("quantity", quantity),)), merge="quantity"
        )
    assert document.history == ("Add Shelf", "Set quantity")
    document.undo()
    assert document.project.panels[0].quantity == 1


def test_a_saved_state_is_not_merged_away(qtbot, tmp_path: Path) -> None:
    document = Document()
    document.run(shelf())
    document.run(SetPanels("q", ("shelf",), (("quantity", 2),)), merge="q")
    document.save_as(tmp_path / "p.json")
    document.run(SetPanels("q", ("shelf",), (("quantity", 3),)), merge="q")
    assert document.dirty
    document.undo()
    assert not document.dirty
    assert document.project.panels[0].quantity == 2


def test_a_value_out_of_range_is_refused_and_changes_nothing(qtbot) -> None:
    document = Document()
    before = document.project
    with pytest.raises(InvalidProjectError):
        document.run(SetShopPart("Set machine", "machine", (("travel_mm", (0.0, 600.0)),)))
    assert document.project is before
    assert document.undo_text is None


def test_changes_carry_their_kinds_and_sender(qtbot) -> None:
    document = Document()
    heard: list[Change] = []
    document.changed.connect(heard.append)
    me = object()
    document.run(shelf(), sender=me)
    document.undo()
    assert heard[0].kinds == frozenset({"panels", "drawings"})
    assert heard[0].sender is me
    assert heard[1].kinds == heard[0].kinds
    assert heard[1].sender is None


def test_dirty_follows_saving_undo_and_redo(qtbot, tmp_path: Path) -> None:
    document = Document()
    document.run(shelf())
    assert document.dirty
    document.save_as(tmp_path / "p.json")
    assert not document.dirty
    document.undo()
    assert document.dirty
    document.redo()
    assert not document.dirty
    document.undo()
    document.run(shelf("Other"))
    document.undo()
    assert document.dirty, "the saved state lies in a branch that is gone"


def test_several_commands_can_be_one_step(qtbot) -> None:
    document = Document()
    document.run(Together("Two at once", (shelf("A"), shelf("B"))))
    assert len(document.project.panels) == 2
    document.undo()
    assert not document.project.panels


def test_a_renamed_board_is_renamed_wherever_it_is_used(qtbot, shop) -> None:
    panel = replace(rectangle_panel("Shelf", 100, 100), material="birch 18")
    document = Document(Project(shop=shop, panels=(panel,)))
    document.run(RenameMaterial("Rename board", "birch 18", "birch ply"))
    assert document.project.panels[0].material == "birch ply"
    assert document.project.shop.stock[0].material == "birch ply"
    assert document.project.shop.material("birch ply") is not None


def test_removing_the_last_panel_of_a_drawing_removes_the_drawing(qtbot) -> None:
    from core.project.model import Drawing

    drawing = Drawing("d1", "side.dxf", "side.dxf", "0" * 64, "mm")
    panels = tuple(replace(rectangle_panel(n, 10, 10), id=n, drawing="d1") for n in ("a", "b"))
    document = Document(Project(drawings=(drawing,), panels=panels))
    document.run(RemovePanels("Remove", ("a",)))
    assert document.project.drawings == (drawing,)
    document.run(RemovePanels("Remove", ("b",)))
    assert document.project.drawings == ()


def test_undoing_everything_gives_the_start_byte_for_byte_and_redoing_the_end(qtbot, shop) -> None:
    rng = random.Random(7)
    document = Document(Project(shop=shop))
    start = project_to_json(document.project)
    for i in range(120):
        ids = tuple(p.id for p in document.project.panels)
        some = tuple(rng.sample(ids, min(len(ids), 2)))
        document.run(
            rng.choice(
                (
                    shelf(f"S{i}", rng.uniform(10, 2000), rng.uniform(10, 900)),
                    SetPanels("q", some, (("quantity", rng.randrange(9)),)),
                    SetPanels("g", some, (("grain", rng.choice(list(Grain))),)),
                    RemovePanels("r", some[:1]),
                    SetProject("u", (("units", rng.choice(("mm", "in"))),)),
                    SetShopPart("k", "rules", (("kerf_mm", rng.uniform(1, 4)),)),
                    SetShopList("m", "materials", (Material("birch 18", rng.uniform(5, 30)),)),
                )
            )
        )
    end = project_to_json(document.project)
    while document.undo_text is not None:
        document.undo()
    assert project_to_json(document.project) == start
    while document.redo_text is not None:
        document.redo()
    assert project_to_json(document.project) == end


def test_a_project_that_cannot_be_opened_leaves_the_document_as_it_is(
    qtbot, tmp_path: Path
) -> None:
    document = Document()
    document.run(shelf())
    bad = tmp_path / "bad.json"
    bad.write_text("{")
    with pytest.raises(UnreadableProject):
        document.open(bad)
    assert [p.name for p in document.project.panels] == ["Shelf"]
    assert document.undo_text == "Add Shelf"


def test_a_save_that_fails_keeps_the_document_unsaved(qtbot, tmp_path: Path) -> None:
    document = Document()
    document.run(shelf())
    blocked = tmp_path / "file"
    blocked.write_text("in the way")
    with pytest.raises(SaveFailedError):
        document.save_as(blocked / "p.json")
    assert document.dirty
    assert document.path is None


def test_another_program_writing_the_file_is_noticed_once(qtbot, tmp_path: Path) -> None:
    path = tmp_path / "p.json"
    document = Document()
    document.run(shelf())
    document.save_as(path)
    with qtbot.assertNotEmitted(document.changed_on_disk):
        document.check_disk()
    path.write_text(path.read_text().replace("Shelf", "Shelves"))
    with qtbot.waitSignal(document.changed_on_disk, timeout=1000):
        document.check_disk()
    with qtbot.assertNotEmitted(document.changed_on_disk):
        document.check_disk()


def test_touching_the_file_without_changing_it_says_nothing(qtbot, tmp_path: Path) -> None:
    path = tmp_path / "p.json"
    document = Document()
    document.run(shelf())
    document.save_as(path)
    os.utime(path, (1, 1))
    with qtbot.assertNotEmitted(document.changed_on_disk):
        document.check_disk()


def test_unsaved_work_is_kept_beside_and_dropped_once_saved(qtbot, tmp_path: Path) -> None:
    recovery = Recovery(tmp_path / "recovery")
    document = Document(recovery=recovery)
    document.autosave()
    assert not recovery.copy_path.exists(), "nothing to lose yet"
    document.run(shelf())
    document.autosave()
    assert load_project(recovery.copy_path).panels[0].name == "Shelf"
    document.save_as(tmp_path / "p.json")
    assert not recovery.copy_path.exists()
    document.close()


def test_a_killed_window_leaves_a_copy_that_the_next_one_finds(qtbot, tmp_path: Path) -> None:
    folder = tmp_path / "recovery"
    code = (
        "import os, sys\n"
        "from pathlib import Path\n"
        "from app.document import Document\n"
        "from app.recovery import Recovery\n"
        "from app.commands import AddPanels\n"
        "from app.panel_table import rectangle_panel\n"
        "from PySide6.QtCore import QCoreApplication\n"
        "app = QCoreApplication([])\n"
        "d = Document(recovery=Recovery(Path(sys.argv[1])))\n"
        "d.run(AddPanels('Add', (rectangle_panel('Lost shelf', 800, 300),)))\n"
        "d.autosave()\n"
        "os.kill(os.getpid(), 9)\n"
    )
    root = Path(__file__).resolve().parents[2]
    subprocess.run([sys.executable, "-c", code, str(folder)], cwd=root, check=False, timeout=60)
    (dead,) = folder.glob("*.lock")
    (folder / "saved.lock").write_text(dead.read_text())  # killed too, but with nothing to lose
    recovery = Recovery(folder)
    found = recovery.leftovers()
    assert len(found) == 1
    assert found[0].original is None
    assert load_project(found[0].copy).panels[0].name == "Lost shelf"
    assert not (folder / "saved.lock").exists()
    recovery.forget(found[0])
    assert recovery.leftovers() == []


def test_the_copy_of_a_window_that_still_runs_is_no_leftover(qtbot, tmp_path: Path) -> None:
    folder = tmp_path / "recovery"
    first, second = Recovery(folder), Recovery(folder)
    assert second.leftovers() == [] and len(list(folder.glob("*.lock"))) == 2
    document = Document(recovery=first)
    document.run(shelf())
    document.autosave()
    assert second.leftovers() == []
    document.close()


def test_a_drawing_read_before_the_first_save_is_read_again_not_added(
    qtbot, tmp_path: Path
) -> None:
    """The way of every new user: draw, read, save beside the drawing, draw on."""
    drawing = tmp_path / "side.dxf"
    write_dxf(drawing, [RingItem("CUT", Ring.rectangle(0, 0, 800, 300))])
    document = Document()
    document.run(Adopt("Read side.dxf", add_drawing(document.project, drawing).project))
    before = document.project
    document.save_as(tmp_path / "job.json")
    assert document.project.drawings[0].path == "side.dxf"
    assert not document.dirty
    assert load_project(tmp_path / "job.json") == document.project
    write_dxf(drawing, [RingItem("CUT", Ring.rectangle(0, 0, 900, 300))])
    edited = add_drawing(document.project, drawing, project_dir=tmp_path)
    assert (edited.added, len(edited.project.panels)) == ((), 1)
    # elsewhere, and in the steps before, the way to the drawing still holds
    (tmp_path / "jobs").mkdir()
    document.save_as(tmp_path / "jobs" / "job.json")
    document.undo()
    document.redo()
    assert document.project.drawings[0].path == "../side.dxf"
    assert document.project.panels == before.panels


def test_a_long_history_saved_elsewhere_asks_the_disk_about_a_drawing_once(
    qtbot, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    drawing = tmp_path / "side.dxf"
    write_dxf(drawing, [RingItem("CUT", Ring.rectangle(0, 0, 800, 300))])
    document = Document()
    document.run(Adopt("Read side.dxf", add_drawing(document.project, drawing).project))
    for n in range(20):
        document.run(SetProject("Name it", (("name", f"Job {n}"),)))
    asked: list[Path] = []
    honest = places.relative_path

    def counting(path: Path, folder: Path | str | None) -> str:
        asked.append(path)
        return honest(path, folder)

    monkeypatch.setattr(places, "relative_path", counting)
    document.save_as(tmp_path / "job.json")
    assert asked == [drawing]
    document.undo()
    assert document.project.drawings[0].path == "side.dxf"
