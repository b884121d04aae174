"""Sentences of the planner in the project's own unit.

The core says every length in millimetres, so that a finding is the same value whatever is on
screen. Whoever shows a sentence passes it through here: lengths become inches or centimetres,
areas square inches and masses pounds, names of boards and panels stay as the maker wrote them.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable
from dataclasses import replace
from functools import lru_cache

from core.findings import Finding
from core.project.model import Project
from core.units import format_length

_LB_KG = 0.45359237  # exact: international yard and pound agreement, 1959
_NUMBER = r"[-−]?\d+(?:\.\d+)?"
_BETWEEN = r"\s?(?:×|–|,|to|by|and|or)\s?"
# 5.8 mm; 900 × 600 mm; 3 to 6 mm; 12.5, 30 mm; 4.2 mm²; 38 kg. Not 18 mm within a word.
_QUANTITY = re.compile(
    rf"(?<![\w.])(?P<values>{_NUMBER}(?:{_BETWEEN}{_NUMBER})*)[ \u00a0](?P<unit>mm²|mm|m²|kg)"
    r"(?![\w/²³])"
)
_QUOTED = re.compile(r"“[^”]*”|\"[^\"]*\"")
_IMPERIAL = ("in", "ft", "thou")

Say = Callable[[float], str]


def in_project_unit(text: str, project: Project, *, say: Say | None = None) -> str:
    """The text with its quantities in the project's unit.

    Left alone: what stands in quotation marks, and names of the project's boards and panels.
    say: writes a length in mm with its unit, where paper has a way of its own.

    >>> in_project_unit("A slot is 6.35 mm wide", Project(units="in"))
    'A slot is 1/4 in wide'
    """
    names = {m.name for m in project.shop.materials} | {p.name for p in project.panels}
    return in_unit(text, project.units, names, say=say)


def in_unit(text: str, unit: str, names: Iterable[str] = (), *, say: Say | None = None) -> str:
    """The same for a display unit, leaving alone these names and what is quoted."""
    if unit == "mm" or not text:
        return text
    parts: list[str] = []
    at = 0
    for found in _keep(frozenset(names)).finditer(text):
        parts += [_converted(text[at : found.start()], unit, say), found.group()]
        at = found.end()
    parts.append(_converted(text[at:], unit, say))
    return "".join(parts)


def told(finding: Finding, project: Project) -> Finding:
    """The finding with its sentence and remedy in the project's unit."""
    if project.units == "mm":
        return finding
    return replace(
        finding,
        message=in_project_unit(finding.message, project),
        remedy=in_project_unit(finding.remedy, project),
    )


@lru_cache(maxsize=32)
def _keep(names: frozenset[str]) -> re.Pattern[str]:
    """Matches what must stay as it is; the longest name first."""
    wanted = sorted((n for n in names if any(c.isdigit() for c in n)), key=len, reverse=True)
    return re.compile("|".join([_QUOTED.pattern, *(re.escape(name) for name in wanted)]))


def _converted(text: str, unit: str, say: Say | None) -> str:
    return _QUANTITY.sub(lambda found: _quantity(found, unit, say), text)


def _quantity(found: re.Match[str], unit: str, say: Say | None) -> str:
    kind, values = found["unit"], found["values"]
    if kind == "mm" and say is not None:
        return re.sub(_NUMBER, lambda n: say(_value(n.group())), values)
    if kind == "mm":
        shown = re.sub(_NUMBER, lambda n: _length(_value(n.group()), unit), values)
        return f"{shown} {unit}"
    if unit not in _IMPERIAL:
        return found.group()
    size, name = {"mm²": (25.4**2, "in²"), "m²": (304.8**2 / 1e6, "ft²"), "kg": (_LB_KG, "lb")}[
        kind
    ]
    return f"{re.sub(_NUMBER, lambda n: _short(_value(n.group()) / size), values)} {name}"


def _value(text: str) -> float:
    return float(text.replace("−", "-"))


def _length(length_mm: float, unit: str) -> str:
    """Bare; in inches a fraction where it is one, to a hundredth of a millimetre, else decimals."""
    if unit == "in":
        steps = length_mm / 25.4 * 64
        if abs(steps) >= 0.5 and abs(steps - round(steps)) * 25.4 / 64 < 0.01:
            return format_length(length_mm, "in", fraction=64, with_unit=False)
        if not length_mm:
            return "0"
        places = 3 if abs(length_mm) >= 0.25 else 4
        return format_length(length_mm, "in", precision=places, with_unit=False)
    return format_length(length_mm, unit, with_unit=False)


def _short(value: float) -> str:
    """Three figures, whole numbers above a hundred."""
    return f"{value:.0f}" if abs(value) >= 100 else f"{value:.3g}"
