"""Damaged drawings that once broke the reader, and some more: outlines, findings or a refusal."""

from __future__ import annotations

from pathlib import Path

import pytest
from drawing_corpus import CASES
from drawing_mutants import mutant

from core.errors import UnreadableDrawing
from core.outlines import read_outlines

# Seeds kept from longer runs, each after what it broke.
SEEDS = (
    2901,  # an SVG whose name space is misspelt
    3340,  # the same, with a page of no width
    2990,  # entities in a damaged name space
    2904,  # a circle that touches its panel's edge within the last digit
    2492,  # an ellipse larger than the earth
    3833,  # a layout without its table entry
    102987,  # a page larger than a float
    4631,  # numbers at the end of what a float holds
    *range(40),
)


@pytest.mark.parametrize("seed", SEEDS)
def test_a_damaged_drawing_is_read_or_refused(seed: int, tmp_path: Path) -> None:
    case = CASES[seed % len(CASES)]
    path = tmp_path / f"mutant{case.suffix}"
    path.write_bytes(mutant(case.make(), seed))
    try:
        result = read_outlines(path)
    except UnreadableDrawing as error:
        assert error.what
        assert error.remedy
        return
    assert result.outlines or result.findings
    assert all(outline.polygon.is_valid for outline in result.outlines)
