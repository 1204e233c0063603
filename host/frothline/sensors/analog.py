"""Channels on the analog converter: pressure, line temperature, supply and thermal voltage.

The board sends the sum of its conversions and their number; mean code / levels is the voltage on the pin as a share of
the supply (ATmega328P data sheet, 24.7: 1024 levels). Every function takes (n,) arrays and returns a ``Reading``.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from frothline.numerics.arrays import Floats, Statuses
from frothline.numerics.uncertainty import Contribution, rectangular, share
from frothline.sensors.calibration import ChannelCalibration
from frothline.sensors.datasheets import ADC, BANDGAP, Adc, Bandgap, Ntc, RatiometricPressure
from frothline.sensors.reading import Reading
from frothline.sensors.series import Status, mark

ZERO_HOLD = 20.0  # Pa, limit of the zero drift within a session: common practice, no source


@dataclass(frozen=True)
class Ratio:
    """Voltage on a pin as a share of the supply.

    value : (n,) 0 to 1
    random : (n,) random standard uncertainty
    resolution : (n,) standard uncertainty of the remaining quantisation
    limit : of the static errors
    source : of the converter's figures
    """

    value: Floats
    random: Floats
    resolution: Floats
    limit: float
    status: Statuses
    source: str = ADC.source


def ratio(total: ArrayLike, conversions: ArrayLike, adc: Adc = ADC) -> Ratio:
    """Mean code over ``levels``, from sum and number of conversions.

    A mean is finer than one code only because noise spreads the codes. The remaining quantisation error is at most
    exp(-2 pi2 s2)/pi codes for noise of standard deviation s codes (Widrow and Kollar, Quantization Noise, 2008, from
    memory), and never more than half a code, as for a noiseless input.
    """
    n = np.asarray(conversions, dtype=np.float64)
    known = n > 0
    count = np.where(known, n, 1.0)
    mean = np.where(known, np.asarray(total, dtype=np.float64) / count, np.nan)
    status = np.where(known, 0, Status.MISSING).astype(np.uint8)
    # The highest code includes everything above it: a mean close to it contains clipped conversions.
    top = known & (mean >= adc.top - 4 * adc.noise)
    mark(status, top, Status.SATURATED)
    left = min(0.5, math.exp(-2 * (math.pi * adc.noise) ** 2) / math.pi)
    return Ratio(
        value=mean / adc.levels,
        random=adc.noise / np.sqrt(count) / adc.levels,
        resolution=np.full(mean.shape, left / math.sqrt(2) / adc.levels),
        limit=adc.accuracy / adc.levels,
        status=status,
        source=adc.source,
    )


def pressure(
    pin: Ratio, sensor: RatiometricPressure, calibration: ChannelCalibration | None = None, zero: float | None = None
) -> Reading:
    """Pa from a ratiometric sensor: P = (ratio - c)/k, or by its calibration.

    ``zero`` is the ratio read with the source off. It removes the offset of the data-sheet line; of the band only the
    part that grows with pressure remains: two independent errors within +-band at the ends of the range leave band
    sqrt(2/3) p/span after the lower one is removed.
    """
    status = pin.status.copy()
    if calibration is not None:
        fitted = calibration.evaluate(pin.value)
        # A zero read after the line was made removes the drift since then.
        shift = 0.0 if zero is None else float(calibration.evaluate(np.asarray(zero)).value)
        value = fitted.value - shift
        mark(status, fitted.outside, Status.OUT_OF_RANGE)
    else:
        offset = sensor.c if zero is None else zero
        value = (pin.value - offset) / sensor.k

    def shares() -> tuple[Contribution, ...]:
        noise = share("noise", "random", pin.random / sensor.k, origin=pin.source)
        steps = share(
            "resolution", "random", pin.resolution / sensor.k, "arcsine", "steps of the converter left by noise"
        )
        hold = share("zero hold", "systematic", rectangular(ZERO_HOLD), "rectangular", "common practice")
        if calibration is not None:
            return (noise, steps, *calibration.shares(fitted), hold)
        converter = share("converter", "systematic", rectangular(pin.limit / sensor.k), "rectangular", pin.source)
        if zero is None:
            band = share("data-sheet band", "systematic", rectangular(sensor.band), "rectangular", sensor.source)
            return (noise, steps, band, converter)
        left = sensor.band * math.sqrt(2 / 3) * value / sensor.span
        band = share("data-sheet band after zero", "systematic", left, "triangular", sensor.source)
        return (noise, steps, band, converter, hold)

    low, high = sensor.low - sensor.band, sensor.high + sensor.band
    mark(status, (value < low) | (value > high), Status.OUT_OF_RANGE)
    # A working sensor does not go below its lowest output: the pin is open or grounded.
    dead = pin.value < 0.25 * min(sensor.lowest_ratio, 0.04)
    mark(status, dead, Status.MISSING)
    unknown = (status & (Status.MISSING | Status.SATURATED)) != 0
    return Reading(np.where(unknown, np.nan, value), status, shares)


def supply(pin: Ratio, bandgap: Bandgap = BANDGAP, calibration: ChannelCalibration | None = None) -> Reading:
    """Supply voltage, V, from the bandgap read against it: Vs = V_bandgap / ratio.

    The bandgap differs from chip to chip by up to 9 %; its calibration (a multimeter on the supply, once per board)
    maps 1/ratio to volts.
    """
    status = pin.status.copy()
    with np.errstate(divide="ignore", invalid="ignore"):
        inverse = np.where(pin.value > 0, 1 / pin.value, np.nan)
    mark(status, ~(pin.value > 0), Status.MISSING)
    if calibration is not None:
        fitted = calibration.evaluate(inverse)
        value, static = fitted.value, calibration.shares(fitted)
        mark(status, fitted.outside, Status.OUT_OF_RANGE)
    else:
        value = bandgap.nominal * inverse
        static = (
            share(
                "bandgap",
                "systematic",
                rectangular(bandgap.limit) * inverse,
                "rectangular",
                bandgap.source,
            ),
        )
    code = share("noise", "random", value * np.hypot(pin.random, pin.resolution) * inverse, origin=pin.source)
    return Reading(value, status, (code, *static))


def volts(pin: Ratio, supply_volts: Floats, u_supply: Callable[[], Floats]) -> Reading:
    """V on a pin from its share of the supply and the supply voltage, both (n,).

    ``u_supply`` : calculates the standard uncertainty of the supply voltage, (n,)
    """
    value = pin.value * supply_volts
    status = pin.status.copy()
    mark(status, np.isnan(supply_volts), Status.MISSING)
    value = np.where((status & (Status.MISSING | Status.SATURATED)) != 0, np.nan, value)
    return Reading(
        value,
        status,
        lambda: (
            share("noise", "random", np.hypot(pin.random, pin.resolution) * supply_volts, origin=pin.source),
            share("converter", "systematic", rectangular(pin.limit) * supply_volts, "rectangular", pin.source),
            share("supply_voltage", "systematic", pin.value * u_supply(), origin="supply channel"),
        ),
    )


def ntc_resistance(share_of_supply: ArrayLike, ntc: Ntc) -> Floats:
    """Ohm of a thermistor to ground with a series resistor: R = Rs x/(1 - x), x (n,) the share of the supply."""
    x = np.asarray(share_of_supply, dtype=np.float64)
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.where((x > 0) & (x < 1), ntc.series * x / (1 - x), np.nan)


def ntc_temperature(resistance: ArrayLike, ntc: Ntc) -> Floats:
    """K from ohm (n,): the extended law where the maker gives one, else 1/T = 1/298.15 + ln(R/R25)/B.

    Source of both forms: Vishay document 29049.
    """
    log = np.log(np.asarray(resistance, dtype=np.float64) / ntc.r25)
    if ntc.extended is None:
        inverse = 1 / 298.15 + log / ntc.beta
    else:
        a, b, c, d = ntc.extended
        inverse = a + log * (b + log * (c + log * d))
    return np.asarray(1 / inverse, dtype=np.float64)


def line_temperature(pin: Ratio, ntc: Ntc, calibration: ChannelCalibration | None = None) -> Reading:
    """Air temperature in the spool, K.

    A calibration maps 1/T of the data-sheet law to 1/T as measured (ice and one warm point): errors of R25, of B and of
    the series resistor are, to first order, a straight line in 1/T.
    """
    status = pin.status & np.uint8(Status.MISSING)
    resistance = ntc_resistance(pin.value, ntc)
    nominal = ntc_temperature(resistance, ntc)
    # An open thermistor reads the full supply, a shorted one zero.
    mark(status, ~((pin.value > 0.005) & (pin.value < 0.995)), Status.MISSING)
    # dT/dx, from R = Rs x/(1-x) and dT/dlnR = -T2/B.
    with np.errstate(divide="ignore", invalid="ignore"):
        per_ratio = nominal**2 / ntc.beta / (pin.value * (1 - pin.value))
    noise = share("noise", "random", per_ratio * np.hypot(pin.random, pin.resolution), origin=pin.source)
    # Self-heating by the reading current: at most Vs2/(4 R) at 5 V. Moving air removes it; half of it is the estimate.
    power = 25.0 * pin.value * (1 - pin.value) / ntc.series
    heating = share("self-heating", "systematic", rectangular(power / ntc.dissipation), "rectangular", ntc.source)
    if calibration is not None:
        fitted = calibration.evaluate(1 / nominal)
        value = 1 / fitted.value
        mark(status, fitted.outside, Status.OUT_OF_RANGE)
        static = tuple(
            share(item.source, item.kind, item.standard * value**2, item.distribution, item.origin, item.dof)
            for item in calibration.shares(fitted)
        )
    else:
        value = nominal
        slope = nominal**2 / ntc.beta
        log = np.log(resistance / ntc.r25)
        static = (
            share("R25", "systematic", rectangular(ntc.r25_tolerance) * slope, "rectangular", ntc.source),
            share(
                "series resistor", "systematic", rectangular(ntc.series_tolerance) * slope, "rectangular", ntc.source
            ),
            share("B value", "systematic", rectangular(ntc.beta_tolerance) * slope * log, "rectangular", ntc.source),
            share("thermistor law", "systematic", rectangular(ntc.model), "rectangular", ntc.source),
            share("converter", "systematic", rectangular(pin.limit) * per_ratio, "rectangular", pin.source),
        )
    unknown = (status & Status.MISSING) != 0
    return Reading(np.where(unknown, np.nan, value), status, (noise, heating, *static))


def missing(n: int) -> Reading:
    """The reading of an absent channel."""
    flags: NDArray[np.uint8] = np.full(n, Status.MISSING, np.uint8)
    return Reading(np.full(n, np.nan), flags, ())
