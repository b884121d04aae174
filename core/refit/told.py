"""What re-cutting tells: what was done, what is asked, what did not go."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

from core.errors import SeamwrightError
from core.findings import Finding, Severity
from core.project.model import Panel, Project
from core.project.refit import SizeHold
from core.refit.items import RefitItem, SizeChange
from core.refit.mates import Reading
from core.refit.walls import Blocked
from core.units import format_length


def called(kind: str) -> str:
    """A joint's kind as the maker says it."""
    return "row of teeth" if kind == "comb" else kind


def ask(project: Project, panel: Panel, item: RefitItem) -> Finding:
    """A doubtful joint: the maker decides."""
    unit = project.units
    return Finding(
        "refit-ask",
        Severity.WARN,
        f"{panel.name}: a {called(item.reading.value)} drawn {format_length(item.size_mm, unit)} "
        f"is left as drawn, because {' and '.join(item.doubts)}",
        panel.id,
        item.at,
        "Say on the Joints stage whether it is re-cut, and for which board.",
        fix="refit-decide",
    )


def clash(panel: Panel, item: RefitItem) -> Finding:
    """Two joints want one wall in different places."""
    return Finding(
        "refit-clash",
        Severity.WARN,
        f"{panel.name}: a {called(item.reading.value)} is left as drawn, because a wall of it "
        "belongs to another joint that moves it differently",
        panel.id,
        item.at,
        "Choose one of the two.",
    )


def failed(panel: Panel, item: RefitItem, problem: SeamwrightError) -> Finding:
    """A joint that cannot be re-cut, and why."""
    reason = problem.what[:1].lower() + problem.what[1:]
    return Finding(
        "refit-failed",
        Severity.WARN,
        f"{panel.name}: a {called(item.reading.value)} is left as drawn: {reason}",
        panel.id,
        item.at,
        problem.remedy or "Draw the joint again.",
    )


def done(
    project: Project, panel: Panel, done: list[RefitItem], sizes: tuple[SizeChange, ...]
) -> list[Finding]:
    """What was re-cut, and the sizes that change for it."""
    if not done:
        return []
    unit = project.units
    findings = []
    counts = Counter(
        (called(item.reading.value), round(item.size_mm, 3), round(item.becomes_mm, 3))
        for item in done
    )
    parts = [
        f"{n} × {reading} {format_length(old, unit)} → {format_length(new, unit)}"
        for (reading, old, new), n in counts.items()
    ]
    findings.append(
        Finding(
            "refit-done",
            Severity.NOTE,
            f"{panel.name}: re-cut for the boards as measured: {', '.join(parts)}",
            panel.id,
        )
    )
    for change in sizes:
        findings.append(
            Finding(
                "refit-size",
                Severity.NOTE,
                f"{panel.name}: its {change.what} becomes "
                f"{format_length(change.after_mm, unit)} instead of "
                f"{format_length(change.before_mm, unit)}; the {project.refit_rules.hold.value} "
                f"is held, teeth stand {format_length(project.refit_rules.proud_mm, unit)} proud",
                panel.id,
            )
        )
    proud = project.refit_rules.proud_mm
    holds_outside = project.refit_rules.hold is SizeHold.OUTSIDE
    if proud > 0 and holds_outside and any(i.reading is Reading.COMB for i in done):
        allowance = format_length(proud, unit)
        findings.append(
            Finding(
                "refit-proud",
                Severity.NOTE,
                f"{panel.name}: it stays as long as drawn while its teeth stand {allowance} proud; "
                f"sanded flush, each jointed end comes out {allowance} shorter",
                panel.id,
                remedy="Set the proud allowance to 0 where the finished size must be as drawn.",
            )
        )
    return findings


def blocked(panel: Panel, spots: Sequence[Blocked], radius_mm: float) -> list[Finding]:
    """Corners that a mate's corner enters and that stay round."""
    findings: list[Finding] = []
    for wanted in (True, False):
        here = [spot for spot in spots if spot.wanted is wanted]
        if not here:
            continue
        count = len(here)
        corners = (
            "1 inside corner that a mate's corner enters stays"
            if count == 1
            else f"{count} inside corners that a mate's corner enters stay"
        )
        why = "there is no room for a relief" if wanted else "relief is left out there"
        findings.append(
            Finding(
                "relief-no-room" if wanted else "relief-left-out",
                Severity.WARN if wanted else Severity.NOTE,
                f"{panel.name}: {corners} round ({radius_mm:g} mm), because {why}",
                panel.id,
                here[0].at,
                "Take a thinner bit or another relief."
                if wanted
                else "Square the corners by hand, or round the mate's.",
            )
        )
    return findings
