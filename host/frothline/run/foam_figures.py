"""The figures of a run from its foam balance: foam rate and total, solution used and left, and reasons for unknown
ones.
"""

from __future__ import annotations

from dataclasses import replace
from math import exp, hypot, isfinite, pi, sqrt

import numpy as np

from frothline.estimate import Z95, Estimate
from frothline.foam.properties import FoamProperties
from frothline.physics.foam import GAS_DENSITY, SOLUTION_DENSITY, expansion_at_pressure, foam_density
from frothline.run.foam_balance import FILLED_TO, SPAN, FoamBalance
from frothline.run.state import AIR_ALONE, DRY, FOAMING, PRIMING, THINNING, UNKNOWN, RunFigures
from frothline.run.watch.alarm_words import PLENTY

NO_FOAM_YET = {
    PRIMING: "still priming",
    AIR_ALONE: "air only: no foam yet",
    DRY: "air only: no foam",
}
_DRAWS = np.random.default_rng(20).standard_normal((2048, 4))  # fixed, so that no figure flickers


def figures_of(balance: FoamBalance, phase: str) -> RunFigures:
    """All present figures of a run; ``phase`` as in ``run.state``."""
    return _Figures(balance, phase).all()


def rate_of_air(balance: FoamBalance, air: Estimate) -> Estimate:
    """Foam rate, m3/s, that ``air`` m3/s of free air would make in this run."""
    known = balance.knowledge
    r = known.ratio
    u = hypot(known.along((1.0, -1.0 / (1.0 + r))), air.standard_uncertainty / air.value)
    return Estimate.positive(known.caught * (1.0 + 1.0 / r) * air.value, u, "m3/s")


class _Figures:
    def __init__(self, balance: FoamBalance, phase: str) -> None:
        self._balance = balance
        self._phase = phase

    def all(self) -> RunFigures:
        """All present figures."""
        known = self._balance.knowledge
        caught = (self._balance.prior.words,) if known.guesses_caught else ()
        ratio = (self._balance.prior.ratio_words,) if known.guesses_ratio else ()
        why: dict[str, str] = {}
        r = known.ratio
        expansion = Estimate.positive(1.0 + r, r / (1.0 + r) * known.along((0.0, 1.0)), "1", assumptions=ratio)
        density = self._density(expansion, ratio)
        rate = self._rate(known, self._phase, caught, ratio, why)
        used = self._used(known, (*caught, *ratio), why)
        left = self._left(used, why)
        solution_rate = self._solution_rate(known, self._phase, (*caught, *ratio), why)
        return RunFigures(
            foam_rate=rate,
            foam_total=self._total(known, caught, why),
            foam_left=self._foam_left(known, left, ratio),
            density=density,
            density_in_line=self._in_line(expansion, ratio),
            expansion=expansion,
            capture=replace(known.capture, assumptions=caught),
            air_used=Estimate.normal(
                total := sum(self._balance.air.values()),
                self._balance.u_air * total,
                "m3",
                assumptions=("free air, ambient state",),
            ),
            solution_rate=solution_rate,
            solution_used=used,
            solution_left=left,
            time_left=self._time_left(left, solution_rate, self._phase, why),
            why=why,
            assumptions=(*caught, *ratio, *self._remarks(self._phase)),
        )

    def _rate(
        self, known: FoamProperties, phase: str, caught: tuple[str, ...], ratio: tuple[str, ...], why: dict[str, str]
    ) -> Estimate | None:
        if phase not in (FOAMING, THINNING, UNKNOWN):
            why["foam_rate"] = NO_FOAM_YET.get(phase, "no air yet")
            return None
        left = self._balance.left_by_fault
        if left.words:
            why["foam_rate"] = left.words
            return None
        r = known.ratio
        thinning = 0.3 if phase == THINNING else 0.0
        if isfinite(self._balance.flow) and self._balance.flow > 0.0:
            reaches = 0.5 * (left.air[0] + left.air[1])
            u_reaches = (left.air[1] - left.air[0]) / (2.0 * sqrt(3.0)) / reaches
            u = hypot(known.along((1.0, -1.0 / (1.0 + r))), thinning, u_reaches)
            made = known.caught * reaches * self._balance.flow * (1.0 + 1.0 / r)
            return Estimate.positive(made, u, "m3/s", assumptions=caught)
        if self._balance.scale.falls and self._balance.scale.rate > 0.0 and not self._balance.scale_silent:
            Ql = self._balance.scale.rate / SOLUTION_DENSITY
            u = hypot(hypot(r / (1.0 + r) * known.along((0.0, 1.0)), 0.03), thinning)
            said = (*ratio, "from the scale alone: the air flow is not known")
            return Estimate.positive(Ql * (1.0 + r), u, "m3/s", assumptions=said)
        why["foam_rate"] = "neither the air flow nor the solution used is known"
        return None

    def _total(self, known: FoamProperties, said: tuple[str, ...], why: dict[str, str]) -> Estimate | None:
        r = known.ratio
        weighted = sum(middle for middle, _ in self._balance.makes.values())
        if weighted <= 0.0:
            why["foam_total"] = "no air yet" if not self._balance.scale.falls else "the air flow is not known"
            return None
        # each range is a rectangle (JCGM 100, 4.3.7), independent of the others
        u_parts = hypot(*(half for _, half in self._balance.makes.values())) / sqrt(3.0) / weighted
        u = hypot(known.along((1.0, -1.0 / (1.0 + r))), u_parts)
        made = known.caught * weighted * (1.0 + 1.0 / r)
        held = min(self._held(r), made)
        total = made - held
        half = Z95 * u
        return Estimate(
            total,
            made * u,
            max(made * exp(-half) - held, 0.0),
            made * exp(half) - 0.5 * held,
            "m3",
            assumptions=said,
        )

    def _held(self, r: float) -> float:
        """Foam that fills outlet and foam hose and has not come out, m3 at ambient pressure. The body's content is not
        included: the packing is at the body's end, and there is no foam before it.
        """
        if self._balance.build is None:
            return 0.0
        outlet, body = self._balance.build.outlet, self._balance.build.body.bore
        cone = outlet.length if outlet.shape == "cone" else 0.0
        volume = pi / 4.0 * outlet.bore**2 * outlet.hose
        volume += pi / 12.0 * cone * (body**2 + body * outlet.bore + outlet.bore**2)
        pressure = (
            0.5 * self._balance.pressure if isfinite(self._balance.pressure) else 0.0
        )  # it falls to nothing along the hose
        inside = float(expansion_at_pressure(1.0 + r, self._balance.ambient, self._balance.ambient + pressure))
        return volume * (1.0 + r) / inside

    def _foam_left(self, known: FoamProperties, left: Estimate | None, said: tuple[str, ...]) -> Estimate | None:
        """Foam of the solution left. If that is calculated from the air, it depends on the same ratio as the foam, and
        a high ratio raises both; hence joint draws (JCGM 101:2008).
        """
        if left is None:
            return None
        r = known.ratio
        value = left.value * (1.0 + r)
        if value <= 0.0 and self._balance.emptied:
            return Estimate(0.0, 0.0, 0.0, 0.0, "m3", assumptions=left.assumptions)
        logs = known.mean + _DRAWS[:, :2] @ np.linalg.cholesky(known.covariance).T
        if self._balance.scale.falls or (self._balance.tare is not None and isfinite(self._balance.scale.mass)):
            volume = left.value + left.standard_uncertainty * _DRAWS[:, 2]
        else:
            air, u_air = self._balance.drawing_air
            load = (self._balance.load or 0.0) / SOLUTION_DENSITY * (1.0 + FILLED_TO * _DRAWS[:, 2])
            volume = load - np.exp(logs[:, 0] - logs[:, 1]) * np.maximum(air + u_air * _DRAWS[:, 3], 0.0)
            if left.value > 0.0:  # centred on the amount left by all readings, with refills
                nominal = (self._balance.load or 0.0) / SOLUTION_DENSITY - known.caught / r * max(air, 0.0)
                volume = volume + (left.value - nominal)
        foam = np.maximum(volume, 0.0) * (1.0 + np.exp(logs[:, 1]))
        lower, upper = np.quantile(foam, [0.025, 0.975])
        if self._balance.begun_short:
            lower = min(lower, left.lower * (1.0 + np.exp(np.quantile(logs[:, 1], 0.025))))
        return Estimate(value, float(foam.std()), float(lower), float(upper), "m3", assumptions=said)

    def _used(self, known: FoamProperties, said: tuple[str, ...], why: dict[str, str]) -> Estimate | None:
        if self._balance.scale.seconds and self._balance.scale.falls and self._balance.scale_silent:
            if not isfinite(self._balance.unweighed):
                why["solution_used"] = "no signal from the scale, and the flow is not known"
                return None
            since = known.caught / known.ratio * self._balance.unweighed
            value = max(self._balance.scale.used, 0.0) / SOLUTION_DENSITY + since
            u = hypot(
                SPAN * value, 1.5 * self._balance.scale.noise / SOLUTION_DENSITY, since * known.along((1.0, -1.0))
            )
            return Estimate.normal(value, u, "m3", assumptions=("from the scale until its signal was lost",))
        if self._balance.scale.seconds and self._balance.scale.falls:
            value = max(self._balance.scale.used, 0.0) / SOLUTION_DENSITY
            return Estimate.normal(
                value,
                hypot(SPAN * value, 1.5 * self._balance.scale.noise / SOLUTION_DENSITY),
                "m3",
                assumptions=("from the scale",),
            )
        air, u_air = self._balance.drawing_air
        if self._balance.scale.seconds >= 20 and self._balance.made_air > 0.0:
            why["solution_used"] = "the mass on the scale does not fall"
            return None
        if air <= 0.0:
            why["solution_used"] = "no air yet"
            return None
        u = hypot(known.along((1.0, -1.0)), u_air / air)
        said = ("calculated from the air flow; no scale", *said)
        return Estimate.positive(known.caught / known.ratio * air, u, "m3", assumptions=said)

    def _solution_rate(
        self, known: FoamProperties, phase: str, said: tuple[str, ...], why: dict[str, str]
    ) -> Estimate | None:
        if self._balance.scale.falls and isfinite(self._balance.scale.rate) and not self._balance.scale_silent:
            value = max(self._balance.scale.rate, 0.0) / SOLUTION_DENSITY
            u = hypot(0.02 * value, self._balance.scale.noise / 5.0 / SOLUTION_DENSITY)
            return Estimate.normal(value, u, "m3/s", assumptions=("from the scale",))
        if phase in (FOAMING, UNKNOWN) and isfinite(self._balance.flow) and self._balance.flow > 0.0:
            reaches = 0.5 * sum(self._balance.left_by_fault.air)
            value = known.caught / known.ratio * reaches * self._balance.flow
            said = ("calculated from the air flow; no scale", *said)
            return Estimate.positive(value, known.along((1.0, -1.0)), "m3/s", assumptions=said)
        why["solution_rate"] = (
            "not foaming steadily"
            if isfinite(self._balance.flow)
            else "neither the air flow nor the solution used is known"
        )
        return None

    def _left(self, used: Estimate | None, why: dict[str, str]) -> Estimate | None:
        rho = SOLUTION_DENSITY
        by_scale = self._balance.left_by_scale
        if self._balance.emptied and not (self._balance.load and by_scale > PLENTY * self._balance.load):
            return Estimate(0.0, 0.0, 0.0, 0.0, "m3", assumptions=("ran dry",))
        if self._balance.tare is not None and isfinite(by_scale):
            value = by_scale / rho
            return Estimate.normal(value, hypot(SPAN * value, 0.02 / rho), "m3", assumptions=("from the scale",))
        if self._balance.refilled_unseen and not self._balance.scale.seconds:
            why["solution_left"] = "ran dry and foams again: the refilled amount is not known (no scale)"
            return None
        if self._balance.load is None:
            why["solution_left"] = "the initial content of the reservoir is not known"
            return None
        if used is None:
            why["solution_left"] = "the solution used is not known"
            return None
        begun = (self._balance.begun + self._balance.scale.refilled) / rho
        u_begun = FILLED_TO * self._balance.load / rho
        value = max(begun - used.value, 0.0)
        u = hypot(u_begun, used.standard_uncertainty)
        low = begun - Z95 * u_begun - used.upper if used.upper - used.value > 2 * u_begun else value - Z95 * u
        high = begun + Z95 * u_begun - used.lower if used.upper - used.value > 2 * u_begun else value + Z95 * u
        said = "initial content from the build sheet"
        if self._balance.begun_short:
            low = min(low, self._balance.scale.refilled / rho - used.upper)  # it was nearly empty before the refill
            said = "not full at the start, or the refill would not have fitted in; taken as full after it"
        return Estimate(value, u, max(low, 0.0), max(high, 0.0), "m3", assumptions=(said,))

    def _time_left(
        self, left: Estimate | None, rate: Estimate | None, phase: str, why: dict[str, str]
    ) -> Estimate | None:
        if left is None:
            why["time_left"] = why.get("solution_left", "the remaining solution is not known")
            return None
        if self._balance.emptied and left.value == 0.0:
            return Estimate(0.0, 0.0, 0.0, 0.0, "s")
        if phase not in (FOAMING, THINNING, UNKNOWN):
            why["time_left"] = NO_FOAM_YET.get(phase, "no air yet")
            return None
        if rate is None or rate.value <= 0.0:
            why["time_left"] = why.get("solution_rate", "not measured yet")
            return None
        value = left.value / rate.value
        u_rate = rate.standard_uncertainty / rate.value
        u = hypot(left.standard_uncertainty / rate.value, value * u_rate)
        # used and drawn are correlated: a run that draws more has less left and empties it sooner
        lower = left.lower / rate.upper if rate.upper > 0 else 0.0
        upper = left.upper / max(rate.lower, min(1e-9, rate.value))
        return Estimate(value, u, lower, upper, "s", assumptions=left.assumptions)

    def _remarks(self, phase: str) -> tuple[str, ...]:
        words = []
        if phase == THINNING:
            words.append("the solution runs out: the foam is drier than the sample, and its rate is a guess")
        if self._balance.scale.seconds >= 20 and not self._balance.scale.falls and phase == FOAMING:
            words.append("the mass on the scale does not fall: the scale is ignored (check for a refill)")
        if self._balance.scale_silent:
            words.append("no signal from the scale: the solution used since is calculated from the air flow")
        if self._balance.uncounted >= 1.0:
            words.append(f"{self._balance.uncounted:.0f} s of foam without a flow reading are not in the totals")
        if self._balance.samples:
            words.append(f"{self._balance.samples} sample{'s' if self._balance.samples > 1 else ''} of this build")
        return tuple(words)

    def _density(self, expansion: Estimate, said: tuple[str, ...]) -> Estimate:
        value, low, high = (
            float(foam_density(max(E, 1.0))) - GAS_DENSITY for E in (expansion.value, expansion.upper, expansion.lower)
        )
        u = value * expansion.standard_uncertainty / expansion.value
        return Estimate(value, u, low, high, "kg/m3", assumptions=said)

    def _in_line(self, expansion: Estimate, said: tuple[str, ...]) -> Estimate | None:
        if not isfinite(self._balance.pressure):
            return None
        p0, p1 = self._balance.ambient, self._balance.ambient + max(self._balance.pressure, 0.0)
        inside = [
            float(foam_density(float(expansion_at_pressure(max(E, 1.0), p0, p1)), gas_density=GAS_DENSITY * p1 / p0))
            - GAS_DENSITY
            for E in (expansion.value, expansion.upper, expansion.lower)
        ]
        u = inside[0] * expansion.standard_uncertainty / expansion.value
        return Estimate(inside[0], u, inside[1], inside[2], "kg/m3", assumptions=said)
