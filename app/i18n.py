"""Every text a person reads goes through :func:`tr`, so that translations are possible.

Placeholders are named braces filled after translation: ``tr("{n} pieces").format(n=3)``.
``pyside6-lupdate`` finds the calls; a translation goes into assets/translations as
``seamwright_LANGUAGE.qm`` and is taken where the system speaks that language.
"""

from __future__ import annotations

from pathlib import Path

from PySide6.QtCore import QCoreApplication, QLocale, QTranslator

TRANSLATION_FOLDER = Path(__file__).resolve().parent.parent / "assets" / "translations"
# What lupdate writes for a call that belongs to no class.
_CONTEXT = ""


def tr(text: str) -> str:
    """The text in the language of the window; the text itself where no translation is loaded."""
    return QCoreApplication.translate(_CONTEXT, text)


def marked(text: str) -> str:
    """The text itself. Imported as ``tr``, it shows the translation tool texts of a table."""
    return text


def is_translated() -> bool:
    """True if a translation is loaded. Each gives the name of its own language for "English"."""
    return tr("English") != "English"


def install(
    app: QCoreApplication, locale: QLocale | None = None, folder: Path = TRANSLATION_FOLDER
) -> bool:
    """Load the translation for the system's language, if there is one. Call before any text."""
    translator = QTranslator(app)
    if not translator.load(locale or QLocale.system(), "seamwright", "_", str(folder), ".qm"):
        return False
    return app.installTranslator(translator)
