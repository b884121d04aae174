"""Read thousands of damaged drawings: every one must give outlines, findings or a refusal.

Run by hand: ``python tests/benchmarks/fuzz_drawings.py --count 20000 --seed 0``. Prints every
seed with its drawing that broke something or took longer than the bound; what is worth keeping
goes into KEPT in tests/unit/outlines/test_damaged_drawings.py. Exit code 1 if any did.
"""

from __future__ import annotations

import argparse
import faulthandler
import resource
import sys
import tempfile
import time
import traceback
from pathlib import Path

sys.path[:0] = [
    str(Path(__file__).parents[1] / "unit" / "outlines"),
    str(Path(__file__).parents[2]),
]

from drawing_corpus import CASES  # noqa: E402
from drawing_mutants import mutant  # noqa: E402

from core.errors import UnreadableDrawing  # noqa: E402
from core.outlines import read_outlines  # noqa: E402

SLOW_S = 5.0


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--count", type=int, default=5000)
    parser.add_argument("--seed", type=int, default=0)
    parser.add_argument("--only", default="", help="part of a case's name")
    options = parser.parse_args()
    cases = [(case, case.make()) for case in CASES if options.only in case.name]
    tally = {"outlines": 0, "no outlines": 0, "refused": 0}
    bad = 0
    slowest = (0.0, "")
    faulthandler.enable()
    with tempfile.TemporaryDirectory() as folder:
        for seed in range(options.seed, options.seed + options.count):
            case, data = cases[seed % len(cases)]
            path = Path(folder) / f"mutant{case.suffix}"
            path.write_bytes(mutant(data, seed))
            faulthandler.dump_traceback_later(60, exit=True)
            start = time.perf_counter()
            try:
                result = read_outlines(path)
                tally["outlines" if result.outlines else "no outlines"] += 1
                wrong = [o.name for o in result.outlines if not o.polygon.is_valid]
                if wrong or not (result.outlines or result.findings):
                    print(f"seed {seed} ({case.name}): invalid {wrong}")
                    bad += 1
            except UnreadableDrawing:
                tally["refused"] += 1
            except Exception:
                bad += 1
                print(f"seed {seed} ({case.name}):")
                traceback.print_exc(limit=-3)
            took = time.perf_counter() - start
            slowest = max(slowest, (took, f"seed {seed} ({case.name})"))
            if took > SLOW_S:
                bad += 1
                print(f"seed {seed} ({case.name}): {took:.1f} s")
        faulthandler.cancel_dump_traceback_later()
    memory = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    print(f"{tally}, {bad} bad, slowest {slowest[0]:.2f} s {slowest[1]}, peak {memory:.0f} MB")
    return 1 if bad else 0


if __name__ == "__main__":
    raise SystemExit(main())
