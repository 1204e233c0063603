"""Plausibility checks of the figures of a batch; an implausible figure is refused with the likely unit.

The limits are wide: they stop a slip of the unit or of the point, not an unusual mix. They are judgement, no source.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from math import isfinite
from typing import TYPE_CHECKING

from frothline.errors import InputError
from frothline.estimate import Estimate

if TYPE_CHECKING:
    from frothline.foam.batch_order import BatchOrder, MeasuredFoam


@dataclass(frozen=True)
class Limits:
    """``low`` to ``high`` in SI; ``slips`` : factors of commonly confused units, by name."""

    label: str
    low: float
    high: float
    unit: str = ""
    factor: float = 1.0  # SI over the displayed unit
    slips: Mapping[str, float] | None = None


# A weighed slurry density may be so far from that of its masses: cement 3.10 to 3.20, and air of the mixing; judgement
SLURRY_APART = 0.06
_DENSITIES = {"kg/L, g/cm³ or t/m³": 1000.0, "lb/ft³": 16.018463}
LIMITS: Mapping[str, Limits] = {
    "density": Limits("target density", 150.0, 2600.0, "kg/m³", slips=_DENSITIES),
    "volume": Limits("volume to fill", 1e-4, 50.0, "L", 1e-3, {"m³": 1000.0}),
    "water_cement": Limits("water/cement ratio", 0.2, 2.0, slips={"per cent": 0.01}),
    "sand_cement": Limits("sand/cement ratio", 0.0, 8.0, slips={"per cent": 0.01}),
    "bag": Limits("cement in one bag", 1.0, 2000.0, "kg", slips={"g": 0.001}),
    "bucket": Limits("bucket", 0.5e-3, 0.3, "L", 1e-3, {"m³": 1000.0}),
    "foam_density": Limits("foam density", 10.0, 400.0, "kg/m³", slips=_DENSITIES),
    "foam_output": Limits("foam output", 0.1 / 6e4, 5000.0 / 6e4, "L/min", 1 / 6e4, {"L/s": 60.0, "m³/min": 1000.0}),
    "slurry": Limits("density of the slurry", 1000.0, 2600.0, "kg/m³", slips=_DENSITIES),
    "cup": Limits("density of the cup", 100.0, 2600.0, "kg/m³", slips=_DENSITIES),
    "survival": Limits("share of the air that survives", 0.2, 1.0, slips={"per cent": 0.01}),
    "reservoir": Limits("reservoir", 0.2e-3, 10.0, "L", 1e-3, {"m³": 1000.0}),
}


def check_figure(name: str, value: float, where: str) -> float:
    """Check the value of an entry of LIMITS. Raises InputError with the entry and its remedy."""
    limits = LIMITS[name]
    if isfinite(value) and limits.low <= value <= limits.high:
        return value
    shown = f"{value / limits.factor:.6g} {limits.unit}".strip()
    if not isfinite(value):
        shown = f"{value}"
    remedy = f"Give {limits.low / limits.factor:.6g} to {limits.high / limits.factor:.6g} {limits.unit}".strip()
    for unit, factor in (limits.slips or {}).items():
        meant = value * factor
        if value > 0.0 and limits.low <= meant <= limits.high:
            remedy = f"If that is {unit}, write {meant / limits.factor:.6g} {limits.unit}".rstrip()
            break
    raise InputError(f"{limits.label} {shown} is not plausible", where=where, remedy=remedy)


def check_batch(order: BatchOrder, foam: MeasuredFoam) -> None:
    """Raise InputError for the first implausible figure of order or foam."""
    for name in ("density", "volume", "water_cement", "sand_cement", "bag", "bucket"):
        check_figure(name, getattr(order, name), f"batch: {name}")
    for name in ("cement_relative_density", "sand_relative_density"):
        value = getattr(order, name)
        if not 1.0 < value < 8.0:
            remedy = "Give the ratio to water, such as 3.15 for cement"
            raise InputError(f"{name.replace('_', ' ')} {value:g} is not plausible", where="batch", remedy=remedy)
    if not foam.density.known:
        raise InputError(
            "the foam's density is not known", where="batch: foam", remedy="Weigh a sample of the foam first."
        )
    check_figure("foam_density", foam.density.value, "batch: foam density")
    check_figure("survival", foam.survival.value, "batch: survival")
    if foam.output is not None and foam.output.known:
        check_figure("foam_output", foam.output.value, "batch: foam output")
    if foam.reservoir is not None:
        check_figure("reservoir", foam.reservoir, "batch: reservoir")
    named: dict[str, Estimate | None] = {
        "foam density": foam.density,
        "foam output": foam.output,
        "survival": foam.survival,
        "start-up": foam.start_up,
    }
    for name, estimate in named.items():
        if estimate is not None and estimate.known and not estimate.standard_uncertainty >= 0.0:
            raise InputError(
                f"the uncertainty of the {name} is {estimate.standard_uncertainty:g}",
                where=f"batch: {name}",
                remedy="Give a standard uncertainty of zero or more",
            )
