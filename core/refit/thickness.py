"""What thickness to expect of a board that is sold under a nominal one, and what readings say.

The sentences name the standard a range comes from. The figures were taken from pages that
quote the standards, not from the standards themselves.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum

from core.errors import InvalidRequestError
from core.findings import Finding, Severity
from core.project.model import Project
from core.shop import BoardState, Material
from core.units import format_length

INCH_MM = 25.4


class Standard(StrEnum):
    """Standards that say how thick a board may be.

    PS_1_CATEGORY: the performance category stamped on North American plywood (PS 1; the limits
    of OSB under PS 2 are the same). PS_1_SANDED: sanded plywood under PS 1. EN_315: plywood,
    sanded, under EN 315. EN_622: MDF.
    """

    PS_1_CATEGORY = "PS 1 performance category"
    PS_1_SANDED = "PS 1 sanded"
    EN_315 = "EN 315"
    EN_622 = "EN 622-1 MDF"


@dataclass(frozen=True, slots=True)
class ExpectedRange:
    """Thickness allowed for a nominal one, mm. usual_mm: what is usually found, if known."""

    low_mm: float
    high_mm: float
    standard: Standard
    label: str
    usual_mm: float | None = None

    def holds(self, thickness_mm: float) -> bool:
        """True if a thickness lies in the range (to a thousandth of a millimetre)."""
        return self.low_mm - 1e-3 <= thickness_mm <= self.high_mm + 1e-3


# Category: (least, greatest, label usual), inches. PS 1, as quoted in secondary literature.
PS_1_CATEGORIES: dict[str, tuple[float, float, float]] = {
    "1/4": (0.219, 0.281, 0.225),
    "11/32": (0.313, 0.375, 0.322),
    "3/8": (0.344, 0.406, 0.354),
    "7/16": (0.406, 0.469, 0.418),
    "15/32": (0.438, 0.500, 0.451),
    "1/2": (0.469, 0.531, 0.483),
    "19/32": (0.563, 0.625, 0.578),
    "5/8": (0.594, 0.656, 0.609),
    "23/32": (0.688, 0.750, 0.703),
    "3/4": (0.719, 0.781, 0.734),
    "13/16": (0.781, 0.844, 0.788),
    "7/8": (0.831, 0.919, 0.849),
    "1": (0.950, 1.050, 0.970),
    "1-1/8": (1.069, 1.181, 1.091),
}


def _category_mm(name: str) -> float:
    whole, _, rest = name.rpartition("-")
    top, _, low = rest.partition("/")
    value = int(top) / int(low) if low else float(int(top))
    return (value + (int(whole) if whole else 0)) * INCH_MM


def performance_category(nominal_mm: float) -> str | None:
    """The PS 1 performance category of that nominal thickness, e.g. "23/32"; None if none is.

    >>> performance_category(18.25625)
    '23/32'
    """
    name = min(PS_1_CATEGORIES, key=lambda n: abs(_category_mm(n) - nominal_mm))
    return name if abs(_category_mm(name) - nominal_mm) <= 0.1 else None


def expected_range(nominal_mm: float, standard: Standard) -> ExpectedRange:
    """How thick a board of a nominal thickness may be under a standard, mm.

    EN 315 (sanded): +(0.2 + 0.03 t), −(0.4 + 0.03 t). PS 1 sanded: ± 1/64 in up to 3/4 in, ± 3 %
    above. PS 1 categories: their table. EN 622-1 MDF: ± 0.2 mm up to 19 mm, ± 0.3 mm above.
    All as quoted in secondary literature; the MDF figures partly from memory.

    Raises InvalidRequestError for a thickness that is no category under PS_1_CATEGORY, or is
    not above zero.

    >>> r = expected_range(18.0, Standard.EN_315)
    >>> round(r.low_mm, 2), round(r.high_mm, 2)
    (17.06, 18.74)
    """
    if not math.isfinite(nominal_mm) or nominal_mm <= 0:
        raise InvalidRequestError(
            f"A board of {nominal_mm:g} mm", "", "Give the thickness it is sold under."
        )
    t = nominal_mm
    label = f"{t:g} mm"
    if standard is Standard.PS_1_CATEGORY:
        name = performance_category(t)
        if name is None:
            raise InvalidRequestError(
                f"{t:g} mm is no performance category",
                "",
                f"Categories are {', '.join(PS_1_CATEGORIES)} inch.",
            )
        low, high, usual = (value * INCH_MM for value in PS_1_CATEGORIES[name])
        return ExpectedRange(low, high, standard, f"{name} CAT", usual)
    if standard is Standard.PS_1_SANDED:
        # 3/4 in is written as 19.05 and as 19 mm: both are "up to 3/4 in".
        spread = INCH_MM / 64 if t <= 0.75 * INCH_MM + 1e-6 else 0.03 * t
        return ExpectedRange(t - spread, t + spread, standard, label)
    if standard is Standard.EN_315:
        return ExpectedRange(t - (0.4 + 0.03 * t), t + (0.2 + 0.03 * t), standard, label)
    spread = 0.2 if t <= 19.0 else 0.3
    return ExpectedRange(t - spread, t + spread, standard, label)


def standards_for(material: Material) -> tuple[Standard, ...]:
    """The standards that may say something about a board, likeliest first, by name and size."""
    name = material.name.lower()
    if "mdf" in name or "fibreboard" in name or "fiberboard" in name:
        return (Standard.EN_622,)
    if performance_category(material.nominal_mm) is not None and not _is_metric(
        material.nominal_mm
    ):
        return (Standard.PS_1_CATEGORY, Standard.PS_1_SANDED)
    return (Standard.EN_315,)


def _is_metric(nominal_mm: float) -> bool:
    return abs(nominal_mm * 2 - round(nominal_mm * 2)) < 1e-6


def explain_thickness(material: Material, unit: str = "mm") -> tuple[str, ...]:
    """Sentences on what to expect of a board and what its readings say.

    unit: lengths are shown in it.
    """
    out = []
    for standard in standards_for(material)[:1]:
        span = expected_range(material.nominal_mm, standard)
        usual = ""
        if span.usual_mm is not None:
            usual = f"; {format_length(span.usual_mm, unit)} is usual"
        out.append(
            f"{standard.value} (as quoted in secondary literature) allows {span.label} boards "
            f"{format_length(span.low_mm, unit)} to {format_length(span.high_mm, unit)}{usual}."
        )
    measured = material.measured_mm
    if measured is None:
        out.append(
            "No reading yet: joints are made for the nominal thickness. Measure every sheet near "
            "its corners and the middles of its sides."
        )
        return tuple(out)
    state = _last_state(material)
    out.append(
        f"Joints are made for {format_length(measured, unit)}, the largest of "
        f"{len(_last_readings(material))} readings ({state.value})."
    )
    return tuple(out)


def _last_state(material: Material) -> BoardState:
    order = list(BoardState)
    return max((r.state for r in material.readings), key=order.index)


def _last_readings(material: Material) -> list[float]:
    state = _last_state(material)
    return [r.thickness_mm for r in material.readings if r.state is state]


def spread_mm(material: Material) -> float:
    """Difference of the largest and smallest reading in the most finished state; 0 if none."""
    if not material.readings:
        return 0.0
    values = _last_readings(material)
    return max(values) - min(values)


def thickness_findings(project: Project) -> tuple[Finding, ...]:
    """What the readings of the boards that panels use give cause to say.

    "thickness-spread": sheets differ by more than the fit, so the thinnest will rattle in a slot
    made for the thickest. "thickness-odd": the largest reading is outside what the standard
    allows, so it may be another board, or read wrongly. "thickness-stale": the board is planed
    before use but was measured as bought.
    """
    used = {panel.material for panel in project.panels}
    unit = project.units
    findings: list[Finding] = []
    for material in project.shop.materials:
        if material.name not in used or not material.readings:
            continue
        spread, measured = spread_mm(material), material.measured_mm
        assert measured is not None
        fit = project.shop.fit_mm(project.refit_rules.joint_class, material.name)
        if spread > fit + 1e-9:
            findings.append(
                Finding(
                    "thickness-spread",
                    Severity.WARN,
                    f"{material.name}: readings differ by {format_length(spread, unit)}, more "
                    f"than the fit of {format_length(fit, unit)}; slots made for the thickest "
                    f"board leave {format_length(spread + fit, unit)} round the thinnest",
                    remedy="Sort the sheets, or take the joints that show from one sheet.",
                )
            )
        planed = material.raw_mm is not None
        if planed and _last_state(material) is BoardState.BOUGHT:
            findings.append(
                Finding(
                    "thickness-stale",
                    Severity.WARN,
                    f"{material.name} is planed before use, but was measured as bought",
                    remedy="Measure it again once it is planed; joints follow that reading.",
                )
            )
        spans = [expected_range(material.nominal_mm, s) for s in standards_for(material)]
        if not planed and not any(span.holds(measured) for span in spans):
            span = spans[0]
            findings.append(
                Finding(
                    "thickness-odd",
                    Severity.WARN,
                    f"{material.name} measures {format_length(measured, unit)}; "
                    f"{span.standard.value} allows {format_length(span.low_mm, unit)} to "
                    f"{format_length(span.high_mm, unit)} for {span.label}",
                    remedy="Check the reading and which board it is.",
                )
            )
    return tuple(findings)
