"""A whole plan pushed through an open bed: plan.json, a drawing per setup, a page per setup."""

from __future__ import annotations

import json
from pathlib import Path

import ezdxf
import pytest

from core.geometry import Region, Ring
from core.planning import plan_project
from core.project.model import Panel, Project
from core.reports import write_plan_json, write_reports
from core.shop import Cutter, Machine, Material, Shop, Stock
from tests import plan_check


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    machine = Machine(
        travel_mm=(900.0, 600.0), table_mm=(900.0, 640.0), cutters=(Cutter(6.0),), open_ended=True
    )
    frame = Region.of(
        Ring.rectangle(0, 0, 420, 300),
        [Ring.rectangle(40, 40, 340, 220)],
    )
    project = Project(
        name="Ware boards",
        panels=(
            Panel("board", "Ware board", Region.of(Ring.rectangle(0, 0, 640, 250)), quantity=5,
                  material="ply"),
            Panel("frame", "Frame", frame, quantity=2, material="ply"),
        ),
        shop=Shop(machine, (Material("ply", 12.0),), (Stock("s", "ply", 2440.0, 1220.0),)),
        breakdown="through",
    )  # fmt: skip
    out = tmp_path_factory.mktemp("pushed")
    plan = plan_project(project, steps=3_000)
    assert plan.is_clean
    write_reports(plan, out)
    write_plan_json(plan, out / "plan.json")
    return out


def test_an_outside_check_finds_nothing_wrong(folder: Path) -> None:
    assert plan_check.everything(folder) == []


def test_every_setup_has_a_drawing_with_the_pins_holes_where_both_setups_have_them(
    folder: Path,
) -> None:
    plan = json.loads((folder / "plan.json").read_text(encoding="utf-8"))
    seen = 0
    for sheet in plan["sheets"]:
        for number, setup in enumerate(sheet["setups"], start=1):
            name = f"sheet-{sheet['number']:02d}-clamping-{number:02d}.dxf"
            space = ezdxf.readfile(folder / "setups" / name).modelspace()
            circles = sorted(
                (round(c.dxf.center.x, 3), round(c.dxf.center.y, 3), c.dxf.radius * 2)
                for c in space.query('CIRCLE[layer=="REGISTRATION"]')
            )
            told = setup["registration"]
            wanted = sorted(
                (round(x - setup["x"], 3), round(y - setup["y"], 3), told["diameter"])
                for x, y in (*told["bores"], *told["pins"])
            )
            assert len(circles) == len(wanted)
            for circle, hole in zip(circles, wanted, strict=True):
                assert circle == pytest.approx(hole, abs=2e-3)
            seen += len(told["bores"])
            tabs = len(space.query('POINT[layer=="TABS"]'))
            assert tabs == sum(len(h["places"]) for h in setup["holds"] if h["way"] == "tabs")
    assert seen >= 4


def test_every_freed_piece_and_slug_has_a_stated_hold(folder: Path) -> None:
    plan = json.loads((folder / "plan.json").read_text(encoding="utf-8"))
    ways = {"tabs", "skin", "vacuum", "screws", "milled away"}
    for sheet in plan["sheets"]:
        holes = {
            (p["piece"], p["copy"], k)
            for p in sheet["placements"]
            for k in (None, *range(len(p["holes"])))
        }
        held = [(h["piece"], h["copy"], h["hole"]) for s in sheet["setups"] for h in s["holds"]]
        assert len(held) == len(set(held))
        assert set(held) == holes
        assert {h["way"] for s in sheet["setups"] for h in s["holds"]} <= ways
