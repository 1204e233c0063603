"""A board's stream made frame by frame, a clock that stands still until told, and a disk that fails when told."""

import errno
import os

from frothline.recording.disk import Disk, SystemClock
from frothline.wire import ENUMS, encode

TICK_HZ = 2_000_000
KINDS, SENSORS = ENUMS["channel_kind"], ENUMS["sensor_kind"]
FITTED = {
    "pressure": "mpx5050",
    "rotor": "pulse_rotor",
    "temperature": "ntc_10k_3950",
    "supply": "bandgap_1v1",
    "scale": "hx711_a128",
    "button": "push_button",
}


class BoardStream:
    """What a board would send; every call gives the bytes of one or more frames."""

    def __init__(self, boot=1, tick=0, rate=100):
        self.boot, self.tick, self.rate = boot, tick, rate
        self.sequence = self.pulses = 0

    def send(self, message, /, **fields):
        self.sequence += 1
        return encode(message, self.sequence - 1, **fields)

    def description(self):
        bits = sum(1 << KINDS[kind] for kind in FITTED)
        out = self.send(
            "description", protocol=1, layout_hash=0, firmware_major=1, firmware_minor=0, firmware_patch=2,
            board_kind=2, boot_count=self.boot, reset_cause=1, tick=self.tick % 2**32, tick_hz=TICK_HZ, label="shed",
            streaming=1, rate=self.rate, enabled=bits, present=bits, adc_clock_hz=125000, adc_cycles=13,
            rotor_timeout_ticks=4_000_000, channels=len(FITTED),
        )  # fmt: skip
        for kind, sensor in FITTED.items():
            out += self.send(
                "channel", kind=KINDS[kind], sensor=SENSORS[sensor], count_unit=1, name=kind,
                rate_millihertz=self.rate * 1000, pin="PC0",
            )  # fmt: skip
        return out

    def line(self, pressure=32736):
        self.tick += TICK_HZ // self.rate
        self.pulses += 1
        return self.send(
            "line", tick=self.tick % 2**32, pressure_sum=pressure, pressure_n=64, differential_sum=0,
            differential_n=64, thermal_sum=0, thermal_n=64, pulses=self.pulses, edge_tick=(self.tick - 77) % 2**32,
            flags=2,
        )  # fmt: skip

    def lines(self, n):
        return b"".join(self.line() for _ in range(n))

    def slow(self):
        return self.send(
            "slow", tick=self.tick % 2**32, temperature_sum=32736, temperature_n=64, bandgap_sum=14408, bandgap_n=64
        )

    def seconds(self, n):
        """n seconds of stream: lines at the rate, slow readings five times a second."""
        out = b""
        for _ in range(5 * n):
            out += self.lines(self.rate // 5) + self.slow()
        return out


class SetClock(SystemClock):
    def __init__(self, unix=1_700_000_000.0, monotonic=1000.0):
        self.unix, self.monotonic = unix, monotonic

    def unix_ns(self):
        return round(self.unix * 1e9)

    def monotonic_ns(self):
        return round(self.monotonic * 1e9)

    def advance(self, seconds):
        self.unix += seconds
        self.monotonic += seconds


class FailingDisk(Disk):
    """A disk whose ``fail_at``-th call (counted from 1 over all kinds) fails, once or for ever.

    ``most`` bytes are taken by one write. A sync that fails throws away what the last good one had not covered, as
    kernels may. ``room`` is the free space.
    """

    def __init__(self, fail_at=0, number=errno.EIO, *, for_ever=False, most=None, room=10**12):
        self.fail_at, self.number, self.for_ever, self.most, self.room = fail_at, number, for_ever, most, room
        self.calls = self.failures = 0
        self._safe = {}
        self._file = {}

    def _call(self, path=None):
        self.calls += 1
        if self.fail_at and (self.calls == self.fail_at or (self.for_ever and self.calls > self.fail_at)):
            self.failures += 1
            raise OSError(self.number, os.strerror(self.number), path)

    def create(self, path):
        self._call(path)
        descriptor = super().create(path)
        self._file[descriptor] = path
        self._safe[path] = 0
        return descriptor

    def duplicate(self, descriptor):
        own = super().duplicate(descriptor)
        self._file[own] = self._file.get(descriptor)
        return own

    def publish(self, descriptor, temporary, path):
        self._call(path)
        own = super().publish(descriptor, temporary, path)
        self._file[own] = path
        self._safe[path] = self._safe.pop(temporary)
        return own

    def write(self, descriptor, data):
        self._call()
        return super().write(descriptor, data[: self.most])

    def sync(self, descriptor):
        path = self._file[descriptor]
        try:
            self._call()
        except OSError:
            os.truncate(path, self._safe[path])
            raise
        self._safe[path] = path.stat().st_size

    def sync_folder(self, folder):
        self._call()

    def free(self, folder):
        return self.room
