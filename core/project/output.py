"""What the maker decided about paper and files: sheets of labels, layer names, DXF version."""

from __future__ import annotations

from dataclasses import dataclass

from core.errors import InvalidProjectError

_PAPERS = ("", "A4", "A3", "Letter", "Tabloid")
_VERSIONS = ("R12", "R2000", "R2010")
#: The lower left corner of what lies on the table, or its middle.
ORIGINS = ("corner", "centre")


@dataclass(frozen=True, slots=True)
class LabelSheet:
    """A sheet of labels as the maker measured it, mm, paper upright.

    paper: name of its paper. left_mm, top_mm: from the paper's edges to the first label, which
    is top left. pitch_x_mm, pitch_y_mm: from one label to the next.
    """

    name: str
    paper: str
    columns: int
    rows: int
    width_mm: float
    height_mm: float
    left_mm: float
    top_mm: float
    pitch_x_mm: float
    pitch_y_mm: float


@dataclass(frozen=True, slots=True)
class Output:
    """How the plan goes onto paper and into files.

    paper: "" for the one that goes with the project's unit. label_sheet: name of a format, ""
    for plain labels to cut out; first_label: first free place on a part-used sheet, from 1.
    layers: (purpose, name) of every layer whose name the maker changed. label_sheets: formats
    of the maker's own. dxf_origin: where a clamping's drawing has its origin, one of ORIGINS.
    """

    paper: str = ""
    label_sheet: str = ""
    first_label: int = 1
    dxf_version: str = "R2010"
    layers: tuple[tuple[str, str], ...] = ()
    label_sheets: tuple[LabelSheet, ...] = ()
    dxf_origin: str = "corner"


def check_output(output: Output) -> None:
    """Raises InvalidProjectError for a value no page or file can be made with."""
    where = "paper and files"
    if output.paper not in _PAPERS:
        raise InvalidProjectError(
            f"There is no paper called “{output.paper}” here", where, "Choose another paper."
        )
    if output.dxf_version not in _VERSIONS:
        raise InvalidProjectError(
            f"Drawings are not written as {output.dxf_version}",
            where,
            f"Use {', '.join(_VERSIONS)}.",
        )
    if output.dxf_origin not in ORIGINS:
        raise InvalidProjectError(
            f"A drawing's origin cannot be “{output.dxf_origin}”",
            where,
            f"Use {' or '.join(ORIGINS)}.",
        )
    if output.first_label < 1:
        raise InvalidProjectError("The first free label is below 1", where, "Count from 1.")
    if len(dict(output.layers)) < len(output.layers):
        raise InvalidProjectError("A layer is named twice", where, "Name each purpose once.")
    names = [sheet.name for sheet in output.label_sheets]
    if len(set(names)) < len(names):
        raise InvalidProjectError("Two label sheets have the same name", where, "Rename one.")
