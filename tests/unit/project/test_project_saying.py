"""Sentences in the project's own unit."""

from __future__ import annotations

from dataclasses import replace

import pytest

from core.findings import Finding, Severity
from core.geometry import Region, Ring
from core.project.model import Panel, Project
from core.project.saying import in_project_unit, told
from core.shop import Material, Shop

INCHES = Project(units="in")


@pytest.mark.parametrize(
    ("said", "shown"),
    (
        ("The slot is 6.35 mm wide.", "The slot is 1/4 in wide."),
        ("A slot is 5.8 mm wide; the 6 mm bit", "A slot is 0.228 in wide; the 0.236 in bit"),
        ("room 914.4 × 609.6 mm", "room 36 × 24 in"),
        ("Take 0 to 25.4 mm.", "Take 0 to 1 in."),
        ("it moved by 25.4, -50.8 mm in the drawing", "it moved by 1, -2 in in the drawing"),
        ("a fit of 0.15 mm", "a fit of 0.0059 in"),
        ("leaves 645.16 mm²", "leaves 1 in²"),
        ("up to 38 kg, more than 25 kg", "up to 83.8 lb, more than 55.1 lb"),
        ("685 kg/m³ and 2 mm/min stay", "685 kg/m³ and 2 mm/min stay"),
        ('"Shelf 300 mm" is 254 mm too wide', '"Shelf 300 mm" is 10 in too wide'),
        ("3 pieces on 2 sheets", "3 pieces on 2 sheets"),
    ),
)
def test_quantities_are_told_in_inches(said: str, shown: str) -> None:
    assert in_project_unit(said, INCHES) == shown


def test_names_of_boards_and_panels_stay_as_they_are_written() -> None:
    project = replace(
        INCHES,
        shop=Shop(materials=(Material("Birch 18 mm", 18.0),)),
        panels=(Panel("p", "Rail 40 mm", Region.of(Ring.rectangle(0, 0, 10, 10))),),
    )
    said = "Birch 18 mm measures 12.7 mm; Rail 40 mm is cut from it"
    assert in_project_unit(said, project) == (
        "Birch 18 mm measures 1/2 in; Rail 40 mm is cut from it"
    )


def test_a_metric_project_is_told_what_the_core_said() -> None:
    finding = Finding("x", Severity.NOTE, "It is 5 mm wide.", remedy="Make it 6 mm.")
    assert told(finding, Project()) is finding
    assert told(finding, Project(units="cm")).message == "It is 0.5 cm wide."


def test_a_finding_keeps_everything_but_its_sentences() -> None:
    finding = Finding("x", Severity.WARN, "12.7 mm.", "p", (1.0, 2.0), "Take 25.4 mm.", "a.dxf")
    shown = told(finding, INCHES)
    assert (shown.message, shown.remedy) == ("1/2 in.", "Take 1 in.")
    assert replace(shown, message=finding.message, remedy=finding.remedy) == finding
