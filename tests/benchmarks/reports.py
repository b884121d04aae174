"""How long the reports of an order take, and how large they get. Run by hand:

python -m tests.benchmarks.reports [--profile]
"""

from __future__ import annotations

import argparse
import cProfile
import pstats
import time
from collections.abc import Callable

from core.reports import cut_list_pdf, labels_pdf, pieces_csv, report_files
from core.reports.cutlist import build_cut_list
from core.reports.files import drawing_files
from core.reports.pages import cut_list_pages
from core.reports.svg import pdf_page_png
from tests.unit.reports.report_plans import every_plan


def clocked(work: Callable[[], object]) -> tuple[float, object]:
    start = time.process_time()
    result = work()
    return time.process_time() - start, result


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--profile", action="store_true", help="profile the largest cut list")
    options = parser.parse_args()
    print(f"{'plan':10} {'copies':>6} {'pages':>5} {'s':>6} {'KB':>6}  labels   DXF   CSV   all")
    for name, plan in every_plan().items():
        copies = len(build_cut_list(plan).copies)
        pages = len(cut_list_pages(plan))
        pdf_s, pdf = clocked(lambda p=plan: cut_list_pdf(p))
        labels_s, _ = clocked(lambda p=plan: labels_pdf(p))
        dxf_s, _ = clocked(lambda p=plan: drawing_files(build_cut_list(p)))
        csv_s, _ = clocked(lambda p=plan: pieces_csv(p))
        all_s, _ = clocked(lambda p=plan: report_files(p, stamp=""))
        size = len(pdf) / 1024  # type: ignore[arg-type]
        print(
            f"{name:10} {copies:6} {pages:5} {pdf_s:6.2f} {size:6.0f}"
            f"  {labels_s:6.2f} {dxf_s:5.2f} {csv_s:5.2f} {all_s:5.2f}"
        )
    data = cut_list_pdf(every_plan()["big"])
    seconds, _ = clocked(lambda: pdf_page_png(data, 3))
    print(f"one page as a picture at 150 dpi: {seconds:.2f} s")
    if options.profile:
        with cProfile.Profile() as profile:
            cut_list_pdf(every_plan()["big"])
        pstats.Stats(profile).sort_stats("cumtime").print_stats(25)


if __name__ == "__main__":
    main()
