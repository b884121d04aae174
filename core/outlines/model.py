"""What a drawing holds once it has been read: outlines with features, in mm."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from shapely.geometry import Polygon

from core.findings import Finding
from core.geometry import Point, Region, Ring


class Role(StrEnum):
    """What the shapes on a layer mean to the router."""

    CUT = "cut"
    POCKET = "pocket"
    DADO = "dado"
    REBATE = "rebate"
    DRILL = "drill"
    ENGRAVE = "engrave"
    SHEET = "sheet"
    IGNORE = "ignore"


class Face(StrEnum):
    """Which side of the board something is cut from. SHOW is the face that is seen."""

    SHOW = "show"
    BACK = "back"


@dataclass(frozen=True)
class Feature:
    """Something cut into a panel to a depth, or a drill centre.

    kind: a Role other than CUT, SHEET and IGNORE. ring: its outline (pockets, dados, rebates,
    closed engraving) or None. path: an open line for engraving. at: the centre of a drilled
    hole, with diameter_mm. depth_mm None means right through. islands: board left standing
    inside a pocket. clearance_mm: how much of the depth is only room to spare (half-laps).
    Coordinates in the panel's frame.
    """

    kind: Role
    ring: Ring | None = None
    path: tuple[Point, ...] = ()
    at: Point | None = None
    diameter_mm: float | None = None
    depth_mm: float | None = None
    face: Face = Face.SHOW
    layer: str = ""
    islands: tuple[Ring, ...] = ()
    clearance_mm: float = 0.0


@dataclass(frozen=True)
class Outline:
    """One closed outline with its holes and features, in the drawing's frame, mm."""

    region: Region
    layer: str = ""
    name: str = ""
    features: tuple[Feature, ...] = ()

    @property
    def polygon(self) -> Polygon:
        """The outline flattened, holes included."""
        return self.region.polygon

    @property
    def rings(self) -> tuple[Ring, ...]:
        """Outer ring first, then holes; vertices carry bulges."""
        return self.region.rings


@dataclass(frozen=True, slots=True)
class LayerRead:
    """What a layer's shapes were read as. depth_mm None: right through, or not said."""

    layer: str
    role: Role
    depth_mm: float | None = None
    face: Face = Face.SHOW
    diameter_mm: float | None = None


@dataclass(frozen=True)
class ImportResult:
    """What reading one file gave.

    units: "mm" or "in" …, the unit the numbers in the file were taken in. units_guessed: no
    header said so (or it was not believable) and a finding tells why. origin_mm: whole mm
    subtracted from every coordinate because the drawing lies very far out, else (0, 0).
    scale_mm: mm per drawing unit. layers: every layer with shapes on it and the role it was
    read in; layers_read: the same with depth, face and diameter. sheets: closed outlines on
    layers of the sheet role, which are no panels.
    open_lines: what belongs to no outline, as points. strays: features that lie on no outline.
    """

    outlines: tuple[Outline, ...]
    findings: tuple[Finding, ...]
    units: str
    units_guessed: bool = False
    origin_mm: Point = (0.0, 0.0)
    scale_mm: float = 1.0
    layers: tuple[tuple[str, Role], ...] = ()
    sheets: tuple[Ring, ...] = ()
    open_lines: tuple[tuple[Point, ...], ...] = ()
    strays: tuple[Feature, ...] = ()
    layers_read: tuple[LayerRead, ...] = ()
