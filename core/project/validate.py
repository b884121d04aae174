"""Ranges a project's values must keep, checked when it is opened and before it is planned."""

from __future__ import annotations

import math
from collections.abc import Iterable

from core.errors import InvalidProjectError
from core.project.model import Project
from core.project.output import check_output
from core.shop import Limits, Machine, Material, Rules, Stock

#: Letters of a currency's sign or code.
CURRENCY_MOST = 8


def _positive(value: float, where: str, what: str) -> None:
    if not 0 < value < math.inf:
        raise InvalidProjectError(
            f"{what} is {value:g} mm", where, "Give a size greater than zero."
        )


def _has_mass(value: float, where: str, what: str) -> None:
    if not 0 < value < math.inf:
        raise InvalidProjectError(
            f"{what} is {value:g} kg", where, "Give a mass greater than zero."
        )


def _not_negative(value: float, where: str, what: str) -> None:
    if not 0 <= value < math.inf:
        raise InvalidProjectError(
            f"{what} is {value:g} mm", where, "Give zero or more; a larger value is more room."
        )


def _unique(names: Iterable[str], where: str, what: str) -> None:
    seen: set[str] = set()
    for name in names:
        if name in seen:
            raise InvalidProjectError(f'Two {what} are called "{name}"', where, "Rename one.")
        seen.add(name)


def _material(material: Material) -> None:
    where = f"material {material.name}"
    _positive(material.nominal_mm, where, "The nominal thickness")
    for reading in material.readings:
        _positive(reading.thickness_mm, where, "A thickness reading")
    if material.raw_mm is not None:
        _positive(material.raw_mm, where, "The bought thickness")
    if not 0 < material.density_kg_m3 < math.inf:
        raise InvalidProjectError("The density is not above zero", where, "Give kg per m³.")


def _stock(stock: Stock) -> None:
    where = f"sheet {stock.id}"
    _positive(stock.width_mm, where, "The width")
    _positive(stock.height_mm, where, "The height")
    if stock.quantity is not None and stock.quantity < 0:
        raise InvalidProjectError("The quantity is below zero", where, "Give zero or more.")
    if stock.cost is not None and stock.cost < 0:
        raise InvalidProjectError("The cost is below zero", where, "Give zero or more.")
    if stock.points and (len(stock.points) < 3 or not stock.polygon.is_valid):
        raise InvalidProjectError("The outline crosses itself", where, "Draw the outline again.")
    for defect in stock.defects:
        if len(defect.points) < 3 or not defect.polygon.is_valid:
            raise InvalidProjectError("A defect's outline crosses itself", where, "Mark it again.")


def _machine(machine: Machine) -> None:
    for what, size in (("travel", machine.travel_mm), ("table", machine.table_mm)):
        _positive(size[0], machine.name, f"The width of the {what}")
        _positive(size[1], machine.name, f"The depth of the {what}")
    if not machine.cutters:
        raise InvalidProjectError("There is no bit", machine.name, "Add a bit in the Shop.")
    for cutter in machine.cutters:
        _positive(cutter.diameter_mm, machine.name, "A bit's diameter")
        if cutter.cutting_length_mm is not None:
            _positive(cutter.cutting_length_mm, machine.name, "A bit's cutting length")
    for clamp in machine.clamps:
        _positive(clamp.width_mm, machine.name, f"The width of {clamp.name or clamp.kind}")
        _positive(clamp.height_mm, machine.name, f"The depth of {clamp.name or clamp.kind}")
    for area in machine.vacuum:
        _positive(area.width_mm, machine.name, f"The width of {area.name or 'a vacuum area'}")
        _positive(area.height_mm, machine.name, f"The depth of {area.name or 'a vacuum area'}")
    _not_negative(machine.clamp_safety_mm, machine.name, "The distance from clamps")
    if machine.max_blank_kg is not None:
        _has_mass(machine.max_blank_kg, machine.name, "The heaviest blank")
    for what, longest in (
        ("length", machine.upright_long_mm),
        ("width", machine.upright_wide_mm),
        ("thickness", machine.upright_thick_mm),
    ):
        if longest is not None:
            _positive(longest, machine.name, f"The greatest {what} clamped upright")


def _limits(limits: Limits) -> None:
    where = "the limits"
    for what, size in (("vehicle", limits.vehicle_mm), ("door", limits.door_mm)):
        if size is not None:
            _positive(size[0], where, f"The width of the {what}")
            _positive(size[1], where, f"The height of the {what}")
    if limits.lift_kg is not None:
        _has_mass(limits.lift_kg, where, "What one person lifts")
    if limits.planer_width_mm is not None:
        _positive(limits.planer_width_mm, where, "The width of the planer")
    if limits.planer_min_length_mm is not None:
        _positive(limits.planer_min_length_mm, where, "The shortest length the planer takes")
    _not_negative(limits.snipe_mm, where, "The snipe")


def _rules(rules: Rules) -> None:
    where = "the rules"
    if rules.spacing_mm is not None:
        _not_negative(rules.spacing_mm, where, "The spacing")
    _not_negative(rules.edge_margin_mm, where, "The edge margin")
    _not_negative(rules.kerf_mm, where, "The kerf")
    _not_negative(rules.edge_trim_mm, where, "The edge trim")
    _not_negative(rules.fit_mm, where, "The fit")
    _not_negative(rules.blank_oversize_mm, where, "The oversize of a blank")
    _positive(rules.tab_mm, where, "The width of a tab")
    _positive(rules.tab_thick_mm, where, "The thickness of a tab")
    _positive(rules.skin_mm, where, "The skin left")
    _not_negative(rules.screw_clear_mm, where, "The distance of screws from the bit")
    _positive(rules.pin_mm, where, "The diameter of a pin")
    if len(rules.currency) > CURRENCY_MOST or not rules.currency.isprintable():
        raise InvalidProjectError(
            "The sign of the currency is too long", where, "Give a sign or a code, such as € or kr."
        )
    if rules.fence_reach_mm is not None:
        _positive(rules.fence_reach_mm, where, "The reach of the fence")


def validate_project(project: Project) -> Project:
    """The project itself if every value lies in its range.

    Raises InvalidProjectError naming the record and what to do.
    """
    shop = project.shop
    check_output(project.output)
    _machine(shop.machine)
    _limits(shop.limits)
    _rules(shop.rules)
    for material in shop.materials:
        _material(material)
    for stock in shop.stock:
        _stock(stock)
    for setting in shop.fits:
        _not_negative(setting.play_mm, f"fit for {setting.joint_class} joints", "The fit")
    drawn, where = project.refit_rules, "the rules of drawn joints"
    _not_negative(drawn.proud_mm, where, "The proud allowance")
    _not_negative(drawn.halving_clearance_mm, where, "The play in depth")
    if drawn.fit_mm is not None:
        _not_negative(drawn.fit_mm, where, "The fit")
    _unique((m.name for m in shop.materials), "the materials", "materials")
    _unique((s.id for s in shop.stock), "the sheets", "sheets")
    _unique((t.name for t in shop.teeth), "the drawn teeth", "teeth")
    for tooth in shop.teeth:
        if len(tooth.points) < 2:
            raise InvalidProjectError(
                "It has fewer than two points", f'tooth "{tooth.name}"', "Draw it again."
            )
    _unique((p.id for p in project.panels), "the panels", "panels")
    for panel in project.panels:
        where = f"panel {panel.name or panel.id}"
        if panel.quantity < 0:
            raise InvalidProjectError(
                f"The quantity is {panel.quantity}", where, "Give zero or more."
            )
        if not panel.region.polygon.is_valid or panel.region.area_mm2 <= 0:
            raise InvalidProjectError(
                "The outline crosses itself or holds no area", where, "Read its drawing again."
            )
        for seam in panel.seams or ():
            if len(seam.points) < 2:
                raise InvalidProjectError("A seam has fewer than two points", where, "Remove it.")
            if seam.fit_mm is not None:
                _not_negative(seam.fit_mm, where, "A seam's fit")
        for own in panel.refits:
            for value, name in ((own.fit_mm, "fit"), (own.proud_mm, "proud allowance")):
                if value is not None:
                    _not_negative(value, where, f"The {name} of a drawn joint")
    return project
