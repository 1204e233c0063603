"""Measured photos stored next to them, so that each is measured once.

A hidden folder in the folder of the photo has a file a photo with the result, or with the reason why there is none, and
the picture with outlines. They are used while the photo's size and time are the same.
"""

from __future__ import annotations

import hashlib
import json
from contextlib import suppress
from pathlib import Path

from frothline.atomic_file import write_atomically
from frothline.bubble_size.photo_bubbles import PhotoBubbles, from_stored, stored_form
from frothline.bubble_size.photo_notes import notes_file
from frothline.errors import FrothlineError, InputError, NoTarget

FOLDER = ".frothline-bubbles"
_VERSION = 1  # grows when the method or the form changes
_LONGEST_FILE = 4_000_000  # bytes of a stored result


def bubbles_in(path: Path) -> PhotoBubbles:
    """The bubbles of a photo, measured if it is new or changed.

    Raises InputError if it has no target or no bubbles, MissingPackage without scikit-image; the latter is not stored.
    """
    from frothline.bubble_size import measure  # noqa: PLC0415  its libraries take time to load

    try:
        status = path.stat()
    except OSError as error:
        raise InputError("the file does not exist", where=str(path)) from error
    stamp = [_VERSION, status.st_size, status.st_mtime_ns, *_stamp_of_notes(path)]
    place = path.parent / FOLDER / hashlib.sha256(path.name.encode("utf-8", "surrogateescape")).hexdigest()[:24]
    known = _read(place, path, stamp)
    if isinstance(known, PhotoBubbles):
        return known
    if known:
        kind = NoTarget if known[0] == NoTarget.code else InputError
        raise kind(known[1], where=str(path))
    try:
        found = measure.measure_photo(path)
    except InputError as error:
        _write(place, {"stamp": stamp, "why": [error.code, error.what]}, b"")
        raise
    _write(place, {"stamp": stamp, "found": stored_form(found)}, found.outlines)
    return found


def _stamp_of_notes(path: Path) -> list[int]:
    try:
        status = notes_file(path).stat()
    except OSError:
        return []
    return [status.st_size, status.st_mtime_ns]


def _read(place: Path, path: Path, stamp: list[int]) -> PhotoBubbles | tuple[str, str] | None:
    """The stored result, or the stored reason; None if there is neither."""
    try:
        file = place.with_suffix(".json")
        if file.stat().st_size > _LONGEST_FILE:
            return None
        data = json.loads(file.read_text("utf-8"))
        if data["stamp"] != stamp:
            return None
        if "why" in data:
            code, what = data["why"]
            return str(code), str(what)
        return from_stored(data["found"], path, place.with_suffix(".jpg").read_bytes())
    except (OSError, ValueError, KeyError, TypeError, AttributeError):
        return None


def _write(place: Path, data: object, outlines: bytes) -> None:
    with suppress(FrothlineError, OSError):  # a read-only folder only costs time
        place.parent.mkdir(exist_ok=True)
        if outlines:
            write_atomically(place.with_suffix(".jpg"), lambda file: file.write(outlines))
        text = json.dumps(data)  # in ASCII, because a file name may not be valid text
        write_atomically(place.with_suffix(".json"), lambda file: file.write(text.encode()))
