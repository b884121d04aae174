"""Every text a person reads goes through :func:`tr`, so that translations are possible.

Placeholders are named braces filled after translation: ``tr("{n} pieces").format(n=3)``.
"""

from __future__ import annotations

from PySide6.QtCore import QCoreApplication

CONTEXT = "Seamwright"


def tr(text: str) -> str:
    """The text in the language of the window; the text itself where no translation is loaded."""
    return QCoreApplication.translate(CONTEXT, text)
