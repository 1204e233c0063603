"""The few calls of the operating system by which a recording is kept; a test puts a failing disk in their place.

Each raises OSError as the system does; only ``lock`` and ``sync_folder`` do nothing where the system has no such thing.
"""

from __future__ import annotations

import errno
import os
import secrets
import shutil
import sys
import time
from collections.abc import Callable
from pathlib import Path
from typing import IO

from frothline.errors import NoSpace, RecordingUnwritable


def write_atomically(path: str | Path, write: Callable[[IO[bytes]], object]) -> Path:
    """Have ``write`` fill a file that then takes the name ``path``, replacing what was there.

    If anything goes wrong, what was there is still there. Raises NoSpace or RecordingUnwritable.
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
            remedy="Choose a folder with room that may be written to.",
        ) from error
    return path


if sys.platform != "win32":
    import fcntl


_FLAGS = os.O_APPEND | getattr(os, "O_CLOEXEC", 0) | getattr(os, "O_BINARY", 0)


class Disk:
    """Unbuffered files: what ``write`` has returned for survives the end of this process."""

    def create(self, path: Path) -> int:
        """Descriptor of a new file; FileExistsError if there is one of that name."""
        return os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL | _FLAGS, 0o644)

    def reopen(self, path: Path) -> int:
        return os.open(path, os.O_WRONLY | _FLAGS)

    def lock(self, descriptor: int) -> None:
        """BlockingIOError if another program holds the file for writing. The lock goes with the descriptor."""
        if sys.platform == "win32":
            return  # there an exclusive create is all the protection against a second writer
        try:
            fcntl.flock(descriptor, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except OSError as error:
            if error.errno in {errno.EWOULDBLOCK, errno.EACCES}:
                raise
            # Some network drives know no locks; recording there is better than not recording.

    def write(self, descriptor: int, data: memoryview) -> int:
        """Bytes taken, which may be fewer than given."""
        return os.write(descriptor, data)

    def sync(self, descriptor: int) -> None:
        """Returns when the file's bytes are on the medium, as far as the system can tell."""
        if sys.platform == "darwin":  # fsync alone leaves them in the drive's cache
            try:
                fcntl.fcntl(descriptor, fcntl.F_FULLFSYNC)
            except OSError:
                pass  # not every file system there knows it
            else:
                return
        os.fsync(descriptor)

    def sync_folder(self, folder: Path) -> None:
        """Makes a new name in the folder outlive a power cut."""
        if sys.platform == "win32":
            return
        descriptor = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(descriptor)
        finally:
            os.close(descriptor)

    def is_at(self, descriptor: int, path: Path) -> bool:
        """Whether ``path`` still names the open file: False once it was deleted, moved or replaced."""
        try:
            return os.path.samestat(os.fstat(descriptor), path.stat())
        except (FileNotFoundError, NotADirectoryError):
            return False
        except OSError:
            return True  # a network drive that does not answer now; a write will show what is wrong

    def make_folder(self, folder: Path) -> None:
        """Make the folder and those above it; nothing happens where it exists."""
        folder.mkdir(parents=True, exist_ok=True)

    def duplicate(self, descriptor: int) -> int:
        return os.dup(descriptor)

    def close(self, descriptor: int) -> None:
        os.close(descriptor)

    def remove(self, path: Path) -> None:
        path.unlink()

    def free(self, folder: Path) -> int:
        """Bytes that may still be written there."""
        return shutil.disk_usage(folder).free


class SystemClock:
    """Wall clock and running clock, ns."""

    def unix_ns(self) -> int:
        return time.time_ns()

    def monotonic_ns(self) -> int:
        return time.monotonic_ns()
