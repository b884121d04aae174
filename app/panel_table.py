"""Panels typed or pasted as a table: one rectangular panel a line.

Columns are split by tab, semicolon or comma (the comma only where no other sign is there):
name, width, height, then in any order a quantity (a whole number), a material of the shop and
a grain word. A first line of headings gives the order instead.
"""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Sequence
from dataclasses import dataclass

from app.i18n import tr
from core.errors import BadLengthError
from core.geometry import Region, Ring
from core.project.model import Grain, Panel
from core.units import parse_length

_HEADINGS = {
    "name": ("name", "panel", "part", "label", "description"),
    "width": ("width", "length", "w", "l", "x"),
    "height": ("height", "depth", "h", "d", "y"),
    "quantity": ("quantity", "qty", "count", "pieces", "number", "n"),
    "material": ("material", "board", "stock"),
    "grain": ("grain",),
}
_GRAIN_WORDS = {
    "free": Grain.FREE,
    "any": Grain.FREE,
    "no": Grain.FREE,
    "along": Grain.ALONG,
    "with": Grain.ALONG,
    "across": Grain.ACROSS,
}


@dataclass(frozen=True)
class Table:
    """Panels read and what could not be, line by line."""

    panels: tuple[Panel, ...]
    problems: tuple[str, ...]


def rectangle_panel(
    name: str, width_mm: float, height_mm: float, quantity: int = 1, material: str = ""
) -> Panel:
    """A rectangular panel with its lower left corner at 0, 0. Ids are given on adding."""
    return Panel(
        id=_id_of(name),
        name=name,
        region=Region.of(Ring.rectangle(0.0, 0.0, width_mm, height_mm)),
        quantity=quantity,
        material=material,
    )


def read_table(text: str, unit: str, materials: Sequence[str] = (), material: str = "") -> Table:
    """The panels a text holds. unit: of bare numbers. material: where a line names none.

    A line that cannot be read becomes a problem that names its number; the others count.
    """
    lines = [line for line in text.splitlines() if line.strip()]
    if not lines:
        return Table((), ())
    rows = _rows(text)
    order = _heading_order(rows[0][1]) if rows else None
    if order is not None:
        rows = rows[1:]
    panels: list[Panel] = []
    problems: list[str] = []
    for number, cells in rows:
        try:
            fields = _by_heading(cells, order) if order else _by_place(cells, materials)
            panels.append(_panel(fields, unit, materials, material, len(panels) + 1))
        except BadLengthError as error:
            problems.append(tr("Line {n}: {problem}").format(n=number, problem=error))
    return Table(tuple(panels), tuple(problems))


def _rows(text: str) -> list[tuple[int, list[str]]]:
    sign = next((s for s in ("\t", ";") if s in text), ",")
    rows = []
    for number, line in enumerate(text.splitlines(), start=1):
        if not line.strip():
            continue
        cells = next(csv.reader(io.StringIO(line), delimiter=sign, skipinitialspace=True), [])
        # A bare inch sign is no quotation mark: 12" x 20" must survive the reader.
        if line.count('"') % 2 or re.search(r'\d"', line):
            cells = line.split(sign)
        rows.append((number, [cell.strip() for cell in cells]))
    return rows


def _heading_order(cells: list[str]) -> dict[str, int] | None:
    order: dict[str, int] = {}
    for i, cell in enumerate(cells):
        word = re.sub(r"[^a-z]", "", cell.lower().split("(")[0])
        key = next((k for k, words in _HEADINGS.items() if word in words), None)
        if key is not None and key not in order:
            order[key] = i
    return order if "width" in order and "height" in order else None


def _by_heading(cells: list[str], order: dict[str, int]) -> dict[str, str]:
    return {key: cells[i] for key, i in order.items() if i < len(cells)}


def _by_place(cells: list[str], materials: Sequence[str]) -> dict[str, str]:
    """name, width, height, then whatever the words say."""
    if len(cells) < 3 and len(cells) > 0 and re.search(r"[x×]", cells[-1], re.IGNORECASE):
        parts = re.split(r"\s*[x×]\s*", cells[-1], flags=re.IGNORECASE)
        cells = [*cells[:-1], *parts]
    if len(cells) == 2 or (len(cells) > 2 and _is_number(cells[0]) and not _is_number(cells[2])):
        cells = ["", *cells]
    if len(cells) < 3:
        raise BadLengthError(
            tr("name, width and height are needed"), "", tr("Write it like: Shelf, 800, 300, 4")
        )
    fields = {"name": cells[0], "width": cells[1], "height": cells[2]}
    known = {name.lower(): name for name in materials}
    for cell in cells[3:]:
        word = cell.lower()
        if not word:
            continue
        if word.isdigit() and "quantity" not in fields:
            fields["quantity"] = cell
        elif word in _GRAIN_WORDS and "grain" not in fields:
            fields["grain"] = cell
        elif word in known or "material" not in fields:
            fields["material"] = cell
        else:
            raise BadLengthError(tr("“{text}” means nothing here").format(text=cell[:40]), "", "")
    return fields


def _is_number(text: str) -> bool:
    try:
        parse_length(text)
    except BadLengthError:
        return False
    return True


def _panel(
    fields: dict[str, str], unit: str, materials: Sequence[str], material: str, number: int
) -> Panel:
    width = parse_length(fields.get("width", ""), unit, allow_zero=False)
    height = parse_length(fields.get("height", ""), unit, allow_zero=False)
    amount = fields.get("quantity", "").strip() or "1"
    if not amount.isdigit() or int(amount) < 1:
        raise BadLengthError(
            tr("the quantity “{text}” is no whole number above zero").format(text=amount[:20])
        )
    named = fields.get("material", "").strip()
    if named:
        known = {name.lower(): name for name in materials}
        if named.lower() not in known:
            raise BadLengthError(
                tr("no board in the shop is called “{text}”").format(text=named[:40]),
                "",
                tr("Add it in the shop first."),
            )
        material = known[named.lower()]
    grain_word = fields.get("grain", "").strip().lower()
    if grain_word and grain_word not in _GRAIN_WORDS:
        raise BadLengthError(
            tr("the grain is “{text}”").format(text=grain_word[:20]),
            "",
            tr("Write free, along or across."),
        )
    name = fields.get("name", "").strip() or tr("Panel {n}").format(n=number)
    panel = rectangle_panel(name, width, height, int(amount), material)
    if not grain_word:
        return panel
    return Panel(
        id=panel.id,
        name=panel.name,
        region=panel.region,
        quantity=panel.quantity,
        material=panel.material,
        grain=_GRAIN_WORDS[grain_word],
    )


def _id_of(name: str) -> str:
    word = re.sub(r"[^a-z0-9]+", "-", name.lower()).strip("-")
    return word or "panel"
