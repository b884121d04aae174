"""What the commands of the command line do. No Qt in here."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Iterable
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from app.cli import EXIT_PLANNED, EXIT_STOPS
from app.cli_lengths import length_of, size_of
from app.cli_tables import add_table, is_table
from core.errors import InvalidProjectError
from core.findings import Finding, counted, has_stop, sort_findings
from core.plan import Plan
from core.project.edits import PanelDefaults, add_drawing
from core.project.file import load_project, save_project
from core.project.model import Grain, KeptLayout, Project
from core.project.saying import in_project_unit, told
from core.project.validate import validate_project
from core.shop import Cutter, Material, Reading, Shop, Stock
from core.units import format_length, format_size

if TYPE_CHECKING:
    from core.reports.words import Words

_SIGNS = {"stop": "●", "warn": "▲", "note": "■"}


# --- import -------------------------------------------------------------------------------


def import_drawings(options: argparse.Namespace) -> int:
    """Read drawings into a project that is there, or into a new one."""
    path = Path(options.project)
    if path.exists():
        project = load_project(path)
        fresh = False
    else:
        project = Project(name=path.stem, units=options.units or "mm")
        fresh = options.units is None
    project = replace(project, shop=_shop_with(project.shop, options, project.units))
    if options.refit:
        project = replace(project, refit=True)
    defaults = PanelDefaults(
        material=_material_name(project.shop, options), grain=Grain(options.grain or "free")
    )
    findings: list[Finding] = []
    for name in options.files:
        if is_table(name):
            edited = add_table(project, name, units=options.units, defaults=defaults)
        else:
            edited = add_drawing(
                project,
                name,
                units=options.units,
                defaults=defaults,
                project_dir=path.parent,
            )
        project = edited.project
        if fresh and project.drawings:
            # A new project shows lengths in the unit of its first drawing.
            project = replace(project, units="in" if project.drawings[0].units == "in" else "mm")
            fresh = False
        findings += edited.findings
        touched = {*edited.added, *edited.changed}
        if not is_table(name) and (options.material or options.grain):
            project = _with_decisions(project, touched, options, defaults)
    save_project(validate_project(project), path)
    for panel in project.panels:
        size = format_size(*panel.size_mm, project.units)
        print(f"{panel.id:>4}  {panel.name}  {size}  × {panel.quantity}  {panel.material}")
    _print_findings(findings, project)
    return EXIT_STOPS if has_stop(findings) else EXIT_PLANNED


def _with_decisions(
    project: Project, touched: Iterable[str], options: argparse.Namespace, defaults: PanelDefaults
) -> Project:
    """Panels of the files named take the material and grain given on the command line."""
    panels = []
    for panel in project.panels:
        if panel.id in set(touched):
            if options.material:
                panel = replace(panel, material=defaults.material)
            if options.grain:
                panel = replace(panel, grain=defaults.grain)
        panels.append(panel)
    return replace(project, panels=tuple(panels))


def _material_name(shop: Shop, options: argparse.Namespace) -> str:
    if options.material:
        return str(options.material)
    return shop.materials[0].name if shop.materials else ""


def _shop_with(shop: Shop, options: argparse.Namespace, units: str) -> Shop:
    """The shop with what the options say about machine, board, sheets and rules."""

    machine = shop.machine
    if options.bed:
        bed = size_of("--bed", options.bed, units)
        travel = (bed.width_mm, bed.height_mm)
        machine = replace(machine, travel_mm=travel, table_mm=travel)
    if options.table:
        table = size_of("--table", options.table, units)
        machine = replace(machine, table_mm=(table.width_mm, table.height_mm))
    if options.cutter:
        first = Cutter(length_of("--cutter", options.cutter, units, allow_zero=False))
        machine = replace(machine, cutters=(first, *machine.cutters[1:]))
    rules = shop.rules
    for name, field in (
        ("spacing", "spacing_mm"),
        ("edge_margin", "edge_margin_mm"),
        ("fit", "fit_mm"),
        ("kerf", "kerf_mm"),
    ):
        text = getattr(options, name)
        if text is not None:
            option = "--" + name.replace("_", "-")
            changes: dict[str, Any] = {field: length_of(option, text, units)}
            rules = replace(rules, **changes)
    shop = replace(shop, machine=machine, rules=rules)
    shop = _shop_with_board(shop, options, units)
    return _shop_with_sheets(shop, options, units)


def _shop_with_board(shop: Shop, options: argparse.Namespace, units: str) -> Shop:
    if not (options.material or options.thickness or options.measured) and shop.materials:
        return shop
    name = _material_name(shop, options) or "Board"
    material = shop.material(name)
    if material is None:
        nominal = length_of("--thickness", options.thickness or "18 mm", units, allow_zero=False)
        material = Material(name, nominal)
    elif options.thickness:
        nominal = length_of("--thickness", options.thickness, units, allow_zero=False)
        material = replace(material, nominal_mm=nominal)
    if options.measured:
        measured = length_of("--measured", options.measured, units, allow_zero=False)
        material = replace(material, readings=(Reading(measured),))
    if not options.material:
        options.material = name
    others = tuple(m for m in shop.materials if m.name != name)
    return replace(shop, materials=(*others, material))


def _shop_with_sheets(shop: Shop, options: argparse.Namespace, units: str) -> Shop:
    name = _material_name(shop, options)
    stock = list(shop.stock)
    for text in options.sheet or ():
        size = size_of("--sheet", text, units)
        same = next(
            (
                k
                for k, s in enumerate(stock)
                if s.material == name
                and abs(s.width_mm - size.width_mm) < 1e-6
                and abs(s.height_mm - size.height_mm) < 1e-6
                and not s.points
            ),
            None,
        )
        if same is not None:
            stock[same] = replace(stock[same], quantity=size.quantity)
            continue
        number = 1 + sum(1 for s in stock)
        while any(s.id == f"sheet{number}" for s in stock):
            number += 1
        stock.append(Stock(f"sheet{number}", name, size.width_mm, size.height_mm, size.quantity))
    return replace(shop, stock=tuple(stock))


# --- plan, check, test piece --------------------------------------------------------------


def plan(options: argparse.Namespace) -> int:
    """Work out the plan of a project and write every file of it."""
    from core.planning import compare_project, cut_panels, plan_project
    from core.reports import write_plan_json, write_reports

    project = load_project(options.project)
    if not project.panels:
        raise InvalidProjectError(
            "There is no panel to plan", options.project, "Import a drawing first."
        )
    out = Path(options.out)
    if out.exists() and not out.is_dir():
        raise InvalidProjectError("This is a file, not a folder", str(out), "Name a folder.")
    bar = _ProgressLine()
    result = plan_project(
        project,
        seconds=options.seconds,
        steps=options.steps,
        seed=options.seed,
        progress=bar.show,
    )
    if options.compare:
        ways = compare_project(
            project,
            cut_panels(project),
            seconds=options.seconds,
            steps=options.steps,
            progress=bar.show,
        )
        result = replace(result, ways=ways)
    bar.done()
    write_reports(result, out)
    write_plan_json(result, out / "plan.json")
    print_summary(result)
    print(f"\nWritten to {out}: plan.json, cut-list.pdf, labels.pdf, pieces.csv, sheets, setups")
    return EXIT_PLANNED if result.is_clean else EXIT_STOPS


def check(options: argparse.Namespace) -> int:
    """Print the findings of a project."""
    from core.planning import check_project

    project = load_project(options.project)
    findings = check_project(project)
    _print_findings(findings, project)
    if not findings:
        print("Nothing was found wrong.")
    return EXIT_STOPS if has_stop(findings) else EXIT_PLANNED


def test_piece(options: argparse.Namespace) -> int:
    """Write the drawing of the test piece, or keep what came out of it, or both."""
    from app.cli_testpiece import run_test_piece

    return run_test_piece(options)


class _ProgressLine:
    """One line on a terminal that is written over; silent where there is no terminal."""

    def __init__(self) -> None:
        self.on = sys.stderr.isatty()

    def show(self, fraction: float, text: str, layout: KeptLayout | None = None) -> None:
        """Show the part done and what is going on."""
        if self.on:
            print(f"\r\033[K{fraction:4.0%}  {text}", end="", file=sys.stderr, flush=True)

    def done(self) -> None:
        """Clear the line."""
        if self.on:
            print("\r\033[K", end="", file=sys.stderr, flush=True)


def print_summary(result: Plan) -> None:
    """The plan as a table: sheets, totals, what to buy, findings."""
    units = result.project.units
    rows: list[tuple[str, ...]] = [("Sheet", "Board", "Size", "Blanks", "Pieces", "Used")]
    for sheet in result.sheets:
        rows.append(
            (
                sheet.id,
                sheet.stock.material,
                format_size(sheet.stock.width_mm, sheet.stock.height_mm, units),
                str(len(sheet.blanks)) if sheet.blanks else "–",
                str(len(sheet.placements)),
                f"{sheet.yield_share:.1%}",
            )
        )
    _print_table(rows)
    placed = sum(len(sheet.placements) for sheet in result.sheets)
    print(
        f"\n{counted(placed, 'piece')} on {counted(len(result.sheets), 'sheet')}, "
        f"{result.yield_share:.1%} used; {result.steps} steps, seed {result.seed}."
    )
    if result.sheet_bound:
        least = counted(result.sheet_bound, "sheet")
        print(f"No plan of these pieces can use fewer than {least}.")
    from core.reports.words import words_of

    words = words_of(result.project)
    _print_ways(result, words)
    for line in result.purchase:
        size = format_size(line.width_mm, line.height_mm, units)
        verb = "Take" if line.in_rack else "Buy"
        where = " from the rack" if line.in_rack else ""
        cost = "" if line.cost is None or line.in_rack else f", cost {words.money(line.cost)}"
        mass = in_project_unit(f"{line.mass_kg:.0f} kg", result.project)
        print(f"{verb} {line.quantity} × {line.material} {size}{where} ({mass}{cost})")
    for missing in result.unplaced:
        reason = in_project_unit(missing.reason, result.project)
        sign = "■ Left out" if missing.spare else "● Not placed"
        print(f"{sign}: {missing.piece}, copy {missing.copy}: {reason}")
    _print_findings(result.findings, result.project)


def _print_ways(result: Plan, words: Words) -> None:
    """The ways onto the machine, if they were compared."""
    from core.reports.ways import HEADS, MEANING, way_rows

    if not result.ways:
        return
    print()
    rows = way_rows(result.ways, words)
    _print_table([HEADS, *(row.cells for row in rows)])
    for row in rows:
        if row.note:
            note = in_project_unit(row.note, result.project)
            print(f"  {row.way.material}, {row.way.title}: {note}")
    print(MEANING)


def _print_table(rows: list[tuple[str, ...]]) -> None:
    widths = [max(len(row[k]) for row in rows) for k in range(len(rows[0]))]
    for number, row in enumerate(rows):
        cells = [
            text.ljust(width) if k < 3 else text.rjust(width)
            for k, (text, width) in enumerate(zip(row, widths, strict=True))
        ]
        print("  ".join(cells).rstrip())
        if number == 0:
            print("  ".join("─" * width for width in widths))


def _print_findings(findings: Iterable[Finding], project: Project) -> None:
    for noticed in sort_findings(tuple(findings)):
        finding = told(noticed, project)
        source = f"{finding.source}: " if finding.source else ""
        place = ""
        if finding.at is not None:
            places = {"mm": 1, "cm": 2}.get(project.units, 3)
            x, y = (format_length(v, project.units, precision=places) for v in finding.at)
            place = f" (at {x}, {y})"
        remedy = f" {finding.remedy}" if finding.remedy else ""
        print(f"{_SIGNS[finding.severity]} {source}{finding.message}{place}.{remedy}")
