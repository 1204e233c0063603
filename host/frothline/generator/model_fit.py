"""Fit of the geometry model to measured sweeps, for each element as far as the data allow.

Each parameter of the model starts with the uncertainty of its source; a dry and a wet sweep through the generator then
constrain all of them together (least squares with those uncertainties as observations of their own: JCGM 100:2008,
F.1.2, and any text on regularised or Bayesian estimation). A sweep gives a line with two or three coefficients, so that
it cannot determine eight elements. The result lists what it determined, and the elements it could not separate.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from math import exp, log, sqrt

import numpy as np
import scipy

from frothline.curve.steady_points import SteadyPoint
from frothline.errors import NotIdentifiable, TooFewPoints
from frothline.estimate import Estimate
from frothline.generator.factor_draws import FactorDraws
from frothline.generator.learned_factors import LEARNED, PACKED
from frothline.generator.points_posterior import PointsPosterior
from frothline.generator.pressure_model import PressureModel
from frothline.generator.pressure_terms import LABELS, SLOPES
from frothline.numerics.arrays import Floats
from frothline.numerics.hierarchical import UnitLikelihood
from frothline.physics.air import STANDARD_DENSITY

MODEL_FLOOR = 0.02  # relative: accuracy of the forms for a real element; judgement, no source
SETTLED = 0.5  # of its first uncertainty: a parameter better known than this was determined by the data
ALIKE = -0.6  # correlation of two elements' pressures below which only their sum was determined
WELL_KNOWN = 0.075  # relative standard uncertainty of an element's pressure: 15 % at 95 %
MATTERS = 0.03  # share of the line below which an element is not mentioned
FAR = 3.0  # first uncertainties that a parameter may move without a note

PARAMETER_LABELS = LABELS | {
    "wetting": "wetness of the packing",
    "foam": "foam in the outlet",
    "wall": "foam along the wall of its hose",
    "wetting slope": "wetness of the packing, with each doubling of the flow",
    "foam slope": "foam in the outlet, with each doubling of the flow",
}


@dataclass(frozen=True)
class FittedParameter:
    """One parameter after the fit: factor on the geometry's figure with its 95 % interval, and whether the data
    determined it.
    """

    key: str
    label: str
    factor: Estimate
    settled: bool


@dataclass(frozen=True)
class ModelFit:
    """A generator model scaled to measured lines.

    ``dry`` and ``wet`` : the models for shares, lines and what-ifs (dry is None without a dry sweep)
    ``undivided`` : elements with only their sum determined, as groups of keys, by "dry" and "wet"
    ``chi_square``, ``degrees_of_freedom`` : of the measured points alone, with the model's floor
    ``words`` : remarks for the builder
    """

    wet: PressureModel
    dry: PressureModel | None
    parameters: tuple[FittedParameter, ...]
    undivided: dict[str, tuple[tuple[str, ...], ...]]
    chi_square: float
    degrees_of_freedom: int
    words: tuple[str, ...]

    @property
    def apart(self) -> bool:
        """Whether every relevant element was determined separately."""
        return not any(self.undivided.values())


def fit_to_sweeps(
    wet: PressureModel, dry_points: Sequence[SteadyPoint] = (), wet_points: Sequence[SteadyPoint] = ()
) -> ModelFit:
    """Scale a model to steady points measured through the generator, dry and wet.

    ``wet`` : the model under its wet conditions; the dry one is the same build without solution
    A point without air flow is left out: it is below the line's pressure by an unknown amount. Raises TooFewPoints with
    fewer than three points in all, NotIdentifiable if no factors of the elements fit.
    """
    solved = _solve(wet, dry_points, wet_points)
    dry = solved.dry if dry_points else None
    return _result(replace(wet, factors={}, errors=None), dry, solved)


def evidence_of(
    wet: PressureModel, dry_points: Sequence[SteadyPoint] = (), wet_points: Sequence[SteadyPoint] = ()
) -> UnitLikelihood | None:
    """What steady points through a build say about LEARNED alone; None for a build without a wet packing.

    The other parameters have their stated uncertainties, and one point is enough. Raises as ``fit_to_sweeps``.
    """
    stated = replace(wet, factors={}, errors=None, learned=None)
    if any(key not in stated.parameters for key in PACKED):
        return None
    solved = _solve(stated, dry_points, wet_points, least=1)
    seen = solved.seen
    precision = seen.T @ seen
    pull = solved.weight * solved.z + precision @ solved.z  # of the likelihood alone: the prior pulls to 0
    known = [k for k, key in enumerate(LEARNED) if key in solved.names]
    wanted = [solved.names.index(LEARNED[k]) for k in known]
    others = [k for k in range(len(solved.names)) if k not in wanted]
    through = precision[np.ix_(wanted, others)] @ np.linalg.inv(np.eye(len(others)) + precision[np.ix_(others, others)])
    said = UnitLikelihood(np.zeros((len(LEARNED), len(LEARNED))), np.zeros(len(LEARNED)))
    said.precision[np.ix_(known, known)] = (
        precision[np.ix_(wanted, wanted)] - through @ precision[np.ix_(others, wanted)]
    )
    said.pull[known] = pull[wanted] - through @ pull[others]
    return said


@dataclass(frozen=True)
class _Solved:
    """The scaling that fits best: logarithms are ``mean + root @ z``, and z is normal with size 1 before the points.

    ``seen`` (n, k) derivatives of the weighted residuals by z; ``common`` effect of each common error on z, (k,)
    ``weight`` : of the points, 1 or less where they scatter more than stated
    ``flow`` : at which the elements' shares are evaluated
    """

    dry: PressureModel
    names: list[str]
    first: Floats  # stated standard uncertainties
    mean: Floats
    root: Floats
    z: Floats
    seen: Floats
    spread: Floats
    common: dict[str, Floats]
    weight: float
    chi_square: float
    freedom: int
    flow: float
    posterior: PointsPosterior

    @property
    def logs(self) -> Floats:
        found: Floats = self.mean + self.root @ self.z
        return found


def _solve(
    wet: PressureModel, dry_points: Sequence[SteadyPoint], wet_points: Sequence[SteadyPoint], least: int = 3
) -> _Solved:
    """Least squares with the parameters' first uncertainties as observations of their own."""
    dry = replace(wet, conditions=replace(wet.conditions, wet=False), factors={}, errors=None, learned=None)
    sets = [(dry, _flowing(dry_points)), (wet, _flowing(wet_points))]
    n = sum(len(points) for _, points in sets)
    if n < least:
        raise TooFewPoints(
            f"the minimum is {least} steady points through the generator, and there {'is' if n == 1 else 'are'} {n}",
            remedy="Hold at three or more different flows, dry or wet",
        )
    names = [key for key in wet.parameters if wet_points or key in dry.parameters]
    first = np.array([wet.uncertainties[key] for key in names])
    mean, root = _first_normal(wet, names, first)
    flows = [np.array([point.flow for point in points]) for _, points in sets]
    measured = [np.array([point.pressure for point in points]) for _, points in sets]
    pressures = np.concatenate(measured)

    def scaled(theta: Floats) -> list[tuple[PressureModel, tuple[SteadyPoint, ...]]]:
        step = dict(zip(names, mean + root @ theta, strict=True))
        return [(replace(model, factors={}, errors=None).moved(step), points) for model, points in sets]

    def residual(theta: Floats, w: Floats) -> Floats:
        reckoned = [[model.pressure(x) for x in q] for (model, _), q in zip(scaled(theta), flows, strict=True)]
        return np.concatenate([theta, w @ (np.concatenate(reckoned) - pressures)])

    # The pressure equivalent of a flow error depends on the slope of the line, and a sheet's slope may be twice the
    # true one. The points are therefore weighted again with the slope of the scaled model.
    theta = np.zeros(len(names))
    for _ in range(2):
        w, random, common = _whitening(scaled(theta))
        # beyond 8 first uncertainties it is another generator, not a scaled one
        found = scipy.optimize.least_squares(
            residual, theta, bounds=(-8.0, 8.0), method="trf", x_scale=1.0, diff_step=1e-4, args=(w,)
        )
        theta = np.clip(found.x, -7.95, 7.95)
    if not found.success or np.any(np.abs(found.x) > 7.9):
        raise NotIdentifiable(
            "no scaling of the build's elements fits the measured line",
            remedy="Compare the build sheet with the generator, and check that the sweep is of this generator",
        )
    chi_square = float(np.sum(found.fun[len(names) :] ** 2))
    seen = found.jac[len(names) :]
    freedom = max(n - _informed(seen), 1)
    # points that scatter more than stated have less weight (never more)
    less = 1.0 / sqrt(max(chi_square / freedom, 1.0))
    seen = seen * less
    spread = np.linalg.inv(np.eye(len(names)) + seen.T @ seen)
    # effect on the parameters of one standard uncertainty of each error common to the points
    moved = {name: root @ (spread @ seen.T @ (less * (w @ effect))) for name, effect in common.items()}
    flow = float(np.median(np.concatenate(flows)))
    bare = [(replace(model, factors={}, errors=None), q) for (model, _), q in zip(sets, flows, strict=True)]
    posterior = PointsPosterior(bare, names, mean, root, found.x, pressures, less * w, random / less, common)
    return _Solved(
        dry, names, first, mean, root, found.x, seen, spread, moved, less * less, chi_square, freedom, flow, posterior
    )


def _first_normal(model: PressureModel, names: list[str], first: Floats) -> tuple[Floats, Floats]:
    """Mean (k,) of the logarithms before the points, and a (k, k) root of their covariance."""
    mean, root = np.zeros(len(names)), np.diag(first)
    learned = model.learned
    by_tension = [key for key in model.tension_errors if learned is None or key not in learned.keys]
    if len(by_tension) > 1 and all(key in names for key in by_tension):
        places = [names.index(key) for key in by_tension]
        shared = np.array([model.tension_errors[key] for key in by_tension])
        root[np.ix_(places, places)] = np.linalg.cholesky(
            np.diag(first[places] ** 2 - shared**2) + np.outer(shared, shared)
        )
    if learned is not None:
        known = [k for k, key in enumerate(learned.keys) if key in names]
        places = [names.index(learned.keys[k]) for k in known]
        mean[places] = learned.mean[known]
        root[np.ix_(places, places)] = np.linalg.cholesky(learned.covariance[np.ix_(known, known)])
    return mean, root


def _flowing(points: Sequence[SteadyPoint]) -> tuple[SteadyPoint, ...]:
    return tuple(point for point in points if point.flow > 0.0)


def _whitening(
    sets: Sequence[tuple[PressureModel, Sequence[SteadyPoint]]],
) -> tuple[Floats, Floats, dict[str, Floats]]:
    """(n, n) matrix that makes the pressure errors of all points, flow errors carried over by the models' slopes,
    independent and of unit size; standard uncertainties of each point alone, (n,); and by name the effect on the
    pressures, (n,), of one standard uncertainty of each error common to points, also between dry and wet ones.
    """
    points = [(model, point) for model, some in sets for point in some]
    common: dict[str, Floats] = {}
    random = np.zeros(len(points))
    for k, (model, point) in enumerate(points):
        q = point.flow
        slope = (model.pressure(1.02 * q) - model.pressure(0.98 * q)) / (0.04 * q)
        total = point.u_pressure**2 + (slope * point.u_flow) ** 2 - 2 * slope * point.covariance
        for part in point.common:
            effect = part.on_pressure - slope * part.on_flow
            common.setdefault(part.name, np.zeros(len(points)))[k] += effect
            total -= effect**2
        random[k] = max(total, 0.0) + (MODEL_FLOOR * point.pressure) ** 2
    covariance = np.diag(random) + sum((np.outer(e, e) for e in common.values()), np.zeros((len(points),) * 2))
    return np.linalg.inv(np.linalg.cholesky(covariance)), np.sqrt(random), common


def _informed(jacobian: Floats) -> int:
    """Number of parameter combinations that the points determine better than the sources."""
    return int(np.sum(np.linalg.svd(jacobian, compute_uv=False) > 1.0))


def _result(
    wet: PressureModel,
    dry: PressureModel | None,
    solved: _Solved,
) -> ModelFit:
    names, first, flow, moved = solved.names, solved.first, solved.flow, solved.common
    covariance = solved.root @ solved.spread @ solved.root.T
    logs = dict(zip(names, solved.logs.tolist(), strict=True))
    if wet.learned is not None:  # for parameters that dry points say nothing about
        logs = wet.learned.factors | logs
    matter = _matters(replace(wet, factors=logs, errors=None), names, flow)
    parameters = []
    for k, key in enumerate(names):
        per = log(2.0) if key in SLOPES else 1.0  # an exponent is shown as the factor for a doubled flow
        usual = wet.usual_slope(SLOPES[key]) if key in SLOPES else 0.0
        value, u = exp(per * (usual + logs[key])), per * sqrt(covariance[k, k])
        u_first = sqrt(covariance[k, k]) / first[k]
        factor = Estimate.positive(value, u, "1")
        parameters.append(FittedParameter(key, PARAMETER_LABELS[key], factor, bool(u_first < SETTLED)))
    errors = _errors(names, covariance, moved)
    draws = FactorDraws(frozenset(errors), solved.posterior.draws)
    wet_model, dry_model = (
        None if one is None else replace(one, factors=logs, errors=_with_others(one, names, errors), measured=draws)
        for one in (wet, dry)
    )
    assert wet_model is not None
    undivided = (
        {"wet": _unresolved(wet_model, flow)} if any(key not in (dry or wet).parameters for key in names) else {}
    )
    if dry_model is not None:
        undivided["dry"] = _unresolved(dry_model, flow)
    far = solved.logs / first
    words = _words(parameters, undivided, matter, far, solved.chi_square, solved.freedom)
    return ModelFit(wet_model, dry_model, tuple(parameters), undivided, solved.chi_square, solved.freedom, words)


def _unresolved(model: PressureModel, flow: float) -> tuple[tuple[str, ...], ...]:
    """Groups of elements with only the sum of their pressures determined by the data (anticorrelated).

    An element that is well known by itself is not included.
    """
    covariance = _of_elements(model, flow)
    u = np.sqrt(np.diag(covariance))
    base = model.drops(STANDARD_DENSITY * flow)
    keys, least = list(base), MATTERS * sum(base.values())
    open_ = [k for k, key in enumerate(keys) if base[key] > least and u[k] > WELL_KNOWN * base[key]]
    groups: list[set[str]] = []
    for i in open_:
        for j in open_:
            if i < j and covariance[i, j] < ALIKE * u[i] * u[j]:
                pair = {keys[i], keys[j]}
                near = [group for group in groups if group & pair]
                groups = [group for group in groups if group not in near]
                groups.append(pair.union(*near))
    return tuple(tuple(key for key in keys if key in group) for group in groups)


def _of_elements(model: PressureModel, flow: float) -> Floats:
    """(n, n) covariance of the elements' pressures, Pa², in the order of the air."""
    m = STANDARD_DENSITY * flow
    shifts = []
    for _, step in model.effects:
        up, down = model.moved(step).drops(m), model.moved({k: -v for k, v in step.items()}).drops(m)
        shifts.append([(up[key] - down[key]) / 2 for key in up])
    rows = np.array(shifts)
    product: Floats = rows.T @ rows
    return product


def _matters(model: PressureModel, names: list[str], flow: float) -> dict[str, bool]:
    base = model.pressure(flow)
    return {key: abs(model.moved({key: 0.1}).pressure(flow) - base) > 0.1 * MATTERS * base for key in names}


def _errors(names: list[str], covariance: Floats, moved: dict[str, Floats]) -> dict[str, dict[str, float]]:
    """The covariance as independent errors, with the same names for dry, wet and every build derived from this one.

    Sensor errors common with other sweeps keep their names, because they shift the source's curve and the generator
    together: a pressure that reads high does so in both and cancels at the operating point, a flow that reads high does
    not.
    """
    shared = sum((np.outer(step, step) for step in moved.values()), np.zeros_like(covariance))
    values, vectors = np.linalg.eigh(covariance - shared)
    steps = {f"generator, scaled: {k + 1}": sqrt(max(v, 0.0)) * vectors[:, k] for k, v in enumerate(values)}
    return {name: dict(zip(names, step.tolist(), strict=True)) for name, step in (steps | moved).items()}


def _with_others(
    model: PressureModel, names: list[str], errors: Mapping[str, Mapping[str, float]]
) -> tuple[tuple[str, Mapping[str, float]], ...]:
    """The errors as far as a model has their parameters; those outside of the fit keep their first uncertainty."""
    known = model.parameters
    fitted = [(name, {key: value for key, value in step.items() if key in known}) for name, step in errors.items()]
    return (*fitted, *model.first_errors(key for key in known if key not in names))


def _words(
    parameters: list[FittedParameter],
    undivided: dict[str, tuple[tuple[str, ...], ...]],
    matter: dict[str, bool],
    theta: Floats,
    chi_square: float,
    freedom: int,
) -> tuple[str, ...]:
    words = []
    if told := [item.label for item in parameters if item.settled and matter[item.key] and item.key not in SLOPES]:
        words.append("the measurement determines " + _and(told))
    for state, groups in undivided.items():
        for group in groups:
            labels = _and([LABELS[key] for key in group])
            words.append(f"{state}, it cannot separate {labels}: only their sum is known well")
    shared = {key for groups in undivided.values() for group in groups for key in group}
    held = [
        item.label
        for item in parameters
        if item.key in LABELS and not item.settled and item.key not in shared and matter[item.key]
    ]
    if held:
        words.append(f"for {_and(held)} the value from geometry is used, with its own uncertainty")
    for item, moved in zip(parameters, theta, strict=True):
        if abs(moved) > FAR and matter[item.key]:
            words.append(
                f"{item.label} is {item.factor.value:.2g}× the value from geometry, beyond its uncertainty: check "
                "that part and its entry in the sheet"
            )
    if chi_square > freedom + 3.0 * sqrt(2.0 * freedom):
        words.append("the scatter about the scaled model exceeds the uncertainty of the points")
    return tuple(words)


def _and(items: list[str]) -> str:
    return items[0] if len(items) == 1 else ", ".join(items[:-1]) + " and " + items[-1]
