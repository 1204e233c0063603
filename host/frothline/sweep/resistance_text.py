"""A measured resistance as text and as data: terms, form, chi-squared, and the power law through the same points."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from frothline.curve.power_law import PowerLaw
from frothline.curve.resistance_fit import ResistanceFit
from frothline.formatting import RATIO, full_text, unit_of
from frothline.rounding import counted
from frothline.units import Unit


def resistance_text(fit: ResistanceFit, system: str) -> list[str]:
    """Lines for a reader who uses ``system``; a, b and c are in SI, as the option --resistance takes them."""
    terms = [f"{name} = {full_text(one, Unit(one.unit, 1.0))}" for name, one in fit.line.estimates().items()]
    lines = [
        f"generator: {fit.why}; {_fitted(fit)}; {len(fit.points)} points",
        *(f"  {term}" for term in terms),
    ]
    if fit.power_law is not None:
        lines += [f"  {power_law_text(fit.power_law, system)}; {_fitted(fit.power_law)}"]
    return lines + [f"  refused {one.start:.1f} to {one.end:.1f} s: {one.reason}" for one in fit.refused]


def power_law_text(law: PowerLaw, system: str) -> str:
    """The law with the uncertainty of k and n, k in the reader's units of pressure and flow."""
    pressure, flow = unit_of("pressure", system), unit_of("flow", system)
    k = replace(law.at(flow.to_si(1.0)), extrapolated=False)
    return f"power law p = k Qⁿ, Q in {flow.symbol}: k = {full_text(k, pressure)}, n = {full_text(law.n, RATIO)}"


def resistance_data(fit: ResistanceFit) -> dict[str, Any]:
    """The same in SI, for --json."""
    law = fit.power_law
    return {
        "form": fit.form,
        "why": fit.why,
        "chi_square": fit.chi_square,
        "degrees_of_freedom": fit.degrees_of_freedom,
        "range": fit.range,
        **fit.line.estimates(),
        "power_law": None
        if law is None
        else {
            "k": law.k,
            "n": law.n,
            "chi_square": law.chi_square,
            "degrees_of_freedom": law.degrees_of_freedom,
            "weight": fit.power_law_weight,
        },
    }


def _fitted(fit: ResistanceFit | PowerLaw) -> str:
    freedom = counted(fit.degrees_of_freedom, "degree of freedom", "degrees of freedom")
    return f"chi² {fit.chi_square:.3g} at {freedom}"
