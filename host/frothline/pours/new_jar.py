"""A file for a jar of slurry and foam from its entries; its settled height, read hours later, and corrections."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

from frothline.atomic_file import write_atomically
from frothline.errors import InputError
from frothline.pours.file_change import Document, change_file, with_changes, with_values
from frothline.pours.jar import FOLDER, parse_jar
from frothline.pours.new_pour import filled_in, new_path, printable, quoted

_REST = """\
# foam_density = "75 kg/m3"     # of foam without a trial
# note = ""

[masses]                        # put into the jar
# cement = "300 g"
# sand = "0 g"
# water = "150 g"
# foam = "22 g"                 # or foam_volume = "300 mL"; both give the density of the foam

[jar]
# diameter = "92 mm"            # inside
# height = "78 mm"              # of the mix after stirring; or volume = "518 mL"
# settled = "75 mm"             # height later
# after = "2 h"                 # of the settled height
"""


def new_jar(folder: Path, name: str, *, trial: str = "", title: str = "", entries: Mapping[str, str]) -> Path:
    """Write a file for a jar into the folder ``jars`` of a folder of recordings; returns its path.

    ``entries`` : texts by path, like ``{"masses.cement": "300 g", "jar.height": "78 mm"}``

    Raises InputError if the name cannot be a file's, if there is such a file, and with every entry that cannot be read;
    RecordingUnwritable.
    """
    path = new_path(folder / FOLDER, name, "jar")
    if not any(key.startswith("masses.") for key in entries):
        raise InputError("what was put into the jar is missing", where="jar", remedy="Enter cement, water and foam")
    head = f"trial = {quoted(trial)}\ntitle = {quoted(title or name)}\n"
    text = filled_in(head + _REST, entries)
    problems = parse_jar(text, name).problems
    if problems:
        said = "; ".join(one.removeprefix(f"{name}: ") for one in problems)
        raise InputError(said, where="jar", remedy="Nothing is written yet: fix these entries")
    path.parent.mkdir(parents=True, exist_ok=True)
    return write_atomically(path, lambda file: file.write(text.encode("utf-8")))


def set_settled(path: Path, settled: str, after: str) -> None:
    """Write the settled height and its time into ``[jar]``; earlier entries stay as comments.

    Raises InputError with all that is wrong or missing; the file is unchanged then. RecordingUnwritable.
    """
    entries = {"settled": printable(settled).strip(), "after": printable(after).strip()}
    lacking = [{"settled": "the settled height", "after": "its time"}[key] for key, text in entries.items() if not text]
    if lacking:
        raise InputError(f"{' and '.join(lacking)} missing", where="jar", remedy="Enter them like 75 mm and 2 h")

    change_file(
        path,
        lambda text, document: with_values(text, document, "jar", entries, str(path)),
        lambda text, at: parse_jar(text, at.stem).problems,
    )


def correct_entries(path: Path, entries: Mapping[str, str]) -> None:
    """Change entries of a jar; each line that is replaced or taken out stays as a comment.

    ``entries`` : texts by path, like ``{"masses.cement": "310 g"}``; an empty text takes an entry out

    Raises as ``set_settled``.
    """

    def change(text: str, document: Document) -> tuple[str, Document]:
        text, document = with_changes(text, document, entries, str(path))
        if not document.get("masses"):
            raise InputError("nothing put into the jar would be left", where=path.name, remedy="Enter a mass")
        return text, document

    change_file(path, change, lambda text, at: parse_jar(text, at.stem).problems)
