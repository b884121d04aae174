"""Lengths given as options: an error names the option it was given for."""

from __future__ import annotations

from core.errors import BadLengthError
from core.units import Size, parse_length, parse_size


def length_of(option: str, text: str, units: str, *, allow_zero: bool = True) -> float:
    """An option's length in mm. units: of bare numbers."""
    try:
        return parse_length(text, units, allow_zero=allow_zero)
    except BadLengthError as error:
        raise BadLengthError(error.what, option, error.remedy) from error


def size_of(option: str, text: str, units: str) -> Size:
    """An option's width and height, with a count where one is given. units: of bare numbers."""
    try:
        return parse_size(text, units)
    except BadLengthError as error:
        raise BadLengthError(error.what, option, error.remedy) from error
