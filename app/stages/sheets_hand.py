"""The hand on the floor: picking, dragging, turning and nudging pieces."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field, replace
from typing import Protocol

from PySide6.QtCore import QPoint, QRectF, Qt
from PySide6.QtGui import QKeyEvent

from app.canvas import items
from app.canvas.contact import Contact, Kind, Mover, Outcome
from app.canvas.lengths import glance_size
from app.canvas.view import DRAG_START_PX, Canvas, Handler, Pointer
from app.i18n import tr
from app.preferences import Preferences
from app.stages import sheets_model as model
from app.stages.sheets_floor import Floor
from app.stages.sheets_model import Bench, Key, SheetKey
from app.widgets.fields import show_length
from core.geometry import Motion, Point
from core.project.model import Placed

SNAP_PX = 9.0
LAG_PX = 26.0
FORCE = Qt.KeyboardModifier.AltModifier
_ARROWS = {
    Qt.Key.Key_Left: (-1, 0),
    Qt.Key.Key_Right: (1, 0),
    Qt.Key.Key_Down: (0, -1),
    Qt.Key.Key_Up: (0, 1),
}


class Owner(Protocol):
    """What the hand needs of its stage."""

    def place(
        self, text: str, placed: Iterable[Placed], removed: Iterable[Key] = (), *, merge: str = ""
    ) -> None:
        """Change the layout as one named step."""

    def selection_changed(self) -> None:
        """Other pieces are selected."""

    def told(self, text: str, *, wrong: bool = False) -> None:
        """A sentence about what the hand is doing."""

    def over_tray(self, pointer: Pointer) -> bool:
        """True if the pointer is over the tray."""

    def hands_off(self) -> bool:
        """True while pieces must not be moved (nesting runs)."""

    def menu_for(self, key: Key | None, pointer: Pointer) -> None:
        """Show the menu of a piece or of the floor."""


@dataclass
class _Lift:
    """Pieces in the hand.

    start: where each lay, on ``home`` (None: from the tray). grip: where they were taken hold
    of, in the coordinates of their sheet. now: where they are shown on ``sheet``.
    """

    start: dict[Key, Motion]
    home: SheetKey | None
    grip: Point
    sheet: SheetKey | None = None
    now: dict[Key, Motion] = field(default_factory=dict)
    legal: bool = True
    why: str = ""
    movers: dict[SheetKey, Mover] = field(default_factory=dict)
    moved: bool = False


@dataclass
class _Turn:
    """Pieces being turned about a point of their sheet."""

    start: dict[Key, Motion]
    home: SheetKey
    about: Point
    from_deg: float
    by_deg: float = 0.0
    moved: bool = False


class Hand(Handler):
    """Mouse and keys on the floor, as commands on the layout.

    What is shown while dragging is the scene's affair alone; the document changes when the
    button goes up.
    """

    def __init__(
        self,
        canvas: Canvas,
        floor: Floor,
        owner: Owner,
        preferences: Preferences,
        bench: Callable[[], Bench],
    ) -> None:
        self.canvas = canvas
        self.floor = floor
        self.owner = owner
        self.preferences = preferences
        self._bench = bench
        self.selected: list[Key] = []
        self._pressed: tuple[Pointer, Key] | None = None
        self._right: tuple[Pointer, Key | None] | None = None
        self._lift: _Lift | None = None
        self._turn: _Turn | None = None
        self._hovered: Key | None = None
        self._last: Pointer | None = None  # where the hand was last while carrying
        self._grip = items.HandleItem("turn", (0, 0), shape="turn")
        self._grip.setVisible(False)
        canvas.scene.addItem(self._grip)
        canvas.scaled.connect(self._place_grip)

    # --- selection ------------------------------------------------------------------------
    @property
    def bench(self) -> Bench:
        return self._bench()

    @property
    def busy(self) -> bool:
        """True while something is in the hand."""
        return self._lift is not None or self._turn is not None

    def select(self, keys: Iterable[Key]) -> None:
        """Select these copies (those that lie on a sheet)."""
        found = [key for key in dict.fromkeys(keys) if key in self.bench.placed]
        if found != self.selected:
            self.selected = found
            self.owner.selection_changed()
        self._place_grip()

    def keep_selection(self) -> None:
        """Drop from the selection what is no longer on a sheet."""
        self.select(self.selected)

    def selection_rect(self) -> QRectF:
        """Bounds of the selection on the floor."""
        rect = QRectF()
        for key in self.selected:
            if key not in self.bench.placed or self.sheet_of(key) not in self.floor.places:
                continue
            x, y = self._home_of(key)
            x1, y1, x2, y2 = self.bench.shape(key).bounds
            rect = rect.united(QRectF(x1 + x, y1 + y, x2 - x1, y2 - y1))
        return rect

    def _home_of(self, key: Key) -> Point:
        placed = self.bench.placed[key]
        return self.floor.places[(placed.sheet, placed.sheet_copy)]

    def sheet_of(self, key: Key) -> SheetKey:
        """The sheet a copy lies on."""
        placed = self.bench.placed[key]
        return placed.sheet, placed.sheet_copy

    def _movable(self, keys: Iterable[Key]) -> list[Key]:
        placed = self.bench.placed
        return [key for key in keys if key in placed and not placed[key].locked]

    def _place_grip(self, _scale: float = 0.0) -> None:
        rect = self.selection_rect()
        show = not rect.isEmpty() and not self.busy and bool(self._movable(self.selected))
        self._grip.setVisible(show)
        if show:
            self._grip.setPos(rect.center().x(), rect.bottom() + self.canvas.mm(20))
        self.canvas.set_ruler_span(rect if not rect.isEmpty() else None)

    def _on_grip(self, pointer: Pointer) -> bool:
        if not self._grip.isVisible():
            return False
        at = self.canvas.to_px(self._grip.pos().x(), self._grip.pos().y())
        return math.hypot(at.x() - pointer.px.x(), at.y() - pointer.px.y()) <= 13

    # --- mouse ----------------------------------------------------------------------------
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
        return "" if key is None else self.describe(key)

    def double(self, pointer: Pointer) -> bool:
        key = self.floor.piece_at(pointer.x_mm, pointer.y_mm)
        if key is None:
            return False
        self.select([key])
        self.canvas.zoom_to_selection()
        return True

    def menu(self, pointer: Pointer) -> bool:
        self.owner.menu_for(None, pointer)
        return True

    def wheel(self, pointer: Pointer, notches: float) -> bool:
        way = 1 if notches > 0 else -1
        fine = pointer.has(Qt.KeyboardModifier.ShiftModifier)
        return self.turn(way, fine=fine)

    # --- words ----------------------------------------------------------------------------
    def describe(self, key: Key) -> str:
        """Size, gaps to what is near and what is wrong with a piece's place."""
        bench, unit = self.bench, self.floor.unit
        placed = bench.placed[key]
        shape = bench.shape(key)
        x1, y1, x2, y2 = shape.bounds
        rows = [f"{bench.name(key)}  {glance_size(x2 - x1, y2 - y1, unit)}"]
        sheet = self.sheet_of(key)
        mover = bench.mover(sheet, {key: placed.motion})
        touches = mover.touches(0, 0)
        wrong = [self.reason(c) for c in touches if c.short_mm > 0]
        if not bench.allows_turn(key[0], placed.motion.turn_deg):
            wrong.append(
                tr("lies at {n}°, against its grain").format(n=f"{placed.motion.turn_deg:g}")
            )
        if placed.motion.mirrored and not bench.pieces[key[0]].may_mirror:
            wrong.append(tr("lies face down, which it must not"))
        rows += wrong or [self._nearest_text(key)]
        if placed.locked:
            rows.append(tr("locked (L unlocks)"))
        return "\n".join(row for row in rows if row)

    def _nearest_text(self, key: Key) -> str:
        """The gap to the nearest neighbour and to the nearest edge."""
        bench, unit = self.bench, self.floor.unit
        shape, sheet = bench.shape(key), self.sheet_of(key)
        near: tuple[float, Key] | None = None
        for other in bench.on(sheet):
            if other != key:
                gap = float(shape.distance(bench.shape(other)))
                if near is None or gap < near[0]:
                    near = (gap, other)
        edge = float(shape.distance(bench.stocks[sheet[0]].polygon.exterior))
        rows = [tr("{gap} to the edge").format(gap=_short(edge, unit))]
        if near is not None:
            rows.insert(
                0,
                tr("{gap} to {name}").format(gap=_short(near[0], unit), name=bench.name(near[1])),
            )
        return "  ·  ".join(rows)

    def reason(self, contact: Contact) -> str:
        """Why a place is not allowed, with the number."""
        bench, unit = self.bench, self.floor.unit
        deep, short = _short(contact.deep_mm, unit), _short(contact.short_mm, unit)
        other = model.key_of(contact)
        if other is not None:
            name = bench.name(other)
            if contact.deep_mm > 0:
                return tr("overlaps {name} by {deep}").format(name=name, deep=deep)
            return tr("{short} too near to {name} ({gap} apart)").format(
                short=short, name=name, gap=_short(contact.gap_mm, unit)
            )
        if contact.kind is Kind.EDGE:
            if contact.deep_mm > 0:
                return tr("{deep} past the edge of the sheet").format(deep=deep)
            return tr("{short} too near to the edge").format(short=short)
        if contact.kind is Kind.DEFECT:
            return tr("{deep} into a spot that must not be used").format(deep=deep)
        return tr("{deep} into a saw cut, a sawn edge's margin or beyond the bit").format(deep=deep)

    def _rests(self, touches: Iterable[Contact]) -> str:
        """What a legal place rests against."""
        bench, unit = self.bench, self.floor.unit
        rows = []
        for contact in touches:
            other = model.key_of(contact)
            if other is not None:
                rows.append(
                    tr("{gap} to {name}").format(
                        gap=_short(contact.gap_mm, unit), name=bench.name(other)
                    )
                )
            elif contact.kind is Kind.EDGE:
                rows.append(tr("{gap} to the edge").format(gap=_short(contact.gap_mm, unit)))
            elif contact.kind is Kind.DEFECT:
                rows.append(tr("at a spot not to be used"))
            else:
                rows.append(tr("at the border of what the bit reaches"))
        return "  ·  ".join(dict.fromkeys(rows))

    # --- lifting and carrying -------------------------------------------------------------
    def _start_lift(self, pointer: Pointer, key: Key) -> bool:
        if self.owner.hands_off():
            self.owner.told(tr("Nesting runs: stop it to move pieces by hand."))
            return False
        if self.bench.placed[key].locked:
            self.owner.told(tr("{name} is locked: L unlocks it.").format(name=self.bench.name(key)))
            return False
        home = self.sheet_of(key)
        group = [k for k in self._movable(self.selected) if self.sheet_of(k) == home]
        x, y = self.floor.places[home]
        self._lift = _Lift(
            {k: self.bench.placed[k].motion for k in group},
            home,
            (pointer.x_mm - x, pointer.y_mm - y),
        )
        self._grip.setVisible(False)
        for one in group:
            self.floor.pieces[one].setZValue(items.Z_LIFTED)
        return True

    def lift_from_tray(self, key: Key, turn_deg: float = 0.0) -> None:
        """Take a copy out of the tray; ``carry_to`` then moves it."""
        piece = self.bench.pieces[key[0]]
        motion = Motion(0, 0, turn_deg)
        shape = model.laid_polygon(piece, motion)
        grip = model.middle(shape.bounds)
        self._lift = _Lift({key: motion}, None, grip)
        item = self.floor.make_piece(self.bench, key)
        item.set_state(selected=True)
        item.setZValue(items.Z_LIFTED)
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
            lift.now = {k: model.shifted(m, dx, dy) for k, m in lift.start.items()}
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
        lift.now = {
            k: model.shifted(m, outcome.dx_mm, outcome.dy_mm) for k, m in lift.start.items()
        }
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
        rect = self._rect_of(lift.now, (x, y))
        self.canvas.set_ruler_span(rect)

    def _rect_of(self, laid: dict[Key, Motion], at: Point) -> QRectF:
        shapes = [model.laid_polygon(self.bench.pieces[k[0]], m) for k, m in laid.items()]
        x1, y1, x2, y2 = model.bounds_of(shapes)
        return QRectF(x1 + at[0], y1 + at[1], x2 - x1, y2 - y1)

    def _place_text(self, lift: _Lift) -> str:
        rect = self._rect_of(lift.now, (0.0, 0.0))
        unit = self.floor.unit
        return tr("x {x}, y {y}").format(x=_short(rect.left(), unit), y=_short(rect.top(), unit))

    def _target(self, lift: _Lift, pointer: Pointer) -> SheetKey | None:
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

    def _strange(self, lift: _Lift, target: SheetKey) -> str:
        """Why these pieces cannot be cut from that sheet at all; "" if they can."""
        material = self.bench.stocks[target[0]].material
        for piece, _ in lift.start:
            wanted = self.bench.pieces[piece].material
            if wanted != material:
                return tr("{name} is cut from {wanted}; this sheet is {material}.").format(
                    name=self.bench.pieces[piece].name,
                    wanted=wanted or tr("a board not chosen yet"),
                    material=material,
                )
        return ""

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

    def _placed(self, key: Key, sheet: SheetKey, motion: Motion) -> Placed:
        before = self.bench.placed.get(key)
        piece = self.bench.pieces[key[0]]
        locked = before.locked if before is not None else False
        return Placed(key[0], key[1], sheet[0], sheet[1], motion, locked, piece.digest)

    def _text(self, pattern: str, keys: list[Key]) -> str:
        if len(keys) == 1:
            return pattern.format(what=self.bench.name(keys[0]))
        return pattern.format(what=tr("{n} pieces").format(n=len(keys)))

    def _refresh(self) -> None:
        """Show again what the document says."""
        self.floor.show(self.bench, self.floor.unit)
        self.owner.selection_changed()
        self._place_grip()

    # --- turning --------------------------------------------------------------------------
    def _group(self) -> tuple[list[Key], SheetKey] | None:
        """The selected pieces of one sheet that may be moved."""
        if self.owner.hands_off():
            self.owner.told(tr("Nesting runs: stop it to move pieces by hand."))
            return None
        keys = self._movable(self.selected)
        if not keys:
            if self.selected:
                self.owner.told(tr("Locked pieces stay: L unlocks them."))
            return None
        home = self.sheet_of(keys[0])
        return [k for k in keys if self.sheet_of(k) == home], home

    def _middle(self, laid: dict[Key, Motion]) -> Point:
        shapes = [model.laid_polygon(self.bench.pieces[k[0]], m) for k, m in laid.items()]
        return model.middle(model.bounds_of(shapes))

    def _start_turn(self, pointer: Pointer) -> bool:
        group = self._group()
        if group is None:
            return False
        keys, home = group
        start = {k: self.bench.placed[k].motion for k in keys}
        about = self._middle(start)
        x, y = self.floor.places[home]
        from_deg = model.angle_of(pointer.x_mm - x - about[0], pointer.y_mm - y - about[1])
        self._turn = _Turn(start, home, about, from_deg)
        self._grip.setVisible(False)
        return True

    def _turn_to(self, pointer: Pointer) -> None:
        turn = self._turn
        assert turn is not None
        turn.moved = True
        x, y = self.floor.places[turn.home]
        angle = model.angle_of(pointer.x_mm - x - turn.about[0], pointer.y_mm - y - turn.about[1])
        wish = angle - turn.from_deg
        lead, motion = next(iter(turn.start.items()))
        if pointer.has(FORCE):
            turn.by_deg = round(wish * 2) / 2
        else:
            turn.by_deg = self.bench.nearest_turn(lead[0], motion.turn_deg + wish) - motion.turn_deg
        laid = {k: model.turned_about(m, turn.by_deg, *turn.about) for k, m in turn.start.items()}
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

    def _put_turned(
        self, keys: list[Key], home: SheetKey, by_deg: float, about: Point, *, merge: str = ""
    ) -> None:
        """Turn, then settle at the nearest place that keeps the distances."""
        laid = {k: model.turned_about(self.bench.placed[k].motion, by_deg, *about) for k in keys}
        self._put(tr("Turn {what}"), laid, home, merge=merge)

    def _put(
        self, pattern: str, laid: dict[Key, Motion], home: SheetKey, *, merge: str = ""
    ) -> None:
        mover = self.bench.mover(home, laid)
        outcome = mover.settle(farthest_mm=200.0)
        if outcome.legal:
            laid = {k: model.shifted(m, outcome.dx_mm, outcome.dy_mm) for k, m in laid.items()}
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
        lift.start = {k: model.turned_about(m, by, *lift.grip) for k, m in lift.start.items()}
        lift.movers.clear()
        if self._last is not None:
            self._carry(self._last)
        return True

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
        laid = {k: model.mirrored_about(m, x) for k, m in start.items()}
        self._put(tr("Turn {what} over"), laid, home)
        return True

    # --- keys -----------------------------------------------------------------------------
    def key(self, event: QKeyEvent) -> bool:
        mods = event.modifiers()
        forced = bool(mods & FORCE)
        which = event.key()
        if which in _ARROWS:
            step = float(self.preferences.get("nudge_mm"))
            if mods & Qt.KeyboardModifier.ShiftModifier:
                step *= 10
            elif mods & Qt.KeyboardModifier.ControlModifier:
                step /= 10
            dx, dy = _ARROWS[Qt.Key(which)]
            return self.nudge(dx * step, dy * step, forced=forced)
        if which == Qt.Key.Key_R:
            way = -1 if mods & Qt.KeyboardModifier.ShiftModifier else 1
            return self.turn(way, forced=forced)
        if which in (Qt.Key.Key_Period, Qt.Key.Key_Comma):
            return self.step_selection(1 if which == Qt.Key.Key_Period else -1)
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

    def step_selection(self, way: int) -> bool:
        """Select the next or the one before, sheet by sheet."""
        rows = [key for sheet in self.bench.sheets for key in sorted(self.bench.on(sheet))]
        if not rows:
            return False
        if self.selected and self.selected[-1] in rows:
            index = (rows.index(self.selected[-1]) + way) % len(rows)
        else:
            index = 0 if way > 0 else -1
        self.select([rows[index]])
        self.owner.told(self.describe(self.selected[0]).replace("\n", "; "))
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
        if math.hypot(outcome.dx_mm, outcome.dy_mm) < 1e-9:
            return True
        laid = {k: model.shifted(m, outcome.dx_mm, outcome.dy_mm) for k, m in start.items()}
        self.owner.place(
            self._text(tr("Nudge {what}"), keys),
            [self._placed(k, home, m) for k, m in laid.items()],
            merge=f"nudge {sorted(keys)}",
        )
        return True

    # --- positions and order --------------------------------------------------------------
    def put_at(self, x_mm: float | None = None, y_mm: float | None = None) -> None:
        """Put the lower left corner of the selection's bounds exactly there."""
        group = self._group()
        if group is None:
            return
        keys, home = group
        start = {k: self.bench.placed[k].motion for k in keys}
        x1, y1, _, _ = model.bounds_of(self.bench.shape(k) for k in keys)
        dx = 0.0 if x_mm is None else x_mm - x1
        dy = 0.0 if y_mm is None else y_mm - y1
        laid = {k: model.shifted(m, dx, dy) for k, m in start.items()}
        self.owner.place(
            self._text(tr("Move {what}"), keys), [self._placed(k, home, m) for k, m in laid.items()]
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
        for key in sorted(keys, key=lambda k: edges[k], reverse=not low):
            motion = bench.placed[key].motion
            step = goal - edges[key]
            mover = bench.mover(home, {key: motion})
            dx, dy = (step, 0.0) if axis == 0 else (0.0, step)
            if abs(step) > 1e-9 and mover.is_legal(0, 0):
                share = mover.reach(dx, dy)
                dx, dy = dx * share, dy * share
            laid[key] = model.shifted(motion, dx, dy)
            moved = {**bench.placed, key: replace(bench.placed[key], motion=laid[key])}
            bench = replace(bench, placed=moved)
        self.owner.place(
            self._text(tr("Align {what}"), keys),
            [self._placed(k, home, m) for k, m in laid.items()],
        )

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
            laid[key] = model.shifted(motion, *((step, 0.0) if axis == 0 else (0.0, step)))
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
                motion = model.shifted(placed.motion, outcome.dx_mm, outcome.dy_mm)
                self.owner.place(
                    self._text(tr("Move {what} apart"), [key]), [self._placed(key, home, motion)]
                )
            else:
                self.owner.told(
                    tr("{name}: no free place on this sheet.").format(name=self.bench.name(key)),
                    wrong=True,
                )


def _short(length_mm: float, unit: str) -> str:
    """A length for a note beside the pointer: as fine as a maker can measure."""
    if unit == "mm":
        return show_length(round(length_mm, 1 if length_mm >= 0.05 else 3), unit)
    return show_length(round(length_mm, 3), unit)
