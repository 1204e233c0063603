"""Foam samples of a build over all its trials, independent of sheet name and session.

A build's samples are those of the trials with the same foam-making parts. ``foam_in_folder`` reads them from a folder
of recordings, for command line and Python; the page already has the folder's trials.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import Any

from frothline.foam.sample import FoamSample
from frothline.generator.build import Build
from frothline.generator.build_comparison import makes_same_foam
from frothline.generator.foam_prior import FoamKnowledge
from frothline.readings.applied_calibration import AUTO
from frothline.run.foam_balance import FoamBalance
from frothline.run.foam_figures import figures_of
from frothline.run.state import FOAMING
from frothline.trials.notebook import Notebook
from frothline.trials.trial import Trial


def samples_of(build: Build, trials: Iterable[Trial]) -> tuple[FoamSample, ...]:
    """Samples of all trials of this build, in their order."""
    return tuple(
        sample
        for trial in trials
        if trial.build is not None and makes_same_foam(trial.build, build)
        for sample in trial.samples
    )


def foam_of_build(build: Build, samples: Sequence[FoamSample]) -> FoamKnowledge:
    """Foam knowledge from a build's samples; without samples the usual values, marked as assumed."""
    if not samples:
        return FoamKnowledge.usual(build)
    ledger = FoamBalance(build)
    for sample in samples:
        ledger.add_sample(sample, None)
    told = figures_of(ledger, FOAMING)
    capture, expansion = told.capture, told.expansion
    if capture is None or expansion is None or not (capture.known and expansion.known):
        return FoamKnowledge.usual(build)
    return FoamKnowledge(capture.value, capture.standard_uncertainty, expansion.value, expansion.standard_uncertainty)


def foam_in_folder(folder: Path, build: Build, *, calibration: Any = AUTO, spool: Any = None) -> FoamKnowledge:
    """Foam knowledge of a build from the samples in a folder of recordings. Raises InputError for a missing folder."""
    return foam_of_build(build, samples_of(build, Notebook(folder, calibration, spool).trials))
