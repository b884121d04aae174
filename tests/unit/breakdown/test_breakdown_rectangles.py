"""Saw parts on sheets: what is asked, what is refused, what is said about the rest."""

from __future__ import annotations

import itertools
import random

import pytest

from core.breakdown import SawPart, SawPlan, SawSheet, cut_rectangles, replay, tree
from core.breakdown.job import make_job
from core.breakdown.search import State
from core.errors import InvalidRequestError

SHEET = SawSheet("birch 12", 2440, 1220)


def placed(plan: SawPlan) -> dict[str, int]:
    counts: dict[str, int] = {}
    for sheet in plan.sheets:
        for part in sheet.parts:
            counts[part.part_id] = counts.get(part.part_id, 0) + 1
    return counts


def check(plan: SawPlan, kerf_mm: float, trim_mm: float = 0.0) -> None:
    """Every sheet's cuts replay to exactly its parts and offcuts; the trim is kept."""
    for sheet in plan.sheets:
        pieces = list(replay(sheet.width_mm, sheet.height_mm, sheet.cuts, kerf_mm))
        for rect in [part.rect for part in sheet.parts] + list(sheet.offcuts):
            match = [
                p for p in pieces if all(abs(a - b) < 1e-4 for a, b in zip(p, rect, strict=True))
            ]
            assert match, rect
            pieces.remove(match[0])
        assert not pieces
        for part in sheet.parts:
            assert part.x_mm >= trim_mm - 1e-6 and part.y_mm >= trim_mm - 1e-6
            assert part.rect.right_mm <= sheet.width_mm - trim_mm + 1e-5
            assert part.rect.top_mm <= sheet.height_mm - trim_mm + 1e-5


def test_a_part_the_size_of_the_sheet_needs_no_cut() -> None:
    plan = cut_rectangles([SawPart("back", 2440, 1220)], [SHEET], kerf_mm=3, seconds=1)
    assert len(plan.sheets) == 1 and plan.sheets[0].cuts == () and plan.proven


def test_a_part_may_turn_only_if_it_is_allowed_to() -> None:
    upright = SawPart("door", 600, 2000)
    plan = cut_rectangles([upright], [SHEET], kerf_mm=3, seconds=1)
    assert plan.sheets[0].parts[0].turned
    assert plan.sheets[0].parts[0][3:5] == (2000, 600)
    grain = SawPart("door", 600, 2000, may_turn=False)
    plan = cut_rectangles([grain], [SHEET], kerf_mm=3, seconds=1)
    assert plan.sheets == ()
    (missing,) = plan.unplaced
    assert (missing.part_id, missing.count) == ("door", 1)
    assert "600 × 2000 mm fits no sheet and may not turn" in missing.reason


def test_the_kerf_counts_between_parts_but_not_at_the_edge() -> None:
    exact = [SawPart("shelf", 50, 100, 2, may_turn=False)]
    for width, fits in ((103, True), (102, False)):
        plan = cut_rectangles(exact, [SawSheet("s", width, 100, 1)], kerf_mm=3, seconds=0.2)
        assert (placed(plan) == {"shelf": 2}) is fits
        check(plan, 3)


def test_edge_trim_is_kept_all_round() -> None:
    part = [SawPart("lid", 1200, 600, may_turn=False)]
    sheet = [SawSheet("s", 1220, 620, 1)]
    plan = cut_rectangles(part, sheet, kerf_mm=3, edge_trim_mm=10, seconds=0.2)
    assert placed(plan) == {"lid": 1} and len(plan.sheets[0].cuts) == 4
    check(plan, 3, 10)
    plan = cut_rectangles(part, sheet, kerf_mm=3, edge_trim_mm=10.5, seconds=0.2)
    assert not plan.sheets and "trimmed all round" in plan.unplaced[0].reason


def test_no_cut_takes_less_than_half_a_kerf_if_it_can_be_helped() -> None:
    # Two parts and a kerf leave 1 mm: with a 3 mm blade that is no cut; one part goes elsewhere.
    parts = [SawPart("side", 100, 200, 2, may_turn=False)]
    plan = cut_rectangles(parts, [SawSheet("s", 204, 200)], kerf_mm=3, seconds=0.2)
    assert len(plan.sheets) == 2
    for sheet in plan.sheets:
        for cut in sheet.cuts:
            assert 0 < cut.x1_mm < 204
    # A part that leaves 1 mm on every sheet is sawn all the same: the blade skims the edge.
    plan = cut_rectangles(
        [SawPart("back", 203, 200)], [SawSheet("s", 204, 200)], kerf_mm=3, seconds=0.2
    )
    assert placed(plan) == {"back": 1}
    check(plan, 3)


def test_inch_fractions_and_thirds_fit_exactly() -> None:
    third = [SawPart("a", 2440 / 3, 1220, 3, may_turn=False)]
    plan = cut_rectangles(third, [SHEET], kerf_mm=0, seconds=0.2)
    assert len(plan.sheets) == 1 and len(plan.sheets[0].cuts) == 2
    inch = 25.4
    fractions = [SawPart("b", 11.9375 * inch, 48 * inch, 8, may_turn=False)]
    plan = cut_rectangles(
        fractions, [SawSheet("s", 96 * inch, 48 * inch)], kerf_mm=inch / 16, seconds=0.2
    )
    assert len(plan.sheets) == 1
    check(plan, inch / 16)


def test_the_cheapest_sheets_are_taken() -> None:
    parts = [SawPart("shelf", 580, 300, 4)]
    stock = [
        SHEET,
        SawSheet("offcut long", 1200, 620, 1, cost=10.0),
        SawSheet("offcut small", 590, 310, 2, cost=1.0),
    ]
    plan = cut_rectangles(parts, stock, kerf_mm=3, seconds=1)
    assert placed(plan) == {"shelf": 4} and plan.cost == 10.0
    assert [sheet.sheet_id for sheet in plan.sheets] == ["offcut long"]
    dear = [stock[0], SawSheet("offcut long", 1200, 620, 1, cost=1e9), stock[2]]
    plan = cut_rectangles(parts, dear, kerf_mm=3, seconds=1)
    assert [sheet.sheet_id for sheet in plan.sheets] == ["birch 12"]


def test_copies_of_a_sheet_are_counted_from_one() -> None:
    plan = cut_rectangles([SawPart("top", 2000, 1000, 3)], [SHEET], kerf_mm=3, seconds=0.3)
    assert [(sheet.sheet_id, sheet.copy) for sheet in plan.sheets] == [
        ("birch 12", 1),
        ("birch 12", 2),
        ("birch 12", 3),
    ]
    assert plan.proven and plan.bound == 3 * 2440 * 1220


def test_what_finds_no_room_is_listed_with_its_count() -> None:
    plan = cut_rectangles(
        [SawPart("tile", 100, 100, 30)], [SawSheet("s", 500, 500, 1)], kerf_mm=0, seconds=0.3
    )
    assert placed(plan) == {"tile": 25}
    (missing,) = plan.unplaced
    assert missing.count == 5 and "No room left" in missing.reason


def test_value_decides_where_sheets_are_limited() -> None:
    parts = [SawPart("large", 90, 90, 1, value=10.0), SawPart("small", 50, 50, 3, value=4.0)]
    plan = cut_rectangles(parts, [SawSheet("s", 100, 100, 1)], kerf_mm=0, seconds=0.3)
    assert placed(plan) == {"small": 3} and plan.value == 12.0 and plan.proven


def test_as_many_as_fit_fills_what_the_wanted_parts_leave() -> None:
    parts = [SawPart("shelf", 600, 400, 2), SawPart("tile", 100, 100, None)]
    plan = cut_rectangles(parts, [SawSheet("s", 1000, 800)], kerf_mm=0, seconds=0.5)
    assert len(plan.sheets) == 1
    assert placed(plan) == {"shelf": 2, "tile": 32}
    check(plan, 0)


def test_as_many_as_fit_with_a_kerf_is_exact_and_sawable() -> None:
    part = [SawPart("tile", 97, 97, None)]
    plan = cut_rectangles(part, [SawSheet("s", 997, 497, 2)], kerf_mm=3, seconds=0.5)
    assert placed(plan) == {"tile": 2 * 50} and plan.proven
    check(plan, 3)


def test_nothing_to_place_is_an_empty_plan() -> None:
    assert cut_rectangles([], [SHEET], kerf_mm=3, seconds=1).sheets == ()
    plan = cut_rectangles([SawPart("a", 10, 10, 0)], [SHEET], kerf_mm=3, seconds=1)
    assert plan.sheets == () and plan.unplaced == () and plan.proven
    plan = cut_rectangles([SawPart("a", 10, 10, 2)], [], kerf_mm=3, seconds=1)
    assert plan.unplaced[0].count == 2 and "no sheet to saw it from" in plan.unplaced[0].reason


@pytest.mark.parametrize(
    ("parts", "sheets", "options", "message"),
    [
        ([SawPart("a", 0, 5)], [SHEET], {}, "part a: Size is 0 × 5"),
        ([SawPart("a", float("nan"), 5)], [SHEET], {}, "Size is nan"),
        ([SawPart("a", 5, 5), SawPart("a", 6, 6)], [SHEET], {}, "used twice"),
        ([SawPart("a", 5, 5, -1)], [SHEET], {}, "Quantity is -1"),
        ([SawPart("a", 5, 5, value=-2)], [SHEET], {}, "Value is -2"),
        ([SawPart("a", 5, 5)], [SawSheet("s", 9, 9, cost=-1)], {}, "Cost is -1"),
        ([SawPart("a", 5, 5)], [SHEET], {"kerf_mm": -1}, "kerf is -1 mm"),
        ([SawPart("a", 5, 5)], [SHEET], {"edge_trim_mm": float("inf")}, "edge trim is inf"),
        ([SawPart("a", 5, 5)], [SHEET], {"seconds": -1}, "time allowed"),
        ([SawPart("a", 5, 5, None)], [SHEET], {}, "has no end"),
    ],
)
def test_what_makes_no_sense_is_refused_with_a_sentence(
    parts: list[SawPart], sheets: list[SawSheet], options: dict[str, float], message: str
) -> None:
    with pytest.raises(InvalidRequestError, match=message):
        cut_rectangles(parts, sheets, **{"kerf_mm": 3.0, "seconds": 0.1, **options})


def test_the_same_seed_gives_the_same_plan() -> None:
    rng = random.Random(5)
    parts = [
        SawPart(f"p{i}", rng.randint(150, 800), rng.randint(80, 500), rng.randint(1, 3))
        for i in range(15)
    ]
    first = cut_rectangles(parts, [SHEET], kerf_mm=3.2, seconds=60, steps=3000, seed=7)
    again = cut_rectangles(parts, [SHEET], kerf_mm=3.2, seconds=90, steps=3000, seed=7)
    assert first == again
    assert 0 < first.steps <= 3000 + 750
    check(first, 3.2)


def test_stop_ends_the_search_with_a_whole_plan() -> None:
    parts = [SawPart(f"p{i}", 200 + i, 300 + i) for i in range(40)]
    plan = cut_rectangles(parts, [SHEET], kerf_mm=3, seconds=60, stop=lambda: True)
    assert sum(placed(plan).values()) == 40
    check(plan, 3)


def least_sheets(sizes: list[tuple[int, int]], width: int, height: int) -> int:
    """Fewest sheets by looking at everything: all subsets, all guillotine joins, both turns."""
    count = len(sizes)
    frames: dict[int, set[tuple[int, int]]] = {0: {(0, 0)}}
    for subset in range(1, 1 << count):
        found = set()
        items = [i for i in range(count) if subset >> i & 1]
        if len(items) == 1:
            w, h = sizes[items[0]]
            found = {(w, h), (h, w)}
        part = (subset - 1) & subset
        while part:
            if part & (subset & -subset):
                for (a, b), (c, d) in itertools.product(frames[part], frames[subset ^ part]):
                    found |= {(a + c, max(b, d)), (max(a, c), b + d)}
            part = (part - 1) & subset
        good = {(w, h) for w, h in found if w <= width and h <= height}
        frames[subset] = {
            (w, h)
            for w, h in good
            if not any(a <= w and b <= h and (a, b) != (w, h) for a, b in good)
        }
    best = {0: 0}
    for subset in range(1, 1 << count):
        part = subset
        while part:
            if frames[part]:
                best[subset] = min(best.get(subset, 99), best[subset ^ part] + 1)
            part = (part - 1) & subset
    return best[(1 << count) - 1]


@pytest.mark.parametrize("seed", range(12))
def test_small_lists_take_as_few_sheets_as_looking_at_everything(seed: int) -> None:
    rng = random.Random(seed)
    sizes = [(rng.randint(15, 70), rng.randint(15, 60)) for _ in range(7)]
    plan = cut_rectangles(
        [SawPart(str(i), w, h) for i, (w, h) in enumerate(sizes)],
        [SawSheet("s", 100, 80)],
        kerf_mm=0,
        seconds=0.3,
        seed=seed,
    )
    best = least_sheets(sizes, 100, 80)
    assert len(plan.sheets) == best
    assert plan.bound <= best * 100 * 80
    check(plan, 0)


def test_many_copies_of_few_parts_reach_the_bound_of_whole_patterns() -> None:
    # By area 5 sheets would do; that patterns of whole sheets need 6 is shown, and 6 are found.
    parts = [SawPart("door", 620, 820, 16, may_turn=False), SawPart("shelf", 560, 330, 12)]
    plan = cut_rectangles(parts, [SHEET], kerf_mm=3, seconds=60, steps=8000)
    area = sum(part.width_mm * part.height_mm * (part.quantity or 0) for part in parts)
    assert placed(plan) == {"door": 16, "shelf": 12}
    assert area < 5 * 2440 * 1220
    assert len(plan.sheets) == 6 and plan.proven
    check(plan, 3)


def test_parts_that_come_and_go_on_small_rests_are_all_kept() -> None:
    # Few parts and many rests of board that cost nothing: nodes with one strip in them nest in
    # each other until a table sized for the first layout alone is too short.
    parts = [
        SawPart("shelf", 838.2, 330.2, 5, may_turn=False),
        SawPart("cleat", 838.2, 63.5, 6, may_turn=False),
        SawPart("kick board", 838.2, 101.6, 2, may_turn=False),
    ]
    rests = [
        (904.875, 123.825),
        (73.025, 336.55),
        (857.25, 165.1),
        (669.925, 854.075),
        (666.75, 24.606),
    ]
    sheets = [SawSheet(f"rest {k}", w, h, 1, cost=0.0) for k, (w, h) in enumerate(rests)]
    sheets.append(SawSheet("new", 2438.4, 1219.2, cost=64.0))
    for seed in range(4):
        plan = cut_rectangles(parts, sheets, kerf_mm=3.175, seconds=60, steps=30_000, seed=seed)
        assert not plan.unplaced
        assert sum(len(sheet.parts) for sheet in plan.sheets) == 13
        assert [sheet.sheet_id for sheet in plan.sheets].count("new") == 1


def test_a_full_table_of_nodes_takes_no_more_parts() -> None:
    job = make_job([SawPart("a", 10, 10, 9)], [SawSheet("s", 100, 100)], kerf_mm=0, edge_trim_mm=0)
    state = State(job, 0)
    state.open[:] = True
    state.pool[0] = tree.NODES_A_PART - 1
    before = state.nodes.copy()
    rng = state.rng
    assert not tree.insert(
        state.nodes, state.pool, len(state.nodes), 1, state.open, job.sizes, 0, 0, 0.0, rng
    )
    assert (state.nodes == before).all()
