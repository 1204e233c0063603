"""Foam figures for a batch from a workshop's trials: start-up, survival in the mixer, dilution, reservoir.

Page and command line both use this module.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from frothline.errors import InputError
from frothline.estimate import Estimate
from frothline.foam.batch_order import MeasuredFoam
from frothline.foam.dilution import Dilution
from frothline.foam.dosing import mean_start_up
from frothline.foam.life import FoamLife, life_by_drainage
from frothline.foam.survival import learn_survival, scatter_between_batches
from frothline.foam.typed_figures import U_TYPED_DENSITY, U_TYPED_OUTPUT
from frothline.generator.build import Build
from frothline.generator.build_comparison import makes_same_foam
from frothline.generator.learned_factors import same_agent

if TYPE_CHECKING:
    from frothline.trials.trial import Trial


def _cups_of(trial: Trial) -> Sequence[Estimate]:
    """Shares of the foam's air that survived with a trial's foam: its saved cups, else what its pours say,
    else its jars.
    """
    return trial.cups or (trial.jars if trial.survival is None else (trial.survival,))


def foam_habits(build: Build | None, trials: Sequence[Trial]) -> dict[str, Any]:
    """Entries of ``MeasuredFoam`` from the build and earlier trials: start-up and life from trials of the same
    generator, survival from every cup and pour of the same foaming agent, reservoir and dilution from the sheet.
    """
    if build is None:
        return _survival([cup for trial in trials for cup in _cups_of(trial)])
    life = _life(build, trials)
    starts = [
        trial.start_up
        for trial in trials
        if trial.start_up is not None and trial.build is not None and makes_same_foam(trial.build, build)
    ]
    agent = build.solution.agent
    cups = [
        cup
        for trial in trials
        for cup in _cups_of(trial)
        if trial.build is not None and same_agent(trial.build.solution.agent, agent)
    ]
    return {
        "start_up": mean_start_up(starts),
        **_survival(cups),
        "reservoir": build.reservoir.volume,
        "agent_parts": build.solution.dilution.parts,
        "convention": build.solution.dilution.convention,
        **({} if life is None else {"life": life}),
    }


def _survival(cups: Sequence[Estimate]) -> dict[str, Any]:
    return {"survival": learn_survival(cups), "scatter": scatter_between_batches(cups)}


def _life(build: Build, trials: Sequence[Trial]) -> FoamLife | None:
    """By the drainage of the newest trial with the same foam, else of the newest with the same agent and dilution.

    Simulated trials say something only where there are no others.
    """
    read = [one for one in trials if one.drainage is not None and one.drainage.known]
    read = [one for one in read if not one.simulated] or read
    for same, words in ((makes_same_foam, "same build"), (_has_same_solution, "another build, same agent")):
        for trial in reversed(read):
            if trial.build is not None and same(trial.build, build):
                found = life_of_trial(trial, words)
                if found is not None:
                    return found
    return None


def life_of_trial(trial: Trial, words: str = "") -> FoamLife | None:
    """How long the foam of a trial may wait, by its drainage; None if it was not read."""
    simulated = "simulated" if trial.simulated else ""
    said = ", ".join(filter(None, (words, simulated)))
    of = f"trial “{trial.title}”{f' ({said})' if said else ''}"
    return life_by_drainage(trial.drainage, of, trial.drainage_depth)


def _has_same_solution(one: Build, other: Build) -> bool:
    mine, theirs = one.solution, other.solution
    return same_agent(mine.agent, theirs.agent) and mine.dilution == theirs.dilution


def foam_for_batch(
    trial: Trial | None,
    trials: Sequence[Trial],
    *,
    density: Estimate | float | None = None,
    output: Estimate | float | None = None,
    dilution: Dilution | None = None,
    survival: Estimate | None = None,
    reservoir: float | None = None,
) -> MeasuredFoam:
    """The foam of a batch: of a trial, or as given; given figures take precedence.

    density : kg/m³;  output : m³/s;  reservoir : m³; a number without an interval counts as typed
    trials : of the workshop, for start-up and survival

    Raises InputError if the density is unknown.
    """
    more: dict[str, Any] = {} if trial is None else foam_habits(trial.build, trials)
    if dilution is not None:
        more |= {"agent_parts": dilution.parts, "convention": dilution.convention}
    more |= {} if survival is None else {"survival": survival}
    more |= {} if reservoir is None else {"reservoir": reservoir}
    own = None if trial is None else life_of_trial(trial)
    more |= {} if own is None else {"life": own}
    known = _typed(density, U_TYPED_DENSITY, "kg/m3") or (None if trial is None else trial.density)
    made = _typed(output, U_TYPED_OUTPUT, "m3/s") or (None if trial is None else trial.output)
    if known is None:
        why = "" if trial is None else f" ({trial.why.get('density', 'not weighed')})"
        raise InputError(
            f"the foam density is not known{why}", where="batch", remedy="Give its density, or a trial with one"
        )
    return MeasuredFoam(known, made, **more)


def _typed(value: Estimate | float | None, u: float, unit: str) -> Estimate | None:
    if value is None or isinstance(value, Estimate):
        return value
    return Estimate.normal(value, u * value, unit, assumptions=("as given",))
