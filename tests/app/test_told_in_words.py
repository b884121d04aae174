"""What the core really tells, drawn, typed and planned amiss, leaves no English in the window."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from app.wording import error_in_words, finding_in_words
from core.errors import SeamwrightError
from core.findings import Finding, Severity
from core.geometry import Region, Ring
from core.outlines import read_outlines
from core.outlines.typed import read_panel_table
from core.planning import check_project
from core.project.file import project_from_json
from core.project.model import Panel, Project
from core.shop import Machine, Material, Shop, Stock
from core.units import parse_length, parse_size
from tests.app.foreign import data_of, foreign, left_in_english

AMISS = """<svg xmlns="http://www.w3.org/2000/svg" width="900mm" height="900mm"
 viewBox="0 0 900 900">
<g id="Cut">
<path d="M10 10 H310 V210 H10 Z"/><path d="M10 10 H310 V210 H10 Z"/>
<path d="M400 10 H600 V210 H400 V14"/>
<path d="M400 300 L600 500 H400 L600 300 Z"/>
<path d="M10 300 H210 V500 H10 Z"/><path d="M150 400 H350 V600 H150 Z"/>
<path d="M10 700 L300 720"/><path d="M700 700 h0.1 v0.1 h-0.1 z"/>
</g>
<text x="10" y="800">Shelf</text><image href="a.png" width="9" height="9"/></svg>"""


def latin(text: str, names: tuple[str, ...] = ()) -> str:
    """What of a text is left in Latin letters, but for names and units."""
    for name in names:
        text = text.replace(name, "")
    return re.sub(r"\b(mm|cm|kg|in)\b", "", " ".join(re.findall(r"[A-Za-z]{2,}", text))).strip()


def untold(findings: tuple[Finding, ...], *names: str) -> list[str]:
    """Sentences with English in them, and those that stayed as they were."""
    told = [t for f in map(finding_in_words, findings) for t in (f.message, f.remedy)]
    return [text for text in told if latin(text, names)]


def test_what_is_wrong_in_a_drawing(elsewhere: None, tmp_path: Path) -> None:
    file = tmp_path / "amiss.svg"
    file.write_text(AMISS, encoding="utf-8")
    read = read_outlines(file)
    assert len({f.code for f in read.findings}) >= 6
    assert not untold(read.findings, "amiss.svg", "Cut", "image")  # as the file calls it
    (tmp_path / "no.dxf").write_bytes(b"\x89PNG\r\n\x1a\n" + bytes(64))
    with pytest.raises(SeamwrightError) as no:
        read_outlines(tmp_path / "no.dxf")
    assert not latin(error_in_words(no.value), (str(tmp_path / "no.dxf"), foreign("PNG")))


def test_what_is_wrong_in_a_table_and_in_what_is_typed(elsewhere: None) -> None:
    table = "name,width,height,quantity,grain\nTop,900,600,none,free\nLeg,wide,40,2,free\nEnd,9,,,x"
    findings = read_panel_table(table).findings
    assert len(findings) == 3
    # Words to be typed stay as they are to be typed.
    assert not untold(findings, "none", "wide", "“x”", "free", "along", "across")
    typed = ("", "wide", "12 parsec", "-3", "1,234", "1 2", "1/0", "9" * 60, "0")
    for text in typed:
        with pytest.raises(SeamwrightError) as no:
            parse_length(text, allow_zero=False)
        assert not latin(error_in_words(no.value), ("wide", "parsec", "ft", "thou"))
    with pytest.raises(SeamwrightError) as no:
        parse_size("900x600x0")
    assert not latin(error_in_words(no.value), ("900x600x0", "1220x2440x3"))
    with pytest.raises(SeamwrightError) as no:
        project_from_json('{"version": 1, "panels": 3}')
    assert not latin(error_in_words(no.value))


def amiss() -> Project:
    """Panels without a board, of boards that are not there, and one that is too large."""
    big = Region.of(Ring.rectangle(0.0, 0.0, 1300.0, 700.0))
    small = Region.of(Ring.rectangle(0.0, 0.0, 300.0, 200.0))
    shop = Shop(
        Machine(travel_mm=(600.0, 400.0), table_mm=(700.0, 500.0)),
        materials=(Material("Ply 18", 18.0), Material("Oak 20", 20.0)),
        stock=(Stock("s", "Ply 18", 1220.0, 2440.0),),
    )
    return Project(
        panels=(
            Panel("side", "Side", small, material="Ash 20"),
            Panel("top", "Top", big, material="Ply 18"),
            Panel("leg", "Leg", small),
            Panel("end", "End", small, material="Oak 20"),
        ),
        shop=shop,
    )


def test_what_is_wrong_with_a_plan(elsewhere: None) -> None:
    findings = check_project(amiss())
    assert {"no-material", "thickness-not-measured", "no-sheets"} <= {f.code for f in findings}
    assert not untold(findings, "Side", "Top", "Leg", "End", "Ash 20", "Ply 18", "Oak 20")


def test_the_window_shows_them_in_its_language(elsewhere: None, make_window, idle) -> None:
    window = make_window(real=True)
    window.document.take(amiss(), None)
    idle(window, 60_000)
    names = data_of(window) | {"Ash 20"}
    window.notices.set_open(True)
    window.stages[0].select_ids(["side"])
    told = window.context.derived.findings
    assert any(f.severity is Severity.STOP for f in told)
    assert foreign("There is no sheet of ") in " ".join(f.message for f in told)
    for i in (0, 1):
        window.open_stage(i)
        idle(window, 60_000)
        left = left_in_english(window, names)
        assert not left, "\n".join(left)
