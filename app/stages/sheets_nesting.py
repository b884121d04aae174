"""The Sheets stage at work: nesting as it improves, and the layouts kept."""

from __future__ import annotations

import time
from dataclasses import replace

from app.commands.layout import (
    DEFAULT_NAME,
    RemoveLayout,
    RenameLayout,
    SetLayout,
    ShowLayout,
)
from app.i18n import tr
from app.jobs import Job, Progress, Stop
from app.stages import sheets_model as model
from app.stages.sheets_bench import BenchStage
from app.stages.sheets_compare import LayoutsCompared
from app.stages.sheets_side import LayoutsBox, NestBox
from app.wording import error_in_words, in_words
from core.errors import SeamwrightError
from core.project.model import KeptLayout


class NestingStage(BenchStage):
    """Nesting and kept layouts over the bench."""

    nest_box: NestBox
    layouts_box: LayoutsBox
    compared: LayoutsCompared
    _job: Job | None
    _began: float

    def _keep_seconds(self, seconds: float) -> None:
        self.preferences.set("nest_seconds", float(seconds))

    def _nest_or_stop(self) -> None:
        if self._job is None:
            self.nest()
        else:
            self.stop_nesting()

    def nest(self) -> None:
        """Look for places for all pieces, shown as they are found; locked pieces stay."""
        pieces = self.derived.pieces
        if pieces is None or self._job is not None or not self._bench.copies:
            return
        project = self.document.project
        how = self.nest_box.how.value
        before = replace(self._bench.layout, placed=tuple(self._bench.placed.values()))
        if how == "all":
            start = replace(before, placed=tuple(p for p in before.placed if p.locked))
        elif how == "rest":
            start = replace(before, placed=tuple(replace(p, locked=True) for p in before.placed))
        else:
            start = before
        sawn = any(sheet.frozen for sheet in start.sheets)
        begin = start if start.placed or sawn else None
        seconds = float(self.nest_box.seconds.value or 20.0)
        engine = self.derived.engine

        def work(progress: Progress, stop: Stop) -> KeptLayout:
            return engine.lay_out(
                project,
                pieces,
                start=begin,
                seconds=seconds,
                seed=project.seed,
                progress=progress,
                stop=stop,
            )

        locked = {(p.piece, p.copy): p.locked for p in before.placed}

        def done(layout: KeptLayout) -> None:
            shown = self._bench
            self._end_job("", rebuild=False)
            placed = tuple(
                replace(p, locked=locked.get((p.piece, p.copy), False)) for p in layout.placed
            )
            name = before.name or project.current_layout or DEFAULT_NAME
            kept = replace(layout, placed=placed, name=name)
            text = tr("Nest {pieces}").format(pieces=pieces_text(len(placed)))
            self._run(SetLayout(text, kept))
            if self._bench is shown:  # nothing better was found, and nothing changed
                self._rebuild()
            figures = model.figures_of(self._bench)
            if figures.placed:  # what was sawn at the very end counts too
                self.nest_box.curve.add(time.monotonic() - self._began, figures.yield_share)
            share = round(figures.yield_share * 100)
            self.told(
                tr("Nested: {pieces} on {sheets}, {share} % used.").format(
                    pieces=pieces_text(figures.placed),
                    sheets=sheets_text(figures.sheets),
                    share=share,
                )
            )

        def failed(error: SeamwrightError) -> None:
            self._end_job(error_in_words(error))
            self.told(error_in_words(error), wrong=True)

        def wanted() -> bool:
            now = self.document.project
            return now.panels == project.panels and now.shop == project.shop

        self.hand.select([])
        self._began = time.monotonic()
        self.nest_box.set_running(True)
        self.nest_box.tell(tr("Looking for places…"))
        self._job = self.jobs.start(
            tr("Nesting"),
            work,
            done=done,
            partial=self._nest_progress,
            failed=failed,
            still_wanted=wanted,
            lane="nest",
        )
        self._job.dropped.connect(self._nest_dropped)

    def stop_nesting(self) -> None:
        """Stop looking and keep the best found so far."""
        if self._job is not None:
            self._job.cancel()
            self.nest_box.tell(tr("Stopping…"))

    def _nest_progress(self, fraction: float, text: str, layout: object) -> None:
        if self._job is None:
            return
        spent = time.monotonic() - self._began
        self.nest_box.curve.at(spent)
        if isinstance(layout, KeptLayout):
            self._preview = layout
            self._rebuild(glide=True)
            figures = model.figures_of(self._bench)
            if figures.placed:
                self.nest_box.curve.add(spent, figures.yield_share)
            self.nest_box.tell(
                tr("{n} of {all} pieces on {sheets}").format(
                    n=figures.placed,
                    all=figures.placed + figures.unplaced,
                    sheets=sheets_text(figures.sheets),
                )
            )
        elif text:
            self.nest_box.tell(in_words(text))

    def _nest_dropped(self) -> None:
        if self._job is not None:
            self._end_job("")
            self._rebuild()

    def _end_job(self, text: str, *, rebuild: bool = True) -> None:
        self._job = None
        self._preview = None
        if rebuild:
            self._rebuild()
        self.nest_box.set_running(False)
        self.nest_box.tell(text)

    def _show_layouts(self) -> None:
        project, pieces = self.document.project, self.derived.pieces
        plan = self.derived.plan if self.derived.is_current else None
        current = project.layout()
        if plan is not None and current is not None and self._preview is None:
            self.compared.take(pieces, current, plan)
        rows = self.compared.rows(project, pieces)
        self.layouts_box.show_rows(rows, project.current_layout)

    def _show_layout(self, name: str) -> None:
        if name != self.document.project.current_layout and self._job is None:
            self._run(ShowLayout(tr("Show {name}").format(name=name), name))

    def _rename_layout(self, name: str, new_name: str) -> None:
        text = tr("Rename {name}").format(name=name)
        self._run(RenameLayout(text, name, new_name))
        self._show_layouts()

    def _forget_layout(self, name: str) -> None:
        self._run(RemoveLayout(tr("Forget {name}").format(name=name), name))

    def keep_copy(self) -> None:
        """Keep the layout as it is and go on with a copy under a name of its own."""
        current = self.document.project.layout()
        if current is None or self._job is not None:
            return
        names = {kept.name for kept in self.document.project.layouts}
        number = len(names) + 1
        while tr("Layout {n}").format(n=number) in names:
            number += 1
        name = tr("Layout {n}").format(n=number)
        self._run(
            SetLayout(tr("Keep {name}").format(name=current.name), replace(current, name=name))
        )


def sheets_text(count: int) -> str:
    return tr("1 sheet") if count == 1 else tr("{n} sheets").format(n=count)


def pieces_text(count: int) -> str:
    return tr("1 piece") if count == 1 else tr("{n} pieces").format(n=count)
