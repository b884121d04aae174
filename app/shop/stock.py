"""Sheets and offcuts in the shop drawer."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

from app.i18n import tr
from app.shop.part import Part
from app.shop.records import RecordCard, RecordForm, RecordList, Spec
from app.shop.sketch import Sketch
from core.plan import rectangle_points
from core.project.ids import free_ids
from core.project.model import Project
from core.project.validate import CURRENCY_MOST
from core.shop import (
    Defect,
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
                Spec(
                    "cost",
                    tr("Price of one"),
                    "number",
                    tr("The cut list adds these figures up"),
                    tr("not known"),
                ),
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
        self.money = RecordForm(
            (
                Spec(
                    "currency",
                    tr("Prices in"),
                    "text",
                    tr("Written after every amount, such as € or kr"),
                    tr("not said"),
                    check=_short,
                ),
            )
        )
        self.money.edited.connect(
            lambda name, value: self.wanted.emit(
                tr("Set the currency"), "rules", (name, value or "")
            )
        )
        self.show_in(self.money, lambda project: project.shop.rules)
        self.list = RecordList(
            lambda i: StockCard(i, self._options),
            tr("Add a sheet or an offcut"),
            self._new,
            empty_text=tr("Add the sheets you buy and the offcuts in your rack."),
        )
        self.list.changed.connect(self._changed)
        self.show_in(self.list, lambda project: tuple(_Sized(s) for s in project.shop.stock))

    def _options(self) -> list[tuple[str, str]]:
        rows = [(name, name) for name in self._names]
        for stock in self._stock:
            if stock.material not in self._names:
                rows.append((stock.material, stock.material or tr("not chosen yet")))
                break
        return rows

    def _new(self) -> _Sized:
        free = next(free_ids("s", (s.id for s in self._stock)))
        name = self._names[0] if self._names else ""
        return _Sized(Stock(free, name, 2440.0, 1220.0))

    def _changed(self, rows: tuple[_Sized, ...]) -> None:
        stock = tuple(row.stock for row in rows)
        text = tr("Add a sheet") if len(stock) > len(self._stock) else tr("Set sheets")
        self.wanted.emit(text, "stock", stock)

    def fill(self, project: Project) -> None:
        """Show the sheets, of the boards there are."""
        self._names = [m.name for m in project.shop.materials]
        self._stock = project.shop.stock
        super().fill(project)


def _short(text: str) -> str:
    return "" if len(text) <= CURRENCY_MOST else tr("A sign or a code of a few letters will do.")


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
