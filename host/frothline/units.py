"""Unit conversion, used only at the edges: cli, screen, and the readers of files that people write.

Everything inside the package is SI. Factors are exact by definition unless a comment says otherwise; NIST Special
Publication 811 (2008), appendix B, lists them.
"""

from __future__ import annotations

from dataclasses import dataclass

INCH = 0.0254  # m, exact
FOOT = 12 * INCH
POUND = 0.45359237  # kg, exact
OUNCE = POUND / 16
US_GALLON = 231 * INCH**3
STANDARD_GRAVITY = 9.80665  # m/s2, exact
CUBIC_FOOT_PER_MINUTE = FOOT**3 / 60  # m3/s
CONVENTIONAL_INCH_OF_WATER = 1000 * STANDARD_GRAVITY * INCH  # Pa: water at 1000 kg/m3; other inches differ by 0.2 %
ZERO_CELSIUS = 273.15  # K, exact


@dataclass(frozen=True)
class Unit:
    """A display unit: ``shown = si * factor + offset``."""

    symbol: str
    factor: float
    offset: float = 0.0

    def from_si(self, value: float) -> float:
        return value * self.factor + self.offset

    def to_si(self, value: float) -> float:
        return (value - self.offset) / self.factor


# One table per reader's choice; the keys are quantities, the same in both.
METRIC: dict[str, Unit] = {
    "pressure": Unit("kPa", 1e-3),
    "ambient_pressure": Unit("hPa", 1e-2),
    "tank_pressure": Unit("bar", 1e-5),
    "flow": Unit("L/s", 1e3),
    "foam_rate": Unit("L/min", 6e4),
    "volume": Unit("L", 1e3),
    "air_volume": Unit("L", 1e3),
    "mass_flow": Unit("g/s", 1e3),
    "mass": Unit("kg", 1.0),
    "power": Unit("W", 1.0),
    "speed": Unit("m/s", 1.0),
    "temperature": Unit("°C", 1.0, -ZERO_CELSIUS),
    "temperature_difference": Unit("K", 1.0),
    "humidity": Unit("%", 100.0),
    "density": Unit("kg/m³", 1.0),
    "length": Unit("mm", 1e3),
    "voltage": Unit("V", 1.0),
    "frequency": Unit("Hz", 1.0),
    "time": Unit("s", 1.0),
}

INCH_POUND: dict[str, Unit] = METRIC | {
    "pressure": Unit("inH₂O", 1 / CONVENTIONAL_INCH_OF_WATER),
    "ambient_pressure": Unit("inHg", 1 / 3386.389),  # mercury at 0 °C
    "tank_pressure": Unit("psi", INCH**2 / (POUND * STANDARD_GRAVITY)),
    "flow": Unit("cfm", 1 / CUBIC_FOOT_PER_MINUTE),
    "foam_rate": Unit("gal/min", 60 / US_GALLON),
    "volume": Unit("gal", 1 / US_GALLON),
    "air_volume": Unit("ft³", 1 / FOOT**3),
    "mass_flow": Unit("lb/min", 60 / POUND),
    "mass": Unit("lb", 1 / POUND),
    "speed": Unit("ft/min", 60 / FOOT),
    "temperature": Unit("°F", 1.8, -459.67),
    "temperature_difference": Unit("°F", 1.8),
    "density": Unit("lb/ft³", FOOT**3 / POUND),
    "length": Unit("in", 1 / INCH),
}

SYSTEMS: dict[str, dict[str, Unit]] = {"metric": METRIC, "inch-pound": INCH_POUND}
