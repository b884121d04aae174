"""The saw list as a person follows it."""

from __future__ import annotations

import itertools
import random

import pytest

from core.breakdown import Rect, SawPart, SawSheet, cut_rectangles, mass_kg, replay, saw_steps
from core.breakdown.fence import fewest_settings
from core.errors import InvalidRequestError


def test_a_part_from_the_corner_is_measured_from_the_clean_edge() -> None:
    target = [("shelf", Rect(0, 0, 600, 400))]
    cuts = [(601.5, 0, 601.5, 1220), (0, 401.5, 600, 401.5)]
    steps = saw_steps(2440, 1220, cuts, target, kerf_mm=3).steps
    first, second = steps
    assert first.piece.kind == "sheet"
    assert (first.measure_mm, first.edge, first.waste_side) == (600, "left", "right")
    assert first.off is not None and first.off.name == "A" and first.off.kind == "strip"
    assert first.stays is not None and first.stays.kind == "offcut" and first.stays.name == "B"
    assert second.piece.name == "A"
    assert (second.measure_mm, second.edge, second.waste_side) == (400, "bottom", "top")
    assert second.off is not None and (second.off.name, second.off.kind) == ("shelf", "part")
    assert (first.length_mm, first.across_mm) == (1220, 2440)


def test_trimming_an_edge_marks_where_the_rest_begins() -> None:
    targets = [("a", Rect(10, 0, 300, 500)), ("b", Rect(313, 0, 300, 500))]
    cuts = [(8.5, 0, 8.5, 500), (311.5, 0, 311.5, 500)]
    first, second = saw_steps(613, 500, cuts, targets, kerf_mm=3).steps
    assert (first.measure_mm, first.edge, first.waste_side) == (10, "left", "left")
    assert first.off is not None and first.off.kind == "scrap" and first.off.name == ""
    assert (second.measure_mm, second.edge, second.waste_side) == (300, "left", "right")
    assert second.stays is not None and second.stays.name == "b"


def test_a_last_cut_measures_the_part_and_not_the_waste() -> None:
    cuts = [(98.5, 0, 98.5, 500)]
    (step,) = saw_steps(400, 500, cuts, [("a", Rect(100, 0, 300, 500))], kerf_mm=3).steps
    assert (step.measure_mm, step.edge, step.waste_side) == (300, "right", "left")


def test_letters_keep_clear_of_the_names_of_blanks() -> None:
    targets = [("A", Rect(0, 0, 600, 400))]
    cuts = [(601.5, 0, 601.5, 1220), (0, 401.5, 600, 401.5)]
    steps = saw_steps(2440, 1220, cuts, targets, kerf_mm=3).steps
    assert steps[1].piece.name == "B"


def test_a_skimming_cut_is_flagged() -> None:
    target = [("a", Rect(0, 0, 99, 50))]
    assert saw_steps(100, 50, [(100.5, 0, 100.5, 50)], target, kerf_mm=3).steps[0].skims


def test_a_target_that_is_not_freed_is_refused() -> None:
    with pytest.raises(InvalidRequestError, match="do not free shelf"):
        saw_steps(100, 50, [(50, 0, 50, 50)], [("shelf", Rect(0, 0, 20, 50))], kerf_mm=2)


def test_equal_strips_take_one_setting_of_the_fence() -> None:
    targets = [(f"s{i}", Rect(0, i * 103, 800, 100)) for i in range(5)]
    cuts = [(0, i * 103 - 1.5, 800, i * 103 - 1.5) for i in range(1, 5)]
    saw_list = saw_steps(800, 512, cuts, targets, kerf_mm=3, saw="bench")
    assert saw_list.settings == 1
    assert [step.new_setting for step in saw_list.steps] == [True, False, False, False]
    assert {step.fence_mm for step in saw_list.steps} == {100.0}
    assert not any(step.short_on_fence for step in saw_list.steps)


def test_a_cut_shorter_along_the_fence_than_across_is_flagged() -> None:
    (step,) = saw_steps(
        800, 100, [(300, 0, 300, 100)], [("a", Rect(0, 0, 298.5, 100))], kerf_mm=3, saw="bench"
    ).steps
    assert step.short_on_fence and step.fence_edge == "left" and step.fence_mm == 298.5


def test_a_fence_that_does_not_reach_takes_the_other_side_or_says_so() -> None:
    targets = [("a", Rect(0, 0, 1000, 500)), ("b", Rect(1003, 0, 400, 500))]
    cuts = [(1001.5, 0, 1001.5, 500)]
    near = saw_steps(1403, 500, cuts, targets, kerf_mm=3, saw="bench", fence_reach_mm=600)
    assert near.steps[0].fence_mm == 400 and near.steps[0].fence_edge == "right"
    far = saw_steps(1403, 500, cuts, targets, kerf_mm=3, saw="bench", fence_reach_mm=300)
    assert far.steps[0].beyond_fence


def test_bench_steps_replay_and_set_the_fence_no_more_often_than_the_cuts() -> None:
    rng = random.Random(2)
    parts = [
        SawPart(f"p{i}", rng.choice([300, 400, 500]), rng.choice([120, 200]), rng.randint(1, 4))
        for i in range(8)
    ]
    plan = cut_rectangles(
        parts, [SawSheet("s", 2440, 1220)], kerf_mm=3, edge_trim_mm=10, seconds=0.2
    )
    for sheet in plan.sheets:
        targets = [(part.part_id, part.rect) for part in sheet.parts]
        bench = saw_steps(2440, 1220, sheet.cuts, targets, kerf_mm=3, saw="bench")
        rail = saw_steps(2440, 1220, sheet.cuts, targets, kerf_mm=3)
        assert len(bench.steps) == len(rail.steps) == len(sheet.cuts)
        assert sorted(replay(2440, 1220, [step.cut for step in bench.steps], 3)) == sorted(
            replay(2440, 1220, sheet.cuts, 3)
        )
        sizes = [round(step.fence_mm or 0, 3) for step in bench.steps]
        changes = 1 + sum(a != b for a, b in itertools.pairwise(sizes))
        assert bench.settings == changes == sum(step.new_setting for step in bench.steps)
        naive = [round(step.measure_mm, 3) for step in rail.steps]
        assert changes <= 1 + sum(a != b for a, b in itertools.pairwise(naive))


def test_settings_wait_for_the_piece_they_need() -> None:
    # 10 is needed before and after 20: three runs; with a choice of 20 at the start, two.
    assert len(fewest_settings([[10.0], [20.0], [10.0]], [-1, 0, 1])) == 3
    assert len(fewest_settings([[10.0, 20.0], [20.0], [10.0]], [-1, 0, 1])) == 2


def test_the_largest_run_first_is_not_always_best() -> None:
    options = [[1.0], [2.0], [2.0], [2.0], [2.0]]
    needs = [-1, -1, -1, -1, 0]
    runs = fewest_settings(options, needs)
    assert [setting for setting, _ in runs] == [1.0, 2.0]


def test_no_cuts_no_settings() -> None:
    assert fewest_settings([], []) == []
    saw_list = saw_steps(100, 50, [], [("a", Rect(0, 0, 100, 50))], kerf_mm=3, saw="bench")
    assert saw_list.steps == () and saw_list.settings == 0


def test_mass_is_area_times_thickness_times_density() -> None:
    assert mass_kg(1e6, 10, 700) == pytest.approx(7.0)
    with pytest.raises(InvalidRequestError, match="negative"):
        mass_kg(-1, 10, 700)
