"""Whether a file named in a person's text is in the folder of that text: a folder from elsewhere may name any file."""

from __future__ import annotations

from pathlib import Path

from frothline.errors import InputError
from frothline.quantities import shorten


def leads_out(folder: Path, path: Path) -> bool:
    """Whether the path is outside of the folder, by its text or by a link; False if it cannot be followed at all."""
    try:
        return not path.resolve().is_relative_to(folder.resolve())
    except (ValueError, OSError, RuntimeError):  # RuntimeError: a link to itself
        return False


def refuse_outside(folder: Path, path: Path, named: str) -> None:
    """Raise InputError if the build sheet ``named`` so leads out of the folder."""
    if leads_out(folder, path):
        raise InputError(
            f"build sheet “{shorten(named)}” is not in the folder",
            where=str(folder),
            remedy="Copy the sheet into the folder builds there and name the copy",
        )
