"""Plausibility checks of readings; each finding has observation, meaning and action.

Nothing here changes or drops a sample. A recording holds what the board sent; a finding is advice next to it, and a
recording is read again as it should be once the fault is known. Every rule is on two or more signs that disagree,
and keeps silent where it cannot tell.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from frothline.numerics.arrays import Floats
from frothline.sensors.datasheets import PRESSURE
from frothline.sensors.finding import Finding
from frothline.sensors.series import Series, Status
from frothline.units import ZERO_CELSIUS

Batch = Mapping[str, Series]
BLOCK = 0.5  # s over which samples are averaged before they are looked at
LEAST_SUPPLY = 4.75  # V, below which ratiometric sensors are not ratiometric any more (NXP MPX5050 table, read)
FASTEST_BEAD = 20.0  # K/s up and down again: no thermistor bead in air follows; common practice, no source
COLDEST_LINE, HOTTEST_LINE = 253.15, 373.15  # K


@dataclass(frozen=True)
class Blocks:
    """Block means of the fast series on one time base, NaN where a block holds nothing known."""

    time: Floats
    pressure: Floats
    u_pressure: float
    flow: Floats
    temperature: float  # median, K
    temperature_rate: float  # K/s that was reached upward and downward
    stopped: Floats  # share of each block in which the rotor stood, or gave no pulse from the beginning

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
    pressure, flow = series.get("line_pressure"), series.get("mass_flow")
    if pressure is None or len(pressure) < 20:
        return None
    start = float(pressure.time[0])
    block = ((pressure.time - start) / BLOCK).astype(np.int64)
    count = int(block[-1]) + 1
    if count > 50 * len(pressure):  # a clock that leapt; there is nothing to be said of such a stretch
        return None
    known = flow is not None and len(flow) == len(pressure)
    moving = flow.value if known and flow is not None else np.full(len(pressure), np.nan)
    standing = np.zeros(len(pressure))
    unseen = (flow.status & Status.UNSEEN) != 0 if known and flow is not None else np.zeros(len(pressure), np.bool_)
    if known and flow is not None and (np.isfinite(moving) | unseen).any():
        # The second after a boot, in which nothing is known of the rotor, is neither standing nor turning.
        standing = np.where(np.isfinite(moving) | unseen, ((flow.status & Status.STOPPED) != 0) | unseen, np.nan)
    rate, median = 0.0, float("nan")
    temperature = series.get("line_temperature")
    if temperature is not None and len(temperature) > 10:
        steps = np.diff(temperature.value) / np.maximum(np.diff(temperature.time), 1e-3)
        steps = np.sort(steps[np.isfinite(steps)])
        median = float(np.nanmedian(temperature.value)) if np.any(np.isfinite(temperature.value)) else median
        # The third largest either way: a plug that was moved once is not a plug that is wrong.
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


def look_at_samples(series: Batch) -> list[Finding]:
    """Everything that a stretch of samples (a sweep, or the last minute) says about itself; empty if nothing."""
    found = [_supply(series), _negative_difference(series)]
    blocks = blocks_of(series)
    if blocks is not None:
        found += [rule(blocks) for rule in (_rest, _temperature_plug)]
    found += [*_silent(series), *_clipped(series)]
    return [item for item in found if item is not None]


def _supply(series: Batch) -> Finding | None:
    supply = series.get("supply_voltage")
    if supply is None or not np.any(np.isfinite(supply.value)):
        return None
    v = supply.value[np.isfinite(supply.value)]
    usual, lowest = float(np.quantile(v, 0.98)), float(np.quantile(v, 0.02))
    # The bandgap's own error cancels in the ratio, so a dip is seen far better than a level.
    if lowest < 0.97 * usual:
        return Finding(
            "supply-sagging",
            "warning",
            "supply",
            f"the board's supply fell by {100 * (1 - lowest / usual):.0f} %",
            "Use a shorter USB cable or a supply of its own for the board, and nothing else on it. Pressure and "
            "temperature do not care until it falls below 4.75 V; the thermal anemometer does",
        )
    # Below the limit even if the bandgap errs to the safe side.
    if usual + 2 * float(np.nanmedian(supply.u)) < LEAST_SUPPLY:
        return Finding(
            "supply-low",
            "warning",
            "supply",
            f"the board's supply is {usual:.2f} V, and its sensors need {LEAST_SUPPLY} V",
            "Change the USB cable or the port; then calibrate the supply against a multimeter",
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
            f"the pressure across the orifice goes down to {low:.0f} Pa, below zero",
            "Its two hoses are swapped, or the spool is the wrong way round. Swap the hoses; what was recorded can be "
            "read with the sign turned",
        )
    return None


def _rest(blocks: Blocks) -> Finding | None:
    """With the rotor standing and the pressure steady at what the *other* kind of sensor reads at rest."""
    p = blocks.pressure[np.isfinite(blocks.pressure)]
    if p.size < 4 or np.ptp(p) > 500.0:
        return None
    standing = np.nanmean(blocks.stopped) > 0.9
    offsets = {s.c for s in PRESSURE.values()}
    for mine in PRESSURE.values():
        for c in offsets - {mine.c}:
            seen = (c - mine.c) / mine.k
            if standing and abs(float(np.median(p)) - seen) < 2 * mine.band and abs(seen) > 4 * mine.band:
                return Finding(
                    "pressure-wrong-sensor",
                    "warning",
                    "pressure",
                    f"with the air at rest the pressure reads {np.median(p) / 1e3:.1f} kPa, which is what a sensor of "
                    "the other kind gives at zero",
                    "The plugs of line pressure and differential pressure are swapped, or the board's settings name "
                    "another sensor than is fitted",
                )
    return None


def _temperature_plug(blocks: Blocks) -> Finding | None:
    if blocks.temperature_rate > FASTEST_BEAD:
        seen = f"jumps up and down by {blocks.temperature_rate:.0f} K in a second, which no thermometer in air can"
    elif blocks.temperature < COLDEST_LINE or blocks.temperature > HOTTEST_LINE:
        seen = f"reads {blocks.temperature - ZERO_CELSIUS:.0f} °C, which no line of air is"
    else:
        return None
    return Finding(
        "channels-swapped",
        "warning",
        "temperature",
        f"the line temperature {seen}",
        "The plugs of line temperature and of a pressure sensor are swapped, or the thermistor's plug is loose",
    )


STANDS = 30.0  # Pa: a pressure that moves by less stands; judgement


def tap_findings(blocks: Blocks, *, running: bool) -> Finding | None:
    """Flow moves through most of its range while pressure stands, or creeps along long behind it.

    ``running`` : the sweep goes on. Near shut-off a source's curve is nearly level, so that only a pressure that does
    not move at all tells of a blocked tap as long as the rest of the curve has not been seen.
    """
    p, q = blocks.both
    if p.size < 10:
        return None
    top = float(np.max(q))
    # A rotor that spins up or down while the line stands is over in seconds: what counts is where the flow has been.
    swing = float(np.quantile(q, 0.95) - np.quantile(q, 0.05))
    if top <= 0 or swing < 0.3 * top:
        return None
    moved = float(np.quantile(p, 0.95) - np.quantile(p, 0.05))
    span = max(float(np.max(np.abs(p))), 300.0)
    tap = Finding(
        "tap-blocked",
        "warning",
        "pressure",
        f"the flow changed by {100 * swing / top:.0f} % while the pressure stood within {moved:.0f} Pa",
        "The pressure tap or its hose is blocked (foam, a kink, a drop of water) or has come off. Blow it through from "
        "the sensor's end outward, never into the sensor",
    )
    if moved < STANDS or (moved < 0.03 * span and not running):
        return tap
    # A blocked tap lets pressure through in minutes: the pressure then moves no more while the flow jumps than it does
    # while the flow stands.
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
    """Along a source's curve pressure falls as flow rises; both rising together means another arrangement."""
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
        "pressure and flow rise and fall together, and along a blower's curve one falls as the other rises",
        "For a sweep the throttle belongs behind the spool, not before the source. If it is there, the plugs of two "
        "channels are swapped: compare them with the wiring plan",
    )


_PLUGS = {
    "line_pressure": ("pressure", "the pressure sensor"),
    "line_temperature": ("temperature", "the line thermometer"),
    "rotor_frequency": ("rotor", "the anemometer"),
    "ambient_pressure": ("ambient", "the ambient module"),
    "scale_mass": ("scale", "the scale"),
}


def _silent(series: Batch) -> list[Finding]:
    """Channels that gave something and then nothing more."""
    found: list[Finding] = []
    for name, (channel, words) in _PLUGS.items():
        one = series.get(name)
        if one is None or len(one) < 5:
            continue
        known = np.isfinite(one.value)
        tail = known[-max(3, len(one) // 20) :]
        broke_off = known.any() or bool(one.status[-1] & Status.SILENT)  # before this stretch
        if broke_off and not tail.any() and not (one.status[-1] & Status.SATURATED):
            since = f"since {one.time[np.flatnonzero(known)[-1]]:.0f} s" if known.any() else "for a while"
            turns = ", and whether its vane turns freely" if channel == "rotor" else ""
            found.append(
                Finding(
                    "sensor-silent",
                    "warning",
                    channel,
                    f"{words} has said nothing {since}",
                    f"Look at its plug and cable{turns}; the rest goes on being recorded",
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
                    f"{words} stood at its end for {100 * share:.0f} % of the time",
                    "What lies beyond its range is not known. Fit one with a larger range, or stay below",
                )
            )
    return found


# --- a whole sweep --------------------------------------------------------------------------------------------------


# --- a calibration --------------------------------------------------------------------------------------------------
