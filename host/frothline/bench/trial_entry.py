"""The trial of a pour or a jar, as it is typed: a name or title of the notebook, else it is asked back."""

from __future__ import annotations

from collections.abc import Mapping

from frothline.trials.notebook import Notebook

TRIAL = "trial"


def with_trial(texts: Mapping[str, str], notebook: Notebook) -> dict[str, str]:
    """The texts of a form with the name of their trial; an empty one stays empty, one that is not given is not added.

    Raises InputError with the names that are near, if the notebook has no such trial.
    """
    typed = texts.get(TRIAL, "").strip()
    return {**texts, TRIAL: notebook.trial(typed).name} if typed else dict(texts)
