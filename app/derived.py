"""What follows from the document: cut pieces, the plan, findings. Worked out off the UI thread."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

from PySide6.QtCore import QObject, QTimer, Signal

from app.background import NESTING
from app.commands.base import EVERYTHING, LAYOUT, OUTPUT
from app.document import Change, Document
from app.i18n import tr
from app.jobs import Jobs, Progress, Stop
from app.wording import finding_in_words, in_words
from core.errors import SeamwrightError
from core.findings import Finding, Severity, sort_findings
from core.plan import Plan, PlanWay
from core.project.model import KeptLayout, Project
from core.project.saying import told
from core.shop import Shop

if TYPE_CHECKING:
    from core.planning import PieceSet

_SETTLE_MS = 25  # several changes at once (a whole undo) are worked out once
_NOTHING_YET_MS = 150  # an empty project waits until the window is there: loading takes longer


@dataclass(frozen=True)
class Engine:
    """The core calls the window needs; tests may pass their own."""

    cut_panels: Callable[..., PieceSet]
    assemble_plan: Callable[..., Plan]
    lay_out: Callable[..., KeptLayout]
    compare: Callable[..., tuple[PlanWay, ...]] | None = None


def core_engine() -> Engine:
    """The real core. Imported on first use: loading the solvers takes longer than a window."""

    def cut_panels(project: Project, **options: Any) -> PieceSet:
        from core import planning

        return planning.cut_panels(project, **options)

    def assemble_plan(project: Project, pieces: PieceSet, layout: KeptLayout) -> Plan:
        import core.reports  # noqa: F401 - the cut list wants it next; slow to load
        from core import planning

        return planning.assemble_plan(project, pieces, layout)

    def lay_out(project: Project, pieces: PieceSet, **options: Any) -> KeptLayout:
        from core import planning

        waiting = tr("Preparing the nesting engine…")
        return NESTING.call(planning.lay_out, project, pieces, waiting=waiting, **options)

    def compare(project: Project, pieces: PieceSet, **options: Any) -> tuple[PlanWay, ...]:
        from core import planning

        waiting = tr("Preparing the nesting engine…")
        return NESTING.call(planning.compare_project, project, pieces, waiting=waiting, **options)

    return Engine(cut_panels, assemble_plan, lay_out, compare)


def _whatever_way(shop: Shop) -> Shop:
    """The shop without the ways chosen for its sheets: a comparison holds for all of them."""
    return replace(shop, stock=tuple(replace(s, way="") for s in shop.stock))


class Derived(QObject):
    """Pieces, plan and findings of the document as it is now.

    ``pieces`` and ``plan`` are the newest ones worked out (None before the first);
    ``pieces_revision`` and ``plan_revision`` say for which state of the document, and
    ``is_current`` whether that is the present one. A change of the layout alone does not cut
    the panels again.
    """

    pieces_changed = Signal()
    plan_changed = Signal()
    findings_changed = Signal()
    busy_changed = Signal(bool)

    def __init__(
        self,
        document: Document,
        jobs: Jobs | None = None,
        *,
        engine: Engine | None = None,
        parent: QObject | None = None,
    ) -> None:
        super().__init__(parent)
        self.document = document
        self.jobs = jobs or Jobs(self)
        self.engine = engine or core_engine()
        self.pieces: PieceSet | None = None
        self.plan: Plan | None = None
        self.pieces_revision = -1
        self.plan_revision = -1
        self._ways: tuple[tuple[PlanWay, ...], Any, Shop] | None = None
        self._failure: Finding | None = None
        self._sorted: tuple[Finding, ...] | None = None
        self._by_panel: dict[str, tuple[Finding, ...]] = {}
        self.findings_changed.connect(self._forget_findings)
        self.pieces_changed.connect(self._forget_findings)
        self.plan_changed.connect(self._forget_findings)
        self._pieces_fit = False  # pieces hold for the document as it is
        self._busy = False
        self._seen = document.revision
        self._timer = QTimer(self)
        self._timer.setSingleShot(True)
        self._timer.timeout.connect(self._work_out)
        document.changed.connect(self._on_changed)
        if document.project.panels:
            self._timer.start(_SETTLE_MS)
        else:
            # Counted from when the window begins to answer, not from when it begins to be built.
            QTimer.singleShot(0, self, self._wait_for_work)

    @property
    def is_current(self) -> bool:
        """True if the plan was worked out for the document as it is now."""
        return self.plan is not None and self.plan_revision == self.document.revision

    @property
    def busy(self) -> bool:
        """True while something is being worked out."""
        return self._busy

    @property
    def findings(self) -> tuple[Finding, ...]:
        """Everything noticed, worst first, each once."""
        if self._sorted is None:
            self._sorted = self._gathered()
            by_panel: dict[str, list[Finding]] = {}
            for finding in self._sorted:
                by_panel.setdefault(finding.panel or "", []).append(finding)
            self._by_panel = {key: tuple(rows) for key, rows in by_panel.items()}
        return self._sorted

    def _gathered(self) -> tuple[Finding, ...]:
        rows: list[Finding] = [] if self._failure is None else [self._failure]
        rows.extend(self.document.reading_findings)
        if self.plan is not None and self.plan_revision >= self.pieces_revision:
            rows.extend(self.plan.findings)  # has those of its pieces among them
        elif self.pieces is not None:
            rows.extend(self.pieces.findings)
        project = self.document.project
        return sort_findings(
            tuple(told(finding_in_words(row), project) for row in dict.fromkeys(rows))
        )

    def findings_of(self, panel_id: str) -> tuple[Finding, ...]:
        """What was noticed about one panel."""
        return self._by_panel.get(panel_id, ()) if self.findings else ()

    def _forget_findings(self) -> None:
        self._sorted = None

    def refresh(self) -> None:
        """Work everything out again."""
        self._pieces_fit = False
        self._timer.start(_SETTLE_MS)

    def _on_changed(self, change: Change) -> None:
        seen, self._seen = self._seen, self.document.revision
        if change.kinds == frozenset({OUTPUT}):
            if self.plan is not None and self.plan_revision == seen and not self._busy:
                # Nothing is worked out from it; only what the plan says of its project changes.
                self.plan = replace(self.plan, project=self.document.project)
                self.plan_revision = self.pieces_revision = self._seen
                self.plan_changed.emit()
                return
        elif change.kinds != frozenset({LAYOUT}):
            self._pieces_fit = False
        if change.kinds == EVERYTHING:
            self._forget_project()
        self._forget_findings()
        self._set_busy(True)
        self._timer.start(_SETTLE_MS)

    def _forget_project(self) -> None:
        """Another project: its panels may have the ids of those that were here before."""
        self.pieces = self.plan = self._failure = None
        self.pieces_revision = self.plan_revision = -1
        for changed in (self.pieces_changed, self.plan_changed, self.findings_changed):
            changed.emit()

    def _wait_for_work(self) -> None:
        if not self._timer.isActive() and self.plan is None:
            self._timer.start(_NOTHING_YET_MS)

    def _work_out(self) -> None:
        project = self.document.project
        revision = self.document.revision
        known = self.pieces if self._pieces_fit else None
        engine = self.engine
        self._set_busy(True)

        def work(progress: Progress, stop: Stop) -> tuple[PieceSet, Plan] | None:
            pieces = known
            if pieces is None:
                pieces = engine.cut_panels(project, progress=progress, stop=stop)
                if stop():
                    return None  # not all of them are cut
                progress(0.5, "", pieces)
            if stop():
                return None
            layout = project.layout() or KeptLayout("", ())
            return pieces, engine.assemble_plan(project, pieces, layout)

        def partial(_fraction: float, _text: str, value: object) -> None:
            # Progress of the core itself carries no piece set; only ours does.
            if value is not None and hasattr(value, "pieces") and self._is_now(revision):
                self._take_pieces(value, revision)

        def done(result: tuple[PieceSet, Plan] | None) -> None:
            if result is None:  # the maker stopped it
                self._failure = Finding(
                    "planning-stopped",
                    Severity.WARN,
                    tr("Working out the pieces was stopped; what is shown may be old."),
                    remedy=tr("Any change works them out again."),
                )
                self._set_busy(False)
                self.findings_changed.emit()
                return
            pieces, plan = result
            if pieces is not self.pieces or self.pieces_revision != revision:
                self._take_pieces(pieces, revision)
            ways = self.ways
            self.plan = replace(plan, ways=ways) if ways else plan
            self.plan_revision = revision
            self._failure = None
            self._set_busy(False)
            self.plan_changed.emit()
            self.findings_changed.emit()

        def failed(error: SeamwrightError) -> None:
            where, what = in_words(error.where), in_words(error.what)
            said = f"{where}: {what}" if where else what
            self._failure = Finding("planning-failed", Severity.STOP, said, remedy=error.remedy)
            self._set_busy(False)
            self.findings_changed.emit()

        self.jobs.start(
            tr("Working out pieces"),
            work,
            done=done,
            partial=partial,
            failed=failed,
            still_wanted=lambda: self._is_now(revision),
            lane="derived",
        )

    @property
    def ways(self) -> tuple[PlanWay, ...]:
        """The ways onto the machine as compared for these very pieces and this shop, else ()."""
        if self._ways is None or self.pieces is None:
            return ()
        ways, pieces, shop = self._ways
        same = pieces == self.pieces.pieces
        return ways if same and shop == _whatever_way(self.document.project.shop) else ()

    def keep_ways(self, ways: tuple[PlanWay, ...], pieces: PieceSet, shop: Shop) -> None:
        """Take over a comparison, so that the cut list has it too."""
        self._ways = (ways, pieces.pieces, _whatever_way(shop))
        if self.plan is not None:
            self.plan = replace(self.plan, ways=self.ways)
            self.plan_changed.emit()

    def _is_now(self, revision: int) -> bool:
        return revision == self.document.revision

    def _take_pieces(self, pieces: Any, revision: int) -> None:
        same = pieces is self.pieces
        self.pieces = pieces
        self.pieces_revision = revision
        self._pieces_fit = True
        if not same:
            self.pieces_changed.emit()

    def _set_busy(self, busy: bool) -> None:
        if busy != self._busy:
            self._busy = busy
            self.busy_changed.emit(busy)
