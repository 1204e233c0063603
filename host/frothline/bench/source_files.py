"""Sources that are files, not recordings: tables of points and files of the library, in the folder ``sources``.

They are offered wherever a recorded sweep of a source is, and files of generators wherever one through a generator is.
The source page writes them: points entered by hand, the measured curve, and a source of a kind that was not measured.
"""

from __future__ import annotations

from collections.abc import Sequence
from contextlib import suppress
from functools import lru_cache
from hashlib import sha256
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
from frothline.sweep.generator_file import BUILDS
from frothline.sweep.points_by_hand import points_of_text
from frothline.sweep.recorded_source import RecordedSweeps
from frothline.sweep.source_file import holds_points, short, source_text
from frothline.toml_text import LIBRARY, TomlUnreadable, read_text, read_toml
from frothline.trials.inside_folder import leads_out
from frothline.trials.passed_on_builds import PLACES, file_of, library_files
from frothline.typed_table import LARGEST

SOURCES = "sources"  # folder of the files inside the folder of the recordings
HEAD = 400  # bytes of a file that name what it is
MOST_OFFERED = 200
_EXAMPLES = {"source": "leaf blower", "generator": "tall one"}


def source_entries(folder: Path) -> tuple[Entry, ...]:
    """The files of a folder of recordings, like the entries of its recorded sweeps, the newest first. Never raises.

    Files of other builders may lie in ``builds`` too.
    """
    paths = []
    with suppress(OSError):
        place = folder / SOURCES
        if not leads_out(folder, place):
            known = [path for path in place.iterdir() if holds_points(path) and not path.name.startswith(".")]
            paths = [path for path in known if path.is_file() and not path.is_symlink()]
    return _entries([*paths, *library_files(folder, "source", (BUILDS,))], "sweep")


def generator_entries(folder: Path, places: Sequence[str] = PLACES) -> tuple[Entry, ...]:
    """The files of measured generators in a folder of recordings, the newest first. Never raises.

    places : its folders that are searched; a file that lies in two of them is offered once
    """
    return _entries(library_files(folder, "generator", places), "generator sweep")


def _entries(paths: Sequence[Path], kind: str) -> tuple[Entry, ...]:
    """Entries of files, the newest first, each with its builder's name; a copy in another folder is left out."""
    found = []
    for path in paths:
        with suppress(OSError):
            status = path.stat()
            found.append((-status.st_mtime_ns, path, status.st_size))
    entries: dict[tuple[str, str], Entry] = {}
    for age, path, size in sorted(found)[:MOST_OFFERED]:
        builder, digest = _head(path, age, size)
        title = f"{path.stem} ({file_of(builder)})"
        entry = Entry(str(path), path.stem, "closed", size, metadata={"kind": kind, "title": title})
        entries.setdefault((path.name, digest), entry)
    return tuple(entries.values())


@lru_cache(maxsize=4 * MOST_OFFERED)
def _head(path: Path, age: int, size: int) -> tuple[str, str]:  # noqa: ARG001  a changed file is read again
    """Name of the builder of a file, "" without one, and what tells its content from that of others."""
    try:
        text = read_text(path)
        builder = read_toml(text).get("builder", "") if path.suffix.casefold() == ".toml" else ""
    except (OSError, TomlUnreadable):
        return "", str(path)
    return short(builder) if isinstance(builder, str) else "", sha256(text.encode()).hexdigest()


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
