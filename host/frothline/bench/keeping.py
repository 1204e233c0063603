"""Beginning a recording: a name that is free, the file, and what a person says of it in TOML beside it."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from pathlib import Path
from typing import Any

from frothline.recording import RecordingWriter


def open_recording(folder: Path, name: str, *, source: str, metadata: Mapping[str, Any]) -> RecordingWriter:
    """A new recording in ``folder``, which is made if need be; ``-2``, ``-3`` is put behind a name that is taken.

    Raises RecordingUnwritable or NoSpace.
    """
    writer = RecordingWriter.create(folder, free_name(folder, name), source=source)
    write_metadata(writer.path.with_suffix(".toml"), {"recording": writer.name, "source": source, **metadata})
    return writer


def free_name(folder: Path, name: str) -> str:
    """``name``, or the first of ``name-2``, ``name-3`` … of which there is no file yet."""
    number, found = 1, name
    while any((folder / f"{found}{suffix}").exists() for suffix in (".froth", ".toml")):
        number += 1
        found = f"{name}-{number}"
    return found


def write_metadata(path: Path, values: Mapping[str, Any]) -> None:
    """TOML for people to go on writing in; nothing that is there already is overwritten."""
    import tomlkit  # noqa: PLC0415  only when a recording begins

    document = tomlkit.document()
    document.add(tomlkit.comment("About the recording of the same name. Add what you like; nothing here is needed."))
    document.add("began", datetime.now().astimezone().replace(microsecond=0))
    for key, value in values.items():
        if value is not None:
            document.add(key, str(value) if isinstance(value, Path) else value)
    with path.open("x", encoding="utf-8") as file:
        file.write(tomlkit.dumps(document))
