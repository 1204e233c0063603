"""Joint Monte Carlo draws of an air source and generators, for operating points beyond first-order propagation.

The pressure drop of a part is positive and known to a factor. Each error therefore shifts the logarithm of an element's
pressure drop, by the model's own response at a few flows. The elements are summed and intersected with the source in
each draw (JCGM 101:2008). An error common to two generators, or to generator and source, has the same name and the same
draw in both.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Mapping
from dataclasses import dataclass
from math import isfinite

import numpy as np

from frothline.curve.blower import BlowerFit
from frothline.curve.uncertain_curve import ALL_POWERS, Uncertain
from frothline.errors import OutsideValidity
from frothline.generator.pressure_model import PressureModel
from frothline.numerics.arrays import Floats
from frothline.numerics.errors_in_both import basis
from frothline.numerics.uncertainty import KNOWN
from frothline.physics.air import STANDARD_DENSITY

DRAWS = 1000  # ends of a 95 % interval are then known to some 6 % of a standard uncertainty
SEED = 20  # fixed: the same question always has the same answer
AT = 7  # flows at which the model is evaluated
FINE = 64  # flows at which source and load are compared
LEAST_FLOW = 1e-8  # m3/s; a build that does not pass even this flow has no draws
LOWEST = 0.02  # of the largest flow, where the comparison begins
SMALL = 0.25  # of a standard uncertainty: step for the derivative by an error of several parameters
LARGE = 1.5  # standard uncertainties: step for the ratio of the pressures with another outlet and before
LEAST = 1e-3  # of an element's pressure drop: an error with a smaller effect is ignored
NOTHING = 1e-3  # Pa: a smaller pressure drop counts as 0
# Elements with a common shift of their logarithm. Liquid over the holes is lifted at once or not at all, and the
# covered holes then share the air; only their sum has no steps.
GROUPS = (("fittings", "hose"), ("holes", "head", "entry"), ("packing",), ("pores",), ("outlet",))


@dataclass(frozen=True)
class Met:
    """Operating points of the draws, (n,) each: m3/s, Pa, and dp/dq of source and load there, Pa s/m3. The first draw
    has no errors. A draw in which the source cannot drive the load has a flow of 0.
    """

    flow: Floats
    pressure: Floats
    source_slope: Floats
    load_slope: Floats

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
        flows = np.geomspace(LOWEST * top, top, FINE)
        load = self._load(generator, flows)
        if blower.flow_curve is None:
            return _crossing(flows, self._curve(blower.curve, "source", flows), load)
        # displacement: the flow falls with the pressure; while a relief valve is open it holds the pressure
        lack = self._curve(blower.flow_curve, "source", np.minimum(load, 1e6), falls=True) - flows
        leak = self._curve(blower.flow_curve, "source", np.minimum(load, 1e6), derivative=1, falls=True)
        slope = 1.0 / np.where(np.abs(leak) > 1e-15, leak, -1e-15)
        met = _first(flows, lack, load, slope)
        if blower.relief is None:
            return met
        held = _crossing(flows, self._curve(blower.relief, "relief", flows), load)
        earlier = held.flow < met.flow
        return Met(
            *(
                np.where(earlier, getattr(held, name), getattr(met, name))
                for name in ("flow", "pressure", "source_slope", "load_slope")
            )
        )

    # --- the draws --------------------------------------------------------------------------------------------------

    def _normal(self, name: str) -> Floats:
        """(n,) standard normal, the first one 0; the second half mirrors the first."""
        found = self._by_name.get(name)
        if found is None:
            rng = np.random.default_rng([self._seed, *name.encode()])
            half = rng.standard_normal(DRAWS // 2)
            found = self._by_name[name] = np.concatenate([[0.0], half, -half])
        return found

    def _curve(self, curve: Uncertain, name: str, at: Floats, derivative: int = 0, *, falls: bool = False) -> Floats:
        """Values of a curve in each draw; ``at`` is (m,) for all draws, or (n, m).

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
            coefficients += self._normal(error)[:, None] * effect
        if falls:
            coefficients[:, 1] = np.minimum(coefficients[:, 1], 0.0)
        if at.ndim == 1:
            return np.asarray(coefficients @ basis(ALL_POWERS, at, derivative).T)
        powers = basis(ALL_POWERS, at.ravel(), derivative).reshape(*at.shape, len(ALL_POWERS))
        return np.asarray(np.einsum("nmk,nk->nm", powers, coefficients))

    def _load(self, generator: PressureModel, flows: Floats) -> Floats:
        base, effects = _elements(generator, flows[0], flows[-1])
        at, x = np.log(base.flows), np.log(flows)
        total = np.zeros((DRAWS + 1, len(flows)))
        z = np.column_stack([self._normal(name) for name, _, _ in effects]) if effects else np.zeros((DRAWS + 1, 0))
        upward, downward = np.maximum(z, 0.0), -np.minimum(z, 0.0)
        for element, taken in base.taken.items():
            middle = _along(x, at, np.log(taken))
            moving = [
                k
                for k, (_, up, down) in enumerate(effects)
                if max(np.abs(up[element]).max(), np.abs(down[element]).max()) > LEAST
            ]
            if not moving:
                total += np.exp(middle)
                continue
            raised = np.array([_along(x, at, effects[k][1][element]) for k in moving])
            lowered = np.array([_along(x, at, effects[k][2][element]) for k in moving])
            # not a matrix product: its threads cost more here than they bring
            logs = middle + np.einsum("nk,km->nm", upward[:, moving], raised)
            logs += np.einsum("nk,km->nm", downward[:, moving], lowered)
            total += np.exp(np.minimum(logs, 40.0))
        return total


@dataclass(frozen=True)
class _Elements:
    """Pressure drops of the elements, Pa, at flows (m,), by element."""

    flows: Floats
    taken: dict[str, Floats]


_Effect = tuple[str, dict[str, Floats], dict[str, Floats]]


def _elements(generator: PressureModel, lowest: float, highest: float) -> tuple[_Elements, list[_Effect]]:
    """The model at a few flows, and for each error the logarithm by which one standard uncertainty up and down moves
    each element.

    An error of several parameters comes from a fit. The parameters are anticorrelated, so that their sum stays as
    measured. The error shifts the logarithm of the whole, by its derivative; large separate shifts of each parameter
    would not give the measured sum any more. With another outlet only the ratio to the whole before is unmeasured, see
    ``_beyond_derivative``.
    """
    top = highest
    models = [generator]
    for _, step in generator.effects:
        size = SMALL if len(step) > 1 else 1.0
        models += [generator.moved({key: sign * size * value for key, value in step.items()}) for sign in (1, -1)]
    while True:  # a small outlet may need more than the model's range below the smallest flow compared
        try:
            rows = [model.drops(top * STANDARD_DENSITY) for model in models]
        except OutsideValidity:
            top /= 1.3
            if top < LEAST_FLOW:
                raise
        else:
            break
    flows = np.geomspace(min(lowest, top / 2), top, AT)
    table = [[model.drops(q * STANDARD_DENSITY) for q in flows[:-1]] + [rows[k]] for k, model in enumerate(models)]

    def column(number: int, group: str) -> Floats:
        return np.maximum([sum(row.get(name, 0.0) for name in group.split()) for row in table[number]], NOTHING)

    names = [" ".join(group) for group in GROUPS if any(name in row for name in group for row in table[0])]
    base = {name: column(0, name) for name in names}
    effects: list[_Effect] = []
    for k, (error, step) in enumerate(generator.effects):
        raised, lowered = ({name: column(2 * k + j, name) for name in names} for j in (1, 2))
        if len(step) > 1:
            whole = np.log(sum(raised.values()) / sum(lowered.values())) / (2.0 * SMALL)
            more, less = _beyond_derivative(generator, error, step, flows)
            up, down = dict.fromkeys(names, whole + more), dict.fromkeys(names, less - whole)
        else:
            up = {name: np.log(raised[name] / base[name]) for name in names}
            down = {name: np.log(lowered[name] / base[name]) for name in names}
        effects.append((error, up, down))
    return _Elements(flows, base), effects


def _beyond_derivative(
    generator: PressureModel, error: str, step: Mapping[str, float], flows: Floats
) -> tuple[Floats, Floats]:
    """What one standard uncertainty of an error, upward and downward, adds at flows (m,) to its derivative, as the
    logarithm of the pressure with another outlet; 0 with the old one, and for an error of the new outlet alone.

    The measured points keep the sum of the elements but hardly tell the share of the foam in the outlet. That share
    moves the ratio of the pressures after and before the change, and it is not linear in the logarithm of a factor:
    with a factor of 2.7 in place of 1 the outlet takes 170 % more, where its derivative gives 100 %.
    """
    old = generator.before_outlet
    none = np.zeros(len(flows))
    if old is None or all(name != error for name, _ in old.effects):
        return none, none

    def ratio(size: float) -> Floats:
        moved = {key: size * value for key, value in step.items()}
        return _log_pressure(generator.moved(moved), flows) - _log_pressure(old.moved(moved), flows)

    middle = ratio(0.0)
    slope = (ratio(SMALL) - ratio(-SMALL)) / (2.0 * SMALL)
    up, down = (_last_kept((ratio(sign * LARGE) - middle) / LARGE - sign * slope) for sign in (1, -1))
    return up, down


def _log_pressure(model: PressureModel, flows: Floats) -> Floats:
    """Logarithm of the pressure at flows (m,); NaN beyond the model's range."""
    found = np.full(len(flows), np.nan)
    for k, q in enumerate(flows):
        try:
            found[k] = np.log(max(model.pressure(q), NOTHING))
        except OutsideValidity:
            break
    return found


def _last_kept(values: Floats) -> Floats:
    """The same with the last known value beyond it; 0 if none is known."""
    known = int(np.sum(np.isfinite(values)))
    return np.concatenate([values[:known], np.full(len(values) - known, values[known - 1] if known else 0.0)])


def _along(x: Floats, at: Floats, values: Floats) -> Floats:
    """Linear interpolation between the points, and linear extrapolation beyond them."""
    inside = np.interp(x, at, values)
    low = values[0] + (x - at[0]) * (values[1] - values[0]) / (at[1] - at[0])
    high = values[-1] + (x - at[-1]) * (values[-1] - values[-2]) / (at[-1] - at[-2])
    return np.where(x < at[0], low, np.where(x > at[-1], high, inside))


def _top(blower: BlowerFit) -> float:
    free = blower.free_delivery.value
    return 1.15 * max(blower.range[1], free if isfinite(free) else 0.0)


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

    flow = flows[k - 1] + share * (flows[k] - flows[k - 1])
    found = Met(flow, there(pressure), there(slope), there(np.gradient(load, flows, axis=1)))
    return Met(
        np.where(never, 0.0, found.flow),
        np.where(never, pressure[:, 0], found.pressure),
        found.source_slope,
        found.load_slope,
    )
