"""What the core says, in the language of the window.

The core knows no Qt and so no ``tr``: its findings, errors and notes are finished English
sentences. Their templates are gathered from its source into :mod:`app.wording.table`, where the
translation tool reads them. :func:`in_words` finds the template a sentence was made by and says
that in the language of the window, with the values put in. Without a translation the sentence
stays as it is and nothing is looked up.
"""

from __future__ import annotations

from dataclasses import replace
from functools import cache

from app.core_words import fixed_words
from app.i18n import is_translated, tr
from app.wording.match import PLACE, Found, Matcher, Parts, said
from core.errors import SeamwrightError
from core.findings import Finding


@cache
def matcher() -> Matcher:
    """Everything the core can say. The table is read when a translation first needs it."""
    from app.wording.table import JOINTS, SENTENCES

    return Matcher((*(said(word) for word in fixed_words()), *SENTENCES), JOINTS)


def in_words(text: str) -> str:
    """A sentence or a word of the core in the language of the window; anything else as it is."""
    if not text or not is_translated():
        return text
    return _spoken(text, matcher().apart(text))


def finding_in_words(finding: Finding) -> Finding:
    """The finding with its sentence and remedy in the language of the window."""
    if not is_translated():
        return finding
    return replace(finding, message=in_words(finding.message), remedy=in_words(finding.remedy))


def error_in_words(error: BaseException) -> str:
    """What an error says, in the language of the window."""
    if not isinstance(error, SeamwrightError) or not is_translated():
        return str(error)
    rows = (in_words(error.what), in_words(error.where), in_words(error.remedy))
    return str(SeamwrightError(*rows))


def _spoken(text: str, parts: Parts | None) -> str:
    if parts is None:
        return text
    joints = matcher().joints
    rows = []
    for part in parts:
        if isinstance(part, Found):
            rows.append(_filled(part))
        else:
            rows.append(_translated(part) if part in joints else part)
    return "".join(rows)


def _filled(found: Found) -> str:
    values = {name: _spoken(value, parts) for name, value, parts in found.filled}
    text = PLACE.sub(lambda place: values.get(place[1], place[0]), _translated(found.said.text))
    if found.small:
        text = text[:1].lower() + text[1:]
    if found.stop < 0:
        return text.rstrip(".")
    return text + "." * found.stop


def _translated(text: str) -> str:
    return tr(text)  # one of the table, which the translation tool reads
