"""Work off the UI thread: where results arrive, what is dropped, what becomes a sentence."""

from __future__ import annotations

import threading
import time

import shiboken6
from PySide6.QtWidgets import QDialog

from app.commands import AddPanels, SetLayout
from app.derived import Derived, Engine
from app.document import Document
from app.jobs import Jobs, Progress, Stop
from app.panel_table import rectangle_panel
from core.errors import InvalidRequestError, SeamwrightError
from core.findings import Severity
from core.plan import Plan
from core.project.model import KeptLayout, Project


def test_a_result_arrives_on_the_thread_of_the_window(qtbot) -> None:
    jobs = Jobs()
    threads: dict[str, int] = {}

    def work(progress, stop) -> int:
        threads["work"] = threading.get_ident()
        progress(0.5, "half way")
        return 42

    results: list[int] = []

    def done(value: int) -> None:
        threads["done"] = threading.get_ident()
        results.append(value)

    jobs.start("Counting", work, done=done)
    qtbot.waitUntil(lambda: results == [42])
    assert threads["done"] == threading.get_ident() != threads["work"]
    qtbot.waitUntil(jobs.is_idle)


def test_a_failure_of_the_core_is_told_as_it_is(qtbot) -> None:
    jobs = Jobs()
    told: list[SeamwrightError] = []

    def work(progress, stop) -> None:
        raise InvalidRequestError("The bed is too small", "panel Side", "Use a larger one.")

    jobs.start("Splitting", work, failed=told.append)
    qtbot.waitUntil(lambda: bool(told))
    assert str(told[0]) == "panel Side: The bed is too small. Use a larger one."


def test_a_fault_of_ours_becomes_a_sentence_and_not_a_traceback(qtbot, caplog) -> None:
    jobs = Jobs()
    told: list[SeamwrightError] = []
    jobs.failed.connect(lambda _job, error: told.append(error))
    jobs.start("Nesting", lambda progress, stop: 1 / 0)
    qtbot.waitUntil(lambda: bool(told))
    assert "Nesting stopped: ZeroDivisionError" in told[0].what
    assert told[0].remedy


def test_of_a_long_report_the_first_line_is_told(qtbot, caplog) -> None:
    jobs = Jobs()
    told: list[SeamwrightError] = []
    jobs.failed.connect(lambda _job, error: told.append(error))

    def work(progress, stop) -> None:
        raise RuntimeError("\n    No process could be started.\n\n    This probably means\n")

    jobs.start("Nesting", work)
    qtbot.waitUntil(lambda: bool(told))
    assert told[0].what == "Nesting stopped: RuntimeError: No process could be started."


def test_a_cancelled_job_hands_over_what_it_has(qtbot) -> None:
    jobs = Jobs()
    results: list[str] = []

    def work(progress, stop) -> str:
        while not stop():
            time.sleep(0.002)
        return "best so far"

    job = jobs.start("Nesting", work, done=results.append)
    qtbot.wait(20)
    job.cancel()
    qtbot.waitUntil(lambda: results == ["best so far"])


def test_a_result_nobody_wants_any_more_is_dropped(qtbot) -> None:
    jobs = Jobs()
    results: list[int] = []
    wanted = [True]
    job = jobs.start(
        "Old",
        lambda progress, stop: time.sleep(0.02) or 1,
        done=results.append,
        still_wanted=lambda: wanted[0],
    )
    with qtbot.waitSignal(job.dropped, timeout=2000):
        wanted[0] = False
    assert results == []


def test_a_later_job_in_the_same_lane_replaces_the_earlier(qtbot) -> None:
    jobs = Jobs()
    results: list[str] = []
    at_once = [0, 0]

    def work(name: str):
        def run(progress, stop) -> str:
            at_once[0] += 1
            at_once[1] = max(at_once)
            while name != "last" and not stop():
                time.sleep(0.002)
            at_once[0] -= 1
            return name

        return run

    for name in ("first", "second", "last"):
        jobs.start(name, work(name), done=results.append, lane="one")
    qtbot.waitUntil(lambda: results == ["last"])
    assert at_once[1] == 1
    qtbot.waitUntil(jobs.is_idle)


def test_pieces_and_plan_follow_the_document(qtbot, engine) -> None:
    document = Document()
    derived = Derived(document, engine=engine.engine())
    qtbot.waitUntil(lambda: derived.is_current)
    document.run(AddPanels("Add", (rectangle_panel("Shelf", 800, 300),)))
    assert not derived.is_current
    qtbot.waitUntil(lambda: derived.is_current)
    assert [piece.name for piece in derived.plan.pieces] == ["Shelf"]


def test_a_change_of_the_layout_does_not_cut_the_panels_again(qtbot, engine) -> None:
    document = Document(Project(panels=(rectangle_panel("Shelf", 800, 300),)))
    derived = Derived(document, engine=engine.engine())
    qtbot.waitUntil(lambda: derived.is_current)
    cut, planned = engine.cut_calls, engine.plan_calls
    document.run(SetLayout("Lay out", KeptLayout("Layout 1", ())))
    qtbot.waitUntil(lambda: derived.is_current)
    assert (engine.cut_calls, engine.plan_calls) == (cut, planned + 1)


def test_planning_that_fails_is_a_stop_and_goes_away_when_mended(qtbot, engine) -> None:
    document = Document()
    engine.error = InvalidRequestError("No bit is there", "shop", "Add a bit.")
    derived = Derived(document, engine=engine.engine())
    qtbot.waitUntil(lambda: bool(derived.findings))
    assert derived.findings[0].severity is Severity.STOP
    assert derived.findings[0].remedy == "Add a bit."
    engine.error = None
    derived.refresh()
    qtbot.waitUntil(lambda: derived.is_current)
    assert derived.findings == ()


def test_a_result_for_a_dialog_closed_meanwhile_is_nobody_s(qtbot) -> None:
    jobs, dialog, heard = Jobs(), QDialog(), []

    def work(_progress: Progress, stop: Stop) -> str:
        while not stop():
            time.sleep(0.005)
        return "too late"

    job = jobs.start("reading", work, done=heard.append, failed=heard.append, owner=dialog)
    shiboken6.delete(dialog)
    job.cancel()
    qtbot.waitUntil(jobs.is_idle)
    assert heard == []


def test_planning_stopped_by_the_maker_is_said_and_the_next_change_plans_again(qtbot) -> None:
    document = Document()
    began, go = threading.Event(), threading.Event()
    cut: list[int] = []

    class Pieces:
        pieces = ()
        findings = ()

    def cut_panels(project: Project, *, progress: Progress, stop: Stop) -> Pieces:
        cut.append(len(project.panels))
        if len(cut) == 1:
            began.set()
            go.wait(5)
        return Pieces()

    def assemble_plan(project: Project, _pieces: object, _layout: object) -> Plan:
        return Plan(project, (), (), (), ())

    engine = Engine(cut_panels, assemble_plan, lambda *_: KeptLayout("", ()))  # type: ignore[arg-type]
    derived = Derived(document, Jobs(), engine=engine)
    qtbot.waitUntil(began.is_set)
    for job in derived.jobs.running:
        job.cancel()
    go.set()
    qtbot.waitUntil(lambda: not derived.busy)
    assert not derived.is_current and derived.pieces is None
    assert [f.code for f in derived.findings] == ["planning-stopped"]
    document.run(AddPanels("Add", (rectangle_panel("Shelf", 600, 300),)))
    qtbot.waitUntil(lambda: derived.is_current)
    assert cut == [0, 1]
    assert [f.code for f in derived.findings] == []
