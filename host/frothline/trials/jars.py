"""Jars of slurry and foam in a folder, tied to the trials whose foam they had."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from frothline.errors import InputError
from frothline.estimate import Estimate
from frothline.pours.jar import FOLDER, JarOutcome, JarRecord, jar_rows, judge_jar, read_jar
from frothline.presentable import Observations, Presentable, PresentedFigure, estimate_cells, estimate_units
from frothline.trials.inside_folder import leads_out
from frothline.trials.trial import Trial
from frothline.units import METRIC


@dataclass(frozen=True, repr=False)
class Jar(Presentable):
    """A jar with what became of its foam. ``trial`` is None if its trial is not in the folder."""

    record: JarRecord
    outcome: JarOutcome
    trial: Trial | None = None

    @property
    def name(self) -> str:
        return self.record.name

    @property
    def problems(self) -> tuple[str, ...]:
        """Wrong entries, and questions that the file has to answer."""
        said = [*self.record.problems, *(f"{self.name}: {one}" for one in self.outcome.questions)]
        if self.record.trial and self.trial is None:
            said.append(f"{self.name}: no trial is called “{self.record.trial}”")
        return tuple(said)

    def as_dict(self) -> dict[str, Any]:
        """For ``--json``: plain values, SI."""
        estimates = {
            name: None if (one := getattr(self.outcome, name)) is None else one.as_dict()
            for name in ("survival", "later", "settlement", "density")
        }
        more = {"name": self.name, "title": self.record.title, "trial": self.record.trial}
        return more | estimates | {"why": dict(self.outcome.why), "problems": list(self.problems)}

    def _title(self) -> str:
        found = self.outcome.survival
        share = "air surviving not known" if found is None else f"{100 * found.value:.0f} % of the air survives"
        return f"{self.record.title}: {share}"

    def _figures(self) -> Sequence[PresentedFigure]:
        return [PresentedFigure(label, one, METRIC[kind], why) for label, one, kind, why in jar_rows(self.outcome)]

    def _words(self) -> Sequence[str]:
        return self.problems

    def _names(self) -> Sequence[str]:
        return tuple(text for text in (self.record.title, self.name, self.record.trial) if text)

    def _observations(self) -> Observations:
        o = self.outcome
        cells = estimate_cells(survival=o.survival, later=o.later, settlement=o.settlement, density=o.density)
        units = {"jar": "", **estimate_units(survival="1", later="1", settlement="1", density="kg/m3")}
        return Observations(({"jar": self.name, **cells},), units, dict(o.why))


def jar_of(path: str | Path, trials: Sequence[Trial] = ()) -> Jar:
    """A jar from its file, with the foam of its trial. Raises InputError if the file cannot be read."""
    record = read_jar(Path(path))
    found = [one for one in trials if record.trial and record.trial in (one.name, one.title)]
    trial = found[0] if len(found) == 1 else None
    return Jar(record, judge_jar(record, None if trial is None else trial.density), trial)


def read_jars(folder: Path, trials: Sequence[Trial] = ()) -> tuple[tuple[Jar, ...], tuple[str, ...]]:
    """The jars of a folder of recordings, and the problems of those that cannot be read."""
    jars: list[Jar] = []
    problems: list[str] = []
    place = folder / FOLDER
    for path in sorted(place.glob("*.toml")) if place.is_dir() else ():
        if leads_out(folder, path):
            problems.append(f"{path}: the jar is not in the folder. Copy the file there")
            continue
        try:
            jars.append(jar_of(path, trials))
        except InputError as error:
            problems.append(str(error))
    return tuple(jars), tuple(problems)


def with_jars(trials: Sequence[Trial], jars: Sequence[Jar]) -> tuple[Trial, ...]:
    """The trials with the survival of their jars, for batches before the first cup."""
    return tuple(replace(one, jars=_shares(one, jars)) for one in trials)


def _shares(trial: Trial, jars: Sequence[Jar]) -> tuple[Estimate, ...]:
    mine = (one.outcome.survival for one in jars if one.trial is not None and one.trial.path == trial.path)
    return tuple(one for one in mine if one is not None)
