"""Notes on a photo written from a form or the command line: scale by two marks, round wall, printed ruler.

Bubbles are measured with them from then on, on the page, at the prompt and in Python.
"""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

from frothline.atomic_file import write_atomically
from frothline.bubble_size.photo_notes import LENGTHS, NAMES, PhotoNotes, notes_file, notes_of, read_notes
from frothline.errors import InputError
from frothline.pours.file_change import change_file, with_values
from frothline.pours.new_pour import printable, quoted
from frothline.quantities import in_entry_unit, with_unit


def note_photo(photo: Path, texts: Mapping[str, str], system: str = "metric") -> str:
    """Write the notes of a photo into the file next to it; an empty text takes one out, its line stays as a comment.

    texts : by name of ``photo_notes.NAMES``; lengths without a unit are those of ``system``

    Returns what was done. Raises InputError with all that is wrong; nothing is written then. RecordingUnwritable.
    """
    if not photo.is_file():
        raise InputError("there is no such photo", where=str(photo), remedy="Reload, or check its name")
    given = {name: printable(text).strip() for name, text in texts.items()}
    given = {name: with_unit(text, "length", system) if name in LENGTHS else text for name, text in given.items()}
    file = notes_file(photo)
    shown = note_texts(read_notes(photo), system)
    notes_of({**shown, **given}, photo.name)
    if not file.exists():
        lines = [f"{name} = {quoted(given[name])}" for name in NAMES if given.get(name)]
        if not lines:
            return "Nothing is noted"
        text = "\n".join(["# how to measure the bubbles of this photo", *lines, ""])
        write_atomically(file, lambda out: out.write(text.encode("utf-8")))
        return f"Noted in {file.name}"
    changed = {name: text for name, text in given.items() if text != shown.get(name, "")}
    if not changed:
        return "Nothing was changed"
    change_file(file, lambda text, document: with_values(text, document, "", changed, str(file)))
    return f"Noted in {file.name}; what was written stays there as a comment"


def note_texts(notes: PhotoNotes, system: str = "metric") -> dict[str, str]:
    """The notes as texts of the form, empty where nothing is noted."""
    found = dict.fromkeys(NAMES, "")
    if notes.marks is not None:
        found["first"], found["second"] = (f"{x:g}, {y:g}" for x, y in notes.marks)
    for name in LENGTHS:
        value = getattr(notes, name)
        if value is not None:
            found[name] = in_entry_unit(value, "length", system)
    return found
