"""Foam properties of a build: captured share and expansion ratio, estimated from a prior and observations.

Two numbers relate foam to air: the captured share of the air, and the volumes of captured air to one of solution (the
expansion ratio minus one). Both are normal in their logarithms, start from ``usual`` and are narrowed by observations
with uncertainties of their own (least squares with prior, JCGM 100:2008 F.1.2): a weighed sample gives the ratio by its
density and, if timed, the captured share; a scale, a pump or an emptied reservoir gives solution over air. Errors
common to several observations (bucket volume, anemometer of an earlier session) are fitted as parameters, so that
repeated samples in one bucket do not reduce that bucket's error.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from math import exp, hypot, log, sqrt
from typing import TYPE_CHECKING

import numpy as np

from frothline.estimate import Estimate
from frothline.foam.prior import DRAWN, FoamPrior
from frothline.numerics.arrays import Floats

if TYPE_CHECKING:
    from frothline.foam.sample import FoamSample

REPEAT = 0.03  # relative: variation of foam from sample to sample of a steady run; judgement
GUESS = 0.5  # of the prior's uncertainty: a less certain estimate still counts as assumed


@dataclass(frozen=True)
class Observation:
    """An observed logarithm: its derivatives with respect to the logarithms of captured share and ratio, its value, its
    own standard uncertainty, and by source the shift by one standard uncertainty of common errors.
    """

    row: tuple[float, float]
    value: float
    u: float
    shared: Mapping[str, float] = field(default_factory=dict)


@dataclass(frozen=True)
class FoamProperties:
    """Logarithms of captured share and ratio: ``mean`` (2,), ``covariance`` (2, 2). The share refers to the air
    indicated by the anemometer, whose error cancels in foam rates; ``capture`` refers to the true air.
    """

    mean: Floats
    covariance: Floats
    log_capture: float
    u_log_capture: float
    prior: FoamPrior = DRAWN

    def along(self, gradient: Sequence[float]) -> float:
        """Standard uncertainty of a logarithm with these derivatives."""
        row = np.asarray(gradient)
        return sqrt(max(float(row @ self.covariance @ row), 0.0))

    @property
    def caught(self) -> float:
        return exp(float(self.mean[0]))

    @property
    def ratio(self) -> float:
        return exp(float(self.mean[1]))

    @property
    def capture(self) -> Estimate:
        """Captured share of the true air; at most 1, unless readings contradict each other."""
        found = Estimate.positive(exp(self.log_capture), self.u_log_capture, "1")
        if found.value > 1.0 or found.upper <= 1.0:
            return found
        return Estimate(found.value, found.standard_uncertainty, found.lower, 1.0, "1")

    @property
    def guesses_caught(self) -> bool:
        return self.u_log_capture > GUESS * self.prior.u_log

    @property
    def guesses_ratio(self) -> bool:
        return self.along((0.0, 1.0)) > GUESS * self.prior.u_ratio


def estimate_properties(
    observations: Sequence[Observation], u_anemometer: float = 0.0, prior: FoamPrior = DRAWN
) -> FoamProperties:
    """Estimate the properties from the observations. ``u_anemometer``: relative, between indicated and true air;
    ``prior``: of the captured share of true air, and of the ratio.
    """
    sources = sorted({source for seen in observations for source in seen.shared})
    n = 3 + len(
        sources
    )  # unknowns: two logarithms, that of shown over true air, and each shared error in its own units
    u_shown = max(u_anemometer, 1e-6)
    rows = [_unit(n, {0: 1.0, 2: 1.0}), _unit(n, {1: 1.0}), _unit(n, {2: 1.0})]
    values = [log(prior.value), log(prior.ratio), 0.0]
    us = [prior.u_log, prior.u_ratio, u_shown]
    for place in range(3, n):
        rows.append(_unit(n, {place: 1.0}))
        values.append(0.0)
        us.append(1.0)
    for seen in observations:
        shifts = {3 + sources.index(source): shift for source, shift in seen.shared.items()}
        rows.append(_unit(n, {0: seen.row[0], 1: seen.row[1]} | shifts))
        values.append(seen.value)
        us.append(seen.u)
    design = np.array(rows) / np.array(us)[:, None]
    covariance = np.linalg.inv(design.T @ design)
    mean = covariance @ design.T @ (np.array(values) / np.array(us))
    true = rows[0]
    u_true = sqrt(float(true @ covariance @ true))
    return FoamProperties(mean[:2], covariance[:2, :2], float(true @ mean), u_true, prior)


def _unit(n: int, entries: Mapping[int, float]) -> Floats:
    row = np.zeros(n)
    for place, value in entries.items():
        row[place] = value
    return row


def observations_of(sample: FoamSample, indicated_air: float | None) -> list[Observation]:
    """Observations of a sample. ``indicated_air``: m3/s of free air by this run's anemometer during filling; without
    it, the captured share is that of the sample with its own anemometer.
    """
    E = sample.expansion
    u_E, shared_E = _parts(sample, "expansion")
    r = E.value - 1.0
    per_ratio = E.value / r
    seen = [
        Observation(
            (0.0, 1.0), log(r), hypot(per_ratio * u_E, REPEAT), {key: per_ratio * c for key, c in shared_E.items()}
        )
    ]
    if sample.output is not None and indicated_air is not None and indicated_air > 0.0:
        u_out, shared_out = _parts(sample, "output")
        caught = sample.output.value * (1.0 - 1.0 / E.value) / indicated_air
        shared = {
            key: shared_out.get(key, 0.0) + shared_E.get(key, 0.0) / r for key in sorted({*shared_out, *shared_E})
        }
        seen.append(Observation((1.0, 0.0), log(caught), hypot(u_out, u_E / r, REPEAT), shared))
    elif sample.capture is not None and sample.capture.value > 0.0:
        u, shared = _parts(sample, "capture")
        seen.append(Observation((1.0, 0.0), log(sample.capture.value), hypot(u, REPEAT), shared))
    return seen


def _parts(sample: FoamSample, name: str) -> tuple[float, dict[str, float]]:
    """A figure's own relative standard uncertainty, and its parts common with others."""
    figure: Estimate = getattr(sample, name)
    shared = {source: shift / figure.value for source, shift in sample.shared.get(name, {}).items()}
    own = (figure.standard_uncertainty / figure.value) ** 2 - sum(shift**2 for shift in shared.values())
    return sqrt(max(own, 0.0)), shared
