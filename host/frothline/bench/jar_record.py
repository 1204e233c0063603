"""A jar of slurry and foam recorded from a form or the command line; its settled height and corrections later."""

from __future__ import annotations

import zlib
from collections.abc import Mapping
from pathlib import Path

from frothline.bench.pour_record import PourEntry
from frothline.errors import InputError
from frothline.label_case import label_case
from frothline.pours.jar import FOLDER, JarRecord, read_jar, wrong_entry
from frothline.pours.new_jar import correct_entries, new_jar, set_settled
from frothline.pours.new_pour import printable
from frothline.quantities import is_number, with_unit
from frothline.trials.inside_folder import leads_out

ENTRIES: tuple[PourEntry, ...] = (
    PourEntry("name", "", "", "Name of the file", "like soap-a-1"),
    PourEntry("trial", "trial", "", "Trial of the foam"),
    PourEntry("title", "title", "", "Title"),
    PourEntry("foam-density", "foam_density", "density", "Foam density", "of foam without a trial"),
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
TIME_UNIT = "h"  # of a number without a unit in the entry "after"


def record_jar(folder: Path, texts: Mapping[str, str], system: str = "metric") -> str:
    """Write a jar into a folder of recordings from texts by name; numbers without a unit are those of ``system``.

    Returns what was done. Raises InputError with every entry that cannot be read; nothing is written then.
    RecordingUnwritable.
    """
    entries = _texts(texts, system)
    trial, title = entries.pop("trial", ""), entries.pop("title", "")
    path = new_jar(folder, texts.get("name", "").strip(), trial=trial, title=title, entries=entries)
    return f"Jar saved in {FOLDER}/{path.name}"


def settle_jar(folder: Path, jar: str, settled: str, after: str, system: str = "metric") -> str:
    """Write the settled height of a jar and its time into its file. Returns and raises as ``record_jar``."""
    path = jar_path(folder, jar)
    found = _texts({"settled": settled, "after": after}, system)
    set_settled(path, found.get("jar.settled", ""), found.get("jar.after", ""))
    return f"Settled height saved in {FOLDER}/{path.name}, entry settled of [jar]"


def correct_jar(folder: Path, jar: str, texts: Mapping[str, str], system: str = "metric", seen: str = "") -> str:
    """Change entries of a jar; an unchanged text stays as it is written, an empty one takes the entry out.

    seen : stamp of the jar as the page showed it; another one is refused. Returns and raises as ``record_jar``.
    """
    path = jar_path(folder, jar)
    record = read_jar(path)
    if seen and seen != stamp(record):
        raise InputError(
            "the jar was changed meanwhile", where=f"{FOLDER}/{path.name}", remedy="Check its entries again"
        )
    if "name" in texts:
        raise InputError("the name of a file cannot be corrected", where="jar", remedy="Rename the file itself")
    given, was = _texts(texts, system), _texts(jar_texts(record), system)
    paths = [one.path for one in ENTRIES if one.name in texts]
    changed = {key: given.get(key, "") for key in paths if given.get(key, "") != was.get(key, "")}
    if not changed:
        return "Nothing was changed"
    correct_entries(path, changed)
    return f"Jar corrected in {FOLDER}/{path.name}: {_labels(changed)}; what was written stays there as a comment"


def jar_path(folder: Path, jar: str) -> Path:
    """The file of a jar in a folder of recordings. Raises InputError if it is not there."""
    path = folder / FOLDER / f"{jar}.toml"
    if not jar or Path(jar).name != jar or leads_out(folder, path) or not path.is_file():
        raise InputError(
            f"no jar in this folder has the file name “{jar[:60]}”",
            where=str(folder / FOLDER),
            remedy="Reload, or list the jars with frothline jar",
        )
    return path


def stamp(record: JarRecord) -> str:
    """Short text that changes with any entry of the jar."""
    return f"{zlib.crc32(repr(sorted(record.written.items())).encode()):08x}"


def jar_texts(record: JarRecord) -> dict[str, str]:
    """The entries of a jar as they are written, each figure with its unit; empty where nothing is written.

    A number without a unit in the file is metric; its age is in days.
    """
    found = {}
    for entry in ENTRIES:
        if entry.path:
            plain = printable(str(record.written.get(entry.path, ""))).strip()
            plain = with_unit(plain, entry.kind, "metric") if entry.kind else plain
            found[entry.name] = f"{plain} d" if entry.name == "after" and is_number(plain) else plain
    return found


def _labels(changed: Mapping[str, str]) -> str:
    return ", ".join(label_case(one.label) for one in ENTRIES if one.path in changed)


def wrong_entries(texts: Mapping[str, str], system: str = "metric") -> dict[str, str]:
    """Name of each typed entry that cannot be read -> what is wrong with it."""
    given = _texts({name: text for name, text in texts.items() if name in BY_NAME}, system)
    said = {one.name: wrong_entry(one.path, given[one.path]) for one in ENTRIES if one.path in given}
    return {name: words for name, words in said.items() if words}


def _texts(texts: Mapping[str, str], system: str) -> dict[str, str]:
    """Texts by path in the file, each figure with its unit; refuses an unknown name."""
    unknown = [name for name in texts if name not in BY_NAME]
    if unknown:
        raise InputError(
            f"“{unknown[0][:40]}” is not an entry of a jar", where="jar", remedy=f"Known: {', '.join(BY_NAME)}"
        )
    found = {}
    for name in (one for one in BY_NAME if one in texts):  # as in the form, in whatever order they are given
        entry, plain = BY_NAME[name], texts[name].strip()
        if not plain or not entry.path:
            continue
        if entry.kind:
            found[entry.path] = with_unit(plain, entry.kind, system)
        else:
            found[entry.path] = f"{plain} {TIME_UNIT}" if name == "after" and is_number(plain) else plain
    return found
