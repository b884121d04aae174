"""The test piece on paper: what to clamp, how to try it, room for the result, and its label."""

from __future__ import annotations

from core.geometry import Ring
from core.project.model import Project
from core.reports.board import scale_text
from core.reports.paper import Column, Flow, paper_named
from core.reports.pdf import render_pdf
from core.reports.picture import (
    BOARD,
    FINE_MM,
    MUTED,
    NARROW_MM,
    THIN_MM,
    Line,
    Mark,
    Page,
    Shape,
    Stroke,
    rectangle,
    text,
)
from core.reports.words import words_of
from core.test_pieces import (
    TestPiece,
    fit_label,
    piece_margin_mm,
    piece_words,
    scrap_size_mm,
    slot_to_measure,
    use_words,
)
from core.units import format_length, format_size

_SCALES = (1.0, 1.5, 2.0, 2.5, 3.0, 4.0, 5.0)
_LABEL_MM = (70.0, 37.0)  # a usual size of label sheet, 3 by 8 on A4


def fit_test_pages(
    project: Project, pieces: tuple[TestPiece, ...], *, paper: str = "A4", stamp: str = ""
) -> list[Page]:
    """One page per test piece: its clamping, how it is tried, room for the result, a label to
    cut out. paper, stamp: as for the cut list. Raises InvalidRequestError for unknown paper."""
    words = words_of(project)
    flow = Flow(paper_named(paper), note=words.note)
    for piece in pieces:
        _page(flow, project, piece)
    foot = "  ·  ".join(part for part in (project.name, "test piece", stamp) if part)
    return flow.finish(foot)


def fit_test_pdf(
    project: Project, pieces: tuple[TestPiece, ...], *, paper: str = "A4", stamp: str = ""
) -> bytes:
    """The pages as PDF bytes; the same arguments give the same bytes."""
    pages = fit_test_pages(project, pieces, paper=paper, stamp=stamp)
    return render_pdf(pages, title=f"Test piece: {project.name}", subject=stamp)


def _page(flow: Flow, project: Project, piece: TestPiece) -> None:
    unit = project.units
    flow.page(f"First job: test piece for {piece.material}", "test-piece")
    scrap = scrap_size_mm(project, piece)
    flow.paragraph(
        f"{project.shop.machine.name}: clamp a scrap of {piece.material} of at least "
        f"{format_size(*scrap, unit)}, the grain along x, show face up; set the origin at its "
        f"lower left corner. Bit {format_length(piece.cutter.diameter_mm, unit)}: writing, "
        "pockets, openings, then outlines."
    )
    side = max(112.0, flow.span * 0.42)
    top = flow.y - 2.0
    width = flow.right - side - 4.0 - flow.left
    high = min(flow.full_room * 0.55, flow.room - 30.0)
    scale = next((s for s in _SCALES if scrap[0] / s <= width and scrap[1] / s <= high), None)
    if scale is None:
        scale = max(scrap[0] / width, scrap[1] / high)
    low = top - scrap[1] / scale
    flow.add(_drawing(piece, piece_margin_mm(project, piece), scrap, (flow.left, low), scale))
    flow.add(
        [
            text(
                flow.left,
                low - 5.0,
                f"Scale {scale_text(scale)}. The corner with the cross is the origin.",
                8,
                colour=MUTED,
            )
        ]
    )
    _label(flow, project, piece, (flow.left, low - 12.0))
    flow.y = top
    with flow.column(flow.right - side):
        flow.heading("What it is")
        for sentence in piece_words(project, piece):
            flow.paragraph(sentence, 9.5, lead="–", indent_mm=4.0)
        flow.heading("How to use it")
        for sentence in use_words(project, piece):
            flow.paragraph(sentence, 9.5, lead="–", indent_mm=4.0)
        flow.heading("Which was right?")
        flow.table(
            [
                Column("Marked", flex=True),
                Column("Along", tick=True),
                Column("Across", tick=True),
            ],
            [(fit_label(fit, piece.fits_mm, unit=unit), "", "") for fit in piece.fits_mm],
            role="fit",
        )
        slot = slot_to_measure(piece)
        flow.paragraph(
            f"The slot drawn {format_length(slot.width_mm, unit)} wide measures: ____________", 9.5
        )


def _drawing(
    piece: TestPiece,
    margin_mm: float,
    scrap_mm: tuple[float, float],
    corner: tuple[float, float],
    scale: float,
) -> list[Mark]:
    x, y = corner

    def laid(ring: Ring) -> Ring:
        rows = tuple(
            (x + (vx + margin_mm) / scale, y + (vy + margin_mm) / scale, b)
            for vx, vy, b in ring.vertices
        )
        return Ring(rows)

    marks: list[Mark] = [
        rectangle(x, y, scrap_mm[0] / scale, scrap_mm[1] / scale, Stroke(NARROW_MM), None)
    ]
    for part in piece.parts:
        marks.append(
            Shape(
                tuple(laid(ring) for ring in part.region.rings),
                Stroke(THIN_MM),
                BOARD,
                role="test-part",
                key=part.name,
            )
        )
        marks += [Shape((laid(ring),), Stroke(FINE_MM)) for ring in part.pockets]
        for stroke in part.strokes:
            points = tuple(
                (x + (px + margin_mm) / scale, y + (py + margin_mm) / scale) for px, py in stroke
            )
            marks.append(Line(points, Stroke(FINE_MM)))
    for dx, dy in ((5.0, 0.0), (0.0, 5.0)):
        marks.append(Line(((x - dx / 2, y - dy / 2), (x + dx, y + dy)), Stroke(NARROW_MM)))
    return marks


def _label(flow: Flow, project: Project, piece: TestPiece, top_left: tuple[float, float]) -> None:
    """A label for the piece, to cut out; it stays with the board."""
    width, height = _LABEL_MM
    x, y = top_left[0], top_left[1] - height
    if y < flow.bottom:
        return
    unit = project.units
    edge = Stroke(FINE_MM, MUTED, (1.5, 1.0))
    rows = [
        (piece.material, 11.0, True),
        (
            f"Test piece · {format_length(piece.thickness_mm, unit)} · bit "
            f"{format_length(piece.cutter.diameter_mm, unit)}",
            9.0,
            False,
        ),
        ("Right along: ________  across: ________", 9.0, False),
        (f"Slot {format_length(slot_to_measure(piece).width_mm, unit)} measures: ________", 9.0, 0),
        (project.name, 8.0, False),
    ]
    marks: list[Mark] = [rectangle(x, y, width, height, edge, None, role="label")]
    line = y + height - 7.0
    for words, size, bold in rows:
        while size > 6.0 and text(0, 0, words, size, bold=bool(bold)).width_mm > width - 6.0:
            size -= 0.5
        marks.append(text(x + 3.0, line, words, size, bold=bool(bold)))
        line -= 6.5
    flow.add(marks)


__all__ = ["fit_test_pages", "fit_test_pdf"]
