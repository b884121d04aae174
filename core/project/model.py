"""The document: drawings, panels, the shop and everything the maker decided.

All values are frozen; a change makes a new Project (``dataclasses.replace``), so undo keeps
old projects and nothing else. Derived results (pieces, layouts, findings) are not stored here
except layouts the maker keeps, and those carry a digest of each piece they were made for.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import StrEnum

from core.findings import Finding
from core.geometry import Motion, Point, Region
from core.outlines.model import Face, Feature, LayerRead, Outline, Role
from core.outlines.recognise import FeatureRef
from core.outlines.roles import LayerChoice
from core.project.codec import LEFT_OUT_IF_DEFAULT
from core.project.output import Output
from core.project.refit import RefitDecision, RefitRules, ReliefKind, ReliefSide
from core.shop import JointClass, Shop


class Grain(StrEnum):
    """How the grain lies on a panel: anyhow, along its x axis, or across it."""

    FREE = "free"
    ALONG = "along"
    ACROSS = "across"


class CutBy(StrEnum):
    """The machine that cuts a panel."""

    ROUTER = "router"
    SAW = "saw"


class SplitChoice(StrEnum):
    """What the maker wants for a panel's size."""

    AUTO = "auto"  # split only if it does not fit
    WHOLE = "whole"  # leave whole even if it does not fit
    SPLIT = "split"  # split although it fits
    OMIT = "omit"  # leave out of this plan


class Rank(StrEnum):
    """Which panels go first where board is short, and which only take what is left over."""

    FIRST = "first"
    USUAL = "usual"
    SPARE = "spare"  # push sticks, glue-up corners: only where waste allows


class Together(StrEnum):
    """How the pieces of a split panel lie to each other on the sheets."""

    ANYWHERE = "anywhere"
    SHEET = "sheet"  # on one sheet where that costs nothing
    ORDER = "order"  # side by side in their order and turn, so that the grain runs through


@dataclass(frozen=True, slots=True)
class StyleChoice:
    """A seam style by name with the parameters that differ from its defaults, mm or degrees."""

    name: str = "finger"
    params: tuple[tuple[str, float], ...] = ()

    def get(self, key: str, default: float) -> float:
        """The parameter's value, else default."""
        return next((value for name, value in self.params if name == key), default)


@dataclass(frozen=True, slots=True)
class SeamLine:
    """Where a seam runs: a line of two or more points right across, in the panel's frame, mm.

    shift_mm moves the teeth along the seam, turned_over swaps the sides the teeth point to.
    fit_mm None: the shop's fit for joint_class. corner_mm rounds bends of a bent line. bulges:
    per stretch, 0 or missing for straight, so that a seam can follow a curve (same sense as a
    ring's). relief_side: what a T-bone cuts into, shoulders and tips or flanks.
    """

    points: tuple[Point, ...]
    style: StyleChoice = field(default_factory=StyleChoice)
    shift_mm: float = 0.0
    turned_over: bool = False
    fit_mm: float | None = None
    joint_class: JointClass = JointClass.GLUED
    relief: ReliefKind = ReliefKind.DOG_BONE
    corner_mm: float = 0.0
    bulges: tuple[float, ...] = ()
    relief_side: ReliefSide = field(default=ReliefSide.ENDS, metadata=LEFT_OUT_IF_DEFAULT)


@dataclass(frozen=True, slots=True)
class Mark:
    """A spot the maker put on a panel, polygon points or a line, mm in the panel's frame.

    kind "never": no seam may cross it. kind "support": something below carries the panel there.
    """

    kind: str
    points: tuple[Point, ...]
    note: str = ""


@dataclass(frozen=True, slots=True)
class BoardChoice:
    """The board of one piece of a split panel: of the piece that holds the point, mm."""

    at: Point
    material: str


@dataclass(frozen=True)
class Panel:
    """A part as drawn, with the maker's decisions about it.

    switched_off: what is recognised on it and is to be taken for nothing special. rank: when
    it is laid out; together: how its pieces lie to each other. round_corners: inside corners may
    keep the bit's radius. ends_mm: depth of teeth cut on its two ends, the board clamped
    upright; 0 for none.
    """

    id: str
    name: str
    region: Region
    features: tuple[Feature, ...] = ()
    quantity: int = 1
    material: str = ""
    grain: Grain = Grain.FREE
    show_face: Face = Face.SHOW
    by: CutBy = CutBy.ROUTER
    may_mirror: bool = False
    drawing: str = ""
    layer: str = ""
    split: SplitChoice = SplitChoice.AUTO
    style: StyleChoice = field(default_factory=StyleChoice)
    seams: tuple[SeamLine, ...] | None = None
    marks: tuple[Mark, ...] = ()
    refit: bool | None = None
    refits: tuple[RefitDecision, ...] = ()
    boards: tuple[BoardChoice, ...] = field(default=(), metadata=LEFT_OUT_IF_DEFAULT)
    switched_off: tuple[FeatureRef, ...] = field(default=(), metadata=LEFT_OUT_IF_DEFAULT)
    rank: Rank = field(default=Rank.USUAL, metadata=LEFT_OUT_IF_DEFAULT)
    together: Together = field(default=Together.ANYWHERE, metadata=LEFT_OUT_IF_DEFAULT)
    round_corners: bool = field(default=False, metadata=LEFT_OUT_IF_DEFAULT)
    ends_mm: float = field(default=0.0, metadata=LEFT_OUT_IF_DEFAULT)

    @property
    def size_mm(self) -> tuple[float, float]:
        """Width and height of the drawn outline."""
        return self.region.size_mm


@dataclass(frozen=True, slots=True)
class JoinedFile:
    """Another file of the same drawing: base name, where it is, SHA-256 of the bytes read."""

    file_name: str
    path: str
    sha256: str


@dataclass(frozen=True, slots=True)
class Answer:
    """A question about a drawing that is settled: the finding's code and place, mm."""

    code: str
    at: Point


@dataclass(frozen=True)
class Drawing:
    """A source file as it was read: its geometry is kept in the project.

    file_name: base name; path: where it was read from, relative to the project file where
    possible. sha256 of the bytes read. units the numbers were taken in. origin_mm as
    subtracted on reading. roles: layer → role decided for this drawing; choices: everything
    decided about its layers, in mm; layers: what each was read as. gap_mm: widest gap closed,
    None for the usual. findings: what reading it noticed. open_lines, strays: lines in no
    outline and features on none. answers: questions the maker has answered. joined: files read
    together with it as one drawing. unit_chosen: the maker said which unit it is in.
    """

    id: str
    file_name: str
    path: str
    sha256: str
    units: str
    units_guessed: bool = False
    origin_mm: Point = (0.0, 0.0)
    outlines: tuple[Outline, ...] = ()
    roles: tuple[tuple[str, Role], ...] = ()
    layers: tuple[LayerRead, ...] = field(default=(), metadata=LEFT_OUT_IF_DEFAULT)
    choices: tuple[LayerChoice, ...] = field(default=(), metadata=LEFT_OUT_IF_DEFAULT)
    gap_mm: float | None = field(default=None, metadata=LEFT_OUT_IF_DEFAULT)
    findings: tuple[Finding, ...] = field(default=(), metadata=LEFT_OUT_IF_DEFAULT)
    open_lines: tuple[tuple[Point, ...], ...] = field(default=(), metadata=LEFT_OUT_IF_DEFAULT)
    strays: tuple[Feature, ...] = field(default=(), metadata=LEFT_OUT_IF_DEFAULT)
    answers: tuple[Answer, ...] = field(default=(), metadata=LEFT_OUT_IF_DEFAULT)
    joined: tuple[JoinedFile, ...] = field(default=(), metadata=LEFT_OUT_IF_DEFAULT)
    unit_chosen: bool = field(default=False, metadata=LEFT_OUT_IF_DEFAULT)


@dataclass(frozen=True, slots=True)
class Placed:
    """One copy of a piece on a sheet.

    sheet: id of the stock; sheet_copy counts from 1. digest: of the cut piece it was placed as.
    """

    piece: str
    copy: int
    sheet: str
    sheet_copy: int
    motion: Motion
    locked: bool = False
    digest: str = ""


@dataclass(frozen=True, slots=True)
class SawnSheet:
    """How one sheet of a layout is broken down.

    blanks: (x, y, width, height) of each on the sheet, mm; one as large as the sheet means it
    goes onto the machine whole. cuts: (x1, y1, x2, y2) kerf centre lines where they are fixed
    (parts cut by the saw alone), else None and they follow from the blanks that are used.
    frozen: the blanks have been sawn and stay. through: its blanks are pushed through an
    open-ended bed in several setups. lying: where blanks were moved to on the bed by hand,
    (index of the blank, x, y of its lower left corner from the corner of the travel) each.
    wanted: (piece, copy) of what a frozen sheet was sawn for: it lies there or nowhere.
    """

    sheet: str
    sheet_copy: int
    blanks: tuple[tuple[float, float, float, float], ...] = ()
    cuts: tuple[tuple[float, float, float, float], ...] | None = None
    frozen: bool = False
    through: bool = field(default=False, metadata=LEFT_OUT_IF_DEFAULT)
    lying: tuple[tuple[int, float, float], ...] = field(default=(), metadata=LEFT_OUT_IF_DEFAULT)
    wanted: tuple[tuple[str, int], ...] = field(default=(), metadata=LEFT_OUT_IF_DEFAULT)


@dataclass(frozen=True)
class KeptLayout:
    """A layout the maker keeps, with a name of their own.

    sheets: breakdown of each sheet used; one that is missing is broken down the usual way.
    sheet_bound: no layout of these pieces can use fewer sheets (0 if not known).
    """

    name: str
    placed: tuple[Placed, ...]
    sheets: tuple[SawnSheet, ...] = ()
    steps: int = 0
    seed: int = 0
    sheet_bound: int = 0


@dataclass(frozen=True)
class Project:
    """The whole document."""

    name: str = "Untitled"
    units: str = "mm"
    drawings: tuple[Drawing, ...] = ()
    panels: tuple[Panel, ...] = ()
    shop: Shop = field(default_factory=Shop)
    layouts: tuple[KeptLayout, ...] = ()
    current_layout: str = ""
    refit: bool = False
    seed: int = 0
    breakdown: str = "blanks"
    refit_rules: RefitRules = field(default_factory=RefitRules)
    output: Output = field(default_factory=Output, metadata=LEFT_OUT_IF_DEFAULT)

    layer_memory: tuple[LayerChoice, ...] = field(default=(), metadata=LEFT_OUT_IF_DEFAULT)

    def panel(self, panel_id: str) -> Panel | None:
        """The panel of that id, or None."""
        return next((p for p in self.panels if p.id == panel_id), None)

    def layout(self) -> KeptLayout | None:
        """The layout shown on the Sheets stage, or None if there is none."""
        return next((k for k in self.layouts if k.name == self.current_layout), None)
