"""The pours of a folder, and the concrete of each trial: the figures by which a change is judged in the end."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from frothline.errors import InputError, TooFewPoints
from frothline.estimate import Estimate
from frothline.pours.outcome import PourOutcome, judge_pour
from frothline.pours.record import FOLDER, PourRecord, read_pour
from frothline.pours.strength import StrengthLaw, fit_strength
from frothline.trials.figures import CONCRETE
from frothline.trials.jars import Jar, read_jars, with_jars
from frothline.trials.known_names import known_names
from frothline.trials.trial import Trial

NO_POUR = "no pour with this foam is recorded"


@dataclass(frozen=True)
class Pour:
    """A recorded pour with what became of it. ``trial`` is None if its trial is not in the folder.

    ``strength_7`` and ``strength_28`` : Pa at the common density, None before there are enough own specimens
    """

    record: PourRecord
    outcome: PourOutcome
    trial: Trial | None
    strength_7: Estimate | None = None
    strength_28: Estimate | None = None
    why_no_strength: str = ""

    @property
    def name(self) -> str:
        return self.record.name

    @property
    def problems(self) -> tuple[str, ...]:
        """Wrong entries, and questions that the file has to answer."""
        said = [*self.record.problems, *(f"{self.name}: {one}" for one in self.outcome.questions)]
        if self.trial is None:
            wanted = self.record.trial
            what = f"no trial is called “{wanted}”" if wanted else "the trial that made the foam is not written"
            said.append(f"{self.name}: {what}; write trial = “…” with the name of its recording")
        return tuple(said)

    def figure(self, name: str) -> Estimate | None:
        """A figure of ``figures.CONCRETE`` by its name."""
        if name.startswith("strength"):
            return self.strength_7 if name == "strength_7" else self.strength_28
        found: Estimate | None = getattr(self.outcome, name)
        return found

    def why(self, name: str) -> str:
        """Reason of an unknown figure."""
        return self.why_no_strength if name.startswith("strength") else self.outcome.why.get(name, "not known")


@dataclass(frozen=True)
class PourBook:
    """All pours and jars of a folder, the oldest first, and the law of strength of their specimens (None: too few)."""

    pours: tuple[Pour, ...]
    law: StrengthLaw | None
    problems: tuple[str, ...] = ()
    jars: tuple[Jar, ...] = ()

    def of(self, trial: Trial) -> tuple[Pour, ...]:
        return tuple(one for one in self.pours if one.trial is not None and one.trial.path == trial.path)

    def named(self, name: str) -> Pour:
        """By name or title. Raises InputError if there is none, or more than one."""
        found = [one for one in self.pours if one.name == name] or [
            one for one in self.pours if one.record.title == name
        ]
        if len(found) == 1:
            return found[0]
        what = f"{len(found)} pours have that title" if found else "no pour has this name"
        remedy = known_names(name, {one.name: one.record.title for one in found or self.pours})
        raise InputError(what, where=name, remedy=remedy or "Write one with frothline pours --new")


def read_pours(folder: Path, trials: Sequence[Trial] = ()) -> PourBook:
    """Read the pours of a folder of recordings. An unreadable file is a problem, never an error."""
    records: list[PourRecord] = []
    problems: list[str] = []
    place = folder / FOLDER
    for path in sorted(place.glob("*.toml")) if place.is_dir() else ():
        try:
            records.append(read_pour(path))
        except InputError as error:
            problems.append(str(error))
    records.sort(key=lambda one: (one.poured is None, str(one.poured or ""), one.name))
    law, why = None, ""
    try:
        law = fit_strength(records)
    except TooFewPoints as error:
        why = error.what
    jars, jar_problems = read_jars(folder, trials)
    pours = tuple(_pour(one, trials, law, why) for one in records)
    return PourBook(pours, law, (*problems, *jar_problems), jars)


def _pour(record: PourRecord, trials: Sequence[Trial], law: StrengthLaw | None, why: str) -> Pour:
    found = [one for one in trials if record.trial and record.trial == one.name]
    found = found or [one for one in trials if record.trial and record.trial == one.title]
    trial = found[0] if len(found) == 1 else None
    outcome = judge_pour(record, None if trial is None else trial.density)
    strength_7, strength_28 = (None if law is None else law.referred(record.name, days) for days in (7.0, 28.0))
    if law is not None and strength_7 is None:
        why = "no specimen of this pour has load, age, mass, and the shape of most others"
    return Pour(record, outcome, trial, strength_7, strength_28, why)


def with_concrete(trials: Sequence[Trial], book: PourBook) -> tuple[Trial, ...]:
    """The trials with the figures of their concrete and of their jars."""
    return with_jars([_with_concrete(one, book.of(one)) for one in trials], book.jars)


def _with_concrete(trial: Trial, pours: Sequence[Pour]) -> Trial:
    if not pours:
        return replace(trial, why={**trial.why, **dict.fromkeys(CONCRETE, NO_POUR)})
    why = dict(trial.why)
    figures: dict[str, Estimate | None] = {}
    for name in CONCRETE:
        known = [found for one in pours if (found := one.figure(name)) is not None and found.known]
        figures[name] = _mean(known) if known else None
        if not known:
            why[name] = pours[0].why(name)
    problems = (*trial.problems, *(said for one in pours for said in one.problems))
    return replace(trial, **figures, why=why, pours=tuple(one.name for one in pours), problems=problems)  # type: ignore[arg-type]


def _mean(found: Sequence[Estimate]) -> Estimate:
    """Mean of several pours with one foam: their scatter, and the mean of their own uncertainties, which they share."""
    if len(found) == 1:
        return found[0]
    mean = sum(one.value for one in found) / len(found)
    scatter = math.sqrt(sum((one.value - mean) ** 2 for one in found) / (len(found) - 1) / len(found))
    own = sum(one.standard_uncertainty for one in found) / len(found)
    said = tuple(dict.fromkeys([f"mean of {len(found)} pours", *(words for one in found for words in one.assumptions)]))
    return Estimate.normal(mean, math.hypot(scatter, own), found[0].unit, assumptions=said)
