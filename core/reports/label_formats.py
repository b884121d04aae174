"""Formats of label sheets: those in common use, and the maker's own."""

from __future__ import annotations

from dataclasses import dataclass

from core.errors import InvalidRequestError
from core.project.output import LabelSheet, Output
from core.reports.paper import Paper, paper_named


@dataclass(frozen=True, slots=True)
class LabelFormat:
    """A sheet of labels by its dimensions, mm, portrait; the first label is top left.

    left_mm, top_mm: from the paper's edges to the first label. pitch: from one label to the
    next. cut_lines: print lines to cut along, for plain paper.
    """

    name: str
    paper: Paper
    columns: int
    rows: int
    width_mm: float
    height_mm: float
    left_mm: float
    top_mm: float
    pitch_x_mm: float
    pitch_y_mm: float
    cut_lines: bool = False

    def __post_init__(self) -> None:
        right = self.left_mm + (self.columns - 1) * self.pitch_x_mm + self.width_mm
        low = self.top_mm + (self.rows - 1) * self.pitch_y_mm + self.height_mm
        fits = right <= self.paper.width_mm + 1e-6 and low <= self.paper.height_mm + 1e-6
        overlap = (self.columns > 1 and self.pitch_x_mm < self.width_mm - 1e-6) or (
            self.rows > 1 and self.pitch_y_mm < self.height_mm - 1e-6
        )
        if min(self.columns, self.rows) < 1 or min(self.left_mm, self.top_mm) < 0:
            raise InvalidRequestError("A label sheet needs rows, columns and margins of 0 or more")
        if min(self.width_mm, self.height_mm) < 20.0 or not fits or overlap:
            raise InvalidRequestError(
                f"Labels of {self.width_mm:g} × {self.height_mm:g} mm do not go on "
                f"{self.paper.name} that way",
                remedy="Labels are 20 mm or more each way, lie apart and inside the paper.",
            )

    @property
    def per_page(self) -> int:
        return self.columns * self.rows

    def check_place(self, first_place: int) -> None:
        """Raises InvalidRequestError if labels cannot begin there, counted from 1."""
        if not 1 <= first_place <= self.per_page:
            raise InvalidRequestError(
                f"There is no place {first_place} on a sheet of {self.per_page} labels",
                remedy=f"Begin at 1 to {self.per_page}.",
            )

    def corner(self, place: int) -> tuple[float, float]:
        """Lower left corner of the label at a place counted from 0, along rows; page mm."""
        row, column = divmod(place, self.columns)
        x = self.left_mm + column * self.pitch_x_mm
        top = self.paper.height_mm - self.top_mm - row * self.pitch_y_mm
        return x, top - self.height_mm


def _grid(
    name: str,
    paper: str,
    columns: int,
    rows: int,
    width: float,
    height: float,
    *,
    left: float | None = None,
    top: float | None = None,
    gap_x: float = 0.0,
    gap_y: float = 0.0,
    cut_lines: bool = False,
) -> LabelFormat:
    """A format centred on its paper unless left and top are given."""
    sheet = paper_named(paper)
    wide = columns * width + (columns - 1) * gap_x
    high = rows * height + (rows - 1) * gap_y
    return LabelFormat(
        name,
        sheet,
        columns,
        rows,
        width,
        height,
        (sheet.width_mm - wide) / 2 if left is None else left,
        (sheet.height_mm - high) / 2 if top is None else top,
        width + gap_x,
        height + gap_y,
        cut_lines,
    )


# Sizes in common use (common practice, no source), named by what they measure.
LABEL_FORMATS = {
    fmt.name: fmt
    for fmt in (
        _grid("A4, 3 × 8 of 70 × 37 mm", "A4", 3, 8, 70.0, 37.0),
        _grid("A4, 3 × 7 of 63.5 × 38.1 mm", "A4", 3, 7, 63.5, 38.1, gap_x=2.54),
        _grid("A4, 2 × 4 of 105 × 74 mm", "A4", 2, 4, 105.0, 74.0),
        _grid("Letter, 3 × 10 of 2 5/8 × 1 in", "Letter", 3, 10, 66.675, 25.4, gap_x=3.175),
        _grid("Letter, 2 × 5 of 4 × 2 in", "Letter", 2, 5, 101.6, 50.8, gap_x=4.7625),
        _grid("A4, cut out, 2 × 6 of 92 × 45 mm", "A4", 2, 6, 92.0, 45.0, cut_lines=True),
        _grid("Letter, cut out, 2 × 5 of 94 × 50 mm", "Letter", 2, 5, 94.0, 50.0, cut_lines=True),
    )
}
DEFAULT_FORMAT = "A4, cut out, 2 × 6 of 92 × 45 mm"
_LETTER_FORMAT = "Letter, cut out, 2 × 5 of 94 × 50 mm"


def default_format(units: str) -> str:
    """Plain cut-out labels on the paper that goes with the project's units."""
    return _LETTER_FORMAT if units in ("in", "ft", "thou") else DEFAULT_FORMAT


def own_format(sheet: LabelSheet) -> LabelFormat:
    """A format of the maker's own. Raises InvalidRequestError if it does not go on its paper."""
    if not sheet.name.strip():
        raise InvalidRequestError("A label sheet needs a name")
    return LabelFormat(
        sheet.name,
        paper_named(sheet.paper),
        sheet.columns,
        sheet.rows,
        sheet.width_mm,
        sheet.height_mm,
        sheet.left_mm,
        sheet.top_mm,
        sheet.pitch_x_mm,
        sheet.pitch_y_mm,
    )


def format_names(output: Output) -> list[str]:
    """Names of every format there is: those in common use, then the maker's own."""
    own = [sheet.name for sheet in output.label_sheets if sheet.name not in LABEL_FORMATS]
    return [*LABEL_FORMATS, *own]


def format_named(name: str, units: str, output: Output) -> LabelFormat:
    """The format of that name, the maker's own first; "" for plain labels to cut out.

    Raises InvalidRequestError for a name there is no format of.
    """
    name = name or default_format(units)
    own = next((sheet for sheet in output.label_sheets if sheet.name == name), None)
    if own is not None:
        return own_format(own)
    if name not in LABEL_FORMATS:
        raise InvalidRequestError(
            f"There are no labels called “{name}”",
            remedy=f"Use {'; '.join(format_names(output))}.",
        )
    return LABEL_FORMATS[name]
