"""What looks wrong, in words a builder understands: what is seen, what it means, what to do.

Nothing here changes or drops a sample. A recording holds what the board sent; a finding is advice beside it, and a
recording is read again as it should be once the fault is known. Every rule stands on two or more signs that disagree,
and keeps silent where it cannot tell.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import asdict, dataclass
from typing import Literal

import numpy as np

from frothline.errors import InputError
from frothline.numerics.arrays import Floats
from frothline.sensors.calibration import Calibration, ChannelCalibration
from frothline.sensors.calibration_check import nominal_lines
from frothline.sensors.datasheets import PRESSURE
from frothline.sensors.description import RigDescription
from frothline.sensors.series import Series, Status
from frothline.sensors.spool import Spool
from frothline.units import CONVENTIONAL_INCH_OF_WATER, CUBIC_FOOT_PER_MINUTE, POUND, STANDARD_GRAVITY, ZERO_CELSIUS

Batch = Mapping[str, Series]
BLOCK = 0.5  # s over which samples are averaged before they are looked at
LEAST_SUPPLY = 4.75  # V, below which ratiometric sensors are not ratiometric any more (NXP MPX5050 table, read)
FASTEST_BEAD = 20.0  # K/s up and down again: no thermistor bead in air follows; common practice, no source
COLDEST_LINE, HOTTEST_LINE = 253.15, 373.15  # K


@dataclass(frozen=True)
class Finding:
    """``code`` is stable for scripts; ``what`` is seen, ``remedy`` is to be done; ``channel`` says where."""

    code: str
    severity: Literal["notice", "warning"]
    channel: str
    what: str
    remedy: str

    def as_dict(self) -> dict[str, str]:
        return asdict(self)


@dataclass(frozen=True)
class _Blocks:
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


def _blocks(series: Batch) -> _Blocks | None:
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
    return _Blocks(
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
    blocks = _blocks(series)
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


def _rest(blocks: _Blocks) -> Finding | None:
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


def _temperature_plug(blocks: _Blocks) -> Finding | None:
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


def _tap(blocks: _Blocks, *, running: bool) -> Finding | None:
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


def _rises_together(blocks: _Blocks) -> Finding | None:
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


def look_at_sweep(
    series: Batch, points: tuple[Floats, Floats] | None = None, *, running: bool = False
) -> list[Finding]:
    """What a recording that was meant as a sweep lacks; the findings of its samples come with it.

    ``points``: pressure Pa and flow m3/s or kg/s, (n,) each, of the places that are shown and fitted; how far the sweep
    went is then read off them, and off the samples only where there are none. ``running``: it has not ended yet.
    """
    found = look_at_samples(series)
    blocks = _blocks(series)
    if blocks is None:
        return found
    found += [item for item in (_tap(blocks, running=running), _rises_together(blocks)) if item is not None]
    stood = float(np.nanmean(blocks.stopped))
    if stood > 0.95 and np.count_nonzero(np.isfinite(blocks.pressure)) >= 4:
        return [*found, *_stood(blocks, found)]
    p, q = blocks.both
    if p.size < 4:
        return found
    if any(item.code == "tap-blocked" for item in found):
        return found
    return [*found, *look_at_reach(*(points if points is not None and points[0].size else (p, q)))]


def _stood(blocks: _Blocks, found: Sequence[Finding]) -> list[Finding]:
    """A rotor that gave no pulse all the time."""
    p = blocks.pressure[np.isfinite(blocks.pressure)]
    high_p, low_p = float(np.quantile(p, 0.98)), float(np.quantile(p, 0.02))
    if high_p - low_p > 0.2 * max(high_p, 1000.0):
        words = "the pressure moves and the rotor stands"
        remedy = "Look at the anemometer's plug, and whether its vane turns freely when you blow at it"
        return [Finding("rotor-silent", "warning", "rotor", words, remedy)]
    if any(item.code == "tap-blocked" for item in found):
        return []
    return [_one_end("shut-off", "the rotor stood all the time", "Open the line in steps until it is free")]


def look_at_reach(p: Floats, q: Floats) -> list[Finding]:
    """How much of a source's curve places with these pressures (Pa) and flows, (n,) each, leave out: mere advice."""
    found: list[Finding] = []
    if p.size < 4:
        return found
    high_p, low_p = float(np.quantile(p, 0.98)), float(np.quantile(p, 0.02))
    high_q, low_q = float(np.quantile(q, 0.98)), float(np.quantile(q, 0.02))
    if high_q > 0 and high_q - low_q < 0.25 * high_q and high_p - low_p < 0.25 * max(high_p, 1.0):
        end = "free delivery" if high_p < 1500.0 else "one opening"
        words = f"the flow stayed between {100 * low_q / high_q:.0f} and 100 % of its largest"
        found.append(_one_end(end, words, "Close the line in steps until nothing comes out, then open it again"))
    elif high_q > 0:
        if low_q > 0.35 * high_q:
            found.append(_lacks("low flow", f"the smallest flow was {100 * low_q / high_q:.0f} % of the largest"))
        if low_p > 0.5 * high_p:
            found.append(_lacks("high flow", f"the lowest pressure was {100 * low_p / high_p:.0f} % of the highest"))
    return found


def _one_end(end: str, seen: str, remedy: str) -> Finding:
    return Finding("sweep-one-end", "notice", "sweep", f"the sweep never left {end}: {seen}", remedy)


def _lacks(part: str, seen: str) -> Finding:
    remedy = "Close the line further" if part == "low flow" else "Open the line further, to free delivery if it can be"
    return Finding("sweep-short", "notice", "sweep", f"the sweep lacks points at {part}: {seen}", remedy)


def compare_flows(flow: Floats, reference: Floats, u_relative: float, words: str) -> list[Finding]:
    """Flow against another estimate of the same flow, (n,) each: plates, a bag, or the source's known curve at the
    pressures read. ``u_relative`` is the standard uncertainty of their ratio, ``words`` names the reference.

    Raises InputError for arrays of unequal length, and for an uncertainty that is below zero or no number.
    """
    if np.shape(flow) != np.shape(reference):
        what = f"{np.size(flow)} flows do not go with {np.size(reference)} of {words}"
        raise InputError(what, where="compare flows", remedy="Give one reference for each flow")
    if not 0.0 <= u_relative < np.inf:
        what = f"an uncertainty of {u_relative:g} cannot be"
        raise InputError(what, where="compare flows", remedy="Give a standard uncertainty of zero or more")
    good = np.isfinite(flow) & np.isfinite(reference) & (reference > 0.15 * np.nanmax(reference))
    if np.count_nonzero(good) < 3:
        return []
    ratio = flow[good] / reference[good]
    middle = float(np.median(ratio))
    even = float(np.quantile(ratio, 0.9) - np.quantile(ratio, 0.1)) < 0.12
    if abs(middle - 1) < max(3 * u_relative, 0.05):
        return []
    seen = f"the anemometer reads {100 * abs(1 - middle):.0f} % {'less' if middle < 1 else 'more'} than {words}"
    if 0.5 < middle < 0.88 and even:
        return [
            Finding(
                "flow-backwards",
                "warning",
                "rotor",
                f"{seen}, by the same share at every opening: so a vane reads when it is fitted backwards",
                "Look at the arrow on the anemometer and turn it round. If the arrow is right, look for something that "
                "holds the vane, and calibrate it",
            )
        ]
    if not even:
        cause = "a leak between the two, or a vane that rubs, changes with the opening as this does"
        remedy = "Look for a leak with soapy water, then turn the vane by breath: it must run out freely"
    else:
        cause = "a wrong K factor or another spool does that"
        remedy = "Look whether the spool file and the calibration belong to this spool"
    return [Finding("flow-disagrees", "warning", "rotor", f"{seen}; {cause}", remedy)]


# --- a calibration --------------------------------------------------------------------------------------------------

_UNITS: Mapping[str, tuple[tuple[str, float], ...]] = {
    # what one SI unit is in the unit that was probably meant
    "Pa": (
        ("kPa", 1e-3),
        ("hPa or mbar", 1e-2),
        ("mmH2O", 1 / STANDARD_GRAVITY),
        ("inH2O", 1 / CONVENTIONAL_INCH_OF_WATER),
        ("psi", 1 / 6894.757),
        ("mmHg", 1 / 133.322),
    ),
    "kg": (("g", 1e3), ("lb", 1 / POUND), ("N", STANDARD_GRAVITY)),
    "m3/s": (
        ("L/s", 1e3),
        ("m3/h", 3600.0),
        ("L/min", 6e4),
        ("cfm", 1 / CUBIC_FOOT_PER_MINUTE),
    ),
    "V": (("mV", 1e3),),
}
_OTHER_SIGN, _FAR = 0.0, 0.25


def look_at_calibration(calibration: Calibration, description: RigDescription, spool: Spool) -> list[Finding]:
    """Whether a calibration can belong to this board and its sensors."""
    found = [
        Finding(
            "calibration-other-board",
            "warning",
            channel,
            f"the calibration of {channel} was made on board "
            f"{calibration.channels[channel].board or calibration.board!r}, and this is {description.label!r}",
            "It is not used; data-sheet figures are. Calibrate this board, or correct the label if it is the same one",
        )
        for channel in calibration.for_others(description.label)
    ]
    for channel, nominal in nominal_lines(description, spool).items():
        line = calibration.get(channel)
        if line is not None and (item := _against_nominal(line, nominal)) is not None:
            found.append(item)
    return found


def _against_nominal(line: ChannelCalibration, nominal: Callable[[Floats], Floats]) -> Finding | None:
    ends = np.array([line.low, line.high])
    if line.low == line.high:
        return None
    ours, theirs = np.diff(line.evaluate(ends).value)[0], np.diff(nominal(ends))[0]
    if theirs == 0:
        return None
    unit = line.unit
    factor = float(ours / theirs)
    if factor < _OTHER_SIGN:
        return Finding(
            "calibration-sign",
            "warning",
            line.channel,
            f"the calibration of {line.channel} falls where its sensor rises",
            "Two points were typed in the wrong order, or the sensor's hoses were swapped. Calibrate it again",
        )
    if abs(factor - 1) <= _FAR:
        return None
    for name, size in _UNITS.get(unit, ()):
        if abs(factor / size - 1) < 0.15:
            return Finding(
                "calibration-unit",
                "warning",
                line.channel,
                f"the calibration of {line.channel} gives {factor:.3g} times what its sensor's data sheet does: its "
                f"figures look like {name}, and {unit} is wanted",
                f"Divide coefficients and references by {size:.6g} (the covariance by its square), or calibrate again",
            )
    return Finding(
        "calibration-far",
        "warning",
        line.channel,
        f"the calibration of {line.channel} gives {factor:.3g} times what its sensor's data sheet does",
        "Look whether it is for this sensor; another part may be fitted than the board's settings say",
    )
