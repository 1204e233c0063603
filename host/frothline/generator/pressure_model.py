"""The pressure model of a build: the pressure drop of each element at an air flow, dry and wet, from its geometry.

The calculation goes upstream from the bucket, because the air in an element expands to the pressure behind it. In order
of the air: fittings and hose; the holes of the diffusion tube (compressible; those under liquid lift it and open
against its surface tension); the packing (dry law, times a wet multiplier, plus the entry pressure of its pores); the
outlet.

Each uncertain coefficient is one parameter: a factor on the element's pressure drop, with a stated uncertainty of its
logarithm. Wet packing and foam in the outlet have a second parameter each, an exponent: no source gives their growth
with speed, and a fixed form would understate the uncertainty of extrapolations. It refers to the speed in the part
itself, so that a result from one bore applies to another. ``generator.model_fit`` narrows all of them by measured
sweeps.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from functools import cached_property
from math import pi, sqrt
from typing import cast

import numpy as np
import scipy

from frothline.curve.resistance import ResistanceLine
from frothline.curve.uncertain_curve import ALL_POWERS, Uncertain
from frothline.errors import OutsideValidity
from frothline.estimate import Estimate
from frothline.generator.build import Build
from frothline.generator.factor_draws import FactorDraws
from frothline.generator.learned_factors import Experience, LearnedFactors
from frothline.generator.operating_conditions import OperatingConditions
from frothline.generator.packing_model import _positive
from frothline.generator.pressure_terms import (
    LABELS,
    TENSION,
    TERMS,
    FixedTerms,
    Term,
    TermInput,
    tension_errors,
    uncertainties_of,
    usual_slope,
)
from frothline.numerics.arrays import Floats
from frothline.physics.air import STANDARD_DENSITY, Real
from frothline.physics.manifold import perforated_pipe

BEYOND = 1e6  # Pa
KEPT = 5000  # pressure drops of terms that a model and those moved from it remember


@dataclass(frozen=True)
class PressureShare:
    """Pressure drop of one element at an air flow: key and label, pressure (Pa) with interval, share of the whole."""

    key: str
    label: str
    pressure: Estimate
    share: float


@dataclass(frozen=True)
class PressureModel:
    """The geometry model of a build under stated conditions.

    ``factors`` : natural logarithm of the factor on each parameter (SLOPES: the exponent), 0 where none is given
    ``errors`` : independent errors, each a name and the shift of those logarithms by one standard uncertainty; None
        means the uncertainty of each parameter before this build was measured
    ``experience`` : what other measured builds say, for this build and for those changed from it
    ``learned`` : the prior that it gives for this build; None without one. ``from_sheet`` sets both.
    ``measured`` : draws from the points measured through it, which stand for some of ``errors``; None without points
    """

    build: Build
    conditions: OperatingConditions
    factors: Mapping[str, float] = field(default_factory=dict)
    errors: tuple[tuple[str, Mapping[str, float]], ...] | None = None
    experience: Experience | None = field(default=None, repr=False)
    learned: LearnedFactors | None = field(default=None, repr=False, compare=False)
    measured: FactorDraws | None = field(default=None, repr=False, compare=False)
    # drops of a term and their sum by its number, mass flow, pressure behind it and factors; common to all ``moved``
    # models
    _known: dict[tuple[int, float, float, tuple[float, ...]], tuple[dict[str, float], float]] = field(
        default_factory=dict, init=False, repr=False, compare=False
    )

    # -- what is uncertain ---------------------------------------------------------------------------------------

    @cached_property
    def uncertainties(self) -> dict[str, float]:
        """Parameter -> standard uncertainty of the logarithm of its factor, before anything was measured."""
        return uncertainties_of(self.build, self.conditions)

    @cached_property
    def tension_errors(self) -> dict[str, float]:
        """Parameter -> share of its uncertainty that is the surface tension's, common to all of them."""
        return tension_errors(self.build, self.conditions)

    @cached_property
    def _of(self) -> TermInput:
        return TermInput(self.build, self.conditions, self.factors, self._fixed)

    @cached_property
    def _fixed(self) -> FixedTerms:
        return FixedTerms(self.build, self.conditions)

    @cached_property
    def _terms(self) -> tuple[tuple[Term, tuple[float, ...]], ...]:
        """The terms, each with the logarithms of the factors that it reads."""
        return tuple((term, tuple(self.factors.get(key, 0.0) for key in term.factors)) for term in TERMS)

    @property
    def parameters(self) -> tuple[str, ...]:
        return tuple(self.uncertainties)

    def moved(self, step: Mapping[str, float]) -> PressureModel:
        """The model with some logarithms shifted; cached results of the build are calculated again."""
        factors = dict(self.factors)
        for key, value in step.items():
            factors[key] = factors.get(key, 0.0) + value
        model = replace(self, factors=factors)
        object.__setattr__(model, "_known", self._known)
        model.__dict__["_fixed"] = self._fixed  # as cached_property keeps it
        return model

    def usual_slope(self, key: str) -> float:
        """Exponent of the speed in a factor before anything was measured."""
        return usual_slope(self.build, key)

    # -- the walk ------------------------------------------------------------------------------------------------

    def drops(self, mass_flow: float) -> dict[str, float]:
        """Pressure drop of each element, Pa, in flow order, at a mass flow of air, kg/s.

        Raises OutsideValidity for a flow below zero, or one that needs more than 2 bar.
        """
        found: dict[str, float] = {}
        for taken, _ in self._walk(mass_flow):
            found.update(taken)
        return {key: found[key] for key in LABELS if key in found}

    def pressure(self, standard_flow: float) -> float:
        """Gauge pressure, Pa, that the build needs at a standard flow, m³/s at 1.2 kg/m³."""
        return sum([taken for _, taken in self._walk(standard_flow * STANDARD_DENSITY)])

    def drawn(self, shifts: Mapping[str, Floats], flows: Floats) -> Floats:
        """Gauge pressures, Pa, (n, m), at standard flows above zero (m,), with the logarithms of the factors shifted by
        n draws, (n,) each; at most BEYOND, where the model's range has ended.
        """
        factors: dict[str, Real] = dict(self.factors)
        for key, shift in shifts.items():
            factors[key] = factors.get(key, 0.0) + shift
        of = TermInput(self.build, self.conditions, factors, self._fixed)
        ambient = self.conditions.ambient.pressure
        n = max((len(shift) for shift in shifts.values()), default=1)
        found = np.empty((n, len(flows)))
        with np.errstate(over="ignore", invalid="ignore"):
            for k, q in enumerate(flows):
                p = np.full(n, ambient)
                for term in TERMS:
                    for taken in term.drops(of, float(q) * STANDARD_DENSITY, p).values():
                        p = np.fmin(p + taken, ambient + BEYOND)
                found[:, k] = p - ambient
        return found

    def _walk(self, mass_flow: float) -> list[tuple[dict[str, float], float]]:
        """Pressure drops of each term and their sum, Pa, upstream from the bucket; errors as of ``drops``."""
        if mass_flow < 0.0:
            raise OutsideValidity("the air flow is below zero", remedy="Give it as it runs to the bucket")
        p = self.conditions.ambient.pressure
        highest = p + 200e3
        walked = []
        known = self._known
        for number, (term, factors) in enumerate(self._terms):
            asked = number, mass_flow, p, factors
            taken = known.get(asked)
            if taken is None:
                if len(known) >= KEPT:
                    known.clear()
                drops = cast("dict[str, float]", term.drops(self._of, mass_flow, p))
                taken = known[asked] = drops, sum(drops.values())
            walked.append(taken)
            p += taken[1]
            if not p < highest:
                raise OutsideValidity(
                    f"{mass_flow * 1e3:.3g} g/s of air would need more than 200 kPa",
                    remedy="Give a smaller flow; a blower cannot deliver this",
                )
        return walked

    # -- results for other modules
    # -----------------------------------------------------------------------------------------

    @property
    def effects(self) -> tuple[tuple[str, Mapping[str, float]], ...]:
        """``errors``, or those of the parameters before this build was measured."""
        if self.errors is not None:
            return self.errors
        return self.first_errors(self.parameters)

    def first_errors(self, keys: Iterable[str]) -> tuple[tuple[str, Mapping[str, float]], ...]:
        """Independent errors of some parameters before this build was measured: each by its stated uncertainty, those
        that other builds tell about together, and the surface tension that capillary pressures have in common.
        """
        chosen = set(keys)
        wanted = [key for key in self.parameters if key in chosen]
        known = () if self.learned is None else tuple(key for key in self.learned.keys if key in wanted)
        shared = {key: u for key, u in self.tension_errors.items() if key in wanted and key not in known}
        alone = [
            (f"generator: {key}", {key: sqrt(self.uncertainties[key] ** 2 - shared.get(key, 0.0) ** 2)})
            for key in wanted
            if key not in known
        ]
        common = [(TENSION, shared)] if shared else []
        return (*alone, *common, *(self.learned.errors(known) if self.learned is not None and known else ()))

    def line(self, highest_flow: float, lowest_flow: float = 0.0) -> ResistanceLine:
        """The resistance p = c + a q + b q² nearest to the model between two standard flows (m³/s), with its errors.

        From no flow upward c, a and b are kept from going below zero; over a narrower stretch, where the form is
        closer, they are free. Every uncertain parameter enters as a common error with its name, so that two builds are
        compared correctly. The notes give the largest misfit of the form. A line from zero flow ends before
        ``highest_flow`` if no blower can drive that flow; a line from ``lowest_flow`` raises OutsideValidity.
        """
        if lowest_flow <= 0.0:
            highest_flow = self._drivable(highest_flow)
        flows = np.linspace(max(lowest_flow, 0.04 * highest_flow), highest_flow, 13)
        powers = np.arange(3)
        base = np.array([self.pressure(q) for q in flows])
        columns = np.vander(flows / highest_flow, len(powers), increasing=True)
        weight = 1.0 / np.maximum(base, 0.05 * base[-1])  # relative misfit, down to a twentieth of the largest

        def coefficients(pressures: Floats, *, positive: bool) -> Floats:
            rows, wanted = columns * weight[:, None], pressures * weight
            found = scipy.optimize.nnls(rows, wanted)[0] if positive else np.linalg.lstsq(rows, wanted, rcond=None)[0]
            full = np.zeros(len(ALL_POWERS))
            full[: len(powers)] = found / highest_flow**powers
            return full

        middle = coefficients(base, positive=lowest_flow <= 0.0)
        shifted = []
        for name, step in self.effects:
            raised, lowered = self.moved(step), self.moved({k: -v for k, v in step.items()})
            up = np.array([raised.pressure(q) for q in flows])
            down = np.array([lowered.pressure(q) for q in flows])
            shifted.append((name, coefficients((up - down) / 2, positive=False)))
        curve = Uncertain(middle, effects=tuple(shifted))
        misfit = float(np.max(np.abs(curve.value(flows) - base) * weight))
        state = "wet" if self.conditions.wet else "dry"
        return ResistanceLine(
            a=float(middle[1]),
            b=float(middle[2]),
            c=float(middle[0]),
            covariance=curve.covariance[:3, :3],
            name=f"{self.build.name}, {state}",
            notes=(f"from geometry; the form follows the model to {100 * misfit:.1f} %",),
            measured=curve,
        )

    def _drivable(self, flow: float) -> float:
        """The flow, or the largest flow in the range of the model within its errors."""
        models = [self, *(self.moved({k: s * v for k, v in step.items()}) for _, step in self.effects for s in (1, -1))]
        while flow > 1e-6:
            try:
                for model in models:
                    model.pressure(flow)
            except OutsideValidity:
                flow /= 1.3
            else:
                break
        return flow

    def shares(self, standard_flow: float) -> tuple[PressureShare, ...]:
        """Pressure drop of each element at a standard flow, m³/s, in flow order, with its 95 % interval."""
        m = standard_flow * STANDARD_DENSITY
        base = self.drops(m)
        variance = dict.fromkeys(base, 0.0)
        for _, step in self.effects:
            up, down = self.moved(step).drops(m), self.moved({k: -v for k, v in step.items()}).drops(m)
            for key in base:
                variance[key] += ((up[key] - down[key]) / 2) ** 2
        total = sum(base.values())
        return tuple(
            PressureShare(key, LABELS[key], _positive(taken, sqrt(variance[key])), taken / total if total > 0 else 0.0)
            for key, taken in base.items()
        )

    def evenness(self, standard_flow: float) -> float:
        """Largest over smallest flow of the holes along the tube, at a standard flow, m³/s, all of them open.

        Raises OutsideValidity if the holes together are too large for the tube.
        """
        t, m = self.build.tube, standard_flow * STANDARD_DENSITY
        drops = self.drops(m)
        outside = self.conditions.ambient.pressure + sum(drops.get(k, 0.0) for k in ("outlet", "packing", "pores"))
        rho = (outside + drops["holes"] / 2) / self._fixed.gas[0]
        C = self._fixed.discharge
        spread = perforated_pipe(
            m / rho,
            t.bore,
            t.pitch,
            t.holes_per_row,
            t.hole,
            rho,
            self._fixed.viscosities[0],
            C,
            holes_per_station=t.rows,
        )
        return spread.evenness

    def hole_velocity(self, standard_flow: float) -> float:
        """Jet speed, m/s: mass flow over the open holes' area and the density behind them, without jet contraction; at
        most the speed of sound.
        """
        m = standard_flow * STANDARD_DENSITY
        drops = self.drops(m)
        outside = self.conditions.ambient.pressure + sum(drops.get(k, 0.0) for k in ("outlet", "packing", "pores"))
        t = self.build.tube
        rho = outside / self._fixed.gas[0]
        open_holes = t.holes
        if self.conditions.wet and 0 < t.under_liquid < t.holes and drops.get("head", 0.0) == 0.0:
            open_holes = t.holes - t.under_liquid
        sound = replace(self.conditions.ambient, temperature=self.conditions.line_temperature).sound_speed
        return float(min(m / (rho * open_holes * pi / 4 * t.hole**2), sound))


def from_sheet(
    build: Build,
    conditions: OperatingConditions,
    experience: Experience | None = None,
    factors: Mapping[str, float] | None = None,
) -> PressureModel:
    """The model of a build that was not measured, with what other measured builds say about its wet packing.

    ``factors`` : logarithms of factors that are known from elsewhere; they take precedence
    """
    bare = PressureModel(build, conditions, factors or {}, experience=experience)
    learned = None if experience is None else experience.factors_for(build, bare.uncertainties)
    if learned is None:
        return bare
    return replace(bare, factors=learned.factors | dict(bare.factors), learned=learned)
