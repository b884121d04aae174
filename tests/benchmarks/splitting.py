"""By hand: thousands of random seams of every style, and how long splitting takes.

python -m tests.benchmarks.splitting [FIRST LAST [STYLE...]]

Runs every check of tests/properties/seam_cases on seeds FIRST to LAST with finely flattened
curves, prints each failure with its seed, and then the times of a dragged seam and of the
planner on a few panels.
"""

from __future__ import annotations

import sys
import time
import traceback
from collections import Counter

from core.geometry import Region, Ring
from core.project.model import Panel, SeamLine, StyleChoice
from core.shop import Cutter
from core.splitting import PieceLimits, propose, split_panel
from tests.properties.seam_cases import BOOK, LOPSIDED, REFUSALS, STYLES, check_all, random_case


def fuzz(first: int, last: int, styles: tuple[str, ...]) -> int:
    """Check every seed with every style; how many failed."""
    failed: Counter[str] = Counter()
    refused: Counter[str] = Counter()
    count = 0
    start = time.perf_counter()
    for seed in range(first, last):
        for style in styles:
            count += 1
            case = random_case(seed, style)
            try:
                made = case.split()
                if made.ok:
                    check_all(case, made, fine=True)
                    continue
                stops = {f.code for f in made.findings if f.severity == "stop"}
                assert stops <= REFUSALS, stops
                refused.update(f"{f.code}: {f.message}" for f in made.findings)
            except Exception as problem:  # a failure of any kind is what is looked for
                where = traceback.extract_tb(problem.__traceback__)[-1]
                failed[f"{style} {where.name}:{where.lineno}"] += 1
                print(f"seed {seed} {style}: {type(problem).__name__} in {where.name} {problem}")
    print(f"{count} cases in {time.perf_counter() - start:.0f} s, {sum(failed.values())} failed")
    for text, times in refused.most_common(10):
        print(f"  refused {times} × {text}")
    return sum(failed.values())


def drag_times() -> None:
    """A seam dragged over a panel of 300 corners, as the window does it; processor time."""
    import math

    rows = []
    for k in range(300):
        angle = 2 * math.pi * k / 300
        reach = 1 + 0.04 * math.sin(9 * angle)
        rows.append((800 * reach * math.cos(angle), 420 * reach * math.sin(angle)))
    panel = Panel("P1", "panel", Region.of(Ring.of(rows)))
    for style in (*STYLES, LOPSIDED):
        times = []
        for step in range(20):
            x = -200.0 + 20 * step
            line = SeamLine(((x, -600.0), (x + 30, 600.0)), StyleChoice(style))
            start = time.process_time()
            split_panel(
                panel, [line], cutter=Cutter(6.0), thickness_mm=18.0, styles=BOOK, draft=True
            )
            times.append(time.process_time() - start)
        times.sort()
        print(
            f"drag {style:10s} median {times[10] * 1000:5.1f} ms, worst {times[-1] * 1000:5.1f} ms"
        )


def planner_times() -> None:
    """Proposals for a few panels; processor time."""
    tasks = {
        "shelf 2400 × 600": Region.of(Ring.rectangle(0, 0, 2400, 600)),
        "front 1850 × 950": Region.of(Ring.rectangle(0, 0, 1850, 950)),
        "ring ⌀1000": Region.of(Ring.circle(0, 0, 500), [Ring.circle(0, 0, 380)]),
        "disc ⌀1300": Region.of(Ring.circle(0, 0, 650)),
    }
    for name, region in tasks.items():
        start = time.process_time()
        found = propose(
            Panel("P1", name, region), PieceLimits.travel(900, 600), "finger", Cutter(6.0)
        )
        took = time.process_time() - start
        first = found[0]
        print(
            f"plan {name:18s} {first.pieces} pieces (bound {first.lower_bound}), "
            f"{first.seam_mm:.0f} mm, {took:.2f} s"
        )


def main() -> None:
    first, last = (int(sys.argv[1]), int(sys.argv[2])) if len(sys.argv) > 2 else (0, 50)
    failed = fuzz(first, last, tuple(sys.argv[3:]) or (*STYLES, LOPSIDED))
    drag_times()
    planner_times()
    sys.exit(1 if failed else 0)


if __name__ == "__main__":
    main()
