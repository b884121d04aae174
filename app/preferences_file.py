"""Preferences as one file to carry to another machine: settings, shop, papers, layers.

A JSON document; the shop and what goes with it stand in it as the project file has them, so
that they are checked on the way in like any project.
"""

from __future__ import annotations

import json
from pathlib import Path

from app.i18n import tr
from app.preferences import SETTINGS, Preferences
from core.atomic import write_atomically
from core.errors import UnreadableProject
from core.project.file import project_from_json, project_to_json
from core.project.model import Project

FORMAT = "seamwright-preferences"
VERSION = 1
_OF_THIS_MACHINE = ("recent", "welcome_seen")


def export_preferences(preferences: Preferences, path: Path) -> None:
    """Write all preferences to path, all or nothing. Raises SaveFailedError."""
    keys = [setting.key for setting in SETTINGS if setting.key not in _OF_THIS_MACHINE]
    begun_with = Project(
        name="Preferences", shop=preferences.default_shop(), output=preferences.default_output()
    )
    document = {
        "format": FORMAT,
        "version": VERSION,
        "values": {key: preferences.get(key) for key in keys},
        "project": json.loads(project_to_json(begun_with)),
    }
    text = json.dumps(document, ensure_ascii=False, indent=1) + "\n"
    write_atomically(path, text.encode("utf-8"))


def import_preferences(preferences: Preferences, path: Path) -> int:
    """Take over the preferences of a file; how many settings changed, the shop not counted.

    A setting this version does not know, or whose value it does not take, stays as it is.
    Raises UnreadableProject, or InvalidProjectError for a shop out of range; nothing has
    changed then.
    """
    try:
        document = json.loads(path.read_text(encoding="utf-8"))
    except (OSError, ValueError, RecursionError):
        document = None
    if not isinstance(document, dict) or document.get("format") != FORMAT:
        raise UnreadableProject(
            tr("These are no preferences of Seamwright"),
            path.name,
            tr("Choose a file that “Export…” in the preferences wrote."),
        )
    shop, output = None, None
    if isinstance(document.get("project"), dict):
        kept = project_from_json(json.dumps(document["project"]), path.name)
        shop, output = kept.shop, kept.output
    values = document.get("values")
    values = values if isinstance(values, dict) else {}
    changed = 0
    for setting in SETTINGS:
        value = values.get(setting.key)
        if setting.key in _OF_THIS_MACHINE or setting.key not in values:
            continue
        if setting.valid(value) and value != preferences.get(setting.key):
            preferences.set(setting.key, value)
            changed += 1
    if shop is not None and output is not None:
        preferences.set_default_shop(shop)
        preferences.set_default_output(output)
    return changed
