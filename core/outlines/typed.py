"""Panels without a drawing: typed by size, pasted from a spreadsheet, or read from CSV.

A row is name, size, quantity, material, grain, cut by; with a heading row the columns may stand
in any order, and width and height may have columns of their own. A size is read like
``900x600``, ``900x600 r30`` (rounded corners), ``disc 350``, ``triangle 600x400``. Good rows are
kept, bad rows are named by their line.
"""

from __future__ import annotations

import csv
import io
import math
import os
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from core.errors import BadLengthError, InvalidRequestError, UnreadableDrawing
from core.findings import Finding, Severity
from core.geometry import Region, Ring
from core.outlines.limits import MAX_FILE_BYTES, MAX_TABLE_ROWS
from core.outlines.model import Outline
from core.tolerances import LARGEST_PLAUSIBLE_MM
from core.units import format_length, parse_length, parse_size, unit_named

_GRAIN_WORDS = {
    "free": ("", "-", "free", "any", "none", "no", "either"),
    "along": ("along", "with", "length", "lengthwise", "long", "x"),
    "across": ("across", "cross", "width", "crosswise", "short", "y"),
}
_BY_WORDS = {
    "router": ("", "-", "router", "cnc", "rout", "routed", "mill"),
    "saw": ("saw", "sawn", "table saw", "panel saw", "rail saw", "track saw", "bench saw"),
}
_HEADINGS: dict[str, tuple[str, ...]] = {
    "name": ("name", "panel", "part", "piece", "description"),
    "size": ("size", "dimensions", "dimension"),
    "width": ("width", "w", "length", "l", "long", "x"),
    "height": ("height", "h", "depth", "short", "y"),
    "quantity": ("quantity", "qty", "count", "number", "pcs", "pieces", "no", "n"),
    "material": ("material", "board", "stock", "sheet"),
    "grain": ("grain", "grain direction"),
    "by": ("cut by", "by", "machine", "cut"),
}
_ORDER = ("name", "size", "quantity", "material", "grain", "by")
_ROUND = re.compile(
    r"^(?:disc|disk|circle|round|dia(?:meter)?\.?|[ø⌀Ø]|d(?=\s*[\d.,]))\s*(.+)$", re.IGNORECASE
)
_TRIANGLE = re.compile(r"^(?:triangle|tri)\s+(.+)$", re.IGNORECASE)
_CORNER = re.compile(r"^(.*?)[\s,]+r(?:adius)?\s*([\d.,/ ]+(?:[a-z\"″']+)?)$", re.IGNORECASE)
_LARGEST_QUANTITY = 10_000


@dataclass(frozen=True)
class TypedPanel:
    """One row of a table. grain: free, along or across; by: router or saw; line counts from 1."""

    name: str
    region: Region
    quantity: int = 1
    material: str = ""
    grain: str = "free"
    by: str = "router"
    line: int = 0

    @property
    def outline(self) -> Outline:
        """The panel as an outline like one from a drawing."""
        return Outline(self.region, layer="", name=self.name)


@dataclass(frozen=True)
class PanelTable:
    """Good rows as panels, in order, and a finding for every bad row."""

    panels: tuple[TypedPanel, ...]
    findings: tuple[Finding, ...]


def rectangle(width_mm: float, height_mm: float) -> Region:
    """A rectangle with its lower left corner at the origin; raises InvalidRequestError."""
    _check_positive(width=width_mm, height=height_mm)
    return Region(Ring.rectangle(0.0, 0.0, width_mm, height_mm))


def rounded_rectangle(width_mm: float, height_mm: float, corner_mm: float) -> Region:
    """A rectangle whose corners are quarter circles of radius corner_mm.

    A radius of half the shorter side gives an obround; more raises InvalidRequestError.
    """
    _check_positive(width=width_mm, height=height_mm)
    if not corner_mm or not math.isfinite(corner_mm):
        return rectangle(width_mm, height_mm)
    r, w, h = corner_mm, width_mm, height_mm
    if r < 0 or r > min(w, h) / 2 * (1 + 1e-9):
        raise InvalidRequestError(
            f"A corner radius of {format_length(r)} does not fit {format_length(min(w, h))}",
            remedy="Give at most half the shorter side.",
        )
    r = min(r, min(w, h) / 2)
    quarter = math.tan(math.pi / 8)
    rows = [
        (r, 0.0, 0.0),
        (w - r, 0.0, quarter),
        (w, r, 0.0),
        (w, h - r, quarter),
        (w - r, h, 0.0),
        (r, h, quarter),
        (0.0, h - r, 0.0),
        (0.0, r, quarter),
    ]
    return Region(Ring.of(rows))


def disc(diameter_mm: float, *, hole_mm: float = 0.0) -> Region:
    """A disc touching both axes, with a round hole in its middle if hole_mm is above 0."""
    _check_positive(diameter=diameter_mm)
    if not 0.0 <= hole_mm < diameter_mm:
        raise InvalidRequestError(
            f"A hole of {format_length(hole_mm)} does not fit a disc of "
            f"{format_length(diameter_mm)}",
            remedy="Give a smaller hole.",
        )
    r = diameter_mm / 2
    holes = [Ring.circle(r, r, hole_mm / 2)] if hole_mm else []
    return Region.of(Ring.circle(r, r, r), holes)


def triangle(base_mm: float, height_mm: float, *, apex_mm: float | None = None) -> Region:
    """A triangle on the x axis; apex_mm is where the top stands along the base.

    None: over the middle. 0 or base_mm: a right angle.
    """
    _check_positive(base=base_mm, height=height_mm)
    apex = base_mm / 2 if apex_mm is None else apex_mm
    if not math.isfinite(apex) or abs(apex) > 10 * base_mm:
        raise InvalidRequestError("The triangle's top lies too far out")
    return Region(Ring.of([(0.0, 0.0), (base_mm, 0.0), (apex, height_mm)]))


def triangle_of_sides(first_mm: float, second_mm: float, third_mm: float) -> Region:
    """A triangle with its first side on the x axis, the others following counter-clockwise."""
    _check_positive(first=first_mm, second=second_mm, third=third_mm)
    a, b, c = first_mm, second_mm, third_mm
    if a + b <= c or b + c <= a or c + a <= b:
        raise InvalidRequestError(
            "Three sides of these lengths make no triangle",
            remedy="The two shorter ones together must be longer than the third.",
        )
    # Law of cosines for the corner at the origin, between the first and the third side.
    x = (a * a + c * c - b * b) / (2 * a)
    y = math.sqrt(max(c * c - x * x, 0.0))
    return Region(Ring.of([(0.0, 0.0), (a, 0.0), (x, y)]))


def region_from_text(text: str, default_unit: str = "mm") -> Region:
    """The shape a size means: 900x600, 900x600 r30, disc 350, triangle 600x400.

    Raises BadLengthError or InvalidRequestError saying why not.
    """
    tidy = text.strip()
    if found := _ROUND.match(tidy):
        return disc(parse_length(found.group(1), default_unit, allow_zero=False))
    if found := _TRIANGLE.match(tidy):
        size = parse_size(found.group(1), default_unit)
        return triangle(size.width_mm, size.height_mm)
    corner = 0.0
    if found := _CORNER.match(tidy):
        corner = parse_length(found.group(2), default_unit)
        tidy = found.group(1)
    size = parse_size(tidy, default_unit)
    if size.quantity is not None:
        raise BadLengthError(f"“{text}” holds three numbers", remedy="Put the quantity beside it.")
    return rounded_rectangle(size.width_mm, size.height_mm, corner)


def read_panel_table(text: str, *, default_unit: str = "mm", source: str = "") -> PanelTable:
    """Panels from pasted cells or CSV text.

    Columns part at tabs, else semicolons, else commas. default_unit: of bare numbers, unless a
    heading names another like ``Width (in)``. source: file name for the findings.
    """
    unit = unit_named(default_unit)
    findings: list[Finding] = []
    rows = _cells(text, findings, source)
    columns: Mapping[str, tuple[int, str]] | None = None
    panels: list[TypedPanel] = []
    for number, (line, cells) in enumerate(rows):
        if number == 0:
            columns = _heading(cells, unit)
            if columns is not None:
                continue
        try:
            panel = _panel(cells, columns, unit, line, len(panels) + 1)
        except (BadLengthError, InvalidRequestError) as error:
            findings.append(
                Finding(
                    "row-unreadable",
                    Severity.WARN,
                    f"Line {line} was left out: {error.what}.",
                    remedy=error.remedy or "Correct the row and read the table again.",
                    source=source,
                )
            )
            continue
        panels.append(panel)
        if max(panel.region.size_mm) > LARGEST_PLAUSIBLE_MM:
            findings.append(
                Finding(
                    "row-large",
                    Severity.WARN,
                    f"Line {line}: {panel.name} measures "
                    f"{format_length(max(panel.region.size_mm))}, longer than any sheet.",
                    remedy="Check the unit.",
                    source=source,
                )
            )
    return PanelTable(tuple(panels), tuple(findings))


def read_panel_file(path: str | os.PathLike[str], *, default_unit: str = "mm") -> PanelTable:
    """Panels from a CSV or tab-separated file; raises UnreadableDrawing if it is no text."""
    name = str(path)
    try:
        with open(path, "rb") as stream:
            data = stream.read(MAX_FILE_BYTES + 1)
    except OSError as error:
        raise UnreadableDrawing(
            f"The table cannot be opened ({error.strerror or error})", name, "Check the name."
        ) from error
    if len(data) > MAX_FILE_BYTES:
        raise UnreadableDrawing("The table is too large", name, "Keep only the panels' rows.")
    text = table_text(data, name)
    return read_panel_table(text, default_unit=default_unit, source=os.path.basename(name))


def table_text(data: bytes, name: str) -> str:
    """The text of a table as spreadsheets save it: UTF-8, UTF-16 or Windows' western letters.

    name: of the file. Raises UnreadableDrawing if it is no text.
    """
    if data.startswith((b"\xff\xfe", b"\xfe\xff")):
        text = data.decode("utf-16", errors="replace")
    else:
        try:
            text = data.decode("utf-8-sig")
        except UnicodeDecodeError:
            text = data.decode("cp1252", errors="replace")
    if "\x00" in text:
        raise UnreadableDrawing(
            "This is no table of text", name, "Save the spreadsheet as CSV first."
        )
    return text


def _cells(text: str, findings: list[Finding], source: str) -> list[tuple[int, list[str]]]:
    """Rows that hold something, each with its line number."""
    text = text.lstrip("\ufeff").replace("\r\n", "\n").replace("\r", "\n").replace("\x00", "")
    lines = [line for line in text.split("\n") if line.strip()]
    mark = next((m for m in "\t;" if sum(m in line for line in lines) * 2 >= len(lines) > 0), ",")
    reader = csv.reader(io.StringIO(text), delimiter=mark)
    rows: list[tuple[int, list[str]]] = []
    try:
        for cells in reader:
            tidy = [" ".join(cell.split()) for cell in cells]
            if any(tidy) and not tidy[0].startswith("#"):
                rows.append((reader.line_num, tidy))
            if len(rows) > MAX_TABLE_ROWS:
                findings.append(
                    Finding(
                        "table-cut",
                        Severity.WARN,
                        f"The table has more than {MAX_TABLE_ROWS} rows; the rest was left out.",
                        remedy="Split the table.",
                        source=source,
                    )
                )
                rows.pop()
                break
    except csv.Error as error:
        findings.append(
            Finding(
                "table-cut",
                Severity.WARN,
                f"The table breaks off at line {reader.line_num} ({error}).",
                remedy="Check the quotation marks there.",
                source=source,
            )
        )
    return rows


def _heading(cells: Sequence[str], unit: str) -> dict[str, tuple[int, str]] | None:
    """Column of every field and its unit, if the row is a heading; else None."""
    columns: dict[str, tuple[int, str]] = {}
    for index, cell in enumerate(cells):
        word = cell.lower().strip()
        own = unit
        if found := re.match(r"^(.*?)\s*[\[(/,]\s*([a-z\"″']+)\s*[\])]?$", word):
            try:
                own = unit_named(found.group(2))
                word = found.group(1).strip()
            except BadLengthError:
                pass
        for field, words in _HEADINGS.items():
            if word in words and field not in columns:
                columns[field] = (index, own)
                break
    sized = "size" in columns or ("width" in columns and "height" in columns)
    return columns if sized and not any(_is_length(cell) for cell in cells) else None


def _is_length(cell: str) -> bool:
    try:
        parse_length(cell)
    except BadLengthError:
        return False
    return True


def _panel(
    cells: Sequence[str],
    columns: Mapping[str, tuple[int, str]] | None,
    unit: str,
    line: int,
    count: int,
) -> TypedPanel:
    """One row to a panel; raises what its cells raise."""
    if columns is None:
        found = _without_heading(cells)
        columns = {field: (index, unit) for field, index in found.items()}

    def cell(field: str) -> str:
        index, _ = columns.get(field, (-1, unit))
        return cells[index] if 0 <= index < len(cells) else ""

    if cell("size"):
        region = region_from_text(cell("size"), columns["size"][1])
    elif cell("width") and cell("height"):
        region = rectangle(
            parse_length(cell("width"), columns["width"][1], allow_zero=False),
            parse_length(cell("height"), columns["height"][1], allow_zero=False),
        )
    else:
        raise BadLengthError("it has no size", remedy="Write width x height, like 900x600.")
    return TypedPanel(
        name=cell("name") or f"panel-{count}",
        region=region,
        quantity=_quantity(cell("quantity")),
        material=cell("material"),
        grain=_word(cell("grain"), _GRAIN_WORDS, "grain"),
        by=_word(cell("by"), _BY_WORDS, "machine"),
        line=line,
    )


def _without_heading(cells: Sequence[str]) -> dict[str, int]:
    """Where the fields stand in a row of a table without a heading."""
    plain = [_is_length(cell) for cell in cells]
    if len(cells) > 2 and plain[1] and plain[2]:
        return {"name": 0, "width": 1, "height": 2} | {
            field: index + 1 for index, field in enumerate(_ORDER) if index > 1
        }
    return {field: index for index, field in enumerate(_ORDER)}


def _quantity(text: str) -> int:
    tidy = text.strip().lower().removesuffix("x").removeprefix("x").removeprefix("×").strip()
    tidy = tidy.removesuffix(".0")
    if not tidy:
        return 1
    if not (tidy.isascii() and tidy.isdigit()) or not 1 <= int(tidy[:9]) <= _LARGEST_QUANTITY:
        raise InvalidRequestError(
            f"the quantity “{text}” is no whole number from 1 to {_LARGEST_QUANTITY}"
        )
    return int(tidy)


def _word(text: str, words: Mapping[str, tuple[str, ...]], what: str) -> str:
    tidy = text.strip().lower()
    for meaning, known in words.items():
        if tidy in known:
            return meaning
    raise InvalidRequestError(
        f"the {what} “{text}” is not known", remedy=f"Write {' or '.join(words)}."
    )


def _check_positive(**lengths_mm: float) -> None:
    for name, value in lengths_mm.items():
        if not math.isfinite(value) or value <= 0:
            raise InvalidRequestError(
                f"The {name} must be above zero, not {value:g} mm", remedy="Give another length."
            )
