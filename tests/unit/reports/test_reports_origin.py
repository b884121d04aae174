"""Where a clamping's drawing has its origin."""

from __future__ import annotations

from dataclasses import replace

import pytest

from core.errors import InvalidProjectError
from core.outlines.write import RingItem
from core.project.output import Output, check_output
from core.reports.cutlist import build_cut_list
from core.reports.drawings import setup_items
from tests.unit.reports.report_plans import every_plan

PLANS = every_plan()


def test_an_origin_that_is_no_place_is_refused() -> None:
    with pytest.raises(InvalidProjectError, match="origin"):
        check_output(Output(dxf_origin="somewhere"))


@pytest.mark.parametrize("name", ["small", "turned"])
def test_the_origin_of_a_clampings_drawing_is_its_corner_or_its_middle(name: str) -> None:
    plan = PLANS[name]
    output = replace(plan.project.output, dxf_origin="centre")
    middle = replace(plan, project=replace(plan.project, output=output))
    for one, other in zip(build_cut_list(plan).sheets, build_cut_list(middle).sheets, strict=True):
        for setup, moved in zip(one.setups, other.setups, strict=True):
            wide, high = setup.size_mm
            corner = setup_items(build_cut_list(plan), one, setup)
            centre = setup_items(build_cut_list(middle), other, moved)
            for a, b in zip(corner, centre, strict=True):
                if isinstance(a, RingItem) and isinstance(b, RingItem):
                    ax, ay, _, _ = a.ring.bounds
                    bx, by, _, _ = b.ring.bounds
                    assert (ax - bx, ay - by) == pytest.approx((wide / 2, high / 2))
            blank = next(i for i in centre if isinstance(i, RingItem) and i.layer == "BLANK")
            x1, y1, x2, y2 = blank.ring.bounds
            assert (x1 + x2, y1 + y2) == pytest.approx((0.0, 0.0), abs=1e-9)
