"""The last resort for a damaged DXF: keep every tag that can be one, and the sections that draw.

A text DXF is pairs of lines, a group code and its value. One lost or garbled line shifts all
that follow, and parsers give up. Here lines are taken as pairs as long as they fit each other
(DXF reference, group code value types); what does not fit is stepped over until they do again.
"""

from __future__ import annotations

import math
import re

_CODE = re.compile(rb"\s*\d{1,4}\s*")
_NAME = re.compile(rb"[A-Z][A-Z0-9_]{1,30}")
_KEPT = (b"TABLES", b"BLOCKS", b"ENTITIES")
# Code ranges whose values are real numbers and whole numbers.
_REAL = ((10, 59), (110, 149), (210, 239), (460, 469), (1010, 1059))
_WHOLE = ((60, 79), (90, 99), (170, 179), (270, 289), (370, 389), (400, 409), (420, 429),
          (440, 459), (1060, 1071))  # fmt: skip

Tag = tuple[int, bytes]


def salvaged(data: bytes, *, with_tables: bool) -> bytes | None:
    """A new file of what fits together in a damaged one, None if nothing draws in it.

    with_tables: keep the layer states too; they may be what the damage is in.
    """
    sections = _sections(_tags(data))
    if not sections.get(b"ENTITIES"):
        return None
    version = re.search(rb"\$ACADVER\s+1\s+(AC10\d\d)", data)
    modern = any(code == 100 for code, _ in sections[b"ENTITIES"])
    release = version.group(1) if version else (b"AC1015" if modern else b"AC1009")
    unit = re.search(rb"\$INSUNITS\s+70\s+(\d{1,2})\s", data)
    out: list[Tag] = [(0, b"SECTION"), (2, b"HEADER"), (9, b"$ACADVER"), (1, release)]
    if unit:
        out += [(9, b"$INSUNITS"), (70, unit.group(1))]
    out.append((0, b"ENDSEC"))
    for name in _KEPT:
        if name in sections and (with_tables or name != b"TABLES"):
            out += [(0, b"SECTION"), (2, name), *sections[name], (0, b"ENDSEC")]
    out.append((0, b"EOF"))
    return b"".join(b"%3d\n%s\n" % tag for tag in out)


def _tags(data: bytes) -> list[Tag]:
    """Pairs that fit each other; lines that fit nothing are stepped over."""
    lines = data.split(b"\n")
    tags: list[Tag] = []
    i = 0
    while i + 1 < len(lines):
        if not _CODE.fullmatch(lines[i]):
            i += 1
            continue
        code, value = int(lines[i]), lines[i + 1].strip(b"\r")
        if code <= 1071 and _fits(code, value.strip()):
            tags.append((code, value))
            i += 2
        elif _CODE.fullmatch(value) or code > 1071:
            i += 1  # the pairs are out of step: the value may be the next code
        else:
            i += 2  # the value is garbled: it goes with its code
    return tags


def _fits(code: int, value: bytes) -> bool:
    """True if a value can stand behind a group code."""
    if code == 0:
        return _NAME.fullmatch(value) is not None
    try:
        if any(low <= code <= high for low, high in _REAL):
            return math.isfinite(float(value))
        if any(low <= code <= high for low, high in _WHOLE):
            return abs(int(value)) < 2**63
    except ValueError:
        return False
    return True


def _sections(tags: list[Tag]) -> dict[bytes, list[Tag]]:
    """Tags of every section by its name, whole entities only; a repeated section is appended."""
    found: dict[bytes, list[Tag]] = {}
    name: bytes | None = None
    for i, (code, value) in enumerate(tags):
        if code == 0 and value in (b"SECTION", b"ENDSEC", b"EOF"):
            name = None
            if value == b"SECTION" and i + 1 < len(tags) and tags[i + 1][0] == 2:
                name = tags[i + 1][1].strip()
                found.setdefault(name, [])
            continue
        if name is None:
            continue
        section = found[name]
        # The name's own tag, and loose tags before the first entity, belong to nothing.
        if section or code == 0:
            section.append((code, value))
    return found
