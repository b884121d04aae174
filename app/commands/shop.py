"""Changes of the shop: machine, bits, clamps, materials, stock, limits, rules, fits."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

from app.commands.base import PANELS, SHOP
from core.project.model import Project
from core.shop import Shop


@dataclass(frozen=True)
class SetShop:
    """Put a whole shop in place, as the shop drawer edits it."""

    text: str
    shop: Shop
    kinds: frozenset[str] = frozenset({SHOP})

    def apply(self, project: Project) -> Project:
        """The project with that shop."""
        return replace(project, shop=self.shop)


@dataclass(frozen=True)
class SetShopPart:
    """Set fields of one part of the shop: part is "machine", "rules" or "limits"."""

    text: str
    part: str
    values: tuple[tuple[str, Any], ...]
    kinds: frozenset[str] = frozenset({SHOP})

    def apply(self, project: Project) -> Project:
        """The project with those fields set."""
        part = replace(getattr(project.shop, self.part), **dict(self.values))
        return replace(project, shop=replace(project.shop, **{self.part: part}))


@dataclass(frozen=True)
class SetShopList:
    """Replace one list of the shop: "materials", "stock" or "fits"; () empties it."""

    text: str
    part: str
    items: tuple[Any, ...]
    kinds: frozenset[str] = frozenset({SHOP})

    def apply(self, project: Project) -> Project:
        """The project with that list."""
        values: dict[str, Any] = {self.part: self.items}
        return replace(project, shop=replace(project.shop, **values))


@dataclass(frozen=True)
class RenameMaterial:
    """Give a material another name, everywhere it is used."""

    text: str
    old: str
    new: str
    kinds: frozenset[str] = frozenset({SHOP, PANELS})

    def apply(self, project: Project) -> Project:
        """The project with panels, stock and fits following the name."""
        shop = project.shop

        def named(name: str) -> str:
            return self.new if name == self.old else name

        return replace(
            project,
            shop=replace(
                shop,
                materials=tuple(replace(m, name=named(m.name)) for m in shop.materials),
                stock=tuple(replace(s, material=named(s.material)) for s in shop.stock),
                fits=tuple(
                    replace(f, material=named(f.material)) if f.material else f for f in shop.fits
                ),
            ),
            panels=tuple(
                replace(
                    p,
                    material=named(p.material),
                    boards=tuple(replace(b, material=named(b.material)) for b in p.boards),
                )
                for p in project.panels
            ),
        )
