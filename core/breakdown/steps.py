"""The saw list as a person follows it, as data: marks for a rail saw, fence settings for a bench.
"""

from __future__ import annotations

from core.errors import InvalidRequestError


def mass_kg(area_mm2: float, thickness_mm: float, density_kg_m3: float) -> float:
    """Mass of a board: area × thickness × density.

    Raises InvalidRequestError for a negative value.
    >>> round(mass_kg(1220 * 2440, 18, 685), 2)
    36.7
    """
    if min(area_mm2, thickness_mm, density_kg_m3) < 0:
        raise InvalidRequestError(
            "Area, thickness and density cannot be negative",
            f"{area_mm2:g} mm², {thickness_mm:g} mm, {density_kg_m3:g} kg/m³",
            "Correct the board.",
        )
    return area_mm2 * thickness_mm * density_kg_m3 * 1e-9
