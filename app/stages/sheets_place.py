"""The hand on the floor: putting the selection somewhere by keys, buttons and figures."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import replace

from app.canvas.contact import Outcome
from app.i18n import tr
from app.stages.sheets_grip import GripHand
from app.stages.sheets_model import Key, SheetKey
from app.stages.sheets_motions import bounds_of, mirrored_about, shifted, turned_about
from core.geometry import Motion, Point
from core.tolerances import CONTACT_SKIN_MM


class PlacingHand(GripHand):
    """Moves, turns, lines up and locks the selection without the mouse."""

    def _put_turned(
        self, keys: list[Key], home: SheetKey, by_deg: float, about: Point, *, merge: str = ""
    ) -> None:
        """Turn, then settle at the nearest place that keeps the distances."""
        laid = {k: turned_about(self.bench.placed[k].motion, by_deg, *about) for k in keys}
        self._put(tr("Turn {what}"), laid, home, merge=merge)

    def _put(
        self, pattern: str, laid: dict[Key, Motion], home: SheetKey, *, merge: str = ""
    ) -> None:
        mover = self.bench.mover(home, laid)
        outcome = mover.settle(farthest_mm=200.0)
        if outcome.legal:
            laid = {k: shifted(m, outcome.dx_mm, outcome.dy_mm) for k, m in laid.items()}
        keys = list(laid)
        self.owner.place(
            self._text(pattern, keys),
            [self._placed(k, home, m) for k, m in laid.items()],
            merge=merge,
        )
        self.owner.selection_changed()
        self._place_grip()
        bad = [self.reason(c) for c in outcome.touches if c.short_mm > 0]
        if not outcome.legal and bad:
            self.owner.told(
                tr("{what}: {why}").format(what=self._text("{what}", keys), why=bad[0]), wrong=True
            )

    def mirror(self) -> bool:
        """Turn the selection over, face down."""
        group = self._group()
        if group is None:
            return False
        keys, home = group
        stuck = [k for k in keys if not self.bench.pieces[k[0]].may_mirror]
        if stuck:
            self.owner.told(
                tr("{name} may not be cut face down; the Panels stage can allow it.").format(
                    name=self.bench.name(stuck[0])
                )
            )
            return True
        start = {k: self.bench.placed[k].motion for k in keys}
        x, _ = self._middle(start)
        laid = {k: mirrored_about(m, x) for k, m in start.items()}
        self._put(tr("Turn {what} over"), laid, home)
        return True

    def step_selection(self, way: int, *, adding: bool = False) -> bool:
        """Select the next or the one before, sheet by sheet. adding: keep what is selected."""
        rows = [key for sheet in self.bench.sheets for key in sorted(self.bench.on(sheet))]
        if not rows:
            return False
        if self.selected and self.selected[-1] in rows:
            index = (rows.index(self.selected[-1]) + way) % len(rows)
        else:
            index = 0 if way > 0 else -1
        rest = [key for key in self.selected if key != rows[index]] if adding else []
        self.select([*rest, rows[index]])
        self.owner.told(self.describe(rows[index]).replace("\n", "; "))
        return True

    def nudge(self, dx_mm: float, dy_mm: float, *, forced: bool = False) -> bool:
        """Move the selection a little; it stops at its neighbours unless forced."""
        group = self._group()
        if group is None:
            return bool(self.selected)
        keys, home = group
        start = {k: self.bench.placed[k].motion for k in keys}
        mover = self.bench.mover(home, start)
        free = forced or not mover.is_legal(0, 0)
        if free:
            outcome = Outcome(
                dx_mm, dy_mm, mover.is_legal(dx_mm, dy_mm), touches=mover.touches(dx_mm, dy_mm)
            )
        else:
            outcome = mover.move(dx_mm, dy_mm)
            along = outcome.dx_mm * dx_mm + outcome.dy_mm * dy_mm
            length = math.hypot(dx_mm, dy_mm)
            # A nudge goes its own way only; what stops it is told.
            share = max(0.0, min(1.0, along / (length * length)))
            if outcome.held:
                outcome = replace(outcome, dx_mm=dx_mm * share, dy_mm=dy_mm * share)
                if not mover.is_legal(outcome.dx_mm, outcome.dy_mm):
                    outcome = replace(outcome, dx_mm=0.0, dy_mm=0.0)
        if outcome.held or not outcome.legal:
            bad = [self.reason(c) for c in mover.touches(dx_mm, dy_mm) if c.short_mm > 0]
            self.owner.told(
                tr("No further: {why}").format(why=bad[0]) if bad else tr("No further that way."),
                wrong=not outcome.legal,
            )
        if math.hypot(outcome.dx_mm, outcome.dy_mm) <= CONTACT_SKIN_MM:
            return True
        laid = {k: shifted(m, outcome.dx_mm, outcome.dy_mm) for k, m in start.items()}
        self.owner.place(
            self._text(tr("Nudge {what}"), keys),
            [self._placed(k, home, m) for k, m in laid.items()],
            merge=f"nudge {sorted(keys)}",
        )
        return True

    # --- positions and order -------------------------------------------------------------------

    def put_at(self, x_mm: float | None = None, y_mm: float | None = None) -> None:
        """Put the lower left corner of the selection's bounds exactly there."""
        group = self._group()
        if group is None:
            return
        keys, home = group
        start = {k: self.bench.placed[k].motion for k in keys}
        x1, y1, _, _ = bounds_of(self.bench.shape(k) for k in keys)
        dx = 0.0 if x_mm is None else x_mm - x1
        dy = 0.0 if y_mm is None else y_mm - y1
        laid = {k: shifted(m, dx, dy) for k, m in start.items()}
        self.owner.place(
            self._text(tr("Move {what}"), keys), [self._placed(k, home, m) for k, m in laid.items()]
        )

    def strange(self, pieces: Iterable[str], target: SheetKey) -> str:
        """Why pieces (by id) cannot be cut from that sheet at all; "" if they can."""
        material = self.bench.stocks[target[0]].material
        for piece in pieces:
            wanted = self.bench.pieces[piece].material
            if wanted != material:
                return tr("{name} is cut from {wanted}; this sheet is {material}.").format(
                    name=self.bench.pieces[piece].name,
                    wanted=wanted or tr("a board not chosen yet"),
                    material=material,
                )
        return ""

    def sheets_for(self, keys: Iterable[Key]) -> list[SheetKey]:
        """The sheets on the floor that these copies may be cut from."""
        pieces = [piece for piece, _ in keys]
        return [sheet for sheet in self.bench.sheets if not self.strange(pieces, sheet)]

    def put_on(self, sheet: SheetKey) -> None:
        """Carry the selection over to another sheet, to the free place nearest to the same."""
        group = self._group()
        if group is None or group[1] == sheet:
            self.owner.selection_changed()  # the field has to say again where they lie
            return
        keys, _ = group
        laid = {k: self.bench.placed[k].motion for k in keys}
        outcome = self.bench.mover(sheet, laid).settle()
        if not outcome.legal:
            self.owner.told(
                tr("{what}: no free place on that sheet.").format(what=self._text("{what}", keys)),
                wrong=True,
            )
            self.owner.selection_changed()
            return
        self.owner.place(
            self._text(tr("Move {what}"), keys),
            [
                self._placed(k, sheet, shifted(m, outcome.dx_mm, outcome.dy_mm))
                for k, m in laid.items()
            ],
        )

    def set_turn(self, turn_deg: float) -> None:
        """Turn the selection to exactly this angle, about its middle."""
        group = self._group()
        if group is None:
            return
        keys, home = group
        by = turn_deg - self.bench.placed[keys[0]].motion.turn_deg
        start = {k: self.bench.placed[k].motion for k in keys}
        self._put_turned(keys, home, by, self._middle(start))

    def align(self, side: str) -> None:
        """Bring the selection up against one side: "left", "right", "top" or "bottom".

        Each piece goes towards the foremost one and stops at whatever lies between.
        """
        group = self._group()
        if group is None or len(group[0]) < 2:
            return
        keys, home = group
        low = side in ("left", "bottom")
        axis = 0 if side in ("left", "right") else 1
        index = axis if low else axis + 2
        edges = {k: self.bench.shape(k).bounds[index] for k in keys}
        goal = min(edges.values()) if low else max(edges.values())
        bench = self.bench
        laid: dict[Key, Motion] = {}
        held = ""
        for key in sorted(keys, key=lambda k: edges[k], reverse=not low):
            motion = bench.placed[key].motion
            step = goal - edges[key]
            mover = bench.mover(home, {key: motion})
            dx, dy = (step, 0.0) if axis == 0 else (0.0, step)
            if abs(step) > 1e-9 and mover.is_legal(0, 0):
                share = mover.reach(dx, dy)
                bad = [c for c in mover.touches(dx, dy) if c.short_mm > 0] if share < 1 else []
                if bad and not held:
                    held = f"{bench.name(key)}: {self.reason(bad[0])}"
                dx, dy = dx * share, dy * share
            laid[key] = shifted(motion, dx, dy)
            moved = {**bench.placed, key: replace(bench.placed[key], motion=laid[key])}
            bench = replace(bench, placed=moved)
        self.owner.place(
            self._text(tr("Align {what}"), keys),
            [self._placed(k, home, m) for k, m in laid.items()],
        )
        if held:
            self.owner.told(tr("No further: {why}").format(why=held))

    def distribute(self, axis: int) -> None:
        """Even gaps between the selected pieces along x (0) or y (1)."""
        group = self._group()
        if group is None or len(group[0]) < 3:
            return
        keys, home = group
        boxes = {k: self.bench.shape(k).bounds for k in keys}
        order = sorted(keys, key=lambda k: boxes[k][axis])
        span = max(b[axis + 2] for b in boxes.values()) - boxes[order[0]][axis]
        room = span - sum(b[axis + 2] - b[axis] for b in boxes.values())
        gap = room / (len(keys) - 1)
        at = boxes[order[0]][axis]
        laid: dict[Key, Motion] = {}
        for key in order:
            step = at - boxes[key][axis]
            motion = self.bench.placed[key].motion
            laid[key] = shifted(motion, *((step, 0.0) if axis == 0 else (0.0, step)))
            at += boxes[key][axis + 2] - boxes[key][axis] + gap
        self.owner.place(
            self._text(tr("Distribute {what}"), keys),
            [self._placed(k, home, m) for k, m in laid.items()],
        )

    def lock(self, locked: bool | None = None) -> None:
        """Lock or unlock the selection; None: the other way round."""
        if not self.selected:
            return
        rows = [self.bench.placed[k] for k in self.selected]
        wish = not all(p.locked for p in rows) if locked is None else locked
        text = tr("Lock {what}") if wish else tr("Unlock {what}")
        self.owner.place(self._text(text, self.selected), [replace(p, locked=wish) for p in rows])
        self._place_grip()

    def to_tray(self) -> None:
        """Put the selection back in the tray."""
        group = self._movable(self.selected)
        if self.owner.hands_off():
            self.owner.told(tr("Nesting runs: stop it to move pieces by hand."))
        elif group:
            self.owner.place(self._text(tr("Put {what} back in the tray"), group), (), group)
        elif self.selected:
            self.owner.told(tr("Locked pieces stay: L unlocks them."))

    def settle(self, keys: Iterable[Key]) -> None:
        """Move copies from where they must not lie to the nearest place where they may."""
        for key in keys:
            placed = self.bench.placed.get(key)
            if placed is None:
                continue
            home = self.sheet_of(key)
            outcome = self.bench.mover(home, {key: placed.motion}).settle()
            if outcome.legal:
                motion = shifted(placed.motion, outcome.dx_mm, outcome.dy_mm)
                self.owner.place(
                    self._text(tr("Move {what} apart"), [key]), [self._placed(key, home, motion)]
                )
            else:
                self.owner.told(
                    tr("{name}: no free place on this sheet.").format(name=self.bench.name(key)),
                    wrong=True,
                )
