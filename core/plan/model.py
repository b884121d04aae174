"""The values a plan is made of.

Sheet coordinates have their origin at the sheet's lower left corner; pieces keep their panel's
frame until a placement's :class:`~core.geometry.Motion` lays them down.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property

from shapely.geometry import MultiPolygon, Polygon

from core.findings import Finding, has_stop
from core.geometry import Motion, Point, Region
from core.joints.bits import PieceAccess
from core.outlines.model import Face, Feature
from core.project.model import CutBy, KeptLayout, Project, Rank, Together
from core.shop import Stock


@dataclass(frozen=True)
class PlanPiece:
    """What is cut from a sheet, in its panel's frame.

    outline partitions the panel as drawn; cut is what the bit leaves; features are pockets,
    drill centres and the like that travel with it. turns_deg None: any angle. quantity is per
    panel. letters: letters of its seams, for labels and the seam map. access: which bits it
    needs and what none of them cuts; None for a piece the saw cuts. rank and together: its
    panel's.
    """

    id: str
    panel: str
    name: str
    outline: Region
    cut: Region
    material: str
    thickness_mm: float
    features: tuple[Feature, ...] = ()
    quantity: int = 1
    loose: bool = False
    turns_deg: tuple[float, ...] | None = (0.0,)
    may_mirror: bool = False
    by: CutBy = CutBy.ROUTER
    seams: tuple[str, ...] = ()
    letters: tuple[str, ...] = ()
    show_face: Face = Face.SHOW
    digest: str = ""
    access: PieceAccess | None = None
    rank: Rank = Rank.USUAL
    together: Together = Together.ANYWHERE


@dataclass(frozen=True)
class PlanSeam:
    """A seam between exactly two pieces. profile: the line they share in the drawn panel.

    stretches: the profile of each joint length, several if the seam crosses a hole.
    """

    id: str
    letter: str
    panel: str
    style: str
    style_title: str
    pieces: tuple[str, str]
    line: tuple[Point, ...]
    profile: tuple[Point, ...]
    fit_mm: float
    joint_length_mm: float = 0.0
    notes: tuple[str, ...] = ()
    stretches: tuple[tuple[Point, ...], ...] = ()


@dataclass(frozen=True)
class PlanPanel:
    """A panel as drawn. assembly: sentences or piece ids in the order of glueing up."""

    id: str
    name: str
    outline: Region
    features: tuple[Feature, ...]
    quantity: int
    material: str
    grain: str
    pieces: tuple[str, ...] = ()
    assembly: tuple[str, ...] = ()


@dataclass(frozen=True)
class PlanPlacement:
    """One copy of a piece laid on a sheet. blank: id of the blank it is cut from, or "".

    setup: id of the setup it is cut in, "" for a part the saw cuts.
    """

    piece: str
    copy: int
    motion: Motion
    blank: str = ""
    locked: bool = False
    setup: str = ""


@dataclass(frozen=True, slots=True)
class PlanBlank:
    """A rectangle sawn from a sheet; letter as chalked on it."""

    id: str
    letter: str
    x_mm: float
    y_mm: float
    width_mm: float
    height_mm: float


@dataclass(frozen=True, slots=True)
class PlanSawCut:
    """The centre line of one saw kerf, in the order of cutting. frees: what comes off, if any."""

    order: int
    x1_mm: float
    y1_mm: float
    x2_mm: float
    y2_mm: float
    frees: str = ""


@dataclass(frozen=True, slots=True)
class PlanHold:
    """What holds one freed part. hole: index of the cut-out whose slug it is, None for the piece.

    way: tabs, skin, vacuum, screws or "milled away"; places: of tabs or the screw, sheet
    coordinates.
    """

    piece: str
    copy: int
    hole: int | None
    way: str
    places: tuple[Point, ...] = ()


@dataclass(frozen=True, slots=True)
class PlanSetup:
    """One clamping: the stretch of sheet on the table. Its origin is its lower left corner.

    turned: the board lies on the table a quarter turn counter-clockwise from how it lies in the
    sheet. bed_x_mm, bed_y_mm: where the lower left corner of the board, as it lies on the
    table, is from the corner of the bit's travel. holds: of every part freed here. screws: where
    the waste can be screwed down. pin_mm: diameter of registration holes; bores: their middles
    bored here for the next stretch; pins: those of the stretch before, which pins hold now. All
    places are sheet coordinates.
    """

    id: str
    blank: str
    x_mm: float
    y_mm: float
    width_mm: float
    height_mm: float
    bed_x_mm: float = 0.0
    bed_y_mm: float = 0.0
    turned: bool = False
    notes: tuple[str, ...] = ()
    holds: tuple[PlanHold, ...] = ()
    screws: tuple[Point, ...] = ()
    bores: tuple[Point, ...] = ()
    pins: tuple[Point, ...] = ()
    pin_mm: float = 0.0


@dataclass(frozen=True, slots=True)
class PlanOffcut:
    """What is left: a rectangle or polygon in sheet coordinates, kept or scrap."""

    points: tuple[Point, ...]
    keep: bool

    @property
    def area_mm2(self) -> float:
        return float(Polygon(self.points).area)


@dataclass(frozen=True)
class PlanSheet:
    """One sheet and all that happens to it. id is unique; number counts sheets from 1."""

    id: str
    number: int
    stock: Stock
    placements: tuple[PlanPlacement, ...] = ()
    blanks: tuple[PlanBlank, ...] = ()
    saw_cuts: tuple[PlanSawCut, ...] = ()
    setups: tuple[PlanSetup, ...] = ()
    offcuts: tuple[PlanOffcut, ...] = ()
    piece_area_mm2: float = 0.0
    mass_kg: float = 0.0

    @property
    def area_mm2(self) -> float:
        """Full area of the sheet as bought or found in the rack."""
        return float(self.stock.polygon.area)

    @property
    def yield_share(self) -> float:
        """Cut piece area / full area of the sheet, 0–1."""
        return self.piece_area_mm2 / self.area_mm2


@dataclass(frozen=True, slots=True)
class PlanUnplaced:
    """A copy that found no place, and why. spare: it was wanted only where waste allows."""

    piece: str
    copy: int
    reason: str
    spare: bool = False


@dataclass(frozen=True, slots=True)
class PurchaseLine:
    """What to buy (or take from the rack): sheets of one stock. cost None: price not known."""

    stock: str
    material: str
    width_mm: float
    height_mm: float
    quantity: int
    in_rack: bool
    cost: float | None
    mass_kg: float


@dataclass(frozen=True)
class PlanWay:
    """One way of a board onto the machine, in figures, to be held against the others.

    way: as a project keeps it; title: in words. possible: this machine can go it; why: why not,
    or what to mind. blanks: sawn ones. cost: of what is bought, None if a price is not known.
    layout: what the figures are of, None if the way is not possible.
    """

    material: str
    way: str
    title: str
    possible: bool
    why: str = ""
    pieces: int = 0
    unplaced: int = 0
    sheets: int = 0
    piece_area_mm2: float = 0.0
    sheet_area_mm2: float = 0.0
    saw_cuts: int = 0
    blanks: int = 0
    setups: int = 0
    offcut_area_mm2: float = 0.0
    cost: float | None = None
    layout: KeptLayout | None = None

    @property
    def yield_share(self) -> float:
        """Cut piece area / full area of the sheets, 0–1."""
        return self.piece_area_mm2 / self.sheet_area_mm2 if self.sheet_area_mm2 else 0.0

    @property
    def net_share(self) -> float:
        """Cut piece area / what of the sheets is not kept as an offcut, 0–1."""
        spent = self.sheet_area_mm2 - self.offcut_area_mm2
        return min(1.0, self.piece_area_mm2 / spent) if spent > 0 else 0.0


@dataclass(frozen=True)
class Plan:
    """The whole plan. fraction-of-bound figures and steps say how good the layout is known to be.

    sheet_bound: no layout can use fewer sheets than this (0 if not known). ways: the ways onto
    the machine compared, () if that was not asked for.
    """

    project: Project
    panels: tuple[PlanPanel, ...] = ()
    pieces: tuple[PlanPiece, ...] = ()
    seams: tuple[PlanSeam, ...] = ()
    sheets: tuple[PlanSheet, ...] = ()
    unplaced: tuple[PlanUnplaced, ...] = ()
    findings: tuple[Finding, ...] = ()
    purchase: tuple[PurchaseLine, ...] = ()
    steps: int = 0
    seed: int = 0
    sheet_bound: int = 0
    cautions: tuple[str, ...] = field(default=())
    ways: tuple[PlanWay, ...] = ()

    @cached_property
    def _pieces(self) -> dict[str, PlanPiece]:
        return {piece.id: piece for piece in self.pieces}

    def piece(self, piece_id: str) -> PlanPiece:
        """The piece of that id; KeyError if there is none."""
        return self._pieces[piece_id]

    def panel(self, panel_id: str) -> PlanPanel | None:
        """The panel of that id, or None."""
        return next((p for p in self.panels if p.id == panel_id), None)

    def placed_region(self, placement: PlanPlacement) -> Region:
        """The cut outline where the placement lays it, sheet coordinates, true arcs."""
        return self.piece(placement.piece).cut.moved(placement.motion)

    @property
    def piece_area_mm2(self) -> float:
        return sum(sheet.piece_area_mm2 for sheet in self.sheets)

    @property
    def sheet_area_mm2(self) -> float:
        return sum(sheet.area_mm2 for sheet in self.sheets)

    @property
    def offcut_area_mm2(self) -> float:
        return sum(o.area_mm2 for sheet in self.sheets for o in sheet.offcuts if o.keep)

    @property
    def scrap_area_mm2(self) -> float:
        """What is neither piece nor kept offcut; never below 0, though pieces that lie over each
        other or over an edge (told as stops) count in full."""
        return max(0.0, self.sheet_area_mm2 - self.piece_area_mm2 - self.offcut_area_mm2)

    @property
    def yield_share(self) -> float:
        """Cut piece area / full area of the sheets used, 0–1; 0 when no sheet is used."""
        area = self.sheet_area_mm2
        return self.piece_area_mm2 / area if area else 0.0

    @property
    def cost(self) -> float | None:
        """Cost of what must be bought; None if a price is not known."""
        costs = [line.cost for line in self.purchase if not line.in_rack]
        if any(cost is None for cost in costs):
            return None
        return sum(cost for cost in costs if cost is not None)

    @property
    def is_clean(self) -> bool:
        """True if nothing stops: no stop findings and every copy placed, spares apart."""
        return not self.missing and not has_stop(self.findings)

    @property
    def missing(self) -> tuple[PlanUnplaced, ...]:
        """Copies without a place that are wanted, not only welcome where waste allows."""
        return tuple(lost for lost in self.unplaced if not lost.spare)


def rectangle_points(
    x_mm: float, y_mm: float, width_mm: float, height_mm: float
) -> tuple[Point, ...]:
    """Corner points of an upright rectangle, counter-clockwise from the lower left."""
    return (
        (x_mm, y_mm),
        (x_mm + width_mm, y_mm),
        (x_mm + width_mm, y_mm + height_mm),
        (x_mm, y_mm + height_mm),
    )


def polygon_parts(shape: Polygon | MultiPolygon) -> list[Polygon]:
    """The polygons of a shapely result, empty ones dropped."""
    parts = list(shape.geoms) if hasattr(shape, "geoms") else [shape]
    return [p for p in parts if isinstance(p, Polygon) and not p.is_empty]
