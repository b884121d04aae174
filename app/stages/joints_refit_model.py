"""Drawn joints of one panel as the Joints stage lists them. No Qt here."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from app.i18n import tr
from app.widgets.fields import show_length
from app.widgets.lens import LensJoint
from app.wording import in_words
from core.joints.access import Unreached
from core.joints.bits import PieceAccess, area_words, bit_size
from core.project.model import Panel, Project
from core.refit import (
    PanelRefit,
    Reading,
    RefitItem,
    SizeChange,
    decide,
    decision_about,
    is_open,
    refit_is_on,
    refit_panel,
    size_changes,
    survey,
)
from core.units import format_length

if TYPE_CHECKING:
    from core.planning import PieceSet


@dataclass(frozen=True)
class DrawnJoints:
    """A panel's drawn joints and what re-cutting them changes.

    on: joints recognised with certainty are re-cut. off_here: the panel's own switch keeps it
    as drawn. sizes: of all panels of the project that get another size. access: which bits its
    pieces need and what none of them reaches.
    """

    panel: Panel
    refit: PanelRefit
    on: bool
    off_here: bool
    sizes: tuple[SizeChange, ...] = ()
    access: tuple[PieceAccess, ...] = ()

    @property
    def unreached(self) -> tuple[Unreached, ...]:
        """Places that stay uncut, square corners included."""
        return tuple(spot for access in self.access for spot in access.unreached)

    @property
    def items(self) -> tuple[RefitItem, ...]:
        """The joints, those to decide first."""
        return tuple(sorted(self.refit.items, key=lambda item: not self.open(item)))

    def open(self, item: RefitItem) -> bool:
        """True if the maker has to say something about a joint."""
        return self.on and is_open(item)

    @property
    def to_decide(self) -> int:
        """How many joints wait for the maker's word."""
        return sum(self.open(item) for item in self.refit.items)


def drawn_joints_of(project: Project, panel: Panel) -> DrawnJoints:
    """What the box shows of a panel."""
    off = panel.refit is False
    seen = replace(panel, refit=None) if off else panel
    found = refit_panel(project, seen)
    if off:
        items = tuple(replace(item, applied=False) for item in found.items)
        found = replace(found, items=items)
    on = not off and refit_is_on(project, panel)
    return DrawnJoints(panel, found, on, off, size_changes(project))


def with_drawn_joints(project: Project) -> frozenset[str]:
    """Ids of the panels whose drawing has joints."""
    return frozenset(joint.panel for joint in survey(project).joints)


def access_of(pieces: PieceSet | None, panel_id: str) -> tuple[PieceAccess, ...]:
    """What the bits do on a panel's pieces, as far as they are cut."""
    if pieces is None:
        return ()
    return tuple(p.access for p in pieces.pieces if p.panel == panel_id and p.access is not None)


def bit_words(joints: DrawnJoints, unit: str) -> str:
    """Which bits the panel needs and what stays uncut, in a few lines."""
    bits = {need.cutter.diameter_mm for access in joints.access for need in access.needs}
    if not bits:
        return ""
    names = ", ".join(show_length(size, unit) for size in sorted(bits, reverse=True))
    rows = [tr("Bits it needs: {bits}.").format(bits=names)]
    for access in joints.access:
        for spot in access.closed:
            if spot.largest_bit_mm is None:
                continue
            rows.append(
                tr("● {area} no bit reaches; one of {bit} or less would.").format(
                    area=area_words(spot.area_mm2, unit), bit=bit_size(spot.largest_bit_mm, unit)
                )
            )
    corners = sum(len(access.corners) for access in joints.access)
    if corners:
        area = sum(spot.area_mm2 for access in joints.access for spot in access.corners)
        rows.append(
            tr("{n} inside corners stay round, {area} uncut.").format(
                n=corners, area=area_words(area, unit)
            )
        )
    return "\n".join(rows)


def alike(item: RefitItem, items: Sequence[RefitItem]) -> list[RefitItem]:
    """The joints of a panel that are drawn like one of them, itself among them."""
    key = (item.reading, round(item.size_mm, 3), item.materials)
    return [one for one in items if (one.reading, round(one.size_mm, 3), one.materials) == key]


def decided(panel: Panel, items: Sequence[RefitItem], field: str, value: object) -> Panel:
    """The panel with one field of the maker's decision set for each of some joints."""
    for item in items:
        own = decision_about(panel, item.ref)
        panel = decide(panel, replace(own, **{field: value}))  # type: ignore[arg-type]
    return panel


# --- words ----------------------------------------------------------------------------------
def reading_word(reading: Reading) -> str:
    """What a joint is called."""
    return {
        Reading.SLOT: tr("slot"),
        Reading.DADO: tr("dado"),
        Reading.NOTCH: tr("notch"),
        Reading.HALVING: tr("cross-halving"),
        Reading.COMB: tr("row of teeth"),
        Reading.TENON: tr("tenon"),
    }[reading]


def row_words(joints: DrawnJoints, item: RefitItem, unit: str) -> str:
    """One line of the list: "■ Slot 18 → 17.7 mm"."""
    before = show_length(round(item.size_mm, 3), unit, with_unit=False)
    after = show_length(round(item.becomes_mm, 3), unit)
    name = reading_word(item.reading)
    head = f"{name[:1].upper()}{name[1:]}"
    if item.applied:
        return f"■ {head} {before} → {after}"
    as_drawn = show_length(round(item.size_mm, 3), unit)
    if joints.open(item):
        return tr("▲ {joint} {size}: to decide").format(joint=head, size=as_drawn)
    return tr("– {joint} {size}, as drawn").format(joint=head, size=as_drawn)


def why_words(joints: DrawnJoints, item: RefitItem, unit: str) -> str:
    """What is known of a joint, in sentences."""
    out = []
    mates = len(item.mates)
    if item.doubts:
        out.append(
            tr("It is left to you because {why}.").format(why=in_words("; ".join(item.doubts)))
        )
    elif not joints.on and not item.applied:
        out.append(tr("Recognised with certainty; re-cutting is off."))
    if mates:
        out.append(
            tr("1 panel was found that fits it.")
            if mates == 1
            else tr("{n} panels were found that fit it.").format(n=mates)
        )
    if item.material:
        out.append(
            tr("Drawn for {nominal}, made for {measured} ({board}).").format(
                nominal=show_length(item.nominal_mm, unit),
                measured=show_length(item.thickness_mm, unit),
                board=item.material,
            )
        )
    return " ".join(out)


def wall_rows(item: RefitItem, unit: str) -> list[str]:
    """Every wall that moves, by how much and which way."""
    rows = []
    for wall in item.moved_walls:
        x = (wall.start[0] + wall.end[0]) / 2
        y = (wall.start[1] + wall.end[1]) / 2
        by = _fine(abs(wall.moves_mm), unit)
        way = tr("into the board") if wall.moves_mm > 0 else tr("out of the board")
        at = f"{show_length(round(x, 1), unit, with_unit=False)}, "
        at += show_length(round(y, 1), unit, with_unit=False)
        rows.append(
            tr("{wall} at {at}: {by} {way}").format(
                wall=in_words(wall.name) if wall.name else tr("wall"), at=at, by=by, way=way
            )
        )
    return rows


def _fine(length_mm: float, unit: str) -> str:
    """A small length to a thousandth of a millimetre."""
    if unit in ("mm", "cm", "m"):
        return format_length(length_mm, "mm", precision=3, with_unit=False).rstrip("0") + " mm"
    return format_length(length_mm, "thou", precision=1)


def size_rows(project: Project, sizes: Sequence[SizeChange], unit: str) -> list[str]:
    """Panels whose size changes."""
    rows = []
    for change in sizes:
        panel = project.panel(change.panel)
        what = tr("width") if change.what == "width" else tr("height")
        rows.append(
            tr("{panel}: {what} {before} → {after}").format(
                panel=panel.name if panel is not None else change.panel,
                what=what,
                before=show_length(round(change.before_mm, 3), unit, with_unit=False),
                after=show_length(round(change.after_mm, 3), unit),
            )
        )
    return rows


def lens_joint(item: RefitItem) -> LensJoint | None:
    """The two walls that hold the mate, as they were drawn and as they are cut."""
    if item.reading in (Reading.COMB, Reading.TENON):
        flanks = [wall.moves_mm for wall in item.walls if wall.name == "flank"]
        if not flanks:
            return None
        return LensJoint(item.fit_mm, flanks[0], flanks[0], tr("gap"), tr("tooth"))
    walls = [wall.moves_mm for wall in item.walls if wall.name == "wall"]
    if len(walls) < 2:
        return None
    return LensJoint(
        item.fit_mm, walls[0], walls[1], reading_word(item.reading), item.material or tr("board")
    )


def as_one_line(rows: Sequence[str], most: int = 12) -> str:
    """Rows below each other; beyond most of them only how many more there are."""
    shown = list(rows[:most])
    if len(rows) > most:
        shown.append(tr("and {n} more").format(n=len(rows) - most))
    return "\n".join(shown)
