"""Foam samples of a build over all its trials, independent of sheet name and session.

A build's samples are those of the trials with the same foam-making parts.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace

from frothline.foam.agent import AgentBook
from frothline.foam.prior import FoamPrior
from frothline.foam.sample import FoamSample
from frothline.generator.build import Build
from frothline.generator.build_comparison import makes_same_foam
from frothline.generator.foam_prior import FoamKnowledge
from frothline.run.foam_balance import FoamBalance
from frothline.run.foam_figures import figures_of
from frothline.run.state import FOAMING
from frothline.trials.trial import Trial


def samples_of(build: Build, trials: Iterable[Trial]) -> tuple[FoamSample, ...]:
    """Samples of all trials of this build, in their order."""
    return tuple(
        sample
        for trial in trials
        if trial.build is not None and makes_same_foam(trial.build, build)
        for sample in trial.samples
    )


def with_tension(knowledge: FoamKnowledge, build: Build, agents: AgentBook | None) -> FoamKnowledge:
    """The knowledge with the surface tension that was measured of the build's agent, if it is in ``agents``."""
    tension = None if agents is None else agents.tension_of(build.solution.agent)
    return knowledge if tension is None else replace(knowledge, surface_tension=tension)


def foam_of_build(build: Build, samples: Sequence[FoamSample], prior: FoamPrior | None = None) -> FoamKnowledge:
    """Foam knowledge from a build's samples; without samples that of the prior, marked as assumed.

    ``prior`` : what other builds say (``foam_prior_of``); None for the usual values
    """
    if not samples:
        return FoamKnowledge.usual(build, prior)
    ledger = FoamBalance(build, before=prior)
    for sample in samples:
        ledger.add_sample(sample, None)
    told = figures_of(ledger, FOAMING)
    capture, expansion = told.capture, told.expansion
    if capture is None or expansion is None or not (capture.known and expansion.known):
        return FoamKnowledge.usual(build, prior)
    return FoamKnowledge(capture.value, capture.standard_uncertainty, expansion.value, expansion.standard_uncertainty)
