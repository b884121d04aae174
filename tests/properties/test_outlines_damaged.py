"""Whatever is done to a drawing's bytes, reading gives outlines, findings or a refusal."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

sys.path.append(str(Path(__file__).parents[1] / "unit" / "outlines"))

from drawing_corpus import CASES
from drawing_mutants import assert_read_or_refused, mutant

_FEW = settings(max_examples=60, deadline=None, suppress_health_check=list(HealthCheck))
_DATA: dict[str, bytes] = {}


def check(data: bytes, suffix: str, folder: Path) -> None:
    path = folder / f"drawing{suffix}"
    path.write_bytes(data)
    assert_read_or_refused(path)


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("damaged")


@_FEW
@given(case=st.sampled_from(CASES), seed=st.integers(0, 2**32))
def test_a_damaged_drawing_is_read_or_refused(case, seed: int, folder: Path) -> None:
    data = _DATA.setdefault(case.name, case.make())
    check(mutant(data, seed), case.suffix, folder)


@_FEW
@given(st.binary(max_size=300), st.sampled_from((b"", b"  0\nSECTION\n", b"<svg>", b"<?xml")))
def test_any_bytes_are_read_or_refused(folder: Path, tail: bytes, head: bytes) -> None:
    check(head + tail, ".dxf", folder)


_PATH = st.text("MmLlHhVvCcSsQqTtAaZz0123456789 .,-e", max_size=60)
_VALUE = st.text("0123456789.-e%mnaif ", max_size=8)


@_FEW
@given(_PATH, _VALUE, _VALUE, _VALUE)
def test_any_svg_attributes_are_read_or_refused(
    folder: Path, path: str, width: str, box: str, radius: str
) -> None:
    body = (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{width}" viewBox="0 0 {box} {box}">'
        f'<path d="{path}" stroke="red"/><rect width="{width}" height="50" rx="{radius}"/>'
        f'<g transform="rotate({radius}) scale({box})"><circle r="{radius}"/></g></svg>'
    )
    check(body.encode(), ".svg", folder)
