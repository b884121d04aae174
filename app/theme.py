"""The one home of colours, icons and spacing, all by meaning.

``theme.color("stop")`` is what a widget asks for; whether that is the light or the dark one
follows the system (or the maker's preference). Listen to ``theme.watcher().changed`` to
repaint.
"""

from __future__ import annotations

import atexit
import shutil
import tempfile
from collections.abc import Mapping
from pathlib import Path
from types import MappingProxyType

from PySide6.QtCore import QByteArray, QObject, QRectF, QSize, Qt, Signal
from PySide6.QtGui import QColor, QFontMetrics, QGuiApplication, QIcon, QPainter, QPalette, QPixmap
from PySide6.QtSvg import QSvgRenderer
from PySide6.QtWidgets import QApplication, QWidget

from core.findings import Severity

ICON_FOLDER = Path(__file__).resolve().parent.parent / "assets" / "icons"

# Spacing steps and the smallest target, in logical pixels.
TIGHT, NORMAL, WIDE = 4, 8, 16
TARGET = 24
MOTION_MS = 150

#: meaning → (light, dark)
COLORS: Mapping[str, tuple[str, str]] = MappingProxyType(
    {
        "desk": ("#EFECE6", "#14181A"),
        "paper": ("#FBFAF7", "#1D2326"),
        "ink": ("#1F2A30", "#E8ECEE"),
        "muted": ("#5C6870", "#9FABB2"),
        "hairline": ("#C9C3B8", "#3A4449"),
        "control": ("#80868A", "#707B81"),  # borders of fields and buttons, 3:1 on paper
        "accent": ("#0B5A8F", "#6CB8EC"),
        "on-accent": ("#FFFFFF", "#10181D"),
        "accent-wash": ("#DCE8EF", "#22394A"),  # chosen rows; ink and accent text stay legible
        "hover": ("#E9E5DE", "#273035"),
        "board": ("#EAD9B5", "#57462C"),
        "grain": ("#D8C196", "#6B5839"),
        "stop": ("#A3281C", "#FF8A7A"),
        "warn": ("#8A5A00", "#F0B84A"),
        "good": ("#2D6A3E", "#7FCB92"),
        "note": ("#5C6870", "#9FABB2"),
        "seam": ("#0B5A8F", "#6CB8EC"),
        "saw-cut": ("#7A3B12", "#E8A56B"),
        "offcut": ("#6B7A52", "#A9BC86"),
        "defect": ("#A3281C", "#FF8A7A"),
        "clamp": ("#5A4A78", "#B7A6DB"),
        "pocket": ("#B99F6C", "#7C6744"),
        "piece.selected": ("#0B5A8F", "#6CB8EC"),
        "piece.outline": ("#1F2A30", "#E8ECEE"),
    }
)

# Tints that stay apart for eyes of all kinds: any two differ by at least 8 in CIEDE2000, seen
# with normal sight and with protanopia, deuteranopia and tritanopia as simulated after Machado,
# Oliveira and Fernandes (2009). Found by a search of our own that kept them pale in the light
# and deep in the dark, so that labels can be read on them; they differ in lightness as well.
TINTS_LIGHT = (
    "#FDECBB",  # straw
    "#C9E9FF",  # sky
    "#B3C9B8",  # sage
    "#EDEFD9",  # ivory
    "#99C9F2",  # blue
    "#DFBF95",  # tan
    "#D0BECF",  # mauve
    "#E5F0F0",  # ice
)
TINTS_DARK = (
    "#44330B",
    "#0E3955",
    "#30604D",
    "#383627",
    "#4D5480",
    "#6F512D",
    "#615262",
    "#30373B",
)

#: severity → sign that differs in shape as well as colour
SIGNS: Mapping[Severity, str] = MappingProxyType(
    {Severity.STOP: "●", Severity.WARN: "▲", Severity.NOTE: "■"}
)


class _Watcher(QObject):
    """Tells when colours changed."""

    changed = Signal()

    def __init__(self) -> None:
        super().__init__()
        self.dark = False
        self.wish = "system"
        self.less_motion = False
        self.icon_px = 0  # worked out on first use
        self.looks: tuple[str, str] | None = None  # what is in force
        self.icons: dict[tuple[str, str, int], QIcon] = {}


_watcher: _Watcher | None = None


def watcher() -> _Watcher:
    """The object whose ``changed`` signal says that colours are others now."""
    global _watcher
    if _watcher is None:
        _watcher = _Watcher()
    return _watcher


def is_dark() -> bool:
    """True while the dark colours are in force."""
    return watcher().dark


def color(meaning: str) -> QColor:
    """The colour of a meaning; KeyError for one that theme does not know."""
    light, dark = COLORS[meaning]
    return QColor(dark if is_dark() else light)


def tint(index: int, *, hot: bool = False) -> QColor:
    """The fill of the index-th panel's pieces; eight, then again from the first.

    hot: a little stronger, as under the pointer or selected.
    """
    tints = TINTS_DARK if is_dark() else TINTS_LIGHT
    fill = QColor(tints[index % len(tints)])
    if not hot:
        return fill
    return fill.lighter(118) if is_dark() else fill.darker(106)


def tint_line(index: int, *, hot: bool = False) -> QColor:
    """The colour of the pattern on a piece: seen on its fill, and no hindrance to its label."""
    return tint(index, hot=hot).darker(150 if is_dark() else 115)


def severity_color(severity: Severity) -> QColor:
    """The colour of a notice; always shown with SIGNS beside it."""
    return color(str(severity))


def motion_ms() -> int:
    """How long a movement on screen may take; 0 where less motion is wanted."""
    return 0 if watcher().less_motion else MOTION_MS


def palette(dark: bool) -> QPalette:
    """Our palette for Qt's own widgets."""
    side = 1 if dark else 0

    def pick(meaning: str) -> QColor:
        return QColor(COLORS[meaning][side])

    built = QPalette()
    role = QPalette.ColorRole
    for which, meaning in (
        (role.Window, "desk"),
        (role.WindowText, "ink"),
        (role.Base, "paper"),
        (role.AlternateBase, "desk"),
        (role.Text, "ink"),
        (role.Button, "paper"),
        (role.ButtonText, "ink"),
        (role.BrightText, "stop"),
        (role.ToolTipBase, "paper"),
        (role.ToolTipText, "ink"),
        (role.PlaceholderText, "muted"),
        (role.Highlight, "accent"),
        (role.HighlightedText, "on-accent"),
        (role.Link, "accent"),
        (role.LinkVisited, "accent"),
        (role.Light, "paper"),
        (role.Midlight, "hairline"),
        (role.Mid, "hairline"),
        (role.Dark, "control"),
        (role.Shadow, "control"),
        (role.Accent, "accent"),
    ):
        built.setColor(which, pick(meaning))
    for which in (role.WindowText, role.Text, role.ButtonText):
        built.setColor(QPalette.ColorGroup.Disabled, which, pick("muted"))
    built.setColor(QPalette.ColorGroup.Disabled, role.Highlight, pick("hairline"))
    return built


def style_sheet() -> str:
    """What Qt's Fusion style does not get from a palette alone. Sizes follow the font."""
    c = {name: color(name).name() for name in COLORS}
    box = max(14, round(icon_px() * 0.85))
    bar = max(14, round(icon_px() * 0.85))
    arrow = arrow_px()
    # A least height of a sheet goes before what the text asks for where a layout is short of room.
    line = max(18, QFontMetrics(QApplication.font()).height() + 2)
    return f"""
    QToolTip {{ color: {c["ink"]}; background: {c["paper"]}; border: 1px solid {c["control"]};
                padding: 4px; }}
    QPushButton {{ background: {c["paper"]}; border: 1px solid {c["control"]};
                   border-radius: 4px; padding: 4px 12px; min-height: {line}px; outline: 0; }}
    QPushButton:hover {{ background: {c["hover"]}; }}
    QPushButton:pressed {{ background: {c["accent-wash"]}; }}
    QPushButton:checked {{ background: {c["accent-wash"]}; border-color: {c["accent"]}; }}
    QPushButton:focus {{ border: 2px solid {c["accent"]}; padding: 3px 11px; }}
    QPushButton:disabled {{ color: {c["muted"]}; border-color: {c["hairline"]}; }}
    QPushButton[primary="true"] {{ background: {c["accent"]}; color: {c["on-accent"]};
                                   border-color: {c["accent"]}; }}
    QPushButton[primary="true"]:focus {{ border: 2px solid {c["ink"]}; }}
    QPushButton[primary="true"]:disabled {{ background: {c["hairline"]}; color: {c["ink"]};
                                            border-color: {c["hairline"]}; }}
    QToolButton {{ background: transparent; border: 1px solid transparent; border-radius: 4px;
                   padding: 3px; min-width: 18px; min-height: 18px; outline: 0; }}
    QToolButton:hover {{ background: {c["hover"]}; }}
    QToolButton:checked {{ background: {c["accent-wash"]}; border-color: {c["accent"]}; }}
    QToolButton:focus {{ border: 2px solid {c["accent"]}; padding: 2px; }}
    QToolButton:disabled {{ color: {c["muted"]}; }}
    QLineEdit, QComboBox, QSpinBox, QDoubleSpinBox, QPlainTextEdit {{
        background: {c["paper"]}; color: {c["ink"]}; border: 1px solid {c["control"]};
        border-radius: 4px; padding: 3px 6px; min-height: {line}px;
        selection-background-color: {c["accent"]}; selection-color: {c["on-accent"]}; }}
    QLineEdit:focus, QComboBox:focus, QSpinBox:focus, QPlainTextEdit:focus {{
        border: 2px solid {c["accent"]}; padding: 2px 5px; }}
    QComboBox {{ padding-right: 2px; combobox-popup: 0; }}
    QComboBox::drop-down {{ border: 0; width: {arrow + 8}px;
                            subcontrol-position: center right; }}
    QComboBox::down-arrow {{ image: url({_picture_file("chevron-down", "ink")});
                             width: {arrow}px; height: {arrow}px; }}
    QComboBox QAbstractItemView::item {{ min-height: {TARGET - 2}px; padding: 0 4px; }}
    QToolButton::menu-indicator {{ image: none; width: 0; }}
    QLineEdit[wrong="true"] {{ border: 2px solid {c["stop"]}; padding: 2px 5px; }}
    QLineEdit:disabled, QComboBox:disabled, QSpinBox:disabled {{ color: {c["muted"]};
        border-color: {c["hairline"]}; background: {c["desk"]}; }}
    QAbstractItemView {{ background: {c["paper"]}; color: {c["ink"]};
        border: 1px solid {c["hairline"]}; outline: 0;
        selection-background-color: {c["accent-wash"]}; selection-color: {c["ink"]}; }}
    QAbstractItemView:focus {{ border: 1px solid {c["accent"]}; }}
    QListView[gallery="true"]::item {{ border: 2px solid transparent; border-radius: 6px; }}
    QListView[gallery="true"]::item:selected {{ background: {c["accent-wash"]};
        color: {c["ink"]}; border-color: {c["accent"]}; }}
    QHeaderView::section {{ background: {c["desk"]}; color: {c["muted"]}; border: 0;
        border-bottom: 1px solid {c["hairline"]}; padding: 4px 6px; }}
    QMenu {{ background: {c["paper"]}; border: 1px solid {c["control"]}; padding: 4px; }}
    QMenu::item {{ padding: 5px 24px 5px 24px; border-radius: 3px; }}
    QMenu::item:selected {{ background: {c["accent-wash"]}; color: {c["ink"]}; }}
    QMenu::item:disabled {{ color: {c["muted"]}; }}
    QMenu::separator {{ height: 1px; background: {c["hairline"]}; margin: 4px 8px; }}
    QMenuBar {{ background: {c["desk"]}; }}
    QMenuBar::item {{ padding: 4px 8px; border-radius: 3px; }}
    QMenuBar::item:selected {{ background: {c["accent-wash"]}; }}
    QSplitter::handle {{ background: {c["hairline"]}; }}
    QScrollBar:vertical {{ background: transparent; border: 0; width: {bar}px; margin: 0; }}
    QScrollBar:horizontal {{ background: transparent; border: 0; height: {bar}px; margin: 0; }}
    QScrollBar::handle {{ background: {c["control"]}; border-radius: {bar // 2 - 3}px;
                          margin: 3px; }}
    QScrollBar::handle:vertical {{ min-height: {2 * bar}px; }}
    QScrollBar::handle:horizontal {{ min-width: {2 * bar}px; }}
    QScrollBar::handle:hover {{ background: {c["accent"]}; }}
    QScrollBar::add-line, QScrollBar::sub-line {{ width: 0; height: 0; border: 0; }}
    QScrollBar::add-page, QScrollBar::sub-page {{ background: transparent; }}
    QScrollArea {{ border: 0; background: transparent; }}
    QScrollArea > QWidget > QWidget {{ background: transparent; }}
    QCheckBox::indicator {{ width: {box}px; height: {box}px; border-radius: 3px;
                            border: 1px solid {c["control"]}; background: {c["paper"]}; }}
    QCheckBox::indicator:hover {{ border-color: {c["accent"]}; }}
    QCheckBox::indicator:checked {{ background: {c["accent"]}; border-color: {c["accent"]};
                                    image: url({_picture_file("check", "on-accent")}); }}
    QCheckBox::indicator:disabled {{ border-color: {c["hairline"]}; }}
    QCheckBox::indicator:checked:disabled {{ background: {c["hairline"]}; }}
    QCheckBox:focus, QRadioButton:focus {{ color: {c["accent"]}; text-decoration: underline; }}
    QSlider::groove:horizontal {{ height: 4px; border-radius: 2px; background: {c["control"]}; }}
    QSlider::sub-page:horizontal {{ height: 4px; border-radius: 2px;
                                    background: {c["accent"]}; }}
    QSlider::handle:horizontal {{ width: 14px; height: 14px; margin: -7px 0; border-radius: 8px;
                                  background: {c["paper"]}; border: 2px solid {c["accent"]}; }}
    QSlider::handle:horizontal:disabled {{ border-color: {c["control"]}; }}
    QSlider:focus {{ border: 2px solid {c["accent"]}; border-radius: 4px; }}
    QLabel[muted="true"] {{ color: {c["muted"]}; }}
    QLabel[severity="stop"] {{ color: {c["stop"]}; }}
    QLabel[severity="warn"] {{ color: {c["warn"]}; }}
    QLabel[severity="good"] {{ color: {c["good"]}; }}
    QFrame[card="true"] {{ background: {c["paper"]}; border: 1px solid {c["hairline"]};
                           border-radius: 6px; }}
    """


@atexit.register
def _remove_pictures() -> None:
    if _picture_folder is not None:
        shutil.rmtree(_picture_folder, ignore_errors=True)


_picture_folder: str | None = None


def _picture_file(icon_name: str, meaning: str) -> str:
    """An icon in one colour as a file, since a style sheet takes pictures from files only."""
    global _picture_folder
    if _picture_folder is None:
        _picture_folder = tempfile.mkdtemp(prefix="seamwright-")
    path = Path(_picture_folder) / f"{icon_name}-{'dark' if is_dark() else 'light'}.svg"
    source = (ICON_FOLDER / f"{icon_name}.svg").read_text(encoding="utf-8")
    path.write_text(source.replace("currentColor", color(meaning).name()), encoding="utf-8")
    return path.as_posix()


def apply(app: QApplication, wish: str = "system", *, less_motion: bool = False) -> None:
    """Put our colours on the application. wish: "system", "light" or "dark"."""
    state = watcher()
    state.wish = wish
    state.less_motion = less_motion
    if not app.property("theme-style"):
        # Once: under a style sheet the style no longer tells its name, and setting it again
        # polishes every widget.
        app.setStyle("Fusion")
        app.setProperty("theme-style", True)
    hints = QGuiApplication.styleHints()
    if not app.property("theme-follows"):
        hints.colorSchemeChanged.connect(_system_changed)
        app.setProperty("theme-follows", True)
    _set_dark(app, _wants_dark(wish))


def _wants_dark(wish: str) -> bool:
    if wish in ("light", "dark"):
        return wish == "dark"
    return QGuiApplication.styleHints().colorScheme() is Qt.ColorScheme.Dark


def _system_changed(_scheme: object) -> None:
    app = QApplication.instance()
    if isinstance(app, QApplication) and watcher().wish == "system":
        _set_dark(app, _wants_dark("system"))


def _set_dark(app: QApplication, dark: bool) -> None:
    state = watcher()
    state.dark = dark
    state.icon_px = 0
    sheet = style_sheet()
    looks = (sheet, app.font().toString())
    if state.looks == looks and app.styleSheet():
        return  # every widget would be polished again for nothing
    state.looks = looks
    state.icon_px = 0
    state.icons.clear()
    app.setPalette(palette(dark))
    app.setStyleSheet(sheet)
    state.changed.emit()


# --- icons ------------------------------------------------------------------------------
def pixmap(name: str, meaning: str = "ink", size: int = 24, ratio: float = 1.0) -> QPixmap:
    """An icon of ours in one colour, crisp at the given device ratio.

    FileNotFoundError names an icon that does not exist, so that a typing slip is seen.
    """
    source = (ICON_FOLDER / f"{name}.svg").read_text(encoding="utf-8")
    tinted = source.replace("currentColor", color(meaning).name())
    renderer = QSvgRenderer(QByteArray(tinted.encode("utf-8")))
    image = QPixmap(QSize(round(size * ratio), round(size * ratio)))
    image.fill(Qt.GlobalColor.transparent)
    painter = QPainter(image)
    renderer.render(painter, QRectF(0, 0, image.width(), image.height()))
    painter.end()
    image.setDevicePixelRatio(ratio)
    return image


def icon(name: str, meaning: str = "ink", size: int = 24) -> QIcon:
    """The icon in the colour of a meaning, muted while disabled, for 100 to 300 %.

    Qt shows no icon larger than its picture: where the text asks for more, it has more.
    """
    state = watcher()
    size = max(size, icon_px())
    key = (name, meaning, size)
    found = state.icons.get(key)
    if found is None:
        found = QIcon()
        for ratio in (1.0, 2.0, 3.0):
            found.addPixmap(pixmap(name, meaning, size, ratio))
            found.addPixmap(pixmap(name, "control", size, ratio), QIcon.Mode.Disabled)
        state.icons[key] = found
    return found


def icon_px() -> int:
    """Side of an icon beside text of the application's size, logical pixels."""
    state = watcher()
    if not state.icon_px:
        height = QFontMetrics(QApplication.font()).height()
        state.icon_px = max(16, round(height * 1.1))
    return state.icon_px


def arrow_px() -> int:
    """Side of the arrow of a drop-down list, logical pixels."""
    return max(12, round(icon_px() * 0.75))


def mark(widget: QWidget, name: str, value: object) -> None:
    """Set a property the style sheet looks at, and have the widget drawn anew."""
    if widget.property(name) != value:
        widget.setProperty(name, value)
        widget.style().unpolish(widget)
        widget.style().polish(widget)
