"""Design of experiments: screening runs, then the next run by expected improvement.

A plan has two halves. **Screening* spreads the first runs so that the factors can be separated (D-optimal corners,
randomised, blocked by solution batch, with a repeat of the reference in every batch). Then, as trials come in,
:meth:`Planner.next_run` proposes the run with the largest expected gain.

The model behind it is deliberately small: the logarithm of each response is a sum of straight-line, curved and pairwise
terms of the coded factors, with a Gaussian prior in which straight lines are large and the others small (effect
hierarchy: Li, Sudarsanam and Frey, Complexity 11 (2006) 32). The size of the effects and of the run-to-run scatter is
not assumed but averaged over a grid, weighted by the evidence of the trials. Gain is the expected improvement of the
score over the best trial so far (J. Mockus's criterion, as in Jones, Schonlau and Welch, J. Global Optimization 13
(1998) 455).
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations, product

import numpy as np

from frothline.errors import InputError, TooFewPoints
from frothline.estimate import Estimate
from frothline.numerics.arrays import Floats

Settings = Mapping[str, float]

_LARGEST_CATALOGUE = 20_000  # combinations of parts that are evaluated one by one
_EFFECT_SCALES = (0.1, 0.2, 0.4, 0.8)  # prior standard deviation of a straight-line term, in natural-log units
_SCATTERS = (0.02, 0.05, 0.1, 0.2)  # standard deviation between equal runs, natural-log units
_MINOR = 0.35  # curved and pairwise terms against straight ones: judgement after Li et al.
_CENTRE = 2.0  # prior standard deviation of the mean level, natural-log units: hardly a restriction
_DRAWS = 400


@dataclass(frozen=True)
class Factor:
    """A factor: ``levels`` are the available parts, positive, in SI of ``unit``."""

    name: str
    levels: tuple[float, ...]
    unit: str = ""

    def __post_init__(self) -> None:
        if len(self.levels) < 2 or min(self.levels) <= 0 or list(self.levels) != sorted(set(self.levels)):
            raise InputError(
                "needs two or more positive sizes in rising order",
                where=f"factor {self.name}",
                remedy="List the parts at hand, smallest first.",
            )

    def coded(self, value: float) -> float:
        """Code a level: -1 at the smallest, +1 at the largest, by ratio, so that a doubling is the same step
        anywhere.
        """
        low, high = math.log(self.levels[0]), math.log(self.levels[-1])
        return 2 * (math.log(value) - low) / (high - low) - 1


@dataclass(frozen=True)
class Wish:
    """A target window of one response; either end may be open (0 or infinity). Units are those of the response."""

    response: str
    low: float
    high: float
    unit: str = ""

    def score(self, logarithm: Floats) -> Floats:
        """1 inside the window, falling by half for each 15 % outside it. Takes natural logarithms."""
        below = np.maximum(math.log(self.low) - logarithm, 0) if self.low > 0 else 0.0
        above = np.maximum(logarithm - math.log(self.high), 0) if math.isfinite(self.high) else 0.0
        return np.asarray(np.exp2(-(below + above) / math.log(1.15)))

    def met(self, value: float) -> bool:
        return self.low <= value <= self.high


@dataclass(frozen=True)
class Tried:
    """A trial for the planner: settings and responses (missing responses are left out)."""

    settings: Settings
    responses: Mapping[str, float]


@dataclass(frozen=True)
class PlannedRun:
    settings: Settings
    batch: int
    why: str


@dataclass(frozen=True)
class Proposal:
    """The next run, its expected responses, and its reason in one sentence."""

    settings: Settings
    expected_gain: float
    chance: float
    expected: Mapping[str, Estimate]
    reason: str


class Planner:
    """Plans runs with the available parts.

    Parameters
    ----------
    factors
        The factors, each with its available sizes.
    wishes
        The target windows of the responses.
    seed
        Of the order of runs and of the draws; the same seed gives the same plan.

    Raises
    ------
    InputError
        Without factors or wishes, or if the parts make too many combinations.
    """

    def __init__(self, factors: Sequence[Factor], wishes: Sequence[Wish], *, seed: int = 0) -> None:
        if not factors or not wishes:
            raise InputError("a plan needs at least one factor and one target ([[wish]])", where="plan")
        count = math.prod(len(factor.levels) for factor in factors)
        if count > _LARGEST_CATALOGUE:
            raise InputError(
                f"{count} combinations of parts are too many",
                where="plan",
                remedy="Leave out a factor, or sizes that are close together.",
            )
        self.factors = tuple(factors)
        self.wishes = tuple(wishes)
        self._random = np.random.default_rng(seed)
        self.catalogue: tuple[dict[str, float], ...] = tuple(
            dict(zip([f.name for f in factors], values, strict=True))
            for values in product(*(f.levels for f in factors))
        )
        self._rows = self._features(self.catalogue)

    # --- screening ------------------------------------------------------------------------------------------------

    def screening(self, reference: Settings, *, batches: int = 1, runs: int | None = None) -> tuple[PlannedRun, ...]:
        """The first runs: the reference once per solution batch, and D-optimal corners, in random order.

        ``runs`` counts the corners; by default one more than the number of factors, the minimum that separates them.
        """
        wanted = len(self.factors) + 1 if runs is None else runs
        corners = [
            i
            for i, settings in enumerate(self.catalogue)
            if all(settings[f.name] in (f.levels[0], f.levels[-1]) for f in self.factors)
        ]
        chosen: list[int] = []
        scale = np.array(
            [_CENTRE, *[1.0] * len(self.factors), *[_MINOR] * (self._rows.shape[1] - 1 - len(self.factors))]
        )
        known = [self._features([reference])[0] * scale]
        for _ in range(wanted):
            gains = [
                self._information([*known, self._rows[i] * scale]) if i not in chosen else -np.inf for i in corners
            ]
            best = np.flatnonzero(np.array(gains) > max(gains) - 1e-9)
            pick = corners[int(self._random.choice(best))]
            chosen.append(pick)
            known.append(self._rows[pick] * scale)
        self._random.shuffle(chosen)
        planned: list[PlannedRun] = []
        for batch in range(1, batches + 1):
            mine: list[PlannedRun] = [
                PlannedRun(self.catalogue[i], batch, "separates the factors") for i in chosen[batch - 1 :: batches]
            ]
            repeat = PlannedRun(dict(reference), batch, "repeat of the reference: shows scatter, drift and the batch")
            mine.insert(int(self._random.integers(len(mine) + 1)), repeat)
            planned.extend(mine)
        return tuple(planned)

    @staticmethod
    def _information(rows: list[Floats]) -> float:
        stacked = np.array(rows)
        return float(np.linalg.slogdet(stacked.T @ stacked + 0.01 * np.eye(stacked.shape[1]))[1])

    # --- one run at a time ----------------------------------------------------------------------------------------

    def next_run(self, tried: Sequence[Tried]) -> Proposal:
        """The run with the largest expected gain over the best trial so far.

        Raises
        ------
        TooFewPoints
            Without a trial that has every response of the wishes.
        """
        complete = [t for t in tried if all(w.response in t.responses for w in self.wishes)]
        if not complete:
            raise TooFewPoints(
                "no trial has all target values yet",
                where="plan",
                remedy="Make the reference run first, and weigh and time a sample.",
            )
        observed = self._features([t.settings for t in complete])
        logs = {w.response: np.log([t.responses[w.response] for t in complete]) for w in self.wishes}
        scores = np.prod([w.score(logs[w.response]) for w in self.wishes], axis=0)
        best = int(np.argmax(scores))

        draws: dict[str, Floats] = {}
        for wish in self.wishes:
            draws[wish.response] = self._predict(observed, logs[wish.response])
        joint = np.prod([w.score(draws[w.response]) for w in self.wishes], axis=0)  # (draws, candidates)
        gain = np.maximum(joint - scores[best], 0).mean(axis=0)
        inside = np.ones_like(joint, dtype=bool)
        for wish in self.wishes:
            inside &= wish.score(draws[wish.response]) == 1
        chance = inside.mean(axis=0)
        value = gain + 1e-6 * chance
        done = {tuple(t.settings[f.name] for f in self.factors) for t in complete}
        for i, settings in enumerate(self.catalogue):
            if tuple(settings.values()) in done:
                value[i] = -1.0
        pick = int(np.argmax(value))
        expected = {w.response: _interval(np.exp(draws[w.response][:, pick]), w.unit) for w in self.wishes}
        settings = self.catalogue[pick]
        return Proposal(
            settings,
            float(gain[pick]),
            float(chance[pick]),
            expected,
            self._reason(settings, complete[best].settings, expected, float(chance[pick])),
        )

    def _predict(self, rows: Floats, logs: Floats) -> Floats:
        """(draws, candidates) of the logarithm, averaged over effect size and scatter by evidence."""
        centre = logs.mean()
        y = logs - centre
        straight, minor = len(self.factors), rows.shape[1] - 1 - len(self.factors)
        parts: list[tuple[float, Floats, Floats]] = []
        for effect, scatter in product(_EFFECT_SCALES, _SCATTERS):
            prior = np.array([_CENTRE, *[effect] * straight, *[effect * _MINOR] * minor]) ** 2
            spread = (rows * prior) @ rows.T + scatter**2 * np.eye(len(y))
            lower = np.linalg.cholesky(spread)
            white = np.linalg.solve(lower, y)
            evidence = float(-0.5 * white @ white - np.log(np.diag(lower)).sum())
            cross = np.linalg.solve(lower, (rows * prior) @ self._rows.T)
            mean = cross.T @ white
            variance = np.maximum((self._rows**2) @ prior - (cross**2).sum(axis=0), 0) + scatter**2
            parts.append((evidence, mean, np.sqrt(variance)))
        weights = np.exp(np.array([p[0] for p in parts]) - max(p[0] for p in parts))
        which = self._random.choice(len(parts), size=_DRAWS, p=weights / weights.sum())
        normal = self._random.standard_normal(
            (_DRAWS, 1)
        )  # common to all candidates, so that their ranking is consistent
        means = np.array([parts[i][1] for i in which])
        spreads = np.array([parts[i][2] for i in which])
        return np.asarray(means + normal * spreads + centre)

    def _features(self, settings: Sequence[Settings]) -> Floats:
        coded = np.array([[f.coded(row[f.name]) for f in self.factors] for row in settings])
        curved = coded**2 - 0.5
        pairs = [coded[:, i] * coded[:, j] for i, j in combinations(range(coded.shape[1]), 2)]
        return np.column_stack([np.ones(len(coded)), coded, curved, *pairs])

    def _reason(self, settings: Settings, best: Settings, expected: Mapping[str, Estimate], chance: float) -> str:
        changed = [f for f in self.factors if settings[f.name] != best[f.name]]
        moves = ", ".join(f"{f.name} {best[f.name]:g} to {settings[f.name]:g} {f.unit}".rstrip() for f in changed)
        hopes = " and ".join(
            f"{name} about {e.value:.3g} {e.unit} ({e.lower:.3g} to {e.upper:.3g})".replace("  ", " ")
            for name, e in expected.items()
        )
        return (
            f"From the best so far change {moves or 'nothing; repeat it'}: expected {hopes}; "
            f"chance to meet all targets {100 * chance:.0f} %."
        )


def _interval(values: Floats, unit: str) -> Estimate:
    lower, middle, upper = np.quantile(values, [0.025, 0.5, 0.975])
    return Estimate(float(middle), float(values.std(ddof=1)), float(lower), float(upper), unit)
