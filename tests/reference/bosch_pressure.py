"""Pressure of the BMP280 by the 64 bit integer code that its data sheet prints. A reference for tests."""

from frothline.sensors.ambient import Trimming


def pressure_int64(raw: int, fine: int, trimming: Trimming) -> int:
    """Pa x 256 (Bosch BMP280 data sheet, section 8.2), of a raw reading and the fine temperature."""
    p1, p2, p3, p4, p5, p6, p7, p8, p9 = trimming.p
    first = fine - 128000
    second = first * first * p6 + ((first * p5) << 17) + (p4 << 35)
    first = ((first * first * p3) >> 8) + ((first * p2) << 12)
    first = (((1 << 47) + first) * p1) >> 33
    if first == 0:
        return 0
    value = 1048576 - raw
    numerator = ((value << 31) - second) * 3125
    value = abs(numerator) // abs(first) * (1 if (numerator < 0) == (first < 0) else -1)
    first = (p9 * (value >> 13) * (value >> 13)) >> 25
    second = (p8 * value) >> 19
    return ((value + first + second) >> 8) + (p7 << 4)
