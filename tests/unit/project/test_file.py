"""The project file: what is written is read back; what is wrong is told with its place."""

from __future__ import annotations

import json
import os
from dataclasses import replace
from pathlib import Path

import pytest

from core.atomic import write_atomically
from core.errors import InvalidProjectError, SaveFailedError, UnreadableProject
from core.geometry import Motion, Region, Ring
from core.outlines.model import Face, Feature, Outline, Role
from core.project.file import (
    VERSION,
    load_project,
    project_from_json,
    project_to_json,
    save_project,
)
from core.project.model import (
    Drawing,
    Grain,
    KeptLayout,
    Mark,
    Panel,
    Placed,
    Project,
    SawnSheet,
    SeamLine,
    StyleChoice,
)
from core.shop import (
    ClampZone,
    Cutter,
    Defect,
    FitSetting,
    Machine,
    Material,
    Reading,
    Shop,
    Stock,
)


def full_project() -> Project:
    """A project that uses every kind of record."""
    region = Region.of(Ring.rectangle(0, 0, 1200, 400), [Ring.circle(300, 200, 40)])
    feature = Feature(Role.POCKET, Ring.rectangle(50, 50, 60, 20), depth_mm=6.5, face=Face.BACK)
    drill = Feature(Role.DRILL, at=(20.0, 20.0), diameter_mm=5.0)
    seam = SeamLine(((600.0, -10.0), (600.0, 410.0)), StyleChoice("wave", (("depth", 18.0),)))
    panel = Panel(
        "p1",
        "Side ½″",
        region,
        (feature, drill),
        2,
        "Birch 18",
        Grain.ALONG,
        seams=(seam,),
        marks=(Mark("never", ((1.0, 2.0), (3.0, 4.0), (3.0, 0.0))),),
        drawing="d1",
    )
    shop = Shop(
        Machine(clamps=(ClampZone(0, 0, 50, 30),), cutters=(Cutter(6.0, 22.0), Cutter(3.175))),
        (Material("Birch 18", 18.0, (Reading(17.6), Reading(17.5, "2"))),),
        (
            Stock(
                "s1",
                "Birch 18",
                2440,
                1220,
                3,
                70.5,
                defects=(Defect(((1.0, 1.0), (9.0, 1.0), (9.0, 9.0))),),
            ),
        ),
        fits=(FitSetting(0.12, material="Birch 18", from_test=True),),
    )
    layout = KeptLayout(
        "First",
        (Placed("p1.1", 1, "s1", 1, Motion(5.0, 6.25, 90.0, True), True, "abc"),),
        (SawnSheet("s1", 1, ((0.0, 0.0, 900.0, 600.0),), frozen=True),),
        steps=12,
        seed=4,
    )
    drawing = Drawing("d1", "side.dxf", "side.dxf", "00ff", "mm", outlines=(Outline(region),))
    return Project("Wall", "in", (drawing,), (panel,), shop, (layout,), "First", True, 7)


def test_a_project_is_read_back_as_it_was_written(tmp_path: Path) -> None:
    project = full_project()
    save_project(project, tmp_path / "wall.json")
    assert load_project(tmp_path / "wall.json") == project


def test_the_same_project_gives_the_same_text() -> None:
    text = project_to_json(full_project())
    assert text == project_to_json(project_from_json(text))


def test_a_folder_with_one_project_stands_for_it(tmp_path: Path) -> None:
    save_project(Project("One"), tmp_path / "one.json")
    assert load_project(tmp_path).name == "One"
    save_project(Project("Two"), tmp_path / "two.json")
    with pytest.raises(UnreadableProject, match="several projects"):
        load_project(tmp_path)


@pytest.mark.parametrize(
    ("content", "message"),
    [
        (b"", "empty"),
        (b"   \n", "empty"),
        (b"\x00\xff\xfe\x80PNG", "not text"),
        (b"{", "damaged"),
        (b"[1, 2]", "no Seamwright project"),
        (b'{"format": "other", "version": 1}', "no Seamwright project"),
        (b"[" * 100_000, "damaged"),
    ],
)
def test_what_is_no_project_is_told_by_name(tmp_path: Path, content: bytes, message: str) -> None:
    path = tmp_path / "bad.json"
    path.write_bytes(content)
    with pytest.raises(UnreadableProject, match=message) as caught:
        load_project(path)
    assert "bad.json" in str(caught.value)


def test_a_missing_file_is_told() -> None:
    with pytest.raises(UnreadableProject, match="no such file"):
        load_project("nowhere/none.json")


def test_a_newer_version_is_refused_and_left_alone(tmp_path: Path) -> None:
    document = json.loads(project_to_json(full_project()))
    document["version"] = VERSION + 1
    path = tmp_path / "new.json"
    path.write_text(json.dumps(document), encoding="utf-8")
    before = path.read_bytes()
    with pytest.raises(UnreadableProject, match="newer Seamwright"):
        load_project(path)
    assert path.read_bytes() == before


@pytest.mark.parametrize(
    ("change", "place"),
    [
        (lambda p: p["panels"][0].update(quantity="two"), r"panels\[0\]\.quantity"),
        (lambda p: p["panels"][0].update(grain="wavy"), r"panels\[0\]\.grain"),
        (lambda p: p["panels"][0]["region"]["outer"].update(vertices=[[1, 2]]), "vertices"),
        (lambda p: p["shop"]["machine"].update(travel_mm=[900]), "travel_mm"),
        (lambda p: p["shop"].update(stock=7), r"shop\.stock"),
        (lambda p: p["panels"][0].pop("region"), r"panels\[0\]\.region"),
    ],
)
def test_a_wrong_value_is_named_with_its_place(change, place: str) -> None:  # type: ignore[no-untyped-def]
    document = json.loads(project_to_json(full_project()))
    change(document["project"])
    with pytest.raises(UnreadableProject, match=place):
        project_from_json(json.dumps(document), "job.json")


@pytest.mark.parametrize(
    "change",
    [
        lambda p: replace(p, shop=replace(p.shop, machine=Machine(travel_mm=(0.0, 600.0)))),
        lambda p: replace(p, shop=replace(p.shop, machine=Machine(cutters=()))),
        lambda p: replace(p, shop=replace(p.shop, machine=Machine(cutters=(Cutter(-6.0),)))),
        lambda p: replace(p, shop=replace(p.shop, stock=(Stock("s", "m", -5, 10),))),
        lambda p: replace(p, shop=replace(p.shop, materials=(Material("m", 0.0),))),
        lambda p: replace(p, shop=replace(p.shop, fits=(FitSetting(-0.1),))),
        lambda p: replace(p, panels=(replace(p.panels[0], quantity=-1),)),
        lambda p: replace(p, panels=(p.panels[0], p.panels[0])),
    ],
)
def test_values_out_of_range_are_refused(change) -> None:  # type: ignore[no-untyped-def]
    text = project_to_json(change(full_project()))
    with pytest.raises(InvalidProjectError):
        project_from_json(text)


def test_an_older_file_without_a_newer_field_takes_its_default() -> None:
    document = json.loads(project_to_json(full_project()))
    del document["project"]["breakdown"]
    del document["project"]["panels"][0]["may_mirror"]
    assert project_from_json(json.dumps(document)) == full_project()


def test_a_failed_save_leaves_the_old_file_and_no_litter(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "job.json"
    save_project(Project("Old"), path)
    before = path.read_bytes()

    def full_disk(_descriptor: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", full_disk)
    with pytest.raises(SaveFailedError, match="No space left"):
        save_project(Project("New"), path)
    assert path.read_bytes() == before
    assert sorted(p.name for p in tmp_path.iterdir()) == ["job.json"]


def test_saving_into_a_file_as_if_it_were_a_folder_is_told(tmp_path: Path) -> None:
    (tmp_path / "plain").write_text("x")
    with pytest.raises(SaveFailedError, match="could not be written"):
        write_atomically(tmp_path / "plain" / "job.json", "x")
