"""How the tests are shared out among processes (``pytest -n 2``)."""

from __future__ import annotations

import os
from typing import Any

import pytest


@pytest.hookimpl(optionalhook=True)
def pytest_xdist_make_scheduler(config: pytest.Config, log: Any) -> Any:
    """On a real screen one process has all windows: there is one keyboard, and the window of
    another process would take it away. Everything else goes wherever there is time."""
    if os.environ.get("QT_QPA_PLATFORM", "offscreen") in ("offscreen", "minimal"):
        return None
    from xdist.scheduler import LoadScopeScheduling

    class OneScreen(LoadScopeScheduling):
        def _split_scope(self, nodeid: str) -> str:
            return "screen" if nodeid.startswith("tests/app/") else nodeid

    return OneScreen(config, log)
