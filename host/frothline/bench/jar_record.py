"""A jar of slurry and foam recorded from a form or the command line; its settled height and corrections later."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

from frothline.bench.record_entries import (
    PourEntry,
    changed_entries,
    file_texts,
    labels_of,
    record_path,
    written_texts,
    wrong_of,
)
from frothline.pours.jar import FOLDER, JarRecord, read_jar, wrong_entry
from frothline.pours.new_jar import correct_entries, new_jar, set_settled

ENTRIES: tuple[PourEntry, ...] = (
    PourEntry("name", "", "", "Name of the file", "like soap-a-1"),
    PourEntry("trial", "trial", "", "Trial of the foam"),
    PourEntry("title", "title", "", "Title"),
    PourEntry(
        "foam-density",
        "foam_density",
        "density",
        "Foam density",
        "without a trial; like 75 kg/m³ (73 to 77)",
    ),
    PourEntry("cement", "masses.cement", "mass", "Cement put in"),
    PourEntry("sand", "masses.sand", "mass", "Sand put in"),
    PourEntry("water", "masses.water", "mass", "Water put in"),
    PourEntry("foam", "masses.foam", "mass", "Foam put in, mass"),
    PourEntry(
        "foam-volume", "masses.foam_volume", "drained", "Foam put in, volume", "mass and volume give its density"
    ),
    PourEntry("diameter", "jar.diameter", "length", "Inner diameter"),
    PourEntry("height", "jar.height", "length", "Height after stirring"),
    PourEntry("volume", "jar.volume", "drained", "Volume after stirring", "in place of diameter and height"),
    PourEntry("settled", "jar.settled", "length", "Height later"),
    PourEntry("after", "jar.after", "", "Read after", "h; or like 1.5 d"),
    PourEntry("note", "note", "", "Note"),
)
BY_NAME = {one.name: one for one in ENTRIES}


def record_jar(folder: Path, texts: Mapping[str, str], system: str = "metric") -> str:
    """Write a jar into a folder of recordings from texts by name; numbers without a unit are those of ``system``.

    Returns what was done. Raises InputError with every entry that cannot be read; nothing is written then.
    RecordingUnwritable.
    """
    entries = file_texts(texts, ENTRIES, "a jar", system)
    trial, title = entries.pop("trial", ""), entries.pop("title", "")
    path = new_jar(folder, texts.get("name", "").strip(), trial=trial, title=title, entries=entries)
    return f"Jar saved in {FOLDER}/{path.name}"


def settle_jar(folder: Path, jar: str, settled: str, after: str, system: str = "metric") -> str:
    """Write the settled height of a jar and its time into its file. Returns and raises as ``record_jar``."""
    path = record_path(folder, "jar", jar)
    found = file_texts({"settled": settled, "after": after}, ENTRIES, "a jar", system)
    set_settled(path, found.get("jar.settled", ""), found.get("jar.after", ""))
    return f"Settled height saved in {FOLDER}/{path.name}, entry settled of [jar]"


def correct_jar(folder: Path, jar: str, texts: Mapping[str, str], system: str = "metric", seen: str = "") -> str:
    """Change entries of a jar; an unchanged text stays as it is written, an empty one takes the entry out.

    seen : stamp of the jar as the page showed it; another one is refused. Returns and raises as ``record_jar``.
    """
    path = record_path(folder, "jar", jar)
    place = f"{FOLDER}/{path.name}"
    changed = changed_entries(ENTRIES, read_jar(path).written, texts, "a jar", system, place, seen)
    if not changed:
        return "Nothing was changed"
    correct_entries(path, changed)
    return f"Jar corrected in {place}: {labels_of(ENTRIES, changed)}; what was written stays there as a comment"


def jar_texts(record: JarRecord) -> dict[str, str]:
    """The entries of a jar as they are written, each figure with its unit; empty where nothing is written.

    A number without a unit in the file is metric; its age is in days.
    """
    return written_texts(ENTRIES, record.written)


def wrong_entries(texts: Mapping[str, str], system: str = "metric") -> dict[str, str]:
    """Name of each typed entry that cannot be read -> what is wrong with it."""
    return wrong_of(texts, ENTRIES, "a jar", system, wrong_entry)
