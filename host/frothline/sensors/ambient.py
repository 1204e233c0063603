"""Ambient module: pressure, temperature and humidity from the raw registers and the trimming constants.

Layout: Bosch BME280 data sheet DS001, tables 16 to 18. Compensation in double precision: its appendix; the 64 bit
integer form: BMP280 data sheet DS001, section 3.11.3.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from frothline.numerics.arrays import Floats
from frothline.numerics.uncertainty import Contribution, rectangular, share
from frothline.sensors.datasheets import AmbientModule
from frothline.sensors.reading import Reading
from frothline.sensors.series import Status
from frothline.units import ZERO_CELSIUS
from frothline.wire import ENUMS

FLAG = ENUMS["device_flag"]
SKIPPED = 0x80000  # reset value of the 20 bit readings: not measured
SKIPPED_HUMIDITY = 0x8000


@dataclass(frozen=True)
class Trimming:
    """Trimming constants T1..T3, P1..P9, H1..H6 of the chip."""

    t: tuple[int, int, int]
    p: tuple[int, ...]
    h: tuple[int, ...]

    @classmethod
    def from_registers(cls, low: bytes, high: bytes) -> Trimming:
        """From registers 0x88 to 0xA1 (``low``, 26 bytes) and 0xE1 on (``high``, 7 or more; zeros without humidity)."""
        words = np.frombuffer(low[:24], dtype="<u2")
        signed = words.astype("<i2")
        h4 = (_signed(high[3]) << 4) | (high[4] & 0x0F)
        h5 = (_signed(high[5]) << 4) | (high[4] >> 4)
        h2 = int(np.frombuffer(high[:2], dtype="<i2")[0])
        p = (int(words[3]), *(int(value) for value in signed[4:12]))
        return cls((int(words[0]), int(signed[1]), int(signed[2])), p, (low[25], h2, high[2], h4, h5, _signed(high[6])))


def _signed(byte: int) -> int:
    return byte - 256 if byte > 127 else byte


@dataclass(frozen=True)
class Burst:
    """Raw readings (n,): 20 bit pressure and temperature, 16 bit humidity."""

    pressure: NDArray[np.int64]
    temperature: NDArray[np.int64]
    humidity: NDArray[np.int64]


def unpack(burst: NDArray[np.uint8]) -> Burst:
    """Raw readings from registers 0xF7 to 0xFE, (n, 8)."""
    b = np.atleast_2d(burst).astype(np.int64)
    return Burst(
        b[:, 0] << 12 | b[:, 1] << 4 | b[:, 2] >> 4, b[:, 3] << 12 | b[:, 4] << 4 | b[:, 5] >> 4, b[:, 6] << 8 | b[:, 7]
    )


def fine_temperature(raw: NDArray[np.int64], trimming: Trimming) -> Floats:
    """t_fine (n,), used by all three compensations; the temperature in C is t_fine/5120."""
    t1, t2, t3 = trimming.t
    adc = np.asarray(raw, dtype=np.float64)
    first = (adc / 16384 - t1 / 1024) * t2
    second = (adc / 131072 - t1 / 8192) ** 2 * t3
    return np.asarray(first + second, dtype=np.float64)


def temperature(raw: NDArray[np.int64], trimming: Trimming) -> Floats:
    """K (n,)."""
    return fine_temperature(raw, trimming) / 5120 + ZERO_CELSIUS


def pressure(raw: NDArray[np.int64], fine: Floats, trimming: Trimming) -> Floats:
    """Absolute pressure, Pa (n,); NaN where the trimming constants give no pressure."""
    p1, p2, p3, p4, p5, p6, p7, p8, p9 = trimming.p
    first = fine / 2 - 64000
    second = first**2 * p6 / 32768 + first * p5 * 2
    second = second / 4 + p4 * 65536.0
    first = (p3 * first**2 / 524288 + p2 * first) / 524288
    first = (1 + first / 32768) * p1
    with np.errstate(divide="ignore", invalid="ignore"):
        value = (1048576 - np.asarray(raw, dtype=np.float64) - second / 4096) * 6250 / first
    value = np.where(first == 0, np.nan, value)
    return np.asarray(value + (p9 * value**2 / 2147483648 + value * p8 / 32768 + p7) / 16, dtype=np.float64)


def humidity(raw: NDArray[np.int64], fine: Floats, trimming: Trimming) -> Floats:
    """Relative humidity (n,), limited to 0..1 as in the data sheet."""
    h1, h2, h3, h4, h5, h6 = trimming.h
    warm = fine - 76800
    value = (np.asarray(raw, dtype=np.float64) - (h4 * 64 + h5 / 16384 * warm)) * (
        h2 / 65536 * (1 + h6 / 67108864 * warm * (1 + h3 / 67108864 * warm))
    )
    value = value * (1 - h1 * value / 524288)
    return np.clip(value, 0.0, 100.0) / 100


def readings(
    burst: NDArray[np.uint8], flags: NDArray[Any], trimming: Trimming, module: AmbientModule
) -> dict[str, Reading]:
    """Ambient pressure (Pa), temperature (K) and relative humidity from bursts (n, 8) and device flags (n,).

    A burst is MISSING if the module was absent, if the board repeats an old burst, or if a register has its reset
    value.
    """
    raw = unpack(burst)
    gone = ((flags & FLAG["present"]) == 0) | ((flags & FLAG["fresh"]) == 0)
    fine = fine_temperature(raw.temperature, trimming)
    cold = raw.temperature == SKIPPED
    columns = {
        "ambient_pressure": (pressure(raw.pressure, fine, trimming), raw.pressure == SKIPPED),
        "ambient_temperature": (temperature(raw.temperature, trimming), cold),
        "ambient_humidity": (
            humidity(raw.humidity, fine, trimming),
            (raw.humidity == SKIPPED_HUMIDITY) | np.isnan(module.humidity),
        ),
    }
    made: dict[str, Reading] = {}
    for name, (value, skipped) in columns.items():
        lost = gone | cold | skipped
        status = np.where(lost, Status.MISSING, 0).astype(np.uint8)
        made[name] = Reading(np.where(lost, np.nan, value), status, shares(name, module))
    return made


def shares(name: str, module: AmbientModule) -> tuple[Contribution, ...]:
    """Noise of one forced reading and the data-sheet band of one of the three quantities."""
    limit, noise = {
        "ambient_pressure": (module.pressure, module.pressure_noise),
        "ambient_temperature": (module.temperature, module.temperature_noise),
        "ambient_humidity": (module.humidity, module.humidity_noise),
    }[name]
    return (
        share("noise", "random", noise, origin=module.source),
        share("data-sheet band", "systematic", rectangular(limit), "rectangular", module.source),
    )
