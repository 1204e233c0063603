"""Data-sheet figures of the supported parts, each with its source.

"Read" means that the manufacturer's table was read, on the page named. "From memory" means that the figure has to be
compared with the data sheet before money is spent on it. "Common practice" has no source. The physical model of the
simulated rigs has its own figures, on purpose.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from frothline.wire import ENUMS

KILO = 1e3
SENSOR = ENUMS["sensor_kind"]
CHANNEL = ENUMS["channel_kind"]


@dataclass(frozen=True)
class Adc:
    """The board's analog-to-digital converter.

    levels : divisor of the mean code
    top : highest code
    accuracy : limit of all static errors, in codes
    noise : standard deviation of one conversion after the pressure sensor's filter, in codes
    """

    levels: int
    top: int
    accuracy: float
    noise: float
    source: str


# Codes count Vin * 1024 / Vref and end at 1023: divide by 1024, not by 1023.
ADC = Adc(
    levels=1024,
    top=1023,
    accuracy=2.0,
    noise=0.75,
    source="ATmega328P data sheet 8161D, table 28-7 (read): absolute accuracy 2 LSB typical at 200 kHz. Noise from NXP "
    "AN1646 rev 2 (read): 4 to 5 counts at 10 bit, taken as peak to peak, 6 sigma",
)


def converter_of(levels: int, accuracy: float) -> Adc:
    """The converter with that full scale; ``accuracy``: limit of its static errors in codes, from its board.

    The noise is that of the pressure sensor, so it is the same share of the supply for each converter. A full scale
    that no converter has is ignored: the board then has the converter of the first boards.
    """
    if levels < 2 or (levels, accuracy) == (ADC.levels, ADC.accuracy):
        return ADC
    return Adc(levels, levels - 1, accuracy, ADC.noise * levels / ADC.levels, "the board's own description")


@dataclass(frozen=True)
class RatiometricPressure:
    """Pressure sensor, Vout = Vs (k P + c). ``k`` 1/Pa, ``low`` and ``high`` Pa, ``band`` +-Pa over 0 to 85 C."""

    part: str
    k: float
    c: float
    low: float
    high: float
    band: float
    source: str

    @property
    def span(self) -> float:
        return self.high - self.low

    @property
    def lowest_ratio(self) -> float:
        """Lowest output of a working sensor, as a share of the supply."""
        return self.k * self.low + self.c


def _pressure(
    part: str, k_per_kpa: float, c: float, low: float, high: float, percent: float, source: str
) -> RatiometricPressure:
    """``percent`` of the full-scale span is the accuracy band."""
    return RatiometricPressure(
        part, k_per_kpa / KILO, c, low * KILO, high * KILO, percent / 100 * (high - low) * KILO, source
    )


PRESSURE: Mapping[int, RatiometricPressure] = MappingProxyType(
    {
        SENSOR["mpx5050"]: _pressure(
            "MPX5050", 0.018, 0.04, 0, 50, 2.5, "NXP MPX5050 rev 5 table (read); k and c from memory, agree with it"
        ),
        SENSOR["mpx5010"]: _pressure(
            "MPX5010", 0.09, 0.04, 0, 10, 5.0, "NXP MPX5010GS rev 2 table (read); k and c as quoted by drivers"
        ),
        SENSOR["mpxv7025"]: _pressure(
            "MPXV7025", 0.018, 0.5, -25, 25, 5.0, "k and c as quoted by drivers; band from memory, sheet not read"
        ),
        SENSOR["mpxv7007"]: _pressure(
            "MPXV7007", 0.057, 0.5, -7, 7, 5.0, "NXP MPXV7007 rev 3 (range and band read); k and c quoted by drivers"
        ),
        SENSOR["mpxv7002"]: _pressure("MPXV7002", 0.2, 0.5, -2, 2, 6.25, "all from memory"),
    }
)


LINEAR = SENSOR["linear_pressure"]
FULL_SUPPLY = 5.0  # V, at which the voltages of a linear sensor are stated


def linear_pressure(
    low: float, high: float, low_volts: float, high_volts: float, accuracy: float
) -> RatiometricPressure | None:
    """A sensor whose output rises in a straight line from ``low_volts`` at ``low`` Pa to ``high_volts`` at ``high`` Pa.

    The voltages are those of a 5 V supply, to which the output is proportional. ``accuracy`` is the stated limit of all
    errors as a share of the span. None without a line: the range was never set, or makes no sense.
    """
    if not (low < high and 0 <= low_volts < high_volts <= FULL_SUPPLY and accuracy > 0):
        return None
    k = (high_volts - low_volts) / FULL_SUPPLY / (high - low)
    return RatiometricPressure(
        part=f"linear sensor {low / KILO:g} to {high / KILO:g} kPa",
        k=k,
        c=low_volts / FULL_SUPPLY - k * low,
        low=low,
        high=high,
        band=accuracy * (high - low),
        source="range, voltages and accuracy as set on the board",
    )


@dataclass(frozen=True)
class Ntc:
    """Thermistor to ground with a resistor of ``series`` ohm to the supply.

    r25 : ohm at 25 C
    beta : K, of the one-parameter law, used where ``extended`` is None
    r25_tolerance, beta_tolerance, series_tolerance : relative limits
    model : limit of the law's own error between 0 and 60 C, K
    dissipation : W/K in still air
    extended : A1, B1, C1, D1 of 1/T = A1 + B1 L + C1 L2 + D1 L3, L = ln(R/R25), where the maker gives them
    """

    part: str
    r25: float
    beta: float
    series: float
    r25_tolerance: float
    beta_tolerance: float
    series_tolerance: float
    model: float
    dissipation: float
    source: str
    extended: tuple[float, float, float, float] | None = None


def _ntc(part: str, beta: float, source: str, model: float, **more: tuple[float, float, float, float]) -> Ntc:
    return Ntc(part, 10e3, beta, 10e3, 0.01, 0.01, 0.01, model, 7e-3, source, **more)


_NTC_COMMON = "1 % tolerances: common practice, no source; dissipation 7 mW/K: Vishay doc 29049 (read)"
NTC: Mapping[int, Ntc] = MappingProxyType(
    {
        # A pure beta law is 0.8 K off at 0 C for the part with a published curve; the same limit is used here.
        SENSOR["ntc_10k_3950"]: _ntc("10k B3950", 3950.0, _NTC_COMMON, 0.8),
        SENSOR["ntc_10k_3435"]: _ntc("10k B3435", 3435.0, _NTC_COMMON, 0.8),
        SENSOR["ntc_10k_3977"]: _ntc(
            "10k B3977",
            3977.0,
            "Vishay doc 29049 (form read; coefficients from memory, 32.56 kohm at 0 C agrees). " + _NTC_COMMON,
            0.015,
            extended=(3.354016e-3, 2.569850e-4, 2.620131e-6, 6.383091e-8),
        ),
    }
)


@dataclass(frozen=True)
class ThermalAnemometer:
    """Published regression of a small thermal module: V = zero + gain t^warmth u^(1/power), t in C, u in m/s.

    The probe responds to mass flow: u is the speed of air at ``density`` (kg/m3) with the same mass flow. ``low`` and
    ``high`` in m/s; ``band`` is the relative limit of the speed before calibration.
    """

    part: str
    zero: float
    gain: float
    warmth: float
    power: float
    density: float
    low: float
    high: float
    band: float
    source: str


_MILE_PER_HOUR = 0.44704  # m/s, exact
_THERMAL_POWER = 3.009364
THERMAL = ThermalAnemometer(
    part="thermal module",
    zero=1.3692,
    gain=3.038517 * 0.087288 / _MILE_PER_HOUR ** (1 / _THERMAL_POWER),
    warmth=0.115157,
    power=_THERMAL_POWER,
    density=1.2,
    low=0.3,
    high=50 * _MILE_PER_HOUR,
    band=0.15,
    source="regression published by the maker of a Rev P module (read), data from 0 to 50 mph; band and reference "
    "density: common practice, no source. Calibrate it",
)


@dataclass(frozen=True)
class Bandgap:
    """Internal reference of the board's converter, V, with the maker's limits."""

    nominal: float
    limit: float
    source: str


BANDGAP = Bandgap(1.1, 0.1, "ATmega328P data sheet 8161D, table 28-7 (read): 1.0, 1.1, 1.2 V")


@dataclass(frozen=True)
class AmbientModule:
    """Accuracy limits of the ambient module: Pa, K, relative humidity (0 to 1), and noise of one forced reading."""

    part: str
    pressure: float
    temperature: float
    humidity: float
    pressure_noise: float
    temperature_noise: float
    humidity_noise: float
    chip_ids: tuple[int, ...]
    source: str


AMBIENT: Mapping[int, AmbientModule] = MappingProxyType(
    {
        SENSOR["bme280"]: AmbientModule(
            "BME280", 100.0, 1.0, 0.03, 3.3, 0.005, 0.0007, (0x60,), "Bosch BME280: accuracy and noise from memory"
        ),
        SENSOR["bmp280"]: AmbientModule(
            "BMP280", 100.0, 1.0, float("nan"), 3.3, 0.005, float("nan"), (0x56, 0x57, 0x58), "from memory"
        ),
    }
)


@dataclass(frozen=True)
class LoadCellConverter:
    """24 bit converter: ``full_scale`` input, V per V of supply, at code 2^23; ``noise`` V rms at the input."""

    part: str
    full_scale: float
    noise: float
    supply: float
    top: int
    source: str


HX711 = LoadCellConverter(
    "HX711",
    20e-3 / 5,
    90e-9,
    5.0,
    2**23 - 1,
    "Avia HX711 data sheet, pages 4 and 5 (read on a mirror): +-20 mV, 90 nV rms at 80 samples a second",
)


@dataclass(frozen=True)
class Rotor:
    """Small vane with a Hall switch. ``jitter`` is the relative standard deviation of one pulse interval."""

    part: str
    jitter: float
    source: str


PULSE_ROTOR = Rotor("vane with Hall switch", 0.01, "magnet spacing 1 to 3 %: common practice, no source")
CLOCK_TOLERANCE = 0.005  # ceramic resonator of the cheap boards, relative limit: common practice, no source
