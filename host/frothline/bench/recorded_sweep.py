"""What a recorded sweep says it is, and whether it can be used as what it is given for.

A sweep of an air source, a dry sweep and a wet sweep through a generator have the same columns and cannot be told apart
by them. The TOML beside the recording says which it is (``kind``, ``through``) and keeps the build sheet. Page, prompt
and Python all ask ``check_role`` before a sweep is used, and show ``role_notes`` with the answer.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

from frothline.errors import InputError
from frothline.recording.summary import metadata_path, read_metadata

from .build import Build
from .keeping import THROUGH
from .same import air_way_differences
from .sheet import examine
from .through import STATES
from .trial_words import entry_words, spoken

Role = Literal["source", "generator", "dry", "wet"]

ROLES: dict[str, str] = {
    "source": "a sweep of an air source",
    "generator": "a sweep through a generator",
    "dry": "a dry sweep through a generator",
    "wet": "a wet sweep through a generator",
    "run": "a run, not a sweep",
}


@dataclass(frozen=True)
class SweepIdentity:
    """What a recording says of itself: ``role`` is a key of ROLES, or empty where it does not say; ``build`` the sheet
    that it keeps, None where it keeps none or none that can be read.
    """

    path: Path
    role: str
    build: Build | None


def identify(recording: Path) -> SweepIdentity:
    """Reads the TOML beside the recording; never raises."""
    metadata, _ = read_metadata(metadata_path(recording))
    kind, through = metadata.get("kind"), metadata.get("through")
    role = {"sweep": "source", "run": "run", THROUGH: "generator"}.get(kind, "") if isinstance(kind, str) else ""
    if role == "generator" and through in STATES:
        role = str(through)
    sheet = metadata.get("build_sheet")
    return SweepIdentity(recording, role, examine(sheet).build if isinstance(sheet, str) and "\n" in sheet else None)


def check_role(recordings: Iterable[Path], role: Role) -> None:
    """Raises InputError for the first recording that says it is something else than ``role``."""
    for path in recordings:
        said = identify(path).role
        if said in {"", role} or (said in STATES and role == "generator") or (said == "generator" and role in STATES):
            continue
        other = f"Use it as {ROLES[said]}" if said != "run" else "Record a sweep"
        raise InputError(
            f"this recording is {ROLES[said]}, and is given as {ROLES[role]}",
            where=str(path),
            remedy=f"{other}, or correct “kind” and “through” in {metadata_path(path).name}",
        )


def role_notes(recordings: Iterable[Path], role: Role, build: Build | None = None) -> tuple[str, ...]:
    """What to know of recordings that are used as ``role``: that one does not say what it is, and which entries of the
    build sheet kept with it differ from ``build``.
    """
    notes = []
    for path in recordings:
        found = identify(path)
        if found.role not in {*STATES, "source", "run"}:
            what = "which state it was swept in" if found.role == "generator" else "what it is"
            notes.append(f"{path.name} does not say {what}; it is used as {ROLES[role]}")
        if build is not None and found.build is not None:
            changed = [
                f"{spoken(one.path)} {entry_words(one.path, one.before)} then, {entry_words(one.path, one.after)} now"
                for one in air_way_differences(found.build, build)
            ]
            if changed:
                notes.append(f"{path.name} was swept through another build than this sheet: {'; '.join(changed)}")
    return tuple(notes)
