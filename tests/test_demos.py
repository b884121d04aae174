"""The three demos, the whole way, checked from the outside."""

from __future__ import annotations

import json
import subprocess
import sys
from collections.abc import Callable
from functools import cache
from pathlib import Path

import pytest

from app.cli import main
from core.project.file import load_project
from tests import plan_check

DEMOS = Path(__file__).resolve().parents[1] / "demo_projects"
NAMES = ("studio_counter", "glaze_shelves", "kiln_wall")


@pytest.fixture(scope="module")
def folder_of(tmp_path_factory: pytest.TempPathFactory) -> Callable[[str], Path]:
    """The folder a demo was planned into, with few steps; once for all tests that ask."""

    @cache
    def planned_into(name: str) -> Path:
        out = tmp_path_factory.mktemp(name)
        code = main(["plan", str(DEMOS / name), "--out", str(out), "--steps", "300000"])
        assert code == 0
        return out

    return planned_into


@pytest.fixture(params=NAMES)
def planned(request: pytest.FixtureRequest, folder_of: Callable[[str], Path]) -> Path:
    return folder_of(request.param)


def test_everything_in_the_plan_holds(planned: Path) -> None:
    assert plan_check.everything(planned) == []


def test_every_file_is_there(planned: Path) -> None:
    names = {p.name for p in planned.iterdir()}
    assert {"plan.json", "cut-list.pdf", "labels.pdf", "pieces.csv", "sheets", "setups"} <= names
    plan = plan_check.load(planned)
    assert len(list((planned / "sheets").glob("*.dxf"))) == len(plan["sheets"])
    assert len(list((planned / "setups").glob("*.dxf"))) == sum(
        len(s["setups"]) for s in plan["sheets"]
    )


def test_the_demos_are_as_their_generator_writes_them(tmp_path: Path) -> None:
    """Run the generator elsewhere and compare, byte for byte."""
    code = (
        "import sys; sys.path.insert(0, sys.argv[1]); import make_demos as m;"
        "from pathlib import Path; m.HERE = Path(sys.argv[2]); m.main()"
    )
    subprocess.run([sys.executable, "-c", code, str(DEMOS), str(tmp_path)], check=True)
    for name in NAMES:
        for path in sorted((DEMOS / name).iterdir()):
            assert (tmp_path / name / path.name).read_bytes() == path.read_bytes(), path.name


def test_the_same_project_and_seed_give_the_same_plan(tmp_path: Path) -> None:
    texts = []
    for name in ("a", "b"):
        out = tmp_path / name
        argv = ["plan", str(DEMOS / "studio_counter"), "--out", str(out), "--steps", "60000"]
        assert main([*argv, "--seed", "7"]) == 0
        texts.append((out / "plan.json").read_bytes())
    assert texts[0] == texts[1]


def test_kiln_wall_is_a_big_order() -> None:
    project = load_project(DEMOS / "kiln_wall")
    assert len(project.panels) == 40
    assert 150 <= sum(p.quantity for p in project.panels) <= 170
    assert len({p.material for p in project.panels}) == 2
    assert any(stock.in_rack for stock in project.shop.stock)


def test_studio_counter_is_split_and_its_keys_are_all_there(
    folder_of: Callable[[str], Path],
) -> None:
    out = folder_of("studio_counter")
    plan = json.loads((out / "plan.json").read_text(encoding="utf-8"))
    front = next(p for p in plan["panels"] if p["name"] == "Counter front")
    assert sum(p["panel"] == front["id"] for p in plan["pieces"]) >= 3
    assert plan["seams"]
    assert set(plan) >= {
        "format",
        "version",
        "units",
        "steps",
        "rules",
        "machine",
        "panels",
        "pieces",
        "seams",
        "sheets",
        "unplaced",
        "findings",
        "totals",
    }
