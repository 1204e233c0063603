"""The TOML file next to a recording: unused names, initial metadata, and notes."""

from __future__ import annotations

import re
from collections.abc import Mapping
from datetime import datetime
from pathlib import Path
from typing import Any

from frothline.atomic_file import write_atomically, write_new
from frothline.errors import InputError
from frothline.recording.summary import metadata_path
from frothline.toml_text import TomlUnreadable, edit_toml


def stamped(kind: str) -> str:
    """A recording's name from date and time."""
    return datetime.now().astimezone().strftime(f"{kind}-%Y-%m-%d-%H%M%S")


def clean_name(name: str) -> str:
    """A file name valid on every system; characters that are not allowed become a hyphen.

    >>> clean_name(" evening sweep: 2/3 ")
    'evening-sweep-2-3'
    """
    return re.sub(r"[^\w.]+", "-", name.strip()).strip("-.")[:80]


def free_name(folder: Path, name: str) -> str:
    """``name``, or the first of ``name-2``, ``name-3`` … without an existing file."""
    number, found = 1, name
    while any((folder / f"{found}{suffix}").exists() for suffix in (".froth", ".toml")):
        number += 1
        found = f"{name}-{number}"
    return found


def _plain(value: Any) -> Any:
    return str(value) if isinstance(value, Path) else value


def write_metadata(path: Path, values: Mapping[str, Any]) -> None:
    """Write the TOML file with its metadata, for people to extend; an existing file is not overwritten."""
    import tomlkit  # noqa: PLC0415  only when a recording begins

    document = tomlkit.document()
    document.add(tomlkit.comment("Notes on the recording of the same name. All entries are optional."))
    document.add("began", datetime.now().astimezone().replace(microsecond=0))
    for key, value in values.items():
        if value is not None:
            long = isinstance(value, str) and "\n" in value
            document.add(key, tomlkit.string(value, multiline=True) if long else _plain(value))
    write_new(path, tomlkit.dumps(document).encode())


def add_note(recording: Path, text: str) -> Path:
    """Append a sentence to the notes in the TOML next to a recording; returns that file.

    Comments and everything else stay. Raises InputError if the file is not TOML or cannot be written.
    """
    import tomlkit  # noqa: PLC0415  only when a note is written

    path = metadata_path(recording)
    try:
        document = edit_toml(path.read_text("utf-8")) if path.exists() else tomlkit.document()
        before = str(document.get("note", "")).rstrip()
        document["note"] = f"{before}\n{text.strip()}" if before else text.strip()
        write_atomically(path, lambda file: file.write(tomlkit.dumps(document).encode()))
    except (TomlUnreadable, UnicodeDecodeError) as error:
        raise InputError(f"the note is not written: {error}", where=str(path), remedy="Fix the file first") from error
    except OSError as error:
        raise InputError(f"the note cannot be written: {error.strerror or error}", where=str(path)) from error
    return path


BEGINS = {  # note in a recording at the begin of a sweep or a run, by role
    "source": "sweep begins",
    "dry": "sweep through the generator begins, dry",
    "wet": "sweep through the generator begins, wet",
    "run": "run begins",
}
