"""What a workshop's trials say of the foam for a batch: start-up, survival in the mixer, dilution, reservoir.

Page and prompt both take the foam of a batch from here.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from frothline.foam.dosing import mean_start_up
from frothline.foam.survival import learn_survival
from frothline.generator.build import Build
from frothline.generator.build_comparison import makes_same_foam

if TYPE_CHECKING:
    from frothline.trials.trial import Trial


def foam_habits(build: Build | None, trials: Sequence[Trial]) -> dict[str, Any]:
    """Entries of ``batch.Foam`` that follow from the build and from earlier trials: its start-up by the trials of the
    same generator, survival by every cup of the same foaming agent, reservoir and dilution by the sheet.
    """
    if build is None:
        return {"survival": learn_survival([cup for trial in trials for cup in trial.cups])}
    starts = [
        trial.start_up
        for trial in trials
        if trial.start_up is not None and trial.build is not None and makes_same_foam(trial.build, build)
    ]
    agent = build.solution.agent
    cups = [
        cup for trial in trials for cup in trial.cups if trial.build is not None and trial.build.solution.agent == agent
    ]
    return {
        "start_up": mean_start_up(starts),
        "survival": learn_survival(cups),
        "reservoir": build.reservoir.volume,
        "agent_parts": build.solution.dilution.parts,
        "convention": build.solution.dilution.convention,
    }
