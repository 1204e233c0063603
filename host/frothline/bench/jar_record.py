"""A jar of slurry and foam recorded from a form or the command line, and its settled height hours later."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

from frothline.bench.pour_record import PourEntry
from frothline.errors import InputError
from frothline.pours.jar import FOLDER, wrong_entry
from frothline.pours.new_jar import new_jar, set_settled
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
    path = folder / FOLDER / f"{jar}.toml"
    if not jar or Path(jar).name != jar or leads_out(folder, path) or not path.is_file():
        raise InputError(
            f"no jar in this folder has the file name “{jar[:60]}”",
            where=str(folder / FOLDER),
            remedy="Reload, or list the jars with frothline jar",
        )
    found = _texts({"settled": settled, "after": after}, system)
    set_settled(path, found.get("jar.settled", ""), found.get("jar.after", ""))
    return f"Settled height saved in {FOLDER}/{path.name}, entry settled of [jar]"


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
    for name, text in texts.items():
        entry, plain = BY_NAME[name], text.strip()
        if not plain or not entry.path:
            continue
        if entry.kind:
            found[entry.path] = with_unit(plain, entry.kind, system)
        else:
            found[entry.path] = f"{plain} {TIME_UNIT}" if name == "after" and is_number(plain) else plain
    return found
