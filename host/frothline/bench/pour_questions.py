"""What a pour contradicts after something was written into its file, said with what was done."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from frothline.pours.outcome import judge_pour
from frothline.pours.record import read_pour


def questions_of(path: Path) -> tuple[str, ...]:
    """The questions that a pour's file has to answer. Raises InputError if it cannot be read."""
    return judge_pour(read_pour(path)).questions


def and_asked(said: str, path: Path, before: Sequence[str] = ()) -> str:
    """What was done, with the questions that the file has now and had not ``before``."""
    asked = [one for one in questions_of(path) if one not in before]
    return f"{said}. But {'; '.join(asked)}" if asked else said
