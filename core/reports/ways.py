"""The ways onto the machine as one table, the same on paper, on screen and on a terminal."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from core.plan import PlanWay
from core.reports.words import Words, percent

#: Column heads, the first two at the left, the others under their last figure.
HEADS = (
    "Board",
    "Way",
    "Sheets",
    "Used",
    "Net",
    "Loss",
    "Saw cuts",
    "Blanks",
    "Clampings",
    "Offcut kept",
    "Cost",
)
#: What the figures mean, for a note below the table.
MEANING = (
    "Used: area of the pieces by the area of the sheets. Net: by what of the sheets is not kept as "
    "an offcut. Loss: by so many points of a hundred Net lies below that of whole sheets. Every "
    "way is laid out anew for this table; the layout in use may come to other figures."
)


@dataclass(frozen=True, slots=True)
class WayRow:
    """One row: cells under HEADS, and what there is to say about it."""

    way: PlanWay
    cells: tuple[str, ...]
    note: str


def way_rows(ways: Sequence[PlanWay], words: Words) -> tuple[WayRow, ...]:
    """The rows of the table, in the order of the ways; areas in the unit of the words."""
    whole = {w.material: w for w in ways if w.way == "whole" and w.sheets}
    rows = []
    for way in ways:
        if not way.sheets:
            note = way.why or "Nothing could be placed."
            rows.append(WayRow(way, (way.material, way.title, *["–"] * 9), note))
            continue
        against = whole.get(way.material)
        loss = "–"
        if against is not None and way.way != "whole":
            loss = f"{(against.net_share - way.net_share) * 100:.1f}".replace("-", "−")
        notes = [way.why] if way.why else []
        if way.unplaced:
            notes.append(
                "1 piece has no place."
                if way.unplaced == 1
                else f"{way.unplaced} pieces have no place."
            )
        rows.append(
            WayRow(
                way,
                (
                    way.material,
                    way.title,
                    str(way.sheets),
                    percent(way.yield_share),
                    percent(way.net_share),
                    loss,
                    str(way.saw_cuts) if way.saw_cuts else "–",
                    str(way.blanks) if way.blanks else "–",
                    str(way.setups),
                    words.area(way.offcut_area_mm2) if way.offcut_area_mm2 else "–",
                    words.money(way.cost),
                ),
                " ".join(notes),
            )
        )
    return tuple(rows)
