"""How the window feels while the big demo is nested: first layout, longest stall.

Run by hand: ``python tests/benchmarks/window.py [seconds] [demo]``, or with ``start`` alone for
the time from the start of the process to a window that takes input. A timer of 10 ms runs on the
UI thread all the while; the longest gap between two of its ticks is the longest stall. On a
machine that does other things too a gap may be somebody else's: the thread's own work is told.
"""

from __future__ import annotations

import os
import subprocess
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
from app.looks import apply_preferences  # noqa: E402
from app.preferences import Preferences  # noqa: E402
from app.tidy import Collector  # noqa: E402
from app.window import MainWindow  # noqa: E402
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


_STARTING = """
import sys, time
began = float(sys.argv[1])
from PySide6.QtCore import QTimer
from app.main import application, make_window
from app.preferences import Preferences
from app.looks import apply_preferences
app = application()
preferences = Preferences(None)
apply_preferences(preferences)
window = make_window(preferences, None)
window.resize(1366, 768)
window.show()
# What is queued behind the first showing is answered when the window takes input.
QTimer.singleShot(0, lambda: QTimer.singleShot(0, app.quit))
app.exec()
print(f"{time.time() - began:.2f} {time.process_time():.2f}", flush=True)
import os
os._exit(0)
"""


def start(times: int = 5) -> None:
    """From the start of a process to a window that takes input, several times over."""
    rows = []
    for _ in range(times):
        command = [sys.executable, "-c", _STARTING, str(time.time())]
        said = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, check=True)
        passed, worked = said.stdout.split()[-2:]
        rows.append((float(passed), float(worked)))
    rows.sort()
    print(
        f"start to a usable window, load {os.getloadavg()[0]:.1f}: best {rows[0][0]:.2f} s, median "
        f"{rows[len(rows) // 2][0]:.2f} s; processor time {min(own for _, own in rows):.2f} s"
    )


def main() -> None:
    """Open the demo, nest it twice (cold and warm) and print what was measured."""
    if sys.argv[1:] == ["start"]:
        start()
        return
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
