"""Three views of one flow: the anemometer, the pressure through the source's curve, the pressure through the build.

A leak before the anemometer separates the source's view from the other two, a leak after it the build's view. If source
and build agree and the anemometer agrees with neither, the anemometer has failed. Flows are m3/s at 1.2 kg/m3,
pressures Pa above ambient. A difference is the natural logarithm of a ratio of flows, which is close to the relative
difference.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import exp, inf, isfinite, log, nan
from typing import TYPE_CHECKING

import numpy as np

from frothline.errors import OutsideValidity
from frothline.estimate import Estimate
from frothline.numerics.arrays import Floats

if TYPE_CHECKING:
    from frothline.curve.blower import BlowerFit
    from frothline.curve.resistance import ResistanceLine
    from frothline.generator.pressure_model import PressureModel

USUAL_EXPONENT = 0.55  # d ln q / d ln p of a wet generator: 0.5 for holes alone, 1 for a fine packing alone; judgement
FAR = 3.0  # a view that differs by more than this factor's logarithm is only known to be far off
_PLACES = 800


@dataclass(frozen=True)
class Table:
    """Logarithm of the flow against pressure: ``pressure`` (n,) rising, ``log_flow`` (n,)."""

    pressure: Floats
    log_flow: Floats

    def at(self, pressure: float) -> float:
        """Logarithm of m3/s at ``pressure`` Pa, held at the ends."""
        return float(np.interp(pressure, self.pressure, self.log_flow))

    def slope(self, pressure: float) -> float:
        """Exponent there: d ln q / d ln p."""
        low, high = 0.99 * pressure, 1.01 * pressure
        return (self.at(high) - self.at(low)) / log(high / low)


def source_table(blower: BlowerFit) -> Table:
    """Flow of the source against pressure, on the falling branch (right of a hump)."""
    free = blower.free_delivery.value
    reach = max(blower.range[1], free if isfinite(free) else 0.0)
    if blower.flow_curve is not None:  # a positive-displacement source: its flow is nearly the same at all pressures
        p = np.linspace(0.0, 1.5 * blower.pressure_range[1], _PLACES)
        return Table(p, np.log(np.maximum(blower.flow_curve.value(p), reach * exp(-FAR))))
    q = np.linspace(reach, reach * exp(-FAR), _PLACES)
    p = np.maximum(np.asarray(blower.curve.value(q)), 0.0)
    keep = np.concatenate([[True], p[1:] > np.maximum.accumulate(p)[:-1]])
    return Table(p[keep], np.log(q[keep]))


def build_table(line: ResistanceLine, highest_pressure: float) -> Table:
    """Flow that the build passes against pressure."""
    p = np.linspace(max(line.c, 0.0) + 1.0, max(highest_pressure, 2.0 * max(line.c, 0.0) + 100.0), _PLACES)
    q = np.maximum(line.flow(p), 1e-7)
    return Table(p, np.log(q))


@dataclass(frozen=True)
class FlowEstimates:
    """Flow tables of the line. ``source`` and ``build`` are None if unknown; ``blower`` and ``line`` have the
    uncertainties; ``bare`` is the build's line without its packing over that with it, ``dried`` the dry one over the
    wet one, ln of flow against pressure.
    """

    source: Table | None = None
    build: Table | None = None
    blower: BlowerFit | None = None
    line: ResistanceLine | None = None
    bare: Table | None = None
    dried: Table | None = None

    @classmethod
    def of(
        cls, blower: BlowerFit | None, line: ResistanceLine | None, generator: PressureModel | None = None
    ) -> FlowEstimates:
        """Make the estimates. ``generator``: the model of the build, if any; it predicts the effect of a lost
        packing.
        """
        source = None if blower is None else source_table(blower)
        top = 50e3 if source is None else 1.5 * float(source.pressure[-1])
        build = None if line is None else build_table(line, top)
        if generator is None:
            return cls(source, build, blower, line)
        bare, dried = bare_table(generator, blower, top), dried_table(generator, blower, top)
        return cls(source, build, blower, line, bare, dried)

    def with_reference(self, pressure: float, flow: float) -> FlowEstimates:
        """For an unknown build: its line goes through the readings, with the usual slope."""
        if self.build is not None:
            return self
        p = np.geomspace(pressure / 50.0, pressure * 5.0, _PLACES)
        return replace(self, build=Table(p, log(flow) + USUAL_EXPONENT * np.log(p / pressure)))

    def apart(self, pressure: float, flow: float) -> tuple[float, float]:
        """(ln of anemometer over source, ln of anemometer over build), NaN if one of them is unknown."""
        if not (pressure > 0.0 and flow > 0.0):
            return nan, nan
        x = log(flow)
        by_source = nan if self.source is None else _bounded(x - self.source.at(pressure))
        by_build = nan if self.build is None else _bounded(x - self.build.at(pressure))
        return by_source, by_build

    def by_source(self, pressure: float) -> Estimate | None:
        """Flow of the source at this pressure by its curve, with the curve's uncertainty."""
        if self.blower is None or not pressure >= 0.0:
            return None
        if self.blower.flow_curve is not None:
            curve = self.blower.flow_curve
            return Estimate.normal(float(curve.value(pressure)), float(curve.u(pressure)), "m3/s")
        return replace(self.blower.flow_at(pressure), unit="m3/s")

    def by_build(self, pressure: float) -> Estimate | None:
        """Flow of the wet build at this pressure, with the line's uncertainty (log-normal)."""
        if self.line is None or not pressure > 0.0:
            return None
        q = float(self.line.flow(pressure))
        if q <= 0.0:
            return None
        slope = self.line.a + 2.0 * self.line.b * q
        spread = float(self.line.pressure(q)[1]) / slope / q
        return Estimate.positive(q, spread, "m3/s")


def bare_table(generator: PressureModel, blower: BlowerFit | None, highest_pressure: float) -> Table | None:
    """Increase of the build's flow at each pressure without its packing, as a logarithm."""
    if generator.build.packing.kind == "none" or generator.errors is None:
        return None  # from the sheet alone the packing's share of the line is known only to a factor
    empty = replace(generator, build=generator.build.with_entry("packing.kind", "none"), errors=())
    return _over(empty, generator, blower, highest_pressure)


def dried_table(generator: PressureModel, blower: BlowerFit | None, highest_pressure: float) -> Table | None:
    """Increase of the build's flow at each pressure after it has run dry, as a logarithm.

    This is for a packing blown dry; just after the solution is used up, it is still wet and passes less.
    """
    if generator.errors is None:
        return None  # as above: the sheet alone does not give the solution's share
    dry = replace(generator, conditions=replace(generator.conditions, wet=False), errors=())
    return _over(dry, generator, blower, highest_pressure)


def _over(
    other: PressureModel, generator: PressureModel, blower: BlowerFit | None, highest_pressure: float
) -> Table | None:
    """Logarithm of another model's flow over the generator's, against pressure; otherwise both are the same scaled
    model.
    """
    whole = line_of(replace(generator, errors=()), blower)
    p = np.linspace(0.02 * highest_pressure, highest_pressure, 60)
    usual, changed = whole.flow(p), line_of(other, blower).flow(p)
    some = (usual > 0.0) & (changed > 0.0)
    return Table(p[some], np.log(changed[some] / usual[some])) if some.any() else None


def _bounded(value: float) -> float:
    return min(max(value, -FAR), FAR)


def line_of(generator: PressureModel, blower: BlowerFit | None) -> ResistanceLine:
    """The wet line of a build for the watch, over the range of the source."""
    top = 0.03
    if blower is not None:
        free = blower.free_delivery.value
        top = max(blower.range[1], free if isfinite(free) else 0.0)
        strongest = float(np.max(blower.curve.value(np.linspace(0.0, top, 60))))
        while top > 1e-4 and _asks(generator, 0.5 * top) > strongest:
            top *= 0.5
    return generator.line(top)


def _asks(generator: PressureModel, flow: float) -> float:
    """Pressure of the build, Pa; infinite beyond the model's range."""
    try:
        return generator.pressure(flow)
    except OutsideValidity:
        return inf
