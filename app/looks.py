"""Colours and text size on the running application."""

from __future__ import annotations

from PySide6.QtWidgets import QApplication

from app import theme
from app.preferences import Preferences


def apply_preferences(preferences: Preferences) -> None:
    """Put colours and text size on the running application."""
    app = QApplication.instance()
    assert isinstance(app, QApplication)
    system = app.property("system-point-size")
    if system is None:
        system = app.font().pointSizeF()
        app.setProperty("system-point-size", system)
    font = app.font()
    wanted = system * preferences.get("text_percent") / 100
    if abs(font.pointSizeF() - wanted) > 0.01:
        font.setPointSizeF(wanted)
        app.setFont(font)
    theme.apply(app, preferences.get("colours"), less_motion=bool(preferences.get("less_motion")))
