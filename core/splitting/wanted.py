"""Ways to split a panel as it is really cut: its drawn joints re-cut for the measured boards."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from core.geometry import Region
from core.joints.style import StyleBook
from core.project.model import Panel, SeamLine, SplitChoice
from core.shop import Cutter
from core.splitting.laying import FitSource
from core.splitting.limits import fit_piece
from core.splitting.model import PieceLimits, Proposal
from core.splitting.planner import joined_like, propose


def growth_mm(drawn: Region, physical: Region) -> float:
    """How much longer or wider than drawn a panel is as cut, over both its ends; 0 if it is not."""
    a, b = drawn.bounds, physical.bounds
    out = [max(0.0, a[k] - b[k]) for k in (0, 1)] + [max(0.0, b[k] - a[k]) for k in (2, 3)]
    return max(out[0] + out[2], out[1] + out[3])


def limits_as_cut(limits: PieceLimits, drawn: Region, physical: Region) -> PieceLimits:
    """Limits for pieces as drawn, with room for what re-cutting adds to the panel's ends."""
    grown = growth_mm(drawn, physical)
    if grown <= 0.0:
        return limits
    rooms = tuple((w - grown, h - grown) for w, h in limits.envelopes_mm if w > grown and h > grown)
    return replace(limits, envelopes_mm=rooms)


def ways_to_split(
    panel: Panel,
    limits: PieceLimits,
    cutter: Cutter,
    *,
    physical: Region | None = None,
    thickness_mm: float,
    fit_mm: FitSource,
    styles: StyleBook | None = None,
    most: int = 6,
) -> list[Proposal]:
    """What propose finds for the panel as it is cut, best first; [] if it fits whole as cut.

    physical: the panel with its drawn joints re-cut, None as drawn. A panel that is to be split
    although it fits gets its ways too. Seams of the maker's own that are all one kind of joint
    say what the new ones are: glued or to be taken apart, their fit, their relief.
    """
    as_cut = panel.region if physical is None else physical
    fit = fit_piece(as_cut.polygon, limits)
    if panel.split is SplitChoice.AUTO and fit is not None and fit.fits:
        return []
    wanted = panel
    drawn_fit = fit_piece(panel.region.polygon, limits)
    if drawn_fit is not None and drawn_fit.fits and panel.split is SplitChoice.AUTO:
        # As drawn it would fit; as it is cut it does not.
        wanted = replace(panel, split=SplitChoice.SPLIT)
    return propose(
        wanted,
        limits_as_cut(limits, panel.region, as_cut),
        panel.style,
        cutter,
        thickness_mm=thickness_mm,
        fit_mm=fit_mm,
        styles=styles,
        most=most,
        like=usual_line(panel.seams),
    )


def usual_line(seams: Sequence[SeamLine] | None) -> SeamLine | None:
    """A line that stands for the kind of joint all of some seams are; None if they differ."""
    if not seams:
        return None
    kinds = {joined_like(SeamLine(()), line) for line in seams}
    return kinds.pop() if len(kinds) == 1 else None
