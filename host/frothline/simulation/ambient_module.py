"""A virtual ambient module: registers of a BME280 at a given pressure, temperature and humidity.

The host converts registers to SI with the compensation formulas of the data sheet (Bosch BST-BME280-DS002, section
4.2.3); this module inverts them by bisection on the raw counts. Each module has its own trimming constants, drawn near
values found in real parts.
"""

from __future__ import annotations

import struct
from collections.abc import Callable
from dataclasses import dataclass
from random import Random

ADDRESS = 0x76
CHIP_ID = 0x60


@dataclass(frozen=True)
class ModelTrimming:
    """Trimming constants of one module, by their data-sheet names."""

    t: tuple[int, int, int]
    p: tuple[int, int, int, int, int, int, int, int, int]
    h: tuple[int, int, int, int, int, int]

    def low(self) -> bytes:
        """Registers 0x88 to 0xA1."""
        return struct.pack("<HhhHhhhhhhhhBB", *self.t, *self.p, 0, self.h[0])

    def high(self) -> bytes:
        """Registers 0xE1 to 0xF0; H4 and H5 share the nibbles of 0xE5."""
        _, h2, h3, h4, h5, h6 = self.h
        return struct.pack("<hBBBBb9x", h2, h3, (h4 >> 4) & 0xFF, (h4 & 0xF) | ((h5 & 0xF) << 4), (h5 >> 4) & 0xFF, h6)


def draw_trimming(random: Random) -> ModelTrimming:
    """A realistic random set of trimming constants."""
    r = random.randint
    return ModelTrimming(
        (r(27200, 28600), r(26000, 26700), r(-1000, 60)),
        (
            r(36200, 37600),
            r(-10800, -10450),
            3024,
            r(2600, 3600),
            r(-50, 160),
            -7,
            r(15300, 15700),
            r(-14700, -14500),
            r(5900, 6100),
        ),
        (75, r(350, 372), 0, r(318, 340), r(0, 50), 30),
    )


def temperature_of(raw: int, trimming: ModelTrimming) -> tuple[float, float]:
    """(fine temperature, degrees Celsius) of the raw count."""
    t1, t2, t3 = trimming.t
    first = (raw / 16384.0 - t1 / 1024.0) * t2
    second = (raw / 131072.0 - t1 / 8192.0) ** 2 * t3
    fine = first + second
    return fine, fine / 5120.0


def pressure_of(raw: int, fine: float, trimming: ModelTrimming) -> float:
    """Pressure, Pa."""
    p1, p2, p3, p4, p5, p6, p7, p8, p9 = trimming.p
    a = fine / 2.0 - 64000.0
    b = a * a * p6 / 32768.0 + a * p5 * 2.0
    b = b / 4.0 + p4 * 65536.0
    a = (p3 * a * a / 524288.0 + p2 * a) / 524288.0
    a = (1.0 + a / 32768.0) * p1
    p = (1048576.0 - raw - b / 4096.0) * 6250.0 / a
    return p + (p9 * p * p / 2147483648.0 + p * p8 / 32768.0 + p7) / 16.0


def humidity_of(raw: int, fine: float, trimming: ModelTrimming) -> float:
    """Relative humidity, 0..1."""
    h1, h2, h3, h4, h5, h6 = trimming.h
    x = fine - 76800.0
    x = (raw - (h4 * 64.0 + h5 / 16384.0 * x)) * (
        h2 / 65536.0 * (1.0 + h6 / 67108864.0 * x * (1.0 + h3 / 67108864.0 * x))
    )
    x *= 1.0 - h1 * x / 524288.0
    return min(max(x / 100.0, 0.0), 1.0)


def _bisect(function: Callable[[int], float], wanted: float, top: int) -> int:
    """The count below ``top`` whose value is nearest to ``wanted``; ``function`` is monotonic."""
    low, high = 0, top
    rising = function(high) > function(low)
    while high - low > 1:
        middle = (low + high) // 2
        if (function(middle) < wanted) == rising:
            low = middle
        else:
            high = middle
    return low if abs(function(low) - wanted) <= abs(function(high) - wanted) else high


def burst(pressure: float, temperature: float, humidity: float, trimming: ModelTrimming) -> bytes:
    """Registers 0xF7 to 0xFE that read ``pressure`` Pa, ``temperature`` degrees Celsius, ``humidity`` 0..1."""
    raw_t = _bisect(lambda n: temperature_of(n, trimming)[1], temperature, (1 << 20) - 1)
    fine, _ = temperature_of(raw_t, trimming)
    raw_p = _bisect(lambda n: pressure_of(n, fine, trimming), pressure, (1 << 20) - 1)
    raw_h = _bisect(lambda n: humidity_of(n, fine, trimming), humidity, (1 << 16) - 1)
    p, t = raw_p << 4, raw_t << 4
    return struct.pack(">BBBBBBH", p >> 16, (p >> 8) & 0xFF, p & 0xFF, t >> 16, (t >> 8) & 0xFF, t & 0xFF, raw_h)
