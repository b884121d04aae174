"""What the maker has: boards, sheets and offcuts, the machine, its bits and clamps, limits."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from enum import StrEnum
from types import MappingProxyType

from shapely.geometry import Polygon, box

from core.geometry import Point

#: Metadata of a field that a project file only holds where it differs from its default.
_SPARSE = MappingProxyType({"left-out-if-default": True})


class BoardState(StrEnum):
    """The state a board was in when it was measured."""

    BOUGHT = "bought"
    PLANED = "planed"
    SANDED = "sanded"
    FINISHED = "finished"


class JointClass(StrEnum):
    """What a joint is for; each class has its own fit."""

    GLUED = "glued"
    KNOCK_DOWN = "knock-down"


@dataclass(frozen=True, slots=True)
class Reading:
    """One caliper reading of a board. sheet: which sheet it was taken on, "" if not noted."""

    thickness_mm: float
    sheet: str = ""
    state: BoardState = BoardState.BOUGHT


@dataclass(frozen=True, slots=True)
class Material:
    """A board as it is bought.

    nominal_mm: the size it is sold under. readings: caliper readings; the largest sets slots.
    raw_mm: bought thickness where it is planed before use, else None. grained: has a grain
    direction that matters (it runs along a sheet's x axis).
    """

    name: str
    nominal_mm: float
    readings: tuple[Reading, ...] = ()
    raw_mm: float | None = None
    density_kg_m3: float = 680.0
    grained: bool = True

    @property
    def measured_mm(self) -> float | None:
        """The largest reading in the most finished state that was measured; None if none was."""
        if not self.readings:
            return None
        order = list(BoardState)
        last = max(order.index(r.state) for r in self.readings)
        return max(r.thickness_mm for r in self.readings if order.index(r.state) == last)

    @property
    def thickness_mm(self) -> float:
        """What joints are made for: measured if known, else nominal."""
        return self.measured_mm if self.measured_mm is not None else self.nominal_mm


@dataclass(frozen=True, slots=True)
class Defect:
    """A spot of a sheet that must not be used: a ring of points in sheet coordinates, mm."""

    points: tuple[Point, ...]
    note: str = ""

    @property
    def polygon(self) -> Polygon:
        return Polygon(self.points)


@dataclass(frozen=True, slots=True)
class Stock:
    """Sheets of one kind, or an offcut in the rack.

    width_mm along x, height_mm along y; points: outline of an offcut that is no rectangle
    (lower left of its bounds at 0, 0), else (). quantity None: as many as needed can be bought.
    cost: of one sheet in the shop's currency, None if not known. in_rack: the maker has it.
    way: how it goes onto the machine, one of ways of core.layout, "" as the project says.
    """

    id: str
    material: str
    width_mm: float
    height_mm: float
    quantity: int | None = None
    cost: float | None = None
    points: tuple[Point, ...] = ()
    defects: tuple[Defect, ...] = ()
    in_rack: bool = False
    way: str = field(default="", metadata=_SPARSE)

    @property
    def polygon(self) -> Polygon:
        """The sheet's outline, mm, defects not subtracted."""
        return Polygon(self.points) if self.points else box(0, 0, self.width_mm, self.height_mm)


@dataclass(frozen=True, slots=True)
class Cutter:
    """A router bit. measured_mm: its real diameter where it was measured on a test cut."""

    diameter_mm: float
    cutting_length_mm: float | None = None
    measured_mm: float | None = None
    name: str = ""

    @property
    def radius_mm(self) -> float:
        return self.diameter_mm / 2


class Hold(StrEnum):
    """What keeps a piece where it is once the bit has freed it."""

    TABS = "tabs"
    SKIN = "skin"
    VACUUM = "vacuum"
    SCREWS = "screws"


class SawKind(StrEnum):
    """The saw that sheets are broken down with: along a mark, or along a fence."""

    RAIL = "rail"
    BENCH = "bench"


class ClampKind(StrEnum):
    """Furniture of the machine bed."""

    BAR = "clamp bar"
    TOE = "toe clamp"
    SCREW = "screw"
    STOP = "edge stop"


@dataclass(frozen=True, slots=True)
class ClampZone:
    """Where the bit must not go: a rectangle in bed coordinates, mm, and how high it stands.

    round: the disc (or ellipse) that fills the rectangle, such as a screw's head.
    """

    x_mm: float
    y_mm: float
    width_mm: float
    height_mm: float
    stands_mm: float = 40.0
    kind: ClampKind = ClampKind.TOE
    name: str = ""
    round: bool = field(default=False, metadata=_SPARSE)

    @property
    def polygon(self) -> Polygon:
        return _area(self.x_mm, self.y_mm, self.width_mm, self.height_mm, self.round)


@dataclass(frozen=True, slots=True)
class VacuumArea:
    """Where the bed holds by suction, bed coordinates, mm. round: the disc in the rectangle."""

    x_mm: float
    y_mm: float
    width_mm: float
    height_mm: float
    round: bool = False
    name: str = ""

    @property
    def polygon(self) -> Polygon:
        return _area(self.x_mm, self.y_mm, self.width_mm, self.height_mm, self.round)


def _area(x_mm: float, y_mm: float, width_mm: float, height_mm: float, disc: bool) -> Polygon:
    """A rectangle of the bed, or a polygon round the disc that fills it, never inside it."""
    if not disc:
        return box(x_mm, y_mm, x_mm + width_mm, y_mm + height_mm)
    steps = 64
    grown = 0.5 / math.cos(math.pi / steps)
    return Polygon(
        [
            (
                x_mm + width_mm * (0.5 + grown * math.cos(2 * math.pi * k / steps)),
                y_mm + height_mm * (0.5 + grown * math.sin(2 * math.pi * k / steps)),
            )
            for k in range(steps)
        ]
    )


@dataclass(frozen=True, slots=True)
class Machine:
    """The router: travel is how far the bit's centre moves, table the largest blank it takes.

    The travel's lower left corner is (0, 0) of the bed; the travel lies in the middle of the
    table. open_ended: a long sheet may be pushed
    through along x. max_blank_kg: the heaviest blank one person may lift onto it, None = any.
    vacuum: where the bed holds by suction. upright_long_mm (over the floor), upright_wide_mm,
    upright_thick_mm: the largest board that can be clamped upright at the bed's end to cut joints
    on its ends, None where that is not known.
    """

    name: str = "Router"
    travel_mm: tuple[float, float] = (900.0, 600.0)
    table_mm: tuple[float, float] = (900.0, 600.0)
    cutters: tuple[Cutter, ...] = (Cutter(6.0),)
    clamps: tuple[ClampZone, ...] = ()
    clamp_safety_mm: float = 5.0
    open_ended: bool = False
    max_blank_kg: float | None = None
    vacuum: tuple[VacuumArea, ...] = field(default=(), metadata=_SPARSE)
    upright_long_mm: float | None = field(default=None, metadata=_SPARSE)
    upright_wide_mm: float | None = field(default=None, metadata=_SPARSE)
    upright_thick_mm: float | None = field(default=None, metadata=_SPARSE)

    @property
    def cutter(self) -> Cutter:
        """The bit that outlines are cut with: the first one listed."""
        return self.cutters[0]


@dataclass(frozen=True, slots=True)
class Limits:
    """Bounds of other machines, doors and people, each None where it does not apply.

    vehicle_mm bounds sheets, door_mm the assembled panel, planer_width_mm and
    planer_min_length_mm blanks that are planed, lift_kg what one person lifts.
    """

    vehicle_mm: tuple[float, float] | None = None
    door_mm: tuple[float, float] | None = None
    planer_width_mm: float | None = None
    planer_min_length_mm: float | None = None
    snipe_mm: float = 0.0
    lift_kg: float | None = None


@dataclass(frozen=True, slots=True)
class FitSetting:
    """Total play for one joint class in one board (material "" = any) and bit (0 = any).

    play_mm: opening minus what enters, over the whole joint; larger is looser, never negative.
    from_test: found on a test piece rather than assumed; along_mm, across_mm: the play that was
    right there along and across the grain, of which play_mm is the larger.
    """

    play_mm: float
    joint_class: JointClass = JointClass.GLUED
    material: str = ""
    cutter_mm: float = 0.0
    from_test: bool = False
    along_mm: float | None = None
    across_mm: float | None = None


@dataclass(frozen=True, slots=True)
class ToothDrawing:
    """A tooth the maker drew, to be used as a seam style.

    points: (x_mm, y_mm, bulge to the next) rows of an open path whose two ends lie on the seam.
    rounded: its corners are rounded to the bit unless a seam says otherwise.
    """

    name: str
    points: tuple[tuple[float, float, float], ...]
    rounded: bool = False


@dataclass(frozen=True, slots=True)
class Rules:
    """Distances and habits of the plan. spacing_mm None: bit diameter + 2 mm (common practice).

    hold: what keeps freed pieces in place; tab_mm, tab_thick_mm: size of a tab; skin_mm: what is
    left under a piece held by its skin; screw_clear_mm: from a screw's middle to any path of the
    bit's edge. pin_mm: registration holes of a sheet pushed through. saw, fence_reach_mm: the saw
    for sheets and how far its fence goes, None for any distance.
    """

    spacing_mm: float | None = None
    edge_margin_mm: float = 10.0
    kerf_mm: float = 3.0
    edge_trim_mm: float = 0.0
    fit_mm: float = 0.15
    blank_oversize_mm: float = 0.0
    hold: Hold = field(default=Hold.TABS, metadata=_SPARSE)
    tab_mm: float = field(default=8.0, metadata=_SPARSE)
    tab_thick_mm: float = field(default=2.0, metadata=_SPARSE)
    skin_mm: float = field(default=0.4, metadata=_SPARSE)
    screw_clear_mm: float = field(default=15.0, metadata=_SPARSE)
    pin_mm: float = field(default=8.0, metadata=_SPARSE)
    saw: SawKind = field(default=SawKind.RAIL, metadata=_SPARSE)
    fence_reach_mm: float | None = field(default=None, metadata=_SPARSE)
    currency: str = field(default="", metadata=_SPARSE)


@dataclass(frozen=True)
class Shop:
    """Everything the maker has and how they work."""

    machine: Machine = field(default_factory=Machine)
    materials: tuple[Material, ...] = ()
    stock: tuple[Stock, ...] = ()
    limits: Limits = field(default_factory=Limits)
    rules: Rules = field(default_factory=Rules)
    fits: tuple[FitSetting, ...] = ()
    teeth: tuple[ToothDrawing, ...] = field(default=(), metadata=_SPARSE)

    def material(self, name: str) -> Material | None:
        """The material of that name, or None."""
        return next((m for m in self.materials if m.name == name), None)

    @property
    def spacing_mm(self) -> float:
        """Distance between cut pieces: as set, else bit diameter + 2 mm."""
        if self.rules.spacing_mm is not None:
            return self.rules.spacing_mm
        return self.machine.cutter.diameter_mm + 2.0

    def fit_mm(self, joint_class: JointClass = JointClass.GLUED, material: str = "") -> float:
        """Total play to use: the most specific setting, else the rules' own fit."""
        cutter_mm = self.machine.cutter.diameter_mm
        best: tuple[int, FitSetting] | None = None
        for setting in self.fits:
            if setting.joint_class is not joint_class:
                continue
            if setting.material not in ("", material) or setting.cutter_mm not in (0.0, cutter_mm):
                continue
            rank = 2 * bool(setting.material) + bool(setting.cutter_mm)
            if best is None or rank > best[0]:
                best = (rank, setting)
        return best[1].play_mm if best else self.rules.fit_mm
