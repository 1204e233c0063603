"""Generators that do not exist, with everything about their resistance known, and the points measured through them.

It imports NumPy and nothing of the package, so that a mistake in the fit cannot also be in what the fit is judged by.
``draw(rng)`` gives one sweep of steady points.

What varies, uniformly unless said otherwise (common practice and judgement, no source):

    shape: linear; square; the sum of both with a share of 10-90 %; a power from 0.9 to 2.2; a smooth pipe with a square
           loss (powers 1.75 and 2, outside the fitted forms); the sum of both above an entry pressure of 5-30 % of the top
    highest flow 15-80 L/s, pressure there 1.5-15 kPa;  lowest flow 5-25 % of the highest
    4-12 points at uneven flows, measured from low to high, from high to low or in random order
    random errors: pressure 0.1-1 % of the highest, flow 0.2-1.5 % of reading plus 0.01-0.1 L/s
    the scatter is what is stated (70 %) or twice that (30 %)
    common errors (in half of the sweeps): pressure span 0.3-1.5 % and zero 2-15 Pa, flow factor 0.5-3 %
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

KINDS = ("linear", "square", "both", "power", "pipe", "entry")
ORDERS = ("ascending", "descending", "random")


@dataclass(frozen=True)
class Resistance:
    kind: str
    top_flow: float  # m3/s
    top_pressure: float  # Pa
    terms: tuple[tuple[float, float], ...]  # (share of the pressure at the highest flow, power)

    def pressure(self, q):
        x = np.asarray(q, dtype=float) / self.top_flow
        return self.top_pressure * sum(share * x**power for share, power in self.terms)


@dataclass(frozen=True)
class Sweep:
    """Measured points, (n,) each, in the order in which they were measured; common: name -> effects on p and q."""

    truth: Resistance
    order: str
    q: np.ndarray
    p: np.ndarray
    u_q: np.ndarray  # stated random standard uncertainties
    u_p: np.ndarray
    common: dict[str, tuple[np.ndarray, np.ndarray]]
    excess: float  # how many times the stated uncertainties the points really scatter


def draw_resistance(rng, kind=None):
    kind = kind or str(rng.choice(KINDS))
    share = rng.uniform(0.1, 0.9)
    entry = rng.uniform(0.05, 0.3)
    terms = {
        "linear": ((1.0, 1.0),),
        "square": ((1.0, 2.0),),
        "both": ((share, 1.0), (1 - share, 2.0)),
        "power": ((1.0, rng.uniform(0.9, 2.2)),),
        "pipe": ((share, 1.75), (1 - share, 2.0)),
        "entry": ((entry, 0.0), ((1 - entry) * share, 1.0), ((1 - entry) * (1 - share), 2.0)),
    }[kind]
    return Resistance(kind, rng.uniform(0.015, 0.08), rng.uniform(1.5e3, 15e3), terms)


def draw(rng, kind=None, number=None, order=None, excess=None):
    truth = draw_resistance(rng, kind)
    number = number or int(rng.integers(4, 13))
    order = order or str(rng.choice(ORDERS))
    excess = excess or float(rng.choice([1.0, 2.0], p=[0.7, 0.3]))
    x = np.linspace(rng.uniform(0.05, 0.25), 1.0, number)
    x = x + rng.uniform(-0.3, 0.3, number) * (x[1] - x[0]) * np.r_[0.0, np.ones(number - 2), 0.0]
    true_q = truth.top_flow * {"ascending": x, "descending": x[::-1], "random": rng.permutation(x)}[order]
    true_p = truth.pressure(true_q)
    u_p = np.full(number, rng.uniform(0.001, 0.01) * truth.top_pressure)
    u_q = np.hypot(rng.uniform(0.002, 0.015) * true_q, rng.uniform(1e-5, 1e-4))
    common = {}
    if rng.random() < 0.5:
        none = np.zeros(number)
        common["pressure span"] = (rng.uniform(0.003, 0.015) * true_p, none)
        common["pressure zero"] = (np.full(number, rng.uniform(2.0, 15.0)), none)
        common["flow factor"] = (none, rng.uniform(0.005, 0.03) * true_q)
    moved = [(rng.standard_normal(), on_p, on_q) for on_p, on_q in common.values()]
    q = true_q + sum(z * on_q for z, _, on_q in moved) + excess * u_q * rng.standard_normal(number)
    p = true_p + sum(z * on_p for z, on_p, _ in moved) + excess * u_p * rng.standard_normal(number)
    return Sweep(truth, order, q, p, u_q, u_p, common, excess)
