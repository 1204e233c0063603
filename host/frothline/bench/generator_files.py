"""The measured generator of the page as one file that can be passed on, in the folder ``generators``.

A file there is offered as a measured line of the generator, like a recorded sweep through it.
"""

from __future__ import annotations

from pathlib import Path

from frothline.bench.source_files import write_passed_on
from frothline.bench.workspace_state import WorkspaceState
from frothline.errors import InputError
from frothline.sweep.generator_file import GENERATORS, generator_of, generator_text


def save_generator_file(folder: Path, name: str, desk: WorkspaceState) -> Path:
    """Save build sheet, points and fitted factors of the measured generator as one file; returns its path.

    The build is the one that was measured, without changes that are not saved. An existing file is never replaced.
    Raises InputError without a name, without a measured line, and while a calculation is under way.
    """
    given = None if desk.answer is None else desk.answer.given
    if desk.working:
        raise InputError("the calculation is not finished", where="generator", remedy="Try again in a moment")
    if given is None or not (given.dry or given.wet):
        raise InputError(
            "this generator has no measured line",
            where="generator",
            remedy="Sweep it, or choose a recorded sweep through it",
        )
    titles = {item.path: item.words for item in desk.recorded}
    origin = [titles.get(desk.chosen[kind], "swept on the page") for kind in ("dry", "wet") if desk.chosen[kind]]
    held = generator_of(given.swept or given.built, given.dry, given.wet, name=name.strip(), origin=origin)
    return write_passed_on(folder / GENERATORS, name or held.name, ".toml", generator_text(held), "generator")
