"""Damaged drawings that once broke the reader, and some more: outlines, findings or a refusal."""

from __future__ import annotations

from pathlib import Path

import pytest
from drawing_corpus import CASES
from drawing_mutants import assert_read_or_refused, mutant

BY_NAME = {case.name: case for case in CASES}

# Kept from longer runs: the drawing, the seed of its damage, and what it broke.
KEPT = (
    ("svg-shifted-page", 2901),  # a name space that is misspelt
    ("svg-pixels", 3340),  # the same, with a page of no width
    ("svg-entities", 2990),  # entities in a damaged name space
    ("svg-shapes", 2904),  # a circle that touches its panel's edge within the last digit
    ("rounds", 2492),  # an ellipse larger than the earth
    ("roles", 3833),  # a layout without its table entry
    ("svg-shapes", 102987),  # a page larger than a float
    ("metres", 4631),  # numbers at the end of what a float holds
)
SEEDS = (*KEPT, *((case.name, seed) for seed, case in enumerate(CASES)))


@pytest.mark.parametrize(("name", "seed"), SEEDS)
def test_a_damaged_drawing_is_read_or_refused(name: str, seed: int, tmp_path: Path) -> None:
    case = BY_NAME[name]
    path = tmp_path / f"mutant{case.suffix}"
    path.write_bytes(mutant(case.make(), seed))
    assert_read_or_refused(path)
