"""The operating system calls for recordings; tests replace them by a failing disk.

Each raises OSError as the system does; only ``lock`` and ``sync_folder`` do nothing if the system lacks them.
"""

from __future__ import annotations

import errno
import os
import shutil
import sys
import time
from pathlib import Path

from frothline.atomic_file import give_name, sync_folder

if sys.platform != "win32":
    import fcntl


_LOCKED_BYTE = 0x7FFF_0000  # a segment is smaller; the system's call takes 31 bits
_FLAGS = os.O_APPEND | getattr(os, "O_CLOEXEC", 0) | getattr(os, "O_BINARY", 0)


class Disk:
    """Unbuffered files: data survive the end of this process after ``write`` has returned."""

    def create(self, path: Path) -> int:
        """Create a file and return its descriptor. Raises FileExistsError if the name exists."""
        return os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL | _FLAGS, 0o644)

    def reopen(self, path: Path) -> int:
        return os.open(path, os.O_WRONLY | _FLAGS)

    def lock(self, descriptor: int) -> None:
        """Lock the file for writing. Raises BlockingIOError if another program holds it. The lock ends with the
        descriptor.
        """
        if sys.platform == "win32":
            _lock_on_windows(descriptor)
            return
        try:
            fcntl.flock(descriptor, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except OSError as error:
            if error.errno in {errno.EWOULDBLOCK, errno.EACCES}:
                raise
            # Some network drives have no locks; recording without a lock is better than no recording.

    def publish(self, descriptor: int, temporary: Path, path: Path) -> int:
        """Give a begun file its name in one step; returns the descriptor to write to, locked.

        Raises FileExistsError if the name exists. Other programs may read the file from then on.
        """
        if sys.platform == "win32":
            os.close(descriptor)  # Windows renames no open file
            give_name(temporary, path)
            descriptor = self.reopen(path)
            self.lock(descriptor)
            return descriptor
        give_name(temporary, path)
        return descriptor

    def write(self, descriptor: int, data: memoryview) -> int:
        """Write bytes; returns the number written, which may be smaller than given."""
        return os.write(descriptor, data)

    def sync(self, descriptor: int) -> None:
        """Force the file's bytes to the medium, as far as the system supports it."""
        if sys.platform == "darwin":  # fsync alone leaves them in the drive's cache
            try:
                fcntl.fcntl(descriptor, fcntl.F_FULLFSYNC)
            except OSError:
                pass  # not every file system there supports it
            else:
                return
        os.fsync(descriptor)

    def sync_folder(self, folder: Path) -> None:
        """Force a new name in the folder to the medium, so that it survives a power cut."""
        sync_folder(folder)

    def is_at(self, descriptor: int, path: Path) -> bool:
        """Whether ``path`` still names the open file: False once it was deleted, moved or replaced."""
        try:
            return os.path.samestat(os.fstat(descriptor), path.stat())
        except (FileNotFoundError, NotADirectoryError):
            return False
        except OSError:
            return True  # a network drive that does not answer now; a write will report the error

    def make_folder(self, folder: Path) -> None:
        """Make the folder and its parents, if missing."""
        folder.mkdir(parents=True, exist_ok=True)

    def duplicate(self, descriptor: int) -> int:
        return os.dup(descriptor)

    def close(self, descriptor: int) -> None:
        os.close(descriptor)

    def remove(self, path: Path) -> None:
        path.unlink()

    def free(self, folder: Path) -> int:
        """Free bytes on the disk."""
        return shutil.disk_usage(folder).free


def is_locked(path: Path, disk: Disk | None = None) -> bool:
    """Whether another program is writing the file. Raises OSError if it cannot be opened for writing."""
    disk = disk or Disk()
    descriptor = disk.reopen(path)
    try:
        disk.lock(descriptor)
    except BlockingIOError:
        return True
    finally:
        disk.close(descriptor)
    return False


def _lock_on_windows(descriptor: int) -> None:
    """Lock one byte behind any content, so that other programs can read the file."""
    import msvcrt  # noqa: PLC0415  only Windows has it

    os.lseek(descriptor, _LOCKED_BYTE, os.SEEK_SET)  # what is written goes to the end of the file all the same
    try:
        msvcrt.locking(descriptor, msvcrt.LK_NBLCK, 1)  # type: ignore[attr-defined,unused-ignore]
    except PermissionError as error:
        raise BlockingIOError(errno.EWOULDBLOCK, "another program has locked this file") from error
    except OSError:
        pass  # a drive without locks, see ``Disk.lock``


class SystemClock:
    """Wall clock and monotonic clock, ns."""

    def unix_ns(self) -> int:
        return time.time_ns()

    def monotonic_ns(self) -> int:
        return time.monotonic_ns()
