"""Changes of layouts: placing, locking, keeping and choosing them."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace

from app.commands.base import LAYOUT, PROJECT, SHOP
from app.i18n import tr
from core.errors import InvalidProjectError
from core.project.model import KeptLayout, Placed, Project, SawnSheet

DEFAULT_NAME = "Layout 1"


@dataclass(frozen=True)
class SetLayout:
    """Keep a layout under its name (replacing one of that name) and show it."""

    text: str
    layout: KeptLayout
    kinds: frozenset[str] = frozenset({LAYOUT})

    def apply(self, project: Project) -> Project:
        """The project with the layout kept and shown."""
        layout = self.layout
        if any(kept.name == layout.name for kept in project.layouts):
            layouts = tuple(layout if k.name == layout.name else k for k in project.layouts)
        else:
            layouts = (*project.layouts, layout)
        return replace(project, layouts=layouts, current_layout=layout.name)


@dataclass(frozen=True)
class ShowLayout:
    """Show another kept layout."""

    text: str
    name: str
    kinds: frozenset[str] = frozenset({LAYOUT})

    def apply(self, project: Project) -> Project:
        """The project showing the layout of that name."""
        return replace(project, current_layout=self.name)


@dataclass(frozen=True)
class RenameLayout:
    """Give a kept layout another name."""

    text: str
    name: str
    new_name: str
    kinds: frozenset[str] = frozenset({LAYOUT})

    def apply(self, project: Project) -> Project:
        """The project with the layout under its new name; InvalidProjectError if it is taken."""
        if not self.new_name:
            raise InvalidProjectError(tr("A layout needs a name"), self.name, tr("Give it one."))
        if any(kept.name == self.new_name for kept in project.layouts):
            raise InvalidProjectError(
                tr("There is a layout called “{name}” already").format(name=self.new_name),
                self.name,
                tr("Choose another name."),
            )
        layouts = tuple(
            replace(k, name=self.new_name) if k.name == self.name else k for k in project.layouts
        )
        current = self.new_name if project.current_layout == self.name else project.current_layout
        return replace(project, layouts=layouts, current_layout=current)


@dataclass(frozen=True)
class RemoveLayout:
    """Forget a kept layout; the one before it is shown if it was the one shown."""

    text: str
    name: str
    kinds: frozenset[str] = frozenset({LAYOUT})

    def apply(self, project: Project) -> Project:
        """The project without that layout."""
        layouts = tuple(k for k in project.layouts if k.name != self.name)
        current = project.current_layout
        if current == self.name:
            current = layouts[-1].name if layouts else ""
        return replace(project, layouts=layouts, current_layout=current)


@dataclass(frozen=True)
class SetPlaced:
    """Place, move, turn or lock copies on the layout shown; a layout is begun if none is.

    placed: copies as they lie now, matched by piece and copy. removed: (piece, copy) that go
    back to the tray.
    """

    text: str
    placed: tuple[Placed, ...] = ()
    removed: tuple[tuple[str, int], ...] = ()
    kinds: frozenset[str] = frozenset({LAYOUT})

    def apply(self, project: Project) -> Project:
        """The project with the copies where they were put."""
        layout = project.layout() or KeptLayout(DEFAULT_NAME, ())
        layout = replace(layout, placed=merged(layout.placed, self.placed, self.removed))
        return SetLayout(self.text, layout).apply(project)


@dataclass(frozen=True)
class SetWay:
    """How sheets get onto the machine, for all boards or (material) for one.

    layout: what is laid out that way already; its sheets take the place of those of the board.
    """

    text: str
    way: str
    material: str = ""
    layout: KeptLayout | None = None
    kinds: frozenset[str] = frozenset({PROJECT, SHOP, LAYOUT})

    def apply(self, project: Project) -> Project:
        """The project going that way."""
        shop = project.shop
        if not self.material:
            stock = tuple(replace(s, way="") for s in shop.stock)
            return replace(project, breakdown=self.way, shop=replace(shop, stock=stock))
        stock = tuple(
            replace(s, way=self.way) if s.material == self.material else s for s in shop.stock
        )
        project = replace(project, shop=replace(shop, stock=stock))
        if self.layout is None:
            return project
        theirs = {s.id for s in stock if s.material == self.material}
        before = project.layout() or KeptLayout(DEFAULT_NAME, ())
        layout = replace(
            before,
            placed=(*(p for p in before.placed if p.sheet not in theirs), *self.layout.placed),
            sheets=(*(s for s in before.sheets if s.sheet not in theirs), *self.layout.sheets),
        )
        return SetLayout(self.text, layout).apply(project)


@dataclass(frozen=True)
class SetSawn:
    """Say how one sheet of the layout shown is broken down: frozen, moved on the bed."""

    text: str
    sheet: SawnSheet
    kinds: frozenset[str] = frozenset({LAYOUT})

    def apply(self, project: Project) -> Project:
        """The project with that sheet so."""
        layout = project.layout() or KeptLayout(DEFAULT_NAME, ())
        at = (self.sheet.sheet, self.sheet.sheet_copy)
        rows = [s for s in layout.sheets if (s.sheet, s.sheet_copy) != at]
        return SetLayout(self.text, replace(layout, sheets=(*rows, self.sheet))).apply(project)


def merged(
    before: Iterable[Placed], placed: Iterable[Placed], removed: Iterable[tuple[str, int]]
) -> tuple[Placed, ...]:
    """before with copies replaced or added by placed, and removed taken out; order kept."""
    new = {(p.piece, p.copy): p for p in placed}
    gone = set(removed)
    rows = []
    for old in before:
        key = (old.piece, old.copy)
        if key in gone:
            continue
        rows.append(new.pop(key, old))
    rows.extend(p for key, p in new.items() if key not in gone)
    return tuple(rows)
