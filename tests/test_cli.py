"""The command line as a maker and a script meet it: exit codes, sentences, nothing half-written."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import pytest

from app.cli import main
from core.geometry import Ring
from core.outlines.write import RingItem, TextItem, write_dxf
from core.project.file import load_project, save_project
from core.project.model import Project

BASIC = ["--material", "Birch", "--thickness", "18", "--measured", "17.6", "--bed", "900x600"]


def drawing(path: Path, width: float = 500.0, height: float = 300.0) -> Path:
    items = [
        RingItem("CUT", Ring.rectangle(0, 0, width, height)),
        TextItem("NAMES", (50, 50), "Shelf", 10.0),
    ]
    write_dxf(path, items)
    return path


def imported(tmp_path: Path, *more: str, width: float = 500.0, height: float = 300.0) -> Path:
    project = tmp_path / "job.json"
    argv = ["import", str(drawing(tmp_path / "shelf.dxf", width, height))]
    assert main([*argv, "--project", str(project), *BASIC, "--sheet", "2500x1250", *more]) == 0
    return project


def test_import_makes_a_project_with_all_that_was_said(tmp_path: Path) -> None:
    path = imported(
        tmp_path,
        *("--cutter", "1/4in", "--spacing", "9", "--edge-margin", "12", "--fit", "0,2"),
        *("--kerf", "2.2", "--grain", "along", "--table", "950x640", "--refit"),
    )
    project = load_project(path)
    shop = project.shop
    assert shop.machine.travel_mm == (900, 600)
    assert shop.machine.table_mm == (950, 640)
    assert shop.machine.cutter.diameter_mm == pytest.approx(6.35)
    assert (shop.rules.spacing_mm, shop.rules.edge_margin_mm) == (9, 12)
    assert (shop.rules.fit_mm, shop.rules.kerf_mm) == (0.2, 2.2)
    assert shop.materials[0].thickness_mm == 17.6
    assert (shop.stock[0].width_mm, shop.stock[0].quantity) == (2500, None)
    assert project.refit
    (panel,) = project.panels
    assert (panel.name, panel.grain, panel.material) == ("Shelf", "along", "Birch")


def test_import_adds_to_a_project_and_reads_again_with_decisions_kept(tmp_path: Path) -> None:
    path = imported(tmp_path)
    before = load_project(path)
    drawing(tmp_path / "shelf.dxf", width=520.0)
    drawing(tmp_path / "second.dxf", 200.0, 100.0)
    argv = ["import", str(tmp_path / "shelf.dxf"), str(tmp_path / "second.dxf")]
    assert main([*argv, "--project", str(path)]) == 0
    after = load_project(path)
    assert [p.id for p in after.panels][:1] == [p.id for p in before.panels]
    assert after.panels[0].size_mm == pytest.approx((520, 300))
    assert after.panels[0].material == "Birch"
    assert len(after.panels) == 2
    assert after.shop == before.shop


def test_plan_writes_every_file_and_says_what_to_buy(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = imported(tmp_path)
    assert main(["plan", str(path), "--out", str(tmp_path / "out"), "--steps", "2000"]) == 0
    told = capsys.readouterr().out
    assert "Buy 1 × Birch 2500 × 1250 mm" in told
    plan = json.loads((tmp_path / "out" / "plan.json").read_text(encoding="utf-8"))
    assert plan["totals"]["sheets"] == 1
    assert plan["unplaced"] == []


def test_a_panel_that_fits_nothing_is_planned_and_told(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = imported(tmp_path, "--bed", "90x60", width=500.0, height=300.0)
    code = main(["plan", str(path), "--out", str(tmp_path / "out"), "--steps", "2000"])
    assert code == 1
    plan = json.loads((tmp_path / "out" / "plan.json").read_text(encoding="utf-8"))
    assert plan["unplaced"]
    assert all(u["reason"] for u in plan["unplaced"])
    assert any(f["severity"] == "stop" for f in plan["findings"])
    assert "Not placed" in capsys.readouterr().out


def bad_files(tmp_path: Path) -> dict[str, Path]:
    """Files that are no drawing, by what is wrong with them."""
    rows = {
        "empty": b"",
        "binary": bytes(range(256)) * 20,
        "picture": b"\x89PNG\r\n\x1a\n" + b"\x00" * 200,
        "prose": b"Dear workshop, the shelf is 500 by 300.\n",
        "half_svg": b'<svg xmlns="http://www.w3.org/2000/svg" width="10mm"><path d="M0',
    }
    found = {}
    for name, content in rows.items():
        found[name] = tmp_path / f"{name}.{'svg' if 'svg' in name else 'dxf'}"
        found[name].write_bytes(content)
    return found


@pytest.mark.parametrize("name", ["empty", "binary", "picture", "prose", "half_svg"])
def test_what_is_no_drawing_is_named_and_nothing_is_written(
    name: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = bad_files(tmp_path)[name]
    project = tmp_path / "job.json"
    assert main(["import", str(path), "--project", str(project), *BASIC]) == 2
    told = capsys.readouterr()
    assert path.name in told.err
    assert "Traceback" not in told.err
    assert not project.exists()


def test_one_bad_drawing_among_good_ones_changes_nothing(tmp_path: Path) -> None:
    path = imported(tmp_path)
    before = path.read_bytes()
    bad = bad_files(tmp_path)["binary"]
    good = drawing(tmp_path / "other.dxf")
    assert main(["import", str(good), str(bad), "--project", str(path)]) == 2
    assert path.read_bytes() == before


@pytest.mark.parametrize(
    "more",
    [
        ["--bed", "0x600"],
        ["--bed", "900"],
        ["--bed", "-900x600"],
        ["--cutter", "0"],
        ["--fit", "-0.1"],
        ["--thickness", "nothing"],
        ["--sheet", "2500x1250x0"],
        ["--kerf", "1/0 in"],
        ["--spacing", "-1"],
    ],
)
def test_sizes_that_make_no_sense_are_refused(
    more: list[str], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    project = tmp_path / "job.json"
    # argparse wants a value that begins with a minus glued to its option.
    glued = [f"{more[0]}={more[1]}"]
    argv = ["import", str(drawing(tmp_path / "a.dxf")), "--project", str(project), *BASIC, *glued]
    assert main(argv) == 2
    assert capsys.readouterr().err.startswith("seamwright: ")
    assert not project.exists()


@pytest.mark.parametrize("command", ["plan", "check", "testpiece"])
def test_a_project_that_cannot_be_read_is_told(
    command: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    out = ["--out", str(tmp_path / "out")] if command != "check" else []
    newer = tmp_path / "newer.json"
    newer.write_text('{"format": "seamwright-project", "version": 99, "project": {}}')
    broken = tmp_path / "broken.json"
    broken.write_text('{"format": "seamwright-project", "version": 1, "project": {"panels"')
    for path in (tmp_path / "none.json", newer, broken):
        assert main([command, str(path), *out]) == 2
        told = capsys.readouterr().err
        assert path.name in told
        assert "Traceback" not in told
    assert not (tmp_path / "out").exists()


def test_a_project_without_panels_is_told(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "job.json"
    save_project(Project(), path)
    assert main(["plan", str(path), "--out", str(tmp_path / "out")]) == 2
    assert "no panel" in capsys.readouterr().err


def test_the_output_folder_may_not_be_a_file(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = imported(tmp_path)
    (tmp_path / "out").write_text("in the way")
    assert main(["plan", str(path), "--out", str(tmp_path / "out")]) == 2
    assert "not a folder" in capsys.readouterr().err
    assert (tmp_path / "out").read_text() == "in the way"


def test_check_tells_findings_by_exit_code(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = imported(tmp_path)
    assert main(["check", str(path)]) == 0
    assert "Nothing was found wrong" in capsys.readouterr().out
    path = imported(tmp_path, "--bed", "90x60")
    assert main(["check", str(path)]) == 1


def test_the_test_piece_is_written_with_sentences_on_how_to_use_it(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = imported(tmp_path)
    capsys.readouterr()
    out = tmp_path / "test.dxf"
    assert main(["testpiece", str(path), "--out", str(out)]) == 0
    assert out.stat().st_size > 1000
    assert (tmp_path / "test.pdf").read_bytes().startswith(b"%PDF")
    assert "test.pdf" in capsys.readouterr().out


def test_the_result_of_the_test_piece_is_kept_and_used_from_then_on(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = imported(tmp_path)
    before = load_project(path)
    cutter = before.shop.machine.cutter
    capsys.readouterr()
    argv = ["testpiece", str(path), "--along", "0.1", "--across", "0.2 mm"]
    assert main(argv) == 0
    assert "0.20 mm across, 0.10 mm a side" in capsys.readouterr().out
    after = load_project(path)
    (setting,) = after.shop.fits
    assert setting.from_test
    assert (setting.along_mm, setting.across_mm) == (0.1, 0.2)
    assert setting.cutter_mm == cutter.diameter_mm
    # The looser of the two ways is the fit of every joint in that board from then on.
    assert after.shop.fit_mm(material=setting.material) == 0.2
    assert main(["testpiece", str(path), "--along", "no such word"]) == 2
    assert "is not on the piece" in capsys.readouterr().err
    assert main(["testpiece", str(path)]) == 2
    assert load_project(path) == after


@pytest.mark.parametrize(
    "argv",
    [
        [],
        ["plan"],
        ["paln", "x"],
        ["plan", "x", "--out", "y", "--seconds", "0"],
        ["plan", "x", "--out", "y", "--steps", "-3"],
        ["open", "no_such_file.json"],
    ],
)
def test_a_command_that_cannot_be_understood_exits_with_2(
    argv: list[str], capsys: pytest.CaptureFixture[str]
) -> None:
    try:
        code = main(argv)
    except SystemExit as left:
        code = int(left.code or 0)
    assert code == 2
    assert "seamwright: " in capsys.readouterr().err


def test_the_ways_are_compared_in_a_table_in_the_projects_unit(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    demo = Path(__file__).parents[1] / "demo_projects" / "glaze_shelves"
    argv = ["plan", str(demo), "--out", str(tmp_path / "out"), "--steps", "2000", "--compare"]
    assert main(argv) in (0, 1)
    told = capsys.readouterr().out
    for words in ("rough-cut blanks", "whole sheets", "pushed through", "Clampings"):
        assert words in told
    assert "a sheet of 96 × 48 in does not lie on the table" in told
    plan = json.loads((tmp_path / "out" / "plan.json").read_text(encoding="utf-8"))
    assert [way["way"] for way in plan["ways"]] == ["blanks", "whole", "through"]


@pytest.mark.parametrize(
    ("option", "value"),
    [
        ("--bed", "0x600"),
        ("--table", "900"),
        ("--cutter", "0"),
        ("--sheet", "2500x1250xq"),
        ("--spacing", "-1"),
        ("--edge-margin", "wide"),
        ("--fit", "-0.1"),
        ("--kerf", "-2"),
        ("--thickness", "nan"),
        ("--measured", "-1"),
    ],
)
def test_a_length_that_is_none_names_its_option_and_nothing_is_written(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], option: str, value: str
) -> None:
    project = tmp_path / "job.json"
    shelf = str(drawing(tmp_path / "shelf.dxf"))
    assert main(["import", shelf, "--project", str(project), f"{option}={value}"]) == 2
    assert capsys.readouterr().err.startswith(f"seamwright: {option}: ")
    assert not project.exists()


TABLE = "name,width,height,quantity,grain,by\nShelf A,600,300,4,along,saw\nDoor,400,500,2,,\n"


def test_a_table_of_panels_is_read_and_read_again(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    project, table = tmp_path / "job.json", tmp_path / "parts.csv"
    table.write_text(TABLE + "Bad,0,100,1,,\nWorse,wide,100,1,,\n", encoding="utf-8")
    argv = ["import", str(table), "--project", str(project), "--material", "Birch"]
    assert main([*argv, "--grain", "across"]) == 0
    said = capsys.readouterr().out
    assert "Line 4 was left out" in said and "Line 5 was left out" in said
    first, second = load_project(project).panels
    assert (first.name, first.size_mm, first.quantity) == ("Shelf A", (600, 300), 4)
    assert (first.by, first.grain, first.material) == ("saw", "along", "Birch")
    assert (second.by, second.grain, second.quantity) == ("router", "across", 2)
    table.write_text(TABLE.replace("600,300,4", "620,300,5") + "Third,90,90,1,,\n", "utf-8")
    assert main(argv) == 0
    panels = load_project(project).panels
    assert [(p.id, p.name) for p in panels] == [("p1", "Shelf A"), ("p2", "Door"), ("p3", "Third")]
    assert (panels[0].size_mm, panels[0].quantity, panels[0].grain) == ((620, 300), 5, "along")
    assert panels[1].grain == "across"


@pytest.mark.parametrize("text", ["", "name,width,height\n", "A,0,10,1\n"])
def test_a_table_without_a_panel_is_refused(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], text: str
) -> None:
    table = tmp_path / "parts.csv"
    table.write_text(text, encoding="utf-8")
    assert main(["import", str(table), "--project", str(tmp_path / "job.json")]) == 2
    assert str(table) in capsys.readouterr().err
    assert not (tmp_path / "job.json").exists()


def test_a_row_with_a_board_the_shop_does_not_have_is_told(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    table = tmp_path / "parts.csv"
    table.write_text("name,width,height,material\nA,90,80,birch\nB,90,80,Oak\n", encoding="utf-8")
    argv = ["import", str(table), "--project", str(tmp_path / "job.json"), "--material", "Birch"]
    assert main(argv) == 0
    assert "Line 3 was left out: no board in the shop is called “Oak”" in capsys.readouterr().out
    (panel,) = load_project(tmp_path / "job.json").panels
    assert panel.material == "Birch"


def test_a_reader_that_closes_early_is_no_failure(tmp_path: Path) -> None:
    path = imported(tmp_path)
    code = f"import sys; from app.cli import main; sys.exit(main(['check', {str(path)!r}]))"
    with subprocess.Popen(
        [sys.executable, "-c", code], stdout=subprocess.PIPE, stderr=subprocess.PIPE
    ) as run:
        assert run.stdout is not None and run.stderr is not None
        run.stdout.close()
        assert run.stderr.read() == b""
    assert run.returncode == 0


def test_without_a_screen_the_window_says_so(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    for name in ("DISPLAY", "WAYLAND_DISPLAY", "QT_QPA_PLATFORM"):
        monkeypatch.delenv(name, raising=False)
    monkeypatch.setattr("sys.platform", "linux")
    assert main(["open"]) == 2
    assert "There is no screen here" in capsys.readouterr().err
