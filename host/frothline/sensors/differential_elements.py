"""Flow from a pressure difference: orifice and Venturi in the spool, and drilled plates at the end of the line.

The formulas are in ``physics.orifice`` and ``physics.hole``; this module adds sensors and uncertainties. The flow goes
with the root of the difference, whose slope is infinite at zero. Contributions are therefore half the change of the
flow over +- one standard uncertainty (JCGM 100:2008, 5.1.3, note 2), which stays finite at no flow.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, Literal, cast

import numpy as np

from frothline.numerics.arrays import Floats
from frothline.numerics.uncertainty import Contribution, share
from frothline.physics.hole import SHARP_PLATE_DISCHARGE, sharp_plate_flow
from frothline.physics.orifice import orifice_flow_iso_5167_2_2003, venturi_flow_iso_5167_4_2003
from frothline.sensors.calibration import ChannelCalibration
from frothline.sensors.flow import installation
from frothline.sensors.line_state import LineState, added, scaled
from frothline.sensors.reading import Reading
from frothline.sensors.series import Status, mark
from frothline.sensors.spool import Spool

_TAPS: dict[str, Any] = {"corner": "corner", "d_d2": "D and D/2", "flange": "flange"}
_VENTURI: dict[str, Any] = {"machined": "machined", "rough_cast": "as cast", "rough_welded": "rough welded"}


def _half_steps(name: str, reading: Reading, flow: Callable[[Floats], Floats]) -> tuple[Contribution, ...]:
    """Both uncertainty parts of a reading, propagated through a nonlinear law."""
    fixed, drawn = reading.u_systematic, reading.u_random
    return (
        share(name, "systematic", (flow(reading.value + fixed) - flow(reading.value - fixed)) / 2),
        share(name, "random", (flow(reading.value + drawn) - flow(reading.value - drawn)) / 2),
    )


@dataclass(frozen=True)
class OrificeElement:
    """Square-edged plate in the spool with the low-range sensor across it, by ISO 5167-2:2003."""

    spool: Spool
    kind: str = "orifice"
    signal: str = "differential_pressure"

    def mass_flow(self, signal: Reading, line: LineState) -> Reading:
        """kg/s (n,); OutsideValidity for a plate that the standard does not cover."""
        pipe, plate = self.spool.pipe, self.spool.orifice
        ratio = plate.bore / pipe.bore
        taps = cast("Literal['corner', 'D and D/2', 'flange']", _TAPS[plate.taps])

        def flow(difference: Floats) -> Any:
            return orifice_flow_iso_5167_2_2003(
                pipe.bore, plate.bore, line.absolute, difference, line.density, line.viscosity, taps
            )

        made = flow(signal.value)
        fourth = ratio**4 / (1 - ratio**4)
        return _metered(
            self.spool,
            signal,
            line,
            made,
            lambda x: flow(x).mass_flow,
            lambda: (
                share(
                    "bore", "systematic", -2 * fourth * made.mass_flow * pipe.u_bore / pipe.bore, origin="spool file"
                ),
                share(
                    "hole",
                    "systematic",
                    2 * (1 + fourth) * made.mass_flow * plate.u_bore / plate.bore,
                    origin="spool file",
                ),
            ),
            ratio,
        )


@dataclass(frozen=True)
class VenturiElement:
    """Classical Venturi tube in the spool with the low-range sensor between pipe and throat, by ISO 5167-4:2003."""

    spool: Spool
    kind: str = "venturi"
    signal: str = "differential_pressure"

    def mass_flow(self, signal: Reading, line: LineState) -> Reading:
        """kg/s (n,); OutsideValidity for a throat that the standard does not cover."""
        pipe, tube = self.spool.pipe, self.spool.venturi
        ratio = tube.throat / pipe.bore
        kind = cast("Literal['machined', 'as cast', 'rough welded']", _VENTURI[tube.kind])

        def flow(difference: Floats) -> Any:
            return venturi_flow_iso_5167_4_2003(
                pipe.bore, tube.throat, line.absolute, difference, line.density, line.viscosity, kind
            )

        made = flow(signal.value)
        fourth = ratio**4 / (1 - ratio**4)
        wider = 2 * (1 + fourth) * made.mass_flow * tube.u_throat / tube.throat
        return _metered(
            self.spool,
            signal,
            line,
            made,
            lambda x: flow(x).mass_flow,
            lambda: (
                share(
                    "bore", "systematic", -2 * fourth * made.mass_flow * pipe.u_bore / pipe.bore, origin="spool file"
                ),
                share("throat", "systematic", wider, origin="spool file"),
            ),
            ratio,
        )


def _metered(
    spool: Spool,
    signal: Reading,
    line: LineState,
    made: Any,
    flow: Callable[[Floats], Floats],
    sizes: Callable[[], tuple[Contribution, ...]],
    ratio: float,
) -> Reading:
    """Flow of an orifice or Venturi with all contributions; the relative form is ISO 5167-1:2003, 8.2.2."""
    value = np.asarray(made.mass_flow, dtype=np.float64)
    status = signal.status.copy()
    mark(status, ~np.asarray(made.inside) & np.isfinite(value) & (value > 0), Status.OUT_OF_RANGE)

    def shares() -> tuple[Contribution, ...]:
        return added(
            _half_steps("differential_pressure", signal, flow),
            scaled(line.density_shares, value / 2),
            sizes(),
            (
                share(
                    "discharge and expansibility", "systematic", made.relative_uncertainty * value, origin="ISO 5167"
                ),
                installation(spool, value, ratio),
            ),
        )

    return Reading(value, status, shares)


@dataclass(frozen=True)
class PlateElement:
    """A drilled sharp-edged plate at the end of the line: flow from the pressure alone, without an anemometer.

    ``hole`` (m) overrides the spool file, because plates are changed during a sweep. A calibration of channel ``plate``
    maps the calculated mass flow to the true one.
    """

    spool: Spool
    hole: float | None = None
    u_hole: float | None = None
    discharge: float = SHARP_PLATE_DISCHARGE
    calibration: ChannelCalibration | None = None
    kind: str = "plate"
    signal: str = "line_pressure"

    def mass_flow(self, signal: Reading, line: LineState) -> Reading:
        """kg/s (n,); OutsideValidity for a hole that is too large for the pipe."""
        pipe = self.spool.pipe
        hole = self.hole or self.spool.plate.hole
        u_hole = self.u_hole or self.spool.plate.u_hole

        def flow(pressure: Floats) -> Any:
            return sharp_plate_flow(
                pipe.bore, hole, pressure, line.ambient_pressure.value, line.density, self.discharge
            )

        made = flow(signal.value)
        value = np.asarray(made.mass_flow, dtype=np.float64)
        status = signal.status.copy()
        mark(status, ~np.asarray(made.inside) & np.isfinite(value), Status.OUT_OF_RANGE)
        calibration = self.calibration
        if calibration is not None:
            fitted = calibration.evaluate(value)
            value = fitted.value
            mark(status, fitted.outside, Status.OUT_OF_RANGE)

        def own() -> tuple[Contribution, ...]:
            if calibration is not None:
                return calibration.shares(fitted)
            discharge = made.relative_uncertainty * value
            return (
                share("discharge", "systematic", discharge, origin="workshop plates, no source"),
                share("hole", "systematic", 2 * value * u_hole / hole, origin="spool file"),
            )

        def shares() -> tuple[Contribution, ...]:
            return added(
                _half_steps("line_pressure", signal, lambda x: np.asarray(flow(x).mass_flow)),
                scaled(line.density_shares, value / 2),
                own(),
            )

        return Reading(value, status, shares)


__all__ = ["OrificeElement", "PlateElement", "VenturiElement"]
