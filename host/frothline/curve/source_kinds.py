"""Kinds of air sources: requirements for measurement, model and cautions of each."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import inf, isfinite, sqrt

import numpy as np
from numpy.typing import NDArray

from frothline.curve.blower import BlowerCurve, BlowerFit
from frothline.curve.curve_shapes import ALL_FORMS
from frothline.errors import OutsideValidity
from frothline.estimate import Z95, Estimate
from frothline.numerics.arrays import Floats
from frothline.physics import air


@dataclass(frozen=True)
class SourceKind:
    """One kind of air source.

    procedure : steps of the sweep, in order
    model : description of the fitted model
    forms : competing shapes
    """

    title: str
    procedure: tuple[str, ...]
    model: str
    cautions: tuple[str, ...]
    forms: tuple[str, ...] = ALL_FORMS

    @property
    def curve(self) -> BlowerCurve:
        """The fitter with the shapes of this kind."""
        return BlowerCurve(forms=self.forms)


KINDS: dict[str, SourceKind] = {
    "vacuum": SourceKind(
        "Workshop vacuum on its exhaust",
        (
            "Clean or change the filter and empty the drum; both belong to the curve",
            "Connect the exhaust to the spool with the hose it will be used with",
            "Run it wide open for three minutes: the exhaust air warms by some 15 to 50 K",
            "Close step by step, some ten openings, five seconds each; not longer than ten seconds near shut-off",
            "Open again step by step: the difference on the way back is due to warming",
        ),
        "pressure against flow, quadratic or cubic; series motor: its speed rises in thin air and when throttled",
        (
            "motor cooling air is often the working air: near shut-off the windings overheat",
            "foam running back into the motor is a shock hazard: hang the hose above the foam",
            "use a residual-current device (ground-fault interrupter) on the socket",
            "wear hearing protection",
        ),
    ),
    "leaf blower": SourceKind(
        "Leaf blower",
        (
            "Fix the trigger at full speed, with a fresh or mains-fed battery; note its charge before and after",
            "Lead the round outlet into the spool over a cone, no step wider than needed",
            "Much flow and little pressure: the spool itself limits most of the curve; use a wide spool",
            "Close step by step, some ten openings, five seconds each",
            "Repeat the first opening at the end: this shows a sagging battery",
        ),
        "pressure against flow, quadratic; cubic for blowers with a hump",
        (
            "a pressed trigger and both hands at the throttle: work with a helper",
            "petrol motors outdoors only",
            "wear hearing protection",
        ),
    ),
    "side channel": SourceKind(
        "Side-channel (regenerative) blower",
        (
            "Keep its relief valve in place and note its setting: it cuts the curve off",
            "Run for ten minutes with free outlet",
            "Close step by step, some ten openings, five seconds each, no lower than the maker allows",
        ),
        "pressure against flow, nearly straight and steep",
        ("hot at low flow", "do not block it: the impeller rubs when hot"),
    ),
    "inflator": SourceKind(
        "Tyre inflator (small piston pump)",
        (
            "Feed it from a supply that holds its voltage; note the voltage",
            "Put a bottle of 1 to 5 L between pump and throttle to damp the strokes of the pump",
            "Use the low-range flow element; a vane does not turn at half a litre a second",
            "Set five pressures from free to the highest needed, 20 s each; mind its duty cycle",
        ),
        "flow against pressure, nearly constant, lost by leakage: a steep line",
        (
            "the pressure rises until a part fails: fit a relief valve before the first closed valve",
            "never into plastic pipe at more than blower pressure",
        ),
    ),
    "compressor": SourceKind(
        "Regulated compressor with a tank",
        (
            "Set the regulator with some air flowing; note its setting and the tank's pressure",
            "Line curve: with the tank at least 2 bar above the setting, five openings, 10 s each",
            "Tank: switch the pump off, let a known mass out through the spool, wait until the pressure rises no more",
            "Both pressures and the mass give the tank's volume",
            "Pump: at a steady draw, note how fast the tank's pressure falls or rises: this gives what it delivers",
        ),
        "a nearly level line (regulator droop) until the tank falls to the setting; then only what the pump delivers",
        (
            "a regulator and a relief valve before any plastic; pipe that its maker rates for gas",
            "stored air is stored energy: vent before opening the line",
        ),
        ("line", "quadratic"),
    ),
}


@dataclass(frozen=True)
class Tank:
    """A tank and the pump that fills it.

    volume : m3
    pump : standard flow of the pump, m3/s, at the tank pressure of the measurement
    temperature : K, of the air in it at rest
    """

    volume: Estimate
    pump: Estimate
    temperature: float  # K


def tank_volume(
    before: tuple[float, float], after: tuple[float, float], mass: tuple[float, float], temperature: float
) -> Estimate:
    """Volume (m3) of a tank from the mass (kg) let out with the pump off, ideal gas at ``temperature`` (K).

    ``before`` and ``after`` are absolute pressures (Pa), each with its standard uncertainty, read after the air has
    returned to room temperature: it cools while it flows out, and the pressure then reads too low. Raises
    OutsideValidity if the pressure did not fall.
    """
    drop = before[0] - after[0]
    if not (drop > 0 and mass[0] > 0 and temperature > 0):
        raise OutsideValidity(
            "the tank's pressure must have fallen while a positive mass left it",
            where="tank_volume",
            remedy="Switch the pump off, let air out, wait, read the pressure again",
        )
    volume = mass[0] * air.DRY_GAS_CONSTANT * temperature / drop
    relative = sqrt((mass[1] / mass[0]) ** 2 + (before[1] ** 2 + after[1] ** 2) / drop**2)
    return Estimate.normal(
        volume, relative * volume, "m³", assumptions=("ideal gas, both pressures read at shop temperature",)
    )


@dataclass(frozen=True)
class Lasting:
    """Duration of a draw.

    seconds : s; infinite if the pump delivers enough
    sustained : standard flow that can be drawn permanently, m3/s
    words : the result as text
    """

    seconds: Estimate
    sustained: Estimate
    words: str


def lasting(tank: Tank, pressure: float, lowest: float, drawn: Estimate, u_pressure: float = 0.0) -> Lasting:
    """Time until the tank falls from ``pressure`` to ``lowest`` (absolute, Pa) at a standard flow ``drawn``.

    ``lowest`` is the regulator's setting plus its required pressure difference; ``u_pressure`` is the standard
    uncertainty of each of the two readings, Pa. The air in the tank is isothermal. Raises OutsideValidity if ``lowest``
    is already reached.
    """
    if pressure <= lowest:
        raise OutsideValidity(
            f"the tank's {pressure / 1e5:.2f} bar is not above the lowest usable pressure, {lowest / 1e5:.2f} bar "
            "(both absolute)",
            where="lowest",
            remedy="Wait until the pump has filled the tank, or set the regulator lower",
        )
    short = drawn.value - tank.pump.value
    u_short = sqrt(drawn.standard_uncertainty**2 + tank.pump.standard_uncertainty**2)
    gas = (pressure - lowest) / (air.DRY_GAS_CONSTANT * tank.temperature) / air.STANDARD_DENSITY
    store = gas * tank.volume.value
    if short <= 0:
        never = Estimate(inf, inf, store / max(short + Z95 * u_short, 1e-12), inf, "s")
        return Lasting(never, tank.pump, "the pump is sufficient: the supply lasts as long as the pump may run")
    seconds = store / short
    of_fall = sqrt(2) * u_pressure / (pressure - lowest)
    u = seconds * sqrt(
        (tank.volume.standard_uncertainty / tank.volume.value) ** 2 + (u_short / short) ** 2 + of_fall**2
    )
    slowest = short - Z95 * u_short
    upper = store / slowest if slowest > 0 else inf
    estimate = Estimate(seconds, u, max(seconds - Z95 * u, 0.0), max(upper, seconds + Z95 * u), "s")
    return Lasting(
        estimate,
        tank.pump,
        f"the tank lasts {seconds:.0f} s at {drawn.value * 1e3:.3g} L/s, then only the pump's "
        f"{tank.pump.value * 1e3:.3g} L/s remain",
    )


@dataclass(frozen=True)
class Trace:
    """One source on the chart.

    flow : (n,) m3/s
    pressure, lower, upper : (n,) Pa, with the simultaneous band
    measured : (n,) True within the measured range
    """

    name: str
    flow: Floats
    pressure: Floats
    lower: Floats
    upper: Floats
    measured: NDArray[np.bool_]


def overlay(sources: Sequence[tuple[str, BlowerFit]], places: int = 121) -> tuple[Trace, ...]:
    """Curves of several sources on one flow axis, each from no flow to its own free delivery."""
    traces = []
    for name, fit in sources:
        end = fit.free_delivery.value
        end = end if isfinite(end) and end < 2 * fit.range[1] else 1.1 * fit.range[1]
        flow = np.linspace(0.0, end, places)
        lower, upper = fit.band(flow)
        inside = (flow >= fit.range[0]) & (flow <= fit.range[1])
        traces.append(Trace(name, flow, fit.pressure(flow)[0], lower, upper, inside))
    return tuple(traces)
