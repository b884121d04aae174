"""The core's long work in a process of its own, so that the window keeps the interpreter.

A thread shares one interpreter lock with the window: while a search builds its tables in
Python the window waits its turn, and is seen to. A second process shares nothing. What goes in
and out is values: the project, the pieces, layouts.

The process begins at the first call and serves one call at a time. It ends with the program,
also with one that is killed: the pipe closes. Nothing here imports Qt, which the second
process has no use for.
"""

from __future__ import annotations

import logging
import multiprocessing
import os
import signal
import threading
import time
import traceback
from collections.abc import Callable
from dataclasses import replace
from multiprocessing.connection import Connection
from typing import Any

from app.heap import give_back, settle_memory
from core.errors import SeamwrightError

Progress = Callable[..., None]
Stop = Callable[[], bool]

log = logging.getLogger(__name__)
_LISTEN_S = 0.03  # how soon a wish to stop is passed on
_TELL_EVERY_S = 0.05  # progress without a result to look at is told no more often
_NICE = 5  # of a patient process: on a small machine the window goes first


class Background:
    """A process that runs functions of importable modules, one at a time.

    patient: its work takes minutes, and everything else on the machine goes first.
    """

    def __init__(self, name: str, *, patient: bool = False) -> None:
        self.name, self.patient = name, patient
        self._turn = threading.Lock()
        self._pipe: Connection | None = None
        self._process: Any = None
        self._calls = 0

    def call(
        self,
        function: Callable[..., Any],
        *arguments: Any,
        progress: Progress | None = None,
        stop: Stop | None = None,
        waiting: str = "",
        **options: Any,
    ) -> Any:
        """function(*arguments, **options, progress=…, stop=…), over there; its result.

        To be called on a thread that may wait. The function must be importable by name and
        take progress(fraction, text, partial) and stop(); arguments and result are pickled.
        waiting: told as progress while an earlier call is still at work. Raises what the
        function raises if it is a SeamwrightError, and SeamwrightError if the process dies.
        """
        while not self._turn.acquire(timeout=_LISTEN_S):
            if progress is not None and waiting:
                progress(0.0, waiting, None)
        try:
            pipe = self._connected()
            self._calls += 1
            pipe.send((self._calls, function, arguments, options))
            return self._answer(pipe, progress, stop)
        except (EOFError, OSError) as error:
            self._forget()
            log.exception("the process for %s ended", self.name)
            raise _ended(self.name) from error
        finally:
            self._turn.release()

    def close(self) -> None:
        """End the process; the next call begins another."""
        with self._turn:
            self._forget()

    def _answer(self, pipe: Connection, progress: Progress | None, stop: Stop | None) -> Any:
        asked = False
        while True:
            if stop is not None and not asked and stop():
                pipe.send(self._calls)
                asked = True
            if not pipe.poll(_LISTEN_S):
                continue
            kind, value = pipe.recv()
            if kind == "progress":
                if progress is not None:
                    progress(*value)
            elif kind == "result":
                return value
            elif kind == "refused":
                raise value
            else:
                raise RuntimeError(value)

    def _connected(self) -> Connection:
        if self._pipe is not None and self._process.is_alive():
            return self._pipe
        self._forget()
        context = multiprocessing.get_context("spawn")
        ours, theirs = context.Pipe()
        self._process = context.Process(
            target=_serve, args=(theirs, self.patient), name=f"seamwright-{self.name}", daemon=True
        )
        self._process.start()
        theirs.close()
        self._pipe = ours
        return ours

    def _forget(self) -> None:
        if self._pipe is not None:
            self._pipe.close()
            self._pipe = None
        if self._process is not None:
            self._process.terminate()
            self._process.join()
            self._process = None


# One for nesting, which may take minutes, and one for what must not wait for it.
NESTING = Background("nesting", patient=True)
READING = Background("reading")


def _ended(name: str) -> SeamwrightError:
    from app.i18n import tr

    return SeamwrightError(
        tr("the process for {name} ended before its work was done").format(name=name),
        remedy=tr("Nothing of yours changed. Try again; with little memory, close other programs."),
    )


def get_ready(progress: Progress, stop: Stop) -> None:
    """Have both processes there, the nesting's loops compiled (once per installation) or
    loaded."""
    READING.call(_load_reading, progress=progress, stop=stop)
    NESTING.call(_load_nesting, progress=progress, stop=stop)


# --- in the second process ----------------------------------------------------------------
def _serve(pipe: Connection, patient: bool) -> None:
    """Answer calls until the other end is closed."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # the terminal's Ctrl-C is for the program
    if patient and hasattr(os, "nice"):
        os.nice(_NICE)
    settle_memory()
    try:
        while True:
            asked = pipe.recv()
            if isinstance(asked, tuple):
                _do(pipe, *asked)
                give_back()
    except (EOFError, OSError):
        return  # the program is gone


def _do(
    pipe: Connection,
    number: int,
    function: Callable[..., Any],
    arguments: tuple[Any, ...],
    options: dict[str, Any],
) -> None:
    stopped = threading.Event()
    sending, hearing = threading.Lock(), threading.Lock()
    last = 0.0

    def progress(fraction: float, text: str = "", partial: object = None) -> None:
        nonlocal last
        now = time.monotonic()
        with sending:
            if partial is None and now - last < _TELL_EVERY_S:
                return
            last = now
            pipe.send(("progress", (float(fraction), text, partial)))

    def stop() -> bool:
        with hearing:
            try:
                if not stopped.is_set() and pipe.poll() and pipe.recv() == number:
                    stopped.set()
            except (EOFError, OSError):  # the program is gone, and with it who would want this
                stopped.set()
        return stopped.is_set()

    try:
        kind, value = "result", function(*arguments, **options, progress=progress, stop=stop)
    except SeamwrightError as error:
        kind, value = "refused", error
    except (EOFError, OSError):
        raise  # nobody listens any more
    except Exception:  # a fault of ours: told with its place, and the process serves on
        kind, value = "fault", traceback.format_exc()
    with sending:
        pipe.send((kind, value))


def _load_reading(*, progress: Progress, stop: Stop) -> None:
    # Loading them is the point.
    import ezdxf.recover  # noqa: F401
    import svgelements  # noqa: F401

    import core.project.edits  # noqa: F401


def _load_nesting(*, progress: Progress, stop: Stop) -> None:
    from core import planning  # noqa: F401 - loading it is the point
    from core.breakdown import SawPart, SawSheet, cut_rectangles
    from core.nesting.engine import warm_up

    warm_up()
    # Parts for the saw have loops of their own; compiled in the middle of a first nesting they
    # would keep it from being stopped.
    first, other = SawPart("first", 300.0, 200.0, 3), SawPart("other", 250.0, 150.0, 2)
    cut_rectangles([first, other], [SawSheet("s", 1000.0, 800.0)], kerf_mm=3.0, seconds=0.1)
    worth = [replace(first, value=1.0), replace(other, quantity=None, value=2.0)]
    cut_rectangles(worth, [SawSheet("s", 1000.0, 800.0, 1)], kerf_mm=3.0, seconds=0.1)
