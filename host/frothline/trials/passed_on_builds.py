"""Measured generators of other builders: their files in a folder, as builds that teach about the next one.

The files lie in its folders ``generators`` and ``builds``; one that lies in both counts once.

A file names its builder where its writer has a name in the preferences. Files without one are taken as of one builder:
that they are of several cannot be known, and would make the prediction too certain.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from contextlib import suppress
from dataclasses import dataclass, replace
from pathlib import Path

from frothline.curve.steady_points import SteadyPoint
from frothline.errors import InputError
from frothline.generator.build import Build
from frothline.generator.experience import OWN
from frothline.preferences import builder_name
from frothline.rounding import counted
from frothline.sweep.generator_file import BUILDS, GENERATORS, read_generator
from frothline.sweep.source_file import is_library_file
from frothline.trials.inside_folder import leads_out

PLACES = (GENERATORS, BUILDS)  # folders inside the folder of the recordings
MOST = 60  # files that are read, the newest first: the time of a prediction stays below some seconds
UNNAMED = "?"  # builder of the files that name none


@dataclass(frozen=True)
class PassedOnBuild:
    """A generator of one or several files of one builder, OWN for the workshop itself."""

    build: Build
    builder: str
    dry: tuple[SteadyPoint, ...]
    wet: tuple[SteadyPoint, ...]


def library_files(folder: Path, kind: str, places: Iterable[str] = PLACES) -> list[Path]:
    """The files of a kind, "generator" or "source", in some folders of a folder of recordings, the newest first.

    No links; never raises.
    """
    found: list[tuple[int, str, Path]] = []
    for inside in places:
        place = folder / inside
        with suppress(OSError):
            if leads_out(folder, place):
                continue
            found += [
                (-path.stat().st_mtime_ns, f"{inside}/{path.name}", path)
                for path in place.glob("*.toml")
                if not path.is_symlink() and not path.name.startswith(".") and is_library_file(path, kind)
            ]
    return [path for _, _, path in sorted(found)]


def passed_on_builds(
    folder: Path, alike: Callable[[Build, Build], bool]
) -> tuple[tuple[PassedOnBuild, ...], tuple[str, ...]]:
    """The generators in the files of a folder, and for each file that teaches nothing its reason. Never raises.

    ``alike`` : whether two builds are one generator; files of such builds of one builder are taken together
    """
    found: list[PassedOnBuild] = []
    notes: list[str] = []
    paths = library_files(folder, "generator")
    if len(paths) > MOST:
        notes.append(f"only the newest {MOST} of {counted(len(paths), 'file')} of generators are used")
    for path in paths[:MOST]:
        named = f"{path.parent.name}/{path.name}"
        try:
            held = read_generator(path)
        except InputError as error:
            notes.append(f"{named} is not used: {error.what}")
            continue
        build = held.build
        if build is None or not held.wet:
            reason = "its build sheet has a wrong entry" if build is None else "it has no wet points"
            notes.append(f"{named} is not used: {reason}")
            continue
        found.append(PassedOnBuild(build, who_built(held.builder), held.dry, held.wet))
    return tuple(_once_each(found, alike)), tuple(notes)


def _once_each(files: Iterable[PassedOnBuild], alike: Callable[[Build, Build], bool]) -> list[PassedOnBuild]:
    """The generators of the files, those with a named builder first: a copy without the name is of that builder."""
    found: list[PassedOnBuild] = []
    for one in sorted(files, key=lambda file: file.builder == UNNAMED):
        known = next(
            (k for k, other in enumerate(found) if alike(other.build, one.build) and _is_one(other, one)), None
        )
        if known is None:
            found.append(one)
        else:
            other = found[known]
            found[known] = replace(other, dry=_together(other.dry, one.dry), wet=_together(other.wet, one.wet))
    return found


def _is_one(one: PassedOnBuild, other: PassedOnBuild) -> bool:
    """Whether two alike builds are the same generator: of one builder, or with a wet point in common where a file does
    not name its builder.
    """
    if one.builder == other.builder:
        return True
    return UNNAMED in (one.builder, other.builder) and not _read(one.wet).isdisjoint(_read(other.wet))


def who_built(name: str) -> str:
    """A builder's name for comparisons; OWN for the one in the preferences, UNNAMED without one."""
    plain = _plain(name)
    if not plain:
        return UNNAMED
    return OWN if plain == _plain(builder_name()) else plain


def file_of(builder: str) -> str:
    """What a file of this builder is called in a list: "file of B. Miller"; "file" for an own one or without a name."""
    return f"file of {builder}" if who_built(builder) not in (OWN, UNNAMED) else "file"


def _plain(name: str) -> str:
    return " ".join(name.casefold().split())


def _together(known: Sequence[SteadyPoint], more: Iterable[SteadyPoint]) -> tuple[SteadyPoint, ...]:
    """All points, without copies of known ones."""
    there = _read(known)
    return (*known, *(one for one in more if (one.pressure, one.flow) not in there))


def _read(points: Iterable[SteadyPoint]) -> set[tuple[float, float]]:
    return {(one.pressure, one.flow) for one in points}
