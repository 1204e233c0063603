"""Copies of recordings: the same file under a second name is the same trial, and no repeat."""

from __future__ import annotations

from collections.abc import Sequence

from frothline.trials.trial import Trial


def without_copies(trials: Sequence[Trial]) -> tuple[list[Trial], tuple[str, ...]]:
    """The trials, each recording once, and a sentence for each copy that is left out. The first one counts."""
    first: dict[str, Trial] = {}
    words = []
    for one in trials:
        key = one.sha256 or str(one.path)
        if key in first:
            known = first[key].name
            what = f"is a copy of the recording “{known}”" if one.name != known else "is given twice"
            words.append(f"“{one.name}” {what} and counts once")
        else:
            first[key] = one
    return list(first.values()), tuple(words)
