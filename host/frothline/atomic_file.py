"""Writing of a whole file in one step: a reader sees the old file or the new one, also after a power cut."""

from __future__ import annotations

import contextlib
import errno
import os
import re
import secrets
import sys
from collections.abc import Callable
from pathlib import Path
from typing import IO

from frothline.errors import NoSpace, RecordingUnwritable

_UNFINISHED = ".part"
_TEMPORARY = re.compile(r"\..+\.[0-9a-f]{8}\.part")
_LEFT_BEHIND = 3600.0  # s


def write_atomically(path: str | Path, write: Callable[[IO[bytes]], object]) -> Path:
    """Let ``write`` fill a temporary file, then rename it to ``path``, which replaces an existing file.

    The bytes and the new name are forced to the medium. After an error the existing file is unchanged. Raises NoSpace
    or RecordingUnwritable.
    """
    path = Path(path)
    temporary = temporary_name(path)
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


def write_new(path: Path, data: bytes) -> None:
    """Write a new file in one step: a program that is killed meanwhile leaves no empty or partial file of this name.

    Raises FileExistsError if the name exists, and OSError.
    """
    temporary = temporary_name(path)
    try:
        with temporary.open("xb") as file:
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
        give_name(temporary, path)
    except BaseException:
        temporary.unlink(missing_ok=True)
        raise


def temporary_name(path: Path) -> Path:
    """Path of a file in the same folder that gets the name of ``path`` when it is finished."""
    return path.with_name(f".{path.name}.{secrets.token_hex(4)}{_UNFINISHED}")


def give_name(temporary: Path, path: Path) -> None:
    """Rename a finished file without replacing an existing one. Raises FileExistsError if the name exists."""
    if sys.platform != "win32":  # there a rename refuses an existing name itself
        try:
            os.link(temporary, path)
        except FileExistsError:
            raise
        except OSError:  # FAT, exFAT and some network drives have no links
            if os.path.lexists(path):
                raise FileExistsError(errno.EEXIST, os.strerror(errno.EEXIST), str(path)) from None
        else:
            temporary.unlink()
            return
    os.rename(temporary, path)  # noqa: PTH104  as ``os.link``, so that both can be replaced in tests


def remove_leftovers(folder: Path, now: float) -> int:
    """Remove temporary files of programs that were killed; returns their number. ``now`` is the wall clock, s.

    A temporary file is renamed within seconds, so that one of more than an hour has no program any more.
    """
    removed = 0
    with contextlib.suppress(OSError):
        for path in folder.glob(f".*{_UNFINISHED}"):
            if _TEMPORARY.fullmatch(path.name) and now - path.lstat().st_mtime > _LEFT_BEHIND:
                path.unlink()
                removed += 1
    return removed


def sync_folder(folder: Path) -> None:
    """Force a new name in the folder to the medium, so that it survives a power cut. Raises OSError."""
    if sys.platform == "win32":
        return
    descriptor = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(descriptor)
    finally:
        os.close(descriptor)
