"""Measured generators of other builders: files in the folder ``generators``, as builds that teach about the next one.

A file names its builder where its writer has a name in the preferences. Files without one are taken as of one builder:
that they are of several cannot be known, and would make the prediction too certain.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from frothline.curve.steady_points import SteadyPoint
from frothline.errors import InputError
from frothline.generator.build import Build
from frothline.generator.experience import OWN
from frothline.preferences import builder_name
from frothline.rounding import counted
from frothline.sweep.generator_file import GENERATORS, is_generator_file, read_generator
from frothline.trials.inside_folder import leads_out

MOST = 60  # files that are read, the newest first: the time of a prediction stays below some seconds
UNNAMED = "?"  # builder of the files that name none


@dataclass(frozen=True)
class PassedOnBuild:
    """A generator of one or several files of one builder, OWN for the workshop itself."""

    build: Build
    builder: str
    dry: tuple[SteadyPoint, ...]
    wet: tuple[SteadyPoint, ...]


def generator_files(folder: Path, inside: str = GENERATORS) -> list[Path]:
    """The files of measured generators in a folder of recordings, the newest first; no links. Never raises.

    ``inside`` : its folder that is searched
    """
    try:
        place = folder / inside
        if leads_out(folder, place):
            return []
        found = [
            (-path.stat().st_mtime_ns, path)
            for path in place.glob("*.toml")
            if not path.is_symlink() and not path.name.startswith(".") and is_generator_file(path)
        ]
    except OSError:
        return []
    return [path for _, path in sorted(found)]


def passed_on_builds(
    folder: Path, alike: Callable[[Build, Build], bool]
) -> tuple[tuple[PassedOnBuild, ...], tuple[str, ...]]:
    """The generators in the files of a folder, and for each file that teaches nothing its reason. Never raises.

    ``alike`` : whether two builds are one generator; files of such builds of one builder are taken together
    """
    found: list[PassedOnBuild] = []
    notes: list[str] = []
    paths = generator_files(folder)
    if len(paths) > MOST:
        notes.append(f"only the newest {MOST} of {counted(len(paths), 'file')} of generators are used")
    for path in paths[:MOST]:
        try:
            held = read_generator(path)
        except InputError as error:
            notes.append(f"{path.name} is not used: {error.what}")
            continue
        build = held.build
        if build is None or not held.wet:
            reason = "its build sheet has a wrong entry" if build is None else "it has no wet points"
            notes.append(f"{path.name} is not used: {reason}")
            continue
        one = PassedOnBuild(build, _builder(held.builder), held.dry, held.wet)
        known = next((k for k, o in enumerate(found) if o.builder == one.builder and alike(o.build, build)), None)
        if known is None:
            found.append(one)
        else:
            other = found[known]
            found[known] = replace(other, dry=_once(other.dry, one.dry), wet=_once(other.wet, one.wet))
    return tuple(found), tuple(notes)


def _builder(name: str) -> str:
    """A name for comparisons; OWN for the one in the preferences."""
    plain = _plain(name)
    if not plain:
        return UNNAMED
    return OWN if plain == _plain(builder_name()) else plain


def _plain(name: str) -> str:
    return " ".join(name.casefold().split())


def _once(known: Sequence[SteadyPoint], more: Iterable[SteadyPoint]) -> tuple[SteadyPoint, ...]:
    """All points, without copies of known ones."""
    there = {(one.pressure, one.flow) for one in known}
    return (*known, *(one for one in more if (one.pressure, one.flow) not in there))
