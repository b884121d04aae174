"""Strip packing against published densities.

    python tests/benchmarks/nesting_strip.py [--seconds 10,60] [--seeds 1,2,3] [NAME ...]

Density = area of the pieces / (strip width × used length); turns as in the instance, spacing 0.
Published: Elkeran, European Journal of Operational Research 231 (2013) 757–769, from memory;
dighe1 is a jigsaw with a known optimum of 100 %. Every layout is proven with shapely.
"""

from __future__ import annotations

import statistics
import time

from nesting_data import Instance, arguments, instances, load

from core.nesting import NestRules, check_layout, nest

PUBLISHED = {
    "albano": 89.58,
    "dagli": 89.51,
    "dighe1": 100.0,
    "dighe2": 100.0,
    "fu": 92.41,
    "jakobs1": 89.10,
    "jakobs2": 87.73,
    "mao": 85.44,
    "marques": 90.59,
    "shapes0": 68.79,
    "shapes1": 76.73,
    "shapes2": 84.84,
    "shirts": 88.96,
    "swim": 75.94,
    "trousers": 91.00,
}


def density(instance: Instance, seconds: float, seed: int) -> tuple[float, int]:
    """Density in percent after so many seconds, and the evaluations spent."""
    rules = NestRules()
    layout = nest(instance.pieces, [instance.sheet], rules, seconds=seconds, seed=seed)
    wrong = check_layout(instance.pieces, [instance.sheet], rules, layout)
    if wrong or layout.unplaced:
        raise AssertionError(f"{instance.name}: {wrong[:1]} {layout.unplaced[:1]}")
    return 100 * instance.area / (instance.height * layout.used_length_mm), layout.steps


def main() -> None:
    """Print the table."""
    options = arguments(__doc__ or "", "10,60").parse_args()
    found = instances(options.data, "strip", options.names)
    if not found:
        print(f"No strip instances in {options.data}; set SEAMWRIGHT_DATASETS or --data")
        return
    seeds = [int(seed) for seed in options.seeds.split(",")]
    warm = found[0]
    nest(warm.pieces, [warm.sheet], NestRules(), steps=1000)
    print("instance   seconds  published  median   each seed              M steps/s  load")
    for seconds in (float(value) for value in options.seconds.split(",")):
        for one in found:
            begin = time.monotonic()
            results = [density(one, seconds, seed) for seed in seeds]
            took = time.monotonic() - begin
            values = [value for value, _ in results]
            each = " ".join(f"{value:6.2f}" for value in values)
            speed = sum(steps for _, steps in results) / took / 1e6
            known = f"{PUBLISHED[one.name]:9.2f}" if one.name in PUBLISHED else "        –"
            print(
                f"{one.name:10s} {seconds:7.0f}  {known}  {statistics.median(values):6.2f}   "
                f"{each:22s} {speed:9.2f}  {load()}",
                flush=True,
            )


if __name__ == "__main__":
    main()
