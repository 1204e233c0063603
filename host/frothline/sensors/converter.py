"""Conversion of counts to SI by batches, with the same code for a live stream and a file.

A ``Converter`` is built from the stream's own description and receives decoded tables in the order they were sent.
State carried between batches: the board clock, the rotor's last edges, the latest slow readings. A batch that contains
a board boot is converted boot by boot.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from itertools import pairwise
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from frothline.numerics.arrays import Floats, spread
from frothline.sensors import ambient, analog, load_cell
from frothline.sensors.anemometers import RotorElement, ThermalElement
from frothline.sensors.board_clock import BoardClock
from frothline.sensors.budget import Budget
from frothline.sensors.budget_builder import BudgetConditions, Budgeting
from frothline.sensors.calibration import Calibration
from frothline.sensors.calibration_file import load
from frothline.sensors.datasheets import AMBIENT, NTC
from frothline.sensors.description import RigDescription
from frothline.sensors.differential_elements import OrificeElement, PlateElement, VenturiElement
from frothline.sensors.exhaust import assumed_line_temperature
from frothline.sensors.flow import FlowElement, air_power, flows
from frothline.sensors.last_known import LastKnown, carried_or_assumed
from frothline.sensors.line_state import LineState
from frothline.sensors.reading import Reading
from frothline.sensors.rotor import RotorTimer
from frothline.sensors.series import UNITS, Series, Signal, Status, end_to_end, mark, merged, signals_end_to_end
from frothline.sensors.spool import Spool
from frothline.wire import AFTER_DESCRIPTION, Tables
from frothline.wire.ticks import Boot, boot_starts

# Seconds after which a slow reading is stale, and the time constant with which its uncertainty then grows. The air in
# the line follows a machine that warms and cools in minutes, a room changes within hours, the barometer within a day.
# Judgement, no source.
LINE_TEMPERATURE_FRESH, LINE_TEMPERATURE_LASTS = 2.0, 60.0
AMBIENT_FRESH = 10.0
AMBIENT_LASTS = {"ambient_pressure": 86400.0, "ambient_temperature": 3600.0, "ambient_humidity": 3600.0}
# Series read directly from a sensor. One that becomes unknown after it was known is marked SILENT.
DIRECT_SERIES = {
    "line_pressure",
    "differential_pressure",
    "line_temperature",
    "supply_voltage",
    "scale_mass",
    *AMBIENT_LASTS,
}
_PASSED_ON = np.uint8(Status.STALE | Status.MISSING | Status.SILENT)  # from the state of the line to the flows


class Converter:
    """Conversion of decoded tables to series; see the module docstring. ``description`` comes from the stream.

    ``rotor_turned``: the stream is known to contain rotor pulses, before or after the converted part.
    ``uncertainties``: False gives the same values in less time; ``Series.u`` and ``u_systematic`` are NaN.
    """

    def __init__(
        self,
        description: RigDescription,
        calibration: Calibration | str | Path | None = None,
        spool: Spool | str | Path | None = None,
        *,
        rotor_turned: bool = False,
        uncertainties: bool = True,
    ) -> None:
        self.description = description
        self._uncertainties = uncertainties
        given = Spool.load(spool) if isinstance(spool, str | Path) else spool
        self.spool = given or Spool.for_board(description.label)
        self.signals: dict[str, Signal] = {}  # of the last batch, for the guided calibrations
        self._clock = BoardClock(description.tick_hz)
        self._rotor = RotorTimer(
            self.spool.rotor.pulses_per_revolution,
            description.tick_hz,
            description.rotor_timeout or 1.0,
            turned=rotor_turned,
        )
        self._supply, self._line_temperature = LastKnown(), LastKnown(middle=True)
        self._ambient = {name: LastKnown() for name in AMBIENT_LASTS}
        self._known_once: set[str] = set()
        self._line_tick: int | None = None  # of the latest line message of this boot, as sent
        self._trimming = self._read_trimming()
        self._conversions = BudgetConditions.conversions
        self.element: FlowElement | None = None
        self.use(calibration or Calibration())

    def use(self, calibration: Calibration | str | Path) -> None:
        """Use another calibration from the next batch on. Channels of another board are ignored, see ``refused``."""
        given = load(calibration) if isinstance(calibration, str | Path) else calibration
        self.refused: tuple[str, ...] = given.for_others(self.description.label)
        self.calibration = given.for_board(self.description.label)
        self.element = self._choose_element()
        counted = getattr(self.calibration.get("rotor"), "pulses_per_revolution", 0)
        self._rotor.pulses_per_revolution = counted or self.spool.rotor.pulses_per_revolution

    def budget(self, name: str, value: float, **conditions: float) -> Budget:
        """Uncertainty of the series ``name`` at ``value`` by source, calculated by the converters.

        ``conditions`` are fields of ``BudgetConditions`` (line_pressure Pa, line_temperature K, ...), SI. SensorMissing
        without its sensor, SensorOutOfRange where the sensor cannot read that value.
        """
        asked = BudgetConditions(**{"conversions": self._conversions, **conditions})  # type: ignore[arg-type]
        return Budgeting(self.description, self.calibration, self.spool, self.element).budget(name, value, asked)

    # --- description in the stream --------------------------------------------------------------------------------

    def _absorb(self, tables: Tables) -> None:
        """Update description, channels and trimming from a batch."""
        rows = tables["description"]
        if len(rows):
            fresh = RigDescription.from_tables({"description": rows})
            following = {name: tables[name] for name in AFTER_DESCRIPTION if name in tables}
            complete = RigDescription.from_tables({"description": rows, **following})
            kept = {**self.description.channels, **complete.channels}
            self.description = _with_channels(
                fresh, self.description, complete, kept, adc=bool(len(tables.get("adc", ())))
            )
        else:
            self.description = self.description.updated(tables)
        if "trimming" in tables or len(rows):
            self._trimming = self._read_trimming()
        self.element = self._choose_element()

    def _read_trimming(self) -> ambient.Trimming | None:
        low, high = self.description.low_trimming, self.description.high_trimming
        return ambient.Trimming.from_registers(low, high) if len(low) >= 26 and len(high) >= 7 and any(low) else None

    def _choose_element(self) -> FlowElement | None:
        wanted = self.spool.flow.element
        if wanted == "auto":
            fitted = (kind for kind in ("rotor", "thermal", "differential") if self.description.sensor(kind))
            wanted = {"differential": "orifice"}.get(kind := next(fitted, ""), kind)
        if wanted == "rotor":
            return RotorElement(self.spool, self.calibration.get("rotor"))
        if wanted == "thermal":
            return ThermalElement(self.spool, self.calibration.get("thermal"))
        if wanted == "orifice":
            return OrificeElement(self.spool)
        if wanted == "venturi":
            return VenturiElement(self.spool)
        if wanted == "plate":
            return PlateElement(self.spool, calibration=self.calibration.get("plate"))
        return None

    # --- a batch --------------------------------------------------------------------------------------------------

    def convert(self, tables: Mapping[str, NDArray[Any]]) -> dict[str, Series]:
        """All series of a batch; arrays may have length 0. Does not raise for any sensor data.

        Tables from the decoders carry the order of their frames, so a batch may have any length and may contain board
        boots. Without that order (a plain mapping) a batch belongs to one boot, that of its last description, and each
        table begins within 1,074 s of the latest earlier tick.
        """
        given = tables if isinstance(tables, Tables) else Tables(tables)
        # Invalid sensor data gives NaN; numpy's warnings add nothing.
        with np.errstate(all="ignore"):
            made, signals = [], []
            for part, booted in self._boots(given):
                if booted:
                    self._clock.restart()
                    self._rotor.restart()
                    self._line_tick = None
                made.append(self._convert(part))
                signals.append(self.signals)
            self.signals = merged(signals, signals_end_to_end)
            return merged(made, end_to_end)

    def _boots(self, tables: Tables) -> list[tuple[Tables, bool]]:
        """The batch split at board boots; each part with True if it begins with a boot."""
        rows = tables["description"]
        if not tables.ordered:
            return [(tables, bool(len(rows)) and _boot(RigDescription.from_tables(tables)) != _boot(self.description))]
        starts = boot_starts(tables, _boot(self.description), self._line_tick)
        if not starts:
            return [(tables, False)]
        first = tables.between(0, starts[0])
        parts = [(first, False)] if first else []
        return parts + [(tables.between(*ends), True) for ends in pairwise([*starts, np.iinfo(np.int64).max])]

    def _convert(self, tables: Tables) -> dict[str, Series]:
        self._absorb(tables)
        ticks = self._clock.feed(tables)
        self.signals = {}
        made: dict[str, tuple[NDArray[np.int64], Reading]] = {}
        if "slow" in ticks:
            self._slow(tables["slow"], ticks["slow"], made)
        if "ambient" in ticks:
            self._ambient_module(tables["ambient"], ticks["ambient"], made)
        if "scale" in ticks:
            rows = tables["scale"]
            self._signal("scale", ticks["scale"], rows["counts"].astype(np.float64))
            made["scale_counts"] = (ticks["scale"], load_cell.raw_counts(rows["counts"], rows["flags"]))
            made["scale_mass"] = (
                ticks["scale"],
                load_cell.mass(
                    rows["counts"],
                    rows["flags"],
                    self.spool.scale,
                    self.calibration.get("scale"),
                    self.calibration.zeros.get("scale"),
                ),
            )
        if "line" in ticks:
            self._line_tick = int(tables["line"]["tick"][-1])
            self._line(tables["line"], ticks["line"], made)
        times = {id(tick): self._clock.seconds(tick) for tick in ticks.values()}  # the series of a table share it
        return {name: self._series(name, times[id(tick)], reading) for name, (tick, reading) in made.items()}

    def _series(self, name: str, time: Floats, reading: Reading) -> Series:
        status = reading.status.copy()
        unknown = np.isnan(reading.value)
        if unknown.any():
            unread = unknown & ((status & Status.SATURATED) == 0)
            mark(status, unread, Status.MISSING)
            if name in DIRECT_SERIES:
                known_once = np.logical_or.accumulate(~unknown) | (name in self._known_once)
                mark(status, unread & known_once, Status.SILENT)
        if name in DIRECT_SERIES and not unknown.all():
            self._known_once.add(name)
        if not self._uncertainties:
            nothing = np.broadcast_to(np.nan, reading.value.shape)
            return Series(name, UNITS[name], time, reading.value, nothing, status, nothing)
        u, systematic = reading.u, reading.u_systematic
        if unknown.any():
            u, systematic = np.where(unknown, np.nan, u), np.where(unknown, np.nan, systematic)
        return Series(name, UNITS[name], time, reading.value, u, status, systematic, _shared(name, reading))

    def _signal(self, channel: str, tick: NDArray[np.int64], value: Floats) -> None:
        self.signals[channel] = Signal(self._clock.seconds(tick), value)

    def _ratio(self, rows: NDArray[Any], name: str) -> analog.Ratio:
        return analog.ratio(rows[f"{name}_sum"], rows[f"{name}_n"], self.description.adc)

    def _slow(self, rows: NDArray[Any], tick: NDArray[np.int64], made: dict[str, tuple[Any, Reading]]) -> None:
        bandgap = self._ratio(rows, "bandgap")
        supply = analog.supply(bandgap, calibration=self.calibration.get("supply"))
        with np.errstate(divide="ignore"):
            self._signal("supply", tick, np.where(bandgap.value > 0, 1 / bandgap.value, np.nan))
        self._supply.feed(tick, supply)
        made["supply_voltage"] = (tick, supply)
        ntc = NTC.get(self.description.sensor("temperature"))
        if ntc is None:
            made["line_temperature"] = (tick, analog.missing(tick.size))
            return
        pin = self._ratio(rows, "temperature")
        with np.errstate(divide="ignore", invalid="ignore"):
            self._signal("temperature", tick, 1 / analog.ntc_temperature(analog.ntc_resistance(pin.value, ntc), ntc))
        temperature = analog.line_temperature(pin, ntc, self.calibration.get("temperature"))
        self._line_temperature.feed(tick, temperature)
        made["line_temperature"] = (tick, temperature)

    def _ambient_module(
        self, rows: NDArray[Any], tick: NDArray[np.int64], made: dict[str, tuple[Any, Reading]]
    ) -> None:
        module = AMBIENT.get(self.description.sensor("ambient"))
        if module is None or self._trimming is None:
            for name in self._ambient:
                made[name] = (tick, analog.missing(tick.size))
            return
        for name, reading in ambient.readings(rows["burst"], rows["flags"], self._trimming, module).items():
            self._ambient[name].feed(tick, reading)
            made[name] = (tick, reading)

    def _line(self, rows: NDArray[Any], tick: NDArray[np.int64], made: dict[str, tuple[Any, Reading]]) -> None:
        self._conversions = int(rows["pressure_n"][-1]) or self._conversions
        for name, kind, field in (
            ("line_pressure", "pressure", "pressure"),
            ("differential_pressure", "differential", "differential"),
        ):
            sensor = self.description.pressure_sensor(kind)
            if sensor is None:
                made[name] = (tick, analog.missing(tick.size))
                continue
            pin = self._ratio(rows, field)
            self._signal(kind, tick, pin.value)
            zero = self.calibration.zeros.get(kind)
            made[name] = (tick, analog.pressure(pin, sensor, self.calibration.get(kind), zero))
        if self.description.sensor("thermal"):
            pin = self._ratio(rows, "thermal")
            volts, _, doubts = self._supply.at(tick)
            made["thermal_voltage"] = (tick, analog.volts(pin, volts, lambda: np.hypot(*doubts())))
        else:
            made["thermal_voltage"] = (tick, analog.missing(tick.size))
        if self.description.sensor("rotor"):
            made["rotor_frequency"] = (
                tick,
                self._rotor.feed(tick - self._clock.base, rows["pulses"], rows["edge_tick"], rows["flags"]),
            )
        else:
            made["rotor_frequency"] = (tick, analog.missing(tick.size))
        for name, channel in (("thermal_voltage", "thermal"), ("rotor_frequency", "rotor")):
            self._signal(channel, tick, made[name][1].value)
        state = self._line_state(tick, made["line_pressure"][1])
        if self.element is None:
            for name in ("air_speed", "mass_flow", "line_flow", "free_air_flow", "standard_flow", "air_power"):
                made[name] = (tick, analog.missing(tick.size))
            return
        signal = made[self.element.signal][1]
        mass = self.element.mass_flow(signal, state)
        stale = np.where(state.assumed, np.uint8(Status.STALE), np.uint8(0))
        passed_on = state.status & _PASSED_ON
        mass = replace(mass, status=mass.status | stale | passed_on)
        said = flows(mass, state, self.spool)
        made["air_speed"] = (tick, said.speed)
        made["mass_flow"] = (tick, said.mass)
        made["line_flow"] = (tick, said.line)
        made["free_air_flow"] = (tick, said.free_air)
        made["standard_flow"] = (tick, said.standard)
        made["air_power"] = (tick, air_power(state.line_pressure, said.standard))

    def _line_state(self, tick: NDArray[np.int64], pressure: Reading) -> LineState:
        site, hz = self.spool.site, self.description.tick_hz
        fitted = self.description.has("ambient")
        assumed = np.zeros(tick.size, bool)
        read: dict[str, Reading] = {}
        guesses: dict[str, tuple[float, float]] = {
            "ambient_pressure": (site.ambient_pressure, site.u_ambient_pressure),
            "ambient_temperature": (site.ambient_temperature, site.u_ambient_temperature),
            "ambient_humidity": (site.ambient_humidity, site.u_ambient_humidity),
        }
        module = AMBIENT.get(self.description.sensor("ambient"))
        for name, (value, u) in guesses.items():
            expected = fitted and not (name == "ambient_humidity" and module is not None and np.isnan(module.humidity))
            read[name], taken = carried_or_assumed(
                self._ambient[name],
                tick,
                AMBIENT_FRESH * hz,
                AMBIENT_LASTS[name] * hz,
                expected,
                lambda value=value, u=u: (np.asarray(value), np.asarray(u)),  # type: ignore[misc]
                name,
            )
            assumed |= taken & (name != "ambient_humidity")
        room = read["ambient_temperature"]

        def assumed_temperature() -> tuple[Floats, Floats]:
            return assumed_line_temperature(site, room.value, room.u, pressure.value, read["ambient_pressure"].value)

        temperature, taken = carried_or_assumed(
            self._line_temperature,
            tick,
            LINE_TEMPERATURE_FRESH * hz,
            LINE_TEMPERATURE_LASTS * hz,
            self.description.sensor("temperature") != 0,
            assumed_temperature,
            "line_temperature",
        )
        return LineState(
            line_pressure=pressure,
            line_temperature=temperature,
            ambient_pressure=read["ambient_pressure"],
            ambient_temperature=read["ambient_temperature"],
            ambient_humidity=read["ambient_humidity"],
            assumed=assumed | taken,
        )


def _shared(name: str, reading: Reading) -> dict[str, Floats]:
    """Contribution of each error common to a session to a steady point's pressure or flow."""
    if name == "line_pressure":  # other readings use it as one error of this name, see ``of_reading``
        return {name: reading.u_systematic}
    if name != "standard_flow":
        return {}
    return {
        item.source: spread(item.standard, reading.value.shape)
        for item in reading.contributions
        if item.kind == "systematic"
    }


def _boot(description: RigDescription) -> Boot:
    return description.label, description.boot_count


def _with_channels(
    fresh: RigDescription, before: RigDescription, merged: RigDescription, channels: Mapping[str, Any], *, adc: bool
) -> RigDescription:
    """The latest description with what is known so far of the messages that follow it.

    ``adc``: ``merged`` has the message of the converter. A board of another kind may have another one.
    """
    return replace(
        fresh,
        channels=channels,
        low_trimming=merged.low_trimming or before.low_trimming,
        high_trimming=merged.high_trimming or before.high_trimming,
        chip_id=merged.chip_id or before.chip_id,
        adc=before.adc if not adc and before.board_kind == fresh.board_kind else merged.adc,
        linear={**before.linear, **merged.linear},
    )
