"""Drawings for the router and the saw: a sheet, or one clamping from its origin, by layer.

Layers are named by purpose, not by panel, and the names can be changed to suit any toolpath
program. Outlines stay as they are cut: closed, true arcs, the bit to run outside of outer
outlines and inside of cut-outs; that is also said in text.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from types import MappingProxyType

import numpy as np
import shapely
from shapely.affinity import translate
from shapely.geometry import Polygon

from core.errors import InvalidRequestError
from core.geometry import Point, Region, Ring
from core.outlines.model import Feature, Role
from core.outlines.write import (
    CircleItem,
    DrawItem,
    PathItem,
    PointItem,
    RingItem,
    TextItem,
    halved_arcs,
)
from core.plan import Plan, polygon_parts
from core.project.model import CutBy
from core.reports.bits import BitJob
from core.reports.cutlist import CopyLine, CutList, SetupLine, SheetLines, carried
from core.reports.fonts import printable
from core.reports.holding import hold_items
from core.shop import Hold
from core.tolerances import SAME_RING_MM

# Purpose → name on file. {depth} becomes the depth in mm, {diameter} that of a hole.
LAYERS: Mapping[str, str] = MappingProxyType(
    {
        "outside": "CUT_OUTSIDE",
        "inside": "CUT_INSIDE",
        "pocket": "POCKET_{depth}",
        "dado": "DADO_{depth}",
        "rebate": "REBATE_{depth}",
        "engrave": "ENGRAVE_{depth}",
        "drill": "DRILL_D{diameter}_{depth}",
        "other-face": "OTHER_FACE",
        "saw": "SAW",
        "saw-part": "SAW_PART",
        "sheet": "SHEET",
        "blank": "BLANK",
        "offcut": "OFFCUT",
        "defect": "DEFECT",
        "clamp": "CLAMP",
        "registration": "REGISTRATION",
        "tab": "TABS",
        "screw": "SCREWS",
        "text": "TEXT",
    }
)

# Colour indexes of the DXF palette that read well on black and on white.
_COLOURS = {
    "outside": 5,
    "inside": 1,
    "pocket": 3,
    "dado": 3,
    "rebate": 3,
    "engrave": 6,
    "drill": 4,
    "other-face": 8,
    "saw": 30,
    "clamp": 1,
    "registration": 2,
}
_THROUGH = "THRU"
_UNSAID = "NODEPTH"  # nobody engraves right through a board
_TEXT_MM = (8.0, 6.5, 5.0, 4.0)  # heights of a piece's name in a drawing, largest first
_LETTER = 0.75  # width of a letter in parts of its height
_SPOTS = 15


@dataclass(frozen=True)
class Layers:
    """The maker's layer names. names: purpose → name, only those that differ from LAYERS.

    Raises InvalidRequestError for a purpose that does not exist, an empty name or two purposes
    of one name.
    """

    names: Mapping[str, str] = field(default_factory=dict)

    def __post_init__(self) -> None:
        for purpose, name in self.names.items():
            if purpose not in LAYERS:
                raise InvalidRequestError(
                    f"There is no layer for “{purpose}”", remedy=f"Use {', '.join(LAYERS)}."
                )
            if not name.strip():
                raise InvalidRequestError(f"The layer for “{purpose}” needs a name")
            if unknown := set(re.findall(r"\{(\w*)\}", name)) - {"depth", "diameter"}:
                raise InvalidRequestError(
                    f"The layer for “{purpose}” holds {{{unknown.pop()}}}",
                    remedy="Only {depth} and {diameter} are filled in.",
                )
        taken: dict[str, str] = {}
        for purpose in LAYERS:
            name = self.names.get(purpose, LAYERS[purpose]).strip().lower()
            if name in taken:
                raise InvalidRequestError(
                    f"The layers for “{taken[name]}” and “{purpose}” have the same name “{name}”"
                )
            taken[name] = purpose

    def name(
        self, purpose: str, *, depth_mm: float | None = None, diameter_mm: float | None = None
    ) -> str:
        """The layer's name with depth and diameter filled in, e.g. ``POCKET_6mm``."""
        pattern = self.names.get(purpose, LAYERS[purpose]).strip()
        unsaid = _UNSAID if purpose == "engrave" else _THROUGH
        depth = unsaid if depth_mm is None else f"{_plain(depth_mm)}mm"
        diameter = "" if diameter_mm is None else _plain(diameter_mm)
        return pattern.replace("{depth}", depth).replace("{diameter}", diameter)


DEFAULT_LAYERS = Layers()


def layer_colours(items: Iterable[DrawItem], layers: Layers = DEFAULT_LAYERS) -> dict[str, int]:
    """A colour index for every layer name that the items use."""
    starts = [
        (re.split(r"[{]", layers.names.get(purpose, LAYERS[purpose]).strip())[0], colour)
        for purpose, colour in _COLOURS.items()
    ]
    out = {}
    for name in {item.layer for item in items}:
        fits = [(start, colour) for start, colour in starts if start and name.startswith(start)]
        if fits:
            out[name] = max(fits, key=lambda pair: len(pair[0]))[1]
    return out


def sheet_items(
    cut_list: CutList, lines: SheetLines, layers: Layers = DEFAULT_LAYERS
) -> list[DrawItem]:
    """A whole sheet, origin at its lower left corner."""
    sheet = lines.sheet
    items: list[DrawItem] = [
        RingItem(layers.name("sheet"), Ring.of(sheet.stock.polygon.exterior.coords))
    ]
    for defect in sheet.stock.defects:
        items.append(RingItem(layers.name("defect"), Ring.of(defect.points)))
    for offcut in sheet.offcuts:
        if offcut.keep:
            items.append(RingItem(layers.name("offcut"), Ring.of(offcut.points)))
    for blank in sheet.blanks:
        ring = Ring.rectangle(blank.x_mm, blank.y_mm, blank.width_mm, blank.height_mm)
        items.append(RingItem(layers.name("blank"), ring))
        words = f"Blank {blank.letter}"
        spot = (blank.x_mm + 5.0, blank.y_mm + blank.height_mm - 25.0)
        items.append(TextItem(layers.name("text"), spot, words, 20.0))
    for cut in sheet.saw_cuts:
        start, end = (cut.x1_mm, cut.y1_mm), (cut.x2_mm, cut.y2_mm)
        items.append(PathItem.line(layers.name("saw"), start, end))
        middle = ((start[0] + end[0]) / 2, (start[1] + end[1]) / 2)
        items.append(TextItem(layers.name("text"), middle, f"Saw cut {cut.order}", 15.0))
    for line in lines.copies:
        items += _copy_items(line, layers)
    return items


def setup_items(
    cut_list: CutList, lines: SheetLines, setup: SetupLine, layers: Layers = DEFAULT_LAYERS
) -> list[DrawItem]:
    """One clamping; its origin is where the project wants it, see core.project.output.ORIGINS.

    "corner": the lower left corner of what lies on the table; "centre": its middle.
    """
    place = setup.setup
    wide, high = setup.size_mm
    if cut_list.plan.project.output.dxf_origin == "centre":
        setup = _from(setup, wide / 2, high / 2)
    left, low = setup.frame.apply(place.x_mm, place.y_mm)
    if place.turned:
        left -= place.height_mm
    ring = Ring.rectangle(place.x_mm, place.y_mm, place.width_mm, place.height_mm)
    on_table = [ring]
    if lines.sheet.stock.points:  # an offcut that is no rectangle
        board = lines.sheet.stock.polygon.intersection(Polygon(ring.flattened()))
        on_table = [Region.from_polygon(part).outer for part in polygon_parts(board)]
    items: list[DrawItem] = [RingItem(layers.name("blank"), r.moved(setup.frame)) for r in on_table]
    items += _registration(layers, (0.0, 0.0), (left + wide, low))
    for zone in cut_list.plan.project.shop.machine.clamps:
        shape = translate(zone.polygon, left - place.bed_x_mm, low - place.bed_y_mm)
        items.append(RingItem(layers.name("clamp"), Ring.of(shape.exterior.coords)))
    items += hold_items(
        place,
        setup.frame,
        tab=layers.name("tab"),
        screw=layers.name("screw"),
        registration=layers.name("registration"),
    )
    for line in setup.laid:
        items += _copy_items(line, layers)
    items += _hints(cut_list.plan, setup, layers)
    return items


def _copy_items(line: CopyLine, layers: Layers) -> list[DrawItem]:
    placed = line.placed
    items: list[DrawItem] = []
    if line.piece.by is CutBy.SAW:
        items += [RingItem(layers.name("saw-part"), _whole(ring)) for ring in placed.rings]
    else:
        items.append(RingItem(layers.name("outside"), _whole(placed.outer)))
        items += [RingItem(layers.name("inside"), _whole(hole)) for hole in placed.holes]
    for feature in line.piece.features:
        items += _feature_items(line, feature, layers)
    mirrored = " MIRRORED" if line.placement.motion.mirrored else ""
    words = printable(f"{line.number} {line.title}{mirrored}")
    items.append(_named(layers.name("text"), placed.polygon, words))
    return items


def _named(layer: str, shape: Polygon, words: str) -> TextItem:
    """A name inside its piece, off holes: smaller or upright where it does not fit otherwise.

    How wide a letter is depends on the reader's font; most are narrower than _LETTER.
    """
    x1, y1, x2, y2 = shape.bounds
    middle = np.array([(x1 + x2) / 2, (y1 + y2) / 2])
    share = (np.arange(_SPOTS) + 0.5) / _SPOTS
    grid = np.array(np.meshgrid(x1 + (x2 - x1) * share, y1 + (y2 - y1) * share))
    spots = np.vstack([middle, grid.reshape(2, -1).T])
    spots = spots[np.argsort(np.hypot(*(spots - middle).T), kind="stable")]
    shapely.prepare(shape)
    for height in _TEXT_MM:
        wide, high = height * (_LETTER * len(words) + 1.0), height * 1.6
        for turn, half in ((0.0, (wide / 2, high / 2)), (90.0, (high / 2, wide / 2))):
            boxes = shapely.box(*(spots - half).T, *(spots + half).T)
            fits = np.flatnonzero(shapely.contains(shape, boxes))
            if len(fits):
                x, y = spots[fits[0]]
                return TextItem(layer, (float(x), float(y)), words, height, turn, True)
    spot = shape.representative_point()
    return TextItem(layer, (spot.x, spot.y), words, _TEXT_MM[-1], 0.0, True)


def _whole(ring: Ring) -> Ring:
    """A circle of two half circles as four quarters, the same circle.

    Two edges between the same two points are taken for one drawn twice by programs that look at
    the points alone.
    """
    if len(ring.vertices) > 2:
        return ring
    return Ring(halved_arcs(ring.vertices, closed=True, beyond=0.0))


def _feature_items(line: CopyLine, feature: Feature, layers: Layers) -> list[DrawItem]:
    motion = line.placement.motion
    here = feature.depth_mm is None or feature.face is line.face_up
    if not here:
        layer = layers.name("other-face")
    elif feature.at is not None:
        layer = layers.name("drill", depth_mm=feature.depth_mm, diameter_mm=feature.diameter_mm)
    else:
        purpose = {
            Role.POCKET: "pocket",
            Role.DADO: "dado",
            Role.REBATE: "rebate",
            Role.ENGRAVE: "engrave",
        }.get(feature.kind, "pocket")
        layer = layers.name(purpose, depth_mm=feature.depth_mm)
    if feature.ring is not None:
        rings = (feature.ring, *feature.islands)
        return [RingItem(layer, _whole(ring.moved(motion))) for ring in rings]
    if feature.at is not None:
        if feature.diameter_mm:
            return [CircleItem(layer, motion.apply(*feature.at), feature.diameter_mm / 2)]
        return [PointItem(layer, motion.apply(*feature.at))]
    if len(feature.path) > 1:
        return [PathItem.line(layer, *(motion.apply(*p) for p in feature.path))]
    return []


def _from(setup: SetupLine, x_mm: float, y_mm: float) -> SetupLine:
    """The same clamping seen from another origin."""
    frame = replace(setup.frame, x_mm=setup.frame.x_mm - x_mm, y_mm=setup.frame.y_mm - y_mm)
    return replace(setup, frame=frame, laid=tuple(carried(c, frame) for c in setup.copies))


def _registration(layers: Layers, *spots: Point) -> list[DrawItem]:
    """A small cross on the origin and on the far end of the lower edge, to square the blank by."""
    arm = 10.0
    name = layers.name("registration")
    items: list[DrawItem] = []
    for x, y in spots:
        items.append(PathItem.line(name, (x - arm, y), (x + arm, y)))
        items.append(PathItem.line(name, (x, y - arm), (x, y + arm)))
    return items


def _hints(plan: Plan, setup: SetupLine, layers: Layers) -> list[DrawItem]:
    """What to run where, as lines of text below the blank."""
    centred = plan.project.output.dxf_origin == "centre"
    origin = "the middle of the board" if centred else "lower left corner"
    low = -setup.size_mm[1] / 2 if centred else 0.0
    left = -setup.size_mm[0] / 2 if centred else 0.0
    rows = [
        f"{plan.project.name}, clamping {setup.name}, origin at {origin}, mm",
        *(_job_hint(job, layers) for job in setup.jobs),
    ]
    if any(_runs_out(copy) for copy in setup.copies):
        rows.append("Pockets that end at an edge: run the bit out past it by its radius or more")
    if setup.setup.turned:
        rows.append("Board lies a quarter turn counter-clockwise: its left edge towards you")
    if setup.setup.bores:
        rows.append(f"{layers.name('registration')}: bore through first, for the next clamping")
    if setup.setup.pins:
        rows.append("Crossed circles: pins in the holes bored in the clamping before")
    if any(h.way == Hold.TABS for h in setup.setup.holds):
        rules = plan.project.shop.rules
        wide, thick = _plain(rules.tab_mm), _plain(rules.tab_thick_mm)
        rows.append(f"{layers.name('tab')}: tabs {wide} mm wide, {thick} mm thick")
    if any(c.placement.motion.mirrored for c in setup.copies):
        rows.append("Mirrored pieces lie show face down")
    return [
        TextItem(layers.name("text"), (left, low - 20.0 - 14.0 * i), printable(row), 8.0)
        for i, row in enumerate(rows)
    ]


def _runs_out(line: CopyLine) -> bool:
    """True if a pocket cut in this clamping ends at the piece's own edge."""
    edge = line.piece.cut.polygon.exterior
    for feature in line.piece.features:
        if feature.ring is None or feature.depth_mm is None or feature.face is not line.face_up:
            continue
        if feature.kind is Role.ENGRAVE:  # the bit runs on the line
            continue
        along = Polygon(feature.ring.flattened(0.01)).intersection(edge.buffer(SAME_RING_MM))
        if along.area > SAME_RING_MM:  # a millimetre of edge or more
            return True
    return False


def _job_hint(job: BitJob, layers: Layers) -> str:
    if job.job == "outlines":
        return f"{layers.name('outside')}: {_bit(job)} outside the line, last"
    if job.job == "cut-outs":
        return f"{layers.name('inside')}: {_bit(job)} inside the line, before outlines"
    if job.job == "narrow places":
        return f"Narrow places: {_bit(job)} along the line, where the outline's bit does not enter"
    if job.job == "drilling":
        return f"Holes: drill {_plain(job.diameter_mm)} mm, on centre"
    if job.job == "engraving":
        return f"Engraving: {_bit(job)} on the line"
    return f"Pockets: {_bit(job)} inside the line, to the depth in the layer's name"


def _bit(job: BitJob) -> str:
    if not job.reached:
        return "a smaller bit than any listed"
    return f"bit {_plain(job.diameter_mm)} mm"


def _plain(value: float) -> str:
    return f"{value:.3f}".rstrip("0").rstrip(".")
