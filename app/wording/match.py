"""Finds the template of a sentence of the core and says it in the language of the window."""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from functools import lru_cache

_PLACE = re.compile(r"\{(\w+)\}")
_KINDS = {"number": r"[-−+]?\d[\d.,]*(?:e[-+]?\d+)?", "words": r".*?", "value": r".*?"}
_KEY = 4  # signs at an end of a template by which it is looked up
_BETWEEN = (re.compile(r"(\n)"), re.compile(r"((?<=[.!?]) )"))
_LETTERS = re.compile(r"[^\W\d_]{2,}")


@dataclass(frozen=True, slots=True)
class Said:
    """A template: its text with named places, and what is to be found in which of them."""

    text: str
    words: tuple[str, ...] = ()
    numbers: tuple[str, ...] = ()

    @property
    def places(self) -> tuple[str, ...]:
        """Names of the places in the order of the text."""
        return tuple(_PLACE.findall(self.text))

    @property
    def weight(self) -> tuple[int, int]:
        """How much of a sentence the template itself says: the more, the surer a match."""
        return len(_PLACE.sub("", self.text)), len(self.numbers)

    @property
    def is_frame(self) -> bool:
        """True if it has no words of its own and only holds some."""
        return not _LETTERS.search(_PLACE.sub("", self.text))


def said(text: str, words: str = "", number: str = "") -> Said:
    """An entry of the table."""
    return Said(text, tuple(words.split()), tuple(number.split()))


@dataclass(frozen=True, slots=True)
class Found:
    """A sentence taken apart. filled: each place with its text, and that taken apart in turn.

    small: it begins without a capital there. bare: it ends without its full stop there.
    """

    said: Said
    filled: tuple[tuple[str, str, Parts | None], ...] = ()
    small: bool = False
    bare: bool = False


#: A text as a row of what was found and of what stands between.
Parts = tuple["Found | str", ...]


class Matcher:
    """Takes sentences apart by a table; joints: what stands between the parts of a list."""

    def __init__(self, table: Iterable[Said], joints: Iterable[str]) -> None:
        rows = sorted(table, key=lambda row: row.weight, reverse=True)
        self._plain = {row.text: row for row in rows if not row.places}
        self._front: dict[str, list[_Row]] = defaultdict(list)
        self._back: dict[str, list[_Row]] = defaultdict(list)
        self._other: list[_Row] = []
        for row in rows:
            if row.places:
                self._file(_Row(row))
        self.joints = frozenset(joints)
        between = sorted(self.joints, key=len, reverse=True)
        self._joint = re.compile("(" + "|".join(map(re.escape, between)) + ")")
        self.apart = lru_cache(maxsize=4096)(self._apart)

    def _file(self, row: _Row) -> None:
        head, tail = row.texts[0], row.texts[-1]
        if len(head) >= _KEY:
            self._front[head[:_KEY]].append(row)
        elif len(tail) >= _KEY:
            self._back[tail[-_KEY:]].append(row)
        else:
            self._other.append(row)

    def matches(self, text: str) -> Iterator[tuple[Said, re.Match[str]]]:
        """Every template with places that a sentence may be of."""
        for row in (
            *self._front.get(text[:_KEY], ()),
            *self._back.get(text[-_KEY:], ()),
            *self._other,
        ):
            found = row.match(text)
            if found is not None:
                yield row.said, found

    def _apart(self, text: str) -> Parts | None:
        """The text taken apart, None where no template knows it or any part of it."""
        if text in self._plain:
            return (Found(self._plain[text]),)
        best: Found | None = None
        for row, match in self.matches(text):
            if best is not None and row.weight <= best.said.weight:
                continue
            filled = tuple(
                (name, match[k], self.apart(match[k]) if name in row.words else None)
                for k, name in enumerate(row.places, start=1)
            )
            if not row.is_frame or any(inner is not None for _, _, inner in filled):
                best = Found(row, filled)
        if best is not None:
            return (best,)
        return self._in_a_row(text) or self._within(text)

    def _in_a_row(self, text: str) -> Parts | None:
        """Lines, sentences one after the other, or a list of words."""
        for between in _BETWEEN:
            rows = between.split(text)
            if len(rows) > 1:
                return self._each(rows)
        rows = self._joint.split(text)
        return self._each(rows) if len(rows) > 1 else None

    def _each(self, rows: list[str]) -> Parts | None:
        parts: list[Found | str] = []
        for row in rows:
            inner = self.apart(row) if row.strip() else None
            parts += inner if inner is not None else [row]
        return tuple(parts) if any(isinstance(part, Found) for part in parts) else None

    def _within(self, text: str) -> Parts | None:
        """A sentence that goes on within another: begun small, or without its full stop."""
        if text[:1].islower():
            inner = self.apart(text[:1].upper() + text[1:])
            if inner is not None and isinstance(inner[0], Found):
                return (replace(inner[0], small=True), *inner[1:])
        if text and text[-1].isalnum():
            inner = self.apart(text + ".")
            if inner is not None and isinstance(inner[-1], Found):
                return (*inner[:-1], replace(inner[-1], bare=True))
        return None


class _Row:
    """A template with what a sentence is first looked through for."""

    def __init__(self, row: Said) -> None:
        self.said = row
        self.texts = _PLACE.split(row.text)[::2]
        self._longest = max(self.texts, key=len)
        self._compiled: re.Pattern[str] | None = None

    def match(self, text: str) -> re.Match[str] | None:
        """The sentence by this template."""
        if self._longest not in text or not text.startswith(self.texts[0]):
            return None
        if self._compiled is None:
            self._compiled = _pattern(self.said)
        return self._compiled.fullmatch(text)


def _pattern(row: Said) -> re.Pattern[str]:
    parts = []
    at = 0
    for place in _PLACE.finditer(row.text):
        name = place[1]
        kind = "number" if name in row.numbers else "words" if name in row.words else "value"
        parts += [re.escape(row.text[at : place.start()]), f"({_KINDS[kind]})"]
        at = place.end()
    parts.append(re.escape(row.text[at:]))
    return re.compile("".join(parts), re.DOTALL)
