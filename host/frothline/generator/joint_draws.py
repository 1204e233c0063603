"""Joint Monte Carlo draws of an air source and generators, for operating points beyond first-order propagation.

The pressure drop of a part is positive and known to a factor. Each error therefore shifts the logarithms of factors of
the model, which is calculated and intersected with the source in each draw (JCGM 101:2008). The factors of a measured
generator are those of its own draws (``factor_draws``). An error common to two generators, or to generator and source,
has the same name and the same draw in both.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Mapping
from dataclasses import dataclass, fields, replace
from math import isfinite

import numpy as np

from frothline.curve.blower import BlowerFit
from frothline.curve.operating_point import OperatingPoint
from frothline.curve.uncertain_curve import ALL_POWERS, Uncertain
from frothline.estimate import Estimate
from frothline.generator.factor_draws import DRAWS
from frothline.generator.pressure_model import PressureModel
from frothline.numerics.arrays import Floats
from frothline.numerics.errors_in_both import basis
from frothline.numerics.uncertainty import KNOWN

SEED = 20  # fixed: the same question always has the same answer
AT = 20  # flows at which the model is calculated
FINE = 64  # flows at which source and load are compared
LOWEST, LOWER = 0.02, 0.01  # the comparison begins at the lower one of two shares, of the largest and operating flow
# Share of the draws beyond either end of an interval: with 0.025 of a thousand draws an end is as often too near as too
# far; with this share the interval covers 95 % in nine of ten cases (25 less 1.28 times the root of 24.4 draws,
# binomial).
OUTER = 0.019
NOTHING = 1e-3  # Pa: a smaller pressure drop counts as this


@dataclass(frozen=True)
class Met:
    """Operating points of the draws, (n,) each: m3/s, Pa, dp/dq of source and load there, Pa s/m3, and the source's
    highest pressure, Pa. The first draw has no errors. A draw in which the source cannot drive the load has a flow of
    0.
    """

    flow: Floats
    pressure: Floats
    source_slope: Floats
    load_slope: Floats
    highest: Floats

    def about(self, point: OperatingPoint) -> tuple[Floats, Floats]:
        """Flows and pressures of the draws, moved so that the first one is the operating point itself."""
        first = float(self.flow[0])
        flows = self.flow * (point.flow.value / first) if first > 0.0 else self.flow
        return flows, point.pressure.value + self.pressure - self.pressure[0]

    @property
    def stable(self) -> float:
        """Share of the draws with an operating point in which the load is steeper than the source; NaN without any."""
        meets = self.flow > 0.0
        meets[0] = False
        return float(np.mean((self.load_slope > self.source_slope)[meets])) if meets.any() else float("nan")

    @property
    def falling(self) -> float:
        """Share of the draws with an operating point on the falling source curve; NaN without any."""
        meets = self.flow > 0.0
        meets[0] = False
        return float(np.mean((self.source_slope <= 0.0)[meets])) if meets.any() else float("nan")


def of_draws(estimate: Estimate, draws: Floats) -> Estimate:
    """An estimate with the interval of draws (n,); the first one is without errors and does not count."""
    lower, low, high, upper = (float(end) for end in np.quantile(draws[1:], [OUTER, 0.16, 0.84, 1.0 - OUTER]))
    value = estimate.value
    return replace(estimate, standard_uncertainty=(high - low) / 2.0, lower=min(lower, value), upper=max(upper, value))


_LATEST: deque[tuple[int, BlowerFit, PressureModel, Met]] = deque(maxlen=4)  # 32 kB each


class JointDraws:
    """Draws by error name; all operating points computed by one object use the same draws."""

    def __init__(self, seed: int = SEED) -> None:
        self._seed = seed
        self._by_name: dict[str, Floats] = {}

    def meet(self, blower: BlowerFit, generator: PressureModel) -> Met:
        """The operating point in each draw. The latest ones are remembered: of two builds that are compared, one stays
        while the other is changed again and again.
        """
        for seed, source, load, met in _LATEST:
            if seed == self._seed and source is blower and load is generator:
                return met
        met = self._meet(blower, generator)
        _LATEST.append((self._seed, blower, generator, met))
        return met

    def _meet(self, blower: BlowerFit, generator: PressureModel) -> Met:
        top = _top(blower)
        flows = np.geomspace(_lowest(blower, generator, top), top, FINE)
        load = self._load(generator, flows)
        read: Mapping[str, Floats] = {} if generator.measured is None else generator.measured.common
        if blower.flow_curve is None:
            return _crossing(flows, self._curve(blower.curve, "source", flows, read), load)
        # displacement: the flow falls with the pressure; while a relief valve is open it holds the pressure
        pump, pressures = blower.flow_curve, np.minimum(load, 1e6)
        lack = self._curve(pump, "source", pressures, read, falls=True) - flows
        leak = self._curve(pump, "source", pressures, read, derivative=1, falls=True)
        slope = 1.0 / np.where(np.abs(leak) > 1e-15, leak, -1e-15)
        met = _first(flows, lack, load, slope)
        if blower.relief is None:
            return met
        held = _crossing(flows, self._curve(blower.relief, "relief", flows, read), load)
        earlier = held.flow < met.flow
        return Met(*(np.where(earlier, getattr(held, one.name), getattr(met, one.name)) for one in fields(Met)))

    # --- the draws --------------------------------------------------------------------------------------------------

    def _normal(self, name: str) -> Floats:
        """(n,) standard normal, the first one 0; the second half mirrors the first."""
        found = self._by_name.get(name)
        if found is None:
            rng = np.random.default_rng([self._seed, *name.encode()])
            half = rng.standard_normal(DRAWS // 2)
            found = self._by_name[name] = np.concatenate([[0.0], half, -half])
        return found

    def _curve(
        self,
        curve: Uncertain,
        name: str,
        at: Floats,
        read: Mapping[str, Floats],
        derivative: int = 0,
        *,
        falls: bool = False,
    ) -> Floats:
        """Values of a curve in each draw; ``at`` is (m,) for all draws, or (n, m).

        ``read`` : errors of sensors that have their draws already
        ``falls`` : the slope is never above zero, as leakage never makes the flow of a pump rise with the pressure.
        """
        coefficients = np.tile(curve.coefficients, (DRAWS + 1, 1))
        for number, (part, freedom) in enumerate(curve.random):
            values, vectors = np.linalg.eigh((part + part.T) / 2)
            root = vectors * np.sqrt(np.maximum(values, 0.0))
            own = f"{name} {curve.coefficients.tobytes().hex()} {number}"
            normal = np.column_stack([self._normal(f"{own} {k}") for k in range(len(values))])
            if freedom < KNOWN:
                chi = np.random.default_rng([self._seed, *own.encode()]).chisquare(freedom, DRAWS + 1)
                normal = normal * np.sqrt(freedom / chi)[:, None]
            coefficients += normal @ root.T
        for error, effect in curve.effects:
            coefficients += read.get(error, self._normal(error))[:, None] * effect
        if falls:
            coefficients[:, 1] = np.minimum(coefficients[:, 1], 0.0)
        if at.ndim == 1:
            return np.asarray(coefficients @ basis(ALL_POWERS, at, derivative).T)
        powers = basis(ALL_POWERS, at.ravel(), derivative).reshape(*at.shape, len(ALL_POWERS))
        return np.asarray(np.einsum("nmk,nk->nm", powers, coefficients))

    def _load(self, generator: PressureModel, flows: Floats) -> Floats:
        measured = generator.measured
        known = frozenset() if measured is None else measured.errors
        shifts: dict[str, Floats] = {}
        if measured is not None:  # of the parts that stay
            kept = {key for name, step in generator.effects if name in known for key in step}
            shifts = {key: shift for key, shift in measured.shifts.items() if key in kept}
        for name, step in generator.effects:
            for key, value in step.items():
                if name not in known:
                    shifts[key] = shifts.get(key, 0.0) + value * self._normal(name)
        at = np.geomspace(flows[0], flows[-1], AT)
        rows = np.log(np.maximum(generator.drawn(shifts, at), NOTHING))
        x = np.log(flows / flows[0]) * ((AT - 1) / np.log(flows[-1] / flows[0]))
        k = np.minimum(x.astype(int), AT - 2)
        return np.broadcast_to(np.exp(rows[:, k] + (x - k) * (rows[:, k + 1] - rows[:, k])), (DRAWS + 1, len(flows)))


def _top(blower: BlowerFit) -> float:
    free = blower.free_delivery.value
    return 1.15 * max(blower.range[1], free if isfinite(free) else 0.0)


def _lowest(blower: BlowerFit, generator: PressureModel, top: float) -> float:
    """The smallest flow compared, m³/s: far below the operating flow without errors."""
    flows = np.geomspace(1e-4 * top, top, 24)
    stronger = blower.pressure(flows)[0] > generator.drawn({}, flows)[0]
    met = top if stronger.all() else float(flows[int(np.argmin(stronger))])
    return max(min(LOWEST * top, LOWER * met), 1e-5 * top)


def _crossing(flows: Floats, source: Floats, load: Floats) -> Met:
    return _first(flows, source - load, source, np.gradient(source, flows, axis=1), load)


def _first(flows: Floats, gap: Floats, pressure: Floats, slope: Floats, load: Floats | None = None) -> Met:
    """The first zero crossing of the gap, downward, in each draw."""
    load = pressure if load is None else load
    positive = gap > 0.0
    begun = np.maximum.accumulate(positive, axis=1)
    ends = begun & ~positive
    any_end, never = ends.any(axis=1), ~positive.any(axis=1)
    k = np.where(any_end, np.argmax(ends, axis=1), len(flows) - 1)
    k = np.maximum(k, 1)
    row = np.arange(len(gap))
    before, after = gap[row, k - 1], gap[row, k]
    share = np.where(any_end, before / np.where(before - after != 0.0, before - after, 1.0), 1.0)

    def there(table: Floats) -> Floats:
        return np.asarray(table[row, k - 1] + share * (table[row, k] - table[row, k - 1]))

    return Met(
        flow=np.where(never, 0.0, flows[k - 1] + share * (flows[k] - flows[k - 1])),
        pressure=np.where(never, pressure[:, 0], there(pressure)),
        source_slope=there(slope),
        load_slope=there(np.gradient(load, flows, axis=1)),
        highest=np.max(pressure, axis=1),
    )
