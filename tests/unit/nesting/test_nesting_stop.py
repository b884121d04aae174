"""Once somebody wants no more, hardly anything is begun: seen in counts, not on the clock."""

from __future__ import annotations

import numpy as np
import pytest
from shapely.geometry import Polygon, box

from core.nesting import NestPiece, NestRules, NestSheet, check_layout, nest, tables

SHEET = NestSheet("sheet", box(0, 0, 2440, 1220))
RULES = NestRules(8, 10)


def stars(count: int, seed: int) -> list[NestPiece]:
    """Different pieces of 24 corners each."""
    rng = np.random.default_rng(seed)
    pieces = []
    for k in range(count):
        angle = np.sort(rng.uniform(0, 2 * np.pi, 24))
        radius = rng.uniform(80, 200) * rng.uniform(0.6, 1, 24)
        xy = np.column_stack([radius * np.cos(angle), radius * np.sin(angle)])
        pieces.append(NestPiece(f"s{k}", Polygon(xy)))
    return pieces


@pytest.mark.parametrize("asked", [1, 5, 40, 120, 300])
def test_after_the_wish_to_stop_nothing_long_is_begun(
    asked: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    tables._cache.clear()
    tables._as_searched.cache_clear()
    calls = [0]
    after = [0]

    def stop() -> bool:
        calls[0] += 1
        return calls[0] >= asked

    def counted(work):  # type: ignore[no-untyped-def]
        def run(*arguments):  # type: ignore[no-untyped-def]
            after[0] += calls[0] >= asked
            return work(*arguments)

        return run

    monkeypatch.setattr(tables.nfp, "build", counted(tables.nfp.build))
    monkeypatch.setattr(tables, "_as_searched", counted(tables._as_searched))
    pieces = stars(40, seed=asked)
    layout = nest(pieces, [SHEET], RULES, steps=2_000_000, stop=stop)
    assert calls[0] >= asked
    assert after[0] <= 2  # one in each thread at most
    assert len(layout.placements) == 40 and not check_layout(pieces, [SHEET], RULES, layout)
