"""Colours that can be read, icons of one kind."""

from __future__ import annotations

import xml.etree.ElementTree as ElementTree

import pytest
from PySide6.QtGui import QColor
from PySide6.QtWidgets import QApplication

from app import theme

# Contrast after WCAG 2.2, W3C: relative luminance and (L1 + 0.05) / (L2 + 0.05). Text needs
# 4.5:1 (1.4.3), parts of controls 3:1 (1.4.11).


def luminance(color: QColor) -> float:
    def linear(c: float) -> float:
        return c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4

    return (
        0.2126 * linear(color.redF())
        + 0.7152 * linear(color.greenF())
        + 0.0722 * linear(color.blueF())
    )


def contrast(a: QColor, b: QColor) -> float:
    low, high = sorted((luminance(a), luminance(b)))
    return (high + 0.05) / (low + 0.05)


def test_the_formula_agrees_with_known_borderline_greys() -> None:
    white = QColor("#ffffff")
    # #767676 is the lightest grey that passes 4.5:1 on white, #777777 fails.
    assert contrast(QColor("#767676"), white) == pytest.approx(4.5422, abs=1e-3)
    assert contrast(QColor("#777777"), white) == pytest.approx(4.4781, abs=1e-3)


@pytest.mark.parametrize("side", (0, 1), ids=("light", "dark"))
@pytest.mark.parametrize("ground", ("desk", "paper"))
@pytest.mark.parametrize("text", ("ink", "muted", "accent", "stop", "warn", "good", "note"))
def test_text_can_be_read_on_desk_and_paper(side: int, ground: str, text: str) -> None:
    pair = contrast(QColor(theme.COLORS[text][side]), QColor(theme.COLORS[ground][side]))
    assert pair >= 4.5, f"{text} on {ground}: {pair:.2f}"


@pytest.mark.parametrize("side", (0, 1), ids=("light", "dark"))
def test_chosen_rows_primary_buttons_and_controls_stand_out(side: int) -> None:
    def of(name: str) -> QColor:
        return QColor(theme.COLORS[name][side])

    assert contrast(of("ink"), of("accent-wash")) >= 4.5
    assert contrast(of("ink"), of("hover")) >= 4.5
    assert contrast(of("muted"), of("accent-wash")) >= 4.5
    assert contrast(of("on-accent"), of("accent")) >= 4.5
    assert contrast(of("control"), of("paper")) >= 3.0
    assert contrast(of("ink"), of("board")) >= 4.5


@pytest.mark.parametrize("side", (0, 1), ids=("light", "dark"))
def test_labels_can_be_read_on_every_tint(side: int) -> None:
    ink = QColor(theme.COLORS["ink"][side])
    for tint in (theme.TINTS_LIGHT, theme.TINTS_DARK)[side]:
        assert contrast(ink, QColor(tint)) >= 4.5, tint
    assert len(set(theme.TINTS_LIGHT)) == len(set(theme.TINTS_DARK)) == 8


def test_every_icon_is_drawn_on_the_same_grid_with_the_same_stroke() -> None:
    files = sorted(theme.ICON_FOLDER.glob("*.svg"))
    assert len(files) > 40
    for file in files:
        root = ElementTree.fromstring(file.read_text(encoding="utf-8"))
        assert root.get("viewBox") == "0 0 24 24", file.name
        assert root.get("stroke-width") == "1.5", file.name
        assert root.get("stroke") == "currentColor", file.name


def test_every_icon_paints_something_in_the_colour_asked_for(qapp: QApplication) -> None:
    for file in theme.ICON_FOLDER.glob("*.svg"):
        image = theme.pixmap(file.stem, "stop", 48).toImage()
        seen = [
            image.pixelColor(x, y)
            for x in range(48)
            for y in range(48)
            if image.pixelColor(x, y).alpha() > 200
        ]
        assert seen, file.name
        assert all(abs(c.red() - theme.color("stop").red()) < 24 for c in seen), file.name


def test_colours_follow_light_and_dark_and_say_so(qapp: QApplication, qtbot) -> None:
    theme.apply(qapp, "light")
    assert theme.color("desk") == QColor("#EFECE6")
    with qtbot.waitSignal(theme.watcher().changed, timeout=1000):
        theme.apply(qapp, "dark")
    assert theme.color("desk") == QColor("#14181A")
    assert qapp.palette().window().color() == QColor("#14181A")
    theme.apply(qapp, "light")


def test_signs_differ_in_shape_and_not_only_in_colour() -> None:
    assert len(set(theme.SIGNS.values())) == 3
