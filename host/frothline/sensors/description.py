"""The board's description: its channels and their sensors."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import Any

from numpy.typing import NDArray

from frothline.errors import SensorMissing
from frothline.sensors.datasheets import ADC, LINEAR, PRESSURE, Adc, RatiometricPressure, converter_of, linear_pressure
from frothline.wire import ENUMS, WIRE, name_of, text

Tables = Mapping[str, NDArray[Any]]
_CHANNEL = ENUMS["channel_kind"]


def line_of(row: Any) -> RatiometricPressure | None:
    """The sensor of a ``linear_sensor`` message."""
    return linear_pressure(
        float(row["low_pascal"]),
        float(row["high_pascal"]),
        float(row["low_millivolt"]) / 1e3,
        float(row["high_millivolt"]) / 1e3,
        float(row["accuracy_per_myriad"]) / 1e4,
    )


@dataclass(frozen=True)
class Channel:
    """One channel of the board.

    kind : number of ``channel_kind``
    sensor : number of ``sensor_kind``
    rate : Hz
    """

    kind: int
    sensor: int
    name: str
    rate: float
    pin: str

    @property
    def kind_name(self) -> str:
        return name_of("channel_kind", self.kind)


@dataclass(frozen=True)
class RigDescription:
    """The board as described by its description and the messages that follow it; ``channels`` by name of their kind.

    adc : its converter; that of the first boards where no message describes it
    linear : lines of the linear pressure sensors by name of their channel kind
    """

    label: str
    firmware: str
    board_kind: str
    boot_count: int
    reset_cause: int
    tick: int
    tick_hz: int
    rate: int
    enabled: int
    present: int
    rotor_timeout: float
    channels: Mapping[str, Channel] = field(default_factory=dict)
    low_trimming: bytes = b""  # registers 0x88 to 0xA1 of the ambient module
    high_trimming: bytes = b""  # registers 0xE1 to 0xF0
    chip_id: int = 0
    adc: Adc = ADC
    linear: Mapping[str, RatiometricPressure | None] = field(default_factory=dict)

    @classmethod
    def from_tables(cls, tables: Tables) -> RigDescription:
        """From the tables of a decoder; the last description is used. SensorMissing without one."""
        rows = tables.get("description")
        if rows is None or len(rows) == 0:
            raise SensorMissing(
                "the stream contains no description of the board",
                remedy="Request one with the describe command, or start the recording before the stream",
            )
        row = rows[-1]
        described = cls(
            label=text(row["label"]),
            firmware=f"{row['firmware_major']}.{row['firmware_minor']}.{row['firmware_patch']}",
            board_kind=name_of("board_kind", int(row["board_kind"])),
            boot_count=int(row["boot_count"]),
            reset_cause=int(row["reset_cause"]),
            tick=int(row["tick"]),
            tick_hz=int(row["tick_hz"]) or WIRE.tick_hz,
            rate=int(row["rate"]),
            enabled=int(row["enabled"]),
            present=int(row["present"]),
            rotor_timeout=int(row["rotor_timeout_ticks"]) / (int(row["tick_hz"]) or WIRE.tick_hz),
        )
        return described.updated(tables)

    def updated(self, tables: Tables) -> RigDescription:
        """A copy with the channels, converter, linear sensors and trimming constants of these tables."""
        channels = dict(self.channels)
        for row in tables.get("channel", ()):
            channel = Channel(
                int(row["kind"]),
                int(row["sensor"]),
                text(row["name"]),
                float(row["rate_millihertz"]) / 1e3,
                text(row["pin"]),
            )
            channels[channel.kind_name] = channel
        linear = dict(self.linear)
        for row in tables.get("linear_sensor", ()):
            linear[name_of("channel_kind", int(row["kind"]))] = line_of(row)
        described = replace(self, channels=channels, linear=linear)
        converter = tables.get("adc")
        if converter is not None and len(converter):
            row = converter[-1]
            described = replace(described, adc=converter_of(int(row["levels"]), int(row["accuracy_centicounts"]) / 100))
        trimming = tables.get("trimming")
        if trimming is not None and len(trimming):
            row = trimming[-1]
            described = replace(
                described,
                low_trimming=bytes(row["low"]),
                high_trimming=bytes(row["high"]),
                chip_id=int(row["chip_id"]),
            )
        return described

    def sensor(self, kind: str) -> int:
        """Number of the sensor on a channel kind; 0 without a sensor or with the channel disabled."""
        channel = self.channels.get(kind)
        if channel is None or not self.enabled >> _CHANNEL[kind] & 1:
            return 0
        return channel.sensor

    def pressure_sensor(self, kind: str) -> RatiometricPressure | None:
        """The sensor of the channel ``pressure`` or ``differential``; None without one, or without its line."""
        sensor = self.sensor(kind)
        return self.linear.get(kind) if sensor == LINEAR else PRESSURE.get(sensor)

    def has(self, kind: str) -> bool:
        """True if the channel is fitted, enabled and present."""
        return self.sensor(kind) != 0 and bool(self.present >> _CHANNEL[kind] & 1)
