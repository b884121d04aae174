"""Project → plan: the whole way, readable top to bottom.

``cut_panels`` makes pieces of panels, ``lay_out`` gives every copy a place, ``assemble_plan``
works a layout out into sheets, cuts and setups and checks all of it, ``plan_project`` does one
after the other. Each is a pure function; pieces are kept by content, so a panel that did not
change is not cut again.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import lru_cache

from core.bed.upright import upright_findings
from core.errors import SeamwrightError
from core.findings import Finding, Severity, sort_findings
from core.geometry import Region
from core.joints import StyleBook, styles_of
from core.joints.bits import CutDeep, PieceAccess, bit_findings, piece_access
from core.layout import (
    Copies,
    assemble_sheets,
    compare_ways,
    fits_a_blank,
    lay_out_pieces,
    unmatched,
)
from core.outlines.model import Feature, Role
from core.plan import (
    Plan,
    PlanPanel,
    PlanPiece,
    PlanSeam,
    PlanSheet,
    PlanUnplaced,
    PlanWay,
    PurchaseLine,
)
from core.project.model import (
    CutBy,
    Grain,
    KeptLayout,
    Panel,
    Project,
    Rank,
    SeamLine,
    SplitChoice,
)
from core.project.validate import validate_project
from core.refit import PanelRefit, RefitCut, refit_cut, refit_panel, refit_split, survey
from core.refit.thickness import thickness_findings
from core.shop import Cutter, JointClass, Material, Shop, ToothDrawing
from core.splitting import (
    Piece,
    PieceLimits,
    Seam,
    SplitPanel,
    assembly_steps,
    board_findings,
    split_panel,
    ways_to_split,
    with_boards,
)
from core.splitting.limits import door_finding, fit_piece, limit_findings, limits_for
from core.test_pieces import fit_findings
from core.tolerances import AREA_REL
from core.units import fine_length, format_size

Progress = Callable[[float, str, KeptLayout | None], None]
Stop = Callable[[], bool]

#: Part of the whole way that cutting the panels takes, for the progress shown.
CUTTING_SHARE = 0.15


@dataclass(frozen=True)
class PieceSet:
    """All panels of a project cut into pieces, and what was noticed."""

    panels: tuple[PlanPanel, ...] = ()
    pieces: tuple[PlanPiece, ...] = ()
    seams: tuple[PlanSeam, ...] = ()
    findings: tuple[Finding, ...] = ()

    def copies(self) -> list[Copies]:
        """Every piece with the number of copies the plan needs."""
        quantity = {panel.id: panel.quantity for panel in self.panels}
        return [Copies(p, p.quantity * quantity[p.panel]) for p in self.pieces]


# --- drawing → pieces ---------------------------------------------------------------------


def cut_panels(
    project: Project, *, progress: Progress | None = None, stop: Stop | None = None
) -> PieceSet:
    """Cut every panel of the project (those left out of the plan excepted)."""
    wanted = [p for p in project.panels if p.split is not SplitChoice.OMIT and p.quantity > 0]
    made: list[_CutPanel] = []
    seen = survey(project)
    joints: list[tuple[str, JointClass]] = []  # board and class of everything that must fit
    for number, panel in enumerate(wanted):
        if stop is not None and stop():
            break
        if progress is not None:
            progress(number / len(wanted), f"Cutting {panel.name}", None)
        refit = refit_panel(project, panel, seen=seen)
        cut = _cut_panel(panel, cut_context(panel, project.shop), refit.panel.features, refit.cut)
        joints += _fits_used(project, panel, refit, split=bool(cut.seams))
        made.append(replace(cut, findings=(*cut.findings, *refit.findings)))
    doors = [door_finding(panel, project.shop) for panel in wanted]
    findings = [
        *_material_findings(project),
        *thickness_findings(project),
        *fit_findings(project, joints),
        *(f for m in made for f in m.findings),
        *(f for m in made for piece in m.pieces for f in _bit_findings(piece, project)),
        *(door for door in doors if door is not None),
        *(f for panel in wanted for f in _upright(panel, project.shop)),
    ]
    return PieceSet(
        tuple(m.panel for m in made),
        tuple(piece for m in made for piece in m.pieces),
        tuple(seam for m in made for seam in m.seams),
        sort_findings(findings),
    )


def _fits_used(
    project: Project, panel: Panel, refit: PanelRefit, *, split: bool
) -> list[tuple[str, JointClass]]:
    """Board and joint class of each joint of a panel that takes its fit from the shop."""
    found = []
    for item in refit.items:
        own, rules = item.decision, project.refit_rules
        if not item.applied or rules.fit_mm is not None or (own and own.fit_mm is not None):
            continue
        found.append((item.material, (own and own.joint_class) or rules.joint_class))
    if split:
        lines = panel.seams or (SeamLine(()),)
        found += [(panel.material, line.joint_class) for line in lines if line.fit_mm is None]
    return found


@dataclass(frozen=True)
class _CutPanel:
    panel: PlanPanel
    pieces: tuple[PlanPiece, ...]
    seams: tuple[PlanSeam, ...]
    findings: tuple[Finding, ...]


@dataclass(frozen=True)
class CutContext:
    """All of the shop that a panel's pieces depend on; another price or sheet changes nothing.

    material: None if the shop has none of that name. limits: what a cut piece must stay within.
    fits: total play per joint class, fit_mm that of glued joints. cutters: all bits, the
    outline's first; () for that one alone. teeth: the maker's own, to be had as styles.
    boards: those that single pieces of the panel are of.
    """

    material: Material | None
    cutter: Cutter
    fit_mm: float
    limits: PieceLimits
    fits: tuple[tuple[JointClass, float], ...] = ()
    cutters: tuple[Cutter, ...] = ()
    teeth: tuple[ToothDrawing, ...] = ()
    boards: tuple[Material, ...] = ()

    @property
    def board_by_name(self) -> dict[str, Material]:
        """The panel's board and those of single pieces."""
        found = {board.name: board for board in self.boards}
        if self.material is not None:
            found[self.material.name] = self.material
        return found

    def board(self, piece: Piece) -> Material | None:
        """The board a piece is of, None if the shop has none of that name."""
        if piece.loose or piece.material == (self.material.name if self.material else ""):
            return self.material
        return self.board_by_name.get(piece.material)

    @property
    def styles(self) -> StyleBook:
        """Every seam style this panel may have."""
        return styles_of(self.teeth)

    def fit_of(self, line: SeamLine) -> float:
        """Total play of a seam that does not state its own, by what the joint is for, mm."""
        return dict(self.fits).get(line.joint_class, self.fit_mm)

    @property
    def thickness_mm(self) -> float:
        """The finished, measured thickness of the board; 18 mm if there is none."""
        return self.material.thickness_mm if self.material is not None else 18.0


def cut_context(panel: Panel, shop: Shop) -> CutContext:
    """What of the shop concerns this panel."""
    return CutContext(
        shop.material(panel.material),
        shop.machine.cutter,
        shop.fit_mm(material=panel.material),
        limits_for(panel, shop),
        tuple((kind, shop.fit_mm(kind, panel.material)) for kind in JointClass),
        shop.machine.cutters,
        shop.teeth,
        tuple(m for m in shop.materials if m.name in {c.material for c in panel.boards}),
    )


@lru_cache(maxsize=1024)
def _cut_panel(
    panel: Panel, context: CutContext, features: tuple[Feature, ...], recut: RefitCut
) -> _CutPanel:
    """One panel on its way: seams, pieces, cut geometry, limits.

    features, recut: its pockets and its walls as they are cut for the measured boards.
    """
    findings: list[Finding] = []
    if context.material is None:
        findings.append(_no_material(panel))
    try:
        split, more = _split(replace(panel, features=features), context, recut)
        split = with_boards(panel, refit_split(split, recut))
    except SeamwrightError as problem:
        findings.append(
            Finding("cannot-split", Severity.STOP, problem.what, panel.id, remedy=problem.remedy)
        )
        return _CutPanel(_plan_panel(panel, ()), (), (), tuple(findings))
    findings += more
    findings += split.findings
    findings += board_findings(panel, split, context.board_by_name)
    pieces = tuple(_plan_piece(piece, panel, split, context) for piece in split.pieces)
    if panel.by is CutBy.SAW:
        findings += _saw_findings(panel)
    else:
        findings += limit_findings(split, context.limits)
    seams = tuple(_plan_seam(seam, context.styles) for seam in split.seams)
    return _CutPanel(_plan_panel(panel, pieces, split), pieces, seams, tuple(findings))


def piece_turns(piece: Piece, panel: Panel, context: CutContext) -> tuple[float, ...] | None:
    """Turns in which a piece may lie on a sheet, whose grain runs along its x.

    A piece without grain gets quarter turns, and the one in which it fits the machine if it
    fits in no quarter turn.
    """
    if piece.loose:
        return piece.turns_deg
    material = context.board(piece)
    if panel.grain is Grain.FREE or (material is not None and not material.grained):
        turns: tuple[float, ...] = (0.0, 90.0, 180.0, 270.0)
        fit = fit_piece(piece.cut.polygon, context.limits)
        if fit is not None and fit.fits and fit.turn_deg % 90.0 > 1e-9:
            turns += (fit.turn_deg % 360.0, (fit.turn_deg + 180.0) % 360.0)
        return turns
    return (0.0, 180.0) if panel.grain is Grain.ALONG else (90.0, 270.0)


def seam_lines(
    panel: Panel, context: CutContext, recut: RefitCut | None = None
) -> tuple[tuple[SeamLine, ...], tuple[Finding, ...]]:
    """The seams a panel is cut along: the maker's own, else the best proposal if it needs any.

    recut: how its drawn joints are re-cut, which may make it longer than drawn.
    """
    if panel.seams is not None:
        return panel.seams, ()
    if panel.by is CutBy.SAW or panel.split is SplitChoice.WHOLE:
        return (), ()
    physical = panel.region if recut is None else refit_cut(panel.region, recut)
    proposals = ways_to_split(
        panel,
        context.limits,
        context.cutter,
        physical=physical,
        fit_mm=context.fit_of,
        thickness_mm=context.thickness_mm,
        styles=context.styles,
    )
    if not proposals:
        return (), ()
    if proposals[0].seams or not proposals[0].findings:
        return proposals[0].seams, ()
    size = format_size(*panel.size_mm)
    return (), (
        Finding(
            "no-split-found",
            Severity.STOP,
            f"No way was found to split {panel.name} ({size}) so that every piece fits the "
            f"router: {proposals[0].reasons[0]}".rstrip("."),
            panel.id,
            remedy="Draw seams by hand on the Joints stage, or choose a larger machine.",
        ),
    )


def _split(
    panel: Panel, context: CutContext, recut: RefitCut
) -> tuple[SplitPanel, tuple[Finding, ...]]:
    lines, findings = seam_lines(panel, context, recut)
    split = split_panel(
        panel,
        lines,
        fit_mm=context.fit_of,
        cutter=context.cutter,
        thickness_mm=context.thickness_mm,
        styles=context.styles,
    )
    return split, findings


def _plan_panel(
    panel: Panel, pieces: tuple[PlanPiece, ...], split: SplitPanel | None = None
) -> PlanPanel:
    return PlanPanel(
        panel.id,
        panel.name,
        panel.region,
        panel.features,
        panel.quantity,
        panel.material,
        str(panel.grain),
        tuple(piece.id for piece in pieces),
        _assembly(split) if split is not None else (),
    )


def _assembly(split: SplitPanel) -> tuple[str, ...]:
    """The order of assembly as sentences, empty for a panel in one piece."""
    if not split.seams:
        return ()
    names = {piece.id: piece.name or piece.id for piece in split.pieces}
    return tuple(f"{names[step.piece_id]}: {step.how}" for step in assembly_steps(split))


def _plan_piece(piece: Piece, panel: Panel, split: SplitPanel, context: CutContext) -> PlanPiece:
    letters = {seam.id: seam.letter for seam in split.seams}
    board = context.board(piece)
    return PlanPiece(
        id=piece.id,
        panel=panel.id,
        name=piece.name or panel.name,
        outline=piece.region,
        cut=piece.cut.region,
        material=panel.material if piece.loose else piece.material,
        thickness_mm=board.thickness_mm if board is not None else context.thickness_mm,
        features=_features(piece),
        quantity=piece.quantity,
        loose=piece.loose,
        turns_deg=piece_turns(piece, panel, context),
        may_mirror=panel.may_mirror and not piece.loose,
        by=panel.by,
        seams=piece.seam_ids,
        letters=tuple(letters[s] for s in piece.seam_ids if s in letters),
        show_face=panel.show_face,
        digest=piece.cut.digest(),
        access=None if panel.by is CutBy.SAW else _access(piece, context),
        rank=panel.rank,
        together=panel.together,
    )


def _access(piece: Piece, context: CutContext) -> PieceAccess:
    """What the shop's bits cut of a piece, and what none of them does."""
    pockets = [
        CutDeep(Region.of(pocket.ring, pocket.islands), pocket.depth_mm)
        for pocket in piece.cut.pockets
    ]
    cutters = context.cutters or (context.cutter,)
    return piece_access(piece.cut.region, pockets, cutters, thickness_mm=context.thickness_mm)


def _bit_findings(piece: PlanPiece, project: Project) -> tuple[Finding, ...]:
    if piece.access is None:
        return ()
    found = bit_findings(piece.access, panel=piece.panel, name=piece.name, unit=project.units)
    panel = project.panel(piece.panel)
    if panel is not None and panel.round_corners:
        return tuple(f for f in found if f.code != "corner-stays-round")
    return found


_POCKET_ROLES = {str(role): role for role in Role}


def _features(piece: Piece) -> tuple[Feature, ...]:
    """What is cut into the piece, as features in the panel's frame."""
    rows = [
        Feature(
            _POCKET_ROLES.get(pocket.kind, Role.POCKET),
            pocket.ring,
            depth_mm=pocket.depth_mm,
            face=pocket.face,
            clearance_mm=pocket.clearance_mm,
            layer="" if pocket.kind in _POCKET_ROLES else pocket.kind,
            islands=pocket.islands,
        )
        for pocket in piece.cut.pockets
    ]
    rows += [
        Feature(
            Role.DRILL,
            at=drill.at,
            diameter_mm=drill.diameter_mm,
            depth_mm=drill.depth_mm,
            face=drill.face,
        )
        for drill in piece.cut.drills
    ]
    rows += [
        Feature(Role.ENGRAVE, path=line.path, depth_mm=line.depth_mm, face=line.face)
        for line in piece.cut.engravings
    ]
    return tuple(rows)


def _plan_seam(seam: Seam, styles: StyleBook) -> PlanSeam:
    notes = [seam.properties.mating, *seam.properties.needs]
    if seam.properties.closing_mm:
        notes.append(f"Pushed home it closes up by {fine_length(seam.properties.closing_mm)}.")
    return PlanSeam(
        seam.id,
        seam.letter,
        seam.panel_id,
        seam.style.name,
        styles.get(seam.style.name).title,
        seam.pieces,
        tuple((float(v[0]), float(v[1])) for v in seam.line),
        seam.profile,
        seam.fit_mm,
        seam.joint_length_mm,
        tuple(note for note in notes if note),
        seam.stretches,
    )


# --- what is noticed on the way -----------------------------------------------------------


def _no_material(panel: Panel) -> Finding:
    what = f"{panel.name} is of “{panel.material}”, which is not in the Shop"
    if not panel.material:
        what = f"{panel.name} has no board"
    return Finding(
        "no-material",
        Severity.STOP,
        what,
        panel.id,
        remedy="Choose its board, or add that board in the Shop.",
    )


def _material_findings(project: Project) -> list[Finding]:
    """Boards that were never measured, readings that spread, sheets that are missing."""
    found = []
    used = {p.material for p in project.panels if p.split is not SplitChoice.OMIT}
    for material in project.shop.materials:
        if material.name not in used:
            continue
        if material.measured_mm is None:
            found.append(
                Finding(
                    "thickness-not-measured",
                    Severity.WARN,
                    f"{material.name} was not measured; joints take its nominal "
                    f"{material.nominal_mm:g} mm",
                    remedy="Measure a sheet with a caliper and enter the readings in the Shop.",
                )
            )
        if not any(stock.material == material.name for stock in project.shop.stock):
            found.append(
                Finding(
                    "no-sheets",
                    Severity.STOP,
                    f"There is no sheet of {material.name} in the Shop",
                    remedy="Add a sheet size or an offcut in the Shop.",
                )
            )
    return found


def _saw_findings(panel: Panel) -> list[Finding]:
    width, height = panel.size_mm
    area = panel.region.area_mm2
    plain = abs(area - width * height) <= AREA_REL * width * height and not panel.features
    if plain and not panel.region.outer.has_arcs:
        return []
    return [
        Finding(
            "saw-needs-rectangle",
            Severity.STOP,
            f"{panel.name} is to be cut by the saw but is no plain rectangle",
            panel.id,
            remedy="Let the router cut it.",
        )
    ]


# --- pieces → layout → plan ---------------------------------------------------------------


def lay_out(
    project: Project,
    pieces: PieceSet,
    *,
    start: KeptLayout | None = None,
    seconds: float | None = None,
    steps: int | None = None,
    seed: int | None = None,
    progress: Progress | None = None,
    stop: Stop | None = None,
) -> KeptLayout:
    """A layout of all copies of all pieces; see core.layout.lay_out_pieces."""
    return lay_out_pieces(
        pieces.copies(),
        project.shop,
        breakdown=project.breakdown,
        name=start.name if start is not None else "Layout 1",
        start=start,
        seconds=seconds,
        steps=steps,
        seed=project.seed if seed is None else seed,
        progress=progress,
        stop=stop,
    )


def assemble_plan(project: Project, pieces: PieceSet, layout: KeptLayout) -> Plan:
    """Everything that follows from a layout, also one made by hand; every rule checked anew."""
    found = assemble_sheets(
        pieces.pieces,
        project.shop,
        layout,
        breakdown=project.breakdown,
        seams=pieces.seams,
    )
    copies = {c.piece.id: c for c in pieces.copies()}
    placed: dict[tuple[str, int], str] = {}
    findings = [*pieces.findings, *found.findings]
    for sheet in found.sheets:
        for p in sheet.placements:
            if (p.piece, p.copy) in placed or p.copy > copies[p.piece].quantity:
                name = copies[p.piece].piece.name
                findings.append(
                    Finding(
                        "copy-too-many",
                        Severity.STOP,
                        f"{name}, copy {p.copy}, is on sheet {sheet.number} although "
                        "it is not wanted or lies elsewhere too",
                        copies[p.piece].piece.panel,
                        remedy="Take it off the sheet.",
                    )
                )
            placed[(p.piece, p.copy)] = sheet.id
    too_big = {f.panel for f in pieces.findings if f.code == "piece-too-big"}
    unplaced = []
    for c in copies.values():
        lost = [k for k in range(1, c.quantity + 1) if (c.piece.id, k) not in placed]
        if lost:
            why = _why_unplaced(c.piece, project, too_big)
            spare = c.piece.rank is Rank.SPARE
            unplaced += [PlanUnplaced(c.piece.id, copy, why, spare=spare) for copy in lost]
    findings += _sawn_findings(layout, unplaced, copies)
    findings += _spare_findings(unplaced, copies)
    findings += _grain_findings(pieces, layout, project.shop.spacing_mm)
    findings += _mass_findings(found.sheets, project.shop)
    return Plan(
        project=project,
        panels=pieces.panels,
        pieces=pieces.pieces,
        seams=pieces.seams,
        sheets=found.sheets,
        unplaced=tuple(unplaced),
        findings=sort_findings(findings),
        purchase=_purchase(found.sheets),
        steps=layout.steps,
        seed=layout.seed,
        sheet_bound=layout.sheet_bound,
    )


def compare_project(
    project: Project,
    pieces: PieceSet,
    *,
    seconds: float | None = None,
    steps: int | None = None,
    progress: Progress | None = None,
    stop: Stop | None = None,
) -> tuple[PlanWay, ...]:
    """The ways onto the machine side by side; see core.layout.compare_ways."""
    return compare_ways(
        pieces.copies(),
        project.shop,
        seams=pieces.seams,
        seconds=seconds,
        steps=steps,
        seed=project.seed,
        progress=progress,
        stop=stop,
    )


def plan_project(
    project: Project,
    *,
    seconds: float | None = None,
    steps: int | None = None,
    seed: int | None = None,
    progress: Progress | None = None,
    stop: Stop | None = None,
) -> Plan:
    """The whole way. Without seconds a fixed step budget: same project and seed, same plan.

    A layout the project keeps is not used; its locked pieces and frozen sheets are.
    Raises InvalidProjectError for values out of range.
    """
    validate_project(project)

    def cutting(fraction: float, text: str, layout: KeptLayout | None) -> None:
        if progress is not None:
            progress(CUTTING_SHARE * fraction, text, layout)

    def laying(fraction: float, text: str, layout: KeptLayout | None) -> None:
        if progress is not None:
            progress(CUTTING_SHARE + (1 - CUTTING_SHARE) * fraction, text, layout)

    pieces = cut_panels(project, progress=cutting, stop=stop)
    layout = lay_out(
        project,
        pieces,
        start=_decided(project.layout()),
        seconds=seconds,
        steps=steps,
        seed=seed,
        progress=laying,
        stop=stop,
    )
    return assemble_plan(project, pieces, layout)


def check_project(project: Project) -> tuple[Finding, ...]:
    """What is wrong with a project before anything is laid out."""
    validate_project(project)
    pieces = cut_panels(project)
    findings = list(pieces.findings)
    if not project.panels:
        findings.append(
            Finding("no-panels", Severity.NOTE, "There is no panel yet", remedy="Import a drawing.")
        )
    return sort_findings(findings)


def _decided(kept: KeptLayout | None) -> KeptLayout | None:
    """What the maker has settled of a layout: locked pieces and frozen sheets."""
    if kept is None:
        return None
    frozen = {(s.sheet, s.sheet_copy) for s in kept.sheets if s.frozen}
    placed = tuple(p for p in kept.placed if p.locked or (p.sheet, p.sheet_copy) in frozen)
    if not placed and not frozen:
        return None
    return replace(kept, placed=placed)


def _why_unplaced(piece: PlanPiece, project: Project, too_big: set[str | None]) -> str:
    """Why a copy has no place, in a sentence."""
    if piece.panel in too_big:
        return f"Its panel is too big for the machine; it is {format_size(*piece.cut.size_mm)}"
    shop = project.shop
    stocks = [s for s in shop.stock if s.material == piece.material]
    if not stocks:
        return f"There is no sheet of {piece.material or 'its board'} in the Shop"
    if piece.rank is Rank.SPARE:
        return "It goes only where waste allows, and no waste was left for it"
    if piece.by is CutBy.ROUTER and not fits_a_blank(piece, shop, project.breakdown):
        turned = replace(piece, turns_deg=None)
        lies = ", as its grain must lie" if fits_a_blank(turned, shop, project.breakdown) else ""
        size = format_size(*piece.cut.size_mm)
        return f"No blank the machine takes this way has room for it{lies}; it is {size}"
    if all(stock.quantity is not None for stock in stocks):
        return f"The sheets of {piece.material} are used up"
    return "No room was found for it in the steps or time given"


def _spare_findings(unplaced: list[PlanUnplaced], copies: dict[str, Copies]) -> list[Finding]:
    """Spares that found no waste to lie in."""
    counted: dict[str, int] = {}
    for lost in unplaced:
        if lost.spare:
            counted[lost.piece] = counted.get(lost.piece, 0) + 1
    return [
        Finding(
            "spare-left-out",
            Severity.NOTE,
            f"{n} of {copies[piece].quantity} × {copies[piece].piece.name}, wanted only where "
            "waste allows, found no room",
            copies[piece].piece.panel,
        )
        for piece, n in counted.items()
    ]


def _grain_findings(pieces: PieceSet, layout: KeptLayout, spacing_mm: float) -> list[Finding]:
    """Panels whose pieces were to lie side by side and do not."""
    names = {panel.id: panel.name for panel in pieces.panels}
    return [
        Finding(
            "grain-not-matched",
            Severity.WARN,
            f"The pieces of {names[panel]}, copy {copy}, do not lie side by side in their order: "
            "the grain will not run through",
            panel,
            remedy="Nest it again on a sheet or blank that holds all of it, or lay them by hand.",
        )
        for panel, copy in unmatched(pieces.pieces, layout.placed, spacing_mm)
    ]


def _upright(panel: Panel, shop: Shop) -> tuple[Finding, ...]:
    """How a panel with joints on its ends is clamped upright, or why it cannot be."""
    material = shop.material(panel.material)
    thickness_mm = material.thickness_mm if material is not None else 18.0
    return upright_findings(panel, shop.machine, thickness_mm)


def _sawn_findings(
    layout: KeptLayout, unplaced: list[PlanUnplaced], copies: dict[str, Copies]
) -> list[Finding]:
    """What blanks were sawn for and no longer fits them."""
    sawn_for = {key for sheet in layout.sheets if sheet.frozen for key in sheet.wanted}
    found = []
    for lost in unplaced:
        if (lost.piece, lost.copy) in sawn_for:
            piece = copies[lost.piece].piece
            found.append(
                Finding(
                    "no-room-in-sawn",
                    Severity.STOP,
                    f"{piece.name}, copy {lost.copy}, no longer fits the blanks that were sawn",
                    piece.panel,
                    remedy="Take back the change, make room by hand, or give up the sawn sheet.",
                )
            )
    return found


def _mass_findings(sheets: tuple[PlanSheet, ...], shop: Shop) -> list[Finding]:
    lift = shop.limits.lift_kg
    heavy = [s for s in sheets if lift is not None and s.mass_kg > lift]
    if not heavy:
        return []
    most = max(sheet.mass_kg for sheet in heavy)
    return [
        Finding(
            "sheet-heavy",
            Severity.NOTE,
            f"A full sheet weighs up to {most:.0f} kg, more than the {lift:g} kg one person lifts",
            remedy="Get help, or have the yard make the first cuts.",
        )
    ]


def _purchase(sheets: tuple[PlanSheet, ...]) -> tuple[PurchaseLine, ...]:
    """What to buy and what to take from the rack, in the shop's order."""
    lines: dict[str, list[PlanSheet]] = {}
    for sheet in sheets:
        lines.setdefault(sheet.stock.id, []).append(sheet)
    rows = []
    for group in lines.values():
        stock = group[0].stock
        rows.append(
            PurchaseLine(
                stock.id,
                stock.material,
                stock.width_mm,
                stock.height_mm,
                len(group),
                stock.in_rack,
                None if stock.cost is None else stock.cost * len(group),
                sum(sheet.mass_kg for sheet in group),
            )
        )
    return tuple(rows)
