"""Drawings damaged in every way a disk, a mail program or a hasty exporter can think of."""

from __future__ import annotations

import random
from collections.abc import Callable
from pathlib import Path

from core.errors import UnreadableDrawing
from core.outlines import read_outlines

_NUMBERS = (
    b"nan", b"inf", b"-inf", b"1e308", b"-1e308", b"1e-320", b"0", b"-0.0", b"1e16", b"4e9",
    b"", b"x", b"99999999999999999999", b"0.0000001", b"-1", b"2147483648", b"1,5", b"0x1F",
)  # fmt: skip
_TOKENS = (
    b"LINE", b"ARC", b"CIRCLE", b"INSERT", b"SPLINE", b"ELLIPSE", b"POLYLINE", b"VERTEX",
    b"SEQEND", b"ENDSEC", b"SECTION", b"BLOCK", b"ENDBLK", b"EOF", b"TEXT", b"HATCH", b"  0",
    b" 10", b" 70", b" 42", b"100", b"<g>", b"</g>", b"<use href='#a'/>", b"transform='scale(0)'",
    b"<!--", b"&amp;", b"M", b"A", b"Z", b"z", b"C", b"viewBox='0 0 0 0'", b"width='1e999'",
)  # fmt: skip


def _flip(data: bytearray, rng: random.Random) -> bytearray:
    for _ in range(rng.randint(1, 12)):
        data[rng.randrange(len(data))] = rng.randrange(256)
    return data


def _drop(data: bytearray, rng: random.Random) -> bytearray:
    start = rng.randrange(len(data))
    del data[start : start + rng.randint(1, 400)]
    return data


def _double(data: bytearray, rng: random.Random) -> bytearray:
    start = rng.randrange(len(data))
    part = data[start : start + rng.randint(1, 800)]
    data[start:start] = part * rng.randint(1, 3)
    return data


def _cut(data: bytearray, rng: random.Random) -> bytearray:
    return data[: rng.randrange(1, len(data) + 1)]


def _line_swap(data: bytearray, rng: random.Random) -> bytearray:
    lines = bytes(data).split(b"\n")
    for _ in range(rng.randint(1, 6)):
        a, b = rng.randrange(len(lines)), rng.randrange(len(lines))
        lines[a], lines[b] = lines[b], lines[a]
    return bytearray(b"\n".join(lines))


def _number(data: bytearray, rng: random.Random) -> bytearray:
    """Replace numbers, in the second half of the file more often: there the shapes stand."""
    for _ in range(rng.randint(1, 8)):
        at = max(rng.randrange(len(data)), rng.randrange(len(data)))
        while at < len(data) and not chr(data[at]).isdigit():
            at += 1
        end = at
        while end < len(data) and chr(data[end]) in "0123456789.-+eE":
            end += 1
        data[at:end] = rng.choice(_NUMBERS)
    return data


def _token(data: bytearray, rng: random.Random) -> bytearray:
    for _ in range(rng.randint(1, 4)):
        at = max(rng.randrange(len(data)), rng.randrange(len(data)))
        start = data.rfind(b"\n", 0, at) + 1
        end = data.find(b"\n", at)
        if rng.random() < 0.5 and end >= 0:
            data[start:end] = rng.choice(_TOKENS)
        else:
            data[at:at] = rng.choice(_TOKENS)
    return data


def _entity_shuffle(data: bytearray, rng: random.Random) -> bytearray:
    """Entities copied over each other, so that shapes heap up and blocks nest."""
    parts = bytes(data).split(b"\n  0\n")
    if len(parts) < 3:
        return data
    for _ in range(rng.randint(1, 10)):
        parts.insert(rng.randrange(len(parts)), rng.choice(parts))
    return bytearray(b"\n  0\n".join(parts))


_WAYS: tuple[Callable[[bytearray, random.Random], bytearray], ...] = (
    _flip, _drop, _double, _cut, _line_swap, _number, _number, _token, _token, _entity_shuffle,
)  # fmt: skip


def mutant(data: bytes, seed: int) -> bytes:
    """The drawing damaged in one to three ways; the same seed, the same damage."""
    rng = random.Random(seed)
    out = bytearray(data.replace(b"\r\n", b"\n"))
    for _ in range(rng.choice((1, 1, 2, 3))):
        if out:
            out = rng.choice(_WAYS)(out, rng)
    return bytes(out)


def assert_read_or_refused(path: Path) -> None:
    """A file gives outlines or findings, or is refused with words and a remedy."""
    try:
        result = read_outlines(path)
    except UnreadableDrawing as error:
        assert error.what
        assert error.remedy
        return
    assert result.outlines or result.findings
    assert all(outline.polygon.is_valid for outline in result.outlines)
    assert all(outline.region.area_mm2 > 0 for outline in result.outlines)
