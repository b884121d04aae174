"""Drawing → pieces: every panel re-fitted, split where it must be, and cut as the bit leaves it.

Pieces are kept by content, so a panel that did not change is not cut again.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

from core.bed.upright import upright_findings
from core.errors import SeamwrightError
from core.findings import Finding, Severity, sort_findings
from core.geometry import Region
from core.joints import StyleBook, styles_of
from core.joints.bits import CutDeep, PieceAccess, bit_findings, piece_access
from core.joints.style import RELIEF_NEED
from core.layout import (
    Copies,
)
from core.outlines.model import Feature, Role
from core.plan import (
    PlanPanel,
    PlanPiece,
    PlanSeam,
)
from core.project.model import (
    CutBy,
    Grain,
    KeptLayout,
    Panel,
    Project,
    SeamLine,
    SplitChoice,
)
from core.recent import Recent
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
    if len(made) == len(wanted):
        _cut_panel.next_round()
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


def _cut_one(
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


_cut_panel = Recent(_cut_one, rounds=8)


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
    notes = [seam.properties.mating, *(n for n in seam.properties.needs if n != RELIEF_NEED)]
    if seam.properties.needs_relief:
        relieved = any(joint.corners for joint in seam.joints)
        notes.append(
            "relief is cut at its inside corners"
            if relieved
            else "no relief is cut: square its inside corners by hand, or round the mate's"
        )
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


def _upright(panel: Panel, shop: Shop) -> tuple[Finding, ...]:
    """How a panel with joints on its ends is clamped upright, or why it cannot be."""
    material = shop.material(panel.material)
    thickness_mm = material.thickness_mm if material is not None else 18.0
    return upright_findings(panel, shop.machine, thickness_mm)
