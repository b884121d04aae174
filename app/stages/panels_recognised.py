"""What is recognised on a panel: each looked at on the drawing, each switched off."""

from __future__ import annotations

from collections.abc import Sequence

from PySide6.QtCore import QSignalBlocker, Qt, Signal
from PySide6.QtWidgets import QTreeWidget, QTreeWidgetItem, QVBoxLayout, QWidget

from app import theme
from app.commands.panels import ReplacePanels
from app.context import Context
from app.i18n import tr
from app.widgets.fields import show_length, show_size
from app.widgets.forms import Section, words
from core.outlines.recognise import Recognised, recognise
from core.project.answers import is_off, switched
from core.project.model import Panel

_ITEM = Qt.ItemDataRole.UserRole + 1
_KINDS = ("slot", "notch", "comb", "hole", "edge", "axis")
_MOST_ROWS = 12  # lines of text the list is high at most


def kind_words(kind: str) -> str:
    """A kind of feature, many of them."""
    return {
        "slot": tr("Slots"),
        "notch": tr("Notches"),
        "comb": tr("Combs of teeth"),
        "hole": tr("Round holes"),
        "edge": tr("Straight edges"),
        "axis": tr("Mirror axes"),
    }.get(kind, kind)


def recognised_words(item: Recognised, unit: str) -> str:
    """One recognised feature with its sizes."""

    def size(mm: float) -> str:
        return show_length(round(mm, 2), unit)

    sizes = item.ref.size
    text = {
        "hole": lambda: f"⌀ {size(sizes[0])}",
        "slot": lambda: show_size(round(sizes[0], 2), round(sizes[1], 2), unit),
        "notch": lambda: tr("{width} wide, {depth} deep").format(
            width=size(sizes[0]), depth=size(sizes[1])
        ),
        "comb": lambda: tr("{n} walls, {depth} deep").format(n=int(sizes[2]), depth=size(sizes[0])),
        "edge": lambda: size(sizes[0]),
        "axis": lambda: tr("at {angle}°").format(angle=f"{sizes[0]:.1f}".rstrip("0").rstrip(".")),
    }[item.kind]()
    if item.nominal_mm is not None:
        text += tr(", for {board}").format(board=size(item.nominal_mm))
        if not item.certain:
            text += tr(", asked")
    return text


class RecognisedSection(Section):
    """A list by kind; a tick switches a feature on or off, a click shows it on the drawing.

    shown(panel id, features): these are looked at now.
    """

    shown = Signal(str, object)

    def __init__(self, context: Context) -> None:
        super().__init__(tr("Recognised on it"), "loupe", is_open=False)
        self._context = context
        self._panel: Panel | None = None
        self._asked: object = None
        holder = QWidget()
        column = QVBoxLayout(holder)
        column.setContentsMargins(0, 0, 0, 0)
        column.addWidget(
            words(tr("Take a tick away and it is treated as any other part of the outline."))
        )
        self.tree = QTreeWidget()
        self.tree.setHeaderHidden(True)
        self.tree.setAccessibleName(tr("Recognised on the panel"))
        self.tree.setUniformRowHeights(True)
        self.tree.itemChanged.connect(self._ticked)
        self.tree.currentItemChanged.connect(self._chosen)
        column.addWidget(self.tree)
        self.none = words(tr("Nothing."))
        column.addWidget(self.none)
        self.add(holder)
        self.head.toggled.connect(self._opened)

    def show_panel(self, panel: Panel | None) -> None:
        """Show one panel's features; they are worked out while the section is open."""
        self.setVisible(panel is not None)
        if panel is not self._panel:
            self.shown.emit("", ())
        self._panel = panel
        self._opened(self.head.isChecked())

    def _nominals(self) -> tuple[float, ...]:
        return tuple(m.nominal_mm for m in self._context.document.project.shop.materials)

    def _opened(self, on: bool) -> None:
        panel = self._panel
        if not on or panel is None:
            return
        nominals = self._nominals()
        asked = (panel.id, panel.region, panel.switched_off, nominals, self._context.unit)
        if asked == self._asked:
            return
        self._asked = asked
        # A large panel with many curves takes a while to be looked over for symmetry.
        self._context.jobs.start(
            tr("Looking at {name}").format(name=panel.name),
            lambda _progress, _stop: recognise(panel.region, nominals),
            done=lambda found: self._fill(panel, found) if self._asked == asked else None,
            lane="recognise",
            quiet=True,
        )

    def _fill(self, panel: Panel, found: Sequence[Recognised]) -> None:
        current = self.tree.currentItem()
        kept = current.text(0) if current is not None else ""
        with QSignalBlocker(self.tree):
            self.tree.clear()
            for kind in _KINDS:
                members = [item for item in found if item.kind == kind]
                if members:
                    self._add_kind(panel, kind, members)
        self.tree.setVisible(bool(found))
        self.none.setVisible(not found)
        rows = len(found) + self.tree.topLevelItemCount()
        height = self.tree.fontMetrics().height() + 6
        self.tree.setFixedHeight(height * min(max(rows, 3), _MOST_ROWS) + 8)
        if kept:
            again = self.tree.findItems(
                kept, Qt.MatchFlag.MatchExactly | Qt.MatchFlag.MatchRecursive
            )
            if again:
                with QSignalBlocker(self.tree):
                    self.tree.setCurrentItem(again[0])

    def _add_kind(self, panel: Panel, kind: str, members: Sequence[Recognised]) -> None:
        top = QTreeWidgetItem([f"{kind_words(kind)} ({len(members)})"])
        top.setFlags(top.flags() | Qt.ItemFlag.ItemIsUserCheckable | Qt.ItemFlag.ItemIsAutoTristate)
        self.tree.addTopLevelItem(top)
        for item in members:
            row = QTreeWidgetItem()
            row.setData(0, _ITEM, item)
            row.setFlags(row.flags() | Qt.ItemFlag.ItemIsUserCheckable)
            off = is_off(panel, item.ref)
            self._show_row(row, item, off)
            row.setCheckState(0, Qt.CheckState.Unchecked if off else Qt.CheckState.Checked)
            top.addChild(row)
        top.setExpanded(len(members) <= 6)

    def _show_row(self, row: QTreeWidgetItem, item: Recognised, off: bool) -> None:
        """The feature in words; one that is off says so, and not by its tick alone."""
        text = recognised_words(item, self._context.unit)
        row.setText(0, tr("{feature} (off)").format(feature=text) if off else text)
        row.setForeground(0, theme.color("muted" if off else "ink"))

    # --- what the maker does ----------------------------------------------------------------
    def _items(self, row: QTreeWidgetItem | None) -> list[tuple[QTreeWidgetItem, Recognised]]:
        """The features under a row, itself included."""
        if row is None:
            return []
        children = (row.child(i) for i in range(row.childCount()))
        rows = [row, *(child for child in children if child is not None)]
        return [(r, r.data(0, _ITEM)) for r in rows if r.data(0, _ITEM) is not None]

    def _chosen(self, row: QTreeWidgetItem | None, _before: object = None) -> None:
        if self._panel is not None:
            self.shown.emit(self._panel.id, tuple(item for _, item in self._items(row)))

    def _ticked(self, row: QTreeWidgetItem, _column: int) -> None:
        """A tick was set or taken away; a kind's tick stands for all of it."""
        panel = self._panel
        if panel is None:
            return
        new = panel
        for place, item in self._items(row):
            on = place.checkState(0) is Qt.CheckState.Checked
            if on == is_off(new, item.ref):
                new = switched(new, item.ref, on=on)
                with QSignalBlocker(self.tree):
                    self._show_row(place, item, not on)
        if new == panel:
            return
        text = (
            tr("Switch a feature off")
            if len(new.switched_off) > len(panel.switched_off)
            else tr("Switch a feature on")
        )
        self._panel = new
        self._asked = (new.id, new.region, new.switched_off, self._nominals(), self._context.unit)
        self._context.document.run(ReplacePanels(text, (new,)), merge=f"switch {new.id}")
