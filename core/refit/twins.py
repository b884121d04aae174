"""Left and right: the mirror image of a panel as a panel of its own."""

from __future__ import annotations

from dataclasses import replace

from core.geometry import Motion, Point, Region, Ring
from core.outlines.model import Feature
from core.project.ids import free_name
from core.project.model import Mark, Panel, Project, SeamLine
from core.project.refit import KeepWall, RefitDecision
from core.refit.mates import survey

MIRRORED = "mirrored"

_OTHER_WALL = {
    KeepWall.LOW: KeepWall.HIGH,
    KeepWall.HIGH: KeepWall.LOW,
    KeepWall.CENTRE: KeepWall.CENTRE,
}


def mirrored_twin(project: Project, panel: Panel) -> Panel:
    """The other hand of a panel: mirrored about its upright middle line, all else the same.

    Outline, holes, features with their depth and face, seams, marks and what was decided about
    drawn joints go with it; its name carries the word. The face that shows stays the one that
    shows, as on the other end of a piece of furniture. The id is the panel's with "-mirrored"
    and a number where that is taken. A twin is drawn by no file, so reading the drawing again
    leaves it as it is.
    """
    x1, _, x2, _ = panel.region.bounds
    motion = Motion(x1 + x2, 0.0, mirrored=True)
    upright = _upright_joints(project, panel)
    name = (
        panel.name.removesuffix(f", {MIRRORED}")
        if panel.name.endswith(f", {MIRRORED}")
        else f"{panel.name}, {MIRRORED}"
    )
    taken = {p.id for p in project.panels}
    return replace(
        panel,
        id=free_name(f"{panel.id}-{MIRRORED}", taken),
        name=name,
        region=mirrored_region(panel.region, motion),
        features=tuple(mirrored_feature(feature, motion) for feature in panel.features),
        drawing="",
        layer="",
        seams=None
        if panel.seams is None
        else tuple(mirrored_seam(seam, motion) for seam in panel.seams),
        marks=tuple(_mark(mark, motion) for mark in panel.marks),
        refits=tuple(_decision(own, motion, upright) for own in panel.refits),
    )


def mirrored_region(region: Region, motion: Motion) -> Region:
    """A region laid down by a mirroring motion, rings turning as they should."""
    return region.moved(motion)


def mirrored_feature(feature: Feature, motion: Motion) -> Feature:
    """A feature laid down by a mirroring motion; depth and face stay."""

    def ring(one: Ring | None) -> Ring | None:
        if one is None:
            return None
        return one.moved(motion).oriented(ccw=one.signed_area_mm2 > 0)

    islands = [ring(island) for island in feature.islands]
    return replace(
        feature,
        ring=ring(feature.ring),
        path=tuple(motion.apply(*p) for p in feature.path),
        at=None if feature.at is None else motion.apply(*feature.at),
        islands=tuple(island for island in islands if island is not None),
    )


def mirrored_seam(seam: SeamLine, motion: Motion) -> SeamLine:
    """A seam line mirrored: the side its teeth point to is mirrored with it."""
    return replace(
        seam,
        points=tuple(motion.apply(*p) for p in seam.points),
        bulges=tuple(-b for b in seam.bulges),
        turned_over=not seam.turned_over,
    )


def _mark(mark: Mark, motion: Motion) -> Mark:
    return replace(mark, points=tuple(motion.apply(*p) for p in mark.points))


def _decision(own: RefitDecision, motion: Motion, upright: dict[Point, bool]) -> RefitDecision:
    ref = replace(own.ref, anchor=motion.apply(*own.ref.anchor))
    near = min(
        upright,
        key=lambda at: (at[0] - own.ref.anchor[0]) ** 2 + (at[1] - own.ref.anchor[1]) ** 2,
        default=None,
    )
    # Left and right wall change places; lower and upper stay.
    swaps = near is not None and upright[near]
    return replace(own, ref=ref, keep=_OTHER_WALL[own.keep] if swaps else own.keep)


def _upright_joints(project: Project, panel: Panel) -> dict[Point, bool]:
    """Where a panel's drawn joints are, and whether their walls stand left and right."""
    found = {}
    for read in survey(project).of(panel.id):
        across = read.joint.across
        found[read.joint.at] = abs(across[0]) > abs(across[1])
    return found
