"""What layers' names say."""

from __future__ import annotations

import pytest

from core.outlines import Face, LayerMeaning, Role, meaning_of
from core.outlines.roles import decided


@pytest.mark.parametrize(
    ("name", "role", "depth", "face"),
    [
        ("0", Role.CUT, None, Face.SHOW),
        ("Outside cut", Role.CUT, None, Face.SHOW),
        ("INSIDE_PROFILE_18mm", Role.CUT, None, Face.SHOW),
        ("pocket 6", Role.POCKET, 6.0, Face.SHOW),
        ("Pocket_6.5mm_back", Role.POCKET, 6.5, Face.BACK),
        ("POCKET-D6", Role.POCKET, 6.0, Face.SHOW),
        ("pocket z-6,5", Role.POCKET, 6.5, Face.SHOW),
        ("recess, 3 deep, underside", Role.POCKET, 3.0, Face.BACK),
        ("dado 3/8 in", Role.DADO, 9.525, Face.SHOW),
        ("housing 1 1/4 in", Role.DADO, 31.75, Face.SHOW),
        ("REBATE 9 x 9", Role.REBATE, 9.0, Face.SHOW),
        ("Rabbet", Role.REBATE, None, Face.SHOW),
        ("Engrave 0,5", Role.ENGRAVE, 0.5, Face.SHOW),
        ("drill 12", Role.DRILL, 12.0, Face.SHOW),
        ("DO_NOT_CUT", Role.IGNORE, None, Face.SHOW),
        ("Dimensions", Role.IGNORE, None, Face.SHOW),
        ("Construction lines", Role.IGNORE, None, Face.SHOW),
        ("Sheet 2440x1220", Role.SHEET, None, Face.SHOW),
    ],
)
def test_a_name_says_role_depth_and_face(
    name: str, role: Role, depth: float | None, face: Face
) -> None:
    meaning = meaning_of(name)
    assert (meaning.role, meaning.face) == (role, face)
    assert meaning.depth_mm == pytest.approx(depth) if depth else meaning.depth_mm is None


def test_a_drill_layer_may_state_diameter_and_depth() -> None:
    for name in ("drill 12 d8", "Drill d8 12", "DRILL_D8_12mm", "drill ⌀8 depth 12"):
        meaning = meaning_of(name)
        assert (meaning.diameter_mm, meaning.depth_mm) == (8.0, 12.0), name


def test_bare_numbers_are_in_the_drawings_unit() -> None:
    assert meaning_of("pocket 0.25", unit="in").depth_mm == pytest.approx(6.35)


def test_a_name_cut_short_by_an_exporter_still_tells_its_role() -> None:
    assert meaning_of("Furniture side panel pocke" + "t").role is Role.POCKET
    assert meaning_of("Left side engrav").role is Role.ENGRAVE


def test_the_rules_are_a_table_that_can_be_replaced() -> None:
    own = (("taschen", Role.POCKET), ("=aus", Role.IGNORE))
    assert meaning_of("Taschen 5", rules=own).depth_mm == 5.0
    assert meaning_of("haus", rules=own).known is False
    assert meaning_of("aus", rules=own).role is Role.IGNORE


def test_the_makers_choice_wins_and_keeps_the_numbers_in_the_name() -> None:
    layers = ["Blue 4", "Pocket 6", "Green"]
    choices = {"blue 4": "pocket", "POCKET 6": Role.DADO, "Green": LayerMeaning(Role.SHEET)}
    meanings = decided(layers, choices)
    assert (meanings["Blue 4"].role, meanings["Blue 4"].depth_mm) == (Role.POCKET, 4.0)
    assert (meanings["Pocket 6"].role, meanings["Pocket 6"].depth_mm) == (Role.DADO, 6.0)
    assert meanings["Green"].role is Role.SHEET


def test_a_role_nobody_knows_is_refused() -> None:
    with pytest.raises(ValueError, match="not a valid Role"):
        decided(["A"], {"A": "melt"})
