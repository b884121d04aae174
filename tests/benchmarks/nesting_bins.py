"""Bin packing of irregular pieces against known optima, and the speed of the first layout.

    python tests/benchmarks/nesting_bins.py [--seconds 5,60] [--seeds 1,2,3] [NAME ...]

Instances with known optimum (pieces cut from full sheets), quarter turns allowed. The second
table times the first valid layout of pieces with 60 vertices on 2440 × 1220 sheets.
"""

from __future__ import annotations

import math
import time

import numpy as np
from nesting_data import arguments, instances, load
from shapely.geometry import Polygon, box

from core.nesting import NestPiece, NestRules, NestSheet, check_layout, nest


def blobs(count: int, seed: int = 1) -> list[NestPiece]:
    """Star-shaped pieces of 60 vertices, 160 to 440 mm across, in half turns."""
    rng = np.random.default_rng(seed)
    pieces = []
    for k in range(count):
        angle = np.sort(rng.uniform(0, 2 * np.pi, 60))
        radius = rng.uniform(80, 220) * rng.uniform(0.5, 1, 60)
        xy = np.column_stack([radius * np.cos(angle), radius * np.sin(angle)])
        pieces.append(NestPiece(f"b{k}", Polygon(xy), 1, (0, 180)))
    return pieces


def first_layout(count: int) -> float:
    """Seconds until the first valid layout is told."""
    rules = NestRules(8, 10)
    sheets = [NestSheet("sheet", box(0, 0, 2440, 1220))]
    times: list[float] = []
    begin = time.monotonic()

    def told(part: float, layout: object, message: str) -> None:
        if layout is not None:
            times.append(time.monotonic() - begin)

    nest(blobs(count), sheets, rules, steps=0, progress=told)
    return times[0]


def main() -> None:
    """Print both tables."""
    options = arguments(__doc__ or "", "5,60").parse_args()
    found = instances(options.data, "bins", options.names)
    if not found:
        print(f"No bin instances in {options.data}; set SEAMWRIGHT_DATASETS or --data")
    seeds = [int(seed) for seed in options.seeds.split(",")]
    nest(blobs(3), [NestSheet("sheet", box(0, 0, 900, 600))], NestRules(), steps=1000)
    if found:
        print("instance   seconds  optimum  bound  sheets of each seed  load")
    for seconds in (float(value) for value in options.seconds.split(",")):
        for one in found:
            counts = []
            for seed in seeds:
                layout = nest(one.pieces, [one.sheet], NestRules(), seconds=seconds, seed=seed)
                wrong = check_layout(one.pieces, [one.sheet], NestRules(), layout)
                if wrong or layout.unplaced:
                    raise AssertionError(f"{one.name}: {wrong[:1]} {layout.unplaced[:1]}")
                counts.append(len(layout.sheets))
            print(
                f"{one.name:10s} {seconds:7.0f}  {one.optimum:7d}  {layout.bound:5d}  "
                f"{' '.join(str(count) for count in counts):19s}  {load()}",
                flush=True,
            )
    print("\npieces  first valid layout, s")
    times = {count: min(first_layout(count) for _ in range(2)) for count in (50, 100, 160, 400)}
    for count, seconds in times.items():
        print(f"{count:6d}  {seconds:.3f}")
    print(f"growth from 50 to 400 pieces: n^{math.log(times[400] / times[50]) / math.log(8):.2f}")


if __name__ == "__main__":
    main()
