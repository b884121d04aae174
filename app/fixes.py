"""Remedies of findings that the window can carry out at one press."""

from __future__ import annotations

from pathlib import Path

from PySide6.QtCore import QObject, Signal

from app.commands.base import DRAWINGS, LAYOUT, PANELS, Edit
from app.commands.panels import SetPanels
from app.context import Context
from app.files import Files
from app.i18n import tr
from app.reading import HowToRead
from app.widgets.fields import unit_word
from core.findings import Finding
from core.outlines.model import Role
from core.outlines.roles import LayerChoice
from core.project.answers import counted_as_one, counted_twice, drawing_of, settled
from core.project.model import Answer, Drawing

# findings that are mended in the shop, and where there
_SECTIONS = {
    "no-material": "boards",
    "no-sheets": "stock",
    "thickness-not-measured": "boards",
    "fit-not-tested": "test-piece",
}
# what reading did by itself, to be looked at and put away
_LOOKED_AT = ("gap-closed", "overshoot-trimmed", "line-doubled")
_ROLES = {
    "ignore-layer": Role.IGNORE,
    "cut-layer": Role.CUT,
    "as-pocket": Role.POCKET,
}


def _may_be_settled(finding: Finding) -> bool:
    """True if looking at it is all there is to do."""
    return finding.code in _LOOKED_AT and bool(finding.source) and finding.at is not None


class Fixes(QObject):
    """Knows the remedies that findings name in their ``fix``."""

    told = Signal(str, str)
    shop_wanted = Signal(str)

    def __init__(self, context: Context, files: Files) -> None:
        super().__init__(files)
        self._context = context
        self._files = files

    def offer(self, finding: Finding) -> str:
        """What the button beside the finding says, "" if there is no automatic remedy."""
        label = self._drawing_label(finding) if finding.source else ""
        if label:
            return label
        if finding.code == "no-material" and not self._context.document.project.shop.materials:
            return tr("Add a board")
        if finding.code == "no-sheets":
            return tr("Add a sheet")
        if finding.code == "thickness-not-measured":
            return tr("Enter a reading")
        if finding.code == "fit-not-tested":
            return tr("Test piece…")
        if finding.code == "corner-stays-round" and finding.panel is not None:
            return tr("They may stay round")
        if _may_be_settled(finding):
            return tr("It is right")
        return ""

    def _drawing_label(self, finding: Finding) -> str:
        """The button of a remedy that concerns a drawing."""
        name, _, about = finding.fix.partition(":")
        if name.startswith("take-as-"):
            return tr("Take it as {unit}").format(unit=unit_word(name.removeprefix("take-as-")))
        return {
            "close-gap": tr("Close gaps up to {size} mm").format(size=about),
            "count-as-quantity": tr("Count as quantity"),
            "ignore-layer": tr("Leave out layer {layer}").format(layer=about),
            "leave-out": tr("Leave it out"),
            "cut-layer": tr("Cut layer {layer}").format(layer=about),
            "as-pocket": tr("Take layer {layer} as pocket").format(layer=about),
            "treat-as-sheet": tr("It is the sheet"),
            "join-files": tr("Read them as one"),
            "forget-layer": tr("Read it by its name"),
            "bring-back": tr("Bring them back"),
            "read-again": tr("Look at what changed"),
        }.get(name, "")

    def take(self, finding: Finding) -> None:
        """Carry the remedy out; every one of them can be undone."""
        name, _, about = finding.fix.partition(":")
        if not finding.source or not self._drawing_label(finding):
            if finding.code == "corner-stays-round" and finding.panel is not None:
                text = tr("Let inside corners stay round")
                values = (("round_corners", True),)
                self._context.document.run(SetPanels(text, (finding.panel,), values))
            elif finding.code in _SECTIONS:
                self.shop_wanted.emit(_SECTIONS[finding.code])
            elif _may_be_settled(finding):
                self._settle(tr("Put a notice away"), finding)
        elif name == "count-as-quantity":
            self._count(finding, about)
        elif name == "leave-out":
            self._settle(tr("Leave out a line"), finding)
        elif name == "join-files":
            self._join(finding, about)
        elif name.startswith("take-as-"):
            self._read(finding, HowToRead(units=name.removeprefix("take-as-")))
        elif name == "close-gap":
            self._read(finding, HowToRead(gap_mm=float(about)))
        elif name in _ROLES:
            self._read(finding, HowToRead(choices=(LayerChoice(about, _ROLES[name]),)))
        elif name == "treat-as-sheet" and finding.at is not None:
            self._read(finding, HowToRead(answers=(Answer(finding.code, finding.at),)))
        elif name == "forget-layer":
            self._read(finding, HowToRead(forget=(about,)))
        elif name == "bring-back":
            self._read(finding, HowToRead(bring_back=True))
        else:
            self._read(finding, None)

    def _settle(self, text: str, finding: Finding) -> None:
        """The question is answered; it is not asked again."""
        edit = Edit(text, frozenset({DRAWINGS}), lambda project: settled(project, finding))
        self._context.document.run(edit)

    def _count(self, finding: Finding, ids: str) -> None:
        """One outline more, or several panels as one in several copies."""
        kinds = frozenset({PANELS, DRAWINGS, LAYOUT})
        if ids:
            panel_ids = tuple(ids.split("+"))
            text = tr("Count {n} panels as one").format(n=len(panel_ids))
            edit = Edit(text, kinds, lambda project: counted_as_one(project, panel_ids))
        else:
            edit = Edit(
                tr("Count an outline twice"), kinds, lambda project: counted_twice(project, finding)
            )
        self._context.document.run(edit)

    def _join(self, finding: Finding, ids: str) -> None:
        """Read the second of two drawings on top of the first."""
        drawings = {d.id: d for d in self._context.document.project.drawings}
        first, _, second = ids.partition("+")
        if first not in drawings or second not in drawings:
            self.told.emit("warn", tr("One of the two drawings is no longer in the project."))
            return
        paths = [self._path(drawings[first]), self._path(drawings[second])]
        if paths[0] is not None and paths[1] is not None:
            self._files.add([paths[0]], how=HowToRead(join=(paths[1],)))

    def _read(self, finding: Finding, how: HowToRead | None) -> None:
        """Read the finding's drawing again with a decision."""
        drawing = drawing_of(self._context.document.project, finding)
        path = self._path(drawing) if drawing is not None else None
        if path is not None:
            self._files.add([path], how=how)

    def _path(self, drawing: Drawing) -> Path | None:
        path = self._files.drawing_path(drawing.id)
        if path is None:
            self.told.emit(
                "warn",
                tr("{file} is not where it was read from; add it again.").format(
                    file=drawing.file_name
                ),
            )
        return path
