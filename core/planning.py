"""Project → plan: the whole way, readable top to bottom.

``cut_panels`` makes pieces of panels, ``lay_out`` gives every copy a place, ``assemble_plan``
works a layout out into sheets, cuts and setups and checks all of it, ``plan_project`` does one
after the other. Each is a pure function.
"""

from __future__ import annotations

from dataclasses import replace

from core.findings import Finding, Severity, sort_findings
from core.layout import (
    Copies,
    assemble_sheets,
    compare_ways,
    fits_a_blank,
    lay_out_pieces,
    unmatched,
)
from core.pieces import (
    CutContext,
    PieceSet,
    Progress,
    Stop,
    cut_context,
    cut_panels,
    piece_turns,
    seam_lines,
)
from core.plan import (
    Plan,
    PlanPiece,
    PlanSheet,
    PlanUnplaced,
    PlanWay,
    PurchaseLine,
)
from core.project.model import (
    CutBy,
    KeptLayout,
    Project,
    Rank,
)
from core.project.validate import validate_project
from core.shop import Shop
from core.units import format_size

__all__ = [
    "CutContext",
    "PieceSet",
    "assemble_plan",
    "check_project",
    "compare_project",
    "cut_context",
    "cut_panels",
    "lay_out",
    "piece_turns",
    "plan_project",
    "seam_lines",
]

#: Part of the whole way that cutting the panels takes, for the progress shown.
CUTTING_SHARE = 0.15


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
    """Everything that follows from a layout, also one made by hand; every rule checked anew.

    A piece that has changed since it was laid somewhere has no place there any more, and a copy
    that is no longer wanted is not cut; both get their places back with what took them away.
    """
    layout = _still_laid(layout, pieces)
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
            if (p.piece, p.copy) in placed:
                name = copies[p.piece].piece.name
                findings.append(
                    Finding(
                        "copy-too-many",
                        Severity.STOP,
                        f"{name}, copy {p.copy}, is on sheet {sheet.number} and elsewhere too",
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


def _still_laid(layout: KeptLayout, pieces: PieceSet) -> KeptLayout:
    """The layout without places that were made for another shape of their piece, and without
    copies beyond those that are wanted."""
    digests = {piece.id: piece.digest for piece in pieces.pieces if piece.digest}
    wanted = {c.piece.id: c.quantity for c in pieces.copies()}
    placed = tuple(
        p
        for p in layout.placed
        if (not p.digest or p.digest == digests.get(p.piece, p.digest))
        and p.copy <= wanted.get(p.piece, p.copy)
    )
    return layout if len(placed) == len(layout.placed) else replace(layout, placed=placed)


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
