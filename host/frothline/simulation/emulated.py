"""The emulated rig: the firmware image in the instruction simulator, its pins driven by the physical model.

As a program it serves one rig to the connecting client: ``python -m frothline.simulation.emulated emulated://sweep``
prints one line of JSON with the ports (see :mod:`.remote`); ``--pty`` gives a pseudo-terminal for programs that need a
serial port.
"""

from __future__ import annotations

import argparse
import struct
import sys
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any
from zlib import crc32

from frothline.errors import FrothlineError
from frothline.simulation.board_channels import fitted
from frothline.simulation.emulator_binding import FREQUENCY, INPUTS, STORAGE, Chip, image_path
from frothline.simulation.line_noise import Damager
from frothline.simulation.options import Options, read_url
from frothline.simulation.random_streams import chance
from frothline.simulation.realtime import Simulation
from frothline.simulation.scenarios import Scenario
from frothline.simulation.world import STEP, World, WorldAnswers
from frothline.wire import encode

CYCLES_PER_STEP = round(STEP * FREQUENCY)
_AS_NEW = fitted(Scenario("", ""))  # the firmware's settings before any are written
_BURST_EVERY = 250  # steps
_SCALE_EVERY = 25


# A stored record, as in firmware/core/record.h and settings.h: sequence, format of the settings, label, rate, enabled
# channels, four kinds of sensor; then the CRC-32 over all of it. Little-endian, at STORAGE_SETTINGS_A.
_RECORD = struct.Struct("<HB16sHHBBBB")
_SETTINGS_AT, _SETTINGS_FORMAT = 0x010, 1
_IDENTITY_AT = 0x090


def new_storage(label: str, settings: Mapping[str, int]) -> bytes:
    """The chip's storage, 1024 bytes, with these settings and the identity of that label; 255 is an empty byte."""
    kinds = (settings[f"{name}_sensor"] for name in ("pressure", "differential"))
    record = _RECORD.pack(
        1,
        _SETTINGS_FORMAT,
        label.encode(),
        settings["rate"],
        settings["enabled"],
        *kinds,
        settings["anemometer"],
        settings["temperature_sensor"],
    )
    identity = struct.pack("<HI", 1, crc32(label.encode()))
    storage = bytearray(b"\xff" * STORAGE)
    for at, one in ((_SETTINGS_AT, record), (_IDENTITY_AT, identity)):
        whole = one + struct.pack("<I", crc32(one))
        storage[at : at + len(whole)] = whole
    return bytes(storage)


class EmulatedRig(WorldAnswers):
    """World and chip in lockstep, 2 ms at a time.

    Parameters
    ----------
    options
        As in the URL; ``tick`` is ignored, because the board counts from zero.
    storage
        Contents of the board's storage at power on. None: a board with its label and fitted sensors set, which was
        never switched on since.

    Raises PortError when the simulator is not built or the image cannot be read.
    """

    def __init__(self, options: Options, storage: bytes | None = None) -> None:
        self.options = options
        self.world = World(options.scenario, options.seed, options.errors, **options.changes())
        image = Path(options.image) if options.image else image_path()
        self._storage_file = Path(options.storage) if options.storage else None
        if storage is None and self._storage_file is not None and self._storage_file.is_file():
            storage = self._storage_file.read_bytes()
        self.chip = Chip(image, chance(options.seed, "converter").getrandbits(63))
        self._kept = storage
        self._settings_match = storage is None  # a given storage may not have the fitted sensors
        self.chip.storage = new_storage(options.label, fitted(self.world.scenario)) if storage is None else storage
        self.chip.reset("power_on")
        self._damage = Damager(options.damage, chance(options.seed, "damage"))
        self._to_give = bytearray()
        self._partial = bytearray()
        self._button = False
        self._motor_on_at = -1.0
        if options.zero > 0.0:
            self.world.control("motor", value=False)
            self._motor_on_at = options.zero
        self._burst = self.world.ambient_burst()
        self._plug()
        self._greet()

    def _greet(self) -> None:
        """Send the commands for URL options that differ from the board's own settings."""
        sequence = 0xFF00
        wanted = fitted(self.world.scenario)
        if not self._settings_match and wanted != _AS_NEW:
            self._to_give += b"\0" + encode("write_settings", sequence + 2, label=self.options.label, **wanted)
        if self.options.rate != 100:
            self._to_give += b"\0" + encode("set_rate", sequence, rate=self.options.rate)
        if self.options.streaming:
            self._to_give += b"\0" + encode("start", sequence + 1)
        self._greet_at = self.world.time + 0.15

    @property
    def time(self) -> float:
        return self.world.time

    def _plug(self) -> None:
        world, trimming = self.world, self.world.trimming
        self.chip.ambient(trimming.low(), trimming.high(), self._burst, present=world.is_present("ambient"))
        counts = world.instruments.scale_counts(world.scale_mass())
        self.chip.scale(counts, present=world.is_present("scale"))

    def _keep(self) -> None:
        """Write the board's storage to its file if it changed."""
        if self._storage_file is None:
            return
        storage = self.chip.storage
        if storage != self._kept:
            self._storage_file.write_bytes(storage)
            self._kept = storage

    def step(self) -> None:
        """Advance by 2 ms."""
        world, chip = self.world, self.chip
        if 0.0 < self._motor_on_at <= world.time:
            world.control("motor", value=True)
            self._motor_on_at = -1.0
        world.step()
        if world.steps % _SCALE_EVERY == 0:
            if world.steps % _BURST_EVERY == 0:
                self._burst = world.ambient_burst()
                self._keep()
            self._plug()
        if world.button != self._button:
            self._button = world.button
            chip.button(down=self._button)
        edges = world.instruments.edges
        if edges:
            if world.is_present("rotor"):
                chip.edges([int(t * FREQUENCY) for t in edges])
            edges.clear()
        until = world.steps * CYCLES_PER_STEP
        chip.analog([world.pin(name) for name in INPUTS], until, world.instruments.adc_noise)
        if self._to_give and world.time >= self._greet_at:
            del self._to_give[: chip.give(bytes(self._to_give))]
        chip.run(until)

    def run(self, seconds: float) -> bytes:
        """Advance by ``seconds``, in whole steps; returns the bytes sent by the board."""
        sent = bytearray()
        for _ in range(max(1, round(seconds / STEP))):
            self.step()
            sent += self.chip.take()
        if not self.options.damage:
            return bytes(sent)
        self._partial += sent
        end = self._partial.rfind(b"\0") + 1
        whole = bytes(self._partial[:end])
        del self._partial[:end]
        return self._damage(whole)

    def receive(self, data: bytes) -> None:
        self._to_give += data

    def reset(self, cause: str) -> None:
        """Reset the board; the world continues."""
        self._to_give.clear()
        self._partial.clear()
        self.chip.reset(cause)
        self._greet()

    def control(self, name: str, value: Any = None) -> None:
        """As ``World.control``, and ``cut_power`` with a number that decides the result of a byte write in progress."""
        if name == "cut_power":
            self._to_give.clear()
            self.chip.cut_power(int(value or 0))
        else:
            self.world.control(name, value)
            if name in {"plug", "unplug"}:
                self._plug()


def simulation(url: str) -> Simulation:
    """A running simulation in this process; raises InputError and PortError."""
    options = read_url(url)
    return Simulation(url, EmulatedRig(options), speed=options.speed, late=options.late)


def stream(url: str, seconds: float) -> tuple[bytes, EmulatedRig]:
    """Bytes sent by the rig of ``url`` in ``seconds`` s at full speed, and the rig; it streams with ``streaming=1``."""
    rig = EmulatedRig(read_url(url))
    return rig.run(seconds), rig


def main(arguments: Sequence[str] | None = None) -> int:
    """Serve one rig until the client disconnects."""
    from frothline.simulation.remote import serve, serve_terminal  # noqa: PLC0415  # the stream above needs no sockets

    parser = argparse.ArgumentParser(prog="python -m frothline.simulation.emulated", description=main.__doc__)
    parser.add_argument("url", help="emulated://<scenario>?seed=1&speed=1")
    parser.add_argument("--pty", action="store_true", help="serve a pseudo-terminal instead of sockets")
    given = parser.parse_args(arguments)
    try:
        living = simulation(given.url)
    except FrothlineError as error:
        print(error, file=sys.stderr)
        return 2
    return serve_terminal(living) if given.pty else serve(living)


if __name__ == "__main__":
    sys.exit(main())
