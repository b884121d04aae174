"""The sections of the shop drawer: what each record looks like and what a change becomes."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QMenu, QVBoxLayout, QWidget

from app import theme
from app.i18n import tr
from app.shop.records import RecordCard, RecordForm, RecordList, Spec, any_of
from app.shop.sketch import Sketch
from app.shop.usual import AddUsualBoard, UsualBoard, usual_boards
from app.widgets.fields import show_length
from app.widgets.forms import Section, button, words
from core.plan import rectangle_points
from core.project.model import Project
from core.shop import (
    BoardState,
    ClampKind,
    ClampZone,
    Cutter,
    Defect,
    FitSetting,
    JointClass,
    Material,
    Reading,
    Stock,
)


@dataclass(frozen=True)
class _Rectangle:
    """A bad spot as its bounds, to be typed."""

    x_mm: float
    y_mm: float
    width_mm: float
    height_mm: float
    note: str
    points: tuple[tuple[float, float], ...]


class Part(QWidget):
    """One section's inside. wanted(undo text, what, value): a change the drawer turns into a
    command; what is "machine", "rules", "limits" with (attribute, value) or a list's name."""

    wanted = Signal(str, str, object)
    command_wanted = Signal(object)  # a whole Command

    def __init__(self) -> None:
        super().__init__()
        self.column = QVBoxLayout(self)
        self.column.setContentsMargins(0, 0, 0, 0)
        self.column.setSpacing(theme.NORMAL)

    def fill(self, project: Project) -> None:
        """Show the project's values."""
        raise NotImplementedError


class MachinePart(Part):
    """Travel, table and how blanks get onto it."""

    def __init__(self) -> None:
        super().__init__()
        self.form = RecordForm(
            (
                Spec("name", tr("Name"), "text", check=_needed),
                Spec(
                    "travel_mm",
                    tr("Travel of the bit"),
                    "size",
                    tr("How far the bit's centre moves, width × depth"),
                ),
                Spec(
                    "table_mm",
                    tr("Table"),
                    "size",
                    tr("The largest blank that can lie on the machine"),
                ),
                Spec(
                    "max_blank_kg",
                    tr("Heaviest blank"),
                    "number",
                    tr("What one person may lift onto the table"),
                    tr("any"),
                    suffix="kg",
                ),
                Spec(
                    "clamp_safety_mm",
                    tr("Distance from clamps"),
                    "length",
                    tr("Kept between the bit and everything that holds the board"),
                ),
                Spec(
                    "open_ended",
                    tr("Open ends: long sheets may be pushed through"),
                    "check",
                ),
            )
        )
        self.form.edited.connect(self._edited)
        self.column.addWidget(self.form)
        self.sketch = Sketch(tr("Table, travel and clamps"))
        self.sketch.marked.connect(self._mark)
        self.sketch.setToolTip(tr("Drag to mark where a clamp stands"))
        self.column.addWidget(self.sketch)
        self.clamps = RecordList(
            self._clamp_card,
            tr("Add a clamp"),
            lambda: ClampZone(0.0, 0.0, 60.0, 60.0),
            empty_text=tr("No clamps: the bit may go anywhere in its travel."),
        )
        self.clamps.changed.connect(
            lambda rows: self.wanted.emit(tr("Set clamps"), "machine", ("clamps", rows))
        )
        self.column.addWidget(self.clamps)
        self._clamps: tuple[ClampZone, ...] = ()

    @staticmethod
    def _clamp_card(i: int) -> RecordCard:
        kinds = {
            ClampKind.BAR: tr("clamp bar"),
            ClampKind.TOE: tr("toe clamp"),
            ClampKind.SCREW: tr("screw"),
            ClampKind.STOP: tr("edge stop"),
        }
        specs = (
            Spec("kind", tr("What it is"), "choice", options=list(kinds.items())),
            Spec("name", tr("Name"), "text", empty=tr("none")),
            Spec("x_mm", tr("From the left"), "length"),
            Spec("y_mm", tr("From the front"), "length"),
            Spec("width_mm", tr("Width"), "length", above_zero=True),
            Spec("height_mm", tr("Depth"), "length", above_zero=True),
            Spec("stands_mm", tr("Stands above the board"), "length"),
        )
        return RecordCard(specs, tr("clamp {n}").format(n=i + 1), tr("Remove"))

    def _mark(self, x: float, y: float, w: float, h: float) -> None:
        zones = (*self._clamps, ClampZone(x, y, w, h))
        self.wanted.emit(tr("Add a clamp"), "machine", ("clamps", zones))

    def _edited(self, attribute: str, value: Any) -> None:
        self.wanted.emit(tr("Set machine"), "machine", (attribute, value))

    def fill(self, project: Project) -> None:
        """Show the machine."""
        machine = project.shop.machine
        self._clamps = machine.clamps
        self.form.fill(machine, project.units)
        self.clamps.fill(machine.clamps, project.units)
        zones = [rectangle_points(c.x_mm, c.y_mm, c.width_mm, c.height_mm) for c in machine.clamps]
        self.sketch.show_bed(machine.table_mm, machine.travel_mm, zones)


class BitsPart(Part):
    """Router bits; the first cuts outlines."""

    def __init__(self) -> None:
        super().__init__()
        self.column.addWidget(words(tr("The first bit cuts the outlines.")))
        self.list = RecordList(self._card, tr("Add a bit"), lambda: Cutter(3.0), least=1)
        self.list.changed.connect(
            lambda rows: self.wanted.emit(tr("Set bits"), "machine", ("cutters", rows))
        )
        self.column.addWidget(self.list)

    @staticmethod
    def _card(i: int) -> RecordCard:
        specs = (
            Spec("diameter_mm", tr("Diameter"), "length", above_zero=True),
            Spec(
                "measured_mm",
                tr("Measured on a cut"),
                "length",
                tr("Cut a slot in one pass and measure it; bits are often a little off"),
                tr("not measured"),
                above_zero=True,
            ),
            Spec(
                "cutting_length_mm",
                tr("Cutting length"),
                "length",
                tr("How deep it can cut; at least the board's thickness"),
                tr("not known"),
                above_zero=True,
            ),
            Spec("name", tr("Name"), "text", empty=tr("none")),
        )
        return RecordCard(specs, tr("bit {n}").format(n=i + 1), tr("Remove"))

    def fill(self, project: Project) -> None:
        """Show the bits."""
        self.list.fill(project.shop.machine.cutters, project.units)


class _ReadingCard(RecordCard):
    """One caliper reading on a line."""

    def __init__(self, i: int, of: str) -> None:
        states = {
            BoardState.BOUGHT: tr("as bought"),
            BoardState.PLANED: tr("planed"),
            BoardState.SANDED: tr("sanded"),
            BoardState.FINISHED: tr("finished"),
        }
        specs = (
            Spec("thickness_mm", tr("Thickness"), "length", above_zero=True),
            Spec("state", tr("State"), "choice", options=list(states.items())),
            Spec("sheet", tr("Sheet"), "text", empty=tr("sheet")),
        )
        super().__init__(
            specs,
            tr("reading {n} of {board}").format(n=i + 1, board=of),
            tr("Remove"),
            compact=True,
        )


class MaterialCard(RecordCard):
    """A board with its caliper readings and what they mean for slots."""

    def __init__(self, i: int, check_name: Any) -> None:
        of = tr("board {n}").format(n=i + 1)
        super().__init__(
            (
                Spec("name", tr("Name"), "text", check=check_name),
                Spec(
                    "nominal_mm",
                    tr("Sold as"),
                    "length",
                    above_zero=True,
                    tip=tr("Nominal thickness, the size it is sold under"),
                ),
                Spec(
                    "raw_mm",
                    tr("Planed down from"),
                    "length",
                    tr("Thickness as bought where the board is planed before use"),
                    tr("not planed"),
                    above_zero=True,
                ),
                Spec("density_kg_m3", tr("Density"), "number", suffix="kg/m³", above_zero=True),
                Spec("grained", tr("Grain direction matters"), "check"),
            ),
            of,
            tr("Remove"),
        )
        self.readings = RecordList(
            lambda k: _ReadingCard(k, of),
            tr("Add a caliper reading"),
            self._new_reading,
            empty_text=tr("Not measured yet: joints are made for the nominal size."),
        )
        self.readings.changed.connect(self._set_readings)
        self.column.addWidget(self.readings)

    def _new_reading(self) -> Reading:
        last = self.record.readings[-1] if self.record.readings else None
        return Reading(
            last.thickness_mm if last else self.record.nominal_mm,
            state=last.state if last else BoardState.BOUGHT,
        )

    def _set_readings(self, rows: tuple[Reading, ...]) -> None:
        self.changed.emit(replace(self.record, readings=rows))

    def fill(self, record: Any, unit: str) -> None:
        """Show a board."""
        super().fill(record, unit)
        self.readings.fill(record.readings, unit)

    def note_of(self, record: Material, unit: str) -> str:
        """What the readings mean."""
        if not record.readings:
            return ""
        used = tr("Slots are cut for {t}").format(t=show_length(record.thickness_mm, unit))
        values = [r.thickness_mm for r in record.readings]
        spread = max(values) - min(values)
        if len(values) > 1 and spread > 0:
            return tr("{used}, the largest reading. They differ by {spread}.").format(
                used=used, spread=show_length(round(spread, 3), unit)
            )
        return used + "."


class BoardsPart(Part):
    """Boards by name."""

    renamed = Signal(str, str)

    def __init__(self) -> None:
        super().__init__()
        self._materials: tuple[Material, ...] = ()
        self.list = RecordList(
            lambda i: MaterialCard(i, self._check_name),
            tr("Add a board"),
            self._new,
            empty_text=tr("Add the boards you cut, for example “birch 18”."),
        )
        self.list.changed.connect(self._changed)
        self.column.addWidget(self.list)
        self.usual = button(
            tr("Add a usual board with its sheet"),
            self._show_usual,
            "board",
            tr("Boards many shops cut; measure yours before you cut joints"),
        )
        self.usual_menu = QMenu(self.usual)
        for board in usual_boards():
            self.usual_menu.addAction(board.name).triggered.connect(self._adder(board))
        self.column.addWidget(self.usual)

    def _show_usual(self) -> None:
        self.usual_menu.popup(self.usual.mapToGlobal(self.usual.rect().bottomLeft()))

    def _adder(self, board: UsualBoard) -> Callable[[], None]:
        return lambda: self.command_wanted.emit(AddUsualBoard(board))

    def _check_name(self, name: str) -> str:
        return "" if name else tr("A board needs a name.")

    def _new(self) -> Material:
        names = {m.name for m in self._materials}
        n = 1
        while tr("Board {n}").format(n=n) in names:
            n += 1
        return Material(tr("Board {n}").format(n=n), 18.0)

    def _changed(self, rows: tuple[Material, ...]) -> None:
        if len(rows) == len(self._materials):
            for old, new in zip(self._materials, rows, strict=True):
                if old.name != new.name:
                    self.renamed.emit(old.name, new.name)
                    return
        text = tr("Add a board") if len(rows) > len(self._materials) else tr("Set boards")
        self.wanted.emit(text, "materials", rows)

    def fill(self, project: Project) -> None:
        """Show the boards."""
        self._materials = project.shop.materials
        self.list.fill(project.shop.materials, project.units)


class StockCard(RecordCard):
    """Sheets of one size, or an offcut, with bad spots."""

    def __init__(self, i: int, names: Any) -> None:
        of = tr("sheet {n}").format(n=i + 1)
        super().__init__(
            (
                Spec("material", tr("Board"), "choice", options=names),
                Spec(
                    "size_mm",
                    tr("Width × height"),
                    "size",
                    tr("Width along the grain, then height"),
                ),
                Spec("quantity", tr("How many"), "whole", "", tr("as many as needed")),
                Spec("cost", tr("Price of one"), "number", "", tr("not known")),
                Spec("in_rack", tr("In the rack already (sheet or offcut)"), "check"),
            ),
            of,
            tr("Remove"),
        )
        self.sketch = Sketch(tr("Bad spots, {of}").format(of=of))
        self.sketch.setToolTip(tr("Drag to mark a spot that must not be used"))
        self.sketch.marked.connect(self._mark)
        self.column.addWidget(self.sketch)
        self.spots = RecordList(
            lambda k: RecordCard(
                (
                    Spec("x_mm", tr("From the left"), "length"),
                    Spec("y_mm", tr("From below"), "length"),
                    Spec("width_mm", tr("Width"), "length", above_zero=True),
                    Spec("height_mm", tr("Height"), "length", above_zero=True),
                    Spec("note", tr("Note"), "text", empty=tr("none")),
                ),
                tr("bad spot {n}, {of}").format(n=k + 1, of=of),
                tr("Remove"),
            ),
            tr("Add a bad spot"),
            lambda: _Rectangle(0.0, 0.0, 50.0, 50.0, "", ()),
        )
        self.spots.changed.connect(self._set_spots)
        self.column.addWidget(self.spots)

    def edit(self, attribute: str, value: Any) -> None:
        """Width and height are one field."""
        if attribute == "size_mm":
            stock = self.record.stock
            if stock.points:
                self.show_note(tr("This offcut has an outline of its own; its size follows it."))
                self.form.fill(self.record, self.unit)
                return
            self.changed.emit(_Sized(replace(stock, width_mm=value[0], height_mm=value[1])))
            return
        self.changed.emit(_Sized(replace(self.record.stock, **{attribute: value})))

    def fill(self, record: Any, unit: str) -> None:
        """Show sheets."""
        super().fill(record, unit)
        stock = record.stock
        self.sketch.show_sheet(
            (stock.width_mm, stock.height_mm),
            [d.points for d in stock.defects],
            outline=stock.points,
        )
        self.spots.fill(tuple(_bounds_of(d) for d in stock.defects), unit)

    def _mark(self, x: float, y: float, w: float, h: float) -> None:
        stock = self.record.stock
        spot = Defect(rectangle_points(x, y, w, h))
        self.changed.emit(_Sized(replace(stock, defects=(*stock.defects, spot))))

    def _set_spots(self, rows: tuple[_Rectangle, ...]) -> None:
        defects = tuple(_defect_of(row) for row in rows)
        self.changed.emit(_Sized(replace(self.record.stock, defects=defects)))


class _Sized:
    """A stock record with its size as one value."""

    def __init__(self, stock: Stock) -> None:
        self.stock = stock

    def __getattr__(self, name: str) -> Any:
        return getattr(self.stock, name)

    @property
    def size_mm(self) -> tuple[float, float]:
        """Width and height."""
        return self.stock.width_mm, self.stock.height_mm


class StockPart(Part):
    """Sheets that can be bought or lie in the rack."""

    def __init__(self) -> None:
        super().__init__()
        self._names: list[str] = []
        self._stock: tuple[Stock, ...] = ()
        self.list = RecordList(
            lambda i: StockCard(i, self._options),
            tr("Add a sheet or an offcut"),
            self._new,
            empty_text=tr("Add the sheets you buy and the offcuts in your rack."),
        )
        self.list.changed.connect(self._changed)
        self.column.addWidget(self.list)

    def _options(self) -> list[tuple[str, str]]:
        rows = [(name, name) for name in self._names]
        for stock in self._stock:
            if stock.material not in self._names:
                rows.append((stock.material, stock.material or tr("not chosen yet")))
                break
        return rows

    def _new(self) -> _Sized:
        ids = {s.id for s in self._stock}
        n = 1
        while f"s{n}" in ids:
            n += 1
        name = self._names[0] if self._names else ""
        return _Sized(Stock(f"s{n}", name, 2440.0, 1220.0))

    def _changed(self, rows: tuple[_Sized, ...]) -> None:
        stock = tuple(row.stock for row in rows)
        text = tr("Add a sheet") if len(stock) > len(self._stock) else tr("Set sheets")
        self.wanted.emit(text, "stock", stock)

    def fill(self, project: Project) -> None:
        """Show the sheets."""
        self._names = [m.name for m in project.shop.materials]
        self._stock = project.shop.stock
        self.list.fill(tuple(_Sized(s) for s in self._stock), project.units)


class RulesPart(Part):
    """Distances of the plan."""

    def __init__(self) -> None:
        super().__init__()
        self.form = RecordForm(
            (
                Spec(
                    "spacing_mm",
                    tr("Between pieces"),
                    "length",
                    tr("Distance between cut pieces"),
                    tr("bit and 2 mm"),
                ),
                Spec(
                    "edge_margin_mm",
                    tr("From board edges"),
                    "length",
                    tr("Distance of pieces from factory and sawn edges"),
                ),
                Spec("kerf_mm", tr("Saw kerf"), "length", tr("Width of a saw cut")),
                Spec(
                    "edge_trim_mm",
                    tr("Edge trim"),
                    "length",
                    tr("Factory edge sawn off where a part is finished by the saw"),
                ),
                Spec(
                    "blank_oversize_mm",
                    tr("Blank oversize"),
                    "length",
                    tr("Added to each blank for a saw that wanders"),
                ),
            )
        )
        self.form.edited.connect(
            lambda name, value: self.wanted.emit(tr("Set rules"), "rules", (name, value))
        )
        self.column.addWidget(self.form)

    def fill(self, project: Project) -> None:
        """Show the rules."""
        self.form.fill(project.shop.rules, project.units)


class LimitsPart(Part):
    """What else bounds sheets, blanks and whole panels."""

    def __init__(self) -> None:
        super().__init__()
        none = tr("no limit")
        self.form = RecordForm(
            (
                Spec(
                    "vehicle_mm",
                    tr("Vehicle"),
                    "size",
                    tr("Largest sheet you can carry home"),
                    none,
                ),
                Spec(
                    "door_mm",
                    tr("Door or press"),
                    "size",
                    tr("Largest whole panel that gets out of the shop"),
                    none,
                ),
                Spec(
                    "lift_kg",
                    tr("One person lifts"),
                    "number",
                    tr("A reminder, not advice that a lift is safe"),
                    none,
                    suffix="kg",
                ),
                Spec("planer_width_mm", tr("Planer width"), "length", "", none, above_zero=True),
                Spec(
                    "planer_min_length_mm",
                    tr("Planer's shortest"),
                    "length",
                    tr("Shortest board the planer may take; see its manual"),
                    none,
                    above_zero=True,
                ),
                Spec("snipe_mm", tr("Snipe at each end"), "length"),
            )
        )
        self.form.edited.connect(
            lambda name, value: self.wanted.emit(tr("Set limits"), "limits", (name, value))
        )
        self.column.addWidget(self.form)

    def fill(self, project: Project) -> None:
        """Show the limits."""
        self.form.fill(project.shop.limits, project.units)


class FitCard(RecordCard):
    """One fit, with what it means on each side."""

    def note_of(self, record: FitSetting, unit: str) -> str:
        """Across and a side."""
        return fit_words(record.play_mm, unit)


def fit_words(play_mm: float, unit: str) -> str:
    """ "0.10 mm across, 0.05 mm a side"."""
    shown = "mm" if unit in ("mm", "cm", "m") else "thou"
    return tr("{all} across, {half} a side").format(
        all=_fine(play_mm, shown), half=_fine(play_mm / 2, shown)
    )


def _fine(length_mm: float, unit: str) -> str:
    if unit == "mm":
        text = f"{length_mm:.3f}".rstrip("0")
        whole, _, rest = text.partition(".")
        return f"{whole}.{rest.ljust(2, '0')} mm"
    return f"{length_mm / 0.0254:.1f} thou"


class FitsPart(Part):
    """Fits by joint class, board and bit."""

    def __init__(self) -> None:
        super().__init__()
        self._project: Project | None = None
        self.column.addWidget(
            words(
                tr(
                    "A fit is the play over the whole joint: opening less what enters. Larger is "
                    "looser. Cut a test piece to find yours."
                )
            )
        )
        self.general = RecordForm((Spec("fit_mm", tr("Where nothing else is set"), "length"),))
        self.general.edited.connect(
            lambda name, value: self.wanted.emit(tr("Set fit"), "rules", (name, value))
        )
        self.column.addWidget(self.general)
        self.general_note = words()
        self.column.addWidget(self.general_note)
        self.list = RecordList(self._card, tr("Add a fit"), lambda: FitSetting(0.15))
        self.list.changed.connect(lambda rows: self.wanted.emit(tr("Set fits"), "fits", rows))
        self.column.addWidget(self.list)

    def _card(self, i: int) -> RecordCard:
        classes = {
            JointClass.GLUED: tr("glued"),
            JointClass.KNOCK_DOWN: tr("knock-down"),
        }
        specs = (
            Spec("joint_class", tr("Joint"), "choice", options=list(classes.items())),
            Spec("play_mm", tr("Play"), "length"),
            Spec("material", tr("Board"), "choice", options=self._materials),
            Spec("cutter_mm", tr("Bit"), "choice", options=self._bits),
            Spec("from_test", tr("Found on a test piece"), "check"),
        )
        return FitCard(specs, tr("fit {n}").format(n=i + 1), tr("Remove"))

    def _materials(self) -> list[tuple[str, str]]:
        assert self._project is not None
        return any_of([m.name for m in self._project.shop.materials], tr("any board"))

    def _bits(self) -> list[tuple[float, str]]:
        assert self._project is not None
        unit = self._project.units
        bits = {c.diameter_mm for c in self._project.shop.machine.cutters}
        bits |= {f.cutter_mm for f in self._project.shop.fits if f.cutter_mm}
        return [(0.0, tr("any bit"))] + [(d, show_length(d, unit)) for d in sorted(bits)]

    def fill(self, project: Project) -> None:
        """Show the fits."""
        self._project = project
        self.general.fill(project.shop.rules, project.units)
        self.general_note.setText(fit_words(project.shop.rules.fit_mm, project.units))
        self.list.fill(project.shop.fits, project.units)


def _bounds_of(defect: Defect) -> _Rectangle:
    xs = [p[0] for p in defect.points]
    ys = [p[1] for p in defect.points]
    return _Rectangle(
        min(xs), min(ys), max(xs) - min(xs), max(ys) - min(ys), defect.note, defect.points
    )


def _defect_of(row: _Rectangle) -> Defect:
    """The spot; an outline that is no rectangle is kept while its bounds are untouched."""
    if row.points:
        kept = _bounds_of(Defect(row.points, row.note))
        if replace(kept, note=row.note) == row:
            return Defect(row.points, row.note)
    return Defect(rectangle_points(row.x_mm, row.y_mm, row.width_mm, row.height_mm), row.note)


def _needed(text: str) -> str:
    return "" if text else tr("A name is needed.")


def sections() -> list[tuple[str, Section, Part]]:
    """(key, section, part) of the drawer, in order."""
    rows: tuple[tuple[str, str, str, Part, bool], ...] = (
        ("machine", tr("Machine and clamps"), "router", MachinePart(), True),
        ("bits", tr("Bits"), "bit", BitsPart(), False),
        ("boards", tr("Boards"), "caliper", BoardsPart(), True),
        ("stock", tr("Sheets and offcuts"), "sheet", StockPart(), True),
        ("rules", tr("Distances"), "ruler", RulesPart(), False),
        ("fits", tr("Fits"), "joint", FitsPart(), False),
        ("limits", tr("Limits"), "weight", LimitsPart(), False),
    )
    made = []
    for key, title, icon, part, is_open in rows:
        section = Section(title, icon, is_open=is_open)
        section.add(part)
        made.append((key, section, part))
    return made
