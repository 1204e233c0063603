"""Plausibility checks of readings; each finding has observation, meaning and action.

No check changes or removes a sample: a recording contains what the board sent, and can be converted again once the
fault is known. Each rule compares two or more signs that disagree, and gives no finding in doubtful cases.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from frothline.numerics.arrays import Floats
from frothline.sensors.datasheets import FULL_SUPPLY, PRESSURE, RatiometricPressure
from frothline.sensors.finding import Finding
from frothline.sensors.series import Series, Status
from frothline.units import ZERO_CELSIUS

Batch = Mapping[str, Series]
BLOCK = 0.5  # s, block length for averaging
LEAST_SUPPLY = 4.75  # V, below which ratiometric sensors are not ratiometric any more (NXP MPX5050 table, read)
LOW_SUPPLY_REMEDY = (
    "Use a shorter USB cable or another port. A board with a diode behind its USB plug (most Nanos) gives 4.6 to "
    "4.7 V: take an Uno, or bridge the diode with a wire if nothing but USB supplies the board. Then measure 5V with a "
    "multimeter and run `frothline calibrate supply`"
)
FASTEST_BEAD = 20.0  # K/s both up and down: no thermistor bead in air is faster; common practice, no source
USUAL_ZERO = 0.5 / FULL_SUPPLY  # share of the supply, of linear sensors of 0.5 to 4.5 V
COLDEST_LINE, HOTTEST_LINE = 253.15, 373.15  # K


@dataclass(frozen=True)
class Blocks:
    """Block means of the fast series on one time axis; NaN for a block without a known value."""

    time: Floats
    pressure: Floats
    u_pressure: float
    flow: Floats
    temperature: float  # median, K
    temperature_rate: float  # K/s reached both upward and downward
    stopped: Floats  # share of each block with the rotor stopped, or without a pulse since the beginning

    @property
    def both(self) -> tuple[Floats, Floats]:
        good = np.isfinite(self.pressure) & np.isfinite(self.flow)
        return self.pressure[good], self.flow[good]


def _mean_by(block: np.ndarray, values: Floats, count: int) -> Floats:
    good = np.isfinite(values)
    total = np.bincount(block[good], values[good], count)
    number = np.bincount(block[good], minlength=count)
    with np.errstate(invalid="ignore", divide="ignore"):
        return np.where(number > 0, total / number, np.nan)


def blocks_of(series: Batch) -> Blocks | None:
    """Block means of a batch; None without enough pressure samples or with a clock jump."""
    pressure, flow = series.get("line_pressure"), series.get("mass_flow")
    if pressure is None or len(pressure) < 20:
        return None
    start = float(pressure.time[0])
    block = ((pressure.time - start) / BLOCK).astype(np.int64)
    count = int(block[-1]) + 1
    if count > 50 * len(pressure):  # a clock jump: no check is possible
        return None
    known = flow is not None and len(flow) == len(pressure)
    moving = flow.value if known and flow is not None else np.full(len(pressure), np.nan)
    standing = np.zeros(len(pressure))
    unseen = (flow.status & Status.UNSEEN) != 0 if known and flow is not None else np.zeros(len(pressure), np.bool_)
    if known and flow is not None and (np.isfinite(moving) | unseen).any():
        # The first second after a boot counts as neither: the state of the rotor is unknown then.
        standing = np.where(np.isfinite(moving) | unseen, ((flow.status & Status.STOPPED) != 0) | unseen, np.nan)
    rate, median = 0.0, float("nan")
    temperature = series.get("line_temperature")
    if temperature is not None and len(temperature) > 10:
        steps = np.diff(temperature.value) / np.maximum(np.diff(temperature.time), 1e-3)
        steps = np.sort(steps[np.isfinite(steps)])
        median = float(np.nanmedian(temperature.value)) if np.any(np.isfinite(temperature.value)) else median
        # The third largest in either direction, so that moving a plug once is not a finding.
        rate = float(min(-steps[2], steps[-3])) if steps.size > 6 else 0.0
    systematic = pressure.u_systematic if pressure.u_systematic.size else pressure.u
    return Blocks(
        np.asarray(start + BLOCK * (np.arange(count) + 0.5), dtype=np.float64),
        _mean_by(block, pressure.value, count),
        float(np.nanmedian(systematic)) if np.any(np.isfinite(systematic)) else float("nan"),
        _mean_by(block, moving, count),
        median,
        rate,
        _mean_by(block, standing, count),
    )


# --- a stretch of samples -------------------------------------------------------------------------------------------


def look_at_samples(series: Batch, sensor: RatiometricPressure | None = None) -> list[Finding]:
    """Findings on a stretch of samples (a sweep, or the last minute); empty if there are none.

    ``sensor``: the pressure sensor of the board's settings. Without it, every named sensor is considered.
    """
    found = [_supply(series), _negative_difference(series)]
    blocks = blocks_of(series)
    if blocks is not None:
        found += [_rest(blocks, sensor), _temperature_plug(blocks)]
    found += [*_silent(series), *_clipped(series)]
    return [item for item in found if item is not None]


def _supply(series: Batch) -> Finding | None:
    supply = series.get("supply_voltage")
    if supply is None or not np.any(np.isfinite(supply.value)):
        return None
    v = supply.value[np.isfinite(supply.value)]
    typical, lowest = float(np.quantile(v, 0.98)), float(np.quantile(v, 0.02))
    # The bandgap's error cancels in the ratio, so a dip is detected better than a level.
    if lowest < 0.97 * typical:
        return Finding(
            "supply-sagging",
            "warning",
            "supply",
            f"the board's supply fell by {100 * (1 - lowest / typical):.0f} %",
            "Use a shorter USB cable or a supply of its own for the board, and nothing else on it. Pressure and "
            "temperature are correct down to 4.75 V; the thermal anemometer is not",
        )
    # Below the limit even if the bandgap error is favourable.
    if typical + 2 * float(np.nanmedian(supply.u)) < LEAST_SUPPLY:
        return Finding(
            "supply-low",
            "warning",
            "supply",
            f"the board's supply is {typical:.2f} V; its sensors need at least {LEAST_SUPPLY} V",
            LOW_SUPPLY_REMEDY,
        )
    return None


def _negative_difference(series: Batch) -> Finding | None:
    difference = series.get("differential_pressure")
    if difference is None or not np.any(np.isfinite(difference.value)):
        return None
    d, u = difference.value, float(np.nanmedian(difference.u))
    low, high = float(np.nanquantile(d, 0.02)), float(np.nanquantile(d, 0.98))
    if low < -3 * u and abs(low) > 2 * max(high, 0.0):
        return Finding(
            "flow-backwards",
            "warning",
            "differential",
            f"the pressure across the orifice falls to {low:.0f} Pa",
            "Its two hoses are swapped, or the spool is the wrong way round. Swap the hoses; recorded data stay "
            "usable with the sign reversed",
        )
    return None


def _rest(blocks: Blocks, sensor: RatiometricPressure | None) -> Finding | None:
    """Rotor stopped, and the pressure steady at the rest reading of the *other* kind of sensor."""
    p = blocks.pressure[np.isfinite(blocks.pressure)]
    if p.size < 4 or np.ptp(p) > 500.0:
        return None
    standing = np.nanmean(blocks.stopped) > 0.9
    offsets = {s.c for s in PRESSURE.values()} | {USUAL_ZERO}
    for mine in PRESSURE.values() if sensor is None else (sensor,):
        for c in offsets - {mine.c}:
            seen = (c - mine.c) / mine.k
            if standing and abs(float(np.median(p)) - seen) < 2 * mine.band and abs(seen) > 4 * mine.band:
                return Finding(
                    "pressure-wrong-sensor",
                    "warning",
                    "pressure",
                    f"at rest the pressure reads {np.median(p) / 1e3:.1f} kPa, the zero of the other sensor type",
                    "The plugs of line pressure and differential pressure are swapped, or the fitted sensor "
                    "differs from the board's settings",
                )
    return None


def _temperature_plug(blocks: Blocks) -> Finding | None:
    if blocks.temperature_rate > FASTEST_BEAD:
        seen = f"jumps by {blocks.temperature_rate:.0f} K in a second, too fast for a thermometer in air"
    elif blocks.temperature < COLDEST_LINE or blocks.temperature > HOTTEST_LINE:
        seen = f"reads {blocks.temperature - ZERO_CELSIUS:.0f} °C, not plausible for the line"
    else:
        return None
    return Finding(
        "channels-swapped",
        "warning",
        "temperature",
        f"the line temperature {seen}",
        "The plugs of line temperature and of a pressure sensor are swapped, or the thermistor's plug is loose",
    )


STANDS = 30.0  # Pa: a smaller change counts as no change; judgement


def tap_findings(blocks: Blocks, *, running: bool) -> Finding | None:
    """Finding if the flow covers much of its range while the pressure is constant or lags far behind.

    ``running``: the sweep is not finished. Near shut-off a source's curve is nearly level, so before the rest of the
    curve is measured only a completely constant pressure indicates a blocked tap.
    """
    p, q = blocks.both
    if p.size < 10:
        return None
    top = float(np.max(q))
    # A rotor spinning up or down at constant pressure lasts only seconds, so the range of the flow is what counts.
    swing = float(np.quantile(q, 0.95) - np.quantile(q, 0.05))
    if top <= 0 or swing < 0.3 * top:
        return None
    moved = float(np.quantile(p, 0.95) - np.quantile(p, 0.05))
    span = max(float(np.max(np.abs(p))), 300.0)
    tap = Finding(
        "tap-blocked",
        "warning",
        "pressure",
        f"the flow changed by {100 * swing / top:.0f} % while the pressure changed by {moved:.0f} Pa only",
        "The pressure tap or its hose is blocked (foam, a kink, a drop of water) or has come off. Blow it through from "
        "the sensor's end outward, never into the sensor",
    )
    if moved < STANDS or (moved < 0.03 * span and not running):
        return tap
    # A blocked tap transmits pressure within minutes: while the flow jumps, the pressure then changes no more than
    # while the flow is constant.
    if moved > 0.5 * span:
        return None
    jumped = np.abs(np.diff(q)) > 0.05 * top
    if np.count_nonzero(jumped) < 3 or np.count_nonzero(~jumped) < 10:
        return None
    moves = np.abs(np.diff(p))
    near = np.convolve(jumped, np.ones(3), mode="same") > 0
    if float(np.mean(moves[near])) > 2.0 * float(np.mean(moves[~near])):
        return None
    return Finding(
        "tap-sluggish",
        "warning",
        "pressure",
        "the pressure creeps for many seconds after each change of the flow",
        tap.remedy,
    )


def rises_together(blocks: Blocks) -> Finding | None:
    """Finding if pressure and flow rise together. On a source's curve pressure falls as flow rises."""
    p, q = blocks.both
    if p.size < 12 or np.ptp(q) < 0.3 * np.max(q) or np.ptp(p) < 0.3 * np.max(np.abs(p)):
        return None
    rank_p, rank_q = np.argsort(np.argsort(p)), np.argsort(np.argsort(q))
    if float(np.corrcoef(rank_p, rank_q)[0, 1]) < 0.8:
        return None
    return Finding(
        "pressure-rises-with-flow",
        "warning",
        "pressure",
        "pressure and flow rise and fall together; on a blower's curve the pressure falls as the flow rises",
        "For a sweep, put the throttle after the spool. If it is there, the plugs of two channels are swapped: "
        "check them against the wiring plan",
    )


_PLUGS = {
    "line_pressure": ("pressure", "the pressure sensor"),
    "line_temperature": ("temperature", "the line thermometer"),
    "rotor_frequency": ("rotor", "the anemometer"),
    "ambient_pressure": ("ambient", "the ambient module"),
    "scale_mass": ("scale", "the scale"),
}


def _silent(series: Batch) -> list[Finding]:
    """Findings for channels that stopped sending readings."""
    found: list[Finding] = []
    for name, (channel, words) in _PLUGS.items():
        one = series.get(name)
        if one is None or len(one) < 5:
            continue
        known = np.isfinite(one.value)
        tail = known[-max(3, len(one) // 20) :]
        broke_off = known.any() or bool(one.status[-1] & Status.SILENT)  # SILENT: it stopped before this stretch
        if broke_off and not tail.any() and not (one.status[-1] & Status.SATURATED):
            since = f"since {one.time[np.flatnonzero(known)[-1]]:.0f} s" if known.any() else "for a while"
            turns = ", and whether its vane turns freely" if channel == "rotor" else ""
            found.append(
                Finding(
                    "sensor-silent",
                    "warning",
                    channel,
                    f"{words} gives no signal {since}",
                    f"Check its plug and cable{turns}; recording of the other channels continues",
                )
            )
    return found


def _clipped(series: Batch) -> list[Finding]:
    found: list[Finding] = []
    for name, (channel, words) in _PLUGS.items():
        one = series.get(name)
        if one is None or not len(one):
            continue
        share = float(np.mean((one.status & Status.SATURATED) != 0))
        if share > 0.005:
            found.append(
                Finding(
                    "sensor-clipped",
                    "warning",
                    channel,
                    f"{words} was at the end of its range for {100 * share:.0f} % of the time",
                    "Values beyond its range are unknown. Fit a sensor with a larger range, or stay below the limit",
                )
            )
    return found
