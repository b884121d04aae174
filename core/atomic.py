"""Writing files so that nothing is ever half-written."""

from __future__ import annotations

import contextlib
import os
import tempfile
from pathlib import Path

from core.errors import SaveFailedError


def write_atomically(path: Path | str, data: bytes | str) -> None:
    """Write data (text as UTF-8) to path, all or nothing.

    The bytes go to a new file beside path, are flushed to the disk and then take its name, so
    a crash or a full disk leaves what was there before. Missing folders are made. Raises
    SaveFailedError with the system's reason.
    """
    target = Path(path)
    raw = data.encode("utf-8") if isinstance(data, str) else data
    try:
        target.parent.mkdir(parents=True, exist_ok=True)
        replace_file(target, raw)
    except OSError as problem:
        raise SaveFailedError(
            f"The file could not be written ({problem.strerror or problem})",
            str(target),
            "Nothing was changed. Free some space or choose another folder, then save again.",
        ) from problem


def replace_file(target: Path, data: bytes) -> None:
    """Put data in a file's place, all or nothing, in a folder that is there.

    Raises OSError, after which the file is as it was and nothing lies beside it.
    """
    temporary = ""
    try:
        handle, temporary = tempfile.mkstemp(prefix=f".{target.name}.", dir=target.parent)
        with os.fdopen(handle, "wb") as stream:
            stream.write(data)
            stream.flush()
            os.fsync(stream.fileno())
        with contextlib.suppress(OSError):
            # Keep the permissions a person gave the file; a new one gets the usual ones.
            mode = target.stat().st_mode if target.exists() else 0o666 & ~_umask()
            os.chmod(temporary, mode)
        os.replace(temporary, target)
    except OSError:
        if temporary:
            with contextlib.suppress(OSError):
                os.unlink(temporary)
        raise


def _umask() -> int:
    mask = os.umask(0)
    os.umask(mask)
    return mask
