"""What every kept layout comes to: saw cuts and offcuts too, which need its plan."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from PySide6.QtCore import QObject, QTimer, Signal

from app.context import Context
from app.i18n import tr
from app.jobs import Progress, Stop
from app.stages import sheets_model as model
from app.stages.cut_list_buying import money
from core.plan import Plan
from core.project.model import KeptLayout, Project
from core.project.saying import in_unit

_SETTLE_MS = 400  # a layout being dragged about is not planned at every move
_KEPT_MOST = 64


@dataclass(frozen=True)
class LayoutRow:
    """A kept layout in numbers, ready to be read; "" where one is not known yet."""

    name: str
    used: str
    sheets: str
    left: str
    cuts: str = ""
    offcut: str = ""
    cost: str = ""
    best: bool = False

    @property
    def detail(self) -> str:
        """What does not stand in the table."""
        few = {"": "", "0": tr("no saw cuts"), "1": tr("1 saw cut")}
        parts = (
            few.get(self.cuts, tr("{n} saw cuts").format(n=self.cuts)),
            self.offcut,
            tr("to buy for {cost}").format(cost=self.cost) if self.cost else "",
        )
        return " · ".join(part for part in parts if part)


class LayoutsCompared(QObject):
    """Works out the plans of kept layouts that are not shown, one after the other, off the
    window's thread; ``changed`` when there is more to tell."""

    changed = Signal()

    def __init__(self, context: Context, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._context = context
        self._pieces: Any = None
        self._known: dict[int, tuple[KeptLayout, int, float]] = {}
        self._wanted: tuple[KeptLayout, ...] = ()
        self._timer = QTimer(self)
        self._timer.setSingleShot(True)
        self._timer.setInterval(_SETTLE_MS)
        self._timer.timeout.connect(self._work_out)

    def clear(self) -> None:
        """Another project: nothing is known."""
        self._known.clear()
        self._wanted = ()
        self._timer.stop()

    def take(self, pieces: Any, layout: KeptLayout, plan: Plan) -> None:
        """The plan of a layout is there anyway."""
        self._of(pieces)
        self._keep(layout, plan)

    def rows(self, project: Project, pieces: Any) -> list[LayoutRow]:
        """All kept layouts in numbers; what is missing is worked out and told later."""
        self._of(pieces)
        figures = [
            model.figures_of(model.make_bench(project, pieces, kept)) for kept in project.layouts
        ]
        ranks = [(f.unplaced, f.sheet_area_mm2, f.sheets) for f in figures]
        rows, missing = [], []
        for kept, f, rank in zip(project.layouts, figures, ranks, strict=True):
            known = self._known.get(hash(kept))
            if known is not None and known[0] == kept:
                cuts = str(known[1])
                area = in_unit(f"{known[2] / 1e6:.2f} m²", project.units)
                offcut = tr("offcut kept {area}").format(area=area.replace(" ", "\u00a0"))
                if known[2] < 5_000:
                    offcut = tr("no offcut kept")
            else:
                cuts = offcut = ""
                missing.append(kept)
            rows.append(
                LayoutRow(
                    kept.name,
                    f"{round(f.yield_share * 100)} %" if f.sheets else "–",
                    str(f.sheets),
                    str(f.unplaced),
                    cuts if f.sheets else "",
                    offcut if f.sheets else "",
                    money(f.cost, project.shop.rules.currency) if f.cost and f.sheets else "",
                    rank == min(ranks),
                )
            )
        # The layout shown gets its plan as it is; only the others are worked out here.
        self._wanted = tuple(k for k in missing if k.name != project.current_layout)
        if self._wanted and pieces is not None:
            self._timer.start()
        return rows

    def _of(self, pieces: Any) -> None:
        """Plans hold for one set of pieces only."""
        if pieces is not self._pieces:
            self._pieces = pieces
            self._known.clear()

    def _keep(self, layout: KeptLayout, plan: Plan) -> None:
        while len(self._known) >= _KEPT_MOST:
            del self._known[next(iter(self._known))]
        cuts = sum(len(sheet.saw_cuts) for sheet in plan.sheets)
        self._known[hash(layout)] = (layout, cuts, plan.offcut_area_mm2)

    def _work_out(self) -> None:
        context, pieces = self._context, self._pieces
        if context.derived.busy or not context.jobs.is_idle():
            self._timer.start()  # what the maker waits for goes first
            return
        project, engine, layouts = context.document.project, context.derived.engine, self._wanted

        def work(_progress: Progress, stop: Stop) -> Iterable[tuple[KeptLayout, Plan]]:
            made = []
            for layout in layouts:
                if stop():
                    break
                made.append((layout, engine.assemble_plan(project, pieces, layout)))
            return made

        def done(made: Iterable[tuple[KeptLayout, Plan]]) -> None:
            for layout, plan in made:
                self._keep(layout, plan)
            self.changed.emit()

        context.jobs.start(
            tr("Comparing layouts"),
            work,
            done=done,
            failed=lambda _error: None,  # a layout that cannot be planned stays without figures
            still_wanted=lambda: pieces is self._pieces,
            lane="compare layouts",
            quiet=True,
            owner=self,
        )
