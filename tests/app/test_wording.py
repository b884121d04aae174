"""Sentences of the core in the language of the window: found by their templates, values put in."""

from __future__ import annotations

import re
import subprocess
import sys
import xml.etree.ElementTree as ElementTree
from collections.abc import Iterator
from itertools import count
from pathlib import Path

import pytest
from PySide6.QtCore import QTranslator
from PySide6.QtWidgets import QApplication

from app import wording
from app.core_words import fixed_words
from app.wording import error_in_words, finding_in_words, in_words, matcher
from app.wording.gather import TABLE, gathered, written
from app.wording.match import Said
from app.wording.table import JOINTS, SENTENCES
from app.wording.template import Hole
from core.errors import BadLengthError, UnreadableDrawing
from core.findings import Finding, Severity
from core.geometry import Region, Ring
from core.planning import check_project
from core.project.model import Panel, Project
from core.project.saying import in_unit

TOOLS = Path(sys.executable).parent
ROOT = Path(__file__).resolve().parents[2]


class Language(QTranslator):
    """A made-up language: what ``says`` makes of a text."""

    def __init__(self, table: dict[str, str], rest: str = "{}") -> None:
        super().__init__()
        self.table = {"English": "Made up", **table}
        self.rest = rest

    def translate(self, context: str, text: str, *_: object) -> str:  # type: ignore[override]
        return self.table.get(text) or self.rest.replace("{}", text)

    def isEmpty(self) -> bool:
        return False


@pytest.fixture
def speak(qapp: QApplication) -> Iterator[object]:
    """Gives the window a language until the test is over."""
    spoken: list[Language] = []

    def begin(table: dict[str, str], rest: str = "{}") -> None:
        known = {row.text for row in SENTENCES} | {*fixed_words(), *JOINTS}
        assert not table.keys() - known, "no text of the core"
        spoken.append(Language(table, rest))
        qapp.installTranslator(spoken[-1])

    yield begin
    for translator in spoken:
        qapp.removeTranslator(translator)


def sample(row: Said) -> str:
    """A sentence made by a template: numbers, names and words nobody else says."""
    n = count(3)
    return re.sub(
        r"\{(\w+)\}",
        lambda place: str(next(n)) if place[1] in row.numbers else f"Qx{next(n)}z",
        row.text,
    )


def test_the_table_holds_what_the_core_says_now() -> None:
    rows, joints = gathered()
    expected = {
        written(template): tuple(
            tuple(p.name for p in template if isinstance(p, Hole) and p.kind == kind)
            for kind in ("words", "number", "list")
        )
        for templates in rows.values()
        for template in templates
    }
    held = {row.text: (row.words, row.numbers, row.lists) for row in SENTENCES}
    hint = f"write it anew: python -m app.wording.gather ({TABLE.name})"
    new, old = sorted(expected.keys() - held.keys()), sorted(held.keys() - expected.keys())
    assert not new, f"new in the core; {hint}"
    assert not old, f"nobody says so any more; {hint}"
    other = sorted(text for text in held if held[text] != expected[text])
    assert not other, f"places of another kind; {hint}"
    assert tuple(joints) == JOINTS, hint


def test_every_template_is_found_by_a_sentence_of_its_own_and_by_no_other() -> None:
    wrong = []
    for row in SENTENCES:
        if row.is_frame:
            continue  # found only round words of the table
        text = sample(row)
        parts = matcher().apart(text)
        if parts is None or len(parts) != 1 or getattr(parts[0], "said", None) != row:
            wrong.append((row.text, parts))
    assert not wrong


def test_a_language_that_says_everything_the_same_changes_no_sentence(speak) -> None:
    speak({})
    changed = {t: in_words(t) for t in map(sample, SENTENCES) if in_words(t) != t}
    assert not changed


def test_a_sentence_is_said_by_its_template_with_the_values_put_in(speak) -> None:
    speak(
        {
            "{piece} lies at {turn}°, against its grain": "Gegen die Faser, um {turn}°: {piece}",
            "{material} was not measured; joints take its nominal {nominal} mm": (
                "Nenndicke {nominal} mm gilt für {material}"
            ),
        }
    )
    assert in_words("Side, mirrored 2 lies at 90°, against its grain") == (
        "Gegen die Faser, um 90°: Side, mirrored 2"
    )
    told = in_words("Birch ply 18 was not measured; joints take its nominal 18 mm")
    assert told == "Nenndicke 18 mm gilt für Birch ply 18"
    assert in_unit(told, "in", ["Birch ply 18"]) == "Nenndicke 0.709 in gilt für Birch ply 18"


def test_words_and_sentences_within_a_sentence_are_said_too(speak) -> None:
    speak(
        {
            "Sheet {number}: {what}": "Platte {number}: {what}",
            "{piece_id} and {piece_id2} are {gap} mm apart": "{piece_id}/{piece_id2}: {gap} mm",
            "{panel}: a {reading} drawn {size} is left as drawn, because {doubts}": (
                "{panel}: {reading} von {size} bleibt, denn {doubts}"
            ),
            "slot": "Schlitz",
            "its end is round": "ein Ende ist rund",
            "it is a single step": "es ist eine Stufe",
            " and ": " und ",
        }
    )
    assert in_words("Sheet 3: top and leg are 2.5 mm apart") == "Platte 3: top/leg: 2.5 mm"
    told = in_words(
        "Front: a slot drawn 18 mm is left as drawn, because its end is round and it is a single "
        "step"
    )
    assert told == "Front: Schlitz von 18 mm bleibt, denn ein Ende ist rund und es ist eine Stufe"


def test_a_sentence_that_goes_on_within_another_begins_small_there(speak) -> None:
    speak(
        {
            "Two reliefs run into each other": "Zwei Freistiche stoßen zusammen",
            "The joints of {piece} cannot be re-cut: {what}": "{piece} bleibt: {what}",
        }
    )
    told = in_words("The joints of Side cannot be re-cut: two reliefs run into each other")
    assert told == "Side bleibt: zwei Freistiche stoßen zusammen"


def test_names_of_the_makers_own_are_never_translated(speak) -> None:
    speak({}, rest="⟦{}⟧")
    assert in_words("pocket has no board") == "⟦pocket has no board⟧"
    assert in_words("Nobody of the core says this") == "Nobody of the core says this"
    assert in_words("pocket") == "⟦pocket⟧"


def test_a_name_that_looks_like_a_place_stays_a_name(speak) -> None:
    speak({"{piece} lies at {turn}°, against its grain": "Um {turn}° liegt {piece}"})
    told = in_words("Side {turn} lies at 90°, against its grain")
    assert told == "Um 90° liegt Side {turn}"


def test_an_error_is_said_in_its_three_parts(speak) -> None:
    error = BadLengthError("“wide” is no length", "--kerf", "Use mm, cm, m, in, ft or thou.")
    assert error_in_words(error) == str(error)
    speak(
        {
            "“{shown}” is no length": "„{shown}“ ist keine Länge",
            "Use mm, cm, m, in, ft or thou.": "Nimm mm oder in.",
        }
    )
    assert error_in_words(error) == "--kerf: „wide“ ist keine Länge. Nimm mm oder in."
    assert error_in_words(KeyError("n")) == "'n'"
    unread = UnreadableDrawing("There is no such file", "a.dxf", "Check the name and the folder.")
    assert error_in_words(unread) == str(unread)


def test_the_findings_of_a_project_are_said(speak) -> None:
    region = Region.of(Ring.rectangle(0.0, 0.0, 4000.0, 300.0))
    project = Project(panels=(Panel("side", "Side", region, material="Oak 20"),))
    plain = check_project(project)
    assert plain and all(finding_in_words(f) is f for f in plain)
    speak({}, rest="⟦{}⟧")
    for finding in plain:
        told = finding_in_words(finding)
        assert told.message.startswith("⟦") and told.message.endswith("⟧"), told
        assert not finding.remedy or told.remedy.startswith("⟦"), told
        assert (told.code, told.panel, told.at) == (finding.code, finding.panel, finding.at)


def test_without_a_translation_nothing_is_looked_up(qapp, monkeypatch) -> None:
    monkeypatch.setattr(wording, "matcher", lambda: pytest.fail("the table was read"))
    assert in_words("It fits whole.") == "It fits whole."
    finding = Finding("note", Severity.NOTE, "It fits whole.")
    assert finding_in_words(finding) is finding


def test_every_fixed_word_is_known_and_places_have_names_of_their_own() -> None:
    assert all(matcher().apart(word) for word in fixed_words())
    for row in SENTENCES:
        assert len(set(row.places)) == len(row.places), row
        assert {*row.words, *row.numbers, *row.lists} <= set(row.places), row


def test_the_translation_tool_finds_every_sentence_and_word_of_the_core(tmp_path: Path) -> None:
    source = tmp_path / "all.ts"
    files = [str(ROOT / "app" / name) for name in ("wording/table.py", "core_words.py", "i18n.py")]
    subprocess.run(
        [TOOLS / "pyside6-lupdate", *files, "-ts", source], check=True, capture_output=True
    )
    found = {m.findtext("source") for m in ElementTree.parse(source).iter("message")}
    assert {row.text for row in SENTENCES} | {*fixed_words(), *JOINTS, "English"} <= found
