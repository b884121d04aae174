"""The hand on the floor: what it has selected, and what it says about it."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from typing import Protocol

from PySide6.QtCore import QRectF

from app.canvas import items
from app.canvas.contact import Contact, Kind, Mover
from app.canvas.lengths import glance_size
from app.canvas.view import Canvas, Handler, Pointer
from app.i18n import tr
from app.preferences import Preferences
from app.stages import sheets_model as model
from app.stages.sheets_floor import Floor
from app.stages.sheets_model import Bench, Key, SheetKey
from app.stages.sheets_motions import bounds_of, middle
from app.stages.sheets_shapes import Bounds, gap_of_bounds
from app.widgets.fields import show_length
from core.geometry import Motion, Point
from core.project.model import Placed


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
class Lift:
    """Pieces in the hand.

    start: where each lay, on ``home`` (None: from the tray). grip: where they were taken hold
    of, in the coordinates of their sheet. now: where they are shown on ``sheet``. box: bounds of
    all of them at the start.
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
    box: Bounds | None = None


@dataclass
class Turn:
    """Pieces being turned about a point of their sheet."""

    start: dict[Key, Motion]
    home: SheetKey
    about: Point
    from_deg: float
    by_deg: float = 0.0
    moved: bool = False


class GripHand(Handler):
    """Selection, its grip, and words for a place; the base of the hand.

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
        self._lift: Lift | None = None
        self._turn: Turn | None = None
        self._hovered: Key | None = None
        self._description: tuple[Bench, Key, str] | None = None
        self._last: Pointer | None = None  # where the hand was last while carrying
        self._grip = items.HandleItem("turn", (0, 0), shape="turn")
        self._grip.setVisible(False)
        canvas.scene.addItem(self._grip)
        canvas.scaled.connect(self._place_grip)

    @property
    def bench(self) -> Bench:
        return self._bench()

    @property
    def busy(self) -> bool:
        """True while something is in the hand."""
        return self._lift is not None or self._turn is not None

    # --- selection -----------------------------------------------------------------------------

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

    # --- words ---------------------------------------------------------------------------------

    def described(self, key: Key) -> str:
        """As :meth:`describe`, worked out once while nothing changes under the pointer."""
        bench, known = self.bench, self._description
        if known is None or known[0] is not bench or known[1] != key:
            known = self._description = (bench, key, self.describe(key))
        return known[2]

    def describe(self, key: Key) -> str:
        """Size, gaps to what is near and what is wrong with a piece's place."""
        bench, unit = self.bench, self.floor.unit
        placed = bench.placed[key]
        shape = bench.shape(key)
        x1, y1, x2, y2 = shape.bounds
        rows = [f"{bench.name(key)}  {glance_size(x2 - x1, y2 - y1, unit)}"]
        sheet = self.sheet_of(key)
        touches = bench.mover(sheet, {key: placed.motion}, stays=True).touches(0, 0)
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
        mine = bench.laid(key).bounds
        others = ((gap_of_bounds(mine, bench.laid(k).bounds), k) for k in bench.on(sheet))
        for least, other in sorted(row for row in others if row[1] != key):
            if near is not None and least >= near[0]:
                break  # nothing that follows is nearer
            gap = float(shape.distance(bench.shape(other)))
            if near is None or gap < near[0]:
                near = (gap, other)
        edge = float(shape.distance(bench.stocks[sheet[0]].polygon.exterior))
        rows = [tr("{gap} to the edge").format(gap=glance(edge, unit))]
        if near is not None:
            rows.insert(
                0,
                tr("{gap} to {name}").format(gap=glance(near[0], unit), name=bench.name(near[1])),
            )
        return "  ·  ".join(rows)

    def reason(self, contact: Contact) -> str:
        """Why a place is not allowed, with the number."""
        bench, unit = self.bench, self.floor.unit
        deep, short = glance(contact.deep_mm, unit), glance(contact.short_mm, unit)
        other = model.key_of(contact)
        if other is not None:
            name = bench.name(other)
            if contact.deep_mm > 0:
                return tr("overlaps {name} by {deep}").format(name=name, deep=deep)
            return tr("{short} too near to {name} ({gap} apart)").format(
                short=short, name=name, gap=glance(contact.gap_mm, unit)
            )
        if contact.kind is Kind.EDGE:
            if contact.deep_mm > 0:
                return tr("{deep} past the edge of the sheet").format(deep=deep)
            return tr("{short} too near to the edge").format(short=short)
        if contact.kind is Kind.DEFECT:
            return tr("{deep} into a spot that must not be used").format(deep=deep)
        return tr("{deep} where no cut may go: a saw cut, its margin, out of reach").format(
            deep=deep
        )

    def _rests(self, touches: Iterable[Contact]) -> str:
        """What a legal place rests against."""
        bench, unit = self.bench, self.floor.unit
        rows = []
        for contact in touches:
            other = model.key_of(contact)
            if other is not None:
                rows.append(
                    tr("{gap} to {name}").format(
                        gap=glance(contact.gap_mm, unit), name=bench.name(other)
                    )
                )
            elif contact.kind is Kind.EDGE:
                rows.append(tr("{gap} to the edge").format(gap=glance(contact.gap_mm, unit)))
            elif contact.kind is Kind.DEFECT:
                rows.append(tr("at a spot not to be used"))
            else:
                rows.append(tr("at the border of what the bit reaches"))
        return "  ·  ".join(dict.fromkeys(rows))

    # --- what others build on ------------------------------------------------------------------

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
        return middle(bounds_of(shapes))


def glance(length_mm: float, unit: str) -> str:
    """A length for a note beside the pointer: as fine as a maker can measure."""
    if unit == "mm":
        return show_length(round(length_mm, 1 if length_mm >= 0.05 else 3), unit)
    return show_length(round(length_mm, 3), unit)
