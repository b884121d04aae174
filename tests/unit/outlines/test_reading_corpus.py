"""Every drawing of the corpus gives the outlines written down beside it, and says what it met."""

from __future__ import annotations

from pathlib import Path

import pytest
from drawing_corpus import CASES, Case

from core.findings import Severity
from core.outlines import read_outlines

# Flattening an ellipse or spline within 0.005 mm loses this share of its area at most.
AREA_REL = 2e-4
PLACE_MM = 0.011


def write(case: Case, folder: Path) -> Path:
    path = folder / f"{case.name}{case.suffix}"
    path.write_bytes(case.make())
    return path


@pytest.mark.parametrize("case", CASES, ids=lambda case: case.name)
def test_the_outlines_written_down_are_found(case: Case, tmp_path: Path) -> None:
    result = read_outlines(write(case, tmp_path))
    found = sorted(result.outlines, key=lambda o: (round(o.region.bounds[0]), o.region.bounds[1]))
    wants = sorted(case.wants, key=lambda w: (round(w.box[0]), w.box[1]))
    assert len(found) == len(wants), [o.region.bounds for o in found]
    for outline, want in zip(found, wants, strict=True):
        assert outline.region.bounds == pytest.approx(want.box, abs=PLACE_MM)
        assert outline.region.area_mm2 == pytest.approx(want.area, rel=AREA_REL)
        assert len(outline.region.holes) == want.holes
        assert outline.polygon.is_valid
        assert sorted(f.kind.value for f in outline.features) == sorted(want.features)
        if want.name:
            assert outline.name == want.name
    assert result.units == case.units


@pytest.mark.parametrize("case", CASES, ids=lambda case: case.name)
def test_what_was_met_is_told_and_nothing_else(case: Case, tmp_path: Path) -> None:
    result = read_outlines(write(case, tmp_path))
    assert {f.code for f in result.findings} == set(case.codes)
    for finding in result.findings:
        assert finding.source == f"{case.name}{case.suffix}"
        assert finding.message.endswith(".")
        if finding.severity is not Severity.NOTE and finding.code != "shape-broken":
            assert finding.remedy, finding.code


@pytest.mark.parametrize("case", CASES, ids=lambda case: case.name)
def test_reading_twice_gives_the_same(case: Case, tmp_path: Path) -> None:
    path = write(case, tmp_path)
    assert read_outlines(path) == read_outlines(path)
