"""Catalogue of all recordings under a folder.

The folder is the only source: nothing is registered, and a file may be moved, renamed, copied or damaged at any time.
Summaries are cached in one JSON file in the folder, by sizes and times of their files. A cache that is stale, damaged,
of another version or not writable only costs time.
"""

from __future__ import annotations

import json
import os
from collections.abc import Iterator
from contextlib import suppress
from datetime import datetime
from pathlib import Path
from typing import Any

from frothline.atomic_file import write_atomically
from frothline.errors import FrothlineError, InputError
from frothline.recording.segments import SUFFIX, stem_and_number
from frothline.recording.summary import KINDS, PHOTOS, STATES, Entry, summarise

CACHE = ".frothline-catalogue.json"
_VERSION = 2  # of the cache; grows when Entry or the rule of an entry changes


class _Found:
    """The files of one recording in the folder."""

    def __init__(self) -> None:
        self.segments: list[os.DirEntry[str]] = []
        self.metadata: os.DirEntry[str] | None = None
        self.photos: list[str] = []

    def stamp(self) -> list[list[Any]]:
        """A stamp that changes whenever a file does."""
        files = [*self.segments, *([self.metadata] if self.metadata is not None else [])]
        out = []
        for file in files:
            status = _status(file)
            out.append([file.name, status.st_size, status.st_mtime_ns])
        return sorted(out)


def _status(file: os.DirEntry[str]) -> os.stat_result:
    """Status of the file, or of a broken link itself. Raises OSError if it is gone."""
    try:
        return file.stat()
    except OSError:
        return file.stat(follow_symlinks=False)


class Catalogue:
    """The recordings of a folder and its subfolders. ``refresh`` reads the folder again."""

    def __init__(self, folder: str | Path) -> None:
        """Raises InputError if there is no such folder."""
        self.folder = Path(folder)
        if not self.folder.is_dir():
            raise InputError(
                "this folder does not exist", where=str(self.folder), remedy="Give a folder with recordings."
            )
        self._entries: dict[str, Entry] = {}
        self._stamps: dict[str, list[list[Any]]] = {}
        self._read_cache()
        self.refresh()

    def __len__(self) -> int:
        return len(self._entries)

    def __iter__(self) -> Iterator[Entry]:
        return iter(self.entries)

    @property
    def entries(self) -> list[Entry]:
        """All entries, the newest first; those with unknown time last."""
        return sorted(self._entries.values(), key=lambda entry: (-(entry.started or 0.0), entry.path))

    def refresh(self) -> int:
        """Read the folder again and summarise new and changed recordings; returns their number."""
        entries: dict[str, Entry] = {}
        stamps: dict[str, list[list[Any]]] = {}
        renewed = 0
        for key, found in sorted(self._look().items()):
            try:
                stamp = found.stamp()
            except OSError:
                continue  # removed since the listing
            known = self._entries.get(key)
            if known is None or self._stamps.get(key) != stamp:
                known = summarise([self.folder / Path(key).parent / segment.name for segment in found.segments])
                renewed += 1
            photos = tuple(sorted(found.photos))
            if known.photos != photos:
                known = Entry(**{**vars(known), "photos": photos})
            entries[key], stamps[key] = known, stamp
        gone = self._entries.keys() - entries.keys()
        self._entries, self._stamps = entries, stamps
        if renewed or gone:
            self._write_cache()
        return renewed

    def find(
        self,
        words: str = "",
        *,
        kind: str = "",
        build: str = "",
        tag: str = "",
        state: str = "",
        since: datetime | str | None = None,
        until: datetime | str | None = None,
    ) -> list[Entry]:
        """Entries that contain every word (anywhere, in any case) and match each given filter.

        ``build`` : the path of the sheet as in the metadata, or its file name without the ending
        ``since`` and ``until`` are compared with the start; with either, recordings of unknown time are left out. A
        text is a day like 2025-04-12, whole, in the local calendar.
        Raises InputError for an unknown ``state``, for a ``kind`` unknown to this program and to all recordings of
        the folder, and for days that are none or in the wrong order.
        """
        since, until = _day(since, "since"), _day(until, "until", end=True)
        if since is not None and until is not None and since > until:
            raise InputError("the first day is after the last", where="since, until", remedy="Exchange them")
        kinds = dict.fromkeys([*KINDS, *sorted({entry.kind for entry in self.entries if entry.kind})])
        for name, asked, known in (("kind", kind, kinds), ("state", state, STATES)):
            if asked and asked not in known:
                raise InputError(f"unknown {name} “{asked}”", where=name, remedy=f"One of: {', '.join(known)}")
        wanted = words.casefold().split()

        def agrees(entry: Entry) -> bool:
            if (kind and entry.kind != kind) or (state and entry.state != state):
                return False
            if build and build not in _names(entry):
                return False
            if tag and tag not in entry.tags:
                return False
            if since is not None and (entry.started is None or entry.started < since.timestamp()):
                return False
            if until is not None and (entry.started is None or entry.started > until.timestamp()):
                return False
            return not wanted or all(word in text for text in [entry.words()] for word in wanted)

        return [entry for entry in self.entries if agrees(entry)]

    def named(self, name: str) -> Entry:
        """The entry by name, path or identity. Raises InputError if there is none or more than one."""
        found = [entry for entry in self.entries if name in {entry.name, entry.path, entry.identity}]
        if len(found) == 1:
            return found[0]
        what = "unknown recording name" if not found else f"{len(found)} recordings have that name"
        raise InputError(what, where=f"{self.folder}: {name}", remedy="Give its path instead." if found else "")

    def _look(self) -> dict[str, _Found]:
        """Recordings by their path in the folder without the suffix."""
        found: dict[str, _Found] = {}
        beside: list[tuple[str, os.DirEntry[str]]] = []
        pending = [""]
        while pending:
            here = pending.pop()
            try:
                files = list(os.scandir(self.folder / here))
            except OSError:
                continue  # not readable
            for file in files:
                if file.name.startswith("."):
                    continue
                inside = f"{here}/{file.name}" if here else file.name
                if _is_folder(file):
                    pending.append(inside)
                elif file.name.endswith(SUFFIX):
                    key = stem_and_number(Path(file.name))[0]
                    found.setdefault(f"{here}/{key}" if here else key, _Found()).segments.append(file)
                else:
                    beside.append((inside, file))
        for inside, file in beside:
            folder = inside.removesuffix(file.name)
            stem, _, suffix = file.name.rpartition(".")
            if suffix == "toml" and folder + stem in found:
                found[folder + stem].metadata = file
            elif f".{suffix.lower()}" in PHOTOS:
                # name.jpg, name-2.jpg, name (outlet).jpg: the longest name that it begins with
                while stem and folder + stem not in found:
                    stem = stem[:-1]
                if stem:
                    found[folder + stem].photos.append(str(self.folder / inside))
        for one in found.values():
            one.segments.sort(key=lambda file: stem_and_number(Path(file.name))[1])
        return found

    def _read_cache(self) -> None:
        try:
            cache = json.loads((self.folder / CACHE).read_text(encoding="utf-8"))
            if cache["version"] != _VERSION:
                return
            for key, (stamp, values) in cache["entries"].items():
                values["path"] = str(self.folder / key) + values["path"]
                tuples = {name: tuple(values[name]) for name in ("notes", "photos")}
                self._entries[key], self._stamps[key] = Entry(**{**values, **tuples}), stamp
        except (OSError, ValueError, KeyError, TypeError, AttributeError):
            self._entries, self._stamps = {}, {}

    def _write_cache(self) -> None:
        entries: dict[str, Any] = {}
        for key, entry in self._entries.items():
            # The folder may be moved as a whole, so paths are relative to it.
            tail = entry.path.removeprefix(str(self.folder / key))
            entries[key] = [self._stamps[key], vars(entry) | {"path": tail, "photos": []}]
        text = json.dumps(
            {"version": _VERSION, "entries": entries}
        )  # in ASCII, because a file name may not be valid text
        with suppress(FrothlineError):  # a read-only folder is read again each time
            write_atomically(self.folder / CACHE, lambda file: file.write(text.encode()))


def _names(entry: Entry) -> set[str]:
    """The sheet of a run as written in its file, and its file name without the ending."""
    return {entry.build, Path(entry.build).stem}


def _day(given: datetime | str | None, name: str, *, end: bool = False) -> datetime | None:
    """The moment that a day begins at, or ends."""
    if given is None or isinstance(given, datetime):
        return given
    try:
        day = datetime.fromisoformat(given)
    except ValueError as error:
        what = f"“{given:.40}” is not a valid date"
        raise InputError(what, where=name, remedy="Write it like 2025-04-12") from error
    if end and len(given) <= len("2025-04-12"):
        day = day.replace(hour=23, minute=59, second=59)
    return day.astimezone()  # a day without a zone is in the local calendar


def _is_folder(file: os.DirEntry[str]) -> bool:
    try:
        return file.is_dir(follow_symlinks=False)
    except OSError:
        return False
