"""Findings: what the planner noticed, as values that a list, a page or a drawing can show."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum


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
    ("ignore-layer:Notes"), or "".
    """

    code: str
    severity: Severity
    message: str
    panel: str | None = None
    at: tuple[float, float] | None = None
    remedy: str = ""
    source: str = ""
    fix: str = ""


def sort_findings(findings: list[Finding] | tuple[Finding, ...]) -> tuple[Finding, ...]:
    """Stops first, then warnings, then notes; within a severity the order given is kept."""
    return tuple(sorted(findings, key=lambda finding: _ORDER[finding.severity]))


def has_stop(findings: list[Finding] | tuple[Finding, ...]) -> bool:
    """True if at least one finding is a stop."""
    return any(finding.severity is Severity.STOP for finding in findings)


def counted(number: int, one: str, many: str = "") -> str:
    """``1 piece``, ``3 pieces``; many: where an s is not enough."""
    return f"{number} {one if number == 1 else many or one + 's'}"
