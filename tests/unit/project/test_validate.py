"""Values of a shop that no work can be done with are refused, each with its place."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import pytest

from core.errors import InvalidProjectError
from core.project.model import Project
from core.project.validate import validate_project
from core.shop import Limits, Machine, Rules, Shop


@pytest.mark.parametrize(
    ("part", "values"),
    [
        *(("machine", {"max_blank_kg": kg}) for kg in (0.0, -1.0, math.nan, math.inf)),
        ("machine", {"travel_mm": (math.inf, 600.0)}),
        ("machine", {"travel_mm": (math.nan, 600.0)}),
        ("machine", {"upright_long_mm": 0.0}),
        ("machine", {"upright_wide_mm": -5.0}),
        ("machine", {"upright_thick_mm": 0.0}),
        ("limits", {"lift_kg": 0.0}),
        ("limits", {"vehicle_mm": (0.0, 1200.0)}),
        ("limits", {"door_mm": (2000.0, -1.0)}),
        ("limits", {"planer_width_mm": 0.0}),
        ("limits", {"planer_min_length_mm": 0.0}),
        ("limits", {"snipe_mm": -1.0}),
        ("rules", {"kerf_mm": math.nan}),
        ("rules", {"spacing_mm": -0.5}),
        ("rules", {"currency": "of a length that no sign has"}),
    ],
)
def test_what_cannot_be_is_refused_with_its_place(part: str, values: dict[str, Any]) -> None:
    parts = {"machine": Machine(), "limits": Limits(), "rules": Rules()}
    shop = Shop(**{part: replace(parts[part], **values)})
    with pytest.raises(InvalidProjectError) as refused:
        validate_project(Project(shop=shop))
    assert refused.value.what and refused.value.where and refused.value.remedy


def test_a_shop_without_limits_is_fine() -> None:
    assert validate_project(Project(shop=Shop())) == Project(shop=Shop())
