"""The second process: results, progress, stopping, failures, a process that is killed."""

from __future__ import annotations

import os
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from app.background import Background, Progress, Stop
from core.errors import InvalidRequestError, SeamwrightError


def count(upto: int, *, progress: Progress, stop: Stop) -> tuple[int, int]:
    """Count until stopped, telling each number; the last one and who counted."""
    for number in range(upto):
        progress(number / upto, "counting", number)
        if stop():
            return number, os.getpid()
        time.sleep(0.002)
    return upto, os.getpid()


def refuse(*, progress: Progress, stop: Stop) -> None:
    raise InvalidRequestError("The bed is too small", "panel Side", "Use a larger one.")


def err(*, progress: Progress, stop: Stop) -> float:
    return 1 / 0


def die(*, progress: Progress, stop: Stop) -> None:
    os._exit(3)


@pytest.fixture(scope="module")
def background() -> Iterator[Background]:
    made = Background("counting")
    yield made
    made.close()


def test_work_is_done_in_another_process_and_told_on_the_way(background: Background) -> None:
    told: list[int] = []
    result, process = background.call(count, 5, progress=lambda f, t, n: told.append(n))
    assert (result, told) == (5, [0, 1, 2, 3, 4])
    assert process != os.getpid()


def test_a_wish_to_stop_reaches_it_and_does_not_reach_the_next_call(
    background: Background,
) -> None:
    told: list[int] = []
    result, _ = background.call(
        count, 100_000, progress=lambda f, t, n: told.append(n), stop=lambda: len(told) > 3
    )
    assert 3 <= result < 100_000
    assert background.call(count, 3, stop=lambda: False)[0] == 3


def test_an_error_for_people_arrives_as_it_is(background: Background) -> None:
    with pytest.raises(InvalidRequestError, match="panel Side: The bed is too small"):
        background.call(refuse)


def test_a_fault_of_ours_brings_its_place_and_the_process_serves_on(
    background: Background,
) -> None:
    with pytest.raises(RuntimeError, match="in err"):
        background.call(err)
    assert background.call(count, 2)[0] == 2


def test_a_process_that_dies_is_told_and_replaced(background: Background) -> None:
    with pytest.raises(SeamwrightError, match="counting ended before its work was done"):
        background.call(die)
    assert background.call(count, 2)[0] == 2


def test_the_loops_of_the_saw_are_ready_before_the_first_nesting_wants_them() -> None:
    program = (
        "from app.background import _load_nesting\n"
        "_load_nesting(progress=None, stop=None)\n"
        "from core.breakdown import improve, exact, values\n"
        "loops = (improve.run, exact._build, values._fill)\n"
        "print(*(bool(loop.signatures) for loop in loops))\n"
    )
    root = Path(__file__).resolve().parents[2]
    said = subprocess.run(
        [sys.executable, "-c", program], cwd=root, capture_output=True, text=True, check=True
    )
    assert "True True True" in said.stdout
