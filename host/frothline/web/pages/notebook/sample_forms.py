"""Block of the notebook page with the samples of the compared trials, each of which can be corrected."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from math import inf

from frothline.bench.library import OWN, FolderView
from frothline.bench.recorded_samples import recorded_samples
from frothline.bench.sample_timer import Timing
from frothline.label_case import Name
from frothline.rounding import counted
from frothline.web.elements import Node, node
from frothline.web.pages.notebook import labels
from frothline.web.pages.notebook.trials import chosen_of
from frothline.web.pages.run import correction

Wishes = Mapping[str, tuple[str, ...]]


def typed_in(wish: Wishes) -> tuple[tuple[str, tuple[str, ...]], ...]:
    """The open form and what was typed in it."""
    return tuple((key, values) for key, values in wish.items() if key.startswith(("correct-", correction.CORRECTING)))


def sample_block(seen: FolderView, wished: Sequence[str], wish: Wishes, system: str) -> list[Node | None]:
    """The samples of the compared trials of the own recordings, with the form of the chosen one."""
    entries = {entry.path: entry for entry in seen.entries}
    inside: list[Node | None] = []
    number = 0
    for trial in chosen_of(seen, wished) if seen.place == OWN else ():
        entry = entries.get(str(trial.path))
        taken = () if entry is None else recorded_samples(entry)
        if entry is None or not taken:
            continue
        number += len(taken)
        end = inf if entry.seconds is None else entry.seconds
        made = correction.correction_block(
            taken, wish, Timing(), end, {}, system, family="notebook", recording=entry.path
        )
        inside += [node("h3", Name(trial.title)), *made[1:]]
    if not inside:
        return [None]
    return [
        node("details", node("summary", labels.correct(counted(number, "sample"))), *inside, id="samples-of-trials")
    ]
