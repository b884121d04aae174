"""Paper, labels, masses, codes and curves against published figures."""

from __future__ import annotations

import io
import math
from dataclasses import replace

import pypdf
import pytest
import segno

from core.geometry import Ring
from core.reports.cautions import LIFT_ADVICE_KG, cautions
from core.reports.cutlist import build_cut_list
from core.reports.labels import LABEL_FORMATS
from core.reports.pages import cut_list_pdf
from core.reports.paper import PAPERS
from core.reports.pdf import render_pdf
from core.reports.picture import NARROW_MM, THIN_MM, TINTS, WIDE_MM, Page, Shape, Stroke
from core.reports.words import Words
from core.shop import SawKind
from tests.unit.reports.pdf_reading import read_pages
from tests.unit.reports.report_plans import every_plan

PLANS = every_plan()


@pytest.mark.parametrize(
    ("name", "width_mm", "height_mm"),
    [
        # ISO 216 sizes as quoted in secondary literature.
        ("A4", 210.0, 297.0),
        ("A3", 297.0, 420.0),
        # ASME Y14.1 sizes A and B, as quoted in secondary literature, 8.5 × 11 and 11 × 17 in.
        ("Letter", 8.5 * 25.4, 11 * 25.4),
        ("Tabloid", 11 * 25.4, 17 * 25.4),
    ],
)
def test_paper_sizes(name: str, width_mm: float, height_mm: float) -> None:
    paper = PAPERS[name]
    assert paper.width_mm == pytest.approx(width_mm, abs=1e-9)
    data = cut_list_pdf(PLANS["empty"], paper=name)
    box = pypdf.PdfReader(io.BytesIO(data)).pages[0].mediabox
    # PDF: 1 pt = 1/72 in, so A4 is 595.276 × 841.890 pt.
    assert float(box.height) == pytest.approx(width_mm * 72 / 25.4, abs=0.01)
    assert float(box.width) == pytest.approx(height_mm * 72 / 25.4, abs=0.01)


def test_print_dialogs_are_asked_not_to_scale() -> None:
    # PDF 1.7 (ISO 32000-1) viewer preference PrintScaling, value None.
    catalog = pypdf.PdfReader(io.BytesIO(cut_list_pdf(PLANS["empty"]))).trailer["/Root"]
    assert catalog["/ViewerPreferences"]["/PrintScaling"] == "/None"  # type: ignore[index]


def test_line_widths_are_from_the_drawing_series_wide_twice_the_narrow() -> None:
    # ISO 128-2 line widths 0.13 0.18 0.25 0.35 0.5 0.7 (from memory); wide : narrow = 2 : 1.
    assert {THIN_MM, NARROW_MM, WIDE_MM} <= {0.13, 0.18, 0.25, 0.35, 0.5, 0.7, 1.0}
    assert WIDE_MM == 2 * NARROW_MM


def test_label_sizes_are_those_in_common_use() -> None:
    # Common practice, no source: 24 of 70 × 37 mm fill A4 but for 0.5 mm above and below;
    # 30 of 2 5/8 × 1 in on Letter.
    a4 = LABEL_FORMATS["A4, 3 × 8 of 70 × 37 mm"]
    assert (a4.per_page, a4.left_mm, a4.top_mm) == (24, 0.0, 0.5)
    letter = LABEL_FORMATS["Letter, 3 × 10 of 2 5/8 × 1 in"]
    assert letter.per_page == 30
    assert letter.top_mm == pytest.approx(12.7)  # half an inch above and below
    assert letter.width_mm == pytest.approx(2.625 * 25.4)


def test_the_mass_of_a_sheet_is_printed_as_a_data_sheet_has_it() -> None:
    # 18 mm birch plywood 1220 × 2440 mm weighs 36.7 kg at 685 kg/m³ (birch plywood data
    # sheet, as quoted in secondary literature). 1 lb = 0.45359237 kg (1959 agreement).
    sheet = build_cut_list(PLANS["small"]).sheets[0].sheet
    assert Words().mass(sheet.mass_kg) == "36.7 kg"
    assert Words("in").mass(sheet.mass_kg) == "81 lb"
    words = "\n".join(p.words for p in read_pages(cut_list_pdf(PLANS["small"])))
    assert "36.7 kg" in words and "get help" in words


def test_lifting_advice_starts_at_the_lower_published_filter() -> None:
    # HSE INDG143 filter 25 kg (men) / 16 kg (women), from memory; NIOSH load constant 23 kg =
    # 51 lb (DHHS (NIOSH) 94-110, as quoted in secondary literature).
    assert LIFT_ADVICE_KG == 16.0
    cut_list = build_cut_list(PLANS["small"])
    lifting = next(c for c in cautions(cut_list, Words()) if c.title == "Lifting")
    for figure in ("25 kg", "16 kg", "23 kg"):
        assert figure in lifting.text
    assert round(25 / 0.45359237) == 55 and round(16 / 0.45359237) == 35
    pounds = next(c for c in cautions(cut_list, Words("in")) if c.title == "Lifting")
    assert all(figure in pounds.text for figure in ("55 lb", "35 lb", "51 lb"))


def test_dust_and_noise_figures_are_the_published_ones() -> None:
    # EH40 hardwood 3 mg/m³; Directive (EU) 2017/2398 2 mg/m³; NIOSH and ACGIH 1 mg/m³; IARC
    # Group 1; Control of Noise at Work Regulations 2005: 80, 85, 87 dB(A). All as quoted in
    # secondary literature.
    found = {c.title: c for c in cautions(build_cut_list(PLANS["small"]), Words())}
    for figure in ("3 mg/m³", "2 mg/m³", "1 mg/m³", "Group 1"):
        assert figure in found["Dust"].text
    for figure in ("80 dB(A)", "85 dB(A)", "87 dB(A)"):
        assert figure in found["Noise"].text
    for caution in found.values():
        assert caution.source


def test_at_a_saw_bench_the_push_stick_is_as_long_as_published() -> None:
    # HSE Woodworking Sheet 16, as quoted: push stick at least 300 mm.
    plan = PLANS["small"]
    rules = replace(plan.project.shop.rules, saw=SawKind.BENCH)
    shop = replace(plan.project.shop, rules=rules)
    bench = replace(plan, project=replace(plan.project, shop=shop))
    for each, said in ((bench, True), (plan, False)):
        (sawing,) = (c for c in cautions(build_cut_list(each), Words()) if c.title == "Sawing")
        assert ("300 mm" in sawing.text and "push stick" in sawing.text) == said
        assert ("Woodworking Sheet 16" in sawing.source) == said


def test_codes_keep_to_the_standards_sizes() -> None:
    # ISO/IEC 18004: version n has 17 + 4n modules a side (from memory).
    for content in ("front.1#1", "a" * 60):
        code = segno.make_qr(content, error="m", boost_error=True)
        assert len(list(code.matrix)) == 17 + 4 * int(code.version)


def test_arcs_on_paper_keep_the_circle_within_the_usual_cubics_error() -> None:
    # A quarter circle as one cubic with handles 4/3·tan(π/8) is off by at most 2.7e-4 of the
    # radius (textbook figure, from memory).
    radius = 80.0
    ring = Ring.circle(105.0, 148.5, radius)
    data = render_pdf([Page(210.0, 297.0, (Shape((ring,), Stroke()),))], title="x")
    (path,) = read_pages(data, paths=True)[0].paths
    assert len(path.points) > 60  # sixteen along each of its cubics
    for x, y in path.points:
        assert math.hypot(x - 105.0, y - 148.5) == pytest.approx(radius, rel=3e-4)


def test_tints_keep_black_text_readable() -> None:
    # WCAG 2.2 contrast formula, SC 1.4.3 asks 4.5 : 1 for text (formula from memory); a figure
    # of the standard's own making: #767676 on white is 4.54, #777777 is 4.48.
    def luminance(colour: str) -> float:
        parts = [int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)]
        lin = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in parts]
        return 0.2126 * lin[0] + 0.7152 * lin[1] + 0.0722 * lin[2]

    assert 1.05 / (luminance("#767676") + 0.05) == pytest.approx(4.5422, abs=1e-4)
    assert 1.05 / (luminance("#777777") + 0.05) == pytest.approx(4.4781, abs=1e-4)
    for tint in TINTS:
        assert (luminance(tint) + 0.05) / 0.05 >= 12.0
