"""Finds the template of a sentence of the core and says it in the language of the window."""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from functools import lru_cache

#: a place in a template
PLACE = re.compile(r"\{(\w+)\}")
_NUMBER = r"[-−+]?(?:\d(?:[\d.,\u202f\xa0 ]*\d)?(?:e[-+]?\d+)?|inf|nan)"
_KEY = 4  # signs at an end of a template by which it is looked up
_BETWEEN = (re.compile(r"(\n)"), re.compile(r"((?<=[.!?]) )"))
_MOST_JOINTS = 41  # of a list that is looked through
_LETTERS = re.compile(r"[^\W\d_]{2,}")


@dataclass(frozen=True, slots=True)
class Said:
    """A template: its text with named places, and what is to be found in which of them."""

    text: str
    words: tuple[str, ...] = ()
    numbers: tuple[str, ...] = ()
    lists: tuple[str, ...] = ()

    @property
    def places(self) -> tuple[str, ...]:
        """Names of the places in the order of the text."""
        return tuple(PLACE.findall(self.text))

    @property
    def weight(self) -> tuple[int, int]:
        """How much of a sentence the template itself says: the more, the surer a match."""
        return len(PLACE.sub("", self.text)), len(self.numbers)

    @property
    def is_frame(self) -> bool:
        """True if it has no words of its own and only holds some."""
        return not _LETTERS.search(PLACE.sub("", self.text))


def said(text: str, *, words: str = "", number: str = "", list: str = "") -> Said:
    """An entry of the table."""
    return Said(text, tuple(words.split()), tuple(number.split()), tuple(list.split()))


@dataclass(frozen=True, slots=True)
class Found:
    """A sentence taken apart. filled: each place with its text, and that taken apart in turn.

    small: it begins without a capital there. stop: the full stop it has more there, or -1 for
    one less. covers: how many signs the templates themselves say, the inner ones too.
    """

    said: Said
    filled: tuple[tuple[str, str, Parts | None], ...] = ()
    small: bool = False
    stop: int = 0

    @property
    def covers(self) -> tuple[int, int]:
        """How much of the sentence templates say, and how much of that the outer one."""
        own = 0 if self.said.is_frame else self.said.weight[0]
        inner = [part for _, _, parts in self.filled if parts is not None for part in parts]
        more = _covered(tuple(inner))
        return own + more, own + self.said.weight[1]


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
        whole = self._whole(text)
        if whole is None:
            return self._in_a_row(text) or self._within(text)
        if any(inner is None and self._joint.search(value) for _, value, inner in whole.filled):
            # A list may look like one template with the front of it as a value.
            row = self._in_a_row(text)
            if row is not None and _covered(row) > whole.covers[0]:
                return row
        return (whole,)

    def _whole(self, text: str, frames: bool = True) -> Found | None:
        """The text as one template, the one that says most of it."""
        if text in self._plain:
            return Found(self._plain[text])
        best: Found | None = None
        for row, match in self.matches(text):
            if row.is_frame and not frames:
                continue
            filled = tuple(
                (name, match[k], self._inner(row, name, match[k]))
                for k, name in enumerate(row.places, start=1)
            )
            if row.is_frame and all(inner is None for _, _, inner in filled):
                continue
            found = Found(row, filled)
            if best is None or found.covers > best.covers:
                best = found
        return best

    def _inner(self, row: Said, name: str, text: str) -> Parts | None:
        if name in row.words:
            return self.apart(text)
        return tuple(self._joint.split(text)) if name in row.lists else None

    def _in_a_row(self, text: str) -> Parts | None:
        """Lines, sentences one after the other, or a list of words."""
        for between in _BETWEEN:
            rows = between.split(text)
            if len(rows) > 1:
                return self._each(rows)
        rows = self._joint.split(text)
        return self._list(rows) if 1 < len(rows) <= _MOST_JOINTS else None

    def _each(self, rows: list[str]) -> Parts | None:
        """Texts taken apart one by one; every second row is what stands between."""
        parts: list[Found | str] = []
        for k, row in enumerate(rows):
            inner = self.apart(row) if k % 2 == 0 and row.strip() else None
            parts += inner if inner is not None else [row]
        return tuple(parts) if any(isinstance(part, Found) for part in parts) else None

    def _list(self, rows: list[str]) -> Parts | None:
        """The same where what stands between may stand within a part too: the longest first."""
        parts: list[Found | str] = []
        at = 0
        while at < len(rows):
            for end in range(len(rows), at, -2):
                text = "".join(rows[at:end])
                whole = end - at < len(rows) and text.strip()
                found = self._whole(text) or self._within(text) if whole else None
                if found is not None:
                    parts += found if isinstance(found, tuple) else [found]
                    at = end
                    break
            else:
                parts.append(rows[at])
                at += 1
            if at < len(rows):
                parts.append(rows[at])
                at += 1
        return tuple(parts) if any(isinstance(part, Found) for part in parts) else None

    def _within(self, text: str) -> Parts | None:
        """A sentence that goes on within another: begun small, or without its full stop."""
        small = text[:1].islower()
        capital = text[:1].upper() + text[1:]
        for first in (False, True) if small else (False,):
            begun = capital if first else text
            stopped = begun.endswith(".")
            found = self._whole(begun, frames=False) if first else None
            if found is not None:
                return (replace(found, small=True),)
            found = self._whole(begun[:-1] if stopped else begun + ".", frames=False)
            if found is not None:
                return (replace(found, small=first, stop=1 if stopped else -1),)
        return None


class _Row:
    """A template with what a sentence is first looked through for."""

    def __init__(self, row: Said) -> None:
        self.said = row
        self.texts = PLACE.split(row.text)[::2]
        self._longest = max(self.texts, key=len)
        self._compiled: re.Pattern[str] | None = None

    def match(self, text: str) -> re.Match[str] | None:
        """The sentence by this template."""
        if self._longest not in text or not text.startswith(self.texts[0]):
            return None
        if self._compiled is None:
            self._compiled = _pattern(self.said)
        return self._compiled.fullmatch(text)


def _covered(parts: Parts) -> int:
    return sum(part.covers[0] for part in parts if isinstance(part, Found))


def _pattern(row: Said) -> re.Pattern[str]:
    parts = []
    at = 0
    for place in PLACE.finditer(row.text):
        name = place[1]
        kind = _NUMBER if name in row.numbers else ".*?"
        parts += [re.escape(row.text[at : place.start()]), f"({kind})"]
        at = place.end()
    parts.append(re.escape(row.text[at:]))
    return re.compile("".join(parts), re.DOTALL)
