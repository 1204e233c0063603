"""Strength of own specimens, and what the builder's own cubes say about density and age.

A strength alone does not tell which mix was better: a heavier or an older specimen is stronger. Strengths are therefore
referred to one density and to 7 and 28 days by

    ln f = a + n ln(ρ/ρ_ref) + g ln(ln t/ln 28)        t in days

fitted to the builder's own specimens, with one constant a for each pour. Before ``FEWEST`` specimens there is no such
figure. The exponents n and g begin at published values with a wide standard uncertainty, because few own cubes have few
densities or only one age; own cubes narrow them down. The constants come from the builder's specimens alone.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from frothline.errors import InputError, TooFewPoints
from frothline.estimate import Z95, Estimate
from frothline.numerics.arrays import Floats
from frothline.numerics.scatter import widening
from frothline.numerics.uncertainty import student_factor
from frothline.pours.entries import DAY
from frothline.pours.outcome import unlike_cup
from frothline.pours.record import CYLINDER, PourRecord, Specimen
from frothline.rounding import counted

FEWEST = 6  # own specimens before any strength is referred
DENSITY_EXPONENT = (2.5, 0.8)  # n and its standard uncertainty. Judgement about two published fits: 1.95 and 2.66, by
# least squares over the strength classes of lightweight fill in a state's highway specification (section 19-10),
# without and with the lightest class
AGE_EXPONENT = (1.174, 0.4)  # g. Value: Kearsley and Wainwright 2002, from memory; its uncertainty is judgement
LEAST_SCATTER = 0.05  # of ln f between alike cubes; fewer cubes may agree better by chance; judgement, no source
USUAL_SCATTER = 0.12  # relative, of alike specimens of one pour, until several show theirs; judgement, no source
U_STRENGTH = 0.03  # relative standard uncertainty of one strength: load, edges, caps; judgement, no source
YOUNGEST = 1.5  # d: the law of age has no meaning near 1 d, where ln t is 0
AGES = (7.0, 28.0)  # d, to which strengths are referred
REACH = 1.5  # an age further away from the specimens' own by this factor counts as extrapolated; judgement

# Typical 7-day strength MPa by dry density kg/m³: from memory of a table of the British Cement Association; its end
# points agree with the Association's data sheet. A range from the literature, never a prediction for a builder's mix.
TYPICAL = (
    (400.0, 0.5, 1.0),
    (600.0, 1.0, 1.5),
    (800.0, 1.5, 2.0),
    (1000.0, 2.5, 3.0),
    (1200.0, 4.5, 5.5),
    (1400.0, 6.0, 8.0),
    (1600.0, 7.5, 10.0),
)


def typical_range(dry_density: float) -> tuple[float, float] | None:
    """Published 7-day strength at a dry density kg/m³, as a range in Pa; None outside 400 to 1600 kg/m³."""
    densities = [row[0] for row in TYPICAL]
    if not densities[0] <= dry_density <= densities[-1]:
        return None
    low, high = (float(np.interp(dry_density, densities, [row[k] for row in TYPICAL])) for k in (1, 2))
    return 1e6 * low, 1e6 * high


@dataclass(frozen=True)
class CrushedSpecimen:
    """A specimen with load, age and mass, and the pour that it belongs to."""

    pour: str
    specimen: Specimen

    @property
    def days(self) -> float:
        return self.specimen.age / DAY


def crushed(pours: Sequence[PourRecord]) -> list[CrushedSpecimen]:
    """All specimens of these pours with load, age and mass, old enough for the law of age."""
    return [
        CrushedSpecimen(pour.name, one)
        for pour in pours
        for one in pour.specimens
        if all(math.isfinite(value) for value in (one.load, one.age, one.mass)) and one.age >= YOUNGEST * DAY
    ]


@dataclass(frozen=True)
class StrengthLaw:
    """The fitted law. ``exponents`` n and g with their ``covariance`` (2, 2); ``scatter`` of ln f between alike
    specimens of one pour with ``freedom`` degrees of freedom; ``density`` kg/m³, the common one; ``shape`` of the
    specimens.
    """

    exponents: Floats
    covariance: Floats
    scatter: float
    freedom: float
    density: float
    shape: str
    specimens: tuple[CrushedSpecimen, ...]
    words: tuple[str, ...]

    @property
    def density_exponent(self) -> Estimate:
        """n, without unit."""
        return Estimate.normal(float(self.exponents[0]), math.sqrt(float(self.covariance[0, 0])), "1")

    @property
    def age_exponent(self) -> Estimate:
        """g, without unit."""
        return Estimate.normal(float(self.exponents[1]), math.sqrt(float(self.covariance[1, 1])), "1")

    def referred(self, pour: str, days: float) -> Estimate | None:
        """Mean strength of one pour's specimens, referred to the common density and an age, Pa; None without one.

        Extrapolated for an age beyond 1.5 times the oldest specimen of the pour, or below the youngest by as much.
        """
        mine = [one for one in self.specimens if one.pour == pour]
        if not mine:
            return None
        own = np.array([_terms(one, self.density) for one in mine])
        shift = np.array([0.0, _age_term(days)]) - own
        logs = np.array([math.log(one.specimen.strength) for one in mine]) + shift @ self.exponents
        slopes = shift.mean(axis=0)
        u = math.sqrt(self.scatter**2 / len(mine) + float(slopes @ self.covariance @ slopes) + U_STRENGTH**2)
        half = float(student_factor(self.freedom)) * u
        strength = math.exp(float(logs.mean()))
        youngest, oldest = (choose(one.days for one in mine) for choose in (min, max))
        return Estimate(
            strength,
            strength * u,
            strength * math.exp(-half),
            strength * math.exp(half),
            "Pa",
            extrapolated=not youngest / REACH <= days <= REACH * oldest,
            assumptions=(f"at {self.density:.0f} kg/m³, by {len(self.specimens)} own specimens",),
        )


def fit_strength(pours: Sequence[PourRecord], density: float | None = None) -> StrengthLaw:
    """Fit the law to all crushed specimens of one shape: the shape of most of them.

    Each pour has a constant a of its own: otherwise the exponents would absorb what a changed mix did.

    density : the common density, kg/m³; default: the median of the specimens

    Raises TooFewPoints with fewer than ``FEWEST`` specimens of one shape, InputError for a density that is not above 0.
    """
    loaded = crushed(pours)
    unlike = {pour.name: {one.number for one in unlike_cup(pour)} for pour in pours}
    every = [one for one in loaded if one.specimen.number not in unlike[one.pour]]
    odd = len(loaded) - len(every)
    shapes = [one.specimen.shape for one in every]
    shape = max(dict.fromkeys(shapes), key=shapes.count, default="cube")
    alike = tuple(one for one in every if one.specimen.shape == shape)
    if len(alike) < FEWEST:
        raise TooFewPoints(
            f"{counted(len(alike), 'specimen')} with load, age and mass; strengths are compared from {FEWEST} on",
            where="strength",
            remedy="Crush more specimens of your own. Published strengths do not predict yours",
        )
    if density is not None and density <= 0.0:
        raise InputError(f"a density of {density:g} kg/m³", where="strength", remedy="Give one above 0")
    common = float(np.median([one.specimen.density for one in alike])) if density is None else density
    exponents, covariance, scatter, freedom = _fitted(alike, common)
    words = [f"n = {exponents[0]:.2f} and g = {exponents[1]:.2f}, by {len(alike)} own specimens"]
    if len(alike) < len(every):
        others = counted(len(every) - len(alike), "specimen")
        words.append(f"{others} of another shape not used: shape changes the strength")
    if odd:
        words.append(f"{counted(odd, 'specimen')} not used: the density is not that of the cup of the pour")
    if shape == CYLINDER:
        words.append("strengths of cylinders, which are below those of cubes")
    return StrengthLaw(exponents, covariance, scatter, freedom, common, shape, alike, tuple(words))


def _age_term(days: float) -> float:
    return math.log(math.log(days) / math.log(28.0))


def _terms(one: CrushedSpecimen, density: float) -> tuple[float, float]:
    return math.log(one.specimen.density / density), _age_term(one.days)


def _fitted(specimens: Sequence[CrushedSpecimen], density: float) -> tuple[Floats, Floats, float, float]:
    """Exponents (2,), their covariance, scatter and degrees of freedom.

    Least squares with the published exponents as two further observations and one constant for each pour. The scatter
    is found by iteration. Degrees of freedom: specimens minus what they determine, the trace of the own part of the
    hat matrix.
    """
    names = list(dict.fromkeys(one.pour for one in specimens))
    constants = np.array([[float(one.pour == name) for name in names] for one in specimens])
    rows = np.hstack([np.array([_terms(one, density) for one in specimens]), constants])
    logs = np.array([math.log(one.specimen.strength) for one in specimens])
    published = (DENSITY_EXPONENT, AGE_EXPONENT)
    centre = np.array([*(value for value, _ in published), *np.zeros(len(names))])
    weight = np.diag([*(u**-2 for _, u in published), *np.zeros(len(names))])
    scatter, most = 0.15, max(float(len(logs) - len(names)), 1.0)
    freedom = most
    for _ in range(100):
        own = rows.T @ rows / scatter**2
        covariance = np.linalg.inv(own + weight)
        coefficients = covariance @ (rows.T @ logs / scatter**2 + weight @ centre)
        rest = logs - rows @ coefficients
        freedom = min(max(len(logs) - float(np.trace(covariance @ own)), 1.0), most)
        found = max(math.sqrt(float(rest @ rest) / freedom), LEAST_SCATTER)
        if abs(found - scatter) < 1e-9:
            break
        scatter = found
    return coefficients[:2], covariance[:2, :2], scatter, freedom


def strengths(pour: PourRecord) -> Mapping[float, Estimate]:
    """Measured strengths of a pour by age in days, Pa: mean of the specimens of that age."""
    found: dict[float, list[float]] = {}
    for one in pour.specimens:
        if math.isfinite(one.load) and math.isfinite(one.age):
            found.setdefault(round(one.age / DAY, 2), []).append(one.strength)
    return {days: _mean(values) for days, values in sorted(found.items())}


def _mean(values: Sequence[float]) -> Estimate:
    """Mean of alike specimens. Few of them may agree by chance: their usual scatter is the least, and where they differ
    by more, the interval is as wide as few readings allow.
    """
    n, mean = len(values), sum(values) / len(values)
    wider = widening(float(np.sum((np.array(values) / mean - 1.0) ** 2)) / USUAL_SCATTER**2, n - 1)
    u = mean * math.hypot(wider * USUAL_SCATTER / math.sqrt(n), U_STRENGTH)
    said = () if n > 1 else (f"one specimen: a scatter of {100 * USUAL_SCATTER:.0f} % is assumed",)
    return Estimate(mean, u, max(mean - Z95 * u, 0.0), mean + Z95 * u, "Pa", assumptions=said)
