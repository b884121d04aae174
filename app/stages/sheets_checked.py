"""The Sheets stage looking after what lies where it must not."""

from __future__ import annotations

from app.i18n import tr
from app.jobs import Progress, Stop
from app.stages import sheets_model as model
from app.stages.sheets_machine import MachineStage
from app.stages.sheets_model import Bench, Key, SheetKey

_LOOKED_AT_ONCE = 120  # pieces on a sheet that are checked in one go, within 20 ms


class CheckedStage(MachineStage):
    """Every sheet is checked when what lies on it changed; the base of the Sheets stage."""

    _wrong: dict[SheetKey, tuple[object, set[Key]]]
    _wrong_of: Bench | None
    _wrong_now: set[Key]
    _looking: dict[SheetKey, object]  # sheets being looked over, and how they lay then

    def _mark(self) -> None:
        """Show what is selected and what lies where it must not."""
        raise NotImplementedError

    def _show_summary(self) -> None:
        """Say what lies on the floor."""
        raise NotImplementedError

    def _all_wrong(self) -> set[Key]:
        bench = self._bench
        if self._preview is not None:
            return set()  # what the engine shows has been proven
        if self._wrong_of is bench:
            return self._wrong_now
        found: set[Key] = set()
        fresh: dict[SheetKey, tuple[object, set[Key]]] = {}
        by_sheet: dict[SheetKey, list[tuple[Key, object, str]]] = {}
        for key, p in bench.placed.items():
            row = (key, p.motion, bench.pieces[key[0]].digest)
            by_sheet.setdefault((p.sheet, p.sheet_copy), []).append(row)
        for sheet, rows in by_sheet.items():
            stamp: object = (
                tuple(rows),
                bench.stocks[sheet[0]],
                bench.shop.rules,
                bench.shop.machine,
            )
            known = self._wrong.get(sheet)
            if known and known[0] == stamp:
                wrong = known[1]
            elif len(rows) <= _LOOKED_AT_ONCE:
                wrong = model.wrong_keys(bench, sheet)
            else:  # what was known stands until it has been looked at
                wrong = (known[1] & bench.placed.keys()) if known else set()
                self._look_over(bench, sheet, stamp)
                stamp = None
            fresh[sheet] = (stamp, wrong)
            found |= wrong
        self._wrong, self._wrong_of, self._wrong_now = fresh, bench, found
        self._looking = {sheet: row for sheet, row in self._looking.items() if sheet in fresh}
        return found

    def _look_over(self, bench: Bench, sheet: SheetKey, stamp: object) -> None:
        """Find what lies wrong on a sheet of very many pieces off the window's thread.

        A sheet that is being looked over as it lies is left to that: another one may have changed.
        """
        if self._looking.get(sheet) == stamp:
            return
        self._looking[sheet] = stamp

        def work(_progress: Progress, _stop: Stop) -> set[Key]:
            return model.wrong_keys(bench, sheet)

        def done(wrong: set[Key]) -> None:
            del self._looking[sheet]
            self._wrong[sheet] = (stamp, wrong)
            self._wrong_of = None  # gathered anew
            self._mark()
            self._show_summary()

        self.jobs.start(
            tr("Looking the sheet over"),
            work,
            done=done,
            still_wanted=lambda: self._looking.get(sheet) == stamp,
            lane=f"look over {sheet}",
            quiet=True,
        )
