"""The air in the spool: state, density, and sensitivity of the density to each reading."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field

import numpy as np

from frothline.numerics.arrays import Floats, Statuses
from frothline.numerics.once import once
from frothline.numerics.uncertainty import Contribution, Kind, effective_dof, share
from frothline.physics import air
from frothline.sensors.reading import Reading

EQUATION = share("density equation", "systematic", air.EQUATION_UNCERTAINTY_EXTENDED, origin="CIPM-2007 beyond 27 C")


@dataclass(frozen=True)
class LineState:
    """Gauge pressure (Pa), line temperature (K), ambient pressure (Pa), temperature (K) and humidity (0..1), (n,) each.

    ``assumed`` (n,) is True where one of them was assumed, not measured.
    """

    line_pressure: Reading
    line_temperature: Reading
    ambient_pressure: Reading
    ambient_temperature: Reading
    ambient_humidity: Reading
    assumed: np.ndarray = field(default_factory=lambda: np.zeros((), bool))

    @once
    def status(self) -> Statuses:
        """(n,) bits of pressures and temperatures together."""
        return np.asarray(
            self.line_pressure.status
            | self.line_temperature.status
            | self.ambient_pressure.status
            | self.ambient_temperature.status
        )

    @once
    def absolute(self) -> Floats:
        """Absolute line pressure, Pa."""
        return np.asarray(self.ambient_pressure.value + self.line_pressure.value, dtype=np.float64)

    @once
    def water(self) -> Floats:
        """Mole fraction of water, the same in the line as in the room."""
        return np.asarray(
            air.water_fraction(
                self.ambient_temperature.value, self.ambient_pressure.value, self.ambient_humidity.value
            ),
            dtype=np.float64,
        )

    @once
    def density(self) -> Floats:
        """Density in the line, kg/m3."""
        return np.asarray(
            air.density_at_water_fraction(self.line_temperature.value, self.absolute, self.water), dtype=np.float64
        )

    @once
    def ambient_density(self) -> Floats:
        """Density of free air, kg/m3."""
        return np.asarray(
            air.density_at_water_fraction(self.ambient_temperature.value, self.ambient_pressure.value, self.water),
            dtype=np.float64,
        )

    @once
    def viscosity(self) -> Floats:
        """Viscosity in the line, Pa s."""
        return np.asarray(air.viscosity(self.line_temperature.value, self.water), dtype=np.float64)

    @once
    def _wetness(self) -> Floats:
        """D ln(density)/d(humidity), from the molar masses of water and dry air (ratio 0.622)."""
        full = air.water_fraction(self.ambient_temperature.value, self.ambient_pressure.value, 1.0)
        return np.asarray(-(1 - air.WATER_MOLAR_MASS / air.DRY_AIR_MOLAR_MASS) * full, dtype=np.float64)

    @once
    def density_shares(self) -> tuple[Contribution, ...]:
        """Relative contributions to the line density; slopes from the gas law (deviation below 0.1 %)."""
        return (
            *of_reading("line_pressure", self.line_pressure, 1 / self.absolute),
            *of_reading("ambient_pressure", self.ambient_pressure, 1 / self.absolute),
            *of_reading("line_temperature", self.line_temperature, -1 / self.line_temperature.value),
            *of_reading("ambient_humidity", self.ambient_humidity, self._wetness),
            EQUATION,
        )

    @once
    def ambient_density_shares(self) -> tuple[Contribution, ...]:
        """Relative contributions to the density of free air."""
        return (
            *of_reading("ambient_pressure", self.ambient_pressure, 1 / self.ambient_pressure.value),
            *of_reading("ambient_temperature", self.ambient_temperature, -1 / self.ambient_temperature.value),
            *of_reading("ambient_humidity", self.ambient_humidity, self._wetness),
            EQUATION,
        )


def of_reading(name: str, reading: Reading, sensitivity: Floats) -> tuple[Contribution, ...]:
    """Both uncertainty parts of a reading, as contributions with its name."""
    parts: tuple[tuple[Kind, Floats], ...] = (("systematic", reading.u_systematic), ("random", reading.u_random))
    return tuple(
        share(name, kind, sensitivity * u, dof=effective_dof(reading.contributions, kind)) for kind, u in parts
    )


def scaled(shares: Iterable[Contribution], factor: Floats | float) -> tuple[Contribution, ...]:
    """Every contribution times a factor."""
    return tuple(
        Contribution(s.source, s.kind, np.asarray(s.standard * factor), s.distribution, s.origin, s.dof) for s in shares
    )


def added(*groups: Iterable[Contribution]) -> tuple[Contribution, ...]:
    """Contributions to a sum: the same source and kind are one error and add with their signs."""
    merged: dict[tuple[str, str], Contribution] = {}
    for group in groups:
        for item in group:
            key = (item.source, item.kind)
            before = merged.get(key)
            merged[key] = (
                item
                if before is None
                else Contribution(
                    item.source,
                    item.kind,
                    np.asarray(before.standard + item.standard),
                    before.distribution,
                    before.origin or item.origin,
                    min(before.dof, item.dof),
                )
            )
    return tuple(merged.values())
