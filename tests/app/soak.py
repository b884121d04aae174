"""A maker at random: hands, keys and menus all over the window, and what must hold all the while.

By hand, thousands of actions with any seed, memory told as it goes, or only until somebody
kills it (``tests/app/kill.py`` does):

    python tests/app/soak.py --actions 2000 --seed 1
    python tests/app/soak.py --minutes 20 --memory-every 60

After every action the document is valid, undoing everything gives its beginning byte for byte
and doing everything again gives its end; every hundred actions that is done through the window
with Ctrl+Z and Ctrl+Shift+Z too. A warning of Qt, an exception nobody caught or a layout that is
wrong without being marked ends the run.
"""

from __future__ import annotations

import argparse
import faulthandler
import gc
import itertools
import multiprocessing
import os
import random
import sys
import tempfile
import time
import traceback
from collections import Counter
from collections.abc import Callable
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
sys.path[:0] = [str(ROOT)]
if not os.environ.get("DISPLAY"):
    os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")

from PySide6.QtWidgets import QApplication  # noqa: E402

from app.commands import AddPanels  # noqa: E402
from app.document import Document  # noqa: E402
from app.panel_table import rectangle_panel  # noqa: E402
from app.window import MainWindow  # noqa: E402
from core.project.file import load_project, project_to_json  # noqa: E402
from core.project.model import Project  # noqa: E402
from core.shop import Cutter, Machine, Material, Shop, Stock  # noqa: E402
from tests.app.soak_ask import DEMOS, RandomAsk  # noqa: E402
from tests.app.soak_maker import Maker  # noqa: E402
from tests.app.soak_watch import BrokenError, Watch  # noqa: E402


def run(
    window: MainWindow,
    *,
    actions: int,
    seed: int,
    minutes: float = 0.0,
    tell: Callable[[int, str], None] | None = None,
    real_undo_every: int = 100,
    rest_share: float = 0.12,
) -> Counter[str]:
    """Let a random maker do so many things in a window; what was done, counted.

    Raises BrokenError at the first thing that is not as it must be, with the last actions named.
    """
    rng = random.Random(seed)
    window.context.preferences.set("nest_seconds", 1.0)
    ask = window.context.ask
    if isinstance(ask, RandomAsk):
        ask._rng = rng
    watch, maker = Watch(window.document), Maker(window, rng)
    window.stages[2].nest_box.seconds.set_value(1.0)  # type: ignore[attr-defined]
    done: Counter[str] = Counter()
    last: list[str] = []
    until = time.monotonic() + minutes * 60
    with watch.listening():
        for number in itertools.count(1):
            if (minutes and time.monotonic() > until) or (not minutes and number > actions):
                break
            try:
                what = maker.act()
                last = [*last[-14:], what]
                done[what.split(" ")[0]] += 1
                QApplication.processEvents()
                if rng.random() < rest_share:
                    maker.idle()
                watch.check()
                if number % 25 == 0:
                    maker.idle()
                    watch.check_marks(window)
                if number % real_undo_every == 0:
                    maker.undo_all_and_redo_all()
                    watch.check()
            except Exception as error:
                trail = "\n  ".join(last)
                raise BrokenError(f"action {number}, seed {seed}:\n  {trail}\n{error}") from error
            if tell is not None:
                tell(number, what)
        maker.idle()
        watch.check()
    return done


def beginning(name: str) -> Project:
    """What a run begins with: a demo, or "small", where the time goes into the window and not
    into cutting; one of its panels is split."""
    if name != "small":
        return load_project(ROOT / "demo_projects" / name / f"{name}.json")
    shop = Shop(
        machine=Machine(cutters=(Cutter(6.0, cutting_length_mm=22.0),)),
        materials=(Material("birch 18", 18.0),),
        stock=(Stock("s1", "birch 18", 2440.0, 1220.0, cost=60.0),),
    )
    panels = (
        rectangle_panel("Rail", 1500, 120, 1, "birch 18"),
        rectangle_panel("Shelf", 500, 300, 3, "birch 18"),
    )
    return AddPanels("Add", panels).apply(Project(shop=shop))


def rss_mb(pid: int | str = "self") -> float:
    """Memory a process holds, this one by default, MB (Linux)."""
    try:
        lines = Path(f"/proc/{pid}/status").read_text().splitlines()
    except OSError:  # it has ended
        return 0.0
    return next((int(line.split()[1]) / 1024 for line in lines if line.startswith("VmRSS")), 0.0)


def helpers_mb() -> float:
    """Memory the processes hold that nest and read drawings for this one, MB."""
    return sum(rss_mb(child.pid or 0) for child in multiprocessing.active_children())


def main() -> int:
    """The run by hand."""
    from app.looks import apply_preferences
    from app.main import application, make_window
    from app.preferences import Preferences
    from app.recovery import Recovery
    from app.tidy import Collector

    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else "")
    parser.add_argument("--actions", type=int, default=2000)
    parser.add_argument("--minutes", type=float, default=0.0)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--demo", default=DEMOS[0])
    parser.add_argument("--memory-every", type=float, default=60.0, help="seconds")
    parser.add_argument("--folder", type=Path, help="where files and copies go")
    parser.add_argument("--autosave-ms", type=int, default=0)
    parser.add_argument("--journal", type=Path, help="write down every state with its time")
    parser.add_argument("--rest", type=float, default=0.12, help="how often it waits")
    parser.add_argument("--verbose", action="store_true")
    args = parser.parse_args()
    faulthandler.enable()
    folder = args.folder or Path(tempfile.mkdtemp(prefix="soak-"))
    folder.mkdir(parents=True, exist_ok=True)
    app = application()
    preferences = Preferences(None)
    apply_preferences(preferences)
    recovery = Recovery(folder / "recovery")
    ask = RandomAsk(random.Random(args.seed), folder)
    window = make_window(preferences, recovery, ask)  # type: ignore[arg-type]
    if args.autosave_ms:
        window.document._autosave_timer.setInterval(args.autosave_ms)
    if args.journal:
        _keep_journal(window.document, args.journal)
    window.resize(1366, 768)
    window.show()
    collector = Collector(app)
    window.document.take(beginning(args.demo), None)
    began, next_memory = time.monotonic(), 0.0

    def tell(number: int, what: str) -> None:
        nonlocal next_memory
        spent = time.monotonic() - began
        if args.verbose:
            print(f"{number:5d} {spent:7.1f} s  {what}", flush=True)
        if spent >= next_memory and window.context.jobs.is_idle():
            # Only at rest: a thread must not build a tuple while all objects are listed.
            next_memory = spent + args.memory_every
            gc.unfreeze()  # what was set aside counts too
            gc.collect()
            widgets = len(QApplication.allWidgets())
            print(
                f"{spent:7.0f} s  action {number:6d}  {rss_mb():7.1f} MB  "
                f"(helpers {helpers_mb():6.1f})  "
                f"{len(gc.get_objects()):8d} objects  {widgets:5d} widgets  "
                f"{len(window.document.history):4d} steps",
                flush=True,
            )

    try:
        done = run(
            window,
            actions=args.actions,
            seed=args.seed,
            minutes=args.minutes,
            tell=tell,
            rest_share=args.rest,
        )
    except BrokenError as error:
        print(f"BROKEN: {error}")
        traceback.print_exception(error.__cause__)
        os._exit(1)
    spent = time.monotonic() - began
    print(f"{sum(done.values())} actions in {spent:.0f} s, seed {args.seed}: all holds")
    print(", ".join(f"{what} {n}" for what, n in done.most_common()))
    collector.release()
    window.document.close()
    window.context.jobs.close()
    return 0


def _keep_journal(document: Document, path: Path) -> None:
    """A line per state of the document: when, and the digest of what would be saved."""
    import hashlib

    book = path.open("a", buffering=1, encoding="ascii")

    def note(_change: object = None) -> None:
        digest = hashlib.sha256(project_to_json(document.project).encode()).hexdigest()
        book.write(f"{time.time():.3f} {digest} {int(document.dirty)}\n")

    document.changed.connect(note)
    document.dirty_changed.connect(note)
    note()


if __name__ == "__main__":
    sys.exit(main())
