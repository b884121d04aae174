"""Half-laps as the plan gives them: overlaps pocketed from both sides, to the thickness."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from core.geometry import Region, Ring
from core.plan import plan_json
from core.planning import plan_project
from core.project.model import Panel, Project, SeamLine, StyleChoice
from core.shop import Cutter, Machine, Material, Reading, Shop, Stock
from tests import plan_check

LAP = StyleChoice("half-lap")
LINES = {
    "one": (SeamLine(((500, -20), (500, 420)), LAP),),
    "leaning": (SeamLine(((430, -20), (560, 420)), LAP),),
    "meeting": (
        SeamLine(((500, 200), (1020, 200)), LAP),
        SeamLine(((500, -20), (500, 420)), LAP),
    ),
}


@pytest.mark.parametrize("name", LINES)
def test_where_two_mates_lie_over_each_other_their_pockets_make_up_the_thickness(
    name: str, tmp_path: Path
) -> None:
    panel = Panel(
        "p", "Top", Region.of(Ring.rectangle(0, 0, 1000, 400)), material="Birch", seams=LINES[name]
    )
    shop = Shop(
        Machine("Router", (1200, 600), (1200, 600), (Cutter(6.0),)),
        (Material("Birch", 18.0, (Reading(17.6),)),),
        (Stock("s1", "Birch", 2500, 1250),),
    )
    plan = plan_project(Project("Laps", panels=(panel,), shop=shop), steps=1)
    (tmp_path / "plan.json").write_text(json.dumps(plan_json(plan)), encoding="utf-8")
    made = plan_check.load(tmp_path)
    assert plan_check.partition(made) == []
    assert plan_check.mates(made) == []
    laps = [p for piece in made["pieces"] for p in piece["cut"]["pockets"]]
    assert laps
    # Room for glue is told beside the depth, so that depths add up to the thickness.
    assert {round(p["depth"], 6) for p in laps} == {8.8}
    assert all(p["clearance"] > 0 for p in laps)
    assert not [f for f in made["findings"] if f["severity"] == "stop"]
    # The check itself sees a pocket that is missing, too shallow or on the wrong face.
    for key, value in (("depth", 8.0), ("face", "show")):
        spoiled = json.loads(json.dumps(made))
        for piece in spoiled["pieces"]:
            for pocket in piece["cut"]["pockets"]:
                pocket[key] = value
        assert plan_check.mates(spoiled)
    for piece in made["pieces"]:
        piece["cut"]["pockets"] = []
    assert plan_check.mates(made)
