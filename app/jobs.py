"""Long work off the UI thread: a snapshot goes in, progress and a result come out.

A job gets ``progress(fraction, text, partial)`` and ``stop()`` in the form the core takes
them. Its signals are always emitted on the thread of the window, and a result whose snapshot
is no longer current is dropped.
"""

from __future__ import annotations

import logging
import threading
import time
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from PySide6.QtCore import QObject, Qt, Signal, Slot
from shiboken6 import isValid

from app.i18n import tr
from core.errors import SeamwrightError

Progress = Callable[..., None]
Stop = Callable[[], bool]
Work = Callable[[Progress, Stop], Any]

log = logging.getLogger(__name__)
_PROGRESS_EVERY_S = 0.04


@dataclass(frozen=True)
class Callbacks:
    """Whom a job calls on the window's thread. Plain functions, so that a job holds nobody
    once it is over."""

    ended: Callable[[Job], None]
    failed: Callable[[Job, SeamwrightError], None]
    done: Callable[[Any], None] | None = None
    partial: Callable[[float, str, Any], None] | None = None
    still_wanted: Callable[[], bool] | None = None
    owner: QObject | None = None

    @property
    def anybody(self) -> bool:
        """False once the one who asked (a dialog, closed meanwhile) is gone."""
        return self.owner is None or isValid(self.owner)


class Job(QObject):
    """One piece of work on its way.

    progressed(fraction 0–1, text, partial result or None), finished(result), failed(
    SeamwrightError), dropped() when the result came too late, ended() after any of them.
    """

    progressed = Signal(float, str, object)
    finished = Signal(object)
    failed = Signal(object)
    dropped = Signal()
    ended = Signal()
    _posted = Signal(str, object)

    def __init__(self, title: str, work: Work, callbacks: Callbacks, *, quiet: bool) -> None:
        # Python owns it: a parent that goes first would take it away under its own thread.
        super().__init__()
        self.title = title
        self.quiet = quiet
        self.fraction = 0.0
        self.text = ""
        self.running = True
        self._work = work
        self._callbacks: Callbacks | None = callbacks
        self._cancelled = threading.Event()
        self._abandoned = threading.Event()
        self._last_told = 0.0
        self._posted.connect(self._receive, Qt.ConnectionType.QueuedConnection)
        self._thread = threading.Thread(target=self._run, name=title, daemon=True)

    def start(self) -> None:
        """Begin; called by Jobs."""
        self._thread.start()

    def cancel(self) -> None:
        """Ask it to stop and hand over what it has so far; the result still arrives."""
        self._cancelled.set()

    def abandon(self) -> None:
        """Ask it to stop and drop the result."""
        self._abandoned.set()
        self._cancelled.set()

    @property
    def cancelled(self) -> bool:
        """True once it was asked to stop."""
        return self._cancelled.is_set()

    def wait(self, seconds: float = 10.0) -> None:
        """Block until the thread is done; only for closing down."""
        self._thread.join(seconds)

    # --- on the worker thread -----------------------------------------------------------
    def _progress(self, fraction: float, text: str = "", partial: object = None) -> None:
        now = time.monotonic()
        if partial is None and now - self._last_told < _PROGRESS_EVERY_S:
            return
        self._last_told = now
        self._post("progress", (float(fraction), text, partial))

    def _run(self) -> None:
        try:
            result = self._work(self._progress, self._cancelled.is_set)
        except SeamwrightError as error:
            self._post("failed", error)
        except Exception as error:  # a fault of ours must not take the window down
            log.exception("%s failed", self.title)
            self._post("failed", _told(self.title, error))
        else:
            self._post("finished", result)

    def _post(self, what: str, value: object) -> None:
        try:
            self._posted.emit(what, value)
        except RuntimeError:  # the window is closed and took the job with it
            self._cancelled.set()

    # --- on the window's thread ---------------------------------------------------------
    @Slot(str, object)
    def _receive(self, what: str, value: Any) -> None:
        if what == "progress":
            self.fraction, self.text, partial = value
            anybody = self._callbacks is None or self._callbacks.anybody
            if anybody and not self._abandoned.is_set():
                self.progressed.emit(self.fraction, self.text, partial)
                if self._callbacks is not None and self._callbacks.partial is not None:
                    self._callbacks.partial(self.fraction, self.text, partial)
            return
        callbacks, self._callbacks = self._callbacks, None
        # Its last step was to post this; once it is gone no thread but ours holds the job.
        self._thread.join()
        self.running = False
        if callbacks is None:
            return
        try:
            self._hand_over(callbacks, what, value)
        finally:
            callbacks.ended(self)
            self.ended.emit()

    def _hand_over(self, callbacks: Callbacks, what: str, value: Any) -> None:
        wanted = callbacks.still_wanted
        if not callbacks.anybody:
            return
        if self._abandoned.is_set() or (wanted is not None and not wanted()):
            self.dropped.emit()
        elif what == "finished":
            self.finished.emit(value)
            if callbacks.done is not None:
                callbacks.done(value)
        else:
            self.failed.emit(value)
            callbacks.failed(self, value)

    def forget(self) -> None:
        """It will never begin; let go of everybody."""
        self.running = False
        self._callbacks = None


class Jobs(QObject):
    """Starts jobs and knows which are running.

    Work in the same lane replaces what is still running there: the older job is abandoned and
    the new one begins when its thread is done, so two never work on the same thing at once.
    """

    started = Signal(object)  # Job
    ended = Signal(object)  # Job
    failed = Signal(object, object)  # Job, SeamwrightError

    def __init__(self, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._running: list[Job] = []
        self._lanes: dict[str, Job] = {}
        self._waiting: dict[str, Job] = {}

    def start(
        self,
        title: str,
        work: Work,
        *,
        done: Callable[[Any], None] | None = None,
        partial: Callable[[float, str, Any], None] | None = None,
        failed: Callable[[SeamwrightError], None] | None = None,
        still_wanted: Callable[[], bool] | None = None,
        lane: str = "",
        quiet: bool = False,
        owner: QObject | None = None,
    ) -> Job:
        """Run work(progress, stop) on a thread of its own.

        done, partial, failed are called on the window's thread. still_wanted: asked when the
        result is there; False drops it (usually "the revision is still mine"). quiet: not
        shown in the window's progress strip. owner: for whom it is; nobody is called once that
        object of Qt is deleted (a dialog closed before its result). Without failed, a failure
        is told through the failed signal of Jobs, which the window turns into a notice.
        """

        def on_ended(ended: Job) -> None:
            self._on_ended(ended, lane)

        def on_failed(which: Job, error: SeamwrightError) -> None:
            if failed is not None:
                failed(error)
            else:
                self.failed.emit(which, error)

        job = Job(
            title,
            work,
            Callbacks(on_ended, on_failed, done, partial, still_wanted, owner),
            quiet=quiet,
        )
        before = self._lanes.get(lane) if lane else None
        if before is not None and before.running:
            before.abandon()
            waiting = self._waiting.pop(lane, None)
            if waiting is not None:
                waiting.forget()
            self._waiting[lane] = job
        else:
            self._begin(job, lane)
        return job

    @property
    def running(self) -> tuple[Job, ...]:
        """Jobs at work, oldest first."""
        return tuple(self._running)

    def is_idle(self) -> bool:
        """True if nothing runs and nothing waits."""
        return not self._running and not self._waiting

    def close(self) -> None:
        """Abandon everything and wait for the threads; the window is closing."""
        for job in self._waiting.values():
            job.forget()
        self._waiting.clear()
        for job in self._running:
            job.abandon()
        for job in self._running:
            job.wait()
            job.forget()
        self._running.clear()
        self._lanes.clear()

    def _begin(self, job: Job, lane: str) -> None:
        if lane:
            self._lanes[lane] = job
        self._running.append(job)
        self.started.emit(job)
        job.start()

    def _on_ended(self, job: Job, lane: str) -> None:
        if job in self._running:
            self._running.remove(job)
        if lane and self._lanes.get(lane) is job:
            del self._lanes[lane]
        self.ended.emit(job)
        following = self._waiting.pop(lane, None) if lane else None
        if following is not None:
            self._begin(following, lane)


def _told(title: str, error: Exception) -> SeamwrightError:
    """A failure nobody foresaw, in three parts: of a long report the first line; the log has it."""
    first = next((line.strip() for line in str(error).splitlines() if line.strip()), "")
    return SeamwrightError(
        tr("{title} stopped: {kind}: {error}").format(
            title=title, kind=type(error).__name__, error=first
        ),
        remedy=tr("Undo the last change, or save and try again."),
    )
