"""Pieces of one panel from alternating boards."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from core.geometry import Region, Ring
from core.planning import cut_panels, plan_project
from core.project.file import load_project, save_project
from core.project.model import BoardChoice, Grain, Panel, Project, SeamLine
from core.shop import Cutter, Material, Reading, Shop, Stock
from core.splitting import alternating, boards_of, split_panel

BIRCH, ASH, THIN = "birch", "ash", "thin ash"
SHOP = Shop(
    materials=(
        Material(BIRCH, 18.0, (Reading(17.6),)),
        Material(ASH, 18.0, (Reading(17.65),)),
        Material(THIN, 15.0),
    ),
    stock=tuple(Stock(name, name, 2500, 1250) for name in (BIRCH, ASH, THIN)),
)


def front(*boards: BoardChoice, **more: object) -> Panel:
    seams = tuple(SeamLine(((x, -10.0), (x, 410.0))) for x in (500.0, 1000.0, 1500.0))
    return Panel(
        "P1",
        "Front",
        Region.of(Ring.rectangle(0, 0, 2000, 400)),
        material=BIRCH,
        seams=seams,
        boards=boards,
        **more,  # type: ignore[arg-type]
    )


def test_every_other_piece_is_of_the_other_board_and_the_plan_lays_them_on_its_sheets() -> None:
    plain = front()
    split = split_panel(plain, cutter=Cutter(6.0), thickness_mm=17.6)
    panel = replace(plain, boards=alternating(plain, split, ASH))
    pieces = cut_panels(Project(panels=(panel,), shop=SHOP))
    assert [p.material for p in pieces.pieces] == [BIRCH, ASH, BIRCH, ASH]
    assert [p.thickness_mm for p in pieces.pieces] == [17.6, 17.65, 17.6, 17.65]
    plan = plan_project(Project(panels=(panel,), shop=SHOP), steps=2)
    materials = {sheet.stock.material for sheet in plan.sheets}
    assert materials == {BIRCH, ASH} and not plan.unplaced


def test_a_choice_stays_with_its_piece_when_a_seam_is_moved() -> None:
    panel = front(BoardChoice((750.0, 200.0), ASH))
    assert panel.seams is not None
    moved = replace(panel.seams[0], points=((620.0, -10.0), (620.0, 410.0)))
    panel = replace(panel, seams=(moved, *panel.seams[1:]))
    split = split_panel(panel, cutter=Cutter(6.0), thickness_mm=17.6)
    assert list(boards_of(panel, split.pieces).values()) == [BIRCH, ASH, BIRCH, BIRCH]


def test_boards_of_another_finished_thickness_stop_and_say_both() -> None:
    panel = front(BoardChoice((750.0, 200.0), THIN))
    found = cut_panels(Project(panels=(panel,), shop=SHOP)).findings
    (stop,) = [f for f in found if f.code == "joint-boards-differ"]
    assert stop.severity == "stop" and "15 mm" in stop.message and "17.6 mm" in stop.message


def test_a_board_the_shop_has_not_stops() -> None:
    panel = front(BoardChoice((750.0, 200.0), "oak"))
    found = cut_panels(Project(panels=(panel,), shop=SHOP)).findings
    assert any(f.code == "no-material" and "oak" in f.message for f in found)


def test_a_note_tells_where_the_figure_of_the_grain_does_not_run_on() -> None:
    panel = front(BoardChoice((750.0, 200.0), ASH), grain=Grain.ALONG)
    pieces = cut_panels(Project(panels=(panel,), shop=SHOP))
    (note,) = [f for f in pieces.findings if f.code == "joint-grain-changes"]
    assert note.severity == "note" and "A, B" in note.message
    # The direction goes on all the same.
    assert {p.turns_deg for p in pieces.pieces} == {(0.0, 180.0)}
    plain = cut_panels(Project(panels=(front(grain=Grain.ALONG),), shop=SHOP))
    assert all(f.code != "joint-grain-changes" for f in plain.findings)


def test_the_boards_are_kept_in_the_project_file(tmp_path: Path) -> None:
    choice = BoardChoice((750.0, 200.0), ASH)
    save_project(Project(panels=(front(choice),), shop=SHOP), tmp_path / "p.json")
    assert load_project(tmp_path / "p.json").panels[0].boards == (choice,)


def test_around_a_ring_of_four_neighbours_differ() -> None:
    ring = Panel(
        "P1",
        "Ring",
        Region.of(Ring.rectangle(0, 0, 1200, 1200), [Ring.rectangle(300, 300, 600, 600)]),
        material=BIRCH,
    )
    seams = (
        SeamLine(((600.0, -10.0), (600.0, 1210.0))),
        SeamLine(((-10.0, 600.0), (1210.0, 600.0))),
    )
    split = split_panel(ring, seams, cutter=Cutter(6.0), thickness_mm=17.6)
    names = boards_of(replace(ring, boards=alternating(ring, split, ASH)), split.pieces)
    assert all(names[s.pieces[0]] != names[s.pieces[1]] for s in split.seams)
