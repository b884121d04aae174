"""Boards whose joints are cut with a fit that no test piece has shown to be right."""

from __future__ import annotations

from collections.abc import Iterable

from core.findings import Finding, Severity
from core.project.model import Project
from core.shop import JointClass, Shop
from core.units import format_length, play_words


def tested(shop: Shop, material: str, joint_class: JointClass) -> bool:
    """True if the fit in use for a board, the outline's bit and a joint class was tested."""
    cutter_mm = shop.machine.cutter.diameter_mm
    return any(
        setting.from_test
        and setting.joint_class is joint_class
        and setting.material == material
        and setting.cutter_mm == cutter_mm
        for setting in shop.fits
    )


def fit_findings(project: Project, joints: Iterable[tuple[str, JointClass]]) -> tuple[Finding, ...]:
    """Notes "fit-not-tested": per board and joint class, once each.

    joints: (board, class) of every joint that is cut.
    """
    shop, unit = project.shop, project.units
    bit = format_length(shop.machine.cutter.diameter_mm, unit)
    found = []
    for material, joint_class in dict.fromkeys(joints):
        if shop.material(material) is None or tested(shop, material, joint_class):
            continue
        play = play_words(shop.fit_mm(joint_class, material), unit)
        found.append(
            Finding(
                "fit-not-tested",
                Severity.NOTE,
                f"The fit of {joint_class.value} joints in {material} with the {bit} bit is "
                f"assumed: {play}",
                remedy="Cut a test piece first and enter which fit was right.",
            )
        )
    return tuple(found)
