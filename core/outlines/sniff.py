"""What kind of file a path holds, told from its bytes; its name decides nothing."""

from __future__ import annotations

import gzip
import os
import zlib
from pathlib import Path

from core.errors import UnreadableDrawing
from core.outlines.dxf_load import is_binary_dxf
from core.outlines.limits import MAX_FILE_BYTES

_EXPORT = "Export the drawing as DXF or SVG."

# First bytes of files people pick by mistake.
_OTHERS: tuple[tuple[bytes, str], ...] = (
    (b"\x89PNG", "a PNG picture"),
    (b"\xff\xd8\xff", "a JPEG picture"),
    (b"GIF8", "a GIF picture"),
    (b"BM", "a BMP picture"),
    (b"II*\x00", "a TIFF picture"),
    (b"MM\x00*", "a TIFF picture"),
    (b"%PDF", "a PDF"),
    (b"%!PS", "a PostScript file"),
    (b"PK\x03\x04", "a ZIP archive or an office file"),
    (b"7z\xbc\xaf", "an archive"),
    (b"Rar!", "an archive"),
    (b"\x7fELF", "a program"),
    (b"MZ", "a program"),
    (b"solid ", "a 3D mesh"),
    (b"ISO-10303", "a STEP model"),
    (b"AC10", "a DWG drawing"),
)


def read_bytes(path: str | os.PathLike[str]) -> tuple[bytes, str]:
    """The bytes of a drawing and its kind, "dxf" or "svg"; packed SVG is unpacked.

    Raises UnreadableDrawing naming what the file is instead.
    """
    name = str(path)
    try:
        with open(path, "rb") as stream:
            size = os.fstat(stream.fileno()).st_size
            if size > MAX_FILE_BYTES:
                raise _too_large(name, size)
            data = stream.read(MAX_FILE_BYTES + 1)
    except FileNotFoundError:
        raise UnreadableDrawing(
            "There is no such file", name, "Check the name and the folder."
        ) from None
    except IsADirectoryError:
        raise UnreadableDrawing("This is a folder", name, "Name the drawing inside it.") from None
    except (OSError, ValueError) as error:
        if Path(name).is_dir():
            raise UnreadableDrawing(
                "This is a folder", name, "Name the drawing inside it."
            ) from None
        reason = getattr(error, "strerror", None) or error
        raise UnreadableDrawing(
            f"The file cannot be opened ({reason})", name, "Check that you may read it."
        ) from error
    if len(data) > MAX_FILE_BYTES:  # a device or pipe without a size
        raise _too_large(name, len(data))
    return kind_of(data, name)


def kind_of(data: bytes, name: str) -> tuple[bytes, str]:
    """Bytes ready to parse and their kind; name: for messages."""
    if data.startswith(b"\x1f\x8b"):
        data = _unpacked(data, name)
    if not data.strip(b"\x00 \t\r\n\xef\xbb\xbf"):
        raise UnreadableDrawing("The file is empty", name, _EXPORT)
    if data.startswith((b"\xff\xfe", b"\xfe\xff")):
        data = data.decode("utf-16", errors="replace").encode("utf-8")
    if is_binary_dxf(data):
        return data, "dxf"
    head = data[:65536].lstrip(b"\xef\xbb\xbf \t\r\n")
    for start, what in _OTHERS:
        if head.startswith(start):
            if what == "a DWG drawing":
                raise UnreadableDrawing(f"This is {what}", name, "Save it as DXF instead.")
            raise UnreadableDrawing(f"This is {what}, not a drawing", name, _EXPORT)
    if head.startswith(b"<"):
        if b"<svg" in data[:1_000_000] or b":svg" in data[:1_000_000]:
            return data, "svg"
        what = "a web page" if b"<html" in head.lower() else "an XML file without a drawing in it"
        raise UnreadableDrawing(f"This is {what}", name, _EXPORT)
    if b"SECTION" in data and b"\x00" not in data[:1000]:
        return data, "dxf"
    raise UnreadableDrawing("This is no drawing: neither DXF nor SVG", name, _EXPORT)


def _unpacked(data: bytes, name: str) -> bytes:
    """A packed file unpacked, up to the size bound."""
    try:
        unpack = zlib.decompressobj(wbits=31)
        out = unpack.decompress(data, MAX_FILE_BYTES + 1)
    except (zlib.error, gzip.BadGzipFile, EOFError) as error:
        raise UnreadableDrawing("The packed file is damaged", name, _EXPORT) from error
    if len(out) > MAX_FILE_BYTES:
        raise _too_large(name, len(out))
    return out


def _too_large(name: str, size: int) -> UnreadableDrawing:
    return UnreadableDrawing(
        f"The file is too large to be a drawing of panels ({size / 1e6:.0f} MB, at most "
        f"{MAX_FILE_BYTES / 1e6:.0f} MB)",
        name,
        "Export only the panels to be cut.",
    )
