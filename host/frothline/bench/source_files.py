"""Sources that are files, not recordings: tables of points and files of the library, in the folder ``sources``.

They are offered wherever a recorded sweep of a source is, and files of generators wherever one through a generator is.
The source page writes them: points entered by hand, the measured curve, and a source of a kind that was not measured.
"""

from __future__ import annotations

from collections.abc import Sequence
from contextlib import suppress
from pathlib import Path
from typing import Any

from frothline.atomic_file import write_new
from frothline.curve.blower import BlowerFit
from frothline.curve.steady_points import SteadyPoint
from frothline.errors import InputError
from frothline.generator.room_air import RoomAir
from frothline.recording.sidecar import clean_name
from frothline.recording.summary import Entry
from frothline.source_library.collection import read_library
from frothline.source_library.prior import pool_group
from frothline.source_library.saving import calibration_words, source_of_points
from frothline.sweep.generator_file import GENERATORS
from frothline.sweep.points_by_hand import points_of_text
from frothline.sweep.recorded_source import RecordedSweeps
from frothline.sweep.source_file import holds_points, source_text
from frothline.toml_text import LIBRARY
from frothline.trials.inside_folder import leads_out
from frothline.trials.passed_on_builds import generator_files
from frothline.typed_table import LARGEST

SOURCES = "sources"  # folder of the files inside the folder of the recordings
HEAD = 400  # bytes of a file that name what it is
MOST_OFFERED = 200
_EXAMPLES = {"source": "leaf blower", "generator": "tall one"}


def source_entries(folder: Path) -> tuple[Entry, ...]:
    """The files of a folder of recordings, like the entries of its recorded sweeps, the newest first. Never raises."""
    found = []
    try:
        place = folder / SOURCES
        if leads_out(folder, place):
            return ()
        for path in place.iterdir():
            if holds_points(path) and path.is_file() and not path.is_symlink() and not path.name.startswith("."):
                status = path.stat()
                found.append((status.st_mtime_ns, path, status.st_size))
    except OSError:
        return ()
    found.sort(key=lambda one: (-one[0], one[1]))
    return tuple(
        Entry(str(path), path.stem, "closed", size, metadata={"kind": "sweep", "title": f"{path.stem} (file)"})
        for _, path, size in found[:MOST_OFFERED]
    )


def generator_entries(folder: Path, inside: str = GENERATORS) -> tuple[Entry, ...]:
    """The files of measured generators in a folder of recordings, the newest first. Never raises.

    inside : its folder that is searched; files that another builder sent may lie in ``builds`` too
    """
    found = []
    for path in generator_files(folder, inside)[:MOST_OFFERED]:
        with suppress(OSError):
            found.append((path, path.stat().st_size))
    return tuple(
        Entry(
            str(path), path.stem, "closed", size, metadata={"kind": "generator sweep", "title": f"{path.stem} (file)"}
        )
        for path, size in found
    )


def is_received(path: Path) -> bool:
    """Whether a file is one that is passed on, by its head; False without a file."""
    try:
        with path.open("rb") as file:
            return LIBRARY.encode() in file.read(HEAD)
    except OSError:
        return False


def save_points(folder: Path, name: str, text: str) -> tuple[Path, BlowerFit]:
    """Check a typed table of points, and save it in the folder of the recordings; its file and its curve.

    Raises InputError with all wrong lines at once, FitError if the points are not enough for a curve. Nothing is
    written then.
    """
    if len(text) > LARGEST:
        raise InputError("this is too long for a table of points", where="points")
    entered = points_of_text(text, name or "the table", where="points")
    fit = RecordedSweeps((Path(f"{name}.csv"),), entered.points, (), air=entered.air, notes=entered.notes).fit()
    return write_passed_on(folder / SOURCES, name, ".csv", text.replace("\r\n", "\n")), fit


def save_measured(
    folder: Path,
    name: str,
    group: str,
    points: Sequence[SteadyPoint],
    fit: BlowerFit | None,
    *,
    air: RoomAir | None = None,
    calibration: Any = None,
) -> Path:
    """Save the measured curve as a file of the library. Raises InputError without a curve or a name.

    air : of the room and the hose;  calibration : of the sensors, None for the data sheets
    """
    if fit is None:
        raise InputError("there is no curve to save yet", where="source", remedy="Measure it with a guided sweep")
    source = source_of_points(points, fit, name, group, air=air, calibrated=calibration_words(calibration))
    return write_passed_on(folder / SOURCES, name, ".toml", source_text(source))


def save_unmeasured(folder: Path, group: str) -> tuple[Path, str]:
    """Save a source of a kind that was not measured, pooled from the files of the folder; its file and words.

    Raises InputError or TooFewPoints.
    """
    pooled = pool_group(read_library(folder / SOURCES), group)
    return write_passed_on(folder / SOURCES, pooled.source.name, ".toml", source_text(pooled.source)), pooled.words


def groups_of(folder: Path) -> dict[str, int]:
    """Kinds of the measured sources in the folder, with their number; empty without a folder."""
    try:
        return read_library(folder / SOURCES).groups
    except (InputError, OSError):
        return {}


def write_passed_on(place: Path, name: str, suffix: str, text: str, what: str = "source") -> Path:
    """Write a new file into a folder of the recordings; an existing one is never replaced.

    ``what`` : kind of the thing in the file, for messages. Raises InputError.
    """
    safe = clean_name(name)
    if not safe:
        raise InputError(f"the {what} has no name", where="name", remedy=f"Type a name, like “{_EXAMPLES[what]}”")
    if leads_out(place.parent, place):
        raise InputError(f"the folder of the {what}s is a link to another place", where=str(place))
    place.mkdir(parents=True, exist_ok=True)
    for number in range(1, 1000):
        path = place / f"{safe}{'' if number == 1 else f'-{number}'}{suffix}"
        try:
            write_new(path, text.encode())
        except FileExistsError:
            continue
        except OSError as error:
            raise InputError(f"it could not be written: {error.strerror or error}", where=str(path)) from error
        return path
    raise InputError("there are a thousand files of this name", where=str(place), remedy="Choose another name")
