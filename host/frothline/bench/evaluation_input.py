"""Input of an evaluation, read from recordings of sources and generators and the foam samples of a folder."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

from frothline.generator.build import Build
from frothline.generator.evaluation import EvaluationInput
from frothline.readings.applied_calibration import AUTO
from frothline.sweep.recorded_generator import Role, check_role, read_generator_sweep, role_notes
from frothline.sweep.source_curve import SourceCurve, fit_source
from frothline.trials.foam_history import foam_of_build, samples_of, with_tension
from frothline.trials.notebook import Notebook
from frothline.trials.own_generators import TrialExperience, foam_prior_of


def read_input(
    built: Build,
    wanted: Build | None = None,
    *,
    source: Sequence[Path],
    new_source: Sequence[Path] = (),
    dry: Sequence[Path] = (),
    wet: Sequence[Path] = (),
    folder: Path | None = None,
    calibration: Any = AUTO,
    spool: Any = None,
    holes: Sequence[float] = (),
    new_holes: Sequence[float] = (),
    now: Sequence[Path] = (),
) -> EvaluationInput:
    """Read everything that an evaluation needs from recordings.

    built, wanted : the generator as it is, and as it is planned
    source : sweeps of its air source
    new_source : sweeps of the replacement air source
    dry, wet : sweeps through the generator
    folder : folder of its foam samples; default: the folder of the first sweep
    calibration, spool : as in ``load_sweeps``
    now : later recordings of ``source`` with a loaded filter
    holes, new_holes : m, of the drilled plates of ``source`` and ``new_source``, as in ``load_sweeps``

    Air conditions come from the recordings of the newest source. Raises RecordingError, SensorError, FitError,
    InputError.
    """
    how = {"calibration": calibration, "spool": spool}
    return input_of(
        built,
        wanted,
        source=_read_source(source, how, holes, now),
        new_source=_read_source(new_source, how, new_holes) if new_source else None,
        dry=dry,
        wet=wet,
        folder=folder,
        **how,
    )


def input_of(
    built: Build,
    wanted: Build | None = None,
    *,
    source: SourceCurve,
    new_source: SourceCurve | None = None,
    dry: Sequence[Path] = (),
    wet: Sequence[Path] = (),
    folder: Path | None = None,
    calibration: Any = AUTO,
    spool: Any = None,
) -> EvaluationInput:
    """Build the same input from curves read earlier."""
    curves = (source,) if new_source is None else (source, new_source)
    swept = [path for one in curves for path in one.recordings]
    given: tuple[tuple[Role, Sequence[Path]], ...] = (("source", swept), ("dry", dry), ("wet", wet))
    for role, paths in given:
        check_role(paths, role)
    how = {"calibration": calibration, "spool": spool}
    notes = [note for role, paths in given for note in role_notes(paths, role, None if role == "source" else built)]
    notes += [one.loaded.words for one in curves if one.loaded is not None]
    points = {role: read_generator_sweep(paths, role, **how) for role, paths in given[1:] if paths}
    notebook = Notebook(folder or source.recordings[0].parent, **how)
    trials = notebook.trials
    knowledge = foam_of_build(built, samples_of(built, trials), foam_prior_of(built, trials))
    replaced = None if new_source is None else new_source.sweeps
    return EvaluationInput(
        built,
        wanted,
        source.fit,
        None if new_source is None else new_source.fit,
        source.sweeps.air if replaced is None or not replaced.air.measured else replaced.air,
        with_tension(knowledge, built, notebook.agents),
        points.get("dry", ()),
        points.get("wet", ()),
        notes=tuple(notes),
        experience=TrialExperience(trials, notebook.swept_builds, notebook.folder, agents=notebook.agents),
    )


def _read_source(
    recordings: Sequence[Path], how: Mapping[str, Any], holes: Sequence[float], now: Sequence[Path] = ()
) -> SourceCurve:
    check_role(recordings, "source")
    return fit_source(recordings, holes=holes, now=now, **how)
