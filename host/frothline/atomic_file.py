"""Writing of a whole file in one step: a reader sees the old file or the new one, also after a power cut."""

from __future__ import annotations

import contextlib
import errno
import os
import secrets
import sys
from collections.abc import Callable
from pathlib import Path
from typing import IO

from frothline.errors import NoSpace, RecordingUnwritable


def write_atomically(path: str | Path, write: Callable[[IO[bytes]], object]) -> Path:
    """Let ``write`` fill a temporary file, then rename it to ``path``, which replaces an existing file.

    The bytes and the new name are forced to the medium. After an error the existing file is unchanged. Raises NoSpace
    or RecordingUnwritable.
    """
    path = Path(path)
    temporary = path.with_name(f".{path.name}.{secrets.token_hex(4)}.part")
    try:
        try:
            with temporary.open("xb") as file:
                write(file)
                file.flush()
                os.fsync(file.fileno())
            temporary.replace(path)
        except BaseException:
            temporary.unlink(missing_ok=True)
            raise
    except OSError as error:
        kind = NoSpace if error.errno == errno.ENOSPC else RecordingUnwritable
        raise kind(
            f"it could not be written: {error.strerror or error}",
            where=str(path),
            remedy="Choose a writable folder with free space.",
        ) from error
    with contextlib.suppress(OSError):  # the file is there; not every file system can sync a folder
        sync_folder(path.parent)
    return path


def sync_folder(folder: Path) -> None:
    """Force a new name in the folder to the medium, so that it survives a power cut. Raises OSError."""
    if sys.platform == "win32":
        return
    descriptor = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(descriptor)
    finally:
        os.close(descriptor)
