"""Bytes of a DXF file to a document, however damaged the file is.

Three kinds of damage make a parser return an empty document without a word, so they are mended
here before parsing: lines ended by a carriage return alone, a file cut off before its end, and
entities of a later format behind a missing header.
"""

from __future__ import annotations

import io
import logging
import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from typing import Any

from core.errors import UnreadableDrawing
from core.findings import counted
from core.outlines.dxf_salvage import salvaged
from core.outlines.limits import MAX_SHAPES

# A library may not print to the maker's terminal by itself.
logging.getLogger("ezdxf").addHandler(logging.NullHandler())

_VERSION = re.compile(rb"\$ACADVER\s+1\s+(AC\d{4})")
_SUBCLASS = re.compile(rb"(?m)^\s*100\s*\r?\nAcDb")
# The first release whose entities the parser knows; older ones are other formats.
_OLDEST = b"AC1006"
# Counted before anything is parsed: parsing a million of them would take half a minute.
_DRAWN = (b"LINE", b"ARC", b"CIRCLE", b"LWPOLYLINE", b"POLYLINE", b"SPLINE", b"ELLIPSE", b"INSERT")
_TELL_EVERY = 4000  # lines
_HEADER = b"  0\nSECTION\n  2\nHEADER\n  9\n$ACADVER\n  1\nAC1015\n  0\nENDSEC\n"


@dataclass
class LoadedDxf:
    """A parsed document and what had to be mended for it: (code, sentence) pairs."""

    doc: Any
    notes: list[tuple[str, str]] = field(default_factory=list)


def is_binary_dxf(data: bytes) -> bool:
    """True for the binary form of the format."""
    return data[:22].endswith(b"\r\n\x1a\x00") and b"Binary DXF" in data[:22]


class _Watched(io.StringIO):
    """A text that tells now and then how much of it has been read."""

    def __init__(self, text: str, tick: Callable[[float], None]) -> None:
        super().__init__(text)
        self._lines = max(text.count("\n"), 1)
        self._read = 0
        self._tick = tick

    def readline(self, size: int | None = -1, /) -> str:  # type: ignore[override]
        """The next line."""
        self._read += 1
        if self._read % _TELL_EVERY == 0:
            self._tick(min(self._read / self._lines, 1.0))
        return super().readline(-1 if size is None else size)


def load_dxf(
    data: bytes, where: str, tick: Callable[[float], None] = lambda share: None
) -> LoadedDxf:
    """The document in data; where: file name for messages.

    tick: called now and then with the share that is parsed; may raise to stop. Raises
    UnreadableDrawing when nothing can be parsed.
    """
    notes: list[tuple[str, str]] = []
    if is_binary_dxf(data):
        doc = _load_binary(data, where, notes)
        return LoadedDxf(doc, notes)
    data = _mended(data, notes)
    version = _VERSION.search(data[:20000])
    if version and version.group(1) < _OLDEST:
        raise UnreadableDrawing(
            f"This DXF is of a very old release ({version.group(1).decode()})",
            where,
            "Save it as DXF R12 or later.",
        )
    drawn = sum(data.count(b"\n" + kind + b"\n") for kind in _DRAWN)
    if drawn > MAX_SHAPES:
        raise UnreadableDrawing(
            f"The drawing holds more than {MAX_SHAPES:,} shapes".replace(",", " "),
            where,
            "Export only the panels to be cut.",
        )
    doc = _parse_plain(data, tick)
    if not _shapes_in(doc):
        doc = _parse_recovering(data, where, notes, fallback=doc)
    return LoadedDxf(doc, notes)


def _mended(data: bytes, notes: list[tuple[str, str]]) -> bytes:
    """The text of the file with the three silent kinds of damage mended."""
    data = data.lstrip(b"\xef\xbb\xbf").rstrip(b"\x00\x1a \t\r\n") + b"\n"
    if b"\r" in data:
        if data.count(b"\r") > 2 * data.count(b"\n"):
            notes.append(("line-ends", "Lines end in a carriage return alone; read all the same."))
        data = data.replace(b"\r\n", b"\n").replace(b"\r", b"\n")
    if not re.search(rb"\n\s*0\s*\nEOF\s*$", data[-40:]):
        notes.append(
            ("ends-early", "The file stops before its end mark; the shapes up to there were read.")
        )
        data = _ended(data)
    if not _VERSION.search(data) and _SUBCLASS.search(data):
        notes.append(("header-missing", "The file has no header; it was read as DXF R2000."))
        data = _HEADER + data
    return data


def _ended(data: bytes) -> bytes:
    """A cut-off file with its last whole tag pair kept and its sections closed."""
    lines = data.split(b"\n")[:-1]
    # Pairs count from the top; an odd line at the end is half a pair. The last line may
    # itself be cut, so the entity it belongs to goes as well.
    if len(lines) % 2:
        lines.pop()
    cut = len(lines) - 2
    while cut > 0 and lines[cut].strip() != b"0":
        cut -= 2
    kept = lines[: max(cut, 0)]
    tail: list[bytes] = []
    if _open_polyline(kept):
        tail += [b"0", b"SEQEND"]
    if _open_block(kept):
        tail += [b"0", b"ENDBLK"]
    return b"\n".join([*kept, *tail, b"0", b"ENDSEC", b"0", b"EOF", b""])


def _open_polyline(lines: list[bytes]) -> bool:
    """True if the last entities are vertices without their end mark."""
    for i in range(len(lines) - 2, -1, -2):
        if lines[i].strip() == b"0":
            name = lines[i + 1].strip()
            return name == b"VERTEX" or name == b"POLYLINE"
    return False


def _open_block(lines: list[bytes]) -> bool:
    """True if a block was begun and not ended."""
    for i in range(len(lines) - 2, -1, -2):
        if lines[i].strip() == b"0":
            name = lines[i + 1].strip()
            if name == b"BLOCK":
                return True
            if name in (b"ENDBLK", b"SECTION"):
                return False
    return False


def _shapes_in(doc: Any) -> int:
    """How many shapes stand in a document's model space; 0 if it has none or is no document."""
    try:
        return len(doc.modelspace())
    except Exception:  # a damaged document lacks whatever it lacks
        return 0


def _parse_plain(data: bytes, tick: Callable[[float], None]) -> Any:
    """The document as the quick parser sees it, or None when it refuses."""
    import ezdxf
    from ezdxf.lldxf.validator import dxf_info

    try:
        head = data[:200_000].decode("cp1252", errors="replace")
        version = _VERSION.search(data[:20000])
        encoding = dxf_info(io.StringIO(head)).encoding
        if version and version.group(1) >= b"AC1021":  # from release 2007 on, always
            encoding = "utf-8"
        return ezdxf.read(_Watched(data.decode(encoding, errors="surrogateescape"), tick))
    except UnreadableDrawing:  # stopped on the way
        raise
    except Exception:  # any failure at all: the recovering parser gets its turn
        return None


def _parse_recovering(
    data: bytes, where: str, notes: list[tuple[str, str]], *, fallback: Any
) -> Any:
    """The document as the recovering parser sees it."""
    from ezdxf import recover

    try:
        doc, auditor = recover.read(io.BytesIO(data))
        doc.modelspace()
    except Exception as error:  # broken in a way the parser has no name for
        if _shapes_in(fallback):
            return fallback
        doc = _parse_salvaged(data)
        if doc is not None:
            notes.append(
                ("file-repaired", "The file is badly damaged; what could be made out was read.")
            )
            return doc
        raise UnreadableDrawing(
            "This is not a DXF that can be read, or it is badly damaged",
            where,
            "Export it again, as DXF R12 to R2018.",
        ) from error
    if auditor.errors:
        notes.append(
            (
                "file-repaired",
                f"The file was damaged in {counted(len(auditor.errors), 'place')} and mended.",
            )
        )
    return doc


def _parse_salvaged(data: bytes) -> Any:
    """The document of what fits together in the file, or None."""
    from ezdxf import recover

    for with_tables in (True, False):
        kept = salvaged(data, with_tables=with_tables)
        if kept is None:
            return None
        try:
            return recover.read(io.BytesIO(kept))[0]
        except Exception:  # the tables may be what the damage is in
            continue
    return None


def _load_binary(data: bytes, where: str, notes: list[tuple[str, str]]) -> Any:
    """The document of a binary DXF; one cut off keeps what stands before the cut."""
    from ezdxf.document import Drawing
    from ezdxf.lldxf.tagger import binary_tags_loader
    from ezdxf.lldxf.types import DXFTag

    def tags() -> Iterator[Any]:
        # Tags of one entity are held back until the next begins: a cut one is not passed on.
        held: list[Any] = []
        ended = False
        try:
            for tag in binary_tags_loader(data):
                if tag[0] == 0:
                    yield from held
                    held = []
                    ended = tag[1] == "EOF"
                held.append(tag)
        except Exception:  # the loader meets the cut with whatever struct and indexing raise
            ended = False
        if ended:
            yield from held
            return
        notes.append(
            ("ends-early", "The file stops before its end mark; the shapes up to there were read.")
        )
        yield DXFTag(0, "ENDSEC")
        yield DXFTag(0, "EOF")

    try:
        return Drawing.load(tags())
    except Exception as error:  # broken in a way the parser has no name for
        raise UnreadableDrawing(
            "This binary DXF is damaged", where, "Export it again, as a text DXF."
        ) from error
