"""What must hold for every plan of cuts, whatever the parts, the kerf and the sheets."""

from __future__ import annotations

import random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from core.breakdown import (
    BlankLimits,
    PlanerLimits,
    Rect,
    SawPart,
    SawSheet,
    blank_patterns,
    cut_rectangles,
    follow,
    pattern_for,
    rects_of,
    replay,
    saw_steps,
)

KERFS = st.sampled_from([0.0, 1.8, 2.2, 3.0, 3.175])


def gap(one: Rect, other: Rect) -> float:
    """How far two rectangles are apart along x or y, whichever is more; negative: they overlap."""
    return max(
        other.x_mm - one.right_mm,
        one.x_mm - other.right_mm,
        other.y_mm - one.top_mm,
        one.y_mm - other.top_mm,
    )


def assert_exactly(
    width: float, height: float, cuts: tuple, wanted: list[Rect], rest: list[Rect], kerf: float
) -> None:
    """Cuts replay to exactly the wanted rectangles and the rest, a kerf apart, areas adding up."""
    pieces = list(replay(width, height, cuts, kerf))
    for rect in [*wanted, *rest]:
        match = min(
            pieces, key=lambda piece: max(abs(a - b) for a, b in zip(piece, rect, strict=True))
        )
        assert match == pytest.approx(rect, abs=1e-5)
        assert match.area_mm2 == pytest.approx(rect.area_mm2, rel=1e-6)
        pieces.remove(match)
    assert not pieces
    for i, one in enumerate(wanted):
        for other in wanted[:i]:
            assert gap(one, other) >= kerf - 1e-5
    # What is missing from the sheet was under the blade. A cut that runs half over an edge takes
    # less than its whole kerf, never more.
    left = sum(rect.area_mm2 for rect in [*wanted, *rest])
    blade = sum(kerf * (abs(x2 - x1) + abs(y2 - y1)) for x1, y1, x2, y2 in cuts)
    lost = width * height - left
    assert lost <= blade + 1e-6 * width * height
    within = all(
        kerf / 2 <= (x1 if x1 == x2 else y1) <= (width if x1 == x2 else height) - kerf / 2
        for x1, y1, x2, y2 in cuts
    )
    if not rest and within:
        assert lost > 0 or not kerf or not cuts


@st.composite
def sawn_sheets(draw: st.DrawFn) -> tuple[float, float, float, list[Rect]]:
    """A sheet sawn at random: its size, the kerf, and some of the pieces that came of it."""
    width = draw(st.integers(300, 2500))
    height = draw(st.integers(300, 1300))
    kerf = draw(KERFS)
    rng = random.Random(draw(st.integers(0, 10**6)))
    pieces = [Rect(0.0, 0.0, float(width), float(height))]
    for _ in range(draw(st.integers(0, 9))):
        piece = pieces.pop(rng.randrange(len(pieces)))
        x, y, w, h = piece
        upright = rng.random() < 0.5
        size = w if upright else h
        at = round(size * rng.uniform(0.2, 0.8))
        if at < 20 or size - at - kerf < 20:
            pieces.append(piece)
            continue
        if upright:
            pieces += [Rect(x, y, at, h), Rect(x + at + kerf, y, w - at - kerf, h)]
        else:
            pieces += [Rect(x, y, w, at), Rect(x, y + at + kerf, w, h - at - kerf)]
    rng.shuffle(pieces)
    return float(width), float(height), kerf, pieces[: max(1, len(pieces) - rng.randint(0, 3))]


@settings(max_examples=60, deadline=None)
@given(sawn_sheets())
def test_whatever_was_sawn_can_be_freed_again(
    sheet: tuple[float, float, float, list[Rect]],
) -> None:
    width, height, kerf, pieces = sheet
    free = pattern_for(pieces, width, height, kerf_mm=kerf)
    assert sorted(free.targets) == list(range(len(pieces)))
    assert_exactly(width, height, free.cuts, pieces, list(free.offcuts), kerf)
    # Every cut frees something: without the last one, some target would not be free.
    if free.cuts:
        before = replay(width, height, free.cuts[:-1], kerf)
        still = [p for p in pieces if not any(q == pytest.approx(p, abs=1e-5) for q in before)]
        assert still


@settings(max_examples=40, deadline=None)
@given(sawn_sheets(), st.sampled_from(["rail", "bench"]))
def test_steps_at_the_saw_free_every_part_once(
    sheet: tuple[float, float, float, list[Rect]], saw: str
) -> None:
    width, height, kerf, pieces = sheet
    free = pattern_for(pieces, width, height, kerf_mm=kerf)
    targets = [(f"part {i}", rect) for i, rect in enumerate(pieces)]
    steps = saw_steps(width, height, free.cuts, targets, kerf_mm=kerf, saw=saw).steps
    assert [step.order for step in steps] == list(range(1, len(free.cuts) + 1))
    lying = {""}
    for step in steps:
        assert step.piece.name in lying
        lying.discard(step.piece.name)
        for piece in (step.off, step.stays):
            if piece is not None and piece.kind != "scrap":
                assert piece.name not in lying
                lying.add(piece.name)
        # The mark and the kerf on its waste side are where the cut is.
        rect = step.piece.rect
        at = {
            "left": rect.x_mm + step.measure_mm,
            "right": rect.right_mm - step.measure_mm,
            "bottom": rect.y_mm + step.measure_mm,
            "top": rect.top_mm - step.measure_mm,
        }[step.edge]
        toward = 1 if step.waste_side in ("right", "top") else -1
        assert at + toward * kerf / 2 == pytest.approx(step.cut.position_mm, abs=1e-5)
    if steps:
        assert {name for name, _ in targets} <= lying


@st.composite
def jobs(draw: st.DrawFn) -> tuple[list[SawPart], list[SawSheet], float, float, int]:
    kerf = draw(KERFS)
    trim = draw(st.sampled_from([0.0, 0.0, 1.0, 10.0]))
    valued = draw(st.booleans())
    parts = [
        SawPart(
            f"p{i}",
            draw(st.integers(30, 700)) + draw(st.sampled_from([0.0, 0.5, 0.396875])),
            draw(st.integers(30, 500)),
            draw(st.sampled_from([0, 1, 1, 2, 3, 6])),
            draw(st.booleans()),
            float(draw(st.integers(0, 50))) if valued else None,
        )
        for i in range(draw(st.integers(1, 9)))
    ]
    sheets = [
        SawSheet(
            f"s{i}",
            draw(st.integers(200, 1300)),
            draw(st.integers(200, 700)),
            draw(st.sampled_from([None, 1, 2])),
            draw(st.sampled_from([None, 0.0, 5.0])),
        )
        for i in range(draw(st.integers(1, 3)))
    ]
    return parts, sheets, kerf, trim, draw(st.integers(0, 99))


def centred(part: SawPart, sheets: list[SawSheet], kerf: float, trim: float) -> bool:
    """True if on some sheet the part leaves nothing, or more than half a kerf, beside it."""
    trim = max(trim, kerf) if 0 < trim <= kerf / 2 else trim
    for sheet in sheets:
        for width, height in ((part.width_mm, part.height_mm), (part.height_mm, part.width_mm)):
            gaps = (sheet.width_mm - 2 * trim - width, sheet.height_mm - 2 * trim - height)
            if all(abs(room) < 1e-6 or room > kerf / 2 for room in gaps):
                return True
            if not part.may_turn:
                break
    return False


@settings(max_examples=60, deadline=None)
@given(jobs())
def test_every_plan_can_be_sawn_and_counts_every_copy(
    job: tuple[list[SawPart], list[SawSheet], float, float, int],
) -> None:
    parts, sheets, kerf, trim, seed = job
    plan = cut_rectangles(parts, sheets, kerf_mm=kerf, edge_trim_mm=trim, seconds=0.05, seed=seed)
    by_id = {part.id: part for part in parts}
    stock = {sheet.id: sheet for sheet in sheets}
    placed = dict.fromkeys(by_id, 0)
    for sheet in plan.sheets:
        assert sheet.parts
        for part in sheet.parts:
            wanted = by_id[part.part_id]
            placed[part.part_id] += 1
            size = (wanted.width_mm, wanted.height_mm)
            assert (part.width_mm, part.height_mm) == (size[::-1] if part.turned else size)
            assert wanted.may_turn or not part.turned
            assert min(part.x_mm, part.y_mm) >= trim - 1e-6
            assert part.rect.right_mm <= sheet.width_mm - trim + 1e-5
            assert part.rect.top_mm <= sheet.height_mm - trim + 1e-5
        assert_exactly(
            sheet.width_mm,
            sheet.height_mm,
            sheet.cuts,
            [part.rect for part in sheet.parts],
            list(sheet.offcuts),
            kerf,
        )
        if all(centred(by_id[part.part_id], sheets, kerf, trim) for part in sheet.parts):
            _, traces = follow(sheet.width_mm, sheet.height_mm, sheet.cuts, kerf)
            rects = rects_of(sheet.width_mm, sheet.height_mm, traces, kerf)
            for trace in traces:
                rect = rects[trace.piece]
                ends = (rect.x_mm, rect.right_mm) if trace.upright else (rect.y_mm, rect.top_mm)
                assert ends[0] < trace.cut.position_mm < ends[1]
    for sheet_id, kind in stock.items():
        copies = [sheet.copy for sheet in plan.sheets if sheet.sheet_id == sheet_id]
        assert copies == list(range(1, len(copies) + 1))
        assert kind.quantity is None or len(copies) <= kind.quantity
    missing = {entry.part_id: entry.count for entry in plan.unplaced}
    for part in parts:
        assert placed[part.id] + missing.get(part.id, 0) == part.quantity
    assert all(entry.reason for entry in plan.unplaced)
    assert plan.cost == pytest.approx(sum(sheet.cost for sheet in plan.sheets))
    if not plan.unplaced:
        assert plan.cost >= plan.bound * (1 - 1e-9)
    if any(sheet.quantity is None for sheet in sheets):
        for entry in plan.unplaced:  # endless sheets: only what fits none of them is missing
            assert "fits no sheet" in entry.reason or "No room left" in entry.reason


@settings(max_examples=20, deadline=None)
@given(
    st.integers(600, 2600),
    st.integers(400, 1300),
    st.integers(250, 1300),
    st.integers(250, 900),
    KERFS,
    st.sampled_from([0.0, 8.0]),
    st.booleans(),
    st.sampled_from([None, 3e5, 8e5]),
    st.sampled_from([None, PlanerLimits(320, 250, 50, "x"), PlanerLimits(400, 300, 0, "either")]),
)
def test_every_pattern_gives_blanks_within_all_limits(
    width: int,
    height: int,
    table_w: int,
    table_h: int,
    kerf: float,
    trim: float,
    may_turn: bool,
    most: float | None,
    planer: PlanerLimits | None,
) -> None:
    patterns = blank_patterns(
        width,
        height,
        (table_w, table_h),
        kerf_mm=kerf,
        edge_trim_mm=trim,
        may_turn=may_turn,
        max_area_mm2=most,
        planer=planer,
        most=6,
    )
    limits = BlankLimits(table_w, table_h, may_turn, most, 100.0, planer)
    for pattern in patterns:
        rects = [blank.rect for blank in pattern.blanks]
        assert rects and all(limits.allows(rect.width_mm, rect.height_mm) for rect in rects)
        assert_exactly(width, height, pattern.cuts, rects, list(pattern.offcuts), kerf)
        assert len({blank.id for blank in pattern.blanks}) == len(rects)
