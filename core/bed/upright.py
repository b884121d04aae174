"""Boards clamped upright at the bed's end, to cut joints on their ends.

The board stands over the floor in front of the machine, one end up under the bit. What bounds it
is not the travel: it is how far the floor is down, how wide the clamp opens and how thick a
board goes between its jaws; and the bit must be long enough for the teeth.
"""

from __future__ import annotations

from core.findings import Finding, Severity
from core.project.model import Grain, Panel
from core.shop import Machine
from core.tolerances import FIT_REL


def upright_size(panel: Panel, thickness_mm: float) -> tuple[float, float, float]:
    """Length (standing), width and thickness of a panel with joints on its ends, mm.

    The ends lie across the grain; a panel without grain stands on its shorter side.
    """
    width, height = panel.size_mm
    along_x = panel.grain is Grain.ALONG or (panel.grain is Grain.FREE and width >= height)
    return (width, height, thickness_mm) if along_x else (height, width, thickness_mm)


def upright_findings(panel: Panel, machine: Machine, thickness_mm: float) -> tuple[Finding, ...]:
    """What keeps a panel's ends from being cut upright, and how it is clamped if nothing does."""
    if panel.ends_mm <= 0:
        return ()
    size = upright_size(panel, thickness_mm)
    bounds = (machine.upright_long_mm, machine.upright_wide_mm, machine.upright_thick_mm)
    words = ("long", "wide", "thick")
    wrong = [
        f"it is {is_mm:g} mm {word}, {most:g} mm is the most"
        for is_mm, most, word in zip(size, bounds, words, strict=True)
        if most is not None and is_mm > most * (1 + FIT_REL)
    ]
    reach = machine.cutter.cutting_length_mm
    if reach is not None and panel.ends_mm > reach * (1 + FIT_REL):
        wrong.append(f"its teeth are {panel.ends_mm:g} mm deep and the bit cuts {reach:g} mm")
    if wrong:
        return (
            Finding(
                "upright-does-not-fit",
                Severity.STOP,
                f'"{panel.name}" cannot be clamped upright for its ends: {"; ".join(wrong)}',
                panel.id,
                remedy="Cut its ends in another way, or correct the limits in the Shop.",
            ),
        )
    if all(bound is None for bound in bounds):
        return (
            Finding(
                "upright-not-known",
                Severity.WARN,
                f'"{panel.name}" has joints on its ends, and it is not known what can be clamped '
                "upright",
                panel.id,
                remedy="Enter the longest, widest and thickest board in the Shop, or lay it flat.",
            ),
        )
    return (
        Finding(
            "upright-clamping",
            Severity.NOTE,
            f'"{panel.name}": {"; ".join(upright_steps(panel, size))}',
            panel.id,
        ),
    )


def upright_steps(panel: Panel, size_mm: tuple[float, float, float]) -> tuple[str, ...]:
    """How the two ends are clamped one after the other."""
    _, wide, thick = size_mm
    return (
        f"clamp it upright, show face towards you, one edge against the stop; seen from above its "
        f"end is {wide:g} × {thick:g} mm and the teeth go {panel.ends_mm:g} mm down from it",
        "for the second end turn it end over end so that the show face stays towards you: the "
        "edge that was at the stop is then away from it, so start the teeth from the other edge",
    )
