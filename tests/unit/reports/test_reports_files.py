"""Files are written whole or not at all, and tables come back as they went out."""

from __future__ import annotations

import csv
import errno
import io
import json
import os
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from core.errors import InvalidRequestError, SaveFailedError
from core.plan import PlanUnplaced, plan_json
from core.reports import write_plan_json, write_reports
from core.reports.cutlist import build_cut_list
from core.reports.files import default_paper, report_files, write_all
from core.reports.spreadsheets import buying_csv, pieces_csv, saw_csv
from tests.unit.reports.report_plans import every_plan

PLANS = every_plan()


def rows_of(text: str) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(text, newline="")))


def snapshot(folder: Path) -> dict[str, bytes]:
    return {str(p.relative_to(folder)): p.read_bytes() for p in folder.rglob("*") if p.is_file()}


def test_the_folder_holds_exactly_what_the_workshop_needs(tmp_path: Path) -> None:
    written = write_reports(PLANS["small"], tmp_path / "new" / "out", stamp="x")
    names = sorted(str(p.relative_to(tmp_path / "new" / "out")) for p in written)
    assert names == [
        "blank-labels.pdf",
        "buying.csv",
        "cut-list.pdf",
        "labels.pdf",
        "pieces.csv",
        "saw-cuts.csv",
        "setups/sheet-01-clamping-01.dxf",
        "setups/sheet-01-clamping-02.dxf",
        "setups/sheet-01-clamping-03.dxf",
        "sheets/sheet-01.dxf",
    ]
    assert sorted(snapshot(tmp_path / "new" / "out")) == names


def test_writing_again_gives_the_same_bytes(tmp_path: Path) -> None:
    write_reports(PLANS["split"], tmp_path / "a", stamp="x")
    write_reports(PLANS["split"], tmp_path / "b", stamp="x")
    assert snapshot(tmp_path / "a") == snapshot(tmp_path / "b")


def test_drawings_of_an_earlier_plan_do_not_stay(tmp_path: Path) -> None:
    write_reports(PLANS["split"], tmp_path, stamp="x")
    (tmp_path / "sheets" / "my own.dxf").write_text("kept")
    assert (tmp_path / "sheets" / "sheet-02.dxf").exists()
    write_reports(PLANS["long"], tmp_path, stamp="x")
    assert not (tmp_path / "sheets" / "sheet-02.dxf").exists()
    assert (tmp_path / "sheets" / "my own.dxf").read_text() == "kept"


@pytest.mark.parametrize("after", [0, 1, 5])
def test_a_full_disk_leaves_the_old_files(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, after: int
) -> None:
    write_reports(PLANS["split"], tmp_path, stamp="x")
    before = snapshot(tmp_path)
    real, calls = os.fsync, [0]

    def full(handle: int) -> None:
        calls[0] += 1
        if calls[0] > after:
            raise OSError(errno.ENOSPC, "No space left on device")
        real(handle)

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(SaveFailedError, match="No space left on device"):
        write_reports(PLANS["small"], tmp_path, stamp="x")
    assert snapshot(tmp_path) == before
    assert not list(tmp_path.glob(".writing-*"))


def test_a_full_disk_leaves_no_new_folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def full(handle: int) -> None:
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(SaveFailedError):
        write_reports(PLANS["small"], tmp_path / "deep" / "out", stamp="x")
    assert list(tmp_path.iterdir()) == []


def test_a_file_in_the_way_is_named(tmp_path: Path) -> None:
    (tmp_path / "sheets").write_text("a file")
    with pytest.raises(SaveFailedError, match="sheets"):
        write_reports(PLANS["small"], tmp_path, stamp="x")
    assert (tmp_path / "sheets").read_text() == "a file"


def test_wrong_wishes_are_refused_before_anything_is_written(tmp_path: Path) -> None:
    bad: list[dict[str, Any]] = [
        {"paper": "A0"},
        {"label_form": "none such"},
        {"dxf_version": "R1"},
        {"first_label": 0},
    ]
    for wish in bad:
        with pytest.raises(InvalidRequestError):
            write_reports(PLANS["small"], tmp_path / "out", **wish)
    assert not (tmp_path / "out").exists()


def test_the_plan_file_is_written_whole_and_reads_back(tmp_path: Path) -> None:
    path = tmp_path / "plan.json"
    write_plan_json(PLANS["small"], path)
    assert json.loads(path.read_text("utf-8")) == plan_json(PLANS["small"])
    assert [p.name for p in tmp_path.iterdir()] == ["plan.json"]


def test_inch_projects_print_on_letter() -> None:
    assert default_paper(PLANS["inch"]) == "Letter"
    assert default_paper(PLANS["small"]) == "A4"


def test_write_all_goes_on_writing_where_folders_exist(tmp_path: Path) -> None:
    write_all(tmp_path, {"a/b.txt": b"1", "c.txt": b"2"})
    write_all(tmp_path, {"a/b.txt": b"3"})
    assert snapshot(tmp_path) == {"a/b.txt": b"3", "c.txt": b"2"}


@pytest.mark.parametrize("name", PLANS)
def test_the_table_of_pieces_has_every_copy_once(name: str) -> None:
    plan = PLANS[name]
    rows = rows_of(pieces_csv(plan))
    keys = [(r["piece"], int(r["copy"])) for r in rows]
    want = [(p.piece, p.copy) for s in plan.sheets for p in s.placements]
    want += [(u.piece, u.copy) for u in plan.unplaced]
    assert sorted(keys) == sorted(want)
    assert [int(r["number"]) for r in rows if r["number"]] == list(
        range(1, len(build_cut_list(plan).copies) + 1)
    )


def test_figures_in_the_table_are_those_of_the_plan() -> None:
    plan = PLANS["inch"]
    row = next(r for r in rows_of(pieces_csv(plan)) if r["piece"] == "back")
    assert float(row["width_mm"]) == pytest.approx(22.75 * 25.4)
    assert float(row["height_mm"]) == pytest.approx(10.71875 * 25.4)
    area = sum(float(r["area_mm2"]) for r in rows_of(pieces_csv(plan)))
    assert area == pytest.approx(plan.piece_area_mm2, rel=1e-6)


def test_tables_are_rfc_4180_in_utf_8_whatever_a_name_holds() -> None:
    plan = PLANS["long"]
    odd = replace(plan.pieces[0], name='He said "4, not 5"\nthen left; ½ Größe')
    plan = replace(plan, pieces=(odd, *plan.pieces[1:]))
    data = report_files(plan, stamp="x")["pieces.csv"]
    text = data.decode("utf-8")
    assert not data.startswith(b"\xef\xbb\xbf")
    assert text.count("\r\n") == len(rows_of(text)) + 1
    assert '"He said ""4, not 5""\nthen left; ½ Größe"' in text
    assert odd.name in {r["name"] for r in rows_of(text)}


def test_pieces_without_a_place_stand_last_with_the_reason() -> None:
    plan = replace(PLANS["small"], unplaced=(PlanUnplaced("rail", 2, "too long"),))
    last = rows_of(pieces_csv(plan))[-1]
    assert (last["piece"], last["copy"], last["number"]) == ("rail", "2", "")
    assert last["note"] == "too long"
    assert last["sheet"] == "" and last["width_mm"] == "600"


def test_the_saw_table_has_every_cut_in_order() -> None:
    rows = rows_of(saw_csv(PLANS["big"]))
    want = [(s.number, c.order) for s in PLANS["big"].sheets for c in s.saw_cuts]
    assert [(int(r["sheet"]), int(r["cut"])) for r in rows] == want
    first = rows[0]
    # Blanks of (2440 − 2·3)/3 = 811.333 mm; the kerf of 3 mm lies beyond the first.
    assert float(first["kerf_from_mm"]) == pytest.approx(811.3333, abs=1e-4)
    assert float(first["kerf_to_mm"]) == pytest.approx(814.3333, abs=1e-4)


def test_the_buying_table_adds_up() -> None:
    rows = rows_of(buying_csv(PLANS["big"]))
    assert int(rows[0]["quantity"]) == len(PLANS["big"].sheets)
    assert float(rows[0]["cost"]) == pytest.approx(78.5 * len(PLANS["big"].sheets))
