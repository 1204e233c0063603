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
    """A display unit: ``shown = si * factor + offset``. ``signed``: whether the quantity can be below zero in SI, as a
    gauge pressure and a scale's reading can and a flow cannot.
    """

    symbol: str
    factor: float
    offset: float = 0.0
    signed: bool = True

    def from_si(self, value: float) -> float:
        return value * self.factor + self.offset

    def to_si(self, value: float) -> float:
        return (value - self.offset) / self.factor


# One table per reader's choice; the keys are quantities, the same in both.
METRIC: dict[str, Unit] = {
    "pressure": Unit("kPa", 1e-3),
    "ambient_pressure": Unit("hPa", 1e-2, signed=False),
    "tank_pressure": Unit("bar", 1e-5, signed=False),
    "flow": Unit("L/s", 1e3, signed=False),
    "foam_rate": Unit("L/min", 6e4, signed=False),
    "volume": Unit("L", 1e3, signed=False),
    "air_volume": Unit("L", 1e3, signed=False),
    "mass_flow": Unit("g/s", 1e3, signed=False),
    "mass": Unit("kg", 1.0),
    "power": Unit("W", 1.0, signed=False),
    "speed": Unit("m/s", 1.0, signed=False),
    "temperature": Unit("°C", 1.0, -ZERO_CELSIUS),
    "temperature_difference": Unit("K", 1.0),
    "humidity": Unit("%", 100.0, signed=False),
    "density": Unit("kg/m³", 1.0, signed=False),
    "length": Unit("mm", 1e3, signed=False),
    "voltage": Unit("V", 1.0),
    "frequency": Unit("Hz", 1.0, signed=False),
    "time": Unit("s", 1.0, signed=False),
    "count": Unit("a whole number", 1.0, signed=False),
}

INCH_POUND: dict[str, Unit] = METRIC | {
    "pressure": Unit("inH₂O", 1 / CONVENTIONAL_INCH_OF_WATER),
    "ambient_pressure": Unit("inHg", 1 / 3386.389, signed=False),  # mercury at 0 °C
    "tank_pressure": Unit("psi", INCH**2 / (POUND * STANDARD_GRAVITY), signed=False),
    "flow": Unit("cfm", 1 / CUBIC_FOOT_PER_MINUTE, signed=False),
    "foam_rate": Unit("gal/min", 60 / US_GALLON, signed=False),
    "volume": Unit("gal", 1 / US_GALLON, signed=False),
    "air_volume": Unit("ft³", 1 / FOOT**3, signed=False),
    "mass_flow": Unit("lb/min", 60 / POUND, signed=False),
    "mass": Unit("lb", 1 / POUND),
    "speed": Unit("ft/min", 60 / FOOT, signed=False),
    "temperature": Unit("°F", 1.8, -459.67),
    "temperature_difference": Unit("°F", 1.8),
    "density": Unit("lb/ft³", FOOT**3 / POUND, signed=False),
    "length": Unit("in", 1 / INCH, signed=False),
}

SYSTEMS: dict[str, dict[str, Unit]] = {"metric": METRIC, "inch-pound": INCH_POUND}
