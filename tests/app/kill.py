"""The window killed in the middle of work, and what comes back.

A random maker (``soak.py``) works in a process of its own until it is killed without warning at
a random moment. What is found afterwards must be whole, be a state the document really had, and
be no older than the time between two copies. By hand, as often as wanted:

    python tests/app/kill.py --times 50

By default copies are made every few seconds, so that a kill often falls into the writing of
one; ``--every-ms 60000`` leaves the program's own minute and waits longer before it kills.
"""

from __future__ import annotations

import argparse
import hashlib
import json
import os
import random
import signal
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any, BinaryIO

ROOT = Path(__file__).resolve().parents[2]
sys.path[:0] = [str(ROOT)]

from app.recovery import Recovery  # noqa: E402
from core.project.file import FORMAT, load_project, project_to_json  # noqa: E402
from tests.app import soak  # noqa: E402

BEGIN_MOST_S = 240.0
SLACK_S = 3.0  # a busy machine: the timer's turn and the writing itself


@dataclass(frozen=True)
class State:
    """One line of the journal: from when on the document was in this state."""

    since: float
    digest: str
    dirty: bool


@dataclass(frozen=True)
class Outcome:
    """What came back. age_s: how long before the kill the document left that state; 0 for the
    last one. copy: whether a copy was found (False: there was nothing to lose yet)."""

    age_s: float
    copy: bool
    states: int


def states_of(journal: Path) -> list[State]:
    """The states written down; a last line cut short by the kill is left out."""
    rows = []
    for line in journal.read_text(encoding="ascii").splitlines(keepends=True):
        parts = line.split()
        if line.endswith("\n") and len(parts) == 3:
            rows.append(State(float(parts[0]), parts[1], parts[2] == "1"))
    return rows


class Forked:
    """A maker forked off this process, which has the modules loaded and no window itself: each
    begins in a second. Has of subprocess.Popen what is used here."""

    def __init__(self, arguments: list[str], said: BinaryIO) -> None:
        self.pid = os.fork()
        self._ended: int | None = None
        if self.pid == 0:
            try:
                os.dup2(said.fileno(), 1)
                os.dup2(said.fileno(), 2)
                sys.argv = ["soak.py", *arguments]
                os._exit(soak.main())
            finally:
                os._exit(3)

    def poll(self) -> int | None:
        """How it ended, None while it works."""
        if self._ended is None:
            pid, status = os.waitpid(self.pid, os.WNOHANG)
            self._ended = status if pid else None
        return self._ended

    def wait(self) -> None:
        """Until it has ended."""
        if self._ended is None:
            self._ended = os.waitpid(self.pid, 0)[1]


def started(arguments: list[str], said: BinaryIO) -> subprocess.Popen[bytes]:
    """A maker in a process begun from nothing."""
    script = str(ROOT / "tests" / "app" / "soak.py")
    return subprocess.Popen(
        [sys.executable, script, *arguments], cwd=ROOT, stdout=said, stderr=subprocess.STDOUT
    )


def kill_once(
    folder: Path,
    *,
    seed: int,
    after_s: float,
    every_ms: int,
    start: Callable[[list[str], BinaryIO], Any] = started,
) -> Outcome:
    """Let a maker work for after_s seconds, kill, look at what is left.

    Raises AssertionError if it is broken, unknown or too old.
    """
    journal = folder / "journal.txt"
    arguments = ["--actions", "100000", "--seed", str(seed), "--folder", str(folder)]
    arguments += ["--journal", str(journal), "--autosave-ms", str(every_ms)]
    arguments += ["--memory-every", "100000", "--rest", "0.01", "--demo", "small"]
    with (folder / "said.txt").open("wb") as said:
        process = start(arguments, said)
    try:
        until = time.monotonic() + BEGIN_MOST_S
        while not journal.exists() or len(states_of(journal)) < 4:
            assert process.poll() is None, (folder / "said.txt").read_text()
            assert time.monotonic() < until, "it never began"
            time.sleep(0.05)
        time.sleep(after_s)
        assert process.poll() is None, (folder / "said.txt").read_text()
    finally:
        killed_at = time.time()
        if process.poll() is None:
            os.kill(process.pid, signal.SIGKILL)
        process.wait()
    return judge(folder, journal, killed_at, every_ms)


def judge(folder: Path, journal: Path, killed_at: float, every_ms: int) -> Outcome:
    """What the next start finds, against the journal."""
    states = [state for state in states_of(journal) if state.since <= killed_at]
    left_at: dict[str, float] = {}
    for state, after in zip(states, [*states[1:], None], strict=True):
        left_at[state.digest] = after.since if after is not None else killed_at
    oldest = every_ms / 1000 + SLACK_S
    for path in folder.glob("*.json"):
        # What was saved in place is whole too; the preferences go under such names as well.
        if json.loads(path.read_text(encoding="utf-8"))["format"] == FORMAT:
            load_project(path)
    leftovers = Recovery(folder / "recovery").leftovers()
    if not leftovers:
        dirty_since = killed_at
        for state in reversed(states):
            if not state.dirty:
                break
            dirty_since = state.since
        dirty_for = killed_at - dirty_since
        assert dirty_for <= oldest, f"unsaved for {dirty_for:.1f} s and no copy"
        return Outcome(dirty_for, False, len(states))
    project = load_project(leftovers[0].copy)
    digest = hashlib.sha256(project_to_json(project).encode()).hexdigest()
    assert digest in left_at, "the copy is no state the document ever had"
    age = killed_at - left_at[digest]
    assert age <= oldest, f"the copy is {age:.1f} s old"
    return Outcome(age, True, len(states))


def main() -> int:
    """Kill as often as asked for and print what came back."""
    parser = argparse.ArgumentParser(description="Kill the window at random moments")
    parser.add_argument("--times", type=int, default=50)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--every-ms", type=int, default=0, help="0: one to five seconds")
    args = parser.parse_args()
    rng = random.Random(args.seed)
    ages, copies, failed = [], 0, 0
    for number in range(1, args.times + 1):
        every_ms = args.every_ms or rng.choice((300, 1000, 2000, 5000))
        after_s = rng.uniform(1.0, 14.0) + (every_ms / 1000 if args.every_ms else 0.0)
        folder = Path(tempfile.mkdtemp(prefix="kill-"))
        try:
            found = kill_once(
                folder,
                seed=args.seed * 1000 + number,
                after_s=after_s,
                every_ms=every_ms,
                start=Forked,
            )
        except AssertionError as problem:
            failed += 1
            print(f"{number:3d}  BROKEN in {folder}: {problem}", flush=True)
            continue
        ages.append(found.age_s)
        copies += found.copy
        print(
            f"{number:3d}  killed {after_s:5.1f} s into {found.states:4d} states, copies every "
            f"{every_ms / 1000:4.1f} s: {'copy' if found.copy else 'nothing to lose'}, "
            f"{found.age_s:4.1f} s old",
            flush=True,
        )
    print(
        f"{len(ages)} of {args.times} came back whole, {copies} from a copy; oldest "
        f"{max(ages, default=0):.1f} s; {failed} broken"
    )
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main())
