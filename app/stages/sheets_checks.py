"""What lies where it must not on the sheets, looked after as they change."""

from __future__ import annotations

from PySide6.QtCore import QObject, Signal

from app.i18n import tr
from app.jobs import Jobs, Progress, Stop
from app.stages import sheets_model as model
from app.stages.sheets_model import Bench, Key, SheetKey

_LOOKED_AT_ONCE = 120  # pieces on a sheet that are checked in one go, within 20 ms


class SheetChecks(QObject):
    """Looks a sheet over when what lies on it changed.

    looked_over(): a sheet of very many pieces has been gone through, and ``wrong`` knows more.
    """

    looked_over = Signal()

    def __init__(self, jobs: Jobs, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._jobs = jobs
        self._found: dict[SheetKey, tuple[object, set[Key]]] = {}
        self._bench: Bench | None = None
        self._wrong: set[Key] = set()
        self._looking: dict[SheetKey, object] = {}  # being looked over, and how they lay then

    def wrong(self, bench: Bench) -> set[Key]:
        """The copies on a bench that lie where they must not, as far as they are known."""
        if self._bench is bench:
            return self._wrong
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
            known = self._found.get(sheet)
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
        self._found, self._bench, self._wrong = fresh, bench, found
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
            self._found[sheet] = (stamp, wrong)
            self._bench = None  # gathered anew
            self.looked_over.emit()

        self._jobs.start(
            tr("Looking the sheet over"),
            work,
            done=done,
            still_wanted=lambda: self._looking.get(sheet) == stamp,
            lane=f"look over {sheet}",
            quiet=True,
        )
