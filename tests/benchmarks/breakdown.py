"""How near to the optimum saw plans come, and how long they take. Run by hand:

    python tests/benchmarks/breakdown.py [seconds] [folder of instances]

The folder (default: ../shared/datasets/guillotine, skipped if absent; or set SEAMWRIGHT_DATASETS)
holds published instances as text: number of parts, stock width and height, then one part a line
(width, height[, greatest count], value). Own random lists follow: furniture parts against the
area bound, sheets that were sawn to dust and are put together again, stock with offcuts.
"""

from __future__ import annotations

import math
import os
import random
import sys
import time
from pathlib import Path

from core.breakdown import SawPart, SawPlan, SawSheet, cut_rectangles, replay

# Published optima: Christofides and Whitlock (1977) with limited counts, Beasley (1985) with any
# number of copies: as drawn, and turned by 90° where allowed.
OPTIMA = {
    "cgcut1": (244, None), "cgcut2": (2892, None), "cgcut3": (1860, None),
    "gcut1": (56460, 58136), "gcut2": (60536, 60611), "gcut3": (61036, 61626),
    "gcut4": (61698, 62265), "gcut5": (246000, 246000), "gcut6": (238998, 240951),
    "gcut7": (242567, 245866), "gcut8": (246633, 247787), "gcut9": (971100, 971100),
    "gcut10": (982025, 982025), "gcut11": (980096, 980096), "gcut12": (979986, 988694),
    "gcut13": (8997780, 9000000),
}  # fmt: skip
BOARD = SawSheet("board", 2440, 1220)


def planned(
    parts: list[SawPart], sheets: list[SawSheet], seconds: float, kerf_mm: float = 0.0
) -> tuple[SawPlan, float]:
    """A plan whose cuts were replayed, and the time it took."""
    begin = time.perf_counter()
    plan = cut_rectangles(parts, sheets, kerf_mm=kerf_mm, seconds=seconds)
    took = time.perf_counter() - begin
    for sheet in plan.sheets:
        pieces = replay(sheet.width_mm, sheet.height_mm, sheet.cuts, kerf_mm)
        assert len(pieces) == len(sheet.parts) + len(sheet.offcuts)
    return plan, took


def published(folder: Path, seconds: float) -> None:
    """Values reached on published instances."""
    files = sorted(folder.glob("*.txt"), key=lambda path: (len(path.stem), path.stem))
    if not files:
        print(f"no instances in {folder}: skipped")
    for path in files:
        if path.stem not in OPTIMA:
            continue
        numbers = [line.split() for line in path.read_text().splitlines() if line.strip()]
        width, height = (float(value) for value in numbers[1][:2])
        for turned, optimum in enumerate(OPTIMA[path.stem]):
            if optimum is None:
                continue
            parts = [
                SawPart(
                    str(index),
                    float(row[0]),
                    float(row[1]),
                    int(row[2]) if len(row) > 3 else None,
                    bool(turned),
                    float(row[-1]),
                )
                for index, row in enumerate(numbers[2:])
            ]
            plan, took = planned(parts, [SawSheet("stock", width, height, 1)], seconds)
            mark = "optimal" if plan.value == optimum else f"optimum {optimum}"
            shown = "proven" if plan.proven else f"bound {plan.bound:g}"
            turn = "turned" if turned else "as drawn"
            print(f"{path.stem:7} {turn:8} {plan.value:9g}  {mark}, {shown}, {took:.2f} s")


def furniture(count: int, seconds: float) -> None:
    """Random lists of 30 to 80 parts, none over a third of a sheet."""
    gaps: dict[int, int] = {}
    slowest = 0.0
    for seed in range(count):
        rng = random.Random(seed)
        kind = seed % 3
        parts: list[SawPart] = []
        wanted = rng.randint(30, 80)
        while len(parts) < wanted:
            if kind == 0:
                width, height = rng.randint(100, 2440), rng.randint(80, 1220)
            elif kind == 1:
                width = rng.choice([300, 400, 450, 560, 600, 720, 900, 1200, 1800, 2000])
                height = rng.choice([80, 100, 120, 150, 300, 350, 400, 560, 580, 600])
            else:
                width, height = rng.randint(60, 900), rng.randint(60, 600)
            if width * height <= 2440 * 1220 / 3:
                parts.append(SawPart(str(len(parts)), width, height, 1, rng.random() < 0.6))
        plan, took = planned(parts, [BOARD], seconds, (0.0, 3.2)[seed % 2])
        area = sum(part.width_mm * part.height_mm for part in parts)
        gap = len(plan.sheets) - math.ceil(area / (2440 * 1220))
        gaps[gap] = gaps.get(gap, 0) + 1
        slowest = max(slowest, took)
    print(f"{count} furniture lists, sheets over the area bound: {gaps}, slowest {slowest:.1f} s")


def puzzles(count: int, seconds: float) -> None:
    """Sheets sawn into parts without any waste, to be found again."""
    gaps: dict[int, int] = {}
    for seed in range(count):
        rng = random.Random(seed)
        kerf = (0, 3)[seed % 2]
        sheets = rng.randint(3, 8)
        sizes: list[tuple[int, int]] = []
        for _ in range(sheets):
            pieces = [(2440, 1220)]
            while len(pieces) < 10 or max(w * h for w, h in pieces) > 2440 * 1220 / 3:
                pieces.sort(key=lambda size: size[0] * size[1] * rng.uniform(0.3, 1))
                w, h = pieces.pop()
                if rng.random() < w / (w + h):
                    at = round(w * rng.uniform(0.25, 0.75))
                    pieces += [(at, h), (w - at - kerf, h)]
                else:
                    at = round(h * rng.uniform(0.25, 0.75))
                    pieces += [(w, at), (w, h - at - kerf)]
            sizes += pieces
        parts = [SawPart(str(index), w, h) for index, (w, h) in enumerate(sizes)]
        plan, _ = planned(parts, [BOARD], seconds, float(kerf))
        gap = len(plan.sheets) - sheets
        gaps[gap] = gaps.get(gap, 0) + 1
    print(f"{count} sheet puzzles without waste, sheets over the optimum: {gaps}")


def with_offcuts(count: int, seconds: float) -> None:
    """200 parts of 30 sizes from two kinds of sheet and six offcuts: cost against its bound."""
    for seed in range(count):
        rng = random.Random(seed)
        parts = [
            SawPart(str(i), rng.randint(60, 300), rng.randint(60, 200), rng.randint(1, 12))
            for i in range(30)
        ]
        stock = [BOARD, SawSheet("half", 1220, 1220)] + [
            SawSheet(f"offcut {i}", rng.randint(300, 1200), rng.randint(300, 900), 1, cost=1.0)
            for i in range(6)
        ]
        plan, took = planned(parts, stock, seconds, 3.2)
        used = sum(sheet.part_area_mm2 for sheet in plan.sheets)
        area = sum(sheet.width_mm * sheet.height_mm for sheet in plan.sheets)
        print(
            f"offcuts {seed}: {len(plan.sheets)} sheets, {100 * used / area:.1f} % used, cost "
            f"{plan.cost / max(plan.bound, 1):.3f} of the bound, {took:.1f} s"
        )


def main() -> None:
    """Run everything and print it."""
    seconds = float(sys.argv[1]) if len(sys.argv) > 1 else 2.0
    default = os.environ.get("SEAMWRIGHT_DATASETS", "../shared/datasets/guillotine")
    published(Path(sys.argv[2] if len(sys.argv) > 2 else default), seconds)
    furniture(60, seconds)
    puzzles(20, seconds)
    with_offcuts(4, seconds)


if __name__ == "__main__":
    main()
