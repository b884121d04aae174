"""Pieces are told apart by eyes of all kinds, and every text can be read on what it stands on."""

from __future__ import annotations

import itertools
import math

import numpy as np
import pytest
from PySide6.QtCore import Qt
from PySide6.QtGui import QColor, QGuiApplication, QImage, QPainter, QPainterPath
from PySide6.QtWidgets import QApplication

from app import theme
from app.canvas import items
from core.geometry import Region, Ring
from tests.app.test_theme import contrast

# Simulation of dichromatic sight in linear RGB, severity 1.0: Machado, Oliveira and Fernandes,
# "A Physiologically-based Model for Simulation of Color Vision Deficiency", IEEE Transactions
# on Visualization and Computer Graphics 15 (2009), table of matrices.
SIGHTS = {
    "normal": np.eye(3),
    "protanopia": np.array(
        [
            [0.152286, 1.052583, -0.204868],
            [0.114503, 0.786281, 0.099216],
            [-0.003882, -0.048116, 1.051998],
        ]
    ),
    "deuteranopia": np.array(
        [
            [0.367322, 0.860646, -0.227968],
            [0.280085, 0.672501, 0.047413],
            [-0.011820, 0.042940, 0.968881],
        ]
    ),
    "tritanopia": np.array(
        [
            [1.255528, -0.076749, -0.178779],
            [-0.078411, 0.930809, 0.147602],
            [0.004733, 0.691367, 0.303900],
        ]
    ),
}
# IEC 61966-2-1 (sRGB): linear RGB to XYZ, and the white it is relative to (D65).
TO_XYZ = np.array(
    [
        [0.4124564, 0.3575761, 0.1804375],
        [0.2126729, 0.7151522, 0.0721750],
        [0.0193339, 0.1191920, 0.9503041],
    ]
)
WHITE = np.array([0.95047, 1.0, 1.08883])
LEAST = 8.0  # CIEDE2000; 1 can just be seen side by side, 2 to 3 at a glance


def linear(color: QColor) -> np.ndarray:
    c = np.array([color.redF(), color.greenF(), color.blueF()])
    return np.where(c <= 0.04045, c / 12.92, ((c + 0.055) / 1.055) ** 2.4)


def lab(color: QColor, sight: str = "normal") -> tuple[float, float, float]:
    """CIE L*a*b* of a colour as that sight sees it."""
    xyz = TO_XYZ @ np.clip(SIGHTS[sight] @ linear(color), 0, 1) / WHITE
    f = np.where(xyz > 216 / 24389, np.cbrt(xyz), (24389 / 27 * xyz + 16) / 116)
    return 116 * f[1] - 16, 500 * (f[0] - f[1]), 200 * (f[1] - f[2])


def ciede2000(one: tuple[float, float, float], other: tuple[float, float, float]) -> float:
    """Colour difference after ISO/CIE 11664-6, as written out by Sharma, Wu and Dalal (2005)."""
    (l1, a1, b1), (l2, a2, b2) = one, other
    mean7 = ((math.hypot(a1, b1) + math.hypot(a2, b2)) / 2) ** 7
    g = 0.5 * (1 - math.sqrt(mean7 / (mean7 + 25.0**7)))
    a1, a2 = (1 + g) * a1, (1 + g) * a2
    c1, c2 = math.hypot(a1, b1), math.hypot(a2, b2)
    h1, h2 = math.degrees(math.atan2(b1, a1)) % 360, math.degrees(math.atan2(b2, a2)) % 360
    dh = 0.0 if c1 * c2 == 0 else (h2 - h1 + 180) % 360 - 180
    if c1 * c2 == 0:
        h = h1 + h2
    elif abs(h1 - h2) <= 180:
        h = (h1 + h2) / 2
    else:
        h = (h1 + h2 + (360 if h1 + h2 < 360 else -360)) / 2
    d_hue = 2 * math.sqrt(c1 * c2) * math.sin(math.radians(dh / 2))
    light, c = (l1 + l2) / 2, (c1 + c2) / 2

    def cos(deg: float) -> float:
        return math.cos(math.radians(deg))

    t = 1 - 0.17 * cos(h - 30) + 0.24 * cos(2 * h) + 0.32 * cos(3 * h + 6) - 0.2 * cos(4 * h - 63)
    turn = 30 * math.exp(-(((h - 275) / 25) ** 2))
    rc = 2 * math.sqrt(c**7 / (c**7 + 25.0**7))
    sl = 1 + 0.015 * (light - 50) ** 2 / math.sqrt(20 + (light - 50) ** 2)
    sc, sh = 1 + 0.045 * c, 1 + 0.015 * c * t
    rt = -math.sin(math.radians(2 * turn)) * rc
    x, y, z = (l2 - l1) / sl, (c2 - c1) / sc, d_hue / sh
    return math.sqrt(x * x + y * y + z * z + rt * y * z)


@pytest.mark.parametrize(
    ("one", "other", "wanted"),
    [  # Rows 1, 4, 7, 15, 17, 24, 30 and 33 of the test data of Sharma, Wu and Dalal (2005).
        ((50.0000, 2.6772, -79.7751), (50.0000, 0.0000, -82.7485), 2.0425),
        ((50.0000, -1.3802, -84.2814), (50.0000, 0.0000, -82.7485), 1.0000),
        ((50.0000, 0.0000, 0.0000), (50.0000, -1.0000, 2.0000), 2.3669),
        ((50.0000, -0.0010, 2.4900), (50.0000, 0.0011, -2.4900), 4.7461),
        ((50.0000, 2.5000, 0.0000), (73.0000, 25.0000, -18.0000), 27.1492),
        ((60.2574, -34.0099, 36.2677), (60.4626, -34.1751, 39.4387), 1.2644),
        ((90.8027, -2.0831, 1.4410), (91.1528, -1.6435, 0.0447), 1.4441),
        ((2.0776, 0.0795, -1.1350), (0.9033, -0.0636, -0.5514), 0.9082),
    ],
)
def test_the_measure_agrees_with_its_published_test_data(
    one: tuple[float, float, float], other: tuple[float, float, float], wanted: float
) -> None:
    assert ciede2000(one, other) == pytest.approx(wanted, abs=1e-4)
    assert ciede2000(other, one) == pytest.approx(wanted, abs=1e-4)


@pytest.mark.parametrize("sight", SIGHTS)
def test_every_simulated_sight_leaves_greys_alone(sight: str) -> None:
    assert SIGHTS[sight].sum(axis=1) == pytest.approx([1, 1, 1], abs=2e-6)


def test_red_and_green_of_equal_lightness_fall_together_without_one_cone() -> None:
    # A check of the simulation itself: what protanopes and deuteranopes confuse comes close.
    red, green = QColor("#b45a3c"), QColor("#7d7a3a")
    far = ciede2000(lab(red), lab(green))
    assert far > 25
    assert ciede2000(lab(red, "deuteranopia"), lab(green, "deuteranopia")) < far / 3


@pytest.mark.parametrize("sight", SIGHTS)
@pytest.mark.parametrize("tints", (theme.TINTS_LIGHT, theme.TINTS_DARK), ids=("light", "dark"))
def test_any_two_tints_of_pieces_are_told_apart(tints: tuple[str, ...], sight: str) -> None:
    seen = {tint: lab(QColor(tint), sight) for tint in tints}
    pairs = {(a, b): ciede2000(seen[a], seen[b]) for a, b in itertools.combinations(tints, 2)}
    nearest = min(pairs, key=pairs.__getitem__)
    assert pairs[nearest] >= LEAST, f"{nearest}: {pairs[nearest]:.2f}"


@pytest.mark.parametrize("dark", (False, True), ids=("light", "dark"))
def test_labels_can_be_read_on_fills_patterns_and_what_is_under_the_pointer(
    dark: bool, qapp: QApplication
) -> None:
    theme.apply(qapp, "dark" if dark else "light", less_motion=True)
    ink = theme.color("ink")
    for index, hot in itertools.product(range(8), (False, True)):
        fill, line = theme.tint(index, hot=hot), theme.tint_line(index, hot=hot)
        assert contrast(ink, fill) >= 4.5, (index, hot)
        assert contrast(ink, line) >= 4.5, (index, hot)
        for sight in SIGHTS:
            assert ciede2000(lab(fill, sight), lab(line, sight)) >= 4, (index, hot, sight)


def test_no_two_of_the_first_forty_eight_panels_have_tint_and_pattern_alike(
    qapp: QApplication,
) -> None:
    region = Region.of(Ring.rectangle(0, 0, 10, 10))
    looks = set()
    for index in range(48):
        piece = items.PieceItem(("p", 1), region, index=index, label="")
        looks.add((piece.brush().color().name(), piece._pattern))
    assert len(looks) == 48


# Every text of the window and what it may stand on. Contrast after WCAG 2.2: (1.4.3) 4.5:1.
TEXT_ON = [
    *itertools.product(
        ("ink", "muted", "accent", "stop", "warn", "good", "note"), ("desk", "paper")
    ),
    *itertools.product(("ink", "muted"), ("accent-wash", "hover")),
    *itertools.product(("accent",), ("accent-wash",)),
    *itertools.product(("ink",), ("board", "hairline")),
    ("on-accent", "accent"),
    ("saw-cut", "desk"),
    ("saw-cut", "paper"),
    ("clamp", "paper"),
]


@pytest.mark.parametrize("side", (0, 1), ids=("light", "dark"))
@pytest.mark.parametrize(("text", "ground"), TEXT_ON)
def test_every_text_can_be_read_on_what_it_stands_on(text: str, ground: str, side: int) -> None:
    pair = contrast(QColor(theme.COLORS[text][side]), QColor(theme.COLORS[ground][side]))
    assert pair >= 4.5, f"{text} on {ground}: {pair:.2f}"


class Desktop:
    """Stands for what the desktop says, which the offscreen platform and a bare X server
    cannot be asked for; the signal is Qt's own."""

    scheme = Qt.ColorScheme.Light

    def colorScheme(self) -> Qt.ColorScheme:
        return self.scheme

    def styleHints(self) -> Desktop:
        return self

    def becomes(self, scheme: Qt.ColorScheme) -> None:
        self.scheme = scheme
        QGuiApplication.styleHints().colorSchemeChanged.emit(scheme)


def test_light_and_dark_follow_the_system_until_the_maker_chooses(
    qapp: QApplication, monkeypatch: pytest.MonkeyPatch
) -> None:
    desktop = Desktop()
    theme.apply(qapp, "light", less_motion=True)  # from here on the signal is listened to
    monkeypatch.setattr(theme, "QGuiApplication", desktop)
    theme.watcher().wish = "system"
    for scheme, dark in ((Qt.ColorScheme.Dark, True), (Qt.ColorScheme.Light, False)):
        desktop.becomes(scheme)
        assert theme.is_dark() is dark
        assert qapp.palette().window().color() == QColor(theme.COLORS["desk"][dark])
    theme.watcher().wish = "light"
    desktop.becomes(Qt.ColorScheme.Dark)
    assert not theme.is_dark(), "the maker's own choice stays"


@pytest.mark.parametrize("ratio", (1, 2, 3))
def test_patterns_are_as_fine_as_the_screen_and_keep_their_distance(
    ratio: int, qapp: QApplication
) -> None:
    image = QImage(120 * ratio, 120 * ratio, QImage.Format.Format_RGB32)
    image.setDevicePixelRatio(ratio)
    image.fill(Qt.GlobalColor.white)
    painter = QPainter(image)
    painter.scale(0.3, 0.3)
    path = QPainterPath()
    path.addRect(0, 0, 400, 400)
    items.paint_hatch(painter, path, "level", QColor("black"))
    painter.end()
    column = np.array([image.pixelColor(50, y).lightnessF() for y in range(120 * ratio)])
    ink = (1 - column).reshape(-1, 12 * ratio).sum(axis=1)  # a line every 12 units
    assert ink == pytest.approx(np.full(10, ratio), abs=0.05)
    assert (column < 0.9).sum() <= 10 * (ratio + 1), "a line is no wider than it need be"
