"""The program that has a port open, for the message that the port is in use. Linux only; elsewhere nothing is found."""

from __future__ import annotations

import os
from pathlib import Path

PROC = Path("/proc")


def holder_of(device: str, proc: Path = PROC) -> str:
    """Name and process number of another process with this device open; empty if none can be seen.

    A process of another user cannot be looked into.
    """
    wanted = os.path.realpath(device)
    try:
        processes = [one for one in proc.iterdir() if one.name.isdigit() and one.name != str(os.getpid())]
    except OSError:
        return ""
    for process in processes:
        try:
            if any(os.path.realpath(one) == wanted for one in (process / "fd").iterdir()):
                return f"{(process / 'comm').read_text('utf-8').strip()}, process {process.name}"
        except OSError:
            continue
    return ""
