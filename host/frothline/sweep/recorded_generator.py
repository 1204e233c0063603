"""The role of a recorded sweep (source, dry or wet generator), and the check of that role before use.

A sweep of an air source, a dry sweep and a wet sweep through a generator have the same columns. The TOML next to the
recording gives the role (``kind``, ``through``) and contains the build sheet; without it, the notes inside the
recording give the role. The readings alone distinguish a source, whose pressure falls with flow, from a generator.
Page, command line and Python all call ``check_role`` or ``read_generator_sweep`` before a sweep is used, and show
``role_notes`` with the result.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any, Literal

import numpy as np

from frothline.curve.steady_points import SteadyPoint
from frothline.errors import FrothlineError, InputError
from frothline.generator.build import Build
from frothline.generator.build_comparison import air_path_differences
from frothline.generator.entry_words import entry_words, spoken
from frothline.generator.sheet import parse_sheet
from frothline.readings.applied_calibration import AUTO
from frothline.recording.reader import segments_of
from frothline.recording.sidecar import BEGINS
from frothline.recording.summary import GENERATOR_SWEEP, metadata_path, read_metadata, summarise
from frothline.sweep.generator_file import read_generator
from frothline.sweep.generator_guide import STATES
from frothline.sweep.point_table import is_point_table
from frothline.sweep.recorded_source import load_sweeps
from frothline.sweep.source_file import holds_points

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
    """Role and build of a recording: ``role`` is a key of ROLES, or empty if unknown; ``build`` is its saved sheet,
    None without a readable one.
    """

    path: Path
    role: str
    build: Build | None


def identify(recording: Path) -> SweepIdentity:
    """Read the role from the TOML next to the recording, else from the recording's notes; never raises."""
    if is_point_table(recording):
        return SweepIdentity(recording, "source", None)
    if holds_points(recording):
        return _identify_file(recording)
    metadata, _ = read_metadata(metadata_path(recording))
    kind, through = metadata.get("kind"), metadata.get("through")
    role = (
        {"sweep": "source", "run": "run", GENERATOR_SWEEP: "generator"}.get(kind, "") if isinstance(kind, str) else ""
    )
    if role == "generator" and through in STATES:
        role = str(through)
    role = role or _noted_role(recording)
    sheet = metadata.get("build_sheet")
    return SweepIdentity(
        recording, role, parse_sheet(sheet).build if isinstance(sheet, str) and "\n" in sheet else None
    )


def _identify_file(path: Path) -> SweepIdentity:
    """The role of a file of the library: a source, or a generator with the points it has."""
    try:
        held = read_generator(path)
    except InputError:
        return SweepIdentity(path, "source", None)  # its reader says what is wrong with it
    role = "generator" if held.dry and held.wet else "wet" if held.wet else "dry"
    return SweepIdentity(path, role, held.build)


def _noted_role(recording: Path) -> str:
    """The role by the session's notes in the recording; empty without a note or with contradicting ones."""
    try:
        notes = set(summarise(segments_of(recording)).notes)
    except (FrothlineError, OSError):
        return ""
    found = [role for role, words in BEGINS.items() if words in notes]
    return found[0] if len(found) == 1 else ""


def check_role(recordings: Iterable[Path], role: Role) -> None:
    """Raise InputError for the first recording with a role other than ``role``."""
    for path in recordings:
        said = identify(path).role
        if said in {"", role} or (said in STATES and role == "generator") or (said == "generator" and role in STATES):
            continue
        other = f"Use it as {ROLES[said]}" if said != "run" else "Record a sweep"
        raise InputError(
            f"this recording is {ROLES[said]}, but was given as {ROLES[role]}",
            where=str(path),
            remedy=f"{other}, or correct “kind” and “through” in {metadata_path(path).name}"
            if not holds_points(path)
            else other,
        )


def read_generator_sweep(
    recordings: Sequence[Path], role: Role, *, calibration: Any = AUTO, spool: Any = None
) -> tuple[SteadyPoint, ...]:
    """Read steady points of recorded sweeps through a generator, dry or wet.

    Raises InputError if a recording has another role, or if its pressure falls with its flow like that of an air
    source; else as ``load_sweeps``.
    """
    check_role(recordings, role)
    recorded = [path for path in recordings if not holds_points(path)]
    measured = load_sweeps(recorded, calibration, spool).points if recorded else ()
    points: tuple[SteadyPoint, ...] = ()
    for number, path in enumerate(recordings):
        if holds_points(path):
            held = read_generator(path)
            chosen = {"dry": held.dry, "wet": held.wet}.get(role, held.wet or held.dry)
            own = tuple(replace(one, source=number) for one in chosen)
        else:
            own = tuple(replace(one, source=number) for one in measured if one.source == recorded.index(path))
        points += own
        if _falls([one.flow for one in own], [one.pressure for one in own]):
            raise InputError(
                f"its pressure falls as its flow grows: this is {ROLES['source']}, but was given as {ROLES[role]}",
                where=str(path),
                remedy="Give a sweep through the generator; `frothline record --through` makes one",
            )
    return points


def _falls(flow: Sequence[float], pressure: Sequence[float]) -> bool:
    """Whether pressure falls with flow over a wide enough range of flows (judgement: a fifth)."""
    if len(flow) < 3 or np.ptp(flow) < 0.2 * max(flow):
        return False
    return bool(np.corrcoef(flow, pressure)[0, 1] < -0.5)


def role_notes(recordings: Iterable[Path], role: Role, build: Build | None = None) -> tuple[str, ...]:
    """Notes on recordings used as ``role``: a missing role, and entries of the saved build sheet that differ from
    ``build``.
    """
    notes = []
    for path in recordings:
        found = identify(path)
        if found.role not in {*STATES, "source", "run"}:
            what = "its state (dry or wet)" if found.role == "generator" else "its kind"
            notes.append(f"{path.name} has no entry for {what}; it is used as {ROLES[role]}")
        if build is not None and found.build is not None:
            changed = [
                f"{spoken(one.path)} {entry_words(one.path, one.before)} then, {entry_words(one.path, one.after)} now"
                for one in air_path_differences(found.build, build)
            ]
            if changed:
                notes.append(f"{path.name} was swept through another build than this sheet: {'; '.join(changed)}")
    return tuple(notes)
