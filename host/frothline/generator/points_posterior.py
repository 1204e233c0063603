"""The posterior of a generator's factors given steady points measured through it, as draws."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from frothline.generator.factor_draws import DRAWS
from frothline.generator.pressure_model import PressureModel
from frothline.numerics.arrays import Floats
from frothline.numerics.posterior_draws import posterior_draws

SEED = 21  # fixed: the same points always give the same draws


@dataclass(frozen=True)
class PointsPosterior:
    """Points (m,) of a generator, dry and wet, and what was known of its k factors before.

    ``models`` : each with its flows, m³/s, in the order of the points; their factors are all 1
    ``names``, ``mean`` (k,), ``root`` (k, k) : the logarithms are ``mean + root @ z``, z standard normal before the
        points
    ``best`` : (k,) z of the best fit
    ``pressures`` : Pa, as read;  ``whitening`` : (m, m), makes their errors independent and of unit size
    ``random`` : (m,) Pa, standard uncertainties without the common errors
    ``common`` : sensor's error -> change of the pressures, (m,) Pa, by one standard uncertainty
    """

    models: Sequence[tuple[PressureModel, Floats]]
    names: Sequence[str]
    mean: Floats
    root: Floats
    best: Floats
    pressures: Floats
    whitening: Floats
    random: Floats
    common: Mapping[str, Floats]

    def _lack(self, z: Floats) -> Floats:
        """(n, m) calculated minus read pressures, Pa, at z (n, k)."""
        logs = dict(zip(self.names, (self.mean + z @ self.root.T).T, strict=True))
        drawn = [model.drawn(logs, flows) for model, flows in self.models if len(flows)]
        lack: Floats = np.hstack(drawn) - self.pressures
        return lack

    def draws(self) -> tuple[dict[str, Floats], dict[str, Floats]]:
        """Shifts of the logarithms from the best fit by name, and errors of the sensors, in standard uncertainties, by
        name; (DRAWS + 1,), the first one 0.
        """
        rng = np.random.default_rng(SEED)
        z, _ = posterior_draws(lambda z: np.hstack([z, self._lack(z) @ self.whitening.T]), self.best, DRAWS, rng)
        shifts = np.vstack([np.zeros(len(self.best)), (z - self.best) @ self.root.T])
        # given the factors, the errors of the sensors have a normal distribution: true pressure = read + error x effect
        effects = np.array(list(self.common.values())).reshape(len(self.common), len(self.random)) / self.random
        covariance = np.linalg.inv(np.eye(len(effects)) + effects @ effects.T)
        errors = self._lack(z) / self.random @ effects.T @ covariance
        errors += rng.standard_normal(errors.shape) @ np.linalg.cholesky(covariance).T
        errors = np.vstack([np.zeros(len(effects)), errors])
        return dict(zip(self.names, shifts.T, strict=True)), dict(zip(self.common, errors.T, strict=True))
