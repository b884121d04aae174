"""How the window feels while the big demo is nested: first layout, longest stall.

Run by hand: ``python tests/benchmarks/window.py [seconds] [demo]``. A timer of 10 ms runs on the
UI thread all the while; the longest gap between two of its ticks is the longest stall. On a
machine that does other things too a gap may be somebody else's: the thread's own work is told.
"""

from __future__ import annotations

import os
import sys
import time
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT))
if not os.environ.get("DISPLAY"):
    os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")

from PySide6.QtCore import QTimer  # noqa: E402
from PySide6.QtWidgets import QApplication  # noqa: E402

from app.ask import WindowAsk  # noqa: E402
from app.background import get_ready  # noqa: E402
from app.derived import Derived  # noqa: E402
from app.document import Document  # noqa: E402
from app.jobs import Jobs  # noqa: E402
from app.preferences import Preferences  # noqa: E402
from app.tidy import Collector  # noqa: E402
from app.window import MainWindow, apply_preferences  # noqa: E402
from core.project.file import load_project  # noqa: E402


class Clock:
    """Time between two ticks: as it passed, and as this thread worked."""

    def __init__(self) -> None:
        self._last = (time.perf_counter(), time.thread_time())

    def gap_ms(self) -> tuple[float, float]:
        """Milliseconds passed and worked since the last call."""
        now = (time.perf_counter(), time.thread_time())
        gap = tuple(1000 * (b - a) for a, b in zip(self._last, now, strict=True))
        self._last = now
        return gap


def main() -> None:
    """Open the demo, nest it twice (cold and warm) and print what was measured."""
    seconds = float(sys.argv[1]) if len(sys.argv) > 1 else 15.0
    demo = sys.argv[2] if len(sys.argv) > 2 else "kiln_wall"
    app = QApplication([])
    preferences = Preferences(None)
    apply_preferences(preferences)
    document = Document(load_project(ROOT / "demo_projects" / demo))
    jobs = Jobs()
    derived = Derived(document, jobs)
    window = MainWindow(document, derived, WindowAsk(), preferences=preferences, recovery=None)
    window.resize(1366, 768)
    window.show()
    collector = Collector(app)  # as in the program
    jobs.start("Getting ready", get_ready, quiet=True)
    while not (jobs.is_idle() and derived.is_current and not derived.busy):
        app.processEvents()
        time.sleep(0.005)
    window.open_stage(2)
    stage = window.stages[2]
    print(f"{demo}, load {os.getloadavg()[0]:.1f}, platform {app.platformName()}")
    for run in ("first nesting", "second nesting (warm)"):
        stage.nest_box.seconds.set_value(seconds)
        gaps: list[tuple[float, float]] = []
        clock = Clock()

        def tick(gaps: list[tuple[float, float]] = gaps, clock: Clock = clock) -> None:
            gaps.append(clock.gap_ms())

        timer = QTimer()
        timer.setInterval(10)
        timer.timeout.connect(tick)
        timer.start()
        began = time.monotonic()
        first = 0.0
        stage.nest()
        while stage._job is not None:
            app.processEvents()
            time.sleep(0.001)
            if not first and stage._bench.placed:
                first = time.monotonic() - began
        took = time.monotonic() - began
        while not (jobs.is_idle() and derived.is_current):
            app.processEvents()
            time.sleep(0.001)
        timer.stop()
        gaps.sort()
        plan = derived.plan
        print(
            f"{run}: first layout on screen after {first:.2f} s, done after {took:.1f} s; "
            f"longest stall {gaps[-1][0]:.0f} ms ({gaps[-1][1]:.0f} ms of it the window's own "
            f"work, most own work {max(own for _, own in gaps):.0f} ms), 99 % of gaps under "
            f"{gaps[int(len(gaps) * 0.99)][0]:.0f} ms; "
            f"{len(stage._bench.placed)} pieces, used {plan.yield_share if plan else 0:.1%}"
        )
    collector.release()
    document.close()
    jobs.close()


if __name__ == "__main__":
    main()
