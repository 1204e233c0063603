"""The board of the modelled rig: the messages and commands of the firmware, in Python, without its registers.

It reproduces what is visible on the line: windows that end at exact ticks, turns of the converter between the fast
inputs and the slow ones, slow messages, bursts, marks, acknowledgements, settings that survive a power cut. The
emulated rig executes the same instruction by instruction; a test compares the two.
"""

from __future__ import annotations

from random import Random
from typing import Any
from zlib import crc32

from frothline.simulation import ambient_module
from frothline.simulation.board_channels import KIND, PINS, SENSOR, UNIT, UNITS, bit, fitted
from frothline.simulation.linear_lines import LinearLines
from frothline.simulation.sampler import BANDGAP, DIFFERENTIAL, PRESSURE, TEMPERATURE, THERMAL, Sampler
from frothline.simulation.world import STEP, World
from frothline.wire import ENUMS, LAYOUT_HASH, WIRE, Message, cobs, encode
from frothline.wire.decoder import LENGTH, LONGEST, UNKNOWN, read_frame
from frothline.wire.layout import LAYOUT

TICK_HZ = WIRE.tick_hz
TICKS_PER_STEP = round(STEP * TICK_HZ)
TICKS_PER_CONVERSION = 208  # 13 converter clocks at 125 kHz, in ticks of 0.5 us
ROTOR_TIMEOUT = TICK_HZ
VERSION = (0, 3, 0)
DESCRIBE_EVERY = 5 * TICK_HZ
WRAP = 0xFFFFFFFF

_FLAG = ENUMS["line_flag"]
_DEVICE = ENUMS["device_flag"]
_ACK = ENUMS["ack_result"]
_FIRST_COMMAND, _LAST_COMMAND = LAYOUT.ranges["command"]


class ModelledBoard:
    """Board with :meth:`receive` for bytes from the host, :meth:`step` for time, and ``sent`` for bytes to the host.

    Parameters
    ----------
    world
        The surroundings; the caller steps it, then the board.
    random
        Generator of the converter noise.
    first_tick
        Board tick at the first boot, to reach the 32-bit wrap soon.
    label
        Default board label in the settings.
    adc_levels
        Full scale of the converter.
    """

    def __init__(
        self,
        world: World,
        random: Random,
        *,
        first_tick: int = 0,
        rate: int = 100,
        label: str = "modelled rig",
        adc_levels: int = 1024,
    ) -> None:
        self.world = world
        self._random = random
        self._first_tick = first_tick
        self.label = label
        self.identity = crc32(label.encode())  # unchanged when the label is changed
        self.storage: dict[str, int] = fitted(world.scenario) | {"rate": rate, "generation": 0}
        self.adc_levels = adc_levels
        self.lines = LinearLines()
        self.sent = bytearray()
        self.boot_count = 0
        self.boot("power_on")

    def boot(self, cause: str) -> None:
        """Restart; ``cause`` is a name of reset_cause."""
        self.boot_count += 1
        self._cause = ENUMS["reset_cause"][cause]
        self._boot_step = self.world.steps
        self._rate = self.storage["rate"]
        self._enabled = self._channel_bits()
        self._sequence = 0
        self._heard = b""
        self._damaged = 0
        self.streaming = self._first = False
        self._started = self._windows = 0
        self._schedule_rate = self._rate
        self._pulses = 0
        self._edge = 0
        self._last_edge = -(10**12)
        self._marks = 0
        self._button_was = False
        self._sampler = Sampler(self.world, self._random, self._enabled, self.adc_levels)
        self._due: dict[str, int] = {"describe": DESCRIBE_EVERY}
        self._describe()

    # --- time -------------------------------------------------------------------------------------------------

    @property
    def now(self) -> int:
        """Ticks since boot, not wrapped."""
        return (self.world.steps - self._boot_step) * TICKS_PER_STEP

    def _wire_tick(self, ticks: int) -> int:
        return (ticks + self._first_tick) & WRAP

    def step(self) -> None:
        """Process one step of the world."""
        world = self.world
        now = self.now
        edges = world.instruments.edges
        if edges:
            if world.is_present("rotor"):
                boot = self._boot_step * STEP
                self._pulses += len(edges)
                self._last_edge = int((edges[-1] - boot) * TICK_HZ)
                self._edge = self._wire_tick(self._last_edge)
            edges.clear()
        if world.button and not self._button_was:
            self._marks += 1
            self._send(
                "mark", tick=self._wire_tick(now), number=self._marks & 0xFFFF, source=ENUMS["mark_source"]["button"]
            )
        self._button_was = world.button
        sampler = self._sampler
        sampler.look_again()
        due = self._due
        if due["describe"] <= now:
            due["describe"] += DESCRIBE_EVERY
            self._describe()
        if not self.streaming:
            sampler.run_to(now // TICKS_PER_CONVERSION)
            return
        while due["line"] <= now:
            sampler.run_to(due["line"] // TICKS_PER_CONVERSION)
            self._close_line(due["line"])
        sampler.run_to(now // TICKS_PER_CONVERSION)
        if due["slow"] <= now:
            self._close_slow()
        if due["ambient"] <= now:
            self._send_ambient(now)
        if due["scale"] <= now:
            self._send_scale(now)
        if due["health"] <= now:
            due["health"] += TICK_HZ
            self._send_health(now)

    # --- messages ---------------------------------------------------------------------------------------------

    def _send(self, name: str, /, **fields: Any) -> None:
        self.sent += encode(name, self._sequence, **fields)
        self._sequence = (self._sequence + 1) & 0xFFFF

    def _close_line(self, end: int) -> None:
        self._windows += 1
        flags = _FLAG["first"] if self._first else 0
        self._first = False
        if self._schedule_rate != self._rate:  # a new rate holds from the end of a window on
            self._started, self._windows, self._schedule_rate = end, 0, self._rate
        self._due["line"] = self._started + (self._windows + 1) * TICK_HZ // self._rate
        if end - self._last_edge > ROTOR_TIMEOUT:
            flags |= _FLAG["rotor_stopped"]
        if self._pulses:
            flags |= _FLAG["rotor_seen"]
        if self._button_was:
            flags |= _FLAG["button_down"]
        p, pn = self._sampler.taken(PRESSURE)
        d, dn = self._sampler.taken(DIFFERENTIAL)
        t, tn = self._sampler.taken(THERMAL)
        rotor = bool(self._enabled & bit("rotor"))
        self._send(
            "line",
            tick=self._wire_tick(end),
            pressure_sum=p,
            pressure_n=pn,
            differential_sum=d,
            differential_n=dn,
            thermal_sum=t,
            thermal_n=tn,
            pulses=self._pulses & WRAP if rotor else 0,
            edge_tick=self._edge if rotor else 0,
            flags=flags,
        )

    def _close_slow(self) -> None:
        end = self._due["slow"]
        self._due["slow"] = end + TICK_HZ // 5
        t, tn = self._sampler.taken(TEMPERATURE)
        b, bn = self._sampler.taken(BANDGAP)
        self._send("slow", tick=self._wire_tick(end), temperature_sum=t, temperature_n=tn, bandgap_sum=b, bandgap_n=bn)

    def _send_ambient(self, now: int) -> None:
        self._due["ambient"] += TICK_HZ
        if not self._enabled & bit("ambient"):
            return
        there = self.world.is_present("ambient")
        flags = _DEVICE["present"] | _DEVICE["fresh"] if there else 0
        burst = self.world.ambient_burst() if there else bytes(8)
        self._send("ambient", tick=self._wire_tick(now), burst=burst, flags=flags)

    def _send_scale(self, now: int) -> None:
        there = self.world.is_present("scale")
        self._due["scale"] += TICK_HZ // 10 if there else TICK_HZ  # an absent scale is reported once a second
        if not self._enabled & bit("scale"):
            return
        counts = self.world.instruments.scale_counts(self.world.scale_mass()) if there else 0
        flags = _DEVICE["present"] | _DEVICE["fresh"] if there else 0
        if counts in {-0x800000, 0x7FFFFF}:
            flags |= _DEVICE["saturated"]
        self._send("scale", tick=self._wire_tick(now), counts=counts, flags=flags)

    def _send_health(self, now: int) -> None:
        self._send(
            "health",
            tick=self._wire_tick(now),
            frames_dropped=0,
            adc_overruns=0,
            capture_overruns=0,
            bus_errors=0,
            bus_recoveries=0,
            receive_errors=self._damaged & 0xFFFF,
            ring_high_water=0,
            stack_free=1024,  # constant, no stack here
            loop_worst_ticks=0,
        )

    def _present_bits(self) -> int:
        present = self._enabled
        for device in ("ambient", "scale"):
            if not self.world.is_present(device):
                present &= ~bit(device)
        return present

    def _channels(self) -> list[tuple[str, int, int]]:
        """(kind, sensor, rate in mHz) of the enabled channels."""
        s, fast = self.storage, 1000 * self._rate
        table = [
            ("pressure", s["pressure_sensor"], fast),
            ("differential", s["differential_sensor"], fast),
            ("rotor", s["anemometer"], fast),
            ("thermal", s["anemometer"], fast),
            ("temperature", s["temperature_sensor"], 5000),
            ("supply", SENSOR["bandgap_1v1"], 5000),
            ("ambient", SENSOR["bme280"], 1000),
            ("scale", SENSOR["hx711_a128"], 10000),
            ("button", SENSOR["push_button"], 0),
        ]
        return [row for row in table if self._enabled & bit(row[0])]

    def _describe(self) -> None:
        channels = self._channels()
        self._send("identity", number=self.identity)
        self._send(
            "description",
            protocol=WIRE.protocol,
            layout_hash=LAYOUT_HASH,
            firmware_major=VERSION[0],
            firmware_minor=VERSION[1],
            firmware_patch=VERSION[2],
            board_kind=ENUMS["board_kind"]["modelled"],
            boot_count=self.boot_count,
            reset_cause=self._cause,
            tick=self._wire_tick(self.now),
            tick_hz=TICK_HZ,
            label=self.label,
            streaming=int(self.streaming),
            rate=self._rate,
            enabled=self._enabled,
            present=self._present_bits(),
            adc_clock_hz=125000,
            adc_cycles=13,
            rotor_timeout_ticks=ROTOR_TIMEOUT,
            channels=len(channels),
        )
        for kind, sensor, rate in channels:
            self._send(
                "channel",
                kind=KIND[kind],
                sensor=sensor,
                count_unit=UNIT[UNITS[kind]],
                name=kind,
                rate_millihertz=rate,
                pin=PINS[kind],
            )
        accuracy = 200 * self.adc_levels // 1024  # the same share of the supply for each converter
        self._send("adc", levels=self.adc_levels, accuracy_centicounts=min(accuracy, 0xFFFF))
        for line in self.lines.messages(self.storage, self._enabled):
            self._send("linear_sensor", **line)
        if self._present_bits() & bit("ambient"):
            trimming = self.world.trimming
            self._send(
                "trimming",
                address=ambient_module.ADDRESS,
                chip_id=ambient_module.CHIP_ID,
                low=trimming.low(),
                high=trimming.high(),
            )

    def _send_settings(self) -> None:
        self._send("settings", label=self.label, **self.storage)

    # --- commands ---------------------------------------------------------------------------------------------

    def receive(self, data: bytes) -> None:
        """Bytes from the host."""
        *whole, self._heard = (self._heard + data).split(b"\0")
        self._heard = self._heard[: LONGEST + 1]
        for stuffed in filter(None, whole):
            found = read_frame(stuffed)
            if isinstance(found, str):
                self._refuse(stuffed, found)
            elif found[0].origin != "command":
                self._damaged += 1  # not a command, possibly an echo
            else:
                self._obey(*found)

    def _refuse(self, stuffed: bytes, reason: str) -> None:
        result = {UNKNOWN: "unknown_command", LENGTH: "bad_length"}.get(reason)
        whole = b"" if result is None else cobs.decode(stuffed)
        if result is not None and _FIRST_COMMAND <= whole[0] <= _LAST_COMMAND:
            sequence = int.from_bytes(whole[1:3], "little")
            self._send("ack", command=whole[0], command_sequence=sequence, result=_ACK[result])
        else:
            self._damaged += 1

    def _obey(self, command: Message, record: Any) -> None:
        name, result = command.name, _ACK["ok"]
        if name == "set_rate":
            if 10 <= int(record["rate"]) <= 500:
                self._rate = int(record["rate"])
            else:
                result = _ACK["bad_value"]
        elif name == "write_settings":
            result = self._write_settings(record)
        elif name == "write_linear_sensor":
            result = _ACK["ok" if self.lines.write(record) else "bad_value"]
        elif name == "start":
            self.start()
        elif name == "stop":
            self.streaming = False
        self._send("ack", command=command.id, command_sequence=int(record["sequence"]), result=result)
        if result == _ACK["ok"]:
            if name in {"read_settings", "write_settings"}:
                self._send_settings()
            if name != "read_settings":
                self._describe()  # requested, or changed by the command

    def start(self) -> None:
        """Start streaming, as the start command does; no effect while streaming."""
        if self.streaming:
            return
        self.streaming = self._first = True
        now = self._started = self.now
        self._windows, self._schedule_rate = 0, self._rate
        self._due |= {"ambient": now + TICK_HZ // 20, "scale": now + TICK_HZ // 10, "health": now + TICK_HZ}
        self._sampler.begin(now // TICKS_PER_CONVERSION)
        self._due |= {"line": now + TICK_HZ // self._rate, "slow": now + TICK_HZ // 5}

    def _channel_bits(self) -> int:
        """Enabled channels: those of the settings, and the anemometer given as fitted."""
        fitted = {SENSOR["pulse_rotor"]: bit("rotor"), SENSOR["thermal_module"]: bit("thermal")}
        return self.storage["enabled"] | fitted.get(self.storage["anemometer"], 0)

    def _write_settings(self, record: Any) -> int:
        wanted = {name: int(record[name]) for name in self.storage if name != "generation"}
        fits = (
            10 <= wanted["rate"] <= 500
            and not wanted["enabled"] & ~sum(map(bit, PINS))
            and max(wanted["pressure_sensor"], wanted["differential_sensor"]) <= SENSOR["linear_pressure"]
            and wanted["anemometer"] in {0, SENSOR["pulse_rotor"], SENSOR["thermal_module"]}
            and wanted["temperature_sensor"] in {0, *(SENSOR[f"ntc_10k_{beta}"] for beta in (3950, 3977, 3435))}
        )
        if not fits:
            return _ACK["bad_value"]
        self.label = bytes(record["label"]).split(b"\0")[0].decode(errors="replace")
        self.storage |= {**wanted, "generation": (self.storage["generation"] + 1) & 0xFFFF}
        self._rate = wanted["rate"]
        self._enabled = self._sampler.enabled = self._channel_bits()
        return _ACK["ok"]
