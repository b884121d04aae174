"""How soon nesting returns once it is told to stop, at random moments of its work.

    python tests/benchmarks/nesting_cancel.py [tries]

160 different pieces of 60 vertices on sheets of 2440 × 1220 mm: construction, comparing outlines
and search are all met. The aim is 0.2 s. Caches are emptied before each try.
"""

from __future__ import annotations

import random
import sys
import time

from nesting_bins import blobs
from nesting_data import load
from shapely.geometry import box

from core.nesting import NestRules, NestSheet, nest, tables


def one(after: float, seed: int) -> tuple[float, str]:
    """Seconds from the wish to stop until the layout is there, and what was going on."""
    begin = time.monotonic()
    doing = [""]

    def told(part: float, layout: object, message: str) -> None:
        if time.monotonic() - begin < after:
            doing[0] = message

    tables._cache.clear()
    tables._as_searched.cache_clear()
    nest(
        blobs(160),
        [NestSheet("sheet", box(0, 0, 2440, 1220))],
        NestRules(8, 10),
        seconds=60,
        seed=seed,
        progress=told,
        stop=lambda: time.monotonic() - begin >= after,
    )
    return time.monotonic() - begin - after, doing[0]


def main() -> None:
    """Print the latencies."""
    tries = int(sys.argv[1]) if len(sys.argv) > 1 else 20
    nest(blobs(3), [NestSheet("sheet", box(0, 0, 900, 600))], NestRules(), steps=1000)
    rng = random.Random(1)
    worst = []
    for k in range(tries):
        late, doing = one(rng.choice([0.2, 1.0, 4.0, 12.0]) * rng.random(), k)
        worst.append((late, doing))
    worst.sort(reverse=True)
    for late, doing in worst[:5]:
        print(f"{late:6.3f} s late, {doing or 'before the first layout'}")
    print(f"median {worst[len(worst) // 2][0]:.3f} s of {tries}, load {load()}")


if __name__ == "__main__":
    main()
