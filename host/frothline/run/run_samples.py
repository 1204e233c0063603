"""Samples of a run and what they show of its foam; a correction replaces what the sample showed before."""

from __future__ import annotations

from dataclasses import replace
from math import isfinite
from typing import TYPE_CHECKING

from frothline.errors import InputError, SampleQuestioned
from frothline.estimate import Estimate
from frothline.foam.properties import Observation, observations_of
from frothline.foam.sample import FoamSample, Weighing, evaluate
from frothline.foam.sample_check import ANSWER, question_of
from frothline.run.state import SampleTaken

if TYPE_CHECKING:
    from collections.abc import Callable

    from frothline.run.foam_balance import FoamBalance

    AirOver = Callable[[float, float, float], float | None]


class RunSamples:
    """The samples of one run, with those withdrawn.

    ledger : balance of the run; its observations are those of earlier samples when this begins
    air_over : mean free air flow, m3/s, between two times; None if less than the given share of it is known
    """

    def __init__(self, ledger: FoamBalance, air_over: AirOver) -> None:
        self._ledger = ledger
        self._air_over = air_over
        self._earlier, self._earlier_count = list(ledger.observations), ledger.samples
        self._taken: list[SampleTaken] = []
        self._seen: list[list[Observation]] = []

    @property
    def counted(self) -> tuple[SampleTaken, ...]:
        """Samples that count, in the order in which they were weighed."""
        return tuple(one for one in self._taken if one.counts)

    @property
    def newest(self) -> list[Observation]:
        """Observations of the newest sample that counts."""
        return next((seen for one, seen in zip(self._taken[::-1], self._seen[::-1], strict=True) if one.counts), [])

    def add(self, weighing: Weighing, when: float) -> FoamSample:
        """Add a sample, full at ``when``, s; raises as ``Run.add_sample``."""
        indicated = self._air_over(when - (weighing.fill_time or 0.0), when, 0.5)
        made, seen = self._evaluated(weighing, when, self._estimate(indicated), indicated, self._ledger.seen)
        self._taken.append(replace(made, number=len(self._taken) + 1))
        self._seen.append(seen)
        self._tell()
        return made.sample

    def correct(self, number: int, weighing: Weighing, when: float, *, counts: bool = True) -> FoamSample:
        """Replace the readings of a sample; raises as ``Run.correct_sample``."""
        if not 1 <= number <= len(self._taken):
            raise InputError(f"this run has no sample {number}", where="sample", remedy="Reload the page")
        old = self._taken[number - 1]
        when = when if isfinite(when) else old.time
        indicated = self._air_over(when - (weighing.fill_time or 0.0), when, 0.5)
        air = self._estimate(indicated)
        if indicated is None and weighing.fill_time is not None and old.air is not None:
            # the readings of that time are no longer stored: the air of the sample as it was
            indicated, air = old.air.value, old.air
        others = [one for place, seen in enumerate(self._seen) if place != number - 1 for one in seen]
        of_solution = self._ledger.seen[len(self._ledger.observations) :]
        made, seen = self._evaluated(
            weighing, when, air, indicated, [*self._earlier, *others, *of_solution], asked=counts
        )
        self._taken[number - 1] = replace(made, number=number, counts=counts)
        self._seen[number - 1] = seen if counts else []
        self._tell()
        return made.sample

    def _estimate(self, indicated: float | None) -> Estimate | None:
        return None if indicated is None else Estimate.normal(indicated, self._ledger.u_air * indicated, "m3/s")

    def _evaluated(
        self,
        weighing: Weighing,
        when: float,
        air: Estimate | None,
        indicated: float | None,
        others: list[Observation],
        *,
        asked: bool = True,
    ) -> tuple[SampleTaken, list[Observation]]:
        sample = evaluate(weighing, air)
        # A fill time longer than the known air flow is questioned too.
        known = self._air_over(when - (weighing.fill_time or 0.0), when, 0.0)
        known = indicated if known is None else known
        question = question_of(weighing, sample, others, known, self._ledger.u_air, self._ledger.prior)
        if question and asked and not weighing.confirmed:
            raise SampleQuestioned(question, where="sample", remedy=ANSWER)
        return SampleTaken(when, weighing, sample, air=air), observations_of(sample, indicated)

    def _tell(self) -> None:
        ledger = self._ledger
        ledger.observations = [*self._earlier, *(one for seen in self._seen for one in seen)]
        ledger.samples = self._earlier_count + len(self.counted)
