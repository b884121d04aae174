"""The fits a test piece tries, what they are called, and what its result changes."""

from __future__ import annotations

import math
from dataclasses import replace

from core.errors import InvalidProjectError, InvalidRequestError
from core.project.model import Project
from core.shop import Cutter, FitSetting, JointClass, Machine

# Total play for wood joints cut on a router, 0.05 to 0.25 mm: common practice, no source.
STEP_MM = 0.05
STEP_IN_MM = 0.002 * 25.4
_WORDS: dict[int, tuple[str, ...]] = {
    1: ("AS SET",),
    2: ("TIGHT", "LOOSE"),
    3: ("TIGHT", "EASY", "LOOSE"),
    4: ("TIGHT", "SNUG", "EASY", "LOOSE"),
    5: ("TIGHT", "SNUG", "EASY", "FREE", "LOOSE"),
}


def fit_series(fit_mm: float, count: int, *, inches: bool = False) -> tuple[float, ...]:
    """Total plays to try, mm, growing: the fit now set in the middle, steps of 0.05 mm (0.002 in).

    None is negative: if the middle would be too low, the series starts at its lowest and goes
    on further. count ≥ 1.

    >>> fit_series(0.15, 5)
    (0.05, 0.1, 0.15, 0.2, 0.25)
    """
    if count < 1 or not math.isfinite(fit_mm) or fit_mm < 0:
        raise InvalidRequestError("A series of fits needs a fit of zero or more and a count")
    step = STEP_IN_MM if inches else STEP_MM
    below = min((count - 1) // 2, int(fit_mm / step + 1e-9))
    return tuple(max(0.0, round(fit_mm + step * (k - below), 6)) for k in range(count))


def fit_words(count: int) -> tuple[str, ...]:
    """What each fit of a series is called on the piece, tightest first."""
    return _WORDS[count] if count in _WORDS else tuple(str(k + 1) for k in range(count))


def fit_figure(fit_mm: float, *, inches: bool = False) -> str:
    """The number on the piece: total play in mm, or in inches for a project in inches."""
    return f"{fit_mm / 25.4:.3f}".replace("0.", ".", 1) if inches else f"{fit_mm:.2f}"


def bit_from_slot(cutter: Cutter, *, drawn_mm: float, measured_mm: float) -> float:
    """The bit's real diameter from the width of a slot it cut, mm.

    Each side of a slot is off by half of what the bit is off, so the slot is as much wider or
    narrower than drawn as the bit is (own derivation). Raises InvalidRequestError if the result
    lies more than a tenth from the nominal diameter: then something else went wrong.

    >>> round(bit_from_slot(Cutter(6.35), drawn_mm=18.0, measured_mm=17.95), 2)
    6.3
    """
    real = cutter.diameter_mm + (measured_mm - drawn_mm)
    if not math.isfinite(real) or abs(real - cutter.diameter_mm) > 0.1 * cutter.diameter_mm:
        raise InvalidRequestError(
            f"A slot drawn {drawn_mm:.2f} mm and measured {measured_mm:.2f} mm would make the "
            f"{cutter.diameter_mm:g} mm bit {real:.2f} mm",
            "",
            "Measure again, and check which bit was in the router.",
        )
    return real


def fit_from_test(
    project: Project,
    material: str,
    cutter: Cutter,
    play_mm: float,
    measured_bit_mm: float | None = None,
    *,
    joint_class: JointClass = JointClass.GLUED,
    along_mm: float | None = None,
    across_mm: float | None = None,
) -> Project:
    """The project with the result of a test piece kept for this board and bit.

    play_mm: total play of the joint that was right, 0 or more. along_mm, across_mm: what was
    right along and across the grain, kept beside it. measured_bit_mm: the bit's real diameter,
    if it was measured. An earlier result for the same board, bit and class is
    replaced. Raises InvalidProjectError for a material or bit the project does not have,
    InvalidRequestError for a play below zero.
    """
    if not math.isfinite(play_mm) or play_mm < 0:
        raise InvalidRequestError(
            f"A fit of {play_mm:g} mm", "", "Give zero or more; a larger fit is looser."
        )
    shop = project.shop
    if material and shop.material(material) is None:
        raise InvalidProjectError(
            f'There is no material "{material}"', "", "Add it in the Shop, or pick another."
        )
    if all(c.diameter_mm != cutter.diameter_mm for c in shop.machine.cutters):
        raise InvalidProjectError(
            f"The router has no {cutter.diameter_mm:g} mm bit", "", "Add the bit in the Shop."
        )
    machine = shop.machine
    if measured_bit_mm is not None:
        if not math.isfinite(measured_bit_mm) or measured_bit_mm <= 0:
            raise InvalidRequestError(
                f"A bit of {measured_bit_mm:g} mm", "", "Give the diameter that was measured."
            )
        machine = _with_measured(machine, cutter, measured_bit_mm)
    result = FitSetting(
        play_mm, joint_class, material, cutter.diameter_mm, True, along_mm, across_mm
    )
    key = (joint_class, material, cutter.diameter_mm)
    fits = tuple(f for f in shop.fits if (f.joint_class, f.material, f.cutter_mm) != key)
    return replace(project, shop=replace(shop, machine=machine, fits=(*fits, result)))


def _with_measured(machine: Machine, cutter: Cutter, measured_mm: float) -> Machine:
    done = False
    cutters = []
    for own in machine.cutters:
        same = own == cutter if cutter in machine.cutters else not done
        if not done and same and own.diameter_mm == cutter.diameter_mm:
            own, done = replace(own, measured_mm=round(measured_mm, 6)), True
        cutters.append(own)
    return replace(machine, cutters=tuple(cutters))
