"""Pressure-drop coefficients and pore size of a packing."""

from __future__ import annotations

from math import exp, log, sqrt

from frothline.estimate import Z95, Estimate
from frothline.generator.build import Packing
from frothline.physics import packing


def _positive(value: float, u: float) -> Estimate:
    """A log-normal 95 % interval, which keeps a loss above zero."""
    if value <= 0.0 or u <= 0.0:
        return Estimate(value, u, value, value, "Pa")
    spread = sqrt(log(1.0 + (u / value) ** 2))
    return Estimate(value, u, value * exp(-Z95 * spread), value * exp(Z95 * spread), "Pa")


def packing_coefficients(what: Packing, bore: float) -> tuple[float, float]:
    """α in 1/m and β dimensionless of a dry packing as installed: Δp = α μ v + β ρ v², v over the empty body.

    Raises OutsideValidity if the packing is outside the range of its law.
    """
    share = what.open_share(bore)
    if what.kind == "beads":
        alpha, beta = packing.ergun_coefficients(what.bead or 0.0, share)
        return alpha * what.length, beta * what.length
    if what.kind == "screens":
        return 0.0, 0.5 * packing.screen_loss_idelchik(share) * (what.layers or 0)
    K = packing.fibre_permeability_davies(what.wire or 0.0, share)
    return what.length / K, packing.FIBRE_INERTIAL * what.length / sqrt(K)


def packing_pore(what: Packing, bore: float) -> float:
    """Width of a packing's pores, m, for its opening pressure."""
    share = what.open_share(bore)
    if what.kind == "beads":
        return packing.pore_diameter_grains(what.bead or 0.0, share)
    if what.kind == "screens":
        return what.opening or 0.0
    return packing.pore_diameter_fibre(what.wire or 0.0, share)
