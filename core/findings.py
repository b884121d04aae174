"""Findings: what the planner noticed, as values that a list, a page or a drawing can show."""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import StrEnum
from types import MappingProxyType

#: Metadata of a field that a project file only holds where it differs from its default.
_SPARSE = MappingProxyType({"left-out-if-default": True})


class Severity(StrEnum):
    """How much a finding matters. STOP: cutting as planned would fail or spoil a part."""

    STOP = "stop"
    WARN = "warn"
    NOTE = "note"


_ORDER = {Severity.STOP: 0, Severity.WARN: 1, Severity.NOTE: 2}


@dataclass(frozen=True, slots=True)
class Finding:
    """One thing noticed.

    code: stable kebab-case name of the kind, e.g. "open-outline". message: one sentence with
    numbers and units. panel: id of the panel concerned or None. at: place on the drawing or
    sheet, (x, y) in mm, or None. remedy: what to do, "" if nothing. source: file name the
    finding comes from or "". fix: name of an automatic remedy the window can offer
    (e.g. "take-as-mm"), with what it needs to know after a colon where it needs anything
    ("ignore-layer:Notes"), or "". drawing: id of the drawing it is about, where the project it
    is told with has it; two drawings may have one file name.
    """

    code: str
    severity: Severity
    message: str
    panel: str | None = None
    at: tuple[float, float] | None = None
    remedy: str = ""
    source: str = ""
    fix: str = ""
    drawing: str = field(default="", metadata=_SPARSE)


def sort_findings(findings: list[Finding] | tuple[Finding, ...]) -> tuple[Finding, ...]:
    """Stops first, then warnings, then notes; within a severity the order given is kept."""
    return tuple(sorted(findings, key=lambda finding: _ORDER[finding.severity]))


def has_stop(findings: list[Finding] | tuple[Finding, ...]) -> bool:
    """True if at least one finding is a stop."""
    return any(finding.severity is Severity.STOP for finding in findings)


def counted(number: int, one: str, many: str = "") -> str:
    """``1 piece``, ``3 pieces``; many: where an s is not enough."""
    return f"{number} {one if number == 1 else many or one + 's'}"
