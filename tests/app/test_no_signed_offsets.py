"""Sign safety in the window: no field takes a bare signed offset for a fit, a wall or a size."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import pytest
from pytestqt.qtbot import QtBot

from app.widgets.fields import LengthField, NumberField
from core.errors import SeamwrightError
from core.geometry import Ring
from core.outlines.recognise import FeatureRef
from core.project.codec import from_plain, to_plain
from core.project.model import Project, SeamLine
from core.project.refit import RefitDecision, RefitRules
from core.project.validate import validate_project
from core.shop import FitSetting, Rules, Shop
from tests.unit.refit.refit_fittings import panel, project, toothed

TRAY = panel("Tray", Ring.rectangle(0, 0, 400, 300))
REF = FeatureRef("slot", (18.0, 100.0), (59.0, 100.0))
# Places on a drawing, not offsets: coordinates of a seam's ends, of a tooth's corners and the
# like, how far a pattern is moved along its seam, how far a seam bows.
PLACES = ("x", "y", "start", "end", "pattern", "moved", "shift", "place", "bows", "edge")


@pytest.fixture
def window(make_window: Callable[..., object]) -> object:
    top = panel("Top", toothed(600, 300, 9, 18.0, tip_first=True))
    side = panel("Side", toothed(400, 300, 9, 18.0, tip_first=False))
    return make_window(project(top, side))


def test_only_places_on_a_drawing_may_be_typed_below_zero(window: object) -> None:
    window.open_shop("machine")  # type: ignore[attr-defined]
    for stage in range(4):
        window.open_stage(stage)  # type: ignore[attr-defined]
    signed = [f for f in window.findChildren(LengthField) if f._least < 0]  # type: ignore[attr-defined]
    assert signed
    for field in signed:
        words = field.line.accessibleName().lower()
        assert any(place in words.replace(",", " ").split() for place in PLACES), words
        for offset in ("fit", "play", "clearance", "offset", "allowance", "proud", "gap"):
            assert offset not in words


def test_fields_for_fit_and_play_refuse_a_sign_in_every_stage_and_the_shop(
    window: object, qtbot: QtBot
) -> None:
    window.open_shop("fits")  # type: ignore[attr-defined]
    window.shop.parts["fits"].list.add()  # type: ignore[attr-defined]
    window.open_stage(1)  # type: ignore[attr-defined]
    words = ("fit", "play", "proud", "stand", "across the joint", "nothing else")
    seen = 0
    for field in window.findChildren(LengthField):  # type: ignore[attr-defined]
        name = field.line.accessibleName().lower()
        if not any(word in name for word in words):
            continue
        seen += 1
        before = field.value
        for typed in ("-0.1", "−0.1 mm", "-2 thou"):
            field.line.setText(typed)
            field.line.setModified(True)
            assert not field.commit(), name
            assert field.problem.text(), name
        assert field.value == before
        field.set_value(before)
    assert seen >= 6
    for number in window.findChildren(NumberField):  # type: ignore[attr-defined]
        assert "fit" not in number.line.accessibleName().lower().split()


@pytest.mark.parametrize(
    "wrong",
    [
        {"shop": Shop(rules=Rules(fit_mm=-0.1))},
        {"shop": Shop(fits=(FitSetting(-0.05),))},
        {"refit_rules": RefitRules(fit_mm=-0.1)},
        {"refit_rules": RefitRules(proud_mm=-0.2)},
        {"refit_rules": RefitRules(halving_clearance_mm=-0.2)},
        {"panels": (replace(TRAY, refits=(RefitDecision(REF, fit_mm=-0.1),)),)},
        {"panels": (replace(TRAY, seams=(SeamLine(((0, 0), (0, 9)), fit_mm=-0.1),)),)},
    ],
)
def test_a_project_file_with_a_fit_below_zero_is_refused(wrong: dict[str, object]) -> None:
    plain = to_plain(replace(Project(), **wrong))  # type: ignore[arg-type]
    with pytest.raises(SeamwrightError, match=r"negative|below zero|zero or more"):
        validate_project(from_plain(Project, plain, ""))
