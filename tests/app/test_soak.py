"""A short piece of what ``soak.py`` and ``kill.py`` do at length by hand."""

from __future__ import annotations

import random
from pathlib import Path

import pytest
from PySide6.QtWidgets import QApplication

from app.looks import apply_preferences
from app.preferences import Preferences
from tests.app.kill import kill_once
from tests.app.soak import beginning, run
from tests.app.soak_ask import RandomAsk
from tests.app.soak_watch import BrokenError, Watch


@pytest.fixture
def ask(tmp_path: Path) -> RandomAsk:
    """Whatever is asked gets an answer."""
    return RandomAsk(random.Random(5), tmp_path)


@pytest.mark.parametrize("seed", [5])
def test_a_hundred_and_fifty_things_at_random_leave_a_valid_document_and_every_way_back(
    make_window, qapp: QApplication, seed: int
) -> None:
    window = make_window(real=True, with_recovery=True, preferences=Preferences(None))
    window.document.take(beginning("small"), None)
    done = run(window, actions=150, seed=seed, real_undo_every=75, rest_share=0.03)
    apply_preferences(Preferences(None))
    assert sum(done.values()) == 150
    assert len(done) > 15  # all sorts of things


def test_the_watch_sees_a_history_that_does_not_lead_back(make_window) -> None:
    window = make_window()
    watch = Watch(window.document)
    watch.check()
    watch.begun = watch.begun.replace("1", "2")
    with pytest.raises(BrokenError, match="does not give the beginning"):
        watch.check()


def test_a_window_killed_in_the_middle_of_work_comes_back(tmp_path: Path) -> None:
    found = kill_once(tmp_path, seed=3, after_s=1.5, every_ms=300)
    assert found.states >= 4
