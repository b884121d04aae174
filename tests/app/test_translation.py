"""All texts can be translated: they are found by the usual tool and a translation is used."""

from __future__ import annotations

import subprocess
import sys
import xml.etree.ElementTree as ElementTree
from pathlib import Path

from PySide6.QtCore import QLocale, QTranslator

from app import i18n

TOOLS = Path(sys.executable).parent
ROOT = Path(__file__).resolve().parents[2]


def test_texts_are_found_and_their_translation_is_shown(qapp, tmp_path: Path) -> None:
    source = tmp_path / "seamwright_de.ts"
    files = [str(p) for p in (ROOT / "app" / "stages" / "panels.py", ROOT / "app" / "window.py")]
    subprocess.run(
        [TOOLS / "pyside6-lupdate", *files, "-ts", source], check=True, capture_output=True
    )
    tree = ElementTree.parse(source)
    messages = {m.findtext("source"): m for m in tree.iter("message")}
    assert "Find a panel" in messages
    assert "{n} ({bare} without a board)" in messages
    translation = messages["Find a panel"].find("translation")
    translation.text = "Platte suchen"
    translation.attrib.clear()
    tree.write(source, encoding="utf-8", xml_declaration=True)
    subprocess.run(
        [TOOLS / "pyside6-lrelease", source, "-qm", source.with_suffix(".qm")],
        check=True,
        capture_output=True,
    )
    before = set(qapp.findChildren(QTranslator))
    assert i18n.install(qapp, QLocale("de_AT"), tmp_path)
    try:
        assert i18n.tr("Find a panel") == "Platte suchen"
        assert i18n.tr("Add") == "Add", "what has no translation stays as it is"
    finally:
        for translator in set(qapp.findChildren(QTranslator)) - before:
            qapp.removeTranslator(translator)
    assert i18n.tr("Find a panel") == "Find a panel"


def test_a_language_without_a_translation_is_left_alone(qapp, tmp_path: Path) -> None:
    assert not i18n.install(qapp, QLocale("is_IS"), tmp_path)
