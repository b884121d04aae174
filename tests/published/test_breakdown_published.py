"""Sawing rectangles against published instances and their known optima."""

from __future__ import annotations

import math
import random

import pytest

from core.breakdown import SawPart, SawPlan, SawSheet, cut_rectangles, mass_kg, replay

# N. Christofides and C. Whitlock, Operations Research 25 (1977) 30-44, Table 2: length, width,
# greatest count, value; parts may not turn. The optima with limited counts are recomputed; those
# without limits are also printed in later literature.
CHRISTOFIDES_WHITLOCK = {
    "cgcut1": (
        (15, 10),
        "8 4 2 66|3 7 1 35|8 2 3 24|3 4 5 17|3 3 2 11|3 2 2 8|2 1 1 2",
        244,
        249,
    ),
    "cgcut2": (
        (40, 70),
        "21 22 1 582|31 13 1 403|9 35 3 315|9 24 3 216|30 7 2 210|11 13 3 143|10 14 1 140|"
        "14 8 3 110|12 8 3 94|13 7 3 90",
        2892,
        3076,
    ),
    "cgcut3": (
        (40, 70),
        "31 43 4 500|30 41 2 480|29 39 4 460|28 38 4 440|27 37 3 420|26 36 4 410|25 35 3 400|"
        "24 34 4 380|33 23 4 360|22 32 3 340|31 21 3 320|29 18 3 300|17 27 2 280|15 24 2 240|"
        "16 25 4 260|15 24 1 240|23 14 4 220|21 12 3 180|19 11 4 160|9 17 1 140",
        1860,
        2240,
    ),
}

# J. E. Beasley, Journal of the Operational Research Society 36 (1985) 297-306: any number of
# copies, value = area, stock 250 × 250. Optimum with parts as drawn, and with turning by 90°.
BEASLEY = {
    "gcut1": (
        "167 184|114 118|167 152|83 140|70 86|143 166|120 160|66 148|87 141|69 165",
        56460,
        58136,
    ),
    "gcut2": (
        "120 133|135 186|86 75|103 73|66 85|135 97|91 175|131 176|71 176|153 72|87 148|168 107|"
        "118 90|140 109|132 159|152 93|135 68|121 158|68 94|155 76",
        60536,
        60611,
    ),
    "gcut3": (
        "66 80|164 107|64 184|121 86|163 135|85 98|81 102|103 186|152 106|176 139|111 118|69 169|"
        "146 133|112 112|133 160|63 129|163 152|110 155|96 136|92 142|84 143|119 133|71 71|146 84|"
        "93 86|89 86|101 146|172 73|73 169|99 99",
        61036,
        61626,
    ),
    "gcut4": (
        "139 103|166 99|88 74|174 139|128 109|175 179|62 82|178 87|121 77|125 97|73 84|69 97|"
        "122 159|66 69|111 118|165 86|71 83|163 162|67 132|121 152|68 150|138 124|141 105|183 122|"
        "171 63|101 64|103 95|110 107|184 158|85 97|86 92|127 155|92 147|106 97|177 108|164 150|"
        "68 84|62 151|123 134|158 178|70 140|173 117|147 136|141 145|84 164|144 141|92 103|156 98|"
        "160 111|127 131",
        61698,
        62265,
    ),
}

# Squares of different sizes that tile a rectangle: the 33 × 32 of order 9 (Z. Moroń, Przegląd
# Matematyczno-Fizyczny 3 (1925)) and the 112 × 112 of order 21 (A. J. W. Duijvestijn, Journal of
# Combinatorial Theory B 25 (1978)). Neither can be taken apart by through cuts.
SQUARED = {
    "33 × 32": ((33, 32), (18, 15, 7, 8, 14, 4, 10, 1, 9)),
    "112 × 112": (
        (112, 112),
        (50, 35, 27, 8, 19, 15, 17, 11, 6, 24, 29, 25, 9, 2, 7, 18, 16, 42, 4, 37, 33),
    ),
}

# The worked example of the general encyclopaedia article "Cutting stock problem": rolls of
# 5600 mm, 13 widths; 73 rolls are needed and enough.
ROLL_MM = 5600
ROLLS = {
    1380: 22, 1520: 25, 1560: 12, 1710: 14, 1820: 18, 1880: 18, 1930: 20, 2000: 10, 2050: 12,
    2100: 14, 2140: 16, 2150: 18, 2200: 20,
}  # fmt: skip


def rows(text: str) -> list[tuple[int, ...]]:
    return [tuple(int(number) for number in row.split()) for row in text.split("|")]


def assert_sawable(plan: SawPlan, kerf_mm: float = 0.0) -> None:
    """The cuts replay one by one and leave exactly the parts and the offcuts."""
    for sheet in plan.sheets:
        pieces = list(replay(sheet.width_mm, sheet.height_mm, sheet.cuts, kerf_mm))
        for rect in [*(part.rect for part in sheet.parts), *sheet.offcuts]:
            (found,) = [piece for piece in pieces if math.dist(piece, rect) < 1e-5]
            pieces.remove(found)
        assert not pieces


@pytest.mark.parametrize("name", CHRISTOFIDES_WHITLOCK)
def test_christofides_and_whitlock_with_limited_counts_reach_the_optimum(name: str) -> None:
    (width, height), text, optimum, _ = CHRISTOFIDES_WHITLOCK[name]
    parts = [
        SawPart(str(i), w, h, count, may_turn=False, value=value)
        for i, (w, h, count, value) in enumerate(rows(text))
    ]
    plan = cut_rectangles(parts, [SawSheet("stock", width, height, 1)], kerf_mm=0, seconds=2)
    assert plan.value == optimum
    assert plan.proven
    for index, (w, h, count, _value) in enumerate(rows(text)):
        on_sheet = [part for part in plan.sheets[0].parts if part.part_id == str(index)]
        assert len(on_sheet) <= count
        assert all((part.width_mm, part.height_mm) == (w, h) for part in on_sheet)
    assert_sawable(plan)


@pytest.mark.parametrize("name", CHRISTOFIDES_WHITLOCK)
def test_christofides_and_whitlock_without_limits_reach_the_optimum(name: str) -> None:
    (width, height), text, _, optimum = CHRISTOFIDES_WHITLOCK[name]
    parts = [
        SawPart(str(i), w, h, None, may_turn=False, value=value)
        for i, (w, h, _count, value) in enumerate(rows(text))
    ]
    plan = cut_rectangles(parts, [SawSheet("stock", width, height, 1)], kerf_mm=0, seconds=2)
    assert plan.value == optimum
    assert_sawable(plan)


@pytest.mark.parametrize("may_turn", [False, True])
@pytest.mark.parametrize("name", BEASLEY)
def test_beasley_reaches_the_optimum_unturned_and_turned(name: str, may_turn: bool) -> None:
    text, as_drawn, with_turning = BEASLEY[name]
    parts = [
        SawPart(str(i), w, h, None, may_turn=may_turn, value=w * h)
        for i, (w, h) in enumerate(rows(text))
    ]
    plan = cut_rectangles(parts, [SawSheet("stock", 250, 250, 1)], kerf_mm=0, seconds=2)
    assert plan.value == (with_turning if may_turn else as_drawn)
    assert plan.proven
    assert sum(part.width_mm * part.height_mm for part in plan.sheets[0].parts) == plan.value
    assert may_turn or not any(part.turned for part in plan.sheets[0].parts)
    assert_sawable(plan)


@pytest.mark.parametrize("name", SQUARED)
def test_a_squared_rectangle_cannot_be_sawn_without_waste(name: str) -> None:
    (width, height), sides = SQUARED[name]
    assert sum(side * side for side in sides) == width * height
    parts = [SawPart(str(side), side, side) for side in sides]
    plan = cut_rectangles(parts, [SawSheet("stock", width, height, 1)], kerf_mm=0, seconds=1)
    (sheet,) = plan.sheets
    assert 0.9 < sheet.used_share < 1
    assert len(sheet.parts) + sum(missing.count for missing in plan.unplaced) == len(sides)
    assert plan.unplaced
    assert_sawable(plan)


def test_all_squares_of_the_order_nine_rectangle_take_two_sheets_and_that_is_proven() -> None:
    (width, height), sides = SQUARED["33 × 32"]
    parts = [SawPart(str(side), side, side) for side in sides]
    plan = cut_rectangles(parts, [SawSheet("stock", width, height)], kerf_mm=0, seconds=1)
    assert len(plan.sheets) == 2 and not plan.unplaced
    assert plan.proven and plan.bound == 2 * width * height
    assert_sawable(plan)


@pytest.mark.parametrize("may_turn", [False, True])
@pytest.mark.parametrize("upright", [False, True])
def test_the_rolls_of_5600_mm_take_73(upright: bool, may_turn: bool) -> None:
    parts = [
        SawPart(str(w), *((900, w) if upright else (w, 900)), count, may_turn)
        for w, count in ROLLS.items()
    ]
    size = (900, ROLL_MM) if upright else (ROLL_MM, 900)
    plan = cut_rectangles(parts, [SawSheet("roll", *size)], kerf_mm=0, seconds=2)
    assert len(plan.sheets) == 73 and not plan.unplaced
    counts = dict.fromkeys(ROLLS, 0)
    for sheet in plan.sheets:
        for part in sheet.parts:
            counts[int(part.part_id)] += 1
    assert counts == ROLLS
    trim = 1 - sum(w * count for w, count in ROLLS.items()) / (73 * ROLL_MM)
    assert trim == pytest.approx(0.00401, abs=1e-5)
    assert math.ceil(sum(w * count for w, count in ROLLS.items()) / ROLL_MM) == 73
    assert_sawable(plan)


@pytest.mark.parametrize("seed", range(6))
def test_a_random_furniture_list_takes_at_most_one_sheet_over_the_area_bound(seed: int) -> None:
    """Own lists: 30 to 80 parts, none over a third of a sheet, grain on some of them."""
    rng = random.Random(seed)
    wide, high = 2440, 1220
    parts: list[SawPart] = []
    count = rng.randint(30, 80)
    while len(parts) < count:
        width, height = rng.randint(90, 2000), rng.randint(70, 1100)
        if width * height <= wide * high / 3:
            parts.append(SawPart(str(len(parts)), width, height, 1, rng.random() < 0.6))
    kerf_mm = (0.0, 3.2)[seed % 2]
    plan = cut_rectangles(parts, [SawSheet("board", wide, high)], kerf_mm=kerf_mm, seconds=2)
    area = sum(part.width_mm * part.height_mm for part in parts)
    assert not plan.unplaced
    assert len(plan.sheets) <= math.ceil(area / (wide * high)) + 1
    assert_sawable(plan, kerf_mm)


def test_a_full_sheet_of_birch_plywood_weighs_what_the_table_says() -> None:
    """18 mm, 1220 × 2440, 685 kg/m³: 36.7 kg; 12 mm, 695 kg/m³: 24.8 kg (birch plywood data
    sheet, Finnish practice, nominal thickness, as quoted in secondary literature)."""
    assert mass_kg(1220 * 2440, 18, 685) == pytest.approx(36.7, abs=0.05)
    assert mass_kg(1220 * 2440, 12, 695) == pytest.approx(24.8, abs=0.05)
