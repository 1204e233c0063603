"""The board's description: its channels and their sensors."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import Any

from numpy.typing import NDArray

from frothline.errors import SensorMissing
from frothline.wire import ENUMS, WIRE, name_of, text

Tables = Mapping[str, NDArray[Any]]
_CHANNEL = ENUMS["channel_kind"]


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
    """The board as described by its description, channel and trimming messages; ``channels`` by name of their kind."""

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
        """A copy with the channels and trimming constants of these tables."""
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
        described = replace(self, channels=channels)
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

    def has(self, kind: str) -> bool:
        """True if the channel is fitted, enabled and present."""
        return self.sensor(kind) != 0 and bool(self.present >> _CHANNEL[kind] & 1)
