"""The channels of the simulated board: kinds, sensors, pins and units."""

from __future__ import annotations

from frothline.simulation.scenarios import Scenario
from frothline.wire import ENUMS

KIND = ENUMS["channel_kind"]


SENSOR = ENUMS["sensor_kind"]


UNIT = ENUMS["count_unit"]


PINS = {
    "pressure": "PC0",
    "differential": "PC3",
    "rotor": "PB0",
    "thermal": "PC1",
    "temperature": "PC2",
    "supply": "AVCC",
    "ambient": "PC4",
    "scale": "PD4",
    "button": "PD2",
}


UNITS = {
    "pressure": "adc_sum",
    "differential": "adc_sum",
    "rotor": "pulses",
    "thermal": "adc_sum",
    "temperature": "adc_sum",
    "supply": "adc_sum",
    "ambient": "burst",
    "scale": "converter",
    "button": "events",
}


def bit(kind: str) -> int:
    """Bit of a channel kind in ``enabled`` and ``present``."""
    return 1 << KIND[kind]


def fitted(scenario: Scenario) -> dict[str, int]:
    """Settings of a board with this scenario's sensors: those of new firmware, except for the sensors."""
    thermal, plate = scenario.anemometer == "thermal_module", scenario.element == "orifice"
    kinds = ["pressure", "temperature", "supply", "ambient", "scale", "button", "thermal" if thermal else "rotor"]
    return {
        "rate": 100,
        "enabled": sum(map(bit, [*kinds, "differential"] if plate else kinds)),
        "pressure_sensor": SENSOR["mpx5050"],
        "differential_sensor": SENSOR["mpxv7007" if plate else "none"],
        "anemometer": SENSOR["thermal_module" if thermal else "pulse_rotor"],
        "temperature_sensor": SENSOR["ntc_10k_3950"],
    }
