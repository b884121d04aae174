"""From a sheet's coordinates to the bed's and back, as a setup lies."""

from __future__ import annotations

from shapely import affinity
from shapely.geometry.base import BaseGeometry

from core.plan import PlanSetup


def to_bed(shape: BaseGeometry, setup: PlanSetup) -> BaseGeometry:
    """A shape of the sheet where it lies on the machine, the travel's corner at (0, 0)."""
    if setup.turned:
        matrix = (0.0, -1.0, 1.0, 0.0, setup.y_mm + setup.height_mm, -setup.x_mm)
        shape = affinity.affine_transform(shape, matrix)
    else:
        shape = affinity.translate(shape, -setup.x_mm, -setup.y_mm)
    return affinity.translate(shape, setup.bed_x_mm, setup.bed_y_mm)


def from_bed(shape: BaseGeometry, setup: PlanSetup) -> BaseGeometry:
    """A shape of the bed in the sheet's coordinates."""
    shape = affinity.translate(shape, -setup.bed_x_mm, -setup.bed_y_mm)
    if setup.turned:
        matrix = (0.0, 1.0, -1.0, 0.0, setup.x_mm, setup.y_mm + setup.height_mm)
        return affinity.affine_transform(shape, matrix)
    return affinity.translate(shape, setup.x_mm, setup.y_mm)
