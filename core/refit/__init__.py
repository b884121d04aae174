"""Drawn joints re-cut from the nominal to the measured thickness of their mates.

:func:`propose_refit` lists every joint recognised, :func:`refit_panel` re-cuts a panel's, and
:func:`refit_cut` applies the same to any piece the panel was split into::

    refit = refit_panel(project, panel)
    split = split_panel(replace(panel, features=refit.panel.features), seams, …)
    split = refit_split(split, refit.cut)             # every piece's cut, outlines as drawn
    region = refit_cut(piece_region, refit.cut)       # the same for one region alone

The outline of the panel and of its pieces stays as drawn; only what the bit leaves changes.
"""

from core.refit.items import RefitItem, SizeChange
from core.refit.mates import Reading, Survey, survey
from core.refit.panels import (
    PanelRefit,
    decide,
    decision_about,
    is_open,
    propose_refit,
    refit_is_on,
    refit_panel,
    size_changes,
    without_orphans,
)
from core.refit.pieces import refit_split
from core.refit.twins import mirrored_twin
from core.refit.walls import MovedWall, RefitCut, refit_cut

__all__ = [
    "MovedWall",
    "PanelRefit",
    "Reading",
    "RefitCut",
    "RefitItem",
    "SizeChange",
    "Survey",
    "decide",
    "decision_about",
    "is_open",
    "mirrored_twin",
    "propose_refit",
    "refit_cut",
    "refit_is_on",
    "refit_panel",
    "refit_split",
    "size_changes",
    "survey",
    "without_orphans",
]
