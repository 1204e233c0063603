"""A board of the tests, apart from the simulated rigs: it answers commands and sends line messages, and misbehaves on order.

It can stand behind a pseudo-terminal, a socket, or a port object that spoils the bytes.
"""

import contextlib
import os
import random
import select
import socket
import threading
import time
from pathlib import Path

import serial

from frothline.wire import ENUMS, LAYOUT_HASH, WIRE, Received, StreamDecoder, encode

KIND = ENUMS["channel_kind"]
SENSOR = ENUMS["sensor_kind"]
UNIT = ENUMS["count_unit"]


class FakeBoard:
    """``receive`` bytes of the host, ``step`` to let time pass, ``take`` what it sends."""

    def __init__(
        self,
        *,
        label="bench",
        protocol=WIRE.protocol,
        boot_count=7,
        streaming=False,
        rate=100,
        mute=False,
        deaf_for=0.0,
        speaks_at_boot=True,
        chatter=b"",
        describes=True,
        refuses=(),
        ignores=(),
        first_tick=0,
        identity=None,
    ):
        self.identity = identity  # None: as older firmware, which sends none
        self.label, self.protocol, self.boot_count = label, protocol, boot_count
        self.streaming, self.rate = streaming, rate
        self.mute, self.deaf_for, self.chatter = mute, deaf_for, chatter
        self.describes, self.refuses, self.ignores = describes, set(refuses), list(ignores)
        self.first_tick, self.speaks_at_boot = first_tick, speaks_at_boot
        self.heard = []
        self.sent_lines = 0
        self._boot()

    def _boot(self):
        self.began = self.last_line = time.monotonic()
        self.sequence = 0
        self.decoder = StreamDecoder()
        self.out = bytearray()

    def reset(self, cause="brown_out"):
        """As when its supply fails: a new boot, streaming forgotten."""
        self.boot_count += 1
        self.cause = cause
        self.streaming = False
        self.sequence = 0
        self.decoder = StreamDecoder()
        self.began = self.last_line = time.monotonic()
        if self.describes:
            self.describe()

    cause = "power_on"

    @property
    def tick(self):
        return (self.first_tick + int((time.monotonic() - self.began) * WIRE.tick_hz)) & 0xFFFFFFFF

    def send(self, message, /, **fields):
        self.out += encode(message, self.sequence & 0xFFFF, **fields)
        self.sequence += 1

    def describe(self):
        if self.identity is not None:
            self.send("identity", number=self.identity)
        self.send(
            "description",
            protocol=self.protocol,
            layout_hash=LAYOUT_HASH,
            firmware_major=0,
            firmware_minor=1,
            firmware_patch=0,
            board_kind=1,
            boot_count=self.boot_count,
            reset_cause=ENUMS["reset_cause"][self.cause],
            tick=self.tick,
            tick_hz=WIRE.tick_hz,
            label=self.label,
            streaming=int(self.streaming),
            rate=self.rate,
            enabled=1 << KIND["pressure"] | 1 << KIND["rotor"],
            present=1 << KIND["pressure"] | 1 << KIND["rotor"],
            adc_clock_hz=125000,
            adc_cycles=13,
            rotor_timeout_ticks=WIRE.tick_hz,
            channels=2,
        )
        for kind, sensor, unit, pin in (
            ("pressure", "mpx5050", "adc_sum", "PC0"),
            ("rotor", "pulse_rotor", "pulses", "PB0"),
        ):
            self.send(
                "channel",
                kind=KIND[kind],
                sensor=SENSOR[sensor],
                count_unit=UNIT[unit],
                name=kind,
                rate_millihertz=self.rate * 1000,
                pin=pin,
            )

    def receive(self, data):
        if self.mute or self.chatter or time.monotonic() - self.began < self.deaf_for:
            return
        for event in self.decoder.feed(data):
            if not isinstance(event, Received):
                continue
            self.heard.append(event.name)
            if event.name in self.ignores:
                self.ignores.remove(event.name)
                continue
            result = "ok"
            if event.name in self.refuses:
                result = "bad_value"
            elif event.name == "describe" and self.describes:
                self.describe()
            elif event.name == "start":
                self.streaming, self.last_line = True, time.monotonic()
            elif event.name == "stop":
                self.streaming = False
            elif event.name == "set_rate":
                self.rate = int(event.record["rate"])
            self.send(
                "ack", command=event.message.id, command_sequence=event.sequence, result=ENUMS["ack_result"][result]
            )

    def step(self):
        if self.mute or time.monotonic() - self.began < self.deaf_for:
            self.last_line = time.monotonic()
            return
        if self.deaf_for and self.speaks_at_boot and self.describes:
            self.deaf_for = 0.0
            self.describe()
        now = time.monotonic()
        if self.chatter:
            if now - self.last_line > 0.05:
                self.last_line = now
                self.out += self.chatter
            return
        while self.streaming and now - self.last_line >= 1 / self.rate:
            self.last_line += 1 / self.rate
            tick = (self.first_tick + int((self.last_line - self.began) * WIRE.tick_hz)) & 0xFFFFFFFF
            self.sent_lines += 1
            self.send(
                "line",
                tick=tick,
                pressure_sum=50 * 500,
                pressure_n=50,
                differential_sum=0,
                differential_n=0,
                thermal_sum=0,
                thermal_n=0,
                pulses=self.sent_lines,
                edge_tick=tick,
                flags=0,
            )

    def take(self):
        data, self.out = bytes(self.out), bytearray()
        return data


class Behind(threading.Thread):
    """Runs a board behind a transport until ``end``."""

    def __init__(self, board):
        super().__init__(daemon=True)
        self.board = board
        self.lock = threading.RLock()
        self.over = False
        self.start()

    def run(self):
        while not self.over:
            with self.lock:
                if self.plugged:
                    with contextlib.suppress(OSError):
                        self.exchange()
                else:
                    self.speak_to_nobody()
            time.sleep(0.002)

    def speak_to_nobody(self):
        self.board.step()
        self.board.take()

    def __enter__(self):
        return self

    def __exit__(self, *_):
        self.over = True
        self.join(5)
        self.unplug()


class PtyBoard(Behind):
    """Behind a pseudo-terminal; ``url`` is a link that points at its slave side, as udev's links do."""

    def __init__(self, board, folder, name="ttyBOARD"):
        self.url = str(folder / name)
        self.plugged = False
        self.plug_in()
        super().__init__(board)

    def plug_in(self):
        self.master, slave = os.openpty()
        self.slave_name = os.ttyname(slave)
        os.set_blocking(self.master, False)
        self._slave = slave  # kept open, or the master would report a hang-up between two openings
        temporary = Path(f"{self.url}.new")
        temporary.symlink_to(self.slave_name)
        temporary.replace(self.url)
        self.plugged = True

    def unplug(self):
        if not self.plugged:
            return
        self.plugged = False
        Path(self.url).unlink(missing_ok=True)
        os.close(self._slave)
        os.close(self.master)

    def exchange(self):
        ready, _, _ = select.select([self.master], [], [], 0)
        if ready:
            self.board.receive(os.read(self.master, 4096))
        self.board.step()
        data = self.board.take()
        if data:
            with contextlib.suppress(BlockingIOError):
                os.write(self.master, data)


class SocketBoard(Behind):
    """Behind a TCP port of this computer."""

    def __init__(self, board):
        self.server = socket.create_server(("127.0.0.1", 0))
        self.server.setblocking(False)
        self.url = f"socket://127.0.0.1:{self.server.getsockname()[1]}"
        self.line = None
        self.plugged = True
        super().__init__(board)

    def unplug(self):
        with self.lock:
            self.plugged = False
            if self.line is not None:
                self.line.close()
                self.line = None
            if self.over:
                self.server.close()

    def plug_in(self):
        self.plugged = True

    def exchange(self):
        if self.line is None:
            try:
                self.line, _ = self.server.accept()
            except BlockingIOError:
                self.speak_to_nobody()
                return
            self.line.setblocking(False)
        with contextlib.suppress(BlockingIOError):
            data = self.line.recv(4096)
            if not data:
                self.line.close()
                self.line = None
                return
            self.board.receive(data)
        self.board.step()
        data = self.board.take()
        if data:
            self.line.sendall(data)


class FaultPort:
    """A port object that spoils the bytes on their way from a board, by chance from a seed.

    ``split``: reads give a random part of what is there; the others are probabilities per byte (``drop``,
    ``flip``), per read (``duplicate``, ``delay``); ``close_after`` reads it fails like a pulled cable.
    """

    def __init__(self, board, seed, *, split=False, drop=0.0, flip=0.0, duplicate=0.0, delay=0.0, close_after=None):
        self.board, self.chance = board, random.Random(seed)
        self.split, self.drop, self.flip, self.duplicate, self.delay = split, drop, flip, duplicate, delay
        self.left = close_after
        self.buffer = bytearray()
        self.delivered = bytearray()

    @property
    def in_waiting(self):
        self.board.step()
        self.buffer += self.board.take()
        return len(self.buffer)

    def read(self, size=1):
        if self.left is not None:
            self.left -= 1
            if self.left < 0:
                raise serial.SerialException(5, "device disconnected")
        if self.chance.random() < self.delay:
            time.sleep(0.02)
        if not self.in_waiting:
            time.sleep(0.005)
            return b""
        size = min(max(size, 1), len(self.buffer))
        if self.split:
            size = self.chance.randint(1, size)
        data = bytes(self.buffer[:size])
        del self.buffer[:size]
        if self.chance.random() < self.duplicate:
            data += data
        spoilt = bytearray()
        for byte in data:
            if self.chance.random() < self.drop:
                continue
            spoilt.append(byte ^ (1 << self.chance.randrange(8)) if self.chance.random() < self.flip else byte)
        self.delivered += spoilt
        return bytes(spoilt)

    def write(self, data):
        self.board.receive(data)
        return len(data)

    def close(self):
        pass
