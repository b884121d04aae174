"""A panel on the Joints stage: its seams, its pieces, and whether every piece can be cut.

No Qt here: the stage has this worked out on a thread of its own and shows the values.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import shapely
from shapely import affinity
from shapely.geometry import Polygon

from app.wording import error_in_words, in_words
from core.errors import SeamwrightError
from core.findings import Finding, Severity
from core.geometry import Motion, Point, Region
from core.geometry.fitting import Fit
from core.geometry.path import at_station, path_length
from core.joints.style import JointContext, SeamStyle, StyleProperties
from core.project.model import CutBy, Panel, Project, SeamLine, SplitChoice, StyleChoice
from core.shop import Material, Shop, ToothDrawing
from core.splitting import (
    Piece,
    Proposal,
    Seam,
    SplitPanel,
    assembly_steps,
    board_findings,
    fit_piece,
    same_thickness,
    split_panel,
    ways_to_split,
    with_boards,
)

if TYPE_CHECKING:
    from core.planning import CutContext
    from core.refit import PanelRefit


@dataclass(frozen=True)
class PieceFit:
    """How one piece stands to the machine. over_mm: what is too long and too wide, 0 if not.

    heavy: within the room, but too heavy for one person or too wide for the planer. room_mm:
    the room it lies in best, in the turned piece's frame.
    """

    piece: str
    name: str
    fit: Fit | None
    over_mm: tuple[float, float] = (0.0, 0.0)
    heavy: bool = False
    room_mm: tuple[float, float] = (0.0, 0.0)

    @property
    def ok(self) -> bool:
        """True if it can be cut."""
        return self.fit is not None and self.fit.fits


@dataclass(frozen=True)
class Shown:
    """What the stage shows of a panel.

    lines: the seam lines in force, chosen by the maker (own) or by the planner. recut: the drawn
    joints as they are cut for the measured boards.
    """

    panel: Panel
    lines: tuple[SeamLine, ...]
    own: bool
    split: SplitPanel
    fits: tuple[PieceFit, ...]
    context: CutContext
    findings: tuple[Finding, ...] = ()
    recut: PanelRefit | None = None

    @property
    def pieces(self) -> tuple[Piece, ...]:
        """Pieces of the panel itself, without loose keys."""
        return tuple(p for p in self.split.pieces if not p.loose)

    @property
    def ok(self) -> bool:
        """Every piece can be cut and every seam made."""
        return all(f.ok for f in self.fits) and all(
            f.severity is not Severity.STOP for f in self.findings
        )

    def steps(self) -> list[str]:
        """The order of assembly in words, one sentence per piece."""
        names = {piece.id: piece.name or piece.id for piece in self.split.pieces}
        if not self.split.seams:
            return []
        return [f"{names[step.piece_id]}: {step.how}" for step in assembly_steps(self.split)]

    def seam_of(self, index: int) -> Seam | None:
        """The first seam that a line makes."""
        return next((s for s in self.split.seams if s.line_index == index), None)

    def letters(self, index: int) -> str:
        """Letters of the seams a line makes, like "A, B"."""
        return ", ".join(s.letter for s in self.split.seams if s.line_index == index)


def context_of(panel: Panel, shop: Shop) -> CutContext:
    """What of the shop concerns this panel."""
    from core.planning import cut_context

    return cut_context(panel, shop)


def work_out(
    panel: Panel,
    shop: Shop,
    lines: Sequence[SeamLine] | None = None,
    *,
    draft: bool = False,
    recut: PanelRefit | None = None,
) -> Shown:
    """Cut a panel along lines (None: those in force) and see whether its pieces can be made.

    recut: its drawn joints as they are cut for the measured boards, None as drawn.
    """
    from core.planning import seam_lines
    from core.refit import refit_split

    context = context_of(panel, shop)
    more: tuple[Finding, ...] = ()
    cut = panel if recut is None else replace(panel, features=recut.panel.features)
    if lines is None:
        lines, more = seam_lines(cut, context, None if recut is None else recut.cut)
    split = cut_along(cut, lines, context, draft=draft)
    if recut is not None:
        split = refit_split(split, recut.cut)
    split = with_boards(panel, split)
    fits = tuple(piece_fit(piece, context) for piece in split.pieces if not piece.loose)
    if panel.by is CutBy.SAW:
        fits = ()
    boards = board_findings(panel, split, context.board_by_name)
    findings = tuple(dict.fromkeys((*more, *split.findings, *boards)))
    own = panel.seams is not None
    return Shown(panel, tuple(lines), own, split, fits, context, findings, recut)


def recut_of(project: Project, panel: Panel) -> PanelRefit:
    """The panel's drawn joints as they are cut for the measured boards."""
    from core.refit import refit_panel

    return refit_panel(project, panel)


def cut_along(
    panel: Panel, lines: Sequence[SeamLine], context: CutContext, *, draft: bool = False
) -> SplitPanel:
    """The panel cut along lines with this shop's bit, board and fit."""
    return split_panel(
        panel,
        tuple(lines),
        cutter=context.cutter,
        thickness_mm=context.thickness_mm,
        fit_mm=context.fit_of,
        styles=context.styles,
        draft=draft,
    )


def piece_fit(piece: Piece, context: CutContext) -> PieceFit:
    """How a piece lies best within the machine, and what is too much of it."""
    name = piece.name or piece.id
    limits = context.limits
    fit = fit_piece(piece.cut.polygon, limits)
    if fit is None:
        return PieceFit(piece.id, name, None)
    room = min(limits.envelopes_mm, key=lambda e: max(fit.width_mm / e[0], fit.height_mm / e[1]))
    over = tuple(
        max(0.0, size - space) if not fit.fits else 0.0
        for size, space in zip((fit.width_mm, fit.height_mm), room, strict=True)
    )
    heavy = not fit.fits and max(over) < 1e-6
    return PieceFit(piece.id, name, fit, (over[0], over[1]), heavy, room)


def envelope_motion(fit: PieceFit) -> Motion:
    """How the machine's room (lower left at (0, 0), upright) is laid over its piece."""
    assert fit.fit is not None
    # The piece is turned into the room; the room is turned back onto the piece, centred.
    back = Motion(0, 0, -fit.fit.turn_deg)
    dx = fit.fit.x_mm - max(0.0, fit.room_mm[0] - fit.fit.width_mm) / 2
    dy = fit.fit.y_mm - max(0.0, fit.room_mm[1] - fit.fit.height_mm) / 2
    x, y = back.apply(dx, dy)
    return Motion(x, y, -fit.fit.turn_deg)


# --- which panels need a look ---------------------------------------------------------------
@dataclass(frozen=True)
class PanelRow:
    """A panel in the list: how much too large it is and how it is split.

    over_mm: the greater overhang of the whole panel, 0 if it fits. state: "whole", "split",
    "wrong" (something stops it) or "large" (too large and left whole).
    """

    panel: str
    name: str
    over_mm: float
    needs: bool
    state: str = ""


def as_cut(project: Project, panel: Panel) -> Region:
    """The panel with its drawn joints re-cut; as drawn where re-cutting is off."""
    if not project.refit and not panel.refit:
        return panel.region
    return recut_of(project, panel).panel.region


def panel_row(panel: Panel, shop: Shop, region: Region | None = None) -> PanelRow:
    """What the list says of a panel before its pieces are known. region: as it is cut."""
    if panel.by is CutBy.SAW or panel.split is SplitChoice.OMIT:
        return PanelRow(panel.id, panel.name, 0.0, bool(panel.seams))
    context = context_of(panel, shop)
    whole = panel.region if region is None else region
    fit = fit_piece(whole.polygon, context.limits)
    over = 0.0
    fits = fit is not None and fit.fits
    if fit is not None and not fits:
        room = min(
            context.limits.envelopes_mm,
            key=lambda e: max(fit.width_mm / e[0], fit.height_mm / e[1]),
        )
        over = max(fit.width_mm - room[0], fit.height_mm - room[1], 0.0)
    needs = not fits or bool(panel.seams) or panel.split is SplitChoice.SPLIT
    return PanelRow(panel.id, panel.name, over, needs)


# --- proposals and styles -------------------------------------------------------------------
def proposals_for(
    panel: Panel, shop: Shop, *, recut: PanelRefit | None = None, most: int = 6
) -> list[Proposal]:
    """Ways to split the panel, best first; none if it needs no seams.

    recut: its drawn joints as they are cut for the measured boards, None as drawn.
    """
    context = context_of(panel, shop)
    wanted = panel
    if panel.split is SplitChoice.WHOLE:
        wanted = replace(panel, split=SplitChoice.AUTO)
    found = ways_to_split(
        wanted,
        context.limits,
        context.cutter,
        physical=None if recut is None else recut.panel.region,
        thickness_mm=context.thickness_mm,
        fit_mm=context.fit_of,
        styles=context.styles,
        most=most,
    )
    return [p for p in found if p.seams]


@dataclass(frozen=True, eq=False)
class Sample:
    """A stretch of this panel's seam in one style.

    left, right: the mates near the middle of the seam, cut as the bit leaves them. problem: why
    the style cannot be made here, "" if it can.
    """

    name: str
    style: SeamStyle
    left: tuple[Region, ...] = ()
    right: tuple[Region, ...] = ()
    middle: Point = (0.0, 0.0)
    along_deg: float = 0.0
    span_mm: float = 120.0
    teeth: int = 0
    properties: StyleProperties | None = None
    keys: tuple[Region, ...] = ()
    problem: str = ""


def style_sample(
    shown: Shown, index: int, name: str, teeth: tuple[ToothDrawing, ...] = ()
) -> Sample:
    """The line of that index made in another style, by the real geometry.

    teeth: the maker's own, those not yet in the project too.
    """
    context = replace(shown.context, teeth=teeth) if teeth else shown.context
    style = context.styles.get(name)
    line = shown.lines[index]
    choice = line.style if line.style.name == name else StyleChoice(name)
    lines = list(shown.lines)
    lines[index] = replace(line, style=choice, shift_mm=0.0)
    try:
        split = cut_along(shown.panel, lines, context, draft=True)
    except SeamwrightError as problem:
        return Sample(name, style, problem=error_in_words(problem))
    seam = next((s for s in split.seams if s.line_index == index), None)
    if seam is None:
        stop = next((f for f in split.findings if f.severity is Severity.STOP), None)
        return Sample(name, style, problem=in_words(stop.message) if stop is not None else "")
    length = path_length(seam.line)
    middle, (dx, dy) = at_station(seam.line, length / 2)
    angle = math.degrees(math.atan2(dy, dx))
    span = min(max(60.0, length), 170.0)
    window = shapely.box(-span, -span, span, span)
    window = affinity.translate(window, *middle)
    sides: list[tuple[Region, ...]] = []
    for piece_id in seam.pieces:
        piece = split.piece(piece_id)
        assert piece is not None
        part = piece.cut.polygon.intersection(window)
        sides.append(
            tuple(
                Region.from_polygon(p)
                for p in shapely.get_parts(part)
                if isinstance(p, Polygon) and p.area > 1.0
            )
        )
    pockets = []
    for piece_id in seam.pieces:
        piece = split.piece(piece_id)
        assert piece is not None
        for pocket in piece.cut.pockets:
            if pocket.polygon.intersects(window):
                pockets.append(Region.of(pocket.ring))
    return Sample(
        name,
        style,
        sides[0],
        sides[1],
        middle,
        angle,
        span,
        seam.teeth,
        seam.properties,
        tuple(pockets),
    )


def joint_context(shown: Shown, line: SeamLine) -> JointContext:
    """The context a line's style works its usual values out from."""
    fit = line.fit_mm if line.fit_mm is not None else shown.context.fit_of(line)
    return JointContext(shown.context.thickness_mm, shown.context.cutter, fit)


# --- the panel --------------------------------------------------------------------------
def boards_for(panel: Panel, shop: Shop) -> tuple[Material, ...]:
    """Boards the pieces of a panel may be of: its own, then those of the same thickness."""
    own = shop.material(panel.material)
    if own is None:
        return ()
    return (own, *(m for m in shop.materials if m is not own and same_thickness(own, m)))


def panel_of(project: Project, panel_id: str | None) -> Panel | None:
    """The panel, or None."""
    return None if panel_id is None else project.panel(panel_id)


# --- the gap under the loupe ----------------------------------------------------------------
@dataclass(frozen=True, slots=True)
class Gap:
    """What lies between two mates at a spot, mm. names: of the mates."""

    across_mm: float
    names: tuple[str, str]
    at: Point


def gap_at(shown: Shown, x_mm: float, y_mm: float, within_mm: float) -> Gap | None:
    """The gap between the two pieces nearest to a spot, if both are near it.

    Measured square to the nearer mate: from the point of its edge nearest to the spot to the
    other mate.
    """
    spot = shapely.Point(x_mm, y_mm)
    near: list[tuple[float, Piece]] = []
    for piece in shown.pieces:
        x1, y1, x2, y2 = piece.cut.region.bounds
        reach = within_mm
        if x1 - reach <= x_mm <= x2 + reach and y1 - reach <= y_mm <= y2 + reach:
            edge = piece.cut.polygon.boundary.distance(spot)
            if edge <= within_mm:
                near.append((edge, piece))
    if len(near) < 2:
        return None
    near.sort(key=lambda row: row[0])
    first, second = near[0][1], near[1][1]
    foot = shapely.line_interpolate_point(
        first.cut.polygon.exterior, first.cut.polygon.exterior.project(spot)
    )
    across = float(second.cut.polygon.distance(foot))
    if across > 4 * within_mm:
        return None
    return Gap(across, (first.name, second.name), (float(foot.x), float(foot.y)))


def opening(shown: Shown, share: float) -> dict[str, Point]:
    """How far each piece is moved when the joints are opened; share 0 (closed) to 1."""
    pieces = shown.pieces
    if len(pieces) < 2 or share <= 0:
        return {piece.id: (0.0, 0.0) for piece in pieces}
    area = sum(p.region.area_mm2 for p in pieces)
    centres = {p.id: p.region.polygon.centroid for p in pieces}
    cx = sum(centres[p.id].x * p.region.area_mm2 for p in pieces) / area
    cy = sum(centres[p.id].y * p.region.area_mm2 for p in pieces) / area
    return {
        key: ((c.x - cx) * share * 0.35, (c.y - cy) * share * 0.35) for key, c in centres.items()
    }
