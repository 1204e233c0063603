"""Alarms by fixed limits: too high pressure, too hot air, silent sensors."""

from __future__ import annotations

from collections.abc import Sequence
from functools import partial
from math import isfinite, nan
from statistics import fmean

from frothline.physics.safety import HARD_PRESSURE_LIMIT, SOFT_PRESSURE_LIMIT
from frothline.readings.resample import TICK, Tick
from frothline.run.watch.alarm_log import AlarmLog
from frothline.run.watch.alarm_words import FLOW_FROZEN, FROZEN, PRESSURE_FROZEN
from frothline.run.watch.recent_readings import BLOCK
from frothline.run.watch.settings import WatchSettings

SILENT_AFTER = 1.0  # s without pressure, or without flow if no sensor is reported silent
SLOW_SILENT_AFTER = 3.0  # s, for thermometer and scale, in addition to the validity time of a slow reading
UNSEEN_AFTER = 10.0  # s of pressure without a first pulse after which the anemometer counts as silent; judgement
SPEAKS_AFTER = 1.0  # s of readings after which a silent sensor counts as back
USUAL_OVER = 120.0  # s, time constant of the usual temperature
BLIND_FOR = 10.0  # s without a reading after which an alarm of that reading ends: the silent sensor has its own alarm


class SafetyLimits:
    """Alarms by fixed limits. ``hotter``: K of the air in the line over the usual temperature of this run."""

    def __init__(self, settings: WatchSettings) -> None:
        self.hotter = 0.0
        self._settings = settings
        self._usual = nan
        self._known: set[str] = set()  # sensors with readings in this run

    def pressure(self, tick: Tick, book: AlarmLog) -> None:
        p = tick.pressure
        if p > SOFT_PRESSURE_LIMIT or (tick.saturated and not isfinite(p)):
            words = (
                f"{p / 1e3:.0f} kPa on the line" if isfinite(p) else ("the pressure sensor is at the end of its range")
            )
            at_once = p > HARD_PRESSURE_LIMIT
            book.held(
                "pressure_high",
                tick.time,
                0.0 if at_once else 0.5,
                lambda: book.say("pressure_high", tick.time, words),
            )
        elif not isfinite(p):
            book.let_go("pressure_high")
            if tick.pressure_silent or "pressure" in self._known:
                seen = FROZEN if tick.pressure_frozen else "no reading"
                kind = PRESSURE_FROZEN if tick.pressure_frozen else None
                say = partial(book.say, "pressure_off", tick.time, seen, as_kind=kind)
                book.held("mute", tick.time, 0.0 if tick.pressure_frozen else SILENT_AFTER, say)
            self._blind(("pressure_high",), tick.time, book)
        else:
            book.let_go("pressure_high")
            book.let_go("blind pressure_high")
            book.let_go("mute")
            self._known.add("pressure")
            if p < 0.9 * SOFT_PRESSURE_LIMIT:
                book.end("pressure_high", tick.time)

    def anemometer(self, tick: Tick, book: AlarmLog) -> None:
        """Check for a silent anemometer: the line has pressure, or pressure is no longer read.

        A flow is unknown, too, without the line's pressure, or before the first temperature of the air; an anemometer
        that gives a reading is then not silent.
        """
        if isfinite(tick.flow):
            self._known.add("flow")
        heard = tick.flow_silent or tick.flow_unseen or "flow" in self._known
        silent = not isfinite(tick.flow) and not tick.flow_signal and heard
        if silent and (tick.pressure > self._settings.air_on or "pressure_off" in book.lasting):
            at = f" at {tick.pressure / 1e3:.1f} kPa" if isfinite(tick.pressure) else "; the pressure is not known"
            hold = 0.5 if tick.flow_silent else UNSEEN_AFTER if tick.flow_unseen else SILENT_AFTER
            seen = FROZEN if tick.flow_frozen else f"no pulses{at}"
            kind = FLOW_FROZEN if tick.flow_frozen else None
            book.held("silent", tick.time, hold, partial(book.say, "anemometer_off", tick.time, seen, as_kind=kind))
        else:
            book.let_go("silent")
        if silent or "anemometer_off" not in book.lasting:
            book.let_go("speaks")
        else:
            book.held("speaks", tick.time, 1.0, partial(book.end, "anemometer_off", tick.time))

    def silent(self, tick: Tick, book: AlarmLog) -> None:
        """Check for a silent pressure sensor, thermometer or scale that gave readings in this run."""
        for name, code in (("temperature", "thermometer_off"), ("mass", "scale_off")):
            if isfinite(getattr(tick, name)):
                self._known.add(name)
                book.let_go(f"mute {name}")
            elif name in self._known:
                say = partial(book.say, code, tick.time, "no reading")
                book.held(f"mute {name}", tick.time, SLOW_SILENT_AFTER, say)
        for name, code in (("pressure", "pressure_off"), ("temperature", "thermometer_off"), ("mass", "scale_off")):
            if code not in book.lasting or not isfinite(getattr(tick, name)):
                book.let_go(f"speaks {code}")
            else:
                book.held(f"speaks {code}", tick.time, SPEAKS_AFTER, partial(book.end, code, tick.time))

    @staticmethod
    def _blind(codes: Sequence[str], time: float, book: AlarmLog) -> None:
        for code in codes:
            book.held(f"blind {code}", time, BLIND_FOR, partial(book.end, code, time))

    def heat(self, ticks: Sequence[Tick], book: AlarmLog, *, steady: bool) -> None:
        """Check the air temperature. ``steady``: the run foams without a fault, so that the temperature is usual."""
        values = [tick.temperature for tick in ticks if isfinite(tick.temperature)]
        if not values:
            if ticks:
                self._blind(("hot", "too_hot"), ticks[-1].time, book)
            return
        for code in ("hot", "too_hot"):
            book.let_go(f"blind {code}")
        kelvin, time, s = fmean(values), ticks[-1].time, self._settings
        self.hotter = kelvin - self._usual if isfinite(self._usual) else 0.0
        if steady:
            part = BLOCK * TICK / USUAL_OVER
            self._usual = kelvin if not isfinite(self._usual) else self._usual + (kelvin - self._usual) * part
        for code, limit in (("hot", s.hot), ("too_hot", s.too_hot)):
            if kelvin > limit:
                seen = f"the air in the line is at {kelvin - 273.15:.0f} °C"
                book.held(code, time, 2.0, partial(book.say, code, time, seen))
            else:
                book.let_go(code)
                if kelvin < limit - s.cooled:
                    book.end(code, time)
