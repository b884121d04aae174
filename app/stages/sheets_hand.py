"""The hand on the floor: picking, dragging, turning and nudging pieces."""

from __future__ import annotations

from collections.abc import Iterable

from PySide6.QtCore import QPoint, QRectF, Qt
from PySide6.QtGui import QKeyEvent

from app.canvas.contact import Outcome
from app.canvas.handler import arrow_nudge
from app.canvas.stacking import Z_LIFTED
from app.canvas.view import DRAG_START_PX, Pointer
from app.i18n import tr
from app.stages import sheets_model as model
from app.stages.sheets_grip import Lift, Turn, glance
from app.stages.sheets_model import Key, SheetKey
from app.stages.sheets_motions import angle_of, bounds_of, middle, shifted, turned_about
from app.stages.sheets_place import PlacingHand
from core.geometry import Motion, Point

SNAP_PX = 9.0
LAG_PX = 26.0
FORCE = Qt.KeyboardModifier.AltModifier
# Full stop and comma, and what they give with Shift on keyboards here and there.
_STEPS = {
    Qt.Key.Key_Period: 1,
    Qt.Key.Key_Greater: 1,
    Qt.Key.Key_Colon: 1,
    Qt.Key.Key_Comma: -1,
    Qt.Key.Key_Less: -1,
    Qt.Key.Key_Semicolon: -1,
}


class Hand(PlacingHand):
    """Mouse and keys on the floor, as commands on the layout."""

    # --- mouse ---------------------------------------------------------------------------------

    def press(self, pointer: Pointer) -> bool:
        if pointer.button == Qt.MouseButton.RightButton:
            self._right = (pointer, self.floor.piece_at(pointer.x_mm, pointer.y_mm))
            return True
        if self._on_grip(pointer):
            return self._start_turn(pointer)
        key = self.floor.piece_at(pointer.x_mm, pointer.y_mm)
        if key is None:
            return False
        adding = pointer.has(Qt.KeyboardModifier.ShiftModifier) or pointer.has(
            Qt.KeyboardModifier.ControlModifier
        )
        if adding:
            rest = [k for k in self.selected if k != key]
            self.select(rest if key in self.selected else [*self.selected, key])
        elif key not in self.selected:
            self.select([key])
        self._pressed = (pointer, key)
        return True

    def drag(self, pointer: Pointer) -> None:
        if self._turn is not None:
            self._turn_to(pointer)
            return
        if self._right is not None:
            start, key = self._right
            far = (pointer.px - start.px).manhattanLength() >= DRAG_START_PX
            if key is not None and far:
                if key not in self.selected:
                    self.select([key])
                self._right = None
                self._start_turn(start)
            return
        if self._lift is None and self._pressed is not None:
            start, key = self._pressed
            if (pointer.px - start.px).manhattanLength() < DRAG_START_PX:
                return
            if not self._start_lift(start, key):
                self._pressed = None
                return
        if self._lift is not None:
            self._carry(pointer)

    def release(self, pointer: Pointer) -> None:
        if self._turn is not None:
            self._drop_turn()
        elif self._lift is not None:
            self._drop(pointer)
        elif self._right is not None:
            _, key = self._right
            if key is not None and key not in self.selected:
                self.select([key])
            self._right = None
            self.owner.menu_for(key, pointer)
        elif self._pressed is not None:
            start, key = self._pressed
            plain = start.modifiers == Qt.KeyboardModifier.NoModifier
            if plain and self.selected != [key]:
                self.select([key])
        self._pressed = self._right = None

    def cancel(self) -> bool:
        if not self.busy:
            if self.selected:
                self.select([])
                return True
            return False
        lift = self._lift
        self._lift = self._turn = None
        self._pressed = None
        if lift is not None and lift.home is None:
            self._forget(lift.start)
        self._refresh()
        self.owner.told(tr("Left where it was."))
        return True

    def banded(self, area: QRectF, adding: bool) -> None:
        self.floor.finish()
        found = []
        for key, item in self.floor.pieces.items():
            rect = item.mapRectToScene(item.path().boundingRect())
            if not area.isEmpty() and area.contains(rect):
                found.append(key)
        self.select([*self.selected, *found] if adding else found)

    def hover(self, pointer: Pointer | None) -> str:
        key = None if pointer is None else self.floor.piece_at(pointer.x_mm, pointer.y_mm)
        on_grip = pointer is not None and self._on_grip(pointer)
        self._grip.set_hot(on_grip)
        if key != self._hovered:
            for one in (self._hovered, key):
                item = self.floor.pieces.get(one) if one is not None else None
                if item is not None:
                    item.set_state(hovered=one == key)
            self._hovered = key
        if on_grip:
            return tr("Drag to turn (R turns to the next allowed way)")
        if pointer is not None:
            sheet = self.floor.sheet_at(pointer.x_mm, pointer.y_mm)
            if sheet is not None:
                self.canvas.set_ruler_origin(*self.floor.places[sheet])
        return "" if key is None else self.described(key)

    def double(self, pointer: Pointer) -> bool:
        key = self.floor.piece_at(pointer.x_mm, pointer.y_mm)
        if key is None:
            return False
        self.select([key])
        self.canvas.zoom_to_selection()
        return True

    def menu(self, pointer: Pointer) -> bool:
        self.owner.menu_for(self.selected[-1] if self.selected else None, pointer)
        return True

    def wheel(self, pointer: Pointer, notches: float) -> bool:
        way = 1 if notches > 0 else -1
        fine = pointer.has(Qt.KeyboardModifier.ShiftModifier)
        return self.turn(way, fine=fine)

    # --- lifting and carrying ------------------------------------------------------------------

    def _start_lift(self, pointer: Pointer, key: Key) -> bool:
        self.floor.finish()
        if self.owner.hands_off():
            self.owner.told(tr("Nesting runs: stop it to move pieces by hand."))
            return False
        if key not in self.bench.placed or key not in self.floor.pieces:
            return False  # it went back to the tray between the press and the first move
        if self.bench.placed[key].locked:
            self.owner.told(tr("{name} is locked: L unlocks it.").format(name=self.bench.name(key)))
            return False
        home = self.sheet_of(key)
        group = [k for k in self._movable(self.selected) if self.sheet_of(k) == home]
        if key not in group:  # the selection changed between the press and the first move
            self.select([key])
            group = [key]
        x, y = self.floor.places[home]
        self._lift = Lift(
            {k: self.bench.placed[k].motion for k in group},
            home,
            (pointer.x_mm - x, pointer.y_mm - y),
        )
        self._grip.setVisible(False)
        for one in group:
            self.floor.pieces[one].setZValue(Z_LIFTED)
        return True

    def lift_from_tray(self, key: Key, turn_deg: float = 0.0) -> None:
        """Take a copy out of the tray; ``carry_to`` then moves it."""
        piece = self.bench.pieces[key[0]]
        motion = Motion(0, 0, turn_deg)
        shape = model.laid_polygon(piece, motion)
        grip = middle(shape.bounds)
        self._lift = Lift({key: motion}, None, grip)
        item = self.floor.make_piece(self.bench, key)
        item.set_state(selected=True)
        item.setZValue(Z_LIFTED)
        item.setVisible(False)
        self.floor.pieces[key] = item
        self.canvas.scene.addItem(item)

    def carry_to(self, pointer: Pointer) -> None:
        """Move what was taken out of the tray."""
        if self._lift is not None:
            self._carry(pointer)

    def let_go(self, pointer: Pointer) -> None:
        """Put down what was taken out of the tray."""
        if self._lift is not None:
            self._drop(pointer)

    def _forget(self, keys: Iterable[Key]) -> None:
        for key in keys:
            item = self.floor.pieces.pop(key, None)
            if item is not None:
                self.canvas.scene.removeItem(item)

    def _carry(self, pointer: Pointer) -> None:
        lift = self._lift
        assert lift is not None
        bench = self.bench
        self._last = pointer
        lift.moved = True
        target = self._target(lift, pointer)
        for key in lift.start:
            self.floor.pieces[key].setVisible(True)
        if target is None:
            lift.sheet, lift.legal = None, True
            dx, dy = pointer.x_mm - lift.grip[0], pointer.y_mm - lift.grip[1]
            lift.now = {k: shifted(m, dx, dy) for k, m in lift.start.items()}
            self.floor.lay(lift.now, (0.0, 0.0))
            for key in lift.start:
                self.floor.pieces[key].set_state(wrong=False)
            lift.why = tr("Let go here to put it back in the tray.")
            self._tell(lift.why, pointer, wrong=False)
            self._light(None)
            return
        x, y = self.floor.places[target]
        dx, dy = pointer.x_mm - x - lift.grip[0], pointer.y_mm - y - lift.grip[1]
        mover = lift.movers.get(target)
        if mover is None:
            mover = lift.movers[target] = bench.mover(target, lift.start)
        strange = self._strange(lift, target)
        if strange:
            outcome = Outcome(dx, dy, False)
        elif pointer.has(FORCE):
            legal = mover.is_legal(dx, dy)
            outcome = Outcome(dx, dy, legal, touches=mover.touches(dx, dy))
        else:
            outcome = mover.move(
                dx, dy, snap_mm=self.canvas.mm(SNAP_PX), free_mm=self.canvas.mm(LAG_PX)
            )
        lift.sheet, lift.legal = target, outcome.legal
        lift.now = {k: shifted(m, outcome.dx_mm, outcome.dy_mm) for k, m in lift.start.items()}
        self.floor.lay(lift.now, (x, y))
        for key in lift.start:
            self.floor.pieces[key].set_state(wrong=not outcome.legal)
        if strange:
            lift.why = strange
        elif outcome.legal:
            lift.why = self._rests(outcome.touches)
        else:
            bad = [self.reason(c) for c in outcome.touches if c.short_mm > 0]
            lift.why = "\n".join(bad[:3])
        self._tell(self._place_text(lift) + (f"\n{lift.why}" if lift.why else ""), pointer)
        self._light(target)
        self.canvas.set_ruler_origin(x, y)
        self.canvas.set_ruler_span(self._rect_of(lift, (x, y)))

    def _rect_of(self, lift: Lift, at: Point) -> QRectF:
        """Bounds of what is in the hand where it is now, on a sheet whose corner is at a point."""
        if lift.box is None:
            pieces = self.bench.pieces
            lift.box = bounds_of(model.laid_polygon(pieces[k[0]], m) for k, m in lift.start.items())
        lead, start = next(iter(lift.start.items()))
        now = lift.now[lead]
        x, y = now.x_mm - start.x_mm + at[0], now.y_mm - start.y_mm + at[1]
        x1, y1, x2, y2 = lift.box
        return QRectF(x1 + x, y1 + y, x2 - x1, y2 - y1)

    def _place_text(self, lift: Lift) -> str:
        rect = self._rect_of(lift, (0.0, 0.0))
        unit = self.floor.unit
        return tr("x {x}, y {y}").format(x=glance(rect.left(), unit), y=glance(rect.top(), unit))

    def _target(self, lift: Lift, pointer: Pointer) -> SheetKey | None:
        """The sheet the pieces would come to lie on: the one under the pointer, and the one
        they come from a little beyond its edge too."""
        if self.owner.over_tray(pointer):
            return None
        found = self.floor.sheet_at(pointer.x_mm, pointer.y_mm)
        if found is None:
            near = self.floor.sheet_at(pointer.x_mm, pointer.y_mm, self.canvas.mm(36))
            if near is not None and near in (lift.home, lift.sheet):
                return near
        return found

    def _strange(self, lift: Lift, target: SheetKey) -> str:
        """Why these pieces cannot be cut from that sheet at all; "" if they can."""
        return self.strange((piece for piece, _ in lift.start), target)

    def _light(self, target: SheetKey | None) -> None:
        for key, sheet in self.floor.sheets.items():
            sheet.set_active(key == target)

    def _tell(self, text: str, pointer: Pointer, *, wrong: bool | None = None) -> None:
        self.canvas.show_hover(text, pointer.px)
        bad = (self._lift is not None and not self._lift.legal) if wrong is None else wrong
        self.owner.told(text.replace("\n", "; "), wrong=bad)

    def _drop(self, pointer: Pointer) -> None:
        lift = self._lift
        assert lift is not None
        self._lift = None
        self._pressed = None
        self._light(None)
        self.canvas.show_hover("", pointer.px)
        keys = list(lift.start)
        bench = self.bench
        if not lift.moved or (lift.sheet is not None and self._strange(lift, lift.sheet)):
            if lift.home is None:
                self._forget(keys)
            self._refresh()
            return
        if lift.sheet is None:
            if lift.home is None:
                self._forget(keys)
                self._refresh()
                return
            self.owner.place(self._text(tr("Put {what} back in the tray"), keys), (), keys)
            return
        placed = [self._placed(key, lift.sheet, lift.now[key]) for key in keys]
        if lift.home is None:
            self._forget(keys)
        text = tr("Place {what}") if lift.home is None else tr("Move {what}")
        self.owner.place(self._text(text, keys), placed)
        self.select([key for key in keys if key in bench.copies])
        if not lift.legal:
            self.owner.told(
                tr("{what}: {why}").format(
                    what=self._text("{what}", keys), why=lift.why.replace("\n", "; ")
                ),
                wrong=True,
            )

    # --- turning -------------------------------------------------------------------------------

    def _start_turn(self, pointer: Pointer) -> bool:
        self.floor.finish()
        group = self._group()
        if group is None:
            return False
        keys, home = group
        start = {k: self.bench.placed[k].motion for k in keys}
        about = self._middle(start)
        x, y = self.floor.places[home]
        from_deg = angle_of(pointer.x_mm - x - about[0], pointer.y_mm - y - about[1])
        self._turn = Turn(start, home, about, from_deg)
        self._grip.setVisible(False)
        return True

    def _turn_to(self, pointer: Pointer) -> None:
        turn = self._turn
        assert turn is not None
        turn.moved = True
        x, y = self.floor.places[turn.home]
        angle = angle_of(pointer.x_mm - x - turn.about[0], pointer.y_mm - y - turn.about[1])
        wish = angle - turn.from_deg
        lead, motion = next(iter(turn.start.items()))
        if pointer.has(FORCE):
            turn.by_deg = round(wish * 2) / 2
        else:
            turn.by_deg = self.bench.nearest_turn(lead[0], motion.turn_deg + wish) - motion.turn_deg
        laid = {k: turned_about(m, turn.by_deg, *turn.about) for k, m in turn.start.items()}
        self.floor.lay(laid, (x, y))
        mover = self.bench.mover(turn.home, laid)
        touches = [c for c in mover.touches(0, 0) if c.short_mm > 0]
        ok = all(self.bench.allows_turn(k[0], m.turn_deg) for k, m in laid.items())
        for key in laid:
            self.floor.pieces[key].set_state(wrong=bool(touches) or not ok)
        rows = [tr("{n}°").format(n=f"{laid[lead].turn_deg:g}")]
        if not ok:
            rows.append(tr("against its grain"))
        rows += [self.reason(c) for c in touches[:2]]
        self.canvas.show_hover("\n".join(rows), pointer.px)

    def _drop_turn(self) -> None:
        turn = self._turn
        assert turn is not None
        self._turn = None
        self._pressed = self._right = None
        self.canvas.show_hover("", QPoint())
        if not turn.moved or abs(turn.by_deg % 360) < 1e-9:
            self._refresh()
            return
        self._put_turned(list(turn.start), turn.home, turn.by_deg, turn.about)

    def turn(self, way: int, *, fine: bool = False, forced: bool = False) -> bool:
        """Turn the selection (or what is in the hand) to the next allowed way.

        way: +1 counter-clockwise. fine: by one degree where any angle is allowed. forced: by
        the step set in the preferences, whatever the grain says.
        """
        if self._lift is not None:
            return self._turn_in_hand(way)
        group = self._group()
        if group is None:
            return False
        keys, home = group
        lead = keys[0]
        motion = self.bench.placed[lead].motion
        step = 1.0 if fine else float(self.preferences.get("turn_deg"))
        if forced:
            by = step * way
        else:
            by = self.bench.next_turn(lead[0], motion.turn_deg, way, step) - motion.turn_deg
        if abs(by % 360) < 1e-9:
            self.owner.told(
                tr(
                    "{name} may lie this way only: its grain decides (Alt+R turns it anyway)."
                ).format(name=self.bench.name(lead))
            )
            return True
        start = {k: self.bench.placed[k].motion for k in keys}
        merge = f"turn {sorted(keys)}" if fine else ""
        self._put_turned(keys, home, by, self._middle(start), merge=merge)
        return True

    def _turn_in_hand(self, way: int) -> bool:
        lift = self._lift
        assert lift is not None
        lead, motion = next(iter(lift.start.items()))
        step = float(self.preferences.get("turn_deg"))
        by = self.bench.next_turn(lead[0], motion.turn_deg, way, step) - motion.turn_deg
        lift.start = {k: turned_about(m, by, *lift.grip) for k, m in lift.start.items()}
        lift.movers.clear()
        lift.box = None
        if self._last is not None:
            self._carry(self._last)
        return True

    # --- keys ----------------------------------------------------------------------------------

    def key(self, event: QKeyEvent) -> bool:
        mods = event.modifiers()
        forced = bool(mods & FORCE)
        which = event.key()
        nudge = arrow_nudge(event, float(self.preferences.get("nudge_mm")))
        if nudge is not None:
            return self.nudge(*nudge, forced=forced)
        if which == Qt.Key.Key_R:
            way = -1 if mods & Qt.KeyboardModifier.ShiftModifier else 1
            return self.turn(way, forced=forced)
        if which in _STEPS:
            adding = bool(mods & Qt.KeyboardModifier.ShiftModifier)
            return self.step_selection(_STEPS[Qt.Key(which)], adding=adding)
        if which == Qt.Key.Key_A and mods & Qt.KeyboardModifier.ControlModifier:
            self.select(self.bench.placed)
            return True
        if mods & ~Qt.KeyboardModifier.KeypadModifier or not self.selected:
            return False
        if which == Qt.Key.Key_M:
            return self.mirror()
        if which == Qt.Key.Key_L:
            self.lock()
            return True
        if which in (Qt.Key.Key_Delete, Qt.Key.Key_Backspace):
            self.to_tray()
            return True
        return False
