"""What the workshop gets of each demo, read back from the files themselves.

Pages with pdfium, codes with a reader of their own, drawings with ezdxf and with GDAL, which
share no code.
"""

from __future__ import annotations

import re
from collections import Counter
from dataclasses import dataclass
from functools import cache
from pathlib import Path

import ezdxf
import numpy as np
import pyogrio
import pypdfium2
import pytest
import shapely
import zxingcpp
from ezdxf.entities import LWPolyline
from shapely.geometry import Polygon

from core.geometry import Ring
from core.plan import Plan, plan_json
from core.planning import plan_project
from core.project.file import load_project
from core.project.model import CutBy
from core.reports.cutlist import CutList, build_cut_list
from core.reports.files import drawing_files
from core.reports.labels import labels_pdf, piece_code
from core.reports.pages import cut_list_pdf
from core.reports.paper import PAPERS
from core.reports.words import Words
from tests import drawing_check
from tests.unit.reports.pdf_reading import (
    FoundPage,
    misplaced,
    numbers_found,
    outside,
    overlapping,
    read_pages,
    sheet_pages,
)

DEMOS = Path(__file__).resolve().parents[1] / "demo_projects"
NAMES = ("studio_counter", "glaze_shelves", "kiln_wall")
CAUTIONS = "Before you start"
STEPS = 4000  # how tightly things lie is none of this file's business


@dataclass(frozen=True)
class Demo:
    """A demo planned, with what its cut list says."""

    name: str
    plan: Plan
    cut_list: CutList


@cache
def demo(name: str) -> Demo:
    plan = plan_project(load_project(DEMOS / name), steps=STEPS)
    return Demo(name, plan, build_cut_list(plan))


@cache
def pages(name: str, paper: str) -> list[FoundPage]:
    data = cut_list_pdf(demo(name).plan, paper=paper, stamp="2026-11-25 10:00")
    return read_pages(data, paths=True)


EVERY = pytest.mark.parametrize("name", NAMES)
ON_PAPER = pytest.mark.parametrize(("name", "paper"), [(n, p) for n in NAMES for p in PAPERS])


@ON_PAPER
def test_every_piece_is_once_in_the_diagrams_and_once_in_the_tables(name: str, paper: str) -> None:
    cut_list = demo(name).cut_list
    in_diagrams, in_tables = numbers_found(pages(name, paper), cut_list.sheets)
    wanted = Counter(range(1, len(cut_list.copies) + 1))
    assert len(wanted) == sum(len(sheet.placements) for sheet in demo(name).plan.sheets)
    assert in_diagrams == wanted
    assert in_tables == wanted


@ON_PAPER
def test_every_routed_piece_is_once_in_the_order_of_a_clamping(name: str, paper: str) -> None:
    found: Counter[int] = Counter()
    for page in pages(name, paper):
        if page.title.startswith("Clamping "):
            words = [t.words for t in page.texts]
            # In the table a number is followed by a name with its copy; diagrams have no such.
            for t, after in zip(page.texts, words[1:], strict=False):
                copies = re.search(r"\(\d+ of \d+\)$", after)
                known = any(after == c.piece.name for c in demo(name).cut_list.copies)
                if t.bold and re.fullmatch(r"\d+", t.words) and (copies or known):
                    found[int(t.words)] += 1
    copies = demo(name).cut_list.copies
    routed = {c.number for c in copies if c.piece.by is not CutBy.SAW}
    assert set(found) >= routed
    lying = Counter(
        c.number for lines in demo(name).cut_list.sheets for s in lines.setups for c in s.copies
    )
    assert routed == set(lying)


@ON_PAPER
def test_no_text_lies_over_another_or_outside_its_page(name: str, paper: str) -> None:
    for number, page in enumerate(pages(name, paper), 1):
        assert overlapping(page) == [], f"page {number}, {page.title}"
        assert outside(page) == [], f"page {number}, {page.title}"


@ON_PAPER
def test_diagrams_are_true_to_their_scale_within_two_tenths(name: str, paper: str) -> None:
    want = PAPERS[paper]
    for lines in demo(name).cut_list.sheets:
        page = sheet_pages(pages(name, paper), lines.sheet.number)[0]
        assert (page.width_mm, page.height_mm) == pytest.approx(
            (want.height_mm, want.width_mm), abs=0.01
        )
        assert misplaced(page, lines) == [], page.title


@EVERY
def test_totals_on_paper_agree_with_the_plan_file(name: str) -> None:
    plan = demo(name).plan
    first = pages(name, "A4")[0].words.split("\n")
    totals, bought = plan_json(plan)["totals"], plan_json(plan)["purchase"]
    area = Words(plan.project.units).area
    share = f"{min(round(totals['yield'] * 100), 99)} %"
    assert area(totals["sheet_area"]) in first
    assert f"{area(totals['piece_area'])} ({share})" in first
    assert area(totals["scrap_area"]) in first
    sign = plan.project.shop.rules.currency
    assert sign and f"{totals['cost']:.2f} {sign}" in first
    assert any(words.startswith(f"{len(demo(name).cut_list.copies)} pieces on") for words in first)
    wanted = Counter(f"{line['quantity']} ×" for line in bought)
    assert Counter(w for w in first if re.fullmatch(r"\d+ ×", w)) == wanted
    pieces = sum(p.cut.area_mm2 for c in demo(name).cut_list.copies for p in [c.piece])
    assert totals["piece_area"] == pytest.approx(pieces, rel=1e-9)


@ON_PAPER
def test_every_font_is_embedded(name: str, paper: str) -> None:
    fonts = {(t.font, t.embedded) for page in pages(name, paper) for t in page.texts}
    assert fonts == {("DejaVuSans", True), ("DejaVuSans-Bold", True)}


def test_fractions_and_primes_are_printed_where_the_project_is_in_inches() -> None:
    words = "\n".join(page.words for page in pages("glaze_shelves", "Letter"))
    for sign in ("½", "¼", "⅛", "″", "×", "ft²"):
        assert sign in words
    assert re.search(r"\d \d+/(?:16|32|64)″", words)
    # Nothing of the work itself is in mm; the cautions quote their sources' own figures.
    work = "\n".join(p.words for p in pages("glaze_shelves", "Letter") if p.title != CAUTIONS)
    assert not re.findall(r".*\d mm\b.*", work)


@EVERY
def test_every_split_panel_has_a_seam_map_that_names_its_seams_and_pieces(name: str) -> None:
    plan = demo(name).plan
    split = {seam.panel for seam in plan.seams}
    assert split
    for panel in (p for p in plan.panels if p.id in split):
        words = "\n".join(
            page.words
            for page in pages(name, "A4")
            if page.title.startswith(f"Seam map: {panel.name}")
        )
        for piece in (p for p in plan.pieces if p.panel == panel.id):
            assert piece.name in words
        rows = words.split("\n")
        for seam in (s for s in plan.seams if s.panel == panel.id):
            assert rows.count(seam.letter) >= 2, "once in the drawing, once in the table"
        assert "Gluing up, in this order" in words
        assert "diagonals" in words


def test_the_seam_map_says_what_was_done_at_inside_corners_not_what_one_might_do() -> None:
    words = " ".join(
        page.words for page in pages("glaze_shelves", "A4") if page.title.startswith("Seam map")
    ).replace("\n", " ")
    assert "Relief is cut at its inside corners." in words
    assert "or corners rounded" not in words


@EVERY
def test_every_label_carries_a_code_that_can_be_read(name: str) -> None:
    copies = demo(name).cut_list.copies
    document = pypdfium2.PdfDocument(labels_pdf(demo(name).plan))
    found: Counter[str] = Counter()
    for page in document:
        picture = page.render(scale=200 / 72, grayscale=True).to_numpy()
        codes = zxingcpp.read_barcodes(
            np.ascontiguousarray(picture.squeeze()), formats=zxingcpp.BarcodeFormat.QRCode
        )
        found.update(code.text for code in codes)
    assert found == Counter(piece_code(line) for line in copies)


# --- drawings -------------------------------------------------------------------------------

CUT_LAYERS = ("CUT_OUTSIDE", "CUT_INSIDE", "SAW_PART")


@cache
def drawings(name: str) -> dict[str, bytes]:
    return drawing_files(demo(name).cut_list)


@EVERY
def test_drawings_hold_the_outlines_of_the_plan_closed_once_and_with_true_arcs(
    name: str, tmp_path: Path
) -> None:
    cut_list = demo(name).cut_list
    for lines in cut_list.sheets:
        path = tmp_path / "sheet.dxf"
        path.write_bytes(drawings(name)[f"sheets/sheet-{lines.sheet.number:02d}.dxf"])
        found = ezdxf_rings(path)
        wanted = [ring for c in lines.copies for ring in c.placed.rings]
        assert len(found) == len(wanted)
        areas = sorted(abs(ring.signed_area_mm2) for _, ring in found)
        assert areas == pytest.approx(sorted(abs(r.signed_area_mm2) for r in wanted), rel=1e-9)
        assert sum(r.has_arcs for _, r in found) == sum(r.has_arcs for r in wanted)
    assert len(drawings(name)) == len(cut_list.sheets) + sum(
        len(lines.setups) for lines in cut_list.sheets
    )


@EVERY
def test_a_second_reader_finds_the_same_areas_and_arcs_in_every_drawing(
    name: str, tmp_path: Path
) -> None:
    pyogrio.set_gdal_config_options(
        {"OGR_ARC_STEPSIZE": "0.5", "DXF_CLOSED_LINE_AS_POLYGON": "YES"}
    )
    compared = arcs = 0
    for file, data in drawings(name).items():
        path = tmp_path / Path(file).name
        path.write_bytes(data)
        ours = ezdxf_rings(path)
        theirs = gdal_rings(path)
        assert Counter(layer for layer, _ in ours) == Counter(layer for layer, _ in theirs), file
        for layer, ring in ours:
            fine = Polygon(ring.flattened(0.0005))
            other = min(
                (shape for at, shape in theirs if at == layer),
                key=lambda s: s.centroid.distance(fine.centroid) + abs(s.area - fine.area) ** 0.5,
            )
            # Chords of 0.5°: a full circle loses 1.3e-5 of its area, a hollow one gains.
            assert other.area == pytest.approx(abs(ring.signed_area_mm2), rel=1e-4)
            # Every corner of the other reader's chords lies on our arc.
            corners = shapely.points(shapely.get_coordinates(other.exterior))
            assert float(shapely.distance(corners, fine.exterior).max()) < 0.001
            if ring.has_arcs:
                assert len(corners) > len(ring.vertices) + 1
                arcs += 1
            compared += 1
    laid = [c for lines in demo(name).cut_list.sheets for c in lines.copies]
    laid += [c for lines in demo(name).cut_list.sheets for s in lines.setups for c in s.laid]
    assert compared == sum(len(c.placed.rings) for c in laid)
    assert arcs


@pytest.mark.parametrize("version", ["R12", "R2000", "R2010"])
@EVERY
def test_no_drawing_of_any_version_holds_an_edge_twice_or_without_length(
    name: str, version: str
) -> None:
    files = drawing_files(demo(name).cut_list, dxf_version=version)
    for file, data in files.items():
        assert drawing_check.flaws(data) == [], file
        assert drawing_check.version_of(data) == version


def ezdxf_rings(path: Path) -> list[tuple[str, Ring]]:
    """Layer and ring of every closed line on the layers that are cut."""
    document = ezdxf.readfile(path)
    assert not document.audit().errors
    out = []
    for line in document.modelspace().query("LWPOLYLINE"):
        assert isinstance(line, LWPolyline)
        if line.dxf.layer in CUT_LAYERS:
            assert line.closed
            out.append((line.dxf.layer, Ring(tuple(line.get_points("xyb")))))
    corners = [tuple(sorted((round(x, 3), round(y, 3)) for x, y, _ in r.vertices)) for _, r in out]
    assert len(set(corners)) == len(corners), "an outline is there twice"
    return out


def gdal_rings(path: Path) -> list[tuple[str, Polygon]]:
    """The same with GDAL, which makes chords of arcs."""
    meta, _, geometry, fields = pyogrio.raw.read(path)
    layers = fields[list(meta["fields"]).index("Layer")]
    return [
        (str(layer), shape)
        for layer, shape in zip(layers, shapely.from_wkb(geometry), strict=True)
        if layer in CUT_LAYERS and isinstance(shape, Polygon)
    ]
