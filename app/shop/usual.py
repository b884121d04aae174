"""Boards that many shops cut, to begin with: a board and the sheet it is sold as.

Sizes are trade sizes (1250 × 2500, 1525 × 1525, 4 × 8 ft, MDF 49 × 97 in and 2070 × 2800 mm);
densities are usual figures from memory and only serve the masses shown. None carries a caliper
reading: how thick a board really is has to be measured.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from app.commands.base import SHOP
from app.i18n import tr
from app.widgets.fields import show_size
from core.project.ids import free_ids
from core.project.model import Project
from core.shop import FitSetting, JointClass, Material, Shop, Stock


@dataclass(frozen=True, slots=True)
class UsualBoard:
    """A board with the size of its sheet, mm; the grain runs along the width."""

    name: str
    nominal_mm: float
    density_kg_m3: float
    grained: bool
    width_mm: float
    height_mm: float
    unit: str = "mm"

    @property
    def described(self) -> str:
        """Name and sheet, as it is picked from a list."""
        return f"{self.name} · {show_size(self.width_mm, self.height_mm, self.unit)}"


def usual_boards() -> tuple[UsualBoard, ...]:
    """The list, in the language of the window."""
    return (
        UsualBoard(tr("Birch plywood 12 mm"), 12.0, 680.0, True, 2500.0, 1250.0),
        UsualBoard(tr("Birch plywood 18 mm"), 18.0, 680.0, True, 2500.0, 1250.0),
        UsualBoard(tr("Birch plywood 18 mm, square sheet"), 18.0, 680.0, True, 1525.0, 1525.0),
        UsualBoard(tr("Plywood 23/32 in"), 18.25625, 550.0, True, 2438.4, 1219.2, "in"),
        UsualBoard(tr("MDF 18 mm"), 18.0, 750.0, False, 2800.0, 2070.0),
        UsualBoard(tr("MDF 3/4 in"), 19.05, 750.0, False, 2463.8, 1244.6, "in"),
    )


@dataclass(frozen=True)
class AddUsualBoard:
    """Add a board and its sheet in one step; panels without a board get it if it is the first."""

    board: UsualBoard
    kinds: frozenset[str] = frozenset({SHOP, "panels"})

    @property
    def text(self) -> str:
        """What undo shows."""
        return tr("Add {board}").format(board=self.board.name)

    def apply(self, project: Project) -> Project:
        """The project with the board; one of that name gets but another sheet size."""
        board, shop = self.board, project.shop
        materials = shop.materials
        if shop.material(board.name) is None:
            materials = (
                *materials,
                Material(
                    board.name,
                    board.nominal_mm,
                    density_kg_m3=board.density_kg_m3,
                    grained=board.grained,
                ),
            )
        free = next(free_ids("s", (stock.id for stock in shop.stock)))
        sheet = Stock(free, board.name, board.width_mm, board.height_mm)
        panels = project.panels
        if not shop.materials:
            panels = tuple(p if p.material else replace(p, material=board.name) for p in panels)
        new_shop = replace(
            shop,
            materials=materials,
            stock=(*shop.stock, sheet),
            fits=(*shop.fits, *_usual_fits(shop, board)),
        )
        return replace(project, shop=new_shop, panels=panels)


def _usual_fits(shop: Shop, board: UsualBoard) -> tuple[FitSetting, ...]:
    """Fits to begin with, until a test piece has shown better ones; none that are there already.

    Total play of 0.05 to 0.25 mm for joints cut on a router, plywood about 0.1 to 0.2, MDF less:
    common practice, no source. Joints to be taken apart get a little more.
    """
    glued = 0.15 if board.grained else 0.10
    plays = ((JointClass.GLUED, glued), (JointClass.KNOCK_DOWN, glued + 0.10))
    known = {(f.joint_class, f.material) for f in shop.fits}
    return tuple(
        FitSetting(round(play, 3), joint_class, board.name)
        for joint_class, play in plays
        if (joint_class, board.name) not in known
    )
