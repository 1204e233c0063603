"""Selection of the calibration for a recording, by one rule for pages, command line and library.

``calibration="auto"``, the default of every reader, takes ``calibration.toml`` in the folder of the recording, or the
data sheets without that file. ``None`` or "none" means the data sheets. A path, or a ``sensors.Calibration``, is used
as given. Recordings that are evaluated together may not have two different calibrations next to them.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from frothline.errors import InputError
from frothline.sensors.calibration_file import load as load_calibration

if TYPE_CHECKING:
    from frothline.recording.recorded import Recorded
    from frothline.sensors.calibration import Calibration

FILE = "calibration.toml"
AUTO = "auto"
NONE = "none"


def calibration_file_of(recording: str | Path) -> Path | None:
    """The calibration file in the folder of a recording, or in a given folder; None without one."""
    path = Path(recording)
    file = (path if path.is_dir() else path.parent) / FILE
    return file if file.exists() else None


def calibration_for(choice: Any, recording: str | Path | Sequence[str | Path] | Recorded) -> Calibration | None:
    """The calibration selected by ``choice`` for one recording or its segments; None for the data sheets.

    Raises InputError if its file cannot be read.
    """
    if choice is None or not isinstance(choice, str | Path):
        given: Calibration | None = choice
        return given
    if str(choice) == NONE:
        return None
    if choice == AUTO:
        paths = paths_of(recording if isinstance(recording, str | Path | Sequence) else recording.paths)
        choice = calibration_file_of(paths[0]) if paths else None
        if choice is None:
            return None
    return load_calibration(Path(choice))


def one_calibration_file(recordings: Iterable[str | Path]) -> Path | None:
    """The calibration file of recordings that are evaluated together; None without one.

    Raises InputError if they have different ones.
    """
    there = [file for path in recordings if (file := calibration_file_of(path)) is not None]
    if len({file.resolve() for file in there}) > 1:
        raise InputError(
            "the recordings have different calibrations in their folders",
            where=", ".join(dict.fromkeys(map(str, there))),
            remedy="Give the one to use (--calibration FILE, calibration=…), or none for the data sheets",
        )
    return there[0] if there else None


def refuse_twice(known: dict[str, str], name: str, identity: str) -> None:
    """Note a recording's identity; raises InputError if ``known`` has it, because its points would count twice."""
    if identity in known:
        raise InputError(
            "this recording is given twice", where=f"{known[identity]}, {name}", remedy="Give one segment of it"
        )
    known[identity] = name


def paths_of(recordings: str | Path | Iterable[str | Path]) -> list[Path]:
    """One path or several, as text or as Path, as a list."""
    return [Path(recordings)] if isinstance(recordings, str | Path) else [Path(one) for one in recordings]
